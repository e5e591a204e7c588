"""The priced windows: what waiting costs is seen, told apart without colour, and said in words."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise
from xml.etree import ElementTree

import pytest

from shop.picture import draw
from shop.picture.priced_windows import TOP, Gap, Priced, PricedWindows

SVG = "{http://www.w3.org/2000/svg}"
DAYS = tuple(float(day) for day in range(0, 57))
CHART = PricedWindows(
    days=DAYS,
    whole=tuple(8.0 - 0.1 * day + 0.003 * day**2 for day in DAYS),
    waiting=tuple(0.003 * day**2 for day in DAYS),
    names=("in all", "bad parts <here>"),
    gaps=(Gap(10, 14, "gap of the press"),),
    choices=(
        Priced(0, 8.0, "A", False, "A: now"),
        Priced(16, 7.17, "B", True, "B: the cheapest", "#choice-B"),
        Priced(56, 60.0, "C", False, "C: far too late"),
    ),
    marks=((0, "25 Nov"), (28, "23 Dec"), (56, "20 Jan")),
    prices=((0.0, "0 EUR"), (5.0, "5 EUR"), (500.0, "500 EUR")),
    text="what pulling costs",
)


def root(thing: object) -> ElementTree.Element:
    return ElementTree.fromstring(draw(thing))


def by_class(drawn: ElementTree.Element, *names: str) -> list[ElementTree.Element]:
    return [one for one in drawn.iter() if set(names) <= set((one.get("class") or "").split())]


def points(path: ElementTree.Element) -> list[tuple[float, float]]:
    steps = (path.get("d") or "").replace("L", "M").split("M")[1:]
    return [(float(step.split()[0]), float(step.split()[1])) for step in steps]


def test_picture_has_words_and_so_has_each_choice() -> None:
    drawn = root(CHART)
    assert drawn[0].text == "what pulling costs"
    assert [one[0].text for one in by_class(drawn, "choice")] == ["A: now", "B: the cheapest", "C: far too late"]
    (link,) = drawn.iter(f"{SVG}a")
    assert (link.get("href"), link.get("aria-label")) == ("#choice-B", "B: the cheapest")
    assert "bad parts <here>" in [one.text for one in drawn.iter(f"{SVG}text")]


def test_cheapest_has_a_shape_of_its_own() -> None:
    shapes = [one.tag.removeprefix(SVG) for one in by_class(root(CHART), "choice")]
    assert shapes == ["circle", "path", "circle"]


def test_dearer_is_higher_and_later_is_to_the_right() -> None:
    (whole,) = by_class(root(CHART), "whole", "curve")
    drawn = points(whole)
    assert len(drawn) == len(DAYS)
    assert [x for x, _y in drawn] == sorted(x for x, _y in drawn)
    lowest = max(range(len(drawn)), key=lambda place: drawn[place][1])
    assert DAYS[lowest] in (16.0, 17.0)


def test_lines_are_told_apart_without_colour() -> None:
    drawn = root(CHART)
    assert len(by_class(drawn, "curve")) == 2
    assert by_class(drawn, "curve", "waiting")


def test_choice_beyond_the_picture_is_held_at_its_top_and_marked() -> None:
    (beyond,) = by_class(root(CHART), "choice", "is-beyond")
    assert beyond[0].text == "C: far too late"
    assert float(beyond.get("cy") or 0) == pytest.approx(TOP)
    assert "500 EUR" not in [one.text for one in root(CHART).iter(f"{SVG}text")]


def test_curve_that_leaves_the_picture_is_not_drawn_over_its_edge() -> None:
    steep = replace(CHART, choices=(), whole=tuple(1.0 + day**3 for day in DAYS))
    (whole,) = by_class(root(steep), "whole", "curve")
    assert len(points(whole)) < len(DAYS)
    assert min(y for _x, y in points(whole)) >= TOP


def test_names_stand_where_their_lines_end_or_leave_the_picture() -> None:
    steep = replace(CHART, choices=(), whole=tuple(1.0 + day**3 for day in DAYS))
    drawn = root(steep)
    (whole,) = by_class(drawn, "curve", "whole")
    (name,) = by_class(drawn, "name", "whole")
    assert float(name.get("x") or 0) == pytest.approx(points(whole)[-1][0] + 10)
    heights = sorted(float(one.get("y") or 0) for one in by_class(root(CHART), "name"))
    assert heights[1] - heights[0] >= 14


@pytest.mark.parametrize("width", [760.0, 362.0])
def test_drawing_stays_inside_its_frame(width: float) -> None:
    drawn = root(replace(CHART, width=width))
    for curve in by_class(drawn, "curve"):
        assert all(0 <= x <= width for x, _y in points(curve))
    for words in drawn.iter(f"{SVG}text"):
        assert 0 <= float(words.get("x") or 0) <= width


def test_words_of_days_do_not_run_into_each_other() -> None:
    crowded = replace(CHART, marks=tuple((day, f"{int(day)} November") for day in DAYS), width=362.0)
    at = [float(one.get("x") or 0) for one in root(crowded).iter(f"{SVG}text") if "November" in (one.text or "")]
    assert 2 <= len(at) < 8
    assert all(later - earlier > 60 for earlier, later in pairwise(at))


def test_nothing_to_draw_is_a_drawing_still() -> None:
    assert root(PricedWindows((), (), (), ("in all", "bad parts"), text="nothing"))[0].text == "nothing"
