"""What the system lacks is named, with the package that brings it."""

from __future__ import annotations

import subprocess
import sys
from io import StringIO
from pathlib import Path
from typing import Any

import pytest
from django.core.management import call_command
from django.core.management.base import CommandError

from shop.site import preflight
from shop.site.preflight import Need
from tests import machine

THERE = Need("Stones", "everything", ("stones",), lambda: "in the drawer")
GONE = Need("Felt", "tests", ("felt", "paste"), lambda: "")


def test_this_machine_has_everything() -> None:
    out = StringIO()
    call_command("preflight", stdout=out)
    assert out.getvalue().count("there: ") == len(preflight.NEEDS)


def test_missing_thing_is_named_with_its_package(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(preflight, "missing", lambda: [GONE])
    with pytest.raises(CommandError) as told:
        call_command("preflight")
    assert "missing: Felt (for tests); Debian: felt paste" in str(told.value)
    assert "apt-get install --no-install-recommends felt paste" in str(told.value)


def test_only_what_is_missing_is_missing() -> None:
    assert preflight.missing((THERE, GONE)) == [GONE]


def test_missing_thing_fails_the_run_of_the_tests(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(preflight, "missing", lambda: [GONE])
    with pytest.raises(pytest.UsageError, match="felt paste"):
        machine.Machine()


def test_install_asks_apt_for_what_is_missing_and_looks_again(monkeypatch: pytest.MonkeyPatch) -> None:
    asked: list[list[str]] = []
    answers = iter([[GONE], []])
    monkeypatch.setattr(preflight, "missing", lambda: next(answers))
    monkeypatch.setattr(preflight.os, "geteuid", lambda: 0)
    monkeypatch.setattr(preflight.shutil, "which", lambda name: f"/usr/bin/{name}")
    monkeypatch.setattr(preflight.subprocess, "run", lambda command, **_: asked.append(command))
    monkeypatch.setattr(preflight, "NEEDS", (THERE,))
    call_command("preflight", install=True, stdout=StringIO())
    assert [command[2] for command in asked] == ["update", "install"]
    assert asked[1][-2:] == ["felt", "paste"]


def test_install_needs_root_on_debian(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(preflight, "missing", lambda: [GONE])
    monkeypatch.setattr(preflight.os, "geteuid", lambda: 1000)
    with pytest.raises(CommandError, match="root"):
        call_command("preflight", install=True, stdout=StringIO())


def test_install_that_fails_says_so(monkeypatch: pytest.MonkeyPatch) -> None:
    def fail(command: list[str], **_: Any) -> None:
        raise subprocess.CalledProcessError(100, command)

    monkeypatch.setattr(preflight, "missing", lambda: [GONE])
    monkeypatch.setattr(preflight.os, "geteuid", lambda: 0)
    monkeypatch.setattr(preflight.shutil, "which", lambda name: f"/usr/bin/{name}")
    monkeypatch.setattr(preflight.subprocess, "run", fail)
    with pytest.raises(CommandError, match="Not installed"):
        call_command("preflight", install=True, stdout=StringIO())


@pytest.mark.parametrize(
    ("version", "there"), [((3, 10), False), ((3, 11), True), ((3, 13), True), ((3, 14), False)]
)
def test_python_is_one_the_project_runs_on(
    monkeypatch: pytest.MonkeyPatch, version: tuple[int, int], there: bool
) -> None:
    monkeypatch.setattr(sys, "version_info", (*version, 0))
    assert bool(preflight.python_version()) == there


def test_missing_programs_are_seen(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    monkeypatch.setenv("PATH", str(tmp_path))
    assert preflight.redis_server() == ""
    assert preflight.chromium() == ""
