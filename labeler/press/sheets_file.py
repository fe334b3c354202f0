"""Reads ``sheets.toml``: every key checked, every error with its line, all at once."""

from __future__ import annotations

from pathlib import Path
from typing import cast

from labeler.findings import Finding, LabelerError, did_you_mean
from labeler.press.grid import Grid
from labeler.press.sheet import Kind, Sheet
from labeler.press.table import DPI, LONGEST, Table, tables
from labeler.press.written import read_toml
from labeler.units import SLACK_PT, Length

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
    Table(written, (), findings).refuse_all_but("paper", "sheet")
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


def _sheet(table: Table, name: str, sizes: dict[str, tuple[float, float]]) -> Sheet | None:
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


def _paper(table: Table, sizes: dict[str, tuple[float, float]]) -> tuple[float, float]:
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


def _die_cut(table: Table, name: str, sizes: dict[str, tuple[float, float]]) -> Sheet:
    width, height = _paper(table, sizes)
    side = range(1, _MOST_CELLS_A_SIDE + 1)
    columns, rows = table.whole("columns", side), table.whole("rows", side)
    grid = Grid(
        width, height, columns, rows,
        *table.lengths("cell"), *table.lengths("margin"), *table.lengths("pitch"),
    )  # fmt: skip
    if table.sound:
        _hold_together(table, grid)
    radius, punched = _corners_and_holes(table, grid)
    source = str(table.values["source"])
    return Sheet(name, "die-cut", width, height, grid, radius, punched, source=source)


def _hold_together(table: Table, grid: Grid) -> None:
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


def _corners_and_holes(table: Table, grid: Grid) -> tuple[float, bool]:
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


def _card(table: Table, name: str, sizes: dict[str, tuple[float, float]]) -> Sheet:
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


def _roll(table: Table, name: str, sizes: dict[str, tuple[float, float]]) -> Sheet:
    width, height = table.lengths("label")
    grid = Grid.whole_page(width, height)
    if table.sound:
        _hold_together(table, grid)
    radius, punched = _corners_and_holes(table, grid)
    dpi = table.whole("dpi", DPI)
    source = str(table.values["source"])
    return Sheet(name, "roll", width, height, grid, radius, punched, dpi=dpi, source=source)
