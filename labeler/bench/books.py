"""Making the catalog as a book, and reading orders that come back."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path

from labeler.bench.printing import Progress, readable
from labeler.book.cover import dates_of, title_of
from labeler.book.edition import (
    Audience,
    Edition,
    Paper,
    dealer_called,
    page_size,
    picked,
    tier_faults,
    tiers_for,
)
from labeler.book.make import make_book
from labeler.book.order import OnHand, Order, judge
from labeler.book.order_read import read_order
from labeler.book.order_sheet import write_order_sheet
from labeler.book.site import LotPage, site_pages
from labeler.catalog.model import Catalog
from labeler.findings import Finding, LabelerError, Place, fix, stop
from labeler.press.deliver import delivered
from labeler.press.deliver_folder import new_folder
from labeler.press.pdf_book import Binding, write_book
from labeler.press.ticket import Ticket
from labeler.units import Length

BLEED = Length.from_inches(1 / 8).pt
"""What print shops ask for. Common practice, no published source."""


@dataclass(frozen=True, slots=True)
class BookWish:
    """Which book to make. ``only`` are patterns, SKUs or SKU patterns; none means all of it."""

    folder: Path
    out: Path
    audience: Audience = "dealer"
    tier: str = ""
    dealer: str = ""
    only: tuple[str, ...] = ()
    paper: Paper = "letter"
    booklet: bool = False
    bleed: bool = False
    archive: bool = False
    order_sheet: Path | None = None
    day: dt.date = field(default_factory=dt.date.today)


@dataclass(frozen=True, slots=True)
class BookMade:
    """What was made, for the words on the screen."""

    out: Path
    pages: int
    products: int
    patterns: int
    tiers: tuple[str, ...]
    findings: tuple[Finding, ...]


def make_catalog_book(wish: BookWish, progress: Progress | None = None) -> BookMade:
    """Make the book; the file appears whole or not at all.

    Raises:
        LabelerError: with everything that stands in the way, before anything is written.
    """
    catalog, findings = readable(wish.folder)
    edition = edition_of(wish, catalog)
    book = make_book(edition)
    maker = catalog.file.maker
    title = f"{title_of(edition)}, {maker.name}"
    ticket = Ticket(title=title, author=maker.name, subject=dates_of(edition), own=wish.folder)
    binding = Binding(bleed=edition.bleed, booklet=wish.booklet, archive=wish.archive)
    if wish.order_sheet:
        with delivered(wish.order_sheet) as sheet:
            write_order_sheet(edition, sheet)
    with delivered(wish.out) as file:
        told = _told(progress, len(book.pages))
        write_book(book.pages, book.headings, file, ticket, binding, told)
    return BookMade(
        wish.out,
        len(book.pages),
        len(edition.products),
        len({product.pattern.code for product in edition.products}),
        tuple(tier.name for tier in edition.tiers),
        tuple(dict.fromkeys((*findings, *book.findings, *_worth_saying(edition)))),
    )


def edition_of(wish: BookWish, catalog: Catalog) -> Edition:
    """Return the edition that is wished for."""
    width, height = page_size(wish.paper, wish.booklet)
    retail = wish.audience == "retail"
    if retail:
        _refuse_dealers_matters(wish)
    dealer = dealer_called(catalog, wish.dealer) if wish.dealer else None
    tiers = () if retail else tiers_for(catalog, wish.tier, dealer)
    faults = tier_faults(tiers)
    if faults:
        raise LabelerError(faults)
    return Edition(
        catalog, picked(catalog, wish.only), wish.audience, wish.day, width, height,
        bleed=BLEED if wish.bleed else 0.0, tiers=tiers, dealer=dealer, live=not wish.booklet,
    )  # fmt: skip


def _refuse_dealers_matters(wish: BookWish) -> None:
    """Refuse what would bring a dealer into a book for buyers."""
    asked = {"dealer": wish.dealer, "tier": wish.tier, "order-sheet": wish.order_sheet}
    faults = [
        stop("retail-has-no-dealer", Place(key=f"--{name}"),
             "a book for buyers knows nothing of dealers", found=str(value),
             hint="Leave it out, or make the book --for dealer.")
        for name, value in asked.items()
        if value
    ]  # fmt: skip
    if faults:
        raise LabelerError(faults)


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

    Where there is no ledger, nobody has kept count.
    """
    if not (folder / "ledger.sqlite").is_file():
        return lambda sku: None
    from labeler.ledger.lots import list_lots
    from labeler.ledger.open import open_ledger
    from labeler.ledger.ship import on_hand

    pieces: dict[str, int] = {}
    ledger = open_ledger(folder, begin=False)
    try:
        for lot in list_lots(ledger):
            if lot.void is None:
                pieces[lot.sku] = pieces.get(lot.sku, 0) + on_hand(ledger, lot.code)
    finally:
        ledger.close()
    packs = {product.sku: product.pattern.pack for product in catalog.products}
    return lambda sku: pieces[sku] // packs.get(sku, 1) if sku in pieces else None


def _worth_saying(edition: Edition) -> list[Finding]:
    """Return what the maker should know of the book before it goes out."""
    said = []
    place = Place(file="catalog.toml", key="terms.valid_until")
    until = edition.catalog.file.terms.valid_until
    if until and until < edition.day:
        said.append(
            fix("price-list-over", place, "the price list is no longer valid",
                found=until.isoformat(), expected=f"a day from {edition.day.isoformat()} on")
        )  # fmt: skip
    priceless = [product.sku for product in edition.products if product.price is None]
    if priceless:
        said.append(
            fix("no-price", Place(file="catalog.toml"), "some products have no price",
                found=f"{', '.join(priceless[:6])}{' and more' if len(priceless) > 6 else ''}",
                hint="They stand in the book as “on request”.")
        )  # fmt: skip
    return said


def _told(progress: Progress | None, pages: int) -> Callable[[int], None] | None:
    if progress is None:
        return None
    return lambda page: progress(page, pages)


@dataclass(frozen=True, slots=True)
class SiteWish:
    """Which pages to write, and as of what day the rules are held."""

    folder: Path
    out: Path
    day: dt.date = field(default_factory=dt.date.today)


@dataclass(frozen=True, slots=True)
class SiteMade:
    """What was made of the pages that codes lead to."""

    out: Path
    pages: int
    lots: int
    findings: tuple[Finding, ...]


def make_pages(wish: SiteWish, progress: Progress | None = None) -> SiteMade:
    """Write the pages that codes lead to. None appears unless all could be made.

    Pages that lie there already and lead from labels no longer sold are left alone.

    Raises:
        LabelerError: if the catalog is at fault, has no links, or the folder can't be written.
    """
    catalog, findings = readable(wish.folder)
    lots = _lots_of(wish.folder)
    pages = list(site_pages(catalog, lots, wish.day))
    with new_folder(wish.out) as draft:
        for count, page in enumerate(pages, 1):
            file = draft / page.path
            file.parent.mkdir(parents=True, exist_ok=True)
            file.write_text(page.html(), encoding="utf-8")
            if progress:
                progress(count, len(pages))
    return SiteMade(wish.out, len(pages), len(lots), findings)


def _lots_of(folder: Path) -> list[LotPage]:
    """Return the folder's lots; none where there is no ledger."""
    if not (folder / "ledger.sqlite").is_file():
        return []
    from labeler.ledger.lots import list_lots, snapshot_of
    from labeler.ledger.open import open_ledger

    ledger = open_ledger(folder, begin=False)
    try:
        return [
            LotPage(lot.code, snapshot_of(ledger, lot), lot.made, lot.void.why if lot.void else "")
            for lot in list_lots(ledger)
        ]
    finally:
        ledger.close()
