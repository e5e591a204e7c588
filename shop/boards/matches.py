"""Faces that must agree: the groups of a tool, how they stood last, and what an inspection says of them."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from django.db.models import OuterRef, Subquery

from shop.quality import doubt, matching
from shop.quality.models import Inspection, MatchGroup, MatchVerdict, Reading
from shop.refusal import Saying, gettext_noop
from shop.tooling.models import Face, Tool
from shop.units import Quantity


@dataclass(frozen=True)
class Matched:
    """One verdict on a group: in words, and whether it still holds."""

    verdict: MatchVerdict
    words: Saying
    step: Saying | None
    in_doubt: bool
    overtaken: bool

    @property
    def outcome(self) -> str:
        """Return in a word what the faces do."""
        return OUTCOMES[self.verdict.outcome]

    @property
    def conformance_percent(self) -> Quantity:
        """Return the chance that the faces agree, in per cent."""
        return Quantity(min(round(100 * self.verdict.conformance, 1), Decimal("99.9")), "percent")

    @property
    def required_percent(self) -> Quantity:
        """Return the chance that is required, in per cent."""
        return Quantity(100 * self.verdict.required, "percent")


@dataclass(frozen=True)
class GroupRow:
    """One group of a tool with its faces and its last verdict."""

    group: MatchGroup
    faces: tuple[Face, ...]
    last: Matched | None


@dataclass(frozen=True)
class InInspection:
    """What one inspection says of the groups of its tool: judged, or why not."""

    matched: tuple[Matched, ...]
    unjudged: tuple[Saying, ...]


def of_tool(tool: Tool) -> tuple[GroupRow, ...]:
    """Return the tool's groups, those in force first; a fixed number of queries."""
    last = MatchVerdict.objects.filter(group=OuterRef("pk")).order_by("-at", "-id")
    groups: list[Any] = list(
        MatchGroup.objects.filter(tool=tool)
        .annotate(last_pk=Subquery(last.values("pk")[:1]))
        .prefetch_related("faces__insert")
        .order_by("name")
    )
    verdicts = {one.verdict.group_id: one for one in _matched(group.last_pk for group in groups if group.last_pk)}
    rows = [GroupRow(group, tuple(group.faces.all()), verdicts.get(group.pk)) for group in groups]
    return tuple(sorted(rows, key=lambda row: row.group.ended_at is not None))


def of_inspection(inspection: Inspection) -> InInspection:
    """Return what the inspection says of the groups of its tool, the worst first."""
    judged = _matched(MatchVerdict.objects.filter(inspection=inspection).values_list("pk", flat=True))
    rank = {"no": 0, "not proven": 1, "yes": 2}
    judged.sort(key=lambda one: rank[one.verdict.outcome])
    groups = matching.groups_of_tools([inspection.tool_id]).get(inspection.tool_id, [])
    left = [group for group in groups if group.pk not in {one.verdict.group_id for one in judged}]
    unjudged: list[Saying] = []
    if left:
        readings = list(inspection.readings.in_force().select_related("gauge", "spot"))
        for group in left:
            found = matching.apart(group, readings)
            if isinstance(found, Saying) and (group.ended_at is None or group.ended_at > inspection.at):
                unjudged.append(found)
    return InInspection(tuple(judged), tuple(unjudged))


OUTCOMES = {"yes": gettext_noop("match"), "no": gettext_noop("off match"), "not proven": gettext_noop("not proven")}
_WORDS = {
    "yes": gettext_noop("{group}: {high_face} reads {difference} above {low_face}; {limit} are allowed."),
    "no": gettext_noop("{group}: {high_face} reads {difference} above {low_face}; no more than {limit} is allowed."),
    "not proven": gettext_noop(
        "{group}: {high_face} reads {difference} above {low_face}, too close to {limit} to prove either way."
    ),
}
_STEPS = {
    "no": gettext_noop("One face alone is that face; all moved is process: resin, mould temperature, cleaning, gauge."),
    "not proven": gettext_noop("Read each face several times with this gauge, or use one of finer resolution."),
}


def _matched(pks: Iterable[int]) -> list[Matched]:
    readings = ("lowest__face__insert", "highest__face__insert", "lowest__spot", "group", "inspection")
    verdicts = list(MatchVerdict.objects.filter(pk__in=list(pks)).select_related(*readings).order_by("group__name"))
    ends = [end for verdict in verdicts for end in (verdict.lowest, verdict.highest)]
    doubtful = {pk for pk, one in doubt.doubts(ends).items() if one.open} if ends else set()
    changed = Reading.objects.filter(supersedes__isnull=False, inspection__in={one.inspection_id for one in verdicts})
    put_right = {(one.inspection_id, one.face_id, _kind(one)) for one in changed} if verdicts else set()
    members = _members(verdicts)
    return [
        Matched(
            verdict,
            _in_words(verdict),
            _step(verdict),
            in_doubt=bool(doubtful & {verdict.lowest_id, verdict.highest_id}),
            overtaken=any(
                (verdict.inspection_id, face, _kind(verdict.lowest)) in put_right
                for face in members.get(verdict.group_id, ())
            ),
        )
        for verdict in verdicts
    ]


def _members(verdicts: list[MatchVerdict]) -> dict[int, set[int]]:
    found: dict[int, set[int]] = {}
    through = MatchGroup.faces.through.objects.filter(matchgroup__in={one.group_id for one in verdicts})
    for group, face in through.values_list("matchgroup_id", "face_id"):
        found.setdefault(group, set()).add(face)
    return found


def _kind(reading: Reading) -> tuple[str, str, int | None]:
    return (reading.parameter, reading.where, reading.geometry_deg)


def _in_words(verdict: MatchVerdict) -> Saying:
    unit = verdict.group.unit
    values = {
        "group": verdict.group.name,
        "high_face": str(verdict.highest.face),
        "low_face": str(verdict.lowest.face),
        "difference": Quantity(verdict.difference, unit),
        "limit": Quantity(verdict.tolerance, unit),
    }
    return Saying(f"match.{verdict.outcome}", _WORDS[verdict.outcome], values)


def _step(verdict: MatchVerdict) -> Saying | None:
    step = _STEPS.get(verdict.outcome)
    return Saying(f"match.step.{verdict.outcome}", step, {}) if step else None
