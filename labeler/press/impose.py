"""Which piece goes to which cell of which sheet.

Knows pieces by their size only, and sheets by their cells. Thirty thousand alike cost what one
costs: a plan keeps the orders, and makes each page as it is asked for.
"""

from __future__ import annotations

import math
import re
from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Literal, NamedTuple

from labeler.findings import Finding, LabelerError, Place, note, stop
from labeler.marks import Face, Piece, VectorPath
from labeler.press.printers import Flip, Printer, Turn, back_corner, swings_sideways
from labeler.press.sheets import Sheet, SheetGrid
from labeler.units import MM_PER_INCH, POINTS_PER_INCH, SLACK_PT, Length

# ----------------------------------------------------------------------------
# The words of imposition: what is ordered, where a piece lies, what stands on a page.

Side = Literal["front", "back"]


class Spot(NamedTuple):
    """A cell of a sheet, both counted from 1."""

    sheet: int
    cell: int

    def __str__(self) -> str:
        return f"{self.sheet}:{self.cell}"


@dataclass(frozen=True, slots=True, eq=False)
class PieceOrder:
    """So many copies of one piece."""

    piece: Piece
    count: int


@dataclass(frozen=True, slots=True, eq=False)
class Placed:
    """One face of a piece on a page.

    ``x`` and ``y`` are the top left corner of its box on this page, in points. ``cell`` is
    the sheet's cell as counted on the front; ``place`` is that cell's place on this page,
    which on a back is the mirrored one.
    """

    piece: Piece
    face: Face
    x: float
    y: float
    turn: Turn
    cell: int
    place: int


@dataclass(frozen=True, slots=True, eq=False)
class Page:
    """One side of one sheet. Identical sheets share the same ``placed`` object."""

    sheet: int
    side: Side
    placed: tuple[Placed, ...]


@dataclass(frozen=True, slots=True)
class Allotment:
    """What the run's record needs of one order: where its copies went, first to last."""

    piece: Piece
    count: int
    first: Spot
    last: Spot


# ----------------------------------------------------------------------------
# Card stock cut by hand: how many pieces a sheet holds, and the marks to cut and fold by.

_MM = POINTS_PER_INCH / MM_PER_INCH

MARK_WIDTH = 0.25
"""Crop marks are 0.25 pt lines, 3 to 5 mm long, clear of the bleed.

Common practice of prepress, no published source.
"""

_LONGEST = 5 * _MM
_KEPT_FREE = 3 * _MM
_SHORTEST = 1 * _MM
_CLEAR = 1 * _MM
_FOLD_DASH = (2.0, 2.0)


def cut_grid(sheet: Sheet, width: float, height: float, bleed: float) -> SheetGrid | None:
    """Return the cells for pieces of this size on card stock, or None if not one fits.

    The sheet stands or lies, whichever holds more; where it makes no difference it stands.
    Bleeds never overlap, everything stays inside the printable margin, and room is kept for
    crop marks unless only a sheet without them holds a piece.
    """
    for mark in (_clear_of(bleed) + _KEPT_FREE, bleed):
        ways = ((sheet.width, sheet.height), (sheet.height, sheet.width))
        grids = [_grid(page, (width, height), sheet, bleed, mark) for page in ways]
        best = max(grids, key=lambda grid: grid.count)
        if best.count:
            return best
    return None


def _grid(
    page: tuple[float, float], size: tuple[float, float], sheet: Sheet, bleed: float, mark: float
) -> SheetGrid:
    gutter = max(sheet.gutter, 2 * bleed)
    columns, left = _row_of_cells(page[0], size[0], gutter, sheet.margin + mark)
    rows, top = _row_of_cells(page[1], size[1], gutter, sheet.margin + mark)
    return SheetGrid(*page, columns, rows, *size, left, top, size[0] + gutter, size[1] + gutter)


def _row_of_cells(whole: float, part: float, gutter: float, border: float) -> tuple[int, float]:
    """Return how many parts lie side by side, and where the first begins when centred."""
    count = max(0, math.floor((whole - 2 * border + gutter + SLACK_PT) / (part + gutter)))
    return count, (whole - count * (part + gutter) + gutter) / 2


def cutting_marks(grid: SheetGrid, margin: float, placed: Placed) -> Iterator[VectorPath]:
    """Yield the crop and fold marks of one piece, in the page's points.

    All lie outside the bleed. Between pieces a mark takes at most half the gutter, so none
    falls on a neighbour; where that is too short to be of use there is none.
    """
    piece, x, y = placed.piece, placed.x, placed.y
    right, bottom = x + piece.width, y + piece.height
    sides = _outward(grid, margin, placed)
    for height in (y, bottom):
        for edge, way in ((x, "left"), (right, "right")):
            if reach := sides[way]:
                yield _mark((edge + reach[0], height), (edge + reach[1], height))
    for across in (x, right):
        for edge, way in ((y, "top"), (bottom, "bottom")):
            if reach := sides[way]:
                yield _mark((across, edge + reach[0]), (across, edge + reach[1]))
    for fold in placed.face.folds:
        height = bottom - fold if placed.turn else y + fold
        for edge, way in ((x, "left"), (right, "right")):
            if reach := sides[way]:
                ends = (edge + reach[0], height), (edge + reach[1], height)
                yield _mark(*ends, dash=_FOLD_DASH)


def _outward(
    grid: SheetGrid, margin: float, placed: Placed
) -> dict[str, tuple[float, float] | None]:
    """Return, for each side of a piece, from where to where a mark may run, outward signed."""
    piece = placed.piece
    row, column = divmod(placed.place - 1, grid.columns)
    spare_x, spare_y = (grid.cell_width - piece.width) / 2, (grid.cell_height - piece.height) / 2
    rooms = {
        "left": grid.gap_x / 2 if column else grid.left - margin,
        "right": grid.gap_x / 2 if column < grid.columns - 1 else grid.right - margin,
        "top": grid.gap_y / 2 if row else grid.top - margin,
        "bottom": grid.gap_y / 2 if row < grid.rows - 1 else grid.bottom - margin,
    }
    reaches: dict[str, tuple[float, float] | None] = {}
    for way, room in rooms.items():
        sign = -1 if way in ("left", "top") else 1
        begin = _clear_of(piece.bleed)
        end = min(room + (spare_x if way in ("left", "right") else spare_y), begin + _LONGEST)
        reaches[way] = (sign * begin, sign * end) if end - begin >= _SHORTEST - 1e-6 else None
    return reaches


def _clear_of(bleed: float) -> float:
    """Return how far from the trim a mark begins."""
    return max(bleed, _CLEAR)


def _mark(
    begin: tuple[float, float], end: tuple[float, float], dash: tuple[float, ...] = ()
) -> VectorPath:
    return VectorPath((("M", *begin), ("L", *end)), stroke="#000000", width=MARK_WIDTH, dash=dash)


def largest(pieces: Iterator[Piece]) -> tuple[float, float, float]:
    """Return the greatest width, height and bleed among the pieces."""
    sizes = [(piece.width, piece.height, piece.bleed) for piece in pieces]
    widths, heights, bleeds = zip(*sizes, strict=True)
    return max(widths), max(heights), max(bleeds)


# ----------------------------------------------------------------------------
# What stands in the way of printing an order on a sheet.

_MOST = 1_000_000
"""A million pieces in one run is a slip of the finger at a bench."""


def order_findings(orders: Sequence[PieceOrder]) -> list[Finding]:
    """Return what is wrong with the orders themselves."""
    if not orders:
        return [
            stop("nothing-to-print", Place(), "no piece was chosen, so there is nothing to print")
        ]
    return [
        stop(
            "count-out-of-range",
            Place(piece=order.piece.sku, key="count"),
            "this is no number of pieces to print",
            found=str(order.count),
            expected=f"a whole number from 1 to {_MOST:,}",
        )
        for order in orders
        if not 1 <= order.count <= _MOST
    ]


def size_findings(
    orders: Sequence[PieceOrder], sheet: Sheet, grid: SheetGrid | None
) -> list[Finding]:
    """Return the pieces that the sheet's cells don't hold, each piece once.

    Args:
        orders: what is to be printed.
        sheet: on what.
        grid: the sheet's cells, or None where card stock holds not one piece.
    """
    found: dict[int, Finding] = {}
    for piece in (order.piece for order in orders):
        if not _holds(sheet, grid, piece.width, piece.height):
            turned = _holds(sheet, grid, piece.height, piece.width)
            found[id(piece)] = stop(
                "piece-too-large",
                Place(piece=piece.sku),
                f"the piece is larger than {_what(sheet)}",
                found=_size(piece.width, piece.height),
                expected=f"at most {_room(sheet, grid)}",
                hint="Turned by a quarter it would fit: choose a layout the other way round."
                if turned and grid
                else "Choose a sheet with larger cells, or a smaller size for the piece.",
            )
    return list(found.values())


def cell_findings(count: int, start: int, spoiled: frozenset[Spot]) -> list[Finding]:
    """Return what is wrong with the first cell and the spoiled ones.

    Args:
        count: how many cells a sheet has.
        start: the first cell to use.
        spoiled: the cells to leave empty.
    """
    findings = []
    cells = f"a cell from 1 to {count}"
    if not 1 <= start <= count:
        findings.append(
            stop(
                "start-off-sheet",
                Place(key="start"),
                "the sheet has no such cell to start at",
                found=str(start),
                expected=cells,
            )
        )
    strangers = [
        spot for spot in sorted(spoiled) if not (1 <= spot.cell <= count and spot.sheet > 0)
    ]
    if strangers:
        findings.append(
            stop(
                "spoiled-off-sheet",
                Place(key="spoiled"),
                "the sheet has no such cell",
                found=_some(strangers),
                expected=cells,
            )
        )
    if not findings:
        findings += _full_sheets(count, start, spoiled)
    return findings


_SHOWN = 5


def _some(spots: Sequence[Spot]) -> str:
    named = [str(spot.cell if spot.sheet == 1 else spot) for spot in spots[:_SHOWN]]
    more = len(spots) - len(named)
    return ", ".join(named) + (f" and {more:,} more" if more else "")


def _full_sheets(count: int, start: int, spoiled: frozenset[Spot]) -> list[Finding]:
    """Return the sheets that have no free cell left."""
    findings = []
    for sheet in sorted({spot.sheet for spot in spoiled}):
        first = start if sheet == 1 else 1
        if all((sheet, cell) in spoiled for cell in range(first, count + 1)):
            findings.append(
                stop(
                    "no-free-cell",
                    Place(key="spoiled"),
                    f"sheet {sheet} has no free cell left from cell {first} to {count}",
                    hint="Put in a fresh sheet and leave out its number.",
                )
            )
    return findings


def _holds(sheet: Sheet, grid: SheetGrid | None, width: float, height: float) -> bool:
    if grid is None:
        return False
    return Length(width).fits_in(Length(grid.cell_width)) and Length(height).fits_in(
        Length(grid.cell_height)
    )


def _what(sheet: Sheet) -> str:
    return f"the sheet {sheet.name}" if sheet.kind == "card" else f"a cell of {sheet.name}"


def _room(sheet: Sheet, grid: SheetGrid | None) -> str:
    if grid is not None:
        return _size(grid.cell_width, grid.cell_height)
    border = 2 * sheet.margin
    return (
        f"{_size(sheet.width - border, sheet.height - border)} with its bleed, inside the margins"
    )


def _size(width: float, height: float) -> str:
    return f"{Length(width)} x {Length(height)}"


_Filled = tuple[tuple[int, int], ...]
"""What one sheet holds: pairs of a cell and the order that fills it."""


@dataclass(frozen=True, slots=True, eq=False)
class Imposition:
    """Orders on sheets. Iterating gives the pages in the order in which they print."""

    orders: tuple[PieceOrder, ...]
    sheet: Sheet
    grid: SheetGrid
    start: int
    spoiled: frozenset[Spot]
    flip: Flip
    sheet_count: int
    next_free: Spot

    @property
    def piece_count(self) -> int:
        """How many pieces are printed, those that fill the last sheet included."""
        return sum(order.count for order in self.orders)

    @property
    def has_backs(self) -> bool:
        """Whether any piece has a back, so that every sheet is printed on both sides."""
        return any(_face(order, "back") for order in self.orders)

    @property
    def page_count(self) -> int:
        """How many pages there will be."""
        return self.sheet_count * (2 if self.has_backs else 1)

    @property
    def notes(self) -> tuple[Finding, ...]:
        """What the maker should know before printing."""
        beyond = sorted(spot for spot in self.spoiled if spot.sheet > self.sheet_count)
        unused = note(
            "spoiled-unused",
            Place(key="spoiled"),
            f"the run ends on sheet {self.sheet_count}; spoiled cells of later sheets don't matter",
            found=", ".join(map(str, beyond[:5])),
        )
        return (*self.sheet.notes, *([unused] if beyond else []))

    def __iter__(self) -> Iterator[Page]:
        return self.pages()

    def pages(self, by_hand: bool = False) -> Iterator[Page]:
        """Yield every page: the front and back of each sheet in turn.

        Args:
            by_hand: all fronts first and then all backs, for sheets that are turned over by
                hand as one stack.
        """
        sides: list[Side] = ["front", "back"] if self.has_backs else ["front"]
        if by_hand:
            for side in sides:
                yield from self._pages([side])
        else:
            yield from self._pages(sides)

    def _pages(self, sides: Sequence[Side]) -> Iterator[Page]:
        last: _Filled = ()
        placed: dict[Side, tuple[Placed, ...]] = {}
        for number, filled in enumerate(self.filled(), 1):
            if filled != last or not placed:
                placed = {side: tuple(self._place(filled, side)) for side in sides}
                last = filled
            for side in sides:
                yield Page(number, side, placed[side])

    def filled(self) -> Iterator[_Filled]:
        """Yield, sheet by sheet, each used cell with the index of the order that fills it."""
        index, left = 0, self.orders[0].count
        for number in range(1, self.sheet_count + 1):
            cells: list[tuple[int, int]] = []
            for cell in free_cells(self.grid.count, number, self.start, self.spoiled):
                while not left and index + 1 < len(self.orders):
                    index, left = index + 1, self.orders[index + 1].count
                if not left:
                    break
                cells.append((cell, index))
                left -= 1
            yield tuple(cells)

    def allotments(self) -> Iterator[Allotment]:
        """Yield where each order's copies went, for the record of the run."""
        spots: dict[int, tuple[Spot, Spot]] = {}
        for number, filled in enumerate(self.filled(), 1):
            for cell, index in filled:
                here = Spot(number, cell)
                spots[index] = (spots[index][0] if index in spots else here, here)
        for index, order in enumerate(self.orders):
            yield Allotment(order.piece, order.count, *spots[index])

    def times(self) -> Counter[int]:
        """Return how often each face is printed, by the identity of the face."""
        times: Counter[int] = Counter()
        for order in self.orders:
            for face in order.piece.faces:
                times[id(face)] += order.count
        return times

    def _place(self, filled: _Filled, side: Side) -> Iterator[Placed]:
        grid = self.grid
        for cell, index in filled:
            order = self.orders[index]
            face = _face(order, side)
            if face is None:
                continue
            size = order.piece.width, order.piece.height
            x, y = grid.corner(cell)
            x = self._on_a_dot(x + (grid.cell_width - size[0]) / 2)
            y = self._on_a_dot(y + (grid.cell_height - size[1]) / 2)
            if side == "front":
                yield Placed(order.piece, face, x, y, 0, cell, cell)
            else:
                page = grid.page_width, grid.page_height
                back = back_corner(page, (x, y), size, self.flip)
                yield Placed(order.piece, face, *back, cell, self._behind(cell))

    def _behind(self, cell: int) -> int:
        """Return the place that ``cell`` has on the back of its sheet."""
        grid = self.grid
        row, column = divmod(cell - 1, grid.columns)
        if swings_sideways(grid.page_width, grid.page_height, self.flip):
            return row * grid.columns + grid.columns - column
        return (grid.rows - 1 - row) * grid.columns + column + 1

    def _on_a_dot(self, length: float) -> float:
        """On a roll the piece begins on a whole dot, or a code's modules would fall between."""
        if not self.sheet.dpi:
            return length
        return round(length * self.sheet.dpi / POINTS_PER_INCH) * POINTS_PER_INCH / self.sheet.dpi


def impose(
    orders: Sequence[PieceOrder],
    sheet: Sheet,
    *,
    start: int = 1,
    spoiled: frozenset[Spot] = frozenset(),
    fill: bool = False,
    flip: Flip = "long-edge",
) -> Imposition:
    """Return the plan that puts every copy of every order into a free cell of its own.

    Cells are filled in order, order after order. Pieces smaller than the cell lie in its
    middle.

    Args:
        orders: what to print, in this order.
        sheet: what to print it on.
        start: the first cell to use on the first sheet.
        spoiled: cells to leave empty.
        fill: whether more copies of the last piece fill up the last sheet.
        flip: the edge over which the printer turns a sheet for its back.

    Raises:
        LabelerError: with everything that stands in the way.
    """
    findings = order_findings(orders)
    if findings:
        raise LabelerError(findings)
    grid = sheet.grid or cut_grid(sheet, *largest(order.piece for order in orders))
    findings = size_findings(orders, sheet, grid)
    if grid is None or findings:
        raise LabelerError(findings)
    findings = cell_findings(grid.count, start, spoiled)
    if findings:
        raise LabelerError(findings)
    return _fill(tuple(orders), sheet, grid, (start, spoiled, flip), fill)


def _fill(
    orders: tuple[PieceOrder, ...],
    sheet: Sheet,
    grid: SheetGrid,
    terms: tuple[int, frozenset[Spot], Flip],
    fill: bool,
) -> Imposition:
    """Count the sheets, find the next free cell, and fill up the last sheet if asked."""
    start, spoiled, _ = terms
    left, number = sum(order.count for order in orders), 0
    free: list[int] = []
    while left > 0:
        number += 1
        free = free_cells(grid.count, number, start, spoiled)
        left -= len(free)
    unused = -left
    if fill and unused:
        orders = (*orders[:-1], PieceOrder(orders[-1].piece, orders[-1].count + unused))
        unused = 0
    if unused:
        next_free = Spot(number, free[-unused])
    else:
        next_free = Spot(number + 1, free_cells(grid.count, number + 1, start, spoiled)[0])
    return Imposition(orders, sheet, grid, *terms, number, next_free)


def free_cells(count: int, number: int, start: int, spoiled: frozenset[Spot]) -> list[int]:
    """Return the cells of sheet ``number`` that may be used, in order."""
    first = start if number == 1 else 1
    if not spoiled:
        return list(range(first, count + 1))
    return [cell for cell in range(first, count + 1) if (number, cell) not in spoiled]


def _face(order: PieceOrder, side: Side) -> Face | None:
    return next((face for face in order.piece.faces if face.name == side), None)


# ----------------------------------------------------------------------------
# Cells of a sheet that are used up or torn, as the maker names them.

_ITEM = re.compile(r"^(?:(\d{1,6}):)?(\d{1,6})(?:-(\d{1,6}))?$")
_LOOSE = re.compile(r"\s*([-:])\s*")
_MOST_SPOILED = 10_000


def read_spoiled(text: str) -> frozenset[Spot]:
    """Return the cells that ``text`` names.

    ``3``, ``7-9`` and ``3, 7-9`` are cells of the first sheet, the one that was begun before;
    ``2:5`` is cell 5 of the second sheet and ``2:5-7`` its cells 5 to 7.

    Raises:
        LabelerError: naming each part that is not understood.
    """
    findings: list[Finding] = []
    spots: set[Spot] = set()
    for item in filter(None, re.split(r"[,;\s]+", _LOOSE.sub(r"\1", text))):
        found = _ITEM.match(item)
        first, last = (int(found[2]), int(found[3] or found[2])) if found else (1, 0)
        if not found or first > last or last > _MOST_SPOILED:
            findings.append(
                stop(
                    "spoiled-cells",
                    Place(key="spoiled"),
                    "this names no cell",
                    found=repr(item),
                    expected="a cell such as 3, cells such as 7-9, or 2:5 for the second sheet",
                )
            )
            continue
        spots.update(Spot(int(found[1] or 1), cell) for cell in range(first, last + 1))
    if findings:
        raise LabelerError(findings)
    return frozenset(spots)


# ----------------------------------------------------------------------------
# The job ticket that goes to the press with a plan: how to print it, and what to call it.


@dataclass(frozen=True, slots=True)
class Attachment:
    """A file that travels inside the PDF."""

    name: str
    data: bytes
    media_type: str = "application/json"
    says: str = ""
    day: str = ""
    """Of what day it is, ISO 8601; empty where that does not matter."""


@dataclass(frozen=True, slots=True)
class Ticket:
    """What the press needs to know beside the plan.

    Attributes:
        title: of the document, shown in the viewer's window.
        language: of its words, as a BCP 47 tag.
        author: who made it; empty for nobody.
        subject: what it is about; empty for nothing.
        printer: the correction for the printer it will come from.
        outline: whether the cells are outlined, for a test print to hold against the sheet.
        own: the catalog folder, whose own fonts go before ours.
        attached: files that travel inside the PDF.
        in_spite_of: the rules that stopped it and that the maker overruled.
    """

    title: str
    language: str = "en"
    author: str = ""
    subject: str = ""
    printer: Printer = field(default_factory=Printer)
    outline: bool = False
    own: Path | None = None
    attached: tuple[Attachment, ...] = ()
    in_spite_of: tuple[str, ...] = ()

    @property
    def keywords(self) -> str:
        """What the document says of how it came about; empty where nothing was overruled."""
        return f"Made in spite of {', '.join(self.in_spite_of)}" if self.in_spite_of else ""
