"""Tables of studies out of a spreadsheet: three shapes, three marks between columns, and every fault named."""

from __future__ import annotations

import csv
import io

import pytest

from shop.boards.printed import printed
from shop.people import wording
from shop.quality.pasted import PastedFault, among, read_pasted

LONG = "part;person;trial;value\n1;Ana;1;0,5\n1;Ana;2;0,6\n2;Ana;1;1,5\n2;Ana;2;1,4\n"
NOT_READ = "“{}” is not read as a number."
TABLE = ((("0.5", "0.6"),), (("1.5", "1.4"),))


def said(fault: PastedFault) -> tuple[int, str, str, str]:
    return fault.line, fault.column, fault.value, wording.say(fault.reason)


@pytest.mark.parametrize(
    "text",
    [
        LONG,
        LONG.replace(";", "\t"),
        LONG.replace(",", ".").replace(";", ","),
        "Teil;Prüfer;Wert\n1;Ana;0,5\n1;Ana;0,6\n2;Ana;1,5\n2;Ana;1,4\n",
        "Part\tAna 1\tAna 2\n1\t0.5\t0.6\n2\t1.5\t1.4\n",
        "Part\tAna\tAna\n1\t0.5\t0.6\n2\t1.5\t1.4",
        "Part\tAna\t\r\n\t1\t2\r\n1\t0,5\t0,6\r\n2\t1,5\t1,4\r\n\r\n",
        "person\ttrial\t1\t2\nAna\t1\t0.5\t1.5\n\t2\t0.6\t1.4\n",
        '# from the gauge\npart,person,trial,value\n"1","Ana",1,"0,5"\n1,Ana,2,0.6\n2,Ana,1,1.5\n2,Ana,2,1.4\n',
    ],
)
def test_table_is_read_in_each_shape(text: str) -> None:
    pasted = read_pasted(text)
    assert [said(fault) for fault in pasted.faults] == []
    assert (pasted.parts, pasted.people, pasted.values) == (("1", "2"), ("Ana",), TABLE)


@pytest.mark.parametrize("glued", ["A1\tA2\tB1\tB2", "A 1\tA 2\tB 1\tB 2", "A\t\tB\t", "A-1\tA-2\tB-1\tB-2"])
def test_head_row_names_people_and_trials(glued: str) -> None:
    pasted = read_pasted(f"\t{glued}\np\t1\t2\t3\t4\nq\t5\t6\t7\t8")
    assert (pasted.people, pasted.parts) == (("A", "B"), ("p", "q"))
    assert pasted.values == ((("1", "2"), ("3", "4")), (("5", "6"), ("7", "8")))


def test_digits_are_kept_as_they_were_typed() -> None:
    assert read_pasted(LONG.replace("0,5", "0,500")).values[0][0][0] == "0.500"
    assert read_pasted(LONG.replace("0,5", "−0,56")).values[0][0][0] == "-0.56"


@pytest.mark.parametrize(
    ("text", "fault"),
    [
        (LONG.replace("0,6", "abc"), (3, "value", "abc", NOT_READ.format("abc"))),
        (LONG.replace("0,6", "nan"), (3, "value", "nan", NOT_READ.format("nan"))),
        (LONG.replace("0,6", ""), (3, "value", "", "is empty")),
        (LONG.replace("2;Ana;1;", "1;Ana;1;"),
         (4, "value", "1,5", "stands for part 1, Ana, trial 1, which line 2 gave already")),
        (LONG.replace("2;Ana;2;1,4\n", ""), (0, "", "", "Part 2, Ana, trial 2 is missing")),
        (LONG.replace("1;Ana;2;0,6", "1;Ana;2;0,6;9"), (3, "", "9", "stands in a column that has no head")),
        ("hello", (1, "", "hello", "is no table: a head row and rows of values are wanted")),
        ("", (1, "", "", "is no table: a head row and rows of values are wanted")),
        ("value;part\n1;2\n", (1, "", "value; part", "names a value, and lacks a column for the part or the person")),
        (LONG.replace("2;Ana;1", "2;;1"), (4, "person", "", "is empty")),
        ("Part\tAna 1\tAna 2\n1\t0.5\t\n2\t1.5\t1.4\n", (2, "Ana 2", "", "is empty")),
    ],
)  # fmt: skip
def test_fault_names_line_column_value_and_reason(text: str, fault: tuple[int, str, str, str]) -> None:
    assert said(read_pasted(text).faults[0]) == fault


def test_every_fault_is_named_not_only_the_first() -> None:
    pasted = read_pasted(LONG.replace("0,6", "x").replace("1,5", "y"))
    assert [fault.line for fault in pasted.faults] == [3, 4]


def test_text_too_long_for_a_table_is_refused_at_once() -> None:
    assert "200000" in said(read_pasted("1\t2\n" * 100_000).faults[0])[3]


def test_judgements_are_read_whatever_their_case_and_the_master_stands_apart() -> None:
    read = among(("accept", "reject"))
    pasted = read_pasted("piece;Ana;Ben;master\n1;Accept;REJECT;accept\n2;reject;reject;reject", read)
    assert pasted.values == ((("accept",), ("reject",)), (("reject",), ("reject",)))
    assert (pasted.people, pasted.master) == (("Ana", "Ben"), ("accept", "reject"))
    fault = read_pasted("piece;Ana;Ben\n1;maybe;reject\n2;reject;reject", read).faults[0]
    assert said(fault) == (2, "Ana", "maybe", "is not one of: accept, reject")


def test_printed_table_is_read_as_it_stands_in_its_file() -> None:
    rows = printed("gauge_study").rows
    text = io.StringIO()
    writer = csv.DictWriter(text, rows[0].keys())
    writer.writeheader()
    writer.writerows(rows)
    pasted = read_pasted(text.getvalue())
    assert not pasted.faults
    assert (len(pasted.parts), pasted.people, len(pasted.values[0][0])) == (10, ("A", "B", "C"), 3)
