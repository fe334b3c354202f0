"""The catalog as a book, and the pages that codes lead to."""

from __future__ import annotations

import contextlib
import datetime as dt
from collections.abc import Iterator
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import TYPE_CHECKING, Any, BinaryIO

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
from labeler.catalog.model import Catalog, dated_price
from labeler.catalog.read import readable
from labeler.catalog.structure import CATALOG_NAME
from labeler.files import delivered, new_folder, refuse_one_name, refuse_to_bury
from labeler.findings import Finding, LabelerError, Place, a_few, fix, listed, plural, refusal, stop
from labeler.units import Length

if TYPE_CHECKING:
    from labeler.book.make import Book
    from labeler.book.site import LotPage
    from labeler.checker.report import Report
    from labeler.checker.subject import Progress


BLEED = Length.from_inches(1 / 8).pt
"""What print shops ask for. Common practice, no published source."""

_LEAST_TO_FOLD = 3
"""Of fewer pages nothing would stand within the fold."""


@dataclass(frozen=True, slots=True)
class BookRequest:
    """Which book to make. ``only`` are patterns, SKUs or SKU patterns; none means all of it.

    ``keystone`` sets twice the dealer price beside it; ``prices`` makes the price list by itself;
    ``ready`` are the SKUs that lie ready, None where that is not told.
    ``even_so`` hands out a book that something stops; a ``preview`` shows its pages whatever is
    found, each in a frame that says so.
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
    preview: bool = False
    keystone: bool = False
    prices: bool = False
    ready: frozenset[str] | None = None


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
    """The checker's, on the finished book, or on the one that a preview shows."""
    preview: bool = False


_XLSX = b"PK\x03\x04"
"""A workbook is a ZIP archive. Source: ISO/IEC 21320-1:2015; APPNOTE.TXT 6.3.10, 4.3.7."""


def make_catalog_book(request: BookRequest, progress: Progress | None = None) -> BookMade:
    """Make the book and check it; the file appears whole or not at all.

    Raises:
        LabelerError: with everything that stands in the way, before anything is written; or with
            what stops the finished book, unless it is wanted even so.
    """
    from labeler.app.preflight import Preflight, worth_saying, write_checked
    from labeler.checker.claims import ProductLine

    refuse_to_bury(request.out)
    if request.order_sheet and request.preview:
        raise refusal(
            "preview-order-sheet", Place(key="--order-sheet"),
            "a preview is only looked at, and nobody orders by it", found=str(request.order_sheet),
            hint="Leave --order-sheet out, or --preview.",
        )  # fmt: skip
    if request.order_sheet:
        refuse_to_bury(request.order_sheet, alike=_XLSX)
        refuse_one_name(request.out, request.order_sheet)
    catalog, findings = readable(request.folder, request.day)
    said: list[Finding] = []
    edition = edition_of(_with_stock(request, catalog), catalog, said)
    job = BookJob(request, edition, progress)
    preflight = Preflight(
        request.folder, request.day, ProductLine.of(catalog), even_so=request.even_so,
        preview=(lambda file: job.write(file, (), preview=True)) if request.preview else None,
    )  # fmt: skip
    with contextlib.ExitStack() as stack:
        if request.order_sheet:
            from labeler.book.order_sheet import write_order_sheet  # and openpyxl with it

            write_order_sheet(edition, stack.enter_context(delivered(request.order_sheet)))
        report = write_checked(request.out, job.write, preflight, progress=progress)
    ours = (*_without_price(edition), *_other_days(edition))
    shown = (*findings, *said, *job.findings, *ours, *worth_saying(report))
    return BookMade(
        request.out,
        job.pages,
        len(edition.products),
        len({product.pattern.code for product in edition.products}),
        tuple(tier.name for tier in edition.tiers),
        tuple(dict.fromkeys(shown)),
        report,
        request.preview,
    )


def _with_stock(request: BookRequest, catalog: Catalog) -> BookRequest:
    """Return the request with what lies ready, where the folder's ledger knows it.

    Only of a shop's book for reading, made for today: what is printed, or holds on another day,
    would tell of packs that are gone.
    """
    today = dt.date.today()  # noqa: DTZ011  (the maker's own day)
    told = request.audience == "dealer" and not (request.booklet or request.prices)
    if not told or request.day != today or not ledger_location(request.folder).begun:
        return request
    from labeler.app.orders import stock_of

    on_hand = stock_of(request.folder, catalog)
    ready = frozenset(p.sku for p in catalog.products if on_hand(p.sku).ready > 0)
    return replace(request, ready=ready) if ready else request


@dataclass(frozen=True, slots=True)
class FormMade:
    """An order form that was made by itself."""

    out: Path
    products: int
    findings: tuple[Finding, ...]


def make_order_sheet(request: BookRequest) -> FormMade:
    """Make the order form as a spreadsheet, without the book.

    Args:
        request: which book it would go with; ``out`` is the XLSX file.

    Raises:
        LabelerError: with everything that stands in the way, before anything is written.
    """
    from labeler.book.order_sheet import write_order_sheet

    refuse_to_bury(request.out, alike=_XLSX)
    catalog, findings = readable(request.folder, request.day)
    said: list[Finding] = []
    edition = edition_of(request, catalog, said)
    with delivered(request.out) as file:
        write_order_sheet(edition, file)
    shown = (*findings, *said, *_without_price(edition), *_other_days(edition))
    return FormMade(request.out, len(edition.products), tuple(dict.fromkeys(shown)))


class BookJob:
    """A book on its way to the press, set again each time that it is written.

    Only its findings are kept: a long book takes much memory, and the checker needs some too.
    """

    def __init__(
        self, request: BookRequest, edition: Edition, progress: Progress | None = None
    ) -> None:
        self.request, self.edition, self.progress = request, edition, progress
        from labeler.book.make import make_book

        self._make = make_book
        self._book: Book | None = make_book(edition)
        self.pages = 0
        self.findings: tuple[Finding, ...] = ()

    def write(self, file: BinaryIO, overridden: tuple[str, ...], *, preview: bool = False) -> None:
        """Write the book. A table's heads are read once only, so that pages are drawn but once."""
        from labeler.press.impose import Ticket
        from labeler.press.pdf.book import Binding, write_book
        from labeler.press.runsheet import PREVIEW

        book, self._book = self._book or self._make(self.edition), None
        edition, request = self.edition, self.request
        if request.booklet and len(book.pages) < _LEAST_TO_FOLD:
            raise refusal(
                "booklet-pages", Place(key="booklet"), "this is too little for a booklet",
                found=plural(len(book.pages), "page"), expected=f"{_LEAST_TO_FOLD} pages or more",
                hint="Make it without --booklet.",
            )  # fmt: skip
        maker = edition.catalog.file.maker
        title = f"{title_of(edition)}, {maker.name}"
        ticket = Ticket(
            title=f"Preview: {title}" if preview else title,
            author=maker.name,
            subject=dates_of(edition),
            maker_folder=request.folder,
            overridden=overridden,
            preview=preview,
        )
        how: dict[str, Any] = {
            "paper": request.paper, "bleed": request.bleed, "archive": request.archive,
        }  # fmt: skip
        how |= {PREVIEW: True} if preview else {}
        binding = Binding(
            edition.bleed, request.booklet, archive=request.archive, facts=edition.facts() | how
        )
        self.pages, progress = len(book.pages), self.progress
        drawn = (lambda page: progress(page, self.pages)) if progress else None
        write_book(book.pages, book.headings, file, ticket, binding, drawn)
        self.findings = tuple(book.findings)


def edition_of(
    request: BookRequest, catalog: Catalog, said: list[Finding] | None = None
) -> Edition:
    """Return the edition that is asked for; ``said`` gets what was found by its words."""
    width, height = page_size(request.paper, request.booklet)
    retail = request.audience == "retail"
    if retail:
        _refuse_dealers_matters(request)
    dealer = dealer_called(catalog, request.dealer) if request.dealer else None
    tiers = () if retail else tiers_for(catalog, request.tier, dealer)
    faults = tier_faults(tiers)
    if faults:
        raise LabelerError(faults)
    return Edition(
        catalog, picked(catalog, request.only, said), request.audience, request.day,
        width, height,
        bleed=BLEED if request.bleed else 0.0, tiers=tiers, dealer=dealer, live=not request.booklet,
        keystone=request.keystone, prices=request.prices,
        ready=None if retail or request.prices else request.ready,
    )  # fmt: skip


def _refuse_dealers_matters(request: BookRequest) -> None:
    """Refuse what would bring a dealer into a book for buyers."""
    asked = {
        "dealer": request.dealer, "tier": request.tier, "order-sheet": request.order_sheet,
        "keystone": "keystone" if request.keystone else "",
    }  # fmt: skip
    faults = [
        stop("retail-has-no-dealer", Place(key=f"--{name}"),
             "a book for buyers knows nothing of dealers", found=str(value),
             hint="Leave it out, or make the book --for dealer.")
        for name, value in asked.items()
        if value
    ]  # fmt: skip
    if faults:
        raise LabelerError(faults)


def _other_days(edition: Edition) -> Iterator[Finding]:
    """Yield where the days of the price list and those of its prices don't agree."""
    file, day = edition.catalog.file, edition.day
    terms, prices = file.terms, file.prices
    first, last = terms.listed, terms.valid_until
    if (first and day < first) or (last and day > last):
        yield fix(
            "terms-other-day", Place(file=CATALOG_NAME, key="terms"),
            "the prices are those of a day on which the list does not hold",
            found=f"prices of {day.isoformat()}, "
            f"list from {first or 'any day'} until {last or 'further notice'}",
            expected="terms.listed and terms.valid_until around that day",
            hint="--on DAY makes it with the prices of another day.",
        )  # fmt: skip
        return
    turns = {turn for one in prices
             for turn in (one.first_day, one.last_day and one.last_day + dt.timedelta(days=1))
             if turn and turn > day and last and turn <= last}  # fmt: skip
    for turn in sorted(turns):
        odd = [p.sku for p in edition.products
               if dated_price(prices, p.sku, turn) != dated_price(prices, p.sku, day)]  # fmt: skip
        if odd:
            yield fix(
                "terms-price-turns", Place(file=CATALOG_NAME, key="prices"),
                f"from {turn.isoformat()} on these cost otherwise, and the list says it holds "
                f"until {last}", found=a_few(odd),
                expected="terms.valid_until before that day",
            )  # fmt: skip
            return


def _without_price(edition: Edition) -> Iterator[Finding]:
    priceless = [product.sku for product in edition.products if product.price is None]
    if priceless:
        yield fix(
            "no-price", Place(file="catalog.toml"), "some products have no price",
            found=listed(priceless),
            hint="They stand in the book as “on request”.",
        )  # fmt: skip


@dataclass(frozen=True, slots=True)
class SiteMade:
    """What was made of the pages that codes lead to."""

    out: Path
    pages: int
    lots: int
    findings: tuple[Finding, ...]


def make_pages(
    folder: Path, out: Path, day: dt.date | None = None, progress: Progress | None = None
) -> SiteMade:
    """Write the pages that codes lead to. None appears unless all could be made.

    Pages that lie there already and lead from labels no longer sold are left alone.

    Args:
        folder: the catalog.
        out: the folder to write.
        day: as of which the rules are held; None for today.
        progress: called for every page.

    Raises:
        LabelerError: if the catalog is at fault, has no links, or the folder can't be written.
    """
    from labeler.book.site import led_elsewhere, site_pages

    day = day or dt.date.today()  # noqa: DTZ011  (the maker's own day)
    catalog, findings = readable(folder, day)
    lots = _lots_of(folder)
    told: list[Finding] = []
    pages = list(site_pages(catalog, lots, day, told))
    with new_folder(out) as draft:
        for count, page in enumerate(pages, 1):
            file = draft / page.path
            file.parent.mkdir(parents=True, exist_ok=True)
            file.write_text(page.html(), encoding="utf-8")
            if progress:
                progress(count, len(pages))
    moved = led_elsewhere(catalog.file.maker, lots)
    return SiteMade(out, len(pages), len(lots), (*findings, *told, *moved))


def _lots_of(folder: Path) -> list[LotPage]:
    """Return the folder's lots; none where there is no ledger."""
    with ledger_location(folder).opened_if_begun() as ledger:
        if ledger is None:
            return []
        from labeler.book.site import LotPage
        from labeler.ledger.lots import list_lots, snapshot_of  # only where there is a ledger

        return [
            LotPage(lot.code, snapshot_of(ledger, lot), lot.made, lot.void is not None)
            for lot in list_lots(ledger)
        ]
