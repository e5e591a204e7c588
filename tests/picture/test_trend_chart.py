"""The trend as a picture."""

from __future__ import annotations

import re
import sys
from dataclasses import replace
from xml.etree import ElementTree

from shop.picture.trend_chart import FanAt, LifeSpan, Point, TrendPicture, thinned, trend_chart

SVG = "{http://www.w3.org/2000/svg}"
PICTURE = TrendPicture(
    text="gloss over <shots>",
    shots_title="shots of the insert",
    value_title="gloss (GU)",
    points=tuple(Point(1000.0 * n, 2.0 + 0.1 * n, 0.05, off_spec=n == 9) for n in range(10)),
    lower=1.5,
    upper=2.8,
    guard=0.1,
    fan=(FanAt(9000, 2.8, 2.9, 3.0), FanAt(12000, 3.0, 3.2, 3.4)),
    lives=(LifeSpan(0, None, "new tool"),),
    now=9500,
    limit_words=("1.5 GU", "2.8 GU"),
)


def test_chart_shows_limits_lives_and_titles_in_words() -> None:
    words = {one.text for one in ElementTree.fromstring(trend_chart(PICTURE)).iter(f"{SVG}text")}
    assert {"shots of the insert", "gloss (GU)", "1.5 GU", "2.8 GU", "new tool"} <= words


def test_chart_has_neither_styles_nor_ids_and_takes_its_colours_by_class() -> None:
    svg = trend_chart(PICTURE)
    assert "style=" not in svg
    assert " id=" not in svg
    assert "url(#" not in svg
    assert 'class="stroke-ink"' in svg
    assert 'class="stroke-blue"' in svg


def test_chart_has_a_text_alternative() -> None:
    root = ElementTree.fromstring(trend_chart(PICTURE))
    title = root.find(f"{SVG}title")
    assert title is not None
    assert title.text == "gloss over <shots>"
    assert root.get("role") == "img"


def test_chart_uses_the_decimal_comma_where_the_plant_does() -> None:
    def axis(picture: TrendPicture) -> set[str | None]:
        return {one.text for one in ElementTree.fromstring(trend_chart(picture)).iter(f"{SVG}text")}

    assert "2.5" in axis(PICTURE)
    assert "2,5" in axis(replace(PICTURE, decimal_comma=True))


def test_same_chart_is_drawn_once() -> None:
    module = sys.modules["shop.picture.trend_chart"]
    trend_chart(PICTURE)
    before = module.trend_chart.cache_info().hits
    assert trend_chart(replace(PICTURE)) is trend_chart(PICTURE)
    assert module.trend_chart.cache_info().hits == before + 2


def test_chart_without_any_reading_is_still_a_chart() -> None:
    empty = replace(PICTURE, points=(), fan=(), lives=(), now=None)
    assert ElementTree.fromstring(trend_chart(empty)).tag == f"{SVG}svg"


def test_many_readings_are_thinned_to_what_columns_can_show_and_keep_their_extremes() -> None:
    many = tuple(Point(float(n), float((n * 7919) % 1000)) for n in range(20_000))
    kept = thinned(many, 300)
    assert len(kept) <= 310
    assert max(one.value for one in kept) == max(one.value for one in many)
    assert min(one.value for one in kept) == min(one.value for one in many)
    assert thinned(many[:100], 300) == many[:100]


def test_forecast_that_leaves_the_picture_is_cut_at_its_edge() -> None:
    wild = replace(PICTURE, guard=50.0, fan=(FanAt(9000, -900, 2.9, 900), FanAt(12000, 100, 500, 900)))
    for one in ElementTree.fromstring(trend_chart(wild)).iter(f"{SVG}path"):
        if (one.get("class") or "").startswith("fill-") and not one.get("transform"):  # symbols are moved there
            heights = [float(part) for part in re.findall(r"-?[\d.]+,(-?[\d.]+)", one.get("d", ""))]
            assert all(-1 <= height <= PICTURE.height + 1 for height in heights)
