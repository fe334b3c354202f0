"""The book put together: sections in their order, each page drawn when it is its turn.

A pattern's pages hold its name, its story and facts, its anatomy, its colours, and its prices.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from functools import partial
from typing import NamedTuple

from labeler.book.edition import Edition, PatternEntry, weight_text
from labeler.book.figures import Anatomy, Cover, plate_units
from labeler.book.order_form import form_heads, form_rows
from labeler.book.sections import code_units, contents_units, index_units, market_units, terms_units
from labeler.book.tables import table_units
from labeler.book.typesetting import (
    BookContext,
    Canvas,
    FilledPage,
    Labelled,
    Paragraph,
    Stack,
    StructurePath,
    Unit,
    Words,
    flow,
    validate_page,
)
from labeler.catalog.model import Product
from labeler.disclosures import statements
from labeler.drawing.photos import prepare, proportion
from labeler.findings import Finding, LabelerError, Place
from labeler.geometry import Box
from labeler.marks import BookPage, Claim, Element, Heading, Picture
from labeler.memory import gc_paused


def pattern_pages(book: BookContext, entry: PatternEntry, path: StructurePath) -> list[FilledPage]:
    """Return the pages of a pattern.

    Raises:
        LabelerError: with what does not fit.
    """
    frame = book.frame
    tall = frame.measure * (0.36 if book.edition.small else 0.40)
    anatomy = Anatomy(book, entry.face, path, tall, gap=20)
    plate = plate_units(book, entry, path)
    plate[0].gap = 26
    plate[0].keep = len(plate) == 1
    table = table_units(book, entry, path)
    table[0].gap = 24
    opening = [*_title(book, entry, path), PatternOpening(book, entry, path, gap=12)]
    units = [*opening, anatomy, *plate, *table]
    pages = flow(units, frame.columns(), where=entry.pattern.name)
    unit, box = pages[0].units[-1]
    column = frame.columns()[0]
    spare = column.bottom - box[3]
    if unit is anatomy and spare >= 12:
        # The anatomy grows into what its page leaves empty.
        anatomy.tall += min(spare - 6, column.width * 0.6 - tall)
        pages = flow(units, frame.columns(), where=entry.pattern.name)
    return pages


def _title(book: BookContext, entry: PatternEntry, path: StructurePath) -> list[Unit]:
    """Return the pattern's kind and its name, which keep what follows."""
    pattern, key = entry.pattern, path[-1].key
    place = Place(piece=pattern.name, block="name")
    kind = book.setter.words("book-running", pattern.kind, place=place, lines=2)
    name = book.setter.words(
        "book-pattern", pattern.name, place=place, lines=4,
        scale=0.72 if book.edition.small else 1.0 if len(pattern.name) < 36 else 0.74,
    )  # fmt: skip
    return [
        Paragraph(kind, (*path, Element("P", f"{key}.kind")), gap=0, keep=True),
        Paragraph(name, (*path, Element("H1", f"{key}.name")), gap=5, keep=True,
                  anchor=entry.anchor, rule_below=9),
    ]  # fmt: skip


def facts_of_entry(entry: PatternEntry) -> list[tuple[str, str]]:
    """Return fields and their values, in the order in which a buyer asks."""
    first, pattern = entry.products[0], entry.pattern
    alloy = first.alloy.name
    if not alloy[1:2].isupper():
        alloy = alloy[:1].lower() + alloy[1:]
    weights = dict.fromkeys(weight_text(group.weight) for group in entry.groups)
    hooks = dict.fromkeys(group.hook_size for group in entry.groups if group.hook_size)
    packs = sorted({product.pattern.pack for product in entry.products})
    length = str(pattern.length).replace(" in", "\N{NO-BREAK SPACE}in") if pattern.length else ""
    facts = (
        ("Weights", ", ".join(weights)),
        ("Hook", ", ".join(filter(None, (first.hook.name, *hooks)))),
        ("Head", f"{first.head.name}, {alloy}"),
        ("Guard", first.guard.name if first.guard else ""),
        ("Length", length),
        ("Colors", str(len(entry.colourways))),
        ("Pack", ", ".join(map(str, packs))),
        ("Case", f"{pattern.case} packs" if pattern.case else ""),
        ("Tied in", _tied_in(entry.products)),
    )
    return [(name, value) for name, value in facts if value]


def _tied_in(products: Sequence[Product]) -> str:
    """Return where they are tied, and of the US, what of any is imported; nothing that is not told.

    A bare "Tied in USA" would claim that all of it is of US origin: 16 CFR 323.2.
    """
    where = statements.country(products[0], ()) or ""
    parts = {statements.imports(each, ()) for each in products}
    if products[0].pattern.made_in != "US":
        return where
    if None in parts:
        return ""
    foreign = [each for each in parts if each and not each.startswith("US ")]
    named = foreign[0] if len(foreign) == 1 else "imported parts"
    return f"{where}, with {named}" if foreign else where


_BETWEEN = 24.0
_FACTS_SHARE, _FACTS_LEAST = 0.36, 118.0
_PHOTO_MOST = 150.0


@dataclass(slots=True)
class PatternOpening(Unit):
    """Story (and photo, if there is one) on the left; facts in a column on the right."""

    book: BookContext
    entry: PatternEntry
    path: StructurePath
    _facts: Stack = field(init=False)

    def __post_init__(self) -> None:
        place = Place(piece=self.entry.pattern.name, block="facts")
        words = self.book.setter.words
        key = f"{self.path[-1].key}.facts"
        listed = (*self.path, Element("L", key))
        self._facts = Stack([
            Labelled(words("field", name, place=place),
                     words("book-cell", value, place=place, scale=1.06),
                     (*listed, Element("LI", f"{key}.{number}")), 48.0, apart=4.0, pad=3.2, gap=0)
            for number, (name, value) in enumerate(facts_of_entry(self.entry))
        ])  # fmt: skip

    def _story(self) -> Words | None:
        pattern = self.entry.pattern
        if not pattern.story:
            return None
        place = Place(piece=pattern.name, block="story")
        return self.book.setter.words("book-story", " ".join(pattern.story.split()), place=place)

    def _facts_width(self, width: float) -> float:
        return max(_FACTS_LEAST, (width - _BETWEEN) * _FACTS_SHARE)

    def _photo_size(self, product: Product, width: float) -> tuple[float, float]:
        shape = proportion(self.book.folder / "photos" / str(product.photo))
        wide = min(width, _PHOTO_MOST * shape)
        return wide, wide / shape

    def height(self, width: float) -> float:
        """Return the height of the higher column."""
        right = self._facts_width(width)
        left = width - _BETWEEN - right
        story, photo = self._story(), self.entry.photo
        high = story.height(left) if story else 0.0
        if photo:
            high += self._photo_size(photo, left)[1] + (12 if story else 0)
        return max(high, self._facts.height(right))

    def draw(self, canvas: Canvas, box: Box) -> None:
        """Draw both columns."""
        left, y, right, bottom = box
        facts_left = right - self._facts_width(right - left)
        edge = facts_left - _BETWEEN
        story = self._story()
        if story:
            high = story.height(edge - left)
            path = (*self.path, Element("P", f"{self.path[-1].key}.story"))
            canvas.write(story, (left, y, edge, y + high), path)
            y += high + 12
        if self.entry.photo is not None:
            self._draw_photo(canvas, self.entry.photo, (left, y, edge, bottom))
        self._facts.draw(canvas, (facts_left, box[1], right, bottom))

    def _draw_photo(self, canvas: Canvas, product: Product, box: Box) -> None:
        wide, tall = self._photo_size(product, box[2] - box[0])
        image, findings = prepare(self.book.folder / "photos" / str(product.photo), wide, tall)
        self.book.findings += findings
        says = f"Photograph: {product.name}"
        figure = Element("Figure", f"{self.path[-1].key}.photo", says=says)
        canvas.put([Picture(box[0], box[1], wide, tall, image)], (*self.path, figure))
        canvas.take((box[0], box[1], box[0] + wide, box[1] + tall), "photo")


class Section(NamedTuple):
    """A heading of the outline, and what yields the units below its title."""

    anchor: str
    title: str
    units: Callable[[BookContext, StructurePath], Sequence[Unit]]
    asked: Callable[[Edition], bool] = lambda _: True
    """Whether an edition has it."""
    rows: Callable[[BookContext, StructurePath], Sequence[Unit]] | None = None
    """What yields units that stand in two columns below the others, if any do."""


_CONTENTS = Section("contents", "Contents", contents_units)

_AFTER_PATTERNS = (
    Section("colors", "Color index", index_units),
    Section("markets", "Materials and markets", market_units),
    Section("codes", "Codes to scan", code_units, lambda e: bool(e.catalog.file.maker.links)),
    Section("terms", "Terms", terms_units),
    Section("order", "Order form", form_heads, lambda e: e.for_dealers, form_rows),
)


@dataclass(slots=True)
class Book:
    """A book laid out: pages to be drawn in any order, and its outline."""

    pages: list[Callable[[], BookPage]] = field(default_factory=list)
    headings: list[Heading] = field(default_factory=list)
    findings: list[Finding] = field(default_factory=list)
    starts: dict[str, int] = field(default_factory=dict)
    """On which page, counted from 1, each anchor lies."""


class _Chapter(NamedTuple):
    """The pages under one heading, laid out; ``pattern`` is a pattern's code, or empty."""

    heading: Heading
    pages: list[FilledPage]
    pattern: str = ""


@gc_paused()
def make_book(edition: Edition) -> Book:
    """Lay out the whole book.

    Raises:
        LabelerError: with everything that does not fit, each with the pattern or SKU it is about.
    """
    context = BookContext(edition)
    patterns = _pattern_chapters(context)
    after = [section for section in _AFTER_PATTERNS if section.asked(edition)]
    context.headings = [(section.title, section.anchor) for section in after]
    later = [_chapter(context, section) for section in after]
    contents = _chapter(context, _CONTENTS)
    cover = Cover(context)
    book = Book([partial(_cover_page, context, cover.front)], findings=context.findings,
                starts=context.starts)  # fmt: skip
    context.starts["cover"] = 1
    for chapter in (contents, *patterns, *later):
        context.starts[chapter.heading.anchor] = len(book.pages) + 1
        for page in chapter.pages:
            book.pages.append(partial(_page, context, chapter, page, len(book.pages) + 1))
    book.pages.append(partial(_cover_page, context, cover.back))
    context.starts["back"] = len(book.pages)
    line = tuple(chapter.heading for chapter in patterns)
    book.headings = [
        Heading("Cover", "cover"),
        contents.heading,
        Heading("The patterns", line[0].anchor, line),
        *(chapter.heading for chapter in later),
    ]
    return book


def _pattern_chapters(context: BookContext) -> list[_Chapter]:
    chapters: list[_Chapter] = []
    faults: list[Finding] = []
    for entry in context.entries:
        try:
            pages = pattern_pages(context, entry, (Element("Sect", entry.anchor),))
        except LabelerError as error:
            faults += error.findings
        else:
            heading = Heading(entry.pattern.name, entry.anchor)
            chapters.append(_Chapter(heading, pages, entry.pattern.code))
    if faults:
        raise LabelerError(faults)
    return chapters


def _chapter(context: BookContext, section: Section) -> _Chapter:
    """Lay out a section below its title."""
    path = (Element("Sect", section.anchor),)
    frame, title = context.frame, section.title
    units = [context.title(title, section.anchor, path), *section.units(context, path)]
    pages = flow(units, frame.columns(), where=title)
    if section.rows:
        below = max(box[3] for _, box in pages[0].units) + 14
        count = 1 if context.edition.small else 2
        first = pages[0].units
        pages = flow(
            section.rows(context, path),
            frame.columns(count, top=below),
            frame.columns(count),
            where=title,
        )
        pages[0].units[:0] = first
    return _Chapter(Heading(title, section.anchor), pages)


def _page(context: BookContext, chapter: _Chapter, filled: FilledPage, folio: int) -> BookPage:
    canvas = context.canvas()
    title = chapter.heading.title
    if chapter.pattern:
        whole = (0.0, 0.0, canvas.width, canvas.height)
        canvas.claim(Claim("pattern", chapter.pattern, (), whole), "pattern")
    context.draw_furniture(canvas, title, folio)
    filled.draw(canvas)
    validate_page(canvas, title, folio)
    return canvas.page()


def _cover_page(context: BookContext, draw: Callable[[Canvas], None]) -> BookPage:
    canvas = context.canvas()
    draw(canvas)
    validate_page(canvas, "cover", 0)
    return canvas.page()
