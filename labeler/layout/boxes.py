"""Rows and columns: how children are measured and placed; and spacers, rules and hang holes.

Every block answers two questions: how large it would like to be (`natural`), at a fullness from
1 (its largest) to 0 (its least); and what it draws in a box that it is given (`draw`). A
container finds the greatest fullness at which its children fit, gives what is left to those with
a share, and fails by name where even the least does not fit. Nothing is clipped.

Points, y down, the face's top left corner as origin.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Sequence
from dataclasses import replace
from itertools import pairwise
from operator import add

from typing_extensions import override

from labeler.findings import LabelerError, Place, refusal
from labeler.geometry import Box, Matrix, apply, apply_to_box, grown
from labeler.layout.block import (
    NO_EDGES,
    SHORTEN,
    VALIGNED,
    Block,
    Edges,
    Extent,
    LayoutContext,
    Size,
    Surface,
    overflow,
    share_out,
)
from labeler.layout.markup import Node
from labeler.marks import KAPPA, Group, Step, VectorPath, circle, line, rectangle
from labeler.type.setting import ALIGNED
from labeler.units import SLACK_PT, Length

_HAIRLINE = 0.35
"""Points. Printers hold a line of 0.25 pt and more; common practice, no published source."""

_ROUND = Length.from_inches(0.25).pt
"""A round peg hole, 1/4 in. Common practice, no published source."""

EURO_SLOT = (Length.from_mm(32).pt, Length.from_mm(6.5).pt, Length.from_mm(9).pt)
"""Width, height of the slot's arms, height with the dome. Source: EN 13010, as restated in
encyclopaedias; the standard itself was not read."""

_CLEAR = Length.from_inches(0.125).pt
"""What stays free around a hole. Common practice, no published source."""


class Spacer(Block):
    """Nothing, taking room."""

    def __init__(self, node: Node, context: LayoutContext) -> None:
        self.node = node
        if not {"share", "width", "height"} & node.attrs.keys():
            node.attrs["share"] = 1.0

    @override
    def natural(self, width: Extent, height: Extent, fullness: float) -> Size:
        return float(self.node.attrs.get("width", 0.0)), float(self.node.attrs.get("height", 0.0))

    @override
    def blank(self) -> Edges:
        wide, high = self.natural(None, None, 0.0)
        return high, wide, high, wide

    @override
    def draw(self, box: Box, surface: Surface) -> None:
        pass


class RuleBlock(Block):
    """A line along the longer side of its box."""

    def __init__(self, node: Node, context: LayoutContext) -> None:
        self.node, self.context = node, context
        self.weight: float = node.attrs.get("weight", _HAIRLINE)
        self.ink = context.line_ink(node.attrs.get("ink", "#000000"))

    @override
    def natural(self, width: Extent, height: Extent, fullness: float) -> Size:
        high = self.weight if height is None or math.isinf(height) else height
        return (self.weight if width is None else width), high

    @override
    def least_width(self) -> float:
        return self.weight

    @override
    def draw(self, box: Box, surface: Surface) -> None:
        left, top, right, bottom = box
        room = min(right - left, bottom - top)
        if room < self.weight - SLACK_PT:
            raise overflow(self.context.place(self.node), "the rule's weight", self.weight, room)
        if right - left >= bottom - top:
            middle = (top + bottom) / 2
            ends = (left, middle), (right, middle)
            spot = (left, middle - self.weight / 2, right, middle + self.weight / 2)
        else:
            middle = (left + right) / 2
            ends = (middle, top), (middle, bottom)
            spot = (middle - self.weight / 2, top, middle + self.weight / 2, bottom)
        dash = self.node.attrs.get("dash")
        dashes = (dash, dash) if dash else ()
        surface.marks.append(line(*ends, stroke=self.ink, width=self.weight, dash=dashes))
        surface.occupied.append((spot, self))


class Hole:
    """A hang hole: a die line in the middle of its container's width, its surroundings free."""

    def __init__(self, node: Node) -> None:
        self.node = node
        self.shape = node.attrs.get("shape", "round")
        self.top = node.attrs.get("top", Length.from_inches(0.1875).pt)
        self.clear = node.attrs.get("clear", _CLEAR)

    def draw(self, box: Box, surface: Surface) -> None:
        """Put the hole's die line on ``surface`` and keep its surroundings clear."""
        middle, top = (box[0] + box[2]) / 2, box[1] + self.top
        if self.shape == "round":
            across = self.node.attrs.get("across", _ROUND)
            spot = (middle - across / 2, top, middle + across / 2, top + across)
            steps = circle(middle, top + across / 2, across / 2)
        else:
            wide, arm, tall = EURO_SLOT
            spot = (middle - wide / 2, top, middle + wide / 2, top + tall)
            steps = _euro_slot(middle, top, wide, arm, tall)
        surface.holes.append(VectorPath(steps, stroke="#000000", width=_HAIRLINE))
        surface.hole_zones.append(grown(spot, self.clear))


def _euro_slot(middle: float, top: float, wide: float, arm: float, tall: float) -> tuple[Step, ...]:
    """Return the slot: two arms with round ends, and a round dome over their middle."""
    foot, crown = top + tall, top
    shoulder = foot - arm
    r, k = arm / 2, arm / 2 * KAPPA
    dome = Length.from_mm(5).pt
    left, right = middle - wide / 2, middle + wide / 2
    curve = tall - arm
    return (
        ("M", left + r, shoulder),
        ("L", middle - dome, shoulder),
        ("C", middle - dome * 0.62, shoulder, middle - dome * 0.62, crown, middle, crown),
        ("C", middle + dome * 0.62, crown, middle + dome * 0.62, crown + curve, middle + dome,
         shoulder),
        ("L", right - r, shoulder),
        ("C", right - r + k, shoulder, right, foot - r - k, right, foot - r),
        ("C", right, foot - r + k, right - r + k, foot, right - r, foot),
        ("L", left + r, foot),
        ("C", left + r - k, foot, left, foot - r + k, left, foot - r),
        ("C", left, foot - r - k, left + r - k, shoulder, left + r, shoulder),
        ("Z",),
    )  # fmt: skip


Ends = tuple[int, int]
"""The edges at which a container's run begins and ends, of top, right, bottom and left."""

DOWNWARDS: Ends = (0, 2)
SIDEWAYS: Ends = (3, 1)


def _either(own: Extent, given: Extent) -> Extent:
    return given if own is None else own


class Container(Block):
    """Children drawn one after the other. Subclasses say which way they run."""

    ends: Ends

    def __init__(
        self,
        node: Node,
        children: Sequence[Block],
        context: LayoutContext,
        holes: Sequence[Hole] = (),
    ) -> None:
        self.node, self.children, self.context, self.holes = node, children, context, holes
        self.shares = [float(child.node.attrs.get("share", 0.0)) for child in children]
        self.holds_quantity = any(child.holds_quantity for child in children)
        self.between = _gaps_between(children, float(node.attrs.get("gap", 0.0)), self.ends)
        self.gaps = sum(self.between)
        self.edged = bool({"ground", "outline"} & node.attrs.keys())
        """Whether its own edge is printed."""
        self.pad: Edges = node.attrs.get("pad", NO_EDGES)
        if self.edged and self.holds_quantity:
            # A printed edge keeps the quantity's margin as other print does, its own line not in.
            line = float(node.attrs.get("outline", 0.0))
            top, right, bottom, left = map(max, self.pad, _margin_around(children, self.ends, None))
            self.pad = _add_edges((top, right, bottom, left), (line,) * 4)
        self._stand_at_ends()
        self._narrowest: float | None = None
        self._blank: Edges | None = None
        self._measured: dict[tuple[float | None, float | None, float], tuple[float, float]] = {}

    def _stand_at_ends(self) -> None:
        """Tell the children of a row which of them stand at its right end."""
        spread = self.node.attrs.get("spread", "") if self.ends == SIDEWAYS else ""
        beyond = spread == "right"
        for child, share in zip(self.children, self.shares, strict=True):
            beyond = beyond or bool(share and self.ends == SIDEWAYS)
            if not share and (beyond or (spread == "apart" and child is self.children[-1])):
                child.flush = "right"

    @override
    def margin(self, width: float | None) -> Edges:
        if not self.holds_quantity:  # nothing else asks for a margin
            return NO_EDGES
        width = _either(self.own_width, width)
        inner = None
        if width is not None and self.ends == DOWNWARDS:
            inner = max(0.0, width - self.pad[1] - self.pad[3])
        return self._as_turned(_beyond(_margin_around(self.children, self.ends, inner), self.pad))

    @override
    def blank(self) -> Edges:
        if self._blank is None:
            open_edged = not (self.edged or self.holes)
            edges = _blank_around(self.children, self.ends, self.pad) if open_edged else NO_EDGES
            self._blank = self._as_turned(edges)
        return self._blank

    def _as_turned(self, edges: Edges) -> Edges:
        return (*edges[2:], *edges[:2]) if "turn" in self.node.attrs else edges

    @override
    def natural(self, width: Extent, height: Extent, fullness: float) -> Size:
        key = width, height, fullness
        if key not in self._measured:
            self._measured[key] = self.measure(
                _either(self.own_width, width), _either(self.own_height, height), fullness
            )
        return self._measured[key]

    def measure(self, width: Extent, height: Extent, fullness: float) -> Size:
        """Return what `natural` keeps: the children's size with pad and gaps.

        The sides that the layout gives the container itself are in ``width`` and ``height``.
        """
        raise NotImplementedError

    def along(self, child: Block, share: float, cross: float | None, fullness: float) -> float:
        """Return how long a child with this share would be along the container's run."""
        raise NotImplementedError

    def cells(self, inner: Box, starts: Sequence[float], lengths: Sequence[float]) -> list[Box]:
        """Return the children's boxes, which begin at ``starts`` along the run."""
        raise NotImplementedError

    @override
    def narrowest(self) -> float:
        if self._narrowest is None:
            own = self.own_width
            inside = self.least_width() + self.pad[1] + self.pad[3] if own is None else own
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

        def shared_at(fullness: float) -> list[float] | None:
            natural = self.natural_lengths(cross, fullness)
            if sum(natural) > room + SLACK_PT:
                return None
            lengths = self.shared(natural, room)
            return lengths if self.fits_across(lengths, cross) else None

        at_ease = shared_at(1.0)
        if at_ease is not None:
            return at_ease
        least = self.natural_lengths(cross, 0.0)
        if sum(least) > room + SLACK_PT:
            raise self._does_not_fit(cross, room, least)
        fullness = _greatest_fullness(lambda fullness: shared_at(fullness) is not None)
        return self.shared(self.natural_lengths(cross, fullness), room)

    def natural_lengths(self, cross: float | None, fullness: float) -> list[float]:
        """Return what the children ask for: those with a share their least."""
        return [
            self.along(child, share, cross, 0.0 if share else fullness)
            for child, share in zip(self.children, self.shares, strict=True)
        ]

    def shared(self, natural: Sequence[float], room: float) -> list[float]:
        """Give what the others leave of ``room`` to the children with a share."""
        taken = sum(w for w, share in zip(natural, self.shares, strict=True) if not share)
        return share_out(room - taken, self.shares, natural)

    def _does_not_fit(self, cross: float, room: float, least: Sequence[float]) -> LabelerError:
        needs = max(least)
        child = self.children[least.index(needs)]
        inner, own = self.culprit_in(child, cross)
        if math.isinf(needs):
            return _too_narrow(self.context.place(inner.node), inner)
        over = sum(least) - room
        if own < over:  # not even without it would the others fit
            inner, own = child, needs
        return overflow(self.context.place(inner.node), inner.node.name, own, own - over)

    def culprit_in(self, child: Block, cross: float) -> tuple[Block, float]:
        """Return the block in ``child`` that asks for most of the run, and what it asks for."""
        raise NotImplementedError

    def tallest(self, width: float) -> tuple[Block, float]:
        """Return the child that stands highest at its least in ``width``, and its own width."""
        raise NotImplementedError

    @override
    def draw(self, box: Box, surface: Surface) -> None:
        """Draw background, outline and children; a turned container stands on its head."""
        self._draw_background(box, surface)
        if "turn" not in self.node.attrs:
            self._draw_inside(box, surface)
            return
        matrix = (-1.0, 0.0, 0.0, -1.0, box[0] + box[2], box[1] + box[3])
        inner = Surface(apply_to_box(matrix, surface.trim), surface.bleed)
        self._draw_inside(box, inner)
        surface.marks.append(Group(matrix, tuple(inner.marks), inner.reach(box)))
        surface.occupied += [(apply_to_box(matrix, b), block) for b, block in inner.occupied]
        surface.hole_zones += [apply_to_box(matrix, b) for b in inner.hole_zones]
        surface.clear_spaces += [
            replace(space, box=apply_to_box(matrix, space.box)) for space in inner.clear_spaces
        ]
        surface.holes += [_turned(hole, matrix) for hole in inner.holes]

    def _draw_background(self, box: Box, surface: Surface) -> None:
        fill, outline = self.node.attrs.get("ground"), self.node.attrs.get("outline")
        if fill:
            surface.marks.append(rectangle(surface.reach(box), fill=self.context.fill_ink(fill)))
        if outline:
            room = min(box[2] - box[0], box[3] - box[1])
            if room < outline - SLACK_PT:
                place = self.context.place(self.node)
                raise overflow(place, f"the outline of {self.node.name}", outline, room)
            inset = grown(box, -outline / 2)
            surface.marks.append(rectangle(inset, stroke="#000000", width=outline))

    def _draw_inside(self, box: Box, surface: Surface) -> None:
        for hole in self.holes:
            hole.draw(box, surface)
        if not self.children:
            return
        top, right, bottom, left = self.pad
        inner = (box[0] + left, box[1] + top, box[2] - right, box[3] - bottom)
        for edge, side, pads in ((0, "width", left + right), (1, "height", top + bottom)):
            if inner[edge + 2] < inner[edge] - SLACK_PT:
                what = f"the pad of {self.node.name} in its {side}"
                raise overflow(self.context.place(self.node), what, pads, box[edge + 2] - box[edge])
        settings, laid = self.context.settings, self.context.laid
        if settings is not None:
            for child in self.children:
                child.draw(settings.box_of(child), surface)
            return
        wide, tall = inner[2] - inner[0], inner[3] - inner[1]
        across, run = (wide, tall) if self.ends == DOWNWARDS else (tall, wide)
        lengths = self.lengths(across, run)
        at, more = self._spread(run - sum(lengths) - self.gaps)
        starts = []
        for length, gap in zip(lengths, [*self.between, 0.0], strict=True):
            starts.append(at)
            at += length + gap + more
        for child, cell in zip(self.children, self.cells(inner, starts, lengths), strict=True):
            laid.boxes[child.node.key] = cell
            child.draw(cell, surface)

    def _spread(self, spare: float) -> tuple[float, float]:
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
        numbers: tuple[float, ...] = step[1:]
        ends = [apply(matrix, x, y) for x, y in zip(numbers[::2], numbers[1::2], strict=True)]
        steps.append((step[0], *(n for end in ends for n in end)))  # type: ignore[arg-type]
    return replace(path, steps=tuple(steps))


class Column(Container):
    """Children one below the other, each as wide as the column unless it says otherwise."""

    ends = DOWNWARDS

    @override
    def along(self, child: Block, share: float, cross: float | None, fullness: float) -> float:
        """Return how high a child would be; its own height binds it, or a share's least."""
        own = child.own_height
        if own is not None and not share:
            return own
        tall = child.natural(_either(child.own_width, cross), None, fullness)[1]
        return max(own or 0.0, tall)

    @override
    def measure(self, width: Extent, height: Extent, fullness: float) -> Size:
        top, right, bottom, left = self.pad
        if width is None:
            inner = max((_wide(child, fullness) for child in self.children), default=0.0)
            width = inner + left + right
        else:
            inner = max(0.0, width - left - right)
        tall = self.own_height
        if tall is None:
            tall = sum(self.natural_lengths(inner, fullness)) + self.gaps + top + bottom
        return width, tall

    @override
    def culprit_in(self, child: Block, cross: float) -> tuple[Block, float]:
        width = cross if child.own_width is None else child.own_width
        while isinstance(child, Container) and child.children and child.own_height is None:
            child, width = child.tallest(width)
        return child, child.natural(width, None, 0.0)[1]

    @override
    def tallest(self, width: float) -> tuple[Block, float]:
        inner = max(0.0, width - self.pad[1] - self.pad[3])
        pairs = [(c, inner if c.own_width is None else c.own_width) for c in self.children]
        return max(pairs, key=lambda pair: pair[0].natural(pair[1], None, 0.0)[1])

    @override
    def least_width(self) -> float:
        return max((child.narrowest() for child in self.children), default=0.0)

    @override
    def drop(self, width: float, height: float) -> float:
        if not self.children or self.node.attrs.get("spread") != "bottom":
            return 0.0
        last = self.children[-1]
        return last.drop(width, last.natural(width, None, 1.0)[1]) + self.pad[2]

    @override
    def cells(self, inner: Box, starts: Sequence[float], lengths: Sequence[float]) -> list[Box]:
        boxes = []
        for child, start, length in zip(self.children, starts, lengths, strict=True):
            left, top, right = inner[0], inner[1] + start, inner[2]
            own = child.own_width
            if own is not None:
                spare = right - left - own
                if spare < -SLACK_PT:
                    place = self.context.place(child.node)
                    raise overflow(place, child.node.name, own, right - left)
                left += spare * ALIGNED[self.node.attrs.get("align", "left")]
                right = left + own
            boxes.append((left, top, right, top + length))
        return boxes


class Row(Container):
    """Children side by side, each as tall as the row unless it says otherwise."""

    ends = SIDEWAYS

    @override
    def along(self, child: Block, share: float, cross: float | None, fullness: float) -> float:
        """Return how wide a child would be; with a share, the least in which it can be drawn."""
        if share:
            return child.narrowest()
        if child.own_width is not None:
            return child.own_width
        return child.natural(None, _either(child.own_height, cross), fullness)[0]

    @override
    def measure(self, width: Extent, height: Extent, fullness: float) -> Size:
        top, right, bottom, left = self.pad
        cross = None if height is None else max(0.0, height - top - bottom)
        widths = self.natural_lengths(cross, fullness)
        if width is None:
            width = sum(widths) + self.gaps + left + right
        else:
            widths = self._in_width(widths, cross, max(0.0, width - left - right))
        if height is None:
            height = self._tall(widths, fullness) + top + bottom
        return width, height

    def _in_width(self, natural: list[float], cross: float | None, run: float) -> list[float]:
        room = run - self.gaps
        if sum(natural) > room + SLACK_PT:
            return self.lengths(math.inf if cross is None else cross, run)
        return self.shared(natural, room)

    def _tall(self, widths: Sequence[float], fullness: float) -> float:
        highs = [_high(*pair, fullness) for pair in zip(self.children, widths, strict=True)]
        if not self._on_one_line:
            return max(highs, default=0.0)
        drops = self._drops(widths, highs)
        above = max((high - drop for high, drop in zip(highs, drops, strict=True)), default=0.0)
        return above + max(drops, default=0.0)

    @property
    def _on_one_line(self) -> bool:
        return self.node.attrs.get("valign") == "baseline"

    @override
    def fits_across(self, lengths: Sequence[float], cross: float) -> bool:
        return all(
            _high(child, length, 0.0) <= cross + SLACK_PT
            for child, length in zip(self.children, lengths, strict=True)
        )

    @override
    def culprit_in(self, child: Block, cross: float) -> tuple[Block, float]:
        while isinstance(child, Container) and child.children and child.own_width is None:
            child = max(child.children, key=lambda one: one.narrowest())
        return child, child.narrowest()

    @override
    def tallest(self, width: float) -> tuple[Block, float]:
        run = max(0.0, width - self.pad[1] - self.pad[3])
        widths = self._in_width(self.natural_lengths(None, 0.0), None, run)
        pairs = list(zip(self.children, widths, strict=True))
        return max(pairs, key=lambda pair: _high(pair[0], pair[1], 0.0))

    @override
    def least_width(self) -> float:
        return sum(child.narrowest() for child in self.children) + self.gaps

    @override
    def cells(self, inner: Box, starts: Sequence[float], lengths: Sequence[float]) -> list[Box]:
        cross = inner[3] - inner[1]
        fullness = self._fullness_in(lengths, cross) if self._on_one_line else 1.0
        highs = [
            self._down(*pair, cross, fullness) for pair in zip(self.children, lengths, strict=True)
        ]
        rises = [0.0] * len(highs)
        above = 1.0
        if self._on_one_line:
            drops = self._drops(lengths, highs)
            rises = [max(drops) - drop for drop in drops]
        else:
            above = VALIGNED[self.node.attrs.get("valign", "top")]
        boxes = []
        for start, length, high, rise in zip(starts, lengths, highs, rises, strict=True):
            tall = min(high, cross - rise)
            top = inner[1] + (cross - rise - tall) * above
            left = inner[0] + start
            boxes.append((left, top, left + length, top + tall))
        return boxes

    def _fullness_in(self, lengths: Sequence[float], cross: float) -> float:
        """Return the fullness at which the children, set on one line, are as high as the row."""

        def fits(fullness: float) -> bool:
            return self._tall(lengths, fullness) <= cross + SLACK_PT

        return 1.0 if fits(1.0) else _greatest_fullness(fits)

    def _down(self, child: Block, length: float, cross: float, fullness: float) -> float:
        """Return how high a child stands in the row: as high as the row, or as it likes."""
        own = child.own_height
        if own is not None:
            if own > cross + SLACK_PT:
                raise overflow(self.context.place(child.node), child.node.name, own, cross)
            return own
        if "valign" in self.node.attrs and not isinstance(child, Container):
            return min(cross, child.natural(length, None, fullness)[1])
        return cross

    def _drops(self, lengths: Sequence[float], highs: Sequence[float]) -> list[float]:
        return [c.drop(*sides) for c, *sides in zip(self.children, lengths, highs, strict=True)]


def _wide(child: Block, fullness: float) -> float:
    return child.natural(None, None, fullness)[0] if child.own_width is None else child.own_width


def _high(child: Block, width: float, fullness: float) -> float:
    return child.natural(width, None, fullness)[1] if child.own_height is None else child.own_height


def _too_narrow(place: Place, block: Block) -> LabelerError:
    """Return the error for a block that nothing can be made of in the width it gets."""
    what = f"{block.node.name} does not fit in the width that the layout gives it"
    expected = f"at least {Length(block.narrowest()).mm:.1f} mm of width"
    return refusal("layout-overflow", place, what, expected=expected, hint=SHORTEN)


def _gaps_between(children: Sequence[Block], gap: float, ends: Ends) -> list[float]:
    """Return what stays free between each two neighbours: the gap, or the margin of either."""
    first, last = ends
    sides = [(child.margin(child.own_width), child.blank()) for child in children]
    return [
        max(gap, margin[last] - other_blank[first], other_margin[first] - blank[last])
        for (margin, blank), (other_margin, other_blank) in pairwise(sides)
    ]


def _margin_around(children: Sequence[Block], ends: Ends, width: float | None) -> Edges:
    """Return what the children ask to be free around all of them, each given ``width``."""
    return _edges(
        max,
        [child.margin(child.own_width if child.own_width is not None else width)
         for child in children],
        ends,
    )  # fmt: skip


def _blank_around(children: Sequence[Block], ends: Ends, pad: Edges) -> Edges:
    """Return what the children and the pad around them leave blank at the edges."""
    if not children:
        return NO_EDGES
    return _add_edges(pad, _edges(min, [child.blank() for child in children], ends))


def _edges(choose: Callable[[Iterable[float]], float], sides: Sequence[Edges], ends: Ends) -> Edges:
    """Return the edges of a row or column: those of the child at an end, else chosen among all."""
    if not sides:
        return NO_EDGES
    at_ends = {ends[0]: sides[:1], ends[1]: sides[-1:]}
    top, right, bottom, left = (
        choose(each[edge] for each in at_ends.get(edge, sides)) for edge in range(4)
    )
    return top, right, bottom, left


def _add_edges(one: Edges, other: Edges) -> Edges:
    """Return the edges of one thing inside another."""
    top, right, bottom, left = map(add, one, other)
    return top, right, bottom, left


def _beyond(edges: Edges, pad: Edges) -> Edges:
    """Return what of ``edges`` the pad does not cover."""
    top, right, bottom, left = (max(0.0, e - p) for e, p in zip(edges, pad, strict=True))
    return top, right, bottom, left


def _greatest_fullness(fits: Callable[[float], bool]) -> float:
    """Return the greatest fullness under 1 that fits, or 0 if none is found to.

    Seven halvings: 1/128 of the range of sizes is finer than an eye.
    """
    low, high = 0.0, 1.0
    for _ in range(7):
        middle = (low + high) / 2
        if fits(middle):
            low = middle
        else:
            high = middle
    return low
