"""Card stock cut by hand: how many pieces a sheet holds, and the marks to cut and fold by."""

from __future__ import annotations

import math
from collections.abc import Iterator

from labeler.layout.marks import Path, Piece
from labeler.press.grid import Grid
from labeler.press.placing import Placed
from labeler.press.sheet import Sheet
from labeler.units import MM_PER_INCH, POINTS_PER_INCH, SLACK_PT

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


def cut_grid(sheet: Sheet, width: float, height: float, bleed: float) -> Grid | None:
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
) -> Grid:
    gutter = max(sheet.gutter, 2 * bleed)
    columns, left = _row_of_cells(page[0], size[0], gutter, sheet.margin + mark)
    rows, top = _row_of_cells(page[1], size[1], gutter, sheet.margin + mark)
    return Grid(*page, columns, rows, *size, left, top, size[0] + gutter, size[1] + gutter)


def _row_of_cells(whole: float, part: float, gutter: float, border: float) -> tuple[int, float]:
    """Return how many parts lie side by side, and where the first begins when centred."""
    count = max(0, math.floor((whole - 2 * border + gutter + SLACK_PT) / (part + gutter)))
    return count, (whole - count * (part + gutter) + gutter) / 2


def cutting_marks(grid: Grid, margin: float, placed: Placed) -> Iterator[Path]:
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


def _outward(grid: Grid, margin: float, placed: Placed) -> dict[str, tuple[float, float] | None]:
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
) -> Path:
    return Path((("M", *begin), ("L", *end)), stroke="#000000", width=MARK_WIDTH, dash=dash)


def largest(pieces: Iterator[Piece]) -> tuple[float, float, float]:
    """Return the greatest width, height and bleed among the pieces."""
    sizes = [(piece.width, piece.height, piece.bleed) for piece in pieces]
    widths, heights, bleeds = zip(*sizes, strict=True)
    return max(widths), max(heights), max(bleeds)
