"""The writers of errands: put one, wake whoever works, claim it, finish it or let it be tried again."""

from __future__ import annotations

import logging
import traceback
from collections.abc import Callable, Mapping
from datetime import datetime, timedelta
from functools import lru_cache
from typing import Any

from django.conf import settings
from django.db import IntegrityError, transaction
from django.db.models import F
from django.utils import timezone

from shop.errands.models import Errand

DOORBELL = "facewright.answer_the_doorbell"
MOST_TRIES = 5
WAIT_AFTER_A_FAULT = timedelta(minutes=1)
STALE_AFTER = timedelta(minutes=15)

Handler = Callable[[Errand], dict[str, Any]]
log = logging.getLogger(__name__)


def put(
    *, kind: str, key: str, content: dict[str, Any], at: datetime, not_before: datetime | None = None
) -> Errand:
    """Leave an errand and ring; where the same kind and key waits already, return the one that waits."""
    due = not_before or at
    waiting = Errand.objects.filter(kind=kind, key=key, state=Errand.State.WAITING)
    errand = waiting.first()
    if errand is None:
        try:
            with transaction.atomic():
                errand = Errand.objects.create(kind=kind, key=key, content=content, made_at=at, not_before=due)
        except IntegrityError:
            # Somebody put it, or put it and it was claimed, between our look and our write.
            return waiting.first() or put(kind=kind, key=key, content=content, at=at, not_before=not_before)
    elif due < errand.not_before:
        waiting.filter(pk=errand.pk).update(not_before=due)
        errand.not_before = due
    ring()
    return errand


def ring() -> None:
    """Wake a worker once this transaction is kept. The errand waits in its row, so a dead broker harms nothing."""
    if settings.BROKER_URL:
        transaction.on_commit(_ring_now, robust=True)


def _ring_now() -> None:
    try:
        _bell().send_task(DOORBELL, retry=False, ignore_result=True, expires=3600)
    except Exception as fault:  # whatever a broker can do wrong, the writer has done its work
        log.warning("The doorbell did not ring: %s", fault)


@lru_cache(maxsize=1)
def _bell() -> Any:
    from celery import Celery  # only where there is a broker

    bell = Celery("facewright-bell", broker=settings.BROKER_URL, set_as_current=False)
    bell.conf.broker_transport_options = settings.CELERY_BROKER_TRANSPORT_OPTIONS
    bell.conf.broker_connection_timeout = 1
    bell.conf.task_publish_retry = False
    return bell


def claim(worker: str, at: datetime) -> Errand | None:
    """Take the errand that has waited longest, or None; of two workers that reach for it one gets it."""
    due = Errand.objects.filter(state=Errand.State.WAITING, not_before__lte=at).order_by("not_before", "pk")
    while (candidate := due.values_list("pk", flat=True).first()) is not None:
        taken = Errand.objects.filter(pk=candidate, state=Errand.State.WAITING).update(
            state=Errand.State.CLAIMED, claimed_by=worker, claimed_at=at, tries=F("tries") + 1
        )
        if taken:
            return Errand.objects.get(pk=candidate)
    return None


def report(errand: Errand, progress: str, at: datetime) -> bool:
    """Say how far a long errand is, which also keeps it from going stale; false where it is no longer ours."""
    return bool(_still_ours(errand).update(progress=progress[:120], claimed_at=at))


def finish(errand: Errand, outcome: dict[str, Any], at: datetime) -> bool:
    """Mark an errand done; false where it went stale and somebody else has it now."""
    return bool(_still_ours(errand).update(state=Errand.State.DONE, done_at=at, outcome=outcome, fault=""))


def fail(errand: Errand, fault: str, at: datetime) -> bool:
    """Note what went wrong and let the errand be tried again later, or give it up after too many tries."""
    wait = WAIT_AFTER_A_FAULT * 2 ** max(errand.tries - 1, 0)
    return _wait_again_or_give_up(errand, fault, at, not_before=at + wait)


def free_stale(at: datetime, older_than: timedelta = STALE_AFTER) -> int:
    """Let errands be claimed again whose worker has not been heard of; return how many."""
    silent = Errand.objects.filter(state=Errand.State.CLAIMED, claimed_at__lte=at - older_than)
    return _free(silent.order_by("pk"), at)


def free_claims_of(worker: str, at: datetime) -> int:
    """Let errands be claimed again that a worker of this name held when it died; return how many."""
    return _free(Errand.objects.filter(state=Errand.State.CLAIMED, claimed_by=worker).order_by("pk"), at)


def work_one(
    worker: str, handlers: Mapping[str, Handler], at: datetime, clock: Callable[[], datetime] = timezone.now
) -> bool:
    """Do one errand that is due; false when there was none. A fault is kept on the row and never raised."""
    errand = claim(worker, at)
    if errand is None:
        return False
    try:
        outcome = handlers[errand.kind](errand)
    except Exception:
        log.exception("Errand %s (%s %s) went wrong", errand.pk, errand.kind, errand.key)
        fail(errand, traceback.format_exc(limit=-8), clock())
    else:
        finish(errand, outcome or {}, clock())
    return True


def _still_ours(errand: Errand) -> Any:
    # `tries` tells this claim from a later one under the same name.
    return Errand.objects.filter(
        pk=errand.pk, state=Errand.State.CLAIMED, claimed_by=errand.claimed_by, tries=errand.tries
    )


def _free(claimed: Any, at: datetime) -> int:
    return sum(
        _wait_again_or_give_up(errand, f"{errand.claimed_by} was not heard of again", at, not_before=at)
        for errand in claimed
    )


def _wait_again_or_give_up(errand: Errand, fault: str, at: datetime, *, not_before: datetime) -> bool:
    if errand.tries < MOST_TRIES:
        try:
            with transaction.atomic():
                return bool(
                    _still_ours(errand).update(state=Errand.State.WAITING, not_before=not_before, fault=fault)
                )
        except IntegrityError:
            fault = f"{fault}\nThe same errand was put again meanwhile and waits."
    return bool(_still_ours(errand).update(state=Errand.State.FAILED, done_at=at, fault=fault))
