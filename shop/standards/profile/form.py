"""Take the form out of a trace before it is filtered: a line or an arc, by least squares."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from shop.refusal import Refused, gettext_noop
from shop.standards.profile.checking import Floats, checked_heights, checked_length
from shop.standards.source import not_in_table

FORMS = ("none", "line", "arc")


def remove_form(z_um: ArrayLike, spacing_um: float, form: str = "line") -> Floats:
    """Return the heights left after the form that fits them best is taken away.

    Parameters
    ----------
    z_um : ArrayLike
        Heights, evenly spaced. [um]
    spacing_um : float
        Spacing of the points. [um]
    form : str
        "none", "line" (least squares of the heights) or "arc" (an arc of a circle, least squares of the heights).

    Returns
    -------
    NDArray[np.float64]
        Residual heights. [um]

    Raises
    ------
    Refused
        If the form is not known, the trace is not fit to be evaluated, or no arc passes through it.

    References
    ----------
    .. [1] ISO 21920-2:2021, nominal form removed by association (F-operator); least squares is its default.
    """
    heights = checked_heights(z_um)
    spacing = checked_length("Spacing", spacing_um, "um")
    if form == "none":
        return heights
    if form == "line":
        return _without_line(heights)
    if form == "arc":
        return _without_arc(heights, spacing)
    raise not_in_table("Form", form, ", ".join(FORMS))


def _without_line(z: Floats) -> Floats:
    k = np.arange(len(z), dtype=np.float64) - (len(z) - 1) / 2
    left: Floats = z - z.mean()
    left -= (k @ left) / (k @ k) * k
    return left


def _without_arc(z: Floats, spacing: float) -> Floats:
    # The circle a(x2 + z2) + b x + z + d = 0 becomes a line as a goes to 0, so that nearly flat traces fit as well.
    half = spacing * (len(z) - 1) / 2
    x = np.linspace(-1.0, 1.0, len(z))
    level = z.mean()
    y = (z - level) / half
    circle = np.linalg.lstsq(np.stack((x * x + y * y, x, np.ones_like(x)), axis=1), -y, rcond=None)[0]
    for _ in range(20):
        fitted = _arc(circle, x)
        slope = 1 + 2 * circle[0] * fitted
        across = np.stack((x * x + fitted * fitted, x, np.ones_like(x)), axis=1) / -slope[:, np.newaxis]
        step = np.linalg.solve(across.T @ across, across.T @ (y - fitted))
        circle = circle + step
        if np.abs(step).max() < 1e-14 + 1e-12 * np.abs(circle).max():
            break
    left: Floats = (y - _arc(circle, x)) * half
    return left


def _arc(circle: Floats, x: Floats) -> Floats:
    a, b, d = circle
    q = a * x * x + b * x + d
    under = 1 - 4 * a * q
    if not np.all(under > 1e-12):
        raise Refused(
            "profile.no_arc",
            gettext_noop("No arc of a circle passes through the whole trace."),
            next_step=gettext_noop("Remove a line instead, or export the curved part alone."),
        )
    arc: Floats = -2 * q / (1 + np.sqrt(under))
    return arc
