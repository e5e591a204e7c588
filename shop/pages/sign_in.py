"""Sign in, sign out, and the ground (paper or blued steel) that a screen shows."""

from __future__ import annotations

from django.contrib.auth import authenticate, login, logout
from django.contrib.auth.decorators import login_not_required
from django.http import HttpRequest, HttpResponse, HttpResponseRedirect
from django.shortcuts import render
from django.urls import URLPattern, path
from django.utils.http import url_has_allowed_host_and_scheme
from django.utils.translation import gettext as _
from django.views.decorators.cache import never_cache
from django.views.decorators.debug import sensitive_post_parameters
from django.views.decorators.http import require_POST

from shop.pages import kept
from shop.pages.doors import door
from shop.pages.middleware import GROUND_COOKIE, GROUNDS
from shop.people import wording
from shop.people.models import Person
from shop.people.roles import Ability

YEAR_SECONDS = 365 * 24 * 3600


@login_not_required
@never_cache
@sensitive_post_parameters("password")
def sign_in(request: HttpRequest) -> HttpResponse:
    """Let somebody in by name and password, and give back the form they were about to send."""
    context = {
        "next": request.POST.get("next") or request.GET.get("next", ""),
        "kept": request.POST.get("kept", ""),
        "username": request.POST.get("username", ""),
    }
    if request.method != "POST":
        return render(request, "sign_in/sign_in.html", context)
    found = authenticate(
        request,
        username=str(context["username"]).strip().lower(),
        password=request.POST.get("password", ""),
    )
    if not isinstance(found, Person):
        context["fault"] = _("Name and password do not belong together. Check both and try again.")
        return render(request, "sign_in/sign_in.html", context, status=422)
    login(request, found)
    form = kept.unpack(str(context["kept"]), request) if context["kept"] else None
    if form is not None:
        with wording.reading_as(found):
            return render(request, "sign_in/kept_form.html", {"form": form, "stale": False})
    return HttpResponseRedirect(_safe(request, str(context["next"])))


@require_POST
@login_not_required
def sign_out(request: HttpRequest) -> HttpResponse:
    """Leave the tablet to the next person."""
    logout(request)
    return HttpResponseRedirect("/sign-in/")


@require_POST
@door(Ability.READ)
def ground(request: HttpRequest) -> HttpResponse:
    """Keep the chosen ground in a cookie of this screen; anything else follows the device."""
    response = HttpResponseRedirect(_safe(request, request.POST.get("back", "")))
    chosen = request.POST.get("ground", "")
    if chosen in GROUNDS:
        response.set_cookie(GROUND_COOKIE, chosen, max_age=YEAR_SECONDS, samesite="Lax", httponly=True)
    else:
        response.delete_cookie(GROUND_COOKIE)
    return response


def _safe(request: HttpRequest, address: str) -> str:
    """Return the address where it is one of ours, else home."""
    ours = url_has_allowed_host_and_scheme(
        address, allowed_hosts={request.get_host()}, require_https=request.is_secure()
    )
    return address if address and ours else "/"


urls: list[URLPattern] = [
    path("sign-in/", sign_in, name="sign-in"),
    path("sign-out/", sign_out, name="sign-out"),
    path("ground/", ground, name="ground"),
]
