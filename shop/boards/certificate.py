"""The snapshot behind a certificate of a face or of a tool: every word and drawing as it was when it was issued."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

from django.utils.translation import gettext

from shop.bench.models import Passing, WorkOrder
from shop.boards import measured, paper_words
from shop.boards.bars import bar_of_verdict, quantity
from shop.boards.certified import Certified, CertifiedFace, Judged
from shop.boards.figures import figured
from shop.paper.models import Document
from shop.paper.qr import qr_svg
from shop.people import wording
from shop.people.models import Plant
from shop.quality.models import Calibration, Defect, Reading, Verdict
from shop.tooling.models import Acceptance, Concession, Face, Fitting, Plaque, Spec, SteelEntry, Tool, WhereMeasured
from shop.units import Quantity

LONGEST = 24


def subject_of(thing: Face | Tool) -> str:
    """Return what a certificate is about, as a document names it."""
    return f"face:{thing.pk}" if isinstance(thing, Face) else f"tool:{thing.pk}"


def number_of(thing: Face | Tool) -> str:
    """Return the number of a certificate's first issue."""
    if isinstance(thing, Face):
        return f"{thing.insert.tool.number[:LONGEST]}-F{thing.pk}-C"
    return f"{thing.number[:LONGEST]}-C"


def issue_of(certified: Certified, thing: Face | WorkOrder, *, address: str) -> dict[str, Any]:
    """Return what `paper.services.issue` is told of a certificate."""
    about = thing if isinstance(thing, Face) else thing.tool
    number = number_of(about)
    return {
        "kind": Document.Kind.CERTIFICATE,
        "subject": subject_of(about),
        "number": number,
        "template": "paper/certificate.html",
        "snapshot": {
            "of_face": isinstance(thing, Face),
            "tool": _tool(certified.tool),
            "order": certified.order.number if certified.order else "",
            "outcome": certified.outcome,
            "statement": statement(certified),
            "address": address,
            "qr": qr_svg(address, number),
            "faces": _faces(certified),
            "signs": [_sign(one) for one in certified.signed],
        },
    }


def statement(certified: Certified) -> str:
    """Return in one sentence what is certified."""
    conceded = any(one.verdict.concession_id for face in certified.faces for one in face.judged)
    if certified.outcome == Verdict.Outcome.YES:
        if conceded:
            return gettext("Conforms to its specification with the concession that is named below.")
        return gettext("Conforms to its specification.")
    if certified.outcome == Verdict.Outcome.NO:
        return gettext("Does not conform to its specification: see what is off spec below.")
    if certified.outcome == Verdict.Outcome.NOT_PROVEN:
        return gettext("Conformity is not proven: a value lies too close to its limit to say either way.")
    return gettext("No verdict decides: what was measured is shown for information.")


def _tool(tool: Tool) -> dict[str, str]:
    plant: Plant = tool.plant
    return {
        "number": tool.number,
        "title": tool.title,
        "customer": tool.customer.name,
        "part": " ".join(part for part in (tool.part_number, tool.part_revision) if part),
        "owner": tool.owner,
        "plant": plant.name,
    }


def _faces(certified: Certified) -> list[dict[str, Any]]:
    ids = [one.face.pk for one in certified.faces]
    left = SteelEntry.objects.left_by_face(ids)
    positions: dict[int, int] = dict(
        Fitting.objects.now().filter(insert__faces__in=ids).values_list("insert__faces", "position__number")
    )
    ordered = sorted(certified.faces, key=lambda one: (positions.get(one.face.pk, 0), one.face.insert.number))
    return [_face(one, positions.get(one.face.pk), left.get(one.face.pk)) for one in ordered]


def _face(one: CertifiedFace, position: int | None, left_um: Decimal | None) -> dict[str, Any]:
    face, spec = one.face, one.spec
    bar = next((figured(bar_of_verdict(each.verdict)) for each in one.judged if not each.verdict.informative), None)
    return {
        "name": f"{position} · {face}" if position else str(face),
        "insert": paper_words.steel_words(face.insert),
        "coating": str(face.insert.get_coating_display()) if face.insert.coating else "",
        "swatch": paper_words.swatch(spec),
        "spec": paper_words.spec_words(spec),
        "since": wording.day(spec.at),
        "grade_table": spec.grade_ra_table,
        "edition": str(spec.get_drawing_edition_display()),
        "tolerance_rule": str(spec.get_tolerance_rule_display()),
        "acceptance": str(spec.get_acceptance_display()),
        "limits": [paper_words.limit_words(limit) for limit in spec.limits.all()],
        "plaque": _plaque(spec.plaque) if spec.plaque else "",
        "steel_left": paper_words.um(left_um),
        "bar": paper_words.inked(bar) if bar else "",
        "bar_words": bar.text if bar else "",
        "outcome": one.outcome,
        "verdicts": [_verdict(each, spec) for each in one.judged],
        "concessions": _concessions(one),
        "defects": [_defect(each) for each in one.defects],
    }


def _plaque(plaque: Plaque) -> str:
    words = gettext("Plaque %(plaque)s, %(copy)s") % {"plaque": plaque, "copy": plaque.get_copy_display()}
    if plaque.signed_by:
        words += ", " + gettext("signed by %(name)s") % {"name": plaque.signed_by}
    if plaque.expires_on:
        words += ", " + gettext("holds until %(day)s") % {"day": wording.day(plaque.expires_on)}
    return words


def _verdict(each: Judged, spec: Spec) -> dict[str, Any]:
    verdict = each.verdict
    angle = f" {verdict.limit.geometry_deg}°" if verdict.limit.geometry_deg else ""
    place = f"{verdict.get_where_display()}, {verdict.spot.name}" if verdict.spot else str(verdict.get_where_display())
    chance = verdict.conformance
    return {
        "what": f"{verdict.get_parameter_display()}{angle}",
        "place": place,
        "value": _value(verdict),
        "uncertainty": _uncertainty(verdict),
        "limits": _limits(verdict),
        "outcome": verdict.outcome,
        "words": str(Verdict.Outcome(verdict.outcome).label),
        "informative": verdict.informative,
        "rule": _rule(verdict),
        "revision": verdict.spec.revision,
        "older": verdict.spec_id != spec.pk,
        "chance": ""
        if chance is None
        else wording.show(Quantity(min(round(100 * chance, 1), Decimal("99.9")), "percent")),
        "required": wording.show(Quantity(100 * verdict.required, "percent")),
        "concession": verdict.concession.number if verdict.concession else "",
        "at": wording.day(verdict.at),
        "kind": str(verdict.inspection.get_kind_display()),
        "conditions": _conditions(verdict),
        "readings": [_reading(reading, calibration) for reading, calibration in each.readings],
    }


def _value(verdict: Verdict) -> str:
    if verdict.limit.unit == "grade":
        return wording.say(measured.grade(verdict.parameter, float(verdict.statistic)))
    return wording.show(quantity(float(verdict.statistic), verdict.limit.unit))


def _uncertainty(verdict: Verdict) -> str:
    """Return the expanded uncertainty to the two figures that it is worth."""
    expanded = 2 * float(verdict.standard_uncertainty)
    if expanded == 0:
        return wording.NOTHING
    return wording.show(quantity(float(f"{expanded:.2g}"), verdict.limit.unit))


def _limits(verdict: Verdict) -> str:
    if verdict.limit.unit == "grade":
        return gettext("by the plaque")
    lower, upper = (
        None if side is None else wording.show(Quantity(side, verdict.limit.unit))
        for side in (verdict.lower, verdict.upper)
    )
    if lower and upper:
        return gettext("%(lower)s to %(upper)s") % {"lower": lower, "upper": upper}
    return (
        gettext("at most %(upper)s") % {"upper": upper} if upper else gettext("at least %(lower)s") % {"lower": lower}
    )


def _rule(verdict: Verdict) -> str:
    return (
        f"{gettext(verdict.rule)}, {verdict.spec.get_drawing_edition_display()}; {Acceptance(verdict.acceptance).label}"
    )


def _conditions(verdict: Verdict) -> str:
    inspection = verdict.inspection
    if verdict.where != WhereMeasured.PART:
        return ""
    parts = [str(inspection.resin or ""), inspection.colour]
    if inspection.lot:
        parts.append(gettext("lot %(lot)s") % {"lot": inspection.lot})
    if inspection.mould_temperature_c is not None:
        parts.append(wording.show(Quantity(inspection.mould_temperature_c, "C")))
    return ", ".join(part for part in parts if part)


def _reading(reading: Reading, calibration: Calibration | None) -> dict[str, str]:
    if reading.unit == "grade":
        value = wording.say(measured.grade(reading.parameter, float(reading.value)))
    else:
        value = wording.show(Quantity(reading.value, reading.unit))
    return {
        "value": value,
        "by": reading.by.name,
        "direction": str(reading.get_direction_display()) if reading.direction else "",
        "gauge": reading.gauge.number if reading.gauge else str(reading.plaque or ""),
        "due": wording.day(calibration.due_on) if calibration else "",
        "certificate": calibration.certificate if calibration else "",
        "overdue": gettext("out of date") if reading.gauge_overdue else "",
    }


def _concessions(one: CertifiedFace) -> list[str]:
    found: dict[int, Concession] = {}
    for each in one.judged:
        if each.verdict.concession:
            found[each.verdict.concession.pk] = each.verdict.concession
    return [paper_words.concession_words(concession) for concession in found.values()]


def _defect(defect: Defect) -> str:
    said = {"kind": defect.get_kind_display(), "size": wording.show(Quantity(defect.size_mm, "mm")), "n": defect.count}
    words = gettext("%(kind)s, %(size)s, %(n)d of them") % said
    return f"{words} ({defect.spot.name})" if defect.spot else words


def _sign(signed: Passing) -> dict[str, str]:
    inspection = signed.inspection
    return {
        "stage": str(signed.get_stage_display()),
        "passed": gettext("passed") if signed.passed else gettext("not passed"),
        "by": signed.by.name,
        "for": signed.signed_for,
        "at": wording.moment(signed.at),
        "on": f"{inspection.get_kind_display()}, {wording.moment(inspection.at)}" if inspection else "",
        "why": signed.why,
    }
