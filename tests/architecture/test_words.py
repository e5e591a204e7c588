"""Whatever is shown can be translated: what templates show as `marked`, what is refused, what may be chosen."""

from __future__ import annotations

import ast
import itertools
import re
from collections.abc import Iterator
from functools import cache

import pytest
from django.apps import apps
from django.utils.functional import Promise

from shop.bench.models import Work
from shop.craft.media import STOCKED
from shop.craft.routes import RouteAsk, plan_route
from shop.site.catalogues import marked
from shop.standards.source import NAMES, STANDING_LABELS
from shop.standards.tables import every_value
from shop.tooling.models import HowMade, Insert
from tests.architecture.source import here, python_files, tree

WORD = re.compile(r"[^\W\d_]{3,}")
# Names of standards and their rules, paper sizes, and the states of errands, which nobody is shown.
SAME_EVERYWHERE = {
    "A4", "Letter", "VDI 3400", "ISO 4288:1996", "ISO 21920-3:2021", "ASME B46.1", "16 %", "Tmax", "T16", "Tmed",
    "Waiting", "Claimed", "Done", "Failed",
}  # fmt: skip
# A blast's own values, after its grade: D-1: 100 psi, 8 in, 5 s.
VALUES = re.compile(r"[A-D]-[1-3]|D-[1-3]: \d+ psi, \d+ in, \d+ s|FEPA [FP]|CAMI|um|\d+|")


@cache
def texts() -> set[str]:
    return {text for _context, text in marked()}


def asked() -> Iterator[RouteAsk]:
    """Every kind of route that can be asked for."""
    for how, work, coating, code, put_back, steel in itertools.product(
        HowMade.values,
        Work.values,
        ("", *Insert.Coating.values),
        ("", "A-2", "D-2"),
        ("", "etched"),
        ("1.2343", "2.1247"),
    ):
        yield RouteAsk(
            how_made=how, work=work, put_back=put_back, scale="mould finish grade", target_code=code, steel=steel,
            coating=coating, area_cm2=20.0, target_ra_um=1.0, pattern_depth_um=20.0, micro_matt=bool(code),
            white_layer=not code,
        )  # fmt: skip


def test_every_word_of_a_route_is_marked() -> None:
    said: set[str] = set()
    for ask in asked():
        route = plan_route(ask, STOCKED)
        said.update(*(({step.kind, step.medium, step.grading, step.direction, step.target}) for step in route.steps))
        said.update(route.cautions, route.notes)
    assert len(said) > 40
    assert sorted(word for word in said if not VALUES.fullmatch(word) and word not in texts()) == []


def test_what_is_said_of_a_source_is_marked() -> None:
    sources = {value.source for value in every_value()}
    # A standard's number is the same everywhere; a title in words is not.
    titles = {source.title for source in sources if re.search(r"\b[a-z]{4,}", source.title)}
    notes = {source.note for source in sources} - {""}
    assert len(titles) > 10
    assert len(notes) > 10
    assert sorted({*titles, *notes, *STANDING_LABELS.values()} - texts()) == []


@pytest.mark.parametrize("model", [one for one in apps.get_models() if one.__module__.startswith("shop.")], ids=str)
def test_whatever_may_be_chosen_can_be_translated(model: object) -> None:
    fields = model._meta.get_fields()  # type: ignore[attr-defined]
    offered = [label for field in fields for _value, label in getattr(field, "flatchoices", ())]
    assert [str(label) for label in offered if not isinstance(label, Promise) and label not in SAME_EVERYWHERE] == []


@pytest.mark.parametrize("path", python_files("shop"), ids=here)
def test_what_is_refused_or_kept_to_be_said_is_marked(path: object) -> None:
    bare = [
        f"line {text.lineno}: {text.value!r}"
        for node in ast.walk(tree(path))  # type: ignore[arg-type]
        if isinstance(node, ast.Call) and getattr(node.func, "id", "") in ("Refused", "Saying")
        for text in [*node.args[1:2], *(word.value for word in node.keywords if word.arg == "next_step")]
        if isinstance(text, ast.Constant) and isinstance(text.value, str) and WORD.search(text.value)
    ]
    assert bare == []


@pytest.mark.parametrize("path", python_files("shop/standards", "shop/craft"), ids=here)
def test_what_a_refusal_calls_a_number_is_marked(path: object) -> None:
    named = {
        text.value
        for node in ast.walk(tree(path))  # type: ignore[arg-type]
        if isinstance(node, ast.Call) and getattr(node.func, "id", "") in ("need_number", "not_in_table")
        for text in node.args[:2]
        if isinstance(text, ast.Constant) and isinstance(text.value, str) and re.search("[a-z]{3}", text.value)
    }
    assert {name for name in named if not name.startswith("VDI")} <= NAMES
