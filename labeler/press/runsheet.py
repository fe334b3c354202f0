"""What travels inside a PDF for whoever checks it: which piece a cell claims to be, and where.

From a run sheet the checker takes what to look for, and nothing else: SKU, lot and markets of
each place on each page, and the printer's correction that moved the pages. From a book's it takes
which entry is about which products, and where. A price, a weight or a warning never stands in
either: those are worked out from the catalog.
"""

from __future__ import annotations

import json
from collections import deque
from collections.abc import Iterator, Mapping, Sequence
from typing import Any

from labeler.geometry import Box, apply_to_box, bounding_box
from labeler.marks import BookPage, Piece, VectorPath, path_points
from labeler.press.impose import Attachment, Imposition, Placed, Ticket
from labeler.units import Length

NAME, BOOK_SHEET_NAME = "run-sheet.json", "book-sheet.json"

FORM = 1
"""The form's number; it changes when a reader of the old form would misread the new one."""

TODAY = "today"
"""Said of a run whose products are today's, whatever the ledger kept with their lot."""

PREVIEW = "preview"
"""Said of pages that are to look at, and no print."""

DRAWN = "drawn"
"""The edition in which a run's pieces are drawn; not said of the first."""


def run_sheet(
    plan: Imposition,
    ticket: Ticket,
    facts: Mapping[str, Any],
    markets: Mapping[tuple[str, str], Sequence[str]],
) -> Attachment:
    """Return the run sheet of a plan.

    Args:
        plan: what lies where.
        ticket: the job's ticket, for its printer.
        facts: the run's own: its date, the layout, the catalog's fingerprint and the like.
        markets: the places of sale by SKU and lot: a lot's product is as it was when it was opened.

    Pages that hold the same things are written once, with all their numbers. A place is the
    piece's number, its corner (left, top) on the page in points, its turn and its side.
    """
    pieces: dict[int, tuple[int, Piece]] = {}
    groups: list[tuple[list[int], list[list[Any]]]] = []
    # Alike sheets follow one another, so that only the last front's and back's places need be
    # kept. The places themselves are kept and not their ids, which go to other objects in time.
    recent: deque[tuple[tuple[Placed, ...], list[int]]] = deque(maxlen=2)
    for number, page in enumerate(plan.pages(by_hand=ticket.printer.feed == "hand"), 1):
        known = next((numbers for placed, numbers in recent if placed is page.placed), None)
        if known is None:
            known = []
            places = []
            for placed in page.placed:
                index, _ = pieces.setdefault(id(placed.piece), (len(pieces), placed.piece))
                corner = round(placed.x, 3), round(placed.y, 3)
                places.append([index, *corner, placed.turn, page.side, placed.cell])
            groups.append((known, places))
            recent.append((page.placed, known))
        known.append(number)
    size = plan.grid.page_width, plan.grid.page_height
    record = {
        "form": FORM,
        "run": dict(facts),
        "paper": [round(plan.sheet.width, 3), round(plan.sheet.height, 3)],
        "correction": {
            side: [round(n, 6) for n in ticket.printer.matrix(side, size)]
            for side in ("front", "back")
        },
        "pieces": [_piece(piece, plan.sheet.radius, markets) for _, piece in pieces.values()],
        "pages": [{"numbers": list(_ranges(numbers)), "places": places}
                  for numbers, places in groups],
    }  # fmt: skip
    return _attachment(NAME, record, "What stands on which cell of this run")


def _attachment(name: str, record: Mapping[str, Any], says: str, day: str = "") -> Attachment:
    data = json.dumps(record, ensure_ascii=False, separators=(",", ":")).encode()
    return Attachment(name, data, "application/json", says, day)


def _piece(
    piece: Piece, radius: float, markets: Mapping[tuple[str, str], Sequence[str]]
) -> dict[str, Any]:
    rounded = {"radius": round(radius, 3)} if radius > _BLUNT else {}
    return {
        "sku": piece.sku,
        "lot": piece.lot,
        "layout": piece.layout,
        "size": [round(piece.width, 3), round(piece.height, 3)],
        "bleed": round(piece.bleed, 3),
        "safe": round(piece.safe, 3),
        "markets": list(markets.get((piece.sku, piece.lot), ())),
        "holes": [
            [face_number, *_around(hole)]
            for face_number, face in enumerate(piece.faces)
            for hole in face.holes
        ],
    } | rounded


_BLUNT = Length.from_inches(0.2).pt
"""Up to this radius a corner leaves a safe zone of a sixteenth of an inch whole: 1/16 in times
√2 / (√2 - 1) is 0.213 in."""


def _around(hole: VectorPath) -> list[float]:
    """Return the box around a hole and its handles: left, top, right, bottom."""
    return [round(edge, 3) for edge in bounding_box(path_points(hole))]


def _ranges(numbers: Sequence[int]) -> Iterator[list[int]]:
    """Yield first, last and step for stretches of page numbers at even distances."""
    start = 0
    while start < len(numbers):
        step = numbers[start + 1] - numbers[start] if start + 1 < len(numbers) else 1
        end = start
        while end + 1 < len(numbers) and numbers[end + 1] - numbers[end] == step:
            end += 1
        yield [numbers[start], numbers[end], step]
        start = end + 1


class BookSheet:
    """The sheet of one book in the making."""

    def __init__(self, facts: Mapping[str, Any], binding: str) -> None:
        self.facts, self.binding = facts, binding
        self._pages: list[list[Any]] = []
        self._places: list[list[Any]] = []

    def lay(self, page: BookPage, number: int, x: float, y: float) -> None:
        """Note a page of the book.

        Args:
            page: the page.
            number: of the PDF's page it lies on, from 1.
            x: from the left edge of the PDF's page to this one's trim, in points.
            y: from its top edge.
        """
        moved = 1.0, 0.0, 0.0, 1.0, x, y

        def place(box: Box) -> list[float]:
            return [round(n, 2) for n in apply_to_box(moved, box)]

        self._pages.append([number, place((0.0, 0.0, page.width, page.height))])
        for claim in page.claims:
            self._places.append(
                [number, claim.kind, claim.pattern, list(claim.skus), place(claim.box)]
            )

    def attachment(self) -> Attachment:
        """Return the sheet as a file that travels inside the PDF."""
        record = {
            "form": FORM, "book": dict(self.facts), "binding": self.binding,
            "pages": self._pages, "places": self._places,
        }  # fmt: skip
        day = str(self.facts.get("day", ""))
        return _attachment(BOOK_SHEET_NAME, record, "What stands where in this book", day)
