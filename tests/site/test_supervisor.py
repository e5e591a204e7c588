"""A child process is kept: started again when it dies, ended at the end."""

from __future__ import annotations

import signal
import sys
from pathlib import Path

import pytest

from shop.site import supervisor
from shop.site.supervisor import Supervisor
from tests.site.running import once_there

STUBBORN = "import pathlib, signal, sys, time; signal.signal(signal.SIGTERM, signal.SIG_IGN);"


@pytest.fixture
def said(tmp_path: Path) -> Path:
    path = tmp_path / "said"
    path.touch()
    return path


def says_its_number(said: Path, then: str) -> list[str]:
    return [sys.executable, "-c", f"import os, time; open({str(said)!r}, 'a').write(f'{{os.getpid()}}\\n'); {then}"]


def test_child_that_dies_is_started_again(said: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(supervisor, "FIRST_PAUSE_SECONDS", 0.01)
    with Supervisor(says_its_number(said, "raise SystemExit(3)")):
        numbers = once_there(lambda: said.read_text().split()[2:], said)
    assert numbers


def test_child_is_ended_at_the_end(said: Path) -> None:
    with Supervisor(says_its_number(said, "time.sleep(600)")) as kept:
        once_there(lambda: said.read_text().strip(), said)
    assert kept.child is not None
    assert kept.child.returncode == -signal.SIGTERM


def test_pause_grows_while_the_child_keeps_dying(said: Path, caplog: pytest.LogCaptureFixture) -> None:
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(supervisor, "FIRST_PAUSE_SECONDS", 0.01)
        with Supervisor(says_its_number(said, "raise SystemExit(3)")):
            once_there(lambda: len(caplog.records) >= 3, said)
    pauses = [record.args[1] for record in caplog.records[:3] if isinstance(record.args, tuple)]
    assert pauses == [0.02, 0.04, 0.08]
