"""Questions: what only a person can tell about readings, answered in one tap."""

from __future__ import annotations

from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404
from django.urls import URLPattern, path
from django.utils import timezone
from django.utils.translation import gettext as _

from shop import loop
from shop.boards import questions as board
from shop.pages.doors import answer, done, door, person, plant
from shop.pages.typed import Typed
from shop.people.roles import Ability
from shop.refusal import Refused
from shop.watch.models import Question


@door(Ability.READ, post=Ability.MEASURE)
def view(request: HttpRequest, refused: Refused | None = None) -> HttpResponse:
    """Show what is asked, and keep an answer."""
    if request.method == "POST":
        mine = Question.objects.in_plant(plant(request))
        question = get_object_or_404(mine, pk=request.POST.get("question") or 0)
        try:
            loop.question_answered(
                question=question,
                said=request.POST.get("answer", ""),
                note=request.POST.get("note", ""),
                by=person(request),
                at=timezone.now(),
            )
            if request.POST.get("answer") == Question.Answer.WRONG:
                words = _("Put the reading right here, or take it away; the answer is kept.")
                return done(request, words, "measure-correct", question.reading_id)
            return done(request, _("Kept. The forecasts rest on it now."), "questions", query=request.GET.urlencode())
        except Refused as problem:
            refused = problem
    tool = request.GET.get("tool", "")
    context = {"asked": board.questions(plant(request), tool), "tool": tool}
    return answer(request, "questions/questions.html", context, refused, typed=Typed(request.GET, person(request)))


urls: list[URLPattern] = [path("questions/", view, name="questions")]
