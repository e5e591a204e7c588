"""Finish bars with their figures written out in the reader's units."""

from __future__ import annotations

from dataclasses import replace

from django.utils.translation import gettext as _

from shop.boards.bars import quantity
from shop.people import wording
from shop.picture.finish_bar import Bar


def figured(bar: Bar) -> Bar:
    """Return the bar with its limits as figures, and in its words what the drawing shows."""
    lower, upper = (
        None if limit is None else wording.show(quantity(limit, bar.unit)) for limit in (bar.lower, bar.upper)
    )
    if lower and upper:
        words = _("%(level)s, limits %(lower)s to %(upper)s") % {"level": bar.text, "lower": lower, "upper": upper}
    elif upper:
        words = _("%(level)s, at most %(upper)s") % {"level": bar.text, "upper": upper}
    elif lower:
        words = _("%(level)s, at least %(lower)s") % {"level": bar.text, "lower": lower}
    else:
        words = bar.text
    if bar.is_out:
        words = _("%(words)s: out of its band") % {"words": words}
    return replace(bar, lower_words=lower or "", upper_words=upper or "", text=words)
