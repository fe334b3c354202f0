"""Tables: columns as wide as what stands in them, rows ruled with hairlines, heads that repeat.

A pattern's table lists, by weight and hook, each colour's SKU, GTIN, packs and prices.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from decimal import Decimal
from functools import partial
from typing import Literal, Protocol

from labeler.book.edition import (
    Edition,
    PatternEntry,
    SizeGroup,
    keystone,
    margin,
    percent,
)
from labeler.book.figures import draw_swatch
from labeler.book.typesetting import (
    GREY,
    HAIR,
    BookContext,
    Canvas,
    Paragraph,
    Stack,
    StructurePath,
    Unit,
    Words,
)
from labeler.catalog.model import Product
from labeler.codes.links import link_of
from labeler.disclosures.statements import Statement
from labeler.findings import LabelerError, Place
from labeler.geometry import Box
from labeler.layout.block import overflow
from labeler.layout.facts import amount_text
from labeler.layout.text_blocks import warning_sign
from labeler.marks import Claim, Element
from labeler.type.setting import Align
from labeler.units import NO_BREAK_SPACE

About = Callable[[Canvas, Box], None]
"""Tells the page what a row is about; it is given where the row stands."""

_GUTTER = 7.0
_PAD = 2.6


@dataclass(slots=True)
class TableColumn:
    """One column: its head's words, how its cells stand, and whether it takes the spare width."""

    head: Words
    align: Align = "left"
    spare: float = 0.0
    """Its share of the width that is left over; 0 for a column as wide as its words."""
    least: float = 0.0
    width: float = 0.0
    left: float = 0.0


@dataclass(slots=True)
class Cell:
    """What stands in one cell; ``link`` is where a touch leads."""

    words: Words
    link: str = ""
    paint: Callable[[Canvas, Box], None] | None = None
    """Draws something in a strip at the cell's left, ``strip`` points wide."""
    strip: float = 0.0


@dataclass(slots=True)
class BookTable:
    """A table's columns, measured over all its rows."""

    columns: list[TableColumn]
    path: StructurePath
    """The table's own path in the book's structure."""
    rows: list[list[Cell]] = field(default_factory=list)
    widths_for: float = -1.0

    def measure(self, width: float) -> None:
        """Share ``width`` out: firm columns take what their words take, others what is left.

        Raises:
            LabelerError: if the firm columns alone are wider.
        """
        if self.widths_for == width:
            return
        firm = 0.0
        for place, column in enumerate(self.columns):
            if not column.spare:
                cells = (row[place] for row in self.rows)
                widths = (cell.words.width() + cell.strip for cell in cells)
                wide = max([column.least, _widest_word(column.head), *widths])
                column.width = wide + 0.02
                firm += wide
        gutters = _GUTTER * (len(self.columns) - 1)
        spare = width - gutters - firm
        shares = sum(column.spare for column in self.columns)
        needs = sum(column.least for column in self.columns if column.spare)
        if spare < needs:
            heads = ", ".join(column.head.plain for column in self.columns)
            place_of_table = Place(block=f"table of {heads}")
            raise overflow(place_of_table, "the table's width", needs + firm + gutters, width)
        left = 0.0
        for column in self.columns:
            if column.spare:
                column.width = spare * column.spare / shares
            column.left = left
            left += column.width + _GUTTER
        self.widths_for = width


def _widest_word(words: Words) -> float:
    """Return the width of the widest word, in points: a head may break over lines."""
    return max((word.width for word in words.text.words), default=0.0) * words.text.most / 1000


@dataclass(slots=True)
class HeadRow(Unit):
    """A table's head, read only the first time that it is drawn."""

    table: BookTable
    about: About | None = None
    keep: bool = field(default=True, kw_only=True)
    drawn: bool = False

    def height(self, width: float) -> float:
        """Return the height of the highest head, with its rule."""
        self.table.measure(width)
        return max(c.head.height(c.width) for c in self.table.columns) + 2 * _PAD

    def draw(self, canvas: Canvas, box: Box) -> None:
        """Draw the heads above a rule."""
        row = Element("TR", f"{self.table.path[-1].key}.head")
        for place, column in enumerate(self.table.columns):
            left = box[0] + column.left
            tail = column.head.text.descent * column.head.fit(column.width).size  # of a Q
            inner = (left, box[1], left + column.width, box[3] - _PAD + tail)
            cell = Element("TH", f"{row.key}.{place}", scope="Column")
            path: StructurePath = () if self.drawn else (*self.table.path, row, cell)
            canvas.write(column.head, inner, path, align=column.align, valign="bottom")
        self.drawn = True
        if self.about:
            self.about(canvas, box)
        canvas.rule(box[0], box[2], box[3] - HAIR / 2)


@dataclass(slots=True)
class BodyRow(Unit):
    """One row of cells on one first baseline, over a pale hairline."""

    table: BookTable
    cells: list[Cell]
    key: str
    about: About | None = None
    anchor: str = ""
    """What the row is known by to those who look it up."""

    def __post_init__(self) -> None:
        self.table.rows.append(self.cells)

    def _baseline_and_depth(self) -> tuple[float, float]:
        """Return how far the cells reach above and below their one first baseline.

        An accent in one cell moves them all.
        """
        above = below = 0.0
        for cell, column in zip(self.cells, self.table.columns, strict=True):
            if cell.words.text.words:
                setting = cell.words.fit(column.width - cell.strip)
                above = max(above, setting.first_baseline)
                below = max(below, setting.height - setting.first_baseline)
        return above, below

    def height(self, width: float) -> float:
        """Return the height of the highest cell, with air."""
        self.table.measure(width)
        above, below = self._baseline_and_depth()
        return above + below + 2 * _PAD

    def draw(self, canvas: Canvas, box: Box) -> None:
        """Draw the cells, and what is painted beside their words."""
        row = Element("TR", f"{self.table.path[-1].key}.{self.key}")
        baseline, _ = self._baseline_and_depth()
        for place, (cell, column) in enumerate(zip(self.cells, self.table.columns, strict=True)):
            left = box[0] + column.left
            right = left + column.width
            if cell.paint:
                cell.paint(canvas, (left, box[1], left + cell.strip, box[3]))
            left += cell.strip
            if cell.words.text.words:
                top = box[1] + _PAD + baseline - cell.words.fit(right - left).first_baseline
                path = (*self.table.path, row, Element("TD", f"{row.key}.{place}"))
                inner = (left, top, right, box[3] + _PAD)
                canvas.write(cell.words, inner, path, align=column.align, link=cell.link)
        if self.about:
            self.about(canvas, box)
        if self.anchor:
            canvas.anchors.append((self.anchor, box[1]))
        canvas.rule(box[0], box[2], box[3], 0.2, GREY)


@dataclass(slots=True)
class SpanRow(Unit):
    """Words across the whole table: a group's heading, or what its rows must say."""

    table: BookTable
    words: Words
    key: str
    keep: bool = field(default=True, kw_only=True)
    heading: bool = True
    """Whether it heads the rows below, and a rule stands under it."""
    indent: float = 0.0
    paint: Callable[[Canvas, Box, float], None] | None = None
    """Draws a sign at the left; it is given the first baseline."""
    about: About | None = None

    def height(self, width: float) -> float:
        """Return the height of its lines, with air."""
        return self.words.height(width - self.indent) + 2 * _PAD

    def draw(self, canvas: Canvas, box: Box) -> None:
        """Draw the words, and a rule below a heading."""
        row = Element("TR", f"{self.table.path[-1].key}.{self.key}")
        span, key = len(self.table.columns), f"{row.key}.0"
        if self.heading:
            cell = Element("TH", key, scope="Column", span=span)
        else:
            cell = Element("TD", key, span=span)
        inner = (box[0] + self.indent, box[1] + _PAD, box[2], box[3])
        canvas.write(self.words, inner, (*self.table.path, row, cell))
        if self.about:
            self.about(canvas, box)
        if self.paint:
            baseline = self.words.fit(box[2] - box[0] - self.indent).first_baseline
            self.paint(canvas, box, box[1] + _PAD + baseline)
        if self.heading:
            canvas.rule(box[0], box[2], box[3] - HAIR / 2)


def keep_rows_company(rows: Sequence[Unit]) -> None:
    """Make the first two rows, and the last two, keep each other: none ever stands alone."""
    if len(rows) > 1:
        rows[0].keep = rows[-2].keep = True


def said_of(group: SizeGroup) -> tuple[str, str, str]:
    """Return a group's weight as the catalog states it, in the other unit, and its hook."""
    hook = f"Hook{NO_BREAK_SPACE}{group.hook_size}" if group.hook_size else ""
    texts = group.weight.oz_text, group.weight.g_text
    return (*(texts if group.weight.unit == "oz" else texts[::-1]), hook)


def sku_anchor(sku: str) -> str:
    """Return the name of the place where a SKU's row stands."""
    return f"sku-{sku}"


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
    return in_largest_type(book, _SCALES, lambda scale: _TableMaker(book, entry, path, scale))


class TableMaker(Protocol):
    """Makes a table and its rows in one size of type."""

    table: BookTable

    def units(self) -> list[Unit]:
        """Return the table's heads and rows."""


def in_largest_type(
    book: BookContext, scales: Sequence[float], maker_at: Callable[[float], TableMaker]
) -> list[Unit]:
    """Return a table's rows in the first of these sizes in which it is narrow enough.

    Raises:
        LabelerError: if the table is too wide even in the last.
    """
    for scale in scales:
        maker = maker_at(scale)
        try:
            units = maker.units()
            maker.table.measure(book.frame.measure)
        except LabelerError:
            if scale == scales[-1]:
                raise
        else:
            break
    return units


def statement_rows(
    book: BookContext, table: BookTable, products: Sequence[Product], key: str, about: About
) -> list[SpanRow]:
    """Return a row for each thing that must be said of a table's products, before it of which."""
    rows = []
    for number, (statement, skus) in enumerate(book.statements.needing(products)):
        of_some = f"{', '.join(skus)}: " if len(skus) < len(products) else ""
        rows.append(_statement_row(book, table, statement, of_some, f"{key}.s{number}", about))
    return rows


def _statement_row(
    book: BookContext, table: BookTable, statement: Statement, skus: str, key: str, about: About
) -> SpanRow:
    """Return one of them. It is read by law, so that it does not shrink with a wide table."""
    full = statement.full
    least = max((size.points for size in full.least if size.measure == "font size"), default=6.0)
    parts = [("signal", run.text) if run.bold else run.text for run in full.runs]
    words = book.setter.words(
        "disclosure", *([skus] if skus else []), *parts,
        place=Place(block=f"statement {statement.id}"), least=max(6.0, least),
    )  # fmt: skip
    row = SpanRow(table, words, key, heading=False, about=about)
    if full.triangle:
        row.indent = _SIGN * 1.6
        row.paint = partial(_paint_sign, black=book.edition.ink == "black")
    return row


class _TableMaker:
    """One entry's table at one size of type."""

    def __init__(
        self, book: BookContext, entry: PatternEntry, path: StructurePath, scale: float
    ) -> None:
        self.book, self.edition, self.entry, self.scale = book, book.edition, entry, scale
        self.path = (*path, Element("Table", f"{path[-1].key}.prices"))
        self.told = self.edition.ready is not None
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
                twice = ["Keystone"] if self.edition.keystone else []
                figures += [f"{tier.name} price", *twice, "Margin"]
        figures.append("Suggested retail" if self.edition.for_dealers else "Price")
        return [
            TableColumn(self._words("field", "Color"), spare=1.0, least=64.0),
            *(TableColumn(self._words("field", head)) for head in ("SKU", "GTIN")),
            *(TableColumn(self._words("field", head), "right") for head in figures),
            TableColumn(self._words("field", "Quantity")),
            *([TableColumn(self._words("field", "On hand"))] if self.told else []),
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
            # It is read by law, so that it does not shrink with a table that is too wide.
            place = Place(piece=self.entry.pattern.name, block="excise tax")
            words = self.book.setter.words("note", excise, place=place)
            units.append(Paragraph(words, path, gap=4))
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
        stated, other, hook = said_of(group)
        size = [("field", f"{_APART}{hook}{more}")] if hook or more else []
        words = self._words("book-weight", stated, ("book-cell", f"{_APART}{other}"), *size)
        about = self._about("entry", number)
        said = statement_rows(self.book, self.table, group.products, f"g{number}", about)
        return [SpanRow(self.table, words, f"g{number}", about=about), *said]

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
        if self.edition.ready is not None:
            cells.append(self._cell("ready" if sku in self.edition.ready else "to order"))
        about = self._about("entry", number, (sku,))
        return BodyRow(self.table, cells, sku, about, sku_anchor(sku), head=again)

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
                cells += [self._cell(_NONE)] * (2 if self.edition.keystone else 1)
                continue
            if self.edition.keystone:
                cells.append(self._cell(self._money(keystone(price)), "book-sum"))
            cells.append(self._cell(percent(margin(price, product.price)), "book-sum"))
        return cells


def _paint_swatch(canvas: Canvas, box: Box, *, edition: Edition, product: Product) -> None:
    middle = (box[1] + box[3]) / 2
    draw_swatch(canvas, edition, product, (box[0], middle - 2.4, box[2] - 6, middle + 2.4))


def _paint_sign(canvas: Canvas, box: Box, baseline: float, *, black: bool) -> None:
    canvas.decorate(*warning_sign(box[0], baseline, _SIGN, black))
