"""Making the catalog as a book, and its order form as a spreadsheet."""

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
from labeler.book.order_sheet import write_order_sheet
from labeler.catalog.model import Catalog
from labeler.findings import Finding, LabelerError, Place, fix, stop
from labeler.press.deliver import delivered, refuse_to_bury
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


_XLSX = b"PK\x03\x04"
"""A workbook is a ZIP archive. Source: ISO/IEC 21320-1:2015; APPNOTE.TXT 6.3.10, 4.3.7."""


def make_catalog_book(wish: BookWish, progress: Progress | None = None) -> BookMade:
    """Make the book; the file appears whole or not at all.

    Raises:
        LabelerError: with everything that stands in the way, before anything is written.
    """
    refuse_to_bury(wish.out)
    if wish.order_sheet:
        refuse_to_bury(wish.order_sheet, alike=_XLSX)
    catalog, findings = readable(wish.folder)
    edition = edition_of(wish, catalog)
    book = make_book(edition)
    maker = catalog.file.maker
    title = f"{title_of(edition)}, {maker.name}"
    ticket = Ticket(title=title, author=maker.name, subject=dates_of(edition), own=wish.folder)
    binding = Binding(edition.bleed, wish.booklet, archive=wish.archive, facts=edition.facts())
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
