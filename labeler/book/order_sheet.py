"""The order form as a spreadsheet: a row a product, and no formula, no sums."""

from __future__ import annotations

import io
import re
import zipfile
from typing import Any, BinaryIO

from openpyxl import Workbook
from openpyxl.styles import Alignment, Border, Font, PatternFill, Protection, Side
from openpyxl.worksheet.datavalidation import DataValidation

from labeler.book.edition import Edition, dates_of, title_of
from labeler.book.order import MOST_PACKS, PACKS_HEAD, SKU_HEAD
from labeler.book.order_form import heads_of

_COLUMNS = {SKU_HEAD: 20, "Pattern": 30, "Color": 24, "Weight": 10, "Hook": 8, "Quantity": 11,
            "Packs a case": 8}  # fmt: skip
"""The first columns' heads and their widths, in letters."""

_EPOCH = (1980, 1, 1, 0, 0, 0)
_WHEN = re.compile(rb"(<dcterms:(created|modified)[^>]*>)[^<]*")


def write_order_sheet(edition: Edition, target: BinaryIO) -> None:
    """Write the order sheet of a dealer's edition. The same edition gives the same bytes."""
    book = Workbook()
    sheet: Any = book.active
    sheet.title = "Order"
    maker = edition.catalog.file.maker.name
    _put(sheet, 1, 1, f"{maker}: order form", Font(bold=True, size=14))
    _put(sheet, 2, 1, f"{title_of(edition)}. {dates_of(edition)}. All in {edition.currency}.")
    heads = heads_of(edition)
    for row, head in enumerate(heads, 4):
        _put(sheet, row, 1, head.label, Font(bold=True))
        _put(sheet, row, 3, head.value).protection = Protection(locked=head.fixed)
    _write_table(sheet, edition, 4 + len(heads) + 1)
    target.write(_without_hour(book))


def _write_table(sheet: Any, edition: Edition, first: int) -> None:
    """Write the heads in row ``first`` and a row a product, and set what may be typed."""
    heads = [*_COLUMNS, *(f"{tier.name} price" for tier in edition.tiers), "Suggested retail",
             PACKS_HEAD]  # fmt: skip
    letters = []
    for column, head in enumerate(heads, 1):
        cell = _put(sheet, first, column, head, Font(bold=True))
        cell.border = Border(bottom=Side(style="thin"))
        cell.alignment = Alignment(wrap_text=True, vertical="bottom")
        letters.append(cell.column_letter)
        sheet.column_dimensions[cell.column_letter].width = _COLUMNS.get(head, 10)
    row = first
    for row, product in enumerate(edition.products, first + 1):
        pattern = product.pattern
        values = [product.sku, pattern.name, product.colour.name, str(product.weight),
                  product.hook_size, f"Pack of {pattern.pack}", pattern.case]  # fmt: skip
        for column, value in enumerate(values, 1):
            _put(sheet, row, column, value)
        prices = [*(edition.price(product, tier) for tier in edition.tiers), product.price]
        for column, price in enumerate(prices, len(values) + 1):
            _put(sheet, row, column, price).number_format = "0.00"
        packs = sheet.cell(row, len(heads))
        packs.protection = Protection(locked=False)
        packs.fill = PatternFill("solid", fgColor="FFF7EF")
        packs.number_format = "0"
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
    whole.add(f"{letters[-1]}{first + 1}:{letters[-1]}{row}")


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


def _without_hour(book: Workbook) -> bytes:
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
