"""Codes that a restored backup does not know are on bags: never given out again."""

from __future__ import annotations

from datetime import date

import pytest

from labeler.catalog.model import Product
from labeler.codes import lot_code
from labeler.findings import LabelerError
from labeler.ledger.assign import Batch, assign, note_lost
from labeler.ledger.backup import examine
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
