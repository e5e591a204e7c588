"""The source as the architecture tests read it."""

from __future__ import annotations

import ast
from functools import cache
from pathlib import Path

from django.conf import settings

ROOT = Path(settings.BASE_DIR)


def python_files(*roots: str) -> list[Path]:
    """Return the Python files under these directories, without migrations."""
    found = [path for root in roots for path in sorted((ROOT / root).rglob("*.py"))]
    return [path for path in found if "migrations" not in path.parts]


def templates() -> list[Path]:
    """Return every template of ours."""
    return sorted((ROOT / "templates").rglob("*.html"))


@cache
def tree(path: Path) -> ast.Module:
    """Return the file's syntax tree."""
    return ast.parse(path.read_text())


def here(path: Path) -> str:
    """Return the path as seen from the root of the project."""
    return str(path.relative_to(ROOT))
