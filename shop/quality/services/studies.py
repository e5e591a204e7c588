"""Write studies: of a gauge and the people who read it, and of people who judge by eye."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import datetime
from decimal import Decimal
from typing import Any, TypeVar
from uuid import UUID

from shop.ledger.models import SupersedingRow
from shop.ledger.services import once
from shop.people.models import Person, Plant
from shop.quality.models import AgreementStudy, Gauge, GaugeStudy
from shop.quality.services.checks import GAUGES_FOR, UNIT_OF, not_in_future
from shop.quality.study_results import agreement_of, headline, rejecting, result_of
from shop.refusal import Refused, gettext_noop
from shop.standards.study_table import whole_table
from shop.tooling.models import Parameter, Plaque
from shop.tooling.services.spec_checks import ANGLES_DEG

MOST_CELLS = 1200
LONGEST_NAME = 60
LARGEST = Decimal(999_999)
STEP = Decimal("0.0001")
LARGEST_PERCENT = Decimal("99999.99")
Study = TypeVar("Study", bound=SupersedingRow)


@once("gauge study", GaugeStudy, timed=False)
def enter_gauge_study(
    *,
    gauge: Gauge,
    parameter: str,
    unit: str,
    people: Sequence[str],
    parts: Sequence[str],
    values: Sequence[Sequence[Sequence[Decimal]]],
    by: Person,
    at: datetime,
    geometry_deg: int | None = None,
    method: str = "anova",
    tolerance: Decimal | None = None,
    note: str = "",
    supersedes: GaugeStudy | None = None,
    why: str = "",
    ref: UUID | None = None,  # noqa: ARG001 (`once` reads it)
) -> GaugeStudy:
    """Enter a gauge study, `values[part][person][trial]` as the gauge showed them; what follows is worked out.

    With `supersedes` it takes the place of an earlier one and says why. Raises Refused where the table is not whole,
    the gauge does not read the parameter, or the figures cannot be worked out.
    """
    not_in_future(at)
    _readable(gauge, Parameter(parameter), unit, geometry_deg)
    _labels(people, parts, gettext_noop("{name} stands twice among the parts."))
    _whole(values, people, parts)
    _sane(values, tolerance)
    tolerance = None if tolerance is None else tolerance.quantize(STEP)
    old = _in_force(GaugeStudy, supersedes, why)
    typed = [[[format(value, "f") for value in cell] for cell in row] for row in values]
    found = result_of(typed, method, tolerance)
    return GaugeStudy.objects.create(
        gauge=gauge, parameter=parameter, geometry_deg=geometry_deg, unit=unit, method=method, tolerance=tolerance,
        people=list(people), parts=list(parts), values=typed, note=note, supersedes=old, why=why if old else "",
        by=by, at=at, **_figures(found, tolerance),
    )  # fmt: skip


@once("agreement study", AgreementStudy, timed=False)
def enter_agreement_study(
    *,
    plant: Plant,
    title: str,
    categories: Sequence[str],
    people: Sequence[str],
    pieces: Sequence[str],
    judgements: Sequence[Sequence[Sequence[str]]],
    by: Person,
    at: datetime,
    rejects: Sequence[str] = (),
    plaque: Plaque | None = None,
    master: Sequence[str] | None = None,
    weights: str = "none",
    note: str = "",
    supersedes: AgreementStudy | None = None,
    why: str = "",
    ref: UUID | None = None,  # noqa: ARG001 (`once` reads it)
) -> AgreementStudy:
    """Enter how people judged the same pieces, `judgements[piece][person][trial]`, each one of the categories.

    `rejects` are the categories that reject a piece; weights go by the order of the categories. With `supersedes` it
    takes the place of an earlier one and says why. Raises Refused where something is missing or no category.
    """
    not_in_future(at)
    _categories(categories, rejects)
    _labels(people, pieces, gettext_noop("{name} stands twice among the pieces."))
    _whole(judgements, people, pieces)
    if plaque is not None and plaque.plant_id != plant.pk:
        raise Refused(
            "agreement.plaque_elsewhere", gettext_noop("Plaque {plaque} is not one of this plant."),
            next_step=gettext_noop("Choose a plaque of this plant, or none."), field="plaque", plaque=plaque.number,
        )  # fmt: skip
    old = _in_force(AgreementStudy, supersedes, why)
    row = AgreementStudy(
        plant=plant, title=title, plaque=plaque,
        categories=[{"name": name, "rejects": name in rejects} for name in categories],
        people=list(people), pieces=list(pieces), judgements=[[list(cell) for cell in row] for row in judgements],
        master=None if master is None else list(master), weights=weights, note=note,
        supersedes=old, why=why if old else "", by=by, at=at,
    )  # fmt: skip
    kappa = headline(agreement_of(row, rejects=rejecting(row)))
    row.kappa = None if kappa is None else _decimal(kappa, "0.0001")
    row.save(force_insert=True)
    return row


def _readable(gauge: Gauge, parameter: Parameter, unit: str, geometry_deg: int | None) -> None:
    """Refuse a parameter that the gauge does not read, and a unit or an angle that does not belong to it."""
    if gauge.kind not in GAUGES_FOR.get(parameter, ()):
        raise Refused(
            "study.wrong_gauge", gettext_noop("Gauge {gauge} ({kind}) does not read {parameter}."),
            next_step=gettext_noop("Choose what this gauge reads, or another gauge."), field="parameter",
            gauge=gauge.number, kind=Gauge.Kind(gauge.kind), parameter=parameter,
        )  # fmt: skip
    units = ("GU",) if UNIT_OF[parameter] == "GU" else ("um", "uin")
    if unit not in units:
        raise Refused(
            "study.unit_wrong", gettext_noop("{parameter} is not read in that unit."),
            next_step=gettext_noop("Choose GU for gloss, a length for roughness."), field="unit",
            parameter=parameter, value=unit, limit=", ".join(units),
        )  # fmt: skip
    if parameter == Parameter.GLOSS and geometry_deg not in ANGLES_DEG:
        raise Refused(
            "study.angle_missing", gettext_noop("Gloss is read at an angle, and this study names none of {limit}."),
            next_step=gettext_noop("Choose the angle at which it was read."), field="angle",
            value=geometry_deg, limit=", ".join(f"{angle}°" for angle in ANGLES_DEG),
        )  # fmt: skip
    if parameter != Parameter.GLOSS and geometry_deg is not None:
        raise Refused(
            "study.angle_of_no_gloss", gettext_noop("{parameter} has no angle; {value}° belongs to gloss."),
            next_step=gettext_noop("Leave the angle empty."), field="angle", parameter=parameter, value=geometry_deg,
        )  # fmt: skip


def _labels(people: Sequence[str], rows: Sequence[str], twice_among_rows: str) -> None:
    for names, field, template in (
        (people, "people", gettext_noop("{name} stands twice among the people.")),
        (rows, "row_names", twice_among_rows),
    ):
        for name in names:
            if not 1 <= len(name) <= LONGEST_NAME:
                raise Refused(
                    "study.name_length",
                    gettext_noop("The name “{name}” has {value} characters; 1 to {limit} will do."),
                    next_step=gettext_noop("Give it a short name."), field=field,
                    name=name[:LONGEST_NAME], value=len(name), limit=LONGEST_NAME,
                )  # fmt: skip
            if list(names).count(name) > 1:
                next_step = gettext_noop("Give each a name of its own.")
                raise Refused("study.name_twice", template, next_step=next_step, field=field, name=name)


def _whole(table: Sequence[Sequence[Sequence[Any]]], people: Sequence[str], rows: Sequence[str]) -> None:
    """Refuse a table that is too large or does not fit its people and rows."""
    parts, persons, trials = whole_table(table)
    if (parts, persons) != (len(rows), len(people)):
        raise Refused(
            "study.names_do_not_fit",
            gettext_noop("{rows} rows and {people} people are named; the table holds {found} and {found_people}."),
            next_step=gettext_noop("Name each row and each person once."), field="people",
            rows=len(rows), people=len(people), found=parts, found_people=persons,
        )  # fmt: skip
    if parts * persons * trials > MOST_CELLS:
        raise Refused(
            "study.too_large", gettext_noop("{value} entries are more than a study here may have, {limit}."),
            next_step=gettext_noop("Take fewer parts or trials; ten parts, three people and three trials are usual."),
            field="rows", value=parts * persons * trials, limit=MOST_CELLS,
        )  # fmt: skip


def _sane(values: Sequence[Sequence[Sequence[Decimal]]], tolerance: Decimal | None) -> None:
    largest = max((abs(value) for row in values for cell in row for value in cell), default=Decimal(0))
    if largest >= LARGEST:
        raise Refused(
            "study.value_impossible", gettext_noop("A value of {value} is beyond what a gauge shows, {limit}."),
            next_step=gettext_noop("Look for a decimal sign that is missing."), field="values",
            value=largest, limit=LARGEST,
        )  # fmt: skip
    if tolerance is not None and not STEP <= tolerance < LARGEST:
        raise Refused(
            "study.tolerance_impossible", gettext_noop("A tolerance of {value} is none; {limit} is the least."),
            next_step=gettext_noop("Enter the upper less the lower limit, or leave it empty."), field="tolerance",
            value=tolerance, limit=STEP,
        )  # fmt: skip


def _categories(categories: Sequence[str], rejects: Sequence[str]) -> None:
    if len(set(categories)) < 2 or len(set(categories)) != len(categories):
        raise Refused(
            "agreement.categories_few", gettext_noop("{value} categories are named, each once; {limit} are the least."),
            next_step=gettext_noop("Name at least two, one a line, from one end to the other."), field="categories",
            value=len(set(categories)), limit=2,
        )  # fmt: skip
    for name in rejects:
        if name not in categories:
            raise Refused(
                "agreement.rejects_no_category",
                gettext_noop("{value} is said to reject, and is no category: {limit}."),
                next_step=gettext_noop("Write it as it stands among the categories."), field="rejects",
                value=name, limit=", ".join(categories),
            )  # fmt: skip


def _in_force(model: type[Study], supersedes: Study | None, why: str) -> Study | None:
    """Return the study that is put right, held, if it is still the one in force and a reason is given."""
    if supersedes is None:
        return None
    held = model._default_manager.select_for_update().get(pk=supersedes.pk)
    if model._default_manager.filter(supersedes=held).exists():
        raise Refused(
            "study.superseded", gettext_noop("This study was put right before; what stands now is the later one."),
            next_step=gettext_noop("Open the later one and put that right."),
        )  # fmt: skip
    if not why.strip():
        raise Refused(
            "study.no_reason", gettext_noop("A study is put right for a reason, and none is given."),
            next_step=gettext_noop("Say what was wrong with it."), field="why",
        )  # fmt: skip
    return held


def _figures(found: Any, tolerance: Decimal | None) -> Mapping[str, Any]:
    of_tolerance = None
    if tolerance is not None:
        of_tolerance = _decimal(found.tolerance_percent_grr, "0.01")
        if of_tolerance > LARGEST_PERCENT:
            raise Refused(
                "study.tolerance_beyond", gettext_noop("The scatter is {value} % of a tolerance of {limit}."),
                next_step=gettext_noop("Look whether the tolerance is in the unit of the values."), field="tolerance",
                value=of_tolerance, limit=tolerance,
            )  # fmt: skip
    fitness = found.tolerance_fitness or found.fitness
    return {
        "repeatability": _decimal(found.ev, "0.000001"),
        "repeatability_df": Decimal(found.ev_df),
        "percent_grr": _decimal(found.percent_grr, "0.01"),
        "percent_of_tolerance": of_tolerance,
        "ndc": None if found.ndc is None else min(found.ndc, 32_767),
        "fitness": fitness.verdict,
    }


def _decimal(value: float, step: str) -> Decimal:
    return Decimal(repr(value)).quantize(Decimal(step))
