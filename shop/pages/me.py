"""My page: the language, units and decimal sign somebody reads, and their password."""

from __future__ import annotations

from typing import Any

from django.conf import settings
from django.contrib import messages
from django.contrib.auth import update_session_auth_hash
from django.contrib.auth.forms import PasswordChangeForm
from django.http import HttpRequest, HttpResponse, HttpResponseRedirect
from django.urls import URLPattern, path, reverse
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.cache import never_cache
from django.views.decorators.debug import sensitive_post_parameters
from django.views.decorators.http import require_POST

from shop.pages.doors import answer, door, person
from shop.pages.typed import Typed
from shop.people import services, wording
from shop.people.models import DecimalSign, Person, UnitSystem
from shop.people.roles import Ability
from shop.refusal import Refused

AS_THE_PLANT = "plant"


@door(Ability.READ)
def me(request: HttpRequest) -> HttpResponse:
    """Choose how everything is worded for me."""
    reader = person(request)
    if request.method != "POST":
        return _page(request)
    typed = Typed(request.POST, reader)
    chosen = {
        "language": typed.choice("language", dict(settings.LANGUAGES)),
        "units": _own(typed.choice("units", [AS_THE_PLANT, *UnitSystem.values])),
        "decimal_sign": _own(typed.choice("decimal_sign", [AS_THE_PLANT, *DecimalSign.values])),
    }
    refused = None
    if typed.ok:
        try:
            changed = services.change_person(person=reader, by=reader, at=timezone.now(), **chosen)
        except Refused as said_no:
            refused = said_no
        else:
            return _kept(request, changed)
    return _page(request, typed=typed, refused=refused)


def _own(chosen: str) -> str:
    return "" if chosen == AS_THE_PLANT else chosen


def _kept(request: HttpRequest, changed: Person) -> HttpResponse:
    # Said in the language that was chosen just now.
    with wording.reading_as(changed):
        messages.success(request, _("Kept: every page is worded for you like this."))
    return HttpResponseRedirect(reverse("me"), status=303)


@sensitive_post_parameters()
@never_cache
@require_POST
@door(Ability.READ)
def password(request: HttpRequest) -> HttpResponse:
    """Change my password, by Django's own form; I stay signed in here and nowhere else."""
    reader, refused = person(request), None
    form = PasswordChangeForm(reader, request.POST)
    if form.is_valid():
        try:
            chosen = form.cleaned_data["new_password1"]
            changed = services.set_password(person=reader, password=chosen, by=reader, at=timezone.now())
        except Refused as said_no:
            refused = said_no
        else:
            update_session_auth_hash(request, changed)
            messages.success(request, _("Your password is changed. Other devices ask for it anew."))
            return HttpResponseRedirect(reverse("me"), status=303)
    return _page(request, form=form, refused=refused)


def _page(
    request: HttpRequest,
    *,
    typed: Typed | None = None,
    form: PasswordChangeForm | None = None,
    refused: Refused | None = None,
) -> HttpResponse:
    reader = person(request)
    context: dict[str, Any] = {
        "languages": settings.LANGUAGES,
        "units": [(AS_THE_PLANT, _as_the_plant(str(UnitSystem(reader.plant.units).label))), *UnitSystem.choices],
        "signs": [(AS_THE_PLANT, _as_the_plant(str(_plant_sign(reader).label))), *DecimalSign.choices],
        "chosen_units": reader.units or AS_THE_PLANT,
        "chosen_sign": reader.decimal_sign or AS_THE_PLANT,
        "form": form or PasswordChangeForm(reader),
        "of_password": form is not None,
    }
    response = answer(request, "me/me.html", context, refused, typed=typed)
    if form is not None:
        response.status_code = 422
    return response


def _as_the_plant(words: str) -> str:
    return _("as the plant: %(words)s") % {"words": words}


def _plant_sign(reader: Person) -> DecimalSign:
    return DecimalSign.COMMA if reader.plant.decimal_comma else DecimalSign.POINT


urls: list[URLPattern] = [
    path("me/", me, name="me"),
    path("me/password/", password, name="me-password"),
]
