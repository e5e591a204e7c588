"""Questions: what the readings ask, and what was different beside them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from django.db.models import QuerySet

from shop.people.models import Plant
from shop.quality.models import Inspection
from shop.refusal import Saying, gettext_noop
from shop.units import Quantity
from shop.watch import reasons
from shop.watch.models import CommonStep, Question
from shop.watch.services.questions import answers_to

# A mould that is warmer or colder by more than this moulds another gloss.
TELLING_C = Decimal(3)
TELLING_HOURS = Decimal(24)
LATELY = 20


@dataclass(frozen=True)
class Asked:
    """One question as its row shows it."""

    question: Question
    words: Saying
    moved: tuple[Saying, ...]
    answers: tuple[tuple[str, str], ...]
    step: CommonStep | None


@dataclass(frozen=True)
class Questions:
    """The questions of a plant: those that are open, and those answered lately."""

    open: tuple[Asked, ...]
    answered: tuple[Asked, ...]


def questions(plant: Plant, tool: str = "") -> Questions:
    """Return what is asked, the newest first: five queries, however much it is."""
    asked = Question.objects.in_plant(plant).select_related(
        "tool", "face__insert", "inspection__resin", "reading__gauge", "reading__spot", "answered_by"
    )
    if tool:
        asked = asked.filter(tool__number__icontains=tool)
    waiting = list(asked.open().order_by("-inspection__at", "pk"))
    told = list(asked.exclude(answer="").order_by("-answered_at", "-pk")[:LATELY])
    before = _before([*waiting, *told])
    steps = _steps([*waiting, *told])
    return Questions(
        open=tuple(_asked(one, before, steps) for one in waiting),
        answered=tuple(_asked(one, before, steps) for one in told),
    )


def open_count(plant: Plant) -> int:
    """Return how many questions wait for an answer."""
    return Question.objects.open().in_plant(plant).count()


def _asked(one: Question, before: dict[int, Inspection], steps: dict[Any, CommonStep]) -> Asked:
    earlier = before.get(one.inspection_id)
    return Asked(
        question=one,
        words=reasons.worded(one.code, one.values),
        moved=tuple(moved(earlier, one.inspection)) if earlier is not None else (),
        answers=tuple((str(said.value), str(said.label)) for said in answers_to(one)),
        step=steps.get((one.inspection_id, one.parameter, one.where, one.geometry_deg)),
    )


def _before(asked: Sequence[Question]) -> dict[int, Inspection]:
    """Return, for each inspection that is asked about, the one of the same tool before it."""
    tools = {one.tool_id for one in asked}
    found: dict[int, Inspection] = {}
    last: dict[int, Inspection] = {}
    wanted = {one.inspection_id for one in asked}
    rows: QuerySet[Inspection] = Inspection.objects.filter(tool__in=tools).select_related("resin").order_by("at", "pk")
    for one in rows if wanted else ():
        if one.pk in wanted and one.tool_id in last:
            found[one.pk] = last[one.tool_id]
        last[one.tool_id] = one
    return found


def _steps(asked: Sequence[Question]) -> dict[Any, CommonStep]:
    rows = CommonStep.objects.filter(inspection__in={one.inspection_id for one in asked})
    return {(one.inspection_id, one.parameter, one.where, one.geometry_deg): one for one in rows}


def moved(before: Inspection, now: Inspection) -> list[Saying]:
    """Return what was different beside the readings, against the inspection before."""
    found = []
    if None not in (before.mould_temperature_c, now.mould_temperature_c):
        was, warm = before.mould_temperature_c, now.mould_temperature_c
        if abs(warm - was) > TELLING_C:  # type: ignore[operator]
            template = gettext_noop("mould surface {before}, now {now}")
            found.append(_saying("moved.temperature", template, Quantity(was, "C"), Quantity(warm, "C")))  # type: ignore[arg-type]
    if before.resin != now.resin and before.resin is not None and now.resin is not None:
        found.append(_saying("moved.resin", gettext_noop("resin {before}, now {now}"), before.resin, now.resin))
    if before.colour != now.colour and before.colour and now.colour:
        found.append(_saying("moved.colour", gettext_noop("colour {before}, now {now}"), before.colour, now.colour))
    if before.lot != now.lot and before.lot and now.lot:
        found.append(_saying("moved.lot", gettext_noop("lot {before}, now {now}"), before.lot, now.lot))
    if before.cleaned != now.cleaned and None not in (before.cleaned, now.cleaned):
        template = (
            gettext_noop("cleaned before the reading, which it was not the time before")
            if now.cleaned
            else gettext_noop("not cleaned before the reading, which it was the time before")
        )
        found.append(Saying("moved.cleaned", template, {}))
    return [*found, *_hours(before, now)]


def _hours(before: Inspection, now: Inspection) -> list[Saying]:
    was, since = before.hours_since_moulding, now.hours_since_moulding
    if was is None or since is None or abs(since - was) <= TELLING_HOURS:
        return []
    template = gettext_noop("{before} hours after moulding, now {now}")
    return [_saying("moved.hours", template, was.normalize(), since.normalize())]


def _saying(code: str, template: str, before: Any, now: Any) -> Saying:
    def plain(value: Any) -> Any:
        return value if isinstance(value, Quantity) else str(value)

    return Saying(code, template, {"before": plain(before), "now": plain(now)})
