"""The line itself, changed by its maker: nothing is written that the catalog would refuse.

What the maker's own spreadsheet holds is changed there. All that is written here was shown before
and is as it was then; what stood before is kept, and can be put back.
"""

from __future__ import annotations

import datetime as dt
import hashlib
import json
import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any

from labeler.catalog.edit import (
    Keys,
    Rows,
    as_it_was,
    there,
    versions,
    with_keys,
    with_rows,
    write_together,
)
from labeler.catalog.model import Catalog
from labeler.catalog.read import examine
from labeler.catalog.spreadsheet.grid import LARGEST_BYTES
from labeler.catalog.structure import CATALOG_NAME, OURS, read_source, source_of
from labeler.files import locked, read_file
from labeler.findings import Finding, Grade, LabelerError, Place, a_few, refusal, stop
from labeler.tomlfile import KeyPath, TomlFile


@dataclass(frozen=True, slots=True)
class LineEdit:
    """A change of the line.

    Attributes:
        folder: the catalog's.
        keys: what keys of the catalog file are to say; None takes one away.
        rows: what cells of products.csv are to say, by SKU and column.
        shown: tables of the catalog file with the `digest` of what they said when it was shown;
            where one says something else by now, nothing is written.
        sure: whether products may be gone for good by it, which is else refused.
    """

    folder: Path
    keys: Keys = field(default_factory=dict)
    rows: Rows = field(default_factory=dict)
    shown: Mapping[KeyPath, str] = field(default_factory=dict)
    sure: bool = False


def digest(value: Any) -> str:
    """Return what tells a value of the catalog file from any other."""
    said = json.dumps(value, sort_keys=True, default=str)
    return hashlib.sha256(said.encode()).hexdigest()[:16]


def stated(source: TomlFile, path: KeyPath) -> Any:
    """Return what the catalog file says at a path; None where it says nothing."""
    value: Any = source.data
    for key in path:
        value = value.get(key) if isinstance(value, dict) else None
    return value


def save_line(edit: LineEdit) -> str:
    """Write a change of the line; return the code of what was kept, "" where nothing changed.

    Raises:
        LabelerError: if the catalog would be refused for something that it is not refused for now;
            if it says otherwise by now than was shown (``line-changed``); if products would be
            gone (``products-vanish``); or if it can't be written.
    """
    folder = edit.folder
    before, was = examine(folder)
    source = read_source(folder)
    moved = [path for path, seen in edit.shown.items() if digest(stated(source, path)) != seen]
    if moved:
        raise refusal(
            "line-changed", source.place(moved[0]), "this was changed elsewhere since it was shown",
            hint="Look at both, and choose.",
        )  # fmt: skip
    files: dict[str, bytes] = {}
    if edit.keys:
        files[CATALOG_NAME] = with_keys(source, edit.keys)
    if edit.rows:
        if before is None:
            raise LabelerError(one for one in was if one.grade is Grade.STOP)
        name = ours(folder)
        files[name] = _rows(edit, before, name)
    return _write(folder, files, (before, was), edit)


def _rows(edit: LineEdit, catalog: Catalog, name: str) -> bytes:
    own = catalog.file.spreadsheet
    if own is not None and Path(own.file).name == name:
        raise refusal(
            "in-your-spreadsheet", Place(file=name),
            "this stands in your own spreadsheet, which is not written to",
            hint="Change it there.",
        )  # fmt: skip
    lines = {
        sku: place.line
        for sku in edit.rows
        for place in catalog.rows.get(sku, ())
        if place.file == name and place.line
    }
    return with_rows(name, there(edit.folder / name), edit.rows, lines)


def ours(folder: Path) -> str:
    """Return the name of products.csv, as the folder spells it."""
    try:
        found = [one.name for one in folder.iterdir() if one.name.casefold() == OURS]
    except OSError:
        found = []
    return min(found, default=OURS)


Read = tuple[Catalog | None, Iterable[Finding]]


def _write(folder: Path, files: Mapping[str, bytes], before: Read, edit: LineEdit | None) -> str:
    """Write files if what comes of them is no worse than what is there."""
    read = {name: there(folder / name) for name in files}
    files = {name: new for name, new in files.items() if new != read[name]}
    if not files:
        if edit is not None and before[0] is not None and (said := _in_her_own(edit, before[0])):
            raise LabelerError(said)
        return ""
    rows = next((new for name, new in files.items() if name != CATALOG_NAME), None)
    raw = files.get(CATALOG_NAME)
    source = read_source(folder) if raw is None else source_of(raw)
    after, found = examine(folder, None, source, rows)
    known = {_of(one) for one in before[1]}
    faults = [one for one in found if one.grade is Grade.STOP and _of(one) not in known]
    if after is not None and edit is not None:
        faults += _in_her_own(edit, after)
        faults += _vanished(before[0], after) if not edit.sure else ()
    if faults:
        hint = "Where your own spreadsheet says it, change it there."
        raise LabelerError(
            replace(one, hint=hint) if one.rule == "files-disagree" else one for one in faults
        )
    with locked(folder):
        if any(read_file(folder / name, LARGEST_BYTES) != old for name, old in read.items() if old):
            raise refusal(
                "line-changed", Place(file=next(iter(files))),
                "this was changed elsewhere just now", hint="Save it once more.",
            )  # fmt: skip
        write_together(folder, files, read)
    return versions(folder)[0].code


def _of(finding: Finding) -> tuple[str, ...]:
    place = finding.place
    return finding.rule, place.file, place.key, finding.message, finding.found


def _in_her_own(edit: LineEdit, after: Catalog) -> list[Finding]:
    """Return what was to be sold again and is not, since her own spreadsheet says so."""
    return [
        stop(
            "in-your-spreadsheet", next(iter(after.rows.get(sku, ())), Place()),
            f"your own spreadsheet says that {sku} is sold no more", hint="Change it there.",
        )
        for sku, cells in edit.rows.items()
        if cells.get("retired") == "" and sku in after.retired
    ]  # fmt: skip


def _vanished(before: Catalog | None, after: Catalog) -> Iterable[Finding]:
    left = {product.sku for product in after.products}.union(after.retired)
    gone = [one.sku for one in before.products if one.sku not in left] if before else []
    if gone:
        yield stop(
            "products-vanish", Place(key="sure"),
            "products would be no more, and a shop that asks for one by its number finds nothing",
            found=f"{len(gone)}: {a_few(gone)}",
            hint="Take them out of the line instead: they are sold no more, and stay known.",
        )  # fmt: skip


@dataclass(frozen=True, slots=True)
class Earlier:
    """The catalog as it was once.

    Attributes:
        code: names it.
        until: when it was changed.
        about: the tables of the catalog file that were changed then, and products.csv.
    """

    code: str
    until: dt.datetime
    about: tuple[str, ...]


def earlier_versions(folder: Path, most: int = 12) -> list[Earlier]:
    """Return what is kept of the catalog, the last first, and what was changed then."""
    now = {CATALOG_NAME: there(folder / CATALOG_NAME), OURS: there(folder / ours(folder))}
    found: list[Earlier] = []
    for version in versions(folder)[:most]:
        about: list[str] = []
        for name, path in version.files.items():
            after, now[name] = now.get(name, b""), read_file(path, LARGEST_BYTES)
            about += _entries(now[name], after) if name == CATALOG_NAME else [name]
        found.append(Earlier(version.code, version.until, tuple(about)))
    return found


def _entries(old: bytes, new: bytes) -> list[str]:
    """Return the entries, by their headings, that differ between two catalog files."""
    then, now = _sections(old), _sections(new)
    return [name for name in dict.fromkeys((*now, *then)) if then.get(name) != now.get(name)]


def _sections(raw: bytes) -> dict[str, list[str]]:
    """Return what stands under each heading, a table within an entry with it; never parsed."""
    found: dict[str, list[str]] = {}
    lines = found.setdefault("", [])
    for line in raw.decode("utf-8", "replace").splitlines():
        if heading := _HEADING.match(line):
            lines = found.setdefault(heading[1], [])
        if line.strip() and not line.startswith("#"):
            lines.append(line)
    return found


_KEY = r'(?:[\w-]+|"(?:[^"\\]|\\.)*"|\'[^\']*\')'
_HEADING = re.compile(rf"\[+\s*({_KEY}(?:\s*\.\s*{_KEY})?)")


def put_back(folder: Path, code: str) -> str:
    """Put the catalog back as it was just before a change; what stands now is kept first.

    Returns:
        The code of what was kept.

    Raises:
        LabelerError: if no such version is kept, or the catalog would be refused for something
            that it is not refused for now.
    """
    files = as_it_was(folder, code)
    if OURS in files:
        files[ours(folder)] = files.pop(OURS)
    return _write(folder, files, examine(folder), None)
