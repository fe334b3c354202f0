"""How the quantity stands: at the foot of a card, along its base, in bold, clear of other print."""

from __future__ import annotations

import re
from collections.abc import Iterator

import numpy as np

from labeler.checker.geometry import Box, around, millimetres
from labeler.checker.rulebook import asks, finding, number
from labeler.checker.rules.occurrences import Occurrence
from labeler.checker.rules.wording import puffed
from labeler.checker.seen import Glyph
from labeler.checker.sides import SeenSide
from labeler.checker.subject import Subject, softened
from labeler.disclosures import rules, statements
from labeler.disclosures.panel import clear_space, too_narrow
from labeler.findings import Finding, Grade

_INK = 48
"""Levels of grey by which a dot must differ from the ground to count as printed."""


@asks(
    "quantity-askew",
    "quantity-not-at-the-foot",
    "quantity-narrow",
    "quantity-light",
    "quantity-crowded",
)
def judged(found: Occurrence, subject: Subject) -> Iterator[Finding]:
    """Yield what is wrong with how a quantity stands; nothing of other statements."""
    if found.statement.kind != "quantity":
        return
    yield from _askew(found)
    yield from _too_high(found, subject)
    yield from _narrow(found)
    yield from _light(found)
    yield from _crowded(found)
    yield from _puffed(found, subject)


def _askew(found: Occurrence) -> Iterator[Finding]:
    for line in found.lines:
        off = min(line.angle % 180, 180 - line.angle % 180)
        if off > number("quantity-askew"):
            yield finding(
                "quantity-askew", found.side.place(found.box), found=f"{off} degrees off the base",
                grade=softened(Grade.STOP, found.statement),
            )  # fmt: skip


def _too_high(found: Occurrence, subject: Subject) -> Iterator[Finding]:
    """Yield that the quantity stands too high on a card; where on a bag a label sticks is open."""
    bottom = subject.panel.bottom
    if subject.panel.side != "card" or bottom is None or found.side.claim.side != "front":
        return
    top = found.side.own(found.box)[1]
    up = found.side.claim.piece.height - top
    if up > bottom.pt * (1 + _HAIR):
        yield finding(
            "quantity-not-at-the-foot",
            found.side.place(found.box),
            grade=softened(Grade.STOP, found.statement),
            found=f"it reaches {millimetres(up):.1f} mm up",
            expected=f"no more than {millimetres(bottom.pt):.1f} mm from the foot",
        )


_HAIR = 0.005


def _narrow(found: Occurrence) -> Iterator[Finding]:
    for letter, glyph in found.lettered:
        high, wide = _extent(glyph, found.side)
        if too_narrow(letter, high, wide):
            yield finding(
                "quantity-narrow",
                found.side.place(glyph.box),
                grade=softened(Grade.STOP, found.statement),
                found=f"{letter!r} is {high / wide:.1f} times as high as wide",
                expected=f"at most {rules.number('form-narrowness'):g} times",
            )
            return


def _extent(glyph: Glyph, side: SeenSide) -> tuple[float, float]:
    box = side.own(glyph.box)
    return box[3] - box[1], max(1e-6, box[2] - box[0])


def _light(found: Occurrence) -> Iterator[Finding]:
    least = rules.number("form-style")
    light = [g for g in found.inked if g.font.weight is not None and g.font.weight < least]
    if light:
        yield finding(
            "quantity-light",
            found.side.place(found.box),
            found=f"{light[0].font.name}, weight {light[0].font.weight}",
            expected=f"a weight of {least:g} or more",
        )


def _crowded(found: Occurrence) -> Iterator[Finding]:
    """Yield the sides on which other print stands too near."""
    above, beside = _clear_space(found)
    left, top, right, bottom = found.box
    room = {
        "above": (left - beside, top - above, right + beside, top),
        "below": (left - beside, bottom, right + beside, bottom + above),
        "left": (left - beside, top, left, bottom),
        "right": (right, top, right + beside, bottom),
    }
    near = [where for where, box in room.items() if _printed(box, found)]
    if near:
        yield finding(
            "quantity-crowded",
            found.side.place(found.box),
            f"something is printed too near the quantity: {' and '.join(near)}",
            grade=softened(Grade.STOP, found.statement),
            expected=f"{millimetres(above):.1f} mm clear above and below, "
            f"{millimetres(beside):.1f} mm beside",
        )


def _clear_space(found: Occurrence) -> tuple[float, float]:
    """Return what stays clear above and below, and beside, in points."""
    high = max(glyph.rise for glyph in found.inked)
    widest = 0.0
    for font, size in {(glyph.font, glyph.size) for glyph in found.inked}:
        known = font.width_of_n
        widest = max(widest, high * _N_BY_GUESS if known is None else known * size)
    return clear_space(high, widest)


_N_BY_GUESS = 0.8
"""The width of an N to its height, where the face is not known. Common practice, no published
source."""


def _printed(box: Box, found: Occurrence) -> bool:
    """Tell whether any dot in ``box``, a hair inside it, is printed, on the piece itself."""
    side = found.side
    hair = 1.5 / side.raster.scale
    left, top, right, bottom = box
    trim = side.claim.box
    left, top = max(left + hair, trim[0]), max(top + hair, trim[1])
    right, bottom = min(right - hair, trim[2]), min(bottom - hair, trim[3])
    part = side.raster.grey((left, top, right, bottom))
    if not part.size:
        return False
    return bool(np.ptp(part) > _INK)


# ------------------------------------------------------------------------------- what it says


def _puffed(found: Occurrence, subject: Subject) -> Iterator[Finding]:
    """Yield the words by the quantity that exaggerate it, in its lines and next to them."""
    yield from puffed(_with_neighbours(found), subject, found.side.place(found.box))


def _with_neighbours(found: Occurrence) -> str:
    above, beside = _clear_space(found)
    left, top, right, bottom = found.box
    room = (left - 3 * beside, top - 2 * above, right + 3 * beside, bottom + 2 * above)
    lines = [line for passage in found.side.passages for line in passage.lines]
    mine = {id(line) for line in found.lines}
    texts = [line.text for line in lines if id(line) not in mine and _meets(line.box, room)]
    return "\n".join([found.passage.text[found.first : found.end], *_around(found), *texts])


def _around(found: Occurrence) -> list[str]:
    """Return a few words of the passage before and after the quantity."""
    text = found.passage.text
    before = text[: found.first].split()[-_WORDS:]
    after = text[found.end :].split()[:_WORDS]
    return [" ".join([*before, text[found.first : found.end], *after])]


_WORDS = 3


def _meets(one: Box, other: Box) -> bool:
    return one[0] < other[2] and one[2] > other[0] and one[1] < other[3] and one[3] > other[1]


@asks("quantity-wrong")
def other_counts(side: SeenSide, subject: Subject) -> Iterator[Finding]:
    """Yield every count of the product's own unit that is not the catalog's."""
    one = statements.units(subject.product, subject.markets).casefold()
    pack = subject.product.pattern.pack
    singular = re.escape(one.removesuffix("s"))
    pattern = re.compile(
        rf"(?<![\w./])(\d{{1,4}})\s+{singular}s?\b|\bpack(?:\s+of)?\s+(\d{{1,4}})\b"
    )
    for passage in side.passages:
        for hit in pattern.finditer(passage.text.casefold()):
            if hit[0] in subject.own_words.casefold():
                continue
            said = int(hit[1] or hit[2])
            if said != pack:
                glyphs = [g for g in passage.glyphs[hit.start() : hit.end()] if g and g.area]
                yield finding(
                    "quantity-wrong", side.place(around([g.box for g in glyphs])),
                    found=f"“{passage.text[hit.start() : hit.end()]}”", expected=str(pack),
                )  # fmt: skip
