"""What every page shares: who may come in, how typed words become values, how a refusal is answered."""

from __future__ import annotations

import dataclasses
import functools
from collections.abc import Callable, Mapping
from typing import Any, cast

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django_htmx.http import HttpResponseClientRedirect

from shop.pages.typed import Typed
from shop.people import roles, wording
from shop.people.models import Person, Plant
from shop.refusal import Refused

View = Callable[..., HttpResponse]


class NotYours(Exception):
    """The person's role does not include what was asked for."""


def person(request: HttpRequest) -> Person:
    """Return who is signed in; the pages that call this are behind the sign-in."""
    return cast(Person, request.user)


def plant(request: HttpRequest) -> Plant:
    """Return the plant of whoever is signed in."""
    return person(request).plant


def demand(request: HttpRequest, ability: roles.Ability) -> None:
    """Let the person on if the role includes the ability. Raises NotYours."""
    if not roles.may(person(request), ability):
        raise NotYours(ability)


def door(ability: roles.Ability, *, post: roles.Ability | None = None) -> Callable[[View], View]:
    """Guard a page: `ability` to look at it, `post` (the same where not given) to send something."""

    def guard(view: View) -> View:
        @functools.wraps(view)
        def guarded(request: HttpRequest, *args: Any, **kwargs: Any) -> HttpResponse:
            try:
                demand(request, ability)
                if request.method == "POST":
                    demand(request, post or ability)
                return view(request, *args, **kwargs)
            except NotYours:
                return render(request, "parts/not_yours.html", status=403)

        return guarded

    return guard


@dataclasses.dataclass(frozen=True)
class Told:
    """A refusal as the form shows it: what is wrong, the next step, and the answers that are understood."""

    code: str
    words: str
    next_step: str
    field: str
    question: bool
    choices: tuple[tuple[str, str], ...]
    answered: Mapping[str, Any] = dataclasses.field(default_factory=dict)


def told(refused: Refused, reader: Person, answered: Mapping[str, Any] | None = None) -> Told:
    """Return the refusal in the reader's words and units."""
    return Told(
        code=refused.code,
        words=wording.say(refused, reader),
        next_step=wording.next_step(refused, reader),
        field=refused.field,
        question=refused.question,
        choices=tuple(wording.choices(refused, reader)),
        answered=answered or {},
    )


def answer(
    request: HttpRequest,
    template: str,
    context: dict[str, Any],
    refused: Refused | None = None,
    *,
    typed: Typed | None = None,
    part: str = "",
) -> HttpResponse:
    """Show a page, or only its `part` where htmx asks for it.

    With a refusal or a field not understood the status is 422 and the form comes back with everything typed.
    """
    if typed is not None and refused is not None and refused.field in typed.names:
        typed.find_fault(refused.field, wording.say(refused, person(request)))
    context["typed"] = typed or context.get("typed") or Typed.blank()
    context["refused"] = told(refused, person(request), context["typed"].answered) if refused else None
    if part and request.htmx and not request.htmx.boosted:  # type: ignore[attr-defined]
        template = f"{template}#{part}"
    return render(request, template, context, status=200 if refused is None and context["typed"].ok else 422)


def done(
    request: HttpRequest, words: str, to: str, *args: Any, query: str = "", anchor: str = ""
) -> HttpResponse:
    """Say what was done and go on to the page named `to`, so that a reload sends nothing again."""
    messages.success(request, words)
    address = reverse(to, args=args) + (f"?{query}" if query else "") + (f"#{anchor}" if anchor else "")
    if request.htmx:  # type: ignore[attr-defined]
        return HttpResponseClientRedirect(address)
    return HttpResponse(status=303, headers={"Location": address})
