"""Every ledger only grows, on both engines."""
from __future__ import annotations

import pytest

from tests import factories


@pytest.mark.django_db
def test_smoke(at, plant, lead) -> None:
    b = factories.build_tool(lead, at, cavities=2, spares=1)
    factories.satin(b.face, lead, at)
    factories.polished(b.faces["show 2"], lead, at)
    factories.by_plaque(b.faces["show 3"], lead, at)

@pytest.mark.django_db(transaction=True)
def test_smoke2(at, plant, lead) -> None:
    factories.build_tool(lead, at, cavities=2, spares=1)
