"""The book put together: sections in their order, each page drawn when it is its turn."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from functools import partial
from pathlib import Path

from labeler.book.contents import code_units, contents_units, index_units
from labeler.book.cover import Cover, plate_units, title_of
from labeler.book.edition import Edition, PatternEntry, entries_of
from labeler.book.flow import (
    ColumnBox,
    FilledPage,
    Paragraph,
    Unit,
    draw_furniture,
    flow,
    frame_of_pages,
    is_small,
    validate_page,
)
from labeler.book.order_form import order_heads, order_units
from labeler.book.pattern_page import Anatomy, PatternOpening, title_units
from labeler.book.price_table import table_units
from labeler.book.terms import Markets, terms_units
from labeler.book.typesetting import Canvas, Typesetter
from labeler.findings import Finding, LabelerError
from labeler.memory import gc_paused
from labeler.press.leaf import BookPage, Claim, Element, Heading


@dataclass(slots=True)
class Book:
    """A book laid out: pages to be drawn in any order, and its outline."""

    pages: list[Callable[[], BookPage]] = field(default_factory=list)
    headings: list[Heading] = field(default_factory=list)
    findings: list[Finding] = field(default_factory=list)
    starts: dict[str, int] = field(default_factory=dict)
    """On which page, counted from 1, each anchor lies."""


@dataclass(slots=True)
class _Section:
    """What follows one heading of the outline: its pages, laid out.

    ``pattern`` is the code of the pattern that it is about; empty where it is about none.
    """

    anchor: str
    title: str
    pages: list[FilledPage]
    pattern: str = ""


@gc_paused()
def make_book(edition: Edition) -> Book:
    """Lay out the whole book.

    Raises:
        LabelerError: with everything that does not fit, each with the pattern or SKU it is about.
    """
    return _BookMaker(edition).book()


class _BookMaker:
    def __init__(self, edition: Edition) -> None:
        self.edition = edition
        self.setter = Typesetter(Path(edition.catalog.folder))
        self.frame = frame_of_pages(edition)
        self.small = is_small(edition)
        self.entries = entries_of(edition.products)
        self.cover = Cover(self.setter, edition, self.entries)
        self.made = Book()

    def book(self) -> Book:
        patterns, faults = self._patterns()
        if faults:
            raise LabelerError(faults)
        rest = self._rest()
        titles = [(section.title, section.anchor) for section in rest]
        contents = self._contents(titles)
        sections = [contents, *patterns, *rest]
        self._number(sections)
        self.made.pages = [self._cover_page(self.cover.front)]
        for section in sections:
            for laid in section.pages:
                folio = len(self.made.pages) + 1
                self.made.pages.append(partial(self._page, laid, section, folio))
        self.made.pages.append(self._cover_page(self.cover.back))
        self._outline(contents, patterns, rest)
        return self.made

    def _number(self, sections: Sequence[_Section]) -> None:
        """Say on which page each section begins: the cover is page 1."""
        page = 2
        for section in sections:
            self.made.starts[section.anchor] = page
            page += len(section.pages)
        self.made.starts["cover"] = 1
        self.made.starts["back"] = page

    def _outline(
        self, contents: _Section, patterns: Sequence[_Section], rest: Sequence[_Section]
    ) -> None:
        line = tuple(Heading(section.title, section.anchor) for section in patterns)
        self.made.headings = [
            Heading("Cover", "cover"),
            Heading(contents.title, contents.anchor),
            Heading("The patterns", patterns[0].anchor, line),
            *(Heading(section.title, section.anchor) for section in rest),
        ]

    def _page_of(self, anchor: str) -> int:
        return self.made.starts.get(anchor, 0)

    def _patterns(self) -> tuple[list[_Section], list[Finding]]:
        sections: list[_Section] = []
        faults: list[Finding] = []
        for entry in self.entries:
            try:
                sections.append(self._pattern(entry))
            except LabelerError as error:
                faults += error.findings
        return sections, faults

    def _pattern(self, entry: PatternEntry) -> _Section:
        path = (Element("Sect", entry.anchor),)
        folder = Path(self.edition.catalog.folder)
        tall = self.frame.measure * (0.36 if self.small else 0.40)
        units: list[Unit] = [
            *title_units(self.setter, entry, path, self.small),
            PatternOpening(self.setter, entry, path, folder, self.made.findings),
            Anatomy(self.setter, self.edition, entry.face, path, tall, gap=20),
        ]
        plate = plate_units(self.setter, self.edition, entry, path)
        plate[0].gap = 26
        plate[0].keep = len(plate) == 1
        units += plate
        table = table_units(self.setter, self.edition, entry, path, self.frame.measure)
        table[0].gap = 24
        units += table
        pages = flow(units, self.frame.columns, where=entry.pattern.name)
        if _fills(pages[0], units[3], self.frame.columns[0]):
            pages = flow(units, self.frame.columns, where=entry.pattern.name)
        return _Section(entry.anchor, entry.pattern.name, pages, entry.pattern.code)

    def _section(
        self, anchor: str, title: str, units: Callable[[tuple[Element, ...]], Sequence[Unit]]
    ) -> _Section:
        path = (Element("Sect", anchor),)
        head = self._title(title, anchor, path)
        pages = flow([head, *units(path)], self.frame.columns, where=title)
        return _Section(anchor, title, pages)

    def _title(self, title: str, anchor: str, path: tuple[Element, ...]) -> Paragraph:
        words = self.setter.words("book-pattern", title, scale=0.58 if self.small else 0.72)
        return Paragraph(words, (*path, Element("H1", f"{anchor}.title")), gap=0, keep=True,
                         anchor=anchor, rule_below=9)  # fmt: skip

    def _contents(self, rest: Sequence[tuple[str, str]]) -> _Section:
        def units(path: tuple[Element, ...]) -> Sequence[Unit]:
            return contents_units(self.setter, self.entries, rest, self._page_of, path)

        return self._section("contents", "Contents", units)

    def _rest(self) -> list[_Section]:
        setter, edition, entries = self.setter, self.edition, self.entries
        markets = Markets(setter, edition, entries)
        sections = [
            self._section("colors", "Color index", lambda path: _spaced(
                index_units(setter, edition, entries, self._page_of, path))),
            self._section("markets", "Materials and markets",
                          lambda path: markets.units(path, self.small)),
        ]  # fmt: skip
        if edition.catalog.file.maker.links:
            measure = self.frame.measure
            sections.append(
                self._section(
                    "codes",
                    "Codes to scan",
                    lambda path: code_units(setter, entries, path, measure),
                )
            )
        sections.append(
            self._section(
                "terms", "Terms", lambda path: _spaced(terms_units(setter, edition, path))
            )
        )
        if edition.for_dealers:
            sections.append(self._order_form())
        return sections

    def _order_form(self) -> _Section:
        """Lay out the form: its heads across the page, its rows in columns below them."""
        path = (Element("Sect", "order"),)
        heads: list[Unit] = [self._title("Order form", "order", path)]
        heads += order_heads(self.setter, self.edition, path, self.small)
        first = flow(heads, self.frame.columns, where="Order form")[0]
        below = max(box[3] for _, box in first.units) + 14
        count = 1 if self.small else 2
        rows = list(order_units(self.setter, self.edition, self.entries, path))
        shorter: tuple[ColumnBox, ...] = self.frame.split(count, top=below)
        pages = flow(rows, shorter, self.frame.split(count), where="Order form")
        pages[0].units[:0] = first.units
        return _Section("order", "Order form", pages)

    def _canvas(self) -> Canvas:
        edition = self.edition
        return Canvas(edition.width, edition.height, edition.bleed, edition.ink == "black")

    def _page(self, laid: FilledPage, section: _Section, folio: int) -> BookPage:
        canvas = self._canvas()
        running = section.title
        if section.pattern:
            whole = (0.0, 0.0, canvas.width, canvas.height)
            canvas.claim(Claim("pattern", section.pattern, (), whole), "pattern")
        maker = f"{self.edition.catalog.file.maker.name} · {title_of(self.edition)}"
        draw_furniture(canvas, self.setter, self.frame, maker, running, folio)
        laid.draw(canvas)
        validate_page(canvas, running, folio)
        return canvas.leaf()

    def _cover_page(self, draw: Callable[[Canvas], None]) -> Callable[[], BookPage]:
        def drawn() -> BookPage:
            canvas = self._canvas()
            draw(canvas)
            validate_page(canvas, "cover", 0)
            return canvas.leaf()

        return drawn


def _fills(page: FilledPage, last: Unit, column: ColumnBox) -> bool:
    """Let the anatomy grow into what its page leaves empty; tell whether it did."""
    unit, box = page.units[-1]
    spare = column.bottom - box[3]
    if unit is not last or not isinstance(unit, Anatomy) or spare < 12:
        return False
    unit.tall += min(spare - 6, column.width * 0.6 - unit.tall)
    return True


def _spaced(units: Sequence[Unit]) -> Sequence[Unit]:
    """Give the first unit air below the title."""
    if units:
        units[0].gap = 14
    return units
