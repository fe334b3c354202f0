"""Jigs drawn on a page: one in a box, plates of several, one with its parts named; the covers."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import islice
from typing import NamedTuple, TypeVar

from labeler.book.edition import (
    Edition,
    PatternEntry,
    contact_ways,
    dates_of,
    extent_of,
    title_of,
    weight_text,
)
from labeler.book.typesetting import (
    GREY,
    PALE,
    BookContext,
    Canvas,
    Paragraph,
    StructurePath,
    Unit,
    Words,
    across,
)
from labeler.catalog.model import Product
from labeler.catalog.structure import PHOTOS
from labeler.disclosures import statements
from labeler.drawing.figure import places_of
from labeler.drawing.jig import draw_jig
from labeler.drawing.photos import prepare, proportion
from labeler.drawing.subject import look_of
from labeler.findings import Place
from labeler.geometry import Box, Matrix, Point, apply
from labeler.layout.swatch import swatch_bar
from labeler.marks import Element, Group, Picture, VectorPath, line, path_points, rectangle
from labeler.units import NO_BREAK_SPACE

Item = TypeVar("Item")


def draw_figure(
    canvas: Canvas, edition: Edition, product: Product, box: Box, path: StructurePath,
    scale: float = 0.0,
) -> Matrix | None:  # fmt: skip
    """Draw the jig in the middle of ``box``; return what moved it there.

    The figure's words, made from the recipe, are its alternative text. Without a recipe nothing
    is drawn, and None returned.

    Args:
        canvas: the page.
        edition: the book.
        product: whose figure it is.
        box: where.
        path: the element that the figure lies in.
        scale: times natural size; 0 for as large as the box allows.
    """
    if not product.colour.layers:
        return None
    group = draw_jig(product, ink=edition.ink)
    left, top, right, bottom = group.box
    width, height = box[2] - box[0], box[3] - box[1]
    scale = scale or min(width / (right - left), height / (bottom - top))
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


def in_rows(items: Sequence[Item], most: int) -> list[list[Item]]:
    """Return items in rows as even as may be, the longest first."""
    each = iter(items)
    return [list(islice(each, row)) for row in even_rows(len(items), most)]


_LARGEST = 3.0
"""Times natural size: no figure is drawn larger."""


def size_of(edition: Edition, product: Product) -> tuple[float, float]:
    """Return a figure's width and height at natural size, in points; nothing without a recipe."""
    if not product.colour.layers:
        return 0.0, 0.0
    left, top, right, bottom = draw_jig(product, ink=edition.ink).box
    return right - left, bottom - top


def common_scale(
    edition: Edition, products: Sequence[Product], width: float, height: float = math.inf
) -> float:
    """Return the largest scale, to a tenth, at which each of these figures fits into such a box."""
    scale = _LARGEST
    for wide, tall in (size_of(edition, each) for each in products):
        if wide:
            scale = min(scale, width / wide, height / tall)
    return round_down(scale)


def round_down(scale: float) -> float:
    """Return a scale that can be said: to a tenth, or to a hundredth where it is small."""
    step = 10 if scale >= 0.5 else 100
    return max(math.floor(scale * step + 1e-6) / step, 0.01)


def scale_says(scale: float) -> str:
    """Return a scale in words: 1.6 times natural size."""
    return "natural size" if scale == 1 else f"{scale:g} times natural size"


_BAR_DOWN, _BAR, _NAME_DOWN = 6.0, 6.0, 17.0
"""Points: from a figure's foot to its swatch bar, the bar's height, from the foot to the name."""
_PLATE_GUTTER = 20.0
_ALONE = 0.72
"""Of the text's width, what a colour takes that stands in a row by itself."""


def plate_units(
    book: BookContext, entry: PatternEntry, path: StructurePath, most: int
) -> list[Unit]:
    """Return the colour plate: every colourway's figure, swatch bar and name, at one scale.

    Below stands what they are and how large they are drawn. Colourways without a recipe come
    last, by their names alone.

    Args:
        book: the book.
        entry: the pattern.
        path: the pattern's element.
        most: how many stand side by side at the most.
    """
    units: list[Unit] = []
    drawn = [each for each in entry.shown if each.colour.layers]
    named = [each for each in entry.shown if not each.colour.layers]
    width = book.frame.measure
    if drawn:
        rows = in_rows(drawn, most)
        columns = len(rows[0])
        cells = across((0.0, 0.0, width, 0.0), max(columns, 2), _PLATE_GUTTER)
        wide = width * _ALONE if most == 1 else cells[0][2] - cells[0][0]
        scale = common_scale(book.edition, drawn, wide)
        units += [PlateRow(book, row, columns, path, scale, most == 1, gap=14) for row in rows]
        weights = {product.weight for product in drawn}
        sized = f" in {weight_text(drawn[0].weight)}" if len(weights) == 1 else ""
        says = f"{entry.pattern.name}{sized}, all at {scale_says(scale)}."
        units[-1].keep = True
        units.append(caption(book, says, (*path, Element("P", f"{path[-1].key}.scale"))))
    rows = in_rows(named, max(most, 2))
    units += [PlateRow(book, row, len(rows[0]), path, 0.0, gap=9) for row in rows]
    return units


def caption(book: BookContext, text: str, path: StructurePath, gap: float = 5.0) -> Paragraph:
    """Return what stands below a plate or a photo."""
    words = book.setter.words("note", text, place=Place(block="caption"), scale=1.14, least=6.0)
    return Paragraph(words, path, gap=gap)


@dataclass(slots=True)
class LineRow(Unit):
    """A row of patterns, each by its face, at the scale of all of them, with name and code."""

    book: BookContext
    entries: Sequence[PatternEntry]
    columns: int
    path: StructurePath
    scale: float
    drawn: bool

    def _words(self, entry: PatternEntry) -> Words:
        place = Place(piece=entry.pattern.name, block="the line at one scale")
        name = f"{entry.pattern.name}{NO_BREAK_SPACE * 2}"
        code = ("book-code", entry.pattern.code)
        return self.book.setter.words("book-caption", name, code, place=place, lines=4)

    def _figures(self) -> float:
        if not self.drawn:
            return 0.0
        return self.scale * max(size_of(self.book.edition, each.face)[1] for each in self.entries)

    def height(self, width: float) -> float:
        """Return the height of the tallest figure and of the highest name."""
        cells = across((0.0, 0.0, width, 0.0), self.columns, _PLATE_GUTTER)
        wide = cells[0][2] - cells[0][0]
        return self._figures() + 6 + max(self._words(e).height(wide) for e in self.entries)

    def draw(self, canvas: Canvas, box: Box) -> None:
        """Draw each pattern in its column."""
        tall = self._figures()
        cells = across(box, self.columns, _PLATE_GUTTER)
        for entry, (left, top, right, bottom) in zip(self.entries, cells, strict=False):
            path = (*self.path, Element("Div", f"line.{entry.anchor}"))
            figure = (left, top, right, top + tall)
            draw_figure(canvas, self.book.edition, entry.face, figure, path, self.scale)
            name = (*path, Element("Caption", f"line.{entry.anchor}.name"))
            inner = (left, top + tall + 6, right, bottom + 1)
            canvas.write(self._words(entry), inner, name, align="centre", link=f"#{entry.anchor}")


def line_units(book: BookContext, path: StructurePath, most: int) -> list[Unit]:
    """Return every pattern's face at one scale, ``most`` side by side, and what scale that is."""
    rows = in_rows(book.entries, most)
    columns = max(len(rows[0]), 2)
    cells = across((0.0, 0.0, book.frame.measure, 0.0), columns, _PLATE_GUTTER)
    faces = [entry.face for entry in book.entries]
    drawn = [face for face in faces if face.colour.layers]
    room = book.frame.height - book.frame.top - book.frame.foot
    scale = common_scale(book.edition, drawn, cells[0][2] - cells[0][0], room * 0.4)
    units: list[Unit] = []
    for row in rows:
        shown = any(entry.face.colour.layers for entry in row)
        units.append(LineRow(book, row, columns, path, scale, shown, gap=18))
    if drawn:
        says = f"Each pattern in a middling weight, all at {scale_says(scale)}."
        units.insert(0, caption(book, says, (*path, Element("P", "line.scale")), gap=10))
    return units


@dataclass(slots=True)
class PlateRow(Unit):
    """A row of colourways."""

    book: BookContext
    products: Sequence[Product]
    columns: int
    path: StructurePath
    scale: float
    """Times natural size; 0 for names alone."""
    alone: bool = False
    """Whether one stands in each row, across most of it."""

    def _cells(self, box: Box) -> list[Box]:
        """Return a box a column; one colourway alone stands in the middle, no wider than a half."""
        if self.alone:
            inset = (box[2] - box[0]) * (1 - _ALONE) / 2
            return [(box[0] + inset, box[1], box[2] - inset, box[3])]
        cells = across(box, max(self.columns, 2), _PLATE_GUTTER)
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
        return self._figures() + _NAME_DOWN + names if self.scale else names

    def _figures(self) -> float:
        sizes = (size_of(self.book.edition, product) for product in self.products)
        return self.scale * max(tall for _, tall in sizes)

    def draw(self, canvas: Canvas, box: Box) -> None:
        """Draw each colourway in its column."""
        edition = self.book.edition
        for product, cell in zip(self.products, self._cells(box), strict=False):
            left, top, right, bottom = cell
            part = Element("Div", f"{self.path[-1].key}.plate.{product.colour.code}")
            path = (*self.path, part)
            if self.scale:
                foot = top + self._figures()
                draw_figure(canvas, edition, product, (left, top, right, foot), path, self.scale)
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
    frame = places_of(look_of(product))
    head, hook, pattern = product.head, product.hook, product.pattern
    yield JigPart("Head", f"{head.name}, {statements.alloy(product, ())}",
                  (-frame.head.length * 0.52, -frame.head.length * 0.16), True)  # fmt: skip
    if product.guard:
        foot, point = frame.head.guard, frame.hook.point
        middle = ((foot[0] + point[0]) / 2, (foot[1] + point[1]) / 2)
        strands = f", {product.guard.strands} strands" if product.guard.style == "fibre" else ""
        yield JigPart("Guard", f"{product.guard.name}{strands}", middle, True)
    spear = frame.hook.bend[-1]
    bend = _middle(spear)
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


def _middle(curve: Sequence[tuple[float, float]]) -> tuple[float, float]:
    """Return the point half way along a cubic curve."""
    (x0, y0), (x1, y1), (x2, y2), (x3, y3) = curve
    return (x0 + 3 * x1 + 3 * x2 + x3) / 8, (y0 + 3 * y1 + 3 * y2 + y3) / 8


_AIR = 14.0
_COLUMN_GAP = 14.0
_FIGURE = 0.94
"""The most of the text's width that the large figure takes."""


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

    def scale(self, width: float) -> float:
        """Return how many times natural size the figure is drawn; 0 where nothing is."""
        if not self.product.colour.layers:
            return 0.0
        wide, tall = size_of(self.book.edition, self.product)
        return round_down(min(width * _FIGURE / wide, self.tall / tall, _LARGEST))

    def says(self, width: float) -> str:
        """Return what the plate shows, and how large."""
        product = self.product
        what = f"{product.pattern.name}, {product.colour.name}, {weight_text(product.weight)}"
        scale = self.scale(width)
        return f"{what}, at {scale_says(scale)}." if scale else f"{what}."

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
        figure = self._figure(width) + _AIR if self.product.colour.layers else 0.0
        return sum(self._high(row, width) for row in self._rows()) + figure + _AIR

    def _figure(self, width: float) -> float:
        """Return how high the figure stands."""
        return self.scale(width) * size_of(self.book.edition, self.product)[1]

    def draw(self, canvas: Canvas, box: Box) -> None:
        """Draw figure, lines and names."""
        left, top, right, bottom = box
        width = right - left
        above, below = self._rows()
        top_of_figure = top + self._high(above, width) + _AIR
        scale = self.scale(width)
        foot = top_of_figure + self._figure(width) if scale else top_of_figure - _AIR
        frame = (left, top_of_figure, right, foot)
        matrix = draw_figure(canvas, self.book.edition, self.product, frame, self.path, scale)
        drawn = self._drawn() if matrix else []
        for row, room in (
            (above, (left, top, right, top_of_figure - _AIR)),
            (below, (left, foot + _AIR, right, bottom)),
        ):
            spots = [self._spot(part, matrix, drawn) for part, _ in row] if matrix else None
            self._names(canvas, row, spots, room)

    def _names(
        self,
        canvas: Canvas,
        row: list[tuple[JigPart, Words]],
        spots: Sequence[Point] | None,
        box: Box,
    ) -> None:
        """Draw names in their row, and a line from each to its spot, if the figure is drawn."""
        columns = across(box, len(row), _COLUMN_GAP)
        wide = columns[0][2] - columns[0][0] if row else 0.0
        fitted = [words.fit(wide).width for _, words in row]
        if spots is None:
            middles = [(column[0] + column[2]) / 2 for column in columns]
        else:
            middles = beside_each_other([x for x, _ in spots], fitted, box[0], box[2], _COLUMN_GAP)
        for place, ((part, words), middle) in enumerate(zip(row, middles, strict=True)):
            left, right = middle - wide / 2, middle + wide / 2
            high = words.height(wide)
            top = box[3] - high if part.above else box[1]
            path = (*self.path, Element("P", f"{self.path[-1].key}.{part.name}"))
            canvas.write(words, (left, top, right, top + high), path, align="centre")
            if spots is None:
                continue
            # Where its words stand over it the line drops straight, so that it meets no other.
            reach = max(0.0, fitted[place] / 2 - 5)
            begin = min(max(spots[place][0], middle - reach), middle + reach)
            start = begin, box[3] + 2.5 if part.above else box[1] - 2.5
            _draw_pointer(canvas, start, spots[place])

    def _drawn(self) -> list[Point]:
        """Return every point of the figure."""
        marks = draw_jig(self.product, ink=self.book.edition.ink).marks
        return [p for mark in marks if isinstance(mark, VectorPath) for p in path_points(mark)]

    def _spot(self, part: JigPart, matrix: Matrix, drawn: Sequence[Point]) -> Point:
        """Return where on the page a part's line ends: the drawn point that it meets first.

        Strands lie as they fell: where none does near it, the drawn point nearest to it.
        """
        x, y = part.spot
        if part.name == "Hook":  # which others lie over
            return apply(matrix, x, y)
        near = size_of(self.book.edition, self.product)[0] * 0.02
        over = [p for p in drawn if abs(p[0] - x) < near and (p[1] < y) == part.above]
        if over:
            return apply(matrix, *(min if part.above else max)(over, key=lambda p: p[1]))
        return apply(matrix, *min(drawn, key=lambda p: (p[0] - x) ** 2 + (p[1] - y) ** 2))


def beside_each_other(
    wanted: Sequence[float], widths: Sequence[float], left: float, right: float, gap: float
) -> list[float]:
    """Return the middles of words in a row: each as near as may be to where it is wanted.

    They keep the order of what they are wanted at, so that no two lines to them cross.

    Args:
        wanted: where each one's middle should be, in points.
        widths: how wide each is.
        left: where the first may begin.
        right: where the last may end.
        gap: what lies between two at the least.
    """
    order = sorted(range(len(wanted)), key=lambda place: wanted[place])
    middles, edge = [0.0] * len(wanted), left
    for place in order:
        middles[place] = max(wanted[place], edge + widths[place] / 2)
        edge = middles[place] + widths[place] / 2 + gap
    edge = right
    for place in reversed(order):
        middles[place] = min(middles[place], edge - widths[place] / 2)
        edge = middles[place] - widths[place] / 2 - gap
    return middles


def _draw_pointer(canvas: Canvas, begin: tuple[float, float], end: tuple[float, float]) -> None:
    """Draw a hairline that ends in a point on the part, light enough to see on dark strands."""
    x, y = end
    dot = VectorPath(
        (("M", x - 1.1, y), ("L", x, y - 1.1), ("L", x + 1.1, y), ("L", x, y + 1.1), ("Z",)),
        fill="#ffffff", stroke="#000000", width=0.35,
    )  # fmt: skip
    halo = line(begin, end, stroke="#ffffff", width=1.3)
    canvas.decorate(halo, line(begin, end, stroke=GREY, width=0.45), dot)


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
        self.scale = 0.0
        """Times natural size, the same for all figures of the front."""

    def front(self, canvas: Canvas) -> None:
        """Draw the front cover."""
        canvas.label = "Cover"
        canvas.anchors.append(("cover", 0.0))
        self._draw_ground(canvas)
        y = canvas.height * 0.085
        y = self._logo(canvas, self.maker.logo, y) if self.maker.logo else y
        y = self._line(canvas, self._words("book-running", title_of(self.edition), 1.5), y)
        y = self._line(canvas, self._words("book-title", self.maker.name), y + 12, "H1")
        extent = self._words("book-subtitle", extent_of(self.edition.products))
        y = self._line(canvas, extent, y + 10)
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
        """A quiet ground, and a hairline frame that holds where a printer leaves an edge white."""
        edge = self.edition.bleed
        if self.edition.ink == "colour":
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
        entries = self.book.entries[:_MOST_FIGURES]
        faces = [entry.face for entry in entries]
        gap, down = 30.0 * (0.6 if self.edition.small else 1.0), 14.0
        best: tuple[float, list[list[PatternEntry]], float, float] = (0.0, [], 0.0, 0.0)
        for most in (2, 3):
            rows = in_rows(entries, most)
            left, _, right, _ = across(box, len(rows[0]), gap)[0]
            wide = right - left
            names = max(self._called(entry).height(wide) for entry in entries) + 8
            tall = min((box[3] - box[1] - down * (len(rows) - 1)) / len(rows), wide * 0.9)
            scale = common_scale(self.edition, faces, wide, max(tall - names, 10.0))
            best = max(best, (scale, rows, wide, tall), key=lambda one: one[0])
        self.scale, rows, wide, tall = best
        if not any(face.colour.layers for face in faces):
            tall = min(tall, _NAME_ALONE)
        y = box[1] + (box[3] - box[1] - tall * len(rows) - down * (len(rows) - 1)) / 2
        for shown in rows:
            shift = (box[2] - box[0] - wide * len(shown) - gap * (len(shown) - 1)) / 2
            row = (box[0] + shift, y, box[2] - shift, y + tall)
            for entry, place in zip(shown, across(row, len(shown), gap), strict=True):
                self._specimen(canvas, entry, place)
            y += tall + down

    def _called(self, entry: PatternEntry) -> Words:
        return self.book.setter.words(
            "book-caption", ("book-cell", f"{entry.number}{NO_BREAK_SPACE * 2}"),
            entry.pattern.name,
            place=Place(piece=entry.pattern.name, block="pattern's name on the cover"), lines=2,
            scale=0.8 if self.edition.small else 1.0, least=4.0,
        )  # fmt: skip

    def _specimen(self, canvas: Canvas, entry: PatternEntry, box: Box) -> None:
        words = self._called(entry)
        top_of_name = box[3] - words.fit(box[2] - box[0]).height
        path = (Element("Div", f"cover.{entry.anchor}"),)
        figure = (box[0], box[1], box[2], top_of_name - 5)
        draw_figure(canvas, self.edition, entry.face, figure, path, self.scale)
        caption = (*path, Element("Caption", f"cover.{entry.anchor}.name"))
        name = (box[0], top_of_name, box[2], box[3] + 1)
        canvas.write(words, name, caption, align="centre", link=f"#{entry.anchor}")
