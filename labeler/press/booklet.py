"""Pages two by two on sheets that are folded and stapled in the back: order and creep.

Knows nothing of what stands on the pages.
"""

from __future__ import annotations

from dataclasses import dataclass

from labeler.units import Length

THICKNESS = Length.from_mm(0.1).pt
"""A sheet of 80 to 90 g/m2 paper. Common practice, no published source."""


@dataclass(frozen=True, slots=True)
class SheetSide:
    """One side of one sheet. Pages are counted from 1; None is a blank one.

    Attributes:
        left: the page that stands on the left half.
        right: the page that stands on the right half.
        creep: how far both are moved to the fold, in points.
    """

    left: int | None
    right: int | None
    creep: float


def saddle_order(pages: int) -> list[tuple[int, int]]:
    """Return which pages stand side by side, side after side, the outermost sheet first.

    Odd sides are the outsides: on the first, the last page lies to the left of the first. Every
    pair adds up to the number of pages and one.
    Source: common practice of saddle stitching, as printers' guides on imposition tell it.

    Raises:
        ValueError: if ``pages`` is not a multiple of four above zero.
    """
    if pages < 4 or pages % 4:
        raise ValueError("a folded booklet has a multiple of four pages")
    sides = []
    for number in range(1, pages // 2 + 1):
        other = pages + 1 - number
        sides.append((other, number) if number % 2 else (number, other))
    return sides


def folded(pages: int, thickness: float = THICKNESS) -> list[SheetSide]:
    """Return the sides of the sheets for a book of ``pages``, blank ones before the last page.

    Every sheet lies around those within it, which so stand out at the fore-edge by their
    thickness; there the pages are moved to the fold by as much, and margins come out even.

    Args:
        pages: how many pages the book has.
        thickness: of one sheet, in points.
    """
    whole = -(-pages // 4) * 4
    sheets = whole // 4
    blank = whole - pages

    def page(place: int) -> int | None:
        if place == whole:
            return pages
        return place if place < pages or blank == 0 else None

    return [
        SheetSide(page(left), page(right), min(side // 2, sheets - 1) * thickness)
        for side, (left, right) in enumerate(saddle_order(whole))
    ]
