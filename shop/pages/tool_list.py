"""Tool list: every tool, where it is, what it has run, its worst face, may it run."""

from __future__ import annotations

from typing import Any

import django_filters
from django.core.paginator import Paginator
from django.db.models import Q, QuerySet
from django.http import HttpRequest, HttpResponse
from django.urls import URLPattern, path
from django.utils.translation import gettext_lazy as _

from shop.boards.tool_list import tool_rows, tools_of
from shop.pages.doors import answer, door, plant
from shop.pages.typed import Typed
from shop.people.roles import Ability
from shop.tooling.models import Customer, Fitting, Tool
from shop.watch.models import Standing

ON_A_PAGE = 60


class ToolFilter(django_filters.FilterSet):  # type: ignore[misc]  # django-filter has no types
    """The list by its address: every choice is a word of the link."""

    text = django_filters.CharFilter(method="with_text")
    place = django_filters.ChoiceFilter(choices=Tool.Place.choices)
    status = django_filters.ChoiceFilter(choices=Tool.Status.choices, method="of_status")
    customer = django_filters.ModelChoiceFilter(queryset=Customer.objects.order_by("name"))
    state = django_filters.ChoiceFilter(choices=Standing.State.choices, method="with_face_in")

    def with_text(self, tools: QuerySet[Tool], _name: str, text: str) -> QuerySet[Tool]:
        """Return the tools whose number, title, part or insert has the words in it."""
        for word in text.split():
            found = Q(number__icontains=word) | Q(title__icontains=word) | Q(part_number__icontains=word)
            tools = tools.filter(found | Q(pk__in=Tool.objects.filter(inserts__number__iexact=word)))
        return tools

    def of_status(self, tools: QuerySet[Tool], _name: str, status: str) -> QuerySet[Tool]:
        """Return the tools of the status."""
        return tools.filter(status=status)

    def with_face_in(self, tools: QuerySet[Tool], _name: str, state: str) -> QuerySet[Tool]:
        """Return the tools that have a fitted face in the state."""
        fitted = Fitting.objects.now().values("insert")
        faces = Standing.objects.filter(state=state, face__insert__in=fitted)
        return tools.filter(pk__in=faces.values("face__insert__tool"))

    def filter_queryset(self, queryset: QuerySet[Tool]) -> Any:
        """Leave disposed tools out unless they are asked for."""
        tools = super().filter_queryset(queryset)
        return tools if self.form.cleaned_data.get("status") else tools.alive()


@door(Ability.READ)
def tool_list(request: HttpRequest) -> HttpResponse:
    """Show every tool of the plant that the address asks for."""
    wanted = ToolFilter(request.GET, queryset=tools_of(plant(request)))
    page = Paginator(wanted.qs.order_by("number"), ON_A_PAGE).get_page(request.GET.get("page"))
    asked = request.GET.copy()
    asked.pop("page", None)
    context = {
        "rows": tool_rows(page.object_list, plant(request)),
        "page": page,
        "asked": asked.urlencode(),
        "places": Tool.Place.choices,
        "statuses": Tool.Status.choices,
        "states": Standing.State.choices,
        "customers": [(one.pk, one.name) for one in Customer.objects.order_by("name")],
        "any": _("any"),
        "filtered": any(value for name, value in asked.items()),
        "narrowed": any(value for name, value in asked.items() if name != "text"),
        "typed": Typed(request.GET),
    }
    return answer(request, "tool_list/tool_list.html", context, part="rows")


urls: list[URLPattern] = [path("tools/", tool_list, name="tool-list")]
