"""Suspect parts behind a failed verdict."""

from __future__ import annotations

from shop.press.services import runs
from shop.quality.suspects import suspects
from shop.tooling.services import faces
from tests.measuring import Shop


def lots(shop: Shop, verdict: object) -> list[tuple[str, int, str, int]]:
    found = suspects(shop.face, verdict)  # type: ignore[arg-type]
    return [(lot.run.order_number if lot.run else "", lot.position.number, lot.lot, lot.shots) for lot in found.lots]


def test_suspects_reach_back_to_the_last_good_reading_by_run_cavity_and_lot(satin_shop: Shop) -> None:
    shop = satin_shop
    shop.shoot(1, 100)
    good = shop.read(1.5, "3.0")
    shop.shoot(2, 200)
    shop.shoot(3, 300, lot="L2")
    run = shop.tool.runs.get()
    runs.end_run(run=run, by=shop.press_tech, at=shop.day(4))
    runs.start_run(tool=shop.tool, press=shop.press, by=shop.press_tech, at=shop.day(5), order_number="B-2", lot="L2")
    shop.shoot(6, 400)
    bad = shop.read(7, "5.0")
    found = suspects(shop.face, bad)  # type: ignore[arg-type]
    assert lots(shop, bad) == [("A-1", 1, "L1", 200), ("A-1", 1, "L2", 300), ("B-2", 1, "L2", 400)]
    assert (found.last_good, found.shots, found.since) == (good, 900, shop.day(1.5))


def test_good_reading_of_another_spot_clears_nothing(satin_shop: Shop) -> None:
    shop = satin_shop
    shop.shoot(1, 100)
    shop.read(1.5, "3.0", spot=shop.spot("end of fill"))
    shop.shoot(2, 200)
    bad = shop.read(3, "5.0")
    assert sum(row[3] for row in lots(shop, bad)) == 300


def test_unproven_reading_clears_nothing_and_parts_of_an_earlier_finish_are_not_suspect(satin_shop: Shop) -> None:
    shop = satin_shop
    shop.shoot(1, 100)
    faces.end_life(face=shop.face, ended_by="WO-1", by=shop.lead, at=shop.day(2))
    faces.begin_life(face=shop.face, began_by="WO-1", by=shop.lead, at=shop.day(3))
    shop.shoot(4, 200)
    shop.read(5, "4.0")
    shop.shoot(6, 50)
    found = suspects(shop.face, shop.read(7, "5.0"))  # type: ignore[arg-type]
    assert (found.last_good, found.shots, found.since) == (None, 250, shop.day(3))


def test_entry_that_runs_past_the_failed_reading_is_suspect_as_a_whole(satin_shop: Shop) -> None:
    shop = satin_shop
    bad = shop.read(1, "5.0")
    shop.shoot(1.5, 80)
    shop.shoot(2, 90)
    assert lots(shop, bad) == [("A-1", 1, "L1", 80)]


def test_steel_check_has_no_parts_behind_it(satin_shop: Shop) -> None:
    shop = satin_shop
    shop.shoot(1, 100)
    faces.end_life(face=shop.face, ended_by="WO-1", by=shop.lead, at=shop.day(2))
    assert lots(shop, shop.read(3, "5.0", kind="steel check")) == []
