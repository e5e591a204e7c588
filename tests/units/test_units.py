"""Numbers as they are typed, converted and shown."""

from __future__ import annotations

from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from shop.refusal import Refused
from shop.units import UNITS, Quantity, convert, parse_decimal, parse_quantity, parse_whole, parts, show


@pytest.mark.parametrize(
    ("typed", "read"),
    [
        ("0.8", "0.8"), ("0,8", "0.8"), (" 0.80 ", "0.80"), (",8", "0.8"), (".8", "0.8"), ("5.", "5"), ("5,", "5"),
        ("-2", "-2"), ("−2", "-2"), ("+2", "2"), ("- 2", "-2"),
        ("1 234", "1234"), ("1\u2009234,5", "1234.5"), ("1\u00a0234\u202f567", "1234567"), ("1'234.5", "1234.5"),
        ("1.234,5", "1234.5"), ("1,234.5", "1234.5"), ("1,234,567", "1234567"), ("1.234.567", "1234567"),
        ("1.234.567,25", "1234567.25"), ("0,812", "0.812"), ("1,234", "1.234"), ("007", "7"),
    ],
)  # fmt: skip
def test_number_is_read_as_people_type_it(typed: str, read: str) -> None:
    assert parse_decimal(typed) == Decimal(read)


@pytest.mark.parametrize(
    "typed",
    ["", " ", "-", ".", ",", "abc", "nan", "NaN", "inf", "-Infinity", "1e5", "1E400", "0x10", "1_000", "12 34", "1 2",
     "1.23.4", "1,2.3,4", "12,34.5", "1.2,3.4", "1,234,5", "--1", "1-", "٣", "1" * 31, "0.8 um", "½"],
)  # fmt: skip
def test_number_that_is_none_is_refused(typed: str) -> None:
    with pytest.raises(Refused) as refused:
        parse_decimal(typed, field="value")
    assert refused.value.code == "number.not_read"
    assert refused.value.field == "value"
    assert refused.value.values["typed"] == typed
    assert refused.value.next_step


def test_number_keeps_its_typed_digits() -> None:
    assert str(parse_decimal("0,80")) == "0.80"


@pytest.mark.parametrize("typed", ["12345", "12 345", "12,345", "12.345", "12\u2009345"])
def test_count_is_read_with_any_grouping(typed: str) -> None:
    assert parse_whole(typed) == 12345


@pytest.mark.parametrize("typed", ["1,5", "1.5", "0,123", "1.2345"])
def test_count_with_a_fraction_is_refused(typed: str) -> None:
    with pytest.raises(Refused) as refused:
        parse_whole(typed)
    assert refused.value.code == "number.not_whole"


@pytest.mark.parametrize(
    ("typed", "unit", "read"),
    [
        ("0,8", "um", "0.8"), ("0.8 um", "um", "0.8"), ("0,8µm", "um", "0.8"), ("0.8 μm", "um", "0.8"),
        ("32 µin", "um", "0.8128"), ("32 uin", "um", "0.8128"), ("0.8128", "um", "0.8128"), ("1 in", "mm", "25.4"),
        ('1"', "mm", "25.4"), ("0.8 mm", "um", "800"), ("3.4 GU", "GU", "3.4"), ("3,4 gu", "GU", "3.4"),
        ("60°", "deg", "60"), ("60 °C", "C", "60"), ("12 345 shots", "shots", "12345"), ("12.345", "shots", "12345"),
        ("15 %", "percent", "15"), ("-1", "grade", "-1"), ("10 cm²", "cm2", "10"), ("1 in²", "cm2", "6.4516"),
    ],
)  # fmt: skip
def test_quantity_is_read_in_the_unit_wanted(typed: str, unit: str, read: str) -> None:
    assert parse_quantity(typed, unit) == Decimal(read)


@pytest.mark.parametrize(
    ("typed", "unit"), [("0.8 GU", "um"), ("3 um", "GU"), ("3 furlong", "um"), ("3 mmm", "mm"), ("60 C", "deg")]
)
def test_quantity_of_another_kind_is_refused(typed: str, unit: str) -> None:
    with pytest.raises(Refused) as refused:
        parse_quantity(typed, unit, field="value")
    assert refused.value.code == "unit.wrong"
    assert refused.value.field == "value"


@pytest.mark.parametrize("typed", ["", "um", "abc um", "nan um"])
def test_quantity_without_number_is_refused(typed: str) -> None:
    with pytest.raises(Refused) as refused:
        parse_quantity(typed, "um")
    assert refused.value.code == "number.not_read"


@pytest.mark.parametrize(
    ("value", "unit", "shown", "in_inches"),
    [
        ("0.8", "um", "0.80\u00a0µm", "31.5\u00a0µin"), ("0.804", "um", "0.804\u00a0µm", "31.7\u00a0µin"),
        ("12.5", "um", "12.5\u00a0µm", "492\u00a0µin"), ("100", "um", "100\u00a0µm", "3937\u00a0µin"),
        ("0", "um", "0.00\u00a0µm", "0.0\u00a0µin"),
        ("0.8128", "um", "0.813\u00a0µm", "32.0\u00a0µin"),
        ("2.8", "GU", "2.8\u00a0GU", "2.8\u00a0GU"), ("0.08", "mm", "0.08\u00a0mm", "0.00315\u00a0in"),
        ("87.5", "GU", "87.5\u00a0GU", "87.5\u00a0GU"), ("100", "GU", "100\u00a0GU", "100\u00a0GU"),
        ("-0.001", "GU", "−0.001\u00a0GU", "−0.001\u00a0GU"),
        ("1234", "shots", "1\u202f234\u00a0shots", "1\u202f234\u00a0shots"),
        ("1234567", "shots", "1\u202f234\u202f567\u00a0shots", "1\u202f234\u202f567\u00a0shots"),
        ("1", "shots", "1\u00a0shot", "1\u00a0shot"), ("1", "days", "1\u00a0day", "1\u00a0day"),
        ("12.4", "min", "12\u00a0min", "12\u00a0min"), ("1", "grade", "+1", "+1"),
        ("-2", "grade", "−2", "−2"), ("0", "grade", "0", "0"),
        ("1.5", "deg", "1.5°", "1.5°"), ("6.4516", "cm2", "6.45\u00a0cm²", "1\u00a0in²"),
        ("60", "C", "60\u00a0°C", "60\u00a0°C"),
        ("9.996", "um", "10.00\u00a0µm", "394\u00a0µin"), ("-0.0000001", "shots", "0\u00a0shots", "0\u00a0shots"),
    ],
)  # fmt: skip
def test_quantity_is_shown_in_the_readers_units(value: str, unit: str, shown: str, in_inches: str) -> None:
    quantity = Quantity(Decimal(value), unit)
    assert show(quantity) == shown
    assert show(quantity, system="inch") == in_inches


def test_quantity_is_shown_with_a_decimal_comma() -> None:
    assert show(Quantity(Decimal("0.8"), "um"), decimal_comma=True) == "0,80\u00a0µm"


def test_quantity_in_inches_is_shown_metric_to_a_metric_reader() -> None:
    assert show(Quantity(Decimal(32), "uin")) == "0.813\u00a0µm"


def test_parts_leave_the_label_to_be_translated() -> None:
    assert parts(Quantity(Decimal(12345), "shots")) == ("12\u202f345", "shots")


@pytest.mark.parametrize("bad", ["NaN", "Infinity", "-Infinity"])
def test_quantity_is_never_infinite_or_not_a_number(bad: str) -> None:
    with pytest.raises(Refused):
        Quantity(Decimal(bad), "um")


def test_unit_that_nobody_knows_is_refused() -> None:
    with pytest.raises(Refused) as refused:
        convert(Decimal(1), "um", "furlong")
    assert refused.value.code == "unit.unknown"


@given(st.sampled_from(["um", "uin", "mm", "in"]), st.sampled_from(["um", "uin", "mm", "in"]),
       st.decimals(min_value="-100000", max_value="100000", places=4))  # fmt: skip
def test_conversion_there_and_back_gives_the_same(there: str, back: str, value: Decimal) -> None:
    assert convert(convert(value, there, back), back, there) == pytest.approx(value, rel=Decimal("1e-24"))


@given(st.sampled_from(sorted(UNITS - {"shots", "min", "days", "HRC", "deg", "grade"})),
       st.integers(min_value=-999, max_value=999), st.booleans())  # fmt: skip
def test_what_is_shown_is_read_back(unit: str, thousandths: int, decimal_comma: bool) -> None:
    value = Decimal(thousandths).scaleb(-1)
    shown = show(Quantity(value, unit), decimal_comma=decimal_comma)
    assert parse_quantity(shown, unit) == pytest.approx(value, rel=Decimal("0.006"))
