"""Can the material take the finish: steel, hardness, layer, resin, and the gloss a resin can show."""

from __future__ import annotations

from collections.abc import Iterator

from shop.craft.suitability.asking import (
    CARE,
    HOUSE_DECIDES,
    LEAD_DECIDES,
    NO,
    PLATER_DECIDES,
    YES,
    Ask,
    Row,
    grade_of,
    is_texture,
    not_known,
    outside,
    quantity,
)
from shop.refusal import Refused, Saying, Word, gettext_noop
from shop.standards import coatings, resins, steels
from shop.standards.source import Standing


def material_rows(ask: Ask) -> tuple[Row, ...]:
    """Return what the materials of a face say of the finish.

    Parameters
    ----------
    ask : Ask
        What is known. [HRC, um, deg, GU]

    Returns
    -------
    tuple of Row
        One or more a topic.

    References
    ----------
    .. [1] The tables of `shop.standards`, each row with its own source.
    """
    return (*_steel(ask), *_hardness(ask), *_coating(ask), *_resin(ask), *_resin_gloss(ask))


_STEEL = {
    "yes": gettext_noop("{steel} takes {grade}: its best practical finish is {best}."),
    "beyond": gettext_noop("{grade} is beyond the best practical finish of {steel}, which is {best}."),
    "texture": gettext_noop("{steel} takes texture: {how}."),
    "untextured": gettext_noop("{steel} is not usual under texture: {how}."),
}
_OTHER_STEEL = Saying(
    "suits.other_steel", gettext_noop("A remelted or cleaner steel, or a coarser finish on this one."), {}
)


def _steel(ask: Ask) -> Iterator[Row]:
    grade, texture = grade_of(ask), is_texture(ask)
    if not ask.steel or not (grade or texture):
        yield not_known("steel")
        return
    try:
        steel = steels.steel_named(ask.steel)
    except Refused as refused:
        yield outside("steel", refused.saying, steels.STEEL_SOURCE)
        return
    values = {"steel": steel.number, "grade": grade, "best": steel.best_finish, "how": Word(steel.texture)}
    if grade:
        beyond = steels.beyond_best(steel, grade)
        code = "beyond" if beyond else "yes"
        saying = Saying(f"suits.steel.{code}", _STEEL[code], values)
        change, decides = (_OTHER_STEEL, LEAD_DECIDES) if beyond else (None, None)
        verdict = CARE if beyond else YES
        yield Row("steel", verdict, saying, grade, steel.best_finish, steels.STEEL_SOURCE, change, decides)
    if texture:
        well = steel.texture in ("well", "yes")
        code = "texture" if well else "untextured"
        saying = Saying(f"suits.steel.{code}", _STEEL[code], values)
        change, decides = (None, None) if well else (_OTHER_STEEL, HOUSE_DECIDES)
        yield Row("steel", YES if well else CARE, saying, steel.texture, "yes", steels.STEEL_SOURCE, change, decides)


def _hardness(ask: Ask) -> Iterator[Row]:
    try:
        steel = steels.steel_named(ask.steel) if ask.steel else None
    except Refused:
        steel = None
    if steel is None or ask.hardness_hrc is None or not grade_of(ask):
        yield not_known("hardness")
        return
    has = quantity(ask.hardness_hrc, "HRC")
    if steel.finish_from_hrc is None:
        template = gettext_noop("No least hardness is told for {steel} under this finish; it has {has}.")
        saying = Saying("suits.hardness.none", template, {"steel": steel.number, "has": has})
        yield Row("hardness", YES, saying, has, None, steels.STEEL_SOURCE)
        return
    limit = quantity(steel.finish_from_hrc, "HRC")
    soft = steels.beyond_best(steel, grade_of(ask), ask.hardness_hrc)
    values = {"steel": steel.number, "has": has, "limit": limit, "grade": grade_of(ask)}
    if soft:
        template = gettext_noop("{grade} on {steel} wants {limit}; the insert has {has}.")
        change = Saying("suits.harder", gettext_noop("Hardened to {limit}, or a finish coarser than A-2."), values)
        saying = Saying("suits.hardness.soft", template, values)
        yield Row("hardness", CARE, saying, has, limit, steels.STEEL_SOURCE, change, LEAD_DECIDES)
        return
    template = gettext_noop("{has} is enough for {grade} on {steel}.")
    yield Row("hardness", YES, Saying("suits.hardness.yes", template, values), has, limit, steels.STEEL_SOURCE)


def _coating(ask: Ask) -> Iterator[Row]:
    if not ask.coating:
        yield not_known("coating")
        return
    if ask.coating == "none":
        template = gettext_noop("Bare steel: no layer is in the way.")
        yield Row("coating", YES, Saying("suits.coating.none", template, {}), "none", None, coatings.COATING_SOURCE)
        return
    try:
        layer = coatings.coating_named(ask.coating)
    except Refused as refused:
        yield outside("coating", refused.saying, coatings.COATING_SOURCE)
        return
    if layer.kind == coatings.DIFFUSION:
        template = gettext_noop(
            "Nitrided steel has nothing to strip; texture goes in before nitriding, and what is polished away takes "
            "hardness with it."
        )
        change = gettext_noop("Texture or polish first, then nitride.")
    else:
        template = gettext_noop(
            "{layer} follows what is under it: the finish is made in the steel and then coated; a weld or full work "
            "means strip, finish again, coat again."
        )
        change = gettext_noop("Strip, make the finish, coat again; allow for the thickness at shut-offs.")
    values = {"layer": Word(layer.name)}
    thick = f"{layer.thickness_um[0]:g}–{layer.thickness_um[1]:g} µm" if layer.thickness_um else None
    yield Row(
        "coating",
        CARE,
        Saying(f"suits.coating.{layer.kind}", template, values),
        layer.name,
        thick,
        coatings.COATING_SOURCE,
        Saying(f"suits.coating.{layer.kind}.change", change, values),
        PLATER_DECIDES,
    )


_RESIN = {
    "no": gettext_noop("{resin} is told not to take {grade}."),
    "average": gettext_noop("{resin} takes {grade} fairly."),
    "good": gettext_noop("{resin} takes {grade} well."),
    "excellent": gettext_noop("{resin} takes {grade} very well."),
}


def _resin(ask: Ask) -> Iterator[Row]:
    grade = grade_of(ask)
    if not ask.resin or not grade:
        yield not_known("resin")
        return
    try:
        found = resins.suits(ask.resin, grade)
    except Refused as refused:
        yield outside("resin", refused.saying, resins.RESIN_SOURCE)
        return
    saying = Saying(f"suits.resin.{found.how}", _RESIN[found.how], {"resin": found.resin, "grade": grade})
    well = found.how in (resins.GOOD, resins.EXCELLENT)
    better = Saying("suits.resin.change", gettext_noop("Another grade for this resin, or a trial moulding."), {})
    change, decides = (None, None) if well else (better, LEAD_DECIDES)
    yield Row("resin", YES if well else CARE, saying, found.how, resins.GOOD, found.source, change, decides)


def _resin_gloss(ask: Ask) -> Iterator[Row]:
    asked = [limit for limit in ask.limits if limit.parameter == "gloss" and limit.lower and limit.geometry_deg]
    if not asked or not ask.resin:
        return
    for limit in asked:
        angle, lower = int(limit.geometry_deg or 0), float(limit.lower or 0)
        try:
            bound, source = resins.most_gloss_gu(ask.resin, angle)
        except Refused as refused:
            yield outside("gloss of the resin", refused.saying, resins.INDEX_SOURCE)
            continue
        has, most = quantity(lower, "GU"), quantity(bound, "GU")
        values = {"has": has, "most": most, "resin": ask.resin.upper(), "angle": angle}
        if lower <= bound:
            template = gettext_noop("An ideal opaque surface of {resin} reads {most} at {angle}°; {has} is within it.")
            yield Row("gloss of the resin", YES, Saying("suits.bound.yes", template, values), has, most, source)
            continue
        # Only a published index on a part known to be opaque is proof.
        proven = ask.opaque is True and source.standing == Standing.PUBLISHED
        template = gettext_noop(
            "Even an ideal opaque surface of {resin} reads no more than {most} at {angle}°; {has} is asked for. A "
            "clear part adds its back face, and plating or metallic pigment may read more."
        )
        change = Saying("suits.bound.change", gettext_noop("Ask for no more than {most} at {angle}°."), values)
        saying = Saying("suits.bound.no", template, values)
        yield Row(
            "gloss of the resin", NO if proven else CARE, saying, has, most, source, change,
            None if proven else LEAD_DECIDES,
        )  # fmt: skip
