"""The sheet to hang on the wall: the table of markets above, the rules behind it below.

One page if that holds it in letters that can be read, else as few as it takes.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from functools import partial
from pathlib import Path

from labeler.app.markets import MarketReport, MarketRow, RuleEffect
from labeler.book.edition import Paper, page_size
from labeler.book.typesetting import (
    HAIR,
    INK,
    Canvas,
    ColumnBox,
    FilledPage,
    Labelled,
    Paragraph,
    Typesetter,
    Unit,
    Words,
    flow,
    validate_page,
)
from labeler.disclosures.rules import NO_LEGAL_ADVICE
from labeler.disclosures.sale import MEANS, SHORT, Status
from labeler.files import delivered, refuse_to_bury
from labeler.findings import LabelerError, Place, plural
from labeler.geometry import Box
from labeler.marks import KAPPA, BookPage, Element, Step, VectorPath, circle
from labeler.press.impose import Ticket
from labeler.press.pdf.book import Binding, write_book

SIGN = 4.6
"""Points: the radius of a sign."""

_PAD = 4.2
_LINE = 3.4
"""Points between a row's name and its weights."""

_CODE_DOWN, _NAME_DOWN, _MARKS_DOWN = 11.0, 10.0, 9.2
"""Points from the top to a code's baseline, from there to its name's, from a cell's words to the
numbers below them: fixed, so that what stands side by side stands level."""

_SIDE, _TOP, _FOOT = 40.0, 38.0, 44.0
_UPRIGHT, _LYING = 6, 12
"""How many markets stand side by side on an upright page, and on one that lies."""

_NAMES = 142.0
_GUTTER = 20.0
_SIZES = (1.0, 0.93, 0.86, 0.8)
"""Sizes of the small print: the largest of those that take the fewest pages is taken."""

_ABOVE_ADVICE = 15.0
_LEAST_ROOM = 90.0
"""Points: below a table with less room than this, the rules begin on the next page."""


def write_wall_sheet(report: MarketReport, out: Path, paper: Paper, maker_folder: Path) -> int:
    """Write the table as a sheet to hang on the wall, and return how many pages it takes.

    Args:
        report: the table.
        out: the PDF; it appears whole or not at all.
        paper: ``letter`` or ``a4``, upright, or lying where many markets stand side by side.
        maker_folder: the catalog folder, whose own fonts and styles go before ours.

    Raises:
        LabelerError: if a face lacks letters, or a name does not fit.
    """
    refuse_to_bury(out)
    width, height = page_size(paper, booklet=False)
    if len(report.markets) > _UPRIGHT:
        width, height = height, width
    sheet = _WallSheet(Typesetter(maker_folder), report, width, height)
    pages = min((sheet.lay(size) for size in _SIZES), key=len)
    day = report.day.isoformat()
    ticket = Ticket(
        title=f"Where it may be sold, {report.maker}",
        author=report.maker,
        subject=f"As of {day}",
        maker_folder=maker_folder,
    )
    with delivered(out) as file:
        draw = [
            partial(sheet.draw, page, f"{report.maker} · {day} · page {number} of {len(pages)}")
            for number, page in enumerate(pages, 1)
        ]
        write_book(draw, (), file, ticket, Binding())
    return len(pages)


@dataclass(frozen=True, slots=True)
class _WallSheet:
    """The sheet laid out: tables above, the rules in columns below, the advice at the end."""

    setter: Typesetter
    report: MarketReport
    width: float
    height: float

    def lay(self, size: float) -> list[FilledPage]:
        """Return the pages with the small print in this size."""
        page = ColumnBox(_SIDE, _TOP, self.width - _SIDE, self.height - _FOOT)
        pages = flow(self._tables(), (page,), where="wall sheet")
        below = max(box[3] for _, box in pages[-1].units) + 16
        if below > page.bottom - _LEAST_ROOM:
            pages.append(FilledPage())
            below = _TOP
        notes = self._notes(size)
        end = self._closing(size)
        room = sum(unit.height(page.width) for unit in end) + _ABOVE_ADVICE
        first = self._split(below, page.bottom - room)
        later = self._split(_TOP, page.bottom - room)
        pages_of_notes = flow(notes, first, later, where="wall sheet")
        pages_of_notes, bottom = self._balanced(notes, pages_of_notes, below, page.bottom - room)
        pages[-1].units += pages_of_notes[0].units
        pages += pages_of_notes[1:]
        last = ColumnBox(_SIDE, bottom, page.right, page.bottom)
        pages[-1].units += flow(end, (last,), where="wall sheet")[0].units
        return pages

    def draw(self, page: FilledPage, foot: str) -> BookPage:
        """Draw a page that is laid out.

        Raises:
            LabelerError: if something on it lies on something else.
        """
        canvas = Canvas(self.width, self.height)
        page.draw(canvas)
        words = self.setter.words(
            "book-running", foot, lines=1, least=3.0, place=Place(block="foot")
        )
        y = self.height - _FOOT + 16
        canvas.write(words, (_SIDE, y, self.width - _SIDE, y + 12), (), align="right")
        validate_page(canvas, "wall sheet", 0)
        return canvas.page()

    def _tables(self) -> Sequence[Unit]:
        units: list[Unit] = [SheetTitle(self.setter, self.report)]
        count = len(self.report.markets)
        side_by_side = _UPRIGHT if count <= _UPRIGHT else _LYING
        each = math.ceil(count / math.ceil(count / side_by_side))
        for number, first in enumerate(range(0, count, each)):
            places = tuple(range(first, min(first + each, count)))
            columns = MarketColumns(_NAMES, places, each)
            table = _table(self.setter, self.report, columns, f"markets.{number}")
            wide, room = self.width - 2 * _SIDE, self.height - _TOP - _FOOT
            with_it = [*units, *table] if not number else table
            if sum(unit.gap + unit.height(wide) for unit in with_it) <= room:
                for row in table[:-1]:
                    row.keep = True
            units += table
        units.append(SignKey(self.setter))
        return units

    def _split(self, top: float, bottom: float) -> tuple[ColumnBox, ...]:
        count = 2 if self.width < self.height else 3
        wide = (self.width - 2 * _SIDE - _GUTTER * (count - 1)) / count
        lefts = (_SIDE + place * (wide + _GUTTER) for place in range(count))
        return tuple(ColumnBox(left, top, left + wide, bottom) for left in lefts)

    def _balanced(
        self, notes: Sequence[Unit], pages: list[FilledPage], top: float, foot: float
    ) -> tuple[list[FilledPage], float]:
        """Return the pages with the last one's columns about as long as each other, and its end."""
        if len(pages) > 1:
            before = sum(len(page.units) for page in pages[:-1])
            notes, top = notes[before:], _TOP
        low, high = top + 1, foot
        best = pages[-1:]
        while high - low > 2:
            middle = (low + high) / 2
            tried = self._on_one_page(notes, top, middle)
            if tried is None:
                low = middle
            else:
                best, high = tried, middle
        return [*pages[:-1], *best], max(box[3] for _, box in best[0].units) + _ABOVE_ADVICE

    def _on_one_page(
        self, notes: Sequence[Unit], top: float, bottom: float
    ) -> list[FilledPage] | None:
        columns = self._split(top, bottom)
        try:
            pages = flow(notes, columns, where="wall sheet")
        except LabelerError:  # something is higher than so low a column
            return None
        return pages if len(pages) == 1 else None

    def _notes(self, size: float) -> Sequence[Unit]:
        path = (Element("Sect", "rules"),)
        how = self.setter.words(
            "note", "Numbers: rules on sale and use. Letters: good to know.", scale=size, least=5.5
        )
        units: list[Unit] = [
            self._heading("The rules behind it", path),
            Paragraph(how, (*path, Element("P", "rules.how")), gap=5, keep=True),
        ]
        units += [self._rule(one, path, size) for one in self.report.rules]
        open_path = (Element("Sect", "open"),)
        units.append(self._heading("Not checked", open_path))
        lists = (*open_path, Element("L", "open.list"))
        for number, line in enumerate(self.report.not_checked):
            name = self.setter.words("note", "–", scale=size, least=5.5)
            words = self.setter.words(
                "note", line, scale=size, least=5.5, place=Place(block="not checked")
            )
            item = (*lists, Element("LI", f"open.{number}"))
            units.append(Labelled(name, words, item, indent=14, gap=4))
        return units

    def _rule(self, one: RuleEffect, path: tuple[Element, ...], size: float) -> Unit:
        place = Place(block=f"rule {one.rule.id}")
        lines = [*one.lines(), one.rule.doubt or "", one.authority]
        details = "\n".join(line for line in lines if line)
        name = self.setter.words("signal", one.mark, scale=size, least=5.5, place=place)
        words = self.setter.words(
            "note",
            ("disclosure", f"{one.rule.about}\n"),
            details,
            scale=size,
            least=5.5,
            place=place,
        )
        item = (*path, Element("L", "rules.list"), Element("LI", f"rules.{one.mark}"))
        return Labelled(name, words, item, indent=18, gap=6)

    def _closing(self, size: float) -> Sequence[Unit]:
        path = (Element("Sect", "open"), Element("P", "advice"))
        words = self.setter.words(
            "book-text", NO_LEGAL_ADVICE, scale=size * 0.9, place=Place(block="advice")
        )
        return [Paragraph(words, path)]

    def _heading(self, text: str, path: tuple[Element, ...]) -> Paragraph:
        words = self.setter.words("book-heading", text, scale=0.72)
        return Paragraph(words, (*path, Element("H2", f"{path[-1].key}.head")), gap=12, keep=True)


def sign(status: Status, x: float, y: float, r: float = SIGN) -> Iterator[VectorPath]:
    """Yield the disc of a status around (``x``, ``y``).

    Empty may be sold, a point in it asks for a notice, half full limits the use, full bars the
    sale; a dash is no answer, in a ring one to be found in the notes.
    """
    if status in (Status.NOT_HELD, Status.NOTED):
        yield VectorPath((("M", x - r * 0.6, y), ("L", x + r * 0.6, y)), stroke=INK, width=0.9)
    if status is Status.NOT_HELD:
        return
    if status is Status.BARRED:
        yield VectorPath(circle(x, y, r), fill=INK)
        return
    yield VectorPath(circle(x, y, r - 0.4), stroke=INK, width=0.8)
    if status is Status.DISCLOSURE:
        yield VectorPath(circle(x, y, r * 0.42), fill=INK)
    if status is Status.RESTRICTED:
        k = r * KAPPA
        half: tuple[Step, ...] = (
            ("M", x, y - r),
            ("C", x - k, y - r, x - r, y - k, x - r, y),
            ("C", x - r, y + k, x - k, y + r, x, y + r),
            ("Z",),
        )
        yield VectorPath(half, fill=INK)


@dataclass(slots=True)
class SignKey(Unit):
    """The signs, their words and what they mean, two side by side."""

    setter: Typesetter
    gap: float = field(default=14.0, kw_only=True)

    def _words(self, short: str, means: str) -> Words:
        return self.setter.words("note", ("signal", short), f"  {means}", place=Place(block="key"))

    def _rows(self) -> Iterator[list[tuple[Status | None, Words]]]:
        doubt = "the catalog does not tell all that a rule asks; the worst is taken"
        lines = [
            *((status, self._words(SHORT[status], means)) for status, means in MEANS.items()),
            (None, self._words("?", doubt)),
        ]
        half = -(-len(lines) // 2)
        for place in range(half):
            yield lines[place::half]

    def height(self, width: float) -> float:
        """Return the height of three lines."""
        inner = width / 2 - 3 * SIGN - 12
        return sum(max(w.height(inner) for _, w in row) + 5 for row in self._rows())

    def draw(self, canvas: Canvas, box: Box) -> None:
        """Draw each sign with its words."""
        half = (box[2] - box[0]) / 2
        y = box[1]
        for number, row in enumerate(self._rows()):
            for place, (status, words) in enumerate(row):
                left = box[0] + place * half
                begin, edge = left + 3 * SIGN, left + half - 12
                baseline = y + words.fit(edge - begin).first_baseline
                if status is not None:
                    canvas.decorate(*sign(status, left + SIGN, baseline - 2.5, SIGN - 0.8))
                path = (Element("Sect", "key"), Element("P", f"key.{place}.{number}"))
                canvas.write(words, (begin, y, edge, box[3] + 9), path)
            y += max(w.height(half - 3 * SIGN - 12) for _, w in row) + 5


def _on_baseline(baseline: float, words: Words, sides: tuple[float, float]) -> Box:
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
class SheetTitle(Unit):
    """Whose sheet it is, what it tells, and of which day."""

    setter: Typesetter
    report: MarketReport
    keep: bool = field(default=True, kw_only=True)

    def _words(self) -> tuple[Words, Words, Words]:
        day, things = self.report.day, plural(len(self.report.products), "product")
        words, of = self.setter.words, f"{things}, as of {day.day} {day:%B %Y}"
        return (
            words("maker", self.report.maker, lines=1, least=3.0),
            words(
                "book-title", "Where it may be sold", scale=0.66, lines=1,
                place=Place(block="title"),
            ),
            words("colour", of, lines=1, place=Place(block="day")),
        )  # fmt: skip

    def height(self, width: float) -> float:
        """Return the height of both lines and the rule."""
        maker, title, _ = self._words()
        return maker.height(width) + title.height(width) + 17

    def draw(self, canvas: Canvas, box: Box) -> None:
        """Draw the maker above the title, the day beside it, a rule below."""
        maker, title, day = self._words()
        path = (Element("Sect", "head"),)
        ink = canvas.write(maker, box, (*path, Element("P", "head.maker")))
        below = (box[0], ink[3] + 9, box[2], box[3])
        ink = canvas.write(title, below, (*path, Element("H1", "head.title")))
        top = ink[1] + title.fit(box[2] - box[0]).first_baseline
        top -= day.fit(box[2] - box[0]).first_baseline
        level = (box[0], top, box[2], box[3])
        canvas.write(day, level, (*path, Element("P", "head.day")), align="right")
        canvas.rule(box[0], box[2], box[3] - HAIR, 0.9)


@dataclass(frozen=True, slots=True)
class MarketColumns:
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
class MarketsHeading(Unit):
    """The markets' codes over their names; on later pages the same, not read again."""

    setter: Typesetter
    report: MarketReport
    columns: MarketColumns
    key: str
    gap: float = field(default=12.0, kw_only=True)
    keep: bool = field(default=True, kw_only=True)
    times: int = 0
    """How often it was drawn."""

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
            marks, ink = code.glyphs(_on_baseline(baseline, code, (left, right)))
            more, below = name.glyphs(_on_baseline(baseline + _NAME_DOWN, name, (left, right)))
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
class PatternRow(Unit):
    """A pattern, and a sign with its words for each market."""

    setter: Typesetter
    row: MarketRow
    columns: MarketColumns
    key: str
    number: int

    def _name(self) -> tuple[Words, Words]:
        where = Place(block=f"row {self.row.pattern}")
        count = len(self.row.skus)
        which = self.row.which if count == 1 else f"{self.row.which} · {count} products"
        return (
            self.setter.words("book-heading", self.row.pattern, scale=0.62, place=where),
            self.setter.words("note", which, scale=1.06, place=where),
        )

    def _cells(self) -> Iterator[tuple[Status, Words, Words]]:
        where = Place(block=f"row {self.row.pattern}")
        for cell in (self.row.cells[place] for place in self.columns.markets):
            yield (
                cell.status,
                self.setter.words("book-figure", cell.words, lines=1, least=4.5, place=where),
                self.setter.words("note", ", ".join(cell.marks), place=where),
            )

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
        for place, (status, short, numbers) in enumerate(self._cells()):
            left = self.columns.left(box, place)
            edge = left + self.columns.width(box) - 6
            begin = left + 3 * SIGN
            words, spot = short.glyphs(_on_baseline(baseline, short, (begin, edge)))
            small, under = numbers.glyphs(
                _on_baseline(baseline + _MARKS_DOWN, numbers, (begin, edge))
            )
            canvas.decorate(*sign(status, left + SIGN, baseline - 2.9))
            canvas.put([*words, *small], (*path, Element("TD", f"{base}.{place}")))
            canvas.take((left, spot[1], max(spot[2], under[2]), under[3]), "cell")
        canvas.rule(box[0], box[2], box[3], 0.2)


def _table(
    setter: Typesetter, report: MarketReport, columns: MarketColumns, key: str
) -> Sequence[Unit]:
    """Return a table: its head and its rows, the first two and the last two kept together.

    That is for a table longer than a page; one that a page holds is kept together whole.
    """
    head = MarketsHeading(setter, report, columns, key)
    made = [
        PatternRow(setter, row, columns, key, n, head=head) for n, row in enumerate(report.rows)
    ]
    if len(made) > 1:
        made[0].keep = made[-2].keep = True
    return [head, *made]
