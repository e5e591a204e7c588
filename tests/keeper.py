"""Run one server and end it when whoever asked for it ends, however that happens. Started by tests.machine."""

from __future__ import annotations

import json
import shutil
import signal
import subprocess
import sys


def main() -> None:
    """Run the command given as JSON until standard input closes, then stop it and remove its directory."""
    wish = json.loads(sys.argv[1])
    with open(wish["log"], "wb") as log:
        server = subprocess.Popen(wish["command"], stdout=log, stderr=log, stdin=subprocess.DEVNULL, user=wish["user"])
    print(server.pid, flush=True)
    try:
        sys.stdin.read()
    finally:
        server.send_signal(signal.SIGINT)
        try:
            server.wait(10)
        except subprocess.TimeoutExpired:
            server.kill()
            server.wait()
        shutil.rmtree(wish["directory"], ignore_errors=True)


if __name__ == "__main__":
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    signal.signal(signal.SIGTERM, signal.SIG_IGN)
    main()
