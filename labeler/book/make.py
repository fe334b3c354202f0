"""The book put together: sections in their order, each page drawn when it is its turn.

A pattern's pages hold its name, its story and facts, its anatomy, its colours, and its prices.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, field, replace
from functools import partial
from itertools import chain
from typing import NamedTuple

from labeler.book.edition import Edition, PatternEntry, photo_says, weight_text
from labeler.book.figures import Anatomy, Cover, caption, line_units, plate_units
from labeler.book.order_form import form_heads, form_rows
from labeler.book.price_list import price_units
from labeler.book.sections import (
    code_units,
    contents_units,
    index_units,
    market_units,
    sku_units,
    terms_units,
    weight_units,
)
from labeler.book.tables import BodyRow, table_units
from labeler.book.typesetting import (
    GREY,
    BookContext,
    Canvas,
    FilledPage,
    Labelled,
    Paragraph,
    SharedPages,
    Stack,
    StructurePath,
    Unit,
    Words,
    flow,
    validate_page,
)
from labeler.catalog.model import Product
from labeler.disclosures import statements
from labeler.drawing.jig_photos import jig_photo, jig_proportion, prepare_jig
from labeler.findings import Finding, Place, read_each
from labeler.geometry import Box
from labeler.marks import BookPage, Claim, Element, Heading, Picture
from labeler.memory import gc_paused


class _Spread:
    """A pattern's pages: an even number of them, so that the next one's plate is on the left too.

    The plate is on a left page and all its colours and prices face it, where they have room
    there. Of a longer pattern the colours stand with the plate, or face it, and the prices
    follow.
    """

    def __init__(self, book: BookContext, entry: PatternEntry, path: StructurePath) -> None:
        self.book, self.entry, self.path = book, entry, path
        self.width = book.frame.measure
        self.anatomy = Anatomy(book, entry.face, path, 0.0, gap=18)
        self.opening = [
            *_title(book, entry, path), PatternOpening(book, entry, path, gap=12)
        ]  # fmt: skip
        self.table = table_units(book, entry, path)
        self.table[0].gap = 20.0
        most = (2, 3) if book.edition.small else (2, 3, 4)
        if sum(bool(each.colour.layers) for each in entry.colourways) == 2:
            most = (1, *most)
        alone = len(entry.colourways) == 1 and bool(entry.face.colour.layers)
        self.plates = [[] if alone else plate_units(book, entry, path, each) for each in most]

    def pages(self) -> list[FilledPage]:
        """Return the pages, in the first way in which they come out even."""
        if self.book.edition.slim:
            return [*self._left(), *self._flow([*self.plates[0], *self.table])]
        for plate in self.plates:
            right = self._flow([*plate, *self.table])
            if len(right) == 1:
                return self._evened([*self._left(), *right])
        prices = self._flow(self.table)
        if len(prices) % 2:
            for share in (0.27, 0.2):
                for plate in self.plates[1:]:
                    left = self._left(plate, share)
                    if len(left) == 1:
                        return [*left, *prices]
        ways = [[*self._left(), *self._flow([*plate, *self.table])] for plate in self.plates]
        ways += [[*self._left(), *self._flow(plate), *prices] for plate in self.plates if plate]
        return next((pages for pages in ways if len(pages) % 2 == 0), self._evened(ways[0]))

    def _flow(self, units: Sequence[Unit]) -> list[FilledPage]:
        return flow(units, self.book.frame.columns(), where=self.entry.pattern.name)

    def _evened(self, pages: list[FilledPage]) -> list[FilledPage]:
        return [*pages, notes_page(self.book)] if len(pages) % 2 else pages

    def _left(self, plate: Sequence[Unit] = (), share: float = 0.0) -> list[FilledPage]:
        """Return the plate's page; the figure grows into what is left empty.

        Args:
            plate: the colours that stand below it, if they do.
            share: how high the figure is at the least, of the text's width; 0 for as usual.
        """
        share = share or (0.36 if self.book.edition.small else 0.40)
        self.anatomy = replace(self.anatomy, tall=self.width * share)
        pages = self._flow([*self._plate_page(), *plate])
        spare = self.book.frame.columns()[0].bottom - pages[0].bottom
        if len(pages) == 1 and spare >= 12:
            grown = replace(self.anatomy, tall=self.anatomy.tall + spare - 6)
            self.anatomy, before = grown, self.anatomy
            larger = self._flow([*self._plate_page(), *plate])
            if len(larger) == 1:
                return larger
            self.anatomy = before
        return pages

    def _plate_page(self) -> list[Unit]:
        element = Element("P", f"{self.path[-1].key}.caption")
        below = caption(self.book, self.anatomy.says(self.width), (*self.path, element), 9.0)
        self.anatomy.keep = True
        return [*self.opening, self.anatomy, below]


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
    weights = dict.fromkeys(weight_text(group.weight) for group in entry.groups)
    hooks = dict.fromkeys(group.hook_size for group in entry.groups if group.hook_size)
    packs = sorted({product.pattern.pack for product in entry.products})
    length = str(pattern.length).replace(" in", "\N{NO-BREAK SPACE}in") if pattern.length else ""
    facts = (
        ("Weights", ", ".join(weights)),
        ("Hook", ", ".join(filter(None, (first.hook.name, *hooks)))),
        ("Head", f"{first.head.name}, {statements.alloy(first, ())}"),
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


@dataclass(slots=True)
class RuledLines(Unit):
    """Lines to write on, down to the foot of the page."""

    book: BookContext

    def height(self, width: float) -> float:
        """Return what a page has room for below its first line."""
        frame = self.book.frame
        return frame.height - frame.top - frame.foot - 40

    def draw(self, canvas: Canvas, box: Box) -> None:
        """Draw the lines."""
        y = box[1] + 24
        while y <= box[3]:
            canvas.rule(box[0], box[2], y, 0.25, GREY)
            y += 24


def notes_page(book: BookContext) -> FilledPage:
    """Return a page to write on: it keeps the plates after it on left pages."""
    words = book.setter.words("field", "Notes", place=Place(block="notes"))
    units: list[Unit] = [Paragraph(words, (), keep=True), RuledLines(book)]
    return flow(units, book.frame.columns(), where="notes")[0]


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
        shape = jig_proportion(jig_photo(self.book.folder, str(product.photo)))
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
            high += self._photo_caption(photo).height(left) + 5
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

    def _photo_caption(self, product: Product) -> Words:
        place = Place(piece=product.sku, block="photo's caption")
        return self.book.setter.words("note", photo_says(product), place=place, least=5.0)

    def _draw_photo(self, canvas: Canvas, product: Product, box: Box) -> None:
        wide, tall = self._photo_size(product, box[2] - box[0])
        photo = jig_photo(self.book.folder, str(product.photo))
        image, findings = prepare_jig(photo, wide, tall)
        below = self._photo_caption(product)
        path = (*self.path, Element("P", f"{self.path[-1].key}.photo.caption"))
        top = box[1] + tall + 4
        canvas.write(below, (box[0], top, box[2], top + 30), path)
        self.book.findings += findings
        says = f"Photograph: {product.name}"
        figure = Element("Figure", f"{self.path[-1].key}.photo", says=says)
        canvas.put([Picture(box[0], box[1], wide, tall, image)], (*self.path, figure))
        canvas.take((box[0], box[1], box[0] + wide, box[1] + tall), "photo")


class Section(NamedTuple):
    """A heading of the outline, and what yields the units below its title."""

    anchor: str
    title: str
    units: Callable[[BookContext, StructurePath], Sequence[Unit]] = lambda *_: ()
    asked: Callable[[Edition], bool] = lambda _: True
    """Whether an edition has it."""
    rows: Callable[[BookContext, StructurePath], Sequence[Unit]] | None = None
    """What yields units that stand in columns below the others, if any do."""
    columns: int = 1
    """How many columns these stand in; in a booklet half as many."""
    fresh: bool = False
    """Whether it begins on a page of its own."""


_CONTENTS = Section("contents", "Contents", contents_units)
_LINE = Section("line", "The line at one scale")
_PRICES = Section("prices", "Price list", price_units)
_FRONT = (_CONTENTS, _LINE)


def _many(edition: Edition) -> bool:
    return not edition.slim


_AFTER_PATTERNS = (
    Section("colors", "Color index", index_units, _many),
    Section("weights", "Weight index", asked=_many, rows=weight_units, columns=2),
    Section("skus", "SKU index", asked=_many, rows=sku_units, columns=4),
    Section("markets", "Materials and markets", market_units),
    Section("codes", "Codes to scan", code_units, lambda e: bool(e.catalog.file.maker.links)),
    Section("terms", "Terms", terms_units),
    Section("order", "Order form", form_heads, lambda e: e.for_dealers, form_rows, 1, True),
)


@dataclass(slots=True)
class Book:
    """A book laid out: pages to be drawn in any order, and its outline."""

    pages: list[Callable[[], BookPage]] = field(default_factory=list)
    headings: list[Heading] = field(default_factory=list)
    findings: list[Finding] = field(default_factory=list)
    starts: dict[str, int] = field(default_factory=dict)
    """On which page, counted from 1, each anchor lies."""


@dataclass(slots=True)
class _Leaf:
    """A page before it is drawn; ``entry`` is the pattern that it is about, if it is about one."""

    running: str
    page: FilledPage
    entry: PatternEntry | None = None


@gc_paused()
def make_book(edition: Edition) -> Book:
    """Lay out the whole book.

    Plates stand on even pages, which lie on the left of an open book.

    Raises:
        LabelerError: with everything that does not fit, each with the pattern or SKU it is about.
    """
    context = BookContext(edition)
    if edition.prices:
        return _price_list(context)
    patterns = _pattern_leaves(context)
    after = [section for section in _AFTER_PATTERNS if section.asked(edition)]
    listed = after if edition.slim else [_LINE, *after]
    context.headings = [(section.title, section.anchor) for section in listed]
    front = [] if edition.slim else _front(context)
    last = [patterns[-1].page] if edition.slim else []
    shared = SharedPages(context.frame, last, 16.0 if edition.slim else 26.0)
    for section in after:
        _add(context, shared, section)
    leaves = [*front, *patterns, *_leaves(shared.pages[1:] if edition.slim else shared.pages)]
    cover = Cover(context)
    book = Book([partial(_cover_page, context, cover.front)], findings=context.findings,
                starts=context.starts)  # fmt: skip
    context.starts["cover"] = 1
    _bind(book, context, leaves)
    if edition.backed:
        book.pages.append(partial(_cover_page, context, cover.back))
        context.starts["back"] = len(book.pages)
    line = tuple(Heading(each.pattern.name, each.anchor) for each in context.entries)
    opening = [] if edition.slim else [Heading(each.title, each.anchor) for each in _FRONT]
    book.headings = [
        Heading("Cover", "cover"),
        *opening,
        Heading("The patterns", line[0].anchor, line),
        *(Heading(section.title, section.anchor) for section in after),
    ]
    return book


def _price_list(context: BookContext) -> Book:
    shared = SharedPages(context.frame)
    _add(context, shared, _PRICES)
    book = Book(findings=context.findings, starts=context.starts)
    book.headings = [Heading(_PRICES.title, _PRICES.anchor)]
    _bind(book, context, _leaves(shared.pages))
    return book


def _bind(book: Book, context: BookContext, leaves: Iterable[_Leaf]) -> None:
    """Add leaves; note on which page each chapter begins, and each SKU's price stands."""
    for folio, leaf in enumerate(leaves, len(book.pages) + 1):
        anchors = [anchor for anchor, _, _ in leaf.page.sections]
        anchors += [leaf.entry.anchor] if leaf.entry else []
        anchors += [u.anchor for u, _ in leaf.page.units if isinstance(u, BodyRow) and u.anchor]
        for anchor in anchors:
            context.starts.setdefault(anchor, folio)
        book.pages.append(partial(_page, context, leaf, folio))


def _pattern_leaves(context: BookContext) -> list[_Leaf]:
    def leaves_on(entry: PatternEntry) -> list[_Leaf]:
        running = f"{entry.pattern.name} · {entry.pattern.code}"
        pages = _Spread(context, entry, (Element("Sect", entry.anchor),)).pages()
        return [_Leaf(running, page, entry) for page in pages]

    return list(chain.from_iterable(read_each(leaves_on, context.entries)))


def _front(context: BookContext) -> list[_Leaf]:
    """Return contents and the whole line at one scale: an even number of pages."""
    best: list[FilledPage] = []
    for most in (2, 3, 4, 5):
        shared = SharedPages(context.frame)
        _add(context, shared, _CONTENTS)
        begun = len(shared.pages)
        _add(context, shared, _LINE._replace(units=partial(line_units, most=most), fresh=True))
        best = best or shared.pages
        if len(shared.pages) % 2 == 0:
            best = shared.pages
            if len(best) - begun == 1:
                break
    if len(best) % 2:
        blank = notes_page(context)
        blank.sections = [(_LINE.anchor, context.frame.top, blank.bottom)]
        best = [*best, blank]
    return _leaves(best)


def _add(context: BookContext, shared: SharedPages, section: Section) -> None:
    path = (Element("Sect", section.anchor),)
    small = context.edition.small
    head = [context.title(section.title, section.anchor, path), *section.units(context, path)]
    rows = section.rows(context, path) if section.rows else ()
    shared.add(
        section.anchor, head, rows, where=section.title,
        fresh=section.fresh and not context.edition.slim,
        count=-(-section.columns // 2) if small else section.columns,
    )  # fmt: skip


def _leaves(pages: Sequence[FilledPage]) -> list[_Leaf]:
    """Return pages under the title of the first section on each."""
    titles = {section.anchor: section.title for section in (*_FRONT, *_AFTER_PATTERNS, _PRICES)}
    return [_Leaf(titles[page.sections[0][0]] if page.sections else "", page) for page in pages]


def _page(context: BookContext, leaf: _Leaf, folio: int) -> BookPage:
    canvas = context.canvas()
    if leaf.entry:
        whole = (0.0, 0.0, canvas.width, canvas.height)
        canvas.claim(Claim("pattern", leaf.entry.pattern.code, (), whole), "pattern")
        if not context.edition.slim:
            context.draw_tab(canvas, leaf.entry, folio)
    context.draw_furniture(canvas, leaf.running, folio)
    leaf.page.draw(canvas)
    validate_page(canvas, leaf.running, folio)
    return canvas.page()


def _cover_page(context: BookContext, draw: Callable[[Canvas], None]) -> BookPage:
    canvas = context.canvas()
    draw(canvas)
    validate_page(canvas, "cover", 0)
    return canvas.page()
