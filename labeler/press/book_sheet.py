"""The sheet that travels inside a book's PDF: which entry is about which products, and where.

Whoever checks the finished file takes from it what to look for and where, and nothing else. A
price, a weight or a warning never stands in it: those are reckoned anew from the catalog.
"""

from __future__ import annotations

import json
from collections.abc import Mapping
from typing import Any

from labeler.layout.marks import Box
from labeler.press.leaf import Leaf
from labeler.press.ticket import Attachment

NAME = "book-sheet.json"
FORM = 1
"""The form's number; it changes when a reader of the old form would misread the new one."""


class BookSheet:
    """The sheet of one book in the making."""

    def __init__(self, facts: Mapping[str, Any], binding: str) -> None:
        self.facts, self.binding = facts, binding
        self._pages: list[list[Any]] = []
        self._places: list[list[Any]] = []

    def lay(self, leaf: Leaf, number: int, x: float, y: float) -> None:
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
        return Attachment(NAME, data, "application/json", says, str(self.facts.get("day", "")))


def _moved(box: Box, x: float, y: float) -> list[float]:
    left, top, right, bottom = box
    return [round(n, 2) for n in (left + x, top + y, right + x, bottom + y)]
