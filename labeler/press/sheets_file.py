"""Reads ``sheets.toml``: every key checked, every error with its line, all at once."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import Any, cast

from labeler.findings import Finding, LabelerError, did_you_mean, stop
from labeler.press.grid import Grid
from labeler.press.sheet import Kind, Sheet
from labeler.press.written import Written, read_toml
from labeler.units import SLACK_PT, Length

_KEYS: dict[str, tuple[tuple[str, ...], tuple[str, ...]]] = {
    "die-cut": (("paper", "columns", "rows", "cell", "margin", "pitch"), ("radius", "holes")),
    "card": (("paper", "margin", "gutter"), ()),
    "roll": (("label", "dpi"), ("radius", "holes")),
}
"""By kind: the keys a sheet must have, and those it may have."""

_ALWAYS = ("kind", "source")
_MOST_CELLS_A_SIDE = 100
_LONGEST = 200 * 72.0
"""ISO 32000-1:2008, annex C.2: a page may measure 14,400 units."""

_DPI = range(72, 4801)


def read_sheets(path: Path) -> dict[str, Sheet]:
    """Return the sheets of one file, by name.

    Raises:
        LabelerError: with everything that is wrong in it.
    """
    written = read_toml(path)
    findings: list[Finding] = []
    _refuse_strangers(written, (), ("paper", "sheet"), findings)
    papers = {
        name: _Table(written, ("paper", name), findings)
        for name in _tables(written, "paper", findings)
    }
    sizes = {name: table.pair("size") for name, table in papers.items()}
    for name in papers:
        _refuse_strangers(written, ("paper", name), ("size", "source"), findings)
    found = {}
    for name in _tables(written, "sheet", findings):
        table = _Table(written, ("sheet", name), findings)
        sheet = _sheet(table, name, sizes)
        if sheet:
            found[name] = sheet
    if findings:
        raise LabelerError(findings)
    return found


class _Table:
    """One table of the file. A bad value becomes a finding and a harmless stand-in."""

    def __init__(self, written: Written, keys: tuple[str, ...], findings: list[Finding]) -> None:
        self.written = written
        self.keys = keys
        self.findings = findings
        self.before = len(findings)
        values: Any = written.values
        for key in keys:
            values = values[key]
        self.values: dict[str, Any] = values

    @property
    def sound(self) -> bool:
        """Whether nothing has been found in this table so far."""
        return len(self.findings) == self.before

    def complain(self, key: str, rule: str, message: str, **rest: str) -> None:
        place = self.written.place(*self.keys, key) if key else self.written.place(*self.keys)
        self.findings.append(stop(rule, place, message, **rest))

    def wrong(self, key: str, value: object, expected: str) -> None:
        self.complain(
            key, "sheet-value", f"{key} is not understood", found=repr(value), expected=expected
        )

    def length(self, key: str, default: float = 0.0) -> float:
        return self._length(key, self.values[key]) if key in self.values else default

    def pair(self, key: str) -> tuple[float, float]:
        value = self.values.get(key)
        if not isinstance(value, list) or len(value) != 2:
            self.wrong(key, value, 'two lengths, across and down, such as ["2 5/8 in", "1 in"]')
            return 1.0, 1.0
        return self._length(key, value[0]), self._length(key, value[1])

    def _length(self, key: str, value: object) -> float:
        expected = "a length with its unit, such as 2 5/8 in, 66.7 mm or 12 pt"
        if isinstance(value, str):
            try:
                length = Length.parse(value).pt
            except (ValueError, OverflowError):
                length = _LONGEST + 1
            if length <= _LONGEST:
                return length
            expected += ", at most 200 in"
        self.wrong(key, value, expected)
        return 1.0

    def whole(self, key: str, allowed: range) -> int:
        value = self.values.get(key)
        if isinstance(value, int) and not isinstance(value, bool) and value in allowed:
            return value
        self.wrong(key, value, f"a whole number from {allowed[0]} to {allowed[-1]}")
        return allowed[0]

    def choice(self, key: str, allowed: Sequence[str], default: str) -> str:
        value = self.values.get(key, default)
        if isinstance(value, str) and value in allowed:
            return value
        self.complain(
            key,
            "sheet-value",
            f"{key} is not understood",
            found=repr(value),
            expected=" or ".join(allowed),
            hint=did_you_mean(value, allowed) if isinstance(value, str) else "",
        )
        return default


def _tables(written: Written, room: str, findings: list[Finding]) -> list[str]:
    """Return the names of the tables under ``room``; whatever is no table is a finding."""
    tables = written.values.get(room, {})
    if not isinstance(tables, dict):
        tables = {}
        place = written.place(room)
        findings.append(stop("sheet-value", place, f"{room} must be a table, [{room}.NAME]"))
    names = []
    for name, table in tables.items():
        if isinstance(table, dict):
            names.append(name)
        else:
            place = written.place(room, name)
            findings.append(stop("sheet-value", place, f"[{room}.{name}] must be a table"))
    return names


def _refuse_strangers(
    written: Written, keys: tuple[str, ...], allowed: Sequence[str], findings: list[Finding]
) -> None:
    values: Any = written.values
    for key in keys:
        values = values[key]
    for key in values:
        if key not in allowed:
            findings.append(
                stop(
                    "unknown-key",
                    written.place(*keys, key),
                    f"{key!r} is no key of {'a ' + keys[0] if keys else 'this file'}",
                    hint=did_you_mean(key, allowed),
                )
            )


def _sheet(table: _Table, name: str, sizes: dict[str, tuple[float, float]]) -> Sheet | None:
    kind = cast(Kind, table.choice("kind", tuple(_KEYS), "die-cut"))
    needed, welcome = _KEYS[kind]
    strangers = (*needed, *welcome, *_ALWAYS)
    _refuse_strangers(table.written, table.keys, strangers, table.findings)
    missing = [key for key in (*needed, "source") if key not in table.values]
    if missing:
        table.complain("", "missing-key", f"sheet {name!r} lacks {', '.join(missing)}")
        return None
    sheet = {"die-cut": _die_cut, "card": _card, "roll": _roll}[kind](table, name, sizes)
    source = table.values["source"]
    if not isinstance(source, str) or not source.strip():
        table.wrong("source", source, "where the figures come from: a page, or who measured it")
    return sheet if table.sound else None


def _paper(table: _Table, sizes: dict[str, tuple[float, float]]) -> tuple[float, float]:
    value = table.values["paper"]
    if isinstance(value, list):
        return table.pair("paper")
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
        return _LONGEST, _LONGEST
    return size


def _die_cut(table: _Table, name: str, sizes: dict[str, tuple[float, float]]) -> Sheet:
    width, height = _paper(table, sizes)
    side = range(1, _MOST_CELLS_A_SIDE + 1)
    columns, rows = table.whole("columns", side), table.whole("rows", side)
    grid = Grid(
        width, height, columns, rows,
        *table.pair("cell"), *table.pair("margin"), *table.pair("pitch"),
    )  # fmt: skip
    if table.sound:
        _hold_together(table, grid)
    radius, punched = _corners_and_holes(table, grid)
    source = str(table.values["source"])
    return Sheet(name, "die-cut", width, height, grid, radius, punched, source=source)


def _hold_together(table: _Table, grid: Grid) -> None:
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


def _corners_and_holes(table: _Table, grid: Grid) -> tuple[float, bool]:
    radius = table.length("radius")
    widest = min(grid.cell_width, grid.cell_height) / 2
    if radius > widest + SLACK_PT:
        table.complain(
            "radius",
            "radius-too-large",
            "the corner's radius is more than half the cell",
            found=str(Length(radius)),
            expected=f"at most {Length(widest)}",
        )
    return radius, table.choice("holes", ("none", "punched"), "none") == "punched"


def _card(table: _Table, name: str, sizes: dict[str, tuple[float, float]]) -> Sheet:
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


def _roll(table: _Table, name: str, sizes: dict[str, tuple[float, float]]) -> Sheet:
    width, height = table.pair("label")
    grid = Grid.whole_page(width, height)
    if table.sound:
        _hold_together(table, grid)
    radius, punched = _corners_and_holes(table, grid)
    dpi = table.whole("dpi", _DPI)
    source = str(table.values["source"])
    return Sheet(name, "roll", width, height, grid, radius, punched, dpi=dpi, source=source)
