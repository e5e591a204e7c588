"""Measure: what is to be measured today, the sheet of a tool, and the verdict at once."""

from __future__ import annotations

from typing import Any

from django.http import HttpRequest, HttpResponse, HttpResponseRedirect
from django.shortcuts import get_object_or_404
from django.urls import URLPattern, path, reverse
from django.utils import timezone
from django.utils.translation import gettext as _

from shop import loop
from shop.bench.models import WorkOrder
from shop.boards import measure_sheet, measure_today, measured, questions, reading_budget
from shop.boards.measure_sheet import Sheet
from shop.pages import press_log
from shop.pages.doors import answer, done, door, person, plant
from shop.pages.measured_values import Drafted, defects_of, drafts_of, sheet_choices
from shop.pages.photo import photo_of
from shop.pages.typed import Typed
from shop.people import wording
from shop.people.roles import Ability
from shop.press.models import Run
from shop.quality import due
from shop.quality.models import Inspection, Reading
from shop.refusal import Refused, gettext_noop
from shop.tooling.models import Resin, Tool

PROCESS_FIELDS = ("mould_temperature_c", "hours_since_moulding")


@door(Ability.READ)
def measure(request: HttpRequest) -> HttpResponse:
    """Show what is to be measured today; pick or scan another tool."""
    typed = Typed(request.GET, person(request))
    refused = None
    if scanned := typed.text("tool"):
        found = press_log.scanned_tool(scanned, request)
        if found is not None:
            return HttpResponseRedirect(reverse("measure-tool", args=[found.pk]))
        refused = press_log.not_found(scanned)
    context = {
        "today": measure_today.measure_today(plant(request), timezone.now()),
        "tools": Tool.objects.in_plant(plant(request)).alive(),
        "questions": questions.open_count(plant(request)),
    }
    return answer(request, "measure/today.html", context, refused, typed=typed)


@door(Ability.READ, post=Ability.MEASURE)
def sheet(request: HttpRequest, tool_id: int) -> HttpResponse:
    """Show the sheet of a tool for one kind of inspection; take the readings."""
    tools = Tool.objects.seen_by(person(request)).select_related("plant", "customer")
    tool: Tool = get_object_or_404(tools, pk=tool_id)
    asked = Typed(request.GET, person(request))
    kind = Inspection.Kind(asked.choice("kind", Inspection.Kind.values, required=False) or Inspection.Kind.ROUTINE)
    filled = measure_sheet.measure_sheet(tool, kind, timezone.now(), _chosen(asked, tool))
    typed = Typed(request.POST, person(request))
    refused = None
    if request.method == "POST":
        drafts = drafts_of(typed, filled, plant(request))
        defects = defects_of(typed, filled)
        try:
            if typed.ok:
                inspection = loop.reading_taken(**_asked(typed, tool, kind, (drafts, defects), request))
                return done(request, _("Kept. Here is what it means."), "measure-inspection", inspection.pk)
        except Refused as one:
            refused = one
            _at_its_field(typed, one, drafts, defects)
    context = _sheet_context(request, filled, asked) | sheet_choices(typed, filled)
    return answer(request, "measure/sheet.html", context, refused, typed=typed)


def _chosen(asked: Typed, tool: Tool) -> set[int]:
    """Return the faces that the address names: single ones, or those of a work order."""
    if order := asked.pick("order", WorkOrder.objects.filter(tool=tool)):
        return set(order.lines.open().filter(face__isnull=False).values_list("face_id", flat=True))
    return set(asked.whole_numbers("face"))


def _sheet_context(request: HttpRequest, filled: Sheet, asked: Typed) -> dict[str, Any]:
    at = timezone.now()
    items = due.for_faces([row.face for row in filled.faces], at)
    faces = {row.face.pk for row in filled.faces}
    wanted = {item.face.pk for item in items}
    run = Run.objects.running().filter(tool=filled.tool).select_related("press").first()
    named = bool(asked.was["face"] or asked.was["order"])
    open_faces = faces if named or len(faces) == 1 else wanted
    asked_maps = [drawn for drawn in filled.inserts if any(face.pk in open_faces for face in drawn.faces)]
    return {
        "tool": filled.tool,
        "sheet": filled,
        "kind": filled.kind,
        "kinds": Inspection.Kind.choices,
        "due_items": items,
        "open_faces": open_faces,
        "asked_maps": asked_maps,
        "other_maps": [drawn for drawn in filled.inserts if drawn not in asked_maps],
        "gauges": _gauge_options(request),
        "run": run,
        "start": {
            "resin": run.resin_id if run and run.resin_id else filled.tool.resin_id,
            "colour": run.colour if run else "",
            "lot": run.lot if run else "",
        },
        "resins": Resin.objects.order_by("name").values_list("pk", "name"),
        "angles": [(angle, f"{angle}°") for angle in measure_sheet.ANGLES_DEG],
        "cutoffs": [(format(cutoff, "f"), f"{wording.number(cutoff)} mm") for cutoff in measure_sheet.CUTOFFS_MM],
        "grades": {parameter: _grade_options(parameter) for parameter in measured.GRADES},
        "cleaned_options": [("yes", _("cleaned")), ("no", _("as it came"))],
    }


def _grade_options(parameter: str) -> list[tuple[str, str]]:
    words = [(str(grade), wording.say(measured.grade(parameter, grade))) for grade in measured.GRADES[parameter]]
    return [*words, ("", _("not compared"))]


def _gauge_options(request: HttpRequest) -> dict[str, list[tuple[int, str]]]:
    options: dict[str, list[tuple[int, str]]] = {"gauge_gloss": [], "gauge_roughness": []}
    for row in measure_sheet.gauges(plant(request), timezone.now()):
        gauge: Any = row.gauge
        state = _("due %(day)s") if not row.overdue else _("OVERDUE since %(day)s")
        words = state % {"day": wording.day(gauge.due_on)} if gauge.due_on else _("never calibrated")
        if gauge.passed is False:
            words = _("FAILED its calibration")
        options[row.field].append((gauge.pk, f"{gauge.number} · {gauge.get_kind_display()} · {words}"))
    return options


def _asked(
    typed: Typed, tool: Tool, kind: Inspection.Kind, entered: tuple[list[Drafted], list[Drafted]], request: HttpRequest
) -> dict[str, Any]:
    drafts, defects = entered
    process = {name: typed.decimal(name) for name in PROCESS_FIELDS}
    cleaned = typed.choice("cleaned", {"yes", "no"}, required=False)
    at = typed.moment("happened_at") or timezone.now()
    resin = typed.pick("resin", Resin.objects.all())
    if not (drafts or defects) or not typed.ok:
        raise Refused(
            "measure.nothing",
            gettext_noop("Nothing is entered that could be kept yet."),
            next_step=gettext_noop("Enter at least one value, and look at the fields that are marked."),
        )
    return {
        "tool": tool,
        "kind": kind,
        "drafts": tuple(drafted.draft for drafted in drafts),
        "defects": tuple(drafted.draft for drafted in defects),
        "resin": resin,
        "colour": typed.text("colour", most=40),
        "lot": typed.text("lot", most=40),
        "cleaned": {"yes": True, "no": False}.get(cleaned),
        "note": typed.text("note"),
        "photo": photo_of(request),
        "answers": {code: str(choice) for code, choice in typed.answered.items()},
        "ref": typed.reference(),
        "by": person(request),
        "at": at,
        **process,
    }


def _at_its_field(typed: Typed, refused: Refused, drafts: list[Drafted], defects: list[Drafted]) -> None:
    """Show the refusal of one draft beside the field that it was typed into."""
    head, _dash, rest = refused.field.partition("-")
    number = rest.partition("-")[0]
    entered = {"drafts": drafts, "defects": defects}.get(head, [])
    if number.isdigit() and int(number) < len(entered):
        typed.find_fault(entered[int(number)].field, wording.say(refused))


@door(Ability.READ)
def inspection(request: HttpRequest, inspection_id: int) -> HttpResponse:
    """Show what an inspection found: verdicts in words, the next step, and suspect parts."""
    ours = Inspection.objects.filter(tool__plant=plant(request)).select_related("tool", "resin", "by", "photo")
    found = measured.measured(get_object_or_404(ours, pk=inspection_id), timezone.now())
    budgets = reading_budget.of_verdicts(found.found)
    context = {"found": found, "tool": found.inspection.tool, "budgets": budgets}
    return answer(request, "measure/inspection.html", context)


@door(Ability.MEASURE)
def correct(request: HttpRequest, reading_id: int) -> HttpResponse:
    """Put a reading right and say why; the old one and its verdict stay on the record."""
    ours = Reading.objects.in_force().filter(inspection__tool__plant=plant(request))
    reading = get_object_or_404(ours.select_related("face__insert", "spot", "inspection__tool"), pk=reading_id)
    typed, refused = Typed(request.POST, person(request)), None
    if request.method == "POST":
        value, why = typed.quantity("value", reading.unit, required=True), typed.text("why", required=True)
        if typed.ok and value is not None:
            try:
                loop.reading_corrected(
                    reading=reading, value=value, why=why, ref=typed.reference(), by=person(request), at=timezone.now()
                )
                words = _("Put right; the old reading stays on the record.")
                return done(request, words, "measure-inspection", reading.inspection_id)
            except Refused as one:
                refused = one
    return answer(request, "measure/correct.html", {"reading": reading}, refused, typed=typed)


urls: list[URLPattern] = [
    path("measure/", measure, name="measure"),
    path("measure/<int:tool_id>/", sheet, name="measure-tool"),
    path("measure/inspection/<int:inspection_id>/", inspection, name="measure-inspection"),
    path("measure/reading/<int:reading_id>/", correct, name="measure-correct"),
]
