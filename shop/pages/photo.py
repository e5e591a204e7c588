"""A photo that came with a form."""

from __future__ import annotations

from django.http import HttpRequest
from django.utils import timezone

from shop.pages.doors import person
from shop.paper.models import StoredFile
from shop.paper.services import store_file
from shop.refusal import Refused, gettext_noop

MOST_BYTES = 20 * 1024 * 1024


def photo_of(request: HttpRequest, name: str = "photo") -> StoredFile | None:
    """Return the photo as a kept file, or None where none was taken. Raises Refused for what is no photo."""
    sent = request.FILES.get(name)
    if sent is None:
        return None
    if not (sent.content_type or "").startswith("image/"):
        raise Refused(
            "photo.no_image",
            gettext_noop("“{name}” is not a photo."),
            next_step=gettext_noop("Take the photo again, or send without one."),
            field=name,
            name=sent.name,
        )
    if (sent.size or 0) > MOST_BYTES:
        raise Refused(
            "photo.too_large",
            gettext_noop("The photo has {size} MB, more than {limit} MB."),
            next_step=gettext_noop("Take it with fewer pixels."),
            field=name,
            size=round((sent.size or 0) / 1024**2),
            limit=MOST_BYTES // 1024**2,
        )
    return store_file(
        content=sent.read(),
        name=sent.name or name,
        media_type=sent.content_type or "",
        by=person(request),
        at=timezone.now(),
    )
