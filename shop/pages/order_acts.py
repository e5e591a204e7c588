"""What may be done to a work order from its page: each act reads its fields and makes one call."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal
from typing import Any, cast

from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from shop import loop
from shop.bench.models import Line, OutsideHouse, Step, Work, WorkOrder
from shop.bench.services import planning, working
from shop.bench.states import AT_WORK, State
from shop.pages.typed import Typed
from shop.people import wording
from shop.people.models import Person, Role
from shop.people.roles import Ability
from shop.quality.models import Inspection
from shop.refusal import Refused, gettext_noop
from shop.tooling.models import Face, HowMade

# What stops work most often, as large ticks.
STOP_KINDS = {
    "pitting": gettext_lazy("Pitting"),
    "orange peel": gettext_lazy("Orange peel"),
    "deeper": gettext_lazy("Deeper than thought"),
    "crack": gettext_lazy("Weld or crack"),
    "medium": gettext_lazy("Medium missing"),
    "other": gettext_lazy("Something else"),
}


class Incomplete(Exception):
    """A field of the form wants another look; the form notes which."""


@dataclass(frozen=True)
class Asked:
    """One act as somebody asked for it."""

    order: WorkOrder
    typed: Typed
    by: Person
    at: datetime

    @property
    def hand(self) -> dict[str, Any]:
        """Return who acts and when."""
        return {"by": self.by, "at": self.at}

    @property
    def answers(self) -> dict[str, str]:
        """Return the answers given to questions."""
        return {code: str(choice) for code, choice in self.typed.answered.items()}

    @property
    def why(self) -> str:
        """Return the reason that was typed."""
        return self.typed.text("why")

    def complete(self) -> None:
        """Go no further while a field is not understood."""
        if not self.typed.ok:
            raise Incomplete

    def line(self) -> Line:
        """Return the line that the form names."""
        lines = Line.objects.filter(order=self.order).select_related("order", "face")
        line: Line | None = self.typed.pick("line", lines)
        if line is None:
            raise Refused("line.unknown", gettext_noop("This line is not on {order}."), order=self.order.number)
        return line


def accept(asked: Asked) -> str:
    planning.accept(order=asked.order, **asked.hand)
    return _("Accepted. Give it to a polisher, or send it out.")


def turn_down(asked: Asked) -> str:
    loop.ended(order=asked.order, why=asked.why, **asked.hand)
    return _("Turned down; the reason is on the record.")


def withdraw(asked: Asked) -> str:
    loop.ended(order=asked.order, why=asked.why, **asked.hand)
    return _("Withdrawn; the reason is on the record.")


def give(asked: Asked) -> str:
    polishers = Person.objects.filter(plant=asked.by.plant, is_active=True, role__in=[Role.POLISHER, Role.LEAD])
    polisher = asked.typed.pick("polisher", polishers, required=True)
    due_on = asked.typed.day("due_on", required=True)
    asked.complete()
    planning.give_to(order=asked.order, polisher=cast(Person, polisher), due_on=due_on, **asked.hand)  # type: ignore[arg-type]
    return _("Given to %(name)s, due %(day)s.") % {"name": polisher, "day": wording.day(due_on)}


def send(asked: Asked) -> str:
    house = asked.typed.pick("house", OutsideHouse.objects.filter(plant=asked.by.plant), required=True)
    due_on = asked.typed.day("due_on", required=True)
    asked.complete()
    planning.send_to(
        order=asked.order,
        outside_house=cast(OutsideHouse, house),
        due_on=due_on,  # type: ignore[arg-type]
        answers=asked.answers,
        **asked.hand,
    )
    return _("Planned for %(house)s, due %(day)s.") % {"house": house, "day": wording.day(due_on)}


def take_back(asked: Asked) -> str:
    planning.take_back(order=asked.order, why=asked.why, **asked.hand)
    return _("Taken back; nobody has it now.")


def add_line(asked: Asked) -> str:
    faces = Face.objects.filter(insert__tool=asked.order.tool_id)
    face = asked.typed.pick("face", faces)
    work = asked.typed.choice("work", Work.values, required=False)
    asked.complete()
    line = loop.line_added(
        order=asked.order,
        face=face,
        job=asked.typed.text("job", most=120),
        work=work,
        answers=asked.answers,
        ref=asked.typed.reference(),
        **asked.hand,
    )
    return _("Added: %(what)s.") % {"what": line.face or line.job_words}


def drop_line(asked: Asked) -> str:
    loop.line_dropped(line=asked.line(), why=asked.why, **asked.hand)
    return _("Dropped; the reason is on the record.")


def set_work(asked: Asked) -> str:
    work = asked.typed.choice("work", Work.values)
    how = asked.typed.choice("how", HowMade.values, required=False)
    asked.complete()
    loop.work_set(line=asked.line(), work=work, how=how, answers=asked.answers, **asked.hand)
    return _("The route is laid anew.")


def start(asked: Asked) -> str:
    order = loop.started(order=asked.order, **asked.hand)
    return _("Sent out.") if order.state == State.SENT_OUT else _("On the bench.")


def step(asked: Asked) -> str:
    steps = Step.objects.filter(line__order=asked.order).select_related("line__order")
    one = asked.typed.pick("step", steps, required=True)
    minutes = asked.typed.integer("minutes")
    asked.complete()
    if cast(Step, one).done_at is not None:
        # The minutes of the first tap are booked; a page that was left open must not book them again.
        return _("Step %(number)s was signed before.") % {"number": cast(Step, one).number}
    working.finish_step(
        step=cast(Step, one),
        minutes=minutes,
        note=asked.typed.text("note"),
        ref=asked.typed.reference(),
        **asked.hand,
    )
    return _("Step %(number)s is signed.") % {"number": cast(Step, one).number}


def book(asked: Asked) -> str:
    minutes = asked.typed.integer("minutes", required=True)
    asked.complete()
    working.book(
        line=asked.line(),
        minutes=cast(int, minutes),
        note=asked.typed.text("note"),
        ref=asked.typed.reference(),
        **asked.hand,
    )
    return _("%(minutes)s min booked.") % {"minutes": minutes}


def stop(asked: Asked) -> str:
    kind, words = asked.typed.choice("stop_kind", STOP_KINDS, required=False), asked.why
    asked.complete()
    kind = str(STOP_KINDS[kind]) if kind else ""
    working.stop(order=asked.order, why=". ".join(part for part in (kind, words) if part), **asked.hand)
    return _("Stopped. The lead sees it on the bench page.")


def resume(asked: Asked) -> str:
    loop.resumed(order=asked.order, **asked.hand)
    return _("On with it.")


def send_out(asked: Asked) -> str:
    working.send_out(order=asked.order, **asked.hand)
    return _("Sent out.")


def come_back(asked: Asked) -> str:
    loop.came_back(order=asked.order, **asked.hand)
    return _("Back in the shop; the steel is checked next.")


def back_to_bench(asked: Asked) -> str:
    loop.came_back(order=asked.order, to_bench=True, **asked.hand)
    return _("Back on the bench.")


def hand_over(asked: Asked) -> str:
    loop.handed_over(order=asked.order, answers=asked.answers, **asked.hand)
    return _("Handed over to the steel check.")


def pass_steel(asked: Asked) -> str:
    taken = _steel_taken(asked)
    asked.complete()
    loop.steel_passed(order=asked.order, inspection=_inspection(asked), why=asked.why, steel_um=taken, **asked.hand)
    return _("The steel has passed. First-offs may be run; the parts are checked next.")


def fail_steel(asked: Asked) -> str:
    loop.steel_failed(order=asked.order, inspection=_inspection(asked), why=asked.why, **asked.hand)
    return _("Back to the work; the reason is on the record.")


def pass_parts(asked: Asked) -> str:
    loop.parts_passed(order=asked.order, inspection=_inspection(asked), why=asked.why, **asked.hand)
    return _("The parts have passed. Another person than the polisher releases.")


def fail_parts(asked: Asked) -> str:
    loop.parts_failed(order=asked.order, inspection=_inspection(asked), why=asked.why, **asked.hand)
    return _("Back to the work; the reason is on the record.")


def buy_off(asked: Asked) -> str:
    passed = asked.typed.text("passed") != "no"
    signed_for = asked.typed.text("signed_for", required=True, most=120)
    asked.complete()
    loop.bought_off(order=asked.order, signed_for=signed_for, passed=passed, why=asked.why, **asked.hand)
    return _("The customer's signature is entered.")


def release(asked: Asked) -> str:
    loop.released(order=asked.order, override_why=asked.typed.text("override_why"), **asked.hand)
    return _("Released. The tool may run.")


def _inspection(asked: Asked) -> Inspection | None:
    return asked.typed.pick("inspection", Inspection.objects.filter(tool=asked.order.tool_id))


def _steel_taken(asked: Asked) -> dict[int, Decimal]:
    """Return by line what was really taken, where somebody typed it."""
    taken = {}
    for line in asked.order.lines.open().changing_finish():
        depth_um = asked.typed.quantity(f"steel-{line.pk}", "um")
        if depth_um is not None:
            taken[line.pk] = depth_um
    return taken


@dataclass(frozen=True)
class Act:
    """One act: how it is done, the ability it takes, the states in which it was done already.

    `shown` is the name under which the page offers its form, where that is another than its own.
    """

    do: Callable[[Asked], str]
    ability: Ability
    done_in: tuple[State, ...] = ()
    shown: str = ""


ACTS: dict[str, Act] = {
    "accept": Act(accept, Ability.PLAN_BENCH, (State.ACCEPTED,)),
    "turn_down": Act(turn_down, Ability.PLAN_BENCH, (State.TURNED_DOWN,)),
    "withdraw": Act(withdraw, Ability.PLAN_BENCH, (State.WITHDRAWN,)),
    "give": Act(give, Ability.PLAN_BENCH),
    "send": Act(send, Ability.PLAN_BENCH, shown="give"),
    "take_back": Act(take_back, Ability.PLAN_BENCH, (State.ACCEPTED,)),
    "add_line": Act(add_line, Ability.PLAN_BENCH),
    "drop_line": Act(drop_line, Ability.PLAN_BENCH),
    "set_work": Act(set_work, Ability.PLAN_BENCH),
    "start": Act(start, Ability.BENCH_WORK, (State.ON_THE_BENCH, State.SENT_OUT)),
    "step": Act(step, Ability.BENCH_WORK),
    "book": Act(book, Ability.BENCH_WORK),
    "stop": Act(stop, Ability.BENCH_WORK, (State.STOPPED,)),
    "resume": Act(resume, Ability.BENCH_WORK, (State.ON_THE_BENCH, State.SENT_OUT)),
    "send_out": Act(send_out, Ability.BENCH_WORK, (State.SENT_OUT,)),
    "come_back": Act(come_back, Ability.BENCH_WORK, (State.STEEL_CHECK,)),
    "back_to_bench": Act(back_to_bench, Ability.BENCH_WORK, (State.ON_THE_BENCH,)),
    "hand_over": Act(hand_over, Ability.BENCH_WORK, (State.STEEL_CHECK,)),
    "pass_steel": Act(pass_steel, Ability.JUDGE_RELEASE, (State.PARTS_CHECK,), "sign_steel"),
    "fail_steel": Act(fail_steel, Ability.JUDGE_RELEASE, AT_WORK, "sign_steel"),
    "pass_parts": Act(pass_parts, Ability.JUDGE_RELEASE, shown="sign_parts"),
    "fail_parts": Act(fail_parts, Ability.JUDGE_RELEASE, AT_WORK),
    "buy_off": Act(buy_off, Ability.JUDGE_RELEASE),
    "release": Act(release, Ability.RELEASE, (State.RELEASED,)),
}
