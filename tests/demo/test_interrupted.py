"""A first start that is cut short, and a first start on the other engine."""

from __future__ import annotations

import os
import re
import signal
import sqlite3
import subprocess
import sys
from contextlib import closing
from pathlib import Path

import pytest
from django.db import connection

from shop.people.models import Person
from shop.press.models import ShotEntry, WorkedShots
from shop.quality.models import Reading
from shop.tooling.models import Face, Tool
from shop.watch.models import Standing
from tests.demo.test_demo_command import BASE, demo
from tests.site.running import manage

pytestmark = pytest.mark.slow
LOADED = ("people_plant", "people_person", "tooling_tool", "press_shotentry", "quality_reading", "ledger_receipt")


def count(var: Path, table: str) -> int:
    with closing(sqlite3.connect(var / "facewright.sqlite3")) as database:
        found: int = database.execute(f"SELECT count(*) FROM {table}").fetchone()[0]
    return found


def told_rows(var: Path, name: str) -> int:
    """Return how many rows one of the demo's files has."""
    return len((var / "demo" / f"{name}.csv").read_text(encoding="utf-8").splitlines()) - 1


def killed_in_the_load(var: Path) -> None:
    """Start the demo, and kill it as soon as it tells that some of the two years are in."""
    inherited = {name: value for name, value in os.environ.items() if name not in ("DATABASE_URL", "BROKER_URL")}
    command = [sys.executable, str(BASE / "manage.py"), "demo", "--no-serve"]
    with subprocess.Popen(
        command, env=inherited | {"FACEWRIGHT_VAR": str(var)}, stdout=subprocess.PIPE, text=True
    ) as process:
        assert process.stdout is not None
        months = (line for line in process.stdout if re.search(r"until \w+ \d{4}", line))
        assert next(months)
        assert next(months)
        process.kill()
    assert process.returncode == -signal.SIGKILL


def test_a_load_that_is_killed_leaves_nothing_and_the_next_start_loads_it_once(tmp_path: Path) -> None:
    killed_in_the_load(tmp_path)
    assert {table: count(tmp_path, table) for table in LOADED} == dict.fromkeys(LOADED, 0)
    said = demo(tmp_path)
    assert "is there already" not in said
    assert "14 tools, 154 faces" in said
    assert count(tmp_path, "people_plant") == 1
    assert count(tmp_path, "press_shotentry") == told_rows(tmp_path, "shots") > 4000
    assert count(tmp_path, "press_workedshots") == count(tmp_path, "press_shotentry")
    brought = told_rows(tmp_path, "shots") + told_rows(tmp_path, "readings")
    with closing(sqlite3.connect(tmp_path / "facewright.sqlite3")) as database:
        kinds = (
            "SELECT count(*), count(DISTINCT ref) FROM ledger_receipt WHERE kind IN ('bring shots', 'bring readings')"
        )
        assert database.execute(kinds).fetchone() == (brought, brought)


@pytest.mark.django_db(transaction=True)
def test_the_demo_loads_on_postgresql_too(tmp_path: Path) -> None:
    assert connection.vendor == "postgresql"
    done = manage("demo", "--no-serve", FACEWRIGHT_VAR=str(tmp_path))
    assert done.returncode == 0, done.stderr
    assert "14 tools, 154 faces" in done.stdout
    assert ShotEntry.objects.count() == WorkedShots.objects.count() == told_rows(tmp_path, "shots")
    assert Reading.objects.count() > told_rows(tmp_path, "readings") > 6000
    assert (Tool.objects.count(), Face.objects.count(), Standing.objects.count()) == (14, 154, 154)
    assert Person.objects.filter(is_active=True).count() == 8
