"""A machine of the tests' own: PostgreSQL, Redis, a directory for what the product keeps. A pytest plugin.

It is loaded with `-p tests.machine` before Django reads its settings. Under xdist the controller starts PostgreSQL
once and the workers, which inherit its environment, use it with a database each.
"""

from __future__ import annotations

import json
import os
import pwd
import shutil
import signal
import socket
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from urllib.parse import quote

import pytest

from shop.site import preflight

KEEPER = Path(__file__).with_name("keeper.py")
ENGINE = os.environ.get("FACEWRIGHT_TEST_ENGINE", "postgresql")
STARTED = "FACEWRIGHT_TEST_MACHINE"
PATIENCE_SECONDS = 60


class Kept:
    """A server in a directory of its own, kept by a process that ends it when this one ends in whatever way."""

    def __init__(self, command: list[str], directory: Path, user: str | None = None) -> None:
        self.log = directory / "server.log"
        wish = {"command": command, "directory": str(directory), "log": str(self.log), "user": user}
        self.keeper = subprocess.Popen(
            [sys.executable, str(KEEPER), json.dumps(wish)],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            text=True,
            start_new_session=True,
        )
        assert self.keeper.stdout is not None
        self.pid = int(self.keeper.stdout.readline())

    def wait_until(self, answers: Callable[[], bool]) -> None:
        """Return once the server answers; raise with its log if it does not."""
        deadline = time.monotonic() + PATIENCE_SECONDS
        while not answers():
            if time.monotonic() > deadline or not Path(f"/proc/{self.pid}").exists():
                said = self.log.read_text()
                self.stop()
                raise RuntimeError(f"The server did not come up:\n{said}")
            # Between two looks at a server that cannot tell us when it is up; the deadline above ends it.
            time.sleep(0.02)

    def stop(self) -> None:
        """End the server and wait for its end."""
        assert self.keeper.stdin is not None
        assert self.keeper.stdout is not None
        self.keeper.stdin.close()
        self.keeper.wait()
        self.keeper.stdout.close()


def start_postgresql() -> tuple[Kept, str]:
    """Start a PostgreSQL server that listens on a socket in its own directory; return it and its address."""
    binaries = preflight.postgresql_binaries()
    assert binaries is not None
    # As root the server refuses to run: it runs as the account that its package made.
    user = "postgres" if os.geteuid() == 0 else None
    directory = Path(tempfile.mkdtemp(prefix="facewright-pg-", dir="/tmp"))
    if user:
        account = pwd.getpwnam(user)
        os.chown(directory, account.pw_uid, account.pw_gid)
    data = directory / "data"
    subprocess.run(
        [binaries / "initdb", "-D", data, "-U", "facewright", "-A", "trust", "-E", "UTF8", "--locale=C.UTF-8",
         "--no-sync"],
        check=True, capture_output=True, user=user, cwd=directory,
    )  # fmt: skip
    settings = {
        "listen_addresses": "", "unix_socket_directories": str(directory), "fsync": "off", "jit": "off",
        "synchronous_commit": "off", "full_page_writes": "off", "max_connections": "80", "autovacuum": "off",
    }  # fmt: skip
    options = [part for name, value in settings.items() for part in ("-c", f"{name}={value}")]
    server = Kept([str(binaries / "postgres"), "-D", str(data), *options], directory, user)
    ready = [str(binaries / "pg_isready"), "-q", "-h", str(directory), "-U", "facewright", "-d", "postgres"]
    server.wait_until(lambda: subprocess.run(ready, check=False).returncode == 0)
    return server, f"postgres://facewright@{quote(str(directory), safe='')}/facewright"


def start_redis() -> tuple[Kept, str]:
    """Start a Redis server on a free port of loopback; return it and its address."""
    for _attempt in range(5):
        port = free_port()
        directory = Path(tempfile.mkdtemp(prefix="facewright-redis-"))
        server = Kept(
            ["redis-server", "--port", str(port), "--bind", "127.0.0.1", "--save", "", "--appendonly", "no",
             "--dir", str(directory)],
            directory,
        )  # fmt: skip
        try:
            server.wait_until(lambda port=port: answers(port))  # type: ignore[misc]
        except RuntimeError:
            continue  # somebody else took the port between our look and its start
        return server, f"redis://127.0.0.1:{port}/0"
    raise RuntimeError("Redis found no free port in five attempts.")


def free_port() -> int:
    """Return a port of loopback that nobody listens on."""
    with socket.socket() as trial:
        trial.bind(("127.0.0.1", 0))
        port: int = trial.getsockname()[1]
    return port


def answers(port: int) -> bool:
    """Return whether something listens on this port of loopback."""
    with socket.socket() as trial:
        trial.settimeout(1)
        return trial.connect_ex(("127.0.0.1", port)) == 0


class Machine:
    """What one run of pytest has started, and stops."""

    def __init__(self) -> None:
        if lacking := preflight.missing():
            raise pytest.UsageError(
                f"The tests need more of this system.\n{preflight.told(lacking)}\n"
                "or, as root on Debian: python manage.py preflight --install"
            )
        self.directory = Path(tempfile.mkdtemp(prefix="facewright-test-"))
        self.postgresql: Kept | None = None
        environment = {
            STARTED: str(os.getpid()),
            "FACEWRIGHT_VAR": str(self.directory),
            "SECRET_KEY": "only for tests " * 4,
            "DATABASE_URL": f"sqlite:///{self.directory / 'facewright.sqlite3'}",
        }
        if ENGINE == "postgresql":
            self.postgresql, environment["DATABASE_URL"] = start_postgresql()
        for name in ("DEBUG", "HTTPS", "BROKER_URL", "ALLOWED_HOSTS", "CSRF_TRUSTED_ORIGINS", "LOG_LEVEL"):
            os.environ.pop(name, None)
        os.environ.update(environment)
        # Told to end, pytest is to end as it does on Ctrl-C, with everything stopped.
        signal.signal(signal.SIGTERM, signal.default_int_handler)

    def stop(self) -> None:
        """End the servers and remove what the product kept."""
        if self.postgresql:
            self.postgresql.stop()
        shutil.rmtree(self.directory, ignore_errors=True)
        del os.environ[STARTED]


_machines: list[Machine] = []


@pytest.hookimpl(wrapper=True, tryfirst=True)
def pytest_load_initial_conftests() -> Iterator[None]:
    """Have the machine up before pytest-django reads the settings."""
    if STARTED not in os.environ:
        _machines.append(Machine())
    return (yield)


def pytest_unconfigure() -> None:
    """Stop what this process started."""
    while _machines:
        _machines.pop().stop()
