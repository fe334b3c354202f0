"""Where the back of a piece lies when the sheet is turned over.

A sheet turned over its long edge swings round that edge; which of the page's axes that is
depends on whether the page stands or lies.
"""

from __future__ import annotations

from typing import Literal

Flip = Literal["long-edge", "short-edge"]
Turn = Literal[0, 180]


def swings_sideways(page_width: float, page_height: float, flip: Flip) -> bool:
    """Tell whether the page swings like a book's leaf, left to right, rather than head over heels.

    Source: ISO 32000-1:2008, table 150, Duplex: the edge is the paper's, not the picture's.
    """
    stands = page_height >= page_width
    return stands == (flip == "long-edge")


def back_corner(
    page: tuple[float, float],
    corner: tuple[float, float],
    size: tuple[float, float],
    flip: Flip,
) -> tuple[float, float, Turn]:
    """Return the top left corner of the back behind a front, and its turn.

    A back is meant to be read after turning the finished piece like a page. When the sheet
    itself goes head over heels, the back is therefore drawn turned by 180 degrees.

    Args:
        page: width and height of the page, in points.
        corner: the front's top left corner.
        size: width and height of the piece.
        flip: the edge over which the printer turns the sheet.
    """
    (page_width, page_height), (x, y), (width, height) = page, corner, size
    if swings_sideways(page_width, page_height, flip):
        return page_width - x - width, y, 0
    return x, page_height - y - height, 180
