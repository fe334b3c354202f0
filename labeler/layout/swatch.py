"""The recipe at a glance: a bar of its shades, or their names where black ink can't show them."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from functools import lru_cache
from itertools import pairwise
from typing import Any

from typing_extensions import override

from labeler.catalog.model import Layer
from labeler.drawing import engraving
from labeler.drawing.jig import EDITION
from labeler.findings import Place, note
from labeler.geometry import Box, grown
from labeler.layout.block import (
    Block,
    Demands,
    Extent,
    LayoutContext,
    Size,
    Surface,
    lightness,
    overflow,
    share_out,
)
from labeler.layout.markup import Node
from labeler.layout.text_blocks import TextBlock
from labeler.marks import InkMode, Mark, Step, VectorPath, line, rectangle
from labeler.units import NO_BREAK_SPACE

_HEIGHT = 5.0
_LEAST = (12.0, 1.5)
"""Points, width and height: below this a bar tells no recipe."""
_THINNEST = {1: 0.6, 2: 1.2}
"""Points, by the drawing's edition: a layer of one strand is still seen, beside its divider."""
_EDGE = 0.3
"""Points: the outline that keeps a white layer from vanishing on white card."""
_DIVIDER = 0.5
"""Points: the line between neighbours. Violet and pumpkin beside each other are 1.04 : 1 (W3C, Web
Content Accessibility Guidelines 2.2, relative luminance): without it they are one field."""

_EDGE_INK = "#4a4a48"
_PALE = 0.82
"""From this lightness on white parts nothing: the line between two pale fields is dark."""

_SPECK = 0.55
_SPECKS_APART = {"sparse": 4.2, "medium": 3.0, "dense": 2.1}


def layers_of(node: Node, context: LayoutContext) -> tuple[Layer, ...]:
    """Return the layers that a swatch shows: all of the recipe, or the one that it names.

    Raises:
        LabelerError: if the recipe has no layer of that number.
    """
    layers = context.product_of(node).colour.layers
    number = node.attrs.get("layer", 0)
    if number > len(layers):
        raise context.error(
            "layout-value", node, "the recipe has no such layer",
            found=str(number), expected=f"1 to {len(layers)}",
        )  # fmt: skip
    return layers[number - 1 : number] if number else layers


def swatch(node: Node, context: LayoutContext) -> Block:
    """Return the block that shows a recipe: its bar, or in black its shades' names.

    Raises:
        LabelerError: if the node asks for a layer that is not there.
    """
    layers = layers_of(node, context)
    if context.edition == 1 or context.ink == "colour" or "layer" in node.attrs:
        return Swatch(node, context)
    return ShadeNames(node, context, layers)


class Swatch(Block):
    """The recipe at a glance: a field a layer, its width the count of its strands.

    Layers stand in tying order, from the left: the first is the one that shows outside. One
    layer alone, if the node gives its number.
    """

    def __init__(self, node: Node, context: LayoutContext) -> None:
        self.node, self.context = node, context
        self.layers = layers_of(node, context)
        self.least = max(_LEAST[0], _THINNEST[context.edition] * len(self.layers))

    @override
    def demands(self) -> Demands:
        return (self.least,)

    @override
    def natural(self, width: Extent, height: Extent, fullness: float) -> Size:
        own = self.own_height
        return (self.least if width is None else width), _HEIGHT if own is None else own

    @override
    def least_width(self) -> float:
        return self.least

    @override
    def draw(self, box: Box, surface: Surface) -> None:
        place = self.context.place(self.node)
        if box[2] - box[0] < self.least:
            raise overflow(place, "the swatch's width", self.least, box[2] - box[0])
        if box[3] - box[1] < _LEAST[1]:
            raise overflow(place, "the swatch's height", _LEAST[1], box[3] - box[1])
        surface.marks += swatch_bar(self.layers, box, self.context.ink, self.context.edition)
        surface.occupied.append((box, self))


_NAMES = {"style": "note", "least": 5.0, "lines": 2}
"""How shades are named in the bar's place: as small as a label's facts, and no smaller."""


class ShadeNames(TextBlock):
    """The shades by name in tying order: what a bar in black can't tell.

    Lines as close as an ink is dark would draw brown, blue and violet alike, and orange like
    chartreuse. The names take the bar's room and the little more that letters need; where even
    that is not there, they are left out and that is said.
    """

    def __init__(self, node: Node, context: LayoutContext, layers: Sequence[Layer]) -> None:
        kept: dict[str, Any] = {
            key: node.attrs[key] for key in ("name", "width", "share", "align") if key in node.attrs
        }
        self.bar_high = node.attrs.get("height", _HEIGHT)
        names = dict.fromkeys(layer.shade.replace(" ", NO_BREAK_SPACE) for layer in layers)
        most = 4.4 + 0.55 * self.bar_high  # a piece with a higher bar has room for larger names
        text = Node("text", node.file, node.line, {**kept, **_NAMES, "most": max(6.2, most)})
        text.words = [(_LISTED.join(names), None)]
        text.key = node.key
        super().__init__(text, context)

    @override
    def natural(self, width: Extent, height: Extent, fullness: float) -> Size:
        across, down = super().natural(width, height, 1.0)
        if math.isinf(down):  # they are left out, and nothing need give way to them
            down = self.bar_high
        if width is None:
            across = min(across, _LEAST[0] + fullness * max(0.0, across - _LEAST[0]))
        return across, self.bar_high + fullness * max(0.0, down - self.bar_high)

    @override
    def least_width(self) -> float:
        return _LEAST[0]

    @override
    def draw(self, box: Box, surface: Surface) -> None:
        if self.text.largest(box[2] - box[0], box[3] - box[1], self.text.most) is not None:
            super().draw(box, surface)
            return
        self.context.findings.append(
            note(
                "shades-unnamed",
                Place(piece=self.context.subject.sku if self.context.subject else ""),
                "in black the recipe's shades are named, and here their names have no room",
                hint="Shorten their names, or choose a larger label or another layout.",
            )
        )


_LISTED = f"{NO_BREAK_SPACE}· "
"""A line that is full ends with the dot, and none begins with one."""


_TONES = (0.34, 0.6, 0.82)
"""Lightnesses between solid black, close lines, open lines, and paper."""
_LINES_APART = (0.0, 1.3, 3.0)
"""Points between a tone's lines, along the bar; solid has none."""
_LINE = 0.35
"""Points: a dot at 203 to the inch."""


def _tone(layer: Layer) -> int:
    light = engraving.lightness(layer.ink)
    return sum(light >= bound for bound in _TONES)


def swatch_bar(
    layers: Sequence[Layer], box: Box, ink: InkMode, edition: int = EDITION
) -> Iterator[Mark]:
    """Yield the bar's fields, the lines between them, and its edge.

    Args:
        layers: in tying order, from the left.
        box: in points.
        ink: in the recipe's inks; else in black, with lines as close as the ink is dark.
        edition: of the drawing; in the first nothing parted one colour from the next.
    """
    black = ink != "colour"
    fields = list(_fields(layers, box, _THINNEST[edition]))
    for layer, field in zip(layers, fields, strict=True):
        yield from _lined(field, layer, edition) if black else _tinted(field, layer)
        if edition == 1 and black and field[2] < box[2] - _EDGE:
            yield line((field[2], box[1]), (field[2], box[3]), width=_EDGE)
    if edition > 1:
        for field, pair in zip(fields, pairwise(layers), strict=False):
            stroke, width = ("#000000", _EDGE) if black else _parting(pair)
            yield line((field[2], box[1]), (field[2], box[3]), stroke=stroke, width=width)
    yield rectangle(grown(box, -_EDGE / 2), stroke="#000000" if black else _EDGE_INK, width=_EDGE)


def _fields(layers: Sequence[Layer], box: Box, thinnest: float) -> Iterator[Box]:
    left = box[0]
    strands, least = [layer.strands for layer in layers], [thinnest] * len(layers)
    for width in share_out(box[2] - box[0], strands, least):
        yield left, box[1], left + width, box[3]
        left += width


def _parting(pair: tuple[Layer, Layer]) -> tuple[str, float]:
    """Return ink and width of the line between two colours."""
    pale = min(engraving.lightness(layer.ink) for layer in pair) >= _PALE
    return (_EDGE_INK, _EDGE) if pale else ("#ffffff", _DIVIDER)


def _tinted(field: Box, layer: Layer) -> Iterator[Mark]:
    """A field in the layer's ink; a two-tone one changes along a slant, flake lies in specks."""
    left, top, right, bottom = field
    yield rectangle(field, fill=layer.ink)
    if layer.tip:
        slant = min(bottom - top, (right - left) / 2)
        middle = (left + right) / 2
        yield VectorPath(
            (
                ("M", middle + slant / 2, top), ("L", right, top), ("L", right, bottom),
                ("L", middle - slant / 2, bottom), ("Z",),
            ),
            fill=layer.tip,
        )  # fmt: skip
    if layer.flake and (steps := _specks(field, _SPECKS_APART[layer.flake.density])):
        yield VectorPath(steps, fill=layer.flake.ink)


@lru_cache(maxsize=256)
def _specks(field: Box, apart: float) -> tuple[Step, ...]:
    """Specks in a fixed quincunx, so that the same recipe is the same print."""
    left, top, right, bottom = field
    steps: list[Step] = []
    row, y = 0, top + apart / 3
    while y < bottom - _SPECK:
        x = left + apart / 2 + (apart / 2 if row % 2 else 0)
        while x < right - _SPECK:
            steps += rectangle((x, y, x + _SPECK, y + _SPECK)).steps
            x += apart
        row, y = row + 1, y + apart / 2
    return tuple(steps)


_FIRST_HATCHES = (0.0, 1.1, 1.9, 3.2)
"""The distances of the first edition."""


def _lined(field: Box, layer: Layer, edition: int) -> Iterator[Mark]:
    """A field in lines as close as the ink is dark."""
    if edition == 1:
        gap, width = _FIRST_HATCHES[min(3, int(lightness(layer.ink) * 4))], 0.3
    elif (tone := _tone(layer)) == len(_LINES_APART):
        return
    else:
        gap, width = _LINES_APART[tone], _LINE
    if not gap:
        yield rectangle(field, fill="#000000")
    elif lines := tuple(_hatching(field, gap)):
        yield VectorPath(lines, stroke="#000000", width=width)


def _hatching(field: Box, gap: float) -> Iterator[Step]:
    left, top, right, bottom = field
    tall = bottom - top
    x = left - tall + gap
    while x < right:
        start, end = max(x, left), min(x + tall, right)
        if end > start:
            yield "M", start, bottom - (start - x)
            yield "L", end, bottom - (end - x)
        x += gap
