"""The recall sheet: whom to call and why, and what the labels look like that are called back."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from pathlib import Path
from textwrap import shorten

from labeler.app.papers import SIZES, deliver_papers, lay_pages, paper_for
from labeler.app.reprint import find_original, lay_out_again
from labeler.app.workstation import ledger_location
from labeler.book.edition import find_named
from labeler.catalog.model import Product
from labeler.catalog.read import examine
from labeler.findings import LabelerError, listed, plural
from labeler.layout.compose import BenchPaper
from labeler.layout.facts import Recall, Recalled, RecallHolder, recall_facts
from labeler.ledger.lots import Lot, find, snapshot_of
from labeler.ledger.store import Ledger, last_change
from labeler.ledger.trace import Story, Trace
from labeler.marks import Piece
from labeler.press.impose import Ticket

_FIRST_PAGE, _NEXT_PAGES = 530.0, 620.0
"""Points of height for what a page holds beside its head and foot, on the lower of the papers."""

_ROW, _TIGHT_ROW, _DEALERS, _HEADING, _SAID = 53.0, 38.7, 25.0, 30.0, 55.0
_SHOWN = 128.0
"""Points of height of the labels that are shown as large as they were printed."""

_MOST_SAID = 330
"""Letters of a reason that its three lines hold; longer ones are cut, the ledger has them whole."""
_MOST_SHOWN = 2
"""Of more lots than this, labels are shown beside the lots alone."""

_Page = tuple[Sequence[RecallHolder], Sequence[Recalled]]


def print_recall_sheet(
    folder: Path, out: Path, ledger: Ledger, found: Trace, paper: str = "",
    why: str = "",
) -> None:  # fmt: skip
    """Write the sheet of a recall: whom to call and why, and what it looks like.

    Each lot is shown by its label as it was printed last, drawn again from what the ledger kept;
    where none was printed, or none was kept, by the jig.

    Args:
        folder: the catalog, for the dealers' telephones and addresses of today.
        out: the PDF to write.
        ledger: an open ledger.
        found: the lots that are called back.
        paper: letter or a4; empty takes the maker's country's.
        why: the reason; empty takes the reasons for which the lots are held or void.

    Raises:
        LabelerError: if something does not fit, or the file can't be written.
    """
    changed = last_change(ledger)
    as_of = ledger_location(folder).clock(changed) if changed else ""
    products: dict[str, Product] = {}
    known = [find(ledger, story.lot) for story in found.stories]
    lots = [
        _recalled(ledger, story, lot, products)
        for story, lot in zip(found.stories, known, strict=True)
    ]
    labels = _labels(ledger, folder, known)
    maker = lots[0].product.maker if lots else None
    dealers = _to_call(folder, found)
    perhaps = len(found.perhaps), sum(story.count for story in found.perhaps)
    said = _SAID if perhaps[0] or any(each.gone for each in lots) else 0
    side_by_side = 1 if any(each.phone or each.email for each in dealers) else 2
    large = [each.lot for each in lots if each.lot in labels]
    show_large = _SHOWN if large and len(lots) <= _MOST_SHOWN else 0
    pages = _recall_pages(lots, dealers, side_by_side, _ROW, said + show_large)
    tight = len(pages) > 1
    if tight:
        show_large = 0
        pages = _recall_pages(lots, dealers, side_by_side, _TIGHT_ROW, said)
    facts = Recall(
        maker, found.asked, found.meanings, as_of, lots, dealers, tight, perhaps,
        shorten(why.strip() or _why(known), _MOST_SAID, placeholder=" …"),
        tuple(large) if show_large else (),
    )  # fmt: skip
    paper = paper_for(maker.country if maker else "US", paper)
    papers = [
        BenchPaper(
            "recall-sheet", SIZES[paper], recall_facts(facts, to_call, page, (at, len(pages))),
            others={each.product.sku: each.product for each in page},
            printed=labels,
        )
        for at, (to_call, page) in enumerate(pages, 1)
    ]  # fmt: skip
    author = maker.name if maker else ""
    ticket = Ticket(f"Trace of {found.asked}", author=author, maker_folder=folder)
    deliver_papers([lay_pages(out, papers, paper, ticket)])


def _recalled(
    ledger: Ledger, story: Story, lot: Lot, products: dict[str, Product]
) -> Recalled:  # fmt: skip
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
        [RecallHolder(each.dealer, each.count) for each in story.dealers],
        tuple(filter(None, (story.packed, *story.went_in))),
        bool(story.held),
        story.other_names,
        story.gone,
    )


def _labels(ledger: Ledger, folder: Path, lots: Sequence[Lot]) -> Mapping[str, Piece]:
    """Return the label of each lot as it was printed last; none where that can't be drawn again."""
    found = {}
    for lot in lots:
        try:
            original = find_original(ledger, lot.code, None, None)
            if original.layout is not None:
                found[lot.code] = lay_out_again(original, folder)[0].composed.piece
        except LabelerError:  # a typeface is gone since: the jig is shown instead
            continue
    return found


def _to_call(folder: Path, found: Trace) -> list[RecallHolder]:
    """Return who has any of it, with how to reach them by today's catalog."""
    catalog, _ = examine(folder)
    known = catalog.file.dealers if catalog else {}
    called = []
    for each in found.dealers:
        dealer = find_named(known, each.dealer)
        reached = (dealer.phone or "", dealer.email or "") if dealer else ("", "")
        called.append(RecallHolder(each.dealer, each.count, *reached))
    return called


def _why(lots: Sequence[Lot]) -> str:
    """Return why lots are held or void: each reason once, with its lots unless it is of all."""
    reasons: dict[str, list[str]] = {}
    for lot in lots:
        if barred := lot.held or lot.void:
            reasons.setdefault(barred.why, []).append(lot.code)
    if [len(codes) for codes in reasons.values()] == [len(lots)]:
        return next(iter(reasons))
    few = {
        why: listed(codes) if len(codes) <= _MOST_SHOWN else plural(len(codes), "lot")
        for why, codes in reasons.items()
    }
    return "; ".join(f"{which}: {why}" for why, which in few.items())


def _recall_pages(
    lots: Sequence[Recalled],
    dealers: Sequence[RecallHolder],
    side_by_side: int,
    row: float,
    said: float,
) -> list[_Page]:
    """Return what stands on each page: first all dealers, then as many lots as there is room for.

    Args:
        lots: all of them.
        dealers: all of them.
        side_by_side: how many dealers stand in a row.
        row: points of height that a lot takes.
        said: those that what nobody knows, and the labels, take on the first page.
    """
    pages: list[_Page] = []
    room = _FIRST_PAGE - said
    while dealers or lots or not pages:
        listed = min(len(dealers), side_by_side * int(room // _DEALERS))
        room -= -(-listed // side_by_side) * _DEALERS
        fits = int(room // row) if listed == len(dealers) else 0
        pages.append((dealers[:listed], lots[:fits]))
        dealers, lots = dealers[listed:], lots[fits:]
        room = _NEXT_PAGES - (_HEADING if dealers else 0)
    return pages
