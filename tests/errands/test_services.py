"""The row is the job: it waits once, one worker has it, and it outlives whoever had it."""

from __future__ import annotations

from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from datetime import datetime, timedelta
from threading import Barrier
from typing import Any

import pytest
from django.db import connection, transaction

from shop.errands import services
from shop.errands.models import Errand
from tests import machine

pytestmark = pytest.mark.django_db
MINUTE = timedelta(minutes=1)


def put(at: datetime, key: str = "1", **more: Any) -> Errand:
    return services.put(kind="sweep", key=key, content={"plant": 1}, at=at, **more)


def test_same_errand_waits_once(at: datetime) -> None:
    assert put(at) == put(at + MINUTE)
    assert put(at, key="2") != put(at)
    assert Errand.objects.count() == 2


def test_same_errand_may_wait_while_the_first_is_being_done(at: datetime) -> None:
    first = put(at)
    services.claim("a", at)
    assert put(at) != first


def test_errand_put_again_for_sooner_is_brought_forward(at: datetime) -> None:
    put(at, not_before=at + 60 * MINUTE)
    put(at, not_before=at + 30 * MINUTE)
    assert put(at, not_before=at + 90 * MINUTE).not_before == at + 30 * MINUTE


def test_errand_is_not_claimed_before_its_time(at: datetime) -> None:
    put(at, not_before=at + MINUTE)
    assert services.claim("a", at) is None
    assert services.claim("a", at + MINUTE) is not None


def test_errands_are_claimed_in_the_order_they_came_due(at: datetime) -> None:
    put(at, key="later", not_before=at + MINUTE)
    put(at, key="sooner")
    claimed = [services.claim("a", at + MINUTE) for _ in range(3)]
    assert [errand.key if errand else None for errand in claimed] == ["sooner", "later", None]


def test_errand_done_keeps_its_outcome(at: datetime) -> None:
    put(at)
    assert services.work_one("a", {"sweep": lambda errand: {"plant was": errand.content["plant"]}}, at, lambda: at)
    errand = Errand.objects.get()
    assert (errand.state, errand.done_at, errand.outcome, errand.tries) == ("done", at, {"plant was": 1}, 1)
    assert not services.work_one("a", {}, at)


def test_fault_is_kept_and_the_errand_tried_again_later(at: datetime) -> None:
    put(at)
    assert services.work_one("a", {"sweep": break_down}, at, lambda: at)
    errand = Errand.objects.get()
    assert errand.state == "waiting"
    assert errand.not_before == at + services.WAIT_AFTER_A_FAULT
    assert "the stone broke" in errand.fault


def test_errand_is_given_up_after_too_many_tries(at: datetime) -> None:
    put(at)
    days = [at + timedelta(days=day) for day in range(services.MOST_TRIES + 1)]
    worked = [services.work_one("a", {"sweep": break_down}, day, lambda day=day: day) for day in days]
    assert worked == [True] * services.MOST_TRIES + [False]
    errand = Errand.objects.get()
    assert (errand.tries, errand.state) == (services.MOST_TRIES, "failed")
    assert "the stone broke" in errand.fault


def test_errand_of_a_kind_nobody_knows_is_a_fault(at: datetime) -> None:
    put(at)
    services.work_one("a", {}, at, lambda: at)
    assert "KeyError" in Errand.objects.get().fault


def test_faulty_errand_gives_way_to_the_same_put_meanwhile(at: datetime) -> None:
    first = put(at)
    services.claim("a", at)
    second = put(at)
    first.refresh_from_db()
    assert services.fail(first, "broke", at)
    first.refresh_from_db()
    assert first.state == "failed"
    assert "put again meanwhile" in first.fault
    assert services.claim("a", at) == second


def test_stale_claim_is_freed_and_the_late_worker_cannot_finish_it(at: datetime) -> None:
    put(at)
    late = services.claim("a", at)
    assert late is not None
    assert services.free_stale(at + 14 * MINUTE) == 0
    assert services.free_stale(at + 15 * MINUTE) == 1
    again = services.claim("a", at + 15 * MINUTE)
    assert again == late
    assert again is not None
    assert not services.finish(late, {"by": "late"}, at)
    assert not services.fail(late, "late", at)
    assert services.finish(again, {"by": "again"}, at)
    assert Errand.objects.get().outcome == {"by": "again"}


def test_errand_that_reports_does_not_go_stale(at: datetime) -> None:
    put(at)
    errand = services.claim("a", at)
    assert errand is not None
    assert services.report(errand, "tool 3 of 9", at + 10 * MINUTE)
    assert services.free_stale(at + 20 * MINUTE) == 0
    assert Errand.objects.get().progress == "tool 3 of 9"


def test_claims_of_a_dead_worker_are_freed_and_nobody_elses(at: datetime) -> None:
    put(at, key="dead")
    services.claim("dead", at)
    put(at, key="living")
    services.claim("living", at)
    assert services.free_claims_of("dead", at) == 1
    assert Errand.objects.get(key="living").state == "claimed"


def test_errand_that_kills_its_worker_every_time_is_given_up(at: datetime) -> None:
    put(at)
    for _ in range(services.MOST_TRIES):
        assert services.claim("a", at) is not None
        services.free_claims_of("a", at)
    assert services.claim("a", at) is None
    assert Errand.objects.get().state == "failed"


@pytest.mark.django_db(transaction=True)
def test_of_many_workers_that_reach_for_an_errand_one_gets_it(at: datetime) -> None:
    for key in range(5):
        put(at, key=f"{key}")
    start = Barrier(4)

    def reach(worker: int) -> list[int]:
        try:
            start.wait()
            mine = []
            while (errand := services.claim(f"w{worker}", at)) is not None:
                mine.append(errand.pk)
            return mine
        finally:
            connection.close()

    with ThreadPoolExecutor(4) as workers:
        claimed = [pk for mine in workers.map(reach, range(4)) for pk in mine]
    assert len(claimed) == len(set(claimed)) == 5


@pytest.mark.django_db(transaction=True)
def test_the_same_errand_put_by_many_at_once_waits_once(at: datetime) -> None:
    start = Barrier(4)

    def put_it(_: int) -> int:
        try:
            start.wait()
            return put(at).pk
        finally:
            connection.close()

    with ThreadPoolExecutor(4) as writers:
        assert len(set(writers.map(put_it, range(4)))) == 1
    assert Errand.objects.count() == 1


@pytest.mark.django_db(transaction=True)
def test_dead_broker_does_not_fail_the_writer(at: datetime, broker: Callable[[str], None]) -> None:
    broker(f"redis://127.0.0.1:{machine.free_port()}/0")
    with transaction.atomic():
        put(at)
    assert Errand.objects.get().state == "waiting"


@pytest.mark.django_db(transaction=True)
def test_silent_broker_does_not_hold_the_writer(
    at: datetime, broker: Callable[[str], None], silent_port: int, caplog: pytest.LogCaptureFixture
) -> None:
    broker(f"redis://127.0.0.1:{silent_port}/0")
    put(at)
    assert Errand.objects.get().state == "waiting"
    assert "did not ring" in caplog.text


@pytest.mark.django_db(transaction=True)
def test_bell_rings_only_when_the_errand_is_kept(
    at: datetime, broker: Callable[[str], None], monkeypatch: pytest.MonkeyPatch
) -> None:
    broker("redis://127.0.0.1:1/0")
    rung: list[int] = []
    monkeypatch.setattr(services, "_ring_now", lambda: rung.append(Errand.objects.count()))
    with transaction.atomic():
        put(at)
        assert rung == []
        transaction.set_rollback(True)
    assert rung == []
    put(at)
    assert rung == [1]


def test_without_a_broker_nothing_rings(at: datetime, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(services, "_bell", break_down)
    put(at)
    assert Errand.objects.exists()


def break_down(*_: object) -> dict[str, Any]:
    raise RuntimeError("the stone broke")
