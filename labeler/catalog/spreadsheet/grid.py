"""A sheet of cells, wherever it comes from, and the table that stands in it."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

from labeler.catalog.spreadsheet.cells import CellError, Value, display, folded, is_blank
from labeler.catalog.spreadsheet.columns import Column, named, nearest_column
from labeler.findings import Finding, Place, note, stop

MOST_ROWS = 20_000
"""Rows with something in them; a line of jigs has some thousand at the most."""

WIDEST = 100
"""Columns looked at."""

_HEADINGS_WITHIN = 20
"""Rows with something in them among which the headings are looked for: titles come first."""


@dataclass(frozen=True, slots=True)
class Grid:
    """Rows of cells, numbered as their file numbers them; blank rows may be left out."""

    file: str
    rows: list[tuple[int, list[Value]]]
    sheet: str = ""
    """Set where the file has several sheets."""
    lettered: bool = False
    """Whether cells are called by letter and number, as in a workbook, or by line."""

    def place(self, row: int, column: int | None = None, key: str = "") -> Place:
        """Return the place of a cell, or of a whole row. ``column`` counts from nought."""
        if not self.lettered:
            return Place(file=self.file, line=row, key=key)
        cell = f"{_letters(column)}{row}" if column is not None else f"A{row}"
        return Place(file=self.file, cell=f"{self.sheet}!{cell}" if self.sheet else cell, key=key)


def _letters(column: int) -> str:
    letters = ""
    column += 1
    while column:
        column, rest = divmod(column - 1, 26)
        letters = chr(ord("A") + rest) + letters
    return letters


@dataclass(slots=True)
class Row:
    """One row, read: the fields that are not blank, each with its cell."""

    place: Place
    values: dict[str, Any] = field(default_factory=dict)
    cells: dict[str, Place] = field(default_factory=dict)
    spoiled: bool = False
    """Whether a cell of it could not be read; what it says is then not the whole."""

    def cell(self, name: str) -> Place:
        """Return the place of a field, or of the row where it is blank."""
        return self.cells.get(name, self.place)


@dataclass(slots=True)
class Table:
    """What a grid comes to: rows, and what is wrong with their cells."""

    rows: list[Row] = field(default_factory=list)
    findings: list[Finding] = field(default_factory=list)


def has_headings(grid: Grid, columns: tuple[Column, ...]) -> bool:
    """Tell whether a row of headings can be found."""
    return _find_headings(grid, columns) is not None


def read_table(grid: Grid, columns: tuple[Column, ...]) -> Table:
    """Return the table in ``grid``. The first of ``columns`` must be among its headings."""
    table = Table()
    if not grid.rows:
        table.findings.append(note("sheet-empty", Place(file=grid.file), "holds no rows"))
        return table
    start = _find_headings(grid, columns)
    if start is None:
        table.findings.append(_no_headings(grid, columns))
        return table
    headed = _Headed(grid, columns, start, table)
    for number, cells in grid.rows[start + 1 :]:
        if not all(is_blank(cell) for cell in cells):
            table.rows.append(headed.read(number, cells))
    return table


def _find_headings(grid: Grid, columns: tuple[Column, ...]) -> int | None:
    """Return the place of the row that holds the first column's heading and the most others."""
    best, most = None, 0
    looked = 0
    for place, (_, cells) in enumerate(grid.rows):
        if all(is_blank(cell) for cell in cells):
            continue
        found = _known(cells, columns)
        if columns[0].name in found and len(found) > most:
            best, most = place, len(found)
        looked += 1
        if looked == _HEADINGS_WITHIN:
            break
    return best


def _known(cells: list[Value], columns: tuple[Column, ...]) -> set[str]:
    """Return the columns that are headed in a row."""
    return {c.name for cell in cells if isinstance(cell, str) and (c := named(columns, cell))}


def _no_headings(grid: Grid, columns: tuple[Column, ...]) -> Finding:
    filled = [row for row in grid.rows if not all(is_blank(cell) for cell in row[1])]
    first = max(
        filled[:_HEADINGS_WITHIN] or grid.rows[:1],
        key=lambda row: len(_known(row[1], columns)),
    )
    texts = [folded(cell) for cell in first[1] if isinstance(cell, str) and folded(cell)]
    near = next((text for text in texts if nearest_column(columns[:1], text)), "")
    return stop(
        "headings-missing",
        grid.place(first[0]),
        f"no row of headings has one for {columns[0].name.upper()}",
        found=", ".join(display(text) for text in texts[:6]) or "no text",
        expected="headings such as " + ", ".join(column.name for column in columns[:6]),
        hint=f"Is {near!r} meant for {columns[0].name}?" if near else "",
    )


class _Headed:
    """A grid whose headings are known."""

    def __init__(self, grid: Grid, columns: tuple[Column, ...], start: int, table: Table) -> None:
        self.grid, self.columns, self.table = grid, columns, table
        self.at: dict[int, Column] = {}
        self.unread: dict[int, str] = {}
        self._bare_told: set[int] = set()
        number, cells = grid.rows[start]
        self._known = _known(cells, columns)
        for place, cell in enumerate(cells):
            self._head(number, place, folded(str(cell)) if not is_blank(cell) else "")

    def _head(self, number: int, place: int, text: str) -> None:
        if not text:
            return
        where = self.grid.place(number, place)
        column = named(self.columns, text)
        if column is None:
            self.unread[place] = text
            self.table.findings.append(self._unknown(where, text))
        elif column in self.at.values():
            self.unread[place] = text
            self.table.findings.append(
                stop("heading-twice", where, f"two columns are headed {column.name}",
                     found=display(text), hint="Delete one, or give it a heading of its own.")
            )  # fmt: skip
        else:
            self.at[place] = column

    def _unknown(self, where: Place, text: str) -> Finding:
        near = nearest_column(self.columns, text)
        if near and near.name not in self._known:
            return stop(
                "unknown-column", where, "no column goes by this heading", found=display(text),
                hint=f"Did you mean {near.name!r}?",
            )  # fmt: skip
        return note(
            "unknown-column", where, "this column is not read", found=display(text),
            expected="one of " + ", ".join(column.name for column in self.columns),
        )  # fmt: skip

    def read(self, number: int, cells: list[Value]) -> Row:
        row = Row(self.grid.place(number))
        for place, value in enumerate(cells):
            if is_blank(value):
                continue
            column = self.at.get(place)
            if column is None:
                self._unheaded(row, number, place, value)
                continue
            where = self.grid.place(number, place, column.name)
            row.cells[column.name] = where
            try:
                row.values[column.name] = column.read(value)
            except CellError as error:
                row.spoiled = True
                self.table.findings.append(_misread(where, error, value))
        return row

    def _unheaded(self, row: Row, number: int, place: int, value: Value) -> None:
        """In a CSV a cell past the headings is a text that fell apart at a comma."""
        if place in self.unread or place in self._bare_told:
            return
        where = self.grid.place(number, place)
        if self.grid.lettered:
            self._bare_told.add(place)
            self.table.findings.append(
                note("heading-missing", where, "this column has no heading and is not read",
                     found=display(value))
            )  # fmt: skip
        elif not row.spoiled:
            row.spoiled = True
            self.table.findings.append(
                stop("row-too-long", where, "the row has more cells than there are headings",
                     found=display(value),
                     hint="A text that holds the sign between cells needs quotes around it.")
            )  # fmt: skip


def _misread(where: Place, error: CellError, value: Value) -> Finding:
    return stop(
        "cell-misread",
        where,
        error.message,
        found=display(value),
        expected=error.expected,
        hint=error.hint,
    )
