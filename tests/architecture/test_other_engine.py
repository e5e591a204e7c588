"""What is proven on PostgreSQL holds on SQLite, which most installations run."""

from __future__ import annotations

import os
import subprocess
import sys

import pytest

from tests.architecture.source import ROOT

ROOMS = [
    "ledger", "people", "errands", "paper", "tooling", "press", "quality", "watch", "bench", "loop", "boards", "bring",
]  # fmt: skip


@pytest.mark.slow
def test_the_rooms_tests_pass_on_sqlite() -> None:
    ours = ("PYTEST_", "FACEWRIGHT_", "DATABASE_URL")
    environment = {name: value for name, value in os.environ.items() if not name.startswith(ours)}
    done = subprocess.run(
        [sys.executable, "-m", "pytest", "-q", "-m", "not slow and not browser", *(f"tests/{room}" for room in ROOMS)],
        cwd=ROOT, env={**environment, "FACEWRIGHT_TEST_ENGINE": "sqlite"}, text=True, capture_output=True, check=False,
    )  # fmt: skip
    assert done.returncode == 0, done.stdout[-6000:] + done.stderr[-2000:]
