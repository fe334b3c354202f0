"""Sides of pieces that a file draws alike are read once, and their sisters held to be the same.

Two sides are alike if they claim the same piece and if all that reaches onto them is the same, in
the same order and at the same place from their corners: forms, by their object and by the matrix,
ink and clip that they are drawn under, and lines, by their points. PDFium, which reads the page by
itself, must find the same there. Nothing is taken from the run sheet but what a side claims to be.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Hashable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from labeler.checker.content import ContentInterpreter, Placement
from labeler.checker.geometry import NOWHERE, Box, Matrix, around, at, grown, under, within
from labeler.checker.limits import TooMuchError
from labeler.checker.places import PlaceClaim
from labeler.checker.raster import PageObject
from labeler.checker.seen import Glyph, Shape
from labeler.checker.sides import Boxes, boxes_of, touching

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
        self._clean: set[Hashable] = set()
        """Forms, with the claims about them, that are known to set no type beside a piece."""

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
        others = [under(to_page, each.box) for each in objects if not each.is_form]
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
            if number in wanted or not self._is_clean(page.footing(placement, claims)):
                follower.follow(placement)
        boxes = [claims[number].box for number in sorted(read)]
        boxes += [glyph.box for glyph in loose.glyphs]
        boxes += [around([glyph.box for glyph in p.glyphs]) for p in placements if p.glyphs]
        return Arrangement(keys, frozenset(read), around(boxes) if boxes else None)

    def note_strays(
        self, follower: ContentInterpreter, claims: Sequence[PlaceClaim], strays: Iterable[Glyph]
    ) -> None:
        """Remember which forms of a page that was read set no type beside the pieces."""
        beside = {id(glyph) for glyph in strays}
        page = _Page(follower.placements, self._reaches)
        for placement in follower.placements:
            if placement.glyphs is not None and beside.isdisjoint(map(id, placement.glyphs)):
                self._clean.add(page.footing(placement, claims))

    def _is_clean(self, footing: Hashable) -> bool:
        return footing is None or footing in self._clean

    def _agree(
        self, follower: ContentInterpreter, objects: Sequence[PageObject], to_page: Matrix
    ) -> bool:
        """Tell whether PDFium finds as many forms; one that it finds otherwise is like no other."""
        forms = [each for each in objects if each.is_form]
        if len(forms) != len(follower.placements):
            return False
        for placement, form in zip(follower.placements, forms, strict=True):
            x, y = placement.state.matrix[4:]
            found = _from(under(to_page, form.box), x, y), form.clips, form.see_through
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
    clip = None if within(placement.extent, state.clip) else _grains(_from(state.clip, x, y))
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
    return _from(around(boxes), x, y) if boxes else NOWHERE


def _from(box: Box, x: float, y: float) -> Box:
    """Return a box as it lies from a point."""
    return box[0] - x, box[1] - y, box[2] - x, box[3] - y


def _grains(lengths: Iterable[float], grain: float = _GRAIN) -> tuple[int, ...]:
    return tuple(round(length / grain) for length in lengths)


def _points(points: Sequence[float], matrix: Matrix, x: float, y: float) -> tuple[int, ...]:
    """Return the points of a path as they lie from a point of the page."""
    spots = (at(matrix, px, py) for px, py in zip(points[::2], points[1::2], strict=True))
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
            if (box := shape.visible) is not None and _meet(box, place):
                items.append((shape.order, _drawn(shape, x, y)))
        items.sort(key=_first)
        found = (_grains(_from(box, x, y), _FOUND_GRAIN) for box in others if _meet(box, place))
        return (
            claim.piece.number, claim.side, claim.turned, tuple(turn),
            tuple(item for _, item in items), tuple(found),
        )  # fmt: skip

    def footing(self, placement: Placement, claims: Sequence[PlaceClaim]) -> Hashable:
        """Return a form's kind with the claims about its type; None if one holds all of it."""
        x, y = placement.state.matrix[4:]
        left, top, right, bottom = self._reaches[placement.kind].glyphs
        type_box = left + x, top + y, right + x, bottom + y
        about = [claim.box for claim in claims if _meet(type_box, claim.box)]
        if left > right or any(within(type_box, box) for box in about):
            return None
        return placement.kind, tuple(_grains(_from(box, x, y)) for box in about)


def _first(item: tuple[int, Hashable]) -> int:
    return item[0]


def _drawn(shape: Shape, x: float, y: float) -> Hashable:
    """Return what makes a line or an area look as it does, from a point of the page."""
    clip = None if within(shape.box, shape.clip) else _grains(_from(shape.clip, x, y))
    return (
        shape.kinds, _points(shape.numbers, shape.matrix, x, y), shape.fill, shape.stroke,
        shape.width, shape.alpha, shape.filled, shape.stroked, shape.style, clip,
    )  # fmt: skip


def _meet(one: Box, other: Box) -> bool:
    return one[0] < other[2] and one[2] > other[0] and one[1] < other[3] and one[3] > other[1]
