"""How a plaque stands: whether it may be judged by, since when not, and when it was last good."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from zoneinfo import ZoneInfo

from django.db.models import TextChoices
from django.utils.translation import gettext_lazy as _

from shop.people.models import Plant
from shop.tooling.models import Plaque, PlaqueCheck


class PlaqueState(TextChoices):
    """The word of a plaque; all but the first are not judged by where a release rests on it."""

    IN_DATE = "in date", _("in date")
    CHECK_DUE = "check due", _("check due")
    FAILED = "check failed", _("failed its check")
    EXPIRED = "expired", _("expired")
    WITHDRAWN = "withdrawn", _("withdrawn")


@dataclass(frozen=True)
class PlaqueStanding:
    """A plaque at one moment. `since` is when it ceased to be good, `check_due_on` when its next check is due."""

    plaque: Plaque
    state: PlaqueState
    since: datetime | None = None
    check_due_on: date | None = None
    last_check: PlaqueCheck | None = None
    because: str = ""

    @property
    def good(self) -> bool:
        """Return whether it may be judged by."""
        return self.state == PlaqueState.IN_DATE


def standing_of(plaque: Plaque, last_check: PlaqueCheck | None, at: datetime, zone: str) -> PlaqueStanding:
    """Return how a plaque stood at `at`; `last_check` is its latest by then."""
    day = at.astimezone(ZoneInfo(zone)).date()
    due_on = _due_on(plaque, last_check, zone)
    withdrawn = _withdrawn(plaque, at)
    if withdrawn is not None:
        return PlaqueStanding(
            plaque, PlaqueState.WITHDRAWN, withdrawn.withdrawn_at, due_on, last_check, withdrawn.withdrawn_because
        )
    if plaque.expires_on is not None and plaque.expires_on < day:
        return PlaqueStanding(plaque, PlaqueState.EXPIRED, _night_after(plaque.expires_on, zone), due_on, last_check)
    if last_check is not None and not last_check.passed:
        return PlaqueStanding(plaque, PlaqueState.FAILED, last_check.at, due_on, last_check, last_check.note)
    if plaque.recheck_days is not None and (due_on is None or due_on < day):
        since = None if due_on is None else _night_after(due_on, zone)
        return PlaqueStanding(plaque, PlaqueState.CHECK_DUE, since, due_on, last_check)
    return PlaqueStanding(plaque, PlaqueState.IN_DATE, None, due_on, last_check)


def standings(plaques: Iterable[Plaque], at: datetime) -> dict[int, PlaqueStanding]:
    """Return how each plaque stood at `at`, by its id, in two queries."""
    ids = {plaque.pk for plaque in plaques}
    if not ids:
        return {}
    rows = list(Plaque.objects.filter(pk__in=ids).select_related("plant", "master"))
    checks = last_checks(ids, at)
    return {row.pk: standing_of(row, checks.get(row.pk), at, row.plant.time_zone) for row in rows}


class PlaqueBook:
    """All plaques of a plant with their checks, to be asked about many moments."""

    def __init__(self, plant: Plant) -> None:
        """Fetch them in two queries."""
        self.zone = plant.time_zone
        self.plaques: dict[int, Plaque] = {
            plaque.pk: plaque for plaque in Plaque.objects.filter(plant=plant).select_related("master")
        }
        self.checks: dict[int, list[PlaqueCheck]] = {}
        for check in PlaqueCheck.objects.filter(plaque__plant=plant).order_by("at", "id"):
            self.checks.setdefault(check.plaque_id, []).append(check)

    def standings(self, plaque_ids: Iterable[int], at: datetime) -> dict[int, PlaqueStanding]:
        """Return how each of them stood at `at`, by its id."""
        return {
            pk: standing_of(self.plaques[pk], self._last(pk, at), at, self.zone)
            for pk in plaque_ids
            if pk in self.plaques
        }

    def _last(self, plaque_id: int, at: datetime) -> PlaqueCheck | None:
        by_then = [check for check in self.checks.get(plaque_id, []) if check.at <= at]
        return by_then[-1] if by_then else None


def last_checks(plaque_ids: Iterable[int], at: datetime) -> dict[int, PlaqueCheck]:
    """Return the latest check of each plaque by `at`."""
    rows = PlaqueCheck.objects.filter(plaque__in=set(plaque_ids), at__lte=at).order_by("at", "id")
    return {check.plaque_id: check for check in rows}


def last_good_at(standing: PlaqueStanding, checks: Iterable[PlaqueCheck]) -> datetime | None:
    """Return when a plaque was last known to be good, before it ceased to be; None where nobody ever looked.

    One that ran out, or whose check fell due, was good until then. One withdrawn or found bad was good when it last
    passed a check: what it judged after that is in doubt.
    """
    if standing.state in (PlaqueState.EXPIRED, PlaqueState.CHECK_DUE, PlaqueState.IN_DATE):
        return standing.since
    passed = [check.at for check in checks if check.passed and (standing.since is None or check.at <= standing.since)]
    return max(passed, default=None)


def _withdrawn(plaque: Plaque, at: datetime) -> Plaque | None:
    """Return whichever was withdrawn by `at`: the plaque, or the master that a working copy answers to."""
    for one in (plaque, plaque.master):
        if one is not None and one.withdrawn_at is not None and one.withdrawn_at <= at:
            return one
    return None


def _due_on(plaque: Plaque, last_check: PlaqueCheck | None, zone: str) -> date | None:
    if plaque.recheck_days is None or last_check is None:
        return None
    return last_check.at.astimezone(ZoneInfo(zone)).date() + timedelta(days=plaque.recheck_days)


def _night_after(day: date, zone: str) -> datetime:
    return datetime(day.year, day.month, day.day, tzinfo=ZoneInfo(zone)) + timedelta(days=1)
