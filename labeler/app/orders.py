"""Taking an order that comes back: what it comes to, and what lies ready for it."""

from __future__ import annotations

from pathlib import Path

from labeler.app.workstation import ledger_location
from labeler.book.order import OnHand, Order, judge, read_order
from labeler.catalog.model import Catalog
from labeler.catalog.read import readable


def take_order(
    folder: Path, file: Path, *, tier: str = "", dealer: str = "", on_hand: OnHand | None = None
) -> tuple[Order, str]:
    """Return the order that a filled form comes to, and its currency.

    Args:
        folder: the catalog.
        file: the form, a PDF or an XLSX workbook.
        tier: the price tier, if not the dealer's.
        dealer: who orders, if not the one on the form.
        on_hand: tells how many packs of a SKU lie ready; None asks the folder's ledger.

    Raises:
        LabelerError: if the catalog or the form is at fault, with everything that is.
    """
    catalog, _ = readable(folder)
    filled = read_order(file)
    stock = on_hand or stock_of(folder, catalog)
    return judge(filled, catalog, stock, tier=tier, dealer=dealer), catalog.file.sale.currency


def stock_of(folder: Path, catalog: Catalog) -> OnHand:
    """Return what tells how many whole packs of a SKU lie ready, by the folder's ledger.

    Where there is no ledger, or no lot of a SKU in it, nobody has kept count.
    """
    location = ledger_location(folder)
    pieces: dict[str, int] = {}
    if location.begun:
        from labeler.ledger.lots import list_lots  # only where there is a ledger
        from labeler.ledger.ship import on_hand

        with location.opened() as ledger:
            for lot in list_lots(ledger):
                if lot.void is None:
                    pieces[lot.sku] = pieces.get(lot.sku, 0) + on_hand(ledger, lot.code)
    packs = {product.sku: product.pattern.pack for product in catalog.products}
    return lambda sku: pieces[sku] // packs.get(sku, 1) if sku in pieces else None
