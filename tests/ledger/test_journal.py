"""Every change is in the journal: who, when, what."""

from __future__ import annotations

from datetime import UTC, date, timedelta

from labeler.catalog.model import Product
from labeler.ledger.assign import Batch, assign, void
from labeler.ledger.runs import KeptLayout, PrintedPiece, Run, RunPaper, record_run
from labeler.ledger.ship import Move, move
from labeler.ledger.store import Ledger, entries
from labeler.ledger.weigh import read_weights, weigh

DAY = date(2026, 11, 25)


def test_every_change_leaves_an_entry(ledger: Ledger, melon: Product) -> None:
    lot = assign(ledger, Batch(melon, 2, DAY)).code
    weigh(ledger, lot, read_weights(["10.6", "10.7"]))
    layout = KeptLayout("bag", {"bag.xml": b"<bag/>"})
    paper = RunPaper("letter-3x10", 30)
    record_run(
        ledger, Run(paper, [PrintedPiece("bag", melon.sku, lot, layout, [(1, 1)])], "0" * 64)
    )
    move(ledger, [Move("ship", lot, 1, DAY, "Heron Point Outfitters")])
    move(ledger, [Move("return", lot, 1, DAY, "Heron Point Outfitters")])
    void(ledger, lot, "brittle hooks")
    told = entries(ledger, lot=lot)
    assert [entry.what for entry in told] == ["assign", "weigh", "print", "ship", "return", "void"]
    assert {(entry.who, entry.lot, entry.at.tzinfo) for entry in told} == {("ann", lot, UTC)}
    slip = told[3].detail["slip"]
    assert told[3].detail == {
        "count": 1, "dealer": "Heron Point Outfitters", "moved": "2026-11-25", "slip": slip,
    }  # fmt: skip
    assert (len(slip), slip) == (8, slip.upper())
    assert entries(ledger, last=2) == told[4:]
    noon = told[0].at
    assert entries(ledger, since=noon) == told
    assert entries(ledger, since=noon + timedelta(seconds=1)) == []
