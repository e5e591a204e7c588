"""Every printed value, recomputed by the same checks that the page and the command run."""

from __future__ import annotations

import pytest

from shop.boards.checks.check import Check
from shop.boards.standards_check import every_check


@pytest.mark.parametrize("check", every_check(), ids=lambda check: f"{check.table}: {check.row}, {check.what}")
def test_printed_value_is_recomputed_within_its_tolerance(check: Check) -> None:
    found = check.run()
    assert found.within, f"{found.computed} for {check.printed} {check.unit}"
