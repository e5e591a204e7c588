"""The pull list of the demo plant takes under ten queries, and no more when the plant is ten times as large."""

from __future__ import annotations

from collections import defaultdict
from datetime import date
from typing import Any

import pytest
from django.conf import LazySettings
from django.db import connection, models
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from shop.bench.models import Line, LineCall, WorkOrder
from shop.pages.pull_list import ROWS_A_PAGE
from shop.people.models import Person
from shop.site.demo import loading, making
from shop.tooling.models import Concession, Face, FinishLife, Fitting, Insert, Limit, Position, Spec, Spot, Tool
from shop.watch.models import Call, Evidence, Standing, Trend

pytestmark = [pytest.mark.django_db, pytest.mark.slow]

# What the list stands on; each points only at what comes before it, or at what the copies share.
COPIED: tuple[type[models.Model], ...] = (
    Tool, Position, Insert, Fitting, Face, Spot, FinishLife, Spec, Limit, Concession, Trend, Standing, Call, Evidence,
    WorkOrder, Line, LineCall,
)  # fmt: skip


def ten_times_the_plant() -> None:
    """Copy every tool nine times, with all that the list stands on."""
    originals = {model: list(model._default_manager.order_by("pk")) for model in COPIED}
    for copy in range(1, 10):
        new_key: dict[type[models.Model], dict[int, int]] = defaultdict(dict)
        for model, rows in originals.items():
            made = model._default_manager.bulk_create([_copied(row, copy, new_key) for row in rows])
            new_key[model] = {row.pk: twin.pk for row, twin in zip(rows, made, strict=True)}


def _copied(row: models.Model, copy: int, new_key: dict[type[models.Model], dict[int, int]]) -> models.Model:
    values: dict[str, Any] = {}
    for field in row._meta.concrete_fields:
        value = getattr(row, field.attname)
        if field.is_relation:
            value = new_key[field.related_model].get(value, value)
        elif field.name == "number" and isinstance(value, str) and isinstance(row, (Tool, WorkOrder)):
            value = f"{value}/{copy}"
        values[field.attname] = value
    return type(row)(**{**values, row._meta.pk.attname: None})


def pull_list_of(client: Client) -> tuple[int, int]:
    """The queries that the whole page takes, and the rows it shows."""
    with CaptureQueriesContext(connection) as seen:
        page = client.get(reverse("pull-list"), {"show": "all"})
    assert page.status_code == 200
    return len(seen), len(page.context["rows"])


def test_the_demos_list_takes_the_same_few_queries_at_ten_times_its_size(
    client: Client, settings: LazySettings, tmp_path: Any
) -> None:
    settings.VAR = tmp_path
    end = date(2026, 11, 24)
    loading.load(making.make_files(end), end=end, password="a long enough one", tell=lambda _: None)
    client.force_login(Person.objects.get(username="lead"))
    small, rows = pull_list_of(client)
    ten_times_the_plant()
    assert Face.objects.count() > 1500
    assert pull_list_of(client) == (small, rows)
    assert (small < 15, rows) == (True, ROWS_A_PAGE)
