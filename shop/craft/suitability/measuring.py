"""Can the finish be measured and proven: room for the gauge, the gauge itself, its cut-off, its uncertainty."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import replace

from shop.craft.suitability.asking import (
    CARE,
    NO,
    QUALITY_DECIDES,
    ROUGHNESS,
    TRADE_SOURCE,
    YES,
    Ask,
    AskedLimit,
    Row,
    grade_of,
    not_known,
    outside,
    quantity,
)
from shop.refusal import Refused, Saying, gettext_noop
from shop.standards import conditions, conformity, gloss, recheck
from shop.standards.source import Source

ASME = "ASME B46.1"
MIRRORS = ("A-1", "A-2", "A-3")
# Which kinds of gauge can give a parameter.
GIVES = {"gloss": ("glossmeter",), "Ra": ("stylus", "optical", "comparator"), "Rq": ("stylus", "optical"),
         "Rz": ("stylus", "optical")}  # fmt: skip
BY_EYE = ("look gloss", "look roughness")


def measuring_rows(ask: Ask) -> tuple[Row, ...]:
    """Return whether the limits of a finish can be measured on the face and proven with the gauge.

    Parameters
    ----------
    ask : Ask
        What is known. [mm, cm2, um, GU]

    Returns
    -------
    tuple of Row
        One or more a topic.

    References
    ----------
    .. [1] ISO 4288, ISO 21920-3, ISO 2813, ISO 14253-1; each row names its own.
    """
    if not ask.limits:
        return tuple(not_known(topic) for topic in ("area", "how measured", "cut-off", "tolerance"))
    found: list[Row] = []
    for rows in (_room, _measured, _cutoff, _tolerance):
        of_topic = [row for limit in ask.limits for row in rows(ask, limit)]
        topic = {_room: "area", _measured: "how measured", _cutoff: "cut-off", _tolerance: "tolerance"}[rows]
        # Two limits often say the same of the gauge: said once.
        found.extend(row for place, row in enumerate(of_topic) if row not in of_topic[:place])
        if not of_topic:
            found.append(not_known(topic))
    return tuple(found)


def _cutoff_mm(ask: Ask, limit: AskedLimit) -> float | None:
    """Return the cut-off of the drawing, else the edition's; None where neither names one."""
    if limit.cutoff_mm is not None:
        return limit.cutoff_mm
    asked = limit.upper if limit.upper is not None else limit.lower
    if asked is None or ask.edition in ("", ASME):
        return None
    try:
        return conditions.measuring_conditions(limit.parameter, asked, ask.edition).cutoff_mm
    except Refused:
        return None


def _room(ask: Ask, limit: AskedLimit) -> Iterator[Row]:
    if limit.parameter == "gloss" and limit.geometry_deg is not None:
        yield from _room_for_the_spot(ask, limit.geometry_deg)
    elif limit.parameter in ROUGHNESS:
        yield from _room_for_the_stylus(ask, limit)


_ROOM = {
    "yes": gettext_noop("{has} hold the evaluation length of {want}, run-up included."),
    "short": gettext_noop("{has} hold {n} of 5 sampling lengths of {cutoff}: a short evaluation, to be flagged."),
    "no": gettext_noop("{has} do not hold one sampling length of {cutoff}: this roughness cannot be measured here."),
    "perhaps": gettext_noop(
        "A square of this area has sides of {has}, too short for {want}; a long narrow face may hold it."
    ),
}


def _room_for_the_stylus(ask: Ask, limit: AskedLimit) -> Iterator[Row]:
    cutoff, run = _cutoff_mm(ask, limit), _run_mm(ask)
    guessed = run is None and ask.area_cm2 is not None
    if guessed:
        run = math.sqrt(100 * float(ask.area_cm2 or 0))
    if cutoff is None or not run:
        return
    fits = recheck.length_on_face(run, cutoff, ask.travel_mm)
    travel = cutoff if ask.travel_mm is None else ask.travel_mm
    has, want = quantity(run, "mm"), quantity(5 * cutoff + travel, "mm")
    code = "yes" if not fits.short else "perhaps" if guessed else "no" if run < cutoff else "short"
    values = {"has": has, "want": want, "n": fits.sampling_lengths, "cutoff": quantity(cutoff, "mm")}
    saying = Saying(f"suits.room.{code}", _ROOM[code], values)
    source = conditions.ISO_2021_SOURCE if ask.edition == conditions.ISO_2021 else conditions.ISO_1996_SOURCE
    if code == "yes":
        yield Row("area", YES, saying, has, want, source)
        return
    change = Saying(
        "suits.room.change", gettext_noop("Measure elsewhere, on a replica or a coupon, or name a shorter cut-off."), {}
    )
    if code == "no":
        yield Row("area", NO, saying, has, quantity(cutoff, "mm"), None, change)
    else:
        yield Row("area", CARE, saying, has, want, source, change, QUALITY_DECIDES)


def _run_mm(ask: Ask) -> float | None:
    """Return the longest straight run on a face: its longer side, or the side that its area leaves it."""
    if ask.length_mm is not None:
        return max(ask.length_mm, ask.width_mm or 0.0)
    if ask.width_mm and ask.area_cm2 is not None:
        return max(ask.width_mm, 100 * ask.area_cm2 / ask.width_mm)
    return None


_SPOT = {
    "yes": gettext_noop("The spot measured at {angle}°, {spot}, fits on the face."),
    "no": gettext_noop("The gauge measures a spot of {spot} at {angle}°, larger than the face."),
    "usual": gettext_noop("Usual gloss meters measure a spot of {spot} at {angle}°, larger than the face."),
}


def _room_for_the_spot(ask: Ask, angle: int) -> Iterator[Row]:
    own = ask.aperture_mm is not None
    spot = ask.aperture_mm or gloss.USUAL_APERTURE_MM.get(angle)
    fits = None if spot is None else _spot_fits(ask, spot)
    if spot is None or fits is None:
        return
    words = f"{spot[0]:g} × {spot[1]:g} mm"
    has = (
        quantity(float(ask.area_cm2), "cm2") if ask.area_cm2 is not None else f"{ask.width_mm:g} × {ask.length_mm:g} mm"
    )
    code = "yes" if fits else "no" if own else "usual"
    saying = Saying(f"suits.spot.{code}", _SPOT[code], {"spot": words, "angle": angle})
    source = None if own else gloss.APERTURE_SOURCE
    if fits:
        yield Row("area", YES, saying, has, words, source)
        return
    change = Saying(
        "suits.spot.change", gettext_noop("A gloss meter with a smaller spot, or the plaque and the eye."), {}
    )
    yield Row("area", NO if own else CARE, saying, has, words, source, change, None if own else QUALITY_DECIDES)


def _spot_fits(ask: Ask, spot: tuple[float, float]) -> bool | None:
    """Return whether a spot lies on the face, by its sides where they are known, else by its area."""
    small, large = sorted(spot)
    if ask.width_mm is not None and ask.length_mm is not None:
        narrow, wide = sorted((ask.width_mm, ask.length_mm))
        return small <= narrow and large <= wide
    if ask.area_cm2 is None:
        return None
    return small * large <= 100 * ask.area_cm2


def _measured(ask: Ask, limit: AskedLimit) -> Iterator[Row]:
    if limit.parameter == "gloss" and limit.where != "part":
        template = gettext_noop("Gloss is measured on the moulded part, never on bare steel.")
        change = gettext_noop("Set the limit on the part, or compare the steel with a plaque by eye.")
        yield _by(NO, "suits.by.steel", template, limit.where, "part", gloss.GLOSS_SOURCE, change)
        return
    if limit.parameter == "gloss" and limit.geometry_deg not in gloss.GEOMETRIES_DEG:
        template = gettext_noop("Gloss is measured at 20°, 60° or 85°, and the angle must be named.")
        change = gettext_noop("Name the angle on the drawing; values of two angles do not convert.")
        angle = "–" if limit.geometry_deg is None else f"{limit.geometry_deg}°"
        yield _by(NO, "suits.by.angle", template, angle, "20°, 60°, 85°", gloss.GLOSS_SOURCE, change)
        return
    kind = limit.gauge_kind or ask.gauge_kind
    if not kind:
        return
    gives = GIVES.get(limit.parameter)
    if gives is not None and kind not in gives:
        template = gettext_noop("A gauge of this kind does not give {parameter}.")
        change = gettext_noop("Take a gauge that measures what the limit names.")
        yield _by(NO, "suits.by.kind", template, kind, ", ".join(gives), None, change, limit.parameter)
    elif kind == "stylus" and limit.where == "steel" and grade_of(ask) in MIRRORS:
        template = gettext_noop("A stylus marks a mirror.")
        change = gettext_noop("Measure by optical means, on a replica or on a witness coupon.")
        yield _by(CARE, "suits.by.mirror", template, "stylus", "optical", TRADE_SOURCE, change)
    else:
        template = gettext_noop("A gauge of this kind gives {parameter}.")
        yield _by(YES, "suits.by.yes", template, kind, None, None, "", limit.parameter)


def _by(
    verdict: str, code: str, template: str, value: str, limit: str | None, source: Source | None, change: str,
    parameter: str = "",
) -> Row:  # fmt: skip
    saying = Saying(code, template, {"parameter": parameter})
    would = Saying(f"{code}.change", change, {}) if change else None
    decides = QUALITY_DECIDES if verdict == CARE else None
    return Row("how measured", verdict, saying, value, limit, source, would, decides)


def _cutoff(ask: Ask, limit: AskedLimit) -> Iterator[Row]:
    asked = limit.upper if limit.upper is not None else limit.lower
    if limit.parameter not in ROUGHNESS or asked is None or not ask.edition:
        return
    if ask.edition == ASME:
        if limit.cutoff_mm is None:
            template = gettext_noop("American drawings carry no rule that chooses the cut-off.")
            change = Saying("suits.cutoff.name", gettext_noop("Name the cut-off on the drawing."), {})
            saying = Saying("suits.cutoff.asme", template, {})
            yield Row("cut-off", CARE, saying, None, None, TRADE_SOURCE, change, QUALITY_DECIDES)
        return
    try:
        wanted = conditions.measuring_conditions(limit.parameter, asked, ask.edition)
    except Refused as refused:
        yield outside("cut-off", refused.saying)
        return
    named = wanted.cutoff_mm if limit.cutoff_mm is None else limit.cutoff_mm
    has, want = quantity(named, "mm"), quantity(wanted.cutoff_mm, "mm")
    values = {"has": has, "want": want, "edition": ask.edition}
    if math.isclose(named, wanted.cutoff_mm, rel_tol=1e-9):
        template = gettext_noop("{edition} measures this limit with a cut-off of {want}.")
        yield Row("cut-off", YES, Saying("suits.cutoff.yes", template, values), has, want, wanted.source)
        return
    template = gettext_noop("The drawing names a cut-off of {has}; {edition} would take {want}. The drawing governs.")
    change = Saying("suits.cutoff.change", gettext_noop("Ask whether the cut-off is meant."), {})
    yield Row(
        "cut-off", CARE, Saying("suits.cutoff.other", template, values), has, want, wanted.source, change,
        QUALITY_DECIDES,
    )  # fmt: skip


_PROOF = {
    "widens": gettext_noop(
        "The tolerance is {ratio} times the uncertainty of {u}, under {enough}: a guard of 1.65 u is not enough, and "
        "conformity is proven only between {low} and {high}."
    ),
    "never": gettext_noop(
        "The tolerance is {ratio} times the uncertainty of {u}, under {least}: no value can be proven to lie inside it."
    ),
    "yes": gettext_noop("With an uncertainty of {u} conformity can be proven between {low} and {high}."),
    "narrow": gettext_noop("The uncertainty of {u} leaves only {low} to {high} in which conformity is proven."),
    "no": gettext_noop("With an uncertainty of {u} no value can be proven to lie within these limits."),
}


def _tolerance(ask: Ask, limit: AskedLimit) -> Iterator[Row]:
    if limit.u is None or limit.parameter in BY_EYE or (limit.lower is None and limit.upper is None):
        return
    unit = "GU" if limit.parameter == "gloss" else "um"
    try:
        zone = conformity.acceptance_zone(limit.u, limit.lower, limit.upper, ask.required)
    except Refused as refused:
        yield outside("tolerance", refused.saying, conformity.GUARD_SOURCE)
        return
    # Neither gloss nor roughness can be less than nought: a zone that ends below it holds no value.
    empty = zone is None or (zone[1] is not None and zone[1] <= 0)
    low, high = (None, None) if zone is None else zone
    both = limit.lower is not None and limit.upper is not None
    width = float(limit.upper or 0) - float(limit.lower or 0)
    narrow = both and not empty and float(high or 0) - float(low or 0) < width / 2
    times = width / limit.u if both and limit.u > 0 else math.inf
    code = "no" if empty else "narrow" if narrow else "yes"
    # The ratios are those of the default probability of 95 %.
    words = "widens" if not empty and times < conformity.GUARD_ENOUGH_FROM else code
    words = "never" if empty and times < conformity.PROVABLE_FROM else words
    values = {
        "ratio": f"{times:.2f}",
        "enough": f"{conformity.GUARD_ENOUGH_FROM:g}",
        "least": f"{conformity.PROVABLE_FROM:g}",
        "u": quantity(limit.u, unit),
        "low": "…" if low is None else quantity(low, unit),
        "high": "…" if high is None else quantity(high, unit),
    }
    saying = Saying(f"suits.proof.{words}", _PROOF[words], values)
    ratio = f"{times:.2f} u" if math.isfinite(times) else None
    row = Row("tolerance", YES, saying, ratio, f"{conformity.GUARD_ENOUGH_FROM:g} u", conformity.GUARD_SOURCE)
    if code == "yes":
        yield row
        return
    change = Saying(
        "suits.proof.change",
        gettext_noop("A better gauge, a wider tolerance, or simple acceptance agreed with the customer."),
        {},
    )
    no = empty and ask.guarded
    yield replace(row, verdict=NO if no else CARE, change=change, decides=None if no else QUALITY_DECIDES)
