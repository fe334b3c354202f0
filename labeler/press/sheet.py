"""The sheets that go into the printer: die-cut labels, card stock cut by hand, rolls.

Knows geometry only.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from labeler.findings import Finding, Place, note
from labeler.press.grid import Grid
from labeler.units import MM_PER_INCH, POINTS_PER_INCH, Length

Kind = Literal["die-cut", "card", "roll"]

UNPRINTABLE = 3.0 * POINTS_PER_INCH / MM_PER_INCH
"""Most desk printers leave a border of 3 to 5 mm blank. Common practice, no published source."""


@dataclass(frozen=True, slots=True)
class Sheet:
    """One kind of sheet. Lengths in points.

    ``grid`` is None for card stock, whose cells follow the piece; ``margin`` and ``gutter``
    are for card stock, ``dpi`` for rolls. ``punched`` sheets bring their holes with them.
    """

    name: str
    kind: Kind
    width: float
    height: float
    grid: Grid | None
    radius: float = 0.0
    punched: bool = False
    margin: float = 0.0
    gutter: float = 0.0
    dpi: int | None = None
    source: str = ""

    @property
    def notes(self) -> tuple[Finding, ...]:
        """What the maker should know before the first sheet goes in."""
        if self.kind != "die-cut" or self.grid is None:
            return ()
        near = edges_out_of_reach(self.grid)
        if not near:
            return ()
        return (
            note(
                "unprintable-border",
                Place(key=f"sheet {self.name}"),
                f"cells reach to within {Length(min(near.values())).mm:.1f} mm of the paper's "
                f"{_listed(list(near))}, where most printers leave a border blank",
                hint="Switch on the printer's borderless mode, or keep ink 5 mm off these edges.",
            ),
        )


def edges_out_of_reach(grid: Grid) -> dict[str, float]:
    """Return the edges that cells come nearer to than most printers print, with the distance."""
    edges = {"left": grid.left, "right": grid.right, "top": grid.top, "bottom": grid.bottom}
    return {name: max(0.0, room) for name, room in edges.items() if room < UNPRINTABLE}


def whole_page(name: str, width: float, height: float) -> Sheet:
    """Return a plain sheet used as one single cell."""
    return Sheet(name, "die-cut", width, height, Grid.whole_page(width, height))


def _listed(words: list[str]) -> str:
    """Return the words as one says them: left, right and bottom."""
    return " and ".join([", ".join(words[:-1])] * (len(words) > 1) + words[-1:])
