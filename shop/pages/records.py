"""Records: what can be shown to a customer or an auditor, a section a kind of record."""

from __future__ import annotations

from django.http import HttpRequest, HttpResponse
from django.urls import URLPattern, path
from django.utils import timezone

from shop.boards import concessions, suspects
from shop.pages.doors import answer, door, plant
from shop.people.roles import Ability

# A kind of record joins by a part of its own, named here.
SECTIONS = (
    "records/suspects_part.html",
    "records/concessions_part.html",
    "records/certificates_part.html",
    "records/quality_part.html",
    "records/standards_part.html",
    "records/lives_part.html",
)


@door(Ability.READ)
def records(request: HttpRequest) -> HttpResponse:
    """Show every kind of record with its way in."""
    now = timezone.now()
    context = {
        "parts": SECTIONS,
        "suspects": suspects.worklist(plant(request), now),
        "concessions": concessions.counts(concessions.concession_list(plant(request), now)),
    }
    return answer(request, "records/records.html", context)


urls: list[URLPattern] = [path("records/", records, name="records")]
