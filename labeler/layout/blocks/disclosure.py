"""The disclosure block: what the product must say where it is sold, at the sizes asked for.

It takes the statements of its kinds that no block before it has printed. What is left at the
end of a piece is an error, so a layout can't forget a warning.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from typing_extensions import override

from labeler.disclosures.rules import KINDS
from labeler.disclosures.statements import Form, Statement
from labeler.layout.blocks.text import ink_box, refuse_missing_letters
from labeler.layout.ground import Block, Ground, overflow, own_side
from labeler.layout.marks import Box, Mark, Path
from labeler.layout.markup import Node
from labeler.layout.setting import Align, Text, glyphs_of, text_of
from labeler.layout.setup import Setup
from labeler.layout.words import BETWEEN, Span
from labeler.units import NO_BREAK_SPACE, SLACK_PT

_GAP = 0.35
"""Between statements on lines of their own, in type sizes."""

_SAID_UNASKED = ("material", "origin")
"""What is said where there is room though nobody asks for it; other kinds only by name."""

_SIGNAL = 18
"""Letters of the longest bold words that stay on one line."""

_SQUEEZES = 8
"""Steps between a wording's largest and least size."""

_SIGN_HEIGHT = 1.25
"""The triangle's height to the signal word's capitals; the law asks for no less than 1."""

_SIGN_INK = "#f9a800"
"""Signal yellow, RAL 1003 in sRGB. Source: ISO 3864-1 as restated in encyclopaedias."""


@dataclass(slots=True)
class _Paragraph:
    text: Text
    sign: float
    """How high the warning triangle stands to the type size, 0 for none."""

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


@dataclass(slots=True)
class _Wording:
    """All statements of the block in one way of saying them: in full, or short."""

    paragraphs: list[_Paragraph]

    @property
    def gap(self) -> float:
        return max((p.text.least for p in self.paragraphs), default=0.0) * _GAP

    def height(self, width: float, squeeze: float) -> float:
        """Return what it all takes; infinite where a word is wider than ``width``."""
        gaps = self.gap * max(0, len(self.paragraphs) - 1)
        return gaps + sum(p.height(width, p.size(squeeze)) for p in self.paragraphs)


class Disclosure(Block):
    """Statements as paragraphs, or joined into one where their sizes allow it.

    They stand in full where the box has room, in their short forms where it has not; what nobody
    asks for goes first.
    """

    def __init__(self, node: Node, setup: Setup) -> None:
        self.node, self.setup = node, setup
        self.plain = setup.style(node.attrs.get("style", "disclosure"), node)
        self.signal = setup.style(node.attrs.get("signal", "signal"), node)
        kinds = node.attrs.get("kinds")
        must = _taken(setup.unsaid, kinds)
        may = _taken(setup.unasked, kinds if kinds is not None else _SAID_UNASKED)
        both = sorted(must + may, key=lambda said: KINDS.index(said.kind))
        joined = node.attrs.get("joined", "yes") == "yes"
        self.wordings = [self._wording([said.full for said in both], joined)]
        if any(said.short for said in both):
            self.wordings.append(self._wording([_short(said) for said in both], joined))
        if may:
            self.wordings.append(self._wording([_short(said) for said in must], joined))
        self.empty = not both

    def _wording(self, forms: list[Form], joined: bool) -> _Wording:
        return _Wording([self._paragraph(group) for group in _grouped(forms, joined)])

    def _paragraph(self, group: list[Form]) -> _Paragraph:
        spans: list[Span] = []
        for number, form in enumerate(group):
            if number:
                spans.append(Span(self.plain, BETWEEN))
            spans += [
                Span(self.signal, _kept_together(run.text)) if run.bold
                else Span(self.plain, run.text)
                for run in form.runs
            ]  # fmt: skip
        least = max([self.plain.least, *(self._least(form) for form in group)])
        most = max(least, self.node.attrs.get("most", least))
        text = text_of(tuple(spans), self.plain, most, least, 1_000)
        refuse_missing_letters(text, self.node, self.setup)
        high = self.signal.face.cap_height / 1000 * _SIGN_HEIGHT
        return _Paragraph(text, high if any(form.triangle for form in group) else 0.0)

    def _least(self, form: Form) -> float:
        """Return the least type size at which the letters are as high as they must be."""
        face = self.plain.face
        per_em = {"cap height": face.cap_height, "x-height": face.o_height, "font size": 1000.0}
        return max((size.points * 1000 / per_em[size.measure] for size in form.least), default=0)

    @override
    def natural(
        self, width: float | None, height: float | None, squeeze: float
    ) -> tuple[float, float]:
        wording, within = self._at(squeeze)
        if not wording.paragraphs:
            return 0.0, 0.0
        if width is None:
            width = max(
                p.text.natural_width(p.text.least) + p.indent(p.text.least)
                for p in wording.paragraphs
            )
        return width, wording.height(width, within)

    @override
    def narrowest(self) -> float:
        words = [paragraph.narrowest for paragraph in self.wordings[-1].paragraphs]
        return max(own_side(self, "width") or 0.0, *words, 0.0)

    def _at(self, squeeze: float) -> tuple[_Wording, float]:
        """Return the wording for a squeeze over all of them, and the squeeze inside that one."""
        count = len(self.wordings)
        number = min(count - 1, int((1 - squeeze) * count))
        return self.wordings[number], min(1.0, max(0.0, squeeze * count - (count - 1 - number)))

    @override
    def draw(self, box: Box, ground: Ground) -> None:
        if self.empty:
            return
        width, height = box[2] - box[0], box[3] - box[1]
        wording, squeeze = self._largest(width, height)
        down = {"top": 0.0, "middle": 0.5, "bottom": 1.0}[self.node.attrs.get("valign", "top")]
        y = box[1] + (height - wording.height(width, squeeze)) * down
        for paragraph in wording.paragraphs:
            size = paragraph.size(squeeze)
            self._draw_one(paragraph, size, (box[0], y, box[2]), ground)
            y += paragraph.height(width, size) + wording.gap

    def _draw_one(
        self, paragraph: _Paragraph, size: float, line: tuple[float, float, float], ground: Ground
    ) -> None:
        left, top, right = line
        text_left, text_top = left + paragraph.indent(size), top + paragraph.rise(size)
        setting = paragraph.text.at(size, right - text_left)
        assert setting is not None  # a height was found for it
        align: Align = "left" if paragraph.sign else self.node.attrs.get("align", "left")
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

    def _largest(self, width: float, height: float) -> tuple[_Wording, float]:
        """Return the wording and the squeeze with which the statements fit, at their largest."""
        for wording in self.wordings:
            for step in range(_SQUEEZES, -1, -1):
                squeeze = step / _SQUEEZES
                if wording.height(width, squeeze) <= height + SLACK_PT:
                    return wording, squeeze
        place = self.setup.at(self.node)
        least = self.wordings[-1].height(width, 0.0)
        raise overflow(place, "what the label must say", least, height)


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


def _grouped(forms: Iterable[Form], joined: bool) -> Iterator[list[Form]]:
    """Group what may stand in one paragraph: same least sizes, and no sign before it."""
    group: list[Form] = []
    for form in forms:
        alike = group and form.least == group[0].least and not group[0].triangle
        if joined and alike and not form.triangle:
            group.append(form)
            continue
        if group:
            yield group
        group = [form]
    if group:
        yield group


def warning_sign(left: float, baseline: float, high: float, black: bool) -> Iterator[Mark]:
    """Draw the warning triangle: black edge and mark, yellow field (white in black mode).

    Source: 27 CCR 25603(a)(1) as restated: a black exclamation point in a yellow equilateral
    triangle with a bold black outline; black and white where the label has no yellow.
    """
    wide = high * 1.1547
    edge = high * 0.11
    apex, foot = (left + wide / 2, baseline - high + edge), baseline - edge / 2
    yield Path(
        (("M", *apex), ("L", left + wide - edge, foot), ("L", left + edge, foot), ("Z",)),
        fill="#ffffff" if black else _SIGN_INK,
        stroke="#000000",
        width=edge,
        round_ends=True,
    )
    middle, top = left + wide / 2, baseline - high * 0.66
    half, waist = high * 0.062, high * 0.035
    yield Path(
        (
            ("M", middle - half, top), ("L", middle + half, top),
            ("L", middle + waist, baseline - high * 0.30),
            ("L", middle - waist, baseline - high * 0.30), ("Z",),
        ),
        fill="#000000",
    )  # fmt: skip
    dot_top, dot_foot = baseline - high * 0.23, baseline - high * 0.12
    yield Path(
        (
            ("M", middle - half, dot_top), ("L", middle + half, dot_top),
            ("L", middle + half, dot_foot), ("L", middle - half, dot_foot), ("Z",),
        ),
        fill="#000000",
    )  # fmt: skip
