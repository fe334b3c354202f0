"""A maker's own spreadsheet, read as ``[spreadsheet]`` in ``catalog.toml`` says.

It comes to the same rows as a products.csv. A row that does not say which jig it is about is left
out until it does, so that the others can be printed.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import product
from typing import Any

from labeler.catalog.model import Spreadsheet
from labeler.catalog.spreadsheet import cells
from labeler.catalog.spreadsheet.cells import CellError, Value, display, folded, is_blank
from labeler.catalog.spreadsheet.grid import (
    CellGrid,
    SheetRow,
    SheetTable,
    cell_at,
    filled_cells,
)
from labeler.catalog.spreadsheet.own_cells import (
    Remarks,
    Said,
    called,
    field_of,
    means,
    name_retires,
    note_retires,
    parted,
    parts_of,
    plain,
    priced,
    read_field,
    read_weight,
    spot,
    unit_of,
    unread,
    weight_and_hook,
    weight_within,
    words,
)
from labeler.catalog.spreadsheet.parts import metal_said
from labeler.findings import Finding, Grade, Place, as_written, did_you_mean, listed, stop

IDENTITY = ("pattern", "colour", "weight", "hook", "pack", "sku", "head", "hook_name", "bag")
"""What says which jig a row is about, and how many are in its bag. A row whose cell of one of them
can't be read is left out."""

_FREE = ("pattern", "colour", "note", "remark", "status", "retired")
"""Fields in whose cells a word for nothing stands for itself."""

_SEARCHED, _TOTAL_WORDS = 60, 4

_TOTAL = Said("row-total", Grade.NOTE, "a row of totals is left out")
_HEAD_AGAIN = Said("row-headings", Grade.NOTE, "a row that has the headings again is left out")
_NO_PRODUCT = Said("row-no-product", Grade.NOTE, "a row that names no product is left out")
_NOTHING = Said("cell-nothing", Grade.NOTE, "a word for nothing is read as blank")
_RETIRED = Said("row-retired", Grade.NOTE, "what is no longer made is read as retired")
_DOUBT = Said(
    "retired-unclear", Grade.FIX,
    "this note may say that it is no longer made; it is sold until its status says so",
    hint='The note and = "discontinued" under [spreadsheet.means] retires it; = "" leaves it on '
    "sale.",
)  # fmt: skip
_DOUBT_BELOW = Said(
    _DOUBT.rule, Grade.FIX,
    "this title may say that what is below it is no longer made; it is sold until that is settled",
    hint="Give those rows a column with the heading Status, and write discontinued in it.",
)  # fmt: skip
_STATUS = Said(
    "status-unknown", Grade.NOTE, "nothing says what this status means, and the product is sold",
)  # fmt: skip
_TWICE = Said("row-twice", Grade.NOTE, "a second row of the same jig is left out")
_UNCLEAR = Said(
    "row-twice", Grade.FIX, "two rows of the same jig say this differently, so neither holds",
    hint="Take one of the rows out, or make them say the same.",
)  # fmt: skip
_WITHIN = Said("weight-within", Grade.NOTE, "the weight within the name is read as its weight")
_WITH_HOOK = Said(
    "weight-with-hook", Grade.NOTE, "cells that hold a weight and a hook size are read as both"
)
_PRICED = Said("price-in-title", Grade.NOTE, "a price in a title is that of the rows below it")
_UNKNOWN = Said("unknown-column", Grade.NOTE, "this column is not read: nothing says what is in it")


@dataclass(slots=True)
class SheetColumn:
    """A column that is read."""

    place: int
    """From 0."""
    heading: str
    name: str
    """The field that its cells hold; "made" where a mark says that there is such a jig."""
    unit: str | None = None
    stands_for: Any = None
    """The weight or colour that the whole column stands for."""
    of_weights: bool = True
    """Whether most of what is under it are weights, so that a date among them was one."""


@dataclass(slots=True)
class _Across:
    """A cell under a column that stands for a weight or a colour."""

    column: SheetColumn
    read: SheetRow


class _Several(list[Any]):
    """The values of a cell that has several."""


class MappedSheet:
    """A sheet and the columns that ``[spreadsheet]`` gives it, read into ``table``."""

    def __init__(self, grid: CellGrid, how: Spreadsheet) -> None:
        self.grid, self.how, self.table = grid, how, SheetTable()
        self.columns: list[SheetColumn] = []
        self.unread: list[tuple[int, str]] = []
        """Columns that nothing names, each with its heading."""
        self._remarks = Remarks()
        self._means = {plain(text): instead for text, instead in how.means.items()}
        self._wanted = {plain(text): name for text, name in how.headings.items()}
        across = how.across.headings if how.across else {}
        self._across = {plain(text): one for text, one in across.items()}
        start = self._find_headings()
        if start is None:
            self.table.findings.append(self._no_headings())
            return
        self._start = start
        self._below = grid.rows[start + 1 :]
        self._head([] if start < 0 else grid.rows[start][1])
        _RowReader(self).read()
        self.table.findings += self._remarks.findings()

    def say(self, said: Said, place: Place, found: str = "") -> None:
        """Remember what there is to say of a cell."""
        self._remarks.add(said, place, found)

    def _find_headings(self) -> int | None:
        """Return the place of the row of headings, -1 if the sheet has none; None if not found."""
        if self.how.headings_row == 0:
            return -1
        known = self._wanted.keys() | self._across.keys()
        counted = []
        for place, (number, row) in enumerate(self.grid.rows[:_SEARCHED]):
            held = known & {plain(str(cell)) for cell in row if not is_blank(cell)}
            counted.append((len(held), number == self.how.headings_row, -place))
        by_letter = sum(bool(_BY_LETTER.fullmatch(text)) for text in self.how.headings)
        count, _, place = max(counted, default=(0, False, 0))
        return -place if count and count * 2 >= len(self._wanted) - by_letter else None

    def _no_headings(self) -> Finding:
        wanted = [as_written(text) for text, name in self.how.headings.items() if name != "ignored"]
        number, row = self.grid.rows[0]
        texts = [display(folded(str(cell))) for cell in row if not is_blank(cell)]
        return stop(
            "headings-missing",
            self.grid.place(number),
            "no row of this sheet has the headings that [spreadsheet] names",
            found=listed(texts, 6),
            expected=listed(wanted),
            hint="Say under [spreadsheet.headings] what the columns are called now.",
        )

    def _head(self, head: Sequence[Value]) -> None:
        """Give every column its field."""
        known: dict[str, int] = {}
        for place in range(self.grid.width):
            value = cell_at(head, place)
            text = "" if is_blank(value) else folded(as_heading(value))
            letter = self.grid.column_name(place)
            key = plain(letter) if plain(letter) in self._wanted else plain(text)
            name = self._wanted.get(key)
            if name == "ignored" or (name is None and self._stands_across(place, text, value)):
                known.setdefault(key, place)
            elif name is None:
                if filled_cells(self._below, place):
                    self.unread.append((place, text or letter))
            elif key in known:
                if filled_cells(self._below, place):
                    self.table.findings.append(self._heading_twice(place, text, known[key]))
            else:
                known[key] = place
                unit = unit_of(text) or self.how.unit
                column = SheetColumn(place, text or letter, name, unit)
                column.of_weights = name != "weight" or self._mostly_weights(column)
                self.columns.append(column)
        for text, name in self.how.headings.items():
            if name != "ignored" and plain(text) not in known:
                self.table.findings.append(self._heading_gone(text, name))
        for place, text in self.unread:
            self._say_unread(place, text)

    def _head_place(self, place: int | None = None) -> Place:
        return self.grid.place(self.grid.rows[self._start][0] if self._start >= 0 else 1, place)

    def _heading_twice(self, place: int, text: str, first: int) -> Finding:
        return stop(
            "heading-twice",
            self._head_place(place),
            "two columns have this heading",
            found=as_written(text),
            expected=f"one; the other is {spot(self._head_place(first))}",
            hint="Give one of them another heading, in the spreadsheet or by its letter.",
        )

    def _heading_gone(self, text: str, name: str) -> Finding:
        return stop(
            "heading-gone",
            self._head_place(),
            "the spreadsheet has no column of this heading any more",
            found=as_written(text),
            expected=f"a column of the {called(name)}",
            hint=did_you_mean(text, [heading for _, heading in self.unread])
            or "Put its new heading under [spreadsheet.headings], or take the line away.",
        )

    def _say_unread(self, place: int, text: str) -> None:
        samples = [display(cell) for cell in filled_cells(self._below, place)]
        hint = f'{as_written(text)} = "ignored" under [spreadsheet.headings], or what it is.'
        name, _ = field_of(text)
        if name and name not in self.how.headings.values():
            line = f"{as_written(text)} = {as_written(name)}"
            hint = f"{line} under [spreadsheet.headings], if it is the {called(name)}."
        said = Said(_UNKNOWN.rule, _UNKNOWN.grade, _UNKNOWN.message, hint=hint)
        self.say(said, self._head_place(place), f"{as_written(text)} over {listed(samples, 3)}")

    def _stands_across(self, place: int, text: str, value: Value) -> bool:
        """Take a column that stands for a weight or a colour; tell whether it does."""
        across = self.how.across
        if across is None or is_blank(value):
            return False
        stands_for: Any = self._across.get(plain(text))
        if across.field == "weight":
            try:
                stands_for, _ = read_weight(stands_for or value, self.how.unit)
            except CellError:
                return False
        if not stands_for:
            return False
        name = "made" if across.cells == "mark" else across.cells
        self.columns.append(SheetColumn(place, text, name, stands_for=stands_for))
        return True

    def _mostly_weights(self, column: SheetColumn) -> bool:
        """Tell whether at least half of a column's cells are weights, or dates that were."""
        good = bad = 0
        for value in filled_cells(self._below, column.place):
            try:
                read_weight(value, column.unit)
                good += 1
            except CellError:
                bad += 1
        return good >= bad

    def rows(self) -> list[tuple[int, list[Value]]]:
        """Return the rows below the headings."""
        return self._below

    def is_head(self, row: list[Value]) -> bool:
        """Tell whether a row has the headings again, as at the top of a page."""
        if self._start < 0:
            return False
        head, here = (
            [plain(as_heading(cell)) for cell in each if not is_blank(cell)]
            for each in (self.grid.rows[self._start][1], row)
        )
        return len(head) > 1 and head == here

    def means(self, value: Value) -> Value:
        """Return what is to be read instead of a cell."""
        return self._means.get(plain(value), value) if isinstance(value, str) else value


_BY_LETTER = re.compile("column [A-Z]{1,2}")


def as_heading(value: Value) -> str:
    """Return a cell's text where it is a heading."""
    return cells.plain_text(value) if isinstance(value, int | float) else str(value)


Inherited = dict[str, tuple[Any, Place]]


class _RowReader:
    """Reads the rows below the headings into the sheet's table."""

    def __init__(self, sheet: MappedSheet) -> None:
        self.sheet, self.grid, self.how = sheet, sheet.grid, sheet.how
        self._inherited: Inherited = {}
        self._title: tuple[Value, Place] | None = None
        self._alone: tuple[Place, str] | None = None
        """A row that is a name alone, until a row below takes it."""
        self._held = {column.name for column in sheet.columns}
        if self.how.across:
            self._held.add(self.how.across.field)
        self._by_look = bool(self._held & {"colour", "weight"})
        """Whether anything but a name says which jig a row is about."""

    def read(self) -> None:
        rows: list[SheetRow] = []
        for number, row in self.sheet.rows():
            filled = [place for place, cell in enumerate(row) if not is_blank(cell)]
            if filled and not self._is_left_out(number, row, filled):
                rows += self._read_row(number, row, filled)
        self._leave_alone()
        self.sheet.table.rows = self._one_each(rows)

    def _is_left_out(self, number: int, row: list[Value], filled: list[int]) -> bool:
        place, first = self.grid.place(number, filled[0]), row[filled[0]]
        if is_total(row, filled):
            self.sheet.say(_TOTAL, place, display(first))
        elif self.sheet.is_head(row):
            self.sheet.say(_HEAD_AGAIN, place)
        elif len(filled) == 1 and isinstance(first, str) and note_retires(first) is not False:
            self.sheet.say(_DOUBT_BELOW, place, display(first))
        elif self.how.titles and len(filled) == 1 and self._is_title(first):
            self._leave_alone()
            self._title, self._alone = (first, place), (place, display(first))
            self._inherited.clear()
        else:
            return False
        return True

    def _is_title(self, text: Value) -> bool:
        """Tell titles from rows: where one column is all there is, a title says a weight."""
        one_column = len(self.sheet.columns) == 1 and not self.how.across
        return isinstance(text, str) and not (one_column and weight_within(text)[1] is None)

    def _leave_alone(self) -> None:
        if self._alone:
            self.sheet.say(_NO_PRODUCT, *self._alone)
        self._alone = None

    def _read_row(self, number: int, row: list[Value], filled: list[int]) -> Iterator[SheetRow]:
        one = SheetRow(self.grid.place(number), own=True)
        across = list(self._read_cells(one, number, row))
        named = one.values.keys() & {"pattern", "colour", "weight", "sku"}
        nameless = not named and not one.values.keys() & {"hook", "price", "gtin"}
        a_name = named <= {"pattern"} and len(filled) == 1 and self._by_look
        if not one.spoiled and not across and (nameless or a_name):
            self._leave_alone()
            self._alone = (self.grid.place(number, filled[0]), display(row[filled[0]]))
            self._hand_down(one)
            return
        self._part_name(one)
        if self.how.titles and self._title and self.how.titles not in one.values:
            title, place = self._title
            name, price = priced(title) if isinstance(title, str) else (title, "")
            if price and "price" not in one.values:
                self._read_into(one, SheetColumn(0, "", "price"), price, place)
                self.sheet.say(_PRICED, place, f"{display(name)}, {price}")
            self._read_into(one, SheetColumn(0, "", self.how.titles, self.how.unit), name, place)
            self._part_name(one)
        self._hand_down(one)
        for name in ("pattern", "colour"):
            text = one.values.get(name)
            if isinstance(text, str) and name_retires(text):
                self._retire(one, True, text, one.cells[name])
        if not one.spoiled:
            self._alone = None
            yield from self._spread(one, across)

    def _part_name(self, one: SheetRow) -> None:
        """Take weight and colour out of a pattern's name, where no column has them."""
        name = one.values.get("pattern")
        if not isinstance(name, str):
            return
        place = one.cells["pattern"]
        bare, weight = weight_within(name)
        known = one.values.get("weight") if "weight" in self._held else weight
        if bare and weight is not None and weight == known:
            name = one.values["pattern"] = bare
            one.values["weight"] = weight
            one.cells.setdefault("weight", place)
            self.sheet.say(_WITHIN, place, f"{display(name)}, {weight}")
        if self.how.parted and "colour" not in self._held:
            first, *rest = parted(name, self.how.parted) or [name]
            if len(rest) == 1:
                one.values["pattern"] = first
                self._read_into(one, SheetColumn(0, "", "colour"), rest[0], place)

    def _read_cells(self, one: SheetRow, number: int, row: list[Value]) -> Iterator[_Across]:
        """Read a row's cells into ``one``; yield those that stand for a weight or a colour each."""
        for column in self.sheet.columns:
            value = self.sheet.means(cell_at(row, column.place))
            if is_blank(value):
                continue
            place = self.grid.place(number, column.place, column.name)
            if column.stands_for is None:
                self._read_into(one, column, value, place)
            elif not (isinstance(value, str) and means("not_made", value)):
                read = SheetRow(place)
                if column.name != "made":
                    self._read_into(read, column, value, place)
                yield _Across(column, read)

    def _read_into(self, one: SheetRow, column: SheetColumn, value: Value, place: Place) -> None:
        """Read a cell into a row, or say why not."""
        name = column.name
        value = metal_said(column.heading, value) if name == "head" else value
        counted = name == "on_hand" and isinstance(value, str) and means("no_stock", value)
        if isinstance(value, str) and name not in _FREE and means("nothing", value) and not counted:
            self.sheet.say(_NOTHING, place, display(value))
            return
        if name == "weight" and "hook" not in self._held and (both := weight_and_hook(value)):
            value, hook = both
            self._read_into(one, SheetColumn(0, "", "hook"), hook, place)
            self.sheet.say(_WITH_HOOK, place, f"{display(value)} and {hook}")
        several = isinstance(value, str) and name in self.how.several
        read = []
        for part in parts_of(name, str(value)) if several else [value]:
            try:
                part = self.sheet.means(part)
                result, said = read_field(name, part, column.unit, column.of_weights)
            except CellError as error:
                one.spoiled = one.spoiled or name in IDENTITY
                self.sheet.say(unread(name, error, name in IDENTITY), place, display(value))
                continue
            if said:
                self.sheet.say(said, place, f"{display(part)}, so {result}")
            read.append(result)
        if name == "status" and read:
            self._status(one, column, str(read[0]), place)
        elif read:
            one.values[name] = _Several(read) if len(read) > 1 else read[0]
            one.cells[name] = place
            if name == "remark":
                self._retire(one, note_retires(str(read[0])), str(read[0]), place)

    def _status(self, one: SheetRow, column: SheetColumn, text: str, place: Place) -> None:
        ends = means("active", column.heading) and means("no", text)
        retires = ends or means("retired", text) or note_retires(text)
        if not means("sold", text) and text and not self._retire(one, retires, text, place):
            own = as_written(text)
            hint = f'{own} = "discontinued" under [spreadsheet.means] retires it; = "" keeps it.'
            self.sheet.say(replace(_STATUS, hint=hint), place, display(text))

    def _retire(self, one: SheetRow, retires: bool | None, text: str, place: Place) -> bool:
        """Retire what a text says is no longer made, or ask; tell whether it says any of it."""
        if retires:
            one.values["retired"], one.cells["retired"] = True, place
        if retires is not False:
            self.sheet.say(_RETIRED if retires else _DOUBT, place, display(text))
        return retires is not False

    def _hand_down(self, one: SheetRow) -> None:
        """Fill what is blank and means the same as above; a new outer value ends the inner."""
        fields = self.how.fill_down
        for at, name in enumerate(fields):
            if name in one.values:
                self._inherited[name] = one.values[name], one.cells[name]
                for inner in fields[at + 1 :]:
                    self._inherited.pop(inner, None)
            elif name in self._inherited:
                one.values[name], one.cells[name] = self._inherited[name]

    def _spread(self, one: SheetRow, across: list[_Across]) -> Iterator[SheetRow]:
        """Yield a row for each product: of columns across the top, of several in a cell."""
        rows = [one]
        if self.how.across:
            name = self.how.across.field
            rows = [
                SheetRow(
                    each.read.place,
                    one.values | {name: each.column.stands_for} | each.read.values,
                    one.cells | {name: each.read.place} | each.read.cells,
                    own=True,
                )
                for each in across
            ]
        for row in rows:
            several = {name: one for name, one in row.values.items() if isinstance(one, _Several)}
            for chosen in product(*several.values()):
                values = row.values | dict(zip(several, chosen, strict=True))
                yield SheetRow(row.place, values, dict(row.cells), own=True)

    def _one_each(self, rows: list[SheetRow]) -> list[SheetRow]:
        """Keep one row of each jig; what two say differently is left out, and said."""
        first: dict[tuple[Any, ...], SheetRow] = {}
        for row in rows:
            key = tuple(
                plain(value) if isinstance(value := row.values.get(name), str) else value
                for name in IDENTITY
            )
            other = first.setdefault(key, row)
            if other is row:
                continue
            for name, value in row.values.items():
                if name not in other.values:
                    other.values[name], other.cells[name] = value, row.cells[name]
                elif value != other.values[name] and name not in IDENTITY:
                    found = f"the {called(name)} here and in {spot(other.cell(name))}"
                    self.sheet.say(_UNCLEAR, row.cell(name), found)
                    del other.values[name]
            self.sheet.say(_TWICE, row.place, f"the same as {spot(other.place)}")
        return list(first.values())


def is_total(row: list[Value], filled: list[int]) -> bool:
    """Tell whether a row's first text is a word for a total, perhaps with what it totals."""
    text = next((folded(cell) for cell in row if isinstance(cell, str) and folded(cell)), "")
    known = words()["cells"]["total"]
    if plain(text) in known:
        return True
    parts = re.split(r"[\s:]+", text)
    numbers = sum(bool(re.match(r"[$€£]?\s*\d", str(row[place]))) for place in filled)
    few = len(parts) <= _TOTAL_WORDS
    return plain(parts[0]) in known and few and numbers * 2 >= len(filled) - 1


def choose_sheet(
    grids: Sequence[CellGrid], how: Spreadsheet, file: str
) -> tuple[CellGrid | None, list[Finding]]:
    """Return the sheet that ``how`` names, or the one that has most of its headings."""
    if not grids:
        return None, [stop("sheet-empty", Place(file=file), "holds no rows")]
    by_name = [grid for grid in grids if how.sheet and plain(grid.sheet) == plain(how.sheet)]
    if by_name or not how.sheet or len(grids) == 1:
        wanted = {plain(text) for text in how.headings}
        return max(by_name or grids, key=lambda grid: _held(grid, wanted)), []
    names = [grid.sheet for grid in grids]
    return None, [
        stop(
            "sheet-missing",
            Place(file=file),
            "the spreadsheet has no sheet of this name",
            found=as_written(how.sheet),
            expected=listed([as_written(name) for name in names]),
            hint=did_you_mean(how.sheet, names),
        )
    ]


def _held(grid: CellGrid, wanted: set[str]) -> int:
    rows = ({plain(str(cell)) for cell in row} for _, row in grid.rows[:_SEARCHED])
    return max((len(wanted & row) for row in rows), default=0)
