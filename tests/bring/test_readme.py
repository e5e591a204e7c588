"""The README says what a file may hold, and says it as the program does."""

from __future__ import annotations

import io

from django.conf import settings
from django.core.management import call_command

from shop.bring.columns import FILES
from shop.bring.markdown import as_markdown

HEADING = "\n## A plant's own numbers\n"


def section() -> str:
    """Return the README's section about files."""
    readme = (settings.BASE_DIR / "README.md").read_text(encoding="utf-8")
    assert HEADING in readme
    found: str = readme.split(HEADING)[1].split("\n## ")[0]
    return found


def test_the_readme_holds_exactly_the_generated_tables() -> None:
    # Paste what `manage.py bring --columns --markdown` prints where this fails.
    assert as_markdown() in section() + "\n"
    rows = [line for line in section().splitlines() if line.startswith("|")]
    assert rows == [line for line in as_markdown().splitlines() if line.startswith("|")]


def test_the_tables_name_every_column_of_every_file_once() -> None:
    out = io.StringIO()
    call_command("bring", "--columns", "--markdown", stdout=out)
    tables = out.getvalue().split("### ")[1:]
    assert [table.split("`")[1] for table in tables] == [f"{kind}.csv" for kind in FILES]
    for table, columns in zip(tables, FILES.values(), strict=True):
        rows = [row.split(" | ") for row in table.splitlines() if row.startswith("| `")]
        assert [row[0].split("`")[1] for row in rows] == [column.name for column in columns]
        assert [row[1].strip() == "yes" for row in rows] == [column.must for column in columns]
