"""What is installed is what the constraints say."""

from __future__ import annotations

import re
import tomllib
from importlib.metadata import PackageNotFoundError, requires, version
from pathlib import Path

import pytest
from django.conf import settings
from packaging.requirements import Requirement
from packaging.utils import canonicalize_name

ROOT = Path(settings.BASE_DIR)
PINS = [Requirement(line) for line in (ROOT / "constraints.txt").read_text().splitlines()]
APPLY = {canonicalize_name(pin.name): pin for pin in PINS if pin.marker is None or pin.marker.evaluate()}
PROJECT = tomllib.loads((ROOT / "pyproject.toml").read_text())
DECLARED = [
    Requirement(line)
    for line in PROJECT["project"]["dependencies"] + PROJECT["project"]["optional-dependencies"]["test"]
]


def needed() -> set[str]:
    """Return every package that the declared ones bring along on this machine."""
    found: set[str] = set()
    waiting = [(requirement.name, frozenset(requirement.extras)) for requirement in DECLARED]
    while waiting:
        name, extras = waiting.pop()
        found.add(canonicalize_name(name))
        for line in requires(name) or []:
            brought = Requirement(line)
            wanted = brought.marker is None or any(
                brought.marker.evaluate({"extra": extra}) for extra in (*extras, "")
            )
            if wanted and canonicalize_name(brought.name) not in found:
                waiting.append((brought.name, frozenset(brought.extras)))
    return found


def test_every_pin_is_exact_and_names_no_address() -> None:
    assert len(PINS) > 40
    for pin in PINS:
        assert re.fullmatch(r"==[^*=]+", str(pin.specifier)), pin
        assert pin.url is None


@pytest.mark.parametrize("name", sorted(needed()))
def test_package_is_installed_as_pinned(name: str) -> None:
    assert name in APPLY, f"{name} is needed and not pinned"
    installed = version(name)
    assert APPLY[name].specifier.contains(installed), f"{name} {installed} is installed, {APPLY[name]} is pinned"


def test_build_backend_is_pinned_too() -> None:
    assert all(re.search(r"==[\d.]+$", line) for line in PROJECT["build-system"]["requires"])


def test_every_dependency_says_why_it_is_there() -> None:
    source = (ROOT / "pyproject.toml").read_text()
    for requirement in DECLARED:
        assert re.search(rf'"{re.escape(requirement.name)}[^"]*",\s+# \w+', source), requirement.name


def test_no_pin_is_left_over() -> None:
    gone = []
    for name in APPLY:
        try:
            version(name)
        except PackageNotFoundError:
            gone.append(name)
    assert not gone
