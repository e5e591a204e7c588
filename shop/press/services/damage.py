"""Writing damage that somebody saw."""

from __future__ import annotations

from datetime import datetime
from uuid import UUID

from shop.ledger.services import once
from shop.paper.models import StoredFile
from shop.people.models import Person
from shop.press.models import Damage
from shop.refusal import Refused, gettext_noop
from shop.tooling.models import Face, Tool
from shop.tooling.services import tools
from shop.tooling.services.checks import not_in_future


@once("damage", Damage, timed=False)
def report(
    *,
    tool: Tool,
    kind: str,
    by: Person,
    at: datetime,
    face: Face | None = None,
    note: str = "",
    stops_run: bool = False,
    photo: StoredFile | None = None,
    ref: UUID | None = None,  # noqa: ARG001 (`once` reads it)
) -> Damage:
    """Write down harm seen on the tool: where, what, and whether parts are bad now."""
    not_in_future(at, code="damage.in_future")
    if tool.status == Tool.Status.DISPOSED:
        raise tools.disposed(tool)
    if kind not in Damage.Kind.values:
        raise Refused(
            "damage.kind_unknown",
            gettext_noop("{kind} is not a kind of damage that is known here."),
            next_step=gettext_noop("Choose one of the list; what fits none is other, with a note."),
            field="kind",
            kind=kind,
        )
    if kind == Damage.Kind.OTHER and not note.strip():
        raise Refused(
            "damage.note_wanted",
            gettext_noop("Other damage wants a word about what it is."),
            next_step=gettext_noop("Write what you see."),
            field="note",
        )
    if face is not None and face.insert.tool_id != tool.pk:
        raise Refused(
            "damage.face_of_another_tool",
            gettext_noop("Face {face} is not in tool {tool}."),
            next_step=gettext_noop("Pick the face on this tool's picture."),
            field="face",
            face=str(face),
            tool=tool.number,
        )
    return Damage.objects.create(
        tool=tool, face=face, kind=kind, note=note.strip(), stops_run=stops_run, photo=photo, by=by, at=at
    )
