"""Statements as paragraphs in one way of saying them, each with the room that it asks for.

Points, y down.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from itertools import pairwise

from labeler.disclosures.panel import clear_space
from labeler.layout.setting import Align, Text
from labeler.layout.words import Span

_GAP = 0.35
"""Between statements on lines of their own, in type sizes."""

_ASIDE: dict[Align, float] = {"left": 0.0, "centre": 0.5, "right": 1.0}


@dataclass(slots=True)
class Paragraph:
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
class Wording:
    """All statements of a block in one way of saying them: in full, or short."""

    paragraphs: list[Paragraph]
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
