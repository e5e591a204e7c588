"""Calibrations by range, checks on the tile, offsets between two gauges: what is taken and what is refused."""

from __future__ import annotations

import uuid
from decimal import Decimal
from typing import Any

import pytest
from django.db import IntegrityError, transaction

from shop.quality.models import Calibration, CalibrationRange, Gauge, GaugeOffset, TileCheck, UnfitFinding
from shop.quality.pasted_pairs import read_pairs
from shop.quality.services import gauges, offsets, tiles
from shop.quality.services.calibrations import RangeDraft
from shop.refusal import Refused
from tests.measuring import Shop

ENGINES = [("4.1", "4.0"), ("8.2", "8.0"), ("16.1", "16.0"), ("30.4", "30.1")]


def draft(lower: str, upper: str, a: str = "0.1", b: str = "0") -> RangeDraft:
    return RangeDraft(Decimal(lower), Decimal(upper), Decimal(a), Decimal(b))


def calibrated(shop: Shop, *ranges: RangeDraft, **given: Any) -> Calibration:
    fields: dict[str, Any] = {"due_on": shop.day(400).date(), "expanded_a": Decimal("0.3"), "at": shop.day(1)}
    return gauges.calibrate(gauge=shop.gloss, by=shop.inspector, ranges=ranges, **{**fields, **given})


def checked(shop: Shop, value: str, **given: Any) -> TileCheck:
    figures: dict[str, Any] = {"tile_value": Decimal("93.0"), "limit": Decimal("1.0"), "at": shop.day(1)}
    return tiles.check_tile(
        gauge=shop.gloss, tile="T-7", value=Decimal(value), by=shop.inspector, **{**figures, **given}
    )


def customers(shop: Shop, number: str = "CG-1", kind: str = "glossmeter") -> Gauge:
    return gauges.add_gauge(
        plant=shop.lead.plant, number=number, kind=kind, resolution=Decimal("0.1"), owner="the customer",
        by=shop.inspector, at=shop.start,
    )  # fmt: skip


def compared(shop: Shop, theirs: Gauge, **given: Any) -> GaugeOffset:
    fields: dict[str, Any] = {"parameter": "gloss", "geometry_deg": 60, "pairs": decimals(ENGINES), "at": shop.day(1)}
    return offsets.compare(**{**fields, "ours": shop.gloss, "theirs": theirs, "by": shop.inspector, **given})


def decimals(pairs: list[tuple[str, str]]) -> list[tuple[Decimal, Decimal]]:
    return [(Decimal(one), Decimal(other)) for one, other in pairs]


def test_certificate_is_kept_with_its_ranges(shop: Shop) -> None:
    made = calibrated(shop, draft("0", "10"), draft("10", "100", "0.8", "0.01"))
    assert [(one.lower, one.expanded_a) for one in made.ranges.all()] == [(0, Decimal("0.1")), (10, Decimal("0.8"))]


@pytest.mark.parametrize(
    ("ranges", "code", "field"),
    [
        ([draft("10", "10")], "calibration.range_impossible", "ranges-0-lower"),
        ([draft("1", "1.00001")], "calibration.range_impossible", "ranges-0-lower"),
        ([draft("0", "5"), draft("9", "6")], "calibration.range_impossible", "ranges-1-lower"),
        ([draft("-1", "5")], "calibration.range_impossible", "ranges-0-lower"),
        ([draft("0", "5", "-0.1")], "calibration.uncertainty_impossible", "ranges-0-a"),
        ([draft("5", "20"), draft("0", "6")], "calibration.ranges_overlap", "ranges-0-lower"),
    ],
)
def test_ranges_that_cannot_be_are_refused_and_nothing_is_kept(
    shop: Shop, ranges: list[RangeDraft], code: str, field: str
) -> None:
    with pytest.raises(Refused) as caught:
        calibrated(shop, *ranges)
    assert (caught.value.code, caught.value.field) == (code, field)
    assert not CalibrationRange.objects.exists()


def test_calibration_is_entered_once_by_a_double_tap(shop: Shop) -> None:
    ref = uuid.uuid4()
    first, again = (calibrated(shop, draft("0", "10"), ref=ref) for _tap in range(2))
    assert first == again
    with pytest.raises(Refused) as caught:
        calibrated(shop, draft("0", "12"), ref=ref)
    assert caught.value.code == "ref.other_content"


def test_failed_calibration_opens_the_walk_through_what_was_read(shop: Shop) -> None:
    failed = calibrated(shop, passed=False)
    assert UnfitFinding.objects.get().calibration == failed
    calibrated(shop, passed=True, at=shop.day(2))
    assert UnfitFinding.objects.count() == 1


@pytest.mark.parametrize(
    ("value", "outcome"), [("93.1", "good"), ("93.2", "good"), ("93.6", "look again"), ("94.1", "unfit")]
)
def test_tile_says_good_look_again_or_unfit(shop: Shop, value: str, outcome: str) -> None:
    assert checked(shop, value).outcome == outcome


def test_tile_counts_the_range_that_holds_its_value_and_its_own_uncertainty(shop: Shop) -> None:
    calibrated(shop, draft("0", "10", "0.1"), draft("10", "100", "0.7"))
    assert checked(shop, "93.6", at=shop.day(2)).outcome == "good"
    assert checked(shop, "93.8", at=shop.day(2)).outcome == "look again"
    assert checked(shop, "93.8", at=shop.day(2), tile_expanded=Decimal("0.5")).outcome == "good"


@pytest.mark.parametrize(
    ("given", "code"),
    [
        ({"limit": Decimal(0)}, "tile.figure_impossible"),
        ({"tile_value": Decimal(-1)}, "tile.figure_impossible"),
        ({"tile_expanded": Decimal(-1)}, "tile.figure_impossible"),
        ({"limit": Decimal(20_000)}, "tile.figure_impossible"),
    ],
)
def test_tile_figures_that_cannot_be_are_refused(shop: Shop, given: dict[str, Any], code: str) -> None:
    with pytest.raises(Refused) as caught:
        checked(shop, "93", **given)
    assert caught.value.code == code


def test_retired_gauge_is_not_checked_on_the_tile(shop: Shop) -> None:
    gauges.retire_gauge(gauge=shop.gloss, by=shop.inspector, at=shop.day(0.5), why="worn")
    shop.gloss.refresh_from_db()
    with pytest.raises(Refused) as caught:
        checked(shop, "93")
    assert caught.value.code == "tile.gauge_retired"


def test_offset_is_the_mean_difference_and_keeps_its_pairs(shop: Shop) -> None:
    made = compared(shop, customers(shop))
    assert made.offset == Decimal("0.17500")
    assert float(made.standard_uncertainty) == pytest.approx(0.04787, abs=1e-5)
    assert (made.effective_df, made.depends_on_level) == (3, False)
    assert made.pairs[3] == ["30.4", "30.1"]


def test_offset_that_grows_with_the_level_says_so(shop: Shop) -> None:
    pairs = decimals([("1.0", "1.0"), ("11.1", "11.0"), ("21.2", "21.0"), ("31.31", "31.0"), ("41.4", "41.0")])
    assert compared(shop, customers(shop), pairs=pairs).depends_on_level


@pytest.mark.parametrize(
    ("given", "code"),
    [
        ({"pairs": decimals(ENGINES[:2])}, "offset.too_few"),
        ({"pairs": decimals([("-1", "1"), *ENGINES])}, "offset.value_impossible"),
        ({"pairs": decimals(ENGINES * 60)}, "offset.too_many"),
        ({"parameter": "Ra", "geometry_deg": None}, "offset.wrong_parameter"),
        ({"geometry_deg": None}, "offset.angle"),
        ({"geometry_deg": 45}, "offset.angle"),
    ],
)
def test_comparison_that_says_nothing_is_refused(shop: Shop, given: dict[str, Any], code: str) -> None:
    with pytest.raises(Refused) as caught:
        compared(shop, customers(shop), **given)
    assert caught.value.code == code
    assert not GaugeOffset.objects.exists()


def test_gauge_is_not_compared_with_itself_or_another_kind(shop: Shop) -> None:
    for theirs in (shop.gloss, shop.stylus):
        with pytest.raises(Refused) as caught:
            compared(shop, theirs)
        assert caught.value.code == "offset.not_two_of_a_kind"


def test_aperture_belongs_to_a_glossmeter_and_a_tip_to_a_stylus(shop: Shop) -> None:
    for kind, given, code in (
        ("stylus", {"aperture_mm": Decimal(9)}, "gauge.not_its_shape"),
        ("glossmeter", {"tip_um": Decimal(2)}, "gauge.not_its_shape"),
        ("glossmeter", {"aperture_mm": Decimal(0)}, "gauge.shape_impossible"),
    ):
        with pytest.raises(Refused) as caught:
            gauges.add_gauge(
                plant=shop.lead.plant, number="X", kind=kind, resolution=Decimal("0.1"), by=shop.lead, at=shop.start,
                **given,
            )  # fmt: skip
        assert caught.value.code == code


@pytest.mark.parametrize(
    ("text", "pairs"),
    [
        ("ours\ttheirs\n4,1\t4,0\n8.2\t8.0\n", [("4.1", "4.0"), ("8.2", "8.0")]),
        ("4,1;4,0\n\n8,2;8,0", [("4.1", "4.0"), ("8.2", "8.0")]),
        ("4,1 4,0", [("4.1", "4.0")]),
        ("4.1,4.0", [("4.1", "4.0")]),
    ],
)
def test_pairs_are_read_as_a_spreadsheet_gives_them(text: str, pairs: list[tuple[str, str]]) -> None:
    assert read_pairs(text) == (decimals(pairs), [])


def test_fault_among_pasted_pairs_is_named_by_its_line() -> None:
    _pairs, faults = read_pairs("4,1\t4,0\n8,2\n9,x\t9\n")
    assert [(fault.line, fault.value) for fault in faults] == [(2, "8,2"), (3, "9,x\t9")]


@pytest.mark.parametrize(
    "row",
    [
        lambda shop: CalibrationRange(
            calibration=shop.gloss.calibrations.get(), lower=5, upper=5, expanded_a=0, by=shop.lead, at=shop.start
        ),
        lambda shop: TileCheck(
            gauge=shop.gloss, tile="T", unit="GU", value=1, tile_value=1, tile_expanded=0, limit=0, outcome="good",
            by=shop.lead, at=shop.start,
        ),
        lambda shop: GaugeOffset(
            ours=shop.gloss, theirs=shop.gloss, parameter="gloss", unit="GU", pairs=[], offset=0,
            standard_uncertainty=0, effective_df=1, by=shop.lead, at=shop.start,
        ),
        lambda shop: GaugeOffset(
            ours=shop.gloss, theirs=shop.stylus, parameter="gloss", unit="GU", pairs=[], offset=0,
            standard_uncertainty=-1, effective_df=1, by=shop.lead, at=shop.start,
        ),
    ],
)  # fmt: skip
def test_database_itself_refuses_what_cannot_be(shop: Shop, row: Any) -> None:
    with pytest.raises(IntegrityError), transaction.atomic():
        row(shop).save()
