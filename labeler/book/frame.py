"""A page's frame: margins, running head and folio."""

from __future__ import annotations

from dataclasses import dataclass

from labeler.book.canvas import Canvas
from labeler.book.edition import Edition
from labeler.book.flow import Column
from labeler.book.setter import Setter
from labeler.findings import Place

_SMALL = 450.0
"""Points: pages narrower than this are a booklet's."""


@dataclass(frozen=True, slots=True)
class Frame:
    """Where the text stands on a page.

    Inner and outer margins are alike, so that single pages and bound ones come out the same.
    """

    width: float
    height: float
    side: float
    top: float
    foot: float

    @property
    def measure(self) -> float:
        """The width of the text."""
        return self.width - 2 * self.side

    @property
    def columns(self) -> tuple[Column, ...]:
        """The whole page as one column."""
        return (Column(self.side, self.top, self.width - self.side, self.height - self.foot),)

    def split(self, count: int, gutter: float = 22.0, top: float = 0.0) -> tuple[Column, ...]:
        """Return ``count`` columns side by side, beginning at ``top`` if that is given."""
        wide = (self.measure - gutter * (count - 1)) / count
        return tuple(
            Column(
                self.side + place * (wide + gutter), top or self.top,
                self.side + place * (wide + gutter) + wide, self.height - self.foot,
            )
            for place in range(count)
        )  # fmt: skip


def frame_of_pages(edition: Edition) -> Frame:
    """Return the frame for an edition's pages."""
    if edition.width < _SMALL:
        return Frame(edition.width, edition.height, 34.0, 52.0, 44.0)
    return Frame(edition.width, edition.height, 52.0, 70.0, 56.0)


def is_small(edition: Edition) -> bool:
    """Tell whether the pages are a booklet's."""
    return edition.width < _SMALL


def draw_furniture(
    canvas: Canvas, setter: Setter, frame: Frame, maker: str, running: str, folio: int
) -> None:
    """Draw running head and folio: decoration, which is not read aloud on every page."""
    outer_left = folio % 2 == 0
    place = Place(block="running head")
    line = frame.top - 22
    half = frame.measure / 2 - 8
    left_text, right_text = (running, maker) if outer_left else (maker, running)
    left = setter.words("book-running", left_text, place=place, lines=1, least=3.0)
    right = setter.words("book-running", right_text, place=place, lines=1, least=3.0)
    top = line - 13
    for words, box, align in (
        (left, (frame.side, top, frame.side + half, line), "left"),
        (right, (frame.width - frame.side - half, top, frame.width - frame.side, line), "right"),
    ):
        marks, ink = words.glyphs(box, align)  # type: ignore[arg-type]
        canvas.decorate(*marks)
        if marks:
            canvas.take(ink, "running head")
    canvas.rule(frame.side, frame.width - frame.side, line)
    number = setter.words("book-folio", str(folio), place=Place(block="folio"), lines=1)
    foot = frame.height - frame.foot + 20
    marks, ink = number.glyphs(
        (frame.side, foot, frame.width - frame.side, foot + 14), "left" if outer_left else "right"
    )
    canvas.decorate(*marks)
    canvas.take(ink, "folio")
