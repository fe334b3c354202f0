"""The anatomy of a pattern: a large figure, and a line from each part to its name."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from labeler.book.canvas import GREY, Canvas
from labeler.book.edition import Edition
from labeler.book.flow import Unit
from labeler.book.setter import Setter, Words
from labeler.book.sitting import draw_figure
from labeler.catalog.model import Product
from labeler.findings import Place
from labeler.layout.figure import draw_jig
from labeler.layout.figure.jig import frame_of
from labeler.layout.figure.subject import sit
from labeler.layout.marks import Box, Matrix, Path, apply, spots
from labeler.press.leaf import Element

_AIR = 10.0
_COLUMN_GAP = 14.0


@dataclass(frozen=True, slots=True)
class Part:
    """A part of the jig: its name, what it is, and a point on it in the figure's own points."""

    name: str
    says: str
    spot: tuple[float, float]
    above: bool


def parts_of(product: Product) -> Iterator[Part]:
    """Yield the parts to name, from the nose to the tips, above the figure and below it."""
    frame = frame_of(sit(product))
    head, hook, pattern = product.head, product.hook, product.pattern
    metal = product.alloy.name
    yield Part("Head", f"{head.name}, {metal[:1].lower()}{metal[1:]}",
               (-frame.head.length * 0.52, -frame.head.length * 0.16), True)  # fmt: skip
    if product.guard:
        foot, point = frame.head.guard, frame.hook.point
        middle = ((foot[0] + point[0]) / 2, (foot[1] + point[1]) / 2)
        strands = f", {product.guard.strands} strands" if product.guard.style == "fibre" else ""
        yield Part("Guard", f"{product.guard.name}{strands}", middle, True)
    bend = frame.hook.bend[-1][0]
    yield Part("Hook", f"{hook.name}, {hook.finish}, size {product.hook_size}", bend, True)
    thread = product.materials.get(pattern.tie.thread or "")
    if thread:
        turns = f", {pattern.tie.wraps} wraps" if pattern.tie.wraps else ""
        spot = (frame.collar.length / 2, frame.collar.half * 0.8)
        yield Part("Collar", f"{thread.name}{turns}", spot, False)
    room = frame.room
    layers = ", ".join(
        f"{layer.shade}\N{NO-BREAK SPACE}{layer.amount or layer.strands}"
        for layer in product.colour.layers
    )
    kind = {"skirt": "Skirt, outside first", "hair": "Hair", "feather": "Feather"}[pattern.skirt]
    yield Part(kind, layers, (room.start + room.length * 0.5, room.half * 1.6), False)
    if pattern.tie.trim:
        yield Part("Trim", pattern.tie.trim, (room.start + room.length, room.half * 2), False)


@dataclass(slots=True)
class Anatomy:
    """The figure with its names: three columns of words above it, three below."""

    setter: Setter
    edition: Edition
    product: Product
    path: tuple[Element, ...]
    tall: float
    """How high the figure itself may stand, in points."""
    gap: float = 12.0
    keep: bool = False
    head: Unit | None = None

    def _labels(self) -> list[tuple[Part, Words]]:
        place = Place(piece=self.product.sku, block="anatomy")
        return [
            (part, self.setter.words("note", ("field", part.name), f"\n{part.says}", place=place,
                                     scale=1.14, least=6.0))
            for part in parts_of(self.product)
        ]  # fmt: skip

    def _row(self, above: bool) -> list[tuple[Part, Words]]:
        return [(part, words) for part, words in self._labels() if part.above is above]

    def _column(self, row: list[tuple[Part, Words]], width: float) -> float:
        return (width - _COLUMN_GAP * (len(row) - 1)) / max(1, len(row))

    def _high(self, row: list[tuple[Part, Words]], width: float) -> float:
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
        self, canvas: Canvas, row: list[tuple[Part, Words]], box: Box, matrix: Matrix
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
        drawn = (point for mark in group.marks if isinstance(mark, Path) for point in spots(mark))
        return min(drawn, key=lambda p: (p[0] - spot[0]) ** 2 + (p[1] - spot[1]) ** 2)

    def _line(self, canvas: Canvas, begin: tuple[float, float], end: tuple[float, float]) -> None:
        """Draw a hairline that ends in a point on the part, light enough to see on dark strands."""
        x, y = end
        dot = Path(
            (("M", x - 1.1, y), ("L", x, y - 1.1), ("L", x + 1.1, y), ("L", x, y + 1.1), ("Z",)),
            fill="#ffffff", stroke="#000000", width=0.35,
        )  # fmt: skip
        halo = Path((("M", *begin), ("L", *end)), stroke="#ffffff", width=1.3)
        canvas.decorate(halo, Path((("M", *begin), ("L", *end)), stroke=GREY, width=0.45), dot)
