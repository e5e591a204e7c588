"""How long the work takes that people wait for, each case beside the least that could be done instead."""

from __future__ import annotations

import os

import django
from django.apps import apps

# Figures are for one core; numpy reads this when it is first imported.
for _threads in ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS"):
    os.environ.setdefault(_threads, "1")
os.environ.setdefault("DJANGO_SETTINGS_MODULE", "shop.site.settings")
if not apps.ready:
    django.setup()
