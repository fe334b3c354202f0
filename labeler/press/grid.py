"""Cells on a page: where each one's top left corner lies, counted row by row from 1."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Grid:
    """Equal cells on one page, in points from its top left corner, y down.

    ``pitch_x`` and ``pitch_y`` are from one cell's edge to the next one's same edge.
    """

    page_width: float
    page_height: float
    columns: int
    rows: int
    cell_width: float
    cell_height: float
    left: float
    top: float
    pitch_x: float
    pitch_y: float

    @property
    def count(self) -> int:
        """How many cells there are."""
        return self.columns * self.rows

    @property
    def right(self) -> float:
        """What is left of the page to the right of the last column."""
        used = self.left + (self.columns - 1) * self.pitch_x + self.cell_width
        return self.page_width - used

    @property
    def bottom(self) -> float:
        """What is left of the page below the last row."""
        used = self.top + (self.rows - 1) * self.pitch_y + self.cell_height
        return self.page_height - used

    @property
    def gap_x(self) -> float:
        """The gutter between two columns."""
        return self.pitch_x - self.cell_width

    @property
    def gap_y(self) -> float:
        """The gutter between two rows."""
        return self.pitch_y - self.cell_height

    def corner(self, cell: int) -> tuple[float, float]:
        """Return the top left corner of ``cell``, the first being 1."""
        row, column = divmod(cell - 1, self.columns)
        return self.left + column * self.pitch_x, self.top + row * self.pitch_y

    @classmethod
    def whole_page(cls, width: float, height: float) -> Grid:
        """Return the grid whose one cell is the page itself."""
        return cls(width, height, 1, 1, width, height, 0.0, 0.0, width, height)
