"""Two gauges in pairs, drawn."""

from __future__ import annotations

from dataclasses import replace
from xml.etree import ElementTree

import pytest

from shop.picture import draw
from shop.picture.pairs_chart import PairsChart

CHART = PairsChart(
    means=(2.0, 5.0, 9.5),
    differences=(0.1, -0.2, 0.3),
    offset=0.0667,
    lower=-0.4,
    upper=0.55,
    across="mean of both, GU",
    up="difference, GU",
    mean_words="mean 0.07 GU",
    limit_words="95 % of differences",
    text="3 pairs <of> gloss",
)
SVG = "{http://www.w3.org/2000/svg}"


def drawn(chart: PairsChart) -> ElementTree.Element:
    return ElementTree.fromstring(draw(chart))


def test_every_pair_is_a_point_inside_the_frame() -> None:
    svg = drawn(CHART)
    width, height = map(float, svg.attrib["viewBox"].split()[2:])
    points = [(float(one.attrib["cx"]), float(one.attrib["cy"])) for one in svg.iter(f"{SVG}circle")]
    assert len(points) == 3
    assert all(0 < x < width and 0 < y < height for x, y in points)
    # To the right where the level is higher, up where the difference is.
    assert [x for x, _y in points] == sorted(x for x, _y in points)
    assert points[2][1] < points[0][1] < points[1][1]


def test_mean_limits_and_nought_are_ruled_with_their_words() -> None:
    svg = drawn(CHART)
    kinds = [one.attrib.get("class") for one in svg.iter(f"{SVG}path")]
    assert (kinds.count("mean"), kinds.count("limit"), kinds.count("nought")) == (1, 2, 1)
    said = {one.text for one in svg.iter(f"{SVG}text")}
    assert {"mean 0.07 GU", "95 % of differences", "mean of both, GU", "difference, GU"} <= said


def test_chart_says_in_words_what_it_shows_and_escapes_them() -> None:
    assert drawn(CHART).findtext(f"{SVG}title") == "3 pairs <of> gloss"


def test_decimals_are_written_as_the_reader_writes_them() -> None:
    said = [one.text or "" for one in drawn(replace(CHART, comma=True)).iter(f"{SVG}text")]
    assert "0,2" in said
    assert "−0,2" in said


@pytest.mark.parametrize("width", [620.0, 362.0])
def test_gauges_that_agree_to_the_last_digit_are_drawn_too(width: float) -> None:
    even = replace(
        CHART, means=(3.0, 3.0, 3.0), differences=(0.0, 0.0, 0.0), offset=0.0, lower=0.0, upper=0.0, width=width
    )
    assert len(list(drawn(even).iter(f"{SVG}circle"))) == 3
