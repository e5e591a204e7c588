"""shots.csv: each row finds its tool, press and resin, and is told from rows that were brought before."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from uuid import UUID

from shop.bring.readings import OTHER_CONTENT
from shop.bring.receipts import content_of, known_among, ref_of
from shop.bring.sheet import Bad, Row, bad_row
from shop.bring.tools import NOT_KNOWN
from shop.people.models import Plant
from shop.press.models import Press
from shop.press.services.many import ShotDraft
from shop.refusal import gettext_noop
from shop.tooling.models import Resin, Tool

FIELD_COLUMNS = {"count": "shots", "offset": "answer", "read_before": "answer"}
# Whoever writes down that a tool made shots says with it that the tool ran.
IT_RAN = {"shots.not_in_press": "yes_it_ran"}


def check(
    rows: Sequence[Row], plant: Plant, answers: Mapping[str, str | int]
) -> tuple[list[tuple[Row, ShotDraft]], list[Bad], int]:
    """Return the entries that are new, the faults, and how many rows were known already."""
    tools = {
        tool.number: tool for tool in Tool.objects.in_plant(plant).filter(number__in={row["tool"] for row in rows})
    }
    presses = {press.name: press for press in Press.objects.filter(plant=plant)}
    resins = {resin.name: resin for resin in Resin.objects.all()}
    refs = [ref_of(plant, "shots", row["tool"], row["at"].isoformat(), row["source"], row["press"]) for row in rows]
    known = known_among(refs)
    found: list[tuple[Row, ShotDraft]] = []
    bad: list[Bad] = []
    seen = set()
    known_rows = 0
    for row, ref in zip(rows, refs, strict=True):
        content = content_of(row.values)
        faults = list(_unknown(row, tools, presses, resins))
        if ref in seen:
            faults.append(
                bad_row(row, "at", "bring.twice", gettext_noop("an earlier row has the same tool, time and source"))
            )
        seen.add(ref)
        if ref in known and not faults:
            if known[ref].content_sha256 == content:
                known_rows += 1
                continue
            faults.append(bad_row(row, "at", "bring.other_content", OTHER_CONTENT))
        bad.extend(faults)
        if not faults:
            found.append((row, _draft(row, tools[row["tool"]], presses, resins, answers, ref, content)))
    return found, bad, known_rows


def _draft(
    row: Row,
    tool: Tool,
    presses: Mapping[str, Press],
    resins: Mapping[str, Resin],
    answers: Mapping[str, str | int],
    ref: UUID,
    content: str,
) -> ShotDraft:
    return ShotDraft(
        tool=tool,
        at=row["at"],
        source=row["source"] or "file",
        ref=ref,
        content=content,
        counter=row["counter"],
        count=row["shots"],
        press=presses.get(row["press"]),
        blocked=row["blocked"] or (),
        sets=row["sets"] or (),
        resin=resins.get(row["resin"]),
        colour=row["colour"] or "",
        lot=row["lot"] or "",
        answers={**IT_RAN, **answers, **(row["answer"] or {})},
    )


def _unknown(
    row: Row, tools: Mapping[str, Tool], presses: Mapping[str, Press], resins: Mapping[str, Resin]
) -> Sequence[Bad]:
    faults = []
    if row["tool"] not in tools:
        faults.append(bad_row(row, "tool", "bring.no_such_tool", gettext_noop("there is no tool of this number")))
    for column, known in (("press", presses), ("resin", resins)):
        if row[column] and row[column] not in known:
            faults.append(bad_row(row, column, "bring.not_known", NOT_KNOWN))
    return faults
