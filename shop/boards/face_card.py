"""The chosen face: what it must be, its trend as a picture, and its history as one line of time."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace
from datetime import date, datetime
from typing import Any

from django.utils import timezone
from django.utils.translation import gettext as _

from shop import units
from shop.boards.lives import LifeBar, last_five
from shop.boards.trend_picture import TrendSheet, trend_sheet, work_words
from shop.ledger.models import Change
from shop.people import wording
from shop.people.models import Person
from shop.picture.life_line import Happening, Life, LifeLine, LifeRow
from shop.picture.trend_chart import TrendPicture
from shop.press.models import Damage, InsertShots
from shop.quality.models import Verdict
from shop.tooling.models import Concession, Face, FinishLife, Fitting, Parameter, Spec
from shop.watch.models import RefinishInterval, Trend
from shop.watch.services import intervals

MOST_MARKS = 7
# What a phone shows is drawn for it, since words of the wide chart would shrink to half their size there.
PHONE = (290, 220)
PHONE_WIDTH = 362.0


@dataclass(frozen=True)
class Interval:
    """The planned interval of a face in shots, if one is, and the change that set it; one from a file has none."""

    shots: int | None
    change: Change | None


@dataclass(frozen=True)
class FaceCard:
    """One face with all that its part of the page shows."""

    face: Face
    spec: Spec | None
    revisions: tuple[Spec, ...]
    concessions: tuple[Concession, ...]
    interval: Interval
    trends: tuple[Trend, ...]
    trend: Trend | None
    sheet: TrendSheet | None
    chart: TrendPicture | None
    small_chart: TrendPicture | None
    last_lives: tuple[LifeBar, ...]
    history: LifeLine | None
    small_history: LifeLine | None
    happened: tuple[tuple[datetime, str], ...]


def face_card(face: Face, reader: Person, at: datetime, trend_id: int | None) -> FaceCard:
    """Return the card of a face; `trend_id` chooses among its trends, else the one that is nearest to a limit."""
    revisions = list(face.specs.with_limits().select_related("by", "plaque").order_by("-revision"))
    held = next((one for one in revisions if one.at <= at), None)
    trends = list(Trend.objects.of_running_lives().filter(face=face).select_related("spot", "resin", "life", "pool"))
    trend = _chosen(trends, trend_id)
    lives = list(
        FinishLife.objects.filter(face=face).annotate(
            begin_shots=InsertShots.objects.total_before("face__insert", "began_at")
        )
    )
    conceded = list(Concession.objects.filter(face=face).select_related("by").order_by("-at"))
    gone = {one.supersedes_id for one in conceded}
    concessions = [one for one in conceded if not one.void and one.pk not in gone]
    happened = _happened(face, lives, revisions, conceded)
    sheet = trend_sheet(face, trend, lives, reader, at) if trend else None
    chart = sheet.picture if sheet else None
    history = _history(face, lives, happened, at)
    return FaceCard(
        face=face,
        spec=held,
        revisions=tuple(revisions),
        concessions=tuple(concessions),
        interval=_interval(face),
        trends=tuple(trends),
        trend=trend,
        sheet=sheet,
        chart=chart,
        small_chart=replace(chart, width=PHONE[0], height=PHONE[1]) if chart else None,
        last_lives=last_five([face.pk], reader.plant, at).get(face.pk, ()),
        history=history,
        small_history=replace(history, width=PHONE_WIDTH) if history else None,
        happened=tuple((when, words) for when, _kind, words in sorted(happened, reverse=True)),
    )


def _chosen(trends: list[Trend], trend_id: int | None) -> Trend | None:
    for trend in trends:
        if trend.pk == trend_id:
            return trend
    far = float("inf")
    return min(trends, key=lambda one: (far if one.left_10 is None else one.left_10, -one.count, one.pk), default=None)


def _interval(face: Face) -> Interval:
    planned = RefinishInterval.objects.filter(face=face).first()
    trail = Change.objects.filter(room=Face._meta.label_lower, row_id=face.pk, field=intervals.FIELD)
    return Interval(planned.shots if planned else None, trail.select_related("by").order_by("pk").last())


# The history as one line of time


def _happened(
    face: Face, lives: list[Any], revisions: list[Spec], concessions: Iterable[Concession]
) -> list[tuple[datetime, str, str]]:
    """Return what happened to the face: when, its kind on the line of time, and the words."""
    found: list[tuple[datetime, str, str]] = []
    for life in lives:
        words = _("Life %(n)d begins: %(by)s") % {"n": life.number, "by": work_words(life.began_by)}
        found.append((life.began_at, "work", words))
    for damage in Damage.objects.filter(face=face):
        found.append((damage.at, "damage", f"{damage.get_kind_display()} {damage.note}".strip()))
    for fitting in Fitting.objects.filter(insert=face.insert_id).select_related("position"):
        words = _("Insert fitted in position %(n)d") % {"n": fitting.position.number}
        found.append((fitting.from_at, "moved", words))
    for verdict in Verdict.objects.deciding().filter(face=face).select_related("limit", "spot"):
        kind = "off spec" if verdict.outcome == Verdict.Outcome.NO else "seen"
        level = wording.show(units.Quantity(verdict.statistic.normalize(), verdict.limit.unit))
        where = f", {verdict.spot.name}" if verdict.spot else ""
        said = f"{Parameter(verdict.parameter).label}{where} {level}: {verdict.get_outcome_display()}"
        found.append((verdict.at, kind, said))
    for spec in revisions:
        found.append((spec.at, "spec", _("Spec revision %(n)d: %(why)s") % {"n": spec.revision, "why": spec.reason}))
    for one in concessions:
        words = _("Concession %(number)s withdrawn: %(why)s") if one.void else _("Concession %(number)s")
        found.append((one.at, "spec", words % {"number": one.number, "why": one.why}))
    return found


def _history(face: Face, lives: list[Any], happened: list[tuple[datetime, str, str]], at: datetime) -> LifeLine | None:
    if not lives:
        return None
    first = min(life.began_at for life in lives)
    begin = _day(first)
    row = LifeRow(
        name=face.name,
        lives=tuple(
            Life(_day(life.began_at), None if life.ended_at is None else _day(life.ended_at), _life_words(life))
            for life in lives
        ),
        happenings=tuple(
            Happening(_day(when), kind, f"{wording.day(when)}: {words}")
            for when, kind, words in sorted(happened)
            if kind != "spec" and not (kind == "work" and when == first)
        ),
    )
    marks = _marks(first, at)
    return LifeLine(
        begin,
        _day(at),
        (row,),
        marks,
        _("History of %(face)s since %(day)s") % {"face": face, "day": wording.day(first)},
    )


def _life_words(life: FinishLife) -> str:
    end = wording.day(life.ended_at) if life.ended_at else _("now")
    return _("Life %(n)d: %(begin)s to %(end)s") % {"n": life.number, "begin": wording.day(life.began_at), "end": end}


def _day(when: datetime) -> float:
    return when.timestamp() / 86_400


def _marks(first: datetime, at: datetime) -> tuple[tuple[float, str], ...]:
    """Return the first days of some months, few enough to be read."""
    local, end = timezone.localtime(first), timezone.localtime(at)
    months = (end.year - local.year) * 12 + end.month - local.month
    step = max(-(-months // MOST_MARKS), 1)
    marks = []
    for gone in range(step, months + 1, step):
        year, month = divmod(local.month - 1 + gone, 12)
        day = date(local.year + year, month + 1, 1)
        when = datetime(day.year, day.month, 1, tzinfo=local.tzinfo)
        marks.append((_day(when), wording.day(day)[2:]))
    return tuple(marks)
