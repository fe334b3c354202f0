"""The price list by itself: a row for each weight of a pattern, as short as it can be said.

Colours of one weight that cost the same share a row. What a price list must say stands with each
pattern here too, and the quantity beside each price.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import Literal

from labeler.book.edition import (
    PatternEntry,
    SizeGroup,
    contact_ways,
    dates_of,
    keystone,
)
from labeler.book.tables import (
    About,
    BodyRow,
    BookTable,
    Cell,
    HeadRow,
    SpanRow,
    TableColumn,
    in_largest_type,
    keep_rows_company,
    said_of,
    statement_rows,
)
from labeler.book.typesetting import (
    BookContext,
    Canvas,
    Paragraph,
    Stack,
    StructurePath,
    Unit,
    Words,
)
from labeler.catalog.model import Product
from labeler.findings import Place
from labeler.geometry import Box
from labeler.layout.facts import amount_text
from labeler.marks import Claim, Element
from labeler.units import NO_BREAK_SPACE

_SCALES = (0.94, 0.88, 0.82, 0.76, 0.7)


def price_units(book: BookContext, path: StructurePath) -> list[Unit]:
    """Return whose list it is, the rows, and what holds for all of them.

    Raises:
        LabelerError: if a row is too wide even in the smallest type.
    """
    edition = book.edition
    maker, least = edition.catalog.file.maker, edition.catalog.file.terms.minimum
    dealer = f" For {edition.dealer.name}." if edition.dealer else ""
    said = f"{maker.name}.{dealer} {dates_of(edition)}. All in {edition.currency}."
    if edition.for_dealers and least is not None:
        said += f" Least order {amount_text(least, edition.currency)} at dealer prices."
    units: list[Unit] = [_words(book, path, "book-text", said, "said", 8)]
    units += in_largest_type(book, _SCALES, lambda scale: _PriceTable(book, path, scale))
    excise = " ".join(dict.fromkeys(filter(None, map(book.statements.excise, edition.products))))
    if excise:
        units.append(_words(book, path, "note", excise, "excise", 6))
    units.append(ContactLine(book, path, gap=8))
    return units


def _words(
    book: BookContext, path: StructurePath, style: str, text: str, key: str, gap: float
) -> Paragraph:
    words = book.setter.words(style, text, place=Place(block="price list"))
    return Paragraph(words, (*path, Element("P", f"prices.{key}")), gap=gap)


@dataclass(slots=True)
class ContactLine(Unit):
    """The ways to reach the maker, live, side by side as far as they have room."""

    book: BookContext
    path: StructurePath

    def _placed(self, width: float) -> Iterator[tuple[float, float, Words, str]]:
        """Yield where each way begins, from the left and from the top, its words and its link."""
        x = y = 0.0
        for text, link in contact_ways(self.book.edition.catalog.file.maker):
            place = Place(block="price list, contact")
            words = self.book.setter.words("book-cell", text, place=place)
            wide = words.width() + 0.5
            if x and x + wide > width:
                x, y = 0.0, y + _CONTACT_LINE
            yield x, y, words, link
            x += wide + 16

    def height(self, width: float) -> float:
        """Return the height of its lines."""
        *_, (_, y, words, _) = self._placed(width)
        return y + words.height(width)

    def draw(self, canvas: Canvas, box: Box) -> None:
        """Draw each way with its link."""
        for number, (x, y, words, link) in enumerate(self._placed(box[2] - box[0])):
            path = (*self.path, Element("P", f"prices.contact.{number}"))
            inner = (box[0] + x, box[1] + y, box[2], box[3] + 1)
            canvas.write(words, inner, path, link=link)


_CONTACT_LINE = 11.0


class _PriceTable:
    """All rows at one size of type."""

    def __init__(self, book: BookContext, path: StructurePath, scale: float) -> None:
        self.book, self.edition, self.scale = book, book.edition, scale
        twice = ["Keystone"] if self.edition.keystone else []
        figures = [head for tier in self.edition.tiers for head in (f"{tier.name} price", *twice)]
        figures.append("Suggested retail" if self.edition.for_dealers else "Price")
        columns = [
            TableColumn(self._words("field", "Weight")),
            TableColumn(self._words("field", "Hook")),
            TableColumn(self._words("field", "SKU"), spare=1.0, least=150.0),
            *(TableColumn(self._words("field", head), "right") for head in figures),
            TableColumn(self._words("field", "Quantity")),
        ]
        self.table = BookTable(columns, (*path, Element("Table", "prices.table")))

    def _words(self, style: str, *parts: str | tuple[str, str], sku: str = "") -> Words:
        place = Place(piece=sku, block="price list")
        return self.book.setter.words(style, *parts, place=place, scale=self.scale, least=4.5)

    def units(self) -> list[Unit]:
        """Return the head, and for each pattern its name, its rows and what must be said."""
        head = HeadRow(self.table, _about("heads", "", ()), gap=10)
        units: list[Unit] = [head]
        for entry in self.book.entries:
            skus = tuple(product.sku for product in entry.products)
            about = _about("list", entry.pattern.code, skus)
            top = self._heading(entry, "", about)
            top.gap = 5.0
            top.head = head
            again = Stack([head, self._heading(entry, ", continued", about)])
            rows: list[Unit] = [
                self._row(entry, group, products, again)
                for group in entry.groups
                for products in self._alike(group)
            ]
            keep_rows_company(rows)
            units += [top, *rows]
            said = statement_rows(self.book, self.table, entry.products, entry.anchor, about)
            if said:
                rows[-1].keep, said[-1].keep = True, False
            units += said
        return units

    def _heading(self, entry: PatternEntry, more: str, about: About) -> SpanRow:
        pattern = entry.pattern
        words = self._words(
            "book-caption", f"{pattern.name}{NO_BREAK_SPACE * 2}",
            ("book-code", pattern.code), ("book-cell", f"{NO_BREAK_SPACE * 2}{pattern.kind}{more}"),
            sku=pattern.name,
        )  # fmt: skip
        return SpanRow(self.table, words, f"{entry.anchor}{more}", about=about)

    def _alike(self, group: SizeGroup) -> list[list[Product]]:
        """Return the products of a weight by what they cost and how many are in a pack."""
        found: dict[tuple[Decimal | None, str], list[Product]] = {}
        for product in group.products:
            key = product.price, self.book.statements.quantity(product)
            found.setdefault(key, []).append(product)
        return list(found.values())

    def _prices(self, product: Product) -> Iterator[Decimal | None]:
        """Yield what stands in a row: of each tier its price and twice it, then the retail one."""
        for tier in self.edition.tiers:
            price = self.edition.price(product, tier)
            yield price
            if self.edition.keystone:
                yield None if price is None else keystone(price)
        yield product.price

    def _row(
        self, entry: PatternEntry, group: SizeGroup, products: Sequence[Product], again: Stack
    ) -> BodyRow:
        first = products[0]
        skus = tuple(product.sku for product in products)
        stated, other, hook = said_of(group)
        weight = self._words("book-figure", stated, ("book-cell", f" {other}"), sku=first.sku)
        cells = [
            Cell(weight),
            Cell(self._words("book-cell", hook, sku=first.sku)),
            Cell(self._words("book-code", ", ".join(skus), sku=first.sku)),
        ]
        for price in self._prices(first):
            said = "on request" if price is None else amount_text(price, self.edition.currency)
            cells.append(Cell(self._words("book-figure", said, sku=first.sku)))
        quantity = self.book.statements.quantity(first)
        cells.append(Cell(self._words("book-cell", quantity, sku=first.sku)))
        everything = tuple(product.sku for product in entry.products)
        whole = _about("list", entry.pattern.code, everything)
        own = _about("priced", entry.pattern.code, skus)

        def about(canvas: Canvas, box: Box) -> None:
            whole(canvas, box)
            own(canvas, box)

        return BodyRow(self.table, cells, first.sku, about, head=again)


def _about(kind: Literal["heads", "list", "priced"], code: str, skus: tuple[str, ...]) -> About:
    def tell(canvas: Canvas, box: Box) -> None:
        key = (kind, code, skus)
        canvas.claim(Claim(kind, code, () if key in canvas.claimed else skus, box), key)

    return tell
