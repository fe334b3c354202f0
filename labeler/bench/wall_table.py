"""The table on the wall sheet: its title, heads of markets, and a row of signs a pattern."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from labeler.bench.market_table import MarketCell, MarketRow
from labeler.bench.markets import MarketReport
from labeler.bench.wall_signs import SIGN, sign
from labeler.book.canvas import HAIR, INK, Canvas
from labeler.book.flow import Unit
from labeler.book.setter import Setter, Words
from labeler.disclosures.sale import Status
from labeler.findings import Place
from labeler.layout.marks import Box, Path
from labeler.press.leaf import Element

_PAD = 4.2
_LINE = 3.4
"""Points between a row's name and its weights."""

_CODE_DOWN, _NAME_DOWN, _MARKS_DOWN = 11.0, 10.0, 9.2
"""Points from the top to a code's baseline, from there to its name's, from a cell's words to the
numbers below them: fixed, so that what stands side by side stands level."""


def _on(baseline: float, words: Words, sides: tuple[float, float]) -> Box:
    """Return the box in which the words' first line stands on ``baseline``."""
    left, right = sides
    if not words.text.words:
        return left, baseline, right, baseline
    top = baseline - words.fit(right - left).first_baseline
    return left, top, right, math.inf


def _below(words: Words, width: float) -> float:
    """Return how far the words reach below their first baseline."""
    if not words.text.words:
        return 0.0
    setting = words.fit(width)
    return setting.height - setting.first_baseline


@dataclass(slots=True)
class Title:
    """Whose sheet it is, what it tells, and of which day."""

    setter: Setter
    report: MarketReport
    gap: float = 0.0
    keep: bool = True
    head: Unit | None = None

    def _words(self) -> tuple[Words, Words, Words]:
        day = self.report.day
        count = len(self.report.products)
        things = "1 product" if count == 1 else f"{count:,} products"
        said = f"{things}, as of {day.day} {day:%B %Y}"
        return (
            self.setter.words("maker", self.report.maker, lines=1, least=3.0),
            self.setter.words("book-title", "Where it may be sold", scale=0.66, lines=1),
            self.setter.words("colour", said, lines=1),
        )

    def height(self, width: float) -> float:
        """Return the height of both lines and the rule."""
        maker, title, _ = self._words()
        return maker.height(width) + title.height(width) + 17

    def draw(self, canvas: Canvas, box: Box) -> None:
        """Draw the maker above the title, the day beside it, a rule below."""
        maker, title, day = self._words()
        path = (Element("Sect", "head"),)
        marks, ink = maker.glyphs(box)
        canvas.put(marks, (*path, Element("P", "head.maker")))
        canvas.take(ink, "maker")
        marks, ink = title.glyphs((box[0], ink[3] + 9, box[2], box[3]))
        canvas.put(marks, (*path, Element("H1", "head.title")))
        canvas.take(ink, "title")
        down = ink[1] + title.fit(box[2] - box[0]).first_baseline
        down -= day.fit(box[2] - box[0]).first_baseline
        marks, ink = day.glyphs((box[0], down, box[2], box[3]), "right")
        canvas.put(marks, (*path, Element("P", "head.day")))
        canvas.take(ink, "day")
        canvas.rule(box[0], box[2], box[3] - HAIR, 0.9)


@dataclass(slots=True)
class Columns:
    """How a table's width is shared: names first, then a column of like width a market."""

    names: float
    markets: tuple[int, ...]
    """The places in the report of the markets that stand in this table."""
    spread: int = 0
    """For how many columns there is room, where a table before it had more."""

    def left(self, box: Box, place: int) -> float:
        """Return where the column ``place`` begins."""
        return box[0] + self.names + place * self.width(box)

    def width(self, box: Box) -> float:
        """Return how wide a market's column is."""
        return (box[2] - box[0] - self.names) / max(len(self.markets), self.spread)


@dataclass(slots=True)
class Head:
    """The markets' codes over their names; on later pages the same, not read again."""

    setter: Setter
    report: MarketReport
    columns: Columns
    key: str
    gap: float = 12.0
    keep: bool = True
    head: Unit | None = None
    times: int = 0

    def _pairs(self, width: float) -> Iterator[tuple[Words, Words]]:
        for place in self.columns.markets:
            market = self.report.markets[place]
            where = Place(block=f"head {market.code}")
            name = market.name if market.sold else f"{market.name}, not sold there yet"
            yield (
                self.setter.words("book-weight", market.code, lines=1, place=where, least=6.0),
                self.setter.words("note", name if name != market.code else "", place=where),
            )

    def height(self, width: float) -> float:
        """Return the height of the highest head."""
        cell = self.columns.width((0.0, 0.0, width, 0.0)) - 6
        names = (_below(name, cell) for _, name in self._pairs(width))
        return _CODE_DOWN + _NAME_DOWN + max(names) + 2 * _PAD

    def draw(self, canvas: Canvas, box: Box) -> None:
        """Draw the heads above a rule."""
        row = Element("TR", f"{self.key}.head")
        baseline = box[1] + _CODE_DOWN
        for place, (code, name) in enumerate(self._pairs(box[2] - box[0])):
            left = self.columns.left(box, place)
            right = left + self.columns.width(box) - 6
            marks, ink = code.glyphs(_on(baseline, code, (left, right)))
            more, below = name.glyphs(_on(baseline + _NAME_DOWN, name, (left, right)))
            cell = Element("TH", f"{row.key}.{place}", scope="Column")
            if self.times:
                canvas.decorate(*marks, *more)
            else:
                canvas.put([*marks, *more], (Element("Table", self.key), row, cell))
            canvas.take(ink, "head")
            canvas.take(below, "head")
        self.times += 1
        canvas.rule(box[0], box[2], box[3] - HAIR / 2, 0.6)


@dataclass(slots=True)
class Row:
    """A pattern, and a sign with its words for each market."""

    setter: Setter
    row: MarketRow
    columns: Columns
    key: str
    number: int
    gap: float = 0.0
    keep: bool = False
    head: Unit | None = None

    def _name(self) -> tuple[Words, Words]:
        where = Place(block=f"row {self.row.pattern}")
        count = len(self.row.skus)
        said = f"{self.row.which}" if count == 1 else f"{self.row.which} · {count} products"
        return (
            self.setter.words("book-heading", self.row.pattern, scale=0.62, place=where),
            self.setter.words("note", said, scale=1.06, place=where),
        )

    def _cell(self, cell: MarketCell) -> tuple[Words, Words]:
        where = Place(block=f"row {self.row.pattern}")
        return (
            self.setter.words("book-figure", cell.words, lines=1, least=4.5, place=where),
            self.setter.words("note", ", ".join(cell.marks), place=where),
        )

    def _cells(self) -> Iterator[tuple[Status, Words, Words]]:
        for place in self.columns.markets:
            cell = self.row.cells[place]
            yield cell.status, *self._cell(cell)

    def height(self, width: float) -> float:
        """Return the height of the name, or of the highest cell."""
        name, which = self._name()
        inner = self.columns.width((0.0, 0.0, width, 0.0)) - 3 * SIGN - 6
        left = self.columns.names - 12
        high = name.height(left) + _LINE + which.height(left)
        down = name.fit(left).first_baseline + _MARKS_DOWN
        cells = (down + _below(marks, inner) for _, _, marks in self._cells())
        return max(high, *cells) + 2 * _PAD

    def draw(self, canvas: Canvas, box: Box) -> None:
        """Draw the row over a hairline."""
        path = (Element("Table", self.key), Element("TR", f"{self.key}.r{self.number}"))
        base = path[-1].key
        name, which = self._name()
        right = box[0] + self.columns.names - 12
        marks, ink = name.glyphs((box[0], box[1] + _PAD, right, box[3]))
        more, below = which.glyphs((box[0], ink[3] + _LINE, right, box[3]))
        canvas.put([*marks, *more], (*path, Element("TH", f"{base}.name", scope="Row")))
        canvas.take((ink[0], ink[1], max(ink[2], below[2]), below[3]), "row's name")
        baseline = box[1] + _PAD + name.fit(right - box[0]).first_baseline
        for place, (status, said, numbers) in enumerate(self._cells()):
            left = self.columns.left(box, place)
            edge = left + self.columns.width(box) - 6
            begin = left + 3 * SIGN
            words, spot = said.glyphs(_on(baseline, said, (begin, edge)))
            small, under = numbers.glyphs(_on(baseline + _MARKS_DOWN, numbers, (begin, edge)))
            canvas.decorate(*sign(status, left + SIGN, baseline - 2.9))
            canvas.put([*words, *small], (*path, Element("TD", f"{base}.{place}")))
            canvas.take((left, spot[1], max(spot[2], under[2]), under[3]), "cell")
        line = Path((("M", box[0], box[3]), ("L", box[2], box[3])), stroke=INK, width=0.2)
        canvas.decorate(line)


def rows_of(setter: Setter, report: MarketReport, columns: Columns, key: str) -> Sequence[Unit]:
    """Return a table: its head and its rows, the first two and the last two kept together."""
    head = Head(setter, report, columns, key)
    made = [Row(setter, row, columns, key, n, head=head) for n, row in enumerate(report.rows)]
    if len(made) > 1:
        made[0].keep = made[-2].keep = True
    return [head, *made]
