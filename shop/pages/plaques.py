"""Plaques: which are good to judge by, and one of them with its signatures, checks, limits and what hangs on it."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404
from django.urls import URLPattern, path
from django.utils import timezone
from django.utils.translation import gettext as _

from shop.boards import plaques as board
from shop.pages.doors import answer, done, door, person, plant
from shop.pages.photo import photo_of
from shop.pages.typed import Typed
from shop.people.roles import Ability
from shop.refusal import Refused
from shop.tooling.models import Plaque
from shop.tooling.services import plaques as services

COPIES = Plaque._meta.get_field("copy").choices


@door(Ability.READ, post=Ability.KEEP_GAUGES)
def plaques(request: HttpRequest) -> HttpResponse:
    """List the plaques, those that need somebody first; enter one."""
    refused = None
    typed = Typed(request.POST, person(request))
    if request.method == "POST":
        entered = _entered(typed)
        try:
            if typed.ok:
                made = services.add(
                    plant=plant(request), photo=photo_of(request), by=person(request), at=timezone.now(), **entered
                )
                words = _("Plaque %(number)s is under control now.") % {"number": made.number}
                return done(request, words, "plaque", made.pk)
        except Refused as one:
            refused = one
    context = {"rows": board.plaque_list(plant(request), timezone.now()), "copies": COPIES}
    return answer(request, "plaques/plaques.html", context, refused, typed=typed)


def _entered(typed: Typed) -> dict[str, Any]:
    return {
        "number": typed.text("number", required=True, most=40),
        "house": typed.text("house", most=80),
        "code": typed.text("code", most=60),
        "copy": typed.choice("copy", {services.MASTER, services.WORKING}),
        "signed_by": typed.text("signed_by", most=120),
        "expires_on": typed.day("expires_on"),
        "place": typed.text("place", most=80),
        "recheck_days": typed.integer("recheck_days"),
        "pattern_depth_um": typed.quantity("pattern_depth_um", "um"),
        "ref": typed.reference(),
    }


@door(Ability.READ, post=Ability.KEEP_GAUGES)
def plaque(request: HttpRequest, plaque_id: int) -> HttpResponse:
    """Show one plaque; sign it, check it, copy it, set its limits, withdraw it."""
    ours = Plaque.objects.filter(plant=plant(request)).select_related("plant", "master", "photo", "limit_of")
    one: Plaque = get_object_or_404(ours, pk=plaque_id)
    refused, do = None, ""
    typed = Typed(request.POST, person(request))
    if request.method == "POST":
        do = typed.choice("do", ACTS)
        try:
            if do and (said := ACTS[do](request, typed, one)):
                return done(request, said, "plaque", one.pk)
        except Refused as found:
            refused = found
    limit_ids = dict(one.limit_plaques.values_list("limit_side", "pk"))
    others = Plaque.objects.filter(plant=plant(request), withdrawn_at__isnull=True).exclude(pk=one.pk)
    context = {
        "card": board.plaque_card(one, timezone.now()),
        "do": do,
        "limit_ids": {side: limit_ids.get(side, "") for side in services.SIDES},
        "others": [(other.pk, str(other)) for other in others.order_by("number")],
        "outcomes": [("passed", _("still as it should be")), ("failed", _("no longer"))],
    }
    return answer(request, "plaques/plaque.html", context, refused, typed=typed)


def _edit(request: HttpRequest, typed: Typed, one: Plaque) -> str:
    fields: dict[str, Any] = {
        "place": typed.text("edit-place", most=80),
        "expires_on": typed.day("edit-expires_on"),
        "recheck_days": typed.integer("edit-recheck_days"),
    }
    if not typed.ok:
        return ""
    if photo := photo_of(request, "edit-photo"):
        fields["photo"] = photo
    services.edit(plaque=one, by=person(request), at=timezone.now(), **fields)
    return _("Changed.")


def _sign(request: HttpRequest, typed: Typed, one: Plaque) -> str:
    name, expires_on = typed.text("sign-name", required=True, most=120), typed.day("sign-expires_on")
    if not typed.ok:
        return ""
    services.sign(plaque=one, signed_by=name, expires_on=expires_on, by=person(request), at=timezone.now())
    return _("Signed by %(name)s.") % {"name": name}


def _check(request: HttpRequest, typed: Typed, one: Plaque) -> str:
    outcome = typed.choice("check-outcome", {"passed", "failed"})
    given: dict[str, Any] = {
        "against": typed.pick("check-against", Plaque.objects.filter(plant=plant(request))),
        "gloss_gu": typed.quantity("check-gloss", "GU"),
        "note": typed.text("check-note"),
        "ref": typed.reference(),
    }
    if not typed.ok:
        return ""
    passed = outcome == "passed"
    services.check(plaque=one, passed=passed, by=person(request), at=timezone.now(), **given)
    return _("Checked: it is good.") if passed else _("Checked: it is not good; below is what was judged by it.")


def _copy(request: HttpRequest, typed: Typed, one: Plaque) -> str:
    given: dict[str, Any] = {
        "number": typed.text("copy-number", required=True, most=40),
        "place": typed.text("copy-place", most=80),
        "expires_on": typed.day("copy-expires_on"),
        "recheck_days": typed.integer("copy-recheck_days"),
        "ref": typed.reference(),
    }
    if not typed.ok:
        return ""
    made = services.make_copy(master=one, by=person(request), at=timezone.now(), **given)
    return _("Working copy %(number)s is made.") % {"number": made.number}


def _limit(request: HttpRequest, typed: Typed, one: Plaque) -> str:
    picked = {}
    for side in services.SIDES:
        if f"limit-{side}" in typed.names:
            picked[side] = typed.pick(f"limit-{side}", Plaque.objects.filter(plant=plant(request)))
    if not typed.ok:
        return ""
    services.set_limits(plaque=one, limits=picked, by=person(request), at=timezone.now())
    return _("The limits are set.")


def _withdraw(request: HttpRequest, typed: Typed, one: Plaque) -> str:
    why = typed.text("withdraw-why", required=True)
    if not typed.ok:
        return ""
    services.withdraw(plaque=one, why=why, by=person(request), at=timezone.now())
    return _("Withdrawn. Below is what was judged by it since it was last good.")


ACTS: dict[str, Callable[[HttpRequest, Typed, Plaque], str]] = {
    "edit": _edit,
    "sign": _sign,
    "check": _check,
    "copy": _copy,
    "limit": _limit,
    "withdraw": _withdraw,
}

urls: list[URLPattern] = [
    path("plaques/", plaques, name="plaques"),
    path("plaques/<int:plaque_id>/", plaque, name="plaque"),
]
