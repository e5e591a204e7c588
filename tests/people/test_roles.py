"""The table of roles, as the trade tells it."""

from __future__ import annotations

import pytest

from shop.people.models import Person, Role
from shop.people.roles import ABILITIES, Ability, may

TABLE = {
    "read": "lead polisher press quality engineer viewer owner",
    "log shots": "lead press owner",
    "report damage": "lead polisher press quality owner",
    "move tool": "lead press owner",
    "measure": "quality owner",
    "judge release": "lead quality owner",
    "plan bench": "lead owner",
    "bench work": "lead polisher owner",
    "release": "lead quality owner",
    "specify": "lead engineer owner",
    "grant concession": "lead quality engineer owner",
    "keep gauges": "quality owner",
    "set plant": "owner",
}


def test_every_ability_is_in_the_table() -> None:
    assert set(TABLE) == set(Ability) == set(ABILITIES)


@pytest.mark.parametrize("role", Role.values)
@pytest.mark.parametrize("ability", TABLE)
def test_role_may_what_the_table_says(role: str, ability: str) -> None:
    assert may(Person(role=role), Ability(ability)) == (role in TABLE[ability].split())
