"""A small tool with everything on it, made through the tooling room's own services."""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import datetime
from decimal import Decimal
from typing import Any

from shop.people.models import Person
from shop.tooling.models import Customer, Face, Insert, Plaque, Position, Resin, Spec, Tool
from shop.tooling.services import faces, inserts, specs, tools
from shop.tooling.services.faces import SpotDraft
from shop.tooling.services.spec_checks import LimitDraft

_numbers = itertools.count(1)

SPOTS = (SpotDraft("gate", "gate", 20, 50), SpotDraft("end of fill", "end of fill", 80, 50))


@dataclass
class Built:
    """A tool and what is on it, by number and name."""

    tool: Tool
    positions: dict[int, Position]
    inserts: dict[str, Insert] = field(default_factory=dict)
    faces: dict[str, Face] = field(default_factory=dict)

    @property
    def face(self) -> Face:
        """Return the first face."""
        return next(iter(self.faces.values()))

    @property
    def insert(self) -> Insert:
        """Return the first insert."""
        return next(iter(self.inserts.values()))


def customer(**fields: Any) -> Customer:
    """Make a customer who decides near a limit by ISO 14253-1."""
    return Customer.objects.create(**{"name": f"Customer {next(_numbers)}", **fields})


def resin(name: str = "", **fields: Any) -> Resin:
    """Make a resin; unfilled unless said otherwise."""
    return Resin.objects.create(**{"name": name or f"Resin {next(_numbers)}", "family": "ABS", **fields})


def plaque(by: Person, **fields: Any) -> Plaque:
    """Make a signed plaque of the plant."""
    return Plaque.objects.create(
        **{"plant": by.plant, "number": f"PQ-{next(_numbers)}", "house": "own", "signed_by": "Customer", **fields}
    )


def build_tool(
    by: Person, at: datetime, *, cavities: int = 1, spares: int = 0, sets: Sequence[str] = (), **fields: Any
) -> Built:
    """Build a tool with a cavity insert in each position, spares beside it, and one face with two spots on each."""
    number = next(_numbers)
    positions = [(n, sets[(n - 1) % len(sets)] if sets else "") for n in range(1, cavities + 1)]
    tool = tools.add_tool(
        **{
            "plant": by.plant, "number": f"T-{number:04}", "title": f"Cover {number}", "customer": None,
            "positions": positions, "by": by, "at": at, **fields,
            **({} if fields.get("customer") else {"customer": customer()}),
        }
    )  # fmt: skip
    built = Built(tool, {position.number: position for position in tool.positions.all()})
    for n in range(1, cavities + spares + 1):
        add_insert(built, str(n), by, at, position=built.positions.get(n))
    return built


def add_insert(built: Built, number: str, by: Person, at: datetime, **fields: Any) -> Insert:
    """Add an insert with one face called `show <number>`; in no position it is a spare."""
    insert = inserts.add_insert(
        **{
            "tool": built.tool, "number": number, "kind": Insert.Kind.CAVITY, "steel": "1.2343",
            "hardness_hrc": Decimal(52), "by": by, "at": at, **fields,
        }
    )  # fmt: skip
    built.inserts[number] = insert
    name = f"show {number}"
    built.faces[name] = add_face(insert, name, by, at)
    return insert


def add_face(insert: Insert, name: str, by: Person, at: datetime, **fields: Any) -> Face:
    """Add a face of 25 cm2 with 400 um of steel to give."""
    return faces.add_face(
        **{
            "insert": insert, "name": name, "spots": SPOTS, "area_cm2": Decimal(25), "draft_deg": Decimal(2),
            "steel_to_give_um": Decimal(400), "by": by, "at": at, **fields,
        }
    )  # fmt: skip


def specify(face: Face, by: Person, at: datetime, limits: Sequence[LimitDraft], **fields: Any) -> Spec:
    """Give a face its spec: stoned and by value unless said otherwise."""
    return specs.revise(
        **{
            "face": face, "reason": "first issue", "how_made": "stoned", "scale": Spec.Scale.VALUE,
            "limits": limits, "drawing_edition": Spec.Edition.ISO_2021, "acceptance": "guarded", "by": by, "at": at,
            **fields,
        }
    )  # fmt: skip


def polished(face: Face, by: Person, at: datetime, upper_um: str = "0.1") -> Spec:
    """Specify a polished face by an upper limit of Ra on the steel."""
    return specify(face, by, at, [LimitDraft("Ra", "steel", None, Decimal(upper_um), "um")], how_made="polished")


def satin(face: Face, by: Person, at: datetime, lower: str = "2.0", upper: str = "4.0") -> Spec:
    """Specify a blasted face by its gloss at 60 degrees on the part."""
    gloss = LimitDraft("gloss", "part", Decimal(lower), Decimal(upper), "GU", geometry_deg=60)
    return specify(face, by, at, [gloss], how_made="blasted")


def by_plaque(face: Face, by: Person, at: datetime, sample: Plaque | None = None) -> Spec:
    """Specify a textured face by a plaque and the eye: at most slightly glossier or duller."""
    looks = [LimitDraft("look gloss", "part", Decimal(-1), Decimal(1), "grade")]
    return specify(
        face, by, at, looks, how_made="etched", scale=Spec.Scale.PLAQUE, acceptance="plaque",
        plaque=sample or plaque(by), pattern_depth_um=Decimal(40), micro_matt=True,
    )  # fmt: skip
