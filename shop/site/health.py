"""Whether this installation is well: the database and its guards, work in the background, and room on the disk."""

from __future__ import annotations

import os
import shutil
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from datetime import datetime, timedelta
from pathlib import Path

from django.conf import settings
from django.db import DatabaseError, connection
from django.db.migrations.executor import MigrationExecutor
from django.utils.translation import gettext as _

from shop.errands.models import Errand
from shop.errands.services import STALE_AFTER
from shop.ledger import triggers
from shop.people.models import Plant
from shop.people.wording import moment
from shop.site.work import SWEEP
from shop.tooling.models import Tool

SWEEP_AT_LEAST_EVERY = timedelta(hours=26)
FAILED_WITHIN = timedelta(days=7)
LEAST_FREE_BYTES = 1_000_000_000
BROKER_WAIT_SECONDS = 2


@dataclass(frozen=True)
class Found:
    """One thing that was looked at: whether it is well, and what was seen."""

    name: str
    well: bool
    words: str


def look(at: datetime) -> list[Found]:
    """Look at everything; what needs the database is left out where there is none."""
    first = database()
    found = [first, broker(), room(Path(settings.VAR))]
    if first.well:
        schema = migrations()
        found.append(schema)
        # What hangs on tables is looked at once the tables are those of this version.
        if schema.well:
            found += [guards(), *sweeps(at), errands(at)]
    return found


def database() -> Found:
    """Return whether the database answers."""
    try:
        with connection.cursor() as cursor:
            cursor.execute("SELECT 1")
    except DatabaseError as fault:
        return Found(_("database"), False, str(fault).strip())
    return Found(_("database"), True, f"{connection.display_name} {'.'.join(map(str, _version()))}")


def _version() -> tuple[int, ...]:
    return tuple(connection.get_database_version())


def migrations() -> Found:
    """Return whether the tables are those that this version expects."""
    executor = MigrationExecutor(connection)
    wanting = executor.migration_plan(executor.loader.graph.leaf_nodes())
    if wanting:
        names = ", ".join(f"{one.app_label}.{one.name}" for one, _backwards in wanting[:3])
        words = _("%(n)d not applied: %(names)s; run manage.py migrate") % {"n": len(wanting), "names": names}
        return Found(_("migrations"), False, words)
    return Found(_("migrations"), True, _("all applied"))


def guards() -> Found:
    """Return whether every ledger is guarded by its triggers."""
    with connection.cursor() as cursor:
        if connection.vendor == "postgresql":
            cursor.execute("SELECT tgname FROM pg_trigger WHERE NOT tgisinternal AND tgenabled <> 'D'")
        else:
            cursor.execute("SELECT name FROM sqlite_master WHERE type = 'trigger'")
        there = {name for (name,) in cursor.fetchall()}
    events = 3 if connection.vendor == "postgresql" else 2
    wanted = {name for model in triggers.ledger_models() for name, _event in triggers.trigger_names(model)[:events]}
    if gone := sorted(wanted - there):
        words = _("%(n)d missing, the first is %(name)s; run manage.py migrate") % {"n": len(gone), "name": gone[0]}
        return Found(_("ledger triggers"), False, words)
    return Found(_("ledger triggers"), True, _("%(n)d there") % {"n": len(wanted)})


def broker() -> Found:
    """Return whether the broker can be reached, where there is one."""
    if not settings.BROKER_URL:
        return Found(_("broker"), True, _("none: the embedded worker does the errands"))
    from kombu import Connection  # only where there is a broker

    try:
        with Connection(settings.BROKER_URL, connect_timeout=BROKER_WAIT_SECONDS, transport_options={
            "socket_connect_timeout": BROKER_WAIT_SECONDS, "socket_timeout": BROKER_WAIT_SECONDS,
        }) as bell:
            bell.ensure_connection(max_retries=1, timeout=BROKER_WAIT_SECONDS)
    except Exception as fault:  # whatever a transport can raise means the same here
        return Found(_("broker"), False, _("not reached: %(fault)s") % {"fault": fault})
    return Found(_("broker"), True, _("reached"))


def sweeps(at: datetime) -> Iterator[Found]:
    """Yield, for each plant, whether its tools were looked at last night."""
    for plant in Plant.objects.order_by("name"):
        name = _("last sweep, %(plant)s") % {"plant": plant}
        done = Errand.objects.filter(kind=SWEEP, content__plant=plant.pk, state=Errand.State.DONE)
        last = done.order_by("done_at").values_list("done_at", flat=True).last()
        if last is not None:
            hours = (at - last) / timedelta(hours=1)
            words = _("%(when)s, %(hours).1f hours ago") % {"when": moment(last), "hours": hours}
            yield Found(name, at - last <= SWEEP_AT_LEAST_EVERY, words)
        elif Tool.objects.in_plant(plant).exists():
            yield Found(name, False, _("never; start manage.py serve, or a worker"))
        else:
            yield Found(name, True, _("no tools to look at yet"))


def errands(at: datetime) -> Found:
    """Return how many errands wait, and whether any waits or is worked on too long, or was given up."""
    states = Errand.State
    waiting = Errand.objects.filter(state=states.WAITING)
    counts = {
        "waiting": waiting.count(),
        "late": waiting.filter(not_before__lt=at - STALE_AFTER).count(),
        "stuck": Errand.objects.filter(state=states.CLAIMED, claimed_at__lt=at - STALE_AFTER).count(),
        "failed": Errand.objects.filter(state=states.FAILED, done_at__gt=at - FAILED_WITHIN).count(),
    }
    words = _("%(waiting)d waiting, %(late)d of them too long; %(stuck)d stuck, %(failed)d given up in seven days")
    return Found(_("errands"), not (counts["late"] or counts["stuck"] or counts["failed"]), words % counts)


def room(place: Path, free_bytes: Callable[[Path], int] = lambda place: shutil.disk_usage(place).free) -> Found:
    """Return whether the run-time data can be written and have room to grow."""
    if not os.access(place, os.W_OK):
        return Found(_("room on the disk"), False, _("%(place)s cannot be written") % {"place": place})
    free = free_bytes(place)
    words = _("%(free).1f GB free at %(place)s") % {"free": free / 1e9, "place": place}
    return Found(_("room on the disk"), free >= LEAST_FREE_BYTES, words)
