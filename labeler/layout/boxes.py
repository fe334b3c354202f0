"""Rows and columns: how children are measured and placed along the run and across it."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace

from typing_extensions import override

from labeler.findings import LabelerError
from labeler.geometry import Box, Matrix, apply, apply_to_box
from labeler.layout.blocks.block import (
    DOWNWARDS,
    NO_EDGES,
    SIDEWAYS,
    Block,
    Edges,
    Ends,
    Ground,
    HoleBlock,
    asked,
    between,
    beyond,
    largest_squeeze,
    left_blank,
    overflow,
    own_side,
    rectangle,
    shared_out,
    too_narrow,
    upside_down,
)
from labeler.layout.context import Setup
from labeler.layout.markup import Node
from labeler.marks import Group, Step, VectorPath
from labeler.units import SLACK_PT

# ----------------------------------------------------------------------------
# What rows and columns have in common: children drawn one after the other, ground, turn, holes.
#
# Every block answers two questions: how large it would like to be (`natural`), at a squeeze from
# 1 (its largest) to 0 (its least); and what it draws in a box that it is given (`draw`). A
# container finds the largest squeeze at which its children fit, gives what is left to those with
# a share, and fails by name where even the least does not fit. Nothing is clipped.
#
# Points, y down, the face's top left corner as origin.


class Container(Block):
    """A row or a column. Subclasses say which way it runs."""

    ends: Ends = DOWNWARDS

    def __init__(
        self,
        node: Node,
        children: Sequence[Block],
        setup: Setup,
        holes: Sequence[HoleBlock] = (),
    ) -> None:
        self.node, self.children, self.setup, self.holes = node, children, setup, holes
        self.shares = [float(child.node.attrs.get("share", 0.0)) for child in children]
        self.holds_quantity = any(child.holds_quantity for child in children)
        self.gap = float(node.attrs.get("gap", 0.0))
        self.between = between(children, self.gap, self.ends)
        self.gaps = sum(self.between)
        self.pad = self._padded(node.attrs.get("pad", NO_EDGES))
        self._narrowest: float | None = None
        self._blank: Edges | None = None
        self._measured: dict[tuple[float | None, float | None, float], tuple[float, float]] = {}

    @property
    def _edged(self) -> bool:
        """Whether its own edge is printed."""
        return bool({"ground", "outline"} & self.node.attrs.keys())

    def _padded(self, pad: Edges) -> Edges:
        """Return the pad; round a quantity a printed edge keeps the margin, its own line not in."""
        if not (self._edged and self.holds_quantity):
            return pad
        line = float(self.node.attrs.get("outline", 0.0))
        inside = map(max, pad, asked(self.children, self.ends, None))
        top, right, bottom, left = (edge + line for edge in inside)
        return top, right, bottom, left

    @override
    def margin(self, width: float | None) -> Edges:
        own = own_side(self, "width")
        width = width if own is None else own
        inner = None
        if width is not None and self.ends == DOWNWARDS:
            inner = max(0.0, width - self.pad[1] - self.pad[3])
        edges = beyond(asked(self.children, self.ends, inner), self.pad)
        return upside_down(edges) if "turn" in self.node.attrs else edges

    @override
    def blank(self) -> Edges:
        if self._blank is None:
            edges = NO_EDGES
            if not (self._edged or self.holes):
                edges = left_blank(self.children, self.ends, self.pad)
            self._blank = upside_down(edges) if "turn" in self.node.attrs else edges
        return self._blank

    @override
    def natural(
        self, width: float | None, height: float | None, squeeze: float
    ) -> tuple[float, float]:
        key = width, height, squeeze
        if key not in self._measured:
            self._measured[key] = self.measure(*key)
        return self._measured[key]

    def measure(
        self, width: float | None, height: float | None, squeeze: float
    ) -> tuple[float, float]:
        """Return what `natural` keeps: the children's size with pad and gaps."""
        raise NotImplementedError

    def along(self, place: int, cross: float | None, squeeze: float) -> float:
        """Return how long a child would be along the container's run."""
        raise NotImplementedError

    def sides(self, inner: Box) -> tuple[float, float]:
        """Return the sides of a box across the run and along it."""
        raise NotImplementedError

    def cells(self, inner: Box, starts: Sequence[float], lengths: Sequence[float]) -> list[Box]:
        """Return the children's boxes, which begin at ``starts`` along the run."""
        raise NotImplementedError

    def narrowest_inside(self) -> float:
        """Return the least width of the children together, with their gaps."""
        raise NotImplementedError

    @override
    def narrowest(self) -> float:
        if self._narrowest is None:
            own = own_side(self, "width")
            inside = self.narrowest_inside() + self.pad[1] + self.pad[3] if own is None else own
            self._narrowest = inside
        return self._narrowest

    def fits_across(self, lengths: Sequence[float], cross: float) -> bool:
        """Tell whether children of these lengths can be drawn in the room across."""
        return True

    def lengths(self, cross: float, run: float) -> list[float]:
        """Share out ``run`` among the children, whose other side is ``cross``.

        Raises:
            LabelerError: naming the child that asks for most, if the least does not fit.
        """
        room = run - self.gaps

        def shared_at(squeeze: float) -> list[float] | None:
            wanted = self.wanted(cross, squeeze)
            if sum(wanted) > room + SLACK_PT:
                return None
            lengths = self.shared(wanted, room)
            return lengths if self.fits_across(lengths, cross) else None

        at_ease = shared_at(1.0)
        if at_ease is not None:
            return at_ease
        least = self.wanted(cross, 0.0)
        if sum(least) > room + SLACK_PT:
            raise self._complaint(cross, room, least)
        squeeze = largest_squeeze(lambda squeeze: shared_at(squeeze) is not None)
        return self.shared(self.wanted(cross, squeeze), room)

    def wanted(self, cross: float | None, squeeze: float) -> list[float]:
        """Return what the children ask for: those with a share their least."""
        return [
            self.along(place, cross, 0.0 if share else squeeze)
            for place, share in enumerate(self.shares)
        ]

    def shared(self, wanted: Sequence[float], room: float) -> list[float]:
        """Give what the others leave of ``room`` to the children with a share."""
        taken = sum(w for w, share in zip(wanted, self.shares, strict=True) if not share)
        return shared_out(room - taken, self.shares, wanted)

    def _complaint(self, cross: float, room: float, least: Sequence[float]) -> LabelerError:
        worst = max(range(len(least)), key=least.__getitem__)
        child, needs = self.children[worst], least[worst]
        inner, own = self.culprit_in(child, cross)
        if math.isinf(needs):
            return too_narrow(self.setup.at(inner.node), inner)
        over = sum(least) - room
        if own < over:  # not even without it would the rest fit
            inner, own = child, needs
        return overflow(self.setup.at(inner.node), inner.node.name, own, own - over)

    def culprit_in(self, child: Block, cross: float) -> tuple[Block, float]:
        """Return the block in ``child`` that asks for most of the run, and what it asks for."""
        raise NotImplementedError

    def tallest(self, width: float) -> tuple[Block, float]:
        """Return the child that stands highest at its least in ``width``, and its own width."""
        raise NotImplementedError

    @override
    def draw(self, box: Box, ground: Ground) -> None:
        """Draw ground, outline and children; a turned container stands on its head."""
        self._draw_ground(box, ground)
        if "turn" not in self.node.attrs:
            self._draw_inside(box, ground)
            return
        matrix = (-1.0, 0.0, 0.0, -1.0, box[0] + box[2], box[1] + box[3])
        inner = Ground(apply_to_box(matrix, ground.trim), ground.bleed)
        self._draw_inside(box, inner)
        ground.marks.append(Group(matrix, tuple(inner.marks), inner.reach(box)))
        ground.taken += [(apply_to_box(matrix, b), block) for b, block in inner.taken]
        ground.clear += [apply_to_box(matrix, b) for b in inner.clear]
        ground.kept += [replace(kept, box=apply_to_box(matrix, kept.box)) for kept in inner.kept]
        ground.holes += [_turned(hole, matrix) for hole in inner.holes]

    def _draw_ground(self, box: Box, ground: Ground) -> None:
        fill, outline = self.node.attrs.get("ground"), self.node.attrs.get("outline")
        if fill:
            ground.marks.append(rectangle(ground.reach(box), fill=self.setup.grounded(fill)))
        if outline:
            half, room = outline / 2, min(box[2] - box[0], box[3] - box[1])
            if room < outline - SLACK_PT:
                place = self.setup.at(self.node)
                raise overflow(place, f"the outline of {self.node.name}", outline, room)
            inset = (box[0] + half, box[1] + half, box[2] - half, box[3] - half)
            ground.marks.append(rectangle(inset, stroke="#000000", width=outline))

    def _draw_inside(self, box: Box, ground: Ground) -> None:
        for hole in self.holes:
            hole.draw(box, ground)
        if not self.children:
            return
        top, right, bottom, left = self.pad
        inner = (box[0] + left, box[1] + top, box[2] - right, box[3] - bottom)
        for what, before, after, first, last in (
            ("width", left, right, 0, 2),
            ("height", top, bottom, 1, 3),
        ):
            if inner[last] < inner[first] - SLACK_PT:
                raise overflow(
                    self.setup.at(self.node),
                    f"the pad of {self.node.name} in its {what}",
                    before + after,
                    box[last] - box[first],
                )
        self._draw_children(inner, ground)

    def _draw_children(self, inner: Box, ground: Ground) -> None:
        across, run = self.sides(inner)
        lengths = self.lengths(across, run)
        at, more = self._start(run - sum(lengths) - self.gaps)
        starts = []
        for length, gap in zip(lengths, [*self.between, 0.0], strict=True):
            starts.append(at)
            at += length + gap + more
        boxes = self.cells(inner, starts, lengths)
        for child, box in zip(self.children, boxes, strict=True):
            child.draw(box, ground)

    def _start(self, spare: float) -> tuple[float, float]:
        """Return where the first child begins and what to add to each gap."""
        spread = self.node.attrs.get("spread", "")
        if spare <= SLACK_PT or spread in ("", "top", "left"):
            return 0.0, 0.0
        if spread == "apart" and len(self.children) > 1:
            return 0.0, spare / (len(self.children) - 1)
        return (spare / 2 if spread == "middle" else spare), 0.0


def _turned(path: VectorPath, matrix: Matrix) -> VectorPath:
    steps: list[Step] = []
    for step in path.steps:
        spots: tuple[float, ...] = step[1:]
        ends = [apply(matrix, *spot) for spot in zip(spots[::2], spots[1::2], strict=True)]
        steps.append((step[0], *(n for end in ends for n in end)))  # type: ignore[arg-type]
    return replace(path, steps=tuple(steps))


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
