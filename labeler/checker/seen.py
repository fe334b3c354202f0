"""What stands on a finished page, as plain values: glyphs, shapes, pictures.

Places and sizes are in points from the page's top left corner, y down, with every matrix on the
way applied.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from operator import attrgetter
from typing import Literal, NamedTuple

from labeler.checker.geometry import Box, Matrix

Rgb = tuple[int, int, int]


class Font(NamedTuple):
    """A font of the file, as far as a reader of the page can know it."""

    name: str
    """The PostScript name, without the tag of a subset."""
    weight: int | None
    """100 to 900 by its name, where the name tells."""
    embedded: bool
    measured: bool
    """Whether its outlines could be read, so that heights are those of ink."""
    familiar: bool = True
    """Whether it is cut from a face on the shelf, so that its letters are known by their shape."""
    o_height: float | None = None
    """The height of the small o, in ems, where the face is known."""
    width_of_n: float | None = None
    """The width of the capital N, in ems, where the face is known."""


@dataclass(slots=True)
class Glyph:
    """One glyph, where it stands."""

    text: str
    """What the text layer says that it is."""
    shape: str | None
    """What its outline is in the face that it names; None where there is nothing to compare."""
    font: Font
    size: float
    """The nominal size of type, in points on the page."""
    x: float
    y: float
    across: tuple[float, float]
    """From its origin to the next one's, along the line."""
    box: Box
    """Around its ink."""
    rise: float
    """How high its ink reaches above the baseline; below, a negative number."""
    drop: float
    """How low its ink reaches: negative below the baseline."""
    area: float
    """Of its ink, in square points."""
    ink: Rgb | None
    """The colour that is asked for; None where only the rendering knows."""
    alpha: float
    mode: int
    """The text rendering mode; 3 draws nothing (ISO 32000-1:2008, table 106)."""
    clip: Box
    order: int
    """Its place in the order of painting."""
    shown: float = 1.0
    """The share of its ink that is seen on the rendered page."""
    ground: Rgb = (255, 255, 255)
    """What it stands on."""
    uneven: float = 0.0
    """The share of its box in which the ground is another than around it."""

    @property
    def reads(self) -> str:
        """What the eye reads: the outline's letter where it is known, else the text layer's."""
        return self.text if self.shape is None else self.shape


@dataclass(slots=True)
class Shape:
    """A path that is painted."""

    box: Box
    fill: Rgb | None
    stroke: Rgb | None
    width: float
    alpha: float
    clip: Box
    order: int
    kinds: str
    """One letter a step: m, l, c, h, or r for a whole rectangle."""
    numbers: list[float]
    """The steps' points; a rectangle's are two opposite corners."""
    matrix: Matrix
    filled: bool
    stroked: bool
    style: tuple[object, ...] = ()
    """How it is stroked, as far as that is not followed: dashes, caps, joins."""

    @property
    def visible(self) -> Box | None:
        """What of its box is not clipped away, be it as thin as a hair; None where nothing is."""
        box, clip = self.box, self.clip
        left, top = max(box[0], clip[0]), max(box[1], clip[1])
        right, bottom = min(box[2], clip[2]), min(box[3], clip[3])
        return (left, top, right, bottom) if left <= right and top <= bottom else None


@dataclass(slots=True)
class Picture:
    """An image, a shading or whatever else paints a whole area."""

    box: Box
    kind: Literal["image", "shading"]
    order: int


@dataclass(slots=True)
class Drawn:
    """All that the operators of a page draw, in painting order."""

    width: float
    height: float
    glyphs: list[Glyph] = field(default_factory=list)
    shapes: list[Shape] = field(default_factory=list)
    pictures: list[Picture] = field(default_factory=list)
    untold: set[str] = field(default_factory=set)
    """What the page uses that is not followed here, in words."""

    def in_order(self) -> None:
        """Put everything in painting order, though it was followed in another."""
        for things in (self.glyphs, self.shapes, self.pictures):
            things.sort(key=attrgetter("order"))
