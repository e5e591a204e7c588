"""Which Ra bands stand beside the grades in this plant: a published variant or its own, chosen with a reason."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

from django.http import HttpRequest, HttpResponse
from django.urls import URLPattern, path
from django.utils import timezone
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _

from shop.ledger.models import Change
from shop.pages.doors import answer, done, door, person, plant
from shop.pages.typed import Typed
from shop.people import ra_table, services, wording
from shop.people.models import Plant
from shop.people.roles import Ability
from shop.refusal import Refused
from shop.standards import grades

OWN = "own"
CHOICES = (("1", _("variant 1")), ("2", _("variant 2")), (OWN, _("our own bands")))


@door(Ability.READ, post=Ability.SPECIFY)
def ra_bands(request: HttpRequest) -> HttpResponse:
    """Show the bands of both variants and the plant's own, and choose among them."""
    ours, reader = plant(request), person(request)
    typed, refused = Typed.blank(**_start(ours)), None
    if request.method == "POST":
        typed = Typed(request.POST, reader)
        chosen = _chosen(typed)
        try:
            if typed.ok:
                changed = services.choose_ra_bands(plant=ours, by=reader, at=timezone.now(), **chosen)
                in_force = gettext(ra_table.name_of(changed))
                words = gettext("%(bands)s stands beside the grades from now on.") % {"bands": in_force}
                return done(request, words, "ra-bands")
        except Refused as said_no:
            refused = said_no
    context = {
        "in_force": ra_table.name_of(ours),
        "source": grades.ra_source(ra_table.in_force(ours)),
        "choices": CHOICES,
        "rows": [(one, one.ra_um(1), one.ra_um(2), f"low-{one.name}", f"high-{one.name}") for one in grades.GRADES],
        "changes": _changes(ours),
    }
    return answer(request, "finishes/ra_bands.html", context, refused, typed=typed)


def _start(ours: Plant) -> dict[str, Any]:
    start: dict[str, Any] = {
        "choice": OWN if ours.grade_ra_bands else str(ours.grade_ra_variant),
        "name": ours.grade_ra_name,
    }
    for grade, (low, high) in (ours.grade_ra_bands or {}).items():
        start |= {f"low-{grade}": _number(low), f"high-{grade}": _number(high)}
    return start


def _number(kept: str) -> str:
    return wording.number(Decimal(kept))


def _chosen(typed: Typed) -> dict[str, Any]:
    choice = typed.choice("choice", dict(CHOICES))
    why = typed.text("why", required=True)
    if choice != OWN:
        return {"variant": int(choice or 0), "why": why}
    bands = {}
    for grade in grades.GRADES:
        low, high = (typed.quantity(f"{side}-{grade.name}", "um") for side in ("low", "high"))
        if low is not None and high is not None:
            bands[grade.name] = (low, high)
            if low < 0 or low >= high:
                typed.find_fault(f"high-{grade.name}", gettext("The upper edge must lie above the lower."))
        elif typed.is_set((f"low-{grade.name}", f"high-{grade.name}")):
            typed.find_fault(f"high-{grade.name}", gettext("A band has two edges."))
    return {"bands": bands, "name": typed.text("name", most=80), "why": why}


def _changes(ours: Plant) -> list[Change]:
    fields = ("grade_ra_variant", "grade_ra_name")
    changed = Change.objects.filter(room=ours._meta.label_lower, row_id=ours.pk, field__in=fields)
    return list(changed.select_related("by").order_by("-at", "-id")[:10])


urls: list[URLPattern] = [path("finishes/ra-bands/", ra_bands, name="ra-bands")]
