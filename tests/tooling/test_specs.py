"""Finish specs by revision, and the concessions that relax them for a while."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta
from decimal import Decimal
from typing import Any
from uuid import uuid4

import pytest

from shop.people.models import Person, Plant
from shop.quality.asked import concessions_of
from shop.tooling.models import Concession, Face, Plaque, Spec
from shop.tooling.reading import limits_of, spec_at, specs_at
from shop.tooling.services import plaques, specs
from shop.tooling.services.spec_checks import LimitDraft
from tests.factories import build_tool, by_plaque, polished, satin
from tests.tooling.refusing import refused

HOUR = timedelta(hours=1)
RA = LimitDraft("Ra", "steel", None, Decimal("0.8"), "um")
GLOSS = LimitDraft("gloss", "part", Decimal(2), Decimal(4), "GU", geometry_deg=60)


@pytest.fixture
def face(lead: Person, at: datetime) -> Face:
    """A face without a spec."""
    return build_tool(lead, at).face


def concession_at(face: Face, parameter: str, at: datetime, insert_total: int) -> Concession | None:
    """What quality judges by, when the insert had made so many shots."""
    return concessions_of([face], {face.insert_id: insert_total}, at).get(face.pk, {}).get(parameter)


def draft(face: Face, by: Person, at: datetime, **given: Any) -> dict[str, Any]:
    return {
        "face": face, "reason": "drawing changed", "how_made": "blasted", "scale": "value", "limits": [RA],
        "drawing_edition": "ISO 21920-3:2021", "acceptance": "guarded", "by": by, "at": at, **given,
    }  # fmt: skip


def test_editing_a_spec_makes_the_next_revision_and_keeps_the_first(
    face: Face, engineer: Person, at: datetime
) -> None:
    first = specs.revise(**draft(face, engineer, at, reason=""))
    refused("spec.reason_wanted", specs.revise, **draft(face, engineer, at + HOUR, reason=" "))
    refused("spec.before_last", specs.revise, **draft(face, engineer, at - HOUR))
    second = specs.revise(**draft(face, engineer, at + HOUR, limits=[RA, GLOSS]))
    assert (first.revision, first.reason, second.revision) == (1, "first issue", 2)
    assert (spec_at(face, at - HOUR), spec_at(face, at), spec_at(face, at + HOUR)) == (None, first, second)
    assert (first.limits.count(), second.limits.count()) == (1, 2)
    assert list(Spec.objects.at_time(at)) == [first]


def test_spec_sent_twice_is_one_revision(face: Face, engineer: Person, at: datetime) -> None:
    ref = uuid4()
    sent = draft(face, engineer, at, ref=ref, limits=[GLOSS])
    assert specs.revise(**sent) == specs.revise(**sent)
    assert refused("ref.other_content", specs.revise, **{**sent, "limits": [RA]}).question
    assert Spec.objects.count() == 1


@pytest.mark.parametrize(
    ("given", "code"),
    [
        ({"limits": [LimitDraft("Ra", "steel", None, None, "um")]}, "spec.limit_without_side"),
        ({"limits": [LimitDraft("Ra", "steel", Decimal(2), Decimal(2), "um")]}, "spec.limit_sides"),
        ({"limits": [LimitDraft("Ra", "steel", None, Decimal(2), "GU")]}, "spec.limit_unit"),
        ({"limits": [LimitDraft("gloss", "steel", None, Decimal(2), "GU", geometry_deg=60)]}, "spec.gloss_on_steel"),
        ({"limits": [LimitDraft("gloss", "part", None, Decimal(2), "GU")]}, "spec.gloss_without_angle"),
        ({"limits": [LimitDraft("gloss", "part", None, Decimal(2), "GU", geometry_deg=45)]},
         "spec.gloss_without_angle"),
        ({"limits": [RA, RA]}, "spec.limit_twice"),
        ({"limits": [LimitDraft("look gloss", "part", Decimal(-1), Decimal(1), "grade")]}, "spec.plaque_wanted"),
        ({"acceptance": "plaque"}, "spec.plaque_wanted"),
        ({"scale": "plaque"}, "spec.plaque_wanted"),
        ({"scale": "VDI 3400", "code": "46"}, "spec.code_unknown"),
        ({"scale": "VDI 3400", "code": "x"}, "spec.code_unknown"),
        ({"scale": "VDI 3400", "code": ""}, "spec.code_unknown"),
        ({"scale": "grade", "code": "E-1"}, "spec.code_unknown"),
        ({"scale": "N", "code": "N13"}, "spec.code_unknown"),
        ({"at": datetime(2999, 1, 1, tzinfo=UTC)}, "spec.in_future"),
    ],
)  # fmt: skip
def test_spec_that_cannot_be_held_is_refused(
    face: Face, engineer: Person, at: datetime, given: dict[str, Any], code: str
) -> None:
    refused(code, specs.revise, **{**draft(face, engineer, at), **given})
    assert not Spec.objects.exists()


@pytest.mark.parametrize(("scale", "code"), [("VDI 3400", "27"), ("grade", "A-2"), ("N", "N12"), ("value", "")])
def test_codes_of_the_scales_are_taken(face: Face, engineer: Person, at: datetime, scale: str, code: str) -> None:
    assert specs.revise(**draft(face, engineer, at, scale=scale, code=code)).code == code


@pytest.mark.parametrize("how_made", ["polished", "stoned"])
def test_lower_side_on_a_polish_is_asked(face: Face, engineer: Person, at: datetime, how_made: str) -> None:
    band = [LimitDraft("Ra", "steel", Decimal("0.05"), Decimal("0.1"), "um")]
    sent = draft(face, engineer, at, how_made=how_made, limits=band)
    question = refused("spec.lower_on_polish", specs.revise, **sent)
    assert (question.question, [code for code, _ in question.choices]) == (True, ["yes_keep"])
    spec = specs.revise(**sent, answers={"spec.lower_on_polish": "yes_keep"})
    assert spec.limits.get().lower == Decimal("0.05")


def test_lower_side_of_a_blasted_face_is_not_asked(face: Face, engineer: Person, at: datetime) -> None:
    band = [LimitDraft("Ra", "steel", Decimal("0.5"), Decimal("0.8"), "um")]
    assert specs.revise(**draft(face, engineer, at, limits=band)).limits.count() == 1


def test_spot_and_plaque_are_the_faces_own(face: Face, engineer: Person, lead: Person, at: datetime) -> None:
    other = build_tool(lead, at).face
    elsewhere = [LimitDraft("Ra", "steel", None, Decimal(1), "um", spot=other.spots.first())]
    refused("spec.spot_of_another_face", specs.revise, **draft(face, engineer, at, limits=elsewhere))
    abroad = Plaque.objects.create(plant=Plant.objects.create(name="Elsewhere"), number="PQ-X")
    refused("spec.plaque_of_another_plant", specs.revise, **draft(face, engineer, at, plaque=abroad))


def test_specs_of_many_faces_take_two_queries(
    lead: Person, at: datetime, django_assert_num_queries: Any
) -> None:
    built = build_tool(lead, at, cavities=5)
    for one in built.faces.values():
        satin(one, lead, at)
        satin(one, lead, at + HOUR, upper="5")
    ids = [one.pk for one in built.faces.values()]
    with django_assert_num_queries(2):
        held = {key: (spec.revision, spec.limits.all()[0].upper) for key, spec in specs_at(ids, at).items()}
    assert held == dict.fromkeys(ids, (1, Decimal(4)))
    assert {spec.revision for spec in specs_at(ids, at + HOUR).values()} == {2}


def grant(face: Face, by: Person, at: datetime, **given: Any) -> dict[str, Any]:
    return {
        "face": face, "number": "D-77", "parameter": "gloss", "reason": "launch", "upper": Decimal("4.6"),
        "until_on": date(2024, 3, 31), "by": by, "at": at, **given,
    }  # fmt: skip


@pytest.mark.parametrize(
    ("given", "code"),
    [
        ({"upper": Decimal("3.9")}, "concession.not_relaxed"),
        ({"upper": Decimal(4)}, "concession.not_relaxed"),
        ({"lower": Decimal("2.1")}, "concession.not_relaxed"),
        ({"parameter": "Ra"}, "concession.nothing_limited"),
        ({"upper": None}, "concession.without_side"),
        ({"until_on": None}, "concession.without_end"),
        ({"until_on": date(2024, 3, 3)}, "concession.ended_before"),
        ({"number": " "}, "concession.number_wanted"),
        ({"reason": ""}, "concession.reason_wanted"),
    ],
)
def test_concession_that_does_not_relax_or_never_ends_is_refused(
    face: Face, engineer: Person, at: datetime, given: dict[str, Any], code: str
) -> None:
    satin(face, engineer, at)
    refused(code, specs.grant_concession, **grant(face, engineer, at, **given))
    assert not Concession.objects.exists()


def test_concession_on_a_side_that_the_spec_leaves_open_is_refused(
    face: Face, engineer: Person, at: datetime
) -> None:
    polished(face, engineer, at)
    given = grant(face, engineer, at, parameter="Ra", lower=Decimal("0.01"), upper=Decimal("0.2"))
    refused("concession.side_not_in_spec", specs.grant_concession, **given)


def test_concession_holds_to_the_end_of_its_day_at_the_plant(face: Face, engineer: Person, at: datetime) -> None:
    satin(face, engineer, at)
    granted = specs.grant_concession(**grant(face, engineer, at))
    # 22:30 UTC on 31 March is 00:30 on 1 April in Berlin, which has just gone over to summer time.
    assert concession_at(face, "gloss", datetime(2024, 3, 31, 21, 59, tzinfo=UTC), 0) == granted
    assert concession_at(face, "gloss", datetime(2024, 3, 31, 22, 30, tzinfo=UTC), 0) is None
    assert concession_at(face, "gloss", at - HOUR, 0) is None
    assert concession_at(face, "Ra", at, 0) is None


def test_concession_ends_with_its_shots(face: Face, engineer: Person, at: datetime) -> None:
    satin(face, engineer, at)
    granted = specs.grant_concession(**grant(face, engineer, at, until_on=None, until_insert_shots=5000))
    assert concession_at(face, "gloss", at, 5000) == granted
    assert concession_at(face, "gloss", at, 5001) is None


def test_concession_widens_its_side_and_leaves_the_other(face: Face, engineer: Person, at: datetime) -> None:
    spec = specs.revise(**draft(face, engineer, at, limits=[RA, GLOSS]))
    granted = specs.grant_concession(**grant(face, engineer, at))
    held = {row.limit.parameter: (row.lower, row.upper, row.relaxed) for row in limits_of(spec, granted)}
    assert held == {"gloss": (Decimal(2), Decimal("4.6"), True), "Ra": (None, Decimal("0.8"), False)}
    assert not any(row.relaxed for row in limits_of(spec, None))
    later = specs.revise(**draft(face, engineer, at + HOUR, limits=[LimitDraft(*_wider())]))
    (row,) = limits_of(later, granted)
    assert (row.upper, row.relaxed) == (Decimal(6), False)


def _wider() -> tuple[Any, ...]:
    return ("gloss", "part", None, Decimal(6), "GU", None, 60)


def test_withdrawn_concession_did_hold_until_then(face: Face, engineer: Person, at: datetime) -> None:
    satin(face, engineer, at)
    granted = specs.grant_concession(**grant(face, engineer, at))
    take_back = {"concession": granted, "by": engineer, "at": at + 2 * HOUR}
    refused("concession.withdrawn_without_reason", specs.withdraw_concession, why="", **take_back)
    gone = specs.withdraw_concession(why="customer asked", **take_back)
    assert (gone.void, gone.supersedes, Concession.objects.in_force().count()) == (True, granted, 0)
    assert concession_at(face, "gloss", at + HOUR, 0) == granted
    assert concession_at(face, "gloss", at + 2 * HOUR, 0) is None
    refused("concession.already_withdrawn", specs.withdraw_concession, why="again", **take_back)


def test_later_concession_takes_the_place_of_the_earlier(face: Face, engineer: Person, at: datetime) -> None:
    satin(face, engineer, at)
    specs.grant_concession(**grant(face, engineer, at))
    second = specs.grant_concession(**grant(face, engineer, at + HOUR, upper=Decimal(5), number="D-78"))
    assert concession_at(face, "gloss", at + HOUR, 0) == second
    assert Concession.objects.running_on(date(2024, 3, 31)).count() == 2
    assert Concession.objects.running_on(date(2024, 4, 1)).count() == 0


def test_plaque_out_of_use_specifies_nothing_new(face: Face, engineer: Person, at: datetime) -> None:
    spec = by_plaque(face, engineer, at)
    plaques.withdraw(plaque=spec.plaque, why="faded in the light", by=engineer, at=at + HOUR)
    spec.plaque.refresh_from_db()
    refusal = refused("spec.plaque_withdrawn", specs.revise, **draft(face, engineer, at + HOUR, plaque=spec.plaque))
    assert (refusal.field, refusal.values["because"]) == ("plaque", "faded in the light")
    assert Spec.objects.filter(face=face).count() == 1


def test_texture_is_specified_by_plaque_and_eye(face: Face, engineer: Person, at: datetime) -> None:
    spec = by_plaque(face, engineer, at)
    assert (spec.acceptance, spec.micro_matt, spec.plaque.signed_by) == ("plaque", True, "Customer")
