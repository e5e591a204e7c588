"""The demo as a newcomer starts it: loaded whole, found again, never twice."""

from __future__ import annotations

import os
import sqlite3
import stat
import subprocess
import sys
from contextlib import closing
from pathlib import Path

import pytest

BASE = Path(__file__).resolve().parents[2]
pytestmark = pytest.mark.slow


def demo(var: Path) -> str:
    inherited = {name: value for name, value in os.environ.items() if name not in ("DATABASE_URL", "BROKER_URL")}
    command = [sys.executable, str(BASE / "manage.py"), "demo", "--no-serve"]
    done = subprocess.run(
        command, env=inherited | {"FACEWRIGHT_VAR": str(var)}, capture_output=True, text=True, check=False, timeout=600
    )
    assert done.returncode == 0, done.stderr
    return done.stdout


def counted(var: Path) -> dict[str, int]:
    tables = ("press_shotentry", "quality_reading", "tooling_face", "people_person", "bench_workorder")
    with sqlite3.connect(var / "facewright.sqlite3") as database:
        return {table: database.execute(f"SELECT count(*) FROM {table}").fetchone()[0] for table in tables}


HANDS_ON_THE_COUNTER = "select distinct p.username from press_shotentry e join people_person p on p.id = e.by_id"
UNSIGNED = """
    select o.number from bench_step s join bench_line l on l.id = s.line_id
    join bench_workorder o on o.id = l.order_id
    where o.state in ('steel check', 'parts check', 'released') and o.outside_house_id is null
    and l.dropped_because = '' and s.done_at is null
"""


def found(var: Path, question: str) -> list[tuple[object, ...]]:
    with closing(sqlite3.connect(var / "facewright.sqlite3")) as connection:
        return connection.execute(question).fetchall()


def test_the_demo_loads_once_says_what_it_found_and_goes_on_when_run_again(tmp_path: Path) -> None:
    said = demo(tmp_path)
    assert "14 tools, 154 faces" in said
    for username in ("lead", "polisher", "press", "quality", "engineer", "viewer", "owner"):
        assert f"  {username} " in said
    password = tmp_path / "demo" / "password"
    assert password.read_text() in said
    assert stat.S_IMODE(password.stat().st_mode) == 0o600
    before = counted(tmp_path)
    assert before["press_shotentry"] > 4000
    assert before["quality_reading"] > 6000
    assert found(tmp_path, "select count(*) from bench_line where note != ''") == [(0,)]
    assert found(tmp_path, HANDS_ON_THE_COUNTER) == [("press",)]
    assert found(tmp_path, UNSIGNED) == []
    assert found(tmp_path, "select count(*), count(distinct outcome) from quality_matchverdict")[0] > (10, 1)
    for kept in ("gaugestudy", "agreementstudy", "tilecheck", "unfitfinding"):
        assert found(tmp_path, f"select count(*) > 0 from quality_{kept}") == [(1,)], kept
    assert "is there already" in demo(tmp_path)
    assert counted(tmp_path) == before
