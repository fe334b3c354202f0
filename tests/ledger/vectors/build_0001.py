"""Builds ``ledger-0001.sqlite``, a ledger as the first version made it. Run once, never again.

Later versions of the program must open the file as it is; building it anew with a later
version would prove nothing.
"""

from __future__ import annotations

import runpy
import tempfile
from datetime import UTC, date, datetime
from pathlib import Path

from labeler.catalog.model import Product
from labeler.ledger.assign import Batch, assign, assign_many, void
from labeler.ledger.backup import backup
from labeler.ledger.lots import SupplierLot
from labeler.ledger.open import open_ledger
from labeler.ledger.runs import KeptLayout, PrintedPiece, Run, RunPaper, record_run
from labeler.ledger.ship import Move, move
from labeler.ledger.weigh import read_weights, weigh

DAY = date(2026, 11, 25)


def build(product: Product, file: Path) -> None:
    """Write a small ledger with something in every table."""
    layout = KeptLayout("bag-strip", {"bag-strip.xml.jinja": b"<piece/>"})
    with (
        tempfile.TemporaryDirectory() as folder,
        open_ledger(folder, who="ann", clock=lambda: datetime(2026, 11, 25, 12, tzinfo=UTC)) as at,
    ):
        hooks = (SupplierLot("hook", "HK-2291"),)
        lot = assign(
            at, Batch(product, 12, DAY, hooks, "monday", "first of all"), catalog_digest="c" * 64
        )
        spare = assign_many(at, [Batch(product, 24, DAY)])[0]
        void(at, spare.code, "wrong colour")
        weigh(at, lot.code, read_weights(["10.6 g"] * 11 + ["0.38 oz"]), key="scale")
        spots = [(1, cell) for cell in range(5, 17)]
        paper = RunPaper("letter-3x10", 30, start=5, spoiled=((1, 17),))
        run = Run(
            paper, [PrintedPiece("bag", product.sku, lot.code, layout, spots)], "d" * 64, "laser"
        )
        record_run(at, run, key="print 1")
        move(at, [Move("ship", lot.code, 6, DAY, "Heron Point Outfitters")], key="parcel 1")
        backup(at, file)


if __name__ == "__main__":
    of_the_tests = runpy.run_path(str(Path(__file__).parent.parent / "conftest.py"))
    build(of_the_tests["make_product"](), Path(__file__).with_name("ledger-0001.sqlite"))
