"""One side of one piece as it stands on the page: its type, shapes and codes, and how it reads."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass, field
from functools import cached_property

import numpy as np
import numpy.typing as npt

from labeler.checker.codes_seen import SeenCode, codes_in, could_hide_code
from labeler.checker.geometry import NOWHERE, Box, Matrix, holds, overlap, under, within
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
                size = glyph.size
                by = 0.2 if size < _SMALL_TYPE else _ONE_SPOT * size
                spot = glyph.reads, round(glyph.x / by), round(glyph.y / by), size
                seen.setdefault(spot, glyph)
        return list(seen.values())

    @cached_property
    def inked(self) -> list[Glyph]:
        """The glyphs that an eye sees."""
        return [glyph for glyph in self.seen if glyph.area]

    @cached_property
    def inked_boxes(self) -> Boxes:
        """The boxes of ``inked`` on the page, a row each."""
        return boxes_of(glyph.box for glyph in self.inked)

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
        return [self.inked[at] for at in numbers[touching(boxes, room)]]

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

    @property
    def looks_beyond(self) -> bool:
        """Whether more of the page was looked at to read its codes than is cut out with it."""
        return not all(within(code.reach, self.claim.box, HAIR) for code in self.all_codes)


_ONE_SPOT = 0.05
"""Of the type size: the same letter so near to itself, printed twice to look bold, reads once."""

_SMALL_TYPE = 0.2 / _ONE_SPOT


def part(
    drawn: Drawn,
    codes: Sequence[SeenCode],
    claims: Sequence[PlaceClaim],
    raster: Raster,
    file: str,
    wanted: Collection[int] | None = None,
) -> tuple[list[SeenSide], list[Glyph]]:
    """Return the sides on a page, each with what stands on it, and the type that is on none.

    Args:
        drawn: what the page draws.
        codes: the codes on it.
        claims: the sides that stand on it.
        raster: the page rendered.
        file: what the file is called.
        wanted: which of the sides to return, by their place in ``claims``; all, if none are given.
    """
    owners = np.zeros(len(drawn.glyphs), bool)
    boxes = boxes_of(glyph.box for glyph in drawn.glyphs)
    shape_boxes = boxes_of(shape.visible or NOWHERE for shape in drawn.shapes)
    sides = []
    reach = (*boxes.min(axis=0)[:2], *boxes.max(axis=0)[2:]) if len(boxes) else NOWHERE
    for number, claim in enumerate(claims):
        mine = np.zeros(len(boxes), bool)
        if _meet(reach, claim.box):
            mine = _belonging(boxes, claim.box)
            owners |= mine
        if wanted is not None and number not in wanted:
            continue
        shown = touching(shape_boxes, claim.box)
        sides.append(
            SeenSide(
                claim,
                file,
                [drawn.glyphs[at] for at in np.flatnonzero(mine)],
                [drawn.shapes[at] for at in np.flatnonzero(shown)],
                [each for each in drawn.pictures if overlap(each.box, claim.box)],
                [code for code in codes if _centred(code.box, claim.box)],
                raster,
            )
        )
    strays = [drawn.glyphs[at] for at in np.flatnonzero(~owners)]
    return sides, [glyph for glyph in strays if glyph.area]


def _meet(one: Box, other: Box) -> bool:
    """Tell whether two boxes touch at all."""
    return one[0] <= other[2] and one[2] >= other[0] and one[1] <= other[3] and one[3] >= other[1]


def boxes_of(boxes: Iterable[Box]) -> Boxes:
    """Return boxes as rows."""
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


def touching(boxes: Boxes, place: Box) -> npt.NDArray[np.bool_]:
    """Return which boxes reach into ``place``; one turned inside out is nowhere."""
    if not len(boxes):
        return np.zeros(0, bool)
    left, top, right, bottom = boxes.T
    return np.asarray(
        (left < place[2]) & (right > place[0]) & (top < place[3]) & (bottom > place[1])
    )


def _centred(box: Box, place: Box) -> bool:
    return holds(place, (box[0] + box[2]) / 2, (box[1] + box[3]) / 2)
