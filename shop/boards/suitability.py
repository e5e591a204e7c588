"""Can this face have this finish? What its records say, put to the craft, and the answer in the order it is read."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from decimal import Decimal
from typing import Any

from django.utils.translation import gettext_lazy as _

from shop.craft.suitability import CARE, NO, NOT_JUDGED, YES, Answer, Ask, Row
from shop.people import ra_table, wording
from shop.people.models import Plant
from shop.quality import suits
from shop.quality.suits import LimitLike, Means
from shop.standards.source import Standing
from shop.tooling.models import Face, Limit, Spec
from shop.tooling.reading import spec_at

TOPIC_LABELS = {
    "steel": _("Steel"),
    "hardness": _("Hardness"),
    "coating": _("Coating"),
    "resin": _("Resin"),
    "gloss of the resin": _("Gloss the resin can show"),
    "draft": _("Draft"),
    "zone": _("Place on the face"),
    "steel left": _("Steel left"),
    "how made": _("How made"),
    "area": _("Room to measure"),
    "how measured": _("How measured"),
    "cut-off": _("Cut-off"),
    "tolerance": _("Tolerance against the gauge"),
}


# The verdicts as words of the reader; the templates translate them where they stand.
VERDICT_LABELS = {YES: _("yes"), CARE: _("with care"), NO: _("no"), NOT_JUDGED: _("not judged")}

STANDING_WORDS = {
    Standing.PUBLISHED: _("published"),
    Standing.SEVERAL: _("several sources"),
    Standing.CONFLICTING: _("sources conflict"),
    Standing.COMMON: _("common practice"),
}


@dataclass(frozen=True)
class Shown:
    """The answer as it is read: the worst first, and at the end what could not be judged."""

    verdict: str
    rows: tuple[Row, ...]
    not_judged: tuple[Row, ...]

    @property
    def counts(self) -> dict[str, int]:
        """Return how many rows say no, with care and yes."""
        return {verdict: sum(row.verdict == verdict for row in self.rows) for verdict in (NO, CARE, YES)}

    @property
    def to_know(self) -> tuple[Row, ...]:
        """Return the rows that say no or with care."""
        return tuple(row for row in self.rows if row.verdict in (NO, CARE))


def shown(answer: Answer) -> Shown:
    """Return an answer in the order it is read."""
    rows = tuple(row for verdict in (NO, CARE, YES) for row in answer.rows if row.verdict == verdict)
    return Shown(answer.verdict, rows, tuple(row for row in answer.rows if row.verdict == NOT_JUDGED))


def answer(
    plant: Plant,
    known: Ask,
    limits: Iterable[LimitLike],
    at: datetime,
    *,
    gauge: Means | None = None,
    expanded: Decimal | None = None,
) -> Shown:
    """Return what is said of a finish asked for by hand; without a gauge named, the best in date is taken."""
    means = suits.means_of(plant, at) if gauge is None else [gauge]
    asked = suits.asked_limits(limits, means, expanded=expanded)
    kind = ""
    if gauge is not None:
        asked, kind = suits.with_gauge(asked, means)
    ask = replace(
        known,
        limits=tuple(asked),
        gauge_kind=kind,
        aperture_mm=suits.aperture_mm(means),
        required=float(plant.conformance_required),
        ra_variant=ra_table.in_force(plant),
    )
    more = () if gauge is not None or expanded is not None else suits.without_gauge(asked)
    return shown(suits.answered(ask, more))


def of_face(face: Face, at: datetime) -> Shown | None:
    """Return whether a face can have the finish its spec asks for; None where it has no spec."""
    spec = spec_at(face, at)
    return None if spec is None else of_spec(face, spec, spec.limits.all(), at)


def of_spec(face: Face, spec: Spec, limits: Iterable[LimitLike], at: datetime) -> Shown:
    """Return whether a face can have the finish of a spec, saved or not."""
    return shown(suits.answer_for(face, spec, limits, at))


def start(face: Face, at: datetime) -> dict[str, Any]:
    """Return what the form starts from for a face: its records and the revision that holds."""
    ask = suits.ask_of(face)
    spec = spec_at(face, at)
    known: dict[str, Any] = {
        "face": face.pk,
        "steel": ask.steel,
        "hardness": _plain(ask.hardness_hrc),
        "coating": ask.coating,
        "resin": ask.resin,
        "draft": _plain(ask.draft_deg),
        "area": _plain(ask.area_cm2),
        "zone": ask.zone,
        "steel_left": _plain(ask.steel_left_um),
    }
    if spec is None:
        return known
    known |= {
        "how_made": spec.how_made,
        "scale": spec.scale,
        "code": spec.code,
        "depth": _plain(spec.pattern_depth_um),
        "edition": spec.drawing_edition,
        "acceptance": spec.acceptance,
    }
    return known | _limit_fields(list(spec.limits.all()))


def _limit_fields(limits: Sequence[Limit]) -> dict[str, Any]:
    fields: dict[str, Any] = {}
    for row, limit in enumerate(limits):
        fields |= {
            f"limit-{row}-parameter": limit.parameter,
            f"limit-{row}-where": limit.where,
            f"limit-{row}-lower": _plain(limit.lower),
            f"limit-{row}-upper": _plain(limit.upper),
            f"limit-{row}-angle": limit.geometry_deg or "",
            f"limit-{row}-cutoff": _plain(limit.cutoff_mm),
        }
    return fields


def _plain(value: Decimal | float | None) -> str:
    return "" if value is None else wording.number(Decimal(str(value)).normalize())
