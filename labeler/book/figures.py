"""Jigs drawn on a page: one in a box, plates of several, one with its parts named; the covers."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import islice
from typing import NamedTuple

from labeler.book.edition import Edition, PatternEntry, contact_ways, dates_of, title_of
from labeler.book.typesetting import (
    GREY,
    PALE,
    BookContext,
    Canvas,
    StructurePath,
    Unit,
    Words,
    across,
)
from labeler.catalog.model import Product
from labeler.catalog.structure import PHOTOS
from labeler.drawing.jig import draw_jig, frame_of
from labeler.drawing.photos import prepare, proportion
from labeler.drawing.subject import look_of
from labeler.findings import Place
from labeler.geometry import Box, Matrix, apply
from labeler.layout.drawn_blocks import swatch_bar
from labeler.marks import Element, Group, Picture, Step, VectorPath, path_points, rectangle
from labeler.units import NO_BREAK_SPACE


def draw_figure(
    canvas: Canvas, edition: Edition, product: Product, box: Box, path: StructurePath
) -> Matrix | None:
    """Draw the jig as large as ``box`` allows, in its middle; return what moved it there.

    The figure's words, made from the recipe, are its alternative text. Without a recipe nothing
    is drawn, and None returned.
    """
    if not product.colour.layers:
        return None
    group = draw_jig(product, ink=edition.ink)
    left, top, right, bottom = group.box
    width, height = box[2] - box[0], box[3] - box[1]
    scale = min(width / (right - left), height / (bottom - top))
    x = box[0] + (width - scale * (right - left)) / 2 - left * scale
    y = box[1] + (height - scale * (bottom - top)) / 2 - top * scale
    matrix = (scale, 0.0, 0.0, scale, x, y)
    figure = Element(
        "Figure", f"{path[-1].key}.figure", says=f"{product.colour.name}, {group.says}"
    )
    canvas.put([Group(matrix, group.marks, group.box, group.key)], (*path, figure))
    canvas.take(
        (x + left * scale, y + top * scale, x + right * scale, y + bottom * scale), "figure"
    )
    return matrix


def draw_swatch(canvas: Canvas, edition: Edition, product: Product, box: Box) -> None:
    """Draw the swatch bar, if there is a recipe: a field a layer, as wide as its strands."""
    if not product.colour.layers:
        return
    canvas.decorate(*swatch_bar(product.colour.layers, box, edition.ink))
    canvas.take(box, "swatch")


def even_rows(count: int, most: int) -> list[int]:
    """Return how many stand in each row: as few rows as ``most`` allows, none much shorter.

    Five in rows of at most three are three and two; four are two and two.
    """
    if count < 1:
        return []
    rows = -(-count // most)
    least, longer = divmod(count, rows)
    return [least + (place < longer) for place in range(rows)]


_SHAPE = 0.56
"""Height to width of the box that a colourway's figure gets."""
_BAR_DOWN, _BAR, _NAME_DOWN = 6.0, 6.0, 17.0
"""Points: from a figure's foot to its swatch bar, the bar's height, from the foot to the name."""


def plate_units(book: BookContext, entry: PatternEntry, path: StructurePath) -> list[Unit]:
    """Return the colour plate: every colourway's figure, swatch bar and name, in even rows.

    All columns are equally wide, whatever stands in a row. Colourways without a recipe come last,
    by their names alone.
    """
    units: list[Unit] = []
    for drawn in (True, False):
        found = [each for each in entry.colourways if bool(each.colour.layers) is drawn]
        rows = even_rows(len(found), 2 if book.edition.small else 3)
        each = iter(found)
        units += [
            PlateRow(book, list(islice(each, row)), max(rows), path, drawn, gap=16 if drawn else 9)
            for row in rows
        ]
    return units


@dataclass(slots=True)
class PlateRow(Unit):
    """A row of colourways."""

    book: BookContext
    products: Sequence[Product]
    columns: int
    path: StructurePath
    drawn: bool
    """Whether there are figures, or names alone."""

    def _cells(self, box: Box) -> list[Box]:
        """Return a box a column; one colourway alone stands in the middle, no wider than a half."""
        cells = across(box, max(self.columns, 2), 20.0)
        if self.columns > 1:
            return cells
        wide = cells[0][2] - cells[0][0]
        left = box[0] + (box[2] - box[0] - wide) / 2
        return [(left, box[1], left + wide, box[3])]

    def _name(self, product: Product) -> Words:
        return self.book.setter.words(
            "book-caption", product.colour.name,
            place=Place(piece=product.sku, block="colour's name"), lines=4,
        )  # fmt: skip

    def height(self, width: float) -> float:
        """Return the height of figure, bar and the highest name."""
        left, _, right, _ = self._cells((0.0, 0.0, width, 0.0))[0]
        cell = right - left
        names = max(self._name(product).height(cell) for product in self.products)
        return cell * _SHAPE + _NAME_DOWN + names if self.drawn else names

    def draw(self, canvas: Canvas, box: Box) -> None:
        """Draw each colourway in its column."""
        edition = self.book.edition
        for product, cell in zip(self.products, self._cells(box), strict=False):
            left, top, right, bottom = cell
            part = Element("Div", f"{self.path[-1].key}.plate.{product.colour.code}")
            path = (*self.path, part)
            if self.drawn:
                foot = top + (right - left) * _SHAPE
                draw_figure(canvas, edition, product, (left, top, right, foot), path)
                bar = (left, foot + _BAR_DOWN, right, foot + _BAR_DOWN + _BAR)
                draw_swatch(canvas, edition, product, bar)
                top = foot + _NAME_DOWN
            caption = (*path, Element("Caption", f"{part.key}.name"))
            canvas.write(self._name(product), (left, top, right, bottom + 1), caption)


class JigPart(NamedTuple):
    """A part of the jig: its name, what it is, and a point on it in the figure's own points."""

    name: str
    says: str
    spot: tuple[float, float]
    above: bool


def parts_of(product: Product) -> Iterator[JigPart]:
    """Yield the parts to name, from the nose to the tips, above the figure and below it."""
    frame = frame_of(look_of(product))
    head, hook, pattern = product.head, product.hook, product.pattern
    metal = product.alloy.name
    yield JigPart("Head", f"{head.name}, {metal[:1].lower()}{metal[1:]}",
                  (-frame.head.length * 0.52, -frame.head.length * 0.16), True)  # fmt: skip
    if product.guard:
        foot, point = frame.head.guard, frame.hook.point
        middle = ((foot[0] + point[0]) / 2, (foot[1] + point[1]) / 2)
        strands = f", {product.guard.strands} strands" if product.guard.style == "fibre" else ""
        yield JigPart("Guard", f"{product.guard.name}{strands}", middle, True)
    bend = frame.hook.bend[-1][0]
    size = f"size {product.hook_size}" if product.hook_size else ""
    if named := ", ".join(filter(None, (hook.name, hook.finish, size))):
        yield JigPart("Hook", named, bend, True)
    thread = product.materials.get(pattern.tie.thread or "")
    if thread:
        turns = f", {pattern.tie.wraps} wraps" if pattern.tie.wraps else ""
        spot = (frame.collar.length / 2, frame.collar.half * 0.8)
        yield JigPart("Collar", f"{thread.name}{turns}", spot, False)
    room = frame.room
    layers = ", ".join(
        f"{layer.shade}\N{NO-BREAK SPACE}{layer.amount or layer.strands}"
        for layer in product.colour.layers
    )
    kind = {"skirt": "Skirt, outside first", "hair": "Hair", "feather": "Feather"}[pattern.skirt]
    if layers:
        yield JigPart(kind, layers, (room.start + room.length * 0.5, room.half * 1.6), False)
    if pattern.tie.trim:
        yield JigPart("Trim", pattern.tie.trim, (room.start + room.length, room.half * 2), False)


_AIR = 10.0
_COLUMN_GAP = 14.0


@dataclass(slots=True)
class Anatomy(Unit):
    """A large figure, and a line from each part to its name: a row of names above, one below.

    Without a recipe the names alone.
    """

    book: BookContext
    product: Product
    path: StructurePath
    tall: float
    """How high the figure itself may stand, in points."""

    def _rows(self) -> tuple[list[tuple[JigPart, Words]], list[tuple[JigPart, Words]]]:
        """Return the parts with their words: those above the figure, those below it."""
        rows: tuple[list[tuple[JigPart, Words]], list[tuple[JigPart, Words]]] = ([], [])
        for part in parts_of(self.product):
            words = self.book.setter.words(
                "note", ("field", part.name), f"\n{part.says}", scale=1.14, least=6.0,
                place=Place(piece=self.product.sku, block=f"anatomy, {part.name}"),
            )  # fmt: skip
            rows[0 if part.above else 1].append((part, words))
        return rows

    def _high(self, row: list[tuple[JigPart, Words]], width: float) -> float:
        boxes = across((0.0, 0.0, width, 0.0), len(row), _COLUMN_GAP)
        return max(
            (words.height(box[2] - box[0]) for (_, words), box in zip(row, boxes, strict=True)),
            default=0.0,
        )

    def height(self, width: float) -> float:
        """Return the height of the figure and of both rows of names."""
        figure = self.tall + _AIR if self.product.colour.layers else 0.0
        return sum(self._high(row, width) for row in self._rows()) + figure + _AIR

    def draw(self, canvas: Canvas, box: Box) -> None:
        """Draw figure, lines and names."""
        left, top, right, bottom = box
        width = right - left
        above, below = self._rows()
        top_of_figure = top + self._high(above, width) + _AIR
        foot = top_of_figure + self.tall if self.product.colour.layers else top_of_figure - _AIR
        frame = (left + width * 0.10, top_of_figure, right - width * 0.10, foot)
        matrix = draw_figure(canvas, self.book.edition, self.product, frame, self.path)
        self._names(canvas, above, (left, top, right, top_of_figure - _AIR), matrix)
        self._names(canvas, below, (left, foot + _AIR, right, bottom), matrix)

    def _names(
        self, canvas: Canvas, row: list[tuple[JigPart, Words]], box: Box, matrix: Matrix | None
    ) -> None:
        for (part, words), column in zip(row, across(box, len(row), _COLUMN_GAP), strict=True):
            left, _, right, _ = column
            high = words.height(right - left)
            top = box[3] - high if part.above else box[1]
            path = (*self.path, Element("P", f"{self.path[-1].key}.{part.name}"))
            canvas.write(words, (left, top, right, top + high), path, align="centre")
            if matrix is None:
                continue
            begin = ((left + right) / 2, box[3] + 2.5 if part.above else box[1] - 2.5)
            spot = part.spot if part.above else self._on_ink(part.spot)
            _draw_pointer(canvas, begin, apply(matrix, *spot))

    def _on_ink(self, spot: tuple[float, float]) -> tuple[float, float]:
        """Return the drawn point nearest to ``spot``: strands lie as they fell."""
        group = draw_jig(self.product, ink=self.book.edition.ink)
        drawn = (
            point
            for mark in group.marks
            if isinstance(mark, VectorPath)
            for point in path_points(mark)
        )
        return min(drawn, key=lambda p: (p[0] - spot[0]) ** 2 + (p[1] - spot[1]) ** 2)


def _draw_pointer(canvas: Canvas, begin: tuple[float, float], end: tuple[float, float]) -> None:
    """Draw a hairline that ends in a point on the part, light enough to see on dark strands."""
    x, y = end
    line: tuple[Step, ...] = (("M", *begin), ("L", *end))
    dot = VectorPath(
        (("M", x - 1.1, y), ("L", x, y - 1.1), ("L", x + 1.1, y), ("L", x, y + 1.1), ("Z",)),
        fill="#ffffff", stroke="#000000", width=0.35,
    )  # fmt: skip
    halo = VectorPath(line, stroke="#ffffff", width=1.3)
    canvas.decorate(halo, VectorPath(line, stroke=GREY, width=0.45), dot)


_MOST_FIGURES = 8
_NAME_ALONE = 34.0
"""Points: how high a pattern's place on the cover is where nothing can be drawn."""


_LOGO = (190.0, 56.0)
"""Points, width and height: the most that the logo takes on the cover."""


class Cover:
    """Draws the cover and the back."""

    def __init__(self, book: BookContext) -> None:
        self.book, self.edition = book, book.edition
        self.maker = book.edition.catalog.file.maker
        self.side = 46.0 if self.edition.small else 72.0

    def front(self, canvas: Canvas) -> None:
        """Draw the front cover."""
        canvas.label = "Cover"
        canvas.anchors.append(("cover", 0.0))
        self._draw_ground(canvas)
        y = canvas.height * 0.085
        y = self._logo(canvas, self.maker.logo, y) if self.maker.logo else y
        y = self._line(canvas, self._words("book-running", title_of(self.edition), 1.5), y)
        y = self._line(canvas, self._words("book-title", self.maker.name), y + 12, "H1")
        y = self._line(canvas, self._words("book-subtitle", self._count()), y + 10)
        canvas.rule(canvas.width / 2 - 28, canvas.width / 2 + 28, y + 16)
        foot = self._front_foot(canvas)
        self._plate(canvas, (self.side, y + 34, canvas.width - self.side, foot - 18))

    def _logo(self, canvas: Canvas, logo: str, y: float) -> float:
        """Draw the logo in the middle and return where what stands below it begins."""
        file = self.book.folder / PHOTOS / logo
        scale = 0.68 if self.edition.small else 1.0
        shape = proportion(file)
        wide = min(_LOGO[0] * scale, _LOGO[1] * scale * shape)
        tall, left = wide / shape, (canvas.width - wide) / 2
        image, findings = prepare(file, wide, tall, ink=self.edition.ink)
        self.book.findings += findings
        figure = Element("Figure", "cover.logo", says=f"{self.maker.name}, logo")
        canvas.put([Picture(left, y, wide, tall, image)], (figure,))
        canvas.take((left, y, left + wide, y + tall), "logo")
        return y + tall + 14 * scale

    def back(self, canvas: Canvas) -> None:
        """Draw the back: who made what is in the book, and how to reach them."""
        canvas.label = "Back"
        canvas.anchors.append(("back", 0.0))
        self._draw_ground(canvas)
        inset = self.side * 1.6
        figure = (inset, canvas.height * 0.26, canvas.width - inset, canvas.height * 0.47)
        last = self.book.entries[-1].face
        draw_figure(canvas, self.edition, last, figure, (Element("Div", "back.figure"),))
        y = canvas.height * 0.54
        y = self._line(canvas, self._words("book-title", self.maker.name, 0.6), y) + 10
        for text, link in contact_ways(self.maker):
            y = self._line(canvas, self._words("book-cell", text, 1.2), y, link=link) + 5

    def _words(self, style: str, text: str, scale: float = 1.0) -> Words:
        scale *= 0.68 if self.edition.small else 1.0
        return self.book.setter.words(
            style, text, place=Place(block=f"cover, {style}"), scale=scale, lines=4, least=5.0
        )

    def _draw_ground(self, canvas: Canvas) -> None:
        """A quiet ground where a print shop trims it; a hairline frame where nobody does."""
        edge = self.edition.bleed
        if edge and self.edition.ink == "colour":
            box = (-edge, -edge, canvas.width + edge, canvas.height + edge)
            canvas.decorate(rectangle(box, fill=PALE))
        inset = 24.0 if self.edition.small else 32.0
        frame = (inset, inset, canvas.width - inset, canvas.height - inset)
        canvas.decorate(rectangle(frame, stroke="#000000", width=0.35))

    def _line(
        self, canvas: Canvas, words: Words, y: float, tag: str = "P", link: str = ""
    ) -> float:
        """Draw words across the middle and return where they end."""
        foot = y + words.height(canvas.width - 2 * self.side)
        path = (Element(tag, f"cover.{y:.1f}.{canvas.label}"),)
        box = (self.side, y, canvas.width - self.side, foot)
        canvas.write(words, box, path, align="centre", link=link)
        return foot

    def _count(self) -> str:
        products, patterns = len(self.edition.products), len(self.book.entries)
        items = f"{products:,} items" if products != 1 else "1 item"
        return f"{items} in {patterns:,} {'pattern' if patterns == 1 else 'patterns'}"

    def _front_foot(self, canvas: Canvas) -> float:
        """Draw what stands at the foot, and return where it begins."""
        lines = [self._words("book-cell", dates_of(self.edition), 1.15)]
        if self.edition.dealer:
            lines.insert(0, self._words("book-subtitle", f"For {self.edition.dealer.name}", 0.9))
        heights = [words.height(canvas.width - 2 * self.side) for words in lines]
        y = start = canvas.height * 0.93 - sum(heights) - 6 * (len(lines) - 1)
        for words in lines:
            y = self._line(canvas, words, y) + 6
        return start

    def _plate(self, canvas: Canvas, box: Box) -> None:
        """Draw up to eight patterns, numbered as on a naturalist's plate, each with its link."""
        shown = iter(self.book.entries[:_MOST_FIGURES])
        rows = even_rows(min(len(self.book.entries), _MOST_FIGURES), 2)
        gap, down = 30.0 * (0.6 if self.edition.small else 1.0), 14.0
        left, _, right, _ = across(box, max(rows), gap)[0]
        wide = right - left
        tall = min((box[3] - box[1] - down * (len(rows) - 1)) / len(rows), wide * 0.74)
        if not any(entry.face.colour.layers for entry in self.book.entries[:_MOST_FIGURES]):
            tall = min(tall, _NAME_ALONE)
        y = box[1] + (box[3] - box[1] - tall * len(rows) - down * (len(rows) - 1)) / 2
        for count in rows:
            shift = (box[2] - box[0] - wide * count - gap * (count - 1)) / 2
            row = (box[0] + shift, y, box[2] - shift, y + tall)
            for entry, place in zip(islice(shown, count), across(row, count, gap), strict=True):
                self._specimen(canvas, entry, place)
            y += tall + down

    def _specimen(self, canvas: Canvas, entry: PatternEntry, box: Box) -> None:
        words = self.book.setter.words(
            "book-caption", ("book-cell", f"{entry.number}{NO_BREAK_SPACE * 2}"),
            entry.pattern.name,
            place=Place(piece=entry.pattern.name, block="pattern's name on the cover"), lines=2,
            scale=0.8 if self.edition.small else 1.0, least=4.0,
        )  # fmt: skip
        top_of_name = box[3] - words.fit(box[2] - box[0]).height
        path = (Element("Div", f"cover.{entry.anchor}"),)
        figure = (box[0], box[1], box[2], top_of_name - 5)
        draw_figure(canvas, self.edition, entry.face, figure, path)
        caption = (*path, Element("Caption", f"cover.{entry.anchor}.name"))
        name = (box[0], top_of_name, box[2], box[3] + 1)
        canvas.write(words, name, caption, align="centre", link=f"#{entry.anchor}")
