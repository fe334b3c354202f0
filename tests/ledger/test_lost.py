"""Codes that a restored backup does not know are on bags: never given out again."""

from __future__ import annotations

from datetime import date

import pytest

from labeler.catalog.model import Product
from labeler.codes import lot_code
from labeler.findings import LabelerError
from labeler.ledger.assign import Batch, assign, note_lost
from labeler.ledger.backup import examine
from labeler.ledger.orders import (
    NewOrder,
    OrderedLine,
    Reading,
    due_number,
    keep_order,
    lose_numbers,
)
from labeler.ledger.store import Ledger, entries

DAY, NEXT = date(2026, 11, 25), date(2026, 11, 26)


@pytest.mark.parametrize("prefix", ["", "HB"])
def test_the_day_goes_on_after_the_highest_code_that_was_lost(
    ledger: Ledger, melon: Product, prefix: str
) -> None:
    form = lot_code.LotForm(prefix)
    known = assign(ledger, Batch(melon, 12, DAY), form=form)
    gone = [form.write(DAY, 3), form.write(DAY, 2), form.write(NEXT, 1)]
    assert note_lost(ledger, gone) == gone
    assert note_lost(ledger, gone[:1]) == gone[:1]
    assert [assign(ledger, Batch(melon, 12, day), form=form).number for day in (DAY, NEXT)] == [
        4,
        2,
    ]
    assert known.number == 1
    assert examine(ledger) == ()
    told = [entry.detail["code"] for entry in entries(ledger) if entry.what == "lost"]
    assert told == [gone[0], gone[2]]


def test_the_year_goes_on_after_the_highest_number_that_was_lost(
    ledger: Ledger, melon: Product
) -> None:
    def ordered(buyer: str, day: date = DAY) -> str:
        reading = Reading("dealer", "USD", "", (OrderedLine(melon.sku, "", 1, 1, None),))
        return keep_order(ledger, NewOrder(buyer, "customer", day, reading))[0].number

    assert ordered("Ada") == "2600018"
    with pytest.raises(LabelerError) as error:
        lose_numbers(ledger, ["2600018", "2600027", "2690012", "26-0004-2"])
    assert [finding.rule for finding in error.value.findings] == [
        "lost-known", "order-number-check", "lost-number",
    ]  # fmt: skip
    assert ordered("Ben") == "2600026", "nothing was noted"
    told = lose_numbers(ledger, ["26 0004 2", "2600034", "2600 0033", "2500017"])
    assert told == [
        ("order", "2600042", "2600059"), ("order", "2600034", "2600059"),
        ("invoice", "26000033", "26000041"), ("order", "2500017", "2500025"),
    ]  # fmt: skip
    assert lose_numbers(ledger, ["2600042"]) == told[:1]
    assert ordered("Cid") == "2600059"
    assert ordered("Dot", date(2025, 12, 31)) == "2500025"
    assert due_number(ledger, DAY) == "26000041"
    assert examine(ledger) == ()
    lost = [entry.detail["number"] for entry in entries(ledger) if entry.what.endswith(" lost")]
    assert lost == ["2600042", "26000033", "2500017"], "the lower one was given out before it"


def test_what_is_no_lost_code_is_refused_and_none_is_noted(ledger: Ledger, melon: Product) -> None:
    known = assign(ledger, Batch(melon, 12, DAY)).code
    far, gone = lot_code.LotForm().write(DAY, 4711), lot_code.LotForm().write(DAY, 2)
    for codes, rules in (
        ([gone, "MINE-7", gone[:-1] + "0", far],
         ["lot-code-shape", "lot-code-check", "lost-number"]),
        ([gone, known], ["lost-known"]),
    ):  # fmt: skip
        with pytest.raises(LabelerError) as error:
            note_lost(ledger, codes)
        assert [finding.rule for finding in error.value.findings] == rules
    assert assign(ledger, Batch(melon, 12, DAY)).number == 2
