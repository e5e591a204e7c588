"""The grid of a study's form: fields by row, person and trial, read and shown again with everything typed."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, field
from typing import Any

from django.http import QueryDict
from django.utils.translation import gettext as _

from shop.pages.typed import Typed
from shop.people import wording
from shop.quality.pasted import Pasted
from shop.quality.services.studies import MOST_CELLS
from shop.refusal import Refused

MOST_PEOPLE, MOST_TRIALS = 12, 10
FAULTS_SHOWN = 20


@dataclass(frozen=True)
class Cell:
    """One field of the grid."""

    name: str
    was: str
    label: str
    fault: str


@dataclass(frozen=True)
class Column:
    """One trial of one person, down the rows."""

    head: str
    cells: tuple[Cell, ...]


@dataclass(frozen=True)
class PersonColumns:
    """All that one person measured or judged."""

    name: str
    columns: tuple[Column, ...]


@dataclass(frozen=True)
class Grid:
    """The grid as it is shown; `outside` are values typed into a larger grid, which are kept."""

    rows: tuple[str, ...]
    people: tuple[PersonColumns, ...]
    outside: tuple[tuple[str, str], ...]
    faults: tuple[str, ...]
    more_faults: int


@dataclass(frozen=True)
class Layout:
    """How large a grid is, and the names of its rows and people; empty where that could not be read."""

    rows: tuple[str, ...] = ()
    people: tuple[str, ...] = ()
    trials: int = 0
    master: bool = False

    def names(self) -> Iterator[tuple[int, int, int, str]]:
        """Yield row, person, trial and name of each field; the master counts as the person after the last."""
        for person in range(len(self.people)):
            for trial in range(self.trials):
                for row in range(len(self.rows)):
                    yield row, person, trial, f"v-{row}-{person}-{trial}"
        if self.master:
            for row in range(len(self.rows)):
                yield row, len(self.people), 0, f"m-{row}"


@dataclass
class Entered:
    """What was read from a grid or from pasted text."""

    rows: tuple[str, ...]
    people: tuple[str, ...]
    values: list[list[list[Any]]]
    master: list[Any] | None = None
    faults: list[str] = field(default_factory=list)


def lines(typed: Typed, name: str) -> tuple[str, ...]:
    """Return the lines of a field that are not empty."""
    return tuple(line.strip() for line in typed.was[name].replace("\x00", "").splitlines() if line.strip())


def layout(typed: Typed, *, fewest_trials: int) -> Layout:
    """Return the size of the grid; what is wrong with it is noted at its field."""
    people, named = lines(typed, "people"), lines(typed, "row_names")
    rows, trials = typed.integer("rows", required=True), typed.integer("trials", required=True)
    if not people:
        typed.find_fault("people", _("Name the people, one a line."))
    elif len(people) > MOST_PEOPLE:
        said = {"n": len(people), "most": MOST_PEOPLE}
        typed.find_fault("people", _("%(n)d people are named; a study has at most %(most)d.") % said)
    if rows is not None and rows < 2:
        typed.find_fault("rows", _("%(n)d is too few, 2 are the least.") % {"n": rows})
    if trials is not None and not fewest_trials <= trials <= MOST_TRIALS:
        said = {"n": trials, "least": fewest_trials, "most": MOST_TRIALS}
        typed.find_fault("trials", _("%(n)d trials: from %(least)d to %(most)d are possible.") % said)
    if rows and trials and people and rows * trials * len(people) > MOST_CELLS:
        said = {"n": rows * trials * len(people), "most": MOST_CELLS}
        typed.find_fault("rows", _("That makes %(n)d entries; at most %(most)d are possible.") % said)
    if rows is not None and len(named) > rows:
        said = {"n": len(named), "rows": rows}
        typed.find_fault("row_names", _("%(n)d names stand here for %(rows)d rows.") % said)
    if any(typed.fault[name] for name in ("people", "rows", "trials", "row_names")) or rows is None or trials is None:
        return Layout()
    names = named + tuple(str(number) for number in range(len(named) + 1, rows + 1))
    return Layout(names, people, trials, typed.ticked("master"))


def grid(typed: Typed, size: Layout) -> Grid:
    """Return the grid with what was typed into it."""
    people = []
    for person, name in enumerate(size.people):
        columns = [
            Column(str(trial + 1), tuple(_cell(typed, size, row, person, trial) for row in range(len(size.rows))))
            for trial in range(size.trials)
        ]
        people.append(PersonColumns(name, tuple(columns)))
    if size.master:
        cells = tuple(_cell(typed, size, row, len(size.people), 0) for row in range(len(size.rows)))
        people.append(PersonColumns(_("master"), (Column("", cells),)))
    inside = {name for _row, _person, _trial, name in size.names()}
    outside = tuple((name, value) for name, value in _filled(typed) if name not in inside)
    faults = [typed.fault[name] for name in (*sorted(inside), "values") if typed.fault[name]]
    return Grid(size.rows, tuple(people), outside, tuple(faults[:FAULTS_SHOWN]), max(0, len(faults) - FAULTS_SHOWN))


def read_grid(typed: Typed, size: Layout, read: Callable[[str], Any]) -> Entered:
    """Return what stands in the grid; each cell that cannot be read is named."""
    filled = dict(_filled(typed))
    if not filled:
        typed.find_fault("values", _("The grid is empty: enter the values, or paste them."))
    inside = list(size.names())
    values: list[list[list[Any]]] = [[[None] * size.trials for _one in size.people] for _row in size.rows]
    master: list[Any] = [None] * len(size.rows)
    for row, person, trial, name in inside if filled else ():
        value = _read(typed, name, where(size, row, person, trial), read)
        if person == len(size.people):
            master[row] = value
        else:
            values[row][person][trial] = value
    if set(filled) - {name for *_place, name in inside} and size.rows:
        typed.find_fault("values", _("Values stand outside this grid. Make it as large again, or empty them there."))
    return Entered(size.rows, size.people, values, master if size.master else None)


def where(size: Layout, row: int, person: int, trial: int) -> str:
    """Return the words for one place of the grid."""
    if person == len(size.people):
        return _("%(row)s, master") % {"row": size.rows[row]}
    said = {"row": size.rows[row], "person": size.people[person], "trial": trial + 1}
    return _("%(person)s, %(row)s, trial %(trial)s") % said


def with_pasted(data: QueryDict, pasted: Pasted) -> QueryDict:
    """Return the form with the pasted table in its grid."""
    form = data.copy()
    for name in [name for name in form if name.startswith(("v-", "m-"))]:
        del form[name]
    form["people"] = "\n".join(pasted.people)
    form["row_names"] = "\n".join(pasted.parts)
    form["rows"] = str(len(pasted.parts))
    form["trials"] = str(max((len(cell) for row in pasted.values for cell in row), default=0))
    for row, by_person in enumerate(pasted.values):
        for person, cell in enumerate(by_person):
            for trial, value in enumerate(cell):
                form[f"v-{row}-{person}-{trial}"] = value
    if pasted.master is not None:
        form["master"] = "yes"
        for row, verdict in enumerate(pasted.master):
            form[f"m-{row}"] = verdict
    form["paste"] = ""
    form.pop("replace", None)
    return form


def has_values(typed: Typed) -> bool:
    """Return whether anything was typed into the grid."""
    return bool(_filled(typed))


def start_of(values: list[list[list[str]]], master: list[str] | None = None) -> Mapping[str, str]:
    """Return the fields of a grid that starts from a study's values."""
    start = {
        f"v-{row}-{person}-{trial}": value
        for row, by_person in enumerate(values)
        for person, cell in enumerate(by_person)
        for trial, value in enumerate(cell)
    }
    return start | {f"m-{row}": verdict for row, verdict in enumerate(master or ())}


def _filled(typed: Typed) -> list[tuple[str, str]]:
    return [(name, value) for name, value in typed.was.items() if name.startswith(("v-", "m-")) and value.strip()]


def _cell(typed: Typed, size: Layout, row: int, person: int, trial: int) -> Cell:
    name = f"m-{row}" if person == len(size.people) else f"v-{row}-{person}-{trial}"
    return Cell(name, typed.was[name], where(size, row, person, trial), typed.fault[name])


def _read(typed: Typed, name: str, place: str, read: Callable[[str], Any]) -> Any:
    words = typed.was[name].strip()
    if not words:
        typed.find_fault(name, _("%(place)s: nothing is entered.") % {"place": place})
        return None
    try:
        return read(words)
    except Refused as refused:
        said = {"place": place, "typed": words, "reason": wording.say(refused, typed.reader)}
        typed.find_fault(name, _("%(place)s: %(reason)s") % said if words in said["reason"]
                         else _("%(place)s: “%(typed)s” %(reason)s") % said)  # fmt: skip
        return None
