"""The survival curves of groups of finish lives as a picture."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from django.utils.translation import gettext as _

from shop.boards.lives import LEVEL, Group
from shop.people import wording
from shop.picture.survival_chart import SurvivalChart, SurvivalCurve

TICKS, LAW_POINTS = 5, 40


def survival_picture(groups: Sequence[Group]) -> SurvivalChart:
    """Return the curves of one or two groups that have one."""
    longest = max(one.shots for group in groups for one in group.lives) * 1.03
    step = _round_step(longest / TICKS)
    ticks = [float(step * n) for n in range(int(longest // step) + 1)]
    names = _(" and ").join(group.name for group in groups)
    words = _("Share of finishes that outlast so many shots: %(names)s.") % {"names": names}
    medians = [
        _("%(name)s: half of them outlast %(shots)s.")
        % {"name": group.name, "shots": wording.shots(round(group.median.estimate))}
        for group in groups
        if group.median is not None
    ]
    return SurvivalChart(
        text=" ".join([words, *medians]),
        shots_title=_("shots since the finish was made"),
        risk_title=_("still running"),
        curves=tuple(_curve(group, longest, ticks) for group in groups),
        longest=longest,
        ticks=tuple((tick, wording.shots(round(tick)).split("\u00a0")[0]) for tick in ticks),
    )


def _curve(group: Group, longest: float, ticks: Sequence[float]) -> SurvivalCurve:
    curve = group.curve
    assert curve is not None  # noqa: S101 (asked for by the caller)
    low, high = curve.band(LEVEL)
    steps = list(zip(curve.times.tolist(), curve.survival.tolist(), strict=True))
    last = min(curve.last, longest)
    law = group.law
    at = np.linspace(0, longest, LAW_POINTS).tolist()
    drawn = [] if law is None else [(shots, law.survival_at(shots)) for shots in at]
    return SurvivalCurve(
        name=group.name,
        steps=(*steps, (last, steps[-1][1])),
        band=(
            (0.0, 1.0, 1.0),
            *zip(curve.times.tolist(), low.tolist(), high.tolist(), strict=True),
            (last, float(low[-1]), float(high[-1])),
        ),
        law=tuple(drawn),
        censored=tuple(
            (one.shots, curve.survival_at(one.shots) or steps[-1][1]) for one in group.lives if not one.worn
        ),
        at_risk=tuple((tick, sum(one.middle >= tick for one in group.lives)) for tick in ticks),
    )


def _round_step(size: float) -> float:
    """Return a step of 1, 2 or 5 times a power of ten, no smaller than asked for."""
    power = 10.0 ** np.floor(np.log10(max(size, 1.0)))
    return float(next(power * times for times in (1, 2, 5, 10) if power * times >= size))
