"""Who does which errand, whoever does it: a Celery worker or the embedded child."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import asdict
from datetime import datetime, time, timedelta
from typing import Any
from zoneinfo import ZoneInfo

from django.utils import timezone

from shop import loop
from shop.errands import services
from shop.errands.models import Errand
from shop.people.models import Plant

SWEEP, BRING_UP_TO_DATE = "sweep", "bring up to date"
SWEEP_FROM = time(2, 0)


def sweep(errand: Errand) -> dict[str, Any]:
    """Look at every tool of the plant, as is done every night."""
    plant = Plant.objects.get(pk=errand.content["plant"])
    return asdict(loop.swept(plant=plant, at=timezone.now()))


def bring_up_to_date(errand: Errand) -> dict[str, Any]:
    """Look again at the faces that a file or a late entry has changed."""
    return asdict(loop.brought_up_to_date(errand.content["faces"], at=timezone.now()))


HANDLERS: Mapping[str, services.Handler] = {SWEEP: sweep, BRING_UP_TO_DATE: bring_up_to_date}


def put_due_sweeps(at: datetime) -> list[Errand]:
    """Put the night's sweep of each plant whose clock has passed two, if it was not put yet."""
    nights = {plant.pk: (f"{plant.pk} {night(plant, at)}") for plant in Plant.objects.order_by("pk")}
    put_before = set(
        Errand.objects.filter(kind=SWEEP, key__in=nights.values()).values_list("key", flat=True)
    )
    return [
        services.put(kind=SWEEP, key=key, content={"plant": plant}, at=at)
        for plant, key in nights.items()
        if key not in put_before
    ]


def night(plant: Plant, at: datetime) -> str:
    """Return the date of the last night on the plant's own clock."""
    there = at.astimezone(ZoneInfo(plant.time_zone))
    return (there.date() if there.time() >= SWEEP_FROM else there.date() - timedelta(days=1)).isoformat()


def drain(worker: str, ending: Callable[[], bool] = lambda: False) -> int:
    """Do the errands that are due until none is left or the end is asked for; return how many."""
    services.free_stale(timezone.now())
    done = 0
    while not ending() and services.work_one(worker, HANDLERS, timezone.now()):
        done += 1
    return done
