"""Paper: a traveller is issued; documents and stored files are opened as they were kept."""

from __future__ import annotations

from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404
from django.urls import URLPattern, path, reverse
from django.utils import timezone
from django.utils.http import content_disposition_header
from django.utils.translation import gettext as _
from django.views.decorators.http import require_POST

from shop.bench.models import Booking, WorkOrder
from shop.boards import traveller
from shop.pages import photo, work_order
from shop.pages.doors import done, door, person, plant
from shop.pages.typed import Typed
from shop.paper import pdf, services
from shop.paper.models import Document, StoredFile
from shop.people.roles import Ability
from shop.press.models import Damage
from shop.quality.models import Calibration, Inspection, Reading
from shop.refusal import Refused
from shop.tooling.models import Plaque

PDF = "application/pdf"
NOT_SHOWN = "application/octet-stream"


@door(Ability.BENCH_WORK)
@require_POST
def issue(request: HttpRequest, order_id: int) -> HttpResponse:
    """Issue the traveller of an order on the paper asked for."""
    order = get_object_or_404(WorkOrder.objects.in_plant(plant(request)).select_related("tool__plant"), pk=order_id)
    typed = Typed(request.POST, person(request))
    address = request.build_absolute_uri(reverse("work-order", args=[order.pk]))
    size = typed.was["paper_size"] if typed.was["paper_size"] in pdf.SIZES else plant(request).paper_size
    try:
        document = services.issue(
            kind=Document.Kind.TRAVELLER,
            subject=traveller.subject_of(order),
            number=f"{order.number}-T",
            template="paper/traveller.html",
            snapshot=traveller.traveller(order, timezone.now(), address=address, reader=person(request)),
            language=person(request).language,
            paper_size=size,
            ref=typed.reference(),
            by=person(request),
            at=timezone.now(),
        )
    except Refused as refused:
        return work_order.show_refused(request, order, refused, typed)
    words = _("Traveller %(number)s is issued.") % {"number": document.number}
    return done(request, words, "work-order", order.pk, anchor="paper")


@door(Ability.READ)
def document(request: HttpRequest, number: str) -> HttpResponse:
    """Open a document as it was issued."""
    ours = Document.objects.filter(by__plant=plant(request)).select_related("file")
    return _opened(get_object_or_404(ours, number=number).file)


@door(Ability.READ)
def file(request: HttpRequest, sha256: str) -> HttpResponse:
    """Open a photo of the plant's own."""
    kept = get_object_or_404(StoredFile, sha256=sha256)
    if not _ours(kept, request):
        raise Http404
    return _opened(kept)


def _ours(kept: StoredFile, request: HttpRequest) -> bool:
    here = plant(request)
    return (
        Damage.objects.filter(photo=kept, tool__plant=here).exists()
        or Inspection.objects.filter(photo=kept, tool__plant=here).exists()
        or Reading.objects.filter(trace=kept, inspection__tool__plant=here).exists()
        or Booking.objects.filter(photo=kept, line__order__tool__plant=here).exists()
        or Plaque.objects.filter(photo=kept, plant=here).exists()
        or Calibration.objects.filter(file=kept, gauge__plant=here).exists()
    )


def _opened(kept: StoredFile) -> HttpResponse:
    try:
        content = services.read_file(kept)
    except Refused as refused:
        raise Http404(refused.plain()) from refused
    # What is none of ours to show is handed out to be kept, and a photo is opened where nothing in it can run.
    shown = kept.media_type if kept.media_type in {*photo.SHOWN, PDF} else NOT_SHOWN
    answer = HttpResponse(content, content_type=shown)
    answer["Content-Disposition"] = content_disposition_header(shown == NOT_SHOWN, kept.name) or "attachment"
    answer["X-Content-Type-Options"] = "nosniff"
    if shown != PDF:  # no browser opens a PDF inside a sandbox
        answer["Content-Security-Policy"] = "default-src 'none'; sandbox"
    return answer


urls: list[URLPattern] = [
    path("work-orders/<int:order_id>/traveller/", issue, name="issue-traveller"),
    path("documents/<str:number>/", document, name="document"),
    path("files/<str:sha256>/", file, name="file"),
]
