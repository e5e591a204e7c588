"""The trend of a face as one picture for page and paper, and its values as a table."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from decimal import Decimal
from statistics import NormalDist
from typing import Any

from django.utils.translation import gettext as _

from shop import units
from shop.people import wording
from shop.people.models import Person
from shop.picture.trend_chart import FanAt, LifeSpan, Mark, Point, TrendPicture
from shop.press.models import InsertShots
from shop.quality.models import Reading, Verdict
from shop.tooling.models import Face, FinishLife
from shop.watch.calendar import ToolCalendar, calendars_of
from shop.watch.forecast import CHANCES, Outlook, line_of, outlook, reached_at
from shop.watch.models import CommonStep, Question, Trend
from shop.watch.path import points_of

FAN_STEPS = 16
LEAST_AHEAD = 2_000
# The fan reaches as far as the even chance and somewhat beyond, but never several lives ahead.
BEYOND, MOST_LIVES_AHEAD = 1.25, 2.0
TABLE_ROWS = 200


@dataclass(frozen=True)
class ReadingRow:
    """One reading in the table under the picture."""

    at: datetime
    shots: int
    value: str
    uncertainty: str
    inspection_id: int
    counts_as: str
    step: str
    outcome: str


@dataclass(frozen=True)
class AheadRow:
    """What is expected at one count of shots to come."""

    chance: str
    left: int | None
    day: date | None
    own_left: int | None
    level: str


@dataclass(frozen=True)
class TrendSheet:
    """A trend with its picture and the values in it."""

    trend: Trend
    picture: TrendPicture
    readings: tuple[ReadingRow, ...]
    more: int
    ahead: tuple[AheadRow, ...]
    group: str


@dataclass(frozen=True)
class _Seen:
    """What the picture is drawn from."""

    trend: Trend
    begin: int
    size: float
    unit: str
    ahead: Outlook | None
    calendar: ToolCalendar
    readings: list[Any]
    verdicts: Mapping[int, Verdict]
    steps: Mapping[int, CommonStep]
    answers: Mapping[int, str]
    asked: frozenset[int]


def trend_sheet(face: Face, trend: Trend, lives: Sequence[Any], reader: Person, at: datetime) -> TrendSheet:
    """Return the picture of a trend and its table, in a fixed number of queries."""
    seen = _look(face, trend, lives, reader, at)
    return TrendSheet(
        trend=trend,
        picture=_picture(seen, lives, reader),
        readings=_rows(seen)[:TABLE_ROWS],
        more=max(len(seen.readings) - TABLE_ROWS, 0),
        ahead=_ahead(seen),
        group=_group(trend),
    )


def worst_picture(face: Face, reader: Person, at: datetime) -> TrendPicture | None:
    """Return the picture of the trend that a face stands by; None where it has none."""
    standing = getattr(face, "standing", None)
    trend = Trend.objects.select_related("spot", "resin", "life", "pool").filter(
        pk=standing.worst_id if standing else None
    ).first()  # fmt: skip
    if trend is None:
        return None
    lives = FinishLife.objects.filter(face=face).annotate(
        begin_shots=InsertShots.objects.total_before("face__insert", "began_at")
    )
    return trend_sheet(face, trend, list(lives), reader, at).picture


def _look(face: Face, trend: Trend, lives: Sequence[Any], reader: Person, at: datetime) -> _Seen:
    unit = "uin" if trend.unit == "um" and reader.unit_system == "inch" else trend.unit
    readings = Reading.objects.usable().filter(
        face=face, parameter=trend.parameter, where=trend.where, spot=trend.spot, geometry_deg=trend.geometry_deg
    )
    shots = InsertShots.objects.total_before("face__insert", "at")
    judged = Verdict.objects.in_force().filter(face=face, parameter=trend.parameter, where=trend.where, spot=trend.spot)
    kind = {"parameter": trend.parameter, "where": trend.where, "geometry_deg": trend.geometry_deg}
    steps = CommonStep.objects.filter(tool=face.insert.tool_id, named=True, **kind)
    questions = list(Question.objects.filter(tool=face.insert.tool_id, gone_at=None, **kind))
    return _Seen(
        trend=trend,
        begin=next((life.begin_shots or 0 for life in lives if life.pk == trend.life_id), 0),
        size=float(units.convert(Decimal(1), trend.unit, unit)),
        unit=unit,
        ahead=outlook(trend),
        calendar=calendars_of([face.insert.tool], at)[face.insert.tool_id],
        readings=list(readings.annotate(shots=shots).order_by("at", "id")),
        verdicts={row.inspection_id: row for row in judged},
        steps={one.inspection_id: one for one in steps},
        answers={
            one.inspection_id: str(one.get_answer_display())
            for one in questions
            if one.kind == Question.Kind.STEP and one.answer
        },
        asked=frozenset(
            one.reading_id
            for one in questions
            if one.kind == Question.Kind.OUTLIER and one.reading_id is not None and not one.answer
        ),
    )


def _picture(seen: _Seen, lives: Sequence[Any], reader: Person) -> TrendPicture:
    trend, size = seen.trend, seen.size
    label = units.LABELS[seen.unit]
    name = f"{trend.get_parameter_display()} ({label})" if label else trend.get_parameter_display()
    limits = [None if limit is None else limit * size for limit in (trend.lower, trend.upper)]
    words = tuple("" if one is None else _show(one, trend.unit) for one in (trend.lower, trend.upper))
    guard = NormalDist().inv_cdf(float(reader.plant.conformance_required)) * trend.last_uncertainty * size
    return TrendPicture(
        text=text_of(trend, seen.calendar, seen.ahead),
        shots_title=_("shots of the insert"),
        value_title=str(name),
        points=tuple(_point(reading, seen) for reading in seen.readings),
        lower=limits[0],
        upper=limits[1],
        guard=float(guard),
        fan=_fan(seen),
        own=_own(seen),
        steps=_steps(seen),
        windows=_windows(seen),
        reached=_reached(seen),
        lives=tuple(LifeSpan(float(life.begin_shots or 0), None, work_words(life.began_by)) for life in lives),
        now=float(seen.begin + trend.life_shots),
        now_words=_("now"),
        limit_words=(words[0], words[1]),
        decimal_comma=reader.decimal_comma,
    )


def _point(reading: Any, seen: _Seen) -> Point:
    verdict = seen.verdicts.get(reading.inspection_id)
    value = _show(float(reading.value), seen.trend.unit)
    words = f"{value}, {wording.day(reading.at)}, {wording.shots(reading.shots or 0)}"
    if verdict is not None and verdict.standard_uncertainty:
        words = f"{value} ± {_show(2 * float(verdict.standard_uncertainty), seen.trend.unit)}{words[len(value) :]}"
    asked = reading.pk in seen.asked
    return Point(
        shots=float(reading.shots or 0),
        value=float(reading.value) * seen.size,
        uncertainty=float(verdict.standard_uncertainty) * seen.size if verdict else 0.0,
        off_spec=verdict is not None and verdict.outcome == Verdict.Outcome.NO,
        words=f"{words}: {Question.Kind.OUTLIER.label}" if asked else words,
        asked=asked,
    )


def _reach(seen: _Seen) -> float:
    """Return how many shots ahead the picture looks."""
    trend = seen.trend
    wanted = BEYOND * (trend.left_90 or trend.left_50 or trend.left_10 or 0)
    return min(max(wanted, LEAST_AHEAD), max(MOST_LIVES_AHEAD * trend.life_shots, LEAST_AHEAD))


def _fan(seen: _Seen) -> tuple[FanAt, ...]:
    """Return what is expected from now on: the middle, and the edges that hold 80 % of what may come."""
    if seen.ahead is None:
        return ()
    now, reach, steps = seen.begin + seen.trend.life_shots, _reach(seen), []
    for number in range(FAN_STEPS + 1):
        extra = reach * number / FAN_STEPS
        low, middle, high = (level * seen.size for level in seen.ahead.level_at(extra))
        steps.append(FanAt(now + extra, low, middle, high))
    return tuple(steps)


def _own(seen: _Seen) -> tuple[tuple[float, float], ...]:
    """Return the face's own line from its first reading as far as the picture looks."""
    line = line_of(seen.trend)
    if line is None:
        return ()
    shots = {reading.pk: float(reading.shots or 0) for reading in seen.readings}
    points = points_of(seen.trend)
    drawn = [
        (shots[int(one["reading"])], line.predict(float(one["wear"]))[0] * seen.size)
        for one in (points[0], points[-1])
        if int(one["reading"]) in shots
    ]
    reach = _reach(seen)
    ahead = line.predict(seen.trend.life_wear + reach * seen.trend.severity)[0]
    return (*drawn, (seen.begin + seen.trend.life_shots + reach, ahead * seen.size))


def _steps(seen: _Seen) -> tuple[Mark, ...]:
    """Return the steps that all faces made together, each where it was read and by how much."""
    found = {}
    for reading in seen.readings:
        step = seen.steps.get(reading.inspection_id)
        if step is not None and reading.inspection_id not in found:
            said = seen.answers.get(reading.inspection_id) or _("all faces stepped: why?")
            value = float(reading.value) * seen.size
            found[reading.inspection_id] = Mark(float(reading.shots or 0), value, said, value - step.offset * seen.size)
    return tuple(found.values())


def _windows(seen: _Seen) -> tuple[Mark, ...]:
    """Return the gaps in the press ahead: no shots are made in one, so it is a place along the shots."""
    reach = _reach(seen)
    found = []
    for window in seen.calendar.windows(date.max.replace(year=seen.calendar.today.year + 1)):
        extra = float(seen.calendar.coming.shots_by(float((window.first - seen.calendar.today).days)).mean())
        if extra <= reach:
            words = _("gap %(first)s to %(last)s") % {
                "first": wording.day(window.first), "last": wording.day(window.last),
            }  # fmt: skip
            found.append(Mark(seen.begin + seen.trend.life_shots + extra, 0.0, words))
    return tuple(found)


def _reached(seen: _Seen) -> tuple[Mark, ...]:
    """Return where the chances of 10, 50 and 90 % lie on the limit."""
    trend = seen.trend
    lower, upper = reached_at(trend)
    limit = upper if trend.towards == "upper" else lower
    if limit is None:
        return ()
    left = zip(CHANCES, (trend.left_10, trend.left_50, trend.left_90), strict=True)
    reach, now = _reach(seen), seen.begin + trend.life_shots
    return tuple(
        Mark(float(now + shots), limit * seen.size, f"{round(100 * chance)}\u202f%")
        for chance, shots in left
        if shots is not None and shots <= reach
    )


# In words


def _show(value: float, unit: str) -> str:
    return wording.show(units.Quantity(Decimal(str(round(value, 6))), unit))


def _rows(seen: _Seen) -> tuple[ReadingRow, ...]:
    points = {int(one["reading"]): one for one in points_of(seen.trend)}
    rows = []
    for reading in reversed(seen.readings):
        verdict, point = seen.verdicts.get(reading.inspection_id), points.get(reading.pk)
        step = float(point["step"]) if point is not None else 0.0
        told = point is not None and abs(float(point["value"]) - step - float(reading.value)) > 1e-9
        rows.append(
            ReadingRow(
                at=reading.at,
                shots=reading.shots or 0,
                value=_show(float(reading.value), seen.trend.unit),
                uncertainty=_show(float(verdict.standard_uncertainty), seen.trend.unit) if verdict else "",
                inspection_id=reading.inspection_id,
                counts_as=_show(float(f"{float(point['value']) - step:.4g}"), seen.trend.unit)
                if told and point is not None
                else "",
                step=seen.answers.get(reading.inspection_id, "") if reading.inspection_id in seen.steps else "",
                outcome=str(verdict.get_outcome_display()) if verdict else "",
            )
        )
    return tuple(rows)


def _ahead(seen: _Seen) -> tuple[AheadRow, ...]:
    if seen.ahead is None:
        return ()
    trend = seen.trend
    dates = seen.calendar.dates(seen.ahead)
    columns = zip(
        CHANCES,
        (trend.left_10, trend.left_50, trend.left_90),
        (dates.due_on, dates.even_on, dates.sure_on),
        (trend.own_left_10, trend.own_left_50, trend.own_left_90),
        strict=True,
    )
    return tuple(
        AheadRow(f"{round(100 * chance)}\u202f%", left, day, own, _level(seen.ahead, left, trend.unit))
        for chance, left, day, own in columns
    )


def _level(ahead: Outlook, left: int | None, unit: str) -> str:
    if left is None:
        return ""
    low, _middle, high = ahead.level_at(left)
    return f"{_show(float(f'{low:.3g}'), unit)} – {_show(float(f'{high:.3g}'), unit)}"


def _group(trend: Trend) -> str:
    """Return who the forecast rests on besides the face itself, in words."""
    pool = trend.pool
    if pool is None:
        return _("The face's own line alone: too few like it have worn from one reading to another.")
    told = [str(pool.get_how_made_display()), pool.family, pool.severity and _severity(pool.severity)]
    told += [f"{pool.hardness} HRC" if pool.hardness else "", str(pool.get_zone_display()) if pool.zone else ""]
    return _("%(faces)d faces alike with %(readings)d readings: %(told)s.") % {
        "faces": pool.faces, "readings": pool.readings, "told": ", ".join(str(one) for one in told if one),
    }  # fmt: skip


def _severity(name: str) -> str:
    return {"mild": _("mild resin"), "filled": _("filled resin"), "harsh": _("harsh resin")}.get(name, name)


def text_of(trend: Trend, calendar: ToolCalendar | None = None, ahead: Outlook | None = None) -> str:
    """Return what the picture shows, in words."""
    said: dict[str, Any] = {
        "parameter": trend.get_parameter_display(),
        "count": trend.count,
        "level": _show(trend.last_value, trend.unit),
    }
    if trend.shape == "flat":
        words = _("%(parameter)s over shots: %(count)d readings in this life, the last %(level)s; it is flat.")
        return words % said
    if trend.left_50 is None:
        return (
            _("%(parameter)s over shots: %(count)d readings in this life, the last %(level)s; no drift to a limit.")
            % said
        )
    if trend.left_50 <= 0:
        words = _(
            "%(parameter)s over shots: %(count)d readings in this life, the last %(level)s; its limit is reached."
        )
        return words % said
    said["left"] = wording.shots(trend.left_50)
    words = _("%(parameter)s over shots: %(count)d readings in this life, the last %(level)s; even chance in %(left)s.")
    dates = calendar.dates(ahead) if calendar is not None and ahead is not None else None
    if dates is None or dates.due_on is None or trend.left_10 is None:
        return words % said
    said |= {"early": wording.shots(trend.left_10), "day": wording.day(dates.due_on)}
    return f"{words % said} {_('A chance of 10 %% in %(early)s, on %(day)s.') % said}"


def work_words(said: str) -> str:
    """Return what began a life in the reader's language; the number of its order stays."""
    number, _gap, work = said.partition(" ")
    words = _(said)
    return f"{number} {_(work)}" if words == said and work else words
