"""The swatch bar: the recipe at a glance, a field a layer, its width the count of its strands."""

from __future__ import annotations

from collections.abc import Iterator

from typing_extensions import override

from labeler.catalog.model import Layer
from labeler.layout.ground import Block, Ground, rectangle
from labeler.layout.marks import Box, Mark, Path
from labeler.layout.markup import Node
from labeler.layout.setup import Setup

_HEIGHT = 5.0
_EDGE = 0.3
"""Points: the outline that keeps a white layer from vanishing on white card."""

_EDGE_INK = "#4a4a48"
_HATCHES = (0.0, 1.1, 1.9, 3.2)
"""Distances between hatching lines in black mode, from solid to open, in points."""


class Swatch(Block):
    """Layers in tying order, from the left: the first is the one that shows outside."""

    def __init__(self, node: Node, setup: Setup) -> None:
        self.node, self.setup = node, setup
        self.layers = setup.shown(node).colour.layers

    @override
    def natural(
        self, width: float | None, height: float | None, squeeze: float
    ) -> tuple[float, float]:
        return (width or 0.0), float(self.node.attrs.get("height", _HEIGHT))

    @override
    def draw(self, box: Box, ground: Ground) -> None:
        strands = sum(layer.strands for layer in self.layers)
        left = box[0]
        for layer in self.layers:
            right = left + (box[2] - box[0]) * layer.strands / strands
            field = (left, box[1], right, box[3])
            ground.marks += _black(field, layer) if self._black else _tinted(field, layer)
            left = right
        edge = "#000000" if self._black else _EDGE_INK
        half = _EDGE / 2
        inset = (box[0] + half, box[1] + half, box[2] - half, box[3] - half)
        ground.marks.append(rectangle(inset, stroke=edge, width=_EDGE))
        ground.taken.append((box, self))

    @property
    def _black(self) -> bool:
        return self.setup.ink == "black"


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
    if layer.flake:
        yield from _specks(field, layer.flake.ink, layer.flake.density)


def _specks(field: Box, ink: str, density: str) -> Iterator[Mark]:
    """Specks in a fixed quincunx, so that the same recipe is the same print."""
    left, top, right, bottom = field
    step = {"sparse": 4.2, "medium": 3.0, "dense": 2.1}[density]
    size = 0.55
    row, y = 0, top + step / 3
    while y < bottom - size:
        x = left + step / 2 + (step / 2 if row % 2 else 0)
        while x < right - size:
            yield rectangle((x, y, x + size, y + size), fill=ink)
            x += step
        row, y = row + 1, y + step / 2


def _black(field: Box, layer: Layer) -> Iterator[Mark]:
    """A field in hatching as dense as the ink is dark."""
    _, top, right, bottom = field
    tone = _tone(layer.ink)
    gap = _HATCHES[min(3, int(tone * 4))]
    if gap == 0.0:
        yield rectangle(field, fill="#000000")
    else:
        yield from _hatching(field, gap)
    yield Path((("M", right, top), ("L", right, bottom)), stroke="#000000", width=_EDGE)


def _hatching(field: Box, gap: float) -> Iterator[Mark]:
    left, top, right, bottom = field
    tall = bottom - top
    x = left - tall + gap
    while x < right:
        start, end = max(x, left), min(x + tall, right)
        if end > start:
            yield Path(
                (("M", start, bottom - (start - x)), ("L", end, bottom - (end - x))),
                stroke="#000000",
                width=0.3,
            )
        x += gap


def _tone(ink: str) -> float:
    """Return how light an ink is, from nought to just under one, as the eye sees it."""
    red, green, blue = (int(ink[i : i + 2], 16) / 255 for i in (1, 3, 5))
    luminance = 0.2126 * red**2.2 + 0.7152 * green**2.2 + 0.0722 * blue**2.2
    return float(min(0.999, luminance ** (1 / 2.2)))
