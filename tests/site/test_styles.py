"""Style sheets: what holds for a narrow screen does not hold for paper, which is as narrow and is read otherwise."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

import shop

SHEETS = Path(shop.__file__).parent / "site/static/shop"


@pytest.mark.parametrize("sheet", ["parts.css", "pull_list.css"])
def test_tables_fold_on_narrow_screens_and_not_on_paper(sheet: str) -> None:
    asked = re.findall(r"@media ([^{]*46rem[^{]*)\{", (SHEETS / sheet).read_text(encoding="utf-8"))
    folding = [one for one in asked if "max-width" in one]
    assert folding
    assert all(one.startswith("screen and") for one in folding)
