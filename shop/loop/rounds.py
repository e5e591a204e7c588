"""Nobody's news: time has passed."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime

from django.db import transaction

from shop.loop.pieces import Swept, faces_of, look
from shop.people.models import Plant
from shop.tooling.models import Face, Tool


def swept(plant: Plant, at: datetime) -> Swept:
    """Look at every face of every living tool of the plant, one transaction a tool, and propose what is called."""
    found = []
    for tool in Tool.objects.in_plant(plant).alive():
        with transaction.atomic():
            found.append(look(faces_of(tool), at=at))
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
