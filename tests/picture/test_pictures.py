"""Lays, maps, histories and steel left."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise
from xml.etree import ElementTree

import pytest

from shop.picture.face_map import REACH, WIDTH, FaceMap, MapFace, MapSpot, face_map
from shop.picture.life_line import Happening, Life, LifeLine, LifeRow, life_line
from shop.picture.steel_bar import SteelBar, steel_bar
from shop.picture.swatches import lay, swatch

SVG = "{http://www.w3.org/2000/svg}"
MAP = FaceMap(
    (
        MapFace(
            0, 0, 100, 100, "panel", "sound", (MapSpot(0, 0, "gate", "/gate"), MapSpot(50, 50, "middle")), "/panel"
        ),
        MapFace(60, 60, 20, 20, "<logo>", "off spec"),
    )
)


@pytest.mark.parametrize(
    ("how_made", "grade", "expected"),
    [
        ("polished", "", "mirror"),
        ("polished", "B-2", "paper"),
        ("polished", "A-1", "mirror"),
        ("stoned", "", "stone"),
        ("blasted", "", "blast"),
        ("spark-eroded", "", "spark-eroded"),
        ("etched", "", "grain"),
        ("laser", "", "lattice"),
    ],
)
def test_lay_follows_the_grade_before_how_it_was_made(how_made: str, grade: str, expected: str) -> None:
    assert lay(how_made, grade) == expected


def test_every_lay_looks_different_and_the_same_each_time() -> None:
    finishes = [
        ("polished", "A-1"),
        ("polished", "B-1"),
        ("stoned", ""),
        ("blasted", ""),
        ("spark-eroded", ""),
        ("etched", ""),
        ("laser", ""),
    ]
    drawings = {swatch(*one, title="a finish") for one in finishes}
    assert len(drawings) == len(finishes)
    assert swatch("blasted", title="x") == swatch("blasted", title="x")


def test_coarser_grade_has_a_coarser_lay() -> None:
    assert len(swatch("polished", "B-3")) < len(swatch("polished", "B-1"))


def test_spot_is_a_link_that_a_glove_can_press() -> None:
    root = ElementTree.fromstring(face_map(MAP))
    link = next(one for one in root.iter(f"{SVG}a") if one.get("href") == "/gate")
    reach = next(one for one in link if one.get("class") == "reach")
    assert 2 * float(reach.get("r", 0)) >= 48
    assert REACH <= float(reach.get("cx", 0)) <= WIDTH - REACH


def test_small_face_lies_on_top_of_the_large_one() -> None:
    text = face_map(MAP)
    assert text.index("panel, sound") < text.index("&lt;logo&gt;, off spec")


def test_map_with_links_is_a_group_and_one_without_is_a_picture() -> None:
    assert ElementTree.fromstring(face_map(MAP)).get("role") == "group"
    assert ElementTree.fromstring(face_map(FaceMap((MapFace(0, 0, 50, 50, "panel"),)))).get("role") == "img"


def test_line_of_time_shows_lives_work_and_damage_in_their_order() -> None:
    line = LifeLine(
        0,
        100,
        (
            LifeRow(
                "panel",
                (Life(0, 40, "life 1"), Life(50, None, "life 2")),
                (Happening(45, "work", "WO-1"), Happening(60, "damage", "rust")),
            ),
        ),
        text="history",
    )
    root = ElementTree.fromstring(life_line(line))
    lives = [one for one in root.iter() if (one.get("class") or "").startswith("life ") or one.get("class") == "life"]
    first, running = (float(one.get("x", 0)) for one in lives)
    work = next(float(one.get("x", 0)) for one in root.iter() if one.get("class") == "work")
    assert first < work < running
    assert any(one.get("class") == "harmed" for one in root.iter())


def test_steel_bar_is_as_full_as_there_is_steel() -> None:
    def there(left: float) -> float:
        root = ElementTree.fromstring(steel_bar(SteelBar(left, 400, "steel left")))
        return next(float(one.get("width", 0)) for one in root.iter() if one.get("class") == "there")

    assert there(200) == pytest.approx(there(400) / 2)
    assert there(0) == 0


def test_small_map_keeps_its_words_and_the_reach_of_its_spots() -> None:
    drawn = face_map(replace(MAP, width=240.0))
    assert 'viewBox="0 0 240 134.4"' in drawn
    reaches = [one for one in ElementTree.fromstring(drawn).iter(f"{SVG}circle") if one.get("class") == "reach"]
    assert [float(one.get("r", 0)) for one in reaches] == [REACH]
    assert REACH <= float(reaches[0].get("cx", 0)) <= 240 - REACH
    assert drawn.count('font-size="12"') == face_map(MAP).count('font-size="12"')


def test_line_of_time_drawn_for_a_phone_keeps_the_words_of_its_axis_apart() -> None:
    marks = tuple((float(day), f"1 M{day} 2026") for day in range(10, 90, 10))
    narrow = life_line(LifeLine(0, 100, (LifeRow("panel", (Life(0, None, "Life 1"),)),), marks, width=362.0))
    assert 'viewBox="0 0 362 56"' in narrow
    words = list(ElementTree.fromstring(narrow).iter(f"{SVG}text"))
    places = [float(one.get("x", 0)) for one in words]
    assert len(places) > 2
    assert all(after - before >= 70 for before, after in pairwise(places))
    assert "panel" not in [one.text for one in words]


def test_name_of_a_narrow_band_stays_inside_it() -> None:
    band = MapFace(10, 80, 80, 10, "sealing band")
    drawn = ElementTree.fromstring(face_map(FaceMap((band,), width=240.0)))
    box = next(one for one in drawn.iter(f"{SVG}rect") if one.get("class") == "face")
    name = next(drawn.iter(f"{SVG}text"))
    top, height = float(box.get("y", 0)), float(box.get("height", 0))
    assert top < float(name.get("y", 0)) - 0.7 * float(name.get("font-size", 0))
    assert float(name.get("y", 0)) < top + height
