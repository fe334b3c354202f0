"""The warning sign beside a warning, and how large the warning stands beside other information."""

from __future__ import annotations

from collections.abc import Iterator

from labeler.checker.geometry import Box, around, overlap, within
from labeler.checker.rulebook import asks, finding
from labeler.checker.rules.legibility import CLOSE
from labeler.checker.rules.occurrences import Occurrence, find_all
from labeler.checker.seen import Glyph, Rgb, Shape
from labeler.checker.sides import SeenSide
from labeler.checker.subject import Subject, softened, told
from labeler.findings import Finding, Grade

_BESIDE = 3.0
"""The sign stands within so many heights of the signal word."""


@asks("sign-missing", "sign-low", "sign-plain", "warning-outsized")
def judged(found: Occurrence, subject: Subject) -> Iterator[Finding]:
    """Yield what is wrong with a warning's sign and size; nothing of other statements."""
    if found.form.triangle:
        yield from _sign(found)
    if found.form.as_large_as_other:
        yield from _outsized(found, subject)


def signal_of(found: Occurrence) -> list[Glyph]:
    """Return the glyphs of the signal word: the capitals before the first colon."""
    text = found.passage.text[found.first : found.end]
    end = text.find(":")
    return found.passage.inked(found.first, found.first + max(1, end))


def _sign(found: Occurrence) -> Iterator[Finding]:
    word = signal_of(found)
    side = found.side
    room = side.own(around([glyph.box for glyph in word]))
    high = max(glyph.rise for glyph in word)
    turned = not all(side.upright(line) for line in found.lines)
    signs = [
        s for s in side.shapes if _is_triangle(s) and _is_left_of(side.own(s.box), room, turned)
    ]
    standing = [sign for sign in signs if _has_mark(sign, side)]
    place = side.place(found.box)
    if not standing:
        yield finding(
            "sign-missing",
            place,
            grade=softened(Grade.STOP, found.statement),
            found="a triangle without an exclamation mark" if signs else "no triangle",
            source=told(found.statement),
        )
        return
    sign = max(standing, key=lambda each: each.box[3] - each.box[1])
    tall = sign.box[3] - sign.box[1]
    if tall < high * CLOSE:
        yield finding(
            "sign-low", side.place(sign.box),
            found=f"{tall:.2f} pt high", expected=f"at least {high:.2f} pt, as the signal word",
        )  # fmt: skip
    if not is_yellow(sign.fill) and any(is_yellow(ink) for ink in _other_inks(side, sign)):
        yield finding("sign-plain", side.place(sign.box), found=_called(sign.fill))


def _is_triangle(shape: Shape) -> bool:
    """Tell whether a shape is a closed path of three corners, standing on a level side."""
    if shape.kinds not in ("mllh", "mll", "mlllh"):
        return False
    corners = list(zip(shape.numbers[::2], shape.numbers[1::2], strict=True))
    if len(corners) == 4 and corners[0] != corners[3]:
        return False
    ys = sorted(y for _, y in corners[:3])
    xs = sorted(x for x, _ in corners[:3])
    wide, tall = xs[2] - xs[0], ys[2] - ys[0]
    if wide <= 0 or tall <= 0 or not 0.6 < tall / wide < 1.2:
        return False
    level = min(ys[1] - ys[0], ys[2] - ys[1])
    return level < 0.05 * tall


def _is_left_of(sign: Box, word: Box, turned: bool) -> bool:
    """Tell whether a sign stands left of a word as the word is read, on its line."""
    tall = word[3] - word[1]
    level = sign[1] < word[3] and sign[3] > word[1]
    gap = sign[0] - word[2] if turned else word[0] - sign[2]
    return level and -0.2 * tall <= gap <= _BESIDE * tall


def _has_mark(sign: Shape, side: SeenSide) -> bool:
    """Tell whether something dark stands inside the triangle: the exclamation mark."""
    inner = [
        shape for shape in side.shapes
        if shape is not sign and shape.filled and within(shape.box, sign.box) and _dark(shape.fill)
    ]  # fmt: skip
    marks = [glyph for glyph in side.seen if glyph.reads == "!" and overlap(glyph.box, sign.box)]
    return bool(marks) or len(inner) >= 1


def _dark(ink: Rgb | None) -> bool:
    return ink is not None and max(ink) < 96


def _other_inks(side: SeenSide, sign: Shape) -> Iterator[Rgb]:
    for shape in side.shapes:
        if shape is not sign:
            yield from (ink for ink in (shape.fill, shape.stroke) if ink is not None)
    yield from (glyph.ink for glyph in side.seen if glyph.ink is not None)


def is_yellow(ink: Rgb | None) -> bool:
    """Tell whether a colour is a plain yellow: hue from 40 to 70 degrees, vivid and light.

    Which colours count as yellow the rule does not say: the house's judgement.
    """
    if ink is None:
        return False
    red, green, blue = ink
    most, least = max(ink), min(ink)
    if most < 180 or (most - least) < 0.5 * most or blue != least:
        return False
    hue = (
        60 * ((green - blue) / (most - least))
        if red == most
        else 60 * (2 - (red - blue) / (most - least))
    )
    return 36 <= hue <= 70


def _called(ink: Rgb | None) -> str:
    return "no fill" if ink is None else "#{:02x}{:02x}{:02x}".format(*ink)


# ---------------------------------------------------------------------------------- size

CONSUMER_KINDS = ("caution", "care", "material")
"""Kinds of statement that are consumer information: warnings, directions, what it is made of."""


def _outsized(found: Occurrence, subject: Subject) -> Iterator[Finding]:
    """Yield that other consumer information on this side stands in larger type."""
    own = min(glyph.size for glyph in found.inked)
    largest, text = 0.0, ""
    for other in _other_information(found, subject):
        size = max(glyph.size for glyph in other.inked)
        if size > largest:
            largest, text = size, other.form.plain
    if largest > own / CLOSE:
        yield finding(
            "warning-outsized",
            found.side.place(found.box),
            grade=softened(Grade.STOP, found.statement),
            found=f"{own:.2f} pt beside {largest:.2f} pt for “{text[:40]}”",
        )


def _other_information(found: Occurrence, subject: Subject) -> Iterator[Occurrence]:
    for said in subject.statements:
        if said.kind in CONSUMER_KINDS:
            yield from find_all(said, said.satisfying, found.side, found.side.passages)
