"""A finished machine-readable symbol: dark rectangles on a grid of modules, and nothing of paper.

How large a module becomes, in which ink and where, is for whoever places the symbol.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

Kind = Literal["qr", "upc-a", "ean-13", "ean-8"]

Bar = tuple[float, float, float, float]
"""Left, top, width and height of a dark rectangle, in modules."""


@dataclass(frozen=True, slots=True)
class Digits:
    """Digits to read by eye, and the box under the bars in which they stand, in modules.

    Every digit is centred in its equal share of ``width``; none is taller than ``height``.
    """

    text: str
    x: float
    y: float
    width: float
    height: float


@dataclass(frozen=True, slots=True)
class Symbol:
    """What a scanner reads, measured in modules from the top left corner of its quiet zone.

    ``columns`` and ``rows`` count the quiet zone and, under bars, the line of digits. ``bars``
    touch but never overlap: filled as one path they leave no seam.
    """

    kind: Kind
    payload: str
    columns: int
    rows: float
    bars: tuple[Bar, ...]
    digits: tuple[Digits, ...] = ()
