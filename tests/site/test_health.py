"""`manage.py health` says what is wrong, and ends with 1 where something is."""

from __future__ import annotations

from datetime import datetime, timedelta
from io import StringIO
from pathlib import Path
from typing import Any

import pytest
from django.core.management import call_command
from django.core.management.base import CommandError
from django.db import OperationalError, connection
from django.db.migrations.loader import MigrationLoader
from django.db.migrations.recorder import MigrationRecorder
from django.utils import timezone

from shop.errands import services
from shop.errands.models import Errand
from shop.people.models import Person, Plant
from shop.press.models import ShotEntry
from shop.site import health, work
from tests.factories import build_tool

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def embedded(settings: Any) -> None:
    settings.BROKER_URL = ""


def ill(at: datetime | None = None) -> list[str]:
    return [one.name for one in health.look(at or timezone.now()) if not one.well]


def swept(lead: Person, at: datetime) -> None:
    build_tool(lead, at)
    work.put_due_sweeps(timezone.now())
    work.drain("here")


def test_well_installation_is_said_line_by_line(lead: Person, at: datetime) -> None:
    swept(lead, at)
    out = StringIO()
    call_command("health", stdout=out)
    lines = out.getvalue().splitlines()
    assert [line.split()[0] for line in lines] == ["well"] * 7
    assert "embedded worker" in out.getvalue()
    assert "0.0 hours ago" in out.getvalue()


def test_command_fails_and_names_what_is_wrong(lead: Person, at: datetime) -> None:
    build_tool(lead, at)
    out = StringIO()
    with pytest.raises(CommandError, match="Not well: last sweep, Neumühl") as failed:
        call_command("health", stdout=out)
    assert failed.value.returncode == 1
    assert "WRONG  last sweep, Neumühl: never" in out.getvalue()


def test_plant_without_tools_needs_no_sweep(plant: Plant) -> None:
    assert ill() == []


def test_sweep_of_the_night_before_last_is_too_old(lead: Person, at: datetime) -> None:
    swept(lead, at)
    assert ill(timezone.now() + timedelta(hours=25)) == []
    assert ill(timezone.now() + timedelta(hours=27)) == ["last sweep, Neumühl"]


@pytest.mark.parametrize("state", ["waiting", "claimed", "failed"])
def test_errand_that_waits_hangs_or_was_given_up_is_wrong(state: str) -> None:
    now = timezone.now()
    errand = services.put(kind="sweep", key="1", content={}, at=now)
    assert ill(now) == []
    Errand.objects.filter(pk=errand.pk).update(state=state, claimed_at=now, done_at=now)
    assert ill(now + services.STALE_AFTER + timedelta(minutes=1)) == ["errands"]


def test_ledger_without_its_trigger_is_seen() -> None:
    table = ShotEntry._meta.db_table
    with connection.cursor() as cursor:
        on = f' ON "{table}"' if connection.vendor == "postgresql" else ""
        cursor.execute(f'DROP TRIGGER "{table}_no_update"{on}')
    guards = health.guards()
    assert (guards.well, f"{table}_no_update" in guards.words) == (False, True)
    assert ill() == ["ledger triggers"]


def test_migration_not_applied_is_named_and_the_tables_are_left_alone() -> None:
    ((app, newest),) = MigrationLoader(connection).graph.leaf_nodes("people")
    MigrationRecorder(connection).record_unapplied(app, newest)
    found = health.look(timezone.now())
    assert [one.name for one in found if not one.well] == ["migrations"]
    assert f"people.{newest}" in found[-1].words


def test_database_that_does_not_answer_is_the_only_thing_said_of_it(monkeypatch: pytest.MonkeyPatch) -> None:
    def gone() -> None:
        raise OperationalError("connection refused")

    monkeypatch.setattr(health.connection, "cursor", gone)
    found = health.look(timezone.now())
    assert found[0] == health.Found("database", False, "connection refused")
    assert [one.name for one in found] == ["database", "broker", "room on the disk"]


def test_broker_is_reached_or_not(settings: Any, redis_url: str) -> None:
    settings.BROKER_URL = redis_url
    assert health.broker() == health.Found("broker", True, "reached")
    settings.BROKER_URL = "redis://127.0.0.1:1/0"
    assert health.broker().words.startswith("not reached: ")


def test_disk_that_is_full_or_closed_is_wrong(tmp_path: Path) -> None:
    assert not health.room(tmp_path, lambda _place: health.LEAST_FREE_BYTES - 1).well
    assert health.room(tmp_path, lambda _place: health.LEAST_FREE_BYTES).well
    assert not health.room(tmp_path / "nowhere").well
