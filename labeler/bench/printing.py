"""Printing bag labels and cards: from a catalog folder and a wish to a finished PDF."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field
from pathlib import Path

from labeler.catalog.choose import choose
from labeler.catalog.model import Catalog, Product
from labeler.catalog.read import examine
from labeler.codes.identifiers import identifier
from labeler.codes.product_link import product_link
from labeler.disclosures.needed import needed
from labeler.disclosures.panel import Panel, of_card, of_label
from labeler.findings import Finding, Grade, LabelerError, Place, note, stop
from labeler.layout.compose import Composer, Job
from labeler.layout.marks import Piece
from labeler.layout.menu import Dish, Size, Use, read_menu, suiting
from labeler.layout.setup import InkMode
from labeler.press.deliver import delivered, refuse_to_bury
from labeler.press.impose import Plan, impose
from labeler.press.pdf import write_pdf
from labeler.press.placing import Order, Spot
from labeler.press.printer import Printer
from labeler.press.printers import find_printer
from labeler.press.runsheet import run_sheet
from labeler.press.sheet import Sheet
from labeler.press.sheets import find_sheet
from labeler.press.spoiled import read_spoiled
from labeler.press.ticket import Ticket
from labeler.units import Length

Progress = Callable[[int, int], None]
"""Called with how many pieces are laid out or pages drawn, and how many there are in all."""

MOST_PIECES = 200_000
"""More than a desk printer prints in a week: a slip of the finger, not an order."""


@dataclass(frozen=True, slots=True)
class Wish:
    """What to print. Everything but the folder and the file has a sensible default.

    ``wanted`` are SKUs or patterns like ``RV-*``; none means the whole line. ``size`` is a
    card's, in points. ``layout`` empty means the one that suits.
    """

    folder: Path
    out: Path
    use: Use
    wanted: tuple[str, ...] = ()
    count: int = 1
    sheet: str = ""
    start: int = 1
    spoiled: str = ""
    printer: str = ""
    layout: str = ""
    lot: str = ""
    size: Size | None = None
    ink: InkMode = "colour"
    fill: bool = False
    outline: bool = False
    day: dt.date = field(default_factory=dt.date.today)


@dataclass(frozen=True, slots=True)
class Printed:
    """What was printed: for the words on the screen and for the record."""

    out: Path
    pieces: int
    products: int
    sheets: int
    pages: int
    sheet: str
    layout: str
    next_free: Spot
    findings: tuple[Finding, ...]


DEFAULT_SHEETS: dict[Use, str] = {"bags": "letter-3x10", "cards": "letter-card"}


def print_pieces(wish: Wish, progress: Progress | None = None) -> Printed:
    """Lay out, impose and write what is wished for; the file appears whole or not at all.

    Raises:
        LabelerError: with everything that stands in the way, before anything is written.
    """
    refuse_to_bury(wish.out)
    _refuse_odd_lot(wish.lot)
    catalog, findings = readable(wish.folder)
    products = choose(catalog, wish.wanted)
    printer = find_printer(wish.printer, wish.folder) if wish.printer else Printer()
    sheet = find_sheet(wish.sheet or DEFAULT_SHEETS[wish.use], wish.folder)
    spoiled = read_spoiled(wish.spoiled)
    _refuse_too_many(wish, len(products))
    setter = _Setter(wish, catalog, sheet, printer)
    pieces = setter.pieces(products, progress)
    orders = [Order(piece, wish.count) for piece in pieces]
    plan = impose(
        orders,
        sheet,
        start=wish.start,
        spoiled=spoiled,
        fill=wish.fill,
        flip=printer.duplex,
    )
    _deliver(plan, wish, catalog, printer, progress)
    said = (*findings, *setter.findings, *plan.notes)
    return Printed(
        wish.out,
        plan.piece_count,
        len(products),
        plan.sheet_count,
        plan.page_count,
        sheet.name,
        ", ".join(dict.fromkeys(piece.layout for piece in pieces)),
        plan.next_free,
        said,
    )


def readable(folder: Path) -> tuple[Catalog, tuple[Finding, ...]]:
    """Return the catalog and what is worth saying of it; raise if anything in it stops.

    Only what the maker should fix before printing comes along, not every note.
    """
    catalog, findings = examine(folder)
    if catalog is None:
        raise LabelerError(f for f in findings if f.grade is Grade.STOP)
    return catalog, tuple(f for f in findings if f.grade is Grade.FIX)


class _Setter:
    """Lays out every product of a run, each once, and gathers all faults before it gives up."""

    def __init__(self, wish: Wish, catalog: Catalog, sheet: Sheet, printer: Printer) -> None:
        self.wish, self.catalog, self.sheet = wish, catalog, sheet
        dpi = sheet.dpi or printer.dpi
        self.composer = Composer(wish.folder, dpi=dpi, ink=wish.ink)
        self.menu = read_menu(wish.folder)
        if wish.use == "bags" and sheet.grid is not None and not wish.layout:
            size = wish.size or (sheet.grid.cell_width, sheet.grid.cell_height)
            suiting(self.menu, "bags", size)  # else every product would say the same

    @property
    def findings(self) -> tuple[Finding, ...]:
        """What is worth saying of the pieces, each once."""
        return tuple(dict.fromkeys(self.composer.findings))

    def pieces(self, products: Sequence[Product], progress: Progress | None) -> list[Piece]:
        """Return the pieces in the products' order."""
        pieces: list[Piece] = []
        faults: list[Finding] = []
        for number, product in enumerate(products, 1):
            try:
                pieces.append(self.composer.compose(self._job(product)))
            except LabelerError as error:
                faults += error.findings
                if len(faults) > _MOST_FAULTS:
                    faults.append(note("and-more", Place(), "and more like these"))
                    break
            if progress:
                progress(number, len(products))
        if faults:
            raise LabelerError(faults)
        return pieces

    def _job(self, product: Product) -> Job:
        dish, size = self._dish(product)
        layout = self.wish.layout or dish.name
        said = needed(product, product.markets, self.wish.day, panel=self._panel(product, size))
        link = ""
        if product.maker.links:
            link = product_link(product.maker.links, product.gtin, product.sku, self.wish.lot)
        return Job(product, layout, size, said, self.wish.lot, link)

    def _dish(self, product: Product) -> tuple[Dish, Size]:
        """Return the layout and the size of the piece: the cell's, the one asked for, the bag's."""
        grid = self.sheet.grid
        asked = self.menu.get(self.wish.layout)
        if self.wish.use == "bags" and grid is not None:
            size = self.wish.size or (grid.cell_width, grid.cell_height)
            return asked or self._suiting("bags", size), size
        dish = asked or self.menu["header-card"]
        usual = dish.size_for(product.bag)
        cell = (grid.cell_width, grid.cell_height) if grid is not None else None
        size_or_none = self.wish.size or usual or cell
        if size_or_none is None:
            raise LabelerError(
                stop(
                    "no-size",
                    Place(piece=product.sku),
                    f"the layout {self.wish.layout or dish.name!r} has no size of its own",
                    hint='Give one with --size, such as --size "3 x 4 in".',
                )
            )
        return dish, size_or_none

    def _suiting(self, use: Use, size: Size) -> Dish:
        if self.wish.layout:
            return Dish(self.wish.layout, "", use, size, size)
        return suiting(self.menu, use, size)

    def _panel(self, product: Product, size: Size) -> Panel:
        width, height = Length(size[0]), Length(size[1])
        if self.wish.use == "cards":
            return of_card(width, height)
        return of_label(width, height, product.bag)


_MOST_FAULTS = 60


def _refuse_odd_lot(lot: str) -> None:
    """Refuse a lot that a code could not carry as it is printed.

    Source: GS1 General Specifications, 7.11, for the characters; RFC 3986, 5.2.4, for dots alone.
    """
    kind = identifier("10")
    fault = kind.fault(lot) if kind and lot else None
    if fault or lot in (".", ".."):
        raise LabelerError(
            stop(
                "lot-code",
                Place(key="lot"),
                fault.sentence if fault else "a lot of dots alone drops out of a link",
                found=repr(lot[:_LOT_SHOWN]),
                expected="at most 20 letters, digits and signs, without a space",
            )
        )


_LOT_SHOWN = 40


def _refuse_too_many(wish: Wish, products: int) -> None:
    if wish.count < 1 or wish.count * products > MOST_PIECES:
        raise LabelerError(
            stop(
                "count-out-of-range",
                Place(key="count"),
                "this many can't be printed in one run",
                found=f"{wish.count} each of {products}",
                expected=f"at least 1 each and at most {MOST_PIECES:,} in all",
            )
        )


def _deliver(
    plan: Plan, wish: Wish, catalog: Catalog, printer: Printer, progress: Progress | None
) -> None:
    maker = catalog.file.maker
    kind = "Bag labels" if wish.use == "bags" else "Cards"
    ticket = Ticket(
        title=f"{kind}, {maker.name}",
        author=maker.name,
        subject=_subject(plan),
        printer=printer,
        outline=wish.outline,
        own=wish.folder,
    )
    facts = {
        "use": wish.use,
        "day": wish.day.isoformat(),
        "catalog": catalog.fingerprint,
        "printer": printer.name,
        "dpi": plan.sheet.dpi or printer.dpi,
        "sheet": plan.sheet.name,
    }
    markets = {p.sku: p.markets for p in catalog.products}
    attached = (run_sheet(plan, ticket, facts, markets),)
    ticket = Ticket(
        title=ticket.title,
        author=ticket.author,
        subject=ticket.subject,
        printer=printer,
        outline=wish.outline,
        own=wish.folder,
        attached=attached,
    )
    with delivered(wish.out) as file:
        write_pdf(plan, file, ticket, _pages_told(plan, progress))


def _subject(plan: Plan) -> str:
    sheets = "1 sheet" if plan.sheet_count == 1 else f"{plan.sheet_count} sheets"
    return f"{plan.piece_count} pieces on {sheets} {plan.sheet.name}"


def _pages_told(plan: Plan, progress: Progress | None) -> Callable[[int], None] | None:
    if progress is None:
        return None
    return lambda page: progress(page, plan.page_count)


def skus_of(pieces: Sequence[Piece]) -> Iterator[str]:
    """Yield every SKU once, in order."""
    yield from dict.fromkeys(piece.sku for piece in pieces)
