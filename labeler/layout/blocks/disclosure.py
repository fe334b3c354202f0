"""The disclosure block: what the product must say where it is sold, at the sizes asked for.

It takes the statements of its kinds that no block before it has printed. What is left at the
end of a piece is an error, so a layout can't forget a warning.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from labeler.layout.blocks.text import ink_box, refuse_missing_letters
from labeler.layout.boxes import Ground, overflow
from labeler.layout.marks import Box, Mark, Path
from labeler.layout.markup import Node
from labeler.layout.setting import Text, glyphs_of
from labeler.layout.setup import Said, Setup
from labeler.layout.style import Style, style_named
from labeler.layout.words import BETWEEN, Span

_GAP = 0.35
"""Between statements on lines of their own, in type sizes."""

_SIGN_INK = "#f9a800"
"""Signal yellow, RAL 1003 in sRGB. Source: ISO 3864-1 as restated in encyclopaedias."""


@dataclass(slots=True)
class _Paragraph:
    text: Text
    sign: float
    """How high the warning triangle stands, 0 for none."""


class Disclosure:
    """Statements as paragraphs, or joined into one where their sizes allow it."""

    def __init__(self, node: Node, setup: Setup) -> None:
        self.node, self.setup = node, setup
        place = setup.place(node.line, node.name)
        self.plain = style_named(setup.styles, node.attrs.get("style", "disclosure"), place)
        self.signal = style_named(setup.styles, node.attrs.get("signal", "signal"), place)
        said = _taken(setup.unsaid, node.attrs.get("kinds"))
        joined = node.attrs.get("joined", "yes") == "yes"
        self.paragraphs = [
            self._paragraph(group) for group in _grouped(said, joined)
        ]
        self.gap = max((p.text.most for p in self.paragraphs), default=0.0) * _GAP

    def _paragraph(self, group: list[Said]) -> _Paragraph:
        spans: list[Span] = []
        for number, said in enumerate(group):
            if number:
                spans.append(Span(self.plain, BETWEEN))
            spans += [Span(self.signal if bold else self.plain, text) for text, bold in said.runs]
        least = max(
            self.plain.least, *(self._least(said, span_style) for said in group
                                for span_style in (self.plain, self.signal))
        )  # fmt: skip
        most = max(least, self.node.attrs.get("most", least))
        text = Text(tuple(spans), most, least)
        refuse_missing_letters(text, self.node, self.setup)
        sign = self.signal.face.cap_height / 1000 * 1.25 if any(s.sign for s in group) else 0.0
        return _Paragraph(text, sign)

    def _least(self, said: Said, style: Style) -> float:
        """Return the least type size at which the letters are as high as they must be."""
        any_lower = any(letter.islower() for letter in said.text)
        per_em = style.face.o_height if any_lower else style.face.cap_height
        return max(said.least_type, said.least_height * 1000 / per_em)

    def natural(
        self, width: float | None, height: float | None, squeeze: float
    ) -> tuple[float, float]:
        if not self.paragraphs:
            return 0.0, 0.0
        if width is None:
            width = max(
                p.text.natural_width(p.text.least) + self._indent(p, p.text.least)
                for p in self.paragraphs
            )
        tall = 0.0
        for p in self.paragraphs:
            size = p.text.least + squeeze * (p.text.most - p.text.least)
            setting = p.text.at(size, width - self._indent(p, size))
            if setting is None:
                return width, float("inf")
            tall += setting.height
        return width, tall + self.gap * (len(self.paragraphs) - 1)

    def _indent(self, paragraph: _Paragraph, size: float) -> float:
        """Room for the triangle, as wide as it is high, and a little air."""
        return paragraph.sign * size * 1.45

    def draw(self, box: Box, ground: Ground) -> None:
        if not self.paragraphs:
            return
        width, height = box[2] - box[0], box[3] - box[1]
        sizes = self._sizes(width, height)
        needed = sum(sizes_heights := [s[1] for s in sizes]) + self.gap * (len(sizes) - 1)
        down = {"top": 0.0, "middle": 0.5, "bottom": 1.0}[self.node.attrs.get("valign", "top")]
        y = box[1] + (height - needed) * down
        align = self.node.attrs.get("align", "left")
        for paragraph, (size, tall) in zip(self.paragraphs, sizes, strict=True):
            indent = self._indent(paragraph, size)
            setting = paragraph.text.at(size, width - indent)
            assert setting is not None  # noqa: S101  (sizes were chosen so that it is set)
            if paragraph.sign:
                high = paragraph.sign * size
                baseline = y + setting.first_baseline
                ground.marks += warning_sign(box[0], baseline, high, self.setup.ink == "black")
            ground.marks += glyphs_of(
                paragraph.text, setting, box[0] + indent, y, width - indent,
                "left" if paragraph.sign else align,
            )  # fmt: skip
            ground.taken.append((ink_box(box, y, setting, "left"), self))
            y += tall + self.gap
        del sizes_heights

    def _sizes(self, width: float, height: float) -> list[tuple[float, float]]:
        """Return each paragraph's size and height at the largest common squeeze that fits."""
        for step in range(8, -1, -1):
            sizes = []
            for p in self.paragraphs:
                size = p.text.least + step / 8 * (p.text.most - p.text.least)
                setting = p.text.at(size, width - self._indent(p, size))
                sizes.append((size, setting.height if setting else float("inf")))
            if sum(s[1] for s in sizes) + self.gap * (len(sizes) - 1) <= height + 0.05:
                return sizes
        place = self.setup.place(self.node.line, self.node.name)
        least = self.natural(width, None, 0.0)[1]
        raise overflow(place, "what the label must say", least, height)


def _taken(unsaid: list[Said], kinds: tuple[str, ...] | None) -> list[Said]:
    """Take the statements of ``kinds`` (all, if None) off the list, in its order."""
    taken = [said for said in unsaid if kinds is None or said.kind in kinds]
    for said in taken:
        unsaid.remove(said)
    return taken


def _grouped(said: Iterable[Said], joined: bool) -> Iterator[list[Said]]:
    """Group what may stand in one paragraph: same least sizes, and no sign before it."""
    group: list[Said] = []
    for statement in said:
        alike = group and (statement.least_type, statement.least_height) == (
            group[0].least_type, group[0].least_height,
        )  # fmt: skip
        if group and joined and alike and not statement.sign and not group[0].sign:
            group.append(statement)
            continue
        if group:
            yield group
        group = [statement]
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
