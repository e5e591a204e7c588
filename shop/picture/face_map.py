"""The faces of an insert on a drawn map, each with its spots; a spot or a face may be a link."""

from __future__ import annotations

from dataclasses import dataclass, field

from shop.picture.svg import element, picture

WIDTH = 360.0
MARGIN = 8.0
# A spot is pressed with gloves on: its reach is 48 px across where the map is as wide as drawn.
REACH = 24.0
RADIUS = 6.0


@dataclass(frozen=True)
class MapSpot:
    """A spot at x, y in per cent of its face; `mark` is a short figure in its middle."""

    x: float
    y: float
    name: str
    href: str = ""
    mark: str = ""


@dataclass(frozen=True)
class MapFace:
    """A face at x, y with width and height in per cent of the map; `state` is its word."""

    x: float
    y: float
    w: float
    h: float
    name: str
    state: str = ""
    spots: tuple[MapSpot, ...] = ()
    href: str = ""
    chosen: bool = False


@dataclass(frozen=True)
class FaceMap:
    """The map of one insert. `height` is in per cent of its width; a small map is drawn with a smaller `width`."""

    faces: tuple[MapFace, ...] = field(default=())
    title: str = ""
    height: float = 56.0
    width: float = WIDTH


def face_map(drawn: FaceMap) -> str:
    """Return the map as SVG: the steel, the faces from the largest to the smallest, their spots on top."""
    height = drawn.width * drawn.height / 100
    size = (drawn.width, height)
    faces = sorted(drawn.faces, key=lambda face: -face.w * face.h)
    title = drawn.title or ", ".join(face.name for face in drawn.faces)
    # With links inside it is no single image: the links keep their own names.
    linked = any(face.href or any(spot.href for spot in face.spots) for face in faces)
    return picture(
        "face-map",
        drawn.width,
        height,
        title,
        element(
            "rect",
            class_="steel",
            x=1,
            y=1,
            width=drawn.width - 2,
            height=height - 2,
            fill="none",
            stroke="currentColor",
        ),
        *(_face(face, size) for face in faces),
        *(_spots(face, size) for face in faces),
        role="group" if linked else "img",
    )


def _box(face: MapFace, size: tuple[float, float]) -> tuple[float, float, float, float]:
    width, height = size
    across, down = width - 2 * MARGIN, height - 2 * MARGIN
    x, y = MARGIN + across * face.x / 100, MARGIN + down * face.y / 100
    return x, y, min(across * face.w / 100, width - MARGIN - x), min(down * face.h / 100, height - MARGIN - y)


def _face(face: MapFace, size: tuple[float, float]) -> str:
    x, y, w, h = _box(face, size)
    letters = max(min(12.0, h - 2), 6.0)
    base = y + min(15.0, h / 2 + letters * 0.36)  # a narrow band has its name in its middle
    room = max(int((w - 12) / (letters * 0.55)), 3)
    body = element(
        "rect",
        class_="face",
        x=x,
        y=y,
        width=w,
        height=h,
        fill="currentColor",
        fill_opacity=0.06,
        stroke="currentColor",
        stroke_width=1.25,
    )
    body += element("text", words=_cut(face.name, room), x=x + 6, y=base, font_size=letters, fill="currentColor")
    if face.state and h > 34:
        body += element(
            "text",
            words=_cut(face.state, room),
            class_="state-line",
            x=x + 6,
            y=y + 28,
            font_size=10.0,
            fill="currentColor",
        )
    name = f"{face.name}, {face.state}" if face.state else face.name
    if face.href:
        return element(
            "a", element("title", words=name), body, href=face.href, class_="is-chosen" if face.chosen else None
        )
    return element("g", element("title", words=name), body, class_="is-chosen" if face.chosen else None)


def _spots(face: MapFace, size: tuple[float, float]) -> str:
    x, y, w, h = _box(face, size)
    drawn = []
    for spot in face.spots:
        # A spot stays inside the map even at the edge of its face, so that its whole reach can be pressed.
        cx = min(max(x + w * spot.x / 100, REACH), size[0] - REACH)
        cy = min(max(y + h * spot.y / 100, REACH), size[1] - REACH)
        body = element("circle", class_="reach", cx=cx, cy=cy, r=REACH, fill="none") if spot.href else ""
        body += element(
            "circle", class_="spot", cx=cx, cy=cy, r=RADIUS, fill="none", stroke="currentColor", stroke_width=2
        )
        body += (
            element("text", words=spot.mark, x=cx + 9, y=cy + 4, font_size=10.0, fill="currentColor")
            if spot.mark
            else element("circle", class_="spot-core", cx=cx, cy=cy, r=2, fill="currentColor")
        )
        title = element("title", words=f"{face.name}: {spot.name}")
        drawn.append(element("a", title, body, href=spot.href) if spot.href else element("g", title, body))
    return "".join(drawn)


def _cut(words: str, room: int) -> str:
    return words if len(words) <= room else words[: max(room - 1, 1)] + "…"
