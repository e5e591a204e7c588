"""The checks that the project sets itself, each run as a newcomer would run it."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest

from tests.architecture.source import ROOT

BINARIES = Path(sys.executable).parent


def run(*command: str, **environment: str) -> subprocess.CompletedProcess[str]:
    """Run a command at the root of the project."""
    program = str(BINARIES / command[0]) if (BINARIES / command[0]).exists() else command[0]
    return subprocess.run(
        [program, *command[1:]], cwd=ROOT, text=True, capture_output=True, check=False,
        env={**os.environ, **environment},
    )  # fmt: skip


@pytest.mark.parametrize(
    "command",
    [
        ("lint-imports", "--no-cache"),
        ("ruff", "check"),
        ("mypy",),
        ("python", "manage.py", "makemigrations", "--check", "--dry-run"),
    ],
    ids=" ".join,
)
def test_check_passes(command: tuple[str, ...]) -> None:
    done = run(*command)
    assert done.returncode == 0, done.stdout[-8000:] + done.stderr[-2000:]


def test_check_for_deployment_passes_on_https() -> None:
    done = run(
        "python", "-W", "error", "manage.py", "check", "--deploy", "--fail-level", "WARNING",
        HTTPS="1", SECRET_KEY="0123456789abcdefghijklmnopqrstuvwxyz-ABCDEFGHIJKLMNOPQRSTUVWXYZ",
    )  # fmt: skip
    assert done.returncode == 0, done.stdout + done.stderr


def test_check_for_deployment_is_red_without_https() -> None:
    assert run("python", "manage.py", "check", "--deploy", "--fail-level", "WARNING").returncode != 0


@pytest.mark.parametrize(
    ("room", "line"),
    [("drift", "import django"), ("ledger", "import shop.people"), ("craft", "from datetime import date")],
)
def test_an_import_that_points_up_or_out_is_red(tmp_path: Path, room: str, line: str) -> None:
    subprocess.run(["cp", "-r", ROOT / "shop", ROOT / "pyproject.toml", tmp_path], check=True)
    (tmp_path / "shop" / room / "sinner.py").write_text(f"{line}\n")
    done = subprocess.run(
        [BINARIES / "lint-imports", "--no-cache"],
        cwd=tmp_path, text=True, capture_output=True, check=False, env={**os.environ, "PYTHONPATH": str(tmp_path)},
    )  # fmt: skip
    assert done.returncode == 1, done.stdout
    assert "BROKEN" in done.stdout
