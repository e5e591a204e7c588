"""The script behind the demo: the same seed and day make the same files, and they hold what a demo needs."""

from __future__ import annotations

import csv
import json
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest

SCRIPT = Path(__file__).resolve().parents[2] / "fixtures" / "demo" / "make.py"


def made(folder: Path, end: str = "2026-11-24") -> Path:
    subprocess.run([sys.executable, str(SCRIPT), "--end", end, "--out", str(folder)], check=True, capture_output=True)
    return folder


def rows(folder: Path, name: str) -> list[dict[str, str]]:
    with (folder / f"{name}.csv").open(encoding="utf-8") as file:
        return list(csv.DictReader(file))


@pytest.fixture(scope="module")
def files(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return made(tmp_path_factory.mktemp("demo"))


def events(folder: Path, kind: str) -> list[dict[str, Any]]:
    return [event for event in json.loads((folder / "events.json").read_text()) if event["kind"] == kind]


def test_the_same_day_makes_the_same_files(files: Path, tmp_path: Path) -> None:
    again = made(tmp_path)
    for file in sorted(files.iterdir()):
        assert (again / file.name).read_bytes() == file.read_bytes(), file.name


def test_the_shop_is_as_large_as_promised(files: Path) -> None:
    faces = {(row["tool"], row["insert"], row["face"]) for row in rows(files, "tools")}
    cavities = {
        (row["tool"], row["position"]) for row in rows(files, "tools") if row["kind"] == "cavity" and row["position"]
    }
    assert len({tool for tool, _insert, _face in faces}) >= 12
    assert len(cavities) >= 40
    assert len(faces) >= 150
    assert {"polished", "stoned", "blasted", "spark-eroded", "etched", "laser"} == {
        row["how made"] for row in rows(files, "tools")
    }
    assert any(row["spare"] == "yes" for row in rows(files, "tools"))
    assert len({row["resin"] for row in rows(files, "shots")}) == 4


@pytest.mark.parametrize("end", ["2026-11-24", "2028-02-29", "2027-08-02"])
def test_two_years_end_on_the_day_that_was_asked_for(tmp_path: Path, end: str) -> None:
    folder = made(tmp_path, end)
    days = [row["at"][:10] for name in ("shots", "readings") for row in rows(folder, name)]
    days += [event["at"][:10] for kind in ("visit", "damage", "run") for event in events(folder, kind)]
    assert max(days) in (end, str(int(end[:4])) + end[4:])
    assert int(end[:4]) - int(min(days)[:4]) == 2


def test_what_happens_beside_wear_is_there(files: Path) -> None:
    assert {event["until"] for event in events(files, "visit")} == {
        "released", "raised", "accepted", "planned", "on the bench", "steel check", "parts check", "sent out",
    }  # fmt: skip
    assert events(files, "swap")
    assert events(files, "concession")
    assert any(event["stops_run"] for event in events(files, "damage"))
    assert any("set_by_hand" in row["answer"] for row in rows(files, "shots"))


def test_faces_with_a_plaque_are_compared_by_eye(files: Path) -> None:
    looks = [row for row in rows(files, "readings") if row["parameter"] == "look gloss"]
    assert {row["value"] for row in looks} <= {"-2", "-1", "0", "1", "2"}
    assert all(row["plaque"] and not row["gauge"] for row in looks)
