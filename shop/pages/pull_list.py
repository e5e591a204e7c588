"""Pull list: what must come to the bench, in order of the shots left, and why."""

from __future__ import annotations

from datetime import timedelta
from typing import Any, cast
from urllib.parse import urlencode

import django_filters as filters
from django.core.paginator import Paginator
from django.db.models import Q, QuerySet
from django.http import HttpRequest, HttpResponse
from django.urls import URLPattern, path
from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from shop.boards import pull_list
from shop.boards.costs import money
from shop.pages.doors import answer, door, person, plant
from shop.pages.typed import Typed
from shop.people import wording
from shop.people.roles import Ability
from shop.tooling.models import Customer
from shop.watch.models import Standing

ROWS_A_PAGE = 40
HORIZONS_DAYS = (7, 14, pull_list.AHEAD_DAYS, 90)
BESIDES = (
    ("whole-plant", gettext_lazy("Whole plant")),
    ("planned-runs", gettext_lazy("Planned runs")),
    ("policy", gettext_lazy("When faces are called")),
)


class PullFilter(filters.FilterSet):  # type: ignore[misc]  # django-filter brings no types
    """The list as its address asks for it, so that a link is a saved view."""

    tool = filters.CharFilter(method="of_tool")
    state = filters.ChoiceFilter(choices=Standing.State.choices)
    customer = filters.NumberFilter(field_name="face__insert__tool__customer")
    within = filters.NumberFilter(method="due_within")
    show = filters.CharFilter(method="shown", empty_value="")

    class Meta:
        model = Standing
        fields: list[str] = []

    def of_tool(self, faces: QuerySet[Standing], _name: str, value: str) -> QuerySet[Standing]:
        """Keep the faces of tools whose number or title has these words."""
        return faces.filter(
            Q(face__insert__tool__number__icontains=value) | Q(face__insert__tool__title__icontains=value)
        )

    def due_within(self, faces: QuerySet[Standing], _name: str, value: Any) -> QuerySet[Standing]:
        """Keep the faces that are due within so many days."""
        return faces.filter(due_on__lte=timezone.localdate() + timedelta(days=int(value)))

    def filter_queryset(self, queryset: QuerySet[Standing]) -> QuerySet[Standing]:
        """Leave out the faces that ask for nothing, unless all are asked for."""
        faces: QuerySet[Standing] = super().filter_queryset(queryset)
        return faces if self.data.get("show") == "all" else pull_list.needing(faces)

    def shown(self, faces: QuerySet[Standing], _name: str, _value: str) -> QuerySet[Standing]:
        """Leave the choice to `filter_queryset`, which also sees it when it is not made."""
        return faces


@door(Ability.READ)
def view(request: HttpRequest) -> HttpResponse:
    """Show the faces in order of the shots left before their limit."""
    by_tool = request.GET.get("by") == "tool"
    asked = PullFilter(request.GET, queryset=pull_list.in_order(plant(request), by_tool=by_tool))
    page = Paginator(asked.qs, ROWS_A_PAGE).get_page(request.GET.get("page"))
    standings = cast("QuerySet[Standing]", page.object_list)
    kept = {name: value for name, value in request.GET.items() if value and name != "page"}
    customers = Customer.objects.filter(tools__plant=plant(request)).distinct().order_by("name")
    today = timezone.localdate()
    coming = pull_list.ahead(pull_list.in_order(plant(request)), plant(request), today)
    context = {
        "ahead": coming,
        "ahead_days": pull_list.AHEAD_DAYS,
        "waiting": money(coming.waiting, coming.currency),
        "bad_shots": wording.shots(round(coming.bad_shots)),
        "within": kept.get("within", ""),
        "besides": BESIDES,
        "rows": pull_list.pull_list(standings, plant(request)),
        "page": page,
        "by_tool": by_tool,
        "filtered": bool(kept.keys() - {"by"}),
        "narrowed": bool(kept.keys() - {"by", "tool"}),
        "address": urlencode(kept),
        "address_by_face": urlencode({name: value for name, value in kept.items() if name != "by"}),
        "address_by_tool": urlencode({**kept, "by": "tool"}),
        "states": Standing.State.choices,
        "customers": customers.values_list("pk", "name"),
        "horizons": [(days, _("within %(days)s days") % {"days": days}) for days in HORIZONS_DAYS],
        "shows": [("all", _("all that are fitted"))],
        "on_concession": _("on concession"),
    }
    return answer(request, "pull_list/pull_list.html", context, typed=Typed(request.GET, person(request)))


urls: list[URLPattern] = [path("pull-list/", view, name="pull-list")]
