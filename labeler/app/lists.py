"""Lists from a spreadsheet: batches that want a lot, and weights from the scale."""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from pathlib import Path

from labeler.catalog.spreadsheet.cells import (
    CellError,
    ColumnSpec,
    Value,
    is_blank,
    plain_text,
    read_line,
    read_sku,
)
from labeler.catalog.spreadsheet.grid import (
    LARGEST_BYTES,
    CellGrid,
    SheetRow,
    has_headings,
    read_csv,
    read_table,
    read_xlsx,
)
from labeler.files import read_file
from labeler.findings import Finding, Grade, LabelerError, Place, stop
from labeler.ledger.lots import SupplierLot, known_kinds
from labeler.units import WeightUnit

_KINDS = known_kinds()
"""What a supplier's lot may be a lot of; a maker may add to these."""


_A_DAY = "year, month and day, such as 2026-11-25"


@dataclass(frozen=True, slots=True)
class ListedBatch:
    """One row of a list of batches, and where it stands."""

    place: Place
    sku: str
    count: int
    made: dt.date | None
    materials: tuple[SupplierLot, ...]
    key: str
    note: str


def read_count(value: Value) -> int:
    """Return how many jigs were made."""
    text = plain_text(value)
    if re.fullmatch(r"\d{1,7}|\d{1,3}(,\d{3})+", text):
        return int(text.replace(",", ""))
    raise CellError("this is no number of jigs", "a whole number such as 60")


def read_day(value: Value) -> dt.date:
    """Return a day. Month and day in either order are taken where only one of them can be."""
    if isinstance(value, dt.datetime):
        return value.date()
    if isinstance(value, dt.date):
        return value
    text = plain_text(value)
    found = re.fullmatch(r"(\d{1,2})[/.](\d{1,2})[/.](\d{4})", text)
    try:
        if found is None:
            return dt.date.fromisoformat(text)
        first, second, year = (int(number) for number in found.groups())
        if first <= 12 and second <= 12 and first != second:
            raise CellError("day and month can't be told apart here", _A_DAY)
        return dt.date(year, *((first, second) if first <= 12 else (second, first)))
    except ValueError:
        raise CellError("this is no day", _A_DAY) from None


def read_materials(value: Value) -> tuple[SupplierLot, ...]:
    """Return suppliers' lots, ``hook=HK-2291; thread=T-7``."""
    parts = [part for part in re.split(r"[;\n]+", plain_text(value)) if part.strip()]
    try:
        return tuple(SupplierLot.parse(part) for part in parts)
    except LabelerError as error:
        first = error.findings[0]
        raise CellError(first.message, first.expected) from error


BATCH_COLUMNS = (
    ColumnSpec("sku", read_sku, "RV-38-40-MLN", "Which product was made.", ("skus", "itemno")),
    ColumnSpec("count", read_count, "60", "How many jigs.", ("jigs", "pieces", "qty", "quantity")),
    ColumnSpec("made", read_day, "2026-11-25", "The day it was made.", ("date", "day", "madeon")),
    ColumnSpec("materials", read_materials, "hook=HK-2291; thread=T-7",
           "The suppliers' lots that went in.", ("material", "supplierlots")),
    ColumnSpec("key", read_line, "order 118", "Names the request, so that it is carried out once."),
    ColumnSpec("note", read_line, "second pour", "A line of your own.", ("notes", "remark")),
    *(ColumnSpec(kind.replace(" ", ""), read_line, "HK-2291", f"The supplier's lot of {kind}.",
             (f"{kind.replace(' ', '')}lot",)) for kind in _KINDS),
)  # fmt: skip


def read_batches(path: Path) -> tuple[tuple[ListedBatch, ...], tuple[Finding, ...]]:
    """Return the batches of a CSV or XLSX file that can be read, and the findings on it.

    Where a cell cannot be read that is among the findings, so that all faults are told at once.

    Raises:
        LabelerError: if it is no such file.
    """
    rows, findings = _rows(*_grids(path, BATCH_COLUMNS), BATCH_COLUMNS)
    batches = tuple(_batch(row) for row in rows if not _lacks(row))
    findings += [
        stop("batch-incomplete", row.place, "this row lacks what a batch needs",
             expected=" and ".join(_lacks(row)))
        for row in rows
        if _lacks(row) and not row.spoiled
    ]  # fmt: skip
    if not batches and not stops_among(findings):
        findings.append(stop("batches-empty", Place(file=str(path)), "holds no batch"))
    return batches, tuple(findings)


def _lacks(row: SheetRow) -> list[str]:
    return [name for name in ("sku", "count") if name not in row.values]


def _batch(row: SheetRow) -> ListedBatch:
    values = row.values
    columns = {kind: kind.replace(" ", "") for kind in _KINDS}
    own = [SupplierLot(kind, values[name]) for kind, name in columns.items() if name in values]
    return ListedBatch(
        row.place,
        values["sku"],
        values["count"],
        values.get("made"),
        (*values.get("materials", ()), *own),
        values.get("key", ""),
        values.get("note", ""),
    )


_WEIGHT_HEADINGS: dict[WeightUnit, tuple[str, ...]] = {
    "g": ("weights", "g", "grams", "weightg", "weightgrams"),
    "oz": ("weights", "oz", "ounces", "weightoz"),
}

WeightText = tuple[str, Place]
"""A scale's weight as text, and its cell; what it says is judged later, all weights at once."""


def read_weight_list(path: Path, unit: WeightUnit) -> tuple[tuple[WeightText, ...], WeightUnit]:
    """Return the weights of a CSV or XLSX file as texts, and the unit its heading names.

    The weights stand under a heading such as ``weight``, ``g`` or ``oz``; without any heading,
    every cell of the file is one.

    Raises:
        LabelerError: with every cell that cannot be read, or if there is none.
    """
    texts: list[WeightText] = []
    for heading in sorted(_WEIGHT_HEADINGS, key=lambda each: each != unit):
        also = _WEIGHT_HEADINGS[heading]
        columns = (ColumnSpec("weight", plain_text, "10.4", "What one jig weighs.", also),)
        grids, findings = _grids(path, columns)
        if any(has_headings(grid, columns) for grid in grids):
            rows, findings = _rows(grids, findings, columns)
            texts += [
                (row.values["weight"], row.cells["weight"])
                for row in rows
                if "weight" in row.values
            ]
            return _weights(path, texts, findings), heading
    findings = []
    for grid in grids:
        for row_number, cells in grid.rows:
            for at, cell in enumerate(cells):
                place = grid.place(row_number, at)
                try:
                    if not is_blank(cell):
                        texts.append((plain_text(cell), place))
                except CellError as error:
                    findings.append(
                        stop("cell-misread", place, error.message, expected=error.expected)
                    )
    return _weights(path, texts, findings), unit


def _weights(
    path: Path, texts: Sequence[WeightText], findings: list[Finding]
) -> tuple[WeightText, ...]:
    if not texts:
        findings.append(stop("weights-empty", Place(file=str(path)), "holds no weight"))
    if stops_among(findings):
        raise LabelerError(findings)
    return tuple(texts)


def _grids(path: Path, columns: tuple[ColumnSpec, ...]) -> tuple[list[CellGrid], list[Finding]]:
    raw = read_file(path, LARGEST_BYTES)
    if raw.startswith(b"PK\x03\x04"):
        grids, findings = read_xlsx(path.name, raw, columns)
        return grids, list(findings)
    grid, findings = read_csv(path.name, raw, columns)
    return [grid], list(findings)


def _rows(
    grids: Iterable[CellGrid], findings: list[Finding], columns: tuple[ColumnSpec, ...]
) -> tuple[list[SheetRow], list[Finding]]:
    rows: list[SheetRow] = []
    for grid in grids:
        table = read_table(grid, columns)
        rows += table.rows
        findings += table.findings
    return rows, findings


def stops_among(findings: Iterable[Finding]) -> bool:
    """Tell whether any of the findings stops."""
    return any(finding.grade is Grade.STOP for finding in findings)
