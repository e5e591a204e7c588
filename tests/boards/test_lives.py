"""Finish lives: how they are counted, what a group says, and the published examples entered as lives."""

from __future__ import annotations

import csv
from datetime import datetime
from pathlib import Path
from typing import Any

import pytest
from django.conf import settings
from django.test import Client
from django.urls import reverse

from shop.boards import lives as board
from shop.boards.lives_compared import compared
from shop.boards.lives_picture import survival_picture
from shop.people import wording
from shop.people.models import Person
from shop.picture import draw
from shop.tooling.models import FinishLife
from shop.tooling.services import faces as tooling_faces
from tests.factories import satin
from tests.measuring import Shop, open_shop

PRINTED = Path(settings.BASE_DIR) / "fixtures" / "printed"


def life(shots: float, *, worn: bool, running: bool = False, lower: float | None = None, **told: str) -> board.Life:
    """A life that needs no tool: worn at exactly so many shots, unless between two looks."""
    row = FinishLife(began_by="new tool", ended_at=None if running else datetime(2026, 1, 1))  # noqa: DTZ001
    common = dict.fromkeys(board.BY, "") | told
    return board.Life(row, shots, shots if lower is None else lower, shots if worn else None, common)


@pytest.fixture
def shop(lead: Person, press_tech: Person, inspector: Person, at: datetime) -> Shop:
    shop = open_shop(lead, press_tech, inspector, at)
    satin(shop.face, lead, at)
    return shop


def test_life_leaves_its_limit_between_the_last_good_reading_and_the_first_that_is_not(shop: Shop) -> None:
    for day, value in ((1, "3.0"), (2, "3.2"), (3, "5.0"), (4, "5.2")):
        shop.shoot(day, 1000)
        shop.read(day + 0.1, value)
    tooling_faces.end_life(face=shop.face, ended_by="WO-1 full refinish", by=shop.lead, at=shop.day(5))
    only = board.lives_of(shop.tool.plant, shop.day(6))[0]
    assert (only.shots, only.lower, only.upper, only.worn, only.running) == (4000, 2000, 3000, True, False)
    assert only.middle == 2500


def test_life_that_was_good_when_it_was_refinished_only_lasted_so_long(shop: Shop) -> None:
    shop.shoot(1, 1000)
    shop.read(1.1, "3.0")
    tooling_faces.end_life(face=shop.face, ended_by="WO-1 kiss polish", by=shop.lead, at=shop.day(2))
    tooling_faces.begin_life(face=shop.face, began_by="WO-1 kiss polish", by=shop.lead, at=shop.day(2))
    shop.shoot(3, 500)
    runs, before = board.lives_of(shop.tool.plant, shop.day(4))
    assert (before.worn, before.shots, before.upper) == (False, 1000, None)
    assert (runs.running, runs.shots, runs.told["work"]) == (True, 500, "kiss polish")
    ended = board.ending_with_the_next_work([runs, before])
    assert [(one.worn, one.upper) for one in ended] == [(False, None), (True, 1000)]
    assert [bar.running for bar in board.last_five([shop.face.pk], shop.tool.plant, shop.day(4))[shop.face.pk]] == [
        False, True,
    ]  # fmt: skip


def test_lives_take_the_same_queries_however_many(shop: Shop, django_assert_num_queries: Any) -> None:
    shop.shoot(1, 1000)
    with django_assert_num_queries(4):
        assert len(board.lives_of(shop.tool.plant, shop.day(2))) == 1
    for day in (2, 3):
        tooling_faces.end_life(face=shop.face, ended_by="x", by=shop.lead, at=shop.day(day))
        tooling_faces.begin_life(face=shop.face, began_by="x", by=shop.lead, at=shop.day(day))
    with django_assert_num_queries(4):
        assert len(board.lives_of(shop.tool.plant, shop.day(4))) == 3


def test_group_of_the_handbooks_lives_has_the_handbooks_law() -> None:
    # NIST/SEMATECH e-Handbook, 8.4.1.3: shape and scale by maximum likelihood, as printed there.
    with (PRINTED / "nist_weibull.csv").open() as file:
        rows = list(csv.DictReader(line for line in file if not line.startswith("#")))
    lives = [
        life(float(row["hours"]), worn=row["failed"] == "1") for row in rows for _one in range(int(row["count"]))
    ]
    group = board.group_of("handbook", lives)
    assert group.law is not None
    assert group.law.shape == pytest.approx(1.7208, abs=5e-4)
    assert group.law.scale == pytest.approx(606.5280, abs=0.5)


def test_group_with_few_ends_says_how_many_are_missing_and_has_no_curve() -> None:
    group = board.group_of("few", [life(1000, worn=True), life(2000, worn=False, running=True)])
    assert (group.curve, group.law, group.missing) == (None, None, board.LEAST_ENDS - 1)
    # One refinish in 3,000 shots.
    assert group.between == 3000


def test_group_that_lasts_twice_as_long_is_said_to_and_what_else_differs_is_named(lead: Person) -> None:
    short = [life(1000 + 90 * n, worn=True, coating="none", resin="ABS") for n in range(12)]
    long = [life(2000 + 180 * n, worn=True, coating="hard chrome", resin="PC") for n in range(12)]
    found = compared(board.group_of("none", short), board.group_of("hard chrome", long), "coating")
    assert found.ratio is not None
    assert found.ratio.ratio == pytest.approx(2.0, rel=0.02)
    assert found.ratio.lower < 2.0 < found.ratio.upper
    assert found.words is not None
    said = wording.say(found.words, lead)
    assert said.startswith("hard chrome lasts 2 times as long as none (80\u00a0%: ")
    assert "hard to believe" in said
    assert found.besides == ("resin: ABS / PC",)


def test_groups_that_are_alike_are_not_told_apart(lead: Person) -> None:
    one, other = ([life(1000 + 90 * n + add, worn=True) for n in range(8)] for add in (0, 20))
    found = compared(board.group_of("a", one), board.group_of("b", other), "coating")
    assert found.words is not None
    assert "quite possible" in wording.say(found.words, lead)


def test_curve_is_drawn_with_its_steps_band_and_law() -> None:
    group = board.group_of("ABS", [life(1000 + 300 * n, worn=n % 3 > 0) for n in range(15)])
    drawn = draw(survival_picture([group]))
    for part in ('class="curve first"', 'class="band first"', 'class="law first"', 'class="runs first"', "ABS"):
        assert part in drawn
    assert "half of them outlast" in drawn


def test_page_groups_compares_and_gives_the_lives_as_a_file(client: Client, shop: Shop) -> None:
    shop.shoot(1, 1000)
    client.force_login(shop.lead)
    page = client.get(reverse("lives"), {"by": "coating"}).content.decode()
    assert "0 ends are too few for a curve" in page
    sheet = client.get(reverse("lives"), {"as": "csv"})
    assert sheet["Content-Type"].startswith("text/csv")
    assert len(sheet.content.decode().splitlines()) == 2


def test_empty_plant_says_what_belongs_here(client: Client, lead: Person) -> None:
    client.force_login(lead)
    assert "how long finishes have lasted" in client.get(reverse("lives")).content.decode()


