"""Whether a result belongs to the conditions it was measured under, and how it was worked out."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field

from shop.refusal import Refused, Saying, gettext_noop
from shop.standards.conditions import ISO_1996, MeasuringConditions, measuring_conditions
from shop.standards.profile.evaluating import ProfileParameters

_CLOSE = 1.02


@dataclass(frozen=True)
class ConditionsFit:
    """Whether the conditions fit (None: cannot be told), why not, and what each parameter asks for."""

    fits: bool | None
    sayings: tuple[Saying, ...]
    asked: Mapping[str, MeasuringConditions] = field(default_factory=dict)


def used_conditions(result: ProfileParameters, tip_um: float | None = None) -> MeasuringConditions:
    """Return the conditions that a result was worked out under.

    Parameters
    ----------
    result : ProfileParameters
        The result.
    tip_um : float or None
        Radius of the stylus tip, where it is known. [um]

    Returns
    -------
    MeasuringConditions
        Cut-off and evaluation length [mm], lambda_s, tip and spacing [um].

    References
    ----------
    .. [1] ISO 21920-3:2021 names what belongs to a setting class.
    """
    return MeasuringConditions(
        "", result.cutoff_mm, result.evaluation_length_mm, "", result.lambda_s_um, tip_um, result.spacing_um
    )


def conditions_fit(
    result: ProfileParameters,
    used: MeasuringConditions | None = None,
    edition: str = ISO_1996,
    *,
    limits_um: Mapping[str, float] | None = None,
) -> ConditionsFit:
    """Say whether Ra and Rz were measured under the conditions that they belong to.

    Parameters
    ----------
    result : ProfileParameters
        What was measured. [um]
    used : MeasuringConditions or None
        The conditions it was measured under; None for those it was worked out under.
    edition : str
        "ISO 4288:1996", which chooses by the measured value, or "ISO 21920-3:2021", which chooses by the upper limit.
    limits_um : mapping of str to float, or None
        Upper limits of "Ra" and "Rz", for ISO 21920-3. [um]

    Returns
    -------
    ConditionsFit
        With a sentence for each condition that does not belong to the result.

    Raises
    ------
    Refused
        If the edition has no table here.

    References
    ----------
    .. [1] ISO 4288:1996, 7.2: repeated until the result lies in the row of the cut-off used.
    .. [2] ISO 21920-3:2021, setting classes chosen from the upper limit.
    .. [3] ISO 3274:1996, stylus, lambda_s and spacing beside the cut-offs of ISO 4288, from memory.
    """
    conditions = used_conditions(result) if used is None else used
    by_value = edition == ISO_1996
    values = {"Ra": result.ra_um, "Rz": result.rz_um} if by_value else dict(limits_um or {})
    if not by_value:
        measuring_conditions("Ra", 1.0, edition)
    asked: dict[str, MeasuringConditions] = {}
    sayings: list[Saying] = []
    for parameter, value in values.items():
        try:
            asked[parameter] = measuring_conditions(parameter, value, edition)
        except Refused as refused:
            sayings.append(refused.saying)
            continue
        sayings += _misfits(parameter, value, asked[parameter], conditions)
        # Of a profile that the gauge has filtered, only the gauge knows its lambda_s.
        if result.ends != "none" or conditions.lambda_s_um is not None:
            sayings += _short_wave_misfits(asked[parameter], conditions)
    if not values:
        return ConditionsFit(None, (Saying("conditions.no_limit", _NO_LIMIT, {"edition": edition}),))
    once = tuple(saying for at, saying in enumerate(sayings) if saying not in sayings[:at])
    return ConditionsFit(not once, once, asked)


_NO_LIMIT = gettext_noop("{edition} chooses the conditions from the upper limit, and no limit is named.")
_OTHER_CUTOFF = gettext_noop(
    "{parameter} {value} µm belongs to a cut-off of {asked} mm by {edition}; it was measured with {used} mm."
)
_SHORT = gettext_noop("The evaluation length is {used} mm; {edition} asks for {asked} mm.")
_NO_LAMBDA_S = gettext_noop("No λs filter was applied; {edition} asks for {asked} µm.")
_OTHER_LAMBDA_S = gettext_noop("λs is {used} µm; {edition} asks for {asked} µm.")
_WIDE_TIP = gettext_noop("The tip radius is {used} µm; {edition} asks for {asked} µm.")
_WIDE_SPACING = gettext_noop("The spacing is {used} µm; {edition} allows {asked} µm at most.")


def _misfits(parameter: str, value: float, asked: MeasuringConditions, used: MeasuringConditions) -> list[Saying]:
    edition, instrument = asked.edition, asked.instrument.title
    found: list[Saying] = []
    if not math.isclose(used.cutoff_mm, asked.cutoff_mm, rel_tol=1e-6):
        more = {"parameter": parameter, "value": _three(value)}
        found.append(_misfit("other_cutoff", _OTHER_CUTOFF, used.cutoff_mm, asked.cutoff_mm, edition, **more))
    elif used.evaluation_length_mm * _CLOSE < asked.evaluation_length_mm:
        lengths = _three(used.evaluation_length_mm), asked.evaluation_length_mm
        found.append(_misfit("short", _SHORT, *lengths, edition))
    if asked.tip_um and used.tip_um and used.tip_um > asked.tip_um * _CLOSE:
        found.append(_misfit("wide_tip", _WIDE_TIP, used.tip_um, asked.tip_um, instrument))
    if asked.spacing_um and used.spacing_um and used.spacing_um > asked.spacing_um * _CLOSE:
        found.append(_misfit("wide_spacing", _WIDE_SPACING, _three(used.spacing_um), asked.spacing_um, instrument))
    return found


def _short_wave_misfits(asked: MeasuringConditions, used: MeasuringConditions) -> list[Saying]:
    instrument = asked.instrument.title
    if asked.lambda_s_um is None:
        return []
    if used.lambda_s_um is None:
        return [_misfit("no_lambda_s", _NO_LAMBDA_S, None, asked.lambda_s_um, instrument)]
    if not math.isclose(used.lambda_s_um, asked.lambda_s_um, rel_tol=1e-6):
        return [_misfit("other_lambda_s", _OTHER_LAMBDA_S, used.lambda_s_um, asked.lambda_s_um, instrument)]
    return []


def _misfit(code: str, template: str, used: float | None, asked: float, edition: str, **more: object) -> Saying:
    return Saying(f"conditions.{code}", template, {"used": used, "asked": asked, "edition": edition, **more})


def _three(value: float) -> float:
    return float(f"{value:.3g}")


_ENDS: dict[str, str] = {
    "discard": gettext_noop("Half a cut-off at each end served as run-in and was not evaluated."),
    "normalised": gettext_noop("The trace has no run-in: at its ends the weights of the filter were scaled up."),
    "regression": gettext_noop("The trace has no run-in: at its ends a line was fitted under the weights."),
    "none": gettext_noop("The profile was taken as filtered by the gauge, with its mean height as the line."),
}
_FORMS: dict[str, str] = {
    "none": gettext_noop("No form was removed."),
    "line": gettext_noop("A least-squares line was removed first."),
    "arc": gettext_noop("A least-squares arc was removed first."),
}
_FILTER = gettext_noop("Gaussian filter of ISO 16610-21, cut-off {cutoff} mm.")
_FILTER_S = gettext_noop("Gaussian filters of ISO 16610-21, λs {lambda_s} µm and cut-off {cutoff} mm.")
_FEW = gettext_noop("Only {value} of {limit} sampling lengths could be evaluated: a short evaluation length.")


def how_evaluated(result: ProfileParameters) -> tuple[Saying, ...]:
    """Say how a result was worked out: form, filter, ends, and whether the evaluation length is short.

    Parameters
    ----------
    result : ProfileParameters
        The result.

    Returns
    -------
    tuple of Saying
        Sentences for the page and the record.

    References
    ----------
    .. [1] ISO 16610-21:2011 asks that the treatment of the ends be known.
    """
    said = [Saying("profile.ends", _ENDS[result.ends], {})]
    if result.ends != "none":
        filters = _FILTER if result.lambda_s_um is None else _FILTER_S
        values = {"cutoff": result.cutoff_mm, "lambda_s": result.lambda_s_um}
        said = [Saying("profile.form", _FORMS[result.form], {}), Saying("profile.filter", filters, values), *said]
    if result.short:
        said.append(Saying("profile.short", _FEW, {"value": result.sampling_lengths, "limit": 5}))
    return tuple(said)
