"""Charts of studies: every value in its place, people told apart without colour, words for who cannot see them."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise
from xml.etree import ElementTree

import pytest

from shop.picture import draw
from shop.picture.study_chart import DASHES, AgreementMatrix, Rule, StudyChart

SVG = "{http://www.w3.org/2000/svg}"
CHART = StudyChart(
    ("1", "2", "3"), ("Ana", "<Ben>"), ((0.5, 1.5, -1.0), (0.6, 1.2, -0.8)),
    (Rule(0.2, "limit 0.2"), Rule(0.0, "mean 0", is_limit=False)), ((1, 1),), "averages by person",
)  # fmt: skip
MATRIX = AgreementMatrix(("Ana", "Ben"), ((1.0, 0.4), (0.4, None)), "Kappa of each two")


def root(thing: object) -> ElementTree.Element:
    return ElementTree.fromstring(draw(thing))


def by_class(drawn: ElementTree.Element, name: str) -> list[ElementTree.Element]:
    return [one for one in drawn.iter() if name in (one.get("class") or "").split()]


def test_chart_is_a_picture_with_words() -> None:
    for thing, words in ((CHART, "averages by person"), (MATRIX, "Kappa of each two")):
        drawn = root(thing)
        assert drawn.get("role") == "img"
        assert drawn[0].text == words


def test_people_are_told_apart_by_mark_and_dash() -> None:
    many = replace(CHART, people=tuple("ABCDEF"), values=CHART.values * 3, marked=())
    lines = by_class(root(many), "person")
    assert {one.get("stroke-dasharray") for one in lines} == set(DASHES)
    shapes = {(one.get("d") or "").split("m", 1)[1] for one in by_class(root(many), "mark-of")}
    assert len(shapes) == 6


def test_higher_value_is_drawn_higher_and_the_marked_one_is_ringed() -> None:
    drawn = root(CHART)
    line = by_class(drawn, "person")[2].get("d") or ""
    heights = [float(point.split()[1]) for point in line[1:].split("L")]
    assert heights[1] < heights[0] < heights[2]
    ring = by_class(drawn, "marked")
    assert len(ring) == 1
    assert ring[0][0].text == "<Ben>, 2"


@pytest.mark.parametrize("width", [720.0, 362.0])
@pytest.mark.parametrize("parts", [2, 10, 60])
def test_words_stay_inside_the_drawing_and_apart(width: float, parts: int) -> None:
    names = tuple(f"part {n}" for n in range(parts))
    values = tuple(tuple(float(n % 7) for n in range(parts)) for _person in range(12))
    people = tuple(f"Somebody with a long name {n}" for n in range(12))
    drawn = root(replace(CHART, parts=names, people=people, values=values, marked=(), width=width))
    below = [float(one.get("x", 0)) for one in by_class(drawn, "soft") if (one.text or "").startswith("part")]
    assert all(after - before > 30 for before, after in pairwise(below))
    for one in drawn.iter(f"{SVG}text"):
        assert 0 <= float(one.get("x", 0)) <= width
        wide = 6 * len(one.text or "")
        assert float(one.get("x", 0)) + (wide if one.get("text-anchor") is None else 0) <= width + 6


@pytest.mark.parametrize("values", [((1.0, 1.0, 1.0), (1.0, 1.0, 1.0)), ((0.0, 0.0, 0.0), (0.0, 0.0, 0.0))])
def test_chart_of_equal_values_is_drawn(values: tuple[tuple[float, ...], ...]) -> None:
    drawn = draw(replace(CHART, values=values, rules=(), marked=()))
    assert "nan" not in drawn
    assert by_class(ElementTree.fromstring(drawn), "mark-of")


def test_decimal_comma_is_the_readers() -> None:
    assert ">0,5<" in draw(replace(CHART, comma=True))
    assert ">0,40<" in draw(replace(MATRIX, comma=True))


def test_square_is_as_full_as_kappa_and_empty_where_there_is_none() -> None:
    drawn = root(MATRIX)
    heights = [float(one.get("height", 0)) for one in by_class(drawn, "full")]
    assert heights == pytest.approx([66.0, 26.4, 26.4])
    assert [one.text for one in by_class(drawn, "kappa")] == ["1.00", "0.40", "0.40", "–"]
    assert not by_class(root(replace(MATRIX, kappas=((-0.5, 0.0), (0.0, None)))), "full")
