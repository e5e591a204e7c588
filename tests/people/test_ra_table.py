"""The Ra bands beside the grades: a published variant, or a plant's own under a name that keeps its meaning."""

from __future__ import annotations

from datetime import datetime
from decimal import Decimal
from typing import Any

import pytest

from shop.ledger.models import Change
from shop.people import ra_table, services
from shop.people.models import Person, Plant
from shop.refusal import Refused
from shop.standards.grades import RaTable, candidates

pytestmark = pytest.mark.django_db
OWN = {"A-3": (Decimal("0.04"), Decimal("0.09")), "B-1": (Decimal("0.09"), Decimal("0.12"))}


def choose(by: Person, at: datetime, **chosen: Any) -> Plant:
    fields = {"plant": by.plant, "why": "as the texture house has it", "by": by, "at": at, **chosen}
    return services.choose_ra_bands(**fields)


def test_own_bands_are_in_force_under_their_name(engineer: Person, at: datetime) -> None:
    plant = choose(engineer, at, bands=OWN, name="House 2024")
    table = ra_table.in_force(plant)
    assert isinstance(table, RaTable)
    assert ra_table.name_of(plant) == "House 2024"
    assert [grade.name for grade in candidates(0.08, table)] == ["A-3"]
    kept = Change.objects.get(field="grade_ra_name")
    assert (kept.why, kept.by_id) == ("as the texture house has it", engineer.pk)


def test_published_variant_takes_the_place_of_own_bands(engineer: Person, at: datetime) -> None:
    choose(engineer, at, bands=OWN, name="House 2024")
    plant = choose(engineer, at, variant=1)
    assert ra_table.in_force(plant) == 1
    assert ra_table.name_of(plant) == "variant 1"


def test_name_on_records_never_comes_to_mean_other_bands(engineer: Person, at: datetime) -> None:
    choose(engineer, at, bands=OWN, name="House 2024")
    other = {"A-3": (Decimal("0.05"), Decimal("0.09"))}
    with pytest.raises(Refused) as taken:
        choose(engineer, at, bands=other, name="House 2024")
    assert taken.value.code == "grade.name_taken"
    assert ra_table.name_of(choose(engineer, at, bands=other, name="House 2024 b")) == "House 2024 b"


@pytest.mark.parametrize(
    ("chosen", "code"),
    [
        ({"variant": 3}, "table.outside"),
        ({"variant": 1, "why": " "}, "grade.why_missing"),
        ({"bands": {}, "name": "House"}, "grade.empty_table"),
        ({"bands": OWN, "name": ""}, "grade.empty_table"),
        ({"bands": OWN, "name": "variant 1"}, "grade.name_taken"),
        ({"bands": {"A-3": (Decimal(2), Decimal(1))}, "name": "House"}, "value.impossible"),
        ({"bands": {"E-1": (Decimal(1), Decimal(2))}, "name": "House"}, "table.outside"),
    ],
)
def test_bands_that_cannot_stand_are_refused(engineer: Person, at: datetime, chosen: dict[str, Any], code: str) -> None:
    with pytest.raises(Refused) as refused:
        choose(engineer, at, **chosen)
    assert refused.value.code == code
    assert ra_table.name_of(Plant.objects.get()) == "variant 2"
