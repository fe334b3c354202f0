"""From the bytes of a CSV to a grid: whatever the encoding, whatever parts the cells."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterator

from labeler.catalog.spreadsheet.cells import Value, is_blank
from labeler.catalog.spreadsheet.columns import Column, named
from labeler.catalog.spreadsheet.grid import MOST_ROWS, WIDEST, Grid
from labeler.catalog.wording import shown
from labeler.findings import Finding, LabelerError, Place, note, stop

LARGEST_BYTES = 20_000_000

_BETWEEN = (",", ";", "\t", "|")
"""What parts cells, likeliest first: a comma, or where it is the decimal sign a semicolon."""

_HEAD_LINES = 40

_SAVE_AS_UTF8 = 'Save it from the spreadsheet as "CSV UTF-8".'


def read_csv(file: str, raw: bytes, columns: tuple[Column, ...]) -> tuple[Grid, list[Finding]]:
    """Return the cells of a CSV, all text, and what is to be said of the file.

    Args:
        file: Its name.
        raw: Its bytes.
        columns: The columns that it may have, by which its separator is told.

    Raises:
        LabelerError: if it is no text, or so broken that its rows cannot be told apart.
    """
    text, findings = _decode(file, raw)
    between = _separator(text, columns)
    rows: list[tuple[int, list[Value]]] = []
    for line, cells in _rows(file, text, between):
        if all(is_blank(cell) for cell in cells):
            continue
        if len(rows) == MOST_ROWS or len(cells) > WIDEST * 10:
            raise LabelerError(_too_long(file, line))
        rows.append((line, list(cells)))
    return Grid(file, rows), findings


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


def _broken(file: str, line: int, said: str) -> Finding:
    place = Place(file=file, line=line)
    if "unexpected end" in said:
        return stop(
            "csv-broken", place, "a text in quotes begins in this row and never ends",
            hint='A quotation mark within a text is written twice: "a 4"" bag".',
        )  # fmt: skip
    if "expected after" in said:
        return stop(
            "csv-broken", place, "something stands behind the closing quotes of a text",
            hint='A quotation mark within a text is written twice: "a 4"" bag".',
        )  # fmt: skip
    if "field larger" in said:
        return stop(
            "csv-broken", place, "a cell is too long to be true",
            expected=f"at most {csv.field_size_limit():,} letters",
            hint="Look for a quotation mark without its fellow.",
        )  # fmt: skip
    return stop("csv-broken", place, "the row cannot be told apart into cells", hint=said)


def _too_long(file: str, line: int) -> Finding:
    return stop(
        "file-too-large",
        Place(file=file, line=line),
        "is too long to be a list of products",
        expected=f"at most {MOST_ROWS:,} rows of {WIDEST} cells",
    )


def _decode(file: str, raw: bytes) -> tuple[str, list[Finding]]:
    if fault := _other_kind(file, raw):
        raise LabelerError(fault)
    for encoding in _encodings(raw):
        try:
            text = raw.decode(encoding)
        except UnicodeDecodeError:
            continue
        findings = [_old_letters(file, raw, text)] if encoding == "cp1252" else []
        return text.removeprefix("\ufeff"), findings
    raise LabelerError(
        stop("csv-not-text", Place(file=file), "is in no encoding known here", hint=_SAVE_AS_UTF8)
    )


def _encodings(raw: bytes) -> tuple[str, ...]:
    if raw[:2] in (b"\xff\xfe", b"\xfe\xff"):
        return ("utf-16",)
    if b"\0" in raw[:200]:
        return ("utf-16-le",) if raw[1:2] == b"\0" else ("utf-16-be",)
    return ("utf-8", "cp1252")


def _other_kind(file: str, raw: bytes) -> Finding | None:
    kinds = {b"PK\x03\x04": "a workbook or an archive", b"\xd0\xcf\x11\xe0": "an old workbook",
             b"%PDF": "a PDF"}  # fmt: skip
    for begin, kind in kinds.items():
        if raw.startswith(begin):
            return stop(
                "csv-not-text", Place(file=file), f"is {kind}, whatever its name says",
                expected="text with one row a line", hint=_SAVE_AS_UTF8,
            )  # fmt: skip
    wide = raw[:2] in (b"\xff\xfe", b"\xfe\xff") or b"\0" in raw[:2]
    if b"\0" in raw and not wide:
        return stop("csv-not-text", Place(file=file), "is no text file", hint=_SAVE_AS_UTF8)
    return None


def _old_letters(file: str, raw: bytes, text: str) -> Finding:
    at = next(place for place, letter in enumerate(raw) if letter > 127)
    line = text.count("\n", 0, at) + 1
    begin, end = text.rfind("\n", 0, at) + 1, text.find("\n", at)
    return note(
        "csv-encoding",
        Place(file=file, line=line),
        "is not UTF-8 and was read as Windows-1252: look whether the accents are right",
        found=shown(text[max(begin, at - 30) : end if end >= 0 else None].strip()[:60]),
        hint=_SAVE_AS_UTF8,
    )


def _separator(text: str, columns: tuple[Column, ...]) -> str:
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
    return max(_BETWEEN, key=lambda between: _known(head, between, columns))


def _known(head: list[str], between: str, columns: tuple[Column, ...]) -> int:
    """Return how many columns the best line names when it is parted by ``between``."""
    counts = [0]
    for line in head:
        cells = line[:_LONGEST_LINE].split(between)
        names = {column.name for cell in cells if (column := named(columns, cell.strip('" ')))}
        counts.append(len(names))
    return max(counts)


_LONGEST_LINE = 5_000
