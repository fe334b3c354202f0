"""The colour plate: every colourway's figure, its swatch bar, its name beneath, in even rows."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from labeler.book.canvas import Canvas
from labeler.book.edition import Edition
from labeler.book.entries import Entry
from labeler.book.flow import Unit
from labeler.book.setter import Setter
from labeler.book.sitting import draw_figure, draw_swatch
from labeler.catalog.model import Product
from labeler.findings import Place
from labeler.layout.marks import Box
from labeler.press.leaf import Element

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
    setter: Setter, edition: Edition, entry: Entry, path: tuple[Element, ...]
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

    setter: Setter
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
