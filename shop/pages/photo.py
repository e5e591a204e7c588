"""A photo that came with a form."""

from __future__ import annotations

from pathlib import PurePath

from django.http import HttpRequest
from django.utils import timezone

from shop.pages.doors import person
from shop.paper.models import StoredFile
from shop.paper.services import store_file
from shop.refusal import Refused, gettext_noop

MOST_BYTES = 20 * 1024 * 1024
# What a device says about its file is not believed: a photo is known by its first bytes. No drawing that can carry a
# script is among them.
ENDINGS = {"image/jpeg": ".jpg", "image/png": ".png", "image/gif": ".gif", "image/webp": ".webp"}
SHOWN = frozenset(ENDINGS)


def photo_of(request: HttpRequest, name: str = "photo") -> StoredFile | None:
    """Return the photo as a kept file, or None where none was taken. Raises Refused for what is no photo."""
    sent = request.FILES.get(name)
    if sent is None:
        return None
    if (sent.size or 0) > MOST_BYTES:
        raise Refused(
            "photo.too_large",
            gettext_noop("The photo has {size} MB, more than {limit} MB."),
            next_step=gettext_noop("Take it with fewer pixels."),
            field=name,
            size=round((sent.size or 0) / 1024**2),
            limit=MOST_BYTES // 1024**2,
        )
    content = sent.read()
    media_type = image_type(content)
    if not media_type:
        raise Refused(
            "photo.no_image",
            gettext_noop("“{name}” is not a photo that can be shown here."),
            next_step=gettext_noop("Take it again as JPEG, PNG, WebP or GIF, or send without one."),
            field=name,
            name=sent.name,
        )
    kept_as = (PurePath(sent.name or name).stem or name) + ENDINGS[media_type]
    return store_file(content=content, name=kept_as, media_type=media_type, by=person(request), at=timezone.now())


def image_type(content: bytes) -> str:
    """Return the media type of a picture by its first bytes; empty for anything else."""
    if content.startswith(b"\xff\xd8\xff"):
        return "image/jpeg"
    if content.startswith(b"\x89PNG\r\n\x1a\n"):
        return "image/png"
    if content.startswith((b"GIF87a", b"GIF89a")):
        return "image/gif"
    if content[:4] == b"RIFF" and content[8:12] == b"WEBP":
        return "image/webp"
    return ""
