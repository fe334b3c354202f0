"""The sheets that go into the printer: die-cut labels, card stock cut by hand, rolls.

Knows geometry only. A sheet is found by its name in ``sheets.toml``, the maker's own before ours.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Literal, cast

from labeler import files
from labeler.findings import Finding, LabelerError, Place, did_you_mean, note, stop
from labeler.geometry import Box
from labeler.marks import KAPPA, Step, VectorPath
from labeler.tomlfile import DPI, LONGEST, TomlTable, read_toml, tables
from labeler.units import MM_PER_INCH, POINTS_PER_INCH, SLACK_PT, Length


@dataclass(frozen=True, slots=True)
class SheetGrid:
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

    def holds(self, width: float, height: float) -> bool:
        """Tell whether a cell holds a piece of this size, in points."""
        return Length(width).fits_in(Length(self.cell_width)) and Length(height).fits_in(
            Length(self.cell_height)
        )

    @classmethod
    def whole_page(cls, width: float, height: float) -> SheetGrid:
        """Return the grid whose one cell is the page itself."""
        return cls(width, height, 1, 1, width, height, 0.0, 0.0, width, height)


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
    grid: SheetGrid | None
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


def edges_out_of_reach(grid: SheetGrid) -> dict[str, float]:
    """Return the edges that cells come nearer to than most printers print, with the distance."""
    edges = {"left": grid.left, "right": grid.right, "top": grid.top, "bottom": grid.bottom}
    return {name: max(0.0, room) for name, room in edges.items() if room < UNPRINTABLE}


def whole_page(name: str, width: float, height: float) -> Sheet:
    """Return a plain sheet used as one single cell."""
    return Sheet(name, "die-cut", width, height, SheetGrid.whole_page(width, height))


def _listed(words: list[str]) -> str:
    """Return the words as one says them: left, right and bottom."""
    return " and ".join([", ".join(words[:-1])] * (len(words) > 1) + words[-1:])


_KEYS: dict[str, tuple[tuple[str, ...], tuple[str, ...]]] = {
    "die-cut": (("paper", "columns", "rows", "cell", "margin", "pitch"), ("radius", "holes")),
    "card": (("paper", "margin", "gutter"), ()),
    "roll": (("label", "dpi"), ("radius", "holes")),
}
"""By kind: the keys a sheet must have, and those it may have."""

_ALWAYS = ("kind", "source")
_MOST_CELLS_A_SIDE = 100


def read_sheets(path: Path) -> dict[str, Sheet]:
    """Return the sheets of one file, by name.

    Raises:
        LabelerError: with everything that is wrong in it.
    """
    written = read_toml(path)
    findings: list[Finding] = []
    TomlTable(written, (), findings).refuse_all_but("paper", "sheet")
    sizes = {}
    for name, table in tables(written, "paper", findings):
        table.refuse_all_but("size", "source")
        sizes[name] = table.lengths("size")
    found = {}
    for name, table in tables(written, "sheet", findings):
        sheet = _sheet(table, name, sizes)
        if sheet:
            found[name] = sheet
    if findings:
        raise LabelerError(findings)
    return found


def _sheet(table: TomlTable, name: str, sizes: dict[str, tuple[float, float]]) -> Sheet | None:
    kind = cast(Kind, table.choice("kind", tuple(_KEYS), "die-cut"))
    needed, welcome = _KEYS[kind]
    table.refuse_all_but(*needed, *welcome, *_ALWAYS)
    missing = [key for key in (*needed, "source") if key not in table.values]
    if missing:
        table.complain("", "missing-key", f"sheet {name!r} lacks {', '.join(missing)}")
        return None
    sheet = {"die-cut": _die_cut, "card": _card, "roll": _roll}[kind](table, name, sizes)
    source = table.values["source"]
    if not isinstance(source, str) or not source.strip():
        table.wrong("source", source, "where the figures come from: a page, or who measured it")
    return sheet if table.sound else None


def _paper(table: TomlTable, sizes: dict[str, tuple[float, float]]) -> tuple[float, float]:
    value = table.values["paper"]
    if isinstance(value, list):
        return table.lengths("paper")
    size = sizes.get(value) if isinstance(value, str) else None
    if size is None:
        table.complain(
            "paper",
            "unknown-paper",
            "there is no such paper in this file",
            found=repr(value),
            expected='the name of a [paper.NAME] above, or ["8 1/2 in", "11 in"]',
            hint=did_you_mean(value, list(sizes)) if isinstance(value, str) else "",
        )
        return LONGEST, LONGEST
    return size


def _die_cut(table: TomlTable, name: str, sizes: dict[str, tuple[float, float]]) -> Sheet:
    width, height = _paper(table, sizes)
    side = range(1, _MOST_CELLS_A_SIDE + 1)
    columns, rows = table.whole("columns", side), table.whole("rows", side)
    grid = SheetGrid(
        width, height, columns, rows,
        *table.lengths("cell"), *table.lengths("margin"), *table.lengths("pitch"),
    )  # fmt: skip
    if table.sound:
        _hold_together(table, grid)
    radius, punched = _corners_and_holes(table, grid)
    source = str(table.values["source"])
    return Sheet(name, "die-cut", width, height, grid, radius, punched, source=source)


def _hold_together(table: TomlTable, grid: SheetGrid) -> None:
    """Check that the cells neither overlap nor leave the paper."""
    ways = (
        ("across", grid.columns, grid.cell_width, grid.gap_x, grid.right, grid.page_width),
        ("down", grid.rows, grid.cell_height, grid.gap_y, grid.bottom, grid.page_height),
    )
    for way, count, cell, gap, rest, paper in ways:
        if cell <= 0:
            table.complain("cell", "cell-empty", f"a cell measures nothing {way}")
        elif count > 1 and gap < -SLACK_PT:
            table.complain(
                "pitch",
                "cells-overlap",
                f"the cells overlap {way}",
                found=f"a pitch of {Length(cell + gap)}",
                expected=f"at least {Length(cell)}, the size of a cell",
            )
        elif rest < -SLACK_PT:
            table.complain(
                "margin",
                "cells-off-paper",
                f"the cells reach {Length(-rest).mm:.2f} mm past the paper's edge {way}",
                found=f"{Length(paper - rest)} in all",
                expected=f"at most {Length(paper)}",
            )


def _corners_and_holes(table: TomlTable, grid: SheetGrid) -> tuple[float, bool]:
    radius = table.length("radius")
    widest = min(grid.cell_width, grid.cell_height) / 2
    if table.sound and radius > widest + SLACK_PT:
        table.complain(
            "radius",
            "radius-too-large",
            "the corner's radius is more than half the cell",
            found=str(Length(radius)),
            expected=f"at most {Length(widest)}",
        )
    return radius, table.choice("holes", ("none", "punched"), "none") == "punched"


def _card(table: TomlTable, name: str, sizes: dict[str, tuple[float, float]]) -> Sheet:
    width, height = _paper(table, sizes)
    margin, gutter = table.length("margin"), table.length("gutter")
    if table.sound and 2 * margin >= min(width, height):
        table.complain(
            "margin",
            "cells-off-paper",
            "the margins leave nothing of the paper",
            found=str(Length(margin)),
            expected=f"less than {Length(min(width, height) / 2)}",
        )
    source = str(table.values["source"])
    return Sheet(name, "card", width, height, None, margin=margin, gutter=gutter, source=source)


def _roll(table: TomlTable, name: str, sizes: dict[str, tuple[float, float]]) -> Sheet:
    width, height = table.lengths("label")
    grid = SheetGrid.whole_page(width, height)
    if table.sound:
        _hold_together(table, grid)
    radius, punched = _corners_and_holes(table, grid)
    dpi = table.whole("dpi", DPI)
    source = str(table.values["source"])
    return Sheet(name, "roll", width, height, grid, radius, punched, dpi=dpi, source=source)


def find_sheet(name: str, own: Path | None = None) -> Sheet:
    """Return the sheet called ``name``, the maker's own first.

    Args:
        name: as in ``sheets.toml``, such as ``letter-3x10``; case does not matter.
        own: the catalog folder, whose ``layouts/sheets.toml`` goes before ours.

    Raises:
        LabelerError: if there is none, with the nearest name; or if the file has errors.
    """
    known = all_sheets(own)
    sheet = known.get(name) or known.get(name.strip().casefold())
    if sheet is None:
        raise LabelerError(
            stop(
                "unknown-sheet",
                Place(file="layouts/sheets.toml"),
                f"there is no sheet called {name!r}",
                hint=did_you_mean(name, list(known)),
            )
        )
    return sheet


def all_sheets(own: Path | None = None) -> dict[str, Sheet]:
    """Return every sheet by name, the maker's own in place of ours where both name one.

    Raises:
        LabelerError: with everything that is wrong in the files, each at its line.
    """
    found: dict[str, Sheet] = {}
    for folder in reversed(files.shelves("layouts", own)):
        if (folder / "sheets.toml").is_file():
            found |= read_sheets(folder / "sheets.toml")
    return found


def holding(sheets: Mapping[str, Sheet], width: float, height: float) -> list[str]:
    """Return the names of the die-cut sheets and rolls whose cells hold a piece, snuggest first."""
    fits = [
        (sheet.grid.cell_width * sheet.grid.cell_height, name)
        for name, sheet in sheets.items()
        if sheet.grid and sheet.grid.holds(width, height)
    ]
    return [name for _, name in sorted(fits)]


def rounded_box(box: Box, radius: float, stroke: str, width: float) -> VectorPath:
    """Return the outline of ``box`` with corners of ``radius``, stroked."""
    left, top, right, bottom = box
    r = min(radius, (right - left) / 2, (bottom - top) / 2)
    if r <= 0:
        square: tuple[Step, ...] = (
            ("M", left, top), ("L", right, top), ("L", right, bottom), ("L", left, bottom), ("Z",),
        )  # fmt: skip
        return VectorPath(square, stroke=stroke, width=width)
    k = r * (1 - KAPPA)
    steps: tuple[Step, ...] = (
        ("M", left + r, top),
        ("L", right - r, top),
        ("C", right - k, top, right, top + k, right, top + r),
        ("L", right, bottom - r),
        ("C", right, bottom - k, right - k, bottom, right - r, bottom),
        ("L", left + r, bottom),
        ("C", left + k, bottom, left, bottom - k, left, bottom - r),
        ("L", left, top + r),
        ("C", left, top + k, left + k, top, left + r, top),
        ("Z",),
    )
    return VectorPath(steps, stroke=stroke, width=width)
