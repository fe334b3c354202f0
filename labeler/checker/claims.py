"""Which piece each place of each page claims to be, from the run sheet inside the PDF.

Taken from it are SKU, lot and markets, where the cells are, the printer's correction and the
holes: what to look for and where. All else is computed again.
"""

from __future__ import annotations

import datetime as dt
import json
import math
from collections.abc import Callable, Collection, Iterable, Iterator, Sequence
from dataclasses import dataclass, field
from functools import cached_property
from itertools import chain
from typing import Any, Literal, TypeVar, cast, get_args

from labeler.catalog.model import Catalog, Product
from labeler.checker.pdf.file import TooMuchError, UnreadableError, limit
from labeler.checker.rulebook import asks, finding
from labeler.disclosures.statements import folded
from labeler.findings import Finding, Place, did_you_mean
from labeler.geometry import (
    IDENTITY,
    Box,
    Matrix,
    apply_to_box,
    contains_point,
    inverse,
    multiply,
)  # fmt: skip

# ----------------------------------------------------------------------------
# What a file is held against: the products of a line, and what they are called.


@dataclass(frozen=True)
class ProductLine:
    """A line of products.

    Attributes:
        products: those that are sold.
        retired: the SKUs of those that are not any more.
        fingerprint: the catalog's; empty where there is none.
        called: every pattern's and colour's name, folded, in small letters.
        catalog: the whole catalog; None for a product that is held against its own record.
    """

    products: tuple[Product, ...]
    retired: frozenset[str]
    fingerprint: str
    called: frozenset[str]
    catalog: Catalog | None = None
    kept: dict[str, object] = field(default_factory=dict, compare=False, repr=False)
    """What rules have put together of it that they will ask for again."""

    @cached_property
    def skus(self) -> frozenset[str]:
        """Every SKU, sold or retired."""
        return frozenset(product.sku for product in self.products) | self.retired

    @classmethod
    def of(cls, catalog: Catalog) -> ProductLine:
        """Return the line of a catalog."""
        file = catalog.file
        names = [pattern.name for pattern in file.patterns.values()]
        names += [colour.name for colour in file.colours.values()]
        return cls(
            tuple(catalog.products),
            frozenset(catalog.retired),
            catalog.fingerprint,
            _folded(names),
            catalog,
        )

    @classmethod
    def alone(cls, product: Product, fingerprint: str = "") -> ProductLine:
        """Return a product as the ledger kept it, as a line of its own."""
        names = _folded((product.pattern.name, product.colour.name))
        return cls((product,), frozenset(), fingerprint, names)


def _folded(names: Iterable[str]) -> frozenset[str]:
    return frozenset(folded(name).casefold() for name in names)


# ----------------------------------------------------------------------------
# What travels inside a file and says what stands where, held against the file and the line.

Claim = TypeVar("Claim")

_SHOWN = 20


def understood(
    data: bytes, place: Place, form: int, unread: str, claim_of: Callable[[Any], Claim]
) -> Claim:
    """Return what a sheet claims.

    Args:
        data: the sheet, as JSON.
        place: the file that it travels in.
        form: the form's number that is understood.
        unread: the rule that is broken by a sheet that is not.
        claim_of: makes the claim of the sheet's record.

    Raises:
        UnreadableError: if it is no sheet that can be understood.
    """
    try:
        record = json.loads(data)
        if record["form"] != form:
            raise UnreadableError(finding(unread, place, found=f"form {record['form']}"))
        return claim_of(record)
    except (ValueError, KeyError, TypeError, IndexError, AttributeError, RecursionError) as error:
        whole = isinstance(error, json.JSONDecodeError | UnicodeDecodeError | RecursionError)
        found = "no sound JSON" if whole else "entries that do not hang together"
        raise UnreadableError(finding(unread, place, found=found)) from error


@asks("page-missing", "page-unclaimed")
def other_pages(
    file: str, claimed: Collection[int], there: Collection[int], holds: Callable[[int], str]
) -> Iterator[Finding]:
    """Yield the pages that are claimed and not there, and those that nothing is claimed of.

    Args:
        file: what the file is called.
        claimed: the pages that the sheet names.
        there: the pages of the file.
        holds: tells what a page that is missing would hold.
    """
    for number in sorted(set(claimed) - set(there))[:_SHOWN]:
        yield finding("page-missing", Place(file=file, page=number), found=holds(number))
    for number in sorted(set(there) - set(claimed))[:_SHOWN]:
        yield finding("page-unclaimed", Place(file=file, page=number))


@asks("catalog-changed")
def other_catalog(fingerprint: str, line: ProductLine, place: Place) -> Iterator[Finding]:
    """Yield that a file was made of another catalog than it is held against."""
    if fingerprint and fingerprint != line.fingerprint:
        yield finding("catalog-changed", place)


@asks("sku-unknown", "sku-retired")
def no_such_product(sku: str, known: Collection[str], line: ProductLine, place: Place) -> Finding:
    """Return that there is no such product, or none any more."""
    if sku in line.retired:
        return finding("sku-retired", place, found=sku)
    return finding("sku-unknown", place, found=sku, hint=did_you_mean(sku, list(known)))


NAME = "run-sheet.json"
FORM = 1
"""The only form of run sheet that is known here."""

TODAY = "today"
"""What a run says of its products if they are today's, whatever was kept with their lot."""

PREVIEW = "preview"
"""Where a run says that its pages are to look at, and no print."""

DRAWN = "drawn"
"""Where a run says in which edition its pieces are drawn; it does not of the first."""

Side = Literal["front", "back"]


@dataclass(frozen=True, slots=True)
class PieceClaim:
    """What a piece claims to be. Sizes in points; holes are boxes from its top left corner."""

    number: int
    sku: str
    lot: str
    markets: tuple[str, ...]
    width: float
    height: float
    bleed: float
    holes: tuple[tuple[Side, Box], ...]
    layout: str = ""
    """The layout that it says it was made by: tried first, and trusted in nothing."""
    radius: float = 0.0
    """Of its corners, where they are so round that more than their very tips is cut away."""


@dataclass(frozen=True)
class PlaceClaim:
    """One side of one piece on one page."""

    piece: PieceClaim
    side: Side
    page: int
    cell: int
    corrected: Matrix
    """From the page as it was meant to the page as the printer needs it."""
    x: float
    y: float
    turned: bool

    @cached_property
    def to_page(self) -> Matrix:
        """From the piece's own top left corner to the page."""
        piece = self.piece
        own = (1.0, 0.0, 0.0, 1.0, self.x, self.y)
        if self.turned:
            own = (-1.0, 0.0, 0.0, -1.0, self.x + piece.width, self.y + piece.height)
        return multiply(own, self.corrected)

    @cached_property
    def to_piece(self) -> Matrix:
        """From the page to the piece's own top left corner."""
        return inverse(self.to_page)

    @cached_property
    def box(self) -> Box:
        """The piece's trim on the page."""
        return apply_to_box(self.to_page, (0.0, 0.0, self.piece.width, self.piece.height))

    @property
    def holes(self) -> tuple[Box, ...]:
        """The holes of this side, from the piece's top left corner."""
        return tuple(box for side, box in self.piece.holes if side == self.side)


@dataclass(frozen=True)
class RunClaim:
    """What the run sheet says of the whole run."""

    use: str
    """``bags`` or ``cards``."""
    day: dt.date | None
    catalog_digest: str
    """The fingerprint of the catalog it was printed from."""
    dpi: float | None
    pages: dict[int, tuple[PlaceClaim, ...]]
    today: bool = False
    """Whether a lot's pieces are today's product, not the one that was kept with the lot."""
    preview: bool = False
    """Whether it was made to look at only; nothing of it was printed."""
    ink: str = ""
    """``colour``, ``black``, or ``grey``: in black, and photographs in greys."""
    first_edition: bool = False
    """Whether its pieces are drawn as they were before there was a second edition."""


@asks("run-sheet-unread")
def read_run_sheet(data: bytes, file: str) -> RunClaim:
    """Return what a run sheet says.

    Raises:
        UnreadableError: if it is no run sheet that can be understood.
        TooMuchError: if it names more places than any run has.
    """
    return understood(data, Place(file=file), FORM, "run-sheet-unread", _run)


def _run(record: dict[str, Any]) -> RunClaim:
    facts = record["run"]
    dpi = facts.get("dpi")
    corrections = {side: _matrix(record["correction"].get(side)) for side in ("front", "back")}
    pieces = [_piece(number, each) for number, each in enumerate(record["pieces"])]
    groups = [(_ranges(group["numbers"]), group["places"]) for group in record["pages"]]
    count = sum(max(len(spots), 1) * len(pages) for ranges, spots in groups for pages in ranges)
    if count > limit("places"):
        raise TooMuchError("a run sheet with so many places")
    pages = {
        page: tuple(_places(spots, page, pieces, corrections))
        for ranges, spots in groups
        for page in chain(*ranges)
    }
    return RunClaim(
        use=str(facts.get("use", "")),
        day=dt.date.fromisoformat(facts["day"]) if facts.get("day") else None,
        catalog_digest=str(facts.get("catalog", "")),
        dpi=_finite(dpi) if dpi else None,
        pages=pages,
        today=facts.get("products") == TODAY,
        preview=bool(facts.get(PREVIEW)),
        ink=str(facts.get("ink", "")),
        first_edition=DRAWN not in facts,
    )


def _places(
    spots: Sequence[Any], page: int, pieces: Sequence[PieceClaim], corrections: dict[str, Matrix]
) -> Iterator[PlaceClaim]:
    for number, x, y, turn, side, cell in spots:
        if side not in ("front", "back"):
            raise ValueError(f"a side called {side!r}")
        yield PlaceClaim(
            pieces[number], side, page, int(cell), corrections[side],
            _finite(x), _finite(y), bool(turn),
        )  # fmt: skip


def _piece(number: int, record: dict[str, Any]) -> PieceClaim:
    width, height = map(_finite, record["size"])
    if width <= 0 or height <= 0:
        raise ValueError("a piece without a size")
    sides: tuple[Side, Side] = ("front", "back")
    holes = tuple(
        (sides[int(hole[0])], (hole[1], hole[2], hole[3], hole[4])) for hole in record["holes"]
    )
    return PieceClaim(
        number=number,
        sku=str(record["sku"]),
        lot=str(record["lot"]),
        markets=tuple(map(str, record["markets"])),
        width=width,
        height=height,
        bleed=_finite(record.get("bleed", 0.0)),
        holes=holes,
        layout=str(record.get("layout", "")),
        radius=min(_finite(record.get("radius", 0.0)), width / 2, height / 2),
    )


def _matrix(given: Any) -> Matrix:
    if given is None:
        return IDENTITY
    a, b, c, d, e, f = map(_finite, given)
    inverse((a, b, c, d, e, f))
    return a, b, c, d, e, f


def _finite(number: Any) -> float:
    value = float(number)
    if not math.isfinite(value) or abs(value) > _FAR:
        raise ValueError(f"a length of {value}")
    return value


_FAR = 1e6
_MOST_PAGES = 100_000


def _ranges(numbers: Sequence[Sequence[int]]) -> list[range]:
    """Return ranges of page numbers that are told as first, last, step."""
    for first, last, step in numbers:
        if not 0 < first <= last <= _MOST_PAGES or step < 1:
            raise ValueError("page numbers that count nothing")
    return [range(first, last + 1, step) for first, last, step in numbers]


# ----------------------------------------------------------------------------
# What the places of a book claim to be about, from the sheet inside the PDF.
#
# Taken from it are the edition, its products, and which entry is about which of them and where.
# Every price, weight and warning is computed again from the catalog.

BOOK_SHEET_NAME = "book-sheet.json"
"""The only form of a book's sheet that is known here."""

Kind = Literal[
    "page",
    "pattern",
    "heads",
    "entry",
    "code",
    "order",
    "sizes",
    "shades",
    "index",
    "section",
    "list",
    "priced",
]
"""What stands in a place: a page of no pattern, a page on one, the heads of its table, rows of it
with what must be said of them, a code to scan, a cell of the order form, the head of a column of
such cells, the name of a row of them, a line of an index, a section's part of a page, a pattern's
part of a price list, a row of it."""


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
    catalog_digest: str
    """The fingerprint of the catalog it was made from."""
    markets: tuple[str, ...]
    tiers: tuple[str, ...]
    dealer: str
    skus: tuple[str, ...] | None
    """The products it is about; None for all of the catalog's."""
    booklet: bool
    places: tuple[BookPlace, ...]
    preview: bool = False
    """Whether it was made to look at only."""
    keystone: bool = False
    """Whether it says that keystone stands beside the dealer's price."""
    prices: bool = False
    """Whether it is a price list by itself."""
    ready: frozenset[str] | None = None
    """The products that lay ready on its day; None where it does not tell."""

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
        catalog_digest=str(facts.get("catalog", "")),
        markets=tuple(map(str, facts.get("markets", ()))),
        tiers=tuple(map(str, facts.get("tiers", ()))),
        dealer=str(facts.get("dealer", "")),
        skus=None if skus is None else tuple(map(str, skus)),
        booklet=record["binding"] == "booklet",
        places=tuple(_book_places(record)),
        preview=bool(facts.get(PREVIEW)),
        keystone=facts.get("keystone") is True,
        prices=facts.get("prices") is True,
        ready=None if facts.get("ready") is None else frozenset(map(str, facts["ready"])),
    )


def _book_places(record: dict[str, Any]) -> Iterator[BookPlace]:
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
    x, y = (where[0] + where[2]) / 2, (where[1] + where[3]) / 2
    leaf = next((trim for at, trim in trims if at == page and contains_point(trim, x, y)), None)
    if leaf is None:
        raise ValueError(f"a place on page {page}, which is none")
    return BookPlace(
        cast("Kind", kind), int(page), str(pattern), tuple(map(str, skus)), where, leaf
    )


def _box(given: Any) -> Box:
    left, top, right, bottom = (float(number) for number in given)
    if not all(math.isfinite(n) and abs(n) < _FAR for n in (left, top, right, bottom)):
        raise ValueError("a box without bounds")
    if left >= right or top >= bottom:
        raise ValueError("a box without an inside")
    return left, top, right, bottom


_MOST = 200_000
