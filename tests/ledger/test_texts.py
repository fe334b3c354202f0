"""Words are kept clean and compared as people mean them."""

from __future__ import annotations

import csv
import io

import pytest
from hypothesis import given
from hypothesis import strategies as st

from labeler.findings import LabelerError
from labeler.ledger.lots import a_line, fold
from labeler.ledger.trace import safe_cell, write_csv


@pytest.mark.parametrize("typed", ["HK-2291", "hk 2291", " Hk.2291 ", "ＨＫ２２９１", "hk–2291"])
def test_a_suppliers_lot_is_the_same_however_it_is_typed(typed: str) -> None:
    assert fold(typed) == "hk2291"


def test_signs_alone_still_differ() -> None:
    assert fold("***") != fold("---")


@pytest.mark.parametrize(
    "typed", ["", "  ", "a\x00b", "half \ud800 letter", "x" * 201, "\x1b[31m", "ß" * 101, "ﷺ" * 12]
)
def test_what_no_ledger_can_keep_is_refused(typed: str) -> None:
    with pytest.raises(LabelerError) as error:
        a_line(typed, "dealer")
    assert error.value.findings[0].rule == "ledger-text"
    str(error.value).encode()


def test_white_space_is_folded() -> None:
    assert a_line("  Heron \n Point ", "dealer") == "Heron Point"
    assert a_line(" ", "note", may_lack=True) == ""


@pytest.mark.parametrize(
    "cell",
    ["=1+1", "+1", "-1", "@SUM(A1)", "\tx", "\rx", " =1+1", "\u00a0=1", "＝1", '=HYPERLINK("x")'],
)
def test_no_cell_starts_a_formula(cell: str) -> None:
    """OWASP, "CSV Injection": =, +, -, @, tab and carriage return, and their wide forms."""
    assert safe_cell(cell) == f"'{cell}"


@given(st.lists(st.tuples(st.text(), st.text()), max_size=5))
def test_whatever_stands_in_a_table_no_cell_is_computed(rows: list[tuple[str, str]]) -> None:
    text = write_csv(("lot", "dealer"), rows)
    for row in csv.reader(io.StringIO(text, newline="")):
        for cell in row:
            assert not cell.lstrip().startswith(("=", "+", "-", "@"))
            assert not cell.startswith(("\t", "\r", "\n"))


def test_lines_of_a_table_end_as_the_standard_has_it() -> None:
    """RFC 4180, 2: CRLF; a cell with a comma in quotes."""
    assert write_csv(("a", "b"), [("1, 2", None)]) == 'a,b\r\n"1, 2",\r\n'
