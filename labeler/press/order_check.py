"""What stands in the way of printing an order on a sheet."""

from __future__ import annotations

from collections.abc import Sequence

from labeler.findings import Finding, Place, stop
from labeler.press.grid import Grid
from labeler.press.placing import Order, Spot
from labeler.press.sheet import Sheet
from labeler.units import Length

_MOST = 1_000_000
"""A million pieces in one run is a slip of the finger at a bench."""


def order_findings(orders: Sequence[Order]) -> list[Finding]:
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


def size_findings(orders: Sequence[Order], sheet: Sheet, grid: Grid | None) -> list[Finding]:
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


def _holds(sheet: Sheet, grid: Grid | None, width: float, height: float) -> bool:
    if grid is None:
        return False
    return Length(width).fits_in(Length(grid.cell_width)) and Length(height).fits_in(
        Length(grid.cell_height)
    )


def _what(sheet: Sheet) -> str:
    return f"the sheet {sheet.name}" if sheet.kind == "card" else f"a cell of {sheet.name}"


def _room(sheet: Sheet, grid: Grid | None) -> str:
    if grid is not None:
        return _size(grid.cell_width, grid.cell_height)
    border = 2 * sheet.margin
    return (
        f"{_size(sheet.width - border, sheet.height - border)} with its bleed, inside the margins"
    )


def _size(width: float, height: float) -> str:
    return f"{Length(width)} x {Length(height)}"
