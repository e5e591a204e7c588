"""Serve the product, with its background worker beside it."""

from __future__ import annotations

import ipaddress
import os
import signal
import socket
import sys
from argparse import ArgumentParser
from contextlib import AbstractContextManager, nullcontext
from typing import Any

import waitress
from django.conf import settings
from django.core.management.base import BaseCommand, CommandError
from django.db import connection
from django.db.migrations.executor import MigrationExecutor

from shop.site.catalogues import compile_new
from shop.site.supervisor import Supervisor


class Command(BaseCommand):
    help = "Serve on loopback; on a network, behind a proxy that speaks https."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("--host", default="127.0.0.1")
        parser.add_argument("--port", type=int, default=8000)
        parser.add_argument("--threads", type=int, default=8)
        parser.add_argument("--behind-proxy", action="store_true", help="a proxy in front speaks https")
        parser.add_argument("--proxy", default="127.0.0.1", help="the proxy's address, whose headers are believed")

    def handle(self, *_: Any, **options: Any) -> None:
        behind_proxy = options["behind_proxy"] or settings.HTTPS
        refuse_plain_http_on_a_network(options["host"], behind_proxy)
        refuse_old_tables()
        compile_new()
        signal.signal(signal.SIGTERM, stop)
        from shop.site.wsgi import application

        with background():
            self.stdout.write(f"Facewright is at http://{options['host']}:{options['port']}/  (stop with Ctrl-C)")
            self.stdout.flush()
            waitress.serve(
                application,
                host=options["host"],
                port=options["port"],
                threads=options["threads"],
                ident=None,
                _quiet=True,
                **(believed_proxy(options["proxy"]) if behind_proxy else {"clear_untrusted_proxy_headers": True}),
            )


def refuse_plain_http_on_a_network(host: str, behind_proxy: bool) -> None:
    """Raise where people on a network would be served without https."""
    if not behind_proxy and not is_loopback(host):
        raise CommandError(
            f"{host} is open to the network, and this server speaks plain http: tablets refuse the sign-in cookie "
            "and the camera there, and anybody can read what goes by. Put a proxy in front that speaks https and set "
            "HTTPS=1 (or give --behind-proxy), or serve on 127.0.0.1."
        )


def is_loopback(host: str) -> bool:
    """Return whether only this machine can reach the address."""
    try:
        return ipaddress.ip_address(host.strip("[]")).is_loopback
    except ValueError:
        return host == "localhost"


def refuse_old_tables() -> None:
    """Raise where the database is not at the state that this version of the program needs."""
    executor = MigrationExecutor(connection)
    if executor.migration_plan(executor.loader.graph.leaf_nodes()):
        raise CommandError("The database is not up to date: run `manage.py migrate` first.")


def background() -> AbstractContextManager[object]:
    """Return the worker to keep beside the server; where there is a broker, Celery's workers do the work."""
    if settings.BROKER_URL:
        return nullcontext()
    manage = str(settings.BASE_DIR / "manage.py")
    name, parent = f"supervised {socket.gethostname()}", str(os.getpid())
    return Supervisor([sys.executable, manage, "work", "--name", name, "--parent", parent])


def believed_proxy(address: str) -> dict[str, Any]:
    """Return how waitress is told whose forwarded headers count."""
    return {
        "trusted_proxy": address,
        "trusted_proxy_count": 1,
        "trusted_proxy_headers": {"x-forwarded-for", "x-forwarded-proto", "x-forwarded-host"},
        "clear_untrusted_proxy_headers": True,
    }


def stop(*_: object) -> None:
    """Leave the server's loop, so that what was started is ended."""
    raise SystemExit(0)
