"""Planned runs and the whole plant, as their people use them."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime, timedelta
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from shop import loop
from shop.boards import weeks_ahead
from shop.people.models import Person
from shop.press.models import PlannedRun
from tests.factories import Built, build_tool, satin

DAY = timedelta(days=1)


@pytest.fixture
def built(lead: Person) -> Built:
    at = timezone.now() - 10 * DAY
    built = build_tool(lead, at, cavities=2)
    for face in built.faces.values():
        satin(face, lead, at)
    loop.brought_up_to_date([face.pk for face in built.faces.values()], at=timezone.now())
    return built


def typed(built: Built, **given: Any) -> dict[str, Any]:
    now = timezone.now()
    asked = {
        "do": "plan", "tool": built.tool.pk, "shots": "12000", "order_number": "A-77",
        "starts_at": f"{now + 2 * DAY:%Y-%m-%dT%H:%M}", "ends_at": f"{now + 9 * DAY:%Y-%m-%dT%H:%M}",
    }  # fmt: skip
    return {**asked, **given}


def test_press_tech_plans_a_run_sees_it_drawn_and_cancels_it(client: Client, built: Built, press_tech: Person) -> None:
    client.force_login(press_tech)
    assert "Nothing is planned." in client.get(reverse("planned-runs")).content.decode()
    assert client.post(reverse("planned-runs"), typed(built)).status_code == 303
    page = client.get(reverse("planned-runs")).content.decode()
    assert "A-77" in page
    assert 'class="drawing run-plan"' in page
    run = PlannedRun.objects.get()
    assert client.post(reverse("planned-runs"), {"do": "cancel", "run": run.pk, "why": "moved"}).status_code == 303
    assert "Nothing is planned." in client.get(reverse("planned-runs")).content.decode()


def test_refused_plan_keeps_what_was_typed(client: Client, built: Built, press_tech: Person) -> None:
    client.force_login(press_tech)
    over = f"{timezone.now() - 2 * DAY:%Y-%m-%dT%H:%M}"
    answer = client.post(reverse("planned-runs"), typed(built, ends_at=over))
    assert answer.status_code == 422
    page = answer.content.decode()
    assert "before it starts" in page
    assert "A-77" in page


def test_viewer_sees_the_plan_and_has_no_form(client: Client, built: Built, person_of: Callable[..., Any]) -> None:
    client.force_login(person_of("viewer"))
    page = client.get(reverse("planned-runs")).content.decode()
    assert "Plan a run" not in page
    assert client.post(reverse("planned-runs"), typed(built)).status_code == 403


def test_whole_plant_has_every_fitted_face_once(
    client: Client, built: Built, lead: Person, django_assert_num_queries: Any
) -> None:
    with django_assert_num_queries(2):
        whole = weeks_ahead.whole_plant(lead.plant, timezone.now())
    assert whole.faces == 2
    assert whole.later == 2
    client.force_login(lead)
    page = client.get(reverse("whole-plant")).content.decode()
    assert built.tool.number in page
    assert "2 faces have nothing in sight." in page


def test_empty_plant_says_what_belongs_here(client: Client, lead: Person) -> None:
    client.force_login(lead)
    assert "stands here by the date it reaches its limit" in client.get(reverse("whole-plant")).content.decode()


def test_plan_is_brought_from_a_file_and_what_it_leaves_out_later_is_cancelled(
    built: Built, press_tech: Person, at: datetime
) -> None:
    from shop.bring.service import bring

    now = timezone.now()
    rows = [
        f"{built.tool.number};A-{n};5000;{now + n * 10 * DAY:%Y-%m-%d %H:%M};{now + (n * 10 + 5) * DAY:%Y-%m-%d %H:%M}"
        for n in (1, 2)
    ]
    head = "tool;order;shots;starts;ends"

    def brought(*lines: str) -> Any:
        content = "\n".join([head, *lines]).encode()
        return bring("plan", content, plant=press_tech.plant, by=press_tech, at=now)

    assert (brought(*rows).taken, brought(*rows).known) == (2, 2)
    changed = brought(rows[0].replace("5000", "6000"))
    assert changed.taken == 1
    standing = PlannedRun.objects.standing()
    assert [(run.order_number, run.shots) for run in standing] == [("A-1", 6000)]
    bad = brought(rows[0].replace(built.tool.number, "T-none"))
    assert [(one.line, one.column) for one in bad.bad] == [(2, "tool")]
    assert PlannedRun.objects.standing().count() == 1
