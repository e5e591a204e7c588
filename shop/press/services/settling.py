"""How a counter reading is to be counted, and the questions to ask before it is.

Nothing is put right in silence: what a reading cannot mean by itself is asked, and the answer is kept with it.
"""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime
from decimal import Decimal

from django.db.models import Max, Sum

from shop.press.counting import shots_of
from shop.press.models import Press, Run, ShotEntry, WorkedShots
from shop.press.querysets import ShotEntryQuerySet
from shop.press.working_out import as_counted
from shop.refusal import Refused, gettext_noop
from shop.units import Quantity, parse_whole

Answers = Mapping[str, str | int]
Basis = ShotEntry.Basis

FIRST, OTHER_TOOL, FELL = "shots.first_counter", "shots.other_tool_since", "shots.counter_fell"
RATE, OTHERWISE = "shots.rate_impossible", "shots.counted_otherwise"

# Walking to the tablet takes a few minutes, so two readings may lie closer together than the shots between them.
READING_TAKES_HOURS = 0.1
FASTEST_KNOWN = 720
DIGITS_OF_A_MOULD_COUNTER = 7

NEW_JOB_CHOICE = ("new_job", gettext_noop("A new job began the count again"))
SWAPPED_CHOICE = ("swapped", gettext_noop("The counter was swapped"))
BY_HAND_CHOICE = ("set_by_hand", gettext_noop("The counter was set by hand"))
ROLLED_CHOICE = ("rolled_over", gettext_noop("The counter passed its last digit"))
BASELINE_CHOICE = ("baseline_only", gettext_noop("Count from this reading on; nothing before it"))
STOOD_AT_CHOICE = ("stood_at", gettext_noop("Count from where it stood when this tool went in"))
BASES = {
    "new_job": Basis.NEW_JOB,
    "swapped": Basis.SWAPPED,
    "set_by_hand": Basis.SET_BY_HAND,
    "rolled_over": Basis.ROLLED_OVER,
}


def settle(entry: ShotEntry, answers: Answers, replaced: ShotEntry | None = None) -> None:
    """Say on the unsaved entry how it counts: its basis, and where the count began again.

    Raises
    ------
    Refused
        With a question where the reading cannot be counted by itself and is not answered yet.
    """
    earlier = ShotEntry.objects.of_tool(entry.tool).before(entry)
    if replaced is not None:
        earlier = earlier.exclude(pk=replaced.pk)
    _check_counted_later(entry, earlier, replaced, answers)
    if entry.counter is None:
        entry.basis = Basis.COUNT
        check_rate(entry, None, earlier.last(), answers)
        return
    before = earlier.in_chain(entry).last()
    settle_basis(entry, before, earlier.exists(), answers)
    check_numbers(entry, before)
    if entry.basis == Basis.COUNTER and before is not None:
        _check_counted_otherwise(entry, before, earlier, answers)
    check_rate(entry, before, earlier.last(), answers)


def settle_basis(entry: ShotEntry, before: ShotEntry | None, counted_before: bool, answers: Answers) -> None:
    """Say how the reading counts after `before`, the last of its chain; ask where that is in doubt."""
    said = BASES.get(str(answers.get(FELL, ""))) or BASES.get(str(answers.get(RATE, "")))
    if said is not None:
        _begin_again(entry, said, answers)
    elif entry.source == ShotEntry.Source.MACHINE and _other_tool_since(entry, before):
        _settle_after_another_tool(entry, before, answers)
    elif before is None:
        _settle_first(entry, counted_before, answers)
    elif (entry.counter or 0) < (before.counter or 0):
        raise _fell(entry, before)
    else:
        entry.basis = Basis.COUNTER


def _begin_again(entry: ShotEntry, basis: ShotEntry.Basis, answers: Answers) -> None:
    entry.basis = basis
    if basis == Basis.ROLLED_OVER:
        digits = entry.press.counter_digits if entry.press and entry.source == ShotEntry.Source.MACHINE else None
        entry.read_before = 10 ** (digits or DIGITS_OF_A_MOULD_COUNTER) - 1
        return
    entry.offset = _number(answers, "offset", wanted=basis != Basis.NEW_JOB) or 0
    entry.read_before = _number(answers, "read_before", wanted=basis == Basis.SET_BY_HAND)


def _settle_first(entry: ShotEntry, counted_before: bool, answers: Answers) -> None:
    answer = answers.get(FIRST)
    if answer == "baseline_only":
        entry.basis = Basis.COUNTER
    elif answer == "stood_at":
        entry.basis, entry.offset = Basis.NEW_JOB, _number(answers, "offset", wanted=True) or 0
    # A job counter begins at nothing with its job; only whether this is its job's first reading can be in doubt,
    # and it is not once the tool has been counted before.
    elif answer == "count_from_zero" or (counted_before and entry.source == ShotEntry.Source.JOB and entry.run):
        entry.basis, entry.offset = Basis.NEW_JOB, 0
    else:
        raise Refused(
            FIRST,
            gettext_noop("{counter} is the first reading of this {source} for tool {tool}."),
            next_step=gettext_noop("Say from where it counts."),
            field="counter",
            question=True,
            choices=(
                BASELINE_CHOICE,
                ("count_from_zero", gettext_noop("Count all of it: it began at 0 with this tool")),
                STOOD_AT_CHOICE,
            ),
            counter=entry.counter,
            source=ShotEntry.Source(entry.source).label,
            tool=entry.tool.number,
        )


def _other_tool_since(entry: ShotEntry, before: ShotEntry | None) -> bool:
    """Return whether the press's counter counted another tool's shots since this tool's last reading of it."""
    runs = Run.objects.filter(press=entry.press, began_at__lte=entry.at).exclude(tool=entry.tool)
    if before is not None:
        runs = runs.filter(began_at__gte=before.at)
    return runs.exists() or _reading_of_another(entry, before) is not None


def _reading_of_another(entry: ShotEntry, before: ShotEntry | None) -> ShotEntry | None:
    readings = ShotEntry.objects.in_force().before(entry).in_chain(entry).exclude(tool=entry.tool)
    if before is not None:
        readings = readings.filter(at__gte=before.at)
    return readings.select_related("tool").order_by("at", "id").last()


def _settle_after_another_tool(entry: ShotEntry, before: ShotEntry | None, answers: Answers) -> None:
    other = _reading_of_another(entry, before)
    answer = answers.get(OTHER_TOOL) or answers.get(FIRST)
    entry.basis = Basis.NEW_JOB
    if answer == "baseline_only":
        entry.offset = entry.counter or 0
    elif answer == "stood_at":
        entry.offset = _number(answers, "offset", wanted=True) or 0
    elif answer == "since_its_reading" and other is not None:
        entry.offset = other.counter or 0
    else:
        raise _another_tool(entry, other)


def _another_tool(entry: ShotEntry, other: ShotEntry | None) -> Refused:
    press = entry.press.name if entry.press else ""
    if other is None:
        return Refused(
            OTHER_TOOL,
            gettext_noop("Another tool ran in press {press} before, and the counter of the press counted its shots."),
            next_step=gettext_noop("Say where the counter stood when this tool went in."),
            field="counter",
            question=True,
            choices=(STOOD_AT_CHOICE, BASELINE_CHOICE),
            press=press,
        )
    return Refused(
        OTHER_TOOL,
        gettext_noop("The counter of press {press} was last read with tool {tool}, at {read}."),
        next_step=gettext_noop("Say from where it counts for this tool."),
        field="counter",
        question=True,
        choices=(
            ("since_its_reading", gettext_noop("Count all shots since that reading for this tool")),
            STOOD_AT_CHOICE,
            BASELINE_CHOICE,
        ),
        press=press,
        tool=other.tool.number,
        read=other.counter,
    )


def _fell(entry: ShotEntry, before: ShotEntry) -> Refused:
    return Refused(
        FELL,
        gettext_noop("The {source} shows {counter}, and it showed {read} at {read_at}: it fell."),
        next_step=gettext_noop("Say what happened to the counter, or check the number."),
        field="counter",
        question=True,
        choices=(NEW_JOB_CHOICE, SWAPPED_CHOICE, BY_HAND_CHOICE, ROLLED_CHOICE),
        source=ShotEntry.Source(entry.source).label,
        counter=entry.counter,
        read=before.counter,
        read_at=before.at,
    )


def _number(answers: Answers, name: str, *, wanted: bool) -> int | None:
    given = answers.get(name)
    if isinstance(given, str):
        given = parse_whole(given, field=name) if given.strip() else None
    if given is None and wanted:
        templates = {
            "offset": gettext_noop("Where the counter stood when the count began again is not given."),
            "read_before": gettext_noop("What the counter showed before it was set by hand is not given."),
        }
        raise Refused(
            f"shots.{name}_wanted",
            templates[name],
            next_step=gettext_noop("Enter that number."),
            field=name,
        )
    if given is not None and given < 0:
        raise Refused(
            "shots.negative",
            gettext_noop("A counter does not show {number}."),
            next_step=gettext_noop("Enter a number from 0 up."),
            field=name,
            number=given,
        )
    return given


def check_numbers(entry: ShotEntry, before: ShotEntry | None) -> None:
    """Refuse numbers of the counter that contradict each other."""
    counter, read = entry.counter or 0, None if before is None else before.counter
    if entry.offset > counter:
        raise Refused(
            "shots.offset_above_counter",
            gettext_noop("The counter shows {counter}, less than the {offset} from which it would count."),
            next_step=gettext_noop("Check both numbers."),
            field="offset",
            counter=counter,
            offset=entry.offset,
        )
    if read is not None and entry.read_before is not None and entry.read_before < read:
        raise Refused(
            "shots.read_before_below_last",
            gettext_noop("It cannot have shown {read_before} before that: it showed {read} already."),
            next_step=gettext_noop("Check the number that it showed last."),
            field="read_before",
            read_before=entry.read_before,
            read=read,
        )


def _check_counted_otherwise(entry: ShotEntry, before: ShotEntry, earlier: ShotEntryQuerySet, answers: Answers) -> None:
    """Ask whether shots that were counted another way since the last reading are among those of this one."""
    between = WorkedShots.objects.filter(entry__in=earlier.after(before).order_by())
    otherwise = between.aggregate(made=Sum("shots"))["made"] or 0
    since = shots_of(as_counted(entry), before.counter)
    answer = answers.get(OTHERWISE)
    if not otherwise or not since or answer == "on_top":
        return
    if answer == "the_same":
        entry.basis, entry.offset = Basis.NEW_JOB, (entry.counter or 0) - max(since - otherwise, 0)
        return
    raise Refused(
        OTHERWISE,
        gettext_noop("This reading stands for {since} since {read_at}, and {otherwise} were counted another way."),
        next_step=gettext_noop("Say whether they are the same shots, so that none is counted twice."),
        field="counter",
        question=True,
        choices=(
            ("the_same", gettext_noop("They are the same: count only what goes beyond them")),
            ("on_top", gettext_noop("They are others: count both")),
        ),
        since=Quantity(Decimal(since), "shots"),
        read_at=before.at,
        otherwise=Quantity(Decimal(otherwise), "shots"),
    )


def _check_counted_later(
    entry: ShotEntry, earlier: ShotEntryQuerySet, replaced: ShotEntry | None, answers: Answers
) -> None:
    """Ask whether a late entry lies between two readings of another counter, which then counted its shots already."""
    if answers.get(OTHERWISE) == "on_top":
        return
    later = ShotEntry.objects.of_tool(entry.tool).after(entry).filter(basis=Basis.COUNTER)
    if replaced is not None:
        later = later.exclude(pk=replaced.pk)
    reading = later.select_related("run").first()
    if reading is None:
        return
    if entry.counter is not None and as_counted(reading).chain == as_counted(entry).chain:
        return
    before = earlier.in_chain(reading).last()
    if before is not None and (before.counter or 0) < (reading.counter or 0):
        raise Refused(
            OTHERWISE,
            gettext_noop("The {source} was read before this and after it, and counted on from {read} to {counter}."),
            next_step=gettext_noop("Leave this entry out if its shots are among those."),
            field="counter" if entry.counter is not None else "count",
            question=True,
            choices=(("on_top", gettext_noop("They are others: count both")),),
            source=ShotEntry.Source(reading.source).label,
            read=before.counter,
            counter=reading.counter,
        )


def check_rate(entry: ShotEntry, before: ShotEntry | None, last: ShotEntry | None, answers: Answers) -> None:
    """Ask about more shots than a press could have made in the time."""
    since = before if entry.basis == Basis.COUNTER and before is not None else last
    if since is None or answers.get(RATE) == "really_made":
        return
    shots = shots_of(as_counted(entry), None if before is None else before.counter)
    hours = _hours(since.at, entry.at) + READING_TAKES_HOURS
    most = _most_shots_per_hour(entry)
    if shots <= most * hours:
        return
    really = ("really_made", gettext_noop("They were really made"))
    raise Refused(
        RATE,
        gettext_noop("{shots} since {since} is more than a press can make: at most {most} an hour."),
        next_step=gettext_noop("Check the number and the time, or say what happened."),
        field="counter" if entry.counter is not None else "count",
        question=True,
        choices=(really,) if entry.counter is None else (really, BY_HAND_CHOICE, SWAPPED_CHOICE),
        shots=Quantity(Decimal(shots), "shots"),
        since=since.at,
        most=Quantity(Decimal(most), "shots"),
    )


def _most_shots_per_hour(entry: ShotEntry) -> int:
    if entry.press is not None:
        return entry.press.most_shots_per_hour
    fastest = Press.objects.filter(plant=entry.tool.plant_id).aggregate(most=Max("most_shots_per_hour"))["most"]
    return fastest or FASTEST_KNOWN


def _hours(since: datetime, until: datetime) -> float:
    return max((until - since).total_seconds(), 0.0) / 3600
