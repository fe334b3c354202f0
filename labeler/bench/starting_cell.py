"""Where a run begins: the cell asked for, or the first free one of the sheet that was begun."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from labeler.bench.laying import Laid
from labeler.bench.wishes import Wish
from labeler.findings import Finding, Place, note
from labeler.ledger.open_sheets import OpenSheet, open_sheet
from labeler.ledger.store import Ledger
from labeler.press.cutting import cut_grid, largest
from labeler.press.placing import Spot
from labeler.press.sheet import Sheet
from labeler.press.spoiled import read_spoiled


@dataclass(frozen=True, slots=True)
class Begin:
    """The first cell of a run, the cells to leave out, and what to say of the begun sheet."""

    start: int
    spoiled: frozenset[Spot]
    findings: tuple[Finding, ...] = ()


def where_to_begin(
    wish: Wish, sheet: Sheet, laid: Sequence[Laid], ledger: Ledger | None, drawer: str
) -> Begin:
    """Return where a run begins.

    Args:
        wish: what is wished for.
        sheet: the stock.
        laid: the pieces, by which card stock is cut.
        ledger: where begun sheets are remembered; None if nowhere.
        drawer: where this bench's sheets lie.

    Raises:
        LabelerError: if the spoiled cells can't be read.
    """
    spoiled = read_spoiled(wish.spoiled)
    if ledger is None:
        return Begin(1 if wish.start == "next" else wish.start, spoiled)
    begun = open_sheet(ledger, sheet.name, drawer=drawer)
    fits = begun.cells == _cells(sheet, laid)
    if wish.start != "next":
        offered = fits and begun.next_free > 1 and wish.start == 1
        return Begin(wish.start, spoiled, (_offer(sheet, begun),) if offered else ())
    if not fits:
        return Begin(1, spoiled, (_cut_otherwise(sheet, begun),) if begun.used else ())
    used = {Spot(1, cell) for cell in begun.spoiled}
    return Begin(begun.next_free, spoiled | used)


def _cells(sheet: Sheet, laid: Sequence[Laid]) -> int:
    if not laid:
        return 0
    grid = sheet.grid or cut_grid(sheet, *largest(each.composed.piece for each in laid))
    return grid.count if grid else 0


def _offer(sheet: Sheet, begun: OpenSheet) -> Finding:
    return note(
        "sheet-begun",
        Place(key="start"),
        f"a sheet {sheet.name} was begun; its next free cell is {begun.next_free}",
        hint="--start next uses it up. This run took a new sheet.",
    )


def _cut_otherwise(sheet: Sheet, begun: OpenSheet) -> Finding:
    return note(
        "sheet-cut-otherwise",
        Place(key="start"),
        f"the begun sheet {sheet.name} was cut for other pieces, so a new one is taken",
        found=f"{begun.cells} cells",
    )
