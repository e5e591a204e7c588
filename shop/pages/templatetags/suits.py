"""Filters of the answers to "can this face have this finish?"."""

from __future__ import annotations

from typing import Any

from django import template
from django.utils.html import format_html, format_html_join
from django.utils.safestring import mark_safe
from django.utils.translation import gettext

from shop.boards.ra_bands import beside
from shop.boards.scale_table import Lay
from shop.boards.suitability import STANDING_WORDS, TOPIC_LABELS
from shop.people import wording
from shop.picture import swatches
from shop.refusal import Word
from shop.standards.source import Standing
from shop.units import Quantity

register = template.Library()

MARKS = {"yes": "yes", "with care": "conditions", "no": "no", "not judged": "not measured"}


@register.filter
def shown(value: Quantity | str | None) -> str:
    """Return the value or the limit of a row in the reader's units or words."""
    if value is None:
        return wording.NOTHING
    return wording.show(value) if isinstance(value, Quantity) else gettext(value) if value else wording.NOTHING


@register.filter
def mark_of(verdict: str) -> str:
    """Return the state whose mark a verdict wears."""
    return MARKS.get(verdict, "not measured")


@register.filter
def topic(name: str) -> Any:
    """Return what a topic is called."""
    return TOPIC_LABELS.get(name, name)


@register.filter
def standing(value: Standing) -> Any:
    """Return how well a number is founded, in two words."""
    return STANDING_WORDS[value]


register.filter("ra_bands", beside)


@register.simple_tag
def cell(value: Any) -> Any:
    """Return a cell of a published table: a quantity, words, the drawn lay of a finish, or several together."""
    if isinstance(value, Lay):
        drawn = swatches.swatch(value.how_made, value.grade, "")
        return format_html('<span class="with-swatch">{}{}</span>', mark_safe(drawn), value.words)  # noqa: S308 - ours
    if isinstance(value, tuple):
        return format_html_join(" ", "{}", ((cell(one),) for one in value if one != ""))
    return shown(value) if value is None or isinstance(value, Quantity | Word) else str(value) or wording.NOTHING
