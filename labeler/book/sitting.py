"""A jig's picture in a box: drawn from its recipe, with its swatch bar where it is asked for."""

from __future__ import annotations

from labeler.book.canvas import Canvas
from labeler.book.edition import Edition
from labeler.catalog.model import Product
from labeler.layout.blocks.swatch import swatch_bar
from labeler.layout.figure import draw_jig
from labeler.layout.marks import Box, Group, Matrix
from labeler.press.leaf import Element


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
