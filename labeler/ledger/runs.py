"""Runs: what was printed, on what, with which layout; enough to print the same again."""

from __future__ import annotations

import hashlib
from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime
from itertools import groupby
from typing import Any, Literal

from sqlalchemy import Connection, func, select

from labeler.findings import Place, refusal
from labeler.ledger.assign import Request, once
from labeler.ledger.lots import a_line, lot_id
from labeler.ledger.schema import (
    as_text,
    files,
    keep_once,
    layouts,
    lots,
    open_sheets,
    printed,
    runs,
)
from labeler.ledger.store import Ledger, enter
from labeler.ledger.stored import read_findings, write_findings


@dataclass(frozen=True, slots=True)
class KeptLayout:
    """A layout by its name, and its files by their paths: template, styles, pictures."""

    name: str
    files: Mapping[str, bytes]

    @property
    def fingerprint(self) -> str:
        """SHA-256 of the name and of every file's path and content, in hexadecimal."""
        return hashlib.sha256(as_text([self.name, self._prints()]).encode()).hexdigest()

    def _prints(self) -> dict[str, str]:
        return {path: hashlib.sha256(data).hexdigest() for path, data in self.files.items()}


def keep_layout(connection: Connection, layout: KeptLayout) -> str:
    """Keep a layout with all its files, in the caller's transaction; return its fingerprint."""
    fingerprint = layout.fingerprint
    if connection.scalar(select(layouts.c.name).where(layouts.c.fingerprint == fingerprint)):
        return fingerprint
    prints = layout._prints()
    for path, data in sorted(layout.files.items()):
        keep_once(connection, files, {"fingerprint": prints[path], "data": data})
    kept = {"fingerprint": fingerprint, "name": layout.name, "files": prints}
    keep_once(connection, layouts, kept)
    return fingerprint


def layout_of(ledger: Ledger, fingerprint: str) -> KeptLayout | None:
    """Return the layout with this fingerprint as it was, or None if it was never kept."""

    def look(connection: Connection) -> KeptLayout | None:
        row = connection.execute(
            select(layouts.c.name, layouts.c.files).where(layouts.c.fingerprint == fingerprint)
        ).first()
        if row is None:
            return None
        query = select(files).where(files.c.fingerprint.in_(set(row.files.values())))
        kept = {each.fingerprint: each.data for each in connection.execute(query)}
        return KeptLayout(row.name, {path: kept[each] for path, each in row.files.items()})

    return ledger.read(look)


SheetCell = tuple[int, int]
"""A sheet of the run and a cell of the sheet, both counted from 1."""


def write_spots(spots: Iterable[SheetCell]) -> str:
    """Return the cells in order, neighbours drawn together, alike sheets drawn together."""
    by_sheet: defaultdict[int, list[int]] = defaultdict(list)
    for sheet, cell in sorted(spots):
        by_sheet[sheet].append(cell)
    written = {sheet: _ranges(cells) for sheet, cells in by_sheet.items()}
    alike = [
        f"{_ranges([sheet for sheet, _ in group])}:{cells}" for cells, group in _neighbours(written)
    ]
    return " ".join(alike)


def _neighbours(written: dict[int, str]) -> Iterator[tuple[str, list[tuple[int, str]]]]:
    """Yield runs of sheets that follow one another and hold the same cells."""
    counted = enumerate(written.items())
    for (cells, _), group in groupby(counted, lambda pair: (pair[1][1], pair[1][0] - pair[0])):
        yield cells, [sheet for _, sheet in group]


def _ranges(numbers: Sequence[int]) -> str:
    parts = []
    for _, group in groupby(enumerate(numbers), lambda pair: pair[1] - pair[0]):
        run = [number for _, number in group]
        parts.append(str(run[0]) if len(run) == 1 else f"{run[0]}-{run[-1]}")
    return ",".join(parts)


def read_spots(text: str) -> list[SheetCell]:
    """Return the cells that ``write_spots`` wrote, in order."""
    return [
        (sheet, cell)
        for part in text.split()
        for sheet in _numbers(part.partition(":")[0])
        for cell in _numbers(part.partition(":")[2])
    ]


def _numbers(text: str) -> Iterator[int]:
    for part in text.split(","):
        first, _, last = part.partition("-")
        yield from range(int(first), int(last or first) + 1)


@dataclass(frozen=True, slots=True)
class RunPaper:
    """What a run was printed on.

    Attributes:
        stock: the sheet's name.
        cells: cells on one sheet.
        start: the first cell used on the first sheet; those before it were used already.
        spoiled: sheets and cells left empty because they cannot be used.
        workstation: where the started sheets lie; two benches have two.
    """

    stock: str
    cells: int
    start: int = 1
    spoiled: Sequence[SheetCell] = ()
    workstation: str = ""


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


def open_sheet(ledger: Ledger, stock: str, *, workstation: str = "") -> OpenSheet:
    """Return the started sheet of a stock; one without used cells if there is none."""
    query = (
        select(open_sheets.c.cells, open_sheets.c.used)
        .where(open_sheets.c.stock == stock, open_sheets.c.drawer == workstation)
        .order_by(open_sheets.c.id.desc())
        .limit(1)
    )
    row = ledger.read(lambda connection: connection.execute(query).first())
    if row is None or len(row.used) >= row.cells:
        return OpenSheet(stock, row.cells if row else 0)
    return OpenSheet(stock, row.cells, tuple(row.used))


def set_sheet(ledger: Ledger, paper: RunPaper) -> OpenSheet:
    """Note how the started sheet of a stock really is: a new one, or one with spoiled cells.

    Raises:
        LabelerError: if a cell is not on the sheet.
    """
    ledger.write(lambda connection: remember_sheet(connection, ledger, paper, (), None))
    return open_sheet(ledger, paper.stock, workstation=paper.workstation)


def remember_sheet(
    connection: Connection,
    ledger: Ledger,
    paper: RunPaper,
    spots: Iterable[SheetCell],
    run: int | None,
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
        raise refusal(
            "cell-not-on-sheet",
            Place(key=paper.stock),
            "this sheet has no such cell",
            found=", ".join(map(str, odd)),
            expected=f"1 to {paper.cells}",
        )
    connection.execute(
        open_sheets.insert().values(
            drawer=a_line(paper.workstation, "workstation", may_lack=True, longest=100),
            stock=a_line(paper.stock, "stock", longest=100),
            cells=paper.cells,
            used=used,
            run_id=run,
            **ledger.stamp(),
        )
    )


Kind = Literal["bag", "card", "batch card"]


@dataclass(frozen=True, slots=True)
class PrintedPiece:
    """Copies of one piece in a run.

    Attributes:
        kind: bag label, card-back or batch card.
        sku: the product.
        lot: the lot's code, or empty.
        layout: the layout, with the files it was made of.
        spots: the sheet and cell of every copy.
    """

    kind: Kind
    sku: str
    lot: str
    layout: KeptLayout
    spots: Sequence[SheetCell]


@dataclass(frozen=True, slots=True)
class Run:
    """One act of printing.

    Attributes:
        paper: the stock, and how its first sheet was.
        printed: what was printed, in order.
        pdf: SHA-256 of the PDF file, in hexadecimal.
        printer: the printer's name.
        catalog: the catalog's fingerprint.
        fonts: the fonts' fingerprint.
        findings: what the checker had to say, as plain values.
        overrides: the rules that the maker overruled.
    """

    paper: RunPaper
    printed: Sequence[PrintedPiece]
    pdf: str
    printer: str = ""
    catalog: str = ""
    fonts: str = ""
    findings: Sequence[dict[str, Any]] = ()
    overrides: Sequence[str] = ()


@dataclass(frozen=True, slots=True)
class PastRun:
    """What the ledger tells of one piece of a run; ``at`` is in UTC."""

    run: int
    kind: Kind
    sku: str
    lot: str
    count: int
    spots: tuple[SheetCell, ...]
    layout: str
    layout_fingerprint: str
    stock: str
    printer: str
    catalog: str
    fonts: str
    pdf: str
    findings: tuple[dict[str, Any], ...]
    overrides: tuple[str, ...]
    at: datetime
    who: str


def record_run(ledger: Ledger, run: Run, *, key: str | None = None) -> int:
    """Record a run and which cells of its last sheet are used now; return the run's number.

    Args:
        ledger: an open ledger.
        run: what was printed.
        key: names this request, so that making it twice records one run.

    Raises:
        LabelerError: if a lot is unknown, or the ledger cannot be written.
    """
    last_sheet = max((sheet for each in run.printed for sheet, _ in each.spots), default=0)

    def record(connection: Connection) -> int:
        result = connection.execute(
            runs.insert().values(
                stock=a_line(run.paper.stock, "stock", longest=100),
                printer=a_line(run.printer, "printer", may_lack=True, longest=100),
                catalog=run.catalog,
                fonts=run.fonts,
                pdf=run.pdf,
                sheets=last_sheet,
                findings=write_findings(run.findings),
                overrides=list(run.overrides),
                **ledger.stamp(),
            )
        )
        number = int(result.inserted_primary_key[0])  # type: ignore[index]
        for each in run.printed:
            _record_piece(connection, ledger, number, each)
        spots = [spot for each in run.printed for spot in each.spots]
        remember_sheet(connection, ledger, run.paper, spots, number)
        return number

    request = Request.of("print", key, pdf=run.pdf, stock=run.paper.stock)
    return int(once(ledger, request, record))


def _record_piece(connection: Connection, ledger: Ledger, run: int, piece: PrintedPiece) -> None:
    lot = lot_id(connection, piece.lot) if piece.lot else None
    connection.execute(
        printed.insert().values(
            run_id=run,
            kind=piece.kind,
            sku=piece.sku,
            lot_id=lot,
            layout=keep_layout(connection, piece.layout),
            count=len(piece.spots),
            cells=write_spots(piece.spots),
        )
    )
    enter(
        connection, ledger, "print", lot, run=run, kind=piece.kind, sku=piece.sku,
        count=len(piece.spots),
    )  # fmt: skip


def past_runs(
    ledger: Ledger, *, lot: str = "", sku: str = "", kind: Kind | None = None
) -> list[PastRun]:
    """Return what was printed, oldest first.

    Args:
        ledger: an open ledger.
        lot: one lot's pieces only, by its code as it is stored.
        sku: one product's pieces only.
        kind: one kind of piece only.
    """
    columns = [column for column in runs.c if column.name not in ("id", "sheets")]
    query = (
        select(
            printed.c.run_id,
            printed.c.kind,
            printed.c.sku,
            func.coalesce(lots.c.code, "").label("lot"),
            printed.c.count,
            printed.c.cells,
            layouts.c.name.label("layout"),
            printed.c.layout.label("layout_fingerprint"),
            *columns,
        )
        .join_from(printed, runs)
        .join(layouts)
        .join(lots, lots.c.id == printed.c.lot_id, isouter=True)
        .order_by(printed.c.id)
    )
    query = query.where(lots.c.code == lot) if lot else query
    query = query.where(printed.c.sku == sku) if sku else query
    query = query.where(printed.c.kind == kind) if kind else query
    return ledger.read(
        lambda connection: [
            _past(ledger, dict(row)) for row in connection.execute(query).mappings()
        ]
    )


def _past(ledger: Ledger, row: dict[str, Any]) -> PastRun:
    run = row.pop("run_id")
    return PastRun(
        run=run,
        spots=tuple(read_spots(row.pop("cells"))),
        findings=read_findings(row.pop("findings"), Place(file=ledger.where, key=f"run {run}")),
        overrides=tuple(row.pop("overrides")),
        **row,
    )
