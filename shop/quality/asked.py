"""What was asked of faces at a time: life, spec revision with limits, concessions, and the insert's shots then."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date, datetime
from decimal import Decimal
from zoneinfo import ZoneInfo

from django.db.models import OuterRef, Subquery

from shop.people.models import Plant
from shop.press.models import InsertShots
from shop.quality.models import Calibration
from shop.tooling.models import Concession, Face, FinishLife, Insert, Limit, Spec
from shop.tooling.reading import limits_of


@dataclass(frozen=True)
class Sides:
    """The two sides of a limit as they were in force, and the concession that moved one."""

    lower: Decimal | None
    upper: Decimal | None
    concession: Concession | None = None


@dataclass(frozen=True)
class Asked:
    """What held for one face at one time."""

    face: Face
    life: FinishLife | None
    spec: Spec | None
    limits: tuple[Limit, ...] = ()
    concessions: Mapping[str, Concession] = field(default_factory=dict)
    insert_total: int = 0

    def limits_for(self, parameter: str, where: str, spot_id: int | None) -> list[Limit]:
        """Return the limits of a parameter at a spot; those of the spot itself stand before those of every spot."""
        found = [limit for limit in self.limits if (limit.parameter, limit.where) == (parameter, where)]
        own = [limit for limit in found if limit.spot_id is not None and limit.spot_id == spot_id]
        return own or [limit for limit in found if limit.spot_id is None]

    def sides(self, limit: Limit) -> Sides:
        """Return the limit's sides, widened by the concession in force."""
        concession = self.concessions.get(limit.parameter)
        for held in limits_of(limit.spec if self.spec is None else self.spec, concession):
            if held.limit.pk == limit.pk:
                return Sides(held.lower, held.upper, concession if held.relaxed else None)
        return Sides(limit.lower, limit.upper)


def day_in(plant: Plant, at: datetime) -> date:
    """Return the plant's date at this moment."""
    return at.astimezone(ZoneInfo(plant.time_zone)).date()


def asked_of(faces: Iterable[Face], at: datetime) -> dict[int, Asked]:
    """Return what held for each face at `at`, in a fixed number of queries; insert, tool and plant come along."""
    ids = {face.pk for face in faces}
    known = {face.pk: face for face in Face.objects.filter(pk__in=ids).select_related("insert__tool__plant")}
    lives = {life.face_id: life for life in FinishLife.objects.filter(face__in=ids).at_time(at).order_by("number")}
    specs = {spec.face_id: spec for spec in Spec.objects.filter(face__in=ids).at_time(at).with_limits()}
    totals = insert_totals({face.insert_id for face in known.values()}, at)
    concessions = concessions_of(known.values(), totals, at)
    return {
        face.pk: Asked(
            face=face,
            life=lives.get(face.pk),
            spec=specs.get(face.pk),
            limits=tuple(specs[face.pk].limits.all()) if face.pk in specs else (),
            concessions=concessions.get(face.pk, {}),
            insert_total=totals.get(face.insert_id, 0),
        )
        for face in known.values()
    }


def insert_totals(insert_ids: Iterable[int], at: datetime) -> dict[int, int]:
    """Return the shots that each insert had made by `at`."""
    latest = InsertShots.objects.filter(insert=OuterRef("pk"), at__lte=at).order_by("-at", "-entry_id")
    rows = Insert.objects.filter(pk__in=list(insert_ids)).annotate(made=Subquery(latest.values("total")[:1]))
    return {pk: made or 0 for pk, made in rows.values_list("pk", "made")}


def concessions_of(faces: Iterable[Face], totals: Mapping[int, int], at: datetime) -> dict[int, dict[str, Concession]]:
    """Return the concessions in force at `at`, by face and parameter; of several the latest."""
    by_id = {face.pk: face for face in faces}
    granted = (
        Concession.objects.filter(face__in=by_id, void=False, at__lte=at)
        .exclude(superseded_by__at__lte=at)
        .annotate(total_when_granted=InsertShots.objects.total_before("face__insert", "at"))
        .order_by("at", "id")
    )
    found: dict[int, dict[str, Concession]] = defaultdict(dict)
    for concession in granted:
        face = by_id[concession.face_id]
        made_since = totals.get(face.insert_id, 0) - (concession.total_when_granted or 0)
        if holds(concession, day_in(face.insert.tool.plant, at), totals.get(face.insert_id, 0), made_since):
            found[face.pk][concession.parameter] = concession
    return found


def holds(concession: Concession, day: date, insert_total: int, made_since: int) -> bool:
    """Return whether neither its date, nor its count of shots, nor its quantity has run out."""
    return (
        (concession.until_on is None or day <= concession.until_on)
        and (concession.until_insert_shots is None or insert_total <= concession.until_insert_shots)
        and (concession.until_quantity is None or made_since <= concession.until_quantity)
    )


def calibrations_of(gauge_ids: Sequence[int], at: datetime) -> dict[int, Calibration]:
    """Return each gauge's latest calibration by `at`."""
    rows = Calibration.objects.filter(gauge__in=gauge_ids, at__lte=at).order_by("at", "id")
    return {calibration.gauge_id: calibration for calibration in rows}
