"""One side of one piece as it stands on the page: its type, shapes and codes, and how it reads."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from functools import cached_property

import numpy as np
import numpy.typing as npt

from labeler.checker.codes_seen import SeenCode, codes_in, could_hide_code
from labeler.checker.geometry import Box, Matrix, grown, holds, overlap, under
from labeler.checker.places import PlaceClaim
from labeler.checker.raster import Raster
from labeler.checker.reading import Passage, TextLine, lines_of, passages
from labeler.checker.seen import Drawn, Glyph, Picture, Shape
from labeler.findings import Place

SEEN = 0.7
"""A letter of which less than this share of ink is seen is not read. PDFium sets small glyphs on
whole dots; undamaged type at 300 dpi shows 0.85 of each letter or more."""

Boxes = npt.NDArray[np.float64]
"""A row a box: left, top, right, bottom."""

HAIR = 0.05
"""Points: a sixtieth of a millimetre, less than any printer can tell."""

_BELONGS = 0.15
"""A glyph belongs to every piece on which at least this share of its box lies."""


@dataclass(eq=False)
class SeenSide:
    """One side of a piece, with all that stands on it."""

    claim: PlaceClaim
    file: str
    glyphs: list[Glyph]
    shapes: list[Shape]
    pictures: list[Picture]
    codes: list[SeenCode]
    raster: Raster
    _others: dict[Passage, tuple[npt.NDArray[np.intp], Boxes]] = field(
        default_factory=dict, init=False, repr=False
    )
    """For a passage, the seen glyphs that are not its own: their numbers and boxes."""

    def place(self, box: Box | None = None) -> Place:
        """Return where a finding stands: on this side, in ``box`` on the page."""
        claim = self.claim
        return Place(
            file=self.file, cell=str(claim.cell), page=claim.page, piece=claim.piece.sku,
            box=box or claim.box,
        )  # fmt: skip

    def own(self, box: Box) -> Box:
        """Return a box on the page as it lies on the piece, from its top left corner."""
        return under(self.claim.to_piece, box)

    @cached_property
    def trim(self) -> Box:
        """The piece itself, from its own top left corner."""
        return 0.0, 0.0, self.claim.piece.width, self.claim.piece.height

    @cached_property
    def seen(self) -> list[Glyph]:
        """The glyphs that an eye sees, and the spaces between them, each once."""
        seen: dict[tuple[object, ...], Glyph] = {}
        for glyph in self.glyphs:
            if glyph.shown >= SEEN if glyph.area else not glyph.reads.strip():
                seen.setdefault(_spot(glyph), glyph)
        return list(seen.values())

    @cached_property
    def inked(self) -> list[Glyph]:
        """The glyphs that an eye sees."""
        return [glyph for glyph in self.seen if glyph.area]

    @cached_property
    def inked_boxes(self) -> Boxes:
        """The boxes of ``inked`` on the page, a row each."""
        return _boxes(glyph.box for glyph in self.inked)

    @cached_property
    def own_boxes(self) -> Boxes:
        """The boxes of ``inked`` as they lie on the piece, a row each."""
        return _moved(self.inked_boxes, self.claim.to_piece)

    def type_in(self, room: Box, beside: Passage) -> list[Glyph]:
        """Return the seen glyphs of other passages that reach into ``room`` on the page."""
        if beside not in self._others:
            mine = beside.members
            at = np.array([id(glyph) not in mine for glyph in self.inked], bool)
            self._others[beside] = np.flatnonzero(at), self.inked_boxes[at]
        numbers, boxes = self._others[beside]
        return [self.inked[at] for at in numbers[_touching(boxes, room)]]

    def outside(self, room: Box, slack: float) -> list[Glyph]:
        """Return the seen glyphs that reach out of ``room``, given as it lies on the piece."""
        left, top, right, bottom = self.own_boxes.T
        out = (
            (left < room[0] - slack)
            | (top < room[1] - slack)
            | (right > room[2] + slack)
            | (bottom > room[3] + slack)
        )
        return [self.inked[at] for at in np.flatnonzero(out)]

    @cached_property
    def cut_off(self) -> frozenset[int]:
        """The identities of the seen glyphs that reach over the edge of the piece."""
        return frozenset(id(glyph) for glyph in self.outside(self.trim, HAIR))

    @cached_property
    def passages(self) -> list[Passage]:
        """What an eye reads."""
        return passages(lines_of(self.seen))

    @cached_property
    def written(self) -> list[Passage]:
        """What stands there, seen or not."""
        if len(self.seen) == len(self.glyphs):
            return self.passages
        return passages(lines_of(self.glyphs))

    @cached_property
    def text(self) -> str:
        """All that is read, passage after passage."""
        return "\n".join(passage.text for passage in self.passages)

    def upright(self, line: TextLine) -> bool:
        """Tell whether a line runs as the piece stands, not upside down or askew."""
        return (line.angle - (180 if self.claim.turned else 0)) % 360 == 0

    @cached_property
    def all_codes(self) -> list[SeenCode]:
        """Its codes; if none is drawn as one path, those that can be read from its dots."""
        if self.codes:
            return self.codes
        boxes = [picture.box for picture in self.pictures]
        if could_hide_code(self.shapes, boxes, self.claim.box):
            return codes_in([self.claim.box], self.raster)
        return []


def _spot(glyph: Glyph) -> tuple[object, ...]:
    """Return what a glyph says and where: type printed twice on itself to look bold reads once."""
    by = max(0.2, _ONE_SPOT * glyph.size)
    return glyph.reads, round(glyph.x / by), round(glyph.y / by), glyph.size


_ONE_SPOT = 0.05


def part(
    drawn: Drawn, codes: Sequence[SeenCode], claims: Sequence[PlaceClaim], raster: Raster, file: str
) -> tuple[list[SeenSide], list[Glyph]]:
    """Return the sides on a page, each with what stands on it, and the type that is on none."""
    owners = np.zeros(len(drawn.glyphs), bool)
    boxes = _boxes(glyph.box for glyph in drawn.glyphs)
    shape_boxes = _boxes(shape.box for shape in drawn.shapes)
    sides = []
    for claim in claims:
        mine = _belonging(boxes, claim.box) if len(boxes) else owners
        owners |= mine
        touching = _touching(shape_boxes, grown(claim.box, claim.piece.bleed))
        sides.append(
            SeenSide(
                claim,
                file,
                [drawn.glyphs[at] for at in np.flatnonzero(mine)],
                [drawn.shapes[at] for at in np.flatnonzero(touching)],
                [each for each in drawn.pictures if overlap(each.box, claim.box)],
                [code for code in codes if _centred(code.box, claim.box)],
                raster,
            )
        )
    strays = [drawn.glyphs[at] for at in np.flatnonzero(~owners)]
    return sides, [glyph for glyph in strays if glyph.area]


def _boxes(boxes: Iterable[Box]) -> Boxes:
    return np.array(list(boxes), np.float64).reshape(-1, 4)


def _moved(boxes: Boxes, matrix: Matrix) -> Boxes:
    """Return the boxes around ``boxes`` once ``matrix`` has moved them."""
    a, b, c, d, e, f = matrix
    left, top, right, bottom = boxes.T
    xs = np.array([a * x + c * y + e for x in (left, right) for y in (top, bottom)])
    ys = np.array([b * x + d * y + f for x in (left, right) for y in (top, bottom)])
    return np.array([xs.min(axis=0), ys.min(axis=0), xs.max(axis=0), ys.max(axis=0)]).T


def _belonging(boxes: Boxes, place: Box) -> npt.NDArray[np.bool_]:
    """Return which boxes lie in ``place`` with a fair share of themselves."""
    left, top, right, bottom = boxes.T
    wide = np.minimum(right, place[2]) - np.maximum(left, place[0])
    high = np.minimum(bottom, place[3]) - np.maximum(top, place[1])
    own = np.maximum(right - left, 1e-6) * np.maximum(bottom - top, 1e-6)
    shared = np.maximum(wide, 0) * np.maximum(high, 0)
    nothing = (right <= left) | (bottom <= top)
    inside = (wide >= 0) & (high >= 0)
    return np.asarray(np.where(nothing, inside, shared >= _BELONGS * own))


def _touching(boxes: Boxes, place: Box) -> npt.NDArray[np.bool_]:
    if not len(boxes):
        return np.zeros(0, bool)
    left, top, right, bottom = boxes.T
    return np.asarray(
        (left < place[2]) & (right > place[0]) & (top < place[3]) & (bottom > place[1])
    )


def _centred(box: Box, place: Box) -> bool:
    return holds(place, (box[0] + box[2]) / 2, (box[1] + box[3]) / 2)
