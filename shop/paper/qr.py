"""QR codes."""

from __future__ import annotations

import segno


def qr_svg(text: str, title: str = "") -> str:
    """Return the code as an SVG element in the ink of the page around it, with no style of its own."""
    code = segno.make(text, error="m", micro=False)
    drawn: str = code.svg_inline(
        omitsize=True, border=4, dark="currentColor", svgclass="qr", lineclass=None, title=title or text
    )
    return drawn.replace("<svg ", '<svg role="img" ', 1)
