"""Why a face was called and why a call was closed: codes and values, and the marked sentences they are worded in.

A value is kept as JSON with its kind: a quantity with its unit, a day, a moment, a word of a list, or plain text.
"""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date, datetime
from decimal import Decimal
from typing import Any

from django.db.models.enums import Choices

from shop.press.models import Damage
from shop.quality import due
from shop.refusal import Saying, Word, gettext_noop
from shop.tooling.models import Parameter
from shop.units import Quantity
from shop.watch.models import Call, Evidence, Policy

WORDS: dict[str, type[Choices]] = {"parameter": Parameter, "damage": Damage.Kind, "chart": Policy.Chart}

TEMPLATES: dict[str, str] = {
    "off_spec.above": gettext_noop(
        "{parameter} at {spot} reads {value}, above {limit} (guard {guard}): off spec since {day}."
    ),
    "off_spec.below": gettext_noop(
        "{parameter} at {spot} reads {value}, below {limit} (guard {guard}): off spec since {day}."
    ),
    "off_spec.above_plain": gettext_noop("{parameter} at {spot} reads {value}, above {limit}: off spec since {day}."),
    "off_spec.below_plain": gettext_noop("{parameter} at {spot} reads {value}, below {limit}: off spec since {day}."),
    "not_proven.above": gettext_noop(
        "{parameter} at {spot} reads {value}, too near to {limit} to be proven (guard {guard}): "
        "the chance that it conforms is {chance}."
    ),
    "not_proven.below": gettext_noop(
        "{parameter} at {spot} reads {value}, too near to the lower limit {limit} to be proven (guard {guard}): "
        "the chance that it conforms is {chance}."
    ),
    "not_proven.too_few": gettext_noop(
        "{parameter} at {spot} reads {value}, the limit is {limit}: the {rule} rule wants more values to prove it."
    ),
    "forecast.three": gettext_noop(
        "{parameter} at {spot} is heading for {limit}: {left_10} left until a chance of 10 %, {left_50} until 50 %, "
        "{left_90} until 90 %. At {rate} a day the first is reached on {day}."
    ),
    "forecast.two": gettext_noop(
        "{parameter} at {spot} is heading for {limit}: {left_10} left until a chance of 10 %, {left_50} until 50 %. "
        "At {rate} a day the first is reached on {day}."
    ),
    "forecast.one": gettext_noop(
        "{parameter} at {spot} may be heading for {limit}: {left_10} left until a chance of 10 %. "
        "At {rate} a day that is reached on {day}."
    ),
    "forecast.now": gettext_noop(
        "{parameter} at {spot} has reached {limit} already with a chance of {chance}; it last read {value}."
    ),
    "pattern.left": gettext_noop(
        "{parameter} at {spot} leaves its own pattern: it last read {value} on {day}, which by the chart ({chart}) is "
        "more than scatter. Measure a second time."
    ),
    "step.above": gettext_noop(
        "{parameter}: all {count} faces read {offset} higher on {day} than their own wear has them."
    ),
    "step.below": gettext_noop(
        "{parameter}: all {count} faces read {offset} lower on {day} than their own wear has them."
    ),
    "outlier.above": gettext_noop("{parameter} read {value} on {day}, {offset} above where its trend has it."),
    "outlier.below": gettext_noop("{parameter} read {value} on {day}, {offset} below where its trend has it."),
    "interval.reached": gettext_noop("{shots} since the finish was made; it is to be made again every {limit}."),
    "damage.reported": gettext_noop("{kind} was reported on {day}."),
    "damage.noted": gettext_noop("{kind} was reported on {day}: {note}"),
    "damage.stops": gettext_noop("{kind} was reported on {day}: parts are bad, the tool should not run."),
    "damage.stops_noted": gettext_noop("{kind} was reported on {day}: {note} Parts are bad, the tool should not run."),
    **due.TEMPLATES,
    "closed.concession": gettext_noop("Concession {number} allows it."),
    "closed.conforms": gettext_noop("{parameter} at {spot} read {value} on {day} and conforms."),
    "closed.limits_changed": gettext_noop("The spec's limits are others now."),
    "closed.decided": gettext_noop("What was not proven has been decided."),
    "closed.new_finish": gettext_noop("The finish was made anew on {day}."),
    "closed.no_finish": gettext_noop("The finish that was called is gone."),
    "closed.refitted": gettext_noop("By the latest readings {left} are left; {lead} are made inside the lead time."),
    "closed.not_heading": gettext_noop("By the latest readings it is not heading for a limit."),
    "closed.interval": gettext_noop("{shots} since the finish was made; the interval is {limit}."),
    "closed.no_interval": gettext_noop("No interval is planned any more."),
    "closed.pattern": gettext_noop("By the latest readings it follows its own pattern again."),
    "closed.measured": gettext_noop("Nothing that is planned here is late any more."),
}


def saying(evidence: Evidence) -> Saying:
    """Return the reason as a sentence to be worded in the reader's language and units."""
    return worded(evidence.code, evidence.values)


def because(call: Call) -> Saying | None:
    """Return why the call was closed; None while it is open."""
    kept = call.closed_because
    return worded(kept["code"], kept["values"], kept.get("template", "")) if kept else None


def worded(code: str, values: Mapping[str, Any], template: str = "") -> Saying:
    """Return a saying from what was kept of it."""
    found = {name: unpacked(value) for name, value in values.items()}
    if note := str(found.get("note") or "").rstrip():
        # People seldom end a note with a stop, and the sentence goes on behind it.
        found["note"] = note if note.endswith((".", "!", "?", "…")) else f"{note}."
    return Saying(code, template or TEMPLATES[code], found)


def kept(said: Saying) -> dict[str, Any]:
    """Return a saying as it is kept with a closed call: another room's sentence brings its template along."""
    found: dict[str, Any] = {"code": said.code, "values": packed(said.values)}
    if TEMPLATES.get(said.code) != said.template:
        found["template"] = said.template
    return found


def packed(values: Mapping[str, Any]) -> dict[str, Any]:
    """Return values as JSON that keeps their kinds."""
    return {name: _packed(value) for name, value in values.items()}


def unpacked(value: Any) -> Any:
    """Return a value as it was before it was packed."""
    if not isinstance(value, dict):
        return value
    if "unit" in value:
        return Quantity(Decimal(value["value"]), value["unit"])
    if "day" in value:
        return date.fromisoformat(value["day"])
    if "moment" in value:
        return datetime.fromisoformat(value["moment"])
    if "marked" in value:
        return Word(value["marked"])
    if "number" in value:
        return Decimal(value["number"])
    return WORDS[value["list"]](value["word"])


def _packed(value: Any) -> Any:
    if isinstance(value, Word):
        return {"marked": str(value)}
    if isinstance(value, Quantity):
        return {"value": str(value.value), "unit": value.unit}
    if isinstance(value, datetime):
        return {"moment": value.isoformat()}
    if isinstance(value, date):
        return {"day": value.isoformat()}
    if isinstance(value, Decimal | float):
        return {"number": str(value)}
    if isinstance(value, Choices):
        return {"list": next(name for name, words in WORDS.items() if isinstance(value, words)), "word": value.value}
    return value if isinstance(value, int | str) or value is None else str(value)
