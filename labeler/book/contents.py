"""The table of contents, the colour index, and every product's code to be scanned from the counter.

Their lines end in the number of a page, or lead to the same address as the labels.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from functools import lru_cache

from labeler.book.context import BookContext
from labeler.book.edition import PatternEntry, by_colour, link_of, weight_text
from labeler.book.figures import draw_swatch
from labeler.book.flow import Paragraph, Unit
from labeler.book.typesetting import GREY, Canvas, StructurePath, Words, across
from labeler.catalog.model import Product
from labeler.codes.qr import qr_side, qr_symbol
from labeler.findings import Place
from labeler.geometry import Box
from labeler.marks import Claim, Code, Element
from labeler.units import NO_BREAK_SPACE, Length

_NUMBER = 30.0
"""Points that a page's number takes at the right of a line."""


def contents_units(book: BookContext, path: StructurePath) -> list[Unit]:
    """Return a line for each pattern, then one for each section after them."""
    toc = (*path, Element("TOC", f"{path[-1].key}.toc"))
    units: list[Unit] = []
    for entry in book.entries:
        words = book.setter.words(
            "book-heading", entry.pattern.name,
            ("book-cell", f"{NO_BREAK_SPACE * 3}{entry.pattern.kind}"),
            place=Place(piece=entry.pattern.name, block="contents"), scale=0.82, least=7.0,
            lines=4,
        )  # fmt: skip
        units.append(ContentsLine(book, words, entry.anchor, toc))
    for number, (title, anchor) in enumerate(book.headings):
        words = book.setter.words("book-caption", title, scale=1.08)
        units.append(ContentsLine(book, words, anchor, toc, gap=6.5 if number else 16))
    return units


@dataclass(slots=True)
class ContentsLine(Unit):
    """A name, perhaps with a word beside it, and its page at the right; all of it is a link."""

    book: BookContext
    words: Words
    anchor: str
    path: StructurePath
    gap: float = field(default=6.5, kw_only=True)

    def height(self, width: float) -> float:
        """Return the height of the name's lines."""
        return self.words.height(width - _NUMBER) + 3

    def draw(self, canvas: Canvas, box: Box) -> None:
        """Draw name, number, and a dotted rule between them."""
        left, top, right, bottom = box
        key = f"{self.path[-1].key}.{self.anchor}"
        item = (*self.path, Element("TOCI", key), Element("Link", f"{key}.link"))
        edge = right - _NUMBER
        marks, ink = self.words.glyphs((left, top, edge, bottom))
        canvas.put(marks, item, f"#{self.anchor}", box)
        canvas.take(ink, "contents")
        page = str(self.book.starts.get(self.anchor, 0))
        place = Place(block="page number")
        number = self.book.setter.words("book-folio", page, place=place, scale=1.15)
        setting = self.words.fit(edge - left)
        last = top + setting.first_baseline
        last += (len(setting.lines) - 1) * self.words.text.leading * setting.size
        down = last - number.fit(_NUMBER).first_baseline
        ink = canvas.write(number, (edge, down, right, down + 14), item, align="right")
        begin, end = left + self.words.text.natural_width(setting.size) + 6, ink[0] - 5
        if len(setting.lines) == 1 and begin + 1 < end:
            canvas.rule(begin, end, last - 0.4, 0.4, GREY, (0.4, 2.6))


def index_units(book: BookContext, path: StructurePath) -> list[Unit]:
    """Return the colour index's lines, by name."""
    lists = (*path, Element("L", f"{path[-1].key}.list"))
    lines: list[Unit] = [
        IndexLine(book, product, entries, lists) for product, entries in by_colour(book.entries)
    ]
    lines[0].gap = 14
    return lines


@dataclass(slots=True)
class IndexLine(Unit):
    """A colour: its bar, its name, and in which patterns it comes, each a link with its page."""

    book: BookContext
    product: Product
    entries: Sequence[PatternEntry]
    path: StructurePath

    def _name(self) -> Words:
        place = Place(piece=self.product.sku, block="color index, name")
        return self.book.setter.words("book-caption", self.product.colour.name, place=place)

    def _pattern(self, entry: PatternEntry, page: str) -> Words:
        name, number = f"{entry.pattern.name} ", ("book-folio", f" {page}")
        place = Place(piece=entry.pattern.name, block="color index, pattern")
        return self.book.setter.words("book-cell", name, number, place=place, lines=4)

    def _heights(self, width: float) -> list[float]:
        # The number of the page is not known yet when the height is asked for: four digits serve.
        room = width - width * 0.15 - width * 0.30 - 20
        return [self._pattern(entry, "8888").height(room) + 2.5 for entry in self.entries]

    def height(self, width: float) -> float:
        """Return the height of the names, or of the patterns' lines."""
        return max(self._name().height(width * 0.30), sum(self._heights(width))) + 6

    def draw(self, canvas: Canvas, box: Box) -> None:
        """Draw bar, name and patterns."""
        width = box[2] - box[0]
        y = box[1] + 3
        bar = (box[0], y + 2, box[0] + width * 0.15, y + 8)
        draw_swatch(canvas, self.book.edition, self.product, bar)
        key = f"{self.path[-1].key}.{self.product.colour.code}.{self.product.sku}"
        item = (*self.path, Element("LI", key))
        left = bar[2] + 10
        right = left + width * 0.30
        label = (*item, Element("Lbl", f"{key}.name"))
        canvas.write(self._name(), (left, y, right, box[3]), label)
        body = (*item, Element("LBody", f"{key}.in"))
        for entry, high in zip(self.entries, self._heights(width), strict=True):
            words = self._pattern(entry, str(self.book.starts.get(entry.anchor, 0)))
            link = (*body, Element("Link", f"{key}.{entry.anchor}"))
            place = (right + 10, y, box[2], y + high)
            canvas.write(words, place, link, link=f"#{entry.anchor}")
            y += high
        canvas.rule(box[0], box[2], box[3], 0.2)


_MODULE = Length.from_mm(0.36).pt
"""As on labels: at least 0.33 mm, a house choice; common practice, no published source."""

_TEXT_LEAST = 92.0
_GUTTER = 10.0


def code_units(book: BookContext, path: StructurePath) -> list[Unit]:
    """Return the codes by pattern, as many side by side as there is room for."""
    units: list[Unit] = []
    for entry in book.entries:
        widest = max(map(_code_width, entry.products))
        room = book.frame.measure + _GUTTER
        columns = max(1, int(room / (widest + _TEXT_LEAST + _GUTTER)))
        key = f"codes.{entry.anchor}"
        units.append(_heading(book, entry, (*path, Element("H2", key))))
        codes = (*path, Element("L", f"{key}.list"))
        for first in range(0, len(entry.products), columns):
            again = (*path, Element("P", f"{key}.{first}"))
            head = _heading(book, entry, again, ", continued")
            row = entry.products[first : first + columns]
            units.append(CodeRow(book, row, columns, codes, gap=6, head=head))
    return units


def _heading(
    book: BookContext, entry: PatternEntry, path: StructurePath, more: str = ""
) -> Paragraph:
    place = Place(piece=entry.pattern.name, block="codes")
    name = f"{entry.pattern.name}{more}"
    words = book.setter.words("book-heading", name, place=place, scale=0.72, least=6.5)
    return Paragraph(words, path, gap=14, keep=True, rule_below=4)


def _code_width(product: Product) -> float:
    """Return how wide a product's code is in points, quiet zone included."""
    return _modules(link_of(product)) * _MODULE


@lru_cache(maxsize=8192)
def _modules(address: str) -> int:
    return qr_side(address)


@dataclass(slots=True)
class CodeRow(Unit):
    """Some products' codes side by side, each with its SKU and what it is."""

    book: BookContext
    products: Sequence[Product]
    columns: int
    path: StructurePath

    def height(self, width: float) -> float:
        """Return the height of the largest code."""
        return max(map(_code_width, self.products))

    def draw(self, canvas: Canvas, box: Box) -> None:
        """Draw each code with its words."""
        for product, cell in zip(self.products, across(box, self.columns, _GUTTER), strict=False):
            self._draw_one(canvas, product, cell)

    def _draw_one(self, canvas: Canvas, product: Product, box: Box) -> None:
        left, top, right, bottom = box
        address = link_of(product)
        symbol = qr_symbol(address)
        side = symbol.columns * _MODULE
        code = Code(symbol.kind, symbol.payload, left, top, side, side, left, top,
                    _MODULE, symbol.bars)  # fmt: skip
        key = f"code.{product.sku}"
        item = (*self.path, Element("LI", key), Element("LBody", f"{key}.words"))
        figure = Element("Figure", f"{key}.code", says=f"QR code of {product.sku}, {address}")
        canvas.put([code], (*item, figure))
        canvas.take((left, top, left + side, top + side), "QR code")
        canvas.claim(Claim("code", product.pattern.code, (product.sku,), box), key)
        words = self.book.setter.words(
            "book-code", product.sku, ("book-cell", f"\n{product.colour.name}\n"
            f"{weight_text(product.weight)}, hook {product.hook_size}"),
            place=Place(piece=product.sku, block="codes"), scale=0.88, least=4.5,
        )  # fmt: skip
        marks, ink = words.glyphs((left + side + 1, top, right, bottom), valign="middle")
        link = (*item, Element("Link", f"{key}.link"))
        canvas.put(marks, link, address, (left, top, ink[2], bottom))
        canvas.take(ink, "codes")
