"""Work order: why, which faces, the route, bookings, steel check, parts check, release, paper."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404
from django.urls import URLPattern, path
from django.utils import timezone
from django.utils.translation import gettext_lazy as _

from shop.bench.models import OutsideHouse, Work, WorkOrder
from shop.boards import order_sheet
from shop.boards.order_sheet import OrderSheet
from shop.pages import vice
from shop.pages.doors import answer, demand, done, door, person, plant
from shop.pages.order_acts import ACTS, STOP_KINDS, Act, Asked, Incomplete
from shop.pages.typed import Typed
from shop.paper import pdf
from shop.people.models import Person, Role
from shop.people.roles import Ability
from shop.quality.models import Inspection
from shop.refusal import Refused
from shop.tooling.models import Face, HowMade

# Acts that are a button alone, in the order in which they are offered.
MOVES = (
    ("start", _("Start the work")),
    ("hand_over", _("Hand over to the steel check")),
    ("resume", _("Go on")),
    ("come_back", _("Back from outside, to the steel check")),
    ("back_to_bench", _("Back to the bench, there is more to do")),
    ("send_out", _("Send it out now")),
    ("take_back", _("Take it back")),
)
SIGNATURES = {"sign_steel", "sign_parts", "fail_parts", "release", "buy_off"}
WORDS = {
    "turn_down": _("Turn it down"),
    "turn_down_help": _("It is shown on the record, and the calls behind it are closed with it."),
    "withdraw": _("Withdraw the order"),
    "withdraw_help": _("It is shown on the record."),
    "stop": _("Stop the work"),
    "stop_help": _("What was found, where, how deep."),
    "fail": _("Send it back"),
    "fail_help": _("What failed, and what is to be done about it."),
}


class Forms:
    """The forms of the page by name: the one that was sent has what was typed into it, the others are blank."""

    def __init__(self, did: str, typed: Typed) -> None:
        self.did, self.typed = did, typed

    def __getitem__(self, name: str) -> Typed:
        return self.typed if name == self.did else Typed.blank()


@door(Ability.READ)
def view(request: HttpRequest, order_id: int) -> HttpResponse:
    """Show one work order; do what its form asks for."""
    order = _order(request, order_id)
    if request.method != "POST":
        return _show(request, order, typed=Typed(request.GET, person(request)))
    typed = Typed(request.POST, person(request))
    name = typed.choice("do", ACTS)
    if not typed.ok:
        return _show(request, order, typed=typed)
    act = ACTS[name]
    demand(request, act.ability)
    try:
        words = act.do(Asked(order, typed, person(request), timezone.now()))
    except Incomplete:
        return _again(request, order, None, typed, name)
    except Refused as refused:
        if not _done_before(order, act, refused):
            return _again(request, order, refused, typed, name)
        words = str(_("This was done already."))
    if typed.was["back"] == "vice":
        return done(request, words, "vice")
    return done(request, words, "work-order", order.pk)


def _again(request: HttpRequest, order: WorkOrder, refused: Refused | None, typed: Typed, name: str) -> HttpResponse:
    """Show the page that the form was on, with the form as it was sent."""
    if typed.was["back"] == "vice":
        line = typed.was["line"]
        line_id = int(line) if line.isascii() and line.isdigit() else None
        return vice.show(request, refused, typed=typed, did=name, order_id=order.pk, line_id=line_id)
    return _show(request, order, refused, typed=typed, did=_form(name, typed))


def _form(name: str, typed: Typed) -> str:
    """Return which form on the page an act came from: each line has its own, and each step."""
    one = typed.was["line"] or typed.was["step"]
    return f"{name}-{one}" if one else name


def show_refused(request: HttpRequest, order: WorkOrder, refused: Refused, typed: Typed) -> HttpResponse:
    """Show the order again with a refusal that came from elsewhere, as from its paper."""
    return _show(request, order, refused, typed=typed, did="traveller")


def _order(request: HttpRequest, order_id: int) -> WorkOrder:
    orders = WorkOrder.objects.in_plant(plant(request)).select_related(
        "tool__plant", "tool__customer", "polisher", "outside_house"
    )
    order: WorkOrder = get_object_or_404(orders, pk=order_id)
    return order


def _done_before(order: WorkOrder, act: Act, refused: Refused) -> bool:
    """Return whether a refused act is the second tap on a button whose first tap went through."""
    if refused.code == "line.closed" and act is ACTS["drop_line"]:
        return True
    if refused.code not in ("order.no_arrow", "order.wrong_state"):
        return False
    order.refresh_from_db(fields=["state"])
    return order.state in act.done_in


def _show(
    request: HttpRequest, order: WorkOrder, refused: Refused | None = None, *, typed: Typed, did: str = ""
) -> HttpResponse:
    order = _order(request, order.pk)
    sheet = order_sheet.order_sheet(order, timezone.now())
    may = order_sheet.may_now(sheet, person(request))
    context = {
        "forms": Forms(did, typed),
        "words": WORDS,
        "may_move": [(name, words) for name, words in MOVES if name in may],
        "stop_kinds": STOP_KINDS.items(),
        "order": order,
        "tool": order.tool,
        "sheet": sheet,
        "may": may,
        "waits": bool(may - {"traveller"}),
        "did": did,
        "inspection": "",
        # Steps that nobody has signed while the work is on: handing over is not what is next.
        "unsigned": "hand_over" in may and any(row.next_step for row in sheet.lines),
        "homeless": _homeless(did, typed, sheet, may),
        "works": Work.choices,
        "hows": HowMade.choices,
        "paper_missing": pdf.available(),
        "paper_sizes": [(size, size) for size in pdf.SIZES],
        **(_planning_choices(sheet, request) if may & {"give", "add_line"} else {}),
        **(_signing(sheet, request, typed) if may & SIGNATURES else {}),
    }
    return answer(request, "work_order/work_order.html", context, refused, typed=typed)


def _homeless(did: str, typed: Typed, sheet: OrderSheet, may: frozenset[str]) -> bool:
    """Return whether the form that was sent is no longer on the page, so that its answer stands at the top."""
    name = did.partition("-")[0]
    if name not in ACTS:
        return bool(did or typed.fault) and name != "traveller"
    rows = [row for row in sheet.lines if row.line.closed_at is None]
    if name == "step":
        return "step" not in may or typed.was["step"] not in {str(row.next_step.pk) for row in rows if row.next_step}
    if typed.was["line"] and typed.was["line"] not in {str(row.line.pk) for row in rows}:
        return True
    return (ACTS[name].shown or name) not in may


def _planning_choices(sheet: OrderSheet, request: HttpRequest) -> dict[str, Any]:
    order = sheet.order
    here = {row.line.face_id for row in sheet.lines if row.line.closed_at is None}
    faces = Face.objects.in_tool(order.tool).filter(insert__retired_at__isnull=True).select_related("insert")
    polishers = Person.objects.filter(plant=plant(request), is_active=True, role__in=[Role.POLISHER, Role.LEAD])
    houses = list(OutsideHouse.objects.filter(plant=plant(request)).order_by("name"))
    today = timezone.localdate()
    due_on = max(order.due_on, today) if order.due_on else today + timedelta(days=plant(request).lead_time_days)
    return {
        "polishers": polishers.order_by("role", "name").values_list("pk", "name"),
        "houses": [(house.pk, f"{house} ({house.lead_time_days} d)") for house in houses],
        "due_on": due_on.isoformat(),
        "faces_to_add": [(face.pk, str(face)) for face in faces if face.pk not in here],
    }


def _signing(sheet: OrderSheet, request: HttpRequest, typed: Typed) -> dict[str, Any]:
    kind = Inspection.Kind.STEEL_CHECK if sheet.order.state == "steel check" else Inspection.Kind.PARTS_CHECK
    counted = sheet.checked.inspections if sheet.checked else ()
    asked = typed.was["inspection"]
    return {
        "check_kind": kind,
        "own_work": order_sheet.own_work(sheet.order, person(request)),
        "may_override": plant(request).release_override,
        "inspections": Inspection.objects.filter(pk__in=counted).order_by("at", "pk"),
        # Whoever comes from an inspection signs by it, as long as it is one that counts here.
        "inspection": asked if asked in {str(pk) for pk in counted} else "",
    }


urls: list[URLPattern] = [path("work-orders/<int:order_id>/", view, name="work-order")]
