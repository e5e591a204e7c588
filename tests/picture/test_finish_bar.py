"""The finish bar: the band, its guard zones, the level with its whisker, and the arrow of harm."""

from __future__ import annotations

import re
from dataclasses import replace
from xml.etree import ElementTree

import pytest

from shop.picture import draw
from shop.picture.finish_bar import LEFT, RIGHT, Bar, finish_bar

BAR = Bar(lower=2.0, upper=4.0, guard=0.2, value=3.0, uncertainty=0.1, drift=0.5, unit="GU", text="gloss 3.0 GU")
SVG = "{http://www.w3.org/2000/svg}"


def drawn(bar: Bar, css: str) -> list[ElementTree.Element]:
    return [one for one in ElementTree.fromstring(finish_bar(bar)).iter() if one.get("class") == css]


def tick_at(bar: Bar) -> float:
    found = re.match(r"M([\d.]+)", drawn(bar, "tick-mark")[0].get("d", ""))
    assert found
    return float(found[1])


def tip(bar: Bar) -> float:
    found = re.match(r"M([\d.]+)", drawn(bar, "harm-head")[0].get("d", ""))
    assert found
    return float(found[1])


def test_level_stands_in_the_band_in_proportion() -> None:
    assert tick_at(BAR) == pytest.approx((LEFT + RIGHT) / 2)
    assert tick_at(replace(BAR, value=2.5)) == pytest.approx(LEFT + (RIGHT - LEFT) / 4)


def test_arrow_is_as_long_as_the_drift_of_the_next_run() -> None:
    quarter = (RIGHT - LEFT) / 4
    assert tip(BAR) - tick_at(BAR) == pytest.approx(quarter, abs=0.02)
    assert tip(replace(BAR, drift=-0.5)) - tick_at(BAR) == pytest.approx(-quarter, abs=0.02)


def test_arrow_is_left_out_where_the_drift_is_not_known_or_not_seen() -> None:
    assert not drawn(replace(BAR, drift=None), "harm-head")
    assert not drawn(replace(BAR, drift=0.001), "harm-head")


def test_limit_that_is_not_set_is_an_open_end_without_an_edge() -> None:
    assert drawn(BAR, "edge")[0].get("d", "").count("V") == 2
    one_sided = replace(BAR, lower=None)
    assert drawn(one_sided, "edge")[0].get("d", "").count("V") == 1
    assert len(drawn(one_sided, "line")) == len(drawn(BAR, "line")) + 1


def test_guard_zones_that_meet_hatch_the_whole_band_once() -> None:
    apart, meeting = (drawn(replace(BAR, guard=guard), "hatch")[0].get("d", "") for guard in (0.2, 1.5))
    wholly = drawn(replace(BAR, guard=9.0), "hatch")[0].get("d", "")
    assert meeting == wholly
    assert len(apart) < len(meeting)


def test_bar_without_guard_has_no_hatching() -> None:
    assert not drawn(replace(BAR, guard=0.0), "hatch")


@pytest.mark.parametrize("value", [1.9, 4.1, 900.0, -900.0])
def test_level_out_of_its_band_is_framed_and_stays_on_the_drawing(value: float) -> None:
    bar = replace(BAR, value=value)
    assert drawn(bar, "outside")
    assert 0 < tick_at(bar) < 240
    assert "is-out" in finish_bar(bar)


def test_level_inside_its_band_is_not_framed() -> None:
    assert not drawn(BAR, "outside")
    assert "is-out" not in finish_bar(BAR)


def test_whisker_reaches_two_standard_uncertainties() -> None:
    found = re.match(r"M([\d.]+) [\d.]+H([\d.]+)", drawn(BAR, "whisker")[0].get("d", ""))
    assert found
    assert float(found[2]) - float(found[1]) == pytest.approx(0.4 * (RIGHT - LEFT) / 2, abs=0.02)


def test_face_that_was_never_measured_shows_its_band_alone() -> None:
    bar = replace(BAR, value=None, drift=None)
    assert drawn(bar, "band")
    assert not drawn(bar, "tick-mark")


def test_words_are_the_text_alternative_and_are_escaped() -> None:
    root = ElementTree.fromstring(finish_bar(replace(BAR, text="<b>Ra & Rz</b>")))
    assert root.get("role") == "img"
    title = root.find(f"{SVG}title")
    assert title is not None
    assert title.text == "<b>Ra & Rz</b>"


def test_drawing_has_nothing_that_the_page_policy_forbids() -> None:
    svg = finish_bar(BAR)
    assert "style=" not in svg
    assert " id=" not in svg


def test_anything_else_is_refused_by_draw() -> None:
    assert draw(BAR) == finish_bar(BAR)
    with pytest.raises(TypeError, match="str"):
        draw("a word")
