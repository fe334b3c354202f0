"""The order form as a spreadsheet: a row for each SKU, one column to fill in, no formula."""

from __future__ import annotations

import io
import re
import zipfile
from collections.abc import Iterator
from typing import Any, BinaryIO

from openpyxl import Workbook
from openpyxl.styles import Alignment, Border, Font, PatternFill, Protection, Side
from openpyxl.worksheet.datavalidation import DataValidation

from labeler.book.cover import dates_of, title_of
from labeler.book.edition import Edition
from labeler.book.order_form import heads_of

SHEET = "Order"
SKU_HEAD, PACKS_HEAD = "SKU", "Packs ordered"
MOST_PACKS = 10_000
"""Packs of one SKU in one order: more than two people tie in a year."""

_EPOCH = (1980, 1, 1, 0, 0, 0)
_WHEN = re.compile(rb"(<dcterms:(created|modified)[^>]*>)[^<]*")


def write_order_sheet(edition: Edition, target: BinaryIO) -> None:
    """Write the order sheet of a dealer's edition. The same edition gives the same bytes."""
    book = Workbook()
    sheet: Any = book.active
    sheet.title = SHEET
    maker = edition.catalog.file.maker.name
    _put(sheet, 1, 1, f"{maker}: order form", Font(bold=True, size=14))
    _put(sheet, 2, 1, f"{title_of(edition)}. {dates_of(edition)}. All in {edition.currency}.")
    row = 4
    for _, label, value, fixed in heads_of(edition):
        _put(sheet, row, 1, label, Font(bold=True))
        cell = _put(sheet, row, 3, value)
        cell.protection = Protection(locked=fixed)
        row += 1
    _table(sheet, edition, row + 1)
    target.write(_settled(book))


def _table(sheet: Any, edition: Edition, first: int) -> None:
    heads = [SKU_HEAD, "Pattern", "Color", "Weight", "Hook", "Quantity", "Packs a case"]
    heads += [f"{tier.name} price" for tier in edition.tiers] + ["Suggested retail", PACKS_HEAD]
    thin = Border(bottom=Side(style="thin"))
    for column, head in enumerate(heads, 1):
        cell = _put(sheet, first, column, head, Font(bold=True))
        cell.border = thin
        cell.alignment = Alignment(wrap_text=True, vertical="bottom")
    last = first
    for last, values in enumerate(_rows(edition), first + 1):
        for column, value in enumerate(values, 1):
            cell = _put(sheet, last, column, value)
            if column > 7:
                cell.number_format = "0.00"
        cell = sheet.cell(last, len(heads))
        cell.protection = Protection(locked=False)
        cell.fill = PatternFill("solid", fgColor="FFF7EF")
        cell.number_format = "0"
    _finish(sheet, first, last, len(heads))


def _rows(edition: Edition) -> Iterator[list[Any]]:
    for product in edition.products:
        prices = [edition.price(product, tier) for tier in edition.tiers]
        pattern = product.pattern
        yield [
            product.sku, pattern.name, product.colour.name, str(product.weight), product.hook_size,
            f"Pack of {pattern.pack}", pattern.case, *prices, product.price,
        ]  # fmt: skip


def _finish(sheet: Any, first: int, last: int, columns: int) -> None:
    """Set widths, what repeats in print, and what may be typed."""
    letters = [sheet.cell(first, column).column_letter for column in range(1, columns + 1)]
    for letter, width in zip(letters, (20, 30, 24, 10, 8, 11, 8, *[10] * columns), strict=False):
        sheet.column_dimensions[letter].width = width
    sheet.freeze_panes = sheet.cell(first + 1, 1)
    sheet.print_title_rows = f"{first}:{first}"
    sheet.page_setup.orientation = "landscape"
    sheet.page_setup.fitToWidth, sheet.page_setup.fitToHeight = 1, 0
    sheet.sheet_properties.pageSetUpPr.fitToPage = True
    whole = DataValidation(
        type="whole", operator="between", formula1="0", formula2=str(MOST_PACKS), allow_blank=True,
        showErrorMessage=True, errorTitle="Packs", error="A whole number of packs, please.",
    )  # fmt: skip
    sheet.add_data_validation(whole)
    whole.add(f"{letters[-1]}{first + 1}:{letters[-1]}{last}")


def _put(sheet: Any, row: int, column: int, value: Any, font: Font | None = None) -> Any:
    """Write a value; a text that begins like a formula stays a text."""
    cell = sheet.cell(row, column)
    cell.value = value
    if isinstance(value, str):
        cell.data_type = "s"
        cell.quotePrefix = value.startswith(("=", "+", "-", "@"))
    if font:
        cell.font = font
    return cell


def _settled(book: Workbook) -> bytes:
    """Return the workbook without the hour at which it was written."""
    raw, plain = io.BytesIO(), io.BytesIO()
    book.save(raw)
    with zipfile.ZipFile(raw) as source, zipfile.ZipFile(plain, "w") as copy:
        for name in sorted(source.namelist()):
            data = source.read(name)
            if name == "docProps/core.xml":
                data = _WHEN.sub(rb"\g<1>1980-01-01T00:00:00Z", data)
            part = zipfile.ZipInfo(name, _EPOCH)
            copy.writestr(part, data, zipfile.ZIP_DEFLATED)
    return plain.getvalue()
