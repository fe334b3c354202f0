"""Sets words on the book's pages: the same type, breaking and measuring as for labels and cards.

A page is a canvas: passages in reading order, and where what lies, so that it can be looked over
before it goes to the press.
"""

from __future__ import annotations

import math
import re
from collections.abc import Iterable
from dataclasses import dataclass, field, replace
from pathlib import Path

from labeler.findings import LabelerError, Place, stop
from labeler.geometry import Box
from labeler.layout.block import overflow
from labeler.marks import BookPage, Claim, Element, Field, Glyphs, Mark, Passage, VectorPath
from labeler.type.lines import Span
from labeler.type.setting import Align, Text, TextSetting, glyphs_of, text_of
from labeler.type.styles import Style, Styles, read_styles, style_named
from labeler.units import FRACTION_SLASH, SLACK_PT

HAIR = 0.35
"""Points: the thinnest rule that desk printers draw without gaps."""

INK, GREY, PALE = "#000000", "#6d6a64", "#f4f1ea"

_PLAIN_FRACTION = re.compile(r"(?<![\w/.])(\d{1,3})/(\d{1,3})(?=\s(?:in|oz)\b)")

_TEXTS_KEPT = 8_000
"""Texts that a book remembers: it asks for each when it is laid out, and again when it is drawn."""

_SAFE = 12.0
"""Points: what trimming may be off by, and more. Common practice, no published source."""

_TOUCH = 0.6
"""Points: boxes hold air above and below their ink, so a hair's breadth is no collision."""

StructurePath = tuple[Element, ...]
"""Where a passage lies in the book's structure, from the outermost element."""


def across(box: Box, count: int, gutter: float) -> list[Box]:
    """Return ``count`` equal boxes side by side in ``box``, ``gutter`` points apart."""
    width = (box[2] - box[0] - gutter * (count - 1)) / max(count, 1)
    lefts = [box[0] + place * (width + gutter) for place in range(count)]
    return [(left, box[1], left + width, box[3]) for left in lefts]


@dataclass(frozen=True, slots=True)
class Words:
    """A text ready to be set, and what to name when it does not fit."""

    text: Text
    place: Place

    def fit(self, width: float, height: float = math.inf) -> TextSetting:
        """Return the largest setting that fits.

        Raises:
            LabelerError: that names the text, if its least size does not fit.
        """
        setting = self.text.largest(width, height, self.text.most)
        if setting is None:
            shown = self.plain if len(self.plain) <= 60 else self.plain[:59] + "…"
            least = self.text.height(self.text.least, width)
            needs = (least, height) if least < math.inf else (self.text.narrowest, width)
            raise overflow(self.place, f"the text “{shown}”", *needs)
        return setting

    @property
    def plain(self) -> str:
        """The letters alone."""
        return "".join(span.text for span in self.text.spans)

    def height(self, width: float) -> float:
        """Return how high it stands in ``width``, at its largest."""
        return self.fit(width).height if self.text.words else 0.0

    def width(self) -> float:
        """Return how wide it is on one line at its largest."""
        return self.text.natural_width(self.text.most)

    def glyphs(
        self, box: Box, align: Align = "left", valign: str = "top"
    ) -> tuple[list[Glyphs], Box]:
        """Return the set text in ``box``, and the box that its ink takes."""
        if not self.text.words:
            return [], (box[0], box[1], box[0], box[1])
        width, height = box[2] - box[0], box[3] - box[1]
        setting = self.fit(width, height)
        spare = {"top": 0.0, "middle": 0.5, "bottom": 1.0}[valign]
        top = box[1] + (height - setting.height) * spare if math.isfinite(height) else box[1]
        room = width - setting.width
        left = box[0] + {"left": 0.0, "centre": room / 2, "right": room}[align]
        marks = list(glyphs_of(self.text, setting, box[0], top, width, align))
        return marks, (left, top, left + setting.width, top + setting.height)


class Typesetter:
    """Makes words of texts, by the name of their style."""

    def __init__(self, own: Path | None) -> None:
        self.styles: Styles = read_styles(own)
        self._texts: dict[tuple[object, ...], Text] = {}

    def words(
        self, style: str, *parts: str | tuple[str, str], place: Place | None = None,
        lines: int = 1_000, scale: float = 1.0, least: float = 0.0,
    ) -> Words:  # fmt: skip
        """Return words in ``style``; a part may be a pair of another style and its words.

        Args:
            style: the style of the whole.
            parts: what is said.
            place: what to name when it does not fit.
            lines: the most lines.
            scale: what to multiply the style's largest size with.
            least: the least size in points, if not the style's.

        Raises:
            LabelerError: if a face lacks letters.
        """
        where = place or Place(block=style)
        key = (style, parts, lines, scale, least)
        text = self._texts.get(key)
        if text is None:
            text = self._text(style, parts, lines, scale, least, where)
            if len(self._texts) >= _TEXTS_KEPT:
                self._texts.clear()
            self._texts[key] = text
        return Words(text, where)

    def _text(
        self, style: str, parts: tuple[str | tuple[str, str], ...], lines: int, scale: float,
        least: float, place: Place,
    ) -> Text:  # fmt: skip
        base = self._style(style)
        spans = []
        for part in parts:
            name, words = (style, part) if isinstance(part, str) else part
            # A weight or length such as 3/8 oz is set as a fraction.
            words = _PLAIN_FRACTION.sub(rf"\1{FRACTION_SLASH}\2", words)
            own = self._style(name)
            spans.append(Span(own, words, own.most / base.most))
        most = base.most * scale
        text = text_of(tuple(spans), base, most, min(most, least or base.least), lines)
        if text.lacking:
            raise LabelerError(
                stop(
                    "missing-letters",
                    place,
                    f"the face {face!r} has no letters for part of this text",
                    found=" ".join(f"{letter} (U+{ord(letter):04X})" for letter in letters),
                    hint="Write it in other letters, or name a face that has them.",
                )
                for face, letters in text.lacking
            )
        return text

    def _style(self, name: str) -> Style:
        return style_named(self.styles, name, Place(file="styles.toml"))


@dataclass(slots=True)
class Canvas:
    """One page, trimmed; what reaches past the trim runs into the bleed.

    ``taken`` are the boxes of what may not lie on one another.
    """

    width: float
    height: float
    bleed: float = 0.0
    black: bool = False
    passages: list[Passage] = field(default_factory=list)
    fields: list[Field] = field(default_factory=list)
    anchors: list[tuple[str, float]] = field(default_factory=list)
    taken: list[tuple[Box, str]] = field(default_factory=list)
    label: str = ""
    claimed: dict[object, Claim] = field(default_factory=dict)

    def write(
        self, words: Words, box: Box, path: StructurePath, *, align: Align = "left",
        valign: str = "top", link: str = "",
    ) -> Box:  # fmt: skip
        """Set words that are read, and return the box that their ink takes: nothing else may.

        Args:
            words: what is written; nothing is drawn of empty ones.
            box: where.
            path: the element that they are; without one they are decoration. A link is an
                element within it.
            align: how the lines stand in the box.
            valign: where the lines stand in the box: top, middle or bottom.
            link: where a touch on the words leads.
        """
        marks, ink = words.glyphs(box, align, valign)
        if marks:
            if link and path[-1].tag != "Link":
                path = (*path, Element("Link", f"{path[-1].key}.link"))
            self.put(marks, path, link, ink if link else None)
            self.take(ink, words.place.block)
        return ink

    def put(
        self, marks: Iterable[Mark], path: StructurePath, link: str = "", box: Box | None = None
    ) -> None:
        """Add a passage that is read."""
        self.passages.append(Passage(tuple(marks), path, link, box))

    def decorate(self, *marks: Mark) -> None:
        """Add marks that are not read."""
        self.passages.append(Passage(marks))

    def take(self, box: Box, what: str) -> None:
        """Say that ``what`` lies in ``box``, and nothing else may."""
        self.taken.append((box, what))

    def claim(self, claim: Claim, key: object) -> None:
        """Say what a place is about; what is said under one key is one place."""
        known = self.claimed.get(key)
        if known is not None:
            left, top, right, bottom = known.box
            x0, y0, x1, y1 = claim.box
            box = (min(left, x0), min(top, y0), max(right, x1), max(bottom, y1))
            claim = replace(claim, skus=(*known.skus, *claim.skus), box=box)
        self.claimed[key] = claim

    def rule(
        self, left: float, right: float, y: float, width: float = HAIR, ink: str = INK,
        dash: tuple[float, ...] = (),
    ) -> None:  # fmt: skip
        """Draw a level rule."""
        line = VectorPath((("M", left, y), ("L", right, y)), stroke=ink, width=width, dash=dash)
        self.decorate(line)

    def page(self) -> BookPage:
        """Return the finished page."""
        return BookPage(
            self.width, self.height, tuple(self.passages), tuple(self.fields),
            tuple(self.anchors), self.label, tuple(self.claimed.values()),
        )  # fmt: skip


def validate_page(canvas: Canvas, what: str, page: int) -> None:
    """Refuse a page on which something is clipped or lies on something else.

    Raises:
        LabelerError: with a finding for each.
    """
    place = Place(page=page or None, piece=what)
    edge = _SAFE - SLACK_PT
    faults = [
        stop("book-clipped", place, f"{name} reaches past the page's safe zone")
        for box, name in canvas.taken
        if min(box[0], box[1], canvas.width - box[2], canvas.height - box[3]) < edge
    ]
    ordered = sorted(canvas.taken, key=lambda one: one[0][1])
    for number, (box, name) in enumerate(ordered):
        for other, other_name in ordered[number + 1 :]:
            if other[1] >= box[3] - _TOUCH:
                break
            if (
                box[0] < other[2] - _TOUCH
                and other[0] < box[2] - _TOUCH
                and box[1] < other[3] - _TOUCH
            ):
                faults.append(stop("book-collision", place, f"{name} lies on {other_name}"))
    if faults:
        raise LabelerError(faults)
