"""The table of a pattern: by weight and hook, each colour's SKU, GTIN, packs and prices."""

from __future__ import annotations

from decimal import Decimal
from functools import partial
from typing import Literal

from labeler.book.context import BookContext
from labeler.book.edition import Edition, PatternEntry, SizeGroup, link_of
from labeler.book.figures import draw_swatch
from labeler.book.flow import Paragraph, Stack, Unit
from labeler.book.prices import keystone, margin, percent
from labeler.book.table import (
    About,
    BodyRow,
    BookTable,
    Cell,
    HeadRow,
    SpanRow,
    TableColumn,
    keep_rows_company,
)
from labeler.book.typesetting import Canvas, StructurePath, Words
from labeler.catalog.model import Product
from labeler.disclosures.statements import Statement
from labeler.findings import LabelerError, Place
from labeler.geometry import Box
from labeler.layout.facts import amount_text
from labeler.layout.text_blocks import warning_sign
from labeler.marks import Claim, Element
from labeler.units import NO_BREAK_SPACE

_SCALES = (1.0, 0.92, 0.84, 0.77, 0.7)
_STRIP = 34.0
_NONE = "–"
_SIGN = 7.0
_APART = NO_BREAK_SPACE * 3
"""Between the fields of a heading; plain spaces would be drawn as one."""


def table_units(book: BookContext, entry: PatternEntry, path: StructurePath) -> list[Unit]:
    """Return the rows of an entry's table, in the largest type in which it is narrow enough.

    Raises:
        LabelerError: if the table is too wide even in the smallest.
    """
    for scale in _SCALES:
        maker = _TableMaker(book, entry, path, scale)
        try:
            units = maker.units()
            maker.table.measure(book.frame.measure)
        except LabelerError:
            if scale == _SCALES[-1]:
                raise
        else:
            break
    return units


class _TableMaker:
    """One entry's table at one size of type."""

    def __init__(
        self, book: BookContext, entry: PatternEntry, path: StructurePath, scale: float
    ) -> None:
        self.book, self.edition, self.entry, self.scale = book, book.edition, entry, scale
        self.path = (*path, Element("Table", f"{path[-1].key}.prices"))
        self.cased = any(product.pattern.case for product in entry.products)
        self.table = BookTable(list(self._columns()), self.path)

    def _words(self, style: str, *parts: str | tuple[str, str], sku: str = "") -> Words:
        place = Place(piece=sku or self.entry.pattern.name, block="price table")
        return self.book.setter.words(style, *parts, place=place, scale=self.scale)

    def _columns(self) -> list[TableColumn]:
        figures = []
        if self.edition.for_dealers:
            figures += ["Case of"] if self.cased else []
            for tier in self.edition.tiers:
                figures += [f"{tier.name} price", "Keystone", "Margin"]
        figures.append("Suggested retail" if self.edition.for_dealers else "Price")
        return [
            TableColumn(self._words("field", "Color"), spare=1.0, least=64.0),
            *(TableColumn(self._words("field", head)) for head in ("SKU", "GTIN")),
            *(TableColumn(self._words("field", head), "right") for head in figures),
            TableColumn(self._words("field", "Quantity")),
        ]

    def units(self) -> list[Unit]:
        """Return the head, and for each group its heading, what must be said, and its rows."""
        head = HeadRow(self.table, self._about("heads", 0))
        units: list[Unit] = [head]
        for number, group in enumerate(self.entry.groups):
            top = self._heading(group, number)
            top[0].gap = 7.0 if number else 0.0
            top[0].head = head
            again = Stack([head, *self._heading(group, number, ", continued")])
            rows = [self._row(product, again, number) for product in group.products]
            keep_rows_company(rows)
            units += [*top, *rows]
        texts = dict.fromkeys(map(self.book.statements.excise, self.entry.products))
        excise = " ".join(filter(None, texts))
        if excise:
            units[-1].keep = True
            path = (*self.path[:-1], Element("P", f"{self.path[-1].key}.excise"))
            units.append(Paragraph(self._words("note", excise), path, gap=4))
        return units

    def _about(
        self, kind: Literal["heads", "entry"], number: int, skus: tuple[str, ...] = ()
    ) -> About:
        """Return what tells a page that a row is about a group, and about which product of it."""
        code = self.entry.pattern.code

        def tell(canvas: Canvas, box: Box) -> None:
            canvas.claim(Claim(kind, code, skus, box), (kind, code, number))

        return tell

    def _heading(self, group: SizeGroup, number: int, more: str = "") -> list[SpanRow]:
        """Return a group's heading, and under it the statements of its products."""
        stated, other = group.weight.oz_text, group.weight.g_text
        if group.weight.unit != "oz":
            stated, other = other, stated
        words = self._words(
            "book-weight", stated, ("book-cell", f"{_APART}{other}"),
            ("field", f"{_APART}Hook{NO_BREAK_SPACE}{group.hook_size}{more}"),
        )  # fmt: skip
        needing: dict[str, tuple[Statement, list[str]]] = {}
        for product in group.products:
            for statement in self.book.statements.beside(product):
                needing.setdefault(statement.text, (statement, []))[1].append(product.sku)
        about = self._about("entry", number)
        rows = [SpanRow(self.table, words, f"g{number}", about=about)]
        for place, (statement, skus) in enumerate(needing.values()):
            for_some = f"{', '.join(skus)}: " if len(skus) < len(group.products) else ""
            rows.append(self._statement(statement, for_some, f"g{number}.s{place}", about))
        return rows

    def _statement(self, statement: Statement, skus: str, key: str, about: About) -> SpanRow:
        full = statement.full
        least = max((size.points for size in full.least if size.measure == "font size"),
                    default=6.0)  # fmt: skip
        parts = [("signal", run.text) if run.bold else run.text for run in full.runs]
        place = Place(piece=self.entry.pattern.name, block=f"statement {statement.id}")
        words = self.book.setter.words(
            "disclosure", *([skus] if skus else []), *parts, place=place, least=max(6.0, least)
        )
        row = SpanRow(self.table, words, key, heading=False, about=about)
        if full.triangle:
            row.indent = _SIGN * 1.6
            row.paint = partial(_paint_sign, black=self.edition.ink == "black")
        return row

    def _row(self, product: Product, again: Stack, number: int) -> BodyRow:
        sku = product.sku
        swatch = partial(_paint_swatch, edition=self.edition, product=product)
        cells = [
            Cell(self._words("book-cell", product.colour.name, sku=sku), "", swatch,
                 _STRIP * self.scale),
            Cell(self._words("book-code", sku, sku=sku), link_of(product)),
            self._cell(product.gtin or _NONE),
        ]  # fmt: skip
        if self.edition.for_dealers:
            cells += self._dealer_cells(product)
        cells.append(self._cell(self._money(product.price), "book-figure"))
        cells.append(self._cell(self.book.statements.quantity(product)))
        return BodyRow(self.table, cells, sku, self._about("entry", number, (sku,)), head=again)

    def _cell(self, text: str, style: str = "book-cell") -> Cell:
        return Cell(self._words(style, text))

    def _money(self, amount: Decimal | None) -> str:
        return "on request" if amount is None else amount_text(amount, self.edition.currency)

    def _dealer_cells(self, product: Product) -> list[Cell]:
        cells = []
        if self.cased:
            cells.append(self._cell(str(product.pattern.case or _NONE), "book-sum"))
        for tier in self.edition.tiers:
            price = self.edition.price(product, tier)
            cells.append(self._cell(self._money(price), "book-figure"))
            if price is None or product.price is None:
                cells += [self._cell(_NONE), self._cell(_NONE)]
                continue
            cells.append(self._cell(self._money(keystone(price)), "book-sum"))
            cells.append(self._cell(percent(margin(price, product.price)), "book-sum"))
        return cells


def _paint_swatch(canvas: Canvas, box: Box, *, edition: Edition, product: Product) -> None:
    middle = (box[1] + box[3]) / 2
    draw_swatch(canvas, edition, product, (box[0], middle - 2.4, box[2] - 6, middle + 2.4))


def _paint_sign(canvas: Canvas, box: Box, baseline: float, *, black: bool) -> None:
    canvas.decorate(*warning_sign(box[0], baseline, _SIGN, black))
