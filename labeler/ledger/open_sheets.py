"""Started sheets: which cells are used, so that the next run begins at the first free one."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field

from sqlalchemy import Connection, select

from labeler.findings import LabelerError, Place, stop
from labeler.ledger.schema import open_sheets
from labeler.ledger.spots import Spot
from labeler.ledger.store import Ledger
from labeler.ledger.texts import a_line


@dataclass(frozen=True, slots=True)
class Paper:
    """What a run was printed on.

    Attributes:
        stock: the sheet's name.
        cells: cells on one sheet.
        start: the first cell used on the first sheet; those before it were used already.
        spoiled: sheets and cells left empty because they cannot be used.
        drawer: where the started sheets lie; two benches have two.
    """

    stock: str
    cells: int
    start: int = 1
    spoiled: Sequence[Spot] = ()
    drawer: str = ""


@dataclass(frozen=True, slots=True)
class OpenSheet:
    """The started sheet of a stock.

    Attributes:
        stock: the sheet's name.
        cells: cells on one sheet; 0 if none was printed yet.
        used: the cells that cannot be used any more.
        next_free: the first cell that can; 1 where a new sheet must be taken.
    """

    stock: str
    cells: int
    used: tuple[int, ...] = field(default=())

    @property
    def next_free(self) -> int:
        """The first cell that is free, on this sheet or on a new one."""
        free = (cell for cell in range(1, self.cells + 1) if cell not in set(self.used))
        return next(free, 1)

    @property
    def spoiled(self) -> tuple[int, ...]:
        """The used cells beyond the next free one, for the run to leave out."""
        return tuple(cell for cell in self.used if cell > self.next_free)


def open_sheet(ledger: Ledger, stock: str, *, drawer: str = "") -> OpenSheet:
    """Return the started sheet of a stock; one without used cells if there is none."""
    query = (
        select(open_sheets.c.cells, open_sheets.c.used)
        .where(open_sheets.c.stock == stock, open_sheets.c.drawer == drawer)
        .order_by(open_sheets.c.id.desc())
        .limit(1)
    )
    row = ledger.read(lambda connection: connection.execute(query).first())
    if row is None or len(row.used) >= row.cells:
        return OpenSheet(stock, row.cells if row else 0)
    return OpenSheet(stock, row.cells, tuple(row.used))


def set_sheet(ledger: Ledger, paper: Paper) -> OpenSheet:
    """Note how the started sheet of a stock really is: a new one, or one with spoiled cells.

    Raises:
        LabelerError: if a cell is not on the sheet.
    """
    ledger.write(lambda connection: remember_sheet(connection, ledger, paper, (), None))
    return open_sheet(ledger, paper.stock, drawer=paper.drawer)


def remember_sheet(
    connection: Connection, ledger: Ledger, paper: Paper, spots: Iterable[Spot], run: int | None
) -> None:
    """Note which cells of the last sheet are used, in the caller's transaction.

    Raises:
        LabelerError: if a cell is not on the sheet.
    """
    filled = set(spots)
    last = max((sheet for sheet, _ in filled), default=1)
    before = {(1, cell) for cell in range(1, paper.start)}
    used = sorted(cell for sheet, cell in filled | before | set(paper.spoiled) if sheet == last)
    if odd := [cell for cell in used if not 1 <= cell <= paper.cells]:
        raise LabelerError(
            stop(
                "cell-not-on-sheet",
                Place(key=paper.stock),
                "this sheet has no such cell",
                found=", ".join(map(str, odd)),
                expected=f"1 to {paper.cells}",
            )
        )
    connection.execute(
        open_sheets.insert().values(
            drawer=a_line(paper.drawer, "drawer", may_lack=True, longest=100),
            stock=a_line(paper.stock, "stock", longest=100),
            cells=paper.cells,
            used=used,
            run_id=run,
            **ledger.stamp(),
        )
    )
