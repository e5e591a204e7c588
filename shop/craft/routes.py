"""The route of a face: the steps that bring its finish back, in order, each with its medium."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from decimal import Decimal

from shop.craft.cautions import cautions_for, is_steel
from shop.craft.media import BLAST, DIAMOND, PAPER, STONE, Medium, ladder
from shop.craft.targets import Target, target_for
from shop.craft.works import CLEAN, FULL, GLOSS_BLAST, KISS, LOCAL, RECUT
from shop.refusal import gettext_noop

TEXTURED = ("etched", "laser")
COARSEST_UM = 70.0  # where the whole ladder may begin
BETWEEN_STONE_AND_PAPER_UM = 29.0  # stones cut coarser, papers finish finer
FINE_PATTERN_UM = 25.0  # below this a pattern shows the marks of CAMI 320
CLEAN_MINUTES = 10.0
BLAST_MINUTES_CM2 = 0.2
STRIP_EXTRA_UM = 30.0  # a stripped pattern takes 10 to 50 um beyond its depth
# The rates are for new work over a whole face: a kiss takes off only what wear has left, a touch-up is one place.
SHARE_OF_NEW_WORK = {KISS: 0.2, LOCAL: 0.4}
STEEL_PER_GRAIN = 0.25  # a step takes about a quarter of the grain whose marks it removes

OUT_OF_DRAW = gettext_noop("45 to 90° to the step before")
ACROSS = gettext_noop("across the marks that are there")
IN_DRAW = gettext_noop("in draw")
NO_LAY = gettext_noop("in small circles, no lay")


@dataclass(frozen=True)
class RouteAsk:
    """What a route is asked for.

    `put_back` is how the finish is put back where that differs from how it was made: a spark-eroded face matched
    by blast or etch. `defect_um` is how deep or coarse the worst mark is [um]; `target_ra_um` is a middle of the
    spec's limits [um]; `white_layer` that the steel comes from spark erosion.
    """

    how_made: str
    work: str
    put_back: str = ""
    scale: str = ""
    target_code: str = ""
    target_ra_um: float | None = None
    steel: str = ""
    coating: str = ""
    area_cm2: float | None = None
    pattern_depth_um: float | None = None
    micro_matt: bool = False
    cause: str = ""
    defect_um: float | None = None
    white_layer: bool = False


# What a step may be, in the words of the trade; a reader's language has its own.
STEP_KINDS = (
    gettext_noop("clean"),
    gettext_noop("etch test"),
    gettext_noop("stone"),
    gettext_noop("paper"),
    gettext_noop("diamond"),
    gettext_noop("blast"),
    gettext_noop("erode"),
    gettext_noop("strip"),
    gettext_noop("texture"),
    gettext_noop("recoat"),
    gettext_noop("re-cut"),
)


@dataclass(frozen=True)
class RouteStep:
    """One step: what, with which medium and whose grading, how it runs, what it must reach, what it takes.

    `minutes` is None where the area is not known [min]; `steel_um` is taken a side [um]; `outside` is done by a
    texture house, plater or toolmaker.
    """

    kind: str
    medium: str = ""
    grading: str = ""
    grain: str = ""
    direction: str = ""
    target: str = ""
    minutes: int | None = None
    steel_um: Decimal = Decimal(0)
    outside: bool = False


@dataclass(frozen=True)
class Route:
    """The steps with what they take in all, the cautions they call for, and notes for whoever plans.

    `minutes` is None where a step's are not known [min]; `steel_um` is taken a side. [um]
    """

    steps: tuple[RouteStep, ...]
    minutes: int | None
    steel_um: Decimal
    cautions: tuple[str, ...]
    notes: tuple[str, ...]


def plan_route(ask: RouteAsk, media: Sequence[Medium]) -> Route:
    """Return the steps that bring a face's finish back by the work that was chosen.

    Parameters
    ----------
    ask : RouteAsk
        The finish, the work, the steel and its layer, the area. [cm2, um]
    media : sequence of Medium
        What the shop stocks; the ladder climbs down over these alone. [um]

    Returns
    -------
    Route
        Steps in order with minutes [min] and steel a side. [um]

    References
    ----------
    .. [1] Trade rules: clean first; white layer off first unless spark-eroded is the finish; turn each step; last
       stone or paper in draw; grain ratio about 2; CAMI 320 paper or finer before texturing, 400 to 600 under a
       pattern of 25 um; a blast of D-1, D-2, D-3 over 600, 400, 320 stone.
    """
    clean = RouteStep(
        "clean", gettext_noop("solvent, soft brush"), target=gettext_noop("no residue"), minutes=round(CLEAN_MINUTES)
    )
    steps = [clean, *_after_cleaning(ask, media)]
    if _layer_comes_off(ask):
        steps = [clean, _strip_layer(ask), *steps[1:], _recoat(ask)]
    minutes = [step.minutes for step in steps if not step.outside]
    return Route(
        steps=tuple(steps),
        minutes=None if None in minutes else sum(each for each in minutes if each is not None),
        steel_um=sum((step.steel_um for step in steps), Decimal(0)),
        cautions=cautions_for((step.kind for step in steps), ask.steel),
        notes=_notes(ask),
    )


def _after_cleaning(ask: RouteAsk, media: Sequence[Medium]) -> list[RouteStep]:
    if ask.work == CLEAN or not ask.how_made:
        return []
    if ask.work == GLOSS_BLAST:
        return [_micro_matt(ask, media)]
    recut = [RouteStep("re-cut", target=gettext_noop("to the drawing, new allowance"), outside=True)]
    before = recut if ask.work == RECUT else []
    if ask.how_made in TEXTURED:
        return before + _texture(ask, media)
    if ask.how_made == "spark-eroded":
        return before + _erode(ask, media)
    return before + _by_hand(ask, media)


def _by_hand(ask: RouteAsk, media: Sequence[Medium]) -> list[RouteStep]:
    """Return the ladder of a polished, stoned or blasted face, or the end of it that the work needs."""
    target, _ = target_for(ask.how_made, ask.scale, ask.target_code, ask.target_ra_um)
    rungs = _rungs(target, media)
    whole = _steps(rungs, target, ask)
    blast = [_d_blast(target, ask, media)] if target.kind == BLAST else []
    if ask.work == KISS:
        # A blasted face is kissed by its blast alone; a short ladder by its last rung, else it were the whole.
        last = 2 if len(rungs) > 2 else 1
        return blast or _taken_anew(whole[-last:], rungs[-last:])
    if ask.work == LOCAL:
        first = _one_coarser_than(rungs, ask.defect_um)
        return _taken_anew(whole[first:], rungs[first:]) + blast
    return _white_layer(ask) + whole + blast


def _rungs(target: Target, media: Sequence[Medium]) -> tuple[Medium, ...]:
    """Return the grains to climb down: stone while coarse, paper while fine, diamond at the end of a mirror."""
    if target.kind in (STONE, BLAST):
        return ladder(media, STONE, target.last_um, COARSEST_UM)
    if target.kind == PAPER:
        return _stone_then_paper(media, target.last_um)
    first_um = 15.0
    diamonds = ladder(media, DIAMOND, target.last_um, first_um)
    return _stone_then_paper(media, target.before_um) + diamonds


def _stone_then_paper(media: Sequence[Medium], last_um: float) -> tuple[Medium, ...]:
    papers = ladder(media, PAPER, last_um, BETWEEN_STONE_AND_PAPER_UM * 1.5)
    coarse = papers[0].size_um * 1.5 if papers else last_um
    stones = tuple(stone for stone in ladder(media, STONE, coarse, COARSEST_UM) if stone.size_um > coarse / 1.2)
    return stones + papers


def _steps(rungs: Sequence[Medium], target: Target, ask: RouteAsk) -> list[RouteStep]:
    """Return a step for each rung: turned each time, the last stone or paper in draw, diamond without a lay."""
    share = None if ask.area_cm2 is None or not rungs else ask.area_cm2 * _rate(target, ask) / len(rungs)
    cutting = [place for place, rung in enumerate(rungs) if rung.kind != DIAMOND]
    steps = []
    for place, rung in enumerate(rungs):
        direction = NO_LAY if rung.kind == DIAMOND else OUT_OF_DRAW if place else ACROSS
        if cutting and place == cutting[-1]:
            direction = IN_DRAW
        marks_um = max(rung.size_um, rungs[place - 1].size_um if place else 0.0)
        last = place == len(rungs) - 1 and target.kind != BLAST
        steps.append(
            RouteStep(
                kind=rung.kind,
                medium=rung.words,
                grading=rung.grading,
                grain=rung.grain,
                direction=direction,
                target=target.grade if last else gettext_noop("all marks of the step before are gone"),
                minutes=None if share is None else max(1, math.ceil(share)),
                steel_um=_um(marks_um * STEEL_PER_GRAIN),
            )
        )
    return steps


def _rate(target: Target, ask: RouteAsk) -> float:
    return target.minutes_cm2 * SHARE_OF_NEW_WORK.get(ask.work, 1.0)


def _taken_anew(steps: Sequence[RouteStep], rungs: Sequence[Medium]) -> list[RouteStep]:
    """Return the end of a ladder begun afresh: its first step has only its own marks to take."""
    anew = list(steps)
    if anew:
        own = _um(rungs[0].size_um * STEEL_PER_GRAIN)
        direction = anew[0].direction if anew[0].direction in (IN_DRAW, NO_LAY) else ACROSS
        anew[0] = replace(anew[0], steel_um=own, direction=direction)
    return anew


def _one_coarser_than(rungs: Sequence[Medium], defect_um: float | None) -> int:
    """Return the place of the medium one coarser than the defect; three from the end where that is not known."""
    if defect_um is None:
        return max(0, len(rungs) - 3)
    coarser = [place for place, rung in enumerate(rungs) if rung.size_um > defect_um]
    return coarser[-1] if coarser else 0


def _white_layer(ask: RouteAsk) -> list[RouteStep]:
    """Return the search for a white layer, where the steel comes from spark erosion or a cutter."""
    if not (ask.white_layer or ask.work == RECUT):
        return []
    etch = [_etch_test(gettext_noop("no white layer left"))] if is_steel(ask.steel) else []
    stone = RouteStep(
        "stone",
        gettext_noop("polishing stone"),
        "FEPA F",
        "230",
        ACROSS,
        gettext_noop("white layer off"),
        None if ask.area_cm2 is None else max(1, math.ceil(ask.area_cm2)),
        Decimal(25),
    )
    return [stone, *etch]


def _etch_test(target: str) -> RouteStep:
    return RouteStep("etch test", gettext_noop("copper etch, on steel only"), target=target, minutes=5)


def _texture(ask: RouteAsk, media: Sequence[Medium]) -> list[RouteStep]:
    """Return strip, preparation, the texture house, and the micro-matt where the finish has one."""
    if ask.work == KISS:
        return [_micro_matt(ask, media)] if ask.micro_matt else []
    house = RouteStep(
        "texture",
        gettext_noop("texture house"),
        target=ask.target_code or gettext_noop("to the plaque"),
        outside=True,
    )
    matt = [replace(_micro_matt(ask, media), outside=True, minutes=None)] if ask.micro_matt else []
    if ask.work == LOCAL:
        return [replace(house, direction=gettext_noop("the place alone, blended into the pattern around it")), *matt]
    depth_um = ask.pattern_depth_um or 0.0
    strip = RouteStep(
        "stone",
        gettext_noop("polishing stone"),
        "FEPA F",
        "230",
        ACROSS,
        gettext_noop("pattern gone"),
        None if ask.area_cm2 is None else max(1, math.ceil(ask.area_cm2)),
        _um(depth_um + STRIP_EXTRA_UM),
    )
    fine = 0 < depth_um < FINE_PATTERN_UM
    target = Target(gettext_noop("ready to texture"), PAPER, 23.0 if fine else 36.0, 0.2, 3.0)
    papers = ladder(media, PAPER, target.last_um, COARSEST_UM)
    prepared = [replace(step, steel_um=Decimal(0)) for step in _steps(papers, target, ask)]
    etch = [_etch_test(gettext_noop("no white layer, no weld shows"))] if is_steel(ask.steel) else []
    return [strip, *prepared, *etch, house, *matt]


def _erode(ask: RouteAsk, media: Sequence[Medium]) -> list[RouteStep]:
    """Return the electrode, or the blast or etch that matches it; stones cannot put an eroded finish back."""
    wanted = ask.target_code or gettext_noop("to the plaque")
    if ask.scale == "VDI 3400" and ask.target_code:
        wanted = f"VDI 3400 Ref {ask.target_code.upper().replace('REF', '').replace('VDI', '').strip()}"
    if ask.put_back == "blasted" or ask.work in (KISS, LOCAL):
        return [replace(_micro_matt(ask, media), target=wanted)]
    if ask.put_back in TEXTURED:
        return [RouteStep("texture", gettext_noop("texture house"), target=wanted, outside=True)]
    ra_um = ask.target_ra_um or 2.0
    minutes = None if ask.area_cm2 is None else max(30, math.ceil(ask.area_cm2 * 2))
    return [RouteStep("erode", gettext_noop("electrode"), target=wanted, minutes=minutes, steel_um=_layer_um(ra_um))]


def _layer_um(ra_um: float) -> Decimal:
    """Return what an electrode takes to renew a finish of this Ra: its own layer, by the planning range."""
    for below_um, layer_um in ((1.0, 5), (3.0, 15), (6.0, 25)):
        if ra_um < below_um:
            return Decimal(layer_um)
    return Decimal(50)


def _micro_matt(ask: RouteAsk, media: Sequence[Medium]) -> RouteStep:
    if ask.how_made == "blasted":
        target, _ = target_for(ask.how_made, ask.scale, ask.target_code, ask.target_ra_um)
        return _d_blast(target, ask, media)
    return _blast(ask, media, "11", gettext_noop("even, to the plaque; edges and parting line masked"))


def _d_blast(target: Target, ask: RouteAsk, media: Sequence[Medium]) -> RouteStep:
    return _blast(ask, media, target.blast_grain, f"{target.grade}: {target.blast_words}")


def _blast(ask: RouteAsk, media: Sequence[Medium], grain: str, target: str) -> RouteStep:
    stocked = [medium for medium in media if medium.kind == BLAST]
    bead = next((medium for medium in stocked if medium.grain == grain), stocked[0] if stocked else None)
    return RouteStep(
        kind="blast",
        medium=bead.words if bead else gettext_noop("blast media"),
        grading=bead.grading if bead else "",
        grain=bead.grain if bead else grain,
        direction=gettext_noop("square to the face, moving"),
        target=target,
        minutes=None if ask.area_cm2 is None else max(5, math.ceil(ask.area_cm2 * BLAST_MINUTES_CM2)),
        steel_um=Decimal(1),
    )


def _layer_comes_off(ask: RouteAsk) -> bool:
    """Return whether a plated or deposited layer must go first; chrome may be kissed, nitriding is no layer."""
    return ask.coating not in ("", "nitrided") and ask.work in (LOCAL, FULL, RECUT)


def _strip_layer(ask: RouteAsk) -> RouteStep:
    return RouteStep("strip", ask.coating, target=gettext_noop("layer off, by a licensed house"), outside=True)


def _recoat(ask: RouteAsk) -> RouteStep:
    return RouteStep("recoat", ask.coating, target=gettext_noop("as drawn; measure the thickness"), outside=True)


def _notes(ask: RouteAsk) -> tuple[str, ...]:
    notes = [text for wanted, text in _notes_by_case(ask) if wanted]
    return tuple(notes)


def _notes_by_case(ask: RouteAsk) -> Iterable[tuple[bool, str]]:
    by_hand = ask.how_made in ("polished", "stoned", "blasted")
    worked = ask.work in (KISS, LOCAL, FULL, RECUT)
    yield ask.cause in ("off spec", "forecast"), gettext_noop(
        "Try the process first: resin, mould temperature and residue move gloss more than wear does."
    )
    yield by_hand and worked, gettext_noop("Clean tool, part and hands between media; one felt for each grain.")
    yield ask.how_made == "polished" and worked, gettext_noop(
        "Orange peel or pitting is over-polishing: go back one medium, lighter, never longer."
    )
    yield worked, gettext_noop("Protect edges, shut-offs and the parting line.")
    matched = ask.how_made == "spark-eroded" and (ask.put_back in ("blasted", *TEXTURED) or ask.work in (KISS, LOCAL))
    yield matched, gettext_noop("A blast or etch looks different from spark erosion at equal Ra: show it first.")
    texture = ask.how_made in TEXTURED and ask.work in (FULL, RECUT)
    yield texture, gettext_noop("Before texturing: draft enough for the depth, welds of parent filler and annealed.")
    yield texture, gettext_noop("Texture comes before nitriding or plating.")
    yield ask.coating == "nitrided" and worked, gettext_noop(
        "Nitriding is in the steel, there is no layer to strip; what is taken takes hardness."
    )
    yield ask.coating not in ("", "nitrided") and ask.work == KISS, gettext_noop(
        "The layer is only micrometres thick: chrome may be kissed, stop before the steel shows."
    )
    named = by_hand and target_for(ask.how_made, ask.scale, ask.target_code, ask.target_ra_um)[1]
    yield by_hand and worked and not named, gettext_noop(
        "The spec names no grade of this process: the nearest by Ra is planned, and the plaque or limits decide."
    )


def _um(value: float) -> Decimal:
    return Decimal(str(round(value, 1)))
