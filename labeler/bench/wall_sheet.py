"""The sheet to hang on the wall: the table of markets above, the rules behind it below.

One page if that holds it in letters that can be read, else as few as it takes.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from labeler.bench.wall_signs import Key
from labeler.bench.wall_table import Columns, Title, rows_of
from labeler.book.canvas import Canvas
from labeler.book.edition import Paper, page_size
from labeler.book.flow import Column, Laid, Unit, flow
from labeler.book.look_over import look_over
from labeler.book.setter import Setter
from labeler.book.units import Labelled, Paragraph
from labeler.disclosures.rules import NO_LEGAL_ADVICE
from labeler.findings import Place
from labeler.press.leaf import Element, Leaf

if TYPE_CHECKING:
    from labeler.bench.market_table import Behind
    from labeler.bench.markets import MarketReport


_SIDE, _TOP, _FOOT = 40.0, 38.0, 44.0
_UPRIGHT, _LYING = 6, 12
"""How many markets stand side by side on an upright page, and on one that lies."""

_NAMES = 142.0
_GUTTER = 20.0
_SIZES = (1.0, 0.93, 0.86)
"""Sizes of the small print: the largest of those that take the fewest pages is taken."""

_ABOVE_ADVICE = 15.0
_LEAST_ROOM = 90.0
"""Points: below a table with less room than this, the rules begin on the next page."""


@dataclass(frozen=True, slots=True)
class WallPage:
    """One page, laid out."""

    laid: Laid
    width: float
    height: float
    setter: Setter
    foot: str

    def leaf(self) -> Leaf:
        """Draw the page.

        Raises:
            LabelerError: if something on it lies on something else.
        """
        canvas = Canvas(self.width, self.height)
        self.laid.draw(canvas)
        words = self.setter.words("book-running", self.foot, lines=1, least=3.0)
        y = self.height - _FOOT + 16
        marks, ink = words.glyphs((_SIDE, y, self.width - _SIDE, y + 12), "right")
        canvas.decorate(*marks)
        canvas.take(ink, "foot")
        look_over(canvas, "wall sheet", 0)
        return canvas.leaf()


def wall_pages(report: MarketReport, paper: Paper, own: Path) -> list[WallPage]:
    """Lay the sheet out.

    Args:
        report: the table.
        paper: upright, or lying where many markets stand side by side.
        own: the catalog folder, whose own fonts and styles go before ours.

    Raises:
        LabelerError: if a face lacks letters, or a name does not fit.
    """
    width, height = page_size(paper, booklet=False)
    if len(report.markets) > _UPRIGHT:
        width, height = height, width
    setter = Setter(own)
    sheet = _Sheet(setter, report, width, height)
    pages = min((sheet.lay(size) for size in _SIZES), key=len)
    foot = f"{report.maker} · {report.day.isoformat()}"
    return [
        WallPage(laid, width, height, setter, f"{foot} · page {number} of {len(pages)}")
        for number, laid in enumerate(pages, 1)
    ]


@dataclass(frozen=True, slots=True)
class _Sheet:
    setter: Setter
    report: MarketReport
    width: float
    height: float

    def lay(self, size: float) -> list[Laid]:
        """Return the pages with the small print in this size."""
        page = Column(_SIDE, _TOP, self.width - _SIDE, self.height - _FOOT)
        pages = flow(self._tables(), (page,), where="wall sheet")
        below = max(box[3] for _, box in pages[-1].units) + 16
        if below > page.bottom - _LEAST_ROOM:
            pages.append(Laid())
            below = _TOP
        notes = self._notes(size)
        end = self._closing(size)
        room = sum(unit.height(page.width) for unit in end) + _ABOVE_ADVICE
        first = self._split(below, page.bottom - room)
        rest = flow(notes, first, self._split(_TOP, page.bottom - room), where="wall sheet")
        rest, bottom = self._balanced(notes, rest, below)
        pages[-1].units += rest[0].units
        pages += rest[1:]
        last = Column(_SIDE, bottom, page.right, page.bottom)
        pages[-1].units += flow(end, (last,), where="wall sheet")[0].units
        return pages

    def _tables(self) -> Sequence[Unit]:
        units: list[Unit] = [Title(self.setter, self.report)]
        count = len(self.report.markets)
        abreast = _UPRIGHT if count <= _UPRIGHT else _LYING
        each = math.ceil(count / math.ceil(count / abreast))
        for number, first in enumerate(range(0, count, each)):
            places = tuple(range(first, min(first + each, count)))
            columns = Columns(_NAMES, places, each)
            units += rows_of(self.setter, self.report, columns, f"markets.{number}")
        units.append(Key(self.setter))
        return units

    def _split(self, top: float, bottom: float) -> tuple[Column, ...]:
        count = 2 if self.width < self.height else 3
        wide = (self.width - 2 * _SIDE - _GUTTER * (count - 1)) / count
        lefts = (_SIDE + place * (wide + _GUTTER) for place in range(count))
        return tuple(Column(left, top, left + wide, bottom) for left in lefts)

    def _balanced(
        self, notes: Sequence[Unit], pages: list[Laid], top: float
    ) -> tuple[list[Laid], float]:
        """Return the pages with the last one's columns about as long as each other, and its end."""
        if len(pages) > 1:
            before = sum(len(page.units) for page in pages[:-1])
            notes, top = notes[before:], _TOP
        low, high = top + 1, self.height - _FOOT
        best = pages[-1:]
        while high - low > 2:
            middle = (low + high) / 2
            tried = self._on_one_page(notes, top, middle)
            if tried is None:
                low = middle
            else:
                best, high = tried, middle
        return [*pages[:-1], *best], max(box[3] for _, box in best[0].units) + _ABOVE_ADVICE

    def _on_one_page(self, notes: Sequence[Unit], top: float, bottom: float) -> list[Laid] | None:
        columns = self._split(top, bottom)
        tallest = max(unit.height(columns[0].width) for unit in notes)
        if tallest > bottom - top:
            return None
        pages = flow(notes, columns, where="wall sheet")
        return pages if len(pages) == 1 else None

    def _notes(self, size: float) -> Sequence[Unit]:
        path = (Element("Sect", "rules"),)
        head = "The rules behind it"
        said = "Numbers: rules on sale and use. Letters: good to know."
        units: list[Unit] = [
            self._heading(head, path),
            self._note(said, (*path, Element("P", "rules.how")), size),
        ]
        units[-1].keep = True
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

    def _rule(self, one: Behind, path: tuple[Element, ...], size: float) -> Unit:
        place = Place(block=f"rule {one.rule.id}")
        lines = [*one.lines(), one.rule.doubt or "", one.authority]
        rest = "\n".join(line for line in lines if line)
        name = self.setter.words("signal", one.mark, scale=size, least=5.5, place=place)
        words = self.setter.words(
            "note", ("disclosure", f"{one.rule.about}\n"), rest, scale=size, least=5.5, place=place
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

    def _note(self, text: str, path: tuple[Element, ...], size: float) -> Paragraph:
        return Paragraph(self.setter.words("note", text, scale=size, least=5.5), path, gap=5)
