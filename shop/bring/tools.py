"""tools.csv: rows gathered into tools, inserts and faces, and checked against what is there."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from datetime import datetime
from typing import Any
from uuid import UUID

from shop.bring.receipts import Known, content_of, known_among, ref_of
from shop.bring.sheet import Bad, Row, bad_row
from shop.people.models import Plant
from shop.refusal import gettext_noop
from shop.tooling.models import Customer, Face, Insert, Plaque, Resin, Tool

TOOL = ("title", "customer", "part", "part revision", "class", "owner", "place", "usual resin")
INSERT = ("position", "set", "kind", "slot", "steel", "hardness", "coating", "spare")
FACE = (
    "zone of",
    "area",
    "draft",
    "steel to give",
    "map",
    "spots",
    "how made",
    "scale",
    "code",
    "plaque",
    "pattern depth",
    "micro-matt",
    "edition",
    "rule",
    "acceptance",
    "made at",
    "interval",
)
LIMIT = (
    "parameter",
    "where",
    "spot",
    "lower",
    "upper",
    "unit",
    "angle",
    "cut-off",
    "every shots",
    "every days",
    "values wanted",
)


@dataclass
class Thing:
    """A tool, an insert or a face as the file tells it: its rows, its values, what stands under it."""

    key: tuple[str, ...]
    ref: UUID
    rows: list[Row] = field(default_factory=list)
    values: dict[str, Any] = field(default_factory=dict)
    limits: list[dict[str, Any]] = field(default_factory=list)
    under: dict[str, Thing] = field(default_factory=dict)
    known: Known | None = None

    @property
    def content(self) -> str:
        """Return the hash of what the file says of this thing itself."""
        return content_of({"values": self.values, "limits": self.limits})

    def began_at(self) -> datetime | None:
        """Return the earliest time at which a finish under this thing was made."""
        times = [self.values.get("made at"), *(thing.began_at() for thing in self.under.values())]
        return min((time for time in times if time is not None), default=None)


@dataclass
class Asked:
    """The tools of a file, the rows known already, and the faults found."""

    tools: dict[str, Thing] = field(default_factory=dict)
    bad: list[Bad] = field(default_factory=list)
    known: int = 0

    def all_things(self) -> Iterable[Thing]:
        """Yield tools, then their inserts, then their faces."""
        for tool in self.tools.values():
            yield tool
            for insert in tool.under.values():
                yield insert
                yield from insert.under.values()

    def faces(self) -> Iterable[Thing]:
        """Yield the faces."""
        return (thing for thing in self.all_things() if len(thing.key) == 3)


def gather(rows: Sequence[Row], plant: Plant) -> Asked:
    """Return the rows gathered by tool, insert and face; rows that contradict an earlier one are faults."""
    asked = Asked()
    for row in rows:
        tool = _thing(asked.tools, plant, (row["tool"],))
        insert = _thing(tool.under, plant, (*tool.key, row["insert"]))
        levels: list[tuple[Thing, tuple[str, ...]]] = [(tool, TOOL), (insert, INSERT)]
        if row["face"]:
            face = _thing(insert.under, plant, (*insert.key, row["face"]))
            levels.append((face, FACE))
        elif row["parameter"]:
            asked.bad.append(bad_row(row, "face", "bring.limit_without_face", gettext_noop("a limit needs a face")))
        for thing, names in levels:
            asked.bad.extend(_merge(thing, row, names))
        if row["face"] and row["parameter"]:
            face.limits.append({name: row[name] for name in LIMIT if row[name] is not None})
    return asked


def _thing(among: dict[str, Thing], plant: Plant, key: tuple[str, ...]) -> Thing:
    name = key[-1]
    if name not in among:
        among[name] = Thing(key, ref_of(plant, ("tool", "insert", "face")[len(key) - 1], *key))
    return among[name]


def _merge(thing: Thing, row: Row, names: Iterable[str]) -> Iterable[Bad]:
    thing.rows.append(row)
    for name in names:
        value = row[name]
        if value is None:
            continue
        had = thing.values.setdefault(name, value)
        if had != value:
            yield bad_row(
                row,
                name,
                "bring.contradicts",
                gettext_noop("is not what an earlier row says of {thing}: {had}"),
                thing=" ".join(thing.key),
                had=str(had),
            )


def check(asked: Asked, plant: Plant, *, new_names: bool) -> None:
    """Look for what cannot be taken, beside what is there and what is known; faults go to `asked.bad`."""
    known = known_among(thing.ref for thing in asked.all_things())
    for thing in asked.all_things():
        thing.known = known.get(thing.ref)
    there = There(plant, asked, new_names)
    for thing in asked.all_things():
        asked.bad.extend(there.faults(thing))
    asked.known = sum(len(face.rows) for face in asked.faces() if face.known)


class There:
    """What the plant has already of what a file names."""

    def __init__(self, plant: Plant, asked: Asked, new_names: bool) -> None:
        """Fetch once what every row is held against."""
        numbers = list(asked.tools)
        self.new_names = new_names
        tools = Tool.objects.in_plant(plant).filter(number__in=numbers).select_related("customer")
        self.tools: dict[str, Tool] = {tool.number: tool for tool in tools}
        inserts = Insert.objects.filter(tool__in=self.tools.values()).select_related("tool")
        self.inserts: dict[tuple[str, str], Insert] = {(one.tool.number, one.number): one for one in inserts}
        faces = Face.objects.filter(insert__tool__in=self.tools.values())
        self.faces = set(faces.values_list("insert__tool__number", "insert__number", "name"))
        self.customers = set(Customer.objects.values_list("name", flat=True))
        self.resins = set(Resin.objects.values_list("name", flat=True))
        self.plaques = set(Plaque.objects.filter(plant=plant).values_list("number", flat=True))

    def faults(self, thing: Thing) -> Iterable[Bad]:
        """Yield what is wrong with the thing."""
        if thing.known is None or thing.known.content_sha256 != thing.content:
            yield from (self._tool, self._insert, self._face)[len(thing.key) - 1](thing, thing.rows[0])

    def _tool(self, thing: Thing, row: Row) -> Iterable[Bad]:
        there = self.tools.get(thing.key[0])
        if there is not None:
            yield from _differences(thing, row, _said_of_tool(there))
            return
        for name in ("title", "customer"):
            if not thing.values.get(name):
                yield bad_row(row, name, "bring.empty", gettext_noop("must be given"))
        yield from self._names(thing, row, {"customer": self.customers, "usual resin": self.resins})

    def _insert(self, thing: Thing, row: Row) -> Iterable[Bad]:
        there = self.inserts.get((thing.key[0], thing.key[1]))
        if there is not None:
            yield from _differences(thing, row, _said_of_insert(there))
            return
        if not thing.values.get("steel"):
            yield bad_row(row, "steel", "bring.empty", gettext_noop("must be given"))
        if bool(thing.values.get("position")) == bool(thing.values.get("spare")):
            yield bad_row(
                row, "position", "bring.position_or_spare", gettext_noop("give either a position or spare=yes")
            )
        if thing.began_at() is None:
            yield bad_row(
                row, "made at", "bring.no_beginning", gettext_noop("no face of the insert says when it was made")
            )

    def _face(self, thing: Thing, row: Row) -> Iterable[Bad]:
        if thing.key in self.faces:
            code, template = ("bring.other_content", _OTHER) if thing.known else ("bring.face_is_there", _FACE_THERE)
            yield bad_row(row, "face", code, template)
            return
        for name in ("how made", "scale", "made at"):
            if not thing.values.get(name):
                yield bad_row(row, name, "bring.empty", gettext_noop("must be given"))
        yield from self._names(thing, row, {"plaque": self.plaques})
        spots = {spot[0] for spot in thing.values.get("spots", ())}
        for one in thing.rows:
            yield from _limit_faults(one, spots)

    def _names(self, thing: Thing, row: Row, lists: dict[str, set[str]]) -> Iterable[Bad]:
        for name, there in lists.items():
            value = thing.values.get(name)
            if value and value not in there and not self.new_names:
                yield bad_row(row, name, "bring.not_known", NOT_KNOWN)


def _limit_faults(row: Row, spots: set[str]) -> Iterable[Bad]:
    if not row["parameter"]:
        return
    if row["where"] is None:
        yield bad_row(row, "where", "bring.empty", gettext_noop("must be given"))
    if row["lower"] is None and row["upper"] is None:
        yield bad_row(row, "upper", "bring.no_side", gettext_noop("a limit needs an upper or a lower value"))
    if row["lower"] is not None and row["upper"] is not None and row["lower"] >= row["upper"]:
        yield bad_row(row, "lower", "bring.sides", gettext_noop("is not below the upper limit"))
    if row["spot"] and row["spot"] not in spots:
        yield bad_row(row, "spot", "bring.no_such_spot", gettext_noop("is not among the spots of the face"))
    if row["parameter"] == "gloss" and (row["angle"] not in (20, 60, 85) or row["where"] != "part"):
        yield bad_row(
            row, "angle", "bring.gloss", gettext_noop("gloss is limited on the part, at 20, 60 or 85 degrees")
        )


def _said_of_tool(tool: Tool) -> dict[str, Any]:
    return {"title": tool.title, "customer": tool.customer.name, "part": tool.part_number, "class": tool.mould_class}


def _said_of_insert(insert: Insert) -> dict[str, Any]:
    return {"kind": insert.kind, "steel": insert.steel, "coating": insert.coating}


def _differences(thing: Thing, row: Row, there: dict[str, Any]) -> Iterable[Bad]:
    """Yield what the file says otherwise than what is there."""
    for name, had in there.items():
        if thing.values.get(name, had) != had:
            yield bad_row(
                row,
                name,
                "bring.is_there",
                gettext_noop("{thing} is there with {had}"),
                thing=" ".join(thing.key),
                had=had,
            )


_OTHER = gettext_noop(
    "the face was brought before with other values; revise its finish on the Tool page, with a reason"
)
_FACE_THERE = gettext_noop("the face is there already; revise its finish on the Tool page, with a reason")
NOT_KNOWN = gettext_noop("is not known here; correct it, or give --new-names to add it")


def without_bad(asked: Asked) -> Asked:
    """Return what can be taken of it: without the things whose rows are at fault, and all that stands under them."""
    lines = {fault.line for fault in asked.bad}

    def good(things: dict[str, Thing]) -> dict[str, Thing]:
        kept = {}
        for name, thing in things.items():
            first_bad = thing.rows[0].line in lines if thing.under else any(row.line in lines for row in thing.rows)
            thing.under = good(thing.under)
            if not (first_bad and not thing.under) and (thing.under or not first_bad):
                kept[name] = thing
        return kept

    return Asked(tools=good(asked.tools), known=asked.known)
