"""`manage.py serve`: on loopback, with a worker that survives a kill."""

from __future__ import annotations

import os
import signal
import socket
import sys
import urllib.error
import urllib.request
from io import StringIO
from pathlib import Path
from typing import Any

import pytest
from django.core.management import call_command
from django.core.management.base import CommandError
from django.utils import timezone

from shop.errands import services
from shop.errands.models import Errand
from shop.people.models import Plant
from shop.site import work
from shop.site.management.commands import serve
from tests import machine
from tests.site.running import children, manage, once_there, running


def page(address: str) -> int | None:
    try:
        with urllib.request.urlopen(address, timeout=5) as answer:
            return int(answer.status)
    except urllib.error.URLError:
        return None


@pytest.mark.slow
@pytest.mark.django_db(transaction=True)
def test_killed_worker_comes_back_and_finishes_what_it_had_claimed(plant: Plant, tmp_path: Path) -> None:
    log, port = tmp_path / "serve.log", machine.free_port()
    with running(log, sys.executable, "manage.py", "serve", "--port", str(port), SECRET_KEY="x" * 60) as server:
        assert once_there(lambda: page(f"http://127.0.0.1:{port}/sign-in/"), log) == 200
        once_there(lambda: Errand.objects.filter(state="done").exists(), log)
        [child] = children(server.pid)
        os.kill(child, signal.SIGSTOP)  # so that it cannot finish what is claimed in its name
        services.put(kind=work.SWEEP, key="x", content={"plant": plant.pk}, at=timezone.now())
        assert services.claim(f"supervised {socket.gethostname()}", timezone.now())
        os.kill(child, signal.SIGKILL)
        errand = once_there(lambda: Errand.objects.filter(key="x", state="done").first(), log)
        [successor] = children(server.pid)
    assert successor != child
    assert errand.tries == 2
    assert not Path(f"/proc/{successor}").exists(), "the worker outlived its server"


@pytest.mark.slow
@pytest.mark.django_db(transaction=True)
def test_with_a_broker_no_worker_is_started(plant: Plant, tmp_path: Path) -> None:
    log, port = tmp_path / "serve.log", machine.free_port()
    command = [sys.executable, "manage.py", "serve", "--port", str(port)]
    with running(log, *command, BROKER_URL="redis://127.0.0.1:1/0") as server:
        assert once_there(lambda: page(f"http://127.0.0.1:{port}/sign-in/"), log) == 200
        assert children(server.pid) == []


@pytest.mark.parametrize("host", ["0.0.0.0", "192.168.1.20", "mould.example", "::"])
def test_plain_http_on_a_network_is_refused(host: str) -> None:
    with pytest.raises(CommandError, match=r"plain http.*HTTPS=1"):
        call_command("serve", host=host)


@pytest.mark.parametrize("host", ["127.0.0.1", "localhost", "::1", "[::1]", "127.0.0.5"])
def test_loopback_needs_no_proxy(host: str) -> None:
    serve.refuse_plain_http_on_a_network(host, behind_proxy=False)


def test_network_is_served_behind_a_proxy(settings: Any) -> None:
    serve.refuse_plain_http_on_a_network("0.0.0.0", behind_proxy=True)
    assert serve.believed_proxy("10.0.0.1")["trusted_proxy"] == "10.0.0.1"


@pytest.mark.django_db
def test_old_tables_are_refused(monkeypatch: pytest.MonkeyPatch) -> None:
    serve.refuse_old_tables()
    monkeypatch.setattr(serve.MigrationExecutor, "migration_plan", lambda *_: ["one to go"])
    with pytest.raises(CommandError, match="migrate"):
        call_command("serve", stdout=StringIO())


@pytest.mark.slow
def test_secret_key_is_made_once_and_kept_private(tmp_path: Path) -> None:
    environment = {"FACEWRIGHT_VAR": str(tmp_path), "SECRET_KEY": ""}
    show = ("shell", "-v", "0", "-c", "from django.conf import settings; print(settings.SECRET_KEY)")
    first, second = (manage(*show, **environment).stdout.strip() for _ in range(2))
    assert first == second
    assert len(first) > 50
    assert (tmp_path / "secret_key").stat().st_mode & 0o777 == 0o600
    assert [path.name for path in tmp_path.iterdir() if path.is_file()] == ["secret_key"]
