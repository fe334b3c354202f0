"""Papers of the bench and the post, laid out as labels are, one piece a page."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import BinaryIO, cast

from labeler.app.print_run import RunMetadata, layout_files, record
from labeler.app.workstation import LedgerLocation, ledger_location
from labeler.catalog.model import Product
from labeler.codes.links import product_link
from labeler.files import Hashed, delivered, refuse_to_bury, settle
from labeler.findings import LabelerError, Place, did_you_mean, stop
from labeler.layout.compose import BenchPaper, Composer
from labeler.layout.facts import BatchFacts, batch_facts
from labeler.layout.index import Size
from labeler.ledger.handbook133 import sample_size
from labeler.ledger.lots import Lot, find, snapshot_of
from labeler.ledger.runs import KeptLayout
from labeler.ledger.store import Ledger
from labeler.marks import InkMode
from labeler.press.impose import Imposition, PieceOrder, Ticket, impose
from labeler.press.pdf.run import write_pdf
from labeler.press.printers import Printer
from labeler.press.sheets import Sheet, whole_page
from labeler.units import Length

SIZES: dict[str, Size] = {
    "letter": (Length.from_inches(8.5).pt, Length.from_inches(11).pt),
    "a4": (Length.from_mm(210).pt, Length.from_mm(297).pt),
}
"""Sources: ANSI/ASME Y14.1 for Letter (A), ISO 216 for A4."""

_LETTER_COUNTRIES = ("US", "CA", "MX", "CL", "CO", "PH")
"""Where Letter is the usual paper. Common practice, no published source."""


def paper_for(country: str, asked: str = "") -> str:
    """Return the paper asked for, or the one usual in a country.

    Raises:
        LabelerError: if there is no paper of the name that is asked for.
    """
    if asked and asked not in SIZES:
        raise LabelerError(
            stop(
                "unknown-paper",
                Place(key="paper"),
                "papers of the bench are not made for this size",
                found=repr(asked),
                hint=did_you_mean(asked, list(SIZES)),
            )
        )
    return asked or ("letter" if country in _LETTER_COUNTRIES else "a4")


def page_of(name: str) -> Sheet:
    """Return a whole page as the sheet it is printed on."""
    return whole_page(f"{name}-page", *SIZES[name])


def on_pages(
    folder: Path, papers: Sequence[BenchPaper], sheet: Sheet, ink: InkMode = "colour"
) -> Imposition:
    """Return papers laid out, one a page.

    Raises:
        LabelerError: if a layout is at fault or something does not fit.
    """
    composer = Composer(folder, ink=ink)
    return impose([PieceOrder(composer.compose_paper(paper), 1) for paper in papers], sheet)


def deliver(
    out: Path,
    plan: Imposition,
    ticket: Ticket,
    before: Callable[[str], None] | None = None,
    progress: Callable[[int], None] | None = None,
) -> None:
    """Write pages as a PDF that appears whole or not at all.

    Args:
        out: the file.
        plan: the pages on their paper.
        ticket: what the document is called.
        before: called with the file's SHA-256 once all of it is on the disk, before it takes its
            name; if it raises, there is no file.
        progress: called after each page with the number of pages so far.

    Raises:
        LabelerError: if the file can't be written.
    """
    with delivered(out) as file:
        hashed = Hashed(file)
        write_pdf(plan, cast("BinaryIO", hashed), ticket, progress)
        settle(file)
        if before:
            before(hashed.hexdigest)


def titled(title: str, author: str, own: Path, printer: Printer | None = None) -> Ticket:
    """Return the ticket of a paper."""
    return Ticket(title=title, author=author, own=own, printer=printer or Printer())


# ----------------------------------------------------------------------------
# The batch card of a lot: the page that goes with it from the pot to the peg.

LAYOUT = "batch-card"


@dataclass(frozen=True, slots=True)
class CardRequest:
    """Which lot's card to write. ``paper`` is letter or a4; empty takes the maker's country's."""

    folder: Path
    code: str
    out: Path
    paper: str = ""
    ink: InkMode = "colour"


@dataclass(frozen=True, slots=True)
class CardMade:
    """What was written, for the words on the screen."""

    out: Path
    lot: Lot
    paper: str
    run: int


def print_batch_card(wish: CardRequest) -> CardMade:
    """Write the batch card of a lot, and put that on record.

    Raises:
        LabelerError: if there is no such lot or it is void, something does not fit, or the file
            can't be written.
    """
    refuse_to_bury(wish.out)
    books = ledger_location(wish.folder)
    with books.opened() as ledger:
        lot = find(ledger, wish.code)
        if lot.void is not None:
            raise LabelerError(
                stop("lot-void", Place(key="lot"), "this lot was withdrawn, so it has no card",
                     found=lot.code, hint=f"Why: {lot.void.why}")
            )  # fmt: skip
        product = snapshot_of(ledger, lot)
        name = paper_for(product.maker.country, wish.paper)
        facts = batch_facts(_batch(books, lot, product))
        page = BenchPaper(LAYOUT, SIZES[name], facts, product, lot.code)
        number = _write(wish, ledger, lot, page)
    return CardMade(wish.out, lot, name, number)


def _batch(books: LedgerLocation, lot: Lot, product: Product) -> BatchFacts:
    link = ""
    if product.maker.links:
        link = product_link(product.maker.links, product.gtin, product.sku, lot.code)
    return BatchFacts(
        product,
        lot.code,
        link,
        lot.count,
        lot.made.isoformat(),
        books.told(lot.opened_at),
        sample_size(lot.count),
        [(each.kind, each.lot) for each in lot.materials],
        lot.note,
    )


def _write(wish: CardRequest, ledger: Ledger, lot: Lot, page: BenchPaper) -> int:
    composer = Composer(wish.folder, ink=wish.ink)
    piece = composer.compose_paper(page)
    assert page.subject is not None
    maker = page.subject.maker.name
    sheet = page_of("letter" if page.size == SIZES["letter"] else "a4")
    kept = KeptLayout(LAYOUT, layout_files(composer, LAYOUT))
    plan = impose([PieceOrder(piece, 1)], sheet)
    numbers: list[int] = []

    def on_record(pdf: str) -> None:
        stamp = RunMetadata("batch card", pdf, "", lot.catalog)
        numbers.append(record(ledger, plan, [kept], stamp))

    ticket = titled(f"Batch card, lot {lot.code}, {page.subject.name}", maker, wish.folder)
    deliver(wish.out, plan, ticket, on_record)
    return numbers[0]
