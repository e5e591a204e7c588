"""Errands are done: in this process, by the embedded child, by a Celery worker."""

from __future__ import annotations

import signal
import sys
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import pytest
from django.utils import timezone

from shop.errands import services
from shop.errands.models import Errand
from shop.people.models import Person, Plant
from shop.site import work
from tests import factories
from tests.site.running import once_there, running

PYTHON = sys.executable


def done() -> Errand | None:
    return Errand.objects.filter(state=Errand.State.DONE).first()


@pytest.mark.django_db
def test_sweep_is_put_once_a_night_by_the_plants_own_clock(plant: Plant) -> None:
    Plant.objects.create(name="Westmühl", time_zone="America/Chicago")
    evening, night, day = (datetime(2024, 3, d, h, tzinfo=UTC) for d, h in ((4, 23), (5, 2), (5, 12)))
    assert sorted(errand.key.split()[1] for errand in work.put_due_sweeps(evening)) == ["2024-03-04", "2024-03-04"]
    assert [errand.content["plant"] for errand in work.put_due_sweeps(night)] == [plant.pk]
    assert [errand.key.split()[1] for errand in work.put_due_sweeps(day)] == ["2024-03-05"]
    assert work.put_due_sweeps(day) == []


@pytest.mark.django_db
def test_sweep_looks_at_every_tool(plant: Plant, lead: Person, at: datetime) -> None:
    factories.build_tool(lead, at, cavities=2)
    work.put_due_sweeps(timezone.now())
    assert work.drain("here") == 1
    errand = Errand.objects.get()
    assert errand.state == "done", errand.fault
    assert (errand.outcome["tools"], errand.outcome["faces"]) == (1, 2)


@pytest.mark.django_db
def test_faces_are_brought_up_to_date(plant: Plant, lead: Person, at: datetime) -> None:
    face = factories.build_tool(lead, at).face
    services.put(kind=work.BRING_UP_TO_DATE, key="a", content={"faces": [face.pk]}, at=timezone.now())
    work.drain("here")
    errand = Errand.objects.get()
    assert errand.state == "done", errand.fault
    assert errand.outcome["faces"] == 1


@pytest.mark.django_db
def test_drain_leaves_the_rest_when_the_end_is_asked_for(plant: Plant) -> None:
    work.put_due_sweeps(timezone.now())
    assert work.drain("here", lambda: True) == 0
    assert Errand.objects.get().state == "waiting"


@pytest.mark.slow
@pytest.mark.django_db(transaction=True)
def test_celery_worker_answers_the_doorbell(
    plant: Plant, redis_url: str, settings: Any, tmp_path: Path
) -> None:
    log = tmp_path / "worker.log"
    celery = [PYTHON, "-m", "celery", "-A", "shop.site.celery", "worker", "--concurrency", "1", "-l", "INFO"]
    with running(log, *celery, BROKER_URL=redis_url):
        once_there(lambda: "ready." in log.read_text(), log)
        settings.BROKER_URL = redis_url
        services._bell.cache_clear()
        services.put(kind=work.SWEEP, key="x", content={"plant": plant.pk}, at=timezone.now())
        errand = once_there(done, log)
    services._bell.cache_clear()
    assert errand.outcome["tools"] == 0
    assert errand.claimed_by.startswith("celery ")


@pytest.mark.slow
@pytest.mark.django_db(transaction=True)
def test_worker_ends_when_told_and_leaves_nothing_claimed(plant: Plant, tmp_path: Path) -> None:
    log = tmp_path / "work.log"
    with running(log, PYTHON, "manage.py", "work", "--poll", "0.1") as child:
        once_there(done, log)
        child.send_signal(signal.SIGTERM)
        assert child.wait(30) == 0, log.read_text()
    assert not Errand.objects.exclude(state="done").exists()


@pytest.mark.slow
@pytest.mark.django_db(transaction=True)
def test_worker_ends_when_its_parent_is_gone(plant: Plant, tmp_path: Path) -> None:
    log = tmp_path / "work.log"
    with running(log, PYTHON, "manage.py", "work", "--poll", "0.1", "--parent", "4194305") as child:
        assert child.wait(60) == 0, log.read_text()


@pytest.mark.slow
@pytest.mark.django_db(transaction=True)
def test_worker_finishes_what_its_dead_forerunner_had_claimed(plant: Plant, tmp_path: Path) -> None:
    services.put(kind=work.SWEEP, key="x", content={"plant": plant.pk}, at=timezone.now())
    assert services.claim("supervised here", timezone.now()) is not None
    log = tmp_path / "work.log"
    with running(log, PYTHON, "manage.py", "work", "--poll", "0.1", "--name", "supervised here"):
        once_there(lambda: Errand.objects.filter(key="x", state="done").first(), log)
    assert Errand.objects.get(key="x").tries == 2
