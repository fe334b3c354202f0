"""Tracing: from anything in hand to the lots it touches, as a table, a CSV or a sheet of paper."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from labeler.app.papers import SIZES, deliver, on_pages, page_of, paper_for, titled
from labeler.app.workstation import LedgerLocation, ledger_location
from labeler.catalog.model import Product
from labeler.catalog.read import examine
from labeler.files import delivered, refuse_one_name, refuse_to_bury
from labeler.findings import LabelerError
from labeler.layout.compose import BenchPaper
from labeler.layout.facts import Recall, Recalled, recall_facts
from labeler.ledger.lots import find, snapshot_of
from labeler.ledger.store import Ledger, last_change
from labeler.ledger.texts import fold
from labeler.ledger.trace import Story, Trace, trace

_FIRST_PAGE, _NEXT_PAGES = 560.0, 620.0
"""Points of height for what a page holds beside its head and foot, on the lower of the papers."""

_ROW, _TIGHT_ROW, _DEALERS, _HEADING = 51.0, 38.7, 21.0, 30.0

Dealers = Sequence[tuple[str, int]]
_Page = tuple[Dealers, Sequence[Recalled]]


@dataclass(frozen=True, slots=True)
class TraceRequest:
    """What to ask, and what to write beside the answer."""

    folder: Path
    text: str
    csv: Path | None = None
    sheet: Path | None = None
    paper: str = ""


def ask(wish: TraceRequest) -> tuple[Trace, LedgerLocation]:
    """Answer a question, and write what is wished for: the files appear whole or not at all.

    Raises:
        LabelerError: if nothing in the ledger bears that name, or a file can't be written.
    """
    if wish.sheet is not None:
        refuse_to_bury(wish.sheet)
    refuse_one_name(*filter(None, (wish.sheet, wish.csv)))
    books = ledger_location(wish.folder)
    with books.opened() as ledger:
        found = _traced(ledger, wish)
        if wish.csv is not None:
            table = found.as_csv().encode("utf-8-sig")
            refuse_to_bury(wish.csv, alike=table.partition(b"\r\n")[0])
            with delivered(wish.csv) as file:
                file.write(table)
        if wish.sheet is not None:
            _write_sheet(wish, books, ledger, found)
    return found, books


def _traced(ledger: Ledger, wish: TraceRequest) -> Trace:
    """Look for the text, and if nobody bears that name, for the dealer of that heading."""
    try:
        return trace(ledger, wish.text)
    except LabelerError:
        catalog, _ = examine(wish.folder)
        known = catalog.file.dealers.items() if catalog else ()
        meant = [dealer.name for heading, dealer in known if fold(heading) == fold(wish.text)]
        if not meant:
            raise
        return trace(ledger, meant[0])


def _write_sheet(wish: TraceRequest, books: LedgerLocation, ledger: Ledger, found: Trace) -> None:
    products: dict[str, Product] = {}
    lots = [_recalled(ledger, story, products) for story in found.stories]
    maker = lots[0].product.maker if lots else None
    changed = last_change(ledger)
    dealers = [(each.dealer, each.count) for each in found.dealers]
    tight = len(_pages(lots, dealers, _ROW)) > 1
    told = Recall(
        maker, found.asked, found.meanings, books.told(changed) if changed else "", lots, dealers,
        tight,
    )  # fmt: skip
    name = paper_for(maker.country if maker else "US", wish.paper)
    pages = _pages(lots, dealers, _TIGHT_ROW if tight else _ROW)
    papers = [
        BenchPaper(
            "recall-sheet", SIZES[name], recall_facts(told, called, page, (at, len(pages))),
            others={each.product.sku: each.product for each in page},
        )
        for at, (called, page) in enumerate(pages, 1)
    ]  # fmt: skip
    plan = on_pages(wish.folder, papers, page_of(name))
    author = maker.name if maker else ""
    deliver(wish.sheet or Path(), plan, titled(f"Trace of {found.asked}", author, wish.folder))


def _recalled(ledger: Ledger, story: Story, products: dict[str, Product]) -> Recalled:
    lot = find(ledger, story.lot)
    if lot.snapshot not in products:
        products[lot.snapshot] = snapshot_of(ledger, lot)
    return Recalled(
        story.lot,
        products[lot.snapshot],
        story.made.isoformat(),
        story.count,
        story.labels,
        story.on_hand,
        story.void,
        [(each.dealer, each.count) for each in story.dealers],
        [str(each) for each in story.materials],
    )


def _pages(lots: Sequence[Recalled], dealers: Dealers, row: float) -> list[_Page]:
    """Return what stands on each page: first all dealers, then as many lots as there is room for.

    Args:
        lots: all of them.
        dealers: all of them, two in a row.
        row: points of height that a lot takes.
    """
    pages: list[_Page] = []
    room = _FIRST_PAGE
    while dealers or lots or not pages:
        named = min(len(dealers), 2 * int(room // _DEALERS))
        room -= -(-named // 2) * _DEALERS
        told = int(room // row) if named == len(dealers) else 0
        pages.append((dealers[:named], lots[:told]))
        dealers, lots = dealers[named:], lots[told:]
        room = _NEXT_PAGES - (_HEADING if dealers else 0)
    return pages
