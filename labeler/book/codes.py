"""Every product's QR code, to be scanned from the counter: the same links as on the labels."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache

from labeler.book.canvas import Canvas
from labeler.book.entries import Entry
from labeler.book.flow import Unit
from labeler.book.setter import Setter
from labeler.book.units import Paragraph
from labeler.catalog.model import Product
from labeler.codes.product_link import product_link
from labeler.codes.qr import qr, side_of
from labeler.findings import Place
from labeler.layout.marks import Box, Code
from labeler.press.leaf import Claim, Element
from labeler.units import Length

_MODULE = Length.from_mm(0.36).pt
"""As on labels: at least 0.33 mm, a house choice; common practice, no published source."""

_TEXT_LEAST = 92.0
_GUTTER = 10.0


def link_of(product: Product) -> str:
    """Return the address that the product's labels carry; empty where the maker has none."""
    if not product.maker.links:
        return ""
    return product_link(product.maker.links, product.gtin, product.sku)


@lru_cache(maxsize=8192)
def modules(address: str) -> int:
    """Return how many modules wide an address's code is, quiet zone included."""
    return side_of(address)


@dataclass(slots=True)
class CodeRow:
    """Some products' codes side by side, each with its SKU and what it is."""

    setter: Setter
    products: Sequence[Product]
    columns: int
    path: tuple[Element, ...]
    gap: float = 6.0
    keep: bool = False
    head: Unit | None = None

    def height(self, width: float) -> float:
        """Return the height of the largest code."""
        return max(modules(link_of(product)) for product in self.products) * _MODULE

    def draw(self, canvas: Canvas, box: Box) -> None:
        """Draw each code with its words."""
        cell = (box[2] - box[0] - _GUTTER * (self.columns - 1)) / self.columns
        for place, product in enumerate(self.products):
            left = box[0] + place * (cell + _GUTTER)
            self._draw_one(canvas, product, (left, box[1], left + cell, box[3]))

    def _draw_one(self, canvas: Canvas, product: Product, box: Box) -> None:
        address = link_of(product)
        symbol = qr(address)
        side = symbol.columns * _MODULE
        code = Code(symbol.kind, symbol.payload, box[0], box[1], side, side, box[0], box[1],
                    _MODULE, symbol.bars)  # fmt: skip
        key = f"code.{product.sku}"
        item = (*self.path, Element("LI", key), Element("LBody", f"{key}.words"))
        says = f"QR code of {product.sku}, {address}"
        canvas.put([code], (*item, Element("Figure", f"{key}.code", says=says)))
        canvas.take((box[0], box[1], box[0] + side, box[1] + side), "QR code")
        claim = Claim("code", product.pattern.code, (product.sku,), box)
        canvas.claim(claim, key)
        place = Place(piece=product.sku, block="codes")
        weight = product.weight.oz_text if product.weight.unit == "oz" else product.weight.g_text
        words = self.setter.words(
            "book-code", product.sku, ("book-cell", f"\n{product.colour.name}\n{weight}, "
            f"hook {product.hook_size}"), place=place, scale=0.88, least=4.5,
        )  # fmt: skip
        inner = (box[0] + side + 1, box[1], box[2], box[3])
        marks, ink = words.glyphs(inner, valign="middle")
        link = Element("Link", f"{key}.link")
        canvas.put(marks, (*item, link), address, (box[0], box[1], ink[2], box[3]))
        canvas.take(ink, "codes")


def code_units(
    setter: Setter, entries: Sequence[Entry], path: tuple[Element, ...], width: float
) -> list[Unit]:
    """Return the codes by pattern, as many side by side as there is room for."""
    units: list[Unit] = []
    for entry in entries:
        widest = max(modules(link_of(product)) for product in entry.products) * _MODULE
        columns = max(1, int((width + _GUTTER) / (widest + _TEXT_LEAST + _GUTTER)))
        units.append(_heading(setter, entry, (*path, Element("H2", f"codes.{entry.anchor}"))))
        codes = (*path, Element("L", f"codes.{entry.anchor}.list"))
        for first in range(0, len(entry.products), columns):
            shown = entry.products[first : first + columns]
            again = Element("P", f"codes.{entry.anchor}.{first}")
            head = _heading(setter, entry, (*path, again), ", continued")
            units.append(CodeRow(setter, shown, columns, codes, head=head))
    return units


def _heading(setter: Setter, entry: Entry, path: tuple[Element, ...], more: str = "") -> Paragraph:
    place = Place(piece=entry.pattern.name, block="codes")
    name = f"{entry.pattern.name}{more}"
    words = setter.words("book-heading", name, place=place, scale=0.72, least=6.5)
    return Paragraph(words, path, gap=14, keep=True, rule_below=4)
