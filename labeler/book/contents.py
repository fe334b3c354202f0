"""The table of contents and the colour index: lines that end in the number of a page."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import lru_cache

from labeler.book.cover import draw_swatch
from labeler.book.edition import Edition, PatternEntry, by_colour
from labeler.book.flow import Paragraph, Unit
from labeler.book.typesetting import GREY, Canvas, Typesetter, Words
from labeler.catalog.model import Product
from labeler.codes.product_link import product_link
from labeler.codes.qr import qr, side_of
from labeler.findings import Place
from labeler.geometry import Box
from labeler.marks import Code, VectorPath
from labeler.press.leaf import Claim, Element
from labeler.units import NO_BREAK_SPACE, Length

PageOf = Callable[[str], int]
"""Tells on which page an anchor lies; it is asked only once all pages are laid out."""

_NUMBER = 30.0


@dataclass(slots=True)
class ContentsLine:
    """A name, perhaps with a word beside it, and its page at the right; all of it is a link."""

    setter: Typesetter
    words: Words
    anchor: str
    page_of: PageOf
    path: tuple[Element, ...]
    gap: float = 6.5
    keep: bool = False
    head: Unit | None = None

    def height(self, width: float) -> float:
        """Return the height of the name's lines."""
        return self.words.height(width - _NUMBER) + 3

    def draw(self, canvas: Canvas, box: Box) -> None:
        """Draw name, dotted rule and number."""
        key = f"{self.path[-1].key}.{self.anchor}"
        item = (*self.path, Element("TOCI", key), Element("Link", f"{key}.link"))
        target = f"#{self.anchor}"
        marks, ink = self.words.glyphs((box[0], box[1], box[2] - _NUMBER, box[3]))
        whole = (box[0], box[1], box[2], box[3])
        canvas.put(marks, item, target, whole)
        canvas.take(ink, "contents")
        number = self.setter.words("book-folio", str(self.page_of(self.anchor)), scale=1.15)
        setting = self.words.fit(box[2] - box[0] - _NUMBER)
        last = box[1] + setting.first_baseline
        last += (len(setting.lines) - 1) * self.words.text.leading * setting.size
        down = last - number.fit(_NUMBER).first_baseline
        marks, ink = number.glyphs((box[2] - _NUMBER, down, box[2], down + 14), "right")
        canvas.put(marks, item)
        canvas.take(ink, "page number")
        line = self.words.text.natural_width(setting.size)
        if len(setting.lines) == 1 and line + 12 < ink[0] - box[0]:
            begin, end = box[0] + line + 6, ink[0] - 5
            dots = VectorPath(
                (("M", begin, last - 0.4), ("L", end, last - 0.4)),
                stroke=GREY, width=0.4, dash=(0.4, 2.6),
            )  # fmt: skip
            canvas.decorate(dots)


def contents_units(
    setter: Typesetter, entries: Sequence[PatternEntry], rest: Sequence[tuple[str, str]],
    page_of: PageOf,
    path: tuple[Element, ...],
) -> list[Unit]:  # fmt: skip
    """Return a line for each pattern, then one for each of ``rest``: titles and anchors."""
    toc = (*path, Element("TOC", f"{path[-1].key}.toc"))
    units: list[Unit] = []
    for entry in entries:
        place = Place(piece=entry.pattern.name, block="contents")
        words = setter.words(
            "book-heading", entry.pattern.name,
            ("book-cell", f"{NO_BREAK_SPACE * 3}{entry.pattern.kind}"),
            place=place, scale=0.82, least=7.0, lines=4,
        )  # fmt: skip
        units.append(ContentsLine(setter, words, entry.anchor, page_of, toc))
    for number, (title, anchor) in enumerate(rest):
        words = setter.words("book-caption", title, scale=1.08)
        units.append(
            ContentsLine(setter, words, anchor, page_of, toc, gap=16 if number == 0 else 6.5)
        )
    return units


@dataclass(slots=True)
class IndexLine:
    """A colour: its bar, its name, and in which patterns it comes, each a link with its page."""

    setter: Typesetter
    edition: Edition
    product: Product
    found: Sequence[tuple[PatternEntry, Product]]
    page_of: PageOf
    path: tuple[Element, ...]
    gap: float = 0.0
    keep: bool = False
    head: Unit | None = None

    def _share(self, width: float) -> tuple[float, float]:
        bar = width * 0.15
        return bar, width * 0.30

    def _name(self) -> Words:
        place = Place(piece=self.product.sku, block="color index")
        return self.setter.words("book-caption", self.product.colour.name, place=place)

    def _places(self) -> list[Words]:
        return [
            self.setter.words("book-cell", f"{entry.pattern.name} ",
                              ("book-folio", f" {self.page_of(entry.anchor)}"),
                              place=Place(piece=entry.pattern.name, block="color index"), lines=4)
            for entry, _ in self.found
        ]  # fmt: skip

    def _rows(self, width: float) -> list[float]:
        bar, name = self._share(width)
        # The number of the page is not known yet when the height is asked for: four digits serve.
        room = width - bar - name - 20
        return [
            self.setter.words("book-cell", f"{entry.pattern.name} ", ("book-folio", " 8888"),
                              place=Place(piece=entry.pattern.name, block="color index"), lines=4)
            .height(room) + 2.5
            for entry, _ in self.found
        ]  # fmt: skip

    def height(self, width: float) -> float:
        """Return the height of the names, or of the patterns' lines."""
        name = self._name().height(self._share(width)[1])
        return max(name, sum(self._rows(width))) + 6

    def draw(self, canvas: Canvas, box: Box) -> None:
        """Draw bar, name and patterns."""
        bar, wide = self._share(box[2] - box[0])
        y = box[1] + 3
        draw_swatch(canvas, self.edition, self.product, (box[0], y + 2, box[0] + bar, y + 8))
        key = f"{self.path[-1].key}.{self.product.colour.code}.{self.product.sku}"
        item = (*self.path, Element("LI", key))
        left = box[0] + bar + 10
        marks, ink = self._name().glyphs((left, y, left + wide, box[3]))
        canvas.put(marks, (*item, Element("Lbl", f"{key}.name")))
        canvas.take(ink, "color index, name")
        left += wide + 10
        pairs = zip(self._places(), self.found, self._rows(box[2] - box[0]), strict=True)
        for words, (entry, _), high in pairs:
            marks, ink = words.glyphs((left, y, box[2], y + high))
            body = (*item, Element("LBody", f"{key}.in"), Element("Link", f"{key}.{entry.anchor}"))
            canvas.put(marks, body, f"#{entry.anchor}", ink)
            canvas.take(ink, "color index, pattern")
            y += high
        canvas.rule(box[0], box[2], box[3], 0.2)


def index_units(
    setter: Typesetter, edition: Edition, entries: Sequence[PatternEntry], page_of: PageOf,
    path: tuple[Element, ...],
) -> list[Unit]:  # fmt: skip
    """Return the colour index's lines, by name."""
    lists = (*path, Element("L", f"{path[-1].key}.list"))
    return [
        IndexLine(setter, edition, found[0][1], found, page_of, lists)
        for _, found in by_colour(entries)
    ]


# ----------------------------------------------------------------------------
# Every product's QR code, to be scanned from the counter: the same links as on the labels.

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

    setter: Typesetter
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
    setter: Typesetter, entries: Sequence[PatternEntry], path: tuple[Element, ...], width: float
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


def _heading(
    setter: Typesetter, entry: PatternEntry, path: tuple[Element, ...], more: str = ""
) -> Paragraph:
    place = Place(piece=entry.pattern.name, block="codes")
    name = f"{entry.pattern.name}{more}"
    words = setter.words("book-heading", name, place=place, scale=0.72, least=6.5)
    return Paragraph(words, path, gap=14, keep=True, rule_below=4)
