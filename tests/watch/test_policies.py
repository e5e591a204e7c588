"""Rules for calling: the plant's, a customer's, and what the watch makes of them."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from shop.boards import policy as board
from shop.errands.models import Errand
from shop.ledger.models import Change
from shop.people.models import Person
from shop.refusal import Refused
from shop.watch.models import Policy
from shop.watch.policies import Rules, book
from shop.watch.services.policies import set_policy
from tests.measuring import Shop
from tests.watch.conftest import Look, wear

RISING = [2.5, 2.58, 2.7, 2.78, 2.9]


def test_customer_has_what_is_its_own_and_else_the_plants(shop: Shop) -> None:
    plant, customer = shop.tool.plant, shop.tool.customer
    assert book(plant).of(customer.pk) == Rules(0.1, 14, True, "ewma", 370, None)
    set_policy(plant=plant, call_chance=Decimal("0.20"), chart="cusum", by=shop.lead, at=shop.start)
    set_policy(plant=plant, customer=customer, lead_time_days=30, chart="none", by=shop.lead, at=shop.start)
    assert book(plant).of(None) == Rules(0.2, 14, True, "cusum", 370, None)
    assert book(plant).of(customer.pk) == Rules(0.2, 30, True, "none", 370, None)


def test_change_is_kept_in_the_trail_and_the_plant_is_swept_by_it(shop: Shop) -> None:
    set_policy(plant=shop.tool.plant, interval_shots=50_000, by=shop.lead, at=shop.start)
    set_policy(plant=shop.tool.plant, interval_shots=50_000, by=shop.lead, at=shop.start)
    assert Change.objects.filter(room="watch.policy").count() == 1
    assert Errand.objects.get(kind="sweep").content == {"plant": shop.tool.plant.pk}


@pytest.mark.parametrize(
    ("rules", "said"),
    [
        ({"call_chance": Decimal("0.6")}, "chance of 60 %"),
        ({"lead_time_days": 0}, "lead time of 0 days"),
        ({"run_length": 20}, "every 20 readings"),
        ({"interval_shots": 0}, "interval of 0 shots"),
        ({"interval_shots": 5_000_000_000}, "interval of 5000000000 shots"),
    ],
)
def test_rule_that_cannot_be_is_refused(shop: Shop, rules: dict[str, Any], said: str) -> None:
    with pytest.raises(Refused, match=said):
        set_policy(plant=shop.tool.plant, by=shop.lead, at=shop.start, **rules)
    assert not Policy.objects.exists()


def test_longer_lead_time_of_a_customer_calls_its_face(satin_shop: Shop, look: Look) -> None:
    shop = satin_shop
    wear(shop, RISING)
    set_policy(plant=shop.tool.plant, lead_time_days=10, by=shop.lead, at=shop.start)
    assert look(6).opened == []
    set_policy(plant=shop.tool.plant, customer=shop.tool.customer, lead_time_days=90, by=shop.lead, at=shop.start)
    assert [call.cause for call in look(6).opened] == ["forecast"]


def test_guard_and_interval_are_called_as_the_policy_says(satin_shop: Shop, look: Look) -> None:
    shop = satin_shop
    shop.shoot(1, 5000)
    shop.read(1.1, "3.95")
    set_policy(plant=shop.tool.plant, call_not_proven=False, by=shop.lead, at=shop.start)
    assert look(2).opened == []
    set_policy(plant=shop.tool.plant, call_not_proven=True, interval_shots=5000, by=shop.lead, at=shop.start)
    assert {call.cause for call in look(2).opened} == {"not proven", "interval"}


def test_preview_says_what_a_longer_lead_time_would_have_caught(satin_shop: Shop, look: Look) -> None:
    shop = satin_shop
    wear(shop, [2.4, 2.7, 3.0, 3.3, 3.6, 3.9, 4.3])
    look(8)
    now = Rules(0.1, 1, chart="none")
    seen = board.preview(shop.tool.plant, now, Rules(0.1, 60, chart="none"), None, shop.day(8))
    assert (seen.now.lives, seen.now.off_spec, seen.trends) == (1, 1, 1)
    assert seen.then.called == 1
    # The reading of the seventh day was off spec; a lead time of sixty days cannot be met within seven.
    assert {str(name): count for name, count in seen.then.outcomes.items() if count} == {"late": 1}


def test_owner_previews_and_sets_and_the_lead_only_looks(
    client: Client, satin_shop: Shop, owner: Person, look: Look
) -> None:
    wear(satin_shop, RISING)
    look(6)
    client.force_login(owner)
    typed = {"for": "", "chance": "20", "lead_time_days": "30", "chart": "ewma", "do": "preview"}
    page = client.post(reverse("policy"), typed).content.decode()
    assert "Finish lives called" in page
    assert 'value="20"' in page
    assert not Policy.objects.exists()
    assert client.post(reverse("policy"), {**typed, "do": "set"}).status_code == 303
    assert Policy.objects.get().call_chance == Decimal("0.20")
    assert 'value="20"' in client.get(reverse("policy"), {"for": ""}).content.decode()
    refused = client.post(reverse("policy"), {**typed, "chance": "80"})
    assert refused.status_code == 422
    assert 'value="80"' in refused.content.decode()
    assert "A chance of 80\xa0% is not called at." in refused.content.decode()
    client.force_login(satin_shop.lead)
    assert "Change" not in client.get(reverse("policy")).content.decode().split("<tbody>")[1]
    assert client.post(reverse("policy"), typed).status_code == 403


def test_customer_who_is_not_here_does_not_become_the_plant(client: Client, satin_shop: Shop, owner: Person) -> None:
    client.force_login(owner)
    for named in ("999999", "²", "9" * 40, "none"):
        sent = client.post(reverse("policy"), {"for": named, "chance": "20", "do": "set"})
        assert sent.status_code == 404, named
    assert not Policy.objects.exists()


@pytest.mark.parametrize("typed", [{"chance": "12,5"}, {"chance": "9" * 40}, {"interval_shots": "5 000 000 000"}])
def test_what_cannot_be_kept_is_refused_and_stays_as_typed(
    client: Client, satin_shop: Shop, owner: Person, typed: dict[str, str]
) -> None:
    client.force_login(owner)
    for do in ("preview", "set"):
        sent = client.post(reverse("policy"), {"for": "", "do": do, **typed})
        assert sent.status_code == 422
        assert f'value="{next(iter(typed.values()))}"' in sent.content.decode()
    assert not Policy.objects.exists()


def test_lead_reads_the_rules_without_a_form_to_send(client: Client, satin_shop: Shop) -> None:
    client.force_login(satin_shop.lead)
    page = client.get(reverse("policy"), {"for": ""}).content.decode()
    assert "policy-form" not in page


def test_preview_reads_a_fixed_number_of_queries(satin_shop: Shop, look: Look, django_assert_num_queries: Any) -> None:
    rules = Rules(0.1, 14)
    for values, first in ((RISING[:2], 1), (RISING[2:], 3)):
        last = wear(satin_shop, values, from_day=first)
        look(last)
        with django_assert_num_queries(4):
            board.preview(satin_shop.tool.plant, rules, rules, None, satin_shop.day(last))
    with django_assert_num_queries(3):
        board.policy_rows(satin_shop.tool.plant)
