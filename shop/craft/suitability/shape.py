"""Does the wall allow the finish: draft, zone, the steel that is left, and how the finish is made."""

from __future__ import annotations

from collections.abc import Iterator

from shop.craft.suitability.asking import (
    CARE,
    HOUSE_DECIDES,
    LEAD_DECIDES,
    NO,
    TEXTURED,
    TRADE_SOURCE,
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
from shop.standards import draft, grades, roughness
from shop.standards.source import Source
from shop.units import Quantity

EDGES = ("shut-off edge", "parting edge", "parting line")
GATE = "gate"
# A stripped pattern takes this much beyond its depth, at least and at most; mirror work as much in all. [um]
STRIP_BEYOND_UM = (10.0, 50.0)
MIRROR_TAKES_UM = (30.0, 50.0)
FAMILY = {"A": "polished", "B": "polished", "C": "stoned", "D": "blasted"}


def shape_rows(ask: Ask) -> tuple[Row, ...]:
    """Return what the wall and the work say of the finish.

    Parameters
    ----------
    ask : Ask
        What is known. [deg, um]

    Returns
    -------
    tuple of Row
        One or more a topic.

    References
    ----------
    .. [1] Draft of textured walls, where sources conflict; VDI 3400 cards; rules of the bench.
    """
    return (*_draft(ask), *_zone(ask), *_steel_left(ask), *_how_made(ask))


def _draft(ask: Ask) -> Iterator[Row]:
    ref = ask.code if ask.scale == "VDI 3400" else ""
    if ask.draft_deg is None or not (ask.pattern_depth_um or (ref and ask.resin)):
        yield not_known("draft")
        return
    try:
        if ask.pattern_depth_um:
            needs = [draft.textured_draft_deg(ask.pattern_depth_um, rule) for rule in draft.DRAFT_RULES]
            usual = draft.textured_draft_deg(ask.pattern_depth_um)
            yield _against(ask.draft_deg, usual, min(needs), draft.DRAFT_SOURCE, _deepest(ask.draft_deg))
        if ref and ask.resin:
            need = roughness.vdi_card_draft_deg(_number(ref), ask.resin)
            change = Saying("suits.draft.ref", gettext_noop("More draft, or a finer reference number."), {})
            yield _against(ask.draft_deg, need, need, roughness.VDI_CARD_SOURCE, change)
    except Refused as refused:
        yield outside("draft", refused.saying, roughness.VDI_CARD_SOURCE)


def _deepest(draft_deg: float) -> Saying:
    deepest = draft.deepest_pattern_um(draft_deg)
    if deepest <= 0:
        template = gettext_noop("More draft: the usual rule leaves no pattern at this one.")
        return Saying("suits.draft.none", template, {})
    template = gettext_noop("More draft, or a pattern no deeper than {depth}.")
    return Saying("suits.draft.depth", template, {"depth": quantity(deepest, "um")})


def _number(ref: str) -> float:
    try:
        return float(ref.upper().replace("VDI", "").replace("REF", "").strip().replace(",", "."))
    except ValueError:
        return float("nan")  # the card refuses it in its own words


_DRAFT = {
    "yes": gettext_noop("{has} of draft reach the usual {usual}."),
    "between": gettext_noop("{has} of draft are under the usual {usual}; the leanest rule wants {least}."),
    "under": gettext_noop("{has} of draft are under even the leanest rule, which wants {least}: expect drag."),
}


def _against(has_deg: float, usual_deg: float, least_deg: float, source: Source, change: Saying) -> Row:
    has, usual, least = quantity(has_deg, "deg"), quantity(usual_deg, "deg"), quantity(least_deg, "deg")
    code = "yes" if has_deg >= usual_deg else "between" if has_deg >= least_deg else "under"
    saying = Saying(f"suits.draft.{code}", _DRAFT[code], {"has": has, "usual": usual, "least": least})
    if code == "yes":
        return Row("draft", YES, saying, has, usual, source)
    # Sources conflict over draft, so that no number of theirs is a plain no.
    return Row("draft", CARE, saying, has, usual, source, change, HOUSE_DECIDES)


_ZONE = {
    "edge": gettext_noop(
        "At a {zone} the edge must stay sharp: protect it, and keep polish, blast and pattern off it."
    ),
    "gate": gettext_noop("At the gate a finish wears first: measure it there."),
    "yes": gettext_noop("Nothing speaks against the finish at this place."),
}


def _zone(ask: Ask) -> Iterator[Row]:
    if not ask.zone:
        yield not_known("zone")
        return
    code = "edge" if ask.zone in EDGES else "gate" if ask.zone == GATE else "yes"
    saying = Saying(f"suits.zone.{code}", _ZONE[code], {"zone": Word(ask.zone)})
    if code != "edge":
        yield Row("zone", YES, saying, ask.zone, None, TRADE_SOURCE)
        return
    change = Saying(
        "suits.zone.change", gettext_noop("End the finish short of the edge, with the drawing's leave."), {}
    )
    yield Row("zone", CARE, saying, ask.zone, None, TRADE_SOURCE, change, LEAD_DECIDES)


_LEFT = {
    "no": gettext_noop("{left} of steel are left a side, and the work takes {least}: it is not there."),
    "tight": gettext_noop("{left} of steel are left a side; the work takes {least} to {most}."),
    "yes": gettext_noop("{left} of steel are left a side; the work takes up to {most}."),
}


def _steel_left(ask: Ask) -> Iterator[Row]:
    takes = _takes(ask)
    if ask.steel_left_um is None or takes is None:
        yield not_known("steel left")
        return
    surely, least, most, source = takes
    left = quantity(ask.steel_left_um, "um")
    need = quantity(least if least > surely else surely, "um")
    if ask.steel_left_um < surely:
        code, verdict, need, source = "no", NO, quantity(surely, "um"), None
    elif ask.steel_left_um < most:
        code, verdict = "tight", CARE
    else:
        code, verdict = "yes", YES
    values = {"left": left, "least": need, "most": quantity(most, "um")}
    saying = Saying(f"suits.left.{code}", _LEFT[code], values)
    if verdict == YES:
        yield Row("steel left", YES, saying, left, quantity(most, "um"), source)
        return
    change = Saying(
        "suits.left.change", gettext_noop("A lighter work, a shallower pattern, or weld or re-cut first."), {}
    )
    decides = None if verdict == NO else LEAD_DECIDES
    limit = need if verdict == NO else quantity(most, "um")
    yield Row("steel left", verdict, saying, left, limit, source, change, decides)


def _takes(ask: Ask) -> tuple[float, float, float, Source | None] | None:
    """Return what a work surely takes, at least and at most, a side, and whose numbers that are."""
    if ask.taken_um is not None:
        return ask.taken_um, ask.taken_um, ask.taken_um, None
    if is_texture(ask) and ask.pattern_depth_um:
        depth = ask.pattern_depth_um
        return depth, depth + STRIP_BEYOND_UM[0], depth + STRIP_BEYOND_UM[1], TRADE_SOURCE
    if grade_of(ask).startswith("A"):
        return 0.0, *MIRROR_TAKES_UM, TRADE_SOURCE
    return None


_HOW = {
    "family": gettext_noop("{grade} is {family}; {how} may reach its Ra and still look another finish."),
    "no_grade": gettext_noop("A grade is a process: {how} has none, so that {grade} holds as an Ra at most."),
    "vdi": gettext_noop("VDI 3400 describes spark-eroded faces; {how} at an equal Ra looks different."),
    "yes": gettext_noop("{how} is how {code} is made."),
    "plain": gettext_noop("{how} can be held by the limits and the plaque."),
    "eroded": gettext_noop(
        "A spark-eroded finish is put back by electrode, or matched by blast or etch; stones cannot."
    ),
}


def _how_made(ask: Ask) -> Iterator[Row]:
    if not ask.how_made:
        yield not_known("how made")
        return
    grade = grade_of(ask)
    family = FAMILY[grade[0]] if grade else ""
    values = {"grade": grade, "family": Word(family), "how": Word(ask.how_made), "code": ask.code or grade}
    if grade and ask.how_made != family:
        code = "no_grade" if ask.how_made in (*TEXTURED, "spark-eroded") else "family"
        yield _made(CARE, code, values, ask.how_made, family, grades.GRADE_SOURCE)
    elif grade:
        yield _made(YES, "yes", values, ask.how_made, family, grades.GRADE_SOURCE)
    elif ask.scale == "VDI 3400" and ask.how_made != "spark-eroded":
        yield _made(CARE, "vdi", values, ask.how_made, "spark-eroded", roughness.VDI_SOURCE)
    elif ask.how_made == "spark-eroded":
        yield _made(YES, "eroded", values, ask.how_made, None, TRADE_SOURCE)
    else:
        yield _made(YES, "plain", values, ask.how_made, None, TRADE_SOURCE)


_BY_PLAQUE = Saying("suits.how.change", gettext_noop("Agree a plaque made this way, and judge by it."), {})


def _made(
    verdict: str, code: str, values: dict[str, str], value: str, limit: Quantity | str | None, source: Source
) -> Row:
    saying = Saying(f"suits.how.{code}", _HOW[code], values)
    if verdict == YES:
        return Row("how made", YES, saying, value, limit, source)
    return Row("how made", verdict, saying, value, limit, source, _BY_PLAQUE, LEAD_DECIDES)
