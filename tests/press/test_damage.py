"""Damage called from the press."""

from __future__ import annotations

from datetime import datetime
from typing import Any
from uuid import uuid4

import pytest

from shop.paper.services import store_file
from shop.people.models import Person
from shop.press.models import Damage
from shop.press.services import damage
from shop.refusal import Refused
from tests.factories import Built, build_tool
from tests.press.conftest import HOUR


def test_damage_is_kept_with_its_face_and_photo(built: Built, press_tech: Person, at: datetime) -> None:
    photo = store_file(content=b"\xff\xd8 drag", name="drag.jpg", media_type="image/jpeg", by=press_tech, at=at)
    seen = damage.report(
        tool=built.tool, kind="scratch", face=built.face, note=" at the gate ", stops_run=True, photo=photo,
        by=press_tech, at=at,
    )  # fmt: skip
    kept = Damage.objects.of_tool(built.tool).for_list().get()
    assert (kept, kept.face, kept.note, kept.photo, kept.stops_run) == (seen, built.face, "at the gate", photo, True)


def test_damage_sent_twice_is_called_once(built: Built, press_tech: Person, at: datetime) -> None:
    call = {"tool": built.tool, "kind": "rust", "by": press_tech, "ref": uuid4()}
    assert damage.report(**call, at=at) == damage.report(**call, at=at + HOUR)
    assert Damage.objects.count() == 1


@pytest.mark.parametrize(
    ("given", "code"),
    [
        ({"kind": "other", "note": " "}, "damage.note_wanted"),
        ({"kind": "sadness"}, "damage.kind_unknown"),
        ({"kind": "rust", "at": datetime.fromisoformat("2999-01-01T00:00+00:00")}, "damage.in_future"),
    ],
)
def test_damage_that_says_too_little_is_refused(
    built: Built, press_tech: Person, at: datetime, given: dict[str, Any], code: str
) -> None:
    with pytest.raises(Refused) as refused:
        damage.report(**{"tool": built.tool, "by": press_tech, "at": at, **given})
    assert refused.value.code == code


def test_damage_on_another_tools_face_is_refused(built: Built, press_tech: Person, lead: Person, at: datetime) -> None:
    with pytest.raises(Refused) as refused:
        damage.report(tool=built.tool, kind="dent", face=build_tool(lead, at).face, by=press_tech, at=at)
    assert refused.value.code == "damage.face_of_another_tool"
