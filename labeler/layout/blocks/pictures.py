"""Figure and picture: the jig drawn from its recipe, or a photo in its place."""

from __future__ import annotations

import math
from pathlib import Path
from typing import Literal

from typing_extensions import override

from labeler.findings import LabelerError, did_you_mean, stop
from labeler.layout.figure import draw_jig
from labeler.layout.ground import Block, Ground, overflow, own_side
from labeler.layout.marks import Box, Group, Picture
from labeler.layout.markup import Node
from labeler.layout.pictures import prepare, proportion
from labeler.layout.setup import Printed, Setup
from labeler.units import Length

_LEAST = Length.from_mm(8).pt
"""A jig drawn narrower than this is a blot: the least width of a figure or picture."""

_SMALL = Length.from_mm(35).pt
"""Below this width the plain drawing serves better: fewer strands, no line too fine to print."""

_HEIGHT_AT_EASE = Length.from_mm(20).pt


class Framed(Block):
    """Something with a proportion that it keeps: width to height."""

    node: Node
    setup: Setup
    proportion: float

    @override
    def natural(
        self, width: float | None, height: float | None, squeeze: float
    ) -> tuple[float, float]:
        if width is None and (height is None or math.isinf(height)):
            width = _HEIGHT_AT_EASE * self.proportion
        if width is None:
            assert height is not None  # the case before took None
            width = height * self.proportion
            wide = min(width, _LEAST + squeeze * max(0.0, width - _LEAST))
            return wide, height
        full = max(0.0, width) / self.proportion
        least = min(full, _LEAST / self.proportion)
        return width, least + squeeze * (full - least)

    @override
    def narrowest(self) -> float:
        return max(own_side(self, "width") or 0.0, _LEAST)

    def framed(self, box: Box) -> Box:
        """Return the largest box of the right proportion in ``box``.

        Raises:
            LabelerError: if that is too small for anything to be seen.
        """
        wide, tall = box[2] - box[0], box[3] - box[1]
        width = min(wide, tall * self.proportion)
        height = width / self.proportion
        if width < _LEAST * 0.6:
            raise overflow(
                self.setup.at(self.node), f"the width of {self.node.name}", _LEAST, width
            )
        across = {"left": 0.0, "centre": 0.5, "right": 1.0}[self.node.attrs.get("align", "centre")]
        down = {"top": 0.0, "middle": 0.5, "bottom": 1.0}[self.node.attrs.get("valign", "middle")]
        left = box[0] + (wide - width) * across
        top = box[1] + (tall - height) * down
        return left, top, left + width, top + height


class Figure(Framed):
    """The jig, drawn from its recipe; a photo takes its place where the maker gives one."""

    def __init__(self, node: Node, setup: Setup) -> None:
        self.node, self.setup = node, setup
        left, top, right, bottom = self._drawn("fine").box
        self.proportion = (right - left) / (bottom - top)

    def _drawn(self, detail: Literal["fine", "plain"]) -> Group:
        return draw_jig(self.setup.shown(self.node), ink=self.setup.ink, detail=detail)

    @override
    def draw(self, box: Box, ground: Ground) -> None:
        frame = self.framed(box)
        group = self._drawn("plain" if frame[2] - frame[0] < _SMALL else "fine")
        own = group.box
        scale = min(
            (frame[2] - frame[0]) / (own[2] - own[0]), (frame[3] - frame[1]) / (own[3] - own[1])
        )
        matrix = (scale, 0.0, 0.0, scale, frame[0] - own[0] * scale, frame[1] - own[1] * scale)
        ground.marks.append(Group(matrix, group.marks, group.box, group.key, group.says))
        ground.taken.append((frame, self))


class PictureBlock(Framed):
    """A picture file of the maker's, turned, converted and scaled to the size it prints at."""

    def __init__(self, node: Node, setup: Setup) -> None:
        self.node, self.setup = node, setup
        self.number = setup.next_picture()
        self.kept = setup.kept.get(self.number)
        if self.kept is None:
            self.path = self._file()
        self.proportion = self.kept.proportion if self.kept else proportion(self.path)

    def _file(self) -> Path:
        """Return the file in the catalog's photos/; raise a LabelerError if it isn't there."""
        name = self.node.attrs.get("file") or self.setup.product.photo or ""
        folder = (self.setup.own or Path()) / "photos"
        file = folder / name
        if name and file.is_file() and file.resolve().is_relative_to(folder.resolve()):
            return file
        known = sorted(p.name for p in folder.glob("*") if p.is_file())
        raise LabelerError(
            stop(
                "picture-missing",
                self.setup.at(self.node),
                f"there is no picture {name!r} in {folder}",
                hint=did_you_mean(name, known),
            )
        )

    @override
    def draw(self, box: Box, ground: Ground) -> None:
        left, top, right, bottom = frame = self.framed(box)
        if self.kept is None:
            image, findings = prepare(self.path, right - left, bottom - top)
            self.setup.findings += findings
        else:
            image = self.kept.image
        self.setup.pictures[self.number] = Printed(self.proportion, image)
        says = self.node.attrs.get("says", self.setup.product.name)
        ground.marks.append(Picture(left, top, right - left, bottom - top, image, says))
        ground.taken.append((frame, self))
