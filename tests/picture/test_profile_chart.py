"""The picture of a profile: as many points as pixel columns, its marks round, its colours by class."""

from __future__ import annotations

import dataclasses
import math
import xml.etree.ElementTree as ET

import pytest

from shop.boards.profiles import Ask, Drawn, evaluate
from shop.picture import draw
from shop.picture.profile_chart import LEFT, RIGHT, WIDTH, Band, ProfilePicture, profile_chart, ticks

WORDS = Drawn("measured <&>", "filtered", "the profile of a sine", decimal_comma=True)


def text_of(points: int) -> bytes:
    rows = (f"{at * 0.5 / 1000:.5f};{math.sin(at / 20):.5f}" for at in range(points))
    return ("x [mm];z [µm]\n" + "\n".join(rows)).encode()


def flat(low: float = 0.0, high: float = 0.0) -> ProfilePicture:
    band = Band((0.0, 1.0, 2.0), (low,) * 3, (high,) * 3)
    return ProfilePicture(band, band, band, 2.0, (0.4, 1.2), "measured", "filtered", "flat")


@pytest.mark.parametrize("points", [9600, 60_000])
def test_profile_is_reduced_to_pixel_columns_before_it_is_drawn(points: int) -> None:
    found = evaluate(text_of(points), "t.csv", Ask(), WORDS)
    columns = int(WIDTH - LEFT - RIGHT)
    assert len(found.picture.primary.at_mm) == columns
    assert len(draw(found.picture)) < 120 * columns
    assert len(found.narrow.primary.at_mm) < columns


def test_highest_and_lowest_of_the_trace_are_in_the_picture() -> None:
    rows = text_of(9600).decode().splitlines()
    rows[5001] = rows[5001].split(";")[0] + ";9.0"
    found = evaluate("\n".join(rows).encode(), "t.csv", Ask(lambda_s="none", form="none"), WORDS)
    assert max(found.picture.primary.high_um) == 9.0


def test_picture_is_svg_with_a_title_classes_and_no_style() -> None:
    drawn = draw(evaluate(text_of(9600), "t.csv", Ask(), WORDS).picture)
    root = ET.fromstring(drawn)
    assert root.attrib["role"] == "img"
    assert next(iter(root)).text == "the profile of a sine"
    assert "style=" not in drawn
    assert "measured &lt;&amp;&gt;" in drawn
    assert {one.attrib.get("class") for one in root.iter()} >= {"trace", "mean", "evaluated", "length", "grid", "axis"}
    assert ">\u22121<" in drawn


def test_figures_have_the_decimal_sign_of_the_reader() -> None:
    few = flat(0.0, 0.6)
    assert ">0.2<" in profile_chart(few)
    assert ">0,2<" in profile_chart(dataclasses.replace(few, decimal_comma=True))


def test_ruled_lengths_stand_where_they_were_evaluated() -> None:
    found = evaluate(text_of(9600), "t.csv", Ask(), WORDS)
    assert found.picture.bounds_mm == pytest.approx((0.4, 1.2, 2.0, 2.8, 3.6, 4.4))


def test_flat_profile_is_drawn_too() -> None:
    assert "NaN" not in profile_chart(flat())
    assert "nan" not in profile_chart(flat(2.0, 2.0))


@pytest.mark.parametrize(
    ("low", "high", "wanted", "expected"),
    [
        (0.0, 4.8, 8, [0, 1, 2, 3, 4]),
        (-1.2, 1.3, 4, [-1, 0, 1]),
        (0.0, 0.03, 3, [0, 0.01, 0.02, 0.03]),
        (-300.0, 200.0, 4, [-200, 0, 200]),
        (2.0, 2.0, 4, [2.0]),
    ],
)
def test_marks_of_an_axis_are_round(low: float, high: float, wanted: int, expected: list[float]) -> None:
    assert ticks(low, high, wanted) == expected
