"""Lay swatches: a finish is recognised by the marks that the work left."""

from __future__ import annotations

from shop.picture.svg import element, number, picture, scatter

SIZE = 44.0
MIRROR, PAPER, STONE, BLAST, ERODED, GRAIN, LATTICE = (
    "mirror",
    "paper",
    "stone",
    "blast",
    "spark-eroded",
    "grain",
    "lattice",
)
_BY_HOW_MADE = {
    "polished": MIRROR,
    "stoned": STONE,
    "blasted": BLAST,
    "spark-eroded": ERODED,
    "etched": GRAIN,
    "laser": LATTICE,
}
_BY_GRADE = {"A": MIRROR, "B": PAPER, "C": STONE, "D": BLAST}


def lay(how_made: str, grade: str = "") -> str:
    """Return which lay a finish has; the letter of a mould finish grade is more exact than how it was made."""
    return _BY_GRADE.get(grade[:1].upper(), "") or _BY_HOW_MADE.get(how_made, MIRROR)


def swatch(how_made: str, grade: str = "", title: str = "") -> str:
    """Return the swatch of a finish as SVG; `title` is its text alternative."""
    which = lay(how_made, grade)
    number_of_grade = int(grade[-1]) if grade[-1:].isdigit() else 2
    return picture("swatch", SIZE, SIZE, title or grade or how_made, _DRAWN[which](number_of_grade))


def _strokes(path: str, css: str = "lay", width: float = 0.8) -> str:
    return element("path", class_=css, d=path, fill="none", stroke="currentColor", stroke_width=width)


def _mirror(_grade: int) -> str:
    return _strokes("M8 36L36 8M14 38L38 14", "sheen", 1.0)


def _paper(grade: int) -> str:
    step = 2.6 + 0.8 * grade
    rows = int((SIZE - 4) / step)
    return _strokes("".join(f"M2 {number(3 + row * step)}H42" for row in range(rows + 1)))


def _stone(grade: int) -> str:
    step = 5.0 + 1.5 * grade
    lines = []
    offset = -40.0
    while offset < 44:
        x0, x1 = max(offset, 0), min(offset + 44, 44)
        lines.append(f"M{number(x0)} {number(x0 - offset)}L{number(x1)} {number(x1 - offset)}")
        lines.append(f"M{number(44 - x0)} {number(x0 - offset)}L{number(44 - x1)} {number(x1 - offset)}")
        offset += step
    return _strokes("".join(lines), width=0.7)


def _blast(grade: int) -> str:
    draw = scatter(40 + grade)
    size = 0.45 + 0.2 * grade
    return "".join(
        element("circle", class_="dot", cx=2 + next(draw) * 40, cy=2 + next(draw) * 40, r=size, fill="currentColor")
        for _ in range(110 - 15 * grade)
    )


def _eroded(grade: int) -> str:
    draw = scatter(7 + grade)
    craters = []
    for row in range(5):
        for column in range(5):
            x = 5 + column * 8.5 + (next(draw) - 0.5) * 4
            y = 5 + row * 8.5 + (next(draw) - 0.5) * 4
            wide = 2.4 + next(draw) * 2.2
            craters.append(
                f"M{number(x - wide)} {number(y)}a{number(wide)} {number(wide * 0.8)} 0 1 0 {number(2 * wide)} 0"
                f"a{number(wide)} {number(wide * 0.8)} 0 0 0 {number(-1.3 * wide)} {number(-0.7 * wide)}"
            )
    return _strokes("".join(craters))


def _grain(_grade: int) -> str:
    draw = scatter(19)
    lines = []
    for row in range(6):
        y = 1 + row * 8.5
        lines.append(f"M0 {number(y)}" + "".join(f"l7.4 {number((next(draw) - 0.5) * 7)}" for _ in range(6)))
        for column in range(6):
            x = column * 8.0 + next(draw) * 4
            lines.append(f"M{number(x)} {number(y)}l{number((next(draw) - 0.5) * 5)} {number(7 + next(draw) * 2)}")
    return _strokes("".join(lines), width=1.1)


def _lattice(_grade: int) -> str:
    return "".join(
        element(
            "circle",
            class_="lay",
            cx=4 + column * 6 + (row % 2) * 3,
            cy=4 + row * 5.2,
            r=1.7,
            fill="none",
            stroke="currentColor",
            stroke_width=0.8,
        )
        for row in range(8)
        for column in range(7)
    )


_DRAWN = {
    MIRROR: _mirror,
    PAPER: _paper,
    STONE: _stone,
    BLAST: _blast,
    ERODED: _eroded,
    GRAIN: _grain,
    LATTICE: _lattice,
}
