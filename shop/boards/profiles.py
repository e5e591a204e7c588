"""A stylus trace evaluated: the picture, the parameters, how they were worked out, and whether they belong together."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal

import numpy as np

from shop.boards.bars import quantity
from shop.picture.profile_chart import Band, ProfilePicture, columns_for
from shop.refusal import Refused, Saying, gettext_noop
from shop.standards import profile as rules
from shop.standards.conditions import ISO_1996, ISO_2021, conditions_for_cutoff
from shop.standards.profile import Trace
from shop.standards.source import Source
from shop.standards.trace import load_trace
from shop.tooling.models import Parameter, Spec
from shop.units import Quantity

AUTO, NONE = "auto", "none"
FILTERED = "filtered"
# The edition of the parameters, and the one that says under which conditions they are measured.
CONDITIONS_OF = {rules.ISO_4287: ISO_1996, rules.ISO_21920_2: ISO_2021}
SOURCES: dict[str, Source] = {
    rules.ISO_4287: rules.ISO_4287_SOURCE,
    rules.ISO_21920_2: rules.ISO_21920_2_SOURCE,
}
OFFERED = (Parameter.RA, Parameter.RQ, Parameter.RZ)
_STEP = Decimal("0.0001")

NAMES = {
    "Ra": gettext_noop("arithmetic mean height"),
    "Rq": gettext_noop("root mean square height"),
    "Rz": gettext_noop("maximum height, mean of the sampling lengths"),
    "Rt": gettext_noop("total height over the evaluation length"),
    "Rsk": gettext_noop("skewness: below 0 has pits, above 0 has peaks"),
    "Rku": gettext_noop("kurtosis: 3 is a random surface"),
    "RSm": gettext_noop("mean width of the profile elements"),
}


@dataclass(frozen=True)
class Ask:
    """How a trace is to be evaluated; `lambda_s` is "auto", "none" or micrometres in figures."""

    cutoff_mm: Decimal = Decimal("0.8")
    lambda_s: str = AUTO
    form: str = "line"
    edition: str = rules.ISO_21920_2


@dataclass(frozen=True)
class Figure:
    """One parameter: its name, what it means, its value; `bare` has no unit; None where there is none."""

    name: str
    words: str
    value: Quantity | None
    bare: float | None = None


@dataclass(frozen=True)
class Evaluated:
    """What came of a trace."""

    trace: Trace
    result: rules.ProfileParameters
    figures: tuple[Figure, ...]
    how: tuple[Saying, ...]
    fits: bool | None
    misfits: tuple[Saying, ...]
    picture: ProfilePicture
    narrow: ProfilePicture
    source: Source

    @property
    def offered(self) -> dict[str, Decimal]:
        """Return the values that can be taken as readings, in um, by parameter."""
        values = {"Ra": self.result.ra_um, "Rq": self.result.rq_um, "Rz": self.result.rz_um}
        return {name: Decimal(str(value)).quantize(_STEP) for name, value in values.items()}


@dataclass(frozen=True)
class Drawn:
    """Words of the picture, in the reader's language."""

    primary: str
    roughness: str
    text: str
    decimal_comma: bool = False


def evaluate(
    content: bytes,
    name: str,
    ask: Ask,
    drawn: Drawn,
    *,
    limits_um: Mapping[str, float] | None = None,
    tip_um: float | None = None,
) -> Evaluated:
    """Evaluate a trace as asked.

    Raises
    ------
    Refused
        Where the file holds no trace, or the trace cannot be evaluated so.
    """
    trace = load_trace(content, name)
    filtered = _filtered(trace, ask)
    result = rules.parameters_of(filtered, ask.edition)
    used = rules.used_conditions(result, tip_um)
    fit = rules.conditions_fit(result, used, CONDITIONS_OF[ask.edition], limits_um=limits_um)
    return Evaluated(
        trace=trace,
        result=result,
        figures=_figures(result),
        how=(trace.note, *rules.how_evaluated(result)),
        fits=fit.fits,
        misfits=fit.sayings,
        picture=_picture(filtered, drawn, 960.0),
        narrow=_picture(filtered, drawn, 440.0),
        source=SOURCES[ask.edition],
    )


def limits_of(spec: Spec | None, spot_id: int | None) -> dict[str, float]:
    """Return the upper limits of Ra and Rz at a spot, by which the newer edition chooses its conditions."""
    if spec is None:
        return {}
    found = {}
    for limit in spec.limits.all():
        side = limit.upper if limit.upper is not None else limit.lower
        if limit.parameter in ("Ra", "Rz") and side and limit.spot_id in (None, spot_id):
            found[limit.parameter] = float(side)
    return found


def _filtered(trace: Trace, ask: Ask) -> rules.FilteredProfile:
    cutoff = float(ask.cutoff_mm)
    if ask.form == FILTERED:
        return rules.as_filtered(trace.z_um, trace.spacing_um, cutoff)
    return rules.filter_profile(trace.z_um, trace.spacing_um, cutoff, _lambda_s(ask), form=ask.form)


def _lambda_s(ask: Ask) -> float | None:
    if ask.lambda_s == NONE:
        return None
    if ask.lambda_s != AUTO:
        return float(ask.lambda_s)
    try:
        return conditions_for_cutoff(float(ask.cutoff_mm), CONDITIONS_OF[ask.edition]).lambda_s_um
    except Refused:
        return None  # a cut-off of no row has no lambda_s of its own


def _figures(result: rules.ProfileParameters) -> tuple[Figure, ...]:
    heights = {"Ra": result.ra_um, "Rq": result.rq_um, "Rz": result.rz_um, "Rt": result.rt_um}
    bare = {"Rsk": result.rsk, "Rku": result.rku}
    rows = [Figure(name, NAMES[name], quantity(value, "um")) for name, value in heights.items()]
    rows += [
        Figure(name, NAMES[name], None, None if value is None else round(value, 3)) for name, value in bare.items()
    ]
    width = None if result.rsm_um is None else quantity(result.rsm_um, "um")
    return (*rows, Figure("RSm", NAMES["RSm"], width))


def _picture(filtered: rules.FilteredProfile, drawn: Drawn, width: float) -> ProfilePicture:
    columns = columns_for(width)
    spacing_mm = filtered.spacing_um / 1000
    bounds = np.linspace(filtered.first, filtered.last, filtered.sampling_lengths + 1) * spacing_mm
    return ProfilePicture(
        primary=_band(filtered.primary_um, spacing_mm, columns),
        mean_line=_band(filtered.waviness_um, spacing_mm, columns),
        roughness=_band(filtered.roughness_um, spacing_mm, columns),
        length_mm=len(filtered.primary_um) * spacing_mm,
        bounds_mm=tuple(bounds.tolist()),
        primary_name=drawn.primary,
        roughness_name=drawn.roughness,
        text=drawn.text,
        decimal_comma=drawn.decimal_comma,
        width=width,
    )


def _band(heights_um: np.ndarray, spacing_mm: float, columns: int) -> Band:
    thin = rules.thinned(heights_um, columns)
    return Band(tuple((thin.at * spacing_mm).tolist()), tuple(thin.low.tolist()), tuple(thin.high.tolist()))
