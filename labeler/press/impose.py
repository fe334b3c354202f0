"""Which piece goes to which cell of which sheet.

Knows pieces by their size only, and sheets by their cells. Thirty thousand alike cost what one
costs: a plan keeps the orders, and makes each page as it is asked for.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from labeler.findings import Finding, LabelerError, Place, note
from labeler.layout.marks import Face
from labeler.press.cutting import cut_grid, largest
from labeler.press.duplex import Flip, back_corner, swings_sideways
from labeler.press.grid import Grid
from labeler.press.order_check import cell_findings, order_findings, size_findings
from labeler.press.placing import Allotment, Order, Page, Placed, Side, Spot
from labeler.press.sheet import Sheet
from labeler.units import POINTS_PER_INCH

_Filled = tuple[tuple[int, int], ...]
"""What one sheet holds: pairs of a cell and the order that fills it."""


@dataclass(frozen=True, slots=True, eq=False)
class Plan:
    """Orders on sheets. Iterating gives the pages in the order in which they print."""

    orders: tuple[Order, ...]
    sheet: Sheet
    grid: Grid
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
    orders: Sequence[Order],
    sheet: Sheet,
    *,
    start: int = 1,
    spoiled: frozenset[Spot] = frozenset(),
    fill: bool = False,
    flip: Flip = "long-edge",
) -> Plan:
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
    orders: tuple[Order, ...],
    sheet: Sheet,
    grid: Grid,
    terms: tuple[int, frozenset[Spot], Flip],
    fill: bool,
) -> Plan:
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
        orders = (*orders[:-1], Order(orders[-1].piece, orders[-1].count + unused))
        unused = 0
    if unused:
        next_free = Spot(number, free[-unused])
    else:
        next_free = Spot(number + 1, free_cells(grid.count, number + 1, start, spoiled)[0])
    return Plan(orders, sheet, grid, *terms, number, next_free)


def free_cells(count: int, number: int, start: int, spoiled: frozenset[Spot]) -> list[int]:
    """Return the cells of sheet ``number`` that may be used, in order."""
    first = start if number == 1 else 1
    if not spoiled:
        return list(range(first, count + 1))
    return [cell for cell in range(first, count + 1) if (number, cell) not in spoiled]


def _face(order: Order, side: Side) -> Face | None:
    return next((face for face in order.piece.faces if face.name == side), None)
