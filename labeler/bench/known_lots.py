"""What the checker asks the ledger of a lot."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from labeler.catalog.model import Product
from labeler.checker.subject import KnownLot
from labeler.findings import LabelerError
from labeler.ledger.lots import find, snapshot_of
from labeler.ledger.store import Ledger


@dataclass(frozen=True, slots=True)
class LotAsMade:
    """A lot's product as it was when it was opened, and whether the lot was withdrawn."""

    sku: str
    void: object
    product: Product


def lots_known(ledger: Ledger) -> Callable[[str], KnownLot | None]:
    """Return what answers for a lot code: the lot as it was made, or None where there is none."""

    def known(code: str) -> KnownLot | None:
        try:
            lot = find(ledger, code)
            return LotAsMade(lot.sku, lot.void, snapshot_of(ledger, lot))
        except LabelerError:
            return None

    return known
