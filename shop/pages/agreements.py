"""Studies of people who judge by eye: one to enter or paste, and what it says."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, render
from django.urls import URLPattern, path
from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from shop.boards.agreements import WEIGHT_WORDS, agreement_card
from shop.pages.doors import answer, done, door, person, plant
from shop.pages.studies import FAULTS_SHOWN, standings
from shop.pages.study_grid import Entered, Layout, grid, has_values, layout, lines, read_grid, start_of, with_pasted
from shop.pages.typed import Typed
from shop.people.roles import Ability
from shop.quality.models import AgreementStudy
from shop.quality.pasted import Pasted, among, read_pasted
from shop.quality.services.studies import enter_agreement_study
from shop.quality.study_results import category_names, rejecting
from shop.refusal import Refused
from shop.standards.agreement import WEIGHTS
from shop.tooling.models import Plaque

# What a form starts from, by the name in its address: the categories in their order, and which of them reject.
SETS: dict[str, tuple[Any, tuple[Any, ...], tuple[str, ...], str]] = {
    "accept": (gettext_lazy("accept or reject"), (gettext_lazy("accept"), gettext_lazy("reject")), ("reject",), "none"),
    "graded": (
        gettext_lazy("matches, slightly off, clearly off"),
        (gettext_lazy("matches"), gettext_lazy("slightly off"), gettext_lazy("clearly off")),
        ("clearly off",),
        "linear",
    ),
    "two-sided": (
        gettext_lazy("from clearly duller to clearly glossier"),
        (
            gettext_lazy("clearly duller"),
            gettext_lazy("slightly duller"),
            gettext_lazy("matches"),
            gettext_lazy("slightly glossier"),
            gettext_lazy("clearly glossier"),
        ),
        ("clearly duller", "clearly glossier"),
        "linear",
    ),
}
START = {"people": "A\nB\nC", "rows": 20, "trials": 2}


@door(Ability.READ)
def agreement(request: HttpRequest, study_id: int) -> HttpResponse:
    """Show how far the people of a study agree."""
    kept = _study(request, study_id)
    later = AgreementStudy.objects.filter(supersedes=kept).select_related("by").first()
    context = {"card": agreement_card(kept), "study": kept, "later": later, "standings": standings()}
    return render(request, "studies/agreement.html", context)


@door(Ability.KEEP_GAUGES)
def agreement_new(request: HttpRequest) -> HttpResponse:
    """Take a study of people who judge by eye; with an earlier one named, put that right."""
    posted = request.method == "POST"
    typed = Typed(request.POST, person(request)) if posted else Typed.blank(**_start(request))
    old = _put_right(request, typed)
    categories, pasted, refused = lines(typed, "categories"), Pasted(), None
    if posted:
        pasted = _pasted(typed, categories)
        if typed.was["do"] == "paste" and typed.ok and pasted.parts:
            typed = Typed(with_pasted(request.POST, pasted), person(request))
    taken = bool(pasted.parts and typed.was["paste"].strip())
    size = layout(Typed(typed.data) if taken else typed, fewest_trials=1)
    if posted and typed.was["do"] == "work out":
        given = _given(typed, size, pasted, request)
        try:
            if typed.ok:
                made = enter_agreement_study(supersedes=old, by=person(request), **given)
                return done(request, _("The study “%(title)s” is kept.") % {"title": made.title}, "agreement", made.pk)
        except Refused as said_no:
            refused = said_no
    context = {
        "old": old,
        "grid": grid(typed, size),
        "categories": categories,
        "pasted_faults": pasted.faults[:FAULTS_SHOWN],
        "more_pasted_faults": max(0, len(pasted.faults) - FAULTS_SHOWN),
        "sets": [(name, words) for name, (words, *_rest) in SETS.items()],
        "plaques": [(one.pk, str(one)) for one in Plaque.objects.filter(plant=plant(request)).order_by("number")],
        "weights": [(name, _(words)) for name, words in WEIGHT_WORDS.items()],
    }
    return answer(request, "studies/agreement_new.html", context, refused, typed=typed)


def _study(request: HttpRequest, study_id: int) -> AgreementStudy:
    ours = AgreementStudy.objects.filter(plant=plant(request), void=False)
    one: AgreementStudy = get_object_or_404(ours.select_related("plaque", "by", "supersedes"), pk=study_id)
    return one


def _put_right(request: HttpRequest, typed: Typed) -> AgreementStudy | None:
    named = typed.was["puts_right"]
    if not named:
        return None
    if not (named.isascii() and named.isdigit()):
        raise Http404
    return _study(request, int(named))


def _start(request: HttpRequest) -> dict[str, Any]:
    """Return what the form starts from: the study that is put right, or the set of categories in the address."""
    asked = Typed(request.GET)
    old = _put_right(request, asked)
    if old is None:
        _words, names, rejects, weights = SETS.get(asked.was["set"], SETS["accept"])
        return START | {
            "categories": "\n".join(map(str, names)), "rejects": "\n".join(_(name) for name in rejects),
            "weights": weights, "master": "yes",
        }  # fmt: skip
    return {
        "puts_right": old.pk, "title": old.title, "plaque": old.plaque_id or "", "weights": old.weights,
        "categories": "\n".join(category_names(old)), "rejects": "\n".join(rejecting(old)), "note": old.note,
        "people": "\n".join(old.people), "row_names": "\n".join(old.pieces), "rows": len(old.pieces),
        "trials": len(old.judgements[0][0]), "at": timezone.localtime(old.at).strftime("%Y-%m-%dT%H:%M"),
        **({"master": "yes"} if old.master else {}), **start_of(old.judgements, old.master),
    }  # fmt: skip


def _pasted(typed: Typed, categories: tuple[str, ...]) -> Pasted:
    """Return the pasted table; that it cannot be read, or would write over the grid, is noted at its field."""
    text, act = typed.was["paste"], typed.was["do"]
    if act == "lay out" or not text.strip():
        if act == "paste":
            typed.find_fault("paste", _("Nothing is pasted yet."))
        return Pasted()
    if has_values(typed) and not typed.ticked("replace"):
        typed.find_fault(
            "paste", _("The grid has values already. Tick that they may be replaced, or empty this field.")
        )
        return Pasted()
    pasted = read_pasted(text, among(categories))
    if pasted.faults:
        typed.find_fault("paste", _("The table cannot be taken as it is; see below where and why."))
    return pasted


def _given(typed: Typed, size: Layout, pasted: Pasted, request: HttpRequest) -> dict[str, Any]:
    categories = lines(typed, "categories")
    entered = _entered(typed, size, pasted, among(categories))
    return {
        "plant": plant(request),
        "title": typed.text("title", required=True, most=120),
        "categories": categories,
        "rejects": lines(typed, "rejects"),
        "people": entered.people,
        "pieces": entered.rows,
        "judgements": entered.values,
        "master": entered.master,
        "plaque": typed.pick("plaque", Plaque.objects.filter(plant=plant(request))),
        "weights": typed.choice("weights", WEIGHTS),
        "note": typed.text("note"),
        "why": typed.text("why", required=bool(typed.was["puts_right"])),
        "at": typed.moment("at") or timezone.now(),
        "ref": typed.reference(),
    }


def _entered(typed: Typed, size: Layout, pasted: Pasted, read: Callable[[str], str]) -> Entered:
    if typed.was["paste"].strip():
        values = [[list(cell) for cell in row] for row in pasted.values]
        return Entered(pasted.parts, pasted.people, values, list(pasted.master) if pasted.master else None)
    return read_grid(typed, size, read)


urls: list[URLPattern] = [
    path("studies/by-eye/new/", agreement_new, name="agreement-new"),
    path("studies/by-eye/<int:study_id>/", agreement, name="agreement"),
]
