"""The standards check: what it counts, and that it can turn red."""

from __future__ import annotations

import csv
from collections import Counter
from dataclasses import replace
from io import StringIO
from pathlib import Path

import pytest
from django.core.management import CommandError, call_command

from shop.boards import printed as reader
from shop.boards import standards_check
from shop.boards.checks.check import Check, half_digit
from shop.boards.printed import every_table
from shop.refusal import Refused
from shop.standards.source import Standing

LEAST_BY_AREA = {
    "roughness scales": 120, "measuring conditions": 80, "acceptance": 7, "conformity": 15, "gloss": 13, "grain": 38,
    "hardness": 48, "draft and mould classes": 50, "steels, resins and layers": 110, "straight-line fits": 24,
    "crossings": 2, "lives": 15, "profile": 30, "gauge studies": 70, "uncertainty and agreement": 70,
}  # fmt: skip


def a_check(printed: float | str, computed: float | str, tolerance: float = 0.0) -> Check:
    return Check("grain", "table", "row", "what", printed, lambda: computed, tolerance, "um", "S", "E",
                 Standing.PUBLISHED)  # fmt: skip


def test_every_area_has_its_checks_and_three_hundred_stand_in_all() -> None:
    counted = Counter(check.area for check in standards_check.every_check())
    assert {area: counted[area] for area, least in LEAST_BY_AREA.items() if counted[area] < least} == {}
    assert sum(counted.values()) >= 300


def test_no_two_checks_are_the_same() -> None:
    counted = Counter((c.table, c.row, c.what) for c in standards_check.every_check())
    assert [name for name, count in counted.items() if count > 1] == []


@pytest.mark.parametrize(
    ("printed", "computed", "tolerance", "within"),
    [(0.66, 0.6626, 0.005, True), (0.66, 0.6651, 0.005, False), (0.7, 0.7 * (1 + 1e-13), 0.0, True),
     (302.0, 302.001, 0.0, False), ("good", "good", 0.0, True), ("good", "no", 0.0, False), (1.0, "no", 0.5, False),
     (1.0, float("nan"), 0.5, False)],
)  # fmt: skip
def test_value_agrees_within_its_tolerance(
    printed: float | str, computed: float | str, tolerance: float, within: bool
) -> None:
    assert a_check(printed, computed, tolerance).run().within is within


def test_refusal_is_outside_and_keeps_its_words() -> None:
    def refuses() -> float:
        raise Refused("table.outside", "It is not in the table.")

    found = replace(a_check(1.0, 1.0), compute=refuses).run()
    assert not found.within
    assert found.computed == "It is not in the table."


@pytest.mark.parametrize(("printed", "half"), [("0.66", 0.005), ("302", 0.5), ("1.50", 0.005), ("1e-3", 5e-4),
                                               ("2.5e3", 50.0)])  # fmt: skip
def test_printed_digits_say_how_far_a_value_may_differ(printed: str, half: float) -> None:
    assert half_digit(printed) == pytest.approx(half, rel=1e-12)


@pytest.mark.parametrize(
    ("table", "column", "wrong"),
    [("vdi3400_catalogue", "ra_um", "0.5"), ("hardness", "hv", "303"), ("nist_certified", "estimate", "1.0021168"),
     ("laser_lives", "pseudo_failure_h", "3703"), ("resin_suitability", "A-1", "splendid"),
     ("fresnel", "gloss_gu", "79.3"), ("iso4288_sixteen", "printed", "0.71"),
     ("jcgm106_risks", "recomputed", "0.0098784")],
)  # fmt: skip
def test_wrong_printed_value_turns_the_check_red(table: str, column: str, wrong: str) -> None:
    tables = every_table()
    rows = [dict(row) for row in tables[table].rows]
    rows[0][column] = wrong
    tables[table] = replace(tables[table], rows=rows)
    assert any(not each.within and each.check.table == table for each in standards_check.run(tables))


def test_areas_are_counted_with_their_worst_check() -> None:
    checked = [a_check(1.0, 1.01, 0.1).run(), a_check(1.0, 1.09, 0.1).run(), a_check(1.0, 1.02, 0.1).run()]
    (area,) = standards_check.by_area(checked)
    assert (area.count, area.within, area.worst.computed) == (3, 3, 1.09)
    (area,) = standards_check.by_area([*checked, a_check("good", "no").run()])
    assert (area.within, area.worst.computed) == (3, "no")


def test_common_practice_is_listed() -> None:
    listed = standards_check.common_practice()
    assert {"VDI 3400 card", "steel", "layer", "grain"} <= {value.table for value in listed}
    assert {value.source.standing for value in listed} == {Standing.COMMON}


def test_command_prints_each_area_and_is_content() -> None:
    out = StringIO()
    call_command("standards_check", stdout=out)
    lines = out.getvalue().splitlines()
    assert len(lines) == len(standards_check.by_area(standards_check.run())) + 1
    assert any(line.startswith("hardness ") and "48 of 48" in line for line in lines)


def test_command_prints_every_row_with_its_source_when_asked() -> None:
    out = StringIO()
    call_command("standards_check", "--all", "--common-practice", stdout=out)
    text = out.getvalue()
    assert "= 302 HV, in HRC: 30 / 30 HRC  (+0)  [ASTM E140, points, 2012; several sources]" in text
    assert "(from memory)" in text


def test_command_ends_with_one_where_a_value_is_outside(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    for path in reader.FOLDER.glob("*.csv"):
        text = path.read_text(encoding="utf-8")
        (tmp_path / path.name).write_text(text.replace("30,302,286", "30,999,286"), encoding="utf-8")
    monkeypatch.setattr(reader, "FOLDER", tmp_path)
    out = StringIO()
    with pytest.raises(CommandError, match="outside") as ended:
        call_command("standards_check", stdout=out)
    assert ended.value.returncode == 1
    assert "≠ 30 HRC, in HV: 302 / 999 HV" in out.getvalue()


def test_every_number_of_a_table_of_answers_is_checked() -> None:
    """A table that is only read, as measured data are, is named here; any other must be checked row by row."""
    only_data = {"gum_thermometer", "thermostat", "nist_norris", "nist_noint1", "laser_degradation", "profile_ground",
                 "gauge_study", "sleepstudy", "kappa_tables", "fleiss_1971", "gum_end_gauge", "gum_relative",
                 "bland_altman_1986", "nist_individuals", "nist_weibull", "nist_kaplan_meier", "nelson_fan",
                 "bearing_cage", "interval_lives", "remission"}  # fmt: skip
    checked = {check.table for check in standards_check.every_check()}
    assert set(reader.table_names()) - checked == only_data


def test_printed_table_keeps_every_digit_as_text() -> None:
    table = reader.printed("vdi3400_catalogue")
    assert table.rows[0]["ra_um"] == "0.40"
    assert table.column("ra_um")[0] == 0.4
    text = (reader.FOLDER / "vdi3400_catalogue.csv").read_text(encoding="utf-8")
    body = [line for line in text.splitlines() if not line.startswith("#")]
    assert table.rows == list(csv.DictReader(body))
