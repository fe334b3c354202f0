"""The table of a pattern: by weight and hook, each colour's SKU, GTIN, packs and prices."""

from __future__ import annotations

from collections.abc import Sequence
from functools import partial
from typing import Literal

from labeler.book.cover import draw_swatch
from labeler.book.edition import (
    Edition,
    PatternEntry,
    Sayings,
    SizeGroup,
    keystone,
    margin,
    percent,
)
from labeler.book.flow import Paragraph, Stack, Unit
from labeler.book.table import About, BodyRow, Cell, HeadRow, SpanRow, Table, TableColumn, rows_kept
from labeler.book.typesetting import Canvas, Typesetter, Words
from labeler.catalog.model import Product
from labeler.codes.product_link import product_link
from labeler.disclosures.statements import Statement
from labeler.findings import LabelerError, Place
from labeler.geometry import Box
from labeler.layout.disclosure_block import warning_sign
from labeler.layout.facts import amount_text
from labeler.press.leaf import Claim, Element
from labeler.units import NO_BREAK_SPACE

_SCALES = (1.0, 0.92, 0.84, 0.77, 0.7)
_STRIP = 34.0
_NONE = "–"
_SIGN = 7.0
_APART = NO_BREAK_SPACE * 3
"""Between the fields of a heading; plain spaces would be drawn as one."""


def table_units(
    setter: Typesetter,
    edition: Edition,
    entry: PatternEntry,
    path: tuple[Element, ...],
    width: float,
) -> list[Unit]:
    """Return the rows of an entry's table, in the largest type in which it is narrow enough.

    Raises:
        LabelerError: if the table is too wide even in the smallest.
    """
    last: LabelerError | None = None
    for scale in _SCALES:
        maker = _TableMaker(setter, edition, entry, path, scale)
        try:
            units = maker.units()
            maker.table.measure(width)
        except LabelerError as error:
            last = error
            continue
        return units
    assert last is not None  # every scale failed
    raise last


class _TableMaker:
    """One entry's table at one size of type."""

    def __init__(
        self, setter: Typesetter, edition: Edition, entry: PatternEntry, path: tuple[Element, ...],
        scale: float,
    ) -> None:  # fmt: skip
        self.setter, self.edition, self.entry, self.scale = setter, edition, entry, scale
        self.sayings = Sayings(edition)
        self.path = (*path, Element("Table", f"{path[-1].key}.prices"))
        self.cased = any(product.pattern.case for product in entry.products)
        self.table = Table(self._columns(), self.path)

    def _words(self, style: str, text: str, sku: str = "") -> Words:
        place = Place(piece=sku or self.entry.pattern.name, block="price table")
        return self.setter.words(style, text, place=place, scale=self.scale)

    def _columns(self) -> list[TableColumn]:
        def head(text: str) -> Words:
            return self._words("field", text)

        columns = [TableColumn(head("Color"), spare=1.0, least=64.0), TableColumn(head("SKU")),
                   TableColumn(head("GTIN"))]  # fmt: skip
        if self.edition.for_dealers:
            if self.cased:
                columns.append(TableColumn(head("Case of"), "right"))
            for tier in self.edition.tiers:
                columns.append(TableColumn(head(f"{tier.name} price"), "right"))
                columns.append(TableColumn(head("Keystone"), "right"))
                columns.append(TableColumn(head("Margin"), "right"))
        retail = "Suggested retail" if self.edition.for_dealers else "Price"
        return [*columns, TableColumn(head(retail), "right"), TableColumn(head("Quantity"))]

    def units(self) -> list[Unit]:
        """Return the head, and for each group its heading, what must be said, and its rows."""
        head = HeadRow(self.table, about=self._about("heads", 0))
        units: list[Unit] = [head]
        for number, group in enumerate(self.entry.groups):
            top = self._heading(group, number)
            top[0].gap = 0.0 if number == 0 else 7.0
            top[0].head = head
            again: list[Unit] = [head, *self._heading(group, number, again=True)]
            rows = [self._row(product, Stack(again), number) for product in group.products]
            rows_kept(rows)
            units += [*top, *rows]
        excise = list(dict.fromkeys(map(self.sayings.excise, self.entry.products)))
        said = " ".join(text for text in excise if text)
        if said:
            units[-1].keep = True
            tail = (*self.path[:-1], Element("P", f"{self.path[-1].key}.excise"))
            units.append(Paragraph(self._words("note", said), tail, gap=4))
        return units

    def _heading(self, group: SizeGroup, number: int, *, again: bool = False) -> list[SpanRow]:
        """Return a group's heading, and under it the statements of its products."""
        stated, other = group.weight.oz_text, group.weight.g_text
        if group.weight.unit != "oz":
            stated, other = other, stated
        more = ", continued" if again else ""
        place = Place(piece=self.entry.pattern.name, block="price table")
        words = self.setter.words(
            "book-weight", stated, ("book-cell", f"{_APART}{other}"),
            ("field", f"{_APART}Hook{NO_BREAK_SPACE}{group.hook_size}{more}"),
            place=place, scale=self.scale,
        )  # fmt: skip
        about = self._about("entry", number)
        rows = [SpanRow(self.table, words, f"g{number}", ruled=True, about=about)]
        for place_in, (said, skus) in enumerate(self._said_in(group)):
            rows.append(self._statement(said, skus, f"g{number}.s{place_in}"))
            rows[-1].about = about
        return rows

    def _about(
        self, kind: Literal["heads", "entry"], number: int, skus: tuple[str, ...] = ()
    ) -> About:
        """Return what tells a page that a row is about a group, and about which product of it."""
        code = self.entry.pattern.code

        def tell(canvas: Canvas, box: Box) -> None:
            canvas.claim(Claim(kind, code, skus, box), (kind, code, number))

        return tell

    def _said_in(self, group: SizeGroup) -> list[tuple[Statement, str]]:
        """Return the group's statements, with the SKUs where not all of them need it."""
        needing: dict[str, tuple[Statement, list[str]]] = {}
        for product in group.products:
            for said in self.sayings.beside(product):
                needing.setdefault(said.text, (said, []))[1].append(product.sku)
        count = len(group.products)
        return [(said, "" if len(skus) == count else ", ".join(skus))
                for said, skus in needing.values()]  # fmt: skip

    def _statement(self, said: Statement, skus: str, key: str) -> SpanRow:
        place = Place(piece=self.entry.pattern.name, block=f"statement {said.id}")
        least = max((size.points for size in said.full.least if size.measure == "font size"),
                    default=6.0)  # fmt: skip
        parts = [("signal", run.text) if run.bold else run.text for run in said.full.runs]
        if skus:
            parts.insert(0, f"{skus}: ")
        words = self.setter.words("disclosure", *parts, place=place, least=max(6.0, least))
        sign = (
            partial(_paint_sign, black=self.edition.ink == "black") if said.full.triangle else None
        )
        return SpanRow(self.table, words, key, heading=False,
                       indent=_SIGN * 1.6 if sign else 0.0, paint=sign)  # fmt: skip

    def _row(self, product: Product, again: Stack, number: int) -> BodyRow:
        cells = [self._colour(product), self._sku(product), self._cell(product.gtin or _NONE)]
        if self.edition.for_dealers:
            cells += self._dealer_cells(product)
        retail = self._money(product.price)
        cells += [self._cell(retail, "book-figure"), self._cell(self.sayings.quantity(product))]
        self.table.row(cells)
        about = self._about("entry", number, (product.sku,))
        return BodyRow(self.table, cells, product.sku, head=again, about=about)

    def _cell(self, text: str, style: str = "book-cell") -> Cell:
        return Cell(self._words(style, text))

    def _money(self, amount: object) -> str:
        from decimal import Decimal

        if not isinstance(amount, Decimal):
            return "on request"
        return amount_text(amount, self.edition.currency)

    def _colour(self, product: Product) -> Cell:
        words = self._words("book-cell", product.colour.name, product.sku)
        paint = partial(_paint_swatch, edition=self.edition, product=product)
        return Cell(words, paint=paint, strip=_STRIP * self.scale)

    def _sku(self, product: Product) -> Cell:
        link = ""
        if product.maker.links:
            link = product_link(product.maker.links, product.gtin, product.sku)
        return Cell(self._words("book-code", product.sku, product.sku), link)

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
    half = 2.4
    draw_swatch(canvas, edition, product, (box[0], middle - half, box[2] - 6, middle + half))


def _paint_sign(canvas: Canvas, box: Box, baseline: float, *, black: bool) -> None:
    canvas.decorate(*warning_sign(box[0], baseline, _SIGN, black))


def skus_in(rows: Sequence[Unit]) -> list[str]:
    """Return the SKUs of a table's rows, in order."""
    return [row.key for row in rows if isinstance(row, BodyRow)]
