"""What a face must be: the next revision of its finish spec, and concessions."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404
from django.urls import URLPattern, path
from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from shop import loop
from shop.boards import suitability
from shop.craft.suitability import CARE
from shop.pages.doors import answer, done, door, person, plant
from shop.pages.typed import Typed
from shop.people import ra_table, wording
from shop.people.roles import Ability
from shop.quality.services.specifying import saved_all_the_same
from shop.refusal import Refused
from shop.tooling.models import (
    Acceptance,
    Concession,
    Face,
    HowMade,
    Limit,
    Parameter,
    Plaque,
    Spec,
    Spot,
    Tool,
    WhereMeasured,
)
from shop.tooling.reading import spec_at
from shop.tooling.services.spec_checks import ANGLES_DEG, UNITS
from shop.tooling.services.specs import LimitDraft

SPARE_ROWS = 2
MOST_ROWS = 24
COLUMNS = ("parameter", "where", "spot", "lower", "upper", "angle", "cutoff")


@door(Ability.SPECIFY)
def spec(request: HttpRequest, face_id: int) -> HttpResponse:
    """Write the next revision of a face's spec, starting from the one that holds."""
    face = _face(request, face_id)
    held = spec_at(face, timezone.now())
    refused, suits = None, suitability.of_face(face, timezone.now())
    typed = Typed(request.POST, person(request)) if request.method == "POST" else Typed.blank(**_start(held))
    if request.method == "POST":
        revised = _revised(typed, face, request)
        suits = _suits(face, revised, typed)
        try:
            if typed.ok and not typed.ticked("check"):
                made = loop.spec_revised(face=face, by=person(request), at=timezone.now(), **revised)
                words = _("Revision %(n)d of %(face)s holds from now.") % {"n": made.revision, "face": face}
                words = f"{words} {_care(suits)}".strip()
                return done(request, words, "tool", face.insert.tool_id)
        except Refused as said_no:
            refused = said_no
    context = {
        "face": face,
        "held": held,
        "suits": suits,
        "all_the_same": saved_all_the_same(held) if held else None,
        "ra_bands": ra_table.name_of(plant(request)),
        "rows": _rows(typed, held),
        "how_made": HowMade.choices,
        "scales": Spec.Scale.choices,
        "editions": Spec.Edition.choices,
        "rules": [choice for choice in Spec.Rule.choices if choice[0]],
        "edition_default": Spec.Rule.EDITION.label,
        "acceptances": Acceptance.choices,
        "plaques": [(one.pk, str(one)) for one in Plaque.objects.filter(plant=plant(request)).order_by("number")],
        "parameters": Parameter.choices,
        "wheres": WhereMeasured.choices,
        "spots": [(one.pk, one.name) for one in face.spots.all()],
        "angles": [(angle, f"{angle}°") for angle in ANGLES_DEG],
    }
    return answer(request, "spec/spec.html", context, refused, typed=typed, part="suits")


@door(Ability.GRANT_CONCESSION)
def concession(request: HttpRequest, face_id: int) -> HttpResponse:
    """Note a customer's leave to run a face outside its spec for a while."""
    face = _face(request, face_id)
    held = spec_at(face, timezone.now())
    limits = list(held.limits.all()) if held else []
    refused = None
    typed = Typed(request.POST, person(request)) if request.method == "POST" else Typed.blank()
    if request.method == "POST":
        granted = _granted(typed, limits)
        try:
            if typed.ok:
                made = loop.concession_granted(face=face, by=person(request), at=timezone.now(), **granted)
                words = _("Concession %(number)s is in force on %(face)s.") % {"number": made.number, "face": face}
                return done(request, words, "tool", face.insert.tool_id)
        except Refused as said_no:
            refused = said_no
    parameters = {limit.parameter: limit.get_parameter_display() for limit in limits}
    context = {"face": face, "held": held, "limits": limits, "parameters": list(parameters.items())}
    return answer(request, "spec/concession.html", context, refused, typed=typed)


@door(Ability.GRANT_CONCESSION)
def withdraw(request: HttpRequest, concession_id: int) -> HttpResponse:
    """Take a concession back and say why; what was judged by it stays judged."""
    granted = _concession(request, concession_id)
    typed, refused = Typed(request.POST, person(request)), None
    if request.method == "POST":
        back: dict[str, Any] = {"why": typed.text("why", required=True), "ref": typed.reference()}
        try:
            if typed.ok:
                loop.concession_withdrawn(concession=granted, by=person(request), at=timezone.now(), **back)
                said = {"number": granted.number, "face": granted.face}
                words = _("Concession %(number)s is withdrawn; %(face)s is judged by its spec again.") % said
                back_to = {"query": f"face={granted.face_id}", "anchor": "face"}
                return done(request, words, "tool", granted.face.insert.tool_id, **back_to)
        except Refused as said_no:
            refused = said_no
    context = {"concession": granted, "face": granted.face, "unit": UNITS[Parameter(granted.parameter)]}
    return answer(request, "spec/withdraw.html", context, refused, typed=typed)


def _suits(face: Face, revised: dict[str, Any], typed: Typed) -> suitability.Shown | None:
    """Return whether the face can have what is typed; None where that cannot be read yet."""
    if typed.fault.keys() - {"reason"}:
        return None
    fields = ("how_made", "scale", "code", "pattern_depth_um", "drawing_edition", "acceptance")
    draft = Spec(face=face, **{name: revised[name] for name in fields})
    return suitability.of_spec(face, draft, revised["limits"], timezone.now())


def _care(suits: suitability.Shown | None) -> str:
    care = suits.counts[CARE] if suits else 0
    if not care:
        return ""
    return ngettext(
        "%(n)d point wants care: see “Can this face have this finish?” beside the spec.",
        "%(n)d points want care: see “Can this face have this finish?” beside the spec.",
        care,
    ) % {"n": care}


def _face(request: HttpRequest, face_id: int) -> Face:
    faces = Face.objects.filter(insert__tool__in=Tool.objects.seen_by(person(request)))
    related = faces.select_related("insert__tool__plant", "insert__tool__resin").prefetch_related("spots")
    face: Face = get_object_or_404(related, pk=face_id)
    return face


def _concession(request: HttpRequest, concession_id: int) -> Concession:
    """Return the concession in force; a form sent a second time finds it withdrawn, and is answered like the first."""
    granted = Concession.objects.filter(void=False) if request.method == "POST" else Concession.objects.in_force()
    ours = granted.filter(face__insert__tool__in=Tool.objects.seen_by(person(request)))
    one: Concession = get_object_or_404(ours.select_related("face__insert__tool", "by"), pk=concession_id)
    return one


def _start(held: Spec | None) -> dict[str, Any]:
    """Return what the form starts from: the revision that holds."""
    if held is None:
        return {"drawing_edition": Spec.Edition.ISO_2021, "acceptance": Acceptance.GUARDED}
    start: dict[str, Any] = {
        "how_made": held.how_made,
        "scale": held.scale,
        "code": held.code,
        "plaque": held.plaque_id or "",
        "pattern_depth": _plain(held.pattern_depth_um),
        "drawing_edition": held.drawing_edition,
        "tolerance_rule": held.tolerance_rule,
        "acceptance": held.acceptance,
    }
    if held.micro_matt:
        start["micro_matt"] = "yes"
    for row, limit in enumerate(held.limits.all()):
        start |= {f"limit-{row}-{column}": value for column, value in _typed_limit(limit).items()}
    return start


def _typed_limit(limit: Limit) -> dict[str, Any]:
    return {
        "parameter": limit.parameter,
        "where": limit.where,
        "spot": limit.spot_id or "",
        "lower": _plain(limit.lower),
        "upper": _plain(limit.upper),
        "angle": limit.geometry_deg or "",
        "cutoff": _plain(limit.cutoff_mm),
    }


def _plain(value: Decimal | None) -> str:
    return "" if value is None else wording.number(value.normalize())


def _rows(typed: Typed, held: Spec | None) -> list[dict[str, str]]:
    """Return the field names of the limit rows: those filled in, and some to spare."""
    filled = [row for row in range(MOST_ROWS) if typed.is_set(f"limit-{row}-{column}" for column in COLUMNS)]
    wanted = max([*filled, len(held.limits.all()) - 1 if held else -1]) + 1 + SPARE_ROWS
    return [{column: f"limit-{row}-{column}" for column in COLUMNS} for row in range(min(wanted, MOST_ROWS))]


def _revised(typed: Typed, face: Face, request: HttpRequest) -> dict[str, Any]:
    return {
        "reason": typed.text("reason", required=not typed.ticked("check")),
        "how_made": typed.choice("how_made", HowMade.values),
        "scale": typed.choice("scale", Spec.Scale.values),
        "code": typed.text("code", most=60),
        "plaque": typed.pick("plaque", Plaque.objects.filter(plant=plant(request))),
        "pattern_depth_um": typed.quantity("pattern_depth", "um"),
        "micro_matt": typed.ticked("micro_matt"),
        "drawing_edition": typed.choice("drawing_edition", Spec.Edition.values),
        "tolerance_rule": typed.choice("tolerance_rule", Spec.Rule.values, required=False),
        "acceptance": typed.choice("acceptance", Acceptance.values),
        "limits": _limits(typed, face),
        "why_all_the_same": typed.text("why_all_the_same"),
        "answers": {code: str(choice) for code, choice in typed.answered.items()},
        "ref": typed.reference(),
    }


def _limits(typed: Typed, face: Face) -> list[LimitDraft]:
    drafts = []
    for row in range(MOST_ROWS):
        name = f"limit-{row}-".__add__
        if not typed.is_set((name("parameter"), name("lower"), name("upper"))):
            continue
        parameter = typed.choice(name("parameter"), Parameter.values)
        unit = UNITS[Parameter(parameter)] if parameter else "um"
        drafts.append(
            LimitDraft(
                parameter=parameter,
                where=typed.choice(name("where"), WhereMeasured.values),
                lower=_side(typed, name("lower"), unit),
                upper=_side(typed, name("upper"), unit),
                unit=unit,
                spot=typed.pick(name("spot"), Spot.objects.filter(face=face)),
                geometry_deg=typed.integer(name("angle")),
                cutoff_mm=typed.quantity(name("cutoff"), "mm"),
            )
        )
    return drafts


def _side(typed: Typed, name: str, unit: str) -> Decimal | None:
    return typed.decimal(name) if unit == "grade" else typed.quantity(name, unit)


def _granted(typed: Typed, limits: list[Limit]) -> dict[str, Any]:
    unit = {limit.parameter: limit.unit for limit in limits}
    parameter = typed.choice("parameter", unit)
    return {
        "number": typed.text("number", required=True, most=60),
        "parameter": parameter,
        "reason": typed.text("reason", required=True),
        "lower": _side(typed, "lower", unit.get(parameter, "grade")),
        "upper": _side(typed, "upper", unit.get(parameter, "grade")),
        "until_on": typed.day("until_on"),
        "until_insert_shots": typed.integer("until_insert_shots"),
        "until_quantity": typed.integer("until_quantity"),
        "ref": typed.reference(),
    }


urls: list[URLPattern] = [
    path("faces/<int:face_id>/spec/", spec, name="spec"),
    path("faces/<int:face_id>/concession/", concession, name="concession"),
    path("concessions/<int:concession_id>/withdraw/", withdraw, name="concession-withdraw"),
]
