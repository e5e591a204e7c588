"""When faces are called: the plant's rules and each customer's, with a preview on last year's readings."""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal
from typing import Any

from django.http import Http404, HttpRequest, HttpResponse
from django.urls import URLPattern, path
from django.utils import timezone
from django.utils.translation import gettext as _

from shop.boards import policy as board
from shop.pages.doors import answer, done, door, person, plant
from shop.pages.typed import Typed
from shop.people.roles import Ability, may
from shop.refusal import Refused
from shop.tooling.models import Customer
from shop.watch.models import Policy
from shop.watch.policies import Rules, book
from shop.watch.services import policies


@door(Ability.READ, post=Ability.SET_PLANT)
def view(request: HttpRequest) -> HttpResponse:
    """Show the rules; on sending, what they would have done last year, and set them once that was seen."""
    typed, refused, seen = Typed.blank(), None, None
    customer = _customer(request)
    editing = "for" in request.GET and may(person(request), Ability.SET_PLANT)
    if request.method == "POST":
        typed = Typed(request.POST, person(request))
        asked = _asked(typed)
        try:
            if typed.ok and request.POST.get("do") == "set":
                policies.set_policy(
                    plant=plant(request), customer=customer, by=person(request), at=timezone.now(), **asked
                )
                return done(request, _("Set. The faces are looked at by it in the next sweep."), "policy")
            if typed.ok:
                policies.check(asked)
                seen = _preview(request, customer, asked)
        except Refused as problem:
            refused = problem
    elif editing:
        typed = _filled(request, customer)
    context = {
        "rows": board.policy_rows(plant(request)),
        "customer": customer,
        "editing": request.method == "POST" or editing,
        "charts": Policy.Chart.choices,
        "yes_no": [("yes", _("yes")), ("no", _("no"))],
        "seen": seen,
    }
    return answer(request, "policy/policy.html", context, refused, typed=typed)


def _customer(request: HttpRequest) -> Customer | None:
    """Return whose rule is meant, None for the plant's; a customer who is not here must not become the plant."""
    named = request.POST.get("for", request.GET.get("for", ""))
    if not named:
        return None
    mine = Customer.objects.filter(tools__plant=plant(request)).distinct()
    found = mine.filter(pk=int(named)).first() if named.isdecimal() else None
    if found is None:
        raise Http404
    return found


def _asked(typed: Typed) -> dict[str, Any]:
    # Whole per cents are what is kept: a half typed would be dropped in silence.
    chance = typed.integer("chance")
    proven = typed.choice("call_not_proven", ("yes", "no"), required=False)
    return {
        "call_chance": None if chance is None else Decimal(chance) / 100,
        "lead_time_days": typed.integer("lead_time_days"),
        "call_not_proven": None if not proven else proven == "yes",
        "chart": typed.choice("chart", Policy.Chart.values, required=False) or "",
        "run_length": typed.integer("run_length"),
        "interval_shots": typed.integer("interval_shots"),
    }


def _filled(request: HttpRequest, customer: Customer | None) -> Typed:
    """Return the form as it stands now."""
    own = Policy.objects.filter(plant=plant(request), customer=customer).first()
    if own is None:
        return Typed.blank()
    proven = {None: "", True: "yes", False: "no"}[own.call_not_proven]
    return Typed.blank(
        chance="" if own.call_chance is None else f"{own.call_chance * 100:.0f}",
        lead_time_days=own.lead_time_days or "",
        call_not_proven=proven,
        chart=own.chart,
        run_length=own.run_length or "",
        interval_shots=own.interval_shots or "",
    )


def _preview(request: HttpRequest, customer: Customer | None, asked: dict[str, Any]) -> board.Preview:
    now = book(plant(request)).of(customer.pk if customer else None)
    return board.preview(plant(request), now, _then(request, customer, asked), customer, timezone.now())


def _then(request: HttpRequest, customer: Customer | None, asked: dict[str, Any]) -> Rules:
    """Return the rules as they would be: what is left empty is what stands above."""
    above = book(plant(request)).of(None) if customer else Rules(
        float(plant(request).call_chance), plant(request).lead_time_days
    )  # fmt: skip
    given = {name: value for name, value in asked.items() if value not in (None, "")}
    if "call_chance" in given:
        given["call_chance"] = float(given["call_chance"])
    return replace(above, **given)


urls: list[URLPattern] = [path("policy/", view, name="policy")]
