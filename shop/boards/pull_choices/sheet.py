"""The page that answers when to pull a tool: a few priced choices by day, the curve behind them, who goes along."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from datetime import date, datetime

from django.utils.translation import gettext as _

from shop.bench.models import WorkOrder
from shop.boards import costs
from shop.boards.pull_choices.days import BEST, GAP, LATER, NOW, ORDER, TEN, days_of
from shop.boards.pull_choices.doings import Candidate
from shop.boards.pull_choices.facts import ToolFacts, facts_of
from shop.boards.pull_choices.weighed import LEAST_SHOTS, Weighed, weigh
from shop.boards.pull_choices.words import Group, groups_of, in_hours, percent, rate, shots
from shop.craft.visits import Along, Choice
from shop.craft.weighing import SHIFT_HOURS
from shop.people import wording
from shop.picture.priced_windows import Gap, Priced, PricedWindows, top_of
from shop.refusal import Saying, gettext_noop
from shop.tooling.models import Face, Tool
from shop.watch.calendar import calendars_of

LETTERS = "ABCDEFGH"
WIDE, NARROW = 760.0, 362.0
TABLE_ROWS = 13
MOST_PRICES = 6
MOST_ALONG = 10
WEEK = 7


@dataclass(frozen=True)
class FaceWork:
    """What is done to one face in a choice."""

    face: Face
    position: int
    work: str
    label: str
    part: Candidate


@dataclass(frozen=True)
class AlongRow:
    """Whether a face goes along, and by how much that is right; `own_on` is when it alone would be pulled."""

    face: Face
    goes: bool
    own_on: date | None
    visit_saved: str
    given_away: str
    saves: str


@dataclass(frozen=True)
class ChoiceRow:
    """One choice as a row of the page, its figures in the reader's words."""

    letter: str
    key: str
    choice: Choice
    cheapest: bool
    first_on: date
    last_on: date | None
    why: str
    works: tuple[tuple[str, tuple[FaceWork, ...]], ...]
    hours: str
    days_away: int
    visit: str
    outside: str
    downtime: str
    steel_um: float
    chance: str
    waiting: str
    life: str
    rate: str
    dearer: str
    groups: tuple[Group, ...]
    along: tuple[AlongRow, ...]
    along_more: int
    warnings: tuple[str, ...]

    @property
    def works_words(self) -> str:
        """Return the works with how many faces each is done to."""
        return ", ".join(label if len(faces) == 1 else f"{label} × {len(faces)}" for label, faces in self.works)

    @property
    def faces(self) -> tuple[FaceWork, ...]:
        """Return every face with its work."""
        return tuple(one for _label, faces in self.works for one in faces)


@dataclass(frozen=True)
class PullSheet:
    """Everything on the page; without choices `none` says why there are none."""

    tool: Tool
    facts: ToolFacts
    none: Saying | None
    rows: tuple[ChoiceRow, ...] = ()
    wide: PricedWindows | None = None
    narrow: PricedWindows | None = None
    table: tuple[tuple[date, str, str, str, str], ...] = ()
    spent: tuple[Face, ...] = ()
    booked: WorkOrder | None = None

    @property
    def cheapest(self) -> ChoiceRow | None:
        """Return the choice that costs least."""
        return next((row for row in self.rows if row.cheapest), None)

    @property
    def warnings(self) -> tuple[str, ...]:
        """Return what is to be minded whichever is chosen."""
        first = self.rows[0].warnings if self.rows else ()
        return tuple(said for said in first if all(said in row.warnings for row in self.rows))

    def row(self, key: str) -> ChoiceRow | None:
        """Return the choice with this key."""
        return next((row for row in self.rows if row.key == key), None)


def pull_sheet(tool: Tool, at: datetime) -> PullSheet:
    """Return the page for a tool: a fixed number of queries, however many faces it has."""
    facts = facts_of(tool, at)
    booked = next((one.booked for one in facts.faces if one.booked), None)
    if facts.in_work is not None:
        return PullSheet(tool, facts, Saying("pull.in_work", _IN_WORK, {}))
    if not facts.faces:
        return PullSheet(tool, facts, Saying("pull.nothing_known", _NOTHING_KNOWN, {}), booked=booked)
    days = days_of(facts, calendars_of([tool], at)[tool.pk])
    if days.middle(days.horizon) < LEAST_SHOTS:
        return PullSheet(tool, facts, Saying("pull.nothing_to_weigh", _NOTHING_TO_WEIGH, {}), booked=booked)
    weighed = weigh(facts, days)
    if weighed is None:
        spent = tuple(one.face for one in facts.faces)
        return PullSheet(tool, facts, Saying("pull.no_steel", _NO_STEEL, {}), spent=spent, booked=booked)
    rows = tuple(_row(weighed, choice, letter) for choice, letter in zip(weighed.choices, LETTERS, strict=False))
    wide = _picture(weighed, rows)
    return PullSheet(
        tool=tool,
        facts=facts,
        none=None,
        rows=rows,
        wide=wide,
        narrow=replace(wide, width=NARROW, height=260.0),
        table=tuple(_table(weighed)),
        spent=tuple(one.facts.face for one in weighed.spent),
        booked=booked,
    )


_IN_WORK = gettext_noop("It is in work already: what is done now is decided there.")
_NOTHING_KNOWN = gettext_noop("Nothing can be told of its faces yet: measure them, and their wear is seen.")
_NO_STEEL = gettext_noop("There is no work to weigh: the steel for it is not there.")
_NOTHING_TO_WEIGH = gettext_noop("It makes no shots that could be waited for: log its shots, or plan its runs.")


def _row(weighed: Weighed, choice: Choice, letter: str) -> ChoiceRow:
    cur, best, days = weighed.tool.costs.currency, weighed.cheapest, weighed.days
    faces = tuple(_face_work(weighed, key, doing.work) for key, doing in choice.works)
    hours = choice.hours + float(weighed.tool.costs.strip_hours)
    gap = choice.window.gap_days
    # They stand in the order of their own times: those that stay far behind say nothing new.
    along = choice.along[: max(MOST_ALONG, sum(one.goes for one in choice.along))]
    dearer = max((choice.rate - best.rate) / 1000.0 * best.cycle, 0.0)
    return ChoiceRow(
        letter=letter,
        key=f"{days.date(choice.window.day).isoformat()}-{choice.style}",
        choice=choice,
        cheapest=choice is best,
        first_on=days.date(choice.window.day),
        last_on=days.date(choice.window.day + gap - 1) if gap > 1 else None,
        why=_why(choice),
        works=_by_work(faces),
        hours=in_hours(hours),
        days_away=max([math.ceil(hours / SHIFT_HOURS), *(doing.days for _key, doing in choice.works)]),
        visit=costs.money(choice.paid.whole, cur),
        outside=_outside(choice, faces, cur),
        downtime=costs.money(choice.paid.downtime, cur),
        steel_um=float(sum(one.part.steel_um for one in faces)),
        chance=percent(choice.chance),
        waiting=costs.money(choice.waiting, cur),
        life=shots(choice.next_shots),
        rate=rate(choice.rate, cur),
        dearer=costs.money(dearer, cur),
        groups=groups_of(weighed, choice),
        along=tuple(_along(weighed, one) for one in along),
        along_more=len(choice.along) - len(along),
        warnings=tuple(_warnings(weighed, faces)),
    )


def _outside(choice: Choice, faces: tuple[FaceWork, ...], currency: str) -> str:
    """Return what outside houses ask; empty where nothing goes out."""
    outside = [one for one in faces if one.part.outside]
    if not outside:
        return ""
    if all(one.part.price is None for one in outside):
        return _("price not known")
    return costs.money(choice.paid.outside, currency)


def _face_work(weighed: Weighed, key: int, work: str) -> FaceWork:
    part = weighed.works[key, work]
    return FaceWork(part.facts.face, part.facts.position, work, part.label, part)


def _by_work(faces: tuple[FaceWork, ...]) -> tuple[tuple[str, tuple[FaceWork, ...]], ...]:
    found: dict[str, list[FaceWork]] = {}
    for one in sorted(faces, key=lambda one: (one.position, str(one.face))):
        found.setdefault(one.label, []).append(one)
    return tuple((label, tuple(of_work)) for label, of_work in found.items())


def _why(choice: Choice) -> str:
    gap = choice.window.gap_days > 0
    words = {
        NOW: _("now, while the press leaves it free") if gap else _("now, out of the running press"),
        GAP: _("the press has a gap"),
        BEST: _("from then on waiting costs more than it saves"),
        TEN: _("the first face reaches 10 %"),
        LATER: _("not before four weeks"),
        ORDER: _("after the order that runs"),
    }[choice.window.name]
    if gap and choice.window.name not in (NOW, GAP):
        return _("%(why)s, in a gap of the press") % {"why": words}
    return words


def _along(weighed: Weighed, one: Along) -> AlongRow:
    cur, day = weighed.tool.costs.currency, weighed.own_day(one.key)
    face = next(facts.face for facts in weighed.tool.faces if facts.face.pk == one.key)
    return AlongRow(
        face=face,
        goes=one.goes,
        own_on=None if day is None else weighed.days.date(day),
        visit_saved=costs.money(one.visit_saved, cur),
        given_away=costs.money(one.given_away, cur),
        saves=costs.money(abs(one.saves), cur),
    )


def _warnings(weighed: Weighed, faces: tuple[FaceWork, ...]) -> list[str]:
    owner = weighed.tool.tool.owner
    found = []
    if owner and any(one.part.takes_steel for one in faces):
        found.append(_("The steel belongs to %(owner)s: the customer is asked first.") % {"owner": owner})
    unpriced = sorted({one.label for one in faces if one.part.outside and one.part.price is None})
    if unpriced:
        words = _("No house's price is known for %(works)s: the figures are without it.")
        found.append(words % {"works": ", ".join(unpriced)})
    hurt = sorted(str(one.face) for one in faces if one.part.facts.must and one.part.facts.ahead is None)
    if hurt:
        words = _("What is wrong with %(faces)s has no forecast: the parts it spoils are not reckoned.")
        found.append(words % {"faces": ", ".join(hurt)})
    short = sorted({part.label for (key, _w), part in weighed.works.items()
                    if part.steel_short_um and key in {one.face.pk for one in faces}})  # fmt: skip
    if short:
        found.append(_("Ruled out, the steel is not there: %(works)s.") % {"works": ", ".join(short)})
    return found


def _picture(weighed: Weighed, rows: tuple[ChoiceRow, ...]) -> PricedWindows:
    cur, days = weighed.tool.costs.currency, weighed.days
    whole = tuple(sum(rates) for rates in weighed.curve)
    choices = tuple(
        Priced(
            float(row.choice.window.day), row.choice.rate, row.letter, row.cheapest,
            _("%(letter)s: %(day)s, %(rate)s a thousand shots")
            % {"letter": row.letter, "day": wording.day(row.first_on), "rate": row.rate},
            f"#choice-{row.letter}",
        )
        for row in rows
    )  # fmt: skip
    best = next(row for row in rows if row.cheapest)
    return PricedWindows(
        days=tuple(float(day) for day in weighed.curve_days),
        whole=whole,
        waiting=tuple(rates[2] for rates in weighed.curve),
        names=(_("in all"), _("of it bad parts")),
        gaps=tuple(
            Gap(float(first), float(min(last, days.horizon)), _("The press leaves it free from %(first)s to %(last)s")
                % {"first": wording.day(days.date(first)), "last": wording.day(days.date(last))})
            for first, last in days.gaps if first <= days.horizon
        ),
        choices=choices,
        marks=tuple((float(day), wording.day(days.date(day))) for day in range(0, days.horizon + 1, 4 * WEEK)),
        prices=tuple(_prices(top_of(whole, choices), cur)),
        title=_("A thousand shots cost, by the day of pulling"),
        text=_("What a thousand shots cost by the day of pulling; least on %(day)s with %(rate)s.")
        % {"day": wording.day(best.first_on), "rate": best.rate},
        width=WIDE,
    )  # fmt: skip


def _prices(top: float, currency: str) -> list[tuple[float, str]]:
    """Return three to six round amounts up to the top of the picture, with their words."""
    unit = 10.0 ** math.floor(math.log10(top))
    step = next(unit * part for part in (0.2, 0.25, 0.5, 1.0, 2.0) if top / (unit * part) <= MOST_PRICES)
    whole_from = 1 if step >= 1 and step == round(step) else 100
    amounts = [step * number for number in range(int(top / step) + 1)]
    return [(amount, costs.money(amount, currency, whole_from=whole_from)) for amount in amounts]


def _table(weighed: Weighed) -> list[tuple[date, str, str, str, str]]:
    cur = weighed.tool.costs.currency
    every = max(len(weighed.curve_days) // (TABLE_ROWS - 1), 1)
    return [
        (
            weighed.days.date(day),
            shots(weighed.days.middle(day)),
            rate(visits + works, cur),
            rate(waiting, cur),
            rate(visits + works + waiting, cur),
        )
        for day, (visits, works, waiting) in list(zip(weighed.curve_days, weighed.curve, strict=True))[::every]
    ]


