"""A sheet of cells, wherever it comes from, and the table that stands in it."""

from __future__ import annotations

import csv
import io
import re
import warnings
import zipfile
from collections import Counter
from collections.abc import Callable, Iterable, Iterator, Sequence
from contextlib import suppress
from dataclasses import dataclass, field
from itertools import islice
from typing import Any

from labeler.catalog.spreadsheet.cells import (
    CellError,
    ColumnSpec,
    Uncalculated,
    Value,
    display,
    folded,
    is_blank,
    named,
    nearest_column,
)
from labeler.findings import Finding, LabelerError, Place, note, refusal, shown, stop

MOST_ROWS = 20_000
"""Rows with something in them; a line of jigs has some thousand at the most."""

WIDEST = 100
"""Columns looked at."""

_HEADINGS_WITHIN = 20
"""Rows with something in them among which the headings are looked for: titles come first."""


@dataclass(frozen=True, slots=True)
class CellGrid:
    """Rows of cells, numbered as their file numbers them; blank rows may be left out."""

    file: str
    rows: list[tuple[int, list[Value]]]
    sheet: str = ""
    """Set where the file has several sheets."""
    lettered: bool = False
    """Whether cells are called by letter and number, as in a workbook, or by line."""

    def place(self, row: int, column: int | None = None, key: str = "") -> Place:
        """Return the place of a cell, or of a whole row. ``column`` counts from 0."""
        if not self.lettered:
            return Place(file=self.file, line=row, key=key)
        cell = f"{_letters(column)}{row}" if column is not None else f"A{row}"
        return Place(file=self.file, cell=f"{self.sheet}!{cell}" if self.sheet else cell, key=key)

    @property
    def width(self) -> int:
        """How many columns there are."""
        return max((len(row) for _, row in self.rows), default=0)

    def column_name(self, column: int) -> str:
        """Return what a column without a heading is called: ``column A``."""
        return f"column {_letters(column)}"


def _letters(column: int) -> str:
    letters = ""
    column += 1
    while column:
        column, rest = divmod(column - 1, 26)
        letters = chr(ord("A") + rest) + letters
    return letters


def cell_at(row: Sequence[Value], column: int) -> Value:
    """Return a cell of a row, whose blank end may be left out; ``column`` counts from 0."""
    return row[column] if column < len(row) else None


def filled_cells(rows: Iterable[tuple[int, Sequence[Value]]], column: int) -> list[Value]:
    """Return what stands in a column of numbered rows, less the blanks."""
    cells = (cell_at(row, column) for _, row in rows)
    return [cell for cell in cells if not is_blank(cell)]


@dataclass(slots=True)
class SheetRow:
    """One row, read: the fields that are not blank, each with its cell."""

    place: Place
    values: dict[str, Any] = field(default_factory=dict)
    cells: dict[str, Place] = field(default_factory=dict)
    spoiled: bool = False
    """Whether a cell of it could not be read; what it says is then not the whole."""
    own: bool = False
    """Whether it stands in the maker's own spreadsheet, which is the master of its products."""

    def cell(self, name: str) -> Place:
        """Return the place of a field, or of the row where it is blank."""
        return self.cells.get(name, self.place)


@dataclass(slots=True)
class SheetTable:
    """What a grid comes to: rows, and what is wrong with their cells."""

    rows: list[SheetRow] = field(default_factory=list)
    findings: list[Finding] = field(default_factory=list)
    unread: dict[Place, int] = field(default_factory=dict)
    """Headings of columns that are not read, or the first cells of those without: cells filled."""


def read_table(grid: CellGrid, columns: tuple[ColumnSpec, ...]) -> SheetTable:
    """Return the table in ``grid``. The first of ``columns`` must be among its headings."""
    if not grid.rows:
        return SheetTable(findings=[note("sheet-empty", Place(file=grid.file), "holds no rows")])
    start = _find_headings(grid, columns)
    if start is None:
        return SheetTable(findings=[_no_headings(grid, columns)])
    reader = _TableReader(grid, columns, start)
    for number, cells in grid.rows[start + 1 :]:
        if not all(is_blank(cell) for cell in cells):
            reader.read_row(number, cells)
    return reader.table


def has_headings(grid: CellGrid, columns: tuple[ColumnSpec, ...]) -> bool:
    """Tell whether a row of headings can be found."""
    return _find_headings(grid, columns) is not None


def _find_headings(grid: CellGrid, columns: tuple[ColumnSpec, ...]) -> int | None:
    """Return the place of the row that holds the first column's heading and the most others."""
    filled = [
        (len(found), -place)
        for place, cells in _first_filled(grid)
        if columns[0].name in (found := _headed(cells, columns))
    ]
    return -max(filled)[1] if filled else None


def _first_filled(grid: CellGrid) -> list[tuple[int, list[Value]]]:
    """Return the rows among which headings are looked for, each with its place in the grid."""
    filled = (
        (place, cells)
        for place, (_, cells) in enumerate(grid.rows)
        if not all(is_blank(cell) for cell in cells)
    )
    return list(islice(filled, _HEADINGS_WITHIN))


def _headed(cells: list[Value], columns: tuple[ColumnSpec, ...]) -> set[str]:
    """Return the columns that are headed in a row."""
    return {c.name for cell in cells if isinstance(cell, str) and (c := named(columns, cell))}


def _no_headings(grid: CellGrid, columns: tuple[ColumnSpec, ...]) -> Finding:
    place, cells = max(
        _first_filled(grid) or [(0, grid.rows[0][1])], key=lambda row: len(_headed(row[1], columns))
    )
    texts = [folded(cell) for cell in cells if isinstance(cell, str) and folded(cell)]
    near = next((text for text in texts if nearest_column(columns[:1], text)), "")
    return stop(
        "headings-missing",
        grid.place(grid.rows[place][0]),
        f"no row of headings has one for {columns[0].name.upper()}",
        found=", ".join(display(text) for text in texts[:6]) or "no text",
        expected="headings such as " + ", ".join(column.name for column in columns[:6]),
        hint=f"Is {near!r} meant for {columns[0].name}?" if near else "",
    )


class _TableReader:
    """Reads the rows of a grid under the headings in its row at ``start``."""

    def __init__(self, grid: CellGrid, columns: tuple[ColumnSpec, ...], start: int) -> None:
        self.grid, self.table = grid, SheetTable()
        self._columns: dict[int, ColumnSpec] = {}
        self._unread: dict[int, Place] = {}
        """Columns that have had their finding, and where."""
        number, cells = grid.rows[start]
        headed = _headed(cells, columns)
        for place, cell in enumerate(cells):
            if is_blank(cell):
                continue
            text = folded(str(cell))
            column = named(columns, text)
            if column is not None and column not in self._columns.values():
                self._columns[place] = column
                continue
            where = self._unread[place] = grid.place(number, place)
            near = nearest_column(columns, text)
            if column is not None:
                finding = stop(
                    "heading-twice",
                    where,
                    f"two columns are headed {column.name}",
                    found=display(text),
                    hint="Delete one, or give it a heading of its own.",
                )
            elif near and near.name not in headed:
                finding = stop(
                    "unknown-column",
                    where,
                    "no column goes by this heading",
                    found=display(text),
                    hint=f"Did you mean {near.name!r}?",
                )
            else:
                finding = note(
                    "unknown-column",
                    where,
                    "this column is not read: nothing in it is kept, printed or traced",
                    found=display(text),
                    expected="one of " + ", ".join(column.name for column in columns),
                )
            self.table.findings.append(finding)

    def read_row(self, number: int, cells: list[Value]) -> None:
        row = SheetRow(self.grid.place(number))
        self.table.rows.append(row)
        for place, value in enumerate(cells):
            if is_blank(value):
                continue
            column = self._columns.get(place)
            if column is None:
                self._read_unheaded(row, number, place, value)
                continue
            where = row.cells[column.name] = self.grid.place(number, place, column.name)
            try:
                row.values[column.name] = column.read(value)
            except CellError as error:
                row.spoiled = True
                self.table.findings.append(
                    stop(
                        "cell-misread",
                        where,
                        error.message,
                        found=display(value),
                        expected=error.expected,
                        hint=error.hint,
                    )
                )

    def _read_unheaded(self, row: SheetRow, number: int, place: int, value: Value) -> None:
        """In a CSV a cell past the headings is a text that fell apart at a comma."""
        if place in self._unread:
            at = self._unread[place]
            self.table.unread[at] = self.table.unread.get(at, 0) + 1
            return
        where, found = self.grid.place(number, place), display(value)
        if self.grid.lettered:
            self._unread[place] = where
            self.table.unread[where] = 1
            message = "this column has no heading and is not read"
            self.table.findings.append(note("heading-missing", where, message, found=found))
        elif not row.spoiled:
            row.spoiled = True
            message = "the row has more cells than there are headings"
            hint = "A text that holds the sign between cells needs quotes around it."
            self.table.findings.append(stop("row-too-long", where, message, found=found, hint=hint))


LARGEST_BYTES = 20_000_000

_BETWEEN = (",", ";", "\t", "|")
"""What parts cells, likeliest first: a comma, or where it is the decimal sign a semicolon."""

_HEAD_LINES = 40

_SAVE_AS_UTF8 = 'Save it from the spreadsheet as "CSV UTF-8".'


def read_sheets(file: str, raw: bytes) -> tuple[list[CellGrid], list[Finding]]:
    """Return every sheet of a maker's own file that holds something, and findings on the file.

    What kind of file it is, its bytes say: xlsx, xls, ods, or a CSV.

    Raises:
        LabelerError: if it can't be read, or is too large.
    """
    if raw.startswith(_OLD_WORKBOOK):
        return _guarded(file, lambda: _by_calamine(file, raw))
    if not raw.startswith(b"PK\x03\x04"):
        grid, findings = read_csv(file, raw)
        return [grid] if grid.rows else [], findings
    with _archive(file, raw) as archive:
        names = archive.namelist()
    if "xl/workbook.xml" not in names:
        return _guarded(file, lambda: _by_calamine(file, raw))
    refuse_swollen(Place(file=file), raw)
    return _guarded(file, lambda: _by_openpyxl(file, raw))


def read_csv(
    file: str, raw: bytes, columns: tuple[ColumnSpec, ...] = ()
) -> tuple[CellGrid, list[Finding]]:
    """Return the cells of a CSV, all text, and findings on the file.

    Args:
        file: Its name.
        raw: Its bytes.
        columns: The columns that it may have, which tell its separator; without any, that is the
            sign that parts most lines into as many cells.

    Raises:
        LabelerError: if it is no text, or so broken that its rows cannot be separated.
    """
    text, findings = _decode(file, raw)
    between = _separator(text, columns)
    rows: list[tuple[int, list[Value]]] = []
    for line, cells in _rows(file, text, between):
        if all(is_blank(cell) for cell in cells):
            continue
        if len(rows) == MOST_ROWS or len(cells) > WIDEST * 10:
            raise refusal(
                "file-too-large",
                Place(file=file, line=line),
                "is too long to be a list of products",
                expected=f"at most {MOST_ROWS:,} rows of {WIDEST} cells",
            )
        rows.append((line, list(cells)))
    return CellGrid(file, rows), findings


def _rows(file: str, text: str, between: str) -> Iterator[tuple[int, list[str]]]:
    """Yield rows with the line on which each begins; cells may hold line breaks."""
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=between, strict=True)
    begins = 1
    while True:
        try:
            cells = next(reader)
        except StopIteration:
            return
        except csv.Error as error:
            raise LabelerError(_broken(file, begins, str(error))) from None
        yield begins, cells
        begins = reader.line_num + 1


_QUOTE_TWICE = 'A quotation mark within a text is written twice: "a 4"" bag".'
_CSV_FAULTS = (
    ("unexpected end", "a text in quotes begins in this row and never ends", "", _QUOTE_TWICE),
    ("expected after", "something stands behind the closing quotes of a text", "", _QUOTE_TWICE),
    (
        "field larger",
        "a cell is too long to be true",
        f"at most {csv.field_size_limit():,} letters",
        "Look for a quotation mark that is not closed.",
    ),
)
"""Words of Python's csv module, what they mean, what was expected, and what to do."""


def _broken(file: str, line: int, message: str) -> Finding:
    place = Place(file=file, line=line)
    for words, meaning, expected, hint in _CSV_FAULTS:
        if words in message:
            return stop("csv-broken", place, meaning, expected=expected, hint=hint)
    return stop("csv-broken", place, "the row cannot be split into cells", hint=message)


_OTHER_FILES = {
    b"PK\x03\x04": "a workbook or an archive",
    b"\xd0\xcf\x11\xe0": "an old workbook",
    b"%PDF": "a PDF",
}


def _decode(file: str, raw: bytes) -> tuple[str, list[Finding]]:
    place = Place(file=file)
    for begin, kind in _OTHER_FILES.items():
        if raw.startswith(begin):
            message, expected = f"is {kind}, whatever its name says", "text with one row a line"
            raise refusal("csv-not-text", place, message, expected=expected, hint=_SAVE_AS_UTF8)
    encodings: tuple[str, ...] = ("utf-8", "cp1252")
    if raw[:2] in (b"\xff\xfe", b"\xfe\xff"):
        encodings = ("utf-16",)
    elif b"\0" in raw[:2]:
        encodings = ("utf-16-le",) if raw[1:2] == b"\0" else ("utf-16-be",)
    elif b"\0" in raw:
        raise refusal("csv-not-text", place, "is no text file", hint=_SAVE_AS_UTF8)
    for encoding in encodings:
        try:
            text = raw.decode(encoding)
        except UnicodeDecodeError:
            continue
        findings = [_old_letters(file, raw, text)] if encoding == "cp1252" else []
        return text.removeprefix("\ufeff"), findings
    raise refusal("csv-not-text", place, "is in no encoding known here", hint=_SAVE_AS_UTF8)


def _old_letters(file: str, raw: bytes, text: str) -> Finding:
    at = next(place for place, letter in enumerate(raw) if letter > 127)
    begin, end = text.rfind("\n", 0, at) + 1, text.find("\n", at)
    return note(
        "csv-encoding",
        Place(file=file, line=text.count("\n", 0, at) + 1),
        "is not UTF-8 and was read as Windows-1252: look whether the accents are right",
        found=shown(text[max(begin, at - 30) : end if end >= 0 else None].strip()[:60]),
        hint=_SAVE_AS_UTF8,
    )


def _separator(text: str, columns: tuple[ColumnSpec, ...]) -> str:
    """Return the sign under which most headings are known, or that which the file names.

    Some begin with a line such as ``sep=;``, which stands above the headings like a title.
    """
    lines = io.StringIO(text, newline="")
    first = lines.readline()
    if first.strip().lower().startswith("sep=") and len(first.strip()) == len("sep=;"):
        return first.strip()[-1]
    if first.rstrip("\r\n").lower() == "sep=\t":
        return "\t"
    head = [first, *(line for line, _ in zip(lines, range(_HEAD_LINES), strict=False))]

    def columns_named(between: str) -> int:
        """Return how many columns the best line names when it is split at ``between``."""
        rows = ([cell.strip('" ') for cell in line[:5_000].split(between)] for line in head)
        return max(len(_headed(list(row), columns)) for row in rows)

    def lines_alike(between: str) -> tuple[int, int]:
        """Return how many lines part into as many cells, several, and how many those are."""
        rows = csv.reader(head, delimiter=between)
        widths = Counter(width for row in rows if (width := len(row)) > 1)
        return max(((lines, width) for width, lines in widths.items()), default=(0, 0))

    return max(_BETWEEN, key=columns_named if columns else lines_alike)


LARGEST_UNPACKED = 100_000_000
"""A workbook is a ZIP archive; one that unpacks to more is no list of jigs."""

_SAVE_AS_XLSX = "Open it in the spreadsheet and save it again as XLSX."
_DAMAGED = "is damaged, or no workbook"
_FORMULA = b"<f"

_HEAD_ROWS = 200
"""Rows in which the headings are looked for before a sheet is read."""

Rows = Iterator[list[Value]]


Sheets = tuple[list[CellGrid], list[Finding]]


def read_xlsx(file: str, raw: bytes, columns: tuple[ColumnSpec, ...]) -> Sheets:
    """Return the sheets that hold a table of ``columns``, and findings on the others.

    Raises:
        LabelerError: if it is no workbook, or too large.
    """
    return _guarded(file, lambda: _tables(file, raw, columns))


def _guarded(file: str, read: Callable[[], Sheets]) -> Sheets:
    """Return what ``read`` reads; a broken workbook makes the libraries raise anything at all."""
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            return read()
    except LabelerError:
        raise
    except BaseException as error:
        found = type(error).__name__
        if not isinstance(error, Exception) and found != "PanicException":  # calamine's own
            raise
        raise refusal(
            "xlsx-broken", Place(file=file), _DAMAGED, found=found, hint=_SAVE_AS_XLSX
        ) from None


_OLD_WORKBOOK = b"\xd0\xcf\x11\xe0"
"""How a compound file begins. Source: MS-CFB, 2.2."""


def _archive(file: str, raw: bytes) -> zipfile.ZipFile:
    """Return a workbook's parts; raise for what is no archive, or would unpack to too much."""
    place = Place(file=file)
    try:
        archive = zipfile.ZipFile(io.BytesIO(raw))
    except (zipfile.BadZipFile, OSError, ValueError, NotImplementedError):
        found = f"{raw[:4]!r} first"
        raise refusal("xlsx-broken", place, _DAMAGED, found=found, hint=_SAVE_AS_XLSX) from None
    unpacked = sum(part.file_size for part in archive.infolist())
    if unpacked > LARGEST_UNPACKED:
        raise _too_large(place, f"{unpacked:,} bytes", f"at most {LARGEST_UNPACKED:,} bytes")
    return archive


def _refuse_no_workbook(file: str, raw: bytes) -> None:
    """Raise for what is no ZIP archive, or one that would unpack to too much."""
    place = Place(file=file)
    if raw.startswith(_OLD_WORKBOOK):
        message = "is an old .xls workbook, or locked with a password"
        hint = "Open it in the spreadsheet and save it as XLSX without a password."
        raise refusal("xlsx-broken", place, message, hint=hint)
    with _archive(file, raw) as archive:
        if "mimetype" in archive.namelist():
            message = "is an OpenDocument file, whatever its name says"
            raise refusal("xlsx-broken", place, message, hint=_SAVE_AS_XLSX)
    refuse_swollen(place, raw)


def _by_calamine(file: str, raw: bytes) -> Sheets:
    """Return the sheets of an xls, an ods or an xlsb."""
    import python_calamine  # only a maker's own file in one of these needs it

    book = python_calamine.load_workbook(io.BytesIO(raw))
    titles = [
        sheet.name
        for sheet in book.sheets_metadata
        if sheet.visible == python_calamine.SheetVisibleEnum.Visible
        and sheet.typ == python_calamine.SheetTypeEnum.WorkSheet
    ]
    grids = []
    for name in titles:
        title = shown(name) if len(titles) > 1 else ""
        cells = book.get_sheet_by_name(name).to_python(skip_empty_area=False, nrows=LAST_READ)
        rows: Rows = ([_whole(cell) for cell in row[:WIDEST]] for row in cells)
        grids.append(CellGrid(file, _filled(rows, file, title), title, True))
    return [grid for grid in grids if grid.rows], []


def _whole(value: Value) -> Value:
    """Return a whole number as one; these files hold nothing but floating point."""
    return int(value) if isinstance(value, float) and value.is_integer() else value


LAST_READ = 60_000
"""The row after which an xls, an ods or an xlsb is not read: each row costs, blank ones too."""


def _by_openpyxl(file: str, raw: bytes) -> Sheets:
    """Return the sheets of an xlsx."""
    import openpyxl

    book = openpyxl.load_workbook(io.BytesIO(raw), read_only=True, data_only=True)
    formulas = _formulas(raw)
    sheets = [sheet for sheet in book.worksheets if sheet.sheet_state == "visible"]
    grids = []
    for sheet in sheets:
        title = shown(sheet.title) if len(sheets) > 1 else ""
        rows = _filled(map(_trimmed, _cells(sheet, formulas)), file, title)
        grids.append(CellGrid(file, rows, title, True))
    return [grid for grid in grids if grid.rows], []


def _trimmed(row: list[Value]) -> list[Value]:
    """Return a row less the blank cells at its end, of which there may be a hundred."""
    while row and row[-1] is None:
        row.pop()
    return row


def _too_large(place: Place, found: str, expected: str) -> LabelerError:
    message = "unpacks to too much to be a list of jigs"
    return refusal("file-too-large", place, message, found=found, expected=expected)


_LAST_ROW = 1_048_576
"""Source: ECMA-376-1 leaves it open; what spreadsheets write (common practice)."""

_MOST_CELLS, _MOST_TEXTS, _LARGEST_PART = 500_000, 200_000, 20_000_000
"""Of one workbook, empty cells with a look among them; of bytes in a part that holds no cells."""

_TAG = re.compile(rb"<(?:\w{1,20}:)?(row|c|si|sheet)(?=[\s/>])")
_SWOLLEN = re.compile(rb"<!(DOCTYPE|ENTITY)|[\s]r\s*=\s*[\"'][A-Za-z]{0,9}(\d{7,30})")
"""A document type; a row so far down that its number has as many figures as the last one's."""
_ONE_PIECE, _OVERLAP = 1 << 20, 64


def refuse_swollen(place: Place, raw: bytes, most_cells: int = _MOST_CELLS) -> None:
    """Refuse a workbook that is small packed and endless to read; it is read piece by piece.

    Rows far down cost as much as those before them, though nothing stands there; a document type
    may let a few letters mean millions, and no workbook has one (ECMA-376-2, 8.1.4).

    Raises:
        LabelerError: with what there is too much of.
    """
    counts: Counter[bytes] = Counter()
    most = {b"c": most_cells, b"row": _LAST_ROW, b"si": _MOST_TEXTS, b"sheet": 1_000}
    with zipfile.ZipFile(io.BytesIO(raw)) as archive:
        for part in archive.infolist():
            with archive.open(part) as file:
                begins = file.read(_OVERLAP).removeprefix(b"\xef\xbb\xbf").lstrip()
            if begins.startswith((b"\xff\xfe", b"\xfe\xff", b"<\0", b"\0<")):
                hint = _SAVE_AS_XLSX  # in UTF-16, which nothing writes, nothing could be counted
                raise refusal("xlsx-broken", place, _DAMAGED, found=shown(part.filename), hint=hint)
            if not begins.startswith(b"<"):  # a picture, a printer's settings
                continue
            if part.file_size > _LARGEST_PART and not part.filename.startswith("xl/worksheets/"):
                expected = f"at most {_LARGEST_PART:,} bytes"
                raise _too_large(place, shown(part.filename), expected)
            with archive.open(part) as file:
                before = b""
                while piece := file.read(_ONE_PIECE):
                    text = before + piece
                    _count(place, text, len(before), counts)
                    before = text[-_OVERLAP:]
                    for tag, limit in most.items():
                        if counts[tag] > limit:
                            found = f"{counts[tag]:,} × <{tag.decode()}>"
                            raise _too_large(place, found, f"at most {limit:,}")


def _count(place: Place, text: bytes, known: int, counts: Counter[bytes]) -> None:
    """Count what ends after the first ``known`` bytes, which were counted with those before."""
    counts.update(_TAG.findall(text))
    counts.subtract(tag[1] for tag in _TAG.finditer(text, 0, known + 1) if tag.end() < known)
    for found in _SWOLLEN.finditer(text):
        if found[1]:
            raise refusal("xlsx-broken", place, _DAMAGED, found="a document type",
                          hint=_SAVE_AS_XLSX)  # fmt: skip
        if (number := int(found[2])) > _LAST_ROW:
            raise _too_large(place, f"row {number:,}", f"at most {_LAST_ROW:,} rows")


def _tables(file: str, raw: bytes, columns: tuple[ColumnSpec, ...]) -> Sheets:
    """Return what `read_xlsx` does."""
    _refuse_no_workbook(file, raw)
    import openpyxl  # with numpy behind it, half a second that only a workbook needs

    book = openpyxl.load_workbook(io.BytesIO(raw), read_only=True, data_only=True)
    formulas = _formulas(raw)
    several = sum(sheet.sheet_state == "visible" for sheet in book.worksheets) > 1
    grids: list[CellGrid] = []
    heads: list[CellGrid] = []
    findings: list[Finding] = []
    for sheet in book.worksheets:
        title = shown(sheet.title) if several else ""
        head = CellGrid(file, _filled(islice(_cells(sheet, None), _HEAD_ROWS), file, title), title)
        wanted = has_headings(head, columns)
        if sheet.sheet_state != "visible":
            if wanted:
                findings.append(_unread(file, sheet.title, "is hidden and is not read"))
        elif wanted or not several:
            grids.append(CellGrid(file, _filled(_cells(sheet, formulas), file, title), title, True))
        elif head.rows:
            heads.append(CellGrid(file, head.rows, title, True))
            findings.append(_unread(file, sheet.title, "has no SKU heading and is not read"))
    return grids or heads[:1] or [CellGrid(file, [])], findings


def _unread(file: str, sheet: str, why: str) -> Finding:
    return note("sheet-unread", Place(file=file, cell=f"{shown(sheet)}!A1"), f"this sheet {why}")


def _formulas(raw: bytes) -> Any:
    """Return the workbook with its formulas in place of their results; None if it has none."""
    with zipfile.ZipFile(io.BytesIO(raw)) as archive:
        parts = [name for name in archive.namelist() if name.startswith("xl/worksheets/")]
        if not any(_holds(archive, name) for name in parts):
            return None
    import openpyxl  # only for a workbook with formulas

    return openpyxl.load_workbook(io.BytesIO(raw), read_only=True, data_only=False)


def _holds(archive: zipfile.ZipFile, name: str) -> bool:
    """Tell whether a part holds a formula, a piece at a time."""
    tail = b""
    with archive.open(name) as part:
        while piece := part.read(1 << 16):
            if _FORMULA in tail + piece:
                return True
            tail = piece[-1:]
    return False


def _filled(cells_by_row: Rows, file: str, title: str) -> list[tuple[int, list[Value]]]:
    """Return the rows that hold something, whatever size the sheet says that it has."""
    rows: list[tuple[int, list[Value]]] = []
    for number, cells in enumerate(cells_by_row, start=1):
        if all(is_blank(cell) for cell in cells):
            continue
        if len(rows) == MOST_ROWS:
            raise refusal("file-too-large", Place(file=file, cell=f"{title}!A{number}".lstrip("!")),
                     "is too long to be a list of products",
                     expected=f"at most {MOST_ROWS:,} rows")  # fmt: skip
        rows.append((number, cells))
    return rows


def _cells(sheet: Any, formulas: Any) -> Rows:
    """Yield every row that the sheet holds, blank ones between them included."""
    sheet.reset_dimensions()
    shown = sheet.iter_rows(max_col=WIDEST, values_only=True)
    if formulas is None:
        yield from (list(row) if _filled_in(row) else [] for row in shown)
        return
    twin = formulas[sheet.title]
    twin.reset_dimensions()
    behind = twin.iter_rows(max_col=WIDEST, values_only=True)
    for row, under in zip(shown, behind, strict=False):
        if _filled_in(row) or _filled_in(under):
            yield [_calculated(one, two) for one, two in zip(row, under, strict=False)]
        else:
            yield []


def _filled_in(row: tuple[Any, ...]) -> bool:
    """Tell whether a row holds anything; a sheet may hold a million that do not."""
    return row.count(None) < len(row)


def _calculated(value: Value, under: Any) -> Value:
    """Return a cell's result, or the formula where the file holds no result."""
    if value is None and under is not None:
        return Uncalculated(str(getattr(under, "text", under)))
    return value


@dataclass(frozen=True, slots=True)
class CsvText:
    """A CSV as text, and how its bytes come of that: to change some cells and nothing else."""

    text: str
    mark: bytes
    """What stands before the text: a byte order mark, or nothing."""
    encoding: str
    between: str
    """The sign between its cells."""
    heads: dict[str, int]
    """Names of columns, each with its place in a row, counted from 0."""

    def spans(self) -> Iterator[tuple[int, list[tuple[int, int]]]]:
        """Yield the line on which each row begins, and where in the text each of its cells is."""
        ends = "\r\n|\r|\n"
        between = re.escape(self.between)
        cell = re.compile(rf'("(?:[^"]|"")*"|[^{between}\r\n]*)({between}|{ends}|\Z)')
        line, begins, row, at = 1, 1, list[tuple[int, int]](), 0
        while at < len(self.text) and (found := cell.match(self.text, at)):
            row.append(found.span(1))
            line += len(re.findall(ends, found[0]))
            at = found.end()
            if found[2] != self.between:
                yield begins, row
                row, begins = [], line


_MARKS = (
    (b"", "utf-8"), (b"\xef\xbb\xbf", "utf-8"), (b"\xff\xfe", "utf-16-le"),
    (b"\xfe\xff", "utf-16-be"), (b"", "utf-16-le"), (b"", "utf-16-be"), (b"", "cp1252"),
)  # fmt: skip


def csv_text(file: str, raw: bytes, columns: tuple[ColumnSpec, ...]) -> CsvText | None:
    """Return a CSV that is to be changed; None where its bytes don't come of its text again.

    Raises:
        LabelerError: if it is no text.
    """
    text, _ = _decode(file, raw)
    grid, _ = read_csv(file, raw, columns)
    start = _find_headings(grid, columns)
    cells = grid.rows[start][1] if start is not None else []
    heads = {one.name: at for at, cell in reversed([*enumerate(cells)])
             if (one := named(columns, folded(str(cell))))}  # fmt: skip
    for mark, encoding in _MARKS:
        with suppress(UnicodeError):
            if mark + text.encode(encoding) == raw:
                return CsvText(text, mark, encoding, _separator(text, columns), heads)
    return None
