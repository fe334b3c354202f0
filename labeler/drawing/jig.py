"""A jig drawn from its pattern and recipe: a specimen in side view, its head to the left."""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from functools import lru_cache

from labeler.catalog.model import Layer, Product
from labeler.drawing.curves import box_of
from labeler.drawing.engraving import (
    LADDER,
    PLAIN_LADDER,
    Chance,
    Detail,
    Hand,
    Pen,
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
    Room,
    Strand,
    arrange,
    draw_hair,
    draw_plume,
    draw_rubber,
    draw_silicone,
    draw_tinsel,
    shares,
)
from labeler.drawing.subject import JigLook, Kind, LayerLook, look_of
from labeler.geometry import IDENTITY
from labeler.marks import Group, InkMode, VectorPath


def describe(product: Product) -> str:
    """Return the recipe: ``swim jig: brown over blue, orange belly, fibre guard, 4/0 hook``."""
    layers = product.colour.layers
    around = " over ".join(_shade(layer) for layer in layers if layer.seat == "around")
    parts = [around] if around else []
    parts += [_seated(layer) for layer in layers if layer.seat != "around"]
    if product.guard:
        parts.append(f"{product.guard.style} guard")
    if product.hook_size:
        parts.append(f"{product.hook_size} hook")
    return f"{product.pattern.kind}: {', '.join(parts)}" if parts else product.pattern.kind


def _shade(layer: Layer) -> str:
    """Return a shade without commas, which here part one layer from the next."""
    return layer.shade.replace(", ", " with ", 1).replace(", ", " and ")


def _seated(layer: Layer) -> str:
    shade = _shade(layer)
    return f"{shade} {layer.seat}" if shade == layer.shade else f"{layer.seat} in {shade}"


EDITION = 2
"""The edition of the drawing that is printed today. It stands in every key, so that figures of two
editions never share one; what an earlier one printed is printed again by it."""

_PAST_THE_BEND = 28 * PT_PER_MM
"""How far tips reach past the bend where the pattern states no length. The trade trims skirts
some 25 to 30 mm past it, or shorter (common practice, no published source)."""

_LONG = 72 * PT_PER_MM
"""A jig of ordinary size, from nose to tips, for which the pens' widths are given."""

_HEAD_AT_EASE = 15 * PT_PER_MM
"""The length of head for which the collar is sized."""

_DRAWN_BY: dict[Kind, Callable[[Strand, LayerLook, Hand], Iterator[VectorPath]]] = {
    "silicone": draw_silicone,
    "living rubber": draw_rubber,
    "hair": draw_hair,
    "feather": draw_plume,
    "tinsel": draw_tinsel,
}


def draw_jig(
    product: Product, *, ink: InkMode = "colour", detail: Detail = "fine", edition: int = EDITION
) -> Group:
    """Draw a jig lying on its side, at about natural size.

    A skirt shows every strand of its recipe, each in its layer's colour, up to 160; of a fuller
    one 160 strands are drawn, shared among the layers in proportion, and no layer is ever left
    out. A plain drawing shows 44 at most in the same way, thicker, and no flake.

    Args:
        product: the pattern in one weight, hook size and colour.
        ink: "colour" draws in the recipe's inks; "black" in #000000 and #ffffff alone, with
            line, hatching and stipple for the inks, so that layers can still be told apart.
        detail: "fine" for a card, at 0.35 of natural size or more; "plain" for a label an inch
            high, where the figure is about 20 mm wide.
        edition: 1 for a figure of what was printed before there was a second.

    Returns:
        Paths in points, y down; the head's rear lies at the origin. Its ``key`` is the same for
        all products that look alike, in the same inks and detail; ``says`` is the recipe in words.
    """
    group = _drawn(look_of(product), ink, detail, edition)
    return replace(group, says=describe(product))


@lru_cache(maxsize=256)
def _drawn(subject: JigLook, ink: InkMode, detail: Detail, edition: int) -> Group:
    if edition == 1:
        from labeler.drawing.first_edition import FirstDrawing  # only for what is printed again

        marks = tuple(FirstDrawing(subject, ink, detail).marks())
    else:
        marks = tuple(_Drawing(subject, ink, detail).marks())
    trim = f"{subject.trim} " if edition > 1 else ""
    name = f"jig {edition} {ink} {detail} {trim}{subject.seed}".encode()
    key = f"jig-{hashlib.sha256(name).hexdigest()[:24]}"
    return Group(IDENTITY, marks, box_of(marks), key)


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


def frame_of(subject: JigLook) -> JigPlaces:
    """Return where a jig's parts go: the head's rear at the origin, the shank along y = 0."""
    head = head_shape(subject.head.style, subject.head.ounces)
    hook = bend_hook(subject.hook, head.tie)
    size = (head.length / _HEAD_AT_EASE) ** 0.5
    collar = Collar(length=3.2 * PT_PER_MM * size, half=6.2 * size)
    tips = hook.rear + _PAST_THE_BEND
    if subject.trim is not None:  # "38 in" may be a slip of the finger for 3/8
        tips = min(hook.rear + subject.trim, hook.rear * 2.6)
    elif subject.length is not None:
        # A drawing needs tips behind the bend, and a head that is still large enough to be seen.
        tips = min(max(subject.length - head.length, hook.rear * 1.15), hook.rear * 2.6)
    room = Room(collar.length, collar.half * 0.85, tips - collar.length, hook.point)
    return JigPlaces(head, hook, collar, room)


class _Drawing:
    """One jig under one pen."""

    def __init__(self, subject: JigLook, ink: InkMode, detail: Detail) -> None:
        self._subject, self._frame = subject, frame_of(subject)
        self._pen = pen = Pen(ink, detail, self._frame.scale)
        # Both inks and both details show the same specimen, lying as it fell.
        self._chance = Chance(subject.seed)
        counts = shares(subject.layers, MOST_STRANDS if pen.fine else MOST_PLAIN_STRANDS)
        ladder = LADDER if pen.fine else PLAIN_LADDER
        ways = treatments(subject.inks, ladder) if pen.black else {}
        self._hand = Hand(pen, ways, self._chance, sum(counts))
        self._strands = arrange(
            subject.layers, counts, subject.dressing, self._frame.room, self._chance
        )

    def marks(self) -> Iterator[VectorPath]:
        """Yield all paths, what lies behind first."""
        subject, frame, pen = self._subject, self._frame, self._pen
        yield from self._dressing("far", "parted")
        yield from draw_hook(frame.hook, subject.hook.ink, pen)
        if subject.guard:
            yield from draw_guard(subject.guard, frame.hook, frame.head.guard, pen, self._chance)
        yield from self._dressing("near")
        yield from draw_collar(frame.collar, subject.thread, pen)
        yield from draw_far_lobe(frame.head, subject.head, pen)
        yield from draw_line_tie(frame.hook, subject.hook.ink, pen)
        yield from draw_head(frame.head, subject.head, pen)

    def _dressing(self, *depths: Depth) -> Iterator[VectorPath]:
        for strand in self._strands:
            if strand.depth in depths:
                layer = self._subject.layers[strand.layer]
                yield from _DRAWN_BY[layer.kind](strand, layer, self._hand)
