"""The pure core says of every public function where it comes from and in which units it counts."""

from __future__ import annotations

import importlib
import inspect
import pkgutil
import re
from collections.abc import Callable, Iterator
from typing import Any

import pytest

# What the core computes needs a source; what units and picture do is said by their names and needs a docstring.
WITH_REFERENCES = ("shop.standards", "shop.drift", "shop.craft")
WITH_DOCSTRING = (*WITH_REFERENCES, "shop.picture", "shop.units", "shop.refusal")
NUMERIC = re.compile(r"\b(float|int|Decimal|ArrayLike|Floats|Ints)\b")


def modules(packages: tuple[str, ...]) -> Iterator[str]:
    for name in packages:
        package = importlib.import_module(name)
        yield name
        for found in pkgutil.walk_packages(getattr(package, "__path__", []), prefix=f"{name}."):
            yield found.name


def public_functions(packages: tuple[str, ...]) -> Iterator[tuple[str, Callable[..., Any]]]:
    for name in modules(packages):
        module = importlib.import_module(name)
        for own_name, thing in vars(module).items():
            if own_name.startswith("_") or getattr(thing, "__module__", None) != name:
                continue
            if inspect.isfunction(thing):
                yield f"{name}.{own_name}", thing
            elif inspect.isclass(thing):
                for method_name, method in vars(thing).items():
                    if inspect.isfunction(method) and not method_name.startswith("_"):
                        yield f"{name}.{own_name}.{method_name}", method


def described(docstring: str) -> dict[str, str]:
    """Return each parameter of a numpydoc docstring with the text that describes it."""
    section = re.search(r"^Parameters\n-+\n(.*?)(?=^\w+\n-+\n|\Z)", docstring, re.DOTALL | re.MULTILINE)
    found: dict[str, str] = {}
    names: list[str] = []
    for line in section.group(1).splitlines() if section else []:
        heading = re.match(r"(\w[\w, ]*) :", line)
        if heading:
            names = [name.strip() for name in heading.group(1).split(",")]
        for name in names:
            found[name] = found.get(name, "") + line + "\n"
    return found


SOURCED = dict(public_functions(WITH_REFERENCES))
DESCRIBED = dict(public_functions(WITH_DOCSTRING))


def test_the_walk_finds_the_core() -> None:
    assert {"shop.standards.roughness.vdi3400_ra_um", "shop.drift.crossing.Crossing.shots_at"} <= SOURCED.keys()
    assert "shop.units.show" in DESCRIBED


@pytest.mark.parametrize("name", DESCRIBED)
def test_core_function_says_what_it_does(name: str) -> None:
    assert inspect.getdoc(DESCRIBED[name]), f"{name} has no docstring"


@pytest.mark.parametrize("name", SOURCED)
def test_core_function_names_its_references(name: str) -> None:
    assert "References\n----------" in (inspect.getdoc(SOURCED[name]) or ""), f"{name} has no References section"


@pytest.mark.parametrize("name", SOURCED)
def test_core_function_gives_the_unit_of_every_number(name: str) -> None:
    parameters = described(inspect.getdoc(SOURCED[name]) or "")
    without = [
        parameter.name
        for parameter in inspect.signature(SOURCED[name]).parameters.values()
        if NUMERIC.search(str(parameter.annotation))
        and not re.search(r"\[[^\]]+\]", parameters.get(parameter.name, ""))
    ]
    assert not without, f"{name} gives no unit in brackets for {', '.join(without)}"


def test_walk_reads_parameters_that_share_a_line() -> None:
    docstring = (
        "Do.\n\nParameters\n----------\nlower, upper : float\n    The limits. [um]\n\n"
        "Returns\n-------\nfloat\n    It. [1]\n"
    )
    assert {name: "[um]" in text for name, text in described(docstring).items()} == {"lower": True, "upper": True}
