"""A form that was sent while nobody was signed in, or with an old token: kept, and offered again."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from django.core import signing
from django.http import HttpRequest
from django.utils.http import url_has_allowed_host_and_scheme

SALT = "shop.pages.kept"
GOOD_FOR_SECONDS = 24 * 3600
# Never carried through a page: secrets, and the token that will be new anyway.
LEFT_OUT = frozenset(
    {"csrfmiddlewaretoken", "password", "old_password", "new_password1", "new_password2", "kept"}
)


@dataclass(frozen=True)
class KeptForm:
    """Where a form was sent, its fields in order, and the names of files that could not be kept."""

    to: str
    fields: tuple[tuple[str, str], ...]
    files: tuple[str, ...] = ()


def form_of(request: HttpRequest) -> KeptForm:
    """Return the form that the request carries."""
    fields = tuple(
        (name, str(value)) for name, values in request.POST.lists() if name not in LEFT_OUT for value in values
    )
    return KeptForm(
        request.get_full_path(), fields, tuple(str(file) for files in request.FILES.lists() for file in files[1])
    )


def pack(request: HttpRequest) -> str:
    """Return the request's form as signed text for a hidden field."""
    form = form_of(request)
    return signing.dumps([form.to, form.fields, form.files], salt=SALT, compress=True)


def unpack(text: str, request: HttpRequest) -> KeptForm | None:
    """Return the form kept in the text, or None where it was altered, is too old or leads elsewhere."""
    try:
        to, fields, files = signing.loads(text, salt=SALT, max_age=GOOD_FOR_SECONDS)
    except signing.BadSignature:
        return None
    if not url_has_allowed_host_and_scheme(to, allowed_hosts={request.get_host()}):
        return None
    return KeptForm(to, tuple(_pair(one) for one in fields), tuple(files))


def _pair(one: Any) -> tuple[str, str]:
    name, value = one
    return str(name), str(value)
