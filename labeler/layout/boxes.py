"""Rows and columns: how children are measured and placed along the run and across it."""

from __future__ import annotations

import math
from collections.abc import Sequence

from typing_extensions import override

from labeler.layout.container import Container
from labeler.layout.ground import Block, overflow, own_side
from labeler.layout.margins import SIDEWAYS
from labeler.layout.marks import Box
from labeler.layout.sharing import largest_squeeze
from labeler.units import SLACK_PT

_ACROSS = {
    "left": 0.0, "centre": 0.5, "right": 1.0,
    "top": 0.0, "middle": 0.5, "bottom": 1.0, "baseline": 1.0,
}  # fmt: skip


class Column(Container):
    """Children one below the other, each as wide as the column unless it says otherwise."""

    @override
    def along(self, place: int, cross: float | None, squeeze: float) -> float:
        """Return how high a child would be; its own height binds it, or a share's least."""
        child = self.children[place]
        own = own_side(child, "height")
        if own is not None and not self.shares[place]:
            return own
        width = own_side(child, "width")
        tall = child.natural(cross if width is None else width, None, squeeze)[1]
        return max(own or 0.0, tall)

    @override
    def measure(
        self, width: float | None, height: float | None, squeeze: float
    ) -> tuple[float, float]:
        top, right, bottom, left = self.pad
        own = own_side(self, "width")
        width = width if own is None else own
        if width is None:
            inner = max((self._wide(child, squeeze) for child in self.children), default=0.0)
        else:
            inner = max(0.0, width - left - right)
        tall = own_side(self, "height")
        if tall is None:
            tall = sum(self.wanted(inner, squeeze)) + self.gaps + top + bottom
        return (inner + left + right if width is None else width), tall

    def _wide(self, child: Block, squeeze: float) -> float:
        own = own_side(child, "width")
        return child.natural(None, None, squeeze)[0] if own is None else own

    @override
    def culprit_in(self, child: Block, cross: float) -> tuple[Block, float]:
        own = own_side(child, "width")
        width = cross if own is None else own
        while isinstance(child, Container) and child.children:
            if own_side(child, "height") is not None:
                break
            child, width = child.tallest(width)
        return child, child.natural(width, None, 0.0)[1]

    @override
    def tallest(self, width: float) -> tuple[Block, float]:
        inner = max(0.0, width - self.pad[1] - self.pad[3])
        wides = [inner if (own := own_side(c, "width")) is None else own for c in self.children]
        pairs = list(zip(self.children, wides, strict=True))
        return max(pairs, key=lambda pair: pair[0].natural(pair[1], None, 0.0)[1])

    @override
    def narrowest_inside(self) -> float:
        return max((child.narrowest() for child in self.children), default=0.0)

    @override
    def drop(self, width: float, height: float) -> float:
        if not self.children or self.node.attrs.get("spread") != "bottom":
            return 0.0
        last = self.children[-1]
        return last.drop(width, last.natural(width, None, 1.0)[1]) + self.pad[2]

    @override
    def sides(self, inner: Box) -> tuple[float, float]:
        return inner[2] - inner[0], inner[3] - inner[1]

    @override
    def cells(self, inner: Box, starts: Sequence[float], lengths: Sequence[float]) -> list[Box]:
        boxes = []
        for child, start, length in zip(self.children, starts, lengths, strict=True):
            top = inner[1] + start
            left, right = self._across(child, inner[0], inner[2])
            boxes.append((left, top, right, top + length))
        return boxes

    def _across(self, child: Block, left: float, right: float) -> tuple[float, float]:
        own = own_side(child, "width")
        if own is None:
            return left, right
        room = right - left - own
        if room < -SLACK_PT:
            raise overflow(self.setup.at(child.node), child.node.name, own, right - left)
        left += room * _ACROSS[self.node.attrs.get("align", "left")]
        return left, left + own


class Row(Container):
    """Children side by side, each as tall as the row unless it says otherwise."""

    ends = SIDEWAYS

    @override
    def along(self, place: int, cross: float | None, squeeze: float) -> float:
        """Return how wide a child would be; with a share, the least in which it can be drawn."""
        child = self.children[place]
        if self.shares[place]:
            return child.narrowest()
        own = own_side(child, "width")
        if own is not None:
            return own
        height = own_side(child, "height")
        return child.natural(None, cross if height is None else height, squeeze)[0]

    @override
    def measure(
        self, width: float | None, height: float | None, squeeze: float
    ) -> tuple[float, float]:
        top, right, bottom, left = self.pad
        own_width, own_height = own_side(self, "width"), own_side(self, "height")
        width = width if own_width is None else own_width
        height = height if own_height is None else own_height
        cross = None if height is None else max(0.0, height - top - bottom)
        widths = self.wanted(cross, squeeze)
        if width is not None:
            widths = self._in_width(widths, cross, max(0.0, width - left - right))
        if height is None:
            height = self._tall(widths, squeeze) + top + bottom
        return (sum(widths) + self.gaps + left + right if width is None else width), height

    def _in_width(self, wanted: list[float], cross: float | None, run: float) -> list[float]:
        room = run - self.gaps
        if sum(wanted) > room + SLACK_PT:
            return self.lengths(math.inf if cross is None else cross, run)
        return self.shared(wanted, room)

    def _tall(self, widths: Sequence[float], squeeze: float) -> float:
        highs = [self._high(*pair, squeeze) for pair in zip(self.children, widths, strict=True)]
        if self.node.attrs.get("valign") != "baseline":
            return max(highs, default=0.0)
        drops = self._drops(widths, highs)
        above = max((high - drop for high, drop in zip(highs, drops, strict=True)), default=0.0)
        return above + max(drops, default=0.0)

    def _high(self, child: Block, width: float, squeeze: float) -> float:
        own = own_side(child, "height")
        return child.natural(width, None, squeeze)[1] if own is None else own

    @override
    def fits_across(self, lengths: Sequence[float], cross: float) -> bool:
        return all(
            self._high(child, length, 0.0) <= cross + SLACK_PT
            for child, length in zip(self.children, lengths, strict=True)
        )

    @override
    def culprit_in(self, child: Block, cross: float) -> tuple[Block, float]:
        while isinstance(child, Container) and child.children:
            if own_side(child, "width") is not None:
                break
            child = max(child.children, key=lambda one: one.narrowest())
        return child, child.narrowest()

    @override
    def tallest(self, width: float) -> tuple[Block, float]:
        run = max(0.0, width - self.pad[1] - self.pad[3])
        wides = self._in_width(self.wanted(None, 0.0), None, run)
        pairs = list(zip(self.children, wides, strict=True))
        return max(pairs, key=lambda pair: self._high(pair[0], pair[1], 0.0))

    @override
    def narrowest_inside(self) -> float:
        return sum(child.narrowest() for child in self.children) + self.gaps

    @override
    def sides(self, inner: Box) -> tuple[float, float]:
        return inner[3] - inner[1], inner[2] - inner[0]

    @override
    def cells(self, inner: Box, starts: Sequence[float], lengths: Sequence[float]) -> list[Box]:
        cross = inner[3] - inner[1]
        on_line = self.node.attrs.get("valign") == "baseline"
        squeeze = self._squeeze_in(lengths, cross) if on_line else 1.0
        highs = [
            self._down(*pair, cross, squeeze) for pair in zip(self.children, lengths, strict=True)
        ]
        rises = [0.0] * len(highs)
        if on_line:
            drops = self._drops(lengths, highs)
            rises = [max(drops) - drop for drop in drops]
        boxes = []
        for start, length, high, rise in zip(starts, lengths, highs, rises, strict=True):
            tall = min(high, cross - rise)
            top = inner[1] + (cross - rise - tall) * _ACROSS[self.node.attrs.get("valign", "top")]
            left = inner[0] + start
            boxes.append((left, top, left + length, top + tall))
        return boxes

    def _squeeze_in(self, lengths: Sequence[float], cross: float) -> float:
        """Return the squeeze at which the children, set on one line, are as high as the row."""

        def fits(squeeze: float) -> bool:
            return self._tall(lengths, squeeze) <= cross + SLACK_PT

        return 1.0 if fits(1.0) else largest_squeeze(fits)

    def _down(self, child: Block, length: float, cross: float, squeeze: float) -> float:
        """Return how high a child stands in the row: as high as the row, or as it likes."""
        own = own_side(child, "height")
        if own is not None:
            if own > cross + SLACK_PT:
                raise overflow(self.setup.at(child.node), child.node.name, own, cross)
            return own
        if "valign" in self.node.attrs and not isinstance(child, Container):
            return min(cross, child.natural(length, None, squeeze)[1])
        return cross

    def _drops(self, lengths: Sequence[float], highs: Sequence[float]) -> list[float]:
        return [c.drop(*sides) for c, *sides in zip(self.children, lengths, highs, strict=True)]
