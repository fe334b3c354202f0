"""The plain units of the book: headings, paragraphs, a field with its words, rules."""

from __future__ import annotations

from dataclasses import dataclass

from labeler.book.canvas import HAIR, Canvas
from labeler.book.flow import Unit
from labeler.book.setter import Words
from labeler.layout.marks import Box
from labeler.layout.setting import Align
from labeler.press.leaf import Element


@dataclass(slots=True)
class Paragraph:
    """Words of one tag; a heading keeps what follows."""

    words: Words
    path: tuple[Element, ...]
    gap: float = 6.0
    keep: bool = False
    head: Unit | None = None
    align: Align = "left"
    anchor: str = ""
    link: str = ""
    rule_below: float = 0.0
    """How far below it a hairline stands; 0 for none."""

    def height(self, width: float) -> float:
        """Return the height of its lines, and of the rule."""
        return self.words.height(width) + self.rule_below

    def draw(self, canvas: Canvas, box: Box) -> None:
        """Draw the lines, and the rule below them."""
        inner = (box[0], box[1], box[2], box[3] - self.rule_below)
        marks, ink = self.words.glyphs(inner, self.align)
        canvas.put(marks, self.path, self.link, ink if self.link else None)
        canvas.take(ink, self.words.place.block)
        if self.anchor:
            canvas.anchors.append((self.anchor, box[1]))
        if self.rule_below:
            canvas.rule(box[0], box[2], box[3] - HAIR)


@dataclass(slots=True)
class Labelled:
    """A field's name on the left, its words beside it."""

    name: Words
    words: Words
    path: tuple[Element, ...]
    indent: float
    gap: float = 7.0
    keep: bool = False
    head: Unit | None = None
    link: str = ""

    def height(self, width: float) -> float:
        """Return the height of the higher of the two."""
        return max(self.name.height(self.indent - 8), self.words.height(width - self.indent))

    def draw(self, canvas: Canvas, box: Box) -> None:
        """Draw both on one first baseline."""
        key = self.path[-1].key
        words = self.words.fit(box[2] - box[0] - self.indent)
        name = self.name.fit(self.indent - 8)
        down = max(0.0, words.first_baseline - name.first_baseline)
        label, ink = self.name.glyphs((box[0], box[1] + down, box[0] + self.indent - 8, box[3] + 9))
        canvas.put(label, (*self.path, Element("Lbl", f"{key}.name")))
        canvas.take(ink, self.name.place.block)
        marks, ink = self.words.glyphs((box[0] + self.indent, box[1], box[2], box[3]))
        body = (*self.path, Element("LBody", f"{key}.words"))
        if self.link:
            body = (*body, Element("Link", f"{key}.link"))
        canvas.put(marks, body, self.link, ink if self.link else None)
        canvas.take(ink, self.words.place.block)


@dataclass(slots=True)
class Space:
    """Nothing, so high."""

    high: float
    gap: float = 0.0
    keep: bool = False
    head: Unit | None = None

    def height(self, width: float) -> float:
        """Return its height."""
        return self.high

    def draw(self, canvas: Canvas, box: Box) -> None:
        """Draw nothing."""


@dataclass(slots=True)
class Stack:
    """Units one below the other, drawn as one."""

    units: list[Unit]
    gap: float = 0.0
    keep: bool = False
    head: Unit | None = None

    def height(self, width: float) -> float:
        """Return their heights and the gaps between them."""
        gaps = sum(unit.gap for unit in self.units[1:])
        return gaps + sum(unit.height(width) for unit in self.units)

    def draw(self, canvas: Canvas, box: Box) -> None:
        """Draw them in their order."""
        y = box[1]
        for place, unit in enumerate(self.units):
            y += unit.gap if place else 0.0
            high = unit.height(box[2] - box[0])
            unit.draw(canvas, (box[0], y, box[2], y + high))
            y += high
