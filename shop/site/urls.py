"""Addresses. Each page module of `shop.pages` brings its own list."""

from __future__ import annotations

from importlib import import_module

from django.urls import URLPattern, URLResolver

from shop.pages import PAGES


def gathered() -> list[URLPattern | URLResolver]:
    """Return the addresses of all pages, in the order in which the pages are listed."""
    found: list[URLPattern | URLResolver] = []
    for page in PAGES:
        found.extend(import_module(f"shop.pages.{page}").urls)
    return found


urlpatterns: list[URLPattern | URLResolver] = gathered()
