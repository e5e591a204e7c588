"""Celery, where there is a broker: `celery -A shop.site.celery worker`, and the same with `beat`."""

from __future__ import annotations

import os

from celery import Celery
from celery.schedules import crontab
from celery.signals import worker_init

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "shop.site.settings")

app = Celery("facewright")
app.config_from_object("django.conf:settings", namespace="CELERY")
app.autodiscover_tasks(["shop.site"])
# Two in the morning comes at another time in every plant: the task looks whose night it is.
app.conf.beat_schedule = {"nightly": {"task": "facewright.nightly", "schedule": crontab(minute="*/15")}}


@worker_init.connect
def compile_catalogues(**_: object) -> None:
    """Have what the worker writes in the languages of its readers."""
    from shop.site.catalogues import compile_new

    compile_new()
