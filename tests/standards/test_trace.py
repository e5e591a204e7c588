"""Traces from text: units, separators and decimals as exports write them, and what is refused with its line."""

from __future__ import annotations

import tracemalloc

import numpy as np
import pytest

from shop.refusal import Refused
from shop.standards import profile
from shop.standards.profile import even_spacing
from shop.standards.smd import write_smd
from shop.standards.trace import load_trace
from shop.standards.trace_header import as_number
from tests.reference.printed import FOLDER, printed

POINTS = 400
X_UM = np.arange(POINTS) * 0.5
Z_UM = np.round(np.sin(X_UM / 7) + 2, 4)
SIZES = {"µm": 1.0, "um": 1.0, "mm": 1e3, "nm": 1e-3, "µin": 0.0254, "uin": 0.0254, "in": 25400.0}


def rows(separator: str, *, x_unit: str = "mm", z_unit: str = "µm", comma: bool = False) -> list[str]:
    pairs = zip(X_UM / SIZES[x_unit], Z_UM / SIZES[z_unit], strict=True)
    cells = [(f"{x:.9g}", f"{z:.9g}") for x, z in pairs]
    return [separator.join(pair).replace(".", ",") if comma else separator.join(pair) for pair in cells]


def text(header: str, lines: list[str], end: str = "\n") -> str:
    return end.join([*header.split("\n"), *lines]) + end


def check(content: str | bytes, name: str = "trace.csv") -> profile.Trace:
    found = load_trace(content, name)
    assert found.z_um == pytest.approx(Z_UM, rel=1e-6)
    assert found.spacing_um == pytest.approx(0.5, rel=1e-6)
    assert found.note.template.format(**found.note.values)
    return found


@pytest.mark.parametrize(
    ("header", "separator", "comma"),
    [
        ("x [mm];z [µm]", ";", False),
        ("x [mm];z [µm]", ";", True),
        ("x [mm]\tz [µm]", "\t", True),
        ("x (mm), z (um)", ",", False),
        ("x in mm, z in µm", ", ", False),
        ("x_mm,z_um", ",", False),
        ("# x [mm] z [µm]", " ", False),
        ("x mm   z µm", "   ", True),
        ("mm;um", ";", False),
        ("Position / mm;Height / µm", ";", True),
        ("gauge: stylus 2\ncut-off 0.8 mm\n\nx [mm];z [µm]", ";", False),
        ("x;z\nmm;µm", ";", False),
        ("X [MM];Z [UM]", ";", False),
    ],
)
def test_columns_are_read_as_exports_write_them(header: str, separator: str, comma: bool) -> None:
    check(text(header, rows(separator, comma=comma)))


@pytest.mark.parametrize("x_unit", ["µm", "mm", "in"])
@pytest.mark.parametrize("z_unit", ["µm", "um", "mm", "nm", "µin", "uin", "in"])
def test_units_of_the_header_are_used(x_unit: str, z_unit: str) -> None:
    check(text(f"x [{x_unit}];z [{z_unit}]", rows(";", x_unit=x_unit, z_unit=z_unit)))


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16", "utf-16-le", "utf-16-be", "cp1252"])
@pytest.mark.parametrize("end", ["\n", "\r\n", "\r"])
def test_encodings_and_line_ends_are_read(encoding: str, end: str) -> None:
    check(text("x [mm];z [µm]", rows(";"), end).encode(encoding))


@pytest.mark.parametrize(
    "header",
    [
        "spacing = 0.5 µm\nz [µm]",
        "Spacing: 0,5 um\nz [µm]",
        "dx 0.0005 mm\nz (µm)",
        "SPACING_UM: 0.5\nPROFILE_UM:",
        "step [µm];0.5\nz [µm]",
        "z in µm, spacing 0.5 µm",
        "sample interval in mm = 5e-4\nheights in µm",
    ],
)
@pytest.mark.parametrize("comma", [False, True])
def test_heights_alone_take_their_spacing_from_the_header(header: str, comma: bool) -> None:
    lines = [f"{z:.4f}".replace(".", ",") if comma else f"{z:.4f}" for z in Z_UM]
    assert check(text(header, lines)).note.code == "trace.spacing"


def test_column_named_as_an_index_is_passed_over() -> None:
    content = text("dx 0.5 µm\ni;z [µm]", [f"{i};{z}" for i, z in enumerate(Z_UM)])
    check(content)


def test_columns_the_other_way_round_are_turned() -> None:
    turned = [";".join(reversed(row.split(";"))) for row in rows(";")]
    check(text("z [µm];x [mm]", turned))


def test_trace_written_backwards_is_the_same_trace() -> None:
    check(text("x [mm];z [µm]", rows(";")[::-1]))


def test_separator_at_the_end_of_each_line_is_no_column() -> None:
    check(text("x [mm];z [µm];", [row + ";" for row in rows(";")]))


def test_blank_lines_are_passed_over() -> None:
    check(text("\nx [mm];z [µm]\n", [*rows(";")[:100], "", *rows(";")[100:], "", ""]))


def test_words_of_the_header_are_kept() -> None:
    found = check(text("gauge: stylus 2\noperator = night shift\nx [mm];z [µm]", rows(";")))
    assert found.header[:2] == (("gauge", "stylus 2"), ("operator", "night shift"))


def test_printed_profile_is_read_from_a_file() -> None:
    lines = (FOLDER / "profile_ground.csv").read_text(encoding="utf-8").splitlines()
    lines[0] = "# dx 0.00049995536112846996 mm"
    found = load_trace("\n".join(lines), "ground.csv")
    assert found.z_um.tolist() == printed("profile_ground").column("z_um")
    assert found.spacing_um == pytest.approx(0.49995536112846996, rel=1e-12)


# What is refused.
def refused_for(content: str | bytes, name: str = "trace.csv") -> Refused:
    with pytest.raises(Refused) as refused:
        load_trace(content, name)
    assert refused.value.next_step
    assert refused.value.plain()
    return refused.value


@pytest.mark.parametrize("cell", ["", "NaN", "nan", "---", "inf", "***", " "])
@pytest.mark.parametrize("separator", [";", "\t", ","])
def test_missing_height_is_a_gap_with_its_line(cell: str, separator: str) -> None:
    lines = rows(separator)
    lines[120] = f"0.06{separator}{cell}"
    refused = refused_for(text(f"x [mm]{separator}z [µm]", lines))
    assert (refused.code, refused.values["line"]) == ("trace.gap", 122)


def test_text_among_the_numbers_is_refused_with_its_line() -> None:
    lines = rows(";")
    lines[7] = "0.0035;rough"
    refused = refused_for(text("head\nx [mm];z [µm]", lines))
    assert (refused.code, refused.values["line"], refused.values["value"]) == ("trace.not_a_number", 10, "rough")


def test_third_number_in_one_line_is_refused_with_its_line() -> None:
    lines = rows(";")
    lines[300] += ";1"
    refused = refused_for(text("x [mm];z [µm]", lines))
    assert (refused.code, refused.values["line"]) == ("trace.not_a_number", 302)


def test_missing_line_is_a_gap_with_its_points() -> None:
    lines = rows(";")
    del lines[100]
    refused = refused_for(text("x [mm];z [µm]", lines))
    assert (refused.code, refused.values["index"], refused.values["following"]) == ("trace.gap", 100, 101)


def test_uneven_spacing_is_refused_with_its_points() -> None:
    lines = rows(";")
    lines[100] = "0.0502;2"
    refused = refused_for(text("x [mm];z [µm]", lines))
    assert (refused.code, refused.values["index"]) == ("trace.uneven", 100)


@pytest.mark.parametrize("header", ["", "x;z", "position;height", "x [furlong];z [µm]", "x [mm];z"])
def test_columns_without_units_are_refused(header: str) -> None:
    assert refused_for(text(header, rows(";"))).code == "trace.no_units"


@pytest.mark.parametrize("header", ["z [µm]", "spacing = 0.5\nz [µm]", "spacing = 0 µm\nz [µm]"])
def test_heights_without_a_spacing_are_refused(header: str) -> None:
    assert refused_for(text(header, [f"{z}" for z in Z_UM])).code == "trace.no_spacing"


def test_spacing_without_the_unit_of_the_heights_is_refused() -> None:
    assert refused_for(text("spacing = 0.5 µm\nz", [f"{z}" for z in Z_UM])).code == "trace.no_units"


@pytest.mark.parametrize("lines", [rows(",", comma=True), [row + ";1" for row in rows(";")]])
def test_more_than_two_columns_are_refused(lines: list[str]) -> None:
    refused = refused_for(text("x [mm];z [µm]", lines))
    assert (refused.code, refused.values["limit"]) == ("trace.columns", 2)


@pytest.mark.parametrize(
    "content",
    [
        b"PK\x03\x04 a workbook",
        b"%PDF-1.7",
        b"\x89PNG\r\n\x1a\n",
        b"\xff\xd8\xff\xe0",
        b"\xd0\xcf\x11\xe0",
        b"\x1f\x8b\x08",
        bytes(range(256)) * 20,
        b"x [mm];z\x00\x00\x01",
        b"\x81\x82\x01\x02\x03\x04 binary",
    ],
)
def test_file_that_is_no_text_is_refused_by_its_name(content: bytes) -> None:
    refused = refused_for(content)
    assert (refused.code, refused.values["name"]) == ("trace.not_text", "trace.csv")


@pytest.mark.parametrize("content", [b"", "", "\n \n"])
def test_empty_file_is_refused(content: str | bytes) -> None:
    assert refused_for(content).code == "trace.empty"


@pytest.mark.parametrize("content", ["a letter\nto the press shop\n", "x [mm];z [µm]\n"])
def test_text_without_numbers_is_refused(content: str) -> None:
    assert refused_for(content).code == "trace.no_numbers"


def test_single_row_is_refused() -> None:
    assert refused_for("x [mm];z [µm]\n0;1\n").code == "profile.too_few_points"


def test_smd_by_another_name_is_refused() -> None:
    content = write_smd(check(text("x [mm];z [µm]", rows(";"))), "x")
    assert refused_for(content, "trace.txt").code == "trace.is_smd"
    check(content, "trace.SMD")


def test_table_by_the_name_of_smd_is_refused() -> None:
    assert refused_for(text("x [mm];z [µm]", rows(";")), "trace.smd").code == "smd.other_file"


def test_ten_million_lines_are_refused_before_they_are_read() -> None:
    content = b"spacing = 0.5 um\nz [um]\n" + b"1\n" * 10_000_000
    tracemalloc.start()
    refused = refused_for(content)
    assert refused.code == "profile.too_many_points"
    assert tracemalloc.get_traced_memory()[1] < 1_000_000
    tracemalloc.stop()


@pytest.mark.parametrize(
    ("said", "comma", "number"),
    [
        ("1.5", False, 1.5), (" -.5 ", False, -0.5), ("1,5", True, 1.5), ("2e-3", False, 0.002), ("+3.", False, 3.0),
        ("1,5", False, None), ("1e999", False, None), ("nan", False, None), ("0x10", False, None),
        ("1_000", False, None),
        ("", False, None),
    ],
)  # fmt: skip
def test_number_is_read_as_it_is_written(said: str, comma: bool, number: float | None) -> None:
    assert as_number(said, comma) == number


def test_million_points_stay_below_the_memory_that_is_allowed() -> None:
    points = 200_000
    content = ("x [mm];z [µm]\n" + "".join(f"{i * 5e-4:.4f};{i % 7}\n" for i in range(points))).encode()
    tracemalloc.start()
    found = load_trace(content, "long.csv")
    profile.parameters(found.z_um, found.spacing_um, 0.8, 2.5)
    peak = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    assert even_spacing(np.arange(points) * found.spacing_um) == pytest.approx(0.5)
    # A fifth of the hundred million bytes that a million points may take.
    assert peak < 20_000_000
