"""How a pattern begins: its name, its story, what there is to know of it at a glance."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from labeler.book.cover import draw_figure
from labeler.book.edition import Edition, PatternEntry
from labeler.book.flow import Paragraph, Unit
from labeler.book.typesetting import GREY, Canvas, Typesetter, Words
from labeler.catalog.model import Product
from labeler.disclosures.rules import country
from labeler.drawing.jig import draw_jig, frame_of
from labeler.drawing.photos import prepare, proportion
from labeler.drawing.subject import look_of
from labeler.findings import Finding, Place
from labeler.geometry import Box, Matrix, apply
from labeler.marks import Picture, VectorPath, path_points
from labeler.press.leaf import Element

_FACTS_SHARE = 0.36
_BETWEEN = 24.0
_PHOTO_MOST = 150.0


def title_units(
    setter: Typesetter, entry: PatternEntry, path: tuple[Element, ...], small: bool
) -> list[Unit]:
    """Return the pattern's kind and its name, which keep what follows."""
    place = Place(piece=entry.pattern.name, block="name")
    key = path[-1].key
    kind = setter.words("book-running", entry.pattern.kind, place=place, lines=2)
    name = setter.words(
        "book-pattern", entry.pattern.name, place=place, lines=4,
        scale=0.72 if small else 1.0 if len(entry.pattern.name) < 36 else 0.74,
    )  # fmt: skip
    return [
        Paragraph(kind, (*path, Element("P", f"{key}.kind")), gap=0, keep=True),
        Paragraph(name, (*path, Element("H1", f"{key}.name")), gap=5, keep=True,
                  anchor=entry.anchor, rule_below=9),
    ]  # fmt: skip


def facts_of_entry(entry: PatternEntry) -> list[tuple[str, str]]:
    """Return fields and their values, in the order in which a buyer asks."""
    first, pattern = entry.products[0], entry.pattern
    weights = list(dict.fromkeys(group.weight.oz_text if group.weight.unit == "oz"
                                 else group.weight.g_text for group in entry.groups))  # fmt: skip
    hooks = list(dict.fromkeys(group.hook_size for group in entry.groups))
    facts = [
        ("Weights", ", ".join(weights)),
        ("Hook", f"{first.hook.name}, {', '.join(hooks)}"),
        ("Head", f"{first.head.name}, {_low(first.alloy.name)}"),
    ]
    if first.guard:
        facts.append(("Guard", first.guard.name))
    if pattern.length:
        facts.append(("Length", str(pattern.length).replace(" in", "\N{NO-BREAK SPACE}in")))
    facts.append(("Colors", str(len(entry.colourways))))
    packs = sorted({product.pattern.pack for product in entry.products})
    facts.append(("Pack", ", ".join(map(str, packs))))
    if pattern.case:
        facts.append(("Case", f"{pattern.case} packs"))
    if pattern.made_in:
        facts.append(("LayerLook in", country(pattern.made_in)))
    return facts


def _low(text: str) -> str:
    return text[:1].lower() + text[1:] if not text[1:2].isupper() else text


@dataclass(slots=True)
class PatternOpening:
    """Story (and photo, if there is one) on the left; facts in a column on the right."""

    setter: Typesetter
    entry: PatternEntry
    path: tuple[Element, ...]
    folder: Path
    findings: list[Finding]
    gap: float = 12.0
    keep: bool = False
    head: Unit | None = None

    def _story(self) -> Words | None:
        story = self.entry.pattern.story
        if not story:
            return None
        place = Place(piece=self.entry.pattern.name, block="story")
        return self.setter.words("book-story", " ".join(story.split()), place=place)

    def _facts(self) -> list[tuple[Words, Words]]:
        place = Place(piece=self.entry.pattern.name, block="facts")
        return [
            (self.setter.words("field", name, place=place),
             self.setter.words("book-cell", value, place=place, scale=1.06))
            for name, value in facts_of_entry(self.entry)
        ]  # fmt: skip

    def _widths(self, width: float) -> tuple[float, float]:
        facts = max(118.0, (width - _BETWEEN) * _FACTS_SHARE)
        return width - _BETWEEN - facts, facts

    def _photo_size(self, width: float) -> tuple[float, float]:
        product = self.entry.photo
        if product is None or product.photo is None:
            return 0.0, 0.0
        shape = proportion(self.folder / "photos" / product.photo)
        wide = min(width, _PHOTO_MOST * shape)
        return wide, wide / shape

    def height(self, width: float) -> float:
        """Return the height of the higher column."""
        left, right = self._widths(width)
        story = self._story()
        high = story.height(left) if story else 0.0
        photo = self._photo_size(left)[1]
        high += photo + (12 if photo and story else 0)
        return max(high, sum(self._fact_height(pair, right) for pair in self._facts()))

    def _fact_height(self, pair: tuple[Words, Words], width: float) -> float:
        return max(pair[0].height(44), pair[1].height(width - 48)) + 6.4

    def draw(self, canvas: Canvas, box: Box) -> None:
        """Draw both columns."""
        left, right = self._widths(box[2] - box[0])
        y = box[1]
        story = self._story()
        key = self.path[-1].key
        if story:
            high = story.height(left)
            marks, ink = story.glyphs((box[0], y, box[0] + left, y + high))
            canvas.put(marks, (*self.path, Element("P", f"{key}.story")))
            canvas.take(ink, "story")
            y += high + 12
        if self.entry.photo is not None:
            self._draw_photo(canvas, self.entry.photo, (box[0], y, box[0] + left, box[3]))
        self._draw_facts(canvas, (box[2] - right, box[1], box[2], box[3]))

    def _draw_photo(self, canvas: Canvas, product: Product, box: Box) -> None:
        wide, tall = self._photo_size(box[2] - box[0])
        image, said = prepare(self.folder / "photos" / str(product.photo), wide, tall)
        self.findings += said
        says = f"Photograph: {product.name}"
        figure = Element("Figure", f"{self.path[-1].key}.photo", says=says)
        canvas.put([Picture(box[0], box[1], wide, tall, image)], (*self.path, figure))
        canvas.take((box[0], box[1], box[0] + wide, box[1] + tall), "photo")

    def _draw_facts(self, canvas: Canvas, box: Box) -> None:
        y = box[1]
        key = f"{self.path[-1].key}.facts"
        path = (*self.path, Element("L", key))
        for place, (name, value) in enumerate(self._facts()):
            high = self._fact_height((name, value), box[2] - box[0])
            item = (*path, Element("LI", f"{key}.{place}"))
            setting = value.fit(box[2] - box[0] - 48)
            down = setting.first_baseline - name.fit(44).first_baseline
            marks, ink = name.glyphs((box[0], y + 3.2 + max(0, down), box[0] + 44, y + high + 4))
            canvas.put(marks, (*item, Element("Lbl", f"{key}.{place}.name")))
            canvas.take(ink, "fact's name")
            marks, ink = value.glyphs((box[0] + 48, y + 3.2, box[2], y + high))
            canvas.put(marks, (*item, Element("LBody", f"{key}.{place}.value")))
            canvas.take(ink, "fact")
            y += high
            canvas.rule(box[0], box[2], y, 0.2)


# ----------------------------------------------------------------------------
# The anatomy of a pattern: a large figure, and a line from each part to its name.

_AIR = 10.0
_COLUMN_GAP = 14.0


@dataclass(frozen=True, slots=True)
class JigPart:
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
    yield JigPart("Hook", f"{hook.name}, {hook.finish}, size {product.hook_size}", bend, True)
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
    yield JigPart(kind, layers, (room.start + room.length * 0.5, room.half * 1.6), False)
    if pattern.tie.trim:
        yield JigPart("Trim", pattern.tie.trim, (room.start + room.length, room.half * 2), False)


@dataclass(slots=True)
class Anatomy:
    """The figure with its names: three columns of words above it, three below."""

    setter: Typesetter
    edition: Edition
    product: Product
    path: tuple[Element, ...]
    tall: float
    """How high the figure itself may stand, in points."""
    gap: float = 12.0
    keep: bool = False
    head: Unit | None = None

    def _labels(self) -> list[tuple[JigPart, Words]]:
        place = Place(piece=self.product.sku, block="anatomy")
        return [
            (part, self.setter.words("note", ("field", part.name), f"\n{part.says}", place=place,
                                     scale=1.14, least=6.0))
            for part in parts_of(self.product)
        ]  # fmt: skip

    def _row(self, above: bool) -> list[tuple[JigPart, Words]]:
        return [(part, words) for part, words in self._labels() if part.above is above]

    def _column(self, row: list[tuple[JigPart, Words]], width: float) -> float:
        return (width - _COLUMN_GAP * (len(row) - 1)) / max(1, len(row))

    def _high(self, row: list[tuple[JigPart, Words]], width: float) -> float:
        column = self._column(row, width)
        return max((words.height(column) for _, words in row), default=0.0)

    def height(self, width: float) -> float:
        """Return the height of the figure and of both rows of names."""
        rows = self._high(self._row(True), width) + self._high(self._row(False), width)
        return rows + self.tall + 2 * _AIR

    def draw(self, canvas: Canvas, box: Box) -> None:
        """Draw figure, lines and names."""
        width = box[2] - box[0]
        above, below = self._row(True), self._row(False)
        top = box[1] + self._high(above, width) + _AIR
        frame = (box[0] + width * 0.10, top, box[2] - width * 0.10, top + self.tall)
        matrix = draw_figure(canvas, self.edition, self.product, frame, self.path)
        self._names(canvas, above, (box[0], box[1], box[2], top - _AIR), matrix)
        self._names(canvas, below, (box[0], top + self.tall + _AIR, box[2], box[3]), matrix)

    def _names(
        self, canvas: Canvas, row: list[tuple[JigPart, Words]], box: Box, matrix: Matrix
    ) -> None:
        column = self._column(row, box[2] - box[0])
        for place, (part, words) in enumerate(row):
            left = box[0] + place * (column + _COLUMN_GAP)
            high = words.height(column)
            top = box[3] - high if part.above else box[1]
            key = f"{self.path[-1].key}.{part.name}"
            marks, ink = words.glyphs((left, top, left + column, top + high), "centre")
            canvas.put(marks, (*self.path, Element("P", key)))
            canvas.take(ink, f"anatomy, {part.name}")
            begin = (left + column / 2, box[3] + 2.5 if part.above else box[1] - 2.5)
            spot = part.spot if part.above else self._on_ink(part.spot)
            self._line(canvas, begin, apply(matrix, *spot))

    def _on_ink(self, spot: tuple[float, float]) -> tuple[float, float]:
        """Return the drawn point nearest to ``spot``: strands lie as they fell."""
        group = draw_jig(self.product, ink=self.edition.ink)
        drawn = (
            point
            for mark in group.marks
            if isinstance(mark, VectorPath)
            for point in path_points(mark)
        )
        return min(drawn, key=lambda p: (p[0] - spot[0]) ** 2 + (p[1] - spot[1]) ** 2)

    def _line(self, canvas: Canvas, begin: tuple[float, float], end: tuple[float, float]) -> None:
        """Draw a hairline that ends in a point on the part, light enough to see on dark strands."""
        x, y = end
        dot = VectorPath(
            (("M", x - 1.1, y), ("L", x, y - 1.1), ("L", x + 1.1, y), ("L", x, y + 1.1), ("Z",)),
            fill="#ffffff", stroke="#000000", width=0.35,
        )  # fmt: skip
        halo = VectorPath((("M", *begin), ("L", *end)), stroke="#ffffff", width=1.3)
        canvas.decorate(
            halo, VectorPath((("M", *begin), ("L", *end)), stroke=GREY, width=0.45), dot
        )
