"""Amounts of money in templates."""

from __future__ import annotations

from decimal import Decimal

from django import template

from shop.boards import costs

register = template.Library()


@register.filter
def money(amount: Decimal | float | None, currency: str) -> str:
    """Return an amount with its currency as the reader reads it; a dash for nothing."""
    return costs.money(amount, currency)
