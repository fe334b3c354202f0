"""Where type stands on the piece: off the edge, off the hole, on its own piece, and as it says."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import pairwise

import numpy as np

from labeler.checker.page.elements import Glyph, PaintedPath
from labeler.checker.page.sides import HAIR, SEEN, SeenSide, touching
from labeler.checker.rulebook import asks, finding, rule, size_pt
from labeler.checker.rules.words import packed
from labeler.checker.subject import CheckedProduct
from labeler.findings import Finding, Place
from labeler.geometry import Box, area, contains, grown, intersection, union
from labeler.units import Length


@asks("piece-empty")
def empty(side: SeenSide, subject: CheckedProduct) -> Iterator[Finding]:
    """Yield that no type stands on this side at all."""
    if not any(glyph.area for glyph in side.seen):
        why = "a picture" if side.pictures else "nothing"
        yield finding("piece-empty", side.place(), found=why)


@asks("text-cut", "text-unsafe", "text-unsafe-card")
def edges(side: SeenSide, subject: CheckedProduct) -> Iterator[Finding]:
    """Yield the type that lies over the edge or too near to it."""
    card = subject.use == "cards"
    rule_id = "text-unsafe-card" if card else "text-unsafe"
    safe = size_pt(rule_id)
    out = [glyph for glyph in side.inked if id(glyph) in side.cut_off]
    near = [
        glyph
        for glyph in side.outside(grown(side.trim, -safe), HAIR)
        if id(glyph) not in side.cut_off
    ]
    if out:
        yield finding("text-cut", side.place(_box(out)), found=_quoted(out))
    if near:
        yield finding(
            rule_id, side.place(_box(near)), found=_quoted(near),
            expected=f"{Length(safe).mm:.1f} mm off the edge",
        )  # fmt: skip


def _box(glyphs: Sequence[Glyph]) -> Box:
    return union([glyph.box for glyph in glyphs])


def _quoted(glyphs: Sequence[Glyph]) -> str:
    text = "".join(glyph.reads for glyph in glyphs)
    return f"“{text[:40]}”"


# ---------------------------------------------------------------------------------- the hole


@asks("hole-blocked", "hole-near")
def holes(side: SeenSide, subject: CheckedProduct) -> Iterator[Finding]:
    """Yield what is printed where a hole is punched, or too near to it."""
    near = size_pt("hole-near")
    for hole in side.claim.holes:
        inside = [box for box in _printed(side, hole) if _in_hole(side.own(box), hole)]
        if inside:
            yield finding("hole-blocked", side.place(union(inside)))
            continue
        close = list(_type_and_codes(side, grown(hole, near - HAIR)))
        if close:
            yield finding(
                "hole-near", side.place(union(close)),
                expected=f"{Length(near).mm:.1f} mm off the hole",
            )  # fmt: skip


def _type_and_codes(side: SeenSide, room: Box) -> Iterator[Box]:
    """Yield the boxes of type and codes that reach into ``room``, given as it lies on the piece."""
    yield from (side.inked[at].box for at in np.flatnonzero(touching(side.own_boxes, room)))
    yield from (code.box for code in side.codes if intersection(side.own(code.box), room))


def _printed(side: SeenSide, hole: Box) -> Iterator[Box]:
    """Yield the boxes of all that is drawn at a hole, but the line that shows where it is."""
    yield from _type_and_codes(side, hole)
    yield from (picture.box for picture in side.pictures)
    for at in np.flatnonzero(touching(side.own_shape_boxes, hole)):
        shape = side.shapes[at]
        own = side.own(shape.box)
        if not _is_die_line(shape, own, hole) and not _ground(own, hole):
            yield from _pieces(shape, side, hole)


def _is_die_line(shape: PaintedPath, own: Box, hole: Box) -> bool:
    """Tell whether a shape is the hole's own outline: a thin line around the same box."""
    alike = contains(grown(hole, shape.width + 0.5), own) and contains(grown(own, 0.5), hole)
    return alike and shape.stroked and not shape.filled and shape.width < 1


def _ground(own: Box, hole: Box) -> bool:
    """Tell whether a shape is a ground that runs on all round the hole."""
    return contains(own, grown(hole, 1.0)) and area(own) > 4 * area(hole)


def _pieces(shape: PaintedPath, side: SeenSide, hole: Box) -> Iterator[Box]:
    """Yield the stretches of a path that come near the hole, each in its own box."""
    a, b, c, d, e, f = shape.matrix
    xs, ys = shape.numbers[::2], shape.numbers[1::2]
    points = [(a * x + c * y + e, b * x + d * y + f) for x, y in zip(xs, ys, strict=True)]
    for (x0, y0), (x1, y1) in pairwise(points):
        box = grown((min(x0, x1), min(y0, y1), max(x0, x1), max(y0, y1)), shape.width / 2)
        if intersection(side.own(box), hole):
            yield box


def _in_hole(box: Box, hole: Box) -> bool:
    """Tell whether a box reaches into the ellipse that a hole's box holds."""
    middle_x, middle_y = (hole[0] + hole[2]) / 2, (hole[1] + hole[3]) / 2
    half_x, half_y = (hole[2] - hole[0]) / 2, (hole[3] - hole[1]) / 2
    x = max(box[0] - middle_x, middle_x - box[2], 0.0) / half_x
    y = max(box[1] - middle_y, middle_y - box[3], 0.0) / half_y
    return x * x + y * y < _WELL_INSIDE


_WELL_INSIDE = 0.98
"""Of the square of the hole's radius: what only touches its rim is not punched away."""


# --------------------------------------------------------------------------- letters and fonts


@asks(
    "letters-false", "font-missing", "font-damaged", "font-strange", "text-hidden",
    "text-mirrored",
)  # fmt: skip
def letters(side: SeenSide, subject: CheckedProduct) -> Iterator[Finding]:
    """Yield letters that are others than the text layer says, and those nobody sees."""
    false = [g for g in side.seen if g.shape is not None and g.shape != g.text and g.area]
    if false:
        yield finding(
            "letters-false", side.place(_box(false)),
            found=f"{_quoted(false)} is seen where “{''.join(g.text for g in false)[:40]}” is said",
        )  # fmt: skip
    fonts = {glyph.font for glyph in side.seen}
    damaged = {font for font in fonts if font.damaged}
    missing = {font for font in fonts if not font.embedded}
    strange = {g.font for g in side.inked if g.font.embedded and not g.font.familiar} - damaged
    for broken, odd in (
        ("font-damaged", damaged), ("font-missing", missing), ("font-strange", strange)
    ):  # fmt: skip
        if odd:
            names = sorted({font.name or "unnamed" for font in odd})
            yield finding(broken, side.place(), found=", ".join(names))
    mirrored = [glyph for glyph in side.glyphs if glyph.area and glyph.mirrored]
    if mirrored:
        yield finding("text-mirrored", side.place(_box(mirrored)), found=_quoted(mirrored))
    hidden = [glyph for glyph in side.glyphs if glyph.area and glyph.shown < SEEN]
    if hidden:
        text = "".join(glyph.text for glyph in hidden)
        yield finding("text-hidden", side.place(_box(hidden)), found=f"“{text[:60]}”")


@asks("stray-text", "preview")
def strays(glyphs: Sequence[Glyph], place: Place) -> Iterator[Finding]:
    """Yield the type that stands on no piece; the words of a preview make it one."""
    seen = [glyph for glyph in glyphs if glyph.shown >= SEEN]
    if seen:
        spot = Place(file=place.file, page=place.page, box=_box(seen))
        said = packed("".join(glyph.reads for glyph in seen))
        if any(packed(words) in said for words in rule("preview").words):
            yield only_preview(spot, _quoted(seen))
        else:
            yield finding("stray-text", spot, found=_quoted(seen))


@asks("preview")
def only_preview(place: Place, found: str = "") -> Finding:
    """Return that a file is a preview, which nobody may sell by.

    It is made whatever was found: of a lot that is held, of a statement that lacks. The frame's
    words are all that tells it from a print once the sheet inside is gone.
    """
    return finding("preview", place, found=found)
