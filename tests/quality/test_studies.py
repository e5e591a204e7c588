"""Studies as they are kept: what they refuse, what they work out, how they are put right."""

from __future__ import annotations

import uuid
from datetime import datetime, timedelta
from decimal import Decimal
from typing import Any

import pytest
from django.db import DatabaseError, IntegrityError, transaction
from django.utils import timezone

from shop.people.models import Person, Plant
from shop.quality.models import AgreementStudy, Gauge, GaugeStudy
from shop.quality.services.studies import enter_agreement_study
from shop.refusal import Refused
from tests.factories import plaque
from tests.quality.studying import handbook, study_of, stylus
from tests.quality.test_constraints import breaks, copy_of

pytestmark = pytest.mark.django_db
JUDGED = [[["ok"], ["ok"]], [["no"], ["no"]], [["ok"], ["no"]], [["no"], ["no"]]]


@pytest.fixture
def gauge(inspector: Person, at: datetime) -> Gauge:
    return stylus(inspector, at)


def judged(by: Person, at: datetime, **fields: Any) -> AgreementStudy:
    given: dict[str, Any] = {
        "plant": by.plant, "title": "grain", "categories": ["ok", "no"], "people": ["Ana", "Ben"],
        "pieces": ["1", "2", "3", "4"], "judgements": JUDGED, "by": by, "at": at,
    }  # fmt: skip
    return enter_agreement_study(**{**given, **fields})


def refused(code: str, call: Any, *args: Any, **kwargs: Any) -> Refused:
    with pytest.raises(Refused) as caught:
        call(*args, **kwargs)
    assert caught.value.code == code
    return caught.value


def test_printed_example_is_kept_with_its_figures(gauge: Gauge, inspector: Person, at: datetime) -> None:
    by_range = study_of(gauge, inspector, at, method="range")
    assert (by_range.repeatability, by_range.percent_grr, by_range.ndc) == (
        Decimal("0.201876"), Decimal("26.68"), 5,
    )  # fmt: skip
    by_anova = study_of(gauge, inspector, at, tolerance=Decimal("8"))
    assert (by_anova.percent_grr, by_anova.ndc, by_anova.fitness) == (Decimal("27.86"), 4, "conditional")
    assert by_anova.percent_of_tolerance == Decimal("22.68")
    assert by_anova.repeatability_df == 78


def test_values_are_kept_as_typed(gauge: Gauge, inspector: Person, at: datetime) -> None:
    _parts, _people, values = handbook()
    typed = [[[Decimal(one) for one in cell] for cell in row] for row in values]
    typed[0][0][0] = Decimal("0.290")
    kept = study_of(gauge, inspector, at, values=typed)
    kept.refresh_from_db()
    assert kept.values[0][0] == ["0.290", "0.41", "0.64"]


def test_fitness_goes_by_the_tolerance_where_there_is_one(gauge: Gauge, inspector: Person, at: datetime) -> None:
    assert study_of(gauge, inspector, at, tolerance=Decimal(30)).fitness == "fit"
    assert study_of(gauge, inspector, at, tolerance=Decimal(2)).fitness == "not fit"


@pytest.mark.parametrize(
    ("fields", "code"),
    [
        ({"parameter": "gloss", "unit": "GU"}, "study.wrong_gauge"),
        ({"parameter": "look gloss"}, "study.wrong_gauge"),
        ({"unit": "GU"}, "study.unit_wrong"),
        ({"geometry_deg": 60}, "study.angle_of_no_gloss"),
        ({"people": ["A", "B", "A"]}, "study.name_twice"),
        ({"people": ["A", "B", ""]}, "study.name_length"),
        ({"people": ["A", "B", "C" * 61]}, "study.name_length"),
        ({"people": ["A", "B"]}, "study.names_do_not_fit"),
        ({"parts": [str(n) for n in range(9)]}, "study.names_do_not_fit"),
        ({"tolerance": Decimal(0)}, "study.tolerance_impossible"),
        ({"tolerance": Decimal("0.0001")}, "study.tolerance_beyond"),
        ({"values": [[[Decimal(1)] * 3] * 3] * 10}, "study.all_equal"),
        ({"values": [[[Decimal(10**6), Decimal(1), Decimal(2)]] * 3] * 10}, "study.value_impossible"),
        ({"values": [[[Decimal(1)] * 41] * 3] * 10}, "study.too_large"),
        ({"values": [[[Decimal(1), Decimal(2)], [Decimal(1)], [Decimal(1), Decimal(2)]]] * 10}, "study.trial_missing"),
        ({"method": "eye"}, "table.not_there"),
    ],
)
def test_study_that_cannot_be_is_refused_and_nothing_is_kept(
    gauge: Gauge, inspector: Person, at: datetime, fields: dict[str, Any], code: str
) -> None:
    if code == "table.not_there":
        with pytest.raises(Refused):
            study_of(gauge, inspector, at, **fields)
    else:
        refused(code, study_of, gauge, inspector, at, **fields)
    assert not GaugeStudy.objects.exists()


def test_gloss_is_studied_at_its_angle(inspector: Person, at: datetime) -> None:
    glossmeter = stylus(inspector, at, "GL-1", kind="glossmeter")
    gloss = {"parameter": "gloss", "unit": "GU"}
    assert "20°, 60°, 85°" in refused("study.angle_missing", study_of, glossmeter, inspector, at, **gloss).plain()
    assert study_of(glossmeter, inspector, at, geometry_deg=60, **gloss).geometry_deg == 60


def test_study_of_tomorrow_is_refused(gauge: Gauge, inspector: Person) -> None:
    refused("inspection.in_future", study_of, gauge, inspector, timezone.now() + timedelta(days=1))


def test_form_sent_twice_keeps_one_study(gauge: Gauge, inspector: Person, at: datetime) -> None:
    ref = uuid.uuid4()
    first = study_of(gauge, inspector, at, ref=ref)
    assert study_of(gauge, inspector, at + timedelta(minutes=1), ref=ref) == first
    refused("ref.other_content", study_of, gauge, inspector, at, ref=ref, method="range")
    assert GaugeStudy.objects.count() == 1


def test_study_is_put_right_once_and_for_a_reason(gauge: Gauge, inspector: Person, at: datetime) -> None:
    old = study_of(gauge, inspector, at)
    refused("study.no_reason", study_of, gauge, inspector, at, supersedes=old, why=" ")
    new = study_of(gauge, inspector, at, supersedes=old, why="misread part 3", tolerance=Decimal(8))
    assert (new.supersedes, new.why) == (old, "misread part 3")
    refused("study.superseded", study_of, gauge, inspector, at, supersedes=old, why="again")


def test_kept_study_cannot_be_changed_or_deleted(gauge: Gauge, inspector: Person, at: datetime) -> None:
    kept = study_of(gauge, inspector, at)
    with pytest.raises(DatabaseError), transaction.atomic():
        GaugeStudy.objects.filter(pk=kept.pk).update(ndc=9)
    with pytest.raises(IntegrityError), transaction.atomic():
        AgreementStudy.objects.filter(pk=judged(inspector, at).pk).delete()


@pytest.mark.parametrize("changed", [{"repeatability": -1}, {"repeatability_df": 0}, {"percent_grr": -1}])
def test_figures_of_a_study_are_possible(
    gauge: Gauge, inspector: Person, at: datetime, changed: dict[str, int]
) -> None:
    breaks("study_figures_possible", copy_of(study_of(gauge, inspector, at), **changed))


def test_superseding_study_says_why(gauge: Gauge, inspector: Person, at: datetime) -> None:
    kept, by_eye = study_of(gauge, inspector, at), judged(inspector, at)
    breaks("study_says_why", copy_of(kept, supersedes_id=kept.pk))
    breaks("study_says_why", copy_of(kept, void=True))
    breaks("agreement_says_why", copy_of(by_eye, supersedes_id=by_eye.pk))


@pytest.mark.parametrize("kappa", ["1.01", "-1.01"])
def test_kappa_lies_between_minus_one_and_one(inspector: Person, at: datetime, kappa: str) -> None:
    breaks("agreement_kappa_possible", copy_of(judged(inspector, at), kappa=Decimal(kappa)))


def test_agreement_is_kept_with_its_kappa(inspector: Person, at: datetime) -> None:
    kept = judged(inspector, at, rejects=["no"], master=["ok", "no", "ok", "no"], plaque=plaque(inspector))
    # Three of four agree, by chance half would.
    assert kept.kappa == Decimal("0.5000")
    assert kept.categories == [{"name": "ok", "rejects": False}, {"name": "no", "rejects": True}]


def test_agreement_of_three_is_that_of_everybody_or_with_weights_the_mean_of_the_pairs(
    inspector: Person, at: datetime
) -> None:
    three: dict[str, Any] = {"people": ["Ana", "Ben", "Cem"], "judgements": [[*row, row[0]] for row in JUDGED]}
    # Fleiss: 5/6 agree, by chance (5/12)² + (7/12)² would. Pairs: 1/2, 1 and 1/2.
    assert judged(inspector, at, **three).kappa == Decimal("0.6571")
    assert judged(inspector, at, weights="linear", **three).kappa == Decimal("0.6667")


def test_agreement_of_one_person_is_that_with_the_master(inspector: Person, at: datetime) -> None:
    alone: dict[str, Any] = {"people": ["Ana"], "judgements": [[["ok"]], [["no"]], [["ok"]], [["no"]]]}
    assert judged(inspector, at, master=["ok", "no", "ok", "ok"], **alone).kappa == Decimal("0.5000")
    assert judged(inspector, at, **alone).kappa is None


@pytest.mark.parametrize(
    ("fields", "code"),
    [
        ({"categories": ["ok"]}, "agreement.categories_few"),
        ({"categories": ["ok", "no", "ok"]}, "agreement.categories_few"),
        ({"rejects": ["never"]}, "agreement.rejects_no_category"),
        ({"categories": ["ok", "never"]}, "agreement.no_category"),
        ({"master": ["ok", "no"]}, "agreement.master_missing"),
        ({"pieces": ["1", "1", "2", "3"]}, "study.name_twice"),
        ({"judgements": [*JUDGED[:3], [["ok"], [""]]]}, "study.trial_missing"),
    ],
)
def test_agreement_that_cannot_be_is_refused(
    inspector: Person, at: datetime, fields: dict[str, Any], code: str
) -> None:
    refused(code, judged, inspector, at, **fields)
    assert not AgreementStudy.objects.exists()


def test_plaque_of_another_plant_is_refused(inspector: Person, person_of: Any, at: datetime) -> None:
    elsewhere = person_of("quality", plant=Plant.objects.create(name="Südwerk", time_zone="Europe/Berlin"))
    refused("agreement.plaque_elsewhere", judged, inspector, at, plaque=plaque(elsewhere))
