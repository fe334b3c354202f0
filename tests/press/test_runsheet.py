"""The run sheet says of every page what stands on it."""

from __future__ import annotations

import json
from collections.abc import Callable

import pytest

from labeler.marks import Piece
from labeler.press.impose import Imposition, PieceOrder, Ticket, impose
from labeler.press.printers import Printer
from labeler.press.runsheet import run_sheet
from labeler.press.sheets import Sheet


def claimed(
    plan: Imposition, ticket: Ticket
) -> dict[int, list[tuple[str, float, float, int, str]]]:
    """Return what the run sheet claims of each page: SKU, corner, turn and side of each place."""
    record = json.loads(run_sheet(plan, ticket, {}, {}).data)
    pages = {}
    for group in record["pages"]:
        places = [(record["pieces"][p[0]]["sku"], *p[1:5]) for p in group["places"]]
        for first, last, step in group["numbers"]:
            for number in range(first, last + 1, step):
                assert number not in pages
                pages[number] = places
    return pages


@pytest.mark.parametrize("feed", ["auto", "hand"])
@pytest.mark.parametrize("back", [None, ()], ids=["one side", "both sides"])
@pytest.mark.parametrize(("kinds", "each"), [(1200, 1), (3, 70)], ids=["all different", "alike"])
def test_every_page_is_claimed_as_it_is_printed(
    kinds: int,
    each: int,
    back: tuple[()] | None,
    feed: str,
    sheets: dict[str, Sheet],
    label: Callable[..., Piece],
) -> None:
    """A sheet's places were once looked up by an id that by then was another sheet's."""
    pieces = [label(f"KT-{n}", front=(), back=back) for n in range(kinds)]
    plan = impose([PieceOrder(piece, each) for piece in pieces], sheets["letter-3x10"])
    ticket = Ticket("Run", printer=Printer(feed=feed))  # type: ignore[arg-type]
    printed = {
        number: [
            (p.piece.sku, round(p.x, 3), round(p.y, 3), p.turn, page.side) for p in page.placed
        ]
        for number, page in enumerate(plan.pages(by_hand=feed == "hand"), 1)
    }
    assert claimed(plan, ticket) == printed


def test_alike_sheets_are_written_once(
    sheets: dict[str, Sheet], label: Callable[..., Piece]
) -> None:
    plan = impose([PieceOrder(label(), 3000)], sheets["letter-3x10"])
    record = json.loads(run_sheet(plan, Ticket("Run"), {}, {}).data)
    assert [group["numbers"] for group in record["pages"]] == [[[1, 100, 1]]]
