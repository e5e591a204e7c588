"""What every test may ask for."""

from __future__ import annotations

import itertools
from collections.abc import Callable, Iterator
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import pytest
from django.contrib.auth.hashers import make_password
from django.db import connections
from django.db.backends.base.operations import BaseDatabaseOperations

from shop.people.models import Person, Plant
from shop.site.catalogues import compile_new
from tests import machine
from tests.lifted import lifted
from tests.strict_templates import make_strict

PASSWORD = "a stone, a paper, a felt"
AT = datetime(2024, 3, 4, 8, 0, tzinfo=UTC)
_numbers = itertools.count(1)


@pytest.fixture(scope="session", autouse=True)
def _catalogues_are_compiled() -> None:
    compile_new()


@pytest.fixture(scope="session", autouse=True)
def _strict_templates() -> Iterator[None]:
    with pytest.MonkeyPatch.context() as patch:
        make_strict(patch)
        yield


@pytest.fixture(scope="session", autouse=True)
def _flush_lifts_the_ledger_triggers() -> Iterator[None]:
    """Let the flush that follows a transactional test empty the ledgers; the product never can."""
    flush = BaseDatabaseOperations.execute_sql_flush

    def lifting(self: BaseDatabaseOperations, sql_list: list[str]) -> None:
        with lifted(self.connection.alias):
            flush(self, sql_list)

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(BaseDatabaseOperations, "execute_sql_flush", lifting)
        yield


@pytest.fixture(scope="session")
def django_db_modify_db_settings(request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory) -> None:
    """On SQLite use a file: in memory there is no second connection to be in the way."""
    if machine.ENGINE == "sqlite":
        name = tmp_path_factory.mktemp("sqlite") / "test.sqlite3"
        connections["default"].settings_dict["TEST"]["NAME"] = str(name)
    else:
        request.getfixturevalue("django_db_modify_db_settings_parallel_suffix")


@pytest.fixture(scope="session")
def redis_url() -> Iterator[str]:
    """A real Redis of the tests' own; its address."""
    server, address = machine.start_redis()
    yield address
    server.stop()


@pytest.fixture(autouse=True)
def media(settings: Any, tmp_path: Path) -> Path:
    """A place for stored files, empty for each test."""
    settings.MEDIA_ROOT = tmp_path / "files"
    return tmp_path / "files"


@pytest.fixture
def at() -> datetime:
    """A Monday morning."""
    return AT


@pytest.fixture
def plant(db: None) -> Plant:
    """A plant with the settings it is born with."""
    return Plant.objects.create(name="Neumühl", time_zone="Europe/Berlin")


@pytest.fixture(scope="session")
def hashed_password() -> str:
    """The hash of PASSWORD, made once because making it is slow on purpose."""
    return make_password(PASSWORD)


@pytest.fixture
def person_of(plant: Plant, hashed_password: str) -> Callable[..., Person]:
    """Make a person of a role in the plant; all sign in with PASSWORD."""

    def make(role: str, name: str = "", **fields: Any) -> Person:
        number = next(_numbers)
        return Person.objects.create(
            plant=fields.pop("plant", plant),
            role=role,
            username=fields.pop("username", f"{role}{number}"),
            name=name or f"{role.capitalize()} {number}",
            password=hashed_password,
            **fields,
        )

    return make


@pytest.fixture
def lead(person_of: Callable[..., Person]) -> Person:
    return person_of("lead", "Vera Lind")


@pytest.fixture
def polisher(person_of: Callable[..., Person]) -> Person:
    return person_of("polisher", "Ivo Brandt")


@pytest.fixture
def press_tech(person_of: Callable[..., Person]) -> Person:
    return person_of("press", "Ines Roth")


@pytest.fixture
def inspector(person_of: Callable[..., Person]) -> Person:
    return person_of("quality", "Tom Haas")


@pytest.fixture
def engineer(person_of: Callable[..., Person]) -> Person:
    return person_of("engineer", "Nora Falk")


@pytest.fixture
def viewer(person_of: Callable[..., Person]) -> Person:
    return person_of("viewer", "Max Auer")


@pytest.fixture
def owner(person_of: Callable[..., Person]) -> Person:
    return person_of("owner", "Olga Stern")
