"""The cover, a plate of the line in numbered figures, and the back with the maker's address."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from labeler.book.edition import Edition, PatternEntry
from labeler.book.flow import Unit
from labeler.book.typesetting import PALE, Canvas, Typesetter, Words
from labeler.catalog.model import Maker, Product
from labeler.disclosures.rules import country
from labeler.drawing.jig import draw_jig
from labeler.findings import Place
from labeler.geometry import Box, Matrix
from labeler.layout.picture_blocks import swatch_bar
from labeler.marks import Group, rectangle
from labeler.press.leaf import Element
from labeler.units import NO_BREAK_SPACE

# ----------------------------------------------------------------------------
# A jig's picture in a box: drawn from its recipe, with its swatch bar where it is asked for.


def draw_figure(
    canvas: Canvas, edition: Edition, product: Product, box: Box, path: tuple[Element, ...]
) -> Matrix:
    """Draw the jig as large as ``box`` allows, in its middle; return what moved it there.

    The figure's words, made from the recipe, are its alternative text.
    """
    group = draw_jig(product, ink=edition.ink)
    left, top, right, bottom = group.box
    width, height = box[2] - box[0], box[3] - box[1]
    scale = min(width / (right - left), height / (bottom - top))
    x = box[0] + (width - scale * (right - left)) / 2 - left * scale
    y = box[1] + (height - scale * (bottom - top)) / 2 - top * scale
    matrix = (scale, 0.0, 0.0, scale, x, y)
    key = f"{path[-1].key}.figure"
    figure = Element("Figure", key, says=f"{product.colour.name}, {group.says}")
    canvas.put([Group(matrix, group.marks, group.box, group.key)], (*path, figure))
    canvas.take(
        (x + left * scale, y + top * scale, x + right * scale, y + bottom * scale), "figure"
    )
    return matrix


def draw_swatch(canvas: Canvas, edition: Edition, product: Product, box: Box) -> None:
    """Draw the swatch bar: a field a layer, its width the count of its strands."""
    canvas.decorate(*swatch_bar(product.colour.layers, box, edition.ink))
    canvas.take(box, "swatch")


# ----------------------------------------------------------------------------
# The colour plate: every colourway's figure, its swatch bar, its name beneath, in even rows.

_GUTTER = 20.0
_BAR = 6.0
_SHAPE = 0.56
"""Height to width of the box that a figure gets."""


def even_rows(count: int, most: int) -> list[int]:
    """Return how many stand in each row: as few rows as ``most`` allows, none much shorter.

    Five in rows of at most three are three and two; four are two and two.
    """
    if count < 1:
        return []
    rows = -(-count // most)
    least, longer = divmod(count, rows)
    return [least + (place < longer) for place in range(rows)]


def plate_units(
    setter: Typesetter, edition: Edition, entry: PatternEntry, path: tuple[Element, ...]
) -> list[Unit]:
    """Return the plate's rows. All columns are equally wide, whatever stands in a row."""
    most = 2 if edition.width < 450 else 3
    rows = even_rows(len(entry.colourways), most)
    columns = max(rows)
    units: list[Unit] = []
    first = 0
    for count in rows:
        shown = entry.colourways[first : first + count]
        units.append(PlateRow(setter, edition, shown, columns, path))
        first += count
    return units


@dataclass(slots=True)
class PlateRow:
    """A row of colourways."""

    setter: Typesetter
    edition: Edition
    products: Sequence[Product]
    columns: int
    path: tuple[Element, ...]
    gap: float = 16.0
    keep: bool = False
    head: Unit | None = None

    def _cell(self, width: float) -> float:
        columns = max(self.columns, 2)
        return (width - _GUTTER * (columns - 1)) / columns

    def _names_height(self, cell: float) -> float:
        return max(
            self.setter.words("book-caption", p.colour.name, place=_place(p), lines=4).height(cell)
            for p in self.products
        )

    def height(self, width: float) -> float:
        """Return the height of figure, bar and the highest name."""
        cell = self._cell(width)
        return cell * _SHAPE + 6 + _BAR + 5 + self._names_height(cell)

    def draw(self, canvas: Canvas, box: Box) -> None:
        """Draw each colourway in its column."""
        cell = self._cell(box[2] - box[0])
        for place, product in enumerate(self.products):
            left = box[0] + place * (cell + _GUTTER)
            if self.columns == 1:
                left = box[0] + (box[2] - box[0] - cell) / 2
            self._draw_one(canvas, product, (left, box[1], left + cell, box[3]))

    def _draw_one(self, canvas: Canvas, product: Product, box: Box) -> None:
        part = Element("Div", f"{self.path[-1].key}.plate.{product.colour.code}")
        path = (*self.path, part)
        foot = box[1] + (box[2] - box[0]) * _SHAPE
        draw_figure(canvas, self.edition, product, (box[0], box[1], box[2], foot), path)
        draw_swatch(canvas, self.edition, product, (box[0], foot + 6, box[2], foot + 6 + _BAR))
        words = self.setter.words(
            "book-caption", product.colour.name, place=_place(product), lines=4
        )
        marks, ink = words.glyphs((box[0], foot + 6 + _BAR + 5, box[2], box[3] + 1))
        canvas.put(marks, (*path, Element("Caption", f"{part.key}.name")))
        canvas.take(ink, "colour's name")


def _place(product: Product) -> Place:
    return Place(piece=product.sku, block="colour's name")


_MOST_FIGURES = 8


def title_of(edition: Edition) -> str:
    """Return what the book is called."""
    return "Dealer catalog" if edition.for_dealers else "Catalog"


def dates_of(edition: Edition) -> str:
    """Return from when to when the prices hold, in words."""
    terms = edition.catalog.file.terms
    start = terms.listed or edition.day
    said = f"Prices from {_long(start)}"
    return f"{said}, valid until {_long(terms.valid_until)}" if terms.valid_until else said


def _long(day: object) -> str:
    import datetime as dt

    assert isinstance(day, dt.date)  # only days come here
    return f"{day.day} {day:%B %Y}"


class Cover:
    """Draws the cover and the back."""

    def __init__(
        self, setter: Typesetter, edition: Edition, entries: Sequence[PatternEntry]
    ) -> None:
        self.setter, self.edition, self.entries = setter, edition, entries
        self.maker = edition.catalog.file.maker
        self.small = edition.width < 450

    def _words(self, style: str, text: str, scale: float = 1.0, lines: int = 4) -> Words:
        scale *= 0.68 if self.small else 1.0
        return self.setter.words(
            style, text, place=Place(block=f"cover, {style}"), scale=scale, lines=lines, least=5.0
        )

    def _ground(self, canvas: Canvas) -> None:
        """A quiet ground where a print shop trims it; a hairline frame where nobody does."""
        edge = self.edition.bleed
        if edge and self.edition.ink == "colour":
            box = (-edge, -edge, canvas.width + edge, canvas.height + edge)
            canvas.decorate(rectangle(box, fill=PALE))
        inset = 24.0 if self.small else 32.0
        frame = (inset, inset, canvas.width - inset, canvas.height - inset)
        canvas.decorate(rectangle(frame, stroke="#000000", width=0.35))

    def _line(self, canvas: Canvas, words: Words, y: float, tag: str, side: float) -> float:
        """Draw words across the middle and return where they end."""
        high = words.height(canvas.width - 2 * side)
        box = (side, y, canvas.width - side, y + high)
        marks, ink = words.glyphs(box, "centre")
        canvas.put(marks, (Element(tag, f"cover.{y:.1f}.{canvas.label}"),))
        canvas.take(ink, words.place.block)
        return y + high

    def front(self, canvas: Canvas) -> None:
        """Draw the front cover."""
        canvas.label = "Cover"
        canvas.anchors.append(("cover", 0.0))
        self._ground(canvas)
        side = 46.0 if self.small else 72.0
        y = canvas.height * 0.085
        y = self._line(
            canvas, self._words("book-running", title_of(self.edition), 1.5), y, "P", side
        )
        y = self._line(canvas, self._words("book-title", self.maker.name), y + 12, "H1", side)
        y = self._line(canvas, self._words("book-subtitle", self._kinds()), y + 10, "P", side)
        canvas.rule(canvas.width / 2 - 28, canvas.width / 2 + 28, y + 16)
        foot = self._front_foot(canvas, side)
        self._plate(canvas, (side, y + 34, canvas.width - side, foot - 18))

    def _kinds(self) -> str:
        products, patterns = len(self.edition.products), len(self.entries)
        items = f"{products:,} items" if products != 1 else "1 item"
        return f"{items} in {patterns:,} {'pattern' if patterns == 1 else 'patterns'}"

    def _front_foot(self, canvas: Canvas, side: float) -> float:
        """Draw what stands at the foot, and return where it begins."""
        lines = [self._words("book-cell", dates_of(self.edition), 1.15)]
        if self.edition.dealer:
            lines.insert(0, self._words("book-subtitle", f"For {self.edition.dealer.name}", 0.9))
        heights = [words.height(canvas.width - 2 * side) for words in lines]
        y = start = canvas.height * 0.93 - sum(heights) - 6 * (len(lines) - 1)
        for words in lines:
            y = self._line(canvas, words, y, "P", side) + 6
        return start

    def _plate(self, canvas: Canvas, box: Box) -> None:
        """Draw up to eight patterns, numbered as on a naturalist's plate, each with its link."""
        shown = self.entries[:_MOST_FIGURES]
        rows = even_rows(len(shown), 2)
        columns = max(rows)
        gap, down = 30.0 * (0.6 if self.small else 1.0), 14.0
        wide = (box[2] - box[0] - gap * (columns - 1)) / columns
        tall = min((box[3] - box[1] - down * (len(rows) - 1)) / len(rows), wide * 0.74)
        spare = (box[3] - box[1] - tall * len(rows) - down * (len(rows) - 1)) / 2
        first = 0
        for row, count in enumerate(rows):
            y = box[1] + spare + row * (tall + down)
            shift = (box[2] - box[0] - wide * count - gap * (count - 1)) / 2
            for place in range(count):
                left = box[0] + shift + place * (wide + gap)
                self._specimen(canvas, shown[first + place], (left, y, left + wide, y + tall))
            first += count

    def _specimen(self, canvas: Canvas, entry: PatternEntry, box: Box) -> None:
        words = self.setter.words(
            "book-caption", ("book-cell", f"{entry.number}{NO_BREAK_SPACE * 2}"),
            entry.pattern.name,
            place=Place(piece=entry.pattern.name, block="cover"), lines=2,
            scale=0.8 if self.small else 1.0, least=4.0,
        )  # fmt: skip
        name_high = words.fit(box[2] - box[0]).height
        path = (Element("Div", f"cover.{entry.anchor}"),)
        figure = (box[0], box[1], box[2], box[3] - name_high - 5)
        draw_figure(canvas, self.edition, entry.face, figure, path)
        marks, ink = words.glyphs((box[0], box[3] - name_high, box[2], box[3] + 1), "centre")
        link = Element("Link", f"cover.{entry.anchor}.link")
        canvas.put(marks, (*path, Element("Caption", f"cover.{entry.anchor}.name"), link),
                   f"#{entry.anchor}", ink)  # fmt: skip
        canvas.take(ink, "pattern's name on the cover")

    def back(self, canvas: Canvas) -> None:
        """Draw the back: who made what is in the book, and how to reach them."""
        canvas.label = "Back"
        canvas.anchors.append(("back", 0.0))
        self._ground(canvas)
        side = 46.0 if self.small else 72.0
        figure = (side * 1.6, canvas.height * 0.26, canvas.width - side * 1.6, canvas.height * 0.47)
        last = self.entries[-1].face
        draw_figure(canvas, self.edition, last, figure, (Element("Div", "back.figure"),))
        y = canvas.height * 0.54
        y = self._line(canvas, self._words("book-title", self.maker.name, 0.6), y, "P", side) + 10
        for text, link in reach(self.maker):
            words = self._words("book-cell", text, 1.2)
            high = words.height(canvas.width - 2 * side)
            marks, ink = words.glyphs((side, y, canvas.width - side, y + high), "centre")
            path: tuple[Element, ...] = (Element("P", f"back.{text}"),)
            if link:
                path = (*path, Element("Link", f"back.{text}.link"))
            canvas.put(marks, path, link, ink if link else None)
            canvas.take(ink, "address")
            y += high + 5


def reach(maker: Maker) -> list[tuple[str, str]]:
    """Return the ways to reach the maker, each with its live link or none."""
    town = ", ".join(part for part in (maker.city, maker.state) if part)
    place = f"{town} {maker.postcode}, {country(maker.country)}"
    ways = [(", ".join(part for part in (maker.street, place) if part), "")]
    if maker.phone:
        ways.append((maker.phone, telephone(maker.phone)))
    if maker.email:
        ways.append((maker.email, f"mailto:{maker.email}"))
    if maker.site:
        site = maker.site if "://" in maker.site else f"https://{maker.site}"
        ways.append((maker.site, site))
    return ways


def telephone(number: str) -> str:
    """Return a telephone link: digits, and a plus where one leads (RFC 3966, 3)."""
    digits = "".join(letter for letter in number if letter.isdigit())
    return f"tel:+{digits}" if number.strip().startswith("+") else f"tel:{digits}"
