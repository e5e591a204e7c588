"""Nobody's news: time has passed."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime

from django.db import transaction

from shop.loop.pieces import Swept, faces_of, look
from shop.people.models import Plant
from shop.tooling.models import Face, Tool
from shop.watch.services import learning, levels, sweeping


def swept(plant: Plant, at: datetime) -> Swept:
    """Learn from the whole plant, forecast every face by it, look at every tool and propose what is called.

    One transaction a tool. Where a resin's or a gauge's level was learned anew, the faces that had several are
    fitted again from their readings.
    """
    moved = levels.learn_levels(plant, at=at)
    learning.learn_groups(plant, at=at)
    sweeping.forecast_all(plant, at=at)
    found = []
    for tool in Tool.objects.in_plant(plant).alive():
        with transaction.atomic():
            faces = list(faces_of(tool))
            found.append(look(faces, at=at, refit=any(face.pk in moved for face in faces)))
    return Swept(
        tools=len(found),
        faces=sum(one.faces for one in found),
        opened=sum(one.opened for one in found),
        closed=sum(one.closed for one in found),
        orders=sum(one.orders for one in found),
    )


@transaction.atomic
def brought_up_to_date(face_ids: Iterable[int], *, at: datetime) -> Swept:
    """Look at these faces."""
    return look(Face.objects.filter(pk__in=list(face_ids)), at=at)
