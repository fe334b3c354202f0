"""What the checker asks the ledger of a lot."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import TypeVar

from labeler.catalog.model import Product
from labeler.checker.subject import KnownLot
from labeler.findings import LabelerError
from labeler.ledger.lots import find, snapshot_of
from labeler.ledger.store import Ledger

Answer = TypeVar("Answer")


@dataclass(frozen=True, slots=True)
class LotAsMade:
    """A lot's product as it was when it was opened, and whether the lot was withdrawn.

    ``product`` is None where this version can no longer read what was kept of it.
    """

    sku: str
    void: object
    product: Product | None


def lots_known(ledger: Ledger) -> Callable[[str], KnownLot | None]:
    """Return what answers for a lot code: the lot as it was made, or None where there is none.

    A ledger that can't be read just then is no ledger without the lot: that is raised.
    """

    def known(code: str) -> KnownLot | None:
        lot = _unless(lambda: find(ledger, code), "unknown-lot")
        if lot is None:
            return None
        product = _unless(lambda: snapshot_of(ledger, lot), "snapshot-unreadable")
        return LotAsMade(lot.sku, lot.void, product)

    return known


def _unless(ask: Callable[[], Answer], rule: str) -> Answer | None:
    """Return the answer; None where there is none for this one reason."""
    try:
        return ask()
    except LabelerError as error:
        if any(finding.rule != rule for finding in error.findings):
            raise
        return None
