"""From the maker's own spreadsheet to patterns, colours and rows of the catalog.

A pattern or colour that stands in the spreadsheet and not in ``catalog.toml`` is made from
``[spreadsheet.pattern]``; what ``catalog.toml`` says of one of that name holds beside it.
"""

from __future__ import annotations

import base64
import hashlib
import re
from collections import Counter
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any

from labeler.catalog.model import Spreadsheet
from labeler.catalog.spreadsheet.grid import LARGEST_BYTES, CellGrid, SheetRow, read_sheets
from labeler.catalog.spreadsheet.mapped import MappedSheet, choose_sheet
from labeler.catalog.spreadsheet.own_cells import Remarks, Said, plain, without_accents
from labeler.catalog.spreadsheet.parts import other_parts
from labeler.catalog.values import read_weight
from labeler.files import read_file
from labeler.findings import Finding, Grade, LabelerError, Place, as_written, fix, nearest, note
from labeler.tomlfile import TomlFile, validate
from labeler.units import Weight

PATTERNS, COLOURS = "patterns", "colours"


@dataclass(slots=True)
class OwnSheet:
    """What the maker's own spreadsheet comes to."""

    source: TomlFile
    """The catalog file, with the patterns and colours that stand in the spreadsheet alone."""
    rows: list[SheetRow] = field(default_factory=list)
    findings: list[Finding] = field(default_factory=list)
    files: list[tuple[str, bytes]] = field(default_factory=list)
    """Name and bytes of what was read."""
    by_rows: frozenset[str] = frozenset()
    """The patterns that are made only as the rows say, not in every weight and colour."""


def read_own_sheet(source: TomlFile, folder: Path) -> OwnSheet:
    """Return what the spreadsheet that ``[spreadsheet]`` names comes to; never raises for it."""
    own = OwnSheet(source)
    if not isinstance(source.data.get("spreadsheet"), dict):
        return own
    how, _ = validate(Spreadsheet, source, ("spreadsheet",))
    if how is None:  # the catalog file's own reader tells why
        return own
    place = source.place(("spreadsheet", "file"))
    path = folder / how.file
    try:
        raw = read_file(path, LARGEST_BYTES)
        own.files.append((path.name, raw))
        grids, findings = read_sheets(path.name, raw)
    except LabelerError as error:
        own.findings += [_moved(each, place, folder, how) for each in error.findings]
        return own
    own.findings += findings
    read_grids(own, grids, how, path.name)
    return own


def _moved(finding: Finding, place: Place, folder: Path, how: Spreadsheet) -> Finding:
    """Return what is wrong with the file, told where it is named, with the nearest file."""
    if finding.rule != "file-unreadable":
        return replace(finding, place=place)
    beside = (folder / how.file).parent
    try:
        names = [one.name for one in beside.iterdir() if one.suffix in _SUFFIXES]
    except OSError:
        names = []
    near = nearest(Path(how.file).name, [name for name in names if name.isprintable()])
    hint = f"Did you mean {near!r}?" if near else "Say here where it lies now."
    return replace(finding, place=place, found=as_written(how.file), hint=hint)


_SUFFIXES = (".xlsx", ".xls", ".ods", ".csv", ".xlsm", ".xlsb", ".txt", ".tsv")


def read_grids(own: OwnSheet, grids: Sequence[CellGrid], how: Spreadsheet, name: str) -> None:
    """Read the rows of the products' sheet, and name what they name."""
    grid, findings = choose_sheet(grids, how, name)
    own.findings += findings
    if grid is None:
        return
    table = MappedSheet(grid, how).table
    own.findings += table.findings
    own.rows, more = whole_rows(table.rows, how, own.source.data)
    own.findings += more
    _name_all(own, how)
    own.findings += other_parts(own.rows, own.source.data)


def whole_rows(
    rows: Iterable[SheetRow], how: Spreadsheet, data: Mapping[str, Any]
) -> tuple[list[SheetRow], list[Finding]]:
    """Return the rows that say which jig they are about, and what there is to say of others.

    Args:
        rows: as the sheet has them.
        how: what ``[spreadsheet]`` says.
        data: the catalog file, whose patterns may say in which weights they are made.
    """
    remarks, whole, rows = Remarks(), [], list(rows)
    held = {name for row in rows for name in row.values}
    for row in rows:
        if how.colour and "colour" not in row.values:
            row.values["colour"] = how.colour
        given = _entry(data, PATTERNS, row.values.get("pattern", ""))[1]
        weights: Sequence[Any] = _weights(given.get("weights")) or how.weights
        weights = [row.values["weight"]] if "weight" in row.values else weights
        lacking = [name for name in ("pattern", "colour") if name not in row.values]
        if lacking:
            said = _LACKING[lacking[0]] if lacking[0] in held else _NOWHERE[lacking[0]]
            remarks.add(said, row.place, _named(row))
        elif not weights:
            remarks.add(_WEIGHTLESS, row.place, _named(row))
        else:
            whole += [
                SheetRow(row.place, row.values | {"weight": weight}, dict(row.cells), own=True)
                for weight in weights
            ]
    return whole, remarks.findings()


_WEIGHTLESS = Said(
    "weight-missing", Grade.FIX,
    "these rows give no weight, and a label needs one; they are left out until then",
    hint='weights = ["3/8 oz"] under [spreadsheet] says it for all of them, under [patterns.NAME] '
    "for one pattern.",
)  # fmt: skip
_LACKING = {
    name: Said(
        "row-incomplete", Grade.FIX,
        f"these rows do not say which {name} they are about; they are left out until then",
        hint=f'fill_down = ["{name}"] under [spreadsheet] reads it from the row above.',
    )
    for name in ("pattern", "colour")
}  # fmt: skip
_NOWHERE = {
    "colour": replace(
        _LACKING["colour"],
        hint='colour = "Natural" under [spreadsheet] gives all of them that color, and labels '
        "print its name; say yours.",
    ),
    "pattern": replace(
        _LACKING["pattern"],
        hint='"Product" = "pattern" under [spreadsheet.headings], with your own heading, says '
        "which column has the names.",
    ),
}


def _weights(stated: Any) -> list[Weight]:
    try:
        return [read_weight(one) for one in stated] if isinstance(stated, list) else []
    except ValueError:
        return []  # the catalog file's own reader tells why


def _named(row: SheetRow) -> str:
    names = [row.values[name] for name in ("pattern", "colour") if name in row.values]
    return as_written(", ".join(names)) if names else ""


def _entry(data: Mapping[str, Any], table: str, text: str) -> tuple[str, Mapping[str, Any]]:
    """Return the entry of a table that a cell means, by its heading, code or name, with its key."""
    entries = data.get(table)
    if text and isinstance(entries, dict):
        tables = {key: one for key, one in entries.items() if isinstance(one, dict)}
        for way in (None, "code", "name"):
            for key, one in tables.items():
                if plain(str(one.get(way, "") if way else key)) == plain(text):
                    return key, one
    return "", {}


def spellings(rows: Iterable[SheetRow], name: str) -> dict[str, list[str]]:
    """Return the ways to write each name of a field, by its plain letters.

    The commonest, which is printed, goes first; of those as common the one that stands first.
    """
    counted: dict[str, Counter[str]] = {}
    for row in rows:
        if text := row.values.get(name):
            counted.setdefault(plain(text), Counter())[text] += 1
    return {key: [way for way, _ in ways.most_common()] for key, ways in counted.items()}


def _name_all(own: OwnSheet, how: Spreadsheet) -> None:
    """Give every row the keys of its pattern and colour, and the catalog those it lacks."""
    data = dict(own.source.data)
    defaults = data["spreadsheet"].get("pattern", {})
    stated = {name: data.get(name) for name in (PATTERNS, COLOURS)}
    tables = {name: dict(one) if isinstance(one, dict) else {} for name, one in stated.items()}
    codes = {PATTERNS: how.codes.patterns, COLOURS: how.codes.colours}
    for table, field_name in ((PATTERNS, "pattern"), (COLOURS, "colour")):
        keys: dict[str, str] = {}
        asked = find_renamed(own.rows, field_name, codes[table], tables[table])
        own.findings += [finding for _, finding in asked.values()]
        for folded_name, ways in spellings(own.rows, field_name).items():
            name = ways[0]
            key, given = _entry(own.source.data, table, name)
            keys[folded_name] = key = key or name[:60].strip()
            made = {
                "code": code_of(given.get("name", name), codes[table], tables[table]),
                "name": name,
            }
            tables[table][key] = (defaults if table == PATTERNS else {}) | made | dict(given)
        for row in own.rows:
            if text := row.values.get(field_name):
                row.values[field_name] = keys[plain(text)]
    by_rows = set()
    for key, entry in tables[PATTERNS].items():
        rows = [row for row in own.rows if row.values.get("pattern") == key]
        if not rows:
            continue
        if not ("weights" in entry and "colours" in entry):
            by_rows.add(key)
        weights = sorted(row.values["weight"] for row in rows)
        colours = [row.values["colour"] for row in rows if "colour" in row.values]
        entry.setdefault("weights", list(dict.fromkeys(map(str, weights))))
        entry.setdefault("colours", list(dict.fromkeys(colours)))
    own.by_rows = frozenset(by_rows)
    own.findings += _left_behind(own, tables, codes)
    own.source = replace(own.source, data=data | {name: one for name, one in tables.items() if one})


def _left_behind(
    own: OwnSheet, tables: dict[str, dict[str, Any]], codes: Mapping[str, Mapping[str, str]]
) -> Iterator[Finding]:
    """Let entries whose rows have left the spreadsheet stand, and tell them; they stop nothing."""
    for table, whole in ((PATTERNS, {"weights", "colours"}), (COLOURS, {"code", "name"})):
        for key, entry in list(tables[table].items()):
            if not isinstance(entry, dict) or whole <= entry.keys():
                continue
            if table == PATTERNS:
                del tables[table][key]
                what = "pattern"
            else:
                code = code_of(entry.get("name", key), codes[table], tables[table])
                tables[table][key] = {"code": code, "name": key} | entry
                what = "color"
            yield note(
                "left-behind", own.source.place((table, key)),
                f"no row of your spreadsheet is of this {what}, so nothing is made of it",
                found=as_written(key),
            )  # fmt: skip


def find_renamed(
    rows: Iterable[SheetRow],
    name: str,
    recorded: Mapping[str, str],
    entries: Mapping[str, Any],
) -> dict[str, tuple[str, Finding]]:
    """Return names that may be another's that is in the sheet no more: that, and what to ask.

    Its SKUs would be others, and the lots and labels of the old ones no longer its own.

    Args:
        rows: of the sheet.
        name: the field, pattern or colour.
        recorded: names and their codes in ``[spreadsheet.codes]``.
        entries: the catalog's table of such names, whose codes are the maker's.
    """
    now = spellings(rows, name)
    known = {plain(each) for each in (*recorded, *entries)}
    known |= {plain(str(each.get("name", ""))) for each in entries.values()}
    gone = [old for old in recorded if plain(old) not in now]
    fresh = [ways[0] for key, ways in now.items() if key not in known]
    asked: dict[str, tuple[str, Finding]] = {}
    for new in fresh:
        alike = [old for old in gone if plain(old) in plain(new) or plain(new) in plain(old)]
        old = alike[0] if alike else nearest(new, gone)
        if not old and len(gone) == len(fresh) == 1:
            old = gone[0]
        if not old:
            continue
        place = next(row.cell(name) for row in rows if row.values.get(name) == new)
        asked[new] = old, fix(
            "perhaps-renamed", place,
            f"no code is on record for this {name}, and {as_written(old)} is in your spreadsheet "
            "no more: is it the same by another name? Its lots and labels go by its code",
            found=as_written(new), expected=f'"{new}" = "{recorded[old]}", if it is the same',
            hint=f"That line, or one with a code of its own, goes under [spreadsheet.codes.{name}s]"
            " in catalog.toml.",
        )  # fmt: skip
    return asked


LONGEST_CODE = 12


def code_of(name: str, recorded: Mapping[str, str], entries: Mapping[str, Any]) -> str:
    """Return the part of a SKU that stands for a name: the recorded one, or one made of it alone.

    What else is in the spreadsheet never changes it, so that rows may come, go and move. A name
    too long, or with letters that a SKU cannot have, ends in a part of its SHA-256.

    Args:
        name: as the maker writes it.
        recorded: names and their codes in ``[spreadsheet.codes]``.
        entries: the catalog's table of such names.
    """
    for known, code in recorded.items():
        if plain(known) == plain(name):
            return code
    letters = without_accents(name).upper()
    code = re.sub("[^A-Z0-9]", "", letters)
    taken = set(recorded.values())
    if code.casefold() == plain(name) and len(code) <= LONGEST_CODE and code not in taken:
        return code
    digest = base64.b32encode(hashlib.sha256(plain(name).encode()).digest()).decode()
    return code[: LONGEST_CODE - _HASHED] + digest[:_HASHED]


_HASHED = 4
"""Letters of five bits each. Of a hundred long names that begin alike two fall together once in two
hundred times (2 to the power of 20 endings); that is then told as one SKU twice."""


def tell_once(source: TomlFile, findings: Sequence[Finding]) -> list[Finding]:
    """Return findings with those on patterns that stand in the spreadsheet alone told once.

    What is wrong with such a pattern stands in ``[spreadsheet.pattern]``.

    Args:
        source: the catalog file as the maker wrote it.
        findings: of the catalog with the spreadsheet's patterns and colours.
    """
    told: dict[Finding, None] = {}
    for finding in findings:
        if found := _ENTRY.fullmatch(finding.place.key):
            table, quoted, bare, key = found.groups()
            if (quoted or bare) in source.data.get(table, {}):
                pass
            elif table == PATTERNS:
                path = ("spreadsheet", "pattern", *filter(None, [key]))
                finding = replace(finding, place=source.place(path))
            else:
                place = replace(source.place(("spreadsheet",)), key=finding.place.key)
                finding = replace(finding, place=place)
        told[finding] = None
    return list(told)


_ENTRY = re.compile(rf'({PATTERNS}|{COLOURS})\.(?:"(.+?)"|([\w-]+))(?:\.(\w+).*)?')
