"""The order form: in the book a field for each SKU, as a spreadsheet a row for each.

No script, no formula, no sums.
"""

from __future__ import annotations

import io
import re
import zipfile
from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Any, BinaryIO, NamedTuple

from openpyxl import Workbook
from openpyxl.styles import Alignment, Border, Font, PatternFill, Protection, Side
from openpyxl.worksheet.datavalidation import DataValidation

from labeler.book.edition import (
    Edition,
    PatternEntry,
    SizeGroup,
    dates_of,
    title_of,
    weight_and_hook,
)
from labeler.book.order import HEADS, MOST_PACKS, PACKS_HEAD, SKU_HEAD, field_name
from labeler.book.tables import keep_rows_company
from labeler.book.typesetting import (
    HAIR,
    BookContext,
    Canvas,
    Paragraph,
    StructurePath,
    Unit,
    Words,
    across,
)
from labeler.catalog.model import Product
from labeler.findings import Place
from labeler.geometry import Box
from labeler.layout.facts import amount_text
from labeler.marks import Claim, Element, Field, rectangle

_BOX = 34.0
_HIGH = 13.0
_MOST_DIGITS = 6
_PLACE = Place(block="order form")


class FormHead(NamedTuple):
    """One of the form's first fields: its name, its label, and what stands there already."""

    name: str
    label: str
    value: str
    fixed: bool


def heads_of(edition: Edition) -> list[FormHead]:
    """Return the form's first fields, filled in with what is known of the dealer."""
    known = {"tier": " / ".join(tier.name for tier in edition.tiers)}
    dealer = edition.dealer
    if dealer:
        town = " ".join(filter(None, (dealer.state, dealer.postcode)))
        known["dealer"] = dealer.name
        known["address"] = ", ".join(filter(None, (dealer.street, dealer.city, town)))
        known["contact"] = dealer.phone or dealer.email or ""
    return [FormHead(name, label, known.get(name, ""), name == "tier")
            for name, label in HEADS.items()]  # fmt: skip


def form_heads(book: BookContext, path: StructurePath) -> list[Unit]:
    """Return the part of the form above its columns: who orders, and how it is filled in."""
    heads = heads_of(book.edition)
    per_line = 1 if book.edition.small else 2
    units: list[Unit] = [
        FormLine(book, heads[first : first + per_line], path)
        for first in range(0, len(heads), per_line)
    ]
    maker = book.edition.catalog.file.maker
    back = maker.email or maker.phone or maker.name
    text = f"How many packs of each? Leave the others empty, and send the form back to {back}."
    words = book.setter.words("book-text", text, place=_PLACE)
    return [*units, Paragraph(words, (*path, Element("P", "order.how")), gap=12)]


def form_rows(book: BookContext, path: StructurePath) -> list[Unit]:
    """Return the form's rows by pattern, weight and hook."""
    listed = (*path, Element("L", "order.list"))
    units: list[Unit] = []
    for entry in book.entries:
        for number, group in enumerate(entry.groups):
            packs = {f", pack of {product.pattern.pack}" for product in group.products}
            shared = packs.pop() if len(packs) == 1 else ""
            again = _heading(book, entry, group, path, number, f"{shared}, continued")
            rows = [
                OrderRow(book, product, listed, head=again,
                         pack="" if shared else f", pack of {product.pattern.pack}")
                for product in group.products
            ]  # fmt: skip
            keep_rows_company(rows)
            units += [_heading(book, entry, group, path, number, shared), *rows]
    return units


def _heading(
    book: BookContext, entry: PatternEntry, group: SizeGroup, path: StructurePath, number: int,
    more: str,
) -> Paragraph:  # fmt: skip
    words = book.setter.words(
        "book-caption", entry.pattern.name,
        ("book-cell", f"  ·  {weight_and_hook(group.weight, group.hook_size)}{more}"),
        place=Place(piece=entry.pattern.name, block="order form"), scale=0.92, least=5.0,
    )  # fmt: skip
    element = Element("P", f"order.{entry.anchor}.{number}{more}")
    return Paragraph(words, (*path, element), gap=9, keep=True, rule_below=2.4)


@dataclass(slots=True)
class FormLine(Unit):
    """Some labelled lines to write on, side by side."""

    book: BookContext
    heads: Sequence[FormHead]
    path: StructurePath
    gap: float = field(default=7.0, kw_only=True)
    keep: bool = field(default=True, kw_only=True)

    def height(self, width: float) -> float:
        """Return the height of a label and a line."""
        return 27.0

    def draw(self, canvas: Canvas, box: Box) -> None:
        """Draw labels, lines and fields."""
        setter = self.book.setter
        for head, cell in zip(self.heads, across(box, len(self.heads), 14.0), strict=True):
            left, top, right, bottom = cell
            words = setter.words("field", head.label, place=_PLACE)
            key = f"order.{head.name}"
            label_path = (*self.path, Element("P", f"{key}.label"))
            canvas.write(words, (left, top, right, top + 9), label_path)
            frame = (left, top + 9, right, bottom)
            canvas.rule(left, right, bottom)
            path = (*self.path, Element("Form", key))
            if self.book.edition.live:
                name, label, value, fixed = head
                canvas.fields.append(Field(name, frame, label, path, value, fixed=fixed, most=120))
            elif head.value:
                words = setter.words("book-cell", head.value, place=_PLACE)
                canvas.write(words, frame, path, valign="middle")


@dataclass(slots=True)
class OrderRow(Unit):
    """One SKU: what it is, what it costs, and the box for how many packs."""

    book: BookContext
    product: Product
    path: StructurePath
    pack: str = ""
    """What the row says of how many a pack holds; empty where its heading says it for all."""

    def _words(self) -> tuple[Words, Words]:
        """Return what the product is, and what it costs."""
        product, edition, setter = self.product, self.book.edition, self.book.setter
        words = setter.words(
            "book-cell", ("book-code", product.sku), f"  {product.colour.name}{self.pack}",
            place=Place(piece=product.sku, block="order form, item"), scale=0.9, least=4.8,
        )  # fmt: skip
        prices = [edition.price(product, tier) for tier in edition.tiers]
        said = " / ".join(amount_text(p, edition.currency) for p in prices if p is not None)
        said = "on request" if None in prices else said
        place = Place(piece=product.sku, block="order form, price")
        return words, setter.words("book-sum", said, place=place, scale=0.9)

    def height(self, width: float) -> float:
        """Return the height of its lines, and room for a finger."""
        words, price = self._words()
        return max(_HIGH, words.height(width - _BOX - (price.width() + 0.1) - 12) + 4.6)

    def draw(self, canvas: Canvas, box: Box) -> None:
        """Draw words, price and box."""
        left, top, right, bottom = box
        words, price = self._words()
        sku = self.product.sku
        item = (*self.path, Element("LI", f"order.{sku}"))
        body = (*item, Element("LBody", f"order.{sku}.price"))
        edge = right - _BOX - 6
        price_left = edge - (price.width() + 0.1)
        label = (*item, Element("Lbl", f"order.{sku}.words"))
        canvas.write(words, (left, top + 2.6, price_left - 6, bottom), label)
        canvas.write(price, (price_left - 1, top + 2.6, edge, bottom), body, align="right")
        claim = Claim("order", self.product.pattern.code, (sku,), box)
        canvas.claim(claim, ("order", sku))
        frame = (right - _BOX, top + 1.2, right, top + _HIGH - 0.4)
        canvas.decorate(rectangle(frame, stroke="#000000", width=HAIR))
        canvas.take(frame, "order form, box")
        if self.book.edition.live:
            says = f"Packs of {sku}, {self.product.name}"
            path = (*body, Element("Form", f"order.{sku}.field"))
            canvas.fields.append(
                Field(field_name(sku), frame, says, path, align="right", most=_MOST_DIGITS)
            )


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
