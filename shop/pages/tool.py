"""Tool: inserts and faces on a picture, finish bars, shots, steel left, history; and moving the tool or an insert."""

from __future__ import annotations

from typing import Any

from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404
from django.urls import URLPattern, path
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.http import require_POST

from shop import loop
from shop.boards import matches
from shop.boards.face_card import face_card
from shop.boards.fit_to_run import Answer, fit_to_run
from shop.boards.tool_card import InsertRow, ToolCard, tool_card
from shop.pages.doors import answer, done, door, person, plant
from shop.pages.typed import Typed
from shop.people import wording
from shop.people.roles import Ability
from shop.refusal import Refused
from shop.tooling.models import Face, Insert, Position, Tool
from shop.tooling.services import tools

SPARE = "spare"


@door(Ability.READ)
def tool(request: HttpRequest, pk: int) -> HttpResponse:
    """Show one tool, with the insert and the face that the address names."""
    asked = Typed(request.GET)
    return _page(request, pk, asked.integer("insert"), asked.integer("face"), trend=asked.integer("trend"))


@require_POST
@door(Ability.MOVE_TOOL)
def move(request: HttpRequest, pk: int) -> HttpResponse:
    """Say where the tool is now."""
    typed, refused = Typed(request.POST, person(request)), None
    one = get_object_or_404(Tool.objects.seen_by(person(request)), pk=pk)
    place, why = typed.choice("place", Tool.Place.values), typed.text("why", most=500)
    if typed.ok:
        try:
            tools.move_tool(tool=one, place=place, by=person(request), at=timezone.now(), why=why)
            said = _("%(tool)s is now: %(place)s.") % {"tool": one.number, "place": Tool.Place(place).label}
            return done(request, said, "tool", pk)
        except Refused as said_no:
            refused = said_no
    return _page(request, pk, None, None, typed=typed, refused=refused)


@require_POST
@door(Ability.MOVE_TOOL)
def move_insert(request: HttpRequest, pk: int, insert_id: int) -> HttpResponse:
    """Fit an insert into a position, or take it out as a spare."""
    typed, refused = Typed(request.POST, person(request)), None
    mine = Insert.objects.filter(tool__in=Tool.objects.seen_by(person(request)), tool=pk).select_related("tool")
    insert: Insert = get_object_or_404(mine, pk=insert_id)
    to, why = typed.text("position", required=True), typed.text("insert_why", most=500)
    if typed.ok:
        try:
            said = _move_insert(typed, insert, to, {"by": person(request), "at": timezone.now(), "why": why})
            if said:
                return done(request, said, "tool", pk, anchor="inserts")
        except Refused as said_no:
            refused = said_no
    return _page(request, pk, insert_id, None, typed=typed, refused=refused)


def _move_insert(typed: Typed, insert: Insert, to: str, who: dict[str, Any]) -> str:
    if to == SPARE:
        loop.insert_taken_out(insert=insert, **who)
        return _("Insert %(insert)s is a spare now.") % {"insert": insert.number}
    number, _dash, slot = to.partition("-")
    position = Position.objects.filter(tool=insert.tool, number=number).first() if number.isdigit() else None
    if position is None:
        typed.find_fault("position", _("“%(typed)s” is not one of the choices.") % {"typed": to})
        return ""
    loop.insert_moved(insert=insert, position=position, slot=int(slot) if slot.isdigit() else 1, **who)
    return _("Insert %(insert)s sits in position %(n)d now; its faces, shots and steel went with it.") % {
        "insert": insert.number,
        "n": position.number,
    }


@require_POST
@door(Ability.SPECIFY)
def interval(request: HttpRequest, face_id: int) -> HttpResponse:
    """Plan how many shots a finish is to run before it is made again; empty plans none."""
    typed, refused = Typed(request.POST, person(request)), None
    faces = Face.objects.filter(insert__tool__in=Tool.objects.seen_by(person(request))).select_related("insert__tool")
    one: Face = get_object_or_404(faces, pk=face_id)
    shots, why = typed.integer("shots"), typed.text("interval_why", required=True, most=500)
    if typed.ok:
        try:
            planned = {"shots": shots, "why": why, "ref": typed.reference()}
            loop.interval_planned(face=one, by=person(request), at=timezone.now(), **planned)
            said = (
                _("No interval is planned for %(face)s any more.")
                if shots is None
                else _("%(face)s is to be made again every %(shots)s.")
            )
            said %= {"face": one, "shots": wording.shots(shots)}
            return done(request, said, "tool", one.insert.tool_id, query=f"face={one.pk}", anchor="face")
        except Refused as said_no:
            refused = said_no
    return _page(request, one.insert.tool_id, one.insert_id, one.pk, typed=typed, refused=refused)


def _page(
    request: HttpRequest,
    pk: int,
    insert: int | None,
    face: int | None,
    *,
    trend: int | None = None,
    typed: Typed | None = None,
    refused: Refused | None = None,
) -> HttpResponse:
    at = timezone.now()
    card = tool_card(pk, plant(request), at, insert, face)
    if card is None:
        raise Http404
    chosen = _face(card, face)
    context: dict[str, Any] = {
        "card": card,
        "tool": card.tool,
        "row": card.row,
        "deciding": () if card.row.may_run == Answer.YES else fit_to_run(card.tool, None, at).deciding,
        "face": face_card(chosen, person(request), at, trend) if chosen else None,
        "places": Tool.Place.choices,
        "positions": _positions(card, card.chosen) if card.chosen else [],
        "matches": matches.of_tool(card.tool),
    }
    return answer(request, "tool/tool.html", context, refused, typed=typed, part="face")


def _face(card: ToolCard, face_id: int | None) -> Face | None:
    """Return the face asked for, else the one of the insert that asks for attention first."""
    for row in card.faces:
        if row.face.pk == face_id:
            return row.face
    if card.chosen and card.chosen.worst:
        return next((row.face for row in card.faces if row.face.pk == card.chosen.worst.face_id), None)
    return card.faces[0].face if card.faces else None


def _positions(card: ToolCard, chosen: InsertRow) -> list[tuple[str, str]]:
    """Return where the insert may go: each position with what of its kind sits there now, and the shelf."""
    kind = chosen.insert.kind
    sits = {row.position.number: row.insert.number for row in card.fitted if row.position and row.insert.kind == kind}
    choices = []
    for position in card.tool.positions.all():
        inside = sits.get(position.number)
        words = (
            _("%(n)d, in place of %(insert)s") % {"n": position.number, "insert": inside}
            if inside
            else str(position.number)
        )
        if inside != chosen.insert.number:
            choices.append((str(position.number), words))
    return [*choices, (SPARE, _("out, as a spare"))] if chosen.position else choices


urls: list[URLPattern] = [
    path("tools/<int:pk>/", tool, name="tool"),
    path("tools/<int:pk>/move/", move, name="tool-move"),
    path("faces/<int:face_id>/interval/", interval, name="face-interval"),
    path("tools/<int:pk>/inserts/<int:insert_id>/move/", move_insert, name="tool-insert-move"),
]
