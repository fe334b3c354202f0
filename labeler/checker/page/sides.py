"""One side of one piece as it stands on the page: its type, shapes and codes, and how it reads."""

from __future__ import annotations

from collections.abc import Callable, Collection, Hashable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from functools import cached_property
from operator import itemgetter
from pathlib import Path
from typing import Any, NamedTuple

import numpy as np
import numpy.typing as npt
from pypdf.generic import StreamObject

from labeler.checker.claims import PlaceClaim
from labeler.checker.page import rendering
from labeler.checker.page.codes import SeenCode, codes_in, codes_on, rooms_for_codes
from labeler.checker.page.elements import Drawn, Glyph, PaintedArea, PaintedPath
from labeler.checker.page.rendering import OpenPdf, PageObject, Raster
from labeler.checker.page.text import TextLine, TextPassage, lines_in, lines_of, passages
from labeler.checker.pdf.file import (
    CheckedPdf,
    PageEntry,
    TooMuchError,
    UnreadableError,
    content_of,
    limit,
    look,
    numbers,
    rectangle,
    text_of,
)
from labeler.checker.pdf.interpreter import ContentInterpreter, Library, Placement, words_of
from labeler.checker.rulebook import asks, finding
from labeler.findings import Finding, Grade, Place
from labeler.geometry import (
    IDENTITY,
    NOWHERE,
    Box,
    Matrix,
    apply,
    apply_to_box,
    contains,
    contains_point,
    grown,
    intersection,
    multiply,
    overlaps,
    union,
)
from labeler.units import POINTS_PER_INCH

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
    shapes: list[PaintedPath]
    pictures: list[PaintedArea]
    codes: list[SeenCode]
    raster: Raster
    _others: dict[TextPassage, tuple[npt.NDArray[np.intp], Boxes]] = field(
        default_factory=dict, init=False, repr=False
    )
    """For a passage, the seen glyphs that are not its own: their numbers and boxes."""
    found: dict[str, object] = field(default_factory=dict, init=False, repr=False)
    """What rules have found that they will be asked for again, for another product."""

    def place(self, box: Box | None = None) -> Place:
        """Return where a finding stands: on this side, in ``box`` on the page."""
        claim = self.claim
        return Place(
            file=self.file, cell=str(claim.cell), page=claim.page, piece=claim.piece.sku,
            box=box or claim.box,
        )  # fmt: skip

    def own(self, box: Box) -> Box:
        """Return a box on the page as it lies on the piece, from its top left corner."""
        return apply_to_box(self.claim.to_piece, box)

    @cached_property
    def trim(self) -> Box:
        """The piece itself, from its own top left corner."""
        return 0.0, 0.0, self.claim.piece.width, self.claim.piece.height

    @property
    def things(self) -> list[PaintedPath | PaintedArea]:
        """What is painted on it that is no type."""
        return [*self.shapes, *self.pictures]

    @cached_property
    def seen(self) -> list[Glyph]:
        """The glyphs that an eye sees, and the spaces between them, each once."""
        seen: list[Glyph] = []
        spots: dict[tuple[str, float], set[int]] = {}
        for glyph in self.glyphs:
            if glyph.mirrored:
                continue
            if glyph.shown >= SEEN if glyph.area else not glyph.reads.strip():
                reads, size = glyph.reads, glyph.size
                by = 0.2 if size < _SMALL_TYPE else _ONE_SPOT * size
                spot = round(glyph.x / by) * _A_ROW + round(glyph.y / by)
                taken = spots.setdefault((reads, size), set())
                if taken.isdisjoint([spot + beside for beside in _BESIDE]):
                    taken.add(spot)
                    seen.append(glyph)
        return seen

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

    @cached_property
    def own_shape_boxes(self) -> Boxes:
        """The boxes of ``shapes`` as they lie on the piece, a row each."""
        return _moved(boxes_of(shape.box for shape in self.shapes), self.claim.to_piece)

    def type_in(self, room: Box, beside: TextPassage) -> list[Glyph]:
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
        round_by = self.claim.piece.radius - room[0]
        if round_by > 0:
            across = np.maximum(room[0] + round_by - left, right - room[2] + round_by).clip(0)
            down = np.maximum(room[1] + round_by - top, bottom - room[3] + round_by).clip(0)
            out |= np.hypot(across, down) > round_by + slack
        return [self.inked[at] for at in np.flatnonzero(out)]

    @cached_property
    def cut_off(self) -> frozenset[int]:
        """The identities of the seen glyphs that reach over the edge of the piece."""
        return frozenset(id(glyph) for glyph in self.outside(self.trim, HAIR))

    @cached_property
    def passages(self) -> list[TextPassage]:
        """What an eye reads."""
        return passages(lines_of(self.seen))

    @cached_property
    def lines(self) -> list[TextLine]:
        """Its lines, each once."""
        return lines_in(self.passages)

    @cached_property
    def written(self) -> list[TextPassage]:
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
        """Its codes: those drawn as one path, and what else can be read from its dots."""
        pictures = [picture.box for picture in self.pictures]
        rooms = rooms_for_codes(self.shapes, pictures, self.codes, self.claim.box)
        known = [code.box for code in self.codes]
        others = [
            code for code in codes_in(rooms, self.raster)
            if not any(_centred(code.box, box) for box in known)
        ]  # fmt: skip
        return [*self.codes, *others]

    @property
    def looks_beyond(self) -> bool:
        """Whether more of the page was looked at to read its codes than is cut out with it."""
        return not all(contains(self.claim.box, code.reach, HAIR) for code in self.all_codes)


_ONE_SPOT = 0.05
"""Of the type size: the same letter so near to itself, printed twice to look bold, reads once."""
_A_ROW = 1 << 32
_BESIDE = tuple(across * _A_ROW + down for across in (0, -1, 1) for down in (0, -1, 1))

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
                [each for each in drawn.pictures if intersection(each.box, claim.box)],
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
    return contains_point(place, (box[0] + box[2]) / 2, (box[1] + box[3]) / 2)


# ----------------------------------------------------------------------------
# Sides of pieces that a file draws alike are read once, and their sisters held to be the same.
#
# Two sides are alike if they claim the same piece and if all that reaches onto them is the same,
# in the same order and at the same place from their corners: forms, by their object and by the
# matrix, ink and clip that they are drawn under, and lines, by their points. PDFium, which reads
# the page by itself, must find the same there. Nothing is taken from the run sheet but what a
# side claims to be.

_GRAIN = 0.01
"""Points: places closer than this are the same, and what reaches no further onto a side does not
touch it. A dot at 2,400 dpi is three times as large."""

_MOST_PAIRS = 20_000_000
"""Forms of one page by sides on it."""

_FOUND_GRAIN = 0.05
"""Points: the same for boxes that PDFium gives, as single floats."""

Known = Callable[[PlaceClaim, Hashable], bool]
"""Tells whether a claim's side was read before, by the key of its looks."""

_Found = tuple[Box, int, bool]
"""What PDFium finds where a form stands: its box, how many clips and whether it is transparent."""


@dataclass(slots=True)
class _Reach:
    """How far what a form draws reaches, from where its own coordinates begin on the page."""

    glyphs: Box
    rest: Box
    """Of lines and pictures, as far as they are not clipped away."""
    steps: int
    """How many operators it takes to draw it."""


@dataclass(slots=True)
class Arrangement:
    """What of a page is to be read.

    Attributes:
        keys: for each claim, the same for sides that are alike; None for one like no other.
        read: which claims, by their place in the list, are of sides to be read.
        box: around all that is to be looked at; None where that is nothing.
    """

    keys: list[Hashable]
    read: frozenset[int]
    box: Box | None


class Repeats:
    """What is known of the forms of one file, from page to page."""

    def __init__(self) -> None:
        self._kinds: dict[Hashable, int] = {}
        self._reaches: dict[int, _Reach] = {}
        self._found: dict[int, _Found] = {}
        self._clean: set[Hashable] = {None}
        """The footings of forms that are known to set no type beside a piece."""

    def recognise(self, follower: ContentInterpreter) -> bool:
        """Find the kind of every form on a page, and follow the first of each.

        Returns:
            whether all that they draw is followed; if not, the page is to be read as a whole.

        Raises:
            TooMuchError: if the page asks for more than any page of labels.
        """
        for placement in follower.placements:
            placement.kind = self._kinds.setdefault(_look(placement), len(self._kinds))
            reach = self._reaches.get(placement.kind)
            if reach is not None:
                follower.count(reach.steps)
                continue
            follower.follow(placement)
            if follower.drawn.untold:
                return False
            self._reaches[placement.kind] = _reach(placement)
        return not follower.drawn.untold

    def arrange(
        self,
        follower: ContentInterpreter,
        claims: Sequence[PlaceClaim],
        objects: Sequence[PageObject],
        to_page: Matrix,
        known: Known,
        alone: Collection[Hashable],
    ) -> Arrangement | None:
        """Return what of a page is to be read, and follow those of its forms that this takes.

        Args:
            follower: has followed the page's own operators; its forms are recognised.
            claims: the sides that stand on the page.
            objects: what PDFium finds on it.
            to_page: from the coordinates of ``objects`` to the page as it is looked at.
            known: tells whether a side with this key was read before.
            alone: keys of sides that are to be read each by itself.

        Returns:
            None for a page that is to be read as a whole.

        Raises:
            TooMuchError: if the page asks for more than any page of labels.
        """
        placements, loose = follower.placements, _Loose(follower)
        if not self._agree(follower, objects, to_page):
            return None
        page = _Page(placements, self._reaches)
        others = [apply_to_box(to_page, each.box) for each in objects if not each.is_form]
        touching = page.touching(claims)
        keys = [
            page.key(claim, forms, loose, others)
            for claim, forms in zip(claims, touching, strict=True)
        ]
        read, new = set[int](), set[Hashable]()
        for number, (claim, key) in enumerate(zip(claims, keys, strict=True)):
            if key is None or key in alone or not (key in new or known(claim, key)):
                read.add(number)
                new.add(key)
        wanted = {each for number in read for each in touching[number]}
        for number, placement in enumerate(placements):
            if number in wanted or page.footing(placement, claims) not in self._clean:
                follower.follow(placement)
        boxes = [claims[number].box for number in sorted(read)]
        boxes += [glyph.box for glyph in loose.glyphs]
        boxes += [union([glyph.box for glyph in p.glyphs]) for p in placements if p.glyphs]
        return Arrangement(keys, frozenset(read), union(boxes) if boxes else None)

    def note_strays(
        self, follower: ContentInterpreter, claims: Sequence[PlaceClaim], strays: Iterable[Glyph]
    ) -> None:
        """Remember which forms of a page that was read set no type beside the pieces."""
        beside = {id(glyph) for glyph in strays}
        page = _Page(follower.placements, self._reaches)
        for placement in follower.placements:
            if placement.glyphs is not None and beside.isdisjoint(map(id, placement.glyphs)):
                self._clean.add(page.footing(placement, claims))

    def _agree(
        self, follower: ContentInterpreter, objects: Sequence[PageObject], to_page: Matrix
    ) -> bool:
        """Tell whether PDFium finds as many forms; one that it finds otherwise is like no other."""
        forms = [each for each in objects if each.is_form]
        if len(forms) != len(follower.placements):
            return False
        for placement, form in zip(follower.placements, forms, strict=True):
            x, y = placement.state.matrix[4:]
            found = _from(apply_to_box(to_page, form.box), x, y), form.clips, form.see_through
            if not _same(found, self._found.setdefault(placement.kind, found)):
                follower.follow(placement)
                placement.kind = self._kinds.setdefault(object(), len(self._kinds))
                self._reaches[placement.kind] = _reach(placement)
        return True


def _look(placement: Placement) -> Hashable:
    """Return what makes a form look as it does, wherever on the page it stands."""
    state = placement.state
    *turn, x, y = state.matrix
    if placement.number is None or state.fill is None or state.stroke is None:
        return object()
    clip = None if contains(state.clip, placement.extent) else _grains(_from(state.clip, x, y))
    cuts = tuple((steps, _points(points, matrix, x, y)) for steps, matrix, points in state.cuts)
    return placement.number, id(placement.resources), tuple(turn), state.ink, clip, cuts


def _same(one: _Found, other: _Found) -> bool:
    near = max(abs(a - b) for a, b in zip(one[0], other[0], strict=True)) < _FOUND_GRAIN
    return near and one[1:] == other[1:]


def _reach(placement: Placement) -> _Reach:
    x, y = placement.state.matrix[4:]
    glyphs = [glyph.box for glyph in placement.glyphs or ()]
    rest = [box for shape in placement.shapes if (box := shape.visible) is not None]
    rest += [picture.box for picture in placement.pictures]
    return _Reach(_extent(glyphs, x, y), _extent(rest, x, y), placement.steps)


def _extent(boxes: list[Box], x: float, y: float) -> Box:
    return _from(union(boxes), x, y) if boxes else NOWHERE


def _from(box: Box, x: float, y: float) -> Box:
    """Return a box as it lies from a point."""
    return box[0] - x, box[1] - y, box[2] - x, box[3] - y


def _grains(lengths: Iterable[float], grain: float = _GRAIN) -> tuple[int, ...]:
    return tuple(round(length / grain) for length in lengths)


def _points(points: Sequence[float], matrix: Matrix, x: float, y: float) -> tuple[int, ...]:
    """Return the points of a path as they lie from a point of the page."""
    spots = (apply(matrix, px, py) for px, py in zip(points[::2], points[1::2], strict=True))
    return _grains(length for px, py in spots for length in (px - x, py - y))


class _Loose:
    """What a page draws by itself, beside its forms."""

    def __init__(self, follower: ContentInterpreter) -> None:
        drawn, forms = follower.drawn, follower.placements
        inside = {id(each) for p in forms for each in (*(p.glyphs or ()), *p.shapes, *p.pictures)}
        self.glyphs = [each for each in drawn.glyphs if id(each) not in inside]
        self.shapes = [each for each in drawn.shapes if id(each) not in inside]
        self.pictures = [each for each in drawn.pictures if id(each) not in inside]

    @cached_property
    def _boxes(self) -> Boxes:
        boxes = [glyph.box for glyph in self.glyphs] + [each.box for each in self.pictures]
        return boxes_of(boxes)

    def meets(self, place: Box) -> bool:
        """Tell whether type or a picture reaches into a place."""
        return bool(touching(self._boxes, place).any())


class _Page:
    """The forms of a page, and how far they reach."""

    def __init__(self, placements: Sequence[Placement], reaches: Mapping[int, _Reach]) -> None:
        self._placements = placements
        self._reaches = reaches
        boxes = [(reaches[p.kind].glyphs, reaches[p.kind].rest) for p in placements]
        spots = np.array([p.state.matrix[4:] * 2 for p in placements], np.float64)
        self._glyphs, self._rest = (
            np.array(each, np.float64).reshape(-1, 4) + spots.reshape(-1, 4)
            for each in zip(*boxes, strict=True)
        )

    def touching(self, claims: Sequence[PlaceClaim]) -> list[list[int]]:
        """Return which forms reach onto each side."""
        if len(claims) * len(self._placements) > _MOST_PAIRS:
            raise TooMuchError("the forms of one page")
        places = boxes_of(grown(claim.box, -_GRAIN) for claim in claims)[:, np.newaxis]
        hit = np.zeros((len(claims), len(self._placements)), bool)
        for boxes in (self._glyphs, self._rest):
            hit |= (boxes[:, :2] < places[:, :, 2:]).all(axis=2) & (
                boxes[:, 2:] > places[:, :, :2]
            ).all(axis=2)
        found: list[list[int]] = [[] for _ in claims]
        for claim, form in zip(*(each.tolist() for each in np.nonzero(hit)), strict=True):
            found[claim].append(form)
        return found

    def key(
        self, claim: PlaceClaim, forms: Sequence[int], loose: _Loose, others: Sequence[Box]
    ) -> Hashable:
        """Return what is the same for sides that are alike; None for one like no other.

        Args:
            claim: the side.
            forms: which forms reach onto it.
            loose: what the page draws by itself.
            others: the boxes of what PDFium finds beside the forms.
        """
        place = grown(claim.box, -_GRAIN)
        *turn, x, y = claim.to_page
        if loose.meets(place):
            return None
        items: list[tuple[int, Hashable]] = []
        for number in forms:
            placement = self._placements[number]
            px, py = placement.state.matrix[4:]
            items.append((placement.order, (placement.kind, *_grains((px - x, py - y)))))
        for shape in loose.shapes:
            if (box := shape.visible) is not None and overlaps(box, place):
                items.append((shape.order, _drawn(shape, x, y)))
        items.sort(key=itemgetter(0))
        found = (_grains(_from(box, x, y), _FOUND_GRAIN) for box in others if overlaps(box, place))
        return (
            claim.piece.number, claim.side, claim.turned, tuple(turn),
            tuple(item for _, item in items), tuple(found),
        )  # fmt: skip

    def footing(self, placement: Placement, claims: Sequence[PlaceClaim]) -> Hashable:
        """Return a form's kind with the claims about its type; None if one holds all of it."""
        x, y = placement.state.matrix[4:]
        left, top, right, bottom = self._reaches[placement.kind].glyphs
        type_box = left + x, top + y, right + x, bottom + y
        about = [claim.box for claim in claims if overlaps(type_box, claim.box)]
        if left > right or any(contains(box, type_box) for box in about):
            return None
        return placement.kind, tuple(_grains(_from(box, x, y)) for box in about)


def _drawn(shape: PaintedPath, x: float, y: float) -> Hashable:
    """Return what makes a line or an area look as it does, from a point of the page."""
    clip = None if contains(shape.clip, shape.box) else _grains(_from(shape.clip, x, y))
    return (
        shape.kinds, _points(shape.numbers, shape.matrix, x, y), shape.fill, shape.stroke,
        shape.width, shape.alpha, shape.filled, shape.stroked, shape.style, clip,
    )  # fmt: skip


# ----------------------------------------------------------------------------
# From one page of a file to the sides of pieces that stand on it, measured.

USUAL_DPI = 300.0
"""The resolution at which a page is looked at where the printer's is not known."""


class StrangePageError(Exception):
    """A page holds what our press never writes, and is to be read by a process of its own."""


class ReadPage(NamedTuple):
    """What stands on a page."""

    sides: list[SeenSide]
    """Those that were read, in the claims' order."""
    keys: list[Hashable]
    """For each claim, the same for sides that are alike; None for one like no other."""
    strays: list[Glyph]
    """The type that is on no side."""
    odd: list[Finding]


class PageReader:
    """Reads the pages of one file, one after another.

    Raises:
        UnreadableError: if PDFium can't open the file.
    """

    def __init__(
        self, document: CheckedPdf, maker_folder: Path, dpi: float | None, trusted: bool
    ) -> None:
        self.document = document
        self.dpi = dpi or USUAL_DPI
        self.trusted = trusted
        self._library = Library(maker_folder)
        self._repeats = Repeats()
        try:
            self._open = OpenPdf(document.data)
        except ValueError as error:
            raise UnreadableError(
                finding("file-damaged", document.place, found=str(error)[:120])
            ) from error

    def close(self) -> None:
        """Let the file go."""
        self._open.close()

    @property
    def unfamiliar_fonts(self) -> set[str]:
        """The fonts whose letters could not be held against a face on the shelf."""
        fonts = self._library.fonts.values()
        return {each.font.name for each in fonts if not each.font.familiar}

    def read(
        self,
        page: PageEntry,
        claims: Sequence[PlaceClaim],
        known: Known = lambda claim, key: False,
        alone: Collection[Hashable] = (),
    ) -> ReadPage:
        """Return what stands on a page. Of sides that are drawn alike one alone is read.

        Args:
            page: the page.
            claims: the sides that it claims to hold.
            known: tells whether a side was read before, by the key of its looks.
            alone: keys of sides that are to be read each by itself.

        Raises:
            TooMuchError: if the page asks for more than any page of labels.
            StrangePageError: if the file is trusted and the page holds what our press never writes.
        """
        place = Place(file=self.document.name, page=page.number)
        if huge := list(too_large(page, place)):
            return ReadPage([], [], [], huge)
        follower = self._follow(page, pieces=True)
        drawn, laid_over = follower.drawn, list(laid_over_by(page.annotations))
        in_part = bool(follower.placements) and not laid_over
        in_part = in_part and self._repeats.recognise(follower)
        if not in_part:
            follower.follow_all()
        if self.trusted and (laid_over or drawn.untold):
            raise StrangePageError
        try:
            raster = self._rendered(page, place)
        except UnreadableError as error:
            return ReadPage([], [], [], [error.finding])
        few: Arrangement | None = None
        if in_part:
            few = self._repeats.arrange(
                follower, claims, raster.objects(), _to_page(page), known, alone
            )
        if few is None:
            follower.follow_all()
        if few is not None and few.box is not None:
            raster.narrow(few.box)
        drawn.in_order()
        wanted = range(len(claims)) if few is None else few.read
        read = [claims[number].box for number in wanted]
        rendering.look_at(drawn, raster, laid_over=bool(laid_over), beside=read)
        codes = codes_on(drawn, raster, [claim.box for claim in claims])
        sides, strays = part(drawn, codes, claims, raster, self.document.name, wanted)
        keys: list[Hashable] = [None] * len(claims)
        if few is not None:
            keys = few.keys
            self._repeats.note_strays(follower, claims, strays)
        grade = Grade.STOP if "Widget" in laid_over else Grade.FIX
        return ReadPage(sides, keys, strays, list(odd(laid_over, drawn.untold, place, grade)))

    @asks("file-damaged")
    def _rendered(self, page: PageEntry, place: Place) -> Raster:
        """Return a page as PDFium draws it.

        Raises:
            UnreadableError: if PDFium can't read it.
            TooMuchError: if it has too many dots.
        """
        try:
            return self._open.page(page.number, self.dpi)
        except ValueError as error:
            said = finding("file-damaged", place, found=str(error)[:120])
            raise UnreadableError(said) from error

    def _follow(self, page: PageEntry, pieces: bool = False) -> ContentInterpreter:
        """Follow a page; of pieces its forms are laid aside, and what lies over it is followed."""
        whole = (0.0, 0.0, *page.size)
        follower = ContentInterpreter(
            self._library, Drawn(*page.size), _to_page(page), whole, lay_aside=pieces
        )
        begun = follower.state.copy()
        follower.run(words_of(content_of(page)), page.resources)
        follower.state = begun
        follower.drawn.over_from = follower.order
        for entry in page.annotations if pieces else ():
            _draw_over(follower, entry)
        return follower


def _draw_over(follower: ContentInterpreter, entry: Any) -> None:
    """Follow what an annotation looks like (ISO 32000-1:2008, 12.5.5, algorithm 8.1)."""
    form = look(look(entry, "/AP"), "/N")
    if not isinstance(form, StreamObject):
        form = look(form, f"/{text_of(look(entry, '/AS'))}")
    room, box = rectangle(look(entry, "/Rect")), rectangle(look(form, "/BBox"))
    if not isinstance(form, StreamObject) or not room or not box:
        return
    given: Any = numbers(look(form, "/Matrix"), 6) or IDENTITY
    left, low, right, high = apply_to_box(tuple(given), box)
    x0, y0, x1, y1 = room
    wide, tall = (x1 - x0) / (right - left or 1), (y1 - y0) / (high - low or 1)
    follower.save()
    follower.concat((wide, 0.0, 0.0, tall, x0 - left * wide, y0 - low * tall))
    follower.draw_form(form, None)
    follower.restore()


def _to_page(page: PageEntry) -> Matrix:
    """Return the matrix from the page's own coordinates to how it is looked at, y down.

    Source: ISO 32000-1:2008, table 30, Rotate: clockwise, in quarters.
    """
    left, bottom, right, top = page.box
    wide, high = right - left, top - bottom
    flipped: Matrix = (1.0, 0.0, 0.0, -1.0, -left, top)
    quarters: dict[int, Matrix] = {
        90: (0.0, 1.0, -1.0, 0.0, high, 0.0),
        180: (-1.0, 0.0, 0.0, -1.0, wide, high),
        270: (0.0, -1.0, 1.0, 0.0, 0.0, wide),
    }
    return multiply(flipped, quarters.get(page.rotate, IDENTITY))


def laid_over_by(annotations: Iterable[Any]) -> Iterator[str]:
    """Yield the kinds of those annotations that may be printed."""
    for entry in annotations:
        kind = text_of(look(entry, "/Subtype")) or "unnamed"
        if kind != "Link" or look(entry, "/AP") is not None:
            yield kind


@asks("page-too-large")
def too_large(page: PageEntry, place: Place) -> Iterator[Finding]:
    """Yield that a page is larger than any desk printer's paper."""
    wide, high = page.size
    if max(wide, high) > limit("page-points"):
        found = f"{wide / POINTS_PER_INCH:.0f} by {high / POINTS_PER_INCH:.0f} inches"
        yield finding("page-too-large", place, found=found)


@asks("page-laid-over", "page-untold")
def odd(
    laid_over: Sequence[str], untold: Collection[str], place: Place, grade: Grade = Grade.FIX
) -> Iterator[Finding]:
    """Yield that something lies over a page, with a grade, and what is not followed of the page."""
    if laid_over:
        found = ", ".join(sorted(set(laid_over)))
        yield finding("page-laid-over", place, found=found, grade=grade)
    if untold:
        yield finding("page-untold", place, found=", ".join(sorted(untold)))
