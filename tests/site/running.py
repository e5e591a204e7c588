"""The product running as processes of their own, on the test's own database."""

from __future__ import annotations

import os
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TypeVar
from urllib.parse import quote

from django.conf import settings
from django.db import connection

Found = TypeVar("Found")
PATIENCE_SECONDS = 60


def environment(**more: str) -> dict[str, str]:
    """Return the environment in which another process meets this test's database."""
    named = connection.settings_dict
    url = f"sqlite:///{named['NAME']}"
    if connection.vendor == "postgresql":
        url = f"postgres://{named['USER']}@{quote(named['HOST'], safe='')}/{named['NAME']}"
    return {**os.environ, "DATABASE_URL": url, "PYTHONUNBUFFERED": "1", **more}


def manage(*arguments: str, **more: str) -> subprocess.CompletedProcess[str]:
    """Run a command of the product to its end."""
    return subprocess.run(
        [sys.executable, "manage.py", *arguments],
        cwd=settings.BASE_DIR, env=environment(**more), text=True, capture_output=True, check=False,
    )  # fmt: skip


@contextmanager
def running(log: Path, *command: str, **more: str) -> Iterator[subprocess.Popen[bytes]]:
    """Have a process running; it is told to end at the end, and must."""
    with log.open("wb") as out:
        process = subprocess.Popen(command, cwd=settings.BASE_DIR, env=environment(**more), stdout=out, stderr=out)
    try:
        yield process
    finally:
        process.terminate()
        try:
            process.wait(30)
        finally:
            process.kill()
            process.wait()


def once_there(look: Callable[[], Found | None], log: Path) -> Found:
    """Return what `look` finds as soon as it finds something; fail with the log if it never does."""
    deadline = time.monotonic() + PATIENCE_SECONDS
    while not (found := look()):
        assert time.monotonic() < deadline, log.read_text()
        # Between two looks at another process; what is found decides, not the time.
        time.sleep(0.05)
    return found


def children(pid: int) -> list[int]:
    """Return the processes that this one has started."""
    return [int(child) for child in Path(f"/proc/{pid}/task/{pid}/children").read_text().split()] + [
        int(child)
        for task in Path(f"/proc/{pid}/task").iterdir()
        if task.name != str(pid)
        for child in (task / "children").read_text().split()
    ]
