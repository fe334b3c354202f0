"""The disclosure block: what the product must say where it is sold, at the sizes asked for.

It takes the statements of its kinds that no block before it has printed. What is left at the
end of a piece is an error, so a layout can't forget a warning.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from itertools import pairwise

from typing_extensions import override

from labeler.disclosures.panel import clear_space
from labeler.disclosures.rules import KINDS
from labeler.disclosures.statements import LeastSize, Statement, StatementForm
from labeler.geometry import Box
from labeler.layout.blocks.block import Block, ClearSpace, Edges, Ground, overflow, own_side
from labeler.layout.blocks.text import ink_box, refuse_missing_letters
from labeler.layout.context import Setup
from labeler.layout.markup import Node
from labeler.marks import Mark, VectorPath
from labeler.type.lines import BETWEEN, Span
from labeler.type.setting import Align, Text, glyphs_of, text_of
from labeler.units import NO_BREAK_SPACE, SLACK_PT

# ----------------------------------------------------------------------------
# The warning triangle that stands before a signal word. No face has it, so it is drawn.

SIGN_HEIGHT = 1.25
"""The triangle's height to the signal word's capitals; the law asks for no less than 1."""

_SIGN_INK = "#f9a800"
"""Signal yellow, RAL 1003 in sRGB. Source: ISO 3864-1 as restated in encyclopaedias."""


def warning_sign(left: float, baseline: float, high: float, black: bool) -> Iterator[Mark]:
    """Draw the warning triangle: black edge and mark, yellow field (white in black mode).

    Source: 27 CCR 25603(a)(1) as restated: a black exclamation point in a yellow equilateral
    triangle with a bold black outline; black and white where the label has no yellow.
    """
    wide = high * 1.1547
    edge = high * 0.11
    apex, foot = (left + wide / 2, baseline - high + edge), baseline - edge / 2
    yield VectorPath(
        (("M", *apex), ("L", left + wide - edge, foot), ("L", left + edge, foot), ("Z",)),
        fill="#ffffff" if black else _SIGN_INK,
        stroke="#000000",
        width=edge,
        round_ends=True,
    )
    middle, top = left + wide / 2, baseline - high * 0.66
    half, waist = high * 0.062, high * 0.035
    yield VectorPath(
        (
            ("M", middle - half, top), ("L", middle + half, top),
            ("L", middle + waist, baseline - high * 0.30),
            ("L", middle - waist, baseline - high * 0.30), ("Z",),
        ),
        fill="#000000",
    )  # fmt: skip
    dot_top, dot_foot = baseline - high * 0.23, baseline - high * 0.12
    yield VectorPath(
        (
            ("M", middle - half, dot_top), ("L", middle + half, dot_top),
            ("L", middle + half, dot_foot), ("L", middle - half, dot_foot), ("Z",),
        ),
        fill="#000000",
    )  # fmt: skip


# ----------------------------------------------------------------------------
# Statements as paragraphs in one way of saying them, each with the room that it asks for.
#
# Points, y down.

_GAP = 0.35
"""Between statements on lines of their own, in type sizes."""

_ASIDE: dict[Align, float] = {"left": 0.0, "centre": 0.5, "right": 1.0}


@dataclass(slots=True)
class StatementParagraph:
    """A statement, or several that are set alike and follow each other in one text."""

    text: Text
    sign: float
    """How high the warning triangle stands to the type size, 0 for none."""
    apart: bool = False
    """Whether it is a quantity, which other print keeps clear of."""

    def size(self, squeeze: float) -> float:
        """Return the type size at a squeeze from 1, largest, to 0, least."""
        return self.text.least + squeeze * (self.text.most - self.text.least)

    def indent(self, size: float) -> float:
        """Return the room for the triangle, as wide as it is high, and a little air."""
        return self.sign * size * 1.45

    def rise(self, size: float) -> float:
        """Return how far the triangle stands out above the first line."""
        return max(0.0, self.sign - self.text.ascent) * size

    def height(self, width: float, size: float) -> float:
        """Return what the paragraph takes; infinite where a word is wider than ``width``."""
        return self.rise(size) + self.text.height(size, width - self.indent(size))

    @property
    def narrowest(self) -> float:
        """The least width in which it can be set."""
        return self.text.narrowest + self.indent(self.text.least)

    @property
    def clear(self) -> tuple[float, float]:
        """What stays clear of other print above and below, and beside, at its largest size."""
        return clear_around(self.text.spans, self.text.most) if self.apart else (0.0, 0.0)


@dataclass(slots=True)
class StatementWordings:
    """All statements of a block in one way of saying them: in full, or short."""

    paragraphs: list[StatementParagraph]
    gaps: list[float] = field(init=False)
    """What stays free after each paragraph but the last."""

    def __post_init__(self) -> None:
        usual = max((p.text.least for p in self.paragraphs), default=0.0) * _GAP
        clear = [p.clear[0] for p in self.paragraphs]
        self.gaps = [max(usual, *pair) for pair in pairwise(clear)]

    def height(self, width: float, squeeze: float) -> float:
        """Return what it all takes; infinite where a word is wider than ``width``."""
        return sum(self.gaps) + sum(p.height(width, p.size(squeeze)) for p in self.paragraphs)

    def margin(self, width: float | None, align: Align) -> tuple[float, float, float, float]:
        """Return what must stay free around it in a box of this width: top, right, bottom, left."""
        if not self.paragraphs:
            return 0.0, 0.0, 0.0, 0.0
        left = right = 0.0
        for each in self.paragraphs:
            beside = each.clear[1]
            room = 0.0
            if width is not None:
                room = max(0.0, width - each.text.natural_width(each.text.most))
            left = max(left, beside - room * _ASIDE[align])
            right = max(right, beside - room * (1 - _ASIDE[align]))
        return self.paragraphs[0].clear[0], right, self.paragraphs[-1].clear[0], left


def clear_around(spans: tuple[Span, ...], size: float) -> tuple[float, float]:
    """Return what stays clear of print above and below, and beside, a quantity set at ``size``.

    Source: 16 CFR 500.6(b).
    """
    high = max(span.style.face.ink_of(span.shown)[0] * span.scale for span in spans)
    wide = max(span.style.face.advance_of("N") * span.scale for span in spans)
    return clear_space(high * size / 1000, wide * size / 1000)


_SAID_UNASKED = ("material", "origin")
"""What is said where there is room though nobody asks for it; other kinds only by name."""

_SIGNAL = 18
"""Letters of the longest bold words that stay on one line."""

_SQUEEZES = 8
"""Steps between a wording's largest and least size."""


_SPELT = tuple(kind.replace(" ", "-") for kind in KINDS)
"""The kinds of statement as layouts write them."""

_Said = tuple[Statement, StatementForm]
"""A statement, and the form in which it is said."""


class Disclosure(Block):
    """Statements as paragraphs, or joined into one where their sizes allow it.

    They stand in full where the box has room, in their short forms where it has not; what nobody
    asks for goes first. A quantity is a paragraph of its own, with the clear space around it that
    16 CFR 500.6(b) asks for. A block that names no kinds leaves those to others that do.
    """

    def __init__(self, node: Node, setup: Setup) -> None:
        self.node, self.setup = node, setup
        self.plain = setup.style(node.attrs.get("style", "disclosure"), node)
        self.signal = setup.style(node.attrs.get("signal", "signal"), node)
        kinds = node.attrs.get("kinds")
        left = tuple(kind for kind in _SPELT if kind not in setup.named)
        must = _taken(setup.unsaid, left if kinds is None else kinds)
        unasked = tuple(kind for kind in _SAID_UNASKED if kind in left)
        may = _taken(setup.unasked, unasked if kinds is None else kinds)
        both = sorted(must + may, key=lambda said: KINDS.index(said.kind))
        joined = node.attrs.get("joined", "yes") == "yes"
        self.wordings = [self._wording([(said, said.full) for said in both], joined)]
        if any(said.short for said in both):
            self.wordings.append(self._wording([(said, _short(said)) for said in both], joined))
        if may:
            self.wordings.append(self._wording([(said, _short(said)) for said in must], joined))
        self.empty = not both
        self.holds_quantity = any(said.kind == "quantity" for said in both)

    def _wording(self, said: list[_Said], joined: bool) -> StatementWordings:
        return StatementWordings([self._paragraph(group) for group in _grouped(said, joined)])

    def _paragraph(self, group: list[_Said]) -> StatementParagraph:
        spans: list[Span] = []
        forms = [form for _, form in group]
        for number, form in enumerate(forms):
            if number:
                spans.append(Span(self.plain, BETWEEN))
            spans += [
                Span(self.signal, _kept_together(run.text)) if run.bold
                else Span(self.plain, run.text)
                for run in form.runs
            ]  # fmt: skip
        least = max([self.plain.least, *map(self._least, forms)])
        most = max(least, self.node.attrs.get("most", least))
        text = text_of(tuple(spans), self.plain, most, least, 1_000)
        refuse_missing_letters(text, self.node, self.setup)
        high = self.signal.face.cap_height / 1000 * SIGN_HEIGHT
        sign = high if any(form.triangle for form in forms) else 0.0
        return StatementParagraph(text, sign, apart=group[0][0].kind == "quantity")

    def _least(self, form: StatementForm) -> float:
        """Return the least type size at which the letters are as high as they must be."""
        return max((self._size(size, form) for size in form.least), default=0.0)

    def _size(self, least: LeastSize, form: StatementForm) -> float:
        if least.measure == "font size":
            return least.points
        faces = [(self.signal if run.bold else self.plain).face for run in form.runs]
        by_capitals = least.measure == "cap height"
        per_em = (face.cap_height if by_capitals else face.o_height for face in faces)
        return least.points * 1000 / min(per_em)

    @override
    def natural(
        self, width: float | None, height: float | None, squeeze: float
    ) -> tuple[float, float]:
        wording, within = self._at(squeeze)
        if not wording.paragraphs:
            return 0.0, 0.0
        if width is None:
            width = max(
                p.text.natural_width(p.size(within)) + p.indent(p.size(within))
                for p in wording.paragraphs
            )
        height = wording.height(width, within)
        while math.isinf(height) and within > 0:  # a long word: at a lesser size it may fit
            within = max(0.0, within - 1 / _SQUEEZES)
            height = wording.height(width, within)
        return width, height

    @override
    def narrowest(self) -> float:
        words = [paragraph.narrowest for paragraph in self.wordings[-1].paragraphs]
        return max(own_side(self, "width") or 0.0, *words, 0.0)

    @override
    def margin(self, width: float | None) -> Edges:
        around = [wording.margin(width, self._align) for wording in self.wordings]
        top, right, bottom, left = (max(edges) for edges in zip(*around, strict=True))
        return top, right, bottom, left

    @property
    def _align(self) -> Align:
        align: Align = self.node.attrs.get("align", "left")
        return align

    def _at(self, squeeze: float) -> tuple[StatementWordings, float]:
        """Return the wording for a squeeze over all of them, and the squeeze inside that one."""
        count = len(self.wordings)
        number = min(count - 1, int((1 - squeeze) * count))
        return self.wordings[number], min(1.0, max(0.0, squeeze * count - (count - 1 - number)))

    @override
    def draw(self, box: Box, ground: Ground) -> None:
        if self.empty:
            return
        width, height = box[2] - box[0], box[3] - box[1]
        fitting = self._largest(width, height)
        if fitting is None:
            least = self.wordings[-1].height(width, 0.0)
            raise overflow(self.setup.at(self.node), "what the label must say", least, height)
        wording, squeeze = fitting
        y = box[1] + self._above(height - wording.height(width, squeeze))
        for paragraph, gap in zip(wording.paragraphs, [*wording.gaps, 0.0], strict=True):
            size = paragraph.size(squeeze)
            self._draw_one(paragraph, size, (box[0], y, box[2]), ground)
            y += paragraph.height(width, size) + gap

    def _draw_one(
        self,
        paragraph: StatementParagraph,
        size: float,
        line: tuple[float, float, float],
        ground: Ground,
    ) -> None:
        left, top, right = line
        text_left, text_top = left + paragraph.indent(size), top + paragraph.rise(size)
        setting = paragraph.text.at(size, right - text_left)
        assert setting is not None  # a height was found for it
        align: Align = "left" if paragraph.sign else self._align
        ground.marks += glyphs_of(
            paragraph.text, setting, text_left, text_top, right - text_left, align
        )
        box = ink_box((text_left, text_top, right, text_top), text_top, setting, align)
        if paragraph.sign:
            baseline = text_top + setting.first_baseline
            black = self.setup.ink == "black"
            ground.marks += warning_sign(left, baseline, paragraph.sign * size, black)
            box = (left, top, *box[2:])
        ground.taken.append((box, self))
        if paragraph.apart:
            ground.kept.append(ClearSpace(box, *clear_around(paragraph.text.spans, size), self))

    @override
    def drop(self, width: float, height: float) -> float:
        fitting = self._largest(width, height)
        if self.empty or fitting is None:
            return 0.0
        wording, squeeze = fitting
        spare = height - wording.height(width, squeeze)
        last = wording.paragraphs[-1]
        return spare - self._above(spare) + last.text.descent * last.size(squeeze)

    def _above(self, spare: float) -> float:
        """Return how much of the spare height stands above the text."""
        share = {"top": 0.0, "middle": 0.5, "bottom": 1.0}
        return spare * share[self.node.attrs.get("valign", "top")]

    def _largest(self, width: float, height: float) -> tuple[StatementWordings, float] | None:
        """Return the wording and the squeeze with which the statements fit, at their largest."""
        for wording in self.wordings:
            for step in range(_SQUEEZES, -1, -1):
                squeeze = step / _SQUEEZES
                if wording.height(width, squeeze) <= height + SLACK_PT:
                    return wording, squeeze
        return None


def _taken(unsaid: list[Statement], kinds: tuple[str, ...] | None) -> list[Statement]:
    """Take the statements of ``kinds`` (all, if None) off the list, in its order."""
    taken = [said for said in unsaid if kinds is None or said.kind.replace(" ", "-") in kinds]
    for said in taken:
        unsaid.remove(said)
    return taken


def _kept_together(text: str) -> str:
    """Return a signal word or two, such as "Contains lead.", as one that no line end parts."""
    return text.replace(" ", NO_BREAK_SPACE) if len(text) <= _SIGNAL else text


def _short(said: Statement) -> StatementForm:
    return said.short or said.full


def _grouped(said: Iterable[_Said], joined: bool) -> Iterator[list[_Said]]:
    """Group what may stand in one paragraph."""
    group: list[_Said] = []
    for one in said:
        if joined and group and _alike(group[0], one):
            group.append(one)
            continue
        if group:
            yield group
        group = [one]
    if group:
        yield group


def _alike(one: _Said, other: _Said) -> bool:
    """Tell whether two may follow each other: same least sizes, no sign, no quantity."""
    apart = any(said.kind == "quantity" or form.triangle for said, form in (one, other))
    return not apart and one[1].least == other[1].least
