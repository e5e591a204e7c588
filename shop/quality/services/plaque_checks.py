"""Whether a plaque may be judged by: withdrawn, expired or unchecked ones decide nothing, and release nothing."""

from __future__ import annotations

from shop.quality.services.drafts import At
from shop.refusal import gettext_noop
from shop.tooling.models import Plaque, Spec
from shop.tooling.plaque_state import PlaqueStanding, PlaqueState

KEEP_FOR_INFORMATION = (("keep_for_information", gettext_noop("Keep it for information: it decides nothing")),)
WITHDRAWN = "plaque.withdrawn"

_STANDS = {
    PlaqueState.WITHDRAWN: gettext_noop("Plaque {plaque} was withdrawn on {since}: {because}"),
    PlaqueState.EXPIRED: gettext_noop("Plaque {plaque} ran out on {limit}: {face} cannot be released by it."),
    PlaqueState.FAILED: gettext_noop("Plaque {plaque} failed its check on {since}: {because}"),
    PlaqueState.CHECK_DUE: gettext_noop("The check of plaque {plaque} is due: {face} cannot be released by it."),
}
_CODES = {
    PlaqueState.WITHDRAWN: WITHDRAWN,
    PlaqueState.EXPIRED: "plaque.expired",
    PlaqueState.FAILED: "plaque.failed",
    PlaqueState.CHECK_DUE: "plaque.check_due",
}
_NEXT = {
    PlaqueState.CHECK_DUE: gettext_noop("Check the plaque against its master first, or compare with one in date."),
}


def plaque_of(at: At, spec: Spec) -> tuple[Plaque, bool]:
    """Return the plaque of a comparison, and whether it may only inform.

    Raises
    ------
    Refused
        Where none is named, or a release would rest on one that is not in date; as a question where it is withdrawn.
    """
    plaque = at.draft.plaque or spec.plaque
    if plaque is None:
        raise at.refused(
            "reading.no_plaque",
            gettext_noop("{parameter} at {spot} of {face} is compared with a plaque, and none is named."),
            "plaque",
            gettext_noop("Choose the plaque that you compared with."),
        )
    standing = at.going.plaques.get(plaque.pk)
    if standing is None or standing.good:
        return plaque, False
    withdrawn = standing.state == PlaqueState.WITHDRAWN
    if at.going.kind.releases or (withdrawn and not at.answered(WITHDRAWN, KEEP_FOR_INFORMATION)):
        _refuse(at, plaque, standing)
    return plaque, True


def _refuse(at: At, plaque: Plaque, standing: PlaqueStanding) -> None:
    asks = standing.state == PlaqueState.WITHDRAWN and not at.going.kind.releases
    raise at.refused(
        _CODES[standing.state],
        _STANDS[standing.state],
        "plaque",
        _NEXT.get(standing.state, gettext_noop("Compare with a plaque in date.")),
        plaque=plaque.number,
        limit=plaque.expires_on,
        since=standing.since,
        because=standing.because,
        **({"choices": KEEP_FOR_INFORMATION} if asks else {}),
    )
