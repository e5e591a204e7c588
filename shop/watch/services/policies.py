"""Set when faces are called: for the plant, or for one customer's tools."""

from __future__ import annotations

from datetime import datetime
from decimal import Decimal
from typing import Any

from django.db import transaction

from shop.drift.run_lengths import MOST_RUN_LENGTH
from shop.errands.services import put
from shop.ledger.services import record_change
from shop.people.models import Person, Plant
from shop.refusal import Refused, gettext_noop
from shop.tooling.models import Customer
from shop.watch.models import Policy

FIELDS = ("call_chance", "lead_time_days", "call_not_proven", "chart", "run_length", "interval_shots")
LEAST_CHANCE, MOST_CHANCE = Decimal("0.01"), Decimal("0.50")
LEAST_RUN_LENGTH = 50
MOST_LEAD_DAYS = 365
MOST_INTERVAL = 1_000_000_000


@transaction.atomic
def set_policy(*, plant: Plant, by: Person, at: datetime, customer: Customer | None = None, **rules: Any) -> Policy:
    """Set the rule of the plant, or of a customer; None or empty is what stands above it.

    The plant's faces are looked at by it in the sweep that is put with it. Raises Refused for a chance, a lead time, a
    run length or an interval that cannot be.
    """
    Plant.objects.select_for_update().get(pk=plant.pk)
    check(rules)
    held, new = Policy.objects.get_or_create(plant=plant, customer=customer)
    changed = {name: value for name, value in rules.items() if name in FIELDS and value != getattr(held, name)}
    for name, value in changed.items():
        record_change(held, name, None if new else getattr(held, name), value, by=by, at=at)
        setattr(held, name, value)
    if changed:
        held.save(update_fields=list(changed))
        put(kind="sweep", key=f"policy {held.pk}", content={"plant": plant.pk}, at=at)
    return held


def check(rules: dict[str, Any]) -> None:
    """Raise Refused for a chance, a lead time, a run length or an interval that cannot be."""
    chance, lead = rules.get("call_chance"), rules.get("lead_time_days")
    if chance is not None and not LEAST_CHANCE <= chance <= MOST_CHANCE:
        said = f"{(chance * 100).normalize():f} %"
        raise _beyond("call_chance", gettext_noop("A chance of {value} is not called at."), said, "1", "50 %")
    if lead is not None and not 0 < lead <= MOST_LEAD_DAYS:
        raise _beyond("lead_time_days", gettext_noop("A lead time of {value} days is none."), lead, "1", "365")
    length, interval = rules.get("run_length"), rules.get("interval_shots")
    if length is not None and not LEAST_RUN_LENGTH <= length <= MOST_RUN_LENGTH:
        template = gettext_noop("A false alarm in every {value} readings is not offered.")
        raise _beyond("run_length", template, length, str(LEAST_RUN_LENGTH), "100 000")
    if interval is not None and not 0 < interval <= MOST_INTERVAL:
        template = gettext_noop("An interval of {value} shots is none.")
        raise _beyond("interval_shots", template, interval, "1", "1 000 000 000")


def _beyond(field: str, template: str, value: Any, least: str, limit: str) -> Refused:
    return Refused(
        f"policy.{field}",
        template,
        next_step=gettext_noop("Give {least} to {limit}."),
        field=field,
        value=value,
        least=least,
        limit=limit,
    )
