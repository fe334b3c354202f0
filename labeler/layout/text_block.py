"""A text block: the largest size that fits, lines broken well, or an error with its name."""

from __future__ import annotations

import math

from typing_extensions import override

from labeler.findings import Finding, LabelerError, stop
from labeler.geometry import Box
from labeler.layout.block import Block, Surface, overflow
from labeler.layout.context import LayoutContext
from labeler.layout.markup import Node
from labeler.type.lines import Span
from labeler.type.setting import ALIGNED, Align, Text, TextSetting, glyphs_of, text_of
from labeler.type.styles import Style


class TextBlock(Block):
    """Words in one style, with spans in others."""

    def __init__(self, node: Node, context: LayoutContext) -> None:
        self.node = node
        self.context = context
        attrs = node.attrs
        base = context.style(attrs.get("style", "value"), node, attrs.get("ink"))
        spans = tuple(self._span(base, words, owner) for words, owner in node.words)
        self.empty = not any(span.text.strip() for span in spans)
        self.text = text_of(
            spans or (Span(base, ""),), base, *self._sizes(base), attrs.get("lines", 1_000)
        )
        refuse_missing_letters(self.text, node, context)

    def _span(self, base: Style, words: str, owner: Node | None) -> Span:
        if owner is None:
            return Span(base, words)
        own = owner.attrs.get("style")
        ink = owner.attrs.get("ink", None if own else base.ink)
        style = self.context.style(own or base.name, owner, ink, self.node.name)
        return Span(style, words, owner.attrs.get("size", style.most / base.most))

    def _sizes(self, base: Style) -> tuple[float, float]:
        """Return the largest and the least size: the block's own, else the style's."""
        most, least = self.node.attrs.get("most"), self.node.attrs.get("least")
        if most is None:
            return max(base.most, least or 0.0), least or base.least
        if least is not None and least > most:
            raise self.context.error(
                "layout-value",
                self.node,
                "the least size is larger than the most",
                found=f"{least:g} pt and {most:g} pt",
            )
        return most, min(most, base.least if least is None else least)

    @override
    def natural(
        self, width: float | None, height: float | None, squeeze: float
    ) -> tuple[float, float]:
        if self.empty:
            return 0.0, 0.0
        size = self.text.size_at(squeeze)
        if width is None:
            if height is not None and math.isfinite(height):
                size = self.text.largest_size(math.inf, height, size) or size
            wide = self.text.natural_width(size)
            one_line = (self.text.ascent + self.text.descent) * size
            return wide, one_line
        height = self.text.height(size, width)
        if math.isinf(height):  # a long word: at a lesser size it may fit
            smaller = self.text.largest_size(width, math.inf, size)
            height = height if smaller is None else self.text.height(smaller, width)
        return width, height

    @override
    def least_width(self) -> float:
        return 0.0 if self.empty else self.text.narrowest

    @override
    def drop(self, width: float, height: float) -> float:
        setting = None if self.empty else self.text.largest(width, height, self.text.most)
        if setting is None:
            return 0.0
        spare = height - setting.height
        return spare - self.room_above(spare) + self.text.descent * setting.size

    @override
    def draw(self, box: Box, surface: Surface) -> None:
        if self.empty:
            return
        width, height = box[2] - box[0], box[3] - box[1]
        setting = self.text.largest(width, height, self.text.most)
        if setting is None:
            raise self._overflow(width, height)
        top = box[1] + self.room_above(height - setting.height)
        align = self.node.attrs.get("align", "left")
        surface.marks += glyphs_of(self.text, setting, box[0], top, width, align)
        surface.occupied.append((ink_box(box, top, setting, align), self))

    def _overflow(self, width: float, height: float) -> LabelerError:
        place = self.context.place(self.node)
        words = "".join(words for words, _ in self.node.words)
        quoted = words if len(words) <= 60 else words[:59] + "…"
        least = self.text.height(self.text.least, width)
        if math.isfinite(least):
            return overflow(place, f"the height of the text “{quoted}”", least, height)
        return overflow(place, f"the width of the text “{quoted}”", self.text.narrowest, width)


def ink_box(box: Box, top: float, setting: TextSetting, align: Align) -> Box:
    """Return the box that a set text really takes inside the box that it was given."""
    left = box[0] + (box[2] - box[0] - setting.width) * ALIGNED[align]
    return left, top, left + setting.width, top + setting.height


def refuse_missing_letters(text: Text, node: Node, context: LayoutContext) -> None:
    """Raise a LabelerError that names every letter a face has no glyph for."""
    faults: list[Finding] = [
        stop(
            "missing-letters",
            context.place(node),
            f"the face {face!r} has no letters for part of this text",
            found=" ".join(f"{letter} (U+{ord(letter):04X})" for letter in letters),
            hint="Write it in other letters, or name a face that has them in layouts/styles.toml.",
        )
        for face, letters in text.lacking
    ]
    if faults:
        raise LabelerError(faults)
