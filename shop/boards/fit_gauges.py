"""Faces whose latest readings rest on a gauge that was out of date or has failed since."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from datetime import datetime

from shop.quality.models import Gauge, Reading
from shop.refusal import Saying, gettext_noop
from shop.tooling.models import Face

_FAILED = gettext_noop("It was last measured with gauge {gauge}, which has failed its calibration since.")
_LATE = gettext_noop("It was last measured with gauge {gauge} while that was out of date.")
STEP = gettext_noop("Have it measured with a gauge in date.")


def doubtful(faces: Sequence[Face], at: datetime) -> Iterator[tuple[Face, Saying]]:
    """Yield each face with each gauge that its latest readings cannot rest on; two queries.

    A gauge that has only come due since it measured takes nothing from what it read before.
    """
    latest = _latest([face.pk for face in faces], at)
    gauges = {
        gauge.pk: gauge
        for gauge in Gauge.objects.filter(pk__in={gauge for gauge, _ in latest.values()}).with_due_date(at)
    }
    for face in faces:
        found = {gauge: late for (face_id, *_), (gauge, late) in sorted(latest.items()) if face_id == face.pk}
        for gauge_id, late in found.items():
            gauge = gauges[gauge_id]
            if gauge.passed is False:
                yield face, Saying("fit.gauge_failed", _FAILED, {"gauge": gauge.number})
            elif late:
                yield face, Saying("fit.gauge_late", _LATE, {"gauge": gauge.number})


def _latest(face_ids: Iterable[int], at: datetime) -> dict[tuple[int, str, int], tuple[int, bool]]:
    """Return by face, parameter, spot the gauge of the latest reading of the running life, and if it was late."""
    rows = Reading.objects.in_force().filter(
        face__in=face_ids, gauge__isnull=False, life__ended_at__isnull=True, at__lte=at
    )
    kept = rows.order_by("at", "id").values_list("face_id", "parameter", "spot_id", "gauge_id", "gauge_overdue")
    return {(face, parameter, spot or 0): (gauge, late) for face, parameter, spot, gauge, late in kept}
