"""The spreadsheets that lie in a catalog folder, found and read: products and GTINs."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path

from labeler.catalog.gtins import RECORD, read_record
from labeler.catalog.source import read_file
from labeler.catalog.spreadsheet import csv_grid
from labeler.catalog.spreadsheet.columns import PRODUCT_COLUMNS
from labeler.catalog.spreadsheet.grid import Grid, Row, read_table
from labeler.catalog.wording import a_few
from labeler.findings import Finding, LabelerError, Place, note, stop

PRODUCTS = "products"


@dataclass(slots=True)
class Lists:
    """What the spreadsheets of a folder hold."""

    rows: list[Row] = field(default_factory=list)
    record: dict[str, Row] = field(default_factory=dict)
    findings: list[Finding] = field(default_factory=list)
    files: list[tuple[str, bytes]] = field(default_factory=list)
    """Name and bytes of every file read."""


def read_lists(folder: Path) -> Lists:
    """Return all rows of the folder's spreadsheets, and every fault in them."""
    lists = Lists()
    try:
        found = (path.name for path in folder.iterdir() if path.is_file())
        names = sorted(name for name in found if name.isprintable())
    except OSError:
        names = []
    _read_products(folder, names, lists)
    if RECORD in names and (raw := _bytes(folder / RECORD, lists)) is not None:
        lists.record, findings = read_record(raw)
        lists.findings += findings
    return lists


def _read_products(folder: Path, names: list[str], lists: Lists) -> None:
    for suffix, reader in ((".csv", _from_csv), (".xlsx", _from_xlsx)):
        found = [name for name in names if name.casefold() == PRODUCTS + suffix]
        if len(found) > 1:
            lists.findings.append(
                stop("file-twice", Place(file=found[1]), f"lies beside {found[0]}: which holds?",
                     found=", ".join(found), expected="one of them")
            )  # fmt: skip
        elif found and (raw := _bytes(folder / found[0], lists)) is not None:
            _read(reader, found[0], raw, lists)
    others = [
        name for name in names
        if name.casefold().startswith(f"{PRODUCTS}.") and not name.casefold().endswith(_READ)
    ]  # fmt: skip
    if others:
        lists.findings.append(
            note("file-unread", Place(file=others[0]), "is not read", found=a_few(others),
                 expected="products.csv or products.xlsx",
                 hint="Save it as one of these from the spreadsheet.")
        )  # fmt: skip


_READ = (".csv", ".xlsx")

Reader = Callable[[str, bytes], tuple[list[Grid], list[Finding]]]


def _read(reader: Reader, name: str, raw: bytes, lists: Lists) -> None:
    try:
        grids, findings = reader(name, raw)
    except LabelerError as error:
        lists.findings += error.findings
        return
    lists.findings += findings
    for grid in grids:
        table = read_table(grid, PRODUCT_COLUMNS)
        lists.findings += table.findings
        lists.rows += table.rows


def _from_csv(name: str, raw: bytes) -> tuple[list[Grid], list[Finding]]:
    grid, findings = csv_grid.read_csv(name, raw, PRODUCT_COLUMNS)
    return [grid], findings


def _from_xlsx(name: str, raw: bytes) -> tuple[list[Grid], list[Finding]]:
    from labeler.catalog.spreadsheet import xlsx_grid  # heavy, and most folders have none

    return xlsx_grid.read_xlsx(name, raw, PRODUCT_COLUMNS)


def _bytes(path: Path, lists: Lists) -> bytes | None:
    try:
        raw = read_file(path, csv_grid.LARGEST_BYTES)
    except LabelerError as error:
        lists.findings += error.findings
        return None
    lists.files.append((path.name, raw))
    return raw
