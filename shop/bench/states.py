"""The way of a work order: its states and the arrows between them."""

from __future__ import annotations

from django.db import models
from django.db.models import Q
from django.utils.translation import gettext_lazy as _


class State(models.TextChoices):
    RAISED = "raised", _("raised")
    ACCEPTED = "accepted", _("accepted")
    PLANNED = "planned", _("planned")
    ON_THE_BENCH = "on the bench", _("on the bench")
    SENT_OUT = "sent out", _("sent out")
    STEEL_CHECK = "steel check", _("steel check")
    PARTS_CHECK = "parts check", _("parts check")
    RELEASED = "released", _("released")
    STOPPED = "stopped", _("stopped")
    TURNED_DOWN = "turned down", _("turned down")
    WITHDRAWN = "withdrawn", _("withdrawn")


ARROWS: dict[State, tuple[State, ...]] = {
    State.RAISED: (State.ACCEPTED, State.TURNED_DOWN, State.WITHDRAWN),
    State.ACCEPTED: (State.PLANNED, State.WITHDRAWN),
    State.PLANNED: (State.ACCEPTED, State.ON_THE_BENCH, State.SENT_OUT, State.WITHDRAWN),
    State.ON_THE_BENCH: (State.STEEL_CHECK, State.STOPPED, State.SENT_OUT),
    State.SENT_OUT: (State.STEEL_CHECK, State.STOPPED, State.ON_THE_BENCH),
    State.STOPPED: (State.PLANNED, State.ON_THE_BENCH, State.SENT_OUT, State.WITHDRAWN),
    State.STEEL_CHECK: (State.PARTS_CHECK, State.ON_THE_BENCH, State.SENT_OUT),
    State.PARTS_CHECK: (State.RELEASED, State.ON_THE_BENCH, State.SENT_OUT),
    State.RELEASED: (),
    State.TURNED_DOWN: (),
    State.WITHDRAWN: (),
}
ENDED = (State.RELEASED, State.TURNED_DOWN, State.WITHDRAWN)
OPEN_TO_PLANNING = (State.RAISED, State.ACCEPTED, State.PLANNED)
AT_WORK = (State.ON_THE_BENCH, State.SENT_OUT)
IN_WORK = (State.ON_THE_BENCH, State.SENT_OUT, State.STOPPED, State.STEEL_CHECK, State.PARTS_CHECK)


def arrow_condition() -> Q:
    """Return the condition that a move row follows an arrow; the first move has no state before it."""
    condition = Q(from_state="", to_state=State.RAISED.value)
    for start, ends in ARROWS.items():
        if ends:
            condition |= Q(from_state=start.value, to_state__in=[end.value for end in ends])
    return condition
