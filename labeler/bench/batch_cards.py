"""The batch card of a lot: the page that goes with it from the pot to the peg."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from labeler.bench.ledgers import Books, books_of
from labeler.bench.papers import SIZES, deliver, page_of, paper_for, titled
from labeler.bench.recording import Stamp, layout_files, record
from labeler.catalog.model import Product
from labeler.codes.product_link import product_link
from labeler.findings import LabelerError, Place, stop
from labeler.layout.batch_facts import Batch, batch_facts
from labeler.layout.compose import Composer, Paper
from labeler.layout.setup import InkMode
from labeler.ledger.handbook133 import sample_size
from labeler.ledger.kept_layouts import KeptLayout
from labeler.ledger.lots import Lot, find, snapshot_of
from labeler.ledger.store import Ledger
from labeler.press.deliver import refuse_to_bury
from labeler.press.impose import impose
from labeler.press.placing import Order

LAYOUT = "batch-card"


@dataclass(frozen=True, slots=True)
class CardWish:
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


def print_batch_card(wish: CardWish) -> CardMade:
    """Write the batch card of a lot, and put that on record.

    Raises:
        LabelerError: if there is no such lot or it is void, something does not fit, or the file
            can't be written.
    """
    refuse_to_bury(wish.out)
    books = books_of(wish.folder)
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
        page = Paper(LAYOUT, SIZES[name], facts, product, lot.code)
        number = _write(wish, ledger, lot, page)
    return CardMade(wish.out, lot, name, number)


def _batch(books: Books, lot: Lot, product: Product) -> Batch:
    link = ""
    if product.maker.links:
        link = product_link(product.maker.links, product.gtin, product.sku, lot.code)
    return Batch(
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


def _write(wish: CardWish, ledger: Ledger, lot: Lot, page: Paper) -> int:
    composer = Composer(wish.folder, ink=wish.ink)
    piece = composer.compose_paper(page)
    assert page.subject is not None
    maker = page.subject.maker.name
    sheet = page_of("letter" if page.size == SIZES["letter"] else "a4")
    kept = KeptLayout(LAYOUT, layout_files(composer, LAYOUT))
    plan = impose([Order(piece, 1)], sheet)
    numbers: list[int] = []

    def on_record(pdf: str) -> None:
        stamp = Stamp("batch card", pdf, "", lot.catalog)
        numbers.append(record(ledger, plan, [kept], stamp))

    ticket = titled(f"Batch card, lot {lot.code}, {page.subject.name}", maker, wish.folder)
    deliver(wish.out, plan, ticket, on_record)
    return numbers[0]
