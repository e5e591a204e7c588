"""Writing the shot ledger: one entry more, one put right, one taken away. Each is worked out with it."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import datetime
from uuid import UUID

from shop.ledger.services import once
from shop.people.models import Person
from shop.press import working_out
from shop.press.models import Press, Run, ShotEntry
from shop.press.services.runs import check_press, check_sets
from shop.press.services.settling import Answers, settle
from shop.refusal import Refused, gettext_noop
from shop.tooling.models import Resin, Tool
from shop.tooling.services import tools
from shop.tooling.services.checks import not_in_future, says_why

NOT_IN_PRESS = "shots.not_in_press"


@once("shots", ShotEntry, timed=False)
def log(
    *,
    tool: Tool,
    by: Person,
    at: datetime,
    source: str,
    counter: int | None = None,
    count: int | None = None,
    press: Press | None = None,
    blocked: Sequence[int] = (),
    sets: Sequence[str] = (),
    resin: Resin | None = None,
    colour: str = "",
    lot: str = "",
    answers: Answers | None = None,
    ref: UUID | None = None,  # noqa: ARG001 (`once` reads it)
) -> ShotEntry:
    """Take a counter reading or a count of shots, and work out what it means.

    What is not said comes from the run that the tool was in at `at`.

    Raises
    ------
    Refused
        With a question where the reading cannot mean what it seems to, or outright where it means nothing.
    """
    tool = Tool.objects.select_for_update().get(pk=tool.pk)
    answers = dict(answers or {})
    if tool.status == Tool.Status.DISPOSED:
        raise tools.disposed(tool)
    not_in_future(at, code="shots.in_future")
    check_one_way(counter, count)
    if press is not None:
        check_press(tool, press)
    run = run_at(tool, at, press, answers)
    entry = ShotEntry(
        tool=tool, run=run, press=press, source=source, counter=counter, shots=count, answers=answers, by=by, at=at
    )
    describe(entry, blocked=blocked, sets=sets, resin=resin, colour=colour, lot=lot)
    check_press_of_counter(entry)
    settle(entry, answers)
    entry.save(force_insert=True)
    working_out.append(entry)
    return entry


@once("shots put right", ShotEntry, timed=False)
def correct(
    *,
    entry: ShotEntry,
    why: str,
    by: Person,
    at: datetime,
    happened_at: datetime | None = None,
    counter: int | None = None,
    count: int | None = None,
    press: Press | None = None,
    blocked: Sequence[int] | None = None,
    sets: Sequence[str] | None = None,
    resin: Resin | None = None,
    colour: str | None = None,
    lot: str | None = None,
    answers: Answers | None = None,
    ref: UUID | None = None,  # noqa: ARG001 (`once` reads it)
) -> ShotEntry:
    """Put an entry right by one that supersedes it; what is not given stays as it was, also when it happened."""
    why = says_why(why, code="shots.corrected_without_reason")
    old = _still_in_force(entry)
    if counter is None and count is None:
        counter, count = old.counter, old.shots
    check_one_way(counter, count)
    happened_at = happened_at or old.at
    not_in_future(max(happened_at, at), code="shots.in_future")
    if press is not None:
        check_press(old.tool, press)
    answers = old.answers | dict(answers or {})
    moved = happened_at != old.at or press not in (None, old.press)
    right = ShotEntry(
        tool=old.tool,
        run=run_at(old.tool, happened_at, press or old.press, answers) if moved else old.run,
        press=press or old.press,
        source=old.source,
        counter=counter,
        shots=count,
        answers=answers,
        supersedes=old,
        why=why,
        by=by,
        at=happened_at,
    )
    describe(
        right,
        blocked=old.blocked if blocked is None else blocked,
        sets=old.sets if sets is None else sets,
        resin=resin or old.resin,
        colour=old.colour if colour is None else colour,
        lot=old.lot if lot is None else lot,
    )
    check_press_of_counter(right)
    settle(right, answers, replaced=old)
    right.save(force_insert=True)
    working_out.rebuild(old.tool, since=min(old.at, right.at))
    return right


@once("shots taken away", ShotEntry, timed=False)
def void(
    *,
    entry: ShotEntry,
    why: str,
    by: Person,
    at: datetime,
    ref: UUID | None = None,  # noqa: ARG001 (`once` reads it)
) -> ShotEntry:
    """Take an entry away by a row that says why; the counter readings after it close the gap."""
    why = says_why(why, code="shots.voided_without_reason")
    not_in_future(at, code="shots.in_future")
    old = _still_in_force(entry)
    gone = ShotEntry.objects.create(
        tool=old.tool,
        press=old.press,
        run=old.run,
        basis=old.basis,
        source=old.source,
        supersedes=old,
        void=True,
        why=why,
        by=by,
        at=at,
    )
    working_out.rebuild(old.tool, since=old.at)
    return gone


def check_one_way(counter: int | None, count: int | None) -> None:
    """Refuse both or neither of a counter reading and a count, and a number below zero."""
    if (counter is None) == (count is None):
        raise Refused(
            "shots.one_number",
            gettext_noop("Give either what the counter shows or how many shots were made, and not both."),
            next_step=gettext_noop("Enter one number."),
            field="counter",
        )
    if (given := counter if counter is not None else count) is not None and given < 0:
        raise Refused(
            "shots.negative",
            gettext_noop("A counter does not show {number}."),
            next_step=gettext_noop("Enter a number from 0 up."),
            field="counter" if counter is not None else "count",
            number=given,
        )


def run_at(tool: Tool, at: datetime, press: Press | None, answers: Answers) -> Run | None:
    """Return the run that the entry belongs to; ask where the tool was not in a press, or not in that one."""
    run = Run.objects.at_time(at).filter(tool=tool).select_related("press", "resin").order_by("began_at").last()
    if run is not None and press in (None, run.press):
        return run  # type: ignore[no-any-return]
    last = Run.objects.filter(tool=tool, ended_at__lt=at).select_related("press", "resin").order_by("ended_at").last()
    if answers.get(NOT_IN_PRESS) == "yes_it_ran":
        return last if last is not None and press in (None, last.press) else None
    raise not_in_press(tool, at, press, run or last)


def not_in_press(tool: Tool, at: datetime, press: Press | None, run: Run | None) -> Refused:
    """Return the question about a tool that was not in a press, or not in that one."""
    if run is None:
        template = gettext_noop("Tool {tool} was not in a press at {at}.")
        choice = gettext_noop("Yes, it ran: count it")
    elif run.ended_at is None or run.ended_at >= at:
        template = gettext_noop("Tool {tool} was in press {press} at {at}, not in {named}.")
        choice = gettext_noop("Yes, it ran there: count it")
    else:
        template = gettext_noop("Tool {tool} was not in a press at {at}; its run in press {press} ended at {ended_at}.")
        choice = gettext_noop("Yes, it ran: count it in that run")
    return Refused(
        NOT_IN_PRESS,
        template,
        next_step=gettext_noop("Check the tool and the time, or start the run first."),
        field="tool",
        question=True,
        choices=(("yes_it_ran", choice),),
        tool=tool.number,
        at=at,
        press=run.press.name if run else "",
        named=press.name if press else "",
        ended_at=run.ended_at if run else None,
    )


def describe(
    entry: ShotEntry, *, blocked: Iterable[int], sets: Iterable[str], resin: Resin | None, colour: str, lot: str
) -> None:
    """Say on the entry what ran; what is not given is what its run says."""
    run = entry.run
    entry.blocked = sorted(set(blocked))
    _check_blocked(entry.tool, entry.blocked)
    entry.sets = sorted(set(sets)) or (list(run.sets) if run else [])
    check_sets(entry.tool, entry.sets)
    entry.resin = resin or (run.resin if run else None)
    entry.colour = colour or (run.colour if run else "")
    entry.lot = lot or (run.lot if run else "")
    entry.press = entry.press or (run.press if run else None)


def _check_blocked(tool: Tool, blocked: Sequence[int]) -> None:
    if not blocked:
        return
    unknown = sorted(set(blocked) - set(tool.positions.values_list("number", flat=True)))
    if unknown:
        raise Refused(
            "shots.position_unknown",
            gettext_noop("Tool {tool} has no cavity position {position}."),
            next_step=gettext_noop("Tick the blocked cavities again."),
            field="blocked",
            tool=tool.number,
            position=unknown[0],
        )


def check_press_of_counter(entry: ShotEntry) -> None:
    """Refuse a machine counter of no press."""
    if entry.source == ShotEntry.Source.MACHINE and entry.press is None:
        raise Refused(
            "shots.press_wanted",
            gettext_noop("A machine counter belongs to a press, and no press is named."),
            next_step=gettext_noop("Name the press whose counter this is."),
            field="press",
        )


def _still_in_force(entry: ShotEntry) -> ShotEntry:
    Tool.objects.select_for_update().get(pk=entry.tool_id)
    if entry.void or ShotEntry.objects.filter(supersedes=entry).exists():
        raise Refused(
            "shots.already_put_right",
            gettext_noop("This entry was put right or taken away before."),
            next_step=gettext_noop("Load the page again and correct the entry that is in force."),
        )
    held: ShotEntry = ShotEntry.objects.select_related("tool", "press", "run", "resin").get(pk=entry.pk)
    return held
