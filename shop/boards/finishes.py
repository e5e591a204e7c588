"""Finishes: one value on every scale, a grain in every system, a hardness on every scale."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from decimal import Decimal

from shop.refusal import Refused, Saying, gettext_noop
from shop.standards import abrasives, grades, hardness, roughness
from shop.units import Quantity, convert

# What measured surfaces show; Rz follows from Ra no more closely than this.
RZ_BY_RA = (5.0, 7.0)
SCALES = ("Ra um", "Ra uin", "Rz um", "VDI", "N", "grade")


@dataclass(frozen=True)
class Candidate:
    """A grade whose Ra band holds the value, and those that Ra cannot tell from it."""

    grade: grades.Grade
    lower_um: float
    upper_um: float
    alike: tuple[str, ...]


@dataclass(frozen=True)
class OnEveryScale:
    """One roughness on every scale; `high_um` differs from `low_um` where the scale gives a band only."""

    low_um: float
    high_um: float
    vdi_low: float | None
    vdi_high: float | None
    n_grade: str
    card_rz_um: float | None
    candidates: tuple[Candidate, ...]
    cautions: tuple[Saying, ...]

    @property
    def is_band(self) -> bool:
        """Return whether the value is known as a band only."""
        return self.low_um != self.high_um


def on_every_scale(scale: str, value: str, number: Decimal | None, variant: int | grades.RaTable) -> OnEveryScale:
    """Return a value of one scale on all others. Raises Refused where the scale has no such value."""
    low, high = _ra_um(scale, value, number, variant)
    middle = (low + high) / 2
    found = {one.name: one for ra in (low, middle, high) if ra > 0 for one in grades.candidates(ra, variant)}
    return OnEveryScale(
        low_um=low,
        high_um=high,
        vdi_low=_vdi(low),
        vdi_high=_vdi(high),
        n_grade=_n_grade(high),
        card_rz_um=_card_rz(middle),
        candidates=tuple(
            Candidate(one, *one.ra_um(variant), grades.cannot_tell_apart(one.name, variant))
            for one in grades.GRADES
            if one.name in found
        ),
        cautions=tuple(_cautions(scale)),
    )


def _ra_um(scale: str, value: str, number: Decimal | None, variant: int | grades.RaTable) -> tuple[float, float]:
    if scale == "grade":
        return grades.grade_named(value).ra_um(variant)
    if scale == "N":
        ra = roughness.n_grade_ra_um(value.strip().upper())
        return ra, ra
    if number is None or number < 0 or (number == 0 and scale != "VDI"):
        raise Refused(
            "finish.value_wanted",
            gettext_noop("A value above nought is wanted here."),
            next_step=gettext_noop("Enter a number, or choose another scale."),
            field="value",
        )
    if scale == "VDI":
        ra = roughness.vdi3400_ra_um(float(number))
        return ra, ra
    um = float(convert(number, "uin" if scale == "Ra uin" else "um", "um"))
    return (um / RZ_BY_RA[1], um / RZ_BY_RA[0]) if scale == "Rz um" else (um, um)


def _vdi(ra_um: float) -> float | None:
    try:
        return round(roughness.vdi3400_ref(ra_um), 1)
    except Refused:
        return None  # off the scale, which is not extrapolated


def _n_grade(ra_um: float) -> str:
    try:
        return roughness.n_grade_for(ra_um)
    except Refused:
        return ""


def _card_rz(ra_um: float) -> float | None:
    ref = _vdi(ra_um)
    rows = {row.ref: row for row in roughness.VDI_CATALOGUE}
    return (
        rows[round(ref)].card_rz_um if ref is not None and round(ref) in rows and abs(ref - round(ref)) < 0.25 else None
    )


def _cautions(scale: str) -> Iterator[Saying]:
    if scale == "Rz um":
        template = gettext_noop(
            "Rz does not convert: measured surfaces show Rz of 5 to 7 times Ra, so Ra is a band here."
        )
        yield Saying("finish.rz", template, {})
    if scale == "grade":
        template = gettext_noop("A grade is a process and a plaque first; its Ra band only finds neighbours.")
        yield Saying("finish.grade", template, {})


def same_grain(system: str, number: str) -> tuple[Quantity, tuple[abrasives.SameGrain, ...]]:
    """Return the median grain behind a number and the same grain in the other systems. Raises Refused outside."""
    size = abrasives.grain_um(system, number)
    return Quantity(Decimal(f"{size:g}"), "um"), abrasives.same_grain(system, number)


def on_hardness_scales(value: Decimal, scale: str) -> dict[str, hardness.Hardness | None]:
    """Return a hardness on all scales with its source; None where one is not reached. Raises Refused outside."""
    hardness.convert(float(value), scale, scale)
    found: dict[str, hardness.Hardness | None] = {}
    for other in hardness.SCALES:
        found[other] = hardness.converted(float(value), scale, other)
    return found
