"""Keep one child process at work: start it, start it again when it dies, stop it at the end."""

from __future__ import annotations

import logging
import subprocess
import threading
import time
from collections.abc import Sequence

FIRST_PAUSE_SECONDS, LONGEST_PAUSE_SECONDS = 0.5, 60.0
LIVED_WELL_SECONDS = 60.0
log = logging.getLogger(__name__)


class Supervisor:
    """One child process that is there as long as this object is in use."""

    def __init__(self, command: Sequence[str]) -> None:
        self.command = list(command)
        self.child: subprocess.Popen[bytes] | None = None
        self._ending = threading.Event()
        self._thread = threading.Thread(target=self._keep, name="supervisor", daemon=True)

    def __enter__(self) -> Supervisor:
        self._thread.start()
        return self

    def __exit__(self, *_: object) -> None:
        self._ending.set()
        self._thread.join()

    def _keep(self) -> None:
        pause = FIRST_PAUSE_SECONDS
        while not self._ending.is_set():
            began = time.monotonic()
            self.child = subprocess.Popen(self.command)  # noqa: S603 (our own command)
            self._watch(self.child)
            if self._ending.is_set():
                return
            lived_well = time.monotonic() - began > LIVED_WELL_SECONDS
            pause = FIRST_PAUSE_SECONDS if lived_well else min(pause * 2, LONGEST_PAUSE_SECONDS)
            log.warning("The worker ended with %s; it starts again in %s s", self.child.returncode, pause)
            self._ending.wait(pause)

    def _watch(self, child: subprocess.Popen[bytes]) -> None:
        while child.poll() is None:
            if self._ending.wait(0.2):
                child.terminate()
                try:
                    child.wait(10)
                except subprocess.TimeoutExpired:
                    child.kill()
                    child.wait()
