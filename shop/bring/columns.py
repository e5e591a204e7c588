"""What each file may hold: one table a file, which reads the cells and is printed by `manage.py bring --columns`."""

from __future__ import annotations

from collections.abc import Mapping
from decimal import Decimal

from shop.bring.cells import answers, day, moment, number, one_of, several, spots, text, whole, yes_no
from shop.bring.sheet import Column
from shop.press.models import ShotEntry
from shop.quality.models import Gauge, Inspection
from shop.refusal import gettext_noop
from shop.tooling.models import Acceptance, HowMade, Insert, Parameter, Spec, Tool, WhereMeasured

NOUGHT = Decimal(0)
UNITS = one_of(["um", "GU", "grade", "uin"], {"µm": "um", "μm": "um", "µin": "uin"})

PRESSES = (
    Column("name", text(40), gettext_noop("Name of the press."), must=True),
    Column(
        "most shots per hour",
        whole(1, 100_000),
        gettext_noop("A faster count is questioned; empty is 720."),
    ),
    Column("counter digits", whole(1, 12), gettext_noop("How many digits its counter has; empty is 7.")),
)

GAUGES = (
    Column(
        "number",
        text(40),
        gettext_noop("The gauge's number. One row a calibration; what the gauge is need only be said once."),
        must=True,
    ),
    Column("kind", one_of(Gauge.Kind.values), gettext_noop("Stylus, optical or glossmeter; on the gauge's first row.")),
    Column("serial", text(60), gettext_noop("Serial number.")),
    Column(
        "resolution",
        number(NOUGHT),
        gettext_noop("Smallest step that it shows, in um or GU; on the gauge's first row."),
    ),
    Column("place", text(80), gettext_noop("Where it lies.")),
    Column("calibrated at", moment, gettext_noop("When it was calibrated, in the plant's time; empty if never.")),
    Column("due on", day, gettext_noop("The date until which the calibration holds.")),
    Column("expanded a", number(NOUGHT), gettext_noop("Expanded uncertainty U = a + b x value: a, in um or GU.")),
    Column("expanded b", number(NOUGHT), gettext_noop("And b; empty is 0.")),
    Column("coverage k", number(Decimal("0.1"), Decimal(10)), gettext_noop("Coverage factor of U; empty is 2.")),
    Column("certificate", text(80), gettext_noop("Number of the certificate.")),
    Column("passed", yes_no, gettext_noop("No for a calibration that it did not pass; empty is yes.")),
)

TOOLS = (
    Column(
        "tool",
        text(40),
        gettext_noop("The tool's number. One row a face, or one a limit where a face has several."),
        must=True,
    ),
    Column("title", text(160), gettext_noop("What it moulds; on the tool's first row.")),
    Column("customer", text(120), gettext_noop("Whose parts they are.")),
    Column("part", text(60), gettext_noop("Part number."), also=("part number",)),
    Column("part revision", text(20), gettext_noop("Part revision.")),
    Column("class", one_of(["101", "102", "103", "104", "105"]), gettext_noop("Mould class, 101 to 105.")),
    Column("owner", text(120), gettext_noop("Whose steel it is; empty is the plant's own.")),
    Column("place", one_of(Tool.Place.values), gettext_noop("Where the tool is; empty is the rack.")),
    Column("usual resin", text(80), gettext_noop("What the tool usually runs.")),
    Column("position", whole(1, 999), gettext_noop("Cavity position the insert is fitted in; empty with spare.")),
    Column("set", text(12), gettext_noop("Set of a family tool that the position belongs to.")),
    Column("insert", text(40), gettext_noop("The insert's own number, once in the tool."), must=True),
    Column(
        "kind",
        one_of(Insert.Kind.values, {"cavity insert": "cavity", "core insert": "core"}),
        gettext_noop("Cavity, core, slide or lifter; empty is cavity."),
    ),
    Column("slot", whole(1, 99), gettext_noop("Which of several of its kind in the position.")),
    Column("steel", text(20), gettext_noop("EN or AISI number of the steel.")),
    Column("hardness", number(NOUGHT, Decimal(70)), gettext_noop("HRC.")),
    Column("coating", one_of(Insert.Coating.values, {"none": ""}), gettext_noop("Coating, empty for none.")),
    Column("spare", yes_no, gettext_noop("Yes for an insert that is not fitted.")),
    Column("face", text(60), gettext_noop("Name of the face; empty for an insert that is only listed.")),
    Column("zone of", text(60), gettext_noop("The face of the same insert that this one lies within.")),
    Column("area", number(NOUGHT), gettext_noop("Area in cm2."), also=("area cm2",)),
    Column("draft", number(NOUGHT, Decimal(90)), gettext_noop("Draft in degrees.")),
    Column(
        "steel to give", number(NOUGHT), gettext_noop("What wall and shut-off let refinishing take in all, um a side.")
    ),
    Column("map", several(whole(0, 100)), gettext_noop("Place on the drawn insert: x y width height in per cent.")),
    Column(
        "spots",
        spots,
        gettext_noop("Places to measure at, name:kind:x:y, parted by | ; kind and place may be left out."),
    ),
    Column("how made", one_of(HowMade.values, {"laser textured": "laser"}), gettext_noop("How the finish is made.")),
    Column("scale", one_of(Spec.Scale.values), gettext_noop("VDI 3400, grade, N, value or plaque.")),
    Column("code", text(60), gettext_noop("The finish on its scale, for example 27 or A-2.")),
    Column("plaque", text(40), gettext_noop("Number of the plaque that governs or helps.")),
    Column("pattern depth", number(NOUGHT), gettext_noop("Depth of the pattern in um.")),
    Column(
        "micro-matt", yes_no, gettext_noop("Yes where a blasted micro-matt lies on the pattern."), also=("micro matt",)
    ),
    Column(
        "parameter",
        one_of(Parameter.values),
        gettext_noop("What is limited: Ra, Rq, Rz, gloss, look gloss, look roughness."),
    ),
    Column("where", one_of(WhereMeasured.values), gettext_noop("Measured on steel, part or replica.")),
    Column("spot", text(40), gettext_noop("The one spot the limit is for; empty is every spot.")),
    Column("lower", number(Decimal(-2)), gettext_noop("Lower limit.")),
    Column("upper", number(Decimal(-2)), gettext_noop("Upper limit.")),
    Column("unit", UNITS, gettext_noop("um, uin, GU or grade; empty is the parameter's usual unit.")),
    Column("angle", whole(1, 90), gettext_noop("Angle of the glossmeter in degrees.")),
    Column("cut-off", number(NOUGHT), gettext_noop("Cut-off in mm."), also=("cutoff", "cut off")),
    Column(
        "edition",
        one_of(Spec.Edition.values),
        gettext_noop("The standard's edition that the drawing was made to; empty is ISO 21920-3:2021."),
    ),
    Column(
        "rule",
        one_of([rule for rule in Spec.Rule.values if rule]),
        gettext_noop("Rule written on the drawing; empty is the edition's default."),
    ),
    Column(
        "acceptance", one_of(Acceptance.values), gettext_noop("Guarded, simple or plaque; empty is the customer's.")
    ),
    Column("made at", moment, gettext_noop("When the finish was made and its life began."), also=("life began",)),
    Column("every shots", whole(1), gettext_noop("Inspection plan: measure this limit every so many shots.")),
    Column("every days", whole(1, 3650), gettext_noop("Inspection plan: and at least every so many days.")),
    Column("values wanted", whole(1, 50), gettext_noop("Inspection plan: how many values each time.")),
    Column("interval", whole(1), gettext_noop("Shots after which the face is refinished whatever it reads.")),
)

SHOTS = (
    Column("tool", text(40), gettext_noop("The tool's number."), must=True),
    Column(
        "at",
        moment,
        gettext_noop("When it was counted: 2026-11-25 14:30 or 25.11.2026 14:30, in the plant's time."),
        must=True,
    ),
    Column("counter", whole(0), gettext_noop("What the counter showed. Either this or shots.")),
    Column("shots", whole(0), gettext_noop("Shots made since the row before. Either this or counter.")),
    Column("source", one_of(ShotEntry.Source.values), gettext_noop("Which counter; empty is file.")),
    Column("press", text(40), gettext_noop("Name of the press.")),
    Column(
        "blocked", several(whole(1, 999)), gettext_noop("Numbers of the positions that were blocked, parted by blanks.")
    ),
    Column("sets", several(text(12)), gettext_noop("Sets that ran, parted by blanks; empty is all.")),
    Column("resin", text(80), gettext_noop("Name of the resin.")),
    Column("colour", text(40), gettext_noop("Colour.")),
    Column("lot", text(40), gettext_noop("Lot.")),
    Column(
        "answer", answers, gettext_noop("Answers to questions the count raises, for example shots.counter_fell=new_job")
    ),
)

READINGS = (
    Column("tool", text(40), gettext_noop("The tool's number."), must=True),
    Column("insert", text(40), gettext_noop("The insert's number. Either this or position.")),
    Column("position", whole(1, 999), gettext_noop("The position; the insert that sat there at the time is meant.")),
    Column("face", text(60), gettext_noop("Name of the face; may be left out where the insert has one only.")),
    Column("spot", text(40), gettext_noop("Name of the spot.")),
    Column("at", moment, gettext_noop("When it was measured, in the plant's time."), must=True),
    Column("kind", one_of(Inspection.Kind.values), gettext_noop("Kind of inspection; empty is routine.")),
    Column(
        "parameter", one_of(Parameter.values), gettext_noop("Ra, Rq, Rz, gloss, look gloss, look roughness."), must=True
    ),
    Column("where", one_of(WhereMeasured.values), gettext_noop("Measured on steel, part or replica."), must=True),
    Column("value", number(Decimal(-2)), gettext_noop("The value; a look is graded from -2 to 2."), must=True),
    Column("unit", UNITS, gettext_noop("um, uin, GU or grade; empty is the parameter's usual unit.")),
    Column("gauge", text(40), gettext_noop("Number of the gauge.")),
    Column("plaque", text(40), gettext_noop("Number of the plaque held beside it.")),
    Column("angle", whole(1, 90), gettext_noop("Angle of the glossmeter in degrees.")),
    Column("cut-off", number(NOUGHT), gettext_noop("Cut-off in mm."), also=("cutoff", "cut off")),
    Column("resin", text(80), gettext_noop("Resin of the part.")),
    Column("colour", text(40), gettext_noop("Colour of the part.")),
    Column("lot", text(40), gettext_noop("Lot.")),
    Column("mould temperature", number(), gettext_noop("Mould surface temperature in degrees C.")),
    Column("hours since moulding", number(NOUGHT), gettext_noop("Age of the part in hours.")),
    Column("cleaned", yes_no, gettext_noop("Whether the face had been cleaned before.")),
    Column("answer", answers, gettext_noop("Answers to questions the reading raises.")),
)

PLAN = (
    Column(
        "tool",
        text(40),
        gettext_noop("The tool's number. The file is the whole plan: what it leaves out is cancelled."),
        must=True,
    ),
    Column("order", text(40), gettext_noop("Number of the order.")),
    Column("shots", whole(1), gettext_noop("Shots to be made."), must=True),
    Column("starts", moment, gettext_noop("When the run starts, in the plant's time."), must=True),
    Column("ends", moment, gettext_noop("When it ends, in the plant's time."), must=True),
    Column("press", text(40), gettext_noop("Name of the press.")),
    Column("resin", text(80), gettext_noop("Name of the resin.")),
    Column("colour", text(40), gettext_noop("Colour.")),
    Column("sets", several(text(12)), gettext_noop("Sets that run, parted by blanks; empty is all.")),
)

FILES: Mapping[str, tuple[Column, ...]] = {
    "presses": PRESSES,
    "gauges": GAUGES,
    "tools": TOOLS,
    "shots": SHOTS,
    "readings": READINGS,
    "plan": PLAN,
}
USUAL_UNIT = {"Ra": "um", "Rq": "um", "Rz": "um", "gloss": "GU", "look gloss": "grade", "look roughness": "grade"}
