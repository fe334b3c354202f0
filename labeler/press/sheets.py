"""The sheets that go into the printer: die-cut labels, card stock cut by hand, rolls.

Knows geometry only. A sheet is found by its name in ``sheets.toml``, the maker's own before ours.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path
from typing import Annotated, Any, Literal

from pydantic import AfterValidator, BaseModel, BeforeValidator, ConfigDict, Field

from labeler import files
from labeler.findings import Finding, LabelerError, Place, did_you_mean, note, refusal, stop
from labeler.marks import InkMode
from labeler.tomlfile import KeyPath, RuleIds, TomlFile, read_toml, validate
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
    def usual_ink(self) -> InkMode:
        """What it is printed with unless somebody says otherwise: printers of rolls burn black."""
        return "black" if self.kind == "roll" else "colour"

    @property
    def notes(self) -> tuple[Finding, ...]:
        """What the maker should know before the first sheet goes in."""
        grid = self.grid
        if self.kind != "die-cut" or grid is None:
            return ()
        edges = {"left": grid.left, "right": grid.right, "top": grid.top, "bottom": grid.bottom}
        near = {name: max(0.0, room) for name, room in edges.items() if room < UNPRINTABLE}
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


def whole_page(name: str, width: float, height: float) -> Sheet:
    """Return a plain sheet used as one single cell."""
    return Sheet(name, "die-cut", width, height, SheetGrid.whole_page(width, height))


def _listed(words: list[str]) -> str:
    """Return the words as one says them: left, right and bottom."""
    return " and ".join([", ".join(words[:-1])] * (len(words) > 1) + words[-1:])


RULES = RuleIds(value="value-not-understood")

LONGEST = 200 * POINTS_PER_INCH
"""ISO 32000-1:2008, annex C.2: a page may measure 14,400 units."""

Dpi = Annotated[int, Field(ge=72, le=4800)]
"""Dots an inch, from the coarsest screen to the finest typesetter."""


def read_length(value: Any, signed: bool = False) -> float:
    """Return the length that ``value`` writes, in points; a ``signed`` one may be negative.

    Raises:
        ValueError: saying what was expected.
    """
    if isinstance(value, str):
        text = value.strip().replace("\N{MINUS SIGN}", "-")
        minus = signed and text.startswith("-")
        with suppress(ValueError, OverflowError):
            length = Length.parse(text[1:].strip() if minus else text).pt
            if length <= LONGEST:
                return -length if minus else length
    raise ValueError("a length with its unit, such as 2 5/8 in, 66.7 mm or 12 pt")


def read_lengths(value: Any, signed: bool = False) -> tuple[float, float]:
    """Return two lengths in points, across and down.

    Raises:
        ValueError: saying what was expected.
    """
    if not isinstance(value, list) or len(value) != 2:
        raise ValueError('two lengths, across and down, such as ["2 5/8 in", "1 in"]')
    return read_length(value[0], signed), read_length(value[1], signed)


def _read_paper(value: Any) -> str | tuple[float, float]:
    return value if isinstance(value, str) else read_lengths(value)


def _read_source(value: str) -> str:
    if not value.strip():
        raise ValueError("where the figures come from: a page, or who measured it")
    return value


_Length = Annotated[float, BeforeValidator(read_length)]
_Lengths = Annotated[tuple[float, float], BeforeValidator(read_lengths)]
_PaperOrName = Annotated[str | tuple[float, float], BeforeValidator(_read_paper)]
_Count = Annotated[int, Field(ge=1, le=100)]


class TomlTable(BaseModel):
    """A table of a file about paper or printers; a key it does not know is an error."""

    model_config = ConfigDict(extra="forbid", strict=True, defer_build=True)


class _Paper(TomlTable):
    size: _Lengths
    source: str = ""


class _SheetFile(TomlTable):
    paper: dict[str, _Paper] = Field(default_factory=dict)
    sheet: dict[str, dict[str, Any]] = Field(default_factory=dict)
    """Each is one of the tables below, by its kind."""


class _SheetTable(TomlTable):
    kind: Kind = "die-cut"
    source: Annotated[str, AfterValidator(_read_source)]


class _Card(_SheetTable):
    paper: _PaperOrName
    margin: _Length
    gutter: _Length


class _DieCut(_SheetTable):
    paper: _PaperOrName
    columns: _Count
    rows: _Count
    cell: _Lengths
    margin: _Lengths
    pitch: _Lengths
    radius: _Length = 0.0
    holes: Literal["none", "punched"] = "none"


class _Roll(_SheetTable):
    label: _Lengths
    dpi: Dpi
    radius: _Length = 0.0
    holes: Literal["none", "punched"] = "none"


def read_sheets(path: Path) -> dict[str, Sheet]:
    """Return the sheets of one file, by name.

    Raises:
        LabelerError: with everything that is wrong in it.
    """
    return dict(files.kept(("sheets", path), lambda: _read(path)))


def _read(path: Path) -> dict[str, Sheet]:
    file = read_toml(path, "file-unreadable")
    _, findings = validate(_SheetFile, file, rules=RULES)
    tables = file.data.get("sheet")
    sheets = {}
    for name, table in tables.items() if isinstance(tables, dict) else ():
        if isinstance(table, dict):
            sheets[name], faults = _read_sheet(file, name, str(table.get("kind")))
            findings += faults
    if findings:
        raise LabelerError(findings)
    return {name: sheet for name, sheet in sheets.items() if sheet}


def _read_sheet(file: TomlFile, name: str, kind: str) -> tuple[Sheet | None, list[Finding]]:
    models: dict[str, type[_Card | _DieCut | _Roll]] = {"card": _Card, "roll": _Roll}
    path = ("sheet", name)
    table, findings = validate(models.get(kind, _DieCut), file, path, rules=RULES)
    if table is None:
        return None, findings
    if isinstance(table, _Roll):
        size: tuple[float, float] | None = table.label
    else:
        size, findings = _paper_size(file, path, table.paper)
    if size is None:
        return None, findings
    if isinstance(table, _Card):
        sheet = Sheet(
            name, "card", *size, None, margin=table.margin, gutter=table.gutter, source=table.source
        )
        return sheet, list(_card_faults(file, path, sheet))
    if isinstance(table, _Roll):
        grid = SheetGrid.whole_page(*size)
    else:
        grid = SheetGrid(*size, table.columns, table.rows, *table.cell, *table.margin, *table.pitch)
    sheet = Sheet(
        name,
        table.kind,
        *size,
        grid,
        table.radius,
        table.holes == "punched",
        dpi=table.dpi if isinstance(table, _Roll) else None,
        source=table.source,
    )
    return sheet, list(_grid_faults(file, path, grid)) or list(_corner_faults(file, path, sheet))


def _paper_size(
    file: TomlFile, path: KeyPath, paper: str | tuple[float, float]
) -> tuple[tuple[float, float] | None, list[Finding]]:
    if not isinstance(paper, str):
        return paper, []
    known = file.data.get("paper", {})
    if paper in known:
        size = validate(_Paper, file, ("paper", paper))[0]  # its faults are told with the file's
        return (size.size if size else None), []
    return None, [
        stop(
            "unknown-paper",
            file.place((*path, "paper")),
            "there is no such paper in this file",
            found=repr(paper),
            expected='the name of a [paper.NAME] above, or ["8 1/2 in", "11 in"]',
            hint=did_you_mean(paper, list(known)),
        )
    ]


def _grid_faults(file: TomlFile, path: KeyPath, grid: SheetGrid) -> Iterator[Finding]:
    """Yield where the cells overlap or leave the paper."""
    ways = (
        ("across", grid.columns, grid.cell_width, grid.gap_x, grid.right, grid.page_width),
        ("down", grid.rows, grid.cell_height, grid.gap_y, grid.bottom, grid.page_height),
    )
    for way, count, cell, gap, left_over, paper in ways:
        if cell <= 0:
            place = file.place((*path, "cell"))
            yield stop("cell-empty", place, f"a cell measures nothing {way}")
        elif count > 1 and gap < -SLACK_PT:
            yield stop(
                "cells-overlap",
                file.place((*path, "pitch")),
                f"the cells overlap {way}",
                found=f"a pitch of {Length(cell + gap)}",
                expected=f"at least {Length(cell)}, the size of a cell",
            )
        elif left_over < -SLACK_PT:
            yield stop(
                "cells-off-paper",
                file.place((*path, "margin")),
                f"the cells reach {Length(-left_over).mm:.2f} mm past the paper's edge {way}",
                found=f"{Length(paper - left_over)} in all",
                expected=f"at most {Length(paper)}",
            )


def _corner_faults(file: TomlFile, path: KeyPath, sheet: Sheet) -> Iterator[Finding]:
    if sheet.grid is None:
        return
    widest = min(sheet.grid.cell_width, sheet.grid.cell_height) / 2
    if sheet.radius > widest + SLACK_PT:
        yield stop(
            "radius-too-large",
            file.place((*path, "radius")),
            "the corner's radius is more than half the cell",
            found=str(Length(sheet.radius)),
            expected=f"at most {Length(widest)}",
        )


def _card_faults(file: TomlFile, path: KeyPath, sheet: Sheet) -> Iterator[Finding]:
    narrowest = min(sheet.width, sheet.height)
    if 2 * sheet.margin >= narrowest:
        yield stop(
            "cells-off-paper",
            file.place((*path, "margin")),
            "the margins leave nothing of the paper",
            found=str(Length(sheet.margin)),
            expected=f"less than {Length(narrowest / 2)}",
        )


def find_sheet(name: str, maker_folder: Path | None = None) -> Sheet:
    """Return the sheet called ``name``, the maker's own first.

    Args:
        name: as in ``sheets.toml``, such as ``letter-3x10``; case does not matter.
        maker_folder: the catalog folder, whose ``layouts/sheets.toml`` goes before ours.

    Raises:
        LabelerError: if there is none, with the nearest name; or if the file has errors.
    """
    known = all_sheets(maker_folder)
    sheet = known.get(name) or known.get(name.strip().casefold())
    if sheet is None:
        raise refusal(
            "unknown-sheet",
            Place(),
            f"there is no sheet called {name!r}",
            hint=f"{did_you_mean(name, list(known))} labeler sheets lists them all.",
        )
    return sheet


def all_sheets(maker_folder: Path | None = None) -> dict[str, Sheet]:
    """Return every sheet by name, the maker's own in place of ours where both name one.

    Raises:
        LabelerError: with everything that is wrong in the files, each at its line.
    """
    found: dict[str, Sheet] = {}
    for folder in reversed(files.shelves("layouts", maker_folder)):
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
