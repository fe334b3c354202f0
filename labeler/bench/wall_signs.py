"""The signs of the wall sheet, and the key to them.

They are discs, emptier the freer, and tell the same in pure black, from across the room.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from labeler.book.canvas import INK, Canvas
from labeler.book.flow import Unit
from labeler.book.setter import Setter, Words
from labeler.disclosures.sale import Status
from labeler.disclosures.sale_words import MEANS, SHORT
from labeler.findings import Place
from labeler.layout.marks import Box, Path, Step
from labeler.press.leaf import Element

SIGN = 4.6
"""Points: the radius of a sign."""

_ROUND = 0.5522847498
"""How far a cubic's handles reach for a quarter of a circle: 4/3 (√2 - 1)."""


def sign(status: Status, x: float, y: float, r: float = SIGN) -> Iterator[Path]:
    """Yield the disc of a status around (``x``, ``y``).

    Empty is free, a point in it asks for a notice, half full limits the use, full bars the sale;
    a dash is no answer.
    """
    if status is Status.NOT_HELD:
        yield Path((("M", x - r * 0.6, y), ("L", x + r * 0.6, y)), stroke=INK, width=0.9)
        return
    if status is Status.BARRED:
        yield Path(_disc(x, y, r), fill=INK)
        return
    yield Path(_disc(x, y, r - 0.4), stroke=INK, width=0.8)
    if status is Status.DISCLOSURE:
        yield Path(_disc(x, y, r * 0.36), fill=INK)
    if status is Status.RESTRICTED:
        k = r * _ROUND
        half: tuple[Step, ...] = (
            ("M", x, y - r),
            ("C", x - k, y - r, x - r, y - k, x - r, y),
            ("C", x - r, y + k, x - k, y + r, x, y + r),
            ("Z",),
        )
        yield Path(half, fill=INK)


def _disc(x: float, y: float, r: float) -> tuple[Step, ...]:
    k = r * _ROUND
    return (
        ("M", x + r, y),
        ("C", x + r, y + k, x + k, y + r, x, y + r),
        ("C", x - k, y + r, x - r, y + k, x - r, y),
        ("C", x - r, y - k, x - k, y - r, x, y - r),
        ("C", x + k, y - r, x + r, y - k, x + r, y),
        ("Z",),
    )


@dataclass(slots=True)
class Key:
    """The signs, their words and what they mean, two abreast."""

    setter: Setter
    gap: float = 14.0
    keep: bool = False
    head: Unit | None = None

    def _lines(self) -> list[tuple[Status | None, Words]]:
        lines: list[tuple[Status | None, Words]] = [
            (status, self._words(SHORT[status], means)) for status, means in MEANS.items()
        ]
        doubt = "the catalog does not tell all that a rule asks; the worst is taken"
        return [*lines, (None, self._words("?", doubt))]

    def _words(self, short: str, means: str) -> Words:
        return self.setter.words("note", ("signal", short), f"  {means}", place=Place(block="key"))

    def _rows(self) -> Iterator[list[tuple[Status | None, Words]]]:
        lines = self._lines()
        half = -(-len(lines) // 2)
        for place in range(half):
            yield lines[place::half]

    def height(self, width: float) -> float:
        """Return the height of three lines."""
        inner = width / 2 - 3 * SIGN - 12
        return sum(max(w.height(inner) for _, w in row) + 5 for row in self._rows())

    def draw(self, canvas: Canvas, box: Box) -> None:
        """Draw each sign with its words."""
        half = (box[2] - box[0]) / 2
        y = box[1]
        for number, row in enumerate(self._rows()):
            for place, (status, words) in enumerate(row):
                left = box[0] + place * half
                begin, edge = left + 3 * SIGN, left + half - 12
                baseline = y + words.fit(edge - begin).first_baseline
                if status is not None:
                    canvas.decorate(*sign(status, left + SIGN, baseline - 2.5, SIGN - 0.8))
                marks, ink = words.glyphs((begin, y, edge, box[3] + 9))
                canvas.put(marks, (Element("Sect", "key"), Element("P", f"key.{place}.{number}")))
                canvas.take(ink, "key")
            y += max(w.height(half - 3 * SIGN - 12) for _, w in row) + 5
