"""Checks that several services share."""

from __future__ import annotations

from datetime import datetime, timedelta

from django.utils import timezone

from shop.refusal import Refused, gettext_noop

# Tablets' clocks run a little fast; what lies further ahead than this was mistyped.
CLOCK_LEEWAY = timedelta(minutes=2)


def not_in_future(at: datetime, *, code: str, field: str = "at") -> None:
    """Refuse a moment that has not come yet."""
    now = timezone.now()
    if at > now + CLOCK_LEEWAY:
        raise Refused(
            code,
            gettext_noop("{at} has not come yet; it is {now} now."),
            next_step=gettext_noop("Check the date and the time, or the clock of this device."),
            field=field,
            at=at,
            now=now,
        )


def says_why(why: str, *, code: str, field: str = "why") -> str:
    """Return the reason without blanks around it, and refuse an empty one."""
    if not why.strip():
        raise Refused(
            code,
            gettext_noop("No reason is given."),
            next_step=gettext_noop("Say why in a few words; they are kept with it."),
            field=field,
        )
    return why.strip()
