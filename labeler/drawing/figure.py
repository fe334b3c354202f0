"""One jig under one pen: where its parts go, in which order they are drawn, how large it stands."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from labeler.drawing.engraving import (
    LADDER,
    PLAIN_LADDER,
    Chance,
    Detail,
    Pen,
    Treatments,
    treatments,
)
from labeler.drawing.heads import (
    PT_PER_MM,
    Collar,
    HeadShape,
    draw_collar,
    draw_far_lobe,
    draw_head,
    head_shape,
)
from labeler.drawing.hooks import Wire, bend_hook, draw_guard, draw_hook, draw_line_tie
from labeler.drawing.skirt import (
    MOST_PLAIN_STRANDS,
    MOST_STRANDS,
    Depth,
    Fan,
    Room,
    StrandDrawing,
    shares,
)
from labeler.drawing.subject import JigLook
from labeler.marks import Group, InkMode, VectorPath

_PAST_THE_BEND = 28 * PT_PER_MM
"""How far tips reach past the bend where the pattern states no length. The trade trims skirts
some 25 to 30 mm past it, or shorter (common practice, no published source)."""

_LONG = 72 * PT_PER_MM
"""A jig of ordinary size, from nose to tips, for which the pens' widths are given."""

_HEAD_AT_EASE = 15 * PT_PER_MM
"""The length of head for which the collar is sized."""


@dataclass(frozen=True, slots=True)
class JigPlaces:
    """The places of a jig's parts, all in points."""

    head: HeadShape
    hook: Wire
    collar: Collar
    room: Room

    @property
    def scale(self) -> float:
        """How long the jig is beside one of ordinary size."""
        return round((self.head.length + self.room.start + self.room.length) / _LONG, 3)


def places_of(subject: JigLook, *, first: bool = False) -> JigPlaces:
    """Return where a jig's parts go: the head's rear at the origin, the shank along y = 0.

    Args:
        subject: what is seen of the jig.
        first: as the first edition of the drawing placed them: it knew neither trim nor point.
    """
    head = head_shape(subject.head.style, subject.head.ounces, first=first)
    hook = bend_hook(subject.hook, head.tie)
    size = (head.length / _HEAD_AT_EASE) ** 0.5
    collar = Collar(length=3.2 * PT_PER_MM * size, half=6.2 * size)
    tips = hook.rear + _PAST_THE_BEND
    if subject.trim is not None and not first:  # "38 in" may be a slip of the finger for 3/8
        tips = min(hook.rear + subject.trim, hook.rear * 2.6)
    elif subject.length is not None:
        # A drawing needs tips behind the bend, and a head that is still large enough to be seen.
        tips = min(max(subject.length - head.length, hook.rear * 1.15), hook.rear * 2.6)
    point = None if first else hook.point
    return JigPlaces(
        head, hook, collar, Room(collar.length, collar.half * 0.85, tips - collar.length, point)
    )


class JigDrawing:
    """One jig under one pen, as today's edition draws it."""

    FAN, STRANDS = Fan, StrandDrawing

    def __init__(self, subject: JigLook, ink: InkMode, detail: Detail) -> None:
        self._subject, self._places = subject, self.places(subject)
        self._pen = pen = Pen(ink, detail, self._places.scale)
        # Both inks and both details show the same specimen, lying as it fell.
        self._chance = Chance(subject.seed)
        counts = shares(subject.layers, MOST_STRANDS if pen.fine else MOST_PLAIN_STRANDS)
        ways = self.treatments(subject, pen) if pen.black else {}
        self._drawn = self.STRANDS(pen, ways, self._chance, sum(counts))
        fan = self.FAN(subject.dressing, self._places.room, self._chance)
        self._strands = fan.arrange(subject.layers, counts)

    def places(self, subject: JigLook) -> JigPlaces:
        """Return where its parts go."""
        return places_of(subject)

    def treatments(self, subject: JigLook, pen: Pen) -> Treatments:
        """Return how each of its inks is shown in black."""
        return treatments(subject.inks, LADDER if pen.fine else PLAIN_LADDER)

    def marks(self) -> Iterator[VectorPath]:
        """Yield all paths, what lies behind first."""
        subject, places, pen = self._subject, self._places, self._pen
        yield from self._dressing("far", "parted")
        yield from draw_hook(places.hook, subject.hook.ink, pen)
        if subject.guard:
            yield from draw_guard(subject.guard, places.hook, places.head.guard, pen, self._chance)
        yield from self._dressing("near")
        yield from draw_collar(places.collar, subject.thread, pen)
        yield from draw_far_lobe(places.head, subject.head, pen)
        yield from draw_line_tie(places.hook, subject.hook.ink, pen)
        yield from draw_head(places.head, subject.head, pen)

    def _dressing(self, *depths: Depth) -> Iterator[VectorPath]:
        for strand in self._strands:
            if strand.depth in depths:
                yield from self._drawn.draw(strand, self._subject.layers[strand.layer])


def shared_scale(figures: Iterable[Group], room: tuple[float, float]) -> float:
    """Return the largest scale at which every figure fits its room, so that sizes can be compared.

    Args:
        figures: drawn at natural size.
        room: the width and height that each has, in points.

    Raises:
        ValueError: if there is none.
    """
    boxes = [figure.box for figure in figures]
    return min(min(room[0] / (box[2] - box[0]), room[1] / (box[3] - box[1])) for box in boxes)
