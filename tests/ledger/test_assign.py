from __future__ import annotations

from datetime import date

from labeler.catalog.model import Product
from labeler.ledger.assign import Batch, assign, assign_many
from labeler.ledger.lots import SupplierLot, find, newest, snapshot_of
from labeler.ledger.store import Ledger
from labeler.ledger.withdraw import void

DAY = date(2026, 11, 25)


def test_smoke(ledger: Ledger, melon: Product) -> None:
    lot = assign(ledger, Batch(melon, 24, DAY, (SupplierLot("hook", "HK-1"),)))
    print(lot)
    assert find(ledger, lot.code.lower()) == lot
    assert snapshot_of(ledger, lot) == melon
    more = assign_many(ledger, [Batch(melon, 1, DAY)] * 5)
    assert [m.number for m in more] == [2, 3, 4, 5, 6]
    assert newest(ledger, melon.sku) == more[-1]
    assert void(ledger, lot.code, "typo").void
