"""The figures of a choice in words: each sum with its terms, and where each term is from."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from decimal import Decimal

from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from shop.bench.models import OutsidePrice
from shop.boards import costs
from shop.boards.pull_choices.doings import Candidate
from shop.boards.pull_choices.lives import about
from shop.boards.pull_choices.weighed import Weighed
from shop.craft.visits import Choice
from shop.people import wording
from shop.units import Quantity


@dataclass(frozen=True)
class Term:
    """One line of a sum: what, how it comes about, the amount in words, and where it is from."""

    what: str
    how: str
    amount: str
    origin: str


@dataclass(frozen=True)
class Group:
    """One figure with the sum behind it."""

    title: str
    whole: str
    terms: tuple[Term, ...]


def groups_of(weighed: Weighed, choice: Choice) -> tuple[Group, ...]:
    """Return the sums behind a choice: the visit, the waiting, the life that it gives, and a thousand shots."""
    cur = weighed.tool.costs.currency
    parts = [weighed.works[key, doing.work] for key, doing in choice.works]
    return (
        Group(_("The visit"), costs.money(choice.paid.whole, cur), tuple(_visit(weighed, choice, parts))),
        Group(_("Waiting until then"), costs.money(choice.waiting, cur), tuple(_waiting(weighed, choice))),
        Group(_("The life it gives"), shots(choice.next_shots), tuple(_lives(choice, parts))),
        Group(_("A thousand shots"), rate(choice.rate, cur), tuple(_rate(weighed, choice))),
    )


def shots(count: float) -> str:
    """Return a count of shots to the two digits that it is known to."""
    return wording.show(about(count))


def rate(amount: float, currency: str) -> str:
    """Return what a thousand shots cost: small differences matter there."""
    return costs.money(amount, currency, whole_from=100)


def percent(chance: float) -> str:
    """Return a chance in per cent; a very small one is less than one."""
    if 0 < chance < 0.01:
        return _("under 1 %")
    return wording.show(Quantity(Decimal(round(chance * 100)), "percent"))


def in_hours(value: float) -> str:
    """Return hours to a tenth."""
    return _("%(n)s h") % {"n": wording.number(Decimal(str(round(value, 1))))}


def origin_of(weighed: Weighed) -> str:
    """Return whether the plant's costs are its own or seeds."""
    return _("the plant's own") if weighed.tool.costs.pk else _("seed, no source")


def _visit(weighed: Weighed, choice: Choice, parts: Sequence[Candidate]) -> Iterator[Term]:
    tool, paid, origin = weighed.tool.costs, choice.paid, origin_of(weighed)

    def money(amount: float | Decimal) -> str:
        return costs.money(amount, tool.currency)

    strip = {"hours": in_hours(float(tool.strip_hours)), "rate": money(tool.bench_hour)}
    yield Term(_("Strip-down, once"), _("%(hours)s × %(rate)s") % strip, money(paid.strip), origin)
    bench = _("%(each)s = %(hours)s × %(rate)s") % {
        "each": " + ".join(_minutes(part) for part in parts),
        "hours": in_hours(choice.hours),
        "rate": money(tool.bench_hour),
    }
    sure = all(part.area_known for part in parts)
    by = _("routes, by seeds of new work") if sure else _("seed, no source: the area of a face is not known")
    yield Term(_("Bench"), bench, money(paid.bench), f"{by}; {origin}")
    outside = [part for part in parts if part.outside]
    if outside:
        yield Term(_("Outside"), _outside(outside, tool.currency), money(paid.outside), _price_origin(outside))
    down = _("%(hours)s × %(rate)s") % {"hours": in_hours(float(tool.change_hours)), "rate": money(tool.press_hour)}
    if paid.downtime == 0:
        down = ngettext(
            "none: the press leaves it free for %(n)s day", "none: the press leaves it free for %(n)s days",
            choice.window.gap_days,
        ) % {"n": choice.window.gap_days}  # fmt: skip
    waits = origin if paid.downtime else _("the tool's calendar")
    yield Term(_("The press waits"), down, money(paid.downtime), waits)
    um = wording.show(Quantity(sum((part.steel_um for part in parts), Decimal(0)), "um"))
    how = _("%(um)s in all, %(rate)s a µm") % {"um": um, "rate": money(tool.steel_um)}
    yield Term(_("Steel"), how, money(paid.steel), f"{_('routes')}; {origin}")


def _minutes(part: Candidate) -> str:
    return wording.show(Quantity(Decimal(round(part.doing.minutes)), "min"))


def _outside(parts: Sequence[Candidate], currency: str) -> str:
    """Return what each house asks: for its visit once, and for each face."""
    priced: dict[OutsidePrice, int] = Counter(part.price for part in parts if part.price is not None)
    if not priced:
        return _("no price is known: the sum is without it")
    template = _("%(house)s, %(work)s: %(visit)s + %(n)d × %(face)s")
    return "; ".join(
        template
        % {
            "house": price.house.name,
            "work": price.get_work_display(),
            "visit": costs.money(price.a_visit, currency),
            "n": count,
            "face": costs.money(price.a_face, currency),
        }
        for price, count in priced.items()
    )


def _price_origin(parts: Sequence[Candidate]) -> str:
    return _("the houses' prices") if all(part.price for part in parts) else _("a price is missing")


def _waiting(weighed: Weighed, choice: Choice) -> Iterator[Term]:
    cur = weighed.tool.costs.currency
    own = weighed.tool.part_cost is not None
    yield Term(
        _("Chance that a part is bad before it"),
        _("after %(shots)s more") % {"shots": shots(choice.shots)},
        percent(choice.chance),
        _("forecasts of the faces and the tool's calendar"),
    )
    bad = wording.number(Decimal(str(round(choice.bad_parts, 1 if choice.bad_parts < 10 else 0))))
    yield Term(
        _("Bad parts to be expected"),
        _("%(bad)s parts × %(cost)s") % {"bad": bad, "cost": costs.money(weighed.tool.bad_part, cur)},
        costs.money(choice.waiting, cur),
        _("set for this tool") if own else _("mean of all tools, %(origin)s") % {"origin": origin_of(weighed)},
    )


def _lives(choice: Choice, parts: Sequence[Candidate]) -> Iterator[Term]:
    for part in parts:
        yield Term(str(part.facts.face), part.label, shots(part.gain.law.median), wording.say(part.gain.why))
    how = _("until another visit is cheapest, before half of the faces are at their limit")
    yield Term(_("Used until the next visit"), how, shots(choice.next_shots), _("reckoned"))


def _rate(weighed: Weighed, choice: Choice) -> Iterator[Term]:
    cur = weighed.tool.costs.currency
    cycle = {"until": shots(choice.shots), "after": shots(choice.next_shots)}
    visit = _("the visit over %(until)s + %(after)s") % cycle
    reckoned = _("reckoned")
    yield Term(_("For the visit"), visit, rate(choice.visits_rate, cur), reckoned)
    over = _("each face's work over its own cycle, also of those that stay")
    yield Term(_("For the works"), over, rate(choice.works_rate, cur), reckoned)
    bad = _("bad parts before the visit and in the lives that follow")
    yield Term(_("For bad parts"), bad, rate(choice.waiting_rate, cur), reckoned)
