"""A real plant's first day: begun, given its people, fed from files."""

from __future__ import annotations

import io
import re
from pathlib import Path
from typing import Any

import pytest
from django.contrib.auth import authenticate
from django.core.management import CommandError, call_command

from shop.ledger.models import Change
from shop.people.models import Person, Plant
from shop.people.services import the_software
from shop.quality.models import Verdict
from tests.bring.shop_files import READINGS, SHOTS, TOOLS

pytestmark = pytest.mark.django_db
GAUGES = "number,kind,resolution,calibrated at,due on,expanded a\nG-1,stylus,0.001,2024-02-01,2025-02-01,0.002\n"


def said(*command: str, **options: Any) -> str:
    out = io.StringIO()
    call_command(*command, stdout=out, stderr=out, **options)
    return out.getvalue()


def signed_in(told: str) -> Person:
    """Return who signs in with the name and the password that were printed."""
    username, password = re.findall(r"(?:Sign in as|Password)\s+(\S+)", told)
    person = authenticate(username=username, password=password)
    assert isinstance(person, Person)
    return person


def test_a_plant_is_begun_with_an_owner_who_signs_in_with_the_password_printed() -> None:
    told = said(
        "begin", "Werk Nord", "--owner", "Olga Stern",
        "--time-zone", "Europe/Lisbon", "--units", "inch", "--decimal-comma",
    )  # fmt: skip
    owner = signed_in(told)
    assert (owner.username, owner.name, owner.role, owner.plant.name) == (
        "olga.stern", "Olga Stern", "owner", "Werk Nord",
    )  # fmt: skip
    assert (owner.plant.time_zone, owner.plant.units, owner.plant.decimal_comma) == ("Europe/Lisbon", "inch", True)
    assert Change.objects.get(field="added").by == owner


@pytest.mark.parametrize(
    ("command", "reason"),
    [
        (("begin", "Werk Nord", "--owner", "Ina Moll"), "There is a plant named Werk Nord already"),
        (("begin", "Werk West", "--owner", "Olga Stern"), "Somebody signs in as olga.stern already"),
        (("begin", "Werk West", "--owner", "Ina Moll", "--time-zone", "Mars"), "cannot be Mars"),
    ],
)
def test_what_is_there_or_cannot_be_is_refused_and_leaves_nothing(command: tuple[str, ...], reason: str) -> None:
    said("begin", "Werk Nord", "--owner", "Olga Stern")
    with pytest.raises(CommandError, match=reason):
        said(*command)
    assert (Plant.objects.count(), Person.objects.count()) == (1, 1)


def test_people_are_added_given_a_new_password_and_retired(owner: Person) -> None:
    added = said("people", "add", "Ivo", "--name", "Ivo Brandt", "--role", "polisher")
    ivo = signed_in(added)
    assert (ivo.username, ivo.name, ivo.role, ivo.plant) == ("ivo", "Ivo Brandt", "polisher", owner.plant)
    assert signed_in(said("people", "password", "ivo")) == ivo
    assert authenticate(username="ivo", password=added.split()[-4]) is None
    said("people", "--by", owner.username, "retire", "ivo", "--why", "moved away")
    listed = {line.split()[0]: line for line in said("people").splitlines()}
    assert listed["ivo"].split() == ["ivo", "Ivo", "Brandt", "polisher", "retired"]
    assert set(listed) == {"ivo", owner.username}
    trail = Change.objects.filter(row_id=ivo.pk).order_by("id").values_list("field", "by", "why")
    software = the_software(owner.plant).pk
    assert list(trail) == [
        ("added", software, ""), ("password", software, ""), ("is_active", owner.pk, "moved away"),
    ]  # fmt: skip


def test_the_last_owner_is_not_retired(owner: Person) -> None:
    with pytest.raises(CommandError, match="only owner"):
        said("people", "retire", owner.username)
    owner.refresh_from_db()
    assert owner.is_active


def test_people_of_one_plant_are_not_touched_through_another(owner: Person) -> None:
    said("begin", "Werk Nord", "--owner", "Ina Moll")
    with pytest.raises(CommandError, match="which plant"):
        said("people")
    with pytest.raises(CommandError, match="Nobody of this plant"):
        said("people", "--plant", "Werk Nord", "retire", owner.username)
    assert owner.username not in said("people", "--plant", "Werk Nord")


def test_a_plant_begun_lives_from_its_files(tmp_path: Path) -> None:
    said("begin", "Werk Nord", "--owner", "Olga Stern")
    files = {"gauges": GAUGES, "tools": TOOLS, "shots": SHOTS, "readings": READINGS}
    for name, text in files.items():
        (tmp_path / f"{name}.csv").write_text(text)
    paths = [str(tmp_path / f"{name}.csv") for name in files]
    told = said("bring", *paths, "--new-names", "--by", "olga.stern")
    assert re.findall(r"(\d+) rows taken", told) == ["1", "2", "2", "2"]
    assert Verdict.objects.count() == 2
    assert re.findall(r"(\d+) rows taken, (\d+) were there", said("bring", *paths)) == [
        ("0", "1"), ("0", "2"), ("0", "2"), ("0", "2"),
    ]  # fmt: skip
