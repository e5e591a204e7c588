"""HTML made into PDF, from what the product ships and nothing else."""

from __future__ import annotations

from functools import cache
from mimetypes import guess_type
from pathlib import Path
from typing import Any
from urllib.parse import unquote, urlsplit

from django.conf import settings
from django.contrib.staticfiles import finders
from django.templatetags.static import static

from shop.refusal import Refused, gettext_noop

PACKAGES = "libpango-1.0-0 libpangoft2-1.0-0 libharfbuzz-subset0"
INSTALL = f"apt-get install {PACKAGES}"
HERE = "http://paper.invalid/"
FACES = (("Regular", 400, "normal"), ("It", 400, "italic"), ("Semibold", 600, "normal"), ("Bold", 700, "normal"))
SIZES = ("A4", "Letter")


@cache
def available() -> str:
    """Return what must be installed before paper can be made; empty where nothing is missing."""
    try:
        import weasyprint  # noqa: F401 (Pango is loaded by importing it)
    except OSError:
        return INSTALL
    return ""


def render(html: str, paper_size: str) -> bytes:
    """Return the PDF of a page of HTML.

    Raises
    ------
    Refused
        When Pango is missing; the next step says what to install.
    FetchedElsewhereError
        When the page asks for something that the product does not ship.
    """
    if install := available():
        raise Refused(
            "paper.no_pango",
            gettext_noop("Paper cannot be made here: the library Pango is missing."),
            next_step=gettext_noop("Ask whoever keeps this system to run: {install}"),
            install=install,
        )
    from weasyprint import CSS, HTML
    from weasyprint.text.fonts import FontConfiguration

    fonts = FontConfiguration()
    sheet = CSS(string=_base_sheet(paper_size), base_url=HERE, url_fetcher=_fetch, font_config=fonts)
    try:
        made = HTML(string=html, base_url=HERE, url_fetcher=_fetch).write_pdf(stylesheets=[sheet], font_config=fonts)
    except _fatal_error() as error:
        raise FetchedElsewhereError(str(error)) from None
    return bytes(made)


class FetchedElsewhereError(Exception):
    """A document asked for a file that the product does not ship."""


@cache
def _fatal_error() -> type[BaseException]:
    from weasyprint.urls import FatalURLFetchingError

    fatal: type[BaseException] = FatalURLFetchingError
    return fatal


def _base_sheet(paper_size: str) -> str:
    if paper_size not in SIZES:
        raise ValueError(f"{paper_size} is no paper size of ours")
    faces = "".join(
        f'@font-face {{ font-family: "Source Sans Pro"; font-weight: {weight}; font-style: {style};'
        f' src: url("{static(f"font/SourceSansPro-{name}.ttf")}"); }}\n'
        for name, weight, style in FACES
    )
    return f'{faces}@page {{ size: {paper_size}; }} html {{ font-family: "Source Sans Pro", sans-serif; }}'


def _fetch(url: str) -> Any:
    """Answer WeasyPrint's wish for a file: a static file of ours, or data in the page itself."""
    from weasyprint.urls import URLFetcher, URLFetcherResponse

    if url.startswith("data:"):
        return URLFetcher(allowed_protocols=["data"]).fetch(url)
    path = unquote(urlsplit(url).path)
    prefix = f"/{settings.STATIC_URL.strip('/')}/"
    if not url.startswith(HERE) or not path.startswith(prefix):
        raise _fatal_error()(f"{url} is not ours")
    found = finders.find(path.removeprefix(prefix))
    if not isinstance(found, str):
        raise _fatal_error()(f"{path} is not there")
    media_type = guess_type(found)[0] or "application/octet-stream"
    return URLFetcherResponse(url, Path(found).read_bytes(), {"Content-Type": media_type})
