"""Somebody at the page of a work order, for its tests."""

from __future__ import annotations

import re
import uuid
from datetime import timedelta
from typing import Any

from django.test import Client
from django.urls import reverse
from django.utils import timezone

from shop.bench.models import WorkOrder
from shop.people.models import Person
from shop.quality.models import Inspection


class At:
    """Somebody at the page of one order; every form has a reference of its own, as the page gives it."""

    def __init__(self, order: WorkOrder, who: Person) -> None:
        self.order, self.client = order, Client()
        self.client.force_login(who)
        self.address = reverse("work-order", args=[order.pk])

    def page(self, **asked: Any) -> str:
        shown = self.client.get(self.address, asked)
        assert shown.status_code == 200
        return shown.content.decode()

    def does(self, act: str, **fields: Any) -> str:
        """Send a form that is taken, and return the page that it leads to."""
        sent = self.client.post(self.address, self._form(act, fields))
        assert sent.status_code == 303, sent.content.decode()
        return self.client.get(sent.headers["Location"]).content.decode()

    def refused(self, act: str, **fields: Any) -> str:
        """Send a form that is not taken, and return the page with the form kept."""
        sent = self.client.post(self.address, self._form(act, fields))
        assert sent.status_code == 422, sent.headers
        return sent.content.decode()

    def status(self, act: str, **fields: Any) -> int:
        return self.client.post(self.address, self._form(act, fields)).status_code

    @property
    def state(self) -> str:
        self.order.refresh_from_db()
        return str(self.order.state)

    def _form(self, act: str, fields: dict[str, Any]) -> dict[str, Any]:
        return {"do": act, "ref": str(uuid.uuid4()), **fields}


def form_of(words: str, act: str, beside: str = "") -> str:
    """Return the form of the page that sends this act, with the hidden field beside it where several do."""
    for form in re.findall(r"<form.*?</form>", words, re.DOTALL):
        if f'name="do" value="{act}"' in form and beside in form:
            return str(form)
    raise AssertionError(f"no form sends {act}")


def tomorrow() -> str:
    return (timezone.localdate() + timedelta(days=1)).isoformat()


def measure(client: Client, order: WorkOrder, kind: str, value: str, gauge_field: str, gauge_pk: int) -> Inspection:
    """Fill in the sheet that the page of the order links to, and return the inspection."""
    address = reverse("measure-tool", args=[order.tool_id]) + f"?kind={kind}&order={order.pk}"
    sheet = client.get(address).content.decode()
    places = re.findall(r'name="(v-[\d-]+-0)"', sheet)
    assert places, sheet
    sent = client.post(address, {**dict.fromkeys(places, value), gauge_field: gauge_pk, "ref": str(uuid.uuid4())})
    assert sent.status_code == 303, sent.content.decode()
    assert f"{reverse('work-order', args=[order.pk])}?inspection=" in client.get(sent["Location"]).content.decode()
    return Inspection.objects.latest("id")
