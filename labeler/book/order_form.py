"""The order form: a field for each SKU, down the column; no script, no sums."""

from __future__ import annotations

import io
import re
import zipfile
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Any, BinaryIO

from openpyxl import Workbook
from openpyxl.styles import Alignment, Border, Font, PatternFill, Protection, Side
from openpyxl.worksheet.datavalidation import DataValidation

from labeler.book.cover import dates_of, title_of
from labeler.book.edition import Edition, PatternEntry, SizeGroup
from labeler.book.flow import Paragraph, Stack, Unit
from labeler.book.typesetting import HAIR, Canvas, Typesetter, Words
from labeler.catalog.model import Dealer, Product
from labeler.findings import Place
from labeler.geometry import Box
from labeler.layout.facts import amount_text
from labeler.marks import rectangle
from labeler.press.leaf import Claim, Element, Field

_BOX = 34.0
_HIGH = 13.0

QUANTITY = "qty "
"""What the name of a quantity's field begins with. The SKU follows, its full stops as
underscores: a full stop in a field's name parts it (ISO 32000-1:2008, 12.7.3.2), and no SKU has
an underscore."""

MOST_DIGITS = 6


def field_name(sku: str) -> str:
    """Return the name of the field for a SKU's quantity."""
    return QUANTITY + sku.replace(".", "_")


def sku_of_field(name: str) -> str:
    """Return the SKU whose quantity stands in the field called ``name``; empty if in none."""
    return name.removeprefix(QUANTITY).replace("_", ".") if name.startswith(QUANTITY) else ""


_HEADS = {
    "dealer": "Dealer",
    "tier": "Price tier",
    "address": "Ship to",
    "contact": "Telephone or e-mail",
    "order": "Your order number",
    "day": "Date",
    "notes": "Notes",
}


def heads_of_form() -> dict[str, str]:
    """Return the names of the form's first fields, each with its label."""
    return dict(_HEADS)


def heads_of(edition: Edition) -> list[tuple[str, str, str, bool]]:
    """Return the form's first fields: name, label, what stands there, and whether it is fixed."""
    dealer = edition.dealer
    tiers = " / ".join(tier.name for tier in edition.tiers)
    known = {"tier": tiers}
    if dealer:
        known |= {"dealer": dealer.name, "address": _address(dealer)}
        known["contact"] = dealer.phone or dealer.email or ""
    return [(name, label, known.get(name, ""), name == "tier") for name, label in _HEADS.items()]


def _address(dealer: Dealer) -> str:
    town = " ".join(part for part in (dealer.state, dealer.postcode) if part)
    return ", ".join(part for part in (dealer.street, dealer.city, town) if part)


@dataclass(slots=True)
class FormLine:
    """Some labelled lines to write on, side by side."""

    setter: Typesetter
    fields: Sequence[tuple[str, str, str, bool]]
    live: bool
    path: tuple[Element, ...]
    gap: float = 7.0
    keep: bool = True
    head: Unit | None = None

    def height(self, width: float) -> float:
        """Return the height of a label and a line."""
        return 27.0

    def draw(self, canvas: Canvas, box: Box) -> None:
        """Draw labels, lines and fields."""
        gutter = 14.0
        wide = (box[2] - box[0] - gutter * (len(self.fields) - 1)) / len(self.fields)
        for place, (name, label, value, fixed) in enumerate(self.fields):
            left = box[0] + place * (wide + gutter)
            words = self.setter.words("field", label, place=Place(block="order form"))
            marks, ink = words.glyphs((left, box[1], left + wide, box[1] + 9))
            element = Element("Form", f"order.{name}")
            canvas.put(marks, (*self.path, Element("P", f"order.{name}.label")))
            canvas.take(ink, "order form")
            frame = (left, box[1] + 9, left + wide, box[3])
            canvas.rule(left, left + wide, box[3])
            if self.live:
                canvas.fields.append(
                    Field(name, frame, label, (*self.path, element), value, fixed=fixed, most=120)
                )
            elif value:
                shown = self.setter.words("book-cell", value, place=Place(block="order form"))
                marks, ink = shown.glyphs(frame, valign="middle")
                canvas.put(marks, (*self.path, element))


@dataclass(slots=True)
class OrderRow:
    """One SKU: what it is, what it costs, and the box for how many packs."""

    setter: Typesetter
    edition: Edition
    product: Product
    path: tuple[Element, ...]
    gap: float = 0.0
    keep: bool = False
    head: Unit | None = None
    pack: str = ""
    """What the row says of how many a pack holds; empty where its heading says it for all."""

    def _words(self) -> Words:
        product = self.product
        place = Place(piece=product.sku, block="order form")
        return self.setter.words(
            "book-cell", ("book-code", product.sku), f"  {product.colour.name}{self.pack}",
            place=place, scale=0.9, least=4.8,
        )  # fmt: skip

    def _prices(self) -> str:
        prices = [self.edition.price(self.product, tier) for tier in self.edition.tiers]
        if any(price is None for price in prices):
            return "on request"
        return " / ".join(
            amount_text(price, self.edition.currency) for price in prices if price is not None
        )

    def _shares(self, width: float) -> tuple[float, float]:
        price = self.setter.words("book-sum", self._prices(), scale=0.9).width() + 0.1
        return width - _BOX - price - 12, price

    def height(self, width: float) -> float:
        """Return the height of its lines, and room for a finger."""
        return max(_HIGH, self._words().height(self._shares(width)[0]) + 4.6)

    def draw(self, canvas: Canvas, box: Box) -> None:
        """Draw words, price and box."""
        left, price = self._shares(box[2] - box[0])
        sku = self.product.sku
        item = (*self.path, Element("LI", f"order.{sku}"))
        words = self._words()
        marks, ink = words.glyphs((box[0], box[1] + 2.6, box[0] + left, box[3]))
        canvas.put(marks, (*item, Element("Lbl", f"order.{sku}.words")))
        canvas.take(ink, "order form, item")
        said = self.setter.words("book-sum", self._prices(), scale=0.9)
        right = box[2] - _BOX - 6
        marks, ink = said.glyphs((right - price - 1, box[1] + 2.6, right, box[3]), "right")
        body = (*item, Element("LBody", f"order.{sku}.price"))
        canvas.put(marks, body)
        canvas.take(ink, "order form, price")
        claim = Claim("order", self.product.pattern.code, (sku,), box)
        canvas.claim(claim, ("order", sku))
        frame = (box[2] - _BOX, box[1] + 1.2, box[2], box[1] + _HIGH - 0.4)
        canvas.decorate(rectangle(frame, stroke="#000000", width=HAIR))
        canvas.take(frame, "order form, box")
        if self.edition.live:
            says = f"Packs of {sku}, {self.product.name}"
            path = (*body, Element("Form", f"order.{sku}.field"))
            canvas.fields.append(
                Field(field_name(sku), frame, says, path, align="right", most=MOST_DIGITS)
            )


def order_heads(
    setter: Typesetter, edition: Edition, path: tuple[Element, ...], small: bool
) -> list[Unit]:
    """Return the part of the form above its columns: who orders, and how it is filled in."""
    fields = heads_of(edition)
    per_line = 1 if small else 2
    lines = [fields[first : first + per_line] for first in range(0, len(fields), per_line)]
    units: list[Unit] = [FormLine(setter, line, edition.live, path) for line in lines]
    maker = edition.catalog.file.maker
    back = maker.email or maker.phone or maker.name
    text = f"How many packs of each? Leave the others empty, and send the form back to {back}."
    words = setter.words("book-text", text, place=Place(block="order form"))
    units.append(Paragraph(words, (*path, Element("P", "order.how")), gap=12))
    return units


def order_units(
    setter: Typesetter, edition: Edition, entries: Sequence[PatternEntry], path: tuple[Element, ...]
) -> Iterator[Unit]:
    """Yield the form's rows by pattern, weight and hook."""
    lists = (*path, Element("L", "order.list"))
    for entry in entries:
        for number, group in enumerate(entry.groups):
            head = _heading(setter, entry, group, path, number, "")
            again = _heading(setter, entry, group, path, number, ", continued")
            shared = _shared_pack(group)
            rows = [
                OrderRow(setter, edition, product, lists, pack="" if shared else _pack(product))
                for product in group.products
            ]
            for row in rows:
                row.head = Stack([again])
            if len(rows) > 1:
                rows[0].keep = rows[-2].keep = True
            yield head
            yield from rows


def _pack(product: Product) -> str:
    return f", pack of {product.pattern.pack}"


def _shared_pack(group: SizeGroup) -> str:
    """Return what a heading says of the pack; nothing where it is not the same for all."""
    packs = {_pack(product) for product in group.products}
    return packs.pop() if len(packs) == 1 else ""


def _heading(
    setter: Typesetter,
    entry: PatternEntry,
    group: SizeGroup,
    path: tuple[Element, ...],
    number: int,
    more: str,
) -> Paragraph:
    weight = group.weight.oz_text if group.weight.unit == "oz" else group.weight.g_text
    pack = _shared_pack(group)
    words = setter.words(
        "book-caption", entry.pattern.name,
        ("book-cell", f"  ·  {weight}, hook {group.hook_size}{pack}{more}"),
        place=Place(piece=entry.pattern.name, block="order form"), scale=0.92, least=5.0,
    )  # fmt: skip
    element = Element("P", f"order.{entry.anchor}.{number}{more}")
    return Paragraph(words, (*path, element), gap=9, keep=True, rule_below=2.4)


# ----------------------------------------------------------------------------
# The order form as a spreadsheet: a row for each SKU, one column to fill in, no formula.

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
