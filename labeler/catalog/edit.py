"""Changing a catalog's own files: keys of ``catalog.toml``, rows of ``products.csv``.

Comments, order and all that is not changed stay byte for byte. What stood there before is kept in
the folder, and can be put back. Several files are written all or none.
"""

from __future__ import annotations

import base64
import csv
import datetime as dt
import hashlib
import io
import json
import re
import tomllib
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from contextlib import ExitStack, suppress
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from labeler.catalog.spreadsheet.cells import PRODUCT_COLUMNS
from labeler.catalog.spreadsheet.grid import CsvText, csv_text
from labeler.catalog.structure import CATALOG_NAME, OURS
from labeler.files import delivered, locked, looked_at, read_file
from labeler.findings import Finding, LabelerError, Place, fix, refusal, stop
from labeler.tomlfile import KeyPath, TomlFile

Keys = Mapping[KeyPath, Any]
"""Keys of the catalog file, each with what it is to say; None takes it away."""

Rows = Mapping[str, Mapping[str, str]]
"""SKUs, each with what cells of its row are to say, by the names of columns; "" is a blank."""


# ---------------------------------------------------------------------------- the catalog file


def changed(source: TomlFile, change: Callable[[Any], None]) -> bytes:
    """Return the catalog file after a change, its comments and all else as they are.

    Args:
        source: the file.
        change: changes a tomlkit document.

    Raises:
        LabelerError: if the file can't be edited.
    """
    import tomlkit  # only where a catalog is written
    from tomlkit.exceptions import TOMLKitError

    text = source.text
    dos = "\r\n" in text and text.count("\n") == text.count("\r\n")
    try:
        document: Any = tomlkit.parse(text if text.endswith("\n") else text + "\n")
        change(document)
        made = tomlkit.dumps(document)
    except (TOMLKitError, AttributeError, LookupError, TypeError, ValueError) as error:
        raise refusal(
            "file-unreadable", Place(file=source.name), f"this file can't be edited: {error}"
        ) from error
    if dos:
        made = re.sub("\r?\n", "\r\n", made)
    mark = b"\xef\xbb\xbf" if source.raw.startswith(b"\xef\xbb\xbf") else b""
    return mark + made.encode("utf-8")


def with_keys(source: TomlFile, keys: Keys) -> bytes:
    """Return the catalog file with other values at some keys; what they said before stays if same.

    Raises:
        LabelerError: if the file can't be edited, or would then not say just what was asked.
    """
    spelled = {source.written(path): value for path, value in keys.items()}
    due = tomllib.loads(source.text)

    def change(document: Any) -> None:
        for path, value in spelled.items():
            put(document, path, value)

    made = changed(source, change)
    with suppress(ValueError, TypeError, LookupError):
        for path, value in spelled.items():
            _state(due, path, value)
        if tomllib.loads(made.decode("utf-8-sig")) == due:
            return made
    raise refusal(
        "file-unreadable", source.place(next(iter(keys))),
        "this file is written in a way that can't be edited here without harm",
        hint="Change this key in a text editor; nothing was written.",
    )  # fmt: skip


def _state(data: Any, path: KeyPath, value: Any) -> None:
    """Make plain values say what a key is to."""
    for key in path[:-1]:
        data = data.setdefault(key, {}) if isinstance(data, dict) else data[key]
    if value is not None:
        data[path[-1]] = value
    elif isinstance(data, dict):
        data.pop(path[-1], None)
    else:
        del data[path[-1]]


def put(document: Any, path: KeyPath, value: Any) -> None:
    """Make a key of a tomlkit document say a value; tables that are not there yet are made.

    Args:
        document: as tomlkit has it.
        path: the key.
        value: plain; None takes the key away.
    """
    missing = next(
        (at for at in range(len(path)) if not _has(_at(document, path[:at]), path[at])), None
    )
    if missing is not None and value is None:
        return
    if missing is not None and missing < len(path) - 1:
        for key in reversed(path[missing + 1 :]):
            value = {key: value}
        path = path[: missing + 1]
    table = _at(document, path[:-1])
    if value is None:
        del table[path[-1]]
    elif missing is None:
        _renew(table, path[-1], value)
    else:
        _add(document, path, value)


def _at(table: Any, path: KeyPath) -> Any:
    for key in path:
        table = table[key]
    return table


def _has(table: Any, key: str | int) -> bool:
    return key in table if isinstance(key, str) else key < len(table)


def _plain(value: Any) -> Any:
    return value.unwrap() if hasattr(value, "unwrap") else value


def _renew(table: Any, key: str | int, value: Any) -> None:
    """Make a key that is there say a value, changing no line that says so already."""
    from tomlkit.items import InlineTable

    there = table[key]
    if _plain(there) == value and type(_plain(there)) is type(value):
        return
    if isinstance(value, dict) and isinstance(there, InlineTable) and set(value) != set(there):
        table[key] = _written(value)
    elif isinstance(value, dict) and isinstance(there, dict):
        for gone in [one for one in there if one not in value]:
            del there[gone]
        for name, inner in value.items():
            if name in there:
                _renew(there, name, inner)
            else:
                _insert(there, name, inner)
    elif isinstance(value, list) and isinstance(there, list):
        _renew_list(there, value)
    else:
        table[key] = _written(value)


def _renew_list(there: Any, value: list[Any]) -> None:
    """Make a list say a value, leaving what stands alike at both its ends."""
    old = [_plain(one) for one in there]
    most = min(len(old), len(value))
    start = next((at for at in range(most) if old[at] != value[at]), most)
    most -= start
    end = next((at for at in range(most) if old[-1 - at] != value[-1 - at]), most)
    for _ in range(len(old) - len(value)):
        del there[start]
    for at in range(start, len(value) - end):
        if at < len(old) - end:
            same = isinstance(old[at], dict) and set(value[at]) == set(_plain(there[at]))
            if same or not isinstance(value[at], dict) or not hasattr(there, "add_line"):
                _renew(there, at, value[at])
            else:
                there[at] = _written(value[at])
        else:
            there.insert(at, _written(value[at]) if hasattr(there, "add_line") else value[at])


def _written(value: Any) -> Any:
    """Return a value as it is written: a table on one line, a long text on several."""
    import tomlkit

    if isinstance(value, dict):
        return tomlkit.value(toml_text(value)) if value else tomlkit.inline_table()
    if isinstance(value, str) and "\n" in value:
        return tomlkit.string(value, multiline=True)
    if isinstance(value, list) and value and all(isinstance(one, dict) for one in value):
        rows = tomlkit.array()
        for one in value:
            rows.add_line(_written(one), indent="  ")
        rows.add_line(indent="")
        return rows
    return value


def toml_text(value: Any) -> str:
    """Return a value as TOML has it on one line."""
    import tomlkit

    if isinstance(value, Mapping):
        inside = ", ".join(f"{toml_key(key)} = {toml_text(one)}" for key, one in value.items())
        return f"{{ {inside} }}"
    if isinstance(value, list | tuple):
        return "[" + ", ".join(map(toml_text, value)) + "]"
    return tomlkit.item(value if isinstance(value, bool | int | str) else str(value)).as_string()


def toml_key(key: str) -> str:
    """Return a key as TOML has it, in quotes where it needs them."""
    return key if re.fullmatch(r"[A-Za-z0-9_-]+", key) else toml_text(key)


_SECTIONS = 2
"""Keys of the path of a table with a heading of its own: ``[colours.marsh]``."""


def _add(document: Any, path: KeyPath, value: Any) -> None:
    """Put a key where there is none yet: before the remarks that belong to what comes next."""
    import tomlkit
    from tomlkit.items import InlineTable

    table, key = _at(document, path[:-1]), path[-1]
    if isinstance(table, InlineTable):
        _renew(_at(document, path[:-2]), path[-2], {**_plain(table), key: value})
        return
    if len(path) > _SECTIONS or not isinstance(value, dict):
        _insert(table, key, value)
        return
    made = tomlkit.table(is_super_table=len(path) < _SECTIONS)
    if len(path) < _SECTIONS:
        document.append(key, made)
        for name, inner in value.items():
            _add(document, (*path, name), inner)
        return
    for name, inner in value.items():
        made.append(name, _written(inner))
    tail = _take_tail(table)
    (table._tables[-1] if hasattr(table, "_tables") else table).append(key, made)
    made.value.body.extend(tail)


def _take_tail(table: Any) -> list[Any]:
    """Take away the blank lines and remarks at a table's end, but for one blank line."""
    import tomlkit
    from tomlkit.items import AoT, Table

    while True:
        if hasattr(table, "_tables"):  # its parts stand apart in the file
            table = table._tables[-1]
        body = table.value.body if isinstance(table, Table) else table.body
        if not body or not isinstance(body[-1][1], Table | AoT):
            break
        table = body[-1][1]
        if isinstance(table, AoT):
            table = table[-1]
    tail: list[Any] = []
    while body and body[-1][0] is None:
        tail.insert(0, body.pop())
    body.append((None, tomlkit.ws("\n")))
    return tail or [(None, tomlkit.ws("\n"))]


def _insert(table: Any, key: Any, value: Any) -> None:
    """Put a key into a table, behind its last one."""
    import tomlkit
    from tomlkit.items import AoT, Table

    if not isinstance(table, Table):
        table[key] = _written(value)
        return
    body = table.value
    plain = [
        name for name, one in body.body if name is not None and not isinstance(one, Table | AoT)
    ]
    item = tomlkit.item(_written(value))
    if plain:
        body._insert_after(plain[-1], tomlkit.key(key), item)
        if not item.trivia.trail.endswith("\n"):
            item.trivia.trail += "\n"
    else:
        table.append(key, item)


# ------------------------------------------------------------------------------ products.csv


def with_rows(file: str, raw: bytes, rows: Rows, lines: Mapping[str, int]) -> bytes:
    """Return a CSV of products with other cells in some rows, and every other byte as it was.

    Args:
        file: its name.
        raw: its bytes; empty where there is none yet.
        rows: what is to change.
        lines: of each SKU whose row does not name it, the row's line.

    Raises:
        LabelerError: if it is no text that can be written again.
    """
    columns = list(dict.fromkeys(name for cells in rows.values() for name in cells))
    if not raw.strip():
        heads = ["SKU", *(name.capitalize() for name in columns)]
        return "".join(
            _row(line, ",", "\r\n")
            for line in (heads, *([sku, *(of.get(c, "") for c in columns)]
                                  for sku, of in rows.items() if any(of.values())))
        ).encode()  # fmt: skip
    form = csv_to_edit(file, raw, "sku")
    end = next((one for one in ("\r\n", "\n", "\r") if one in form.text), "\r\n")
    every = list(form.spans())
    places, edits = dict(form.heads), list[tuple[int, int, str]]()
    if new := [name for name in columns if name not in places]:
        head = next(spans for _, spans in every if len(spans) > max(places.values()))
        places |= {name: len(head) + at for at, name in enumerate(new)}
        said = form.between.join(["", *(name.capitalize() for name in new)])
        edits.append((head[-1][1], head[-1][1], said))
    where = _rows_of(form, every, lines)
    added = ""
    for sku, cells in rows.items():
        if sku in where:
            said_at = {places[name]: text for name, text in cells.items()}
            edits += _in_row(where[sku], said_at, form.between)
        elif any(cells.values()):
            texts = {places[name]: text for name, text in {"sku": sku, **cells}.items()}
            filled = (texts.get(at, "") for at in range(1 + max(places.values())))
            added += _row(filled, form.between, end)
    made = spliced(form.text, edits)
    made += end if added and not made.endswith(("\n", "\r")) else ""
    return form.mark + (made + added).encode(form.encoding)


def csv_to_edit(file: str, raw: bytes, column: str) -> CsvText:
    """Return a CSV of products that has a column, to change cells of it.

    Raises:
        LabelerError: if it is no text that can be written again, or lacks the column.
    """
    form = csv_text(file, raw, PRODUCT_COLUMNS)
    if form is None or column not in form.heads:
        raise refusal(
            "file-unreadable", Place(file=file), "this file can't be edited without harm to it",
            hint='Save it from the spreadsheet as "CSV UTF-8".',
        )  # fmt: skip
    return form


def spliced(text: str, edits: Iterable[tuple[int, int, str]]) -> str:
    """Return a text with others in the place of some of its letters.

    Args:
        text: the whole.
        edits: first letter, the one after the last, and what is to stand there; none overlap.
    """
    made, done = "", 0
    for start, end, other in sorted(edits):
        made += text[done:start] + other
        done = end
    return made + text[done:]


Spans = list[tuple[int, int]]


def _rows_of(
    form: CsvText, every: Iterable[tuple[int, Spans]], lines: Mapping[str, int]
) -> dict[str, Spans]:
    """Return the cells of each SKU's row, whether it names the SKU or stands on its line."""
    found: dict[str, Spans] = {}
    by_line = {line: sku for sku, line in lines.items()}
    at = form.heads["sku"]
    for line, spans in every:
        named = form.text[slice(*spans[at])].strip(' "').upper() if at < len(spans) else ""
        found.setdefault(named or by_line.get(line, ""), spans)
    return found


def _in_row(
    spans: Sequence[tuple[int, int]], cells: Mapping[int, str], between: str
) -> Iterator[tuple[int, int, str]]:
    """Yield what to write in the place of which letters, that a row's cells say something else."""
    beyond = {at: text for at, text in cells.items() if at >= len(spans) and text}
    for at, text in cells.items():
        if at < len(spans):
            yield (*spans[at], _row([text], between, ""))
    if beyond:
        texts = [beyond.get(at, "") for at in range(len(spans), 1 + max(beyond))]
        yield spans[-1][1], spans[-1][1], between + _row(texts, between, "")


def _row(cells: Iterable[str], between: str, end: str) -> str:
    text = io.StringIO(newline="")
    csv.writer(text, delimiter=between, lineterminator=end).writerow(cells)
    return "" if text.getvalue() == f'""{end}' and not end else text.getvalue()


# ------------------------------------------------------------- written once, all of it or nothing

HALF, DONE = ".price-change.json", ".price-changes.json"
"""What is being written just now, with all its contents; and what prices were changed of late."""


def write_together(folder: Path, files: Mapping[str, bytes], read: Mapping[str, bytes]) -> None:
    """Write files of a catalog, all or none; what a kill breaks off the next command completes.

    What stood in them is kept first. A file that is to hold nothing goes.

    Args:
        folder: the catalog's, locked.
        files: the new contents by name.
        read: the old ones, empty where there is no such file.

    Raises:
        LabelerError: if they can't be written.
    """
    _keep(folder, {name: read[name] for name in files})
    steps = [
        {"name": name, "before": _sum(read[name]), "after": _sum(new),
         "new": base64.b64encode(new).decode("ascii")}
        for name, new in files.items()
    ]  # fmt: skip
    with delivered(folder / HALF) as file:
        file.write(json.dumps(steps).encode())
    try:
        with ExitStack() as all_of_them:
            for name, new in files.items():
                if new:
                    all_of_them.enter_context(delivered(folder / name)).write(new)
        for name, new in files.items():
            if not new:
                (folder / name).unlink(missing_ok=True)
    except LabelerError:
        if all(_sum(there(folder / name)) == _sum(read[name]) for name in files):
            (folder / HALF).unlink()  # none of them has its name yet
        raise
    (folder / HALF).unlink()


def complete(folder: Path) -> list[Finding]:
    """Complete a change of a catalog that was broken off, if there is one.

    Returns:
        What is to be said of it; a stop where it can't be completed, since half of it holds.
    """
    if not (folder / HALF).exists():
        return []
    try:
        with locked(folder):
            if not (folder / HALF).exists():  # another command was at it
                return []
            edited = _complete(folder)
    except (OSError, ValueError, KeyError, TypeError, LabelerError) as error:
        why = error.findings[0].message if isinstance(error, LabelerError) else str(error)
        return [
            stop("price-change-half", Place(file=HALF), "a change of prices or of the line was "
                 "broken off, and can't be completed: perhaps half of it holds", found=why,
                 hint="Let the folder be written to and give the command again. If that does not "
                 "help, take this file away and look at all prices: labeler prices")
        ]  # fmt: skip
    if edited:
        return [
            fix("price-change-half", Place(file=edited[0]), "a change of prices or of the line was "
                "broken off, and this was edited since, so it stays as it is now",
                found=", ".join(edited), hint="Look at all prices: labeler prices")
        ]  # fmt: skip
    return [
        fix("price-change-completed", Place(file=CATALOG_NAME),
            "a change of prices or of the line that was broken off is complete now")
    ]  # fmt: skip


def _complete(folder: Path) -> list[str]:
    """Write what is not written yet; return the files that were edited since."""
    edited = []
    for step in json.loads(read_file(folder / HALF, _LARGEST)):
        name, new = str(step["name"]), base64.b64decode(step["new"])
        if name.casefold() not in (CATALOG_NAME, OURS, DONE):
            raise ValueError(f"it names {name}")
        now = _sum(there(folder / name))
        if now == step["before"] and new:
            with delivered(folder / name) as file:
                file.write(new)
        elif now == step["before"]:
            (folder / name).unlink(missing_ok=True)
        elif now != step["after"]:
            edited.append(name)
    (folder / HALF).unlink()
    return edited


_LARGEST = 100_000_000


def there(file: Path) -> bytes:
    """Return what a file holds; nothing where there is none."""
    return file.read_bytes() if file.exists() else b""


def _sum(raw: bytes) -> str:
    return hashlib.sha256(raw).hexdigest()


# ------------------------------------------------------------------------------ earlier versions

VERSIONS = ".versions"
"""The folder of what stood in the files before each change; no catalog is read from it."""

MOST_KEPT, MOST_BYTES = 400, 60_000_000
"""Files beyond which the oldest go: years of evenings. A house limit."""

_KEPT = re.compile(
    r"(\d{4}-\d\d-\d\dT\d{6}\.\d{6}Z)-([0-9a-f]{12})"
    rf"\.({re.escape(CATALOG_NAME)}|{re.escape(OURS)})"
)
_FORM = "%Y-%m-%dT%H%M%S.%fZ"


@dataclass(frozen=True, slots=True)
class Version:
    """The catalog as it was before a change.

    Attributes:
        code: names it.
        until: when it was changed.
        files: what stood in the files that the change was to.
    """

    code: str
    until: dt.datetime
    files: Mapping[str, Path]


def versions(folder: Path) -> list[Version]:
    """Return the earlier versions of a catalog, the last first."""
    found: dict[str, dict[str, Path]] = {}
    looked_at(folder / VERSIONS, "*")
    for path in _kept(folder):
        at, _, name = _KEPT.fullmatch(path.name).groups()  # type: ignore[union-attr]
        found.setdefault(at, {})[name] = path
    return [Version(at, _time(at), files) for at, files in sorted(found.items(), reverse=True)]


def as_it_was(folder: Path, code: str) -> dict[str, bytes]:
    """Return what stood in the files of a catalog just before a change.

    A file that the change was not to stood as the next change after it found it, or stands so.

    Raises:
        LabelerError: if there is no such version, or it is damaged.
    """
    known = versions(folder)
    if code not in [one.code for one in known]:
        raise refusal(
            "version-unknown", Place(), "this earlier version is kept no more",
            hint="Choose one of those that are listed.",
        )  # fmt: skip
    files: dict[str, bytes] = {}
    for version in known:
        if version.code >= code:
            for name, path in version.files.items():
                files[name] = read_file(path, _LARGEST)
                if _sum(files[name])[:12] != _KEPT.fullmatch(path.name)[2]:  # type: ignore[index]
                    raise refusal(
                        "version-damaged", Place(file=path.name),
                        "this earlier version is not what was kept: its file was changed",
                        hint="Choose another one.",
                    )  # fmt: skip
    return files


def _time(code: str) -> dt.datetime:
    return dt.datetime.strptime(code, _FORM).replace(tzinfo=dt.UTC)


def _kept(folder: Path) -> list[Path]:
    try:
        found = [one for one in (folder / VERSIONS).iterdir() if _KEPT.fullmatch(one.name)]
    except OSError:
        return []
    return sorted(found)


def _keep(folder: Path, files: Mapping[str, bytes]) -> None:
    """Keep what stands in files, under the time and the start of its SHA-256."""
    files = {name.casefold(): raw for name, raw in files.items() if name.casefold() != DONE}
    if not files:
        return
    with suppress(FileExistsError):
        (folder / VERSIONS).mkdir()
    before = _kept(folder)
    now = dt.datetime.now(dt.UTC)
    if before:
        last = _time(before[-1].name.partition("Z-")[0] + "Z")
        now = max(now, last + dt.timedelta(microseconds=1))  # a clock may be put back
    for name, raw in files.items():
        with delivered(folder / VERSIONS / f"{now:{_FORM}}-{_sum(raw)[:12]}.{name}") as file:
            file.write(raw)
    _let_go(before)


def _let_go(kept: Sequence[Path]) -> None:
    """Take the oldest away where more are kept than there is room for."""
    room, left = MOST_BYTES, MOST_KEPT
    for path in reversed(kept):
        with suppress(OSError):
            room, left = room - path.stat().st_size, left - 1
            if room < 0 or left < 0:
                path.unlink()
