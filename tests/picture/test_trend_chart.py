"""The trend as a picture."""

from __future__ import annotations

import re
import sys
from dataclasses import replace
from xml.etree import ElementTree

from shop.picture.trend_chart import FanAt, LifeSpan, Mark, Point, TrendPicture, thinned, trend_chart

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


def words_of(picture: TrendPicture) -> list[str | None]:
    return [one.text for one in ElementTree.fromstring(trend_chart(picture)).iter(f"{SVG}text")]


def test_each_reading_says_what_it_stands_for() -> None:
    told = replace(PICTURE, points=(Point(1000, 2.0, 0.05, words="2.0 GU, 25 Nov 2026"), Point(2000, 2.1)))
    titles = [one.text for one in ElementTree.fromstring(trend_chart(told)).iter(f"{SVG}title")]
    assert "2.0 GU, 25 Nov 2026" in titles


def test_reading_that_is_asked_about_bears_a_question_mark() -> None:
    assert "?" not in words_of(PICTURE)
    assert "?" in words_of(replace(PICTURE, points=(*PICTURE.points, Point(9200, 2.0, asked=True))))


def test_shared_step_is_named_and_drawn_from_what_was_read_to_what_counts() -> None:
    stepped = replace(PICTURE, steps=(Mark(5000, 2.5, "resin lot", 2.2),))
    assert "resin lot" in words_of(stepped)
    assert trend_chart(stepped).count("stroke-soft") > trend_chart(PICTURE).count("stroke-soft")


def test_chances_stand_on_the_limit_in_turn_outside_and_inside() -> None:
    marks = tuple(Mark(shots, 2.8, words) for shots, words in ((9800, "10 %"), (9900, "50 %"), (10_000, "90 %")))
    drawn = ElementTree.fromstring(trend_chart(replace(PICTURE, reached=marks)))
    place = {one.text: one.get("transform", "") for one in drawn.iter(f"{SVG}text")}
    high = {words: float(place[words].partition(",")[2].rstrip(")")) for words in ("10 %", "50 %", "90 %")}
    assert high["10 %"] == high["90 %"] < high["50 %"]


def test_gap_near_the_edge_is_named_to_its_left() -> None:
    def anchor(shots: float) -> str | None:
        gap = replace(PICTURE, windows=(Mark(shots, 0, "gap 1 Dec 2026 to 4 Dec 2026"),), width=290)
        named = next(e for e in ElementTree.fromstring(trend_chart(gap)).iter(f"{SVG}text") if "gap" in (e.text or ""))
        return named.get("text-anchor")

    assert anchor(11_500) == "end"
    assert anchor(2_000) == "start"


def test_own_line_is_drawn_broken_beside_the_forecast() -> None:
    own = replace(PICTURE, own=((1000, 2.0), (12_000, 3.0)))
    assert trend_chart(own).count("stroke-dasharray") == trend_chart(PICTURE).count("stroke-dasharray") + 1


def test_many_readings_are_drawn_with_smaller_dots() -> None:
    def dot(count: int) -> str:
        picture = replace(PICTURE, points=tuple(Point(50.0 * n, 2.0) for n in range(count)), fan=())
        found = ElementTree.fromstring(trend_chart(picture)).iter(f"{SVG}path")
        return next(
            one.get("d", "") for one in found if "fill-sheet" in (one.get("class") or "") and "A" in one.get("d", "")
        )

    assert dot(200) != dot(20)


def test_chart_is_plain_svg_whatever_prefix_another_library_has_given_to_its_names() -> None:
    from xml.etree import ElementTree

    ElementTree.register_namespace("", "http://www.w3.org/1999/xhtml")
    picture = TrendPicture("words", "shots", "gloss", (Point(0.0, 2.5), Point(1_234.0, 2.7)))
    drawn = trend_chart(picture)
    assert drawn.startswith("<svg ")
    assert 'xmlns="http://www.w3.org/2000/svg"' in drawn
    assert "ns0" not in drawn
