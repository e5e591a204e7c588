"""A certificate that came with a form: a PDF or a photo of it."""

from __future__ import annotations

from pathlib import PurePath

from django.http import HttpRequest
from django.utils import timezone

from shop.pages.doors import person
from shop.pages.photo import ENDINGS, MOST_BYTES, image_type
from shop.paper.models import StoredFile
from shop.paper.services import store_file
from shop.refusal import Refused, gettext_noop

PDF = "application/pdf"


def certificate_file_of(request: HttpRequest, name: str) -> StoredFile | None:
    """Return the certificate as a kept file, or None where none was sent. Raises Refused for what is neither."""
    sent = request.FILES.get(name)
    if sent is None:
        return None
    if (sent.size or 0) > MOST_BYTES:
        raise Refused(
            "certificate.too_large",
            gettext_noop("The file has {size} MB, more than {limit} MB."),
            next_step=gettext_noop("Scan it with fewer pixels."),
            field=name,
            size=round((sent.size or 0) / 1024**2),
            limit=MOST_BYTES // 1024**2,
        )
    content = sent.read()
    media_type = PDF if content.startswith(b"%PDF-") else image_type(content)
    if not media_type:
        raise Refused(
            "certificate.no_document",
            gettext_noop("“{name}” is neither a PDF nor a photo, whatever its name says."),
            next_step=gettext_noop("Send the certificate as PDF or as a photo, or leave it out."),
            field=name,
            name=sent.name,
        )
    kept_as = (PurePath(sent.name or name).stem or name) + (".pdf" if media_type == PDF else ENDINGS[media_type])
    return store_file(content=content, name=kept_as, media_type=media_type, by=person(request), at=timezone.now())
