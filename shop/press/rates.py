"""How fast tools and inserts make shots."""

from __future__ import annotations

from collections.abc import Collection
from datetime import datetime, timedelta
from typing import Any

from django.db.models import QuerySet, Sum

from shop.press.models import InsertShots, WorkedShots


def shots_per_day(
    *,
    at: datetime,
    tool_ids: Collection[int] | None = None,
    insert_ids: Collection[int] | None = None,
    days: int = 28,
) -> dict[int, float]:
    """Return the shots a day over the last `days` days before `at`, by tool or by insert; 0.0 where none were made."""
    if (tool_ids is None) == (insert_ids is None):
        raise TypeError("shots_per_day is asked for tools or for inserts")
    rows: QuerySet[Any]
    if tool_ids is not None:
        ids, key, rows = tool_ids, "tool", WorkedShots.objects.filter(tool__in=list(tool_ids))
    else:
        ids, key, rows = insert_ids or (), "insert", InsertShots.objects.filter(insert__in=list(insert_ids or ()))
    made = rows.filter(at__gt=at - timedelta(days=days), at__lte=at).order_by().values(key).annotate(made=Sum("shots"))
    return dict.fromkeys(ids, 0.0) | {row[key]: row["made"] / days for row in made}
