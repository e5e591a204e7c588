"""Finishes: one value on every scale, and whether a face can have a finish."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from decimal import Decimal

from shop.refusal import Refused, Saying, gettext_noop
from shop.standards import draft, grades, resins, roughness, steels
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


@dataclass(frozen=True)
class Says:
    """One answer to "can this face have this finish?": `well` is yes, care or no."""

    well: str
    saying: Saying


def on_every_scale(scale: str, value: str, number: Decimal | None, variant: int) -> OnEveryScale:
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


def _ra_um(scale: str, value: str, number: Decimal | None, variant: int) -> tuple[float, float]:
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


def can_have(steel: str, hardness_hrc: Decimal | None, resin: str, grade: str) -> list[Says]:
    """Return what steel and resin say of a grade. Raises Refused where a table does not know one of them."""
    said: list[Says] = []
    if steel:
        said.append(_by_steel(steels.steel_named(steel), hardness_hrc, grades.grade_named(grade).name))
    if resin:
        said.append(_by_resin(resin, grades.grade_named(grade).name))
    return said


_BY_STEEL = {
    "yes": gettext_noop("{steel} takes {grade}: its best practical finish is {best}."),
    "care": gettext_noop(
        "{grade} is beyond the best practical finish of {steel}, {best}: only with care, and the lead decides."
    ),
}
_TEXTURE = {
    "no": gettext_noop("{steel} is not for texture."),
    "with care": gettext_noop("{steel} takes texture with care."),
}


def _by_steel(steel: steels.Steel, hardness_hrc: Decimal | None, grade: str) -> Says:
    beyond = steels.beyond_best(steel, grade, None if hardness_hrc is None else float(hardness_hrc))
    well = "care" if beyond else "yes"
    values = {"steel": steel.number, "grade": grade, "best": steel.best_finish}
    return Says(well, Saying(f"finish.steel.{well}", _BY_STEEL[well], values))


def by_texture(steel: str, depth_um: Decimal, draft_deg: Decimal | None) -> list[Says]:
    """Return what steel and draft say of a textured wall of a depth."""
    said = []
    known = steels.steel_named(steel) if steel else None
    if known is not None and known.texture in _TEXTURE:
        well = "no" if known.texture == "no" else "care"
        said.append(Says(well, Saying("finish.texture", _TEXTURE[known.texture], {"steel": known.number})))
    needs = [draft.textured_draft_deg(float(depth_um), rule.name) for rule in draft.DRAFT_RULES]
    usual = draft.textured_draft_deg(float(depth_um))
    values = {
        "depth": Quantity(depth_um, "um"),
        "usual": Quantity(_degrees(usual), "deg"),
        "low": Quantity(_degrees(min(needs)), "deg"),
    }
    if draft_deg is None:
        template = gettext_noop(
            "A pattern {depth} deep wants {usual} of draft by the usual rule, {low} by the leanest."
        )
        return [*said, Says("care", Saying("finish.draft", template, values))]
    well = "yes" if float(draft_deg) >= usual else ("care" if float(draft_deg) >= min(needs) else "no")
    values["has"] = Quantity(draft_deg, "deg")
    return [*said, Says(well, Saying(f"finish.draft.{well}", _BY_DRAFT[well], values))]


_BY_DRAFT = {
    "yes": gettext_noop("{has} of draft are enough for a pattern {depth} deep; the usual rule wants {usual}."),
    "care": gettext_noop(
        "{has} of draft are under the usual {usual} for a pattern {depth} deep; the leanest rule wants {low}. "
        "The texture house decides."
    ),
    "no": gettext_noop("{has} of draft are too little for a pattern {depth} deep: even the leanest rule wants {low}."),
}


def _degrees(value: float) -> Decimal:
    return Decimal(str(round(value, 1)))


_BY_RESIN = {
    "no": gettext_noop("{resin} does not take {grade}."),
    "average": gettext_noop("{resin} takes {grade} fairly."),
    "good": gettext_noop("{resin} takes {grade} well."),
    "excellent": gettext_noop("{resin} takes {grade} very well."),
}
_WELL = {"no": "no", "average": "care", "good": "yes", "excellent": "yes"}


def _by_resin(resin: str, grade: str) -> Says:
    how = resins.resin_suitability(resin, grade)
    return Says(_WELL[how], Saying(f"finish.resin.{how}", _BY_RESIN[how], {"resin": resin, "grade": grade}))
