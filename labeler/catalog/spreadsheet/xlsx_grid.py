"""From the bytes of an XLSX workbook to grids, without ever holding the whole of it unpacked."""

from __future__ import annotations

import io
import warnings
import zipfile
from collections.abc import Iterator
from itertools import islice
from typing import Any

import openpyxl

from labeler.catalog.spreadsheet.cells import Uncalculated, Value, is_blank
from labeler.catalog.spreadsheet.columns import Column
from labeler.catalog.spreadsheet.grid import MOST_ROWS, WIDEST, Grid, has_headings
from labeler.catalog.wording import shown
from labeler.findings import Finding, LabelerError, Place, note, stop

LARGEST_UNPACKED = 100_000_000
"""A workbook is a ZIP archive; one that unpacks to more is no list of jigs."""

_SAVE_AS_XLSX = "Open it in the spreadsheet and save it again as XLSX."
_FORMULA = b"<f"

_HEAD_ROWS = 200
"""Rows in which the headings are looked for before a sheet is read."""

Rows = Iterator[list[Value]]


def read_xlsx(
    file: str, raw: bytes, columns: tuple[Column, ...]
) -> tuple[list[Grid], list[Finding]]:
    """Return the sheets that hold a table of ``columns``, and what is to be said of the others.

    Raises:
        LabelerError: if it is no workbook, or too large.
    """
    _look_inside(file, raw)
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            return _read(file, raw, columns)
    except LabelerError:
        raise
    except Exception as error:  # a broken workbook makes openpyxl raise anything at all
        raise LabelerError(
            stop(
                "xlsx-broken",
                Place(file=file),
                "is damaged, or no workbook",
                found=type(error).__name__,
                hint=_SAVE_AS_XLSX,
            )
        ) from None


def _look_inside(file: str, raw: bytes) -> None:
    """Refuse what is no ZIP archive, or one that would unpack to too much."""
    place = Place(file=file)
    if raw.startswith(b"\xd0\xcf\x11\xe0"):
        raise LabelerError(
            stop("xlsx-broken", place, "is an old .xls workbook, or locked with a password",
                 hint="Open it in the spreadsheet and save it as XLSX without a password.")
        )  # fmt: skip
    try:
        with zipfile.ZipFile(io.BytesIO(raw)) as archive:
            unpacked = sum(part.file_size for part in archive.infolist())
            names = {part.filename for part in archive.infolist()}
    except (zipfile.BadZipFile, OSError, ValueError, NotImplementedError):
        raise LabelerError(
            stop("xlsx-broken", place, "is damaged, or no workbook", found=f"{raw[:4]!r} first",
                 hint=_SAVE_AS_XLSX)
        ) from None  # fmt: skip
    if unpacked > LARGEST_UNPACKED:
        raise LabelerError(
            stop("file-too-large", place, "unpacks to too much to be a list of products",
                 found=f"{unpacked:,} bytes", expected=f"at most {LARGEST_UNPACKED:,} bytes")
        )  # fmt: skip
    if "mimetype" in names:
        raise LabelerError(
            stop("xlsx-broken", place, "is an OpenDocument file, whatever its name says",
                 hint=_SAVE_AS_XLSX)
        )  # fmt: skip


def _read(file: str, raw: bytes, columns: tuple[Column, ...]) -> tuple[list[Grid], list[Finding]]:
    book = openpyxl.load_workbook(io.BytesIO(raw), read_only=True, data_only=True)
    formulas = _formulas(raw)
    several = sum(sheet.sheet_state == "visible" for sheet in book.worksheets) > 1
    grids: list[Grid] = []
    heads: list[Grid] = []
    findings: list[Finding] = []
    for sheet in book.worksheets:
        title = shown(sheet.title) if several else ""
        head = Grid(file, _filled(islice(_cells(sheet, None), _HEAD_ROWS), file, title), title)
        wanted = has_headings(head, columns)
        if sheet.sheet_state != "visible":
            if wanted:
                findings.append(_unread(file, sheet.title, "is hidden and is not read"))
        elif wanted or not several:
            grids.append(Grid(file, _filled(_cells(sheet, formulas), file, title), title, True))
        elif head.rows:
            heads.append(Grid(file, head.rows, title, True))
            findings.append(_unread(file, sheet.title, "has no SKU heading and is not read"))
    return grids or heads[:1] or [Grid(file, [])], findings


def _unread(file: str, sheet: str, why: str) -> Finding:
    return note("sheet-unread", Place(file=file, cell=f"{shown(sheet)}!A1"), f"this sheet {why}")


def _formulas(raw: bytes) -> Any:
    """Return the workbook with its formulas in place of their results; None if it has none."""
    with zipfile.ZipFile(io.BytesIO(raw)) as archive:
        parts = [name for name in archive.namelist() if name.startswith("xl/worksheets/")]
        if not any(_holds(archive, name) for name in parts):
            return None
    return openpyxl.load_workbook(io.BytesIO(raw), read_only=True, data_only=False)


def _holds(archive: zipfile.ZipFile, name: str) -> bool:
    """Tell whether a part holds a formula, a piece at a time."""
    tail = b""
    with archive.open(name) as part:
        while piece := part.read(1 << 16):
            if _FORMULA in tail + piece:
                return True
            tail = piece[-1:]
    return False


def _filled(cells_by_row: Rows, file: str, title: str) -> list[tuple[int, list[Value]]]:
    """Return the rows that hold something, whatever size the sheet says that it has."""
    rows: list[tuple[int, list[Value]]] = []
    for number, cells in enumerate(cells_by_row, start=1):
        if all(is_blank(cell) for cell in cells):
            continue
        if len(rows) == MOST_ROWS:
            raise LabelerError(
                stop("file-too-large", Place(file=file, cell=f"{title}!A{number}".lstrip("!")),
                     "is too long to be a list of products",
                     expected=f"at most {MOST_ROWS:,} rows")
            )  # fmt: skip
        rows.append((number, cells))
    return rows


def _cells(sheet: Any, formulas: Any) -> Rows:
    """Yield every row that the sheet holds, blank ones between them included."""
    sheet.reset_dimensions()
    shown = sheet.iter_rows(max_col=WIDEST, values_only=True)
    if formulas is None:
        yield from (list(row) if _filled_in(row) else [] for row in shown)
        return
    twin = formulas[sheet.title]
    twin.reset_dimensions()
    behind = twin.iter_rows(max_col=WIDEST, values_only=True)
    for row, under in zip(shown, behind, strict=False):
        if _filled_in(row) or _filled_in(under):
            yield [_calculated(one, two) for one, two in zip(row, under, strict=False)]
        else:
            yield []


def _filled_in(row: tuple[Any, ...]) -> bool:
    """Tell whether a row holds anything; a sheet may hold a million that do not."""
    return row.count(None) < len(row)


def _calculated(value: Value, under: Any) -> Value:
    """Return a cell's result, or the formula where the file holds no result."""
    if value is None and under is not None:
        return Uncalculated(str(getattr(under, "text", under)))
    return value
