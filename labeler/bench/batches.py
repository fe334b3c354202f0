"""Lists from a spreadsheet: batches that want a lot, and weights from the scale."""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path
from typing import get_args

from labeler.catalog.model import MaterialKind
from labeler.catalog.source import read_file
from labeler.catalog.spreadsheet import csv_grid, xlsx_grid
from labeler.catalog.spreadsheet.cells import CellError, Value, is_blank
from labeler.catalog.spreadsheet.columns import Column
from labeler.catalog.spreadsheet.grid import Grid, Row, has_headings, read_table
from labeler.catalog.spreadsheet.readers import plain_text, read_line, read_sku
from labeler.findings import Finding, Grade, LabelerError, Place, stop
from labeler.ledger.lots import SupplierLot
from labeler.units import WeightUnit

KINDS = ("hook", "guard", *get_args(MaterialKind))
"""What a supplier's lot may be a lot of; a maker may add to these."""


@dataclass(frozen=True, slots=True)
class Listed:
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


_A_DAY = "year, month and day, such as 2026-11-25"


def read_materials(value: Value) -> tuple[SupplierLot, ...]:
    """Return suppliers' lots, ``hook=HK-2291; thread=T-7``."""
    parts = [part for part in re.split(r"[;\n]+", plain_text(value)) if part.strip()]
    try:
        return tuple(SupplierLot.parse(part) for part in parts)
    except LabelerError as error:
        first = error.findings[0]
        raise CellError(first.message, first.expected) from error


BATCH_COLUMNS = (
    Column("sku", read_sku, "RV-38-40-MLN", "Which product was made.", ("skus", "itemno")),
    Column("count", read_count, "60", "How many jigs.", ("jigs", "pieces", "qty", "quantity")),
    Column("made", read_day, "2026-11-25", "The day it was made.", ("date", "day", "madeon")),
    Column("materials", read_materials, "hook=HK-2291; thread=T-7",
           "The suppliers' lots that went in.", ("material", "supplierlots")),
    Column("key", read_line, "order 118", "Names the request, so that it is carried out once."),
    Column("note", read_line, "second pour", "A line of your own.", ("notes", "remark")),
    *(Column(kind.replace(" ", ""), read_line, "HK-2291", f"The supplier's lot of {kind}.",
             (f"{kind.replace(' ', '')}lot",)) for kind in KINDS),
)  # fmt: skip


def read_batches(path: Path) -> tuple[tuple[Listed, ...], tuple[Finding, ...]]:
    """Return the batches of a CSV or XLSX file that can be read, and what is to be said of it.

    Where a cell cannot be read that is among the findings, so that all faults are told at once.

    Raises:
        LabelerError: if it is no such file.
    """
    rows, findings = _rows(path, BATCH_COLUMNS)
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


def _lacks(row: Row) -> list[str]:
    return [name for name in ("sku", "count") if name not in row.values]


def _batch(row: Row) -> Listed:
    says = row.values
    columns = {kind: kind.replace(" ", "") for kind in KINDS}
    own = [SupplierLot(kind, says[name]) for kind, name in columns.items() if name in says]
    return Listed(
        row.place,
        says["sku"],
        says["count"],
        says.get("made"),
        (*says.get("materials", ()), *own),
        says.get("key", ""),
        says.get("note", ""),
    )


def _weight_text(value: Value) -> str:
    """A scale's weight as text; what it says is judged later, all weights at once."""
    return plain_text(value)


def weight_columns(unit: WeightUnit) -> tuple[Column, ...]:
    """Return the one column of a list of weights, and the headings it goes by."""
    also = {"g": ("g", "grams", "weightg", "weightgrams"), "oz": ("oz", "ounces", "weightoz")}
    return (
        Column("weight", _weight_text, "10.4", "What one jig weighs.", ("weights", *also[unit])),
    )


Found = tuple[str, Place]
"""A text, and the cell in which it stands."""


def read_weight_list(path: Path, unit: WeightUnit) -> tuple[tuple[Found, ...], WeightUnit]:
    """Return the weights of a CSV or XLSX file as texts, and the unit its heading names.

    The weights stand under a heading such as ``weight``, ``g`` or ``oz``; without any heading,
    every cell of the file is one.

    Raises:
        LabelerError: with every cell that cannot be read, or if there is none.
    """
    both: tuple[WeightUnit, WeightUnit] = ("g", "oz") if unit == "g" else ("oz", "g")
    for asked in both:
        grids, _ = _grids(path, weight_columns(asked))
        if any(has_headings(grid, weight_columns(asked)) for grid in grids):
            rows, findings = _rows(path, weight_columns(asked))
            texts = [
                (row.values["weight"], row.cells["weight"])
                for row in rows
                if "weight" in row.values
            ]
            return _some(path, texts, findings), asked
    return _bare(path, grids), unit


def _bare(path: Path, grids: Iterable[Grid]) -> tuple[Found, ...]:
    texts: list[Found] = []
    findings: list[Finding] = []
    cells = (
        (grid.place(row, at), cell)
        for grid in grids
        for row, cells in grid.rows
        for at, cell in enumerate(cells)
        if not is_blank(cell)
    )
    for place, cell in cells:
        try:
            texts.append((plain_text(cell), place))
        except CellError as error:
            findings.append(stop("cell-misread", place, error.message, expected=error.expected))
    return _some(path, texts, findings)


def _some(path: Path, texts: list[Found], findings: list[Finding]) -> tuple[Found, ...]:
    if not texts:
        findings.append(stop("weights-empty", Place(file=str(path)), "holds no weight"))
    if stops_among(findings):
        raise LabelerError(findings)
    return tuple(texts)


def _rows(path: Path, columns: tuple[Column, ...]) -> tuple[list[Row], list[Finding]]:
    grids, findings = _grids(path, columns)
    rows: list[Row] = []
    for grid in grids:
        table = read_table(grid, columns)
        rows += table.rows
        findings += table.findings
    return rows, findings


def _grids(path: Path, columns: tuple[Column, ...]) -> tuple[list[Grid], list[Finding]]:
    raw = read_file(path, csv_grid.LARGEST_BYTES)
    if raw.startswith(b"PK\x03\x04"):
        grids, findings = xlsx_grid.read_xlsx(path.name, raw, columns)
        return grids, list(findings)
    grid, findings = csv_grid.read_csv(path.name, raw, columns)
    return [grid], list(findings)


def stops_among(findings: Iterable[Finding]) -> bool:
    """Tell whether any of the findings stops."""
    return any(finding.grade is Grade.STOP for finding in findings)
