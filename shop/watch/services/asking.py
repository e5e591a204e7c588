"""Keep what inspections share, and ask what only a person can tell: why all stepped, whether a reading is right."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from datetime import datetime
from decimal import Decimal
from typing import Any

import numpy as np

from shop.quality.asked import day_in
from shop.quality.models import Inspection
from shop.tooling.models import Parameter
from shop.units import Quantity
from shop.watch import reasons
from shop.watch.models import CommonStep, Question, Trend
from shop.watch.path import Kind, points_of
from shop.watch.scores import scores_of
from shop.watch.steps import Split, ToolKind

# One reading in sixteen thousand lies as far off by chance alone, in normal scores.
FAR_OFF = 4.0
# What was worked out anew by less than this share of its error is the same.
SAME = 0.01

Key = tuple[int, Kind, int | None]


def answers_of(tool_ids: Iterable[int]) -> dict[tuple[int, Kind], str]:
    """Return how the steps of tools were answered, by inspection and kind, in one query."""
    rows = Question.objects.filter(tool__in=list(tool_ids), kind=Question.Kind.STEP).exclude(answer="")
    columns = ("inspection_id", "parameter", "where", "geometry_deg", "answer")
    return {(row[0], row[1:4]): row[4] for row in rows.values_list(*columns)}


def keep_steps(splits: Mapping[ToolKind, Split], tool_ids: Iterable[int], *, at: datetime) -> None:
    """Keep the steps of tools as they are worked out now; what has not changed is left as it is."""
    ids = list(tool_ids)
    kept = {_step_key(one): one for one in CommonStep.objects.filter(tool__in=ids)}
    found: dict[Key, CommonStep] = {}
    for (tool_id, kind), one in splits.items():
        for inspection, error in one.errors.items():
            found[inspection, kind, None] = CommonStep(
                tool_id=tool_id, inspection_id=inspection, parameter=kind[0], where=kind[1], geometry_deg=kind[2],
                unit="", offset=one.offsets[inspection], se=error, faces=one.faces.get(inspection, 0),
                named=inspection in one.named, worked_out_at=at,
            )  # fmt: skip
    stale = [one.pk for key, one in kept.items() if key not in found or not _same(one, found[key])]
    if stale:
        CommonStep.objects.filter(pk__in=stale).delete()
    new = [one for key, one in found.items() if key not in kept or kept[key].pk in stale]
    for step in new:
        step.unit = _unit(step.parameter)
    CommonStep.objects.bulk_create(new)


def ask(splits: Mapping[ToolKind, Split], trends: Sequence[tuple[int, Trend]], *, at: datetime) -> None:
    """Ask about each named step and each reading far off its trend; what later readings settle is asked no more."""
    tools = {tool_id for tool_id, _trend in trends}
    if not tools:
        return
    asked = {_question_key(one): one for one in Question.objects.filter(tool__in=tools)}
    wanted = {**_of_steps(splits), **_of_outliers(trends)}
    looked_at = {trend.face_id for _tool, trend in trends}
    _write(asked, wanted, looked_at, at)


def _of_steps(splits: Mapping[ToolKind, Split]) -> dict[Key, dict[str, Any]]:
    found: dict[Key, dict[str, Any]] = {}
    for (tool_id, kind), one in splits.items():
        for inspection, off in one.named.items():
            found[inspection, kind, None] = {
                "kind": Question.Kind.STEP, "tool_id": tool_id, "count": one.faces.get(inspection, 0),
                "off": off,
            }  # fmt: skip
    return found


def _of_outliers(trends: Sequence[tuple[int, Trend]]) -> dict[Key, dict[str, Any]]:
    found: dict[Key, dict[str, Any]] = {}
    for tool_id, trend in trends:
        points = points_of(trend)
        values = points["value"] - points["step"]
        scores = scores_of(trend)
        for number in np.flatnonzero(np.abs(scores) > FAR_OFF).tolist():
            point = points[number]
            kind = (trend.parameter, trend.where, trend.geometry_deg)
            found[int(point["inspection"]), kind, int(point["reading"])] = {
                "kind": Question.Kind.OUTLIER, "tool_id": tool_id, "face_id": trend.face_id,
                "off": _off_line(points["wear"], values, number), "value": float(point["value"]),
            }  # fmt: skip
    return found


def _off_line(wear: np.ndarray, values: np.ndarray, number: int) -> float:
    """Return how far a reading is from the line through those before it."""
    slope, start = np.polyfit(wear[:number] / (np.ptp(wear[:number]) or 1.0), values[:number], 1)
    return float(values[number] - start - slope * wear[number] / (np.ptp(wear[:number]) or 1.0))


def _write(asked: Mapping[Key, Question], wanted: Mapping[Key, dict[str, Any]], faces: set[int], at: datetime) -> None:
    fresh = [key for key in wanted if key not in asked]
    taken = Inspection.objects.select_related("tool__plant").in_bulk({inspection for inspection, *_rest in fresh})
    Question.objects.bulk_create(_question(key, wanted[key], taken[key[0]], at) for key in fresh)
    gone, back = [], []
    for key, one in asked.items():
        mine = one.face_id is None or one.face_id in faces
        if one.answered_at is None and mine:
            if key not in wanted and one.gone_at is None:
                gone.append(one.pk)
            elif key in wanted and one.gone_at is not None:
                back.append(one.pk)
    if gone:
        Question.objects.filter(pk__in=gone).update(gone_at=at)
    if back:
        Question.objects.filter(pk__in=back).update(gone_at=None)


def _question(key: Key, told: dict[str, Any], inspection: Inspection, at: datetime) -> Question:
    _inspection, kind, reading = key
    unit = _unit(kind[0])
    side = "above" if told["off"] > 0 else "below"
    values = {
        "parameter": Parameter(kind[0]),
        "offset": _quantity(abs(told["off"]), unit),
        "day": day_in(inspection.tool.plant, inspection.at),
    }
    if reading is None:
        values["count"] = told["count"]
    else:
        values["value"] = _quantity(told["value"], unit)
    return Question(
        kind=told["kind"], tool_id=told["tool_id"], face_id=told.get("face_id"), inspection=inspection,
        reading_id=reading, parameter=kind[0], where=kind[1], geometry_deg=kind[2],
        code=f"{'step' if reading is None else 'outlier'}.{side}", values=reasons.packed(values), asked_at=at,
    )  # fmt: skip


def _quantity(value: float, unit: str) -> Quantity:
    return Quantity(Decimal(f"{value:.3g}"), unit)


def _unit(parameter: str) -> str:
    if Parameter(parameter).by_eye:
        return "grade"
    return "GU" if parameter == Parameter.GLOSS else "um"


def _step_key(one: CommonStep) -> Key:
    return one.inspection_id, (one.parameter, one.where, one.geometry_deg), None


def _question_key(one: Question) -> Key:
    return one.inspection_id, (one.parameter, one.where, one.geometry_deg), one.reading_id


def _same(one: CommonStep, other: CommonStep) -> bool:
    close = abs(one.offset - other.offset) <= SAME * max(other.se, 1e-12)
    return close and one.named == other.named and one.faces == other.faces
