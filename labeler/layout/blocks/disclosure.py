"""The disclosure block: what the product must say where it is sold, at the sizes asked for.

It takes the statements of its kinds that no block before it has printed. What is left at the
end of a piece is an error, so a layout can't forget a warning.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator

from typing_extensions import override

from labeler.disclosures.rules import KINDS
from labeler.disclosures.statements import Form, LeastSize, Statement
from labeler.layout.blocks.sign import SIGN_HEIGHT, warning_sign
from labeler.layout.blocks.text import ink_box, refuse_missing_letters
from labeler.layout.blocks.wording import Paragraph, Wording, clear_around
from labeler.layout.ground import Block, Edges, Ground, Kept, overflow, own_side
from labeler.layout.marks import Box
from labeler.layout.markup import Node
from labeler.layout.setting import Align, glyphs_of, text_of
from labeler.layout.setup import Setup
from labeler.layout.words import BETWEEN, Span
from labeler.units import NO_BREAK_SPACE, SLACK_PT

_SAID_UNASKED = ("material", "origin")
"""What is said where there is room though nobody asks for it; other kinds only by name."""

_SIGNAL = 18
"""Letters of the longest bold words that stay on one line."""

_SQUEEZES = 8
"""Steps between a wording's largest and least size."""


_SPELT = tuple(kind.replace(" ", "-") for kind in KINDS)
"""The kinds of statement as layouts write them."""

_Said = tuple[Statement, Form]
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

    def _wording(self, said: list[_Said], joined: bool) -> Wording:
        return Wording([self._paragraph(group) for group in _grouped(said, joined)])

    def _paragraph(self, group: list[_Said]) -> Paragraph:
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
        return Paragraph(text, sign, apart=group[0][0].kind == "quantity")

    def _least(self, form: Form) -> float:
        """Return the least type size at which the letters are as high as they must be."""
        return max((self._size(size, form) for size in form.least), default=0.0)

    def _size(self, least: LeastSize, form: Form) -> float:
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

    def _at(self, squeeze: float) -> tuple[Wording, float]:
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
        self, paragraph: Paragraph, size: float, line: tuple[float, float, float], ground: Ground
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
            ground.kept.append(Kept(box, *clear_around(paragraph.text.spans, size), self))

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

    def _largest(self, width: float, height: float) -> tuple[Wording, float] | None:
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


def _short(said: Statement) -> Form:
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
