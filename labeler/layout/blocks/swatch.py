"""The swatch bar: the recipe at a glance, a field a layer, its width the count of its strands."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from functools import lru_cache

from typing_extensions import override

from labeler.catalog.model import Layer
from labeler.findings import LabelerError, stop
from labeler.layout.ground import Block, Ground, overflow, own_side, rectangle
from labeler.layout.marks import Box, Mark, Path, Step
from labeler.layout.markup import Node
from labeler.layout.setup import InkMode, Setup
from labeler.layout.sharing import shared_out
from labeler.layout.tone import lightness

_HEIGHT = 5.0
_LEAST = (12.0, 1.5)
"""Points, width and height: below this a bar tells no recipe."""
_THINNEST = 0.6
"""Points: a layer of one strand is still seen."""
_EDGE = 0.3
"""Points: the outline that keeps a white layer from vanishing on white card."""

_EDGE_INK = "#4a4a48"
_HATCHES = (0.0, 1.1, 1.9, 3.2)
"""Distances between hatching lines in black mode, from solid to open, in points."""
_SPECK = 0.55
_SPECKS_APART = {"sparse": 4.2, "medium": 3.0, "dense": 2.1}


class Swatch(Block):
    """Layers in tying order, from the left: the first is the one that shows outside.

    One layer alone, if the node gives its number.
    """

    def __init__(self, node: Node, setup: Setup) -> None:
        self.node, self.setup = node, setup
        self.layers = self._chosen(setup.shown(node).colour.layers)
        self.least = max(_LEAST[0], _THINNEST * len(self.layers))

    def _chosen(self, layers: tuple[Layer, ...]) -> tuple[Layer, ...]:
        number = self.node.attrs.get("layer")
        if number is None:
            return layers
        if number > len(layers):
            raise LabelerError(
                stop(
                    "layout-value",
                    self.setup.at(self.node),
                    "the recipe has no such layer",
                    found=str(number),
                    expected=f"1 to {len(layers)}",
                )
            )
        return (layers[number - 1],)

    @override
    def natural(
        self, width: float | None, height: float | None, squeeze: float
    ) -> tuple[float, float]:
        own = own_side(self, "height")
        return (self.least if width is None else width), _HEIGHT if own is None else own

    @override
    def narrowest(self) -> float:
        return max(own_side(self, "width") or 0.0, self.least)

    @override
    def draw(self, box: Box, ground: Ground) -> None:
        place = self.setup.at(self.node)
        if box[2] - box[0] < self.least:
            raise overflow(place, "the swatch's width", self.least, box[2] - box[0])
        if box[3] - box[1] < _LEAST[1]:
            raise overflow(place, "the swatch's height", _LEAST[1], box[3] - box[1])
        ground.marks += swatch_bar(self.layers, box, self.setup.ink)
        ground.taken.append((box, self))


def swatch_bar(layers: Sequence[Layer], box: Box, ink: InkMode) -> Iterator[Mark]:
    """Yield the bar's fields and its edge."""
    black = ink == "black"
    thinnest = [_THINNEST] * len(layers)
    left = box[0]
    widths = shared_out(box[2] - box[0], [layer.strands for layer in layers], thinnest)
    for layer, width in zip(layers, widths, strict=True):
        field = (left, box[1], left + width, box[3])
        yield from _black(field, layer) if black else _tinted(field, layer)
        left += width
        if black and left < box[2] - _EDGE:
            yield Path((("M", left, box[1]), ("L", left, box[3])), stroke="#000000", width=_EDGE)
    half = _EDGE / 2
    inset = (box[0] + half, box[1] + half, box[2] - half, box[3] - half)
    yield rectangle(inset, stroke="#000000" if black else _EDGE_INK, width=_EDGE)


def _tinted(field: Box, layer: Layer) -> Iterator[Mark]:
    """A field in the layer's ink; a two-tone one changes along a slant, flake lies in specks."""
    left, top, right, bottom = field
    yield rectangle(field, fill=layer.ink)
    if layer.tip:
        slant = min(bottom - top, (right - left) / 2)
        middle = (left + right) / 2
        yield Path(
            (
                ("M", middle + slant / 2, top), ("L", right, top), ("L", right, bottom),
                ("L", middle - slant / 2, bottom), ("Z",),
            ),
            fill=layer.tip,
        )  # fmt: skip
    if layer.flake and (steps := _specks(field, _SPECKS_APART[layer.flake.density])):
        yield Path(steps, fill=layer.flake.ink)


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


def _black(field: Box, layer: Layer) -> Iterator[Mark]:
    """A field in hatching as dense as the ink is dark."""
    gap = _HATCHES[min(3, int(lightness(layer.ink) * 4))]
    if not gap:
        yield rectangle(field, fill="#000000")
    elif lines := tuple(_hatching(field, gap)):
        yield Path(lines, stroke="#000000", width=0.3)


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
