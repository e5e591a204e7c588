"""What the database of the tooling room refuses, whoever writes."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date, datetime, timedelta
from decimal import Decimal
from typing import Any

import pytest

from shop.people.models import Person
from shop.tooling.models import (
    Concession,
    Face,
    FinishLife,
    Fitting,
    Insert,
    Limit,
    Position,
    Resin,
    Spec,
    Spot,
    SteelEntry,
    Tool,
)
from tests.factories import Built, build_tool, plaque, satin
from tests.tooling.refusing import refused_by

HOUR = timedelta(hours=1)


@pytest.fixture
def built(lead: Person, at: datetime) -> Built:
    """A tool of two cavities with a spare insert 3 and a spec on its first face."""
    built = build_tool(lead, at, cavities=2, spares=1)
    satin(built.face, lead, at)
    return built


def test_insert_is_in_one_place_and_a_position_holds_one_of_a_kind(built: Built, at: datetime) -> None:
    one, spare = built.inserts["1"], built.inserts["3"]
    here = {"kind": "cavity", "from_at": at + HOUR}
    refused_by(
        "insert_in_one_place",
        lambda: Fitting.objects.create(insert=one, position=built.positions[1], slot=2, **here),
    )
    refused_by(
        "position_holds_one_of_a_kind",
        lambda: Fitting.objects.create(insert=spare, position=built.positions[1], **here),
    )
    refused_by("fitting_ends_after_it_began", lambda: Fitting.objects.update(to_at=at))


def test_face_has_one_running_life_and_lives_are_numbered_once(built: Built, at: datetime) -> None:
    life = {"face": built.face, "began_at": at, "began_by": "WO-1"}
    refused_by("one_running_life", lambda: FinishLife.objects.create(number=2, **life))
    refused_by("life_number_once", lambda: FinishLife.objects.create(number=1, ended_at=at, **life))
    refused_by("life_ends_after_it_began", lambda: FinishLife.objects.update(ended_at=at - HOUR))


def test_numbers_and_names_are_taken_once(built: Built, at: datetime) -> None:
    tool, face = built.tool, built.face
    twice: dict[str, Callable[[], Any]] = {
        "tool_number_once": lambda: Tool.objects.create(
            plant=tool.plant, number=tool.number, title="x", customer=tool.customer
        ),
        "position_once": lambda: Position.objects.create(tool=tool, number=1),
        "insert_number_once": lambda: Insert.objects.create(tool=tool, number="1", steel="1.2343"),
        "face_name_once": lambda: Face.objects.create(insert=built.insert, name=face.name),
        "spot_name_once": lambda: Spot.objects.create(face=face, name="gate"),
    }
    for constraint, write in twice.items():
        refused_by(constraint, write)


def test_values_that_cannot_be_are_refused(built: Built, at: datetime) -> None:
    refused_by("tool_disposed_is_out_of_press", lambda: Tool.objects.update(status="disposed", place="in press"))
    refused_by("insert_hardness_on_scale", lambda: Insert.objects.update(hardness_hrc=Decimal(71)))
    refused_by("resin_severity_positive", lambda: Resin.objects.create(name="x", family="PP", severity=0))


def test_spec_says_why_has_its_plaque_and_one_of_each_revision(built: Built, lead: Person, at: datetime) -> None:
    spec = {
        "face": built.face, "how_made": "etched", "scale": "value", "revision": 2, "reason": "x", "by": lead, "at": at,
    }  # fmt: skip
    refused_by("spec_revision_once", lambda: Spec.objects.create(**{**spec, "revision": 1}))
    refused_by("spec_says_why", lambda: Spec.objects.create(**{**spec, "reason": ""}))
    refused_by("spec_by_plaque_has_one", lambda: Spec.objects.create(**spec, acceptance="plaque"))
    assert Spec.objects.create(**spec, acceptance="plaque", plaque=plaque(lead)).pk
    refused_by("", lambda: Spec.objects.filter(revision=2).update(reason="another"))


@pytest.mark.parametrize(
    ("constraint", "given"),
    [
        ("limit_has_a_side", {"upper": None}),
        ("limit_sides_in_order", {"lower": Decimal(3), "upper": Decimal(3)}),
        ("limit_gloss_is_on_the_part_at_an_angle", {"parameter": "gloss", "where": "steel", "geometry_deg": 20}),
        ("limit_gloss_is_on_the_part_at_an_angle", {"parameter": "gloss", "where": "part", "geometry_deg": 45}),
        ("limit_once", {"parameter": "gloss", "where": "part", "geometry_deg": 60}),
    ],
)
def test_limit_that_cannot_be_held_is_refused(
    built: Built, lead: Person, at: datetime, constraint: str, given: dict[str, Any]
) -> None:
    limit = {"spec": built.face.specs.get(), "parameter": "Ra", "where": "steel", "upper": Decimal(3), "unit": "um"}
    refused_by(constraint, lambda: Limit.objects.create(**{**limit, "by": lead, "at": at, **given}))


def test_concession_ends_somewhere_has_a_side_and_says_why(built: Built, lead: Person, at: datetime) -> None:
    row = {
        "face": built.face, "number": "D-1", "parameter": "gloss", "reason": "launch", "upper": Decimal(5),
        "until_on": date(2024, 4, 1), "by": lead, "at": at,
    }  # fmt: skip
    refused_by("concession_ends_somewhere", lambda: Concession.objects.create(**{**row, "until_on": None}))
    refused_by("concession_has_a_side", lambda: Concession.objects.create(**{**row, "upper": None}))
    refused_by("concession_says_why", lambda: Concession.objects.create(**row, void=True, why="x"))


def test_steel_is_not_negative_and_is_put_right_once_with_a_reason(built: Built, lead: Person, at: datetime) -> None:
    row = {"face": built.face, "work": "WO-1", "by": lead, "at": at}
    refused_by("steel_depth_not_negative", lambda: SteelEntry.objects.create(**row, depth_um=Decimal(-1)))
    first = SteelEntry.objects.create(**row, depth_um=Decimal(5))
    refused_by("steel_entry_says_why", lambda: SteelEntry.objects.create(**row, depth_um=Decimal(4), supersedes=first))
    SteelEntry.objects.create(**row, depth_um=Decimal(4), supersedes=first, why="misread")
    refused_by(
        "supersedes",
        lambda: SteelEntry.objects.create(**row, depth_um=Decimal(3), supersedes=first, why="again"),
    )
