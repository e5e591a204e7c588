"""No signature rests on a reading in doubt: what an unfit gauge read is decided about first."""

from __future__ import annotations

from datetime import datetime

from shop.bench.models import WorkOrder
from shop.bench.services import checking
from shop.quality import doubt
from shop.refusal import Refused, gettext_noop
from shop.units import Quantity

_IN_DOUBT = gettext_noop(
    "{order} rests on {face} {parameter} {value}, which is in doubt: gauge {gauge} was found unfit on {at}."
)
_AGAIN = gettext_noop(
    "{order} rests on {face} {parameter} {value}, which is to be measured again: gauge {gauge} was found unfit on {at}."
)


def refuse_in_doubt(order: WorkOrder, checked: checking.Checked) -> None:
    """Refuse to sign where a verdict that decides rests on a reading of an unfit gauge, and nothing settled it."""
    against = doubt.verdicts_in_doubt(checked.deciding)
    for verdict in checked.deciding:
        for one in against.get(verdict.pk, ()):
            raise Refused(
                "pass.in_doubt",
                _IN_DOUBT if one.decision is None else _AGAIN,
                next_step=gettext_noop("Measure it again with a gauge that is fit, or decide about the reading first."),
                order=order.number,
                face=str(verdict.face),
                parameter=verdict.get_parameter_display(),
                value=Quantity(one.reading.value, one.reading.unit),
                gauge=one.finding.gauge.number,
                at=one.finding.at,
            )


def refuse_withdrawn(order: WorkOrder, at: datetime) -> None:
    """Refuse to release on what is in doubt, or was withdrawn or read off spec since steel and parts were signed."""
    for checked in (checking.steel(order, at), checking.parts(order, at)):
        refuse_in_doubt(order, checked)
        if checked.off_spec:
            # Signed while it conformed: measured again since, as after a reading was withdrawn, it does not.
            verdict = checked.off_spec[0]
            raise Refused(
                "release.off_spec",
                gettext_noop("{face} {parameter} {value} was read off spec since {order} was signed."),
                next_step=gettext_noop("Send it back to the bench, or ask for a concession and measure again."),
                order=order.number,
                face=str(verdict.face),
                parameter=verdict.get_parameter_display(),
                value=Quantity(verdict.statistic, verdict.limit.unit),
            )
        gone = doubt.withdrawn(checked.taken_back)
        if gone:
            verdict = gone[0]
            raise Refused(
                "release.withdrawn",
                gettext_noop("{order} rested on {face} {parameter} {value}, which was withdrawn: its gauge was unfit."),
                next_step=gettext_noop("Measure it again with a gauge that is fit."),
                order=order.number,
                face=str(verdict.face),
                parameter=verdict.get_parameter_display(),
                value=Quantity(verdict.statistic, verdict.limit.unit),
            )
