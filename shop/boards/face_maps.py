"""The faces of a tool on the pictures of its inserts."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass
from datetime import datetime

from shop.picture.face_map import FaceMap, MapFace, MapSpot
from shop.tooling.models import Face, Insert, Tool
from shop.tooling.reading import inserts_at
from shop.watch.models import Standing


@dataclass(frozen=True)
class InsertMap:
    """One fitted insert with its picture."""

    insert: Insert
    position: int | None
    faces: tuple[Face, ...]
    drawn: FaceMap


def insert_maps(tool: Tool, at: datetime, *, href: str = "", chosen: Collection[int] = ()) -> list[InsertMap]:
    """Return the picture of each insert in the tool; `href` is an address with {pk} for the face, or empty."""
    faces: dict[int, list[Face]] = {}
    rows = Face.objects.in_tool(tool).select_related("insert", "standing").prefetch_related("spots")
    for face in rows.order_by("name"):
        faces.setdefault(face.insert_id, []).append(face)
    return [
        insert_map(fitting.insert, fitting.position.number, tuple(faces[fitting.insert_id]), href, chosen=chosen)
        for fitting in inserts_at(tool, at)
        if fitting.insert_id in faces
    ]


def insert_map(
    insert: Insert,
    position: int | None,
    faces: tuple[Face, ...],
    href: str = "",
    spot_href: str = "",
    chosen: Collection[int] = (),
) -> InsertMap:
    """Return the picture of one insert; faces and spots are to be fetched along."""
    drawn = tuple(_face(face, href, spot_href, face.pk in chosen) for face in faces)
    return InsertMap(insert, position, faces, FaceMap(faces=drawn))


def _face(face: Face, href: str, spot_href: str, chosen: bool) -> MapFace:
    standing: Standing | None = getattr(face, "standing", None)
    return MapFace(
        x=face.map_x,
        y=face.map_y,
        w=face.map_w,
        h=face.map_h,
        name=face.name,
        state=str(Standing.State(standing.state).label) if standing else "",
        href=href.format(pk=face.pk),
        chosen=chosen,
        spots=tuple(
            MapSpot(spot.x, spot.y, spot.name, spot_href.format(face=face.pk, spot=spot.pk))
            for spot in (face.spots.all() if spot_href else ())
        ),
    )
