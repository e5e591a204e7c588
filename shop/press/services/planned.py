"""Writing planned runs: what a tool is to run, entered or from the plant's planning."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime
from typing import Any
from uuid import UUID

from django.db import transaction

from shop.ledger.services import once, record_change
from shop.people.models import Person
from shop.press.models import PlannedRun, Press
from shop.press.services.runs import check_press, check_sets
from shop.refusal import Refused, gettext_noop
from shop.tooling.models import Resin, Tool
from shop.tooling.services import tools

SECONDS_AN_HOUR = 3600.0
CHANGED = ("press", "shots", "resin", "colour", "sets", "starts_at", "ends_at", "order_number")


@once("run planned", PlannedRun, timed=False)
def plan_run(
    *,
    tool: Tool,
    shots: int,
    starts_at: datetime,
    ends_at: datetime,
    by: Person,
    at: datetime,
    press: Press | None = None,
    order_number: str = "",
    resin: Resin | None = None,
    colour: str = "",
    sets: Sequence[str] = (),
    source: str = PlannedRun.Source.ENTERED,
    ref: UUID | None = None,  # noqa: ARG001 (`once` reads it)
) -> PlannedRun:
    """Plan a run of a tool.

    Raises Refused for times that are over or the wrong way round, more shots than the press makes, or another run then.
    """
    held = _hold(tool, press)
    if held.status == Tool.Status.DISPOSED:
        raise tools.disposed(held)
    run = PlannedRun(
        tool=held, press=press, order_number=order_number.strip(), shots=shots, resin=resin, colour=colour.strip(),
        sets=sorted(set(sets)), starts_at=starts_at, ends_at=ends_at, source=source,
    )  # fmt: skip
    _check(run, at)
    run.save(force_insert=True)
    record_change(run, "starts_at", None, starts_at, by=by, at=at)
    return run


@transaction.atomic
def change_run(*, run: PlannedRun, by: Person, at: datetime, **changed: Any) -> PlannedRun:
    """Change what is planned; what is not named stays. Raises Refused as `plan_run` does, and for a cancelled run."""
    _hold(run.tool, changed.get("press", run.press))
    held: PlannedRun = (
        PlannedRun.objects.select_for_update(of=("self",)).select_related("tool__plant", "press").get(pk=run.pk)
    )
    if held.cancelled_at is not None:
        raise _cancelled(held)
    was = {name: getattr(held, name) for name in changed if name in CHANGED}
    for name in was:
        setattr(held, name, changed[name])
    _check(held, at)
    held.save(update_fields=list(was))
    for name, before in was.items():
        if before != getattr(held, name):
            record_change(held, name, before, getattr(held, name), by=by, at=at)
    return held


@transaction.atomic
def cancel_run(*, run: PlannedRun, by: Person, at: datetime, why: str) -> PlannedRun:
    """Cancel a planned run; it stays in the trail. Raises Refused without a reason, and for one cancelled already."""
    held: PlannedRun = PlannedRun.objects.select_for_update(of=("self",)).select_related("tool__plant").get(pk=run.pk)
    if held.cancelled_at is not None:
        raise _cancelled(held)
    if not why.strip():
        raise Refused(
            "planned.no_reason",
            gettext_noop("Nothing says why the run is cancelled."),
            next_step=gettext_noop("Give the reason in a few words."),
            field="why",
        )
    held.cancelled_at = at
    held.save(update_fields=["cancelled_at"])
    record_change(held, "cancelled_at", None, at, by=by, at=at, why=why.strip())
    return held


def _hold(tool: Tool, press: Press | None) -> Tool:
    """Lock the tool and the press: two people who plan one tool, or two tools into one press, meet here."""
    held: Tool = Tool.objects.select_for_update().get(pk=tool.pk)
    if press is not None:
        Press.objects.select_for_update().get(pk=press.pk)
    return held


def _check(run: PlannedRun, at: datetime) -> None:
    if run.ends_at <= run.starts_at:
        raise Refused(
            "planned.ends_first",
            gettext_noop("The run would end at {ends_at}, before it starts at {starts_at}."),
            next_step=gettext_noop("Give an end after the start."),
            field="ends_at",
            ends_at=run.ends_at,
            starts_at=run.starts_at,
        )
    if run.ends_at <= at:
        raise Refused(
            "planned.over",
            gettext_noop("A run that ended at {ends_at} cannot be planned any more."),
            next_step=gettext_noop("Log its shots instead."),
            field="ends_at",
            ends_at=run.ends_at,
        )
    if run.press is not None:
        check_press(run.tool, run.press)
        _check_rate(run, run.press)
    check_sets(run.tool, run.sets)
    _check_free(run)


def _check_rate(run: PlannedRun, press: Press) -> None:
    hours = (run.ends_at - run.starts_at).total_seconds() / SECONDS_AN_HOUR
    most = int(press.most_shots_per_hour * hours)
    if run.shots > most:
        raise Refused(
            "planned.too_many",
            gettext_noop("{shots} shots are more than press {press} makes in that time, {limit}."),
            next_step=gettext_noop("Plan fewer shots, or more time."),
            field="shots",
            shots=run.shots,
            press=press.name,
            limit=most,
        )


def _check_free(run: PlannedRun) -> None:
    """Refuse two runs at once of one tool, or in one press."""
    at_once = PlannedRun.objects.standing().filter(starts_at__lt=run.ends_at, ends_at__gt=run.starts_at)
    at_once = at_once.exclude(pk=run.pk).select_related("tool", "press")
    other = at_once.filter(tool=run.tool_id).first()
    if other is None and run.press is not None:
        other = at_once.filter(press=run.press).first()
    if other is not None:
        raise Refused(
            "planned.at_once",
            gettext_noop("Tool {tool} is planned from {starts_at} to {ends_at} already: {order}."),
            next_step=gettext_noop("Choose another time, or change that run."),
            field="starts_at",
            tool=other.tool.number,
            starts_at=other.starts_at,
            ends_at=other.ends_at,
            order=other.order_number or "–",
        )


def _cancelled(run: PlannedRun) -> Refused:
    return Refused(
        "planned.cancelled",
        gettext_noop("The run of {tool} was cancelled at {at}."),
        next_step=gettext_noop("Plan a new one."),
        tool=run.tool.number,
        at=run.cancelled_at,
    )
