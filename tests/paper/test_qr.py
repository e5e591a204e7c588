"""A QR code that a browser may show and a scanner can read."""

from __future__ import annotations

from xml.etree import ElementTree

import pytest

from shop.paper.qr import qr_svg


def test_qr_code_is_an_svg_without_a_style_of_its_own() -> None:
    drawn = qr_svg("http://localhost:8000/work-order/1/")
    code = ElementTree.fromstring(drawn)
    assert code.tag.endswith("svg")
    assert "style" not in drawn
    assert code.get("viewBox")
    assert code.get("role") == "img"
    assert "http://localhost:8000/work-order/1/" in drawn


@pytest.mark.parametrize("text", ["a", "http://localhost/work-order/123456/" * 8])
def test_qr_code_grows_with_what_it_says(text: str) -> None:
    side = int(float((ElementTree.fromstring(qr_svg(text)).get("viewBox") or "").split()[2]))
    modules = side - 8
    assert modules >= 21
    assert (modules - 17) % 4 == 0
    assert (modules > 21) == (len(text) > 20)


def test_qr_code_names_itself() -> None:
    assert "<title>Work order &lt;1&gt;</title>" in qr_svg("x", title="Work order <1>")
