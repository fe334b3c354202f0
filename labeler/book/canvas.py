"""The page that is being set: passages in reading order, and where what lies."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field, replace

from labeler.layout.marks import Box, Mark, Path
from labeler.press.leaf import Claim, Element, Field, Leaf, Passage

HAIR = 0.35
"""Points: the thinnest rule that desk printers draw without gaps."""

INK, GREY, PALE = "#000000", "#6d6a64", "#f4f1ea"


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

    def put(
        self,
        marks: Iterable[Mark],
        path: tuple[Element, ...],
        link: str = "",
        box: Box | None = None,
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

    def rule(self, left: float, right: float, y: float, weight: float = HAIR) -> None:
        """Draw a level rule."""
        self.decorate(Path((("M", left, y), ("L", right, y)), stroke=INK, width=weight))

    def leaf(self) -> Leaf:
        """Return the finished page."""
        return Leaf(
            self.width, self.height, tuple(self.passages), tuple(self.fields),
            tuple(self.anchors), self.label, tuple(self.claimed.values()),
        )  # fmt: skip
