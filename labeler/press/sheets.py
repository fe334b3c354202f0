"""Finds a sheet by name: the maker's own ``layouts/sheets.toml`` goes before ours."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path

from labeler import shelf
from labeler.findings import LabelerError, Place, did_you_mean, stop
from labeler.press.sheet import Sheet
from labeler.press.sheets_file import read_sheets
from labeler.units import Length


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
    for folder in reversed(shelf.shelves("layouts", own)):
        if (folder / "sheets.toml").is_file():
            found |= read_sheets(folder / "sheets.toml")
    return found


def holding(sheets: Mapping[str, Sheet], width: float, height: float) -> list[str]:
    """Return the names of the die-cut sheets and rolls whose cells hold a piece, snuggest first."""
    fits = [
        (sheet.grid.cell_width * sheet.grid.cell_height, name)
        for name, sheet in sheets.items()
        if sheet.grid
        and Length(width).fits_in(Length(sheet.grid.cell_width))
        and Length(height).fits_in(Length(sheet.grid.cell_height))
    ]
    return [name for _, name in sorted(fits)]
