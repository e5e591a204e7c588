"""Addresses. Each page module of `shop.pages` brings its own list."""

from __future__ import annotations

from django.urls import URLPattern, URLResolver

urlpatterns: list[URLPattern | URLResolver] = []
