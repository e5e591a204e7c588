"""Gauges: which are fit to measure with, one gauge with its certificates and checks, and what a reading is worth."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime, time
from decimal import Decimal
from typing import Any

import django_filters
from django.db.models import Q, QuerySet
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404
from django.urls import URLPattern, path
from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from shop import units
from shop.boards import gauges as board
from shop.pages.certificate_file import certificate_file_of
from shop.pages.doors import answer, done, door, person, plant
from shop.pages.gauge_budget import asked_budget
from shop.pages.typed import Typed
from shop.people import wording
from shop.people.roles import Ability
from shop.quality.gauge_units import unit_of_gauge
from shop.quality.models import Gauge, TileCheck, UnfitFinding
from shop.quality.services import calibrations, tiles, unfit
from shop.quality.services import gauges as services
from shop.quality.services.calibrations import RangeDraft
from shop.refusal import Refused, gettext_noop

RANGES = 5
RANGE_FIELDS = ("lower", "upper", "a", "b")
OWNERS = (("ours", gettext_lazy("ours")), ("other", gettext_lazy("somebody else’s")))


class GaugeFilter(django_filters.FilterSet):  # type: ignore[misc]  # django-filter has no types
    """The list by its address; the state is worked out, and filtered after."""

    text = django_filters.CharFilter(method="with_text")
    kind = django_filters.ChoiceFilter(choices=Gauge.Kind.choices)
    owner = django_filters.ChoiceFilter(choices=OWNERS, method="of_owner")
    state = django_filters.ChoiceFilter(choices=board.GaugeState.choices, method="later")

    def with_text(self, gauges: QuerySet[Gauge], _name: str, text: str) -> QuerySet[Gauge]:
        """Return the gauges whose number, serial, place or owner has the words in it."""
        for word in text.split():
            gauges = gauges.filter(
                Q(number__icontains=word) | Q(serial__icontains=word) | Q(place__icontains=word)
                | Q(owner__icontains=word)
            )  # fmt: skip
        return gauges

    def of_owner(self, gauges: QuerySet[Gauge], _name: str, owner: str) -> QuerySet[Gauge]:
        """Return the plant's own gauges, or those of others."""
        return gauges.filter(owner="") if owner == "ours" else gauges.exclude(owner="")

    def later(self, gauges: QuerySet[Gauge], _name: str, _state: str) -> QuerySet[Gauge]:
        """Leave the state to the rows."""
        return gauges


@door(Ability.READ, post=Ability.KEEP_GAUGES)
def gauges(request: HttpRequest) -> HttpResponse:
    """List the gauges that the address asks for, those that need somebody first; enter one."""
    refused = None
    typed = Typed(request.POST, person(request))
    if request.method == "POST":
        entered = _entered(typed)
        try:
            if typed.ok:
                made = services.add_gauge(plant=plant(request), by=person(request), at=timezone.now(), **entered)
                words = _("Gauge %(number)s is entered. Next: what its certificate says.") % {"number": made.number}
                return done(request, words, "gauge", made.pk, query="do=calibrate", anchor="acts")
        except Refused as one:
            refused = one
    wanted = GaugeFilter(request.GET, queryset=board.gauges_of(plant(request)))
    rows = board.gauge_rows(wanted.qs, timezone.now())
    state = wanted.form.cleaned_data.get("state") if wanted.form.is_valid() else ""
    retired = [row for row in rows if row.state == board.GaugeState.RETIRED]
    shown = [row for row in rows if row.state == state] if state else [row for row in rows if row not in retired]
    context = {
        "rows": shown,
        "retired": 0 if state else len(retired),
        "kinds": Gauge.Kind.choices,
        "states": board.GaugeState.choices,
        "owners": OWNERS,
        "filtered": any(request.GET.values()),
        "asked": Typed(request.GET),
    }
    return answer(request, "gauges/gauges.html", context, refused, typed=typed)


def _entered(typed: Typed) -> dict[str, Any]:
    kind = typed.choice("kind", Gauge.Kind.values)
    return {
        "number": typed.text("number", required=True, most=40),
        "kind": kind,
        "serial": typed.text("serial", most=60),
        "place": typed.text("place", most=80),
        "owner": typed.text("owner", most=80),
        "resolution": typed.quantity("resolution", unit_of_gauge(kind), required=True),
        "aperture_mm": typed.quantity("aperture_mm", "mm"),
        "tip_um": typed.quantity("tip_um", "um"),
        "ref": typed.reference(),
    }


@door(Ability.READ, post=Ability.KEEP_GAUGES)
def gauge(request: HttpRequest, gauge_id: int) -> HttpResponse:
    """Show one gauge; enter a calibration or a check on the tile, take it out of use."""
    one: Gauge = get_object_or_404(board.gauges_of(plant(request)), pk=gauge_id)
    refused, do = None, request.GET.get("do", "")
    typed = Typed(request.POST, person(request))
    if request.method == "POST":
        do = typed.choice("do", ACTS)
        try:
            if do and (went := ACTS[do](request, typed, one)):
                return went
        except Refused as found:
            refused = found
    unit = unit_of_gauge(one.kind)
    context = {
        "card": (card := board.gauge_card(one, timezone.now())),
        "do": do,
        "unit": unit,
        "unit_label": units.LABELS[unit],
        "range_rows": [{name: f"ranges-{row}-{name}" for name in RANGE_FIELDS} for row in range(RANGES)],
        "ranges_open": typed.is_set(f"ranges-{row}-{name}" for row in range(RANGES) for name in RANGE_FIELDS),
        "outcomes": [("passed", _("passed")), ("failed", _("not passed"))],
        "last_tile": card.tiles[0] if card.tiles else None,
        "tile_start": _tile_start(card),
        **asked_budget(request, card),
    }
    return answer(request, "gauges/gauge.html", context, refused, typed=typed)


def _calibrate(request: HttpRequest, typed: Typed, one: Gauge) -> HttpResponse | None:
    unit = unit_of_gauge(one.kind)
    passed = typed.choice("outcome", {"passed", "failed"}) == "passed"
    given: dict[str, Any] = {
        "due_on": typed.day("due_on", required=True),
        "expanded_a": typed.quantity("expanded_a", unit, required=True),
        "expanded_b": typed.decimal("expanded_b") or Decimal(0),
        "coverage_k": typed.decimal("coverage_k", required=True),
        "certificate": typed.text("certificate", most=80),
        "ranges": _ranges(typed, unit),
        "ref": typed.reference(),
    }
    at = _done_on(typed)
    if not typed.ok:
        return None
    calibration = calibrations.calibrate(
        gauge=one, passed=passed, file=certificate_file_of(request, "file"), by=person(request), at=at, **given
    )
    if passed:
        return done(request, _("The calibration is kept."), "gauge", one.pk)
    finding = UnfitFinding.objects.get(calibration=calibration)
    words = _("The calibration is kept. It was not passed: here is what the gauge has read since it was last good.")
    return done(request, words, "unfit-finding", finding.pk)


def _ranges(typed: Typed, unit: str) -> tuple[RangeDraft, ...]:
    """Return the lines that have something in them; one that is not whole is marked where it lacks."""
    found = []
    for row in range(RANGES):
        names = {name: f"ranges-{row}-{name}" for name in RANGE_FIELDS}
        if typed.is_set(names.values()):
            lower, upper, a = (typed.quantity(names[name], unit, required=True) for name in ("lower", "upper", "a"))
            b = typed.decimal(names["b"])
            if lower is not None and upper is not None and a is not None:
                found.append(RangeDraft(lower, upper, a, b) if b is not None else RangeDraft(lower, upper, a))
    return tuple(found)


def _done_on(typed: Typed) -> datetime:
    """Return when it was calibrated: at noon of that day, or now where it was today."""
    now, day = timezone.localtime(), typed.day("done_on", required=True)
    if day is None or day == now.date():
        return now
    if day > now.date():
        typed.find_fault("done_on", _("This day has not come yet."))
    return timezone.make_aware(datetime.combine(day, time(12)))


def _tile(request: HttpRequest, typed: Typed, one: Gauge) -> HttpResponse | None:
    unit = unit_of_gauge(one.kind)
    tile = typed.text("tile-tile", required=True, most=40)
    value = typed.quantity("tile-value", unit, required=True)
    tile_value = typed.quantity("tile-tile_value", unit, required=True)
    limit = typed.quantity("tile-limit", unit, required=True)
    expanded, note = typed.quantity("tile-expanded", unit) or Decimal(0), typed.text("tile-note")
    if not typed.ok or value is None or tile_value is None or limit is None:
        return None
    made = tiles.check_tile(
        gauge=one, tile=tile, value=value, tile_value=tile_value, tile_expanded=expanded, limit=limit,
        note=note, ref=typed.reference(), by=person(request), at=timezone.now(),
    )  # fmt: skip
    return done(request, SAID_OF_TILE[TileCheck.Outcome(made.outcome)] % {"number": one.number}, "gauge", one.pk,
                anchor="tile")  # fmt: skip


SAID_OF_TILE = {
    TileCheck.Outcome.GOOD: gettext_lazy("Gauge %(number)s reads its tile well."),
    TileCheck.Outcome.LOOK_AGAIN: gettext_lazy(
        "Gauge %(number)s reads its tile within the limit, but not by chance. Wipe both, and read again."
    ),
    TileCheck.Outcome.UNFIT: gettext_lazy(
        "Gauge %(number)s reads its tile wrong. Wipe both, and read again; if it stays so, say below that it is unfit."
    ),
}


def _tile_start(card: board.GaugeCard) -> dict[str, str]:
    """Return what is known of the tile from the last check on it; only what the gauge reads is typed anew."""
    if not card.tiles:
        return {"tile": "", "tile_value": "", "tile_expanded": "", "limit": ""}
    last = card.tiles[0]
    figures = {name: getattr(last, name).normalize() for name in ("tile_value", "tile_expanded", "limit")}
    return {"tile": last.tile, **{name: wording.number(value) for name, value in figures.items()}}


def _unfit(request: HttpRequest, typed: Typed, one: Gauge) -> HttpResponse | None:
    check = typed.pick("check", TileCheck.objects.filter(gauge=one), required=True)
    if check is None:
        return None
    finding = unfit.find_unfit(
        gauge=one, tile_check=check, why=gettext_noop("It read its tile wrong."), ref=typed.reference(),
        by=person(request), at=timezone.now(),
    )  # fmt: skip
    words = _("Gauge %(gauge)s is unfit. What it read is listed here.") % {"gauge": one.number}
    return done(request, words, "unfit-finding", finding.pk)


def _retire(request: HttpRequest, typed: Typed, one: Gauge) -> HttpResponse | None:
    why = typed.text("retire-why", required=True)
    if not typed.ok:
        return None
    services.retire_gauge(gauge=one, why=why, ref=typed.reference(), by=person(request), at=timezone.now())
    return done(request, _("Gauge %(number)s is out of use.") % {"number": one.number}, "gauge", one.pk)


ACTS: dict[str, Callable[[HttpRequest, Typed, Gauge], HttpResponse | None]] = {
    "calibrate": _calibrate,
    "tile": _tile,
    "unfit": _unfit,
    "retire": _retire,
}

urls: list[URLPattern] = [
    path("gauges/", gauges, name="gauges"),
    path("gauges/<int:gauge_id>/", gauge, name="gauge"),
]
