"""Gauges: how each stands, and one of them with its certificates, tile checks, studies and offsets."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from decimal import Decimal
from typing import Any

from django.db import models
from django.db.models import OuterRef, Q, QuerySet, Subquery
from django.utils.translation import gettext_lazy as _

from shop.boards.reading_budget import fine
from shop.people import wording
from shop.people.models import Plant
from shop.picture.pairs_chart import PairsChart
from shop.quality.asked import day_in
from shop.quality.models import Calibration, Gauge, GaugeOffset, GaugeStudy, TileCheck, UnfitFinding
from shop.standards.offset import PairedOffset, paired_offset
from shop.units import Quantity

SOON = timedelta(days=30)
TILES_SHOWN = 12
NARROW = 362.0


class GaugeState(models.TextChoices):
    """How a gauge stands, the most pressing first."""

    FAILED = "failed", _("failed")
    UNFIT = "found unfit", _("found unfit")
    OVERDUE = "overdue", _("overdue")
    NEVER = "never calibrated", _("never calibrated")
    DUE = "due", _("due within 30 days")
    IN_DATE = "in date", _("in date")
    RETIRED = "retired", _("retired")


MARKS = {
    GaugeState.FAILED: "check failed",
    GaugeState.UNFIT: "in doubt",
    GaugeState.OVERDUE: "expired",
    GaugeState.NEVER: "not measured",
    GaugeState.DUE: "check due",
    GaugeState.IN_DATE: "in date",
    GaugeState.RETIRED: "withdrawn",
}


@dataclass(frozen=True)
class GaugeRow:
    """One gauge as the list shows it."""

    gauge: Gauge
    state: GaugeState
    due_on: date | None
    tile: TileCheck | None
    study: GaugeStudy | None

    @property
    def mark(self) -> str:
        """Return the mark of the state."""
        return MARKS[self.state]


@dataclass(frozen=True)
class OffsetRow:
    """One comparison seen from one gauge: the other, and what ours reads above it, in words."""

    kept: GaugeOffset
    other: Gauge
    offset: str
    uncertainty: str


@dataclass(frozen=True)
class GaugeCard:
    """One gauge with everything known of it, each the latest first."""

    row: GaugeRow
    calibrations: tuple[Calibration, ...]
    tiles: tuple[TileCheck, ...]
    studies: tuple[GaugeStudy, ...]
    offsets: tuple[OffsetRow, ...]
    findings: tuple[UnfitFinding, ...]


@dataclass(frozen=True)
class OffsetCard:
    """A comparison in pairs worked out again, with its picture for a wide and a narrow screen."""

    kept: GaugeOffset
    found: PairedOffset
    chart: PairsChart
    narrow: PairsChart
    words: dict[str, str]


def gauges_of(plant: Plant) -> QuerySet[Gauge]:
    """Return every gauge of the plant, retired ones too."""
    return Gauge.objects.filter(plant=plant)


def gauge_rows(gauges: Any, at: datetime) -> list[GaugeRow]:
    """Return how gauges of one plant stand, the most pressing first; three queries."""
    found = list(_annotated(gauges, at).select_related("plant"))
    tiles = TileCheck.objects.in_bulk([one.last_tile for one in found if one.last_tile])
    studies = {study.gauge_id: study for study in _studies([one.pk for one in found]).order_by("at", "id")}
    rows = [_row(one, at, tiles.get(one.last_tile), studies.get(one.pk)) for one in found]
    order = list(GaugeState)
    return sorted(rows, key=lambda row: (order.index(row.state), row.due_on or date.max, row.gauge.number))


def gauge_card(gauge: Gauge, at: datetime) -> GaugeCard:
    """Return one gauge with its history."""
    offsets = GaugeOffset.objects.filter(Q(ours=gauge) | Q(theirs=gauge)).select_related("ours", "theirs", "by")
    return GaugeCard(
        row=gauge_rows(Gauge.objects.filter(pk=gauge.pk), at)[0],
        calibrations=tuple(
            gauge.calibrations.select_related("file", "by").prefetch_related("ranges").order_by("-at", "-id")
        ),
        tiles=tuple(gauge.tile_checks.select_related("by").order_by("-at", "-id")[:TILES_SHOWN]),
        studies=tuple(_studies([gauge.pk]).select_related("by").order_by("-at", "-id")),
        offsets=tuple(_offset_row(one, gauge) for one in offsets.order_by("-at", "-id")),
        findings=tuple(UnfitFinding.objects.filter(gauge=gauge).select_related("by").order_by("-at", "-id")),
    )


def offset_card(kept: GaugeOffset) -> OffsetCard:
    """Return a comparison worked out again from the pairs that were kept."""
    found = paired_offset([float(one) for one, _theirs in kept.pairs], [float(two) for _ours, two in kept.pairs])
    error, scatter = found.standard_error or found.offset, found.sd or found.offset
    words = {
        "standard_error": fine(found.standard_error, kept.unit),
        "sd": fine(found.sd, kept.unit),
        **{name: fine(getattr(found, name), kept.unit, error) for name in ("offset", "lower", "upper")},
        **{name: fine(getattr(found, name), kept.unit, scatter) for name in ("agreement_lower", "agreement_upper")},
        **{name: wording.show(Quantity(Decimal(repr(round(getattr(found, name), 4))), kept.unit))
           for name in ("level_from", "level_to")},
    }  # fmt: skip
    return OffsetCard(kept, found, _chart(kept, found, words), _chart(kept, found, words, NARROW), words)


def offset_options(rows: Iterable[OffsetRow]) -> list[tuple[int, str]]:
    """Return the comparisons as choices: taken off, a reading of this gauge becomes one of the other."""
    return [(row.kept.pk, f"{row.other} ({row.offset}), {wording.day(row.kept.at)}") for row in rows]


def _annotated(gauges: Any, at: datetime) -> Any:
    def latest(model: Any, field: str, **given: Any) -> Subquery:
        rows = model.objects.filter(gauge=OuterRef("pk"), at__lte=at, **given).order_by("-at", "-id")
        return Subquery(rows.values(field)[:1])

    return gauges.with_due_date(at).annotate(
        last_tile=latest(TileCheck, "pk"),
        good_tile_at=latest(TileCheck, "at", outcome=TileCheck.Outcome.GOOD),
        good_calibration_at=latest(Calibration, "at", passed=True),
        unfit_at=latest(UnfitFinding, "at"),
    )


def _studies(gauge_ids: Sequence[int]) -> QuerySet[GaugeStudy]:
    return GaugeStudy.objects.filter(gauge__in=gauge_ids, superseded_by__isnull=True, void=False)


def _row(gauge: Any, at: datetime, tile: TileCheck | None, study: GaugeStudy | None) -> GaugeRow:
    return GaugeRow(gauge, _state(gauge, at), gauge.due_on, tile, study)


def _state(gauge: Any, at: datetime) -> GaugeState:
    today = day_in(gauge.plant, at)
    good = [moment for moment in (gauge.good_tile_at, gauge.good_calibration_at) if moment is not None]
    if gauge.retired_at is not None:
        return GaugeState.RETIRED
    if gauge.due_on is None:
        return GaugeState.NEVER
    if not gauge.passed:
        return GaugeState.FAILED
    if gauge.unfit_at is not None and not any(moment > gauge.unfit_at for moment in good):
        return GaugeState.UNFIT
    if gauge.due_on < today:
        return GaugeState.OVERDUE
    return GaugeState.DUE if gauge.due_on <= today + SOON else GaugeState.IN_DATE


def _offset_row(kept: GaugeOffset, gauge: Gauge) -> OffsetRow:
    is_ours = kept.ours_id == gauge.pk
    reads = kept.offset if is_ours else -kept.offset
    return OffsetRow(
        kept, kept.theirs if is_ours else kept.ours, signed(float(reads), kept.unit, float(kept.standard_uncertainty)),
        fine(kept.standard_uncertainty, kept.unit),
    )  # fmt: skip


def signed(value: float, unit: str, uncertainty: float) -> str:
    """Return a difference with its sign, as far as its uncertainty lets it be known."""
    return ("+" if value > 0 else "") + fine(value, unit, uncertainty or value)


def _chart(kept: GaugeOffset, found: PairedOffset, words: dict[str, str], width: float = 620.0) -> PairsChart:
    who = wording.reader()
    unit = kept.get_parameter_display() if kept.geometry_deg is None else f"{kept.geometry_deg}°"
    return PairsChart(
        means=found.means,
        differences=found.differences,
        offset=found.offset,
        lower=found.agreement_lower,
        upper=found.agreement_upper,
        across=str(_("mean of both, %(unit)s") % {"unit": unit_label(kept.unit)}),
        up=str(_("difference, %(unit)s") % {"unit": unit_label(kept.unit)}),
        mean_words=str(_("mean %(value)s") % {"value": words["offset"]}),
        limit_words=str(_("95 % of differences")),
        text=str(
            _("%(n)d pairs at %(what)s: mean difference %(offset)s, most between %(lower)s and %(upper)s")
            % {
                "n": found.n, "what": unit, "offset": words["offset"], "lower": words["agreement_lower"],
                "upper": words["agreement_upper"],
            }
        ),
        comma=bool(who and who.decimal_comma),
        width=width,
    )  # fmt: skip


def unit_label(unit: str) -> str:
    """Return the sign of the unit that figures in a picture are drawn in."""
    return {"um": "µm"}.get(unit, unit)
