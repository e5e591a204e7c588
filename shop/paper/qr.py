"""QR codes."""

from __future__ import annotations

import segno


def qr_svg(text: str, title: str = "") -> str:
    """Return the code as an SVG element, black on white on any ground, coloured by attributes alone."""
    code = segno.make(text, error="m", micro=False)
    drawn: str = code.svg_inline(
        omitsize=True, border=4, dark="black", light="white", svgclass="qr", lineclass=None, title=title or text
    )
    return drawn.replace("<svg ", '<svg role="img" ', 1)
