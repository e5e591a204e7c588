"""The Celery tasks. They carry nothing: what is to be done stands in the errands' rows."""

from __future__ import annotations

from django.utils import timezone

from shop.errands.services import DOORBELL
from shop.site import work
from shop.site.celery import app


@app.task(name=DOORBELL, bind=True, ignore_result=True)
def answer_the_doorbell(self: object) -> int:
    """Do what is due."""
    request = getattr(self, "request")  # noqa: B009 (Celery's task is typed without it)
    return work.drain(f"celery {request.hostname} {request.id}")


@app.task(name="facewright.nightly", ignore_result=True)
def nightly() -> int:
    """Put the night's sweeps, and do whatever else waits."""
    work.put_due_sweeps(timezone.now())
    return work.drain("celery nightly")
