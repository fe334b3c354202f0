"""Which piece each place of each page claims to be, from the run sheet inside the PDF.

Taken from it are SKU, lot and markets, where the cells are, the printer's correction and the
holes: what to look for and where. All else is computed anew.
"""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Any, Literal

from labeler.checker.claimed import understood
from labeler.checker.geometry import IDENTITY, Box, Matrix, inverse, times, under
from labeler.checker.limits import TooMuchError, limit
from labeler.checker.rulebook import asks
from labeler.findings import Place

NAME = "run-sheet.json"
FORM = 1
"""The only form of run sheet that is known here."""

TODAY = "today"
"""What a run says of its products if they are today's, whatever was kept with their lot."""

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
        return times(own, self.corrected)

    @cached_property
    def to_piece(self) -> Matrix:
        """From the page to the piece's own top left corner."""
        return inverse(self.to_page)

    @cached_property
    def box(self) -> Box:
        """The piece's trim on the page."""
        return under(self.to_page, (0.0, 0.0, self.piece.width, self.piece.height))

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
    catalog: str
    """The fingerprint of the catalog it was printed from."""
    dpi: float | None
    pages: dict[int, tuple[PlaceClaim, ...]]
    today: bool = False
    """Whether a lot's pieces are today's product, not the one that was kept with the lot."""

    @cached_property
    def twosided(self) -> bool:
        """Whether any piece has a back."""
        return any(place.side == "back" for page in self.pages.values() for place in page)


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
    pages: dict[int, tuple[PlaceClaim, ...]] = {}
    most = limit("places")
    for group in record["pages"]:
        for page in _numbers(group["numbers"]):
            most -= len(group["places"])
            if most < 0:
                raise TooMuchError("a run sheet with so many places")
            pages[page] = tuple(_places(group["places"], page, pieces, corrections))
    return RunClaim(
        use=str(facts.get("use", "")),
        day=dt.date.fromisoformat(facts["day"]) if facts.get("day") else None,
        catalog=str(facts.get("catalog", "")),
        dpi=_finite(dpi) if dpi else None,
        pages=pages,
        today=facts.get("products") == TODAY,
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


def _numbers(ranges: Sequence[Sequence[int]]) -> Iterator[int]:
    """Yield the page numbers of ranges first, last, step."""
    for first, last, step in ranges:
        if not 0 < first <= last <= _MOST_PAGES or step < 1:
            raise ValueError("page numbers that count nothing")
        yield from range(first, last + 1, step)
