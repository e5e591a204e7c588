"""The SMD format: what is written is read, and an altered, cut or foreign file is refused."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from shop.refusal import Refused
from shop.standards.profile import Trace, parameters
from shop.standards.smd import MODULI, looks_like_smd, read_smd, write_smd
from shop.standards.trace import load_trace
from tests.reference.printed import printed

GROUND = np.array(printed("profile_ground").column("z_um"))
GROUND_SPACING_UM = 0.49995536112846996


def trace(z_um: object = GROUND, spacing_um: float = GROUND_SPACING_UM) -> Trace:
    said = load_trace("spacing = 1 µm\nz [µm]\n1\n2\n").note
    return Trace(np.asarray(z_um, dtype=np.float64), spacing_um, said)


# As the two public writers lay a file out; lines joined by hand, so that ours is not read by its own picture of it.
def by_hand(
    *,
    heights: tuple[str, ...] = ("-1.50000", "2.25000", "0.00000"),
    cx: str = "CX\0 I\0 3 mm\0 1.0e0 D\0 5.00000e-4",
    cz: str = "CZ\0 A\0 3 um\0 1.0e0 D\0",
    feature: str = "PRF\0 1 ISO5436\0",
    modulus: int = 65535,
    checksum: int | None = None,
    end: str = "\r\n",
) -> bytes:
    lines = [
        "ISO 5436-2:2012\0ground.smd\0", feature, cx, cz, "\x03",
        "DATE: 25-November-2026\0", "CREATED_BY the gauge room\0", "COMMENT /* across the lay */\0", "\x03",
        *heights, "\x03", "",
    ]  # fmt: skip
    body = end.join(lines).encode("latin-1")
    said = sum(body) % modulus if checksum is None else checksum
    return body + f"{said}{end}\x03{end}\x1a".encode("latin-1")


def refused_for(content: bytes) -> Refused:
    with pytest.raises(Refused) as refused:
        read_smd(content)
    assert refused.value.next_step
    assert refused.value.plain()
    return refused.value


@pytest.mark.parametrize("modulus", MODULI)
@pytest.mark.parametrize("end", ["\r\n", "\n"])
def test_file_as_others_write_it_is_read(modulus: int, end: str) -> None:
    found = read_smd(by_hand(modulus=modulus, end=end))
    assert found.z_um.tolist() == [-1.5, 2.25, 0.0]
    assert found.spacing_um == pytest.approx(0.5)
    assert dict(found.header) == {
        "revision": "ISO 5436-2:2012",
        "identifier": "ground.smd",
        "feature": "PRF  1 ISO5436",
        "DATE": "25-November-2026",
        "CREATED_BY": "the gauge room",
        "COMMENT": "across the lay",
    }


@pytest.mark.parametrize(
    ("cz", "heights", "um"),
    [
        ("CZ\0 A\0 3 mm\0 1.0e0 D\0", ("0.001", "0.002", "-0.001"), [1.0, 2.0, -1.0]),
        ("CZ\0 A\0 3 nm\0 1.0e0 D\0", ("1000", "2000", "-1000"), [1.0, 2.0, -1.0]),
        ("CZ\0 A\0 3 m\0 1.0e-9 L\0", ("1000", "2000", "-1000"), [1.0, 2.0, -1.0]),
        ("CZ\0 A\0 3 um\0 0.5 I\0", ("2", "4", "-2"), [1.0, 2.0, -1.0]),
    ],
)
def test_heights_are_read_in_their_unit_and_scale(cz: str, heights: tuple[str, ...], um: list[float]) -> None:
    assert read_smd(by_hand(cz=cz, heights=heights)).z_um == pytest.approx(um)


def test_what_is_written_is_read_to_the_last_digit() -> None:
    found = read_smd(write_smd(trace(), "ground", {"CREATED_BY": "gauge room", "COMMENT": "line\none */ two"}))
    assert np.array_equal(found.z_um, GROUND)
    assert found.spacing_um == pytest.approx(GROUND_SPACING_UM, rel=1e-15)
    assert dict(found.header)["identifier"] == "ground"
    assert dict(found.header)["COMMENT"] == "line one * / two"
    assert parameters(found.z_um, found.spacing_um, 0.8).ra_um == pytest.approx(
        parameters(GROUND, GROUND_SPACING_UM, 0.8).ra_um, rel=1e-12
    )


@given(st.lists(st.floats(-1e6, 1e6), min_size=2, max_size=40), st.floats(1e-3, 1e3))
def test_any_trace_comes_back(z: list[float], spacing: float) -> None:
    found = read_smd(write_smd(trace(z, spacing), "x"))
    assert found.z_um.tolist() == z
    assert found.spacing_um == pytest.approx(spacing, rel=1e-15)


def test_written_file_has_the_layout_of_the_standard() -> None:
    content = write_smd(trace([1.0, -2.5]), "two points")
    head, info, data, check, end = content.split(b"\x03\r\n")
    assert head.split(b"\r\n")[2].startswith(b"CX\0 I\0 2 mm\0")
    assert info == b""
    assert data == b"1.0\r\n-2.5\r\n"
    assert int(check) == sum(content[: content.rindex(check)]) % 65535
    assert end == b"\x1a\r\n"


def test_altered_height_is_refused() -> None:
    refused = refused_for(by_hand().replace(b"2.25", b"2.15"))
    assert refused.code == "smd.checksum"
    assert abs(refused.values["value"] - int(refused.values["limit"])) == 1


def test_checksum_that_is_no_number_is_refused() -> None:
    content = by_hand(checksum=0)
    assert refused_for(content.replace(b"0\r\n\x03\r\n\x1a", b"none\r\n\x03\r\n\x1a")).code == "smd.checksum"


@pytest.mark.parametrize("kept", [0.2, 0.5, 0.9])
def test_file_cut_short_is_refused(kept: float) -> None:
    content = write_smd(trace(), "ground")
    assert refused_for(content[: int(len(content) * kept)]).code == "smd.cut_short"


@pytest.mark.parametrize("content", [b"", b"x;z\n1;2", b"PK\x03\x04\x03\x03\x03", b"ISO 4287\x03\x03\x03\x03"])
def test_other_file_is_refused(content: bytes) -> None:
    assert not looks_like_smd(content)
    assert refused_for(content).code == "smd.other_file"


@pytest.mark.parametrize(
    "header",
    [
        {"feature": "SUR\0 1 ISO5436\0"},
        {"cx": "CY\0 I\0 3 mm\0 1.0e0 D\0 5e-4"},
        {"cx": "CX\0 A\0 3 mm\0 1.0e0 D\0"},
        {"cx": "CX\0 I\0 3 mm\0 1.0e0 D\0"},
        {"cx": "CX\0 I\0 4 mm\0 1.0e0 D\0 5e-4"},
        {"cx": "nothing"},
        {"cz": "CZ\0 R\0 3 um\0 1.0e0 D\0"},
    ],
)
def test_header_that_is_not_an_even_profile_is_refused(header: dict[str, str]) -> None:
    assert refused_for(by_hand(**header)).code == "smd.header"  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("parts", "code"),
    [
        ({"heights": ("1", "2")}, "smd.count"),
        ({"heights": ("1",)}, "smd.count"),
        ({"heights": ()}, "profile.too_few_points"),
        ({"heights": ("1", "two", "3")}, "smd.not_a_number"),
        ({"heights": ("1", "nan", "3")}, "profile.gap"),
        ({"cz": "CZ\0 A\0 3 furlong\0 1.0e0 D\0"}, "smd.unit"),
        ({"cz": "CZ\0 A\0 3 um\0 one D\0"}, "smd.not_a_number"),
        ({"cx": "CX\0 I\0 3 mm\0 1.0e0 D\0 0"}, "value.impossible"),
        ({"cx": "CX\0 I\0 3 mm\0 1.0e0 D\0 -5e-4"}, "value.impossible"),
    ],
)
def test_record_that_does_not_hold_what_it_should_is_refused(parts: dict[str, object], code: str) -> None:
    assert refused_for(by_hand(**parts)).code == code  # type: ignore[arg-type]


def test_height_that_is_text_is_named_with_its_point() -> None:
    refused = refused_for(by_hand(heights=("1", "two", "3")))
    assert (refused.values["where"], refused.values["value"]) == ("record 3, point 2", "two")


def test_trace_with_a_gap_is_not_written() -> None:
    with pytest.raises(Refused):
        write_smd(trace([1.0, float("nan")]), "x")
