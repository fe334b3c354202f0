"""Making the catalog as a book, and its order form as a spreadsheet."""

from __future__ import annotations

import contextlib
import datetime as dt
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path
from typing import BinaryIO

from labeler.app.pieces import Progress
from labeler.app.preflight import Preflight, pass_for_press, worth_saying
from labeler.app.workstation import ledger_location
from labeler.book.edition import (
    Audience,
    Edition,
    Paper,
    dates_of,
    dealer_called,
    page_size,
    picked,
    tier_faults,
    tiers_for,
    title_of,
)
from labeler.book.make import Book, make_book
from labeler.book.order_sheet import write_order_sheet
from labeler.book.site import LotPage, site_pages
from labeler.catalog.model import Catalog
from labeler.catalog.read import readable
from labeler.checker.claims import ProductLine
from labeler.checker.report import Report
from labeler.files import delivered, new_folder, refuse_one_name, refuse_to_bury
from labeler.findings import Finding, LabelerError, Place, fix, stop
from labeler.ledger.lots import list_lots, snapshot_of
from labeler.press.impose import Ticket
from labeler.press.pdf.book import Binding, write_book
from labeler.units import Length

BLEED = Length.from_inches(1 / 8).pt
"""What print shops ask for. Common practice, no published source."""


@dataclass(frozen=True, slots=True)
class BookRequest:
    """Which book to make. ``only`` are patterns, SKUs or SKU patterns; none means all of it.

    ``even_so`` hands out a book that something stops.
    """

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
    even_so: bool = False


@dataclass(frozen=True, slots=True)
class BookMade:
    """What was made, for the words on the screen."""

    out: Path
    pages: int
    products: int
    patterns: int
    tiers: tuple[str, ...]
    findings: tuple[Finding, ...]
    report: Report
    """The checker's, on the finished book."""


_XLSX = b"PK\x03\x04"
"""A workbook is a ZIP archive. Source: ISO/IEC 21320-1:2015; APPNOTE.TXT 6.3.10, 4.3.7."""


def make_catalog_book(wish: BookRequest, progress: Progress | None = None) -> BookMade:
    """Make the book and check it; the file appears whole or not at all.

    Raises:
        LabelerError: with everything that stands in the way, before anything is written; or with
            what stops the finished book, unless it is wanted even so.
    """
    refuse_to_bury(wish.out)
    if wish.order_sheet:
        refuse_to_bury(wish.order_sheet, alike=_XLSX)
        refuse_one_name(wish.out, wish.order_sheet)
    catalog, findings = readable(wish.folder)
    edition = edition_of(wish, catalog)
    setting = _BookJob(wish, edition, progress)
    passing = Preflight(wish.folder, wish.day, ProductLine.of(catalog), even_so=wish.even_so)
    with contextlib.ExitStack() as stack:
        if wish.order_sheet:
            write_order_sheet(edition, stack.enter_context(delivered(wish.order_sheet)))
        report = pass_for_press(wish.out, setting.write, passing, progress=progress)
    said = (*findings, *setting.findings, *_worth_saying(edition), *worth_saying(report))
    return BookMade(
        wish.out,
        setting.pages,
        len(edition.products),
        len({product.pattern.code for product in edition.products}),
        tuple(tier.name for tier in edition.tiers),
        tuple(dict.fromkeys(said)),
        report,
    )


class _BookJob:
    """A book on its way to the press, set anew each time that it is written.

    Only its findings are kept: a long book takes much memory, and the checker needs some too.
    """

    def __init__(self, wish: BookRequest, edition: Edition, progress: Progress | None) -> None:
        self.wish, self.edition, self.progress = wish, edition, progress
        self._book: Book | None = make_book(edition)
        self.pages = 0
        self.findings: tuple[Finding, ...] = ()

    def write(self, file: BinaryIO, in_spite_of: tuple[str, ...]) -> None:
        """Write the book. A table's heads are read once only, so that pages are drawn but once."""
        book, self._book = self._book or make_book(self.edition), None
        edition, wish = self.edition, self.wish
        maker = edition.catalog.file.maker
        ticket = Ticket(
            title=f"{title_of(edition)}, {maker.name}",
            author=maker.name,
            subject=dates_of(edition),
            own=wish.folder,
            in_spite_of=in_spite_of,
        )
        binding = Binding(edition.bleed, wish.booklet, archive=wish.archive, facts=edition.facts())
        told = _told(self.progress, len(book.pages))
        write_book(book.pages, book.headings, file, ticket, binding, told)
        self.pages, self.findings = len(book.pages), tuple(book.findings)


def edition_of(wish: BookRequest, catalog: Catalog) -> Edition:
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


def _refuse_dealers_matters(wish: BookRequest) -> None:
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


# ----------------------------------------------------------------------------
# Writing the pages that the labels' codes lead to.


@dataclass(frozen=True, slots=True)
class SiteRequest:
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


def make_pages(wish: SiteRequest, progress: Progress | None = None) -> SiteMade:
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
    books = ledger_location(folder)
    if not books.begun:
        return []
    with books.opened() as ledger:
        return [
            LotPage(lot.code, snapshot_of(ledger, lot), lot.made, lot.void.why if lot.void else "")
            for lot in list_lots(ledger)
        ]
