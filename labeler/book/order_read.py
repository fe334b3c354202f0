"""Reads an order back: from a form filled in any viewer, or from the spreadsheet.

What comes in is a stranger's file: nothing in it is believed, run or reckoned.
"""

from __future__ import annotations

import io
import logging
import warnings
import zipfile
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from labeler.book.order_form import heads_of_form, sku_of_field
from labeler.book.order_sheet import PACKS_HEAD, SKU_HEAD
from labeler.findings import LabelerError, Place, stop

LARGEST = 60_000_000
"""Bytes: a dealer's book with pictures takes some millions."""

_MOST_ROWS, _MOST_COLUMNS = 20_000, 40
_HEAD_WITHIN = 60


@dataclass(frozen=True, slots=True)
class Typed:
    """What somebody typed for a SKU, and where."""

    sku: str
    value: Any
    place: Place
    formula: bool = False


@dataclass(slots=True)
class Filled:
    """A form as it came back: who orders, and what stands in each field that is not empty."""

    heads: dict[str, str] = field(default_factory=dict)
    typed: list[Typed] = field(default_factory=list)


def read_order(path: Path) -> Filled:
    """Return what stands in a filled form.

    Args:
        path: a PDF or an XLSX file, known by its first bytes.

    Raises:
        LabelerError: if it can't be read, is neither, or is no order form.
    """
    raw = _bytes(path)
    place = Place(file=str(path))
    if b"%PDF-" in raw[:1024]:
        filled = _read_pdf(raw, place)
    elif raw.startswith(b"PK"):
        filled = _read_xlsx(raw, place)
    else:
        raise LabelerError(stop("order-unknown", place, "is neither a PDF nor an XLSX workbook",
                                hint="Save it as one of the two."))  # fmt: skip
    return filled


def _bytes(path: Path) -> bytes:
    place = Place(file=str(path))
    try:
        if path.stat().st_size > LARGEST:
            raise LabelerError(
                stop("file-too-large", place, "is too large to be an order",
                     found=f"{path.stat().st_size:,} bytes", expected=f"at most {LARGEST:,} bytes")
            )  # fmt: skip
        return path.read_bytes()
    except OSError as error:
        raise LabelerError(
            stop("order-unreadable", place, f"can't be read: {error.strerror or error}")
        ) from error


def _read_pdf(raw: bytes, place: Place) -> Filled:
    try:
        fields = _fields(raw)
    except Exception as error:  # a broken or locked PDF makes the reader raise anything at all
        raise LabelerError(
            stop("order-broken", place, "is damaged, or locked with a password",
                 found=type(error).__name__, hint="Open it in a viewer and save it again.")
        ) from None  # fmt: skip
    filled = Filled()
    names = heads_of_form()
    for name, value in fields.items():
        sku = sku_of_field(name)
        if name in names:
            filled.heads[name] = str(value).strip()
        elif sku and str(value).strip():
            spot = Place(file=place.file, key=f"field of {sku}")
            filled.typed.append(Typed(sku, str(value).strip(), spot))
    if not any(sku_of_field(name) for name in fields):
        raise LabelerError(_no_form(place, "it has no field for a quantity"))
    return filled


def _fields(raw: bytes) -> dict[str, str]:
    """Return every field's value by its name, empty where nothing was typed."""
    from pypdf import PdfReader

    quiet = logging.getLogger("pypdf")
    level = quiet.level
    quiet.setLevel(logging.CRITICAL)
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            found = PdfReader(io.BytesIO(raw)).get_fields() or {}
            return {str(name): _text(one.get("/V")) for name, one in found.items()}
    finally:
        quiet.setLevel(level)


def _text(value: Any) -> str:
    if value is None:
        return ""
    return str(value.get_object() if hasattr(value, "get_object") else value)


def _read_xlsx(raw: bytes, place: Place) -> Filled:
    try:
        with zipfile.ZipFile(io.BytesIO(raw)) as archive:
            if sum(part.file_size for part in archive.infolist()) > LARGEST:
                raise LabelerError(
                    stop("file-too-large", place, "unpacks to too much to be an order")
                )
        rows = _cells(raw)
    except LabelerError:
        raise
    except Exception as error:  # a broken workbook makes the reader raise anything at all
        raise LabelerError(
            stop("order-broken", place, "is damaged, or no workbook", found=type(error).__name__,
                 hint="Open it in the spreadsheet and save it again as XLSX.")
        ) from None  # fmt: skip
    return _table(rows, place)


def _cells(raw: bytes) -> list[list[tuple[str, Any, bool]]]:
    """Return the first sheet's cells: where, what, and whether it is a formula."""
    import openpyxl

    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        book = openpyxl.load_workbook(io.BytesIO(raw), read_only=True, data_only=False)
        sheet: Any = book.worksheets[0]
        sheet.reset_dimensions()
        rows = []
        for row in sheet.iter_rows(max_row=_MOST_ROWS, max_col=_MOST_COLUMNS):
            rows.append(
                [(cell.coordinate, cell.value, cell.data_type == "f") for cell in row
                 if cell.value is not None]
            )  # fmt: skip
        return rows


def _table(rows: list[list[tuple[str, Any, bool]]], place: Place) -> Filled:
    filled = Filled()
    labels = {label: name for name, label in heads_of_form().items()}
    columns: tuple[str, str] | None = None
    for number, row in enumerate(rows):
        by_column = {_letters(where): (where, value, formula) for where, value, formula in row}
        if columns is None:
            texts = {str(value).strip(): letter for letter, (_, value, _) in by_column.items()}
            if SKU_HEAD in texts and PACKS_HEAD in texts:
                columns = texts[SKU_HEAD], texts[PACKS_HEAD]
            elif len(row) > 1 and str(row[0][1]).strip() in labels:
                filled.heads[labels[str(row[0][1]).strip()]] = str(row[1][1]).strip()
            elif number > _HEAD_WITHIN:
                break
            continue
        sku, packs = by_column.get(columns[0]), by_column.get(columns[1])
        if packs is None or not str(packs[1]).strip():
            continue
        spot = Place(file=place.file, cell=packs[0])
        filled.typed.append(Typed(str(sku[1]).strip() if sku else "", packs[1], spot, packs[2]))
    if columns is None:
        raise LabelerError(_no_form(place, f"no row holds both “{SKU_HEAD}” and “{PACKS_HEAD}”"))
    return filled


def _letters(where: str) -> str:
    return where.rstrip("0123456789")


def _no_form(place: Place, why: str) -> Any:
    return stop("order-not-a-form", place, "is no order form of this program", found=why,
                hint="Send the form that stands in the dealer catalog, filled in.")  # fmt: skip
