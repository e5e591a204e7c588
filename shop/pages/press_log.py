"""Press log: is this tool fit to run, will it last the order; shots in two taps and a number; runs."""

from __future__ import annotations

from typing import Any
from urllib.parse import urlsplit

from django.http import HttpRequest, HttpResponse, HttpResponseRedirect
from django.shortcuts import get_object_or_404
from django.urls import Resolver404, URLPattern, path, resolve, reverse
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.http import require_POST

from shop import loop
from shop.bench.models import WorkOrder
from shop.boards import fit_to_run, press_side
from shop.pages.doors import answer, done, door, person, plant
from shop.pages.typed import Typed
from shop.people import wording
from shop.people.roles import Ability
from shop.press.models import Press, Run, ShotEntry
from shop.press.services import runs
from shop.refusal import Refused, gettext_noop
from shop.tooling.models import Resin, Tool

# Where a question about a counter asks for a number, and the field that it is typed into.
NUMBERS_ASKED = {"offset": "answer.offset", "read_before": "answer.read_before"}
TOOL_PAGES = frozenset({"tool", "press-log-tool", "measure-tool", "damage"})


@door(Ability.READ)
def press_log(request: HttpRequest) -> HttpResponse:
    """Pick the tool, or scan it: its number or the address of a QR code."""
    typed = Typed(request.GET, person(request))
    refused = None
    if scanned := typed.text("tool"):
        found = scanned_tool(scanned, request)
        if found is not None:
            return HttpResponseRedirect(reverse("press-log-tool", args=[found.pk]))
        refused = not_found(scanned)
    context = {"tools": press_side.tools_by_place(plant(request))}
    return answer(request, "press_log/pick.html", context, refused, typed=typed)


def scanned_tool(scanned: str, request: HttpRequest) -> Tool | None:
    """Return the tool that a number or an address from one of our QR codes means."""
    ours = Tool.objects.seen_by(person(request)).alive()
    if "/" not in scanned:
        return ours.filter(number__iexact=scanned).first()
    try:
        match = resolve(urlsplit(scanned).path)
    except Resolver404:
        return None
    key = next(iter(match.kwargs.values()), None)
    if match.url_name in TOOL_PAGES:
        return ours.filter(pk=key).first()
    if match.url_name == "work-order":
        order = WorkOrder.objects.in_plant(plant(request)).filter(pk=key).select_related("tool").first()
        return order.tool if order else None
    return None


def not_found(scanned: str) -> Refused:
    """Return the refusal for a number or an address that means no tool of this plant."""
    return Refused(
        "tool.not_found",
        gettext_noop("No tool “{scanned}” is known here."),
        next_step=gettext_noop("Check the number on the tool, or pick it from the list."),
        field="tool",
        scanned=scanned,
    )


@door(Ability.READ, post=Ability.LOG_SHOTS)
def tool_page(request: HttpRequest, tool_id: int) -> HttpResponse:
    """Show whether the tool may run; take a count of shots."""
    tool = _tool(request, tool_id)
    if request.method != "POST":
        return _show(request, tool, typed=Typed(request.GET, person(request)))
    typed = Typed(request.POST, person(request))
    asked = _shots_asked(typed, tool, request)
    if not typed.ok:
        return _show(request, tool, typed=typed)
    try:
        entry = loop.shots_logged(**asked)
    except Refused as refused:
        return _show(request, tool, refused, typed=typed)
    worked = entry.worked
    words = _("%(made)s taken; the tool stands at %(total)s.") % {
        "made": wording.shots(worked.shots),
        "total": wording.shots(worked.total),
    }
    return done(request, words, "press-log-tool", tool.pk)


def _tool(request: HttpRequest, tool_id: int) -> Tool:
    tools = Tool.objects.seen_by(person(request)).select_related("plant", "customer", "resin")
    tool: Tool = get_object_or_404(tools, pk=tool_id)
    return tool


def _shots_asked(typed: Typed, tool: Tool, request: HttpRequest) -> dict[str, Any]:
    source = typed.choice("source", ShotEntry.Source.values)
    number = typed.quantity("number", "shots", required=True)
    shown = None if number is None else int(number)
    by_hand = source == ShotEntry.Source.HAND
    return {
        "tool": tool,
        "source": source,
        "counter": None if by_hand else shown,
        "count": shown if by_hand else None,
        "blocked": tuple(typed.whole_numbers("blocked")),
        "answers": typed.answered or None,
        "ref": typed.reference(),
        "by": person(request),
        "at": typed.moment("happened_at") or timezone.now(),
    }


def _show(
    request: HttpRequest, tool: Tool, refused: Refused | None = None, *, typed: Typed
) -> HttpResponse:
    side = press_side.press_side(tool)
    order = typed.quantity("order", "shots") if typed.was["order"] else None
    order_shots = int(order) if order is not None else side.left_of_order
    at_fault = refused.field if refused else ""
    if refused and at_fault in NUMBERS_ASKED:
        typed.find_fault(NUMBERS_ASKED[at_fault], wording.say(refused, person(request)))
    context = {
        "tool": tool,
        "side": side,
        "asks_numbers": at_fault in {"counter", *NUMBERS_ASKED} or typed.is_set(NUMBERS_ASKED.values()),
        "fitness": fit_to_run.fit_to_run(tool, order_shots, timezone.now()),
        "order_shots": order_shots,
        "sources": [choice for choice in ShotEntry.Source.choices if choice[0] != ShotEntry.Source.FILE],
        "source": side.last.source if side.last and side.last.source != "file" else ShotEntry.Source.JOB,
        "blocked_now": side.last.blocked if side.last and side.run and side.last.run_id == side.run.pk else [],
        "positions": [(one.number, one.number) for one in side.positions],
        "last_words": _last_words(side.last),
    }
    return answer(request, "press_log/tool.html", context, refused, typed=typed, part="fitness")


def _last_words(last: ShotEntry | None) -> str:
    if last is None:
        return ""
    shown = wording.shots(last.shots) if last.counter is None else last.counter
    return _("Last: %(shown)s on %(at)s.") % {"shown": shown, "at": wording.moment(last.at)}


@door(Ability.LOG_SHOTS)
def run_page(request: HttpRequest, tool_id: int) -> HttpResponse:
    """Start a run: press, order, resin, colour, lot and the sets that run."""
    tool = _tool(request, tool_id)
    typed, refused = Typed(request.POST if request.method == "POST" else request.GET, person(request)), None
    if request.method == "POST":
        asked = _run_asked(typed, tool, request)
        if typed.ok:
            try:
                run = runs.start_run(**asked)
                words = _("The run on %(press)s has begun.") % {"press": run.press}
                return done(request, words, "press-log-tool", tool.pk)
            except Refused as one:
                refused = one
    side = press_side.press_side(tool)
    context = {
        "tool": tool,
        "side": side,
        "presses": [(one.pk, one.name) for one in side.free_presses],
        "resins": Resin.objects.order_by("name").values_list("pk", "name"),
        "sets": [(name, name) for name in side.sets],
    }
    return answer(request, "press_log/run.html", context, refused, typed=typed)


def _run_asked(typed: Typed, tool: Tool, request: HttpRequest) -> dict[str, Any]:
    order = typed.quantity("order_shots", "shots")
    return {
        "tool": tool,
        "press": typed.pick("press", Press.objects.filter(plant=plant(request)), required=True),
        "order_number": typed.text("order_number", most=40),
        "order_shots": None if order is None else int(order),
        "resin": typed.pick("resin", Resin.objects.all()),
        "colour": typed.text("colour", most=40),
        "lot": typed.text("lot", most=40),
        "sets": tuple(typed.many("sets")),
        "ref": typed.reference(),
        "by": person(request),
        "at": timezone.now(),
    }


@door(Ability.LOG_SHOTS)
def end_run(request: HttpRequest, run_id: int) -> HttpResponse:
    """End a run; the tool goes to where it is said to go."""
    run = get_object_or_404(Run.objects.select_related("tool__plant", "press"), pk=run_id, tool__plant=plant(request))
    typed, refused = Typed(request.POST, person(request)), None
    places = [choice for choice in Tool.Place.choices if choice[0] != Tool.Place.IN_PRESS]
    if request.method == "POST":
        place = typed.choice("place", dict(places))
        if typed.ok:
            try:
                runs.end_run(run=run, by=person(request), at=timezone.now(), place=place, ref=typed.reference())
                words = _("The run on %(press)s has ended.") % {"press": run.press}
                return done(request, words, "press-log-tool", run.tool_id)
            except Refused as one:
                refused = one
    context = {"run": run, "tool": run.tool, "places": places}
    return answer(request, "press_log/end_run.html", context, refused, typed=typed)


@door(Ability.LOG_SHOTS)
def correct(request: HttpRequest, entry_id: int) -> HttpResponse:
    """Put an entry right and say why; the old one stays on the record."""
    entry = _entry(request, entry_id)
    typed, refused = Typed(request.POST, person(request)), None
    if request.method == "POST":
        asked = _correction_asked(typed, entry, request)
        if typed.ok:
            try:
                loop.shots_corrected(**asked)
                words = _("Put right; the old entry stays on the record.")
                return done(request, words, "press-log-tool", entry.tool_id)
            except Refused as one:
                refused = one
    return _correct_page(request, entry, typed, refused)


@require_POST
@door(Ability.LOG_SHOTS)
def void(request: HttpRequest, entry_id: int) -> HttpResponse:
    """Take an entry away that should never have been made, and say why; it stays on the record."""
    entry = _entry(request, entry_id)
    typed, refused = Typed(request.POST, person(request)), None
    why = typed.text("void_why", required=True)
    if typed.ok:
        try:
            loop.shots_voided(entry=entry, why=why, by=person(request), at=timezone.now(), ref=typed.reference())
            words = _("Taken away; it stays on the record with the reason. The tool stands at %(total)s.") % {
                "total": wording.shots(press_side.press_side(entry.tool, entries=1).total)
            }
            return done(request, words, "press-log-tool", entry.tool_id)
        except Refused as one:
            refused = one
    return _correct_page(request, entry, typed, refused, taking_away=True)


def _entry(request: HttpRequest, entry_id: int) -> ShotEntry:
    """Return the entry in force; one sent a second time was put right by the first, and is answered like it."""
    entries = ShotEntry.objects.all() if request.method == "POST" else ShotEntry.objects.in_force()
    ours = entries.filter(tool__plant=plant(request)).select_related("tool__plant", "by")
    entry: ShotEntry = get_object_or_404(ours, pk=entry_id)
    return entry


def _correct_page(
    request: HttpRequest, entry: ShotEntry, typed: Typed, refused: Refused | None, *, taking_away: bool = False
) -> HttpResponse:
    context = {
        "entry": entry,
        "tool": entry.tool,
        "taking_away": taking_away,
        "number": entry.counter if entry.counter is not None else entry.shots,
        "positions": [(one.number, one.number) for one in entry.tool.positions.all()],
    }
    return answer(request, "press_log/correct.html", context, refused, typed=typed)


def _correction_asked(typed: Typed, entry: ShotEntry, request: HttpRequest) -> dict[str, Any]:
    number = typed.quantity("number", "shots", required=True)
    counted = None if number is None else int(number)
    is_count = entry.basis == ShotEntry.Basis.COUNT
    return {
        "entry": entry,
        "why": typed.text("why", required=True),
        "counter": None if is_count else counted,
        "count": counted if is_count else None,
        "blocked": tuple(typed.whole_numbers("blocked")),
        "ref": typed.reference(),
        "by": person(request),
        "at": timezone.now(),
    }


urls: list[URLPattern] = [
    path("press-log/", press_log, name="press-log"),
    path("press-log/<int:tool_id>/", tool_page, name="press-log-tool"),
    path("press-log/<int:tool_id>/run/", run_page, name="press-log-run"),
    path("press-log/run/<int:run_id>/end/", end_run, name="press-log-end-run"),
    path("press-log/entry/<int:entry_id>/", correct, name="press-log-correct"),
    path("press-log/entry/<int:entry_id>/void/", void, name="press-log-void"),
]
