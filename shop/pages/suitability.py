"""Can this face have this finish? A form that is a link: what is typed stands in the address."""

from __future__ import annotations

from collections.abc import Iterable
from decimal import Decimal
from typing import Any

from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404
from django.urls import URLPattern, path
from django.utils import timezone
from django.utils.translation import gettext_lazy as _

from shop.boards import suitability as board
from shop.craft.suitability import Ask
from shop.pages.doors import answer, door, person, plant
from shop.pages.typed import Typed
from shop.people.roles import Ability
from shop.quality.suits import Means, means_of
from shop.standards import resins, steels
from shop.tooling.models import Acceptance, Face, HowMade, Insert, Parameter, Spec, Spot, Tool, WhereMeasured
from shop.tooling.services.spec_checks import ANGLES_DEG, UNITS
from shop.tooling.services.specs import LimitDraft

FIRST_ROWS, MOST_ROWS = 2, 8
COLUMNS = ("parameter", "where", "lower", "upper", "angle", "cutoff")
BARE = "none"
COATINGS = [(value or BARE, label) for value, label in Insert.Coating.choices]
ZONES = [*Spot.Kind.choices, ("parting edge", _("parting edge"))]
OPAQUE = [("yes", _("opaque, unplated, no metallic")), ("no", _("clear or metallic"))]


@door(Ability.READ)
def suitability(request: HttpRequest) -> HttpResponse:
    """Answer whether a face can have a finish, from what is typed or from the face's records."""
    now = timezone.now()
    face = _face(request)
    typed = Typed(request.GET, person(request))
    if face is not None and not _is_asked(request.GET):
        typed = Typed.blank(**board.start(face, now))
        typed.reader = person(request)
    means = {str(one.gauge.pk): one for one in means_of(plant(request), now)}
    shown = None
    if _is_asked(typed.was):
        known, limits = _known(typed), _limits(typed)
        gauge: Means | None = means.get(typed.choice("gauge", means, required=False))
        expanded = typed.decimal("expanded")
        if expanded is not None and expanded < 0:
            typed.find_fault("expanded", str(_("An uncertainty is not below nought.")))
        if typed.ok:
            shown = board.answer(plant(request), known, limits, now, gauge=gauge, expanded=expanded)
    return answer(request, "suitability/suitability.html", _context(face, typed, shown, means), typed=typed)


def _face(request: HttpRequest) -> Face | None:
    asked = request.GET.get("face", "")
    if not (asked.isascii() and asked.isdigit()):
        return None
    faces = Face.objects.filter(insert__tool__in=Tool.objects.seen_by(person(request)))
    related = faces.select_related("insert__tool__plant", "insert__tool__resin").prefetch_related("spots")
    face: Face = get_object_or_404(related, pk=int(asked))
    return face


def _is_asked(fields: Iterable[str]) -> bool:
    return any(name != "face" for name in fields)


def _known(typed: Typed) -> Ask:
    """Return what was typed of the face and the finish; what was left out is not known."""
    opaque = typed.choice("opaque", dict(OPAQUE), required=False)
    return Ask(
        steel=typed.text("steel", most=40),
        hardness_hrc=_positive(typed, "hardness"),
        coating=typed.choice("coating", dict(COATINGS), required=False),
        resin=typed.text("resin", most=40),
        opaque=None if not opaque else opaque == "yes",
        draft_deg=_positive(typed, "draft"),
        pattern_depth_um=_positive(typed, "depth", "um"),
        area_cm2=_positive(typed, "area"),
        width_mm=_positive(typed, "width", "mm"),
        length_mm=_positive(typed, "length", "mm"),
        zone=typed.choice("zone", dict(ZONES), required=False),
        steel_left_um=_positive(typed, "steel_left", "um"),
        taken_um=_positive(typed, "takes", "um"),
        how_made=typed.choice("how_made", HowMade.values, required=False),
        scale=typed.choice("scale", Spec.Scale.values, required=False),
        code=typed.text("code", most=60),
        edition=typed.choice("edition", Spec.Edition.values, required=False),
        guarded=typed.choice("acceptance", Acceptance.values, required=False) in ("", Acceptance.GUARDED),
    )


def _positive(typed: Typed, name: str, unit: str = "") -> float | None:
    value = typed.quantity(name, unit) if unit else typed.decimal(name)
    if value is not None and value < 0:
        typed.find_fault(name, str(_("Not below nought.")))
        return None
    return None if value is None else float(value)


def _limits(typed: Typed) -> list[LimitDraft]:
    drafts = []
    for row in range(MOST_ROWS):
        name = f"limit-{row}-".__add__
        if not typed.is_set((name("lower"), name("upper"))):
            continue
        parameter = typed.choice(name("parameter"), Parameter.values)
        unit = UNITS[Parameter(parameter)] if parameter else "um"
        drafts.append(
            LimitDraft(
                parameter=parameter,
                where=typed.choice(name("where"), WhereMeasured.values, required=False) or WhereMeasured.PART,
                lower=_side(typed, name("lower"), unit),
                upper=_side(typed, name("upper"), unit),
                unit=unit,
                geometry_deg=typed.integer(name("angle")),
                cutoff_mm=typed.quantity(name("cutoff"), "mm"),
            )
        )
        _in_order(typed, name("upper"), drafts[-1])
    return drafts


def _in_order(typed: Typed, name: str, limit: LimitDraft) -> None:
    if limit.lower is not None and limit.upper is not None and limit.lower >= limit.upper:
        typed.find_fault(name, str(_("The upper side must lie above the lower.")))


def _side(typed: Typed, name: str, unit: str) -> Decimal | None:
    value = typed.decimal(name) if unit == "grade" else typed.quantity(name, unit)
    if value is not None and value < 0 and unit != "grade":
        typed.find_fault(name, str(_("Not below nought.")))
    return value


def _context(face: Face | None, typed: Typed, shown: board.Shown | None, means: dict[str, Means]) -> dict[str, Any]:
    filled = [row for row in range(MOST_ROWS) if typed.is_set(f"limit-{row}-{column}" for column in COLUMNS)]
    rows = min(max(FIRST_ROWS, max(filled, default=-1) + 2), MOST_ROWS)
    known_steels = [(one.number, one.number) for one in steels.STEELS]
    return {
        "face": face,
        "shown": shown,
        "rows": [{column: f"limit-{row}-{column}" for column in COLUMNS} for row in range(rows)],
        "steels": _with_own(known_steels, typed.was["steel"]),
        "coatings": COATINGS,
        "resins": _with_own([(one, one) for one in resins.RESIN_SUITABILITY], typed.was["resin"]),
        "opaque": OPAQUE,
        "zones": ZONES,
        "how_made": HowMade.choices,
        "scales": Spec.Scale.choices,
        "editions": Spec.Edition.choices,
        "acceptances": Acceptance.choices,
        "parameters": Parameter.choices,
        "wheres": WhereMeasured.choices,
        "angles": [(angle, f"{angle}°") for angle in ANGLES_DEG],
        "gauges": [(pk, f"{one.gauge} · {one.gauge.get_kind_display()}") for pk, one in means.items()],
    }


def _with_own(known: list[tuple[str, str]], written: str) -> list[tuple[str, str]]:
    """Return the choices with what a record has that the tables do not know: it is kept, and not judged."""
    return known if not written or written in dict(known) else [*known, (written, written)]


urls: list[URLPattern] = [path("finishes/can-it/", suitability, name="suitability")]
