"""Bench: work orders by their place in the way."""

from __future__ import annotations

from typing import Any

import django_filters as filters
from django.db.models import Q, QuerySet
from django.http import HttpRequest, HttpResponse
from django.urls import URLPattern, path
from django.utils import timezone

from shop.bench.models import OutsideHouse, WorkOrder
from shop.boards import bench_board
from shop.pages.doors import answer, door, person, plant
from shop.pages.typed import Typed
from shop.people.models import Person, Role
from shop.people.roles import Ability


class BenchFilter(filters.FilterSet):  # type: ignore[misc]  # django-filter brings no types
    """The orders as the address asks for them, so that a link is a saved view."""

    tool = filters.CharFilter(method="of_tool")
    polisher = filters.NumberFilter(field_name="polisher")
    house = filters.NumberFilter(field_name="outside_house")

    class Meta:
        model = WorkOrder
        fields: list[str] = []

    def of_tool(self, orders: QuerySet[WorkOrder], _name: str, value: str) -> QuerySet[WorkOrder]:
        """Keep the orders of tools whose number or title has these words, or whose own number has."""
        return orders.filter(
            Q(tool__number__icontains=value) | Q(tool__title__icontains=value) | Q(number__icontains=value)
        )


@door(Ability.READ)
def view(request: HttpRequest) -> HttpResponse:
    """Show the orders that have not ended, what waits for a decision first; the ended ones on demand."""
    asked = BenchFilter(request.GET, queryset=bench_board.open_orders(plant(request)))
    hands = Person.objects.filter(plant=plant(request), role__in=[Role.POLISHER, Role.LEAD], is_active=True)
    show_ended = request.GET.get("show") == "ended"
    context: dict[str, Any] = {
        "places": [] if show_ended else bench_board.bench_board(asked.qs, timezone.localdate()),
        "ended": bench_board.ended_orders(plant(request)) if show_ended else [],
        "show_ended": show_ended,
        "filtered": any(value for name, value in request.GET.items() if name != "show"),
        "hands": hands.order_by("name").values_list("pk", "name"),
        "houses": OutsideHouse.objects.filter(plant=plant(request)).order_by("name").values_list("pk", "name"),
    }
    return answer(request, "bench/bench.html", context, typed=Typed(request.GET, person(request)))


urls: list[URLPattern] = [path("bench/", view, name="bench")]
