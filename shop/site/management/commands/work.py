"""Do errands until told to stop: the background worker of an installation without a broker."""

from __future__ import annotations

import os
import signal
import socket
import threading
from argparse import ArgumentParser
from typing import Any

from django.core.management.base import BaseCommand
from django.db import close_old_connections
from django.utils import timezone

from shop.errands.services import free_claims_of
from shop.site import work
from shop.site.catalogues import compile_new


class Command(BaseCommand):
    help = "Do errands as they come, and put the night's sweeps. `serve` starts this by itself."
    requires_system_checks: list[str] = []

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("--name", default=f"worker {socket.gethostname()}", help="under which errands are claimed")
        parser.add_argument("--poll", type=float, default=2.0, help="seconds between looks at what waits")
        parser.add_argument("--parent", type=int, default=0, help="end when this process is no longer the parent")

    def handle(self, *_: Any, **options: Any) -> None:
        compile_new()
        ending = threading.Event()
        for number in (signal.SIGTERM, signal.SIGINT):
            signal.signal(number, lambda *_: ending.set())
        # Whoever worked under this name before is dead, or this process would not have been started.
        free_claims_of(options["name"], timezone.now())
        while not ending.is_set() and options["parent"] in (0, os.getppid()):
            close_old_connections()
            work.put_due_sweeps(timezone.now())
            work.drain(options["name"], ending.is_set)
            ending.wait(options["poll"])
