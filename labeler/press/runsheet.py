"""The run sheet that travels inside the PDF: which piece a cell claims to be.

Whoever checks the finished file takes from it what to look for, and nothing else: SKU, lot and
markets of each place on each page, and the printer's correction that moved the pages.
"""

from __future__ import annotations

import json
from collections import deque
from collections.abc import Iterator, Mapping, Sequence
from typing import Any

from labeler.geometry import Box
from labeler.marks import Piece
from labeler.press.impose import Attachment, Imposition, Placed, Ticket
from labeler.press.leaf import BookPage

NAME = "run-sheet.json"
FORM = 1
"""The form's number; it changes when a reader of the old form would misread the new one."""

TODAY = "today"
"""Said of a run whose products are today's, whatever the ledger kept with their lot."""


def run_sheet(
    plan: Imposition, ticket: Ticket, facts: Mapping[str, Any], markets: Mapping[str, Sequence[str]]
) -> Attachment:
    """Return the run sheet of a plan.

    Args:
        plan: what lies where.
        ticket: the job's ticket, for its printer.
        facts: the run's own: its date, the layout, the catalog's fingerprint and the like.
        markets: the places of sale by SKU.

    Pages that hold the same things are written once, with all their numbers. A place is the
    piece's number, its corner (left, top) on the page in points, its turn and its side.
    """
    pieces: dict[int, tuple[int, Piece]] = {}
    groups: list[tuple[list[int], list[list[Any]]]] = []
    recent: deque[tuple[tuple[Placed, ...], list[int]]] = deque(maxlen=_SIDES)
    for number, page in enumerate(plan.pages(by_hand=ticket.printer.feed == "hand"), 1):
        known = next((numbers for placed, numbers in recent if placed is page.placed), None)
        if known is None:
            known = []
            groups.append((known, [_spot(placed, page.side, pieces) for placed in page.placed]))
            recent.append((page.placed, known))
        known.append(number)
    record = {
        "form": FORM,
        "run": dict(facts),
        "paper": [round(plan.sheet.width, 3), round(plan.sheet.height, 3)],
        "correction": {
            side: [round(n, 6) for n in ticket.printer.matrix(side, _page(plan))]
            for side in ("front", "back")
        },
        "pieces": [_piece(piece, markets) for _, piece in sorted(pieces.values(), key=_number)],
        "pages": [{"numbers": _ranges(numbers), "places": spots} for numbers, spots in groups],
    }
    data = json.dumps(record, ensure_ascii=False, separators=(",", ":")).encode()
    return Attachment(NAME, data, "application/json", "What stands on which cell of this run")


_SIDES = 2
"""Alike sheets follow one another, so that only the last front's and back's places need be kept.

The places themselves are kept and not their ids, which go to other objects in time.
"""


def _number(entry: tuple[int, Piece]) -> int:
    return entry[0]


def _page(plan: Imposition) -> tuple[float, float]:
    return plan.grid.page_width, plan.grid.page_height


def _spot(placed: Placed, side: str, pieces: dict[int, tuple[int, Piece]]) -> list[Any]:
    number, _ = pieces.setdefault(id(placed.piece), (len(pieces), placed.piece))
    return [number, round(placed.x, 3), round(placed.y, 3), placed.turn, side, placed.cell]


def _piece(piece: Piece, markets: Mapping[str, Sequence[str]]) -> dict[str, Any]:
    return {
        "sku": piece.sku,
        "lot": piece.lot,
        "layout": piece.layout,
        "size": [round(piece.width, 3), round(piece.height, 3)],
        "bleed": round(piece.bleed, 3),
        "safe": round(piece.safe, 3),
        "markets": list(markets.get(piece.sku, ())),
        "holes": [
            _around(face_number, hole.steps)
            for face_number, face in enumerate(piece.faces)
            for hole in face.holes
        ],
    }


def _around(face: int, steps: Sequence[Any]) -> list[float]:
    """Return the face's number and the box around a hole, left, top, right, bottom."""
    numbers = [n for step in steps for n in step[1:]]
    xs, ys = numbers[::2], numbers[1::2]
    return [face, *(round(n, 3) for n in (min(xs), min(ys), max(xs), max(ys)))]


def _ranges(numbers: Sequence[int]) -> list[list[int]]:
    return [[first, last, step] for first, last, step in _runs(numbers)]


def _runs(numbers: Sequence[int]) -> Iterator[tuple[int, int, int]]:
    """Yield (first, last, step) for stretches of page numbers at even distances."""
    start = 0
    while start < len(numbers):
        step = numbers[start + 1] - numbers[start] if start + 1 < len(numbers) else 1
        end = start
        while end + 1 < len(numbers) and numbers[end + 1] - numbers[end] == step:
            end += 1
        yield numbers[start], numbers[end], step
        start = end + 1


# ----------------------------------------------------------------------------
# The sheet that travels inside a book's PDF: which entry is about which products, and where.
#
# Whoever checks the finished file takes from it what to look for and where, and nothing else. A
# price, a weight or a warning never stands in it: those are reckoned anew from the catalog.

BOOK_SHEET_NAME = "book-sheet.json"
"""The form's number; it changes when a reader of the old form would misread the new one."""


class BookSheet:
    """The sheet of one book in the making."""

    def __init__(self, facts: Mapping[str, Any], binding: str) -> None:
        self.facts, self.binding = facts, binding
        self._pages: list[list[Any]] = []
        self._places: list[list[Any]] = []

    def lay(self, leaf: BookPage, number: int, x: float, y: float) -> None:
        """Note a page of the book.

        Args:
            leaf: the page.
            number: of the PDF's page it lies on, from 1.
            x: from the left edge of that page to the leaf's trim, in points.
            y: from its top edge.
        """
        trim = (0.0, 0.0, leaf.width, leaf.height)
        self._pages.append([number, _moved(trim, x, y)])
        for claim in leaf.claims:
            self._places.append(
                [number, claim.kind, claim.pattern, list(claim.skus), _moved(claim.box, x, y)]
            )

    def attachment(self) -> Attachment:
        """Return the sheet as a file that travels inside the PDF."""
        record = {
            "form": FORM,
            "book": dict(self.facts),
            "binding": self.binding,
            "pages": self._pages,
            "places": self._places,
        }
        data = json.dumps(record, ensure_ascii=False, separators=(",", ":")).encode()
        says = "What stands where in this book"
        return Attachment(
            BOOK_SHEET_NAME, data, "application/json", says, str(self.facts.get("day", ""))
        )


def _moved(box: Box, x: float, y: float) -> list[float]:
    left, top, right, bottom = box
    return [round(n, 2) for n in (left + x, top + y, right + x, bottom + y)]
