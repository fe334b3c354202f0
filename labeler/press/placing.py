"""The words of imposition: what is ordered, where a piece lies, what stands on a page."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal, NamedTuple

from labeler.layout.marks import Face, Piece
from labeler.press.duplex import Turn

Side = Literal["front", "back"]


class Spot(NamedTuple):
    """A cell of a sheet, both counted from 1."""

    sheet: int
    cell: int

    def __str__(self) -> str:
        return f"{self.sheet}:{self.cell}"


@dataclass(frozen=True, slots=True, eq=False)
class Order:
    """So many copies of one piece."""

    piece: Piece
    count: int


@dataclass(frozen=True, slots=True, eq=False)
class Placed:
    """One face of a piece on a page.

    ``x`` and ``y`` are the top left corner of its box on this page, in points. ``cell`` is
    the sheet's cell as counted on the front; ``place`` is that cell's place on this page,
    which on a back is the mirrored one.
    """

    piece: Piece
    face: Face
    x: float
    y: float
    turn: Turn
    cell: int
    place: int


@dataclass(frozen=True, slots=True, eq=False)
class Page:
    """One side of one sheet. Identical sheets share the same ``placed`` object."""

    sheet: int
    side: Side
    placed: tuple[Placed, ...]


@dataclass(frozen=True, slots=True)
class Allotment:
    """What the run's record needs of one order: where its copies went, first to last."""

    piece: Piece
    count: int
    first: Spot
    last: Spot
