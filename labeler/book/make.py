"""The book put together: sections in their order, each page drawn when it is its turn."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from functools import partial
from typing import NamedTuple

from labeler.book.contents import code_units, contents_units, index_units
from labeler.book.context import BookContext
from labeler.book.cover import Cover
from labeler.book.edition import Edition
from labeler.book.flow import FilledPage, Unit, flow
from labeler.book.order_form import form_heads, form_rows
from labeler.book.pattern_page import pattern_pages
from labeler.book.terms import market_units, terms_units
from labeler.book.typesetting import Canvas, StructurePath, validate_page
from labeler.findings import Finding, LabelerError
from labeler.marks import BookPage, Claim, Element, Heading
from labeler.memory import gc_paused


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
