"""What the product and its tests need from the system, and the Debian package that brings it."""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

OLDEST_PYTHON, NEWEST_PYTHON = (3, 11), (3, 13)
CHROMIUM = ("chromium", "chromium-browser")


@dataclass(frozen=True)
class Need:
    """One thing that must be on the system; `there` returns where or which it is, or nothing."""

    name: str
    wanted_for: str
    packages: tuple[str, ...]
    there: Callable[[], str]


def python_version() -> str:
    """Return the version of the running Python where it is one that this project runs on."""
    return sys.version.split()[0] if OLDEST_PYTHON <= sys.version_info[:2] <= NEWEST_PYTHON else ""


def pango() -> str:
    """Return that the text layout library is there, tried by the program that uses it, in a process of its own."""
    tried = subprocess.run(
        [sys.executable, "-W", "ignore", "-c", "import weasyprint; print(weasyprint.__version__)"],
        capture_output=True,
        text=True,
        check=False,
    )
    return f"WeasyPrint {tried.stdout.strip()}" if tried.returncode == 0 else ""


def postgresql_binaries() -> Path | None:
    """Return the directory of the newest PostgreSQL server on this machine."""
    found = [path.parent for path in Path("/usr/lib/postgresql").glob("*/bin/initdb")]
    if found:
        return max(found, key=lambda path: int(path.parent.name.split(".")[0]))
    on_path = shutil.which("initdb")
    return Path(on_path).resolve().parent if on_path else None


def postgresql() -> str:
    """Return where the PostgreSQL server's programs are."""
    return str(postgresql_binaries() or "")


def redis_server() -> str:
    """Return where the Redis server is."""
    return shutil.which("redis-server") or ""


def chromium() -> str:
    """Return where Chromium is."""
    return next((path for name in CHROMIUM if (path := shutil.which(name))), "")


NEEDS = (
    Need("Python 3.11 to 3.13", "everything", ("python3", "python3-venv"), python_version),
    Need("Pango", "paper", ("libpango-1.0-0", "libpangoft2-1.0-0", "libharfbuzz-subset0"), pango),
    Need("PostgreSQL server", "tests", ("postgresql",), postgresql),
    Need("Redis server", "tests", ("redis-server",), redis_server),
    Need("Chromium", "tests", ("chromium",), chromium),
)


def missing(needs: tuple[Need, ...] = NEEDS) -> list[Need]:
    """Return what is not there."""
    return [need for need in needs if not need.there()]


def told(lacking: list[Need]) -> str:
    """Return in words what is missing and how to get it."""
    lines = [f"missing: {need.name} (for {need.wanted_for}); Debian: {' '.join(need.packages)}" for need in lacking]
    packages = " ".join(dict.fromkeys(package for need in lacking for package in need.packages))
    return "\n".join([*lines, f"install: apt-get install --no-install-recommends {packages}"])


def install(lacking: list[Need]) -> None:
    """Install what is missing with apt-get; only root on a Debian system can.

    Raises
    ------
    PermissionError
        When this is not Debian, or not root.
    subprocess.CalledProcessError
        When apt-get fails.
    """
    apt_get = shutil.which("apt-get")
    if apt_get is None or os.geteuid() != 0:
        raise PermissionError("installing needs Debian's apt-get and root")
    packages = dict.fromkeys(package for need in lacking for package in need.packages)
    # The servers are for the tests, which start their own: none is to begin running by being installed.
    quietly = {**os.environ, "DEBIAN_FRONTEND": "noninteractive", "RUNLEVEL": "1"}
    for command in (["update"], ["install", "-y", "--no-install-recommends", *packages]):
        subprocess.run([apt_get, "-q", *command], check=True, env=quietly)  # noqa: S603 (our own words)
