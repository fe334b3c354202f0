"""Runs: what was printed, on what, with which layout; enough to print the same again."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any, Literal

from sqlalchemy import Connection, func, select

from labeler.ledger.journal import enter
from labeler.ledger.kept_layouts import KeptLayout, keep_layout
from labeler.ledger.lots import lot_id
from labeler.ledger.open_sheets import Paper, remember_sheet
from labeler.ledger.requests import Request, once
from labeler.ledger.schema import layouts, lots, printed, runs
from labeler.ledger.spots import Spot, read_spots, write_spots
from labeler.ledger.store import Ledger
from labeler.ledger.texts import a_line

Kind = Literal["bag", "card", "batch card"]


@dataclass(frozen=True, slots=True)
class Printed:
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
    spots: Sequence[Spot]


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

    paper: Paper
    printed: Sequence[Printed]
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
    spots: tuple[Spot, ...]
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
                findings=list(run.findings),
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


def _record_piece(connection: Connection, ledger: Ledger, run: int, piece: Printed) -> None:
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
        lambda connection: [_past(dict(row)) for row in connection.execute(query).mappings()]
    )


def _past(row: dict[str, Any]) -> PastRun:
    return PastRun(
        run=row.pop("run_id"),
        spots=tuple(read_spots(row.pop("cells"))),
        findings=tuple(row.pop("findings")),
        overrides=tuple(row.pop("overrides")),
        **row,
    )
