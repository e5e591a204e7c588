"""Write down that a gauge was found unfit, and decide about each reading that it took since its last good check."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime
from typing import Any
from uuid import UUID, uuid5

from django.db import transaction

from shop.ledger.services import hold, once
from shop.people.models import Person
from shop.quality import doubt
from shop.quality.models import Calibration, Gauge, Reading, TileCheck, UnfitDecision, UnfitFinding
from shop.quality.services import inspections
from shop.quality.services.checks import not_in_future
from shop.refusal import Refused, gettext_noop
from shop.units import Quantity

Decision = UnfitDecision.Decision


@once("gauge found unfit", UnfitFinding, timed=False)
def find_unfit(
    *,
    gauge: Gauge,
    why: str,
    by: Person,
    at: datetime,
    calibration: Calibration | None = None,
    tile_check: TileCheck | None = None,
    ref: UUID | None = None,  # noqa: ARG001 (`once` reads it)
) -> UnfitFinding:
    """Write down that a gauge was found unfit: what it read since its last good check is in doubt.

    Raises
    ------
    Refused
        Without a reason, in the future, or where the calibration or the tile check named does not speak against it.
    """
    not_in_future(at)
    if not why.strip():
        raise Refused(
            "unfit.why_wanted",
            gettext_noop("Gauge {gauge} is found unfit only with a reason."),
            next_step=gettext_noop("Say what showed it: dropped, a failed calibration, off on the tile."),
            field="why",
            gauge=gauge.number,
        )
    for check, spoken_well in (
        (calibration, calibration is not None and calibration.passed),
        (tile_check, tile_check is not None and tile_check.outcome != TileCheck.Outcome.UNFIT),
    ):
        if check is not None and (spoken_well or check.gauge_id != gauge.pk):
            raise Refused(
                "unfit.check_says_otherwise",
                gettext_noop("The check of {at} does not say that gauge {gauge} is unfit."),
                next_step=gettext_noop("Name the check that it failed, or none and say why."),
                gauge=gauge.number,
                at=check.at,
            )
    return UnfitFinding.objects.create(
        gauge=gauge,
        last_good_at=doubt.last_good_check(gauge.pk, at),
        calibration=calibration,
        tile_check=tile_check,
        why=why.strip(),
        by=by,
        at=at,
    )


def after_calibration(*, calibration: Calibration, by: Person) -> UnfitFinding | None:
    """Open a finding where a calibration was not passed; to be called in the transaction that enters it."""
    if calibration.passed:
        return None
    why = gettext_noop("It failed its calibration.")
    return find_unfit(gauge=calibration.gauge, calibration=calibration, why=why, by=by, at=calibration.at)


def after_tile_check(*, tile_check: TileCheck, by: Person) -> UnfitFinding | None:
    """Open a finding where a check on the tile says unfit; to be called in the transaction that enters it."""
    if tile_check.outcome != TileCheck.Outcome.UNFIT:
        return None
    why = gettext_noop("It read its tile wrong.")
    return find_unfit(gauge=tile_check.gauge, tile_check=tile_check, why=why, by=by, at=tile_check.at)


@transaction.atomic
def decide_many(
    *,
    finding: UnfitFinding,
    readings: Sequence[Reading],
    decision: str,
    reason: str,
    by: Person,
    at: datetime,
    why: str = "",
    ref: UUID | None = None,
) -> list[UnfitDecision]:
    """Decide the same, with the same reason, about several readings; all or none."""
    if not readings:
        raise Refused(
            "unfit.none_chosen",
            gettext_noop("No reading is chosen."),
            next_step=gettext_noop("Tick the readings, or a whole face, that this decision is about."),
            field="reading",
        )
    return [
        decide(
            finding=finding,
            reading=reading,
            decision=decision,
            reason=reason,
            why=why,
            by=by,
            at=at,
            ref=uuid5(ref, str(reading.pk)) if ref else None,
        )
        for reading in sorted(readings, key=lambda one: (one.face_id, one.pk))
    ]


@once("unfit decision", UnfitDecision, timed=False)
def decide(
    *,
    finding: UnfitFinding,
    reading: Reading,
    decision: str,
    reason: str,
    by: Person,
    at: datetime,
    why: str = "",
    ref: UUID | None = None,  # noqa: ARG001 (`once` reads it)
) -> UnfitDecision:
    """Decide about one reading in doubt: it stands, is measured again, or is withdrawn and judged without.

    A decision is changed by one that supersedes it and says why; a reading once withdrawn does not come back.
    """
    not_in_future(at)
    hold(f"unfit decision {reading.pk}")
    _may_be_decided(finding, reading, reason)
    old = doubt.decisions_on([reading.pk]).get(reading.pk)
    if old is not None:
        _may_be_changed(old, reading, decision, why)
    if Reading.objects.filter(supersedes=reading.pk).exists():
        raise Refused(
            "unfit.put_right_since",
            gettext_noop("The reading of {face}, {value}, was put right or taken back meanwhile."),
            next_step=gettext_noop("Load the page again and decide about the latest one."),
            field="reading",
            **_named(reading),
        )
    decided = UnfitDecision.objects.create(
        finding=old.finding if old else finding,
        reading=reading,
        decision=Decision(decision),
        reason=reason.strip(),
        supersedes=old,
        why=why.strip() if old else "",
        by=by,
        at=at,
    )
    if decided.decision == Decision.WITHDRAW:
        inspections.withdraw(reading=reading, why=f"{finding.gauge.number}: {reason.strip()}", by=by, at=at)
    return decided


def _may_be_decided(finding: UnfitFinding, reading: Reading, reason: str) -> None:
    if not reason.strip():
        raise Refused(
            "unfit.reason_wanted",
            gettext_noop("What is decided about {face}, {value}, wants a reason."),
            next_step=gettext_noop("Say why, for instance: the gauge read 0.2 GU high, the verdict holds by 0.6 GU."),
            field="reason",
            **_named(reading),
        )
    if reading.gauge_id != finding.gauge_id or not doubt.spans([finding])[finding.pk].holds(reading.at):
        raise Refused(
            "unfit.not_in_doubt",
            gettext_noop("The reading of {face}, {value}, is not in doubt: this finding does not reach it."),
            next_step=gettext_noop("Choose from the readings that the finding lists."),
            field="reading",
            **_named(reading),
        )


def _may_be_changed(old: UnfitDecision, reading: Reading, decision: str, why: str) -> None:
    if old.decision == Decision.WITHDRAW:
        raise Refused(
            "unfit.withdrawn_stays",
            gettext_noop("The reading of {face}, {value}, was withdrawn on {at} and does not come back."),
            next_step=gettext_noop("Measure it again with a gauge that is fit."),
            field="reading",
            at=old.at,
            **_named(reading),
        )
    if not why.strip():
        raise Refused(
            "unfit.change_wants_why",
            gettext_noop("About {face}, {value}, it was decided on {at}: {old}. Changing that wants a reason."),
            next_step=gettext_noop("Say why it is decided otherwise now."),
            field="why",
            at=old.at,
            old=Decision(old.decision),
            **_named(reading),
        )
    if old.decision == decision:
        raise Refused(
            "unfit.same_again",
            gettext_noop("About {face}, {value}, this was decided on {at} already."),
            next_step=gettext_noop("Choose another decision, or leave it as it is."),
            field="decision",
            at=old.at,
            **_named(reading),
        )


def _named(reading: Reading) -> dict[str, Any]:
    return {"face": str(reading.face), "value": Quantity(reading.value, reading.unit)}
