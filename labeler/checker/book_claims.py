"""What the places of a book claim to be about, from the sheet inside the PDF.

Taken from it are the edition, its products, and which entry is about which of them and where.
Every price, weight and warning is reckoned anew from the catalog.
"""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cached_property
from typing import Any, Literal, cast, get_args

from labeler.checker.claimed import understood
from labeler.checker.geometry import IDENTITY, Box
from labeler.checker.places import PieceClaim, PlaceClaim
from labeler.checker.rulebook import asks
from labeler.findings import Place

NAME = "book-sheet.json"
FORM = 1
"""The only form of a book's sheet that is known here."""

Kind = Literal["page", "pattern", "heads", "entry", "code", "order"]
"""What stands in a place: a page of no pattern, a page on one, the heads of its table, rows of it
with what must be said of them, a code to scan, a row of the order form."""


@dataclass(frozen=True, slots=True)
class BookPlace:
    """A place of the book: the PDF's page it lies on, from 1, and its box there."""

    kind: Kind
    page: int
    pattern: str
    skus: tuple[str, ...]
    box: Box
    trim: Box
    """The leaf that it stands on, where it is cut."""

    @property
    def as_side(self) -> PlaceClaim:
        """The place as one side of one piece, so that the rules of pieces can be asked of it."""
        left, top, right, bottom = self.box
        sku = self.skus[0] if self.skus else ""
        piece = PieceClaim(0, sku, "", (), right - left, bottom - top, 0.0, ())
        return PlaceClaim(piece, "front", self.page, 0, IDENTITY, left, top, turned=False)


@dataclass(frozen=True)
class BookClaim:
    """Which book it says that it is, and what stands where in it."""

    edition: str
    """``dealer`` or ``retail``."""
    day: dt.date
    listed: dt.date
    """From when its prices hold."""
    catalog: str
    """The fingerprint of the catalog it was made from."""
    markets: tuple[str, ...]
    tiers: tuple[str, ...]
    dealer: str
    skus: tuple[str, ...] | None
    """The products it is about; None for all of the catalog's."""
    booklet: bool
    places: tuple[BookPlace, ...]

    @cached_property
    def pages(self) -> dict[int, tuple[BookPlace, ...]]:
        """The places of each page of the PDF."""
        found: dict[int, list[BookPlace]] = {}
        for place in self.places:
            found.setdefault(place.page, []).append(place)
        return {page: tuple(places) for page, places in found.items()}


@asks("book-sheet-unread")
def read_book_sheet(data: bytes, file: str) -> BookClaim:
    """Return what a book's sheet says.

    Raises:
        UnreadableError: if it is no sheet that can be understood.
    """
    return understood(data, Place(file=file), FORM, "book-sheet-unread", _claim)


def _claim(record: dict[str, Any]) -> BookClaim:
    facts = record["book"]
    if facts["edition"] not in ("dealer", "retail"):
        raise ValueError(f"an edition called {facts['edition']!r}")
    skus = facts.get("skus")
    return BookClaim(
        edition=facts["edition"],
        day=dt.date.fromisoformat(facts["day"]),
        listed=dt.date.fromisoformat(facts["listed"]),
        catalog=str(facts.get("catalog", "")),
        markets=tuple(map(str, facts.get("markets", ()))),
        tiers=tuple(map(str, facts.get("tiers", ()))),
        dealer=str(facts.get("dealer", "")),
        skus=None if skus is None else tuple(map(str, skus)),
        booklet=record["binding"] == "booklet",
        places=tuple(_places(record)),
    )


def _places(record: dict[str, Any]) -> Iterator[BookPlace]:
    trims = [(int(page), _box(box)) for page, box in record["pages"]]
    if len(trims) > _MOST or len(record["places"]) > _MOST:
        raise ValueError("more places than any book has")
    claimed = [_place(each, trims) for each in record["places"]]
    told = {(place.page, place.trim) for place in claimed if place.kind == "pattern"}
    for page, trim in trims:
        if (page, trim) not in told:
            yield BookPlace("page", page, "", (), trim, trim)
    yield from claimed


def _place(given: Any, trims: list[tuple[int, Box]]) -> BookPlace:
    page, kind, pattern, skus, box = given
    if kind not in get_args(Kind):
        raise ValueError(f"a place called {kind!r}")
    where = _box(box)
    leaf = next((trim for at, trim in trims if at == page and _middle_in(where, trim)), None)
    if leaf is None:
        raise ValueError(f"a place on page {page}, which is none")
    return BookPlace(
        cast("Kind", kind), int(page), str(pattern), tuple(map(str, skus)), where, leaf
    )


def _middle_in(box: Box, trim: Box) -> bool:
    x, y = (box[0] + box[2]) / 2, (box[1] + box[3]) / 2
    return trim[0] <= x <= trim[2] and trim[1] <= y <= trim[3]


def _box(given: Any) -> Box:
    left, top, right, bottom = (float(number) for number in given)
    if not all(math.isfinite(n) and abs(n) < _FAR for n in (left, top, right, bottom)):
        raise ValueError("a box without bounds")
    if left >= right or top >= bottom:
        raise ValueError("a box without an inside")
    return left, top, right, bottom


_FAR = 1e6
_MOST = 200_000
