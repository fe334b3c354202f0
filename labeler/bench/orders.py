"""Taking an order that comes back: what it comes to, and what lies ready for it."""

from __future__ import annotations

from pathlib import Path

from labeler.bench.ledgers import books_of
from labeler.bench.printing import readable
from labeler.book.order import OnHand, Order, judge
from labeler.book.order_read import read_order
from labeler.catalog.model import Catalog
from labeler.ledger.lots import list_lots
from labeler.ledger.ship import on_hand as pieces_of


def take_order(
    folder: Path, file: Path, *, tier: str = "", dealer: str = "", on_hand: OnHand | None = None
) -> tuple[Order, str]:
    """Return the order that a filled form comes to, and its currency.

    Args:
        folder: the catalog.
        file: the form, a PDF or an XLSX workbook.
        tier: the tier to reckon at, if not the dealer's.
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
    books = books_of(folder)
    pieces: dict[str, int] = {}
    if books.begun:
        with books.opened() as ledger:
            for lot in list_lots(ledger):
                if lot.void is None:
                    pieces[lot.sku] = pieces.get(lot.sku, 0) + pieces_of(ledger, lot.code)
    packs = {product.sku: product.pattern.pack for product in catalog.products}
    return lambda sku: pieces[sku] // packs.get(sku, 1) if sku in pieces else None
