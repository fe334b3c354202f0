"""Rows and columns that share out space: measure, fit, arrange.

Every block answers two questions: how large it would like to be (`natural`), at a squeeze from
1 (its largest) to 0 (its least); and what it draws in a box that it is given (`draw`). A
container finds the largest squeeze at which its children fit, gives what is left to those with
a share, and fails by name where even the least does not fit. Nothing is clipped.

Points, y down, the face's top left corner as origin.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from typing_extensions import override

from labeler.findings import Place
from labeler.layout.ground import Block, Ground, HoleBlock, overflow, rectangle, too_narrow
from labeler.layout.marks import Box, Group, Path, under
from labeler.layout.markup import Node
from labeler.units import SLACK_PT

_STEPS = 7
"""Halvings when the squeeze is looked for: 1/128 of the range of sizes is finer than an eye."""


@dataclass(slots=True)
class Container:
    """A row or a column. Subclasses say which way it runs."""

    node: Node
    children: Sequence[Block]
    place: Place
    hole_blocks: Sequence[HoleBlock] = ()

    @property
    def pad(self) -> tuple[float, float, float, float]:
        """Top, right, bottom, left."""
        pad: tuple[float, float, float, float] = self.node.attrs.get("pad", (0.0, 0.0, 0.0, 0.0))
        return pad

    @property
    def gaps(self) -> float:
        """All the gaps between children together."""
        return float(self.node.attrs.get("gap", 0.0)) * max(0, len(self.children) - 1)

    def along(self, child: Block, cross: float | None, squeeze: float) -> float:
        """Return how long ``child`` would be along the container's run."""
        raise NotImplementedError

    def lengths(self, cross: float, run: float) -> list[float]:
        """Share out ``run`` among the children, whose other side is ``cross``.

        Raises:
            LabelerError: naming the child that asks for most, if the least does not fit.
        """
        room = run - self.gaps
        squeeze = self._squeeze(cross, room)
        fixed = [self.along(c, cross, 0.0 if _share(c) else squeeze) for c in self.children]
        left = room - sum(f for c, f in zip(self.children, fixed, strict=True) if not _share(c))
        return self._shared_out(fixed, left)

    def _shared_out(self, least: list[float], left: float) -> list[float]:
        """Give what is left to the children with a share, none less than its least."""
        lengths = list(least)
        open_ones = [i for i, c in enumerate(self.children) if _share(c)]
        while open_ones:
            parts = sum(_share(self.children[i]) for i in open_ones)
            tight = [i for i in open_ones if left * _share(self.children[i]) / parts < least[i]]
            if not tight:
                for i in open_ones:
                    lengths[i] = left * _share(self.children[i]) / parts
                break
            for i in tight:
                left -= least[i]
                open_ones.remove(i)
        return lengths

    def _squeeze(self, cross: float, room: float) -> float:
        """Return the largest squeeze at which the children fit in ``room``."""
        hugging = [c for c in self.children if not _share(c)]
        sharing = sum(self.along(c, cross, 0.0) for c in self.children if _share(c))
        largest = [self.along(c, cross, 1.0) for c in hugging]
        if sharing + sum(largest) <= room + SLACK_PT:
            return 1.0
        least = [self.along(c, cross, 0.0) for c in hugging]
        if sharing + sum(least) > room + SLACK_PT:
            self._complain(cross, room, sharing + sum(least))
        yielding = [c for c, low, high in zip(hugging, least, largest, strict=True) if low != high]
        firm = sum(low for low, high in zip(least, largest, strict=True) if low == high)
        left = room - sharing - firm + SLACK_PT
        low, high = 0.0, 1.0
        for _ in range(_STEPS):
            middle = (low + high) / 2
            if sum(self.along(c, cross, middle) for c in yielding) <= left:
                low = middle
            else:
                high = middle
        return low

    def _complain(self, cross: float, room: float, least: float) -> None:
        worst = max(self.children, key=lambda c: self.along(c, cross, 0.0))
        needs = self.along(worst, cross, 0.0)
        has = room if math.isinf(least) else max(0.0, room - (least - needs))
        inner = culprit(worst, worst.node.attrs.get("width", cross))
        place = _place_of(inner, self.place)
        if math.isinf(needs):
            raise too_narrow(place, inner)
        raise overflow(place, inner.node.name, needs, has)

    def draw(self, box: Box, ground: Ground) -> None:
        """Draw ground, outline and children; a turned container stands on its head."""
        self._draw_ground(box, ground)
        if "turn" not in self.node.attrs:
            self._draw_inside(box, ground)
            return
        inner = Ground(ground.trim, ground.bleed)
        self._draw_inside(box, inner)
        matrix = (-1.0, 0.0, 0.0, -1.0, box[0] + box[2], box[1] + box[3])
        ground.marks.append(Group(matrix, tuple(inner.marks), box))
        ground.taken += [(under(matrix, b), block) for b, block in inner.taken]
        ground.clear += [under(matrix, b) for b in inner.clear]
        ground.holes += [_turned(hole, box) for hole in inner.holes]

    def _draw_ground(self, box: Box, ground: Ground) -> None:
        fill, outline = self.node.attrs.get("ground"), self.node.attrs.get("outline")
        if fill:
            ground.marks.append(rectangle(ground.reach(box), fill=fill))
        if outline:
            half = outline / 2
            inset = (box[0] + half, box[1] + half, box[2] - half, box[3] - half)
            ground.marks.append(rectangle(inset, stroke="#000000", width=outline))

    def _draw_inside(self, box: Box, ground: Ground) -> None:
        top, right, bottom, left = self.pad
        inner = (box[0] + left, box[1] + top, box[2] - right, box[3] - bottom)
        for hole in self.hole_blocks:
            hole.draw(box, ground)
        if inner[2] < inner[0] or inner[3] < inner[1]:
            raise overflow(self.place, self.node.name, left + right, box[2] - box[0])
        self._draw_children(inner, ground)

    def _draw_children(self, inner: Box, ground: Ground) -> None:
        (across, down), at = self.sides(inner)
        lengths = self.lengths(across, down)
        gap = float(self.node.attrs.get("gap", 0.0))
        spare = down - sum(lengths) - self.gaps
        first, more = self.start(spare, self.node.attrs.get("spread", ""))
        at += first
        for child, length in zip(self.children, lengths, strict=True):
            child.draw(self.cell(child, inner, at, length), ground)
            at += length + gap + more

    def sides(self, inner: Box) -> tuple[tuple[float, float], float]:
        """Return the sides across and along the run, and where the run begins."""
        raise NotImplementedError

    def cell(self, child: Block, inner: Box, at: float, length: float) -> Box:
        """Return the box of a child that begins ``at`` and is ``length`` long."""
        raise NotImplementedError

    def natural(
        self, width: float | None, height: float | None, squeeze: float
    ) -> tuple[float, float]:
        """Return the size that the children would like, with pad and gaps."""
        raise NotImplementedError

    def start(self, spare: float, spread: str) -> tuple[float, float]:
        """Return where the first child begins and what to add to each gap."""
        if spare <= SLACK_PT or spread in ("", "top", "left"):
            return 0.0, 0.0
        if spread == "apart" and len(self.children) > 1:
            return 0.0, spare / (len(self.children) - 1)
        return (spare / 2 if spread == "middle" else spare), 0.0


def culprit(block: Block, width: float | None) -> Block:
    """Return the block deepest inside ``block`` that asks for most: the one to name."""
    while isinstance(block, Container) and block.children:
        block = max(block.children, key=lambda c: c.natural(width, None, 0.0)[1])
        width = block.node.attrs.get("width", width)
    return block


class Column(Container):
    """Children one below the other, each as wide as the column unless it says otherwise."""

    def along(self, child: Block, cross: float | None, squeeze: float) -> float:
        """Return how high ``child`` would be."""
        own = child.node.attrs.get("height")
        if own is not None and not _share(child):
            return float(own)
        width = child.node.attrs.get("width")
        return child.natural(width if width is not None else cross, None, squeeze)[1]

    @override
    def natural(
        self, width: float | None, height: float | None, squeeze: float
    ) -> tuple[float, float]:
        top, right, bottom, left = self.pad
        width = self.node.attrs.get("width", width)
        inner = None if width is None else width - left - right
        if inner is None:
            inner = max(
                (
                    c.node.attrs.get("width") or c.natural(None, None, squeeze)[0]
                    for c in self.children
                ),
                default=0.0,
            )
        tall = sum(self.along(c, inner, 0.0 if _share(c) else squeeze) for c in self.children)
        tall = self.node.attrs.get("height", tall + self.gaps + top + bottom)
        return inner + left + right, tall

    @override
    def sides(self, inner: Box) -> tuple[tuple[float, float], float]:
        return (inner[2] - inner[0], inner[3] - inner[1]), inner[1]

    @override
    def cell(self, child: Block, inner: Box, at: float, length: float) -> Box:
        left, right = self._across(child, inner)
        return left, at, right, at + length

    def _across(self, child: Block, inner: Box) -> tuple[float, float]:
        own = child.node.attrs.get("width")
        if own is None:
            return inner[0], inner[2]
        room = inner[2] - inner[0] - own
        if room < -SLACK_PT:
            raise overflow(_place_of(child, self.place), child.node.name, own, room + own)
        share = {"left": 0.0, "centre": 0.5, "right": 1.0}[self.node.attrs.get("align", "left")]
        return inner[0] + room * share, inner[0] + room * share + own


class Row(Container):
    """Children side by side, each as tall as the row unless it says otherwise."""

    def along(self, child: Block, cross: float | None, squeeze: float) -> float:
        """Return how wide ``child`` would be."""
        own = child.node.attrs.get("width")
        if own is not None and not _share(child):
            return float(own)
        height = child.node.attrs.get("height")
        if _share(child):
            return float(own or 0.0)
        return child.natural(None, height if height is not None else cross, squeeze)[0]

    @override
    def natural(
        self, width: float | None, height: float | None, squeeze: float
    ) -> tuple[float, float]:
        top, right, bottom, left = self.pad
        width = self.node.attrs.get("width", width)
        height = self.node.attrs.get("height", height)
        cross = None if height is None else height - top - bottom
        if width is None:
            widths = [self.along(c, cross, squeeze) for c in self.children]
        else:
            widths = self._widths(width - left - right, cross, squeeze)
        tall = max(
            (
                c.node.attrs.get("height") or c.natural(w, None, squeeze)[1]
                for c, w in zip(self.children, widths, strict=True)
            ),
            default=0.0,
        )
        wide = sum(widths) + self.gaps + left + right
        return (wide if width is None else width), (
            tall + top + bottom if height is None else height
        )

    def _widths(self, run: float, cross: float | None, squeeze: float) -> list[float]:
        room = run - self.gaps
        least = [self.along(c, cross, 0.0 if _share(c) else squeeze) for c in self.children]
        if sum(least) > room + SLACK_PT:
            return self.lengths(cross if cross is not None else math.inf, run)
        left = room - sum(w for c, w in zip(self.children, least, strict=True) if not _share(c))
        return self._shared_out(least, left)

    @override
    def sides(self, inner: Box) -> tuple[tuple[float, float], float]:
        return (inner[3] - inner[1], inner[2] - inner[0]), inner[0]

    @override
    def cell(self, child: Block, inner: Box, at: float, length: float) -> Box:
        top, bottom = self._across(child, inner, length)
        return at, top, at + length, bottom

    def _across(self, child: Block, inner: Box, length: float) -> tuple[float, float]:
        own = child.node.attrs.get("height")
        valign = self.node.attrs.get("valign")
        cross = inner[3] - inner[1]
        if own is None and valign and not isinstance(child, Container):
            own = min(cross, child.natural(length, None, 1.0)[1])
        if own is None:
            return inner[1], inner[3]
        if own > cross + SLACK_PT:
            raise overflow(_place_of(child, self.place), child.node.name, own, cross)
        share = {"top": 0.0, "middle": 0.5, "bottom": 1.0}[valign or "top"]
        return inner[1] + (cross - own) * share, inner[1] + (cross - own) * share + own


def _place_of(child: Block, near: Place) -> Place:
    node = child.node
    return Place(file=node.file, line=node.line, piece=near.piece, block=node.name)


def _share(block: Block) -> float:
    return float(block.node.attrs.get("share", 0.0))


def _turned(path: Path, box: Box) -> Path:
    """Return ``path`` turned by half a turn about the middle of ``box``."""
    across, down = box[0] + box[2], box[1] + box[3]
    steps = tuple(
        (step[0], *[(down if i % 2 else across) - n for i, n in enumerate(step[1:])])
        for step in path.steps
    )
    return Path(steps, path.fill, path.stroke, path.width, path.dash)  # type: ignore[arg-type]
