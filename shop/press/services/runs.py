"""Writing runs: a tool goes into a press, and comes out of it."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from datetime import datetime
from uuid import UUID

from django.db import transaction

from shop.ledger.services import once, record_change
from shop.people.models import Person
from shop.press.models import Press, Run
from shop.refusal import Refused, gettext_noop
from shop.tooling.models import Resin, Tool
from shop.tooling.services import tools
from shop.tooling.services.checks import not_in_future


@once("run begun", Run, timed=False)
def start_run(
    *,
    tool: Tool,
    press: Press,
    by: Person,
    at: datetime,
    order_number: str = "",
    order_shots: int | None = None,
    resin: Resin | None = None,
    colour: str = "",
    lot: str = "",
    sets: Sequence[str] = (),
    ref: UUID | None = None,  # noqa: ARG001 (`once` reads it)
) -> Run:
    """Put the tool into the press and begin a run; an empty `sets` runs all of them."""
    not_in_future(at, code="run.in_future")
    held = Tool.objects.select_for_update().get(pk=tool.pk)
    Press.objects.select_for_update().get(pk=press.pk)
    if held.status == Tool.Status.DISPOSED:
        raise tools.disposed(held)
    check_press(held, press)
    _check_free(held, press)
    _check_after_others(held, press, at)
    check_sets(held, sets)
    run = Run.objects.create(
        tool=held,
        press=press,
        order_number=order_number.strip(),
        order_shots=order_shots,
        resin=resin or held.resin,
        colour=colour,
        lot=lot,
        sets=sorted(set(sets)),
        began_at=at,
    )
    record_change(run, "began_at", None, at, by=by, at=at)
    tools.move_tool(tool=tool, place=Tool.Place.IN_PRESS, by=by, at=at, why=press.name)
    return run


@once("run ended", Run, timed=False)
def end_run(
    *,
    run: Run,
    by: Person,
    at: datetime,
    place: str = Tool.Place.RACK,
    ref: UUID | None = None,  # noqa: ARG001 (`once` reads it)
) -> Run:
    """End the run; the tool comes out of the press and goes to `place`."""
    not_in_future(at, code="run.in_future")
    held = Run.objects.select_for_update(of=("self",)).select_related("tool").get(pk=run.pk)
    if held.ended_at is not None:
        raise Refused(
            "run.ended_before",
            gettext_noop("This run of tool {tool} ended at {ended_at}."),
            next_step=gettext_noop("Load the page again."),
            tool=held.tool.number,
            ended_at=held.ended_at,
        )
    if at <= held.began_at:
        raise Refused(
            "run.ends_before_it_began",
            gettext_noop("This run of tool {tool} began at {began_at} and cannot end at {at}."),
            next_step=gettext_noop("Give a time after {began_at}."),
            field="at",
            tool=held.tool.number,
            began_at=held.began_at,
            at=at,
        )
    record_change(held, "ended_at", None, at, by=by, at=at)
    held.ended_at = run.ended_at = at
    held.save(update_fields=["ended_at"])
    tools.move_tool(tool=held.tool, place=place, by=by, at=at)
    return run


@transaction.atomic
def pull(*, tool: Tool, place: str, by: Person, at: datetime, why: str = "") -> Tool:
    """Take the tool to `place`, and end its run if it is in a press."""
    run = Run.objects.running().filter(tool=tool).first()
    if run is not None:
        end_run(run=run, by=by, at=at, place=place)
        tool.refresh_from_db(fields=["place"])
        return tool
    return tools.move_tool(tool=tool, place=place, by=by, at=at, why=why)


def check_press(tool: Tool, press: Press) -> None:
    """Refuse a press that stands in another plant than the tool's."""
    if press.plant_id != tool.plant_id:
        raise Refused(
            "run.press_of_another_plant",
            gettext_noop("Press {press} stands in another plant than tool {tool}."),
            next_step=gettext_noop("Choose a press of this plant."),
            field="press",
            press=press.name,
            tool=tool.number,
        )


def check_sets(tool: Tool, sets: Collection[str]) -> None:
    """Refuse a set that the tool does not have."""
    if not sets:
        return
    known = set(tool.positions.exclude(in_set="").values_list("in_set", flat=True))
    unknown = sorted(set(sets) - known)
    if unknown:
        raise Refused(
            "run.set_unknown",
            gettext_noop("Tool {tool} has no set {unknown}; its sets are {known}."),
            next_step=gettext_noop("Choose among its sets, or none for all of them."),
            field="sets",
            tool=tool.number,
            unknown=unknown[0],
            known=", ".join(sorted(known)) or "-",
        )


def _check_free(tool: Tool, press: Press) -> None:
    for run in Run.objects.running().select_related("tool", "press").filter(tool=tool):
        raise Refused(
            "run.tool_already_runs",
            gettext_noop("Tool {tool} is in press {press} since {began_at}."),
            next_step=gettext_noop("End that run first."),
            field="tool",
            tool=tool.number,
            press=run.press.name,
            began_at=run.began_at,
        )
    for run in Run.objects.running().select_related("tool", "press").filter(press=press):
        raise Refused(
            "run.press_taken",
            gettext_noop("Press {press} holds tool {tool} since {began_at}."),
            next_step=gettext_noop("End that run first, or choose another press."),
            field="press",
            press=press.name,
            tool=run.tool.number,
            began_at=run.began_at,
        )


def _check_after_others(tool: Tool, press: Press, at: datetime) -> None:
    ended = Run.objects.filter(tool=tool, ended_at__gt=at) | Run.objects.filter(press=press, ended_at__gt=at)
    last = ended.order_by("-ended_at").select_related("tool", "press").first()
    if last is not None:
        raise Refused(
            "run.before_last_ended",
            gettext_noop("Tool {tool} came out of press {press} at {ended_at}; a run cannot begin at {at}."),
            next_step=gettext_noop("Give a time from {ended_at} on."),
            field="at",
            tool=last.tool.number,
            press=last.press.name,
            ended_at=last.ended_at,
            at=at,
        )
