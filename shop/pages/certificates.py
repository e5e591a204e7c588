"""Certificates: of a face from its tool, of a tool once its order is released; issued, issued again, cancelled."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404
from django.urls import URLPattern, path, reverse
from django.utils import timezone
from django.utils.translation import gettext as _

from shop.bench.models import WorkOrder
from shop.bench.states import State
from shop.boards import certificate as board
from shop.boards import certified as proof
from shop.boards import documents
from shop.pages.doors import answer, done, door, person, plant
from shop.pages.typed import Typed
from shop.paper import pdf, services
from shop.paper.models import Document
from shop.people.roles import Ability
from shop.refusal import Refused
from shop.tooling.models import Face

MOST = 200


@door(Ability.READ)
def certificates(request: HttpRequest) -> HttpResponse:
    """List what was certified, the latest first."""
    rows = documents.of_plant(Document.Kind.CERTIFICATE, plant(request), most=MOST)
    return answer(request, "records/certificates.html", {"documents": rows, "cancels": False})


@door(Ability.READ, post=Ability.JUDGE_RELEASE)
def face(request: HttpRequest, face_id: int) -> HttpResponse:
    """Show what a certificate of a face would rest on, and issue it."""
    ours = Face.objects.filter(insert__tool__plant=plant(request))
    one: Face = get_object_or_404(ours.select_related("insert__tool__plant", "insert__tool__customer"), pk=face_id)
    found = proof.of_face(one, timezone.now())
    back = f"{reverse('tool', args=[one.insert.tool_id])}?face={one.pk}#face"
    return _door(request, found, one, back, issue_at=lambda at: proof.of_face(one, at))


@door(Ability.READ, post=Ability.JUDGE_RELEASE)
def order(request: HttpRequest, order_id: int) -> HttpResponse:
    """Show what a certificate of a released order's faces would rest on, and issue it."""
    ours = WorkOrder.objects.in_plant(plant(request)).filter(state=State.RELEASED)
    one: WorkOrder = get_object_or_404(ours.select_related("tool__plant", "tool__customer"), pk=order_id)
    found = proof.of_order(one, timezone.now())
    return _door(request, found, one, reverse("work-order", args=[one.pk]), issue_at=lambda at: proof.of_order(one, at))


def _door(
    request: HttpRequest, found: proof.Certified, thing: Face | WorkOrder, back: str, *, issue_at: Callable[[Any], Any]
) -> HttpResponse:
    typed, refused = Typed(request.POST, person(request)), None
    about = thing if isinstance(thing, Face) else thing.tool
    if request.method == "POST":
        try:
            document = _issued(request, typed, issue_at(timezone.now()), thing)
            words = _("Certificate %(number)s is issued.") % {"number": document.number}
            name = "certificate-face" if isinstance(thing, Face) else "certificate-order"
            return done(request, words, name, thing.pk, anchor="paper")
        except Refused as one:
            refused = one
    context: dict[str, Any] = {
        "found": found,
        "thing": thing,
        "of_face": isinstance(thing, Face),
        "statement": board.statement(found),
        "back": back,
        "documents": documents.of_subject(Document.Kind.CERTIFICATE, board.subject_of(about)),
        "cancels": True,
        "paper_sizes": [(size, size) for size in pdf.SIZES],
        "paper_missing": pdf.available(),
    }
    return answer(request, "records/certificate.html", context, refused, typed=typed)


def _issued(request: HttpRequest, typed: Typed, found: proof.Certified, thing: Face | WorkOrder) -> Document:
    proof.check(found)
    name = "certificate-face" if isinstance(thing, Face) else "certificate-order"
    address = request.build_absolute_uri(reverse(name, args=[thing.pk]))
    size = typed.was["paper_size"] if typed.was["paper_size"] in pdf.SIZES else plant(request).paper_size
    return services.issue(
        **board.issue_of(found, thing, address=address),
        language=person(request).language,
        paper_size=size,
        ref=typed.reference(),
        by=person(request),
        at=timezone.now(),
    )


@door(Ability.READ, post=Ability.JUDGE_RELEASE)
def cancel(request: HttpRequest, number: str) -> HttpResponse:
    """Take a certificate out of use and say why; its bytes stay."""
    ours = Document.objects.filter(by__plant=plant(request), kind=Document.Kind.CERTIFICATE)
    one = get_object_or_404(ours.select_related("by"), number=number)
    typed, refused = Typed(request.POST, person(request)), None
    if request.method == "POST":
        try:
            services.cancel(document=one, why=typed.text("why"), by=person(request), at=timezone.now())
            return done(request, _("%(number)s is cancelled.") % {"number": one.number}, "certificates")
        except Refused as said_no:
            refused = said_no
    return answer(request, "records/cancel.html", {"document": one}, refused, typed=typed)


urls: list[URLPattern] = [
    path("certificates/", certificates, name="certificates"),
    path("certificates/face/<int:face_id>/", face, name="certificate-face"),
    path("certificates/work-order/<int:order_id>/", order, name="certificate-order"),
    path("documents/<str:number>/cancel/", cancel, name="document-cancel"),
]
