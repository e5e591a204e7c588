"""Making the demo's files: the seeded script in `fixtures/demo` is run, and what it wrote is read."""

from __future__ import annotations

import json
import subprocess
import sys
from dataclasses import dataclass
from datetime import date
from pathlib import Path
from typing import Any

from django.conf import settings

from shop.people.passwords import made_up


@dataclass(frozen=True)
class Files:
    """Where the files are, what the plant has before anything happens, and what happens beside the rows."""

    folder: Path
    told: dict[str, Any]
    events: list[dict[str, Any]]

    def content(self, name: str) -> bytes:
        """Return the bytes of one CSV file."""
        return (self.folder / f"{name}.csv").read_bytes()


def make_files(end: date) -> Files:
    """Run the script for two years that end on that day, and return what it made."""
    script = Path(settings.BASE_DIR) / "fixtures" / "demo" / "make.py"
    folder = Path(settings.VAR) / "demo"
    command = [sys.executable, str(script), "--end", end.isoformat(), "--out", str(folder)]
    subprocess.run(command, check=True, capture_output=True)  # noqa: S603 - our own script, our own arguments
    return Files(folder, _json(folder / "plant.json"), _json(folder / "events.json"))


def _json(path: Path) -> Any:
    return json.loads(path.read_text(encoding="utf-8"))


def password() -> str:
    """Return the password that the demo's people share; it is made once for each installation and kept privately."""
    kept = Path(settings.VAR) / "demo" / "password"
    if not kept.exists():
        kept.parent.mkdir(parents=True, exist_ok=True)
        kept.touch(mode=0o600)
        kept.write_text(made_up())
    return kept.read_text()
