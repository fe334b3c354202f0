"""Which piece goes to which cell of which sheet, and the ticket with which the plan is printed.

Knows pieces by their size only, and sheets by their cells. Thirty thousand alike cost what one
costs: a plan keeps the orders, and makes each page as it is asked for.
"""

from __future__ import annotations

import math
import re
from collections import Counter
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Literal, NamedTuple

from labeler.findings import Finding, LabelerError, Place, note, stop
from labeler.marks import Piece, PieceSide, VectorPath, line
from labeler.press.printers import Flip, Printer, Turn, back_corner, swings_sideways
from labeler.press.sheets import Sheet, SheetGrid
from labeler.units import MM_PER_INCH, POINTS_PER_INCH, SLACK_PT, dimensions

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
    face: PieceSide
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
        maker_folder: the catalog folder, whose own fonts go before ours.
        attached: files that travel inside the PDF.
        overridden: the rules that stopped it and that the maker overruled.
        preview: whether it is to look at, on pages with a frame that says so.
    """

    title: str
    language: str = "en"
    author: str = ""
    subject: str = ""
    printer: Printer = field(default_factory=Printer)
    outline: bool = False
    maker_folder: Path | None = None
    attached: tuple[Attachment, ...] = ()
    overridden: tuple[str, ...] = ()
    preview: bool = False

    @property
    def keywords(self) -> str:
        """What the document says of how it came about; empty where nothing was overruled."""
        return f"Made in spite of {', '.join(self.overridden)}" if self.overridden else ""


FRAME = 36.0
"""How much wider than its paper a preview is on every side, in points."""

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

    def framed(self) -> Imposition:
        """Return the same sheets with a frame around the paper, for words that no print has."""
        sheet, grid, more = self.sheet, self.grid, 2 * FRAME
        around = replace(
            grid, page_width=grid.page_width + more, page_height=grid.page_height + more,
            left=grid.left + FRAME, top=grid.top + FRAME,
        )  # fmt: skip
        paper = replace(
            sheet, width=sheet.width + more, height=sheet.height + more, grid=around,
            margin=sheet.margin + FRAME,
        )  # fmt: skip
        return replace(self, sheet=paper, grid=around)

    def __iter__(self) -> Iterator[Page]:
        return self.pages()

    def pages(self, by_hand: bool = False) -> Iterator[Page]:
        """Yield every page: the front and back of each sheet in turn.

        Args:
            by_hand: all fronts first and then all backs, for sheets that are turned over by
                hand as one stack.
        """
        sides: list[Side] = ["front", "back"] if self.has_backs else ["front"]
        for together in [[side] for side in sides] if by_hand else [sides]:
            last: _Filled = ()
            placed: dict[Side, tuple[Placed, ...]] = {}
            for number, filled in enumerate(self.filled(), 1):
                if filled != last or not placed:
                    placed = {side: tuple(self._place(filled, side)) for side in together}
                    last = filled
                for side in together:
                    yield Page(number, side, placed[side])

    def filled(self) -> Iterator[_Filled]:
        """Yield, sheet by sheet, each used cell with the index of the order that fills it."""
        index, left = 0, self.orders[0].count
        for number in range(1, self.sheet_count + 1):
            cells: list[tuple[int, int]] = []
            for cell in _free_cells(self.grid.count, number, self.start, self.spoiled):
                while not left and index + 1 < len(self.orders):
                    index, left = index + 1, self.orders[index + 1].count
                if not left:
                    break
                cells.append((cell, index))
                left -= 1
            yield tuple(cells)

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
            width, height = order.piece.width, order.piece.height
            x, y = grid.corner(cell)
            x = self._on_a_dot(x + (grid.cell_width - width) / 2)
            y = self._on_a_dot(y + (grid.cell_height - height) / 2)
            turn: Turn = 0
            place = cell
            if side == "back":
                page = grid.page_width, grid.page_height
                x, y, turn = back_corner(page, (x, y), (width, height), self.flip)
                place = self._behind(cell)
            yield Placed(order.piece, face, x, y, turn, cell, place)

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
    if findings := _order_findings(orders):
        raise LabelerError(findings)
    grid = sheet.grid or cut_grid(sheet, *largest(order.piece for order in orders))
    findings = _size_findings(orders, sheet, grid)
    if grid is None or findings:
        raise LabelerError(findings)
    pieces = sum(order.count for order in orders)
    number, next_free, unused = cells_for(pieces, grid.count, start, spoiled)
    if fill:
        orders = (*orders[:-1], PieceOrder(orders[-1].piece, orders[-1].count + unused))
        number, next_free, _ = cells_for(pieces + unused, grid.count, start, spoiled)
    return Imposition(tuple(orders), sheet, grid, start, spoiled, flip, number, next_free)


def cells_for(
    pieces: int, cells: int, start: int, spoiled: frozenset[Spot]
) -> tuple[int, Spot, int]:
    """Return the sheets that pieces fill, the next free cell, and how many are free on the last.

    Args:
        pieces: how many, one or more.
        cells: how many a sheet has.
        start: the first cell to use on the first sheet.
        spoiled: cells to leave empty.

    Raises:
        LabelerError: if a sheet has no such cells, or none that is free.
    """
    if findings := _cell_findings(cells, start, spoiled):
        raise LabelerError(findings)
    left, number = pieces, 0
    free: list[int] = []
    while left > 0:
        number += 1
        free = _free_cells(cells, number, start, spoiled)
        left -= len(free)
    if left:
        return number, Spot(number, free[left]), -left
    return number, Spot(number + 1, _free_cells(cells, number + 1, start, spoiled)[0]), 0


def _free_cells(count: int, number: int, start: int, spoiled: frozenset[Spot]) -> list[int]:
    """Return the cells of sheet ``number`` that may be used, in order."""
    first = start if number == 1 else 1
    return [cell for cell in range(first, count + 1) if (number, cell) not in spoiled]


def _face(order: PieceOrder, side: Side) -> PieceSide | None:
    return next((face for face in order.piece.faces if face.name == side), None)


_MOST = 1_000_000
"""A million pieces in one run is a slip of the finger at a bench."""


def _order_findings(orders: Sequence[PieceOrder]) -> list[Finding]:
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


def _size_findings(
    orders: Sequence[PieceOrder], sheet: Sheet, grid: SheetGrid | None
) -> list[Finding]:
    """Return the pieces that the sheet's cells don't hold, each piece once.

    Args:
        orders: what is to be printed.
        sheet: on what.
        grid: the sheet's cells, or None where card stock holds not one piece.
    """
    if grid:
        what = f"a cell of the sheet {sheet.name}"
        room = dimensions(grid.cell_width, grid.cell_height)
    else:
        inside = dimensions(sheet.width - 2 * sheet.margin, sheet.height - 2 * sheet.margin)
        what, room = f"the sheet {sheet.name}", f"{inside} with its bleed, inside the margins"
    return [
        stop(
            "piece-too-large",
            Place(piece=piece.sku),
            f"it is larger than {what}",
            found=dimensions(piece.width, piece.height),
            expected=f"at most {room}",
            hint="Turned by a quarter it would fit: choose a layout the other way round."
            if grid and grid.holds(piece.height, piece.width)
            else "Choose a sheet with larger cells, or a smaller size for the piece.",
        )
        for piece in {id(order.piece): order.piece for order in orders}.values()
        if not (grid and grid.holds(piece.width, piece.height))
    ]


_SHOWN = 5


def _cell_findings(count: int, start: int, spoiled: frozenset[Spot]) -> list[Finding]:
    """Return what is wrong with the first cell, and with the spoiled ones, and full sheets.

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
    strangers = sorted(spot for spot in spoiled if spot.sheet < 1 or not 1 <= spot.cell <= count)
    if strangers:
        named = [str(spot.cell if spot.sheet == 1 else spot) for spot in strangers[:_SHOWN]]
        more = len(strangers) - len(named)
        findings.append(
            stop(
                "spoiled-off-sheet",
                Place(key="spoiled"),
                "the sheet has no such cell",
                found=", ".join(named) + (f" and {more:,} more" if more else ""),
                expected=cells,
            )
        )
    if findings:
        return findings
    return [
        stop(
            "no-free-cell",
            Place(key="spoiled"),
            f"sheet {sheet} has no free cell left from cell {first} to {count}",
            hint="Put in a fresh sheet and leave out its number.",
        )
        for sheet in sorted({spot.sheet for spot in spoiled})
        for first in [start if sheet == 1 else 1]
        if not _free_cells(count, sheet, start, spoiled)
    ]


# Card stock is cut by hand: its cells follow the piece, with room for marks to cut and fold by.

_MM = POINTS_PER_INCH / MM_PER_INCH

MARK_WIDTH = 0.25
"""Crop marks are 0.25 pt lines, 3 to 5 mm long, clear of the bleed.

Common practice of prepress, no published source.
"""

_LONGEST = 5 * _MM
_KEPT_FREE = 3 * _MM
_SHORTEST = 1 * _MM
_CLEAR = 1 * _MM
"""How far from the trim a mark begins, at least; it stands clear of the bleed too."""
_FOLD_DASH = (2.0, 2.0)


def cut_grid(sheet: Sheet, width: float, height: float, bleed: float) -> SheetGrid | None:
    """Return the cells for pieces of this size on card stock, or None if not one fits.

    The sheet stands or lies, whichever holds more; where it makes no difference it stands.
    Bleeds never overlap, everything stays inside the printable margin, and room is kept for
    crop marks unless only a sheet without them holds a piece.
    """
    gutter = max(sheet.gutter, 2 * bleed)
    for mark in (max(bleed, _CLEAR) + _KEPT_FREE, bleed):
        grids = []
        for page in ((sheet.width, sheet.height), (sheet.height, sheet.width)):
            columns, left = _row_of_cells(page[0], width, gutter, sheet.margin + mark)
            rows, top = _row_of_cells(page[1], height, gutter, sheet.margin + mark)
            pitch = width + gutter, height + gutter
            grids.append(SheetGrid(*page, columns, rows, width, height, left, top, *pitch))
        best = max(grids, key=lambda grid: grid.count)
        if best.count:
            return best
    return None


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
    row, column = divmod(placed.place - 1, grid.columns)
    spare_x, spare_y = (grid.cell_width - piece.width) / 2, (grid.cell_height - piece.height) / 2
    between_x, between_y = grid.gap_x / 2 + spare_x, grid.gap_y / 2 + spare_y
    last_column, last_row = column == grid.columns - 1, row == grid.rows - 1
    left = _reach(piece, between_x if column else grid.left - margin + spare_x)
    far = _reach(piece, grid.right - margin + spare_x if last_column else between_x)
    up = _reach(piece, between_y if row else grid.top - margin + spare_y)
    down = _reach(piece, grid.bottom - margin + spare_y if last_row else between_y)
    aside = [(x - begin, x - end) for begin, end in left]
    aside += [(right + begin, right + end) for begin, end in far]
    along = [(y - begin, y - end) for begin, end in up]
    along += [(bottom + begin, bottom + end) for begin, end in down]
    for height in (y, bottom):
        for begin, end in aside:
            yield line((begin, height), (end, height), width=MARK_WIDTH)
    for across in (x, right):
        for begin, end in along:
            yield line((across, begin), (across, end), width=MARK_WIDTH)
    for fold in placed.face.folds:
        height = bottom - fold if placed.turn else y + fold
        for begin, end in aside:
            yield line((begin, height), (end, height), width=MARK_WIDTH, dash=_FOLD_DASH)


def _reach(piece: Piece, room: float) -> list[tuple[float, float]]:
    """Return from where to where a mark may run, outward of the trim; none if it is too short."""
    begin = max(piece.bleed, _CLEAR)
    end = min(room, begin + _LONGEST)
    return [(begin, end)] if end - begin >= _SHORTEST - 1e-6 else []


def largest(pieces: Iterable[Piece]) -> tuple[float, float, float]:
    """Return the greatest width, height and bleed among the pieces."""
    sizes = [(piece.width, piece.height, piece.bleed) for piece in pieces]
    widths, heights, bleeds = zip(*sizes, strict=True)
    return max(widths), max(heights), max(bleeds)


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
