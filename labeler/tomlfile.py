"""From the bytes of ``catalog.toml`` to plain values, each with its line; or what is wrong."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from functools import cached_property
from pathlib import Path
from typing import Any

import tree_sitter
import tree_sitter_toml

from labeler.findings import Finding, LabelerError, Place, did_you_mean, shown, stop
from labeler.units import Length

# ----------------------------------------------------------------------------
# On which line of a TOML file every key stands: what tomllib does not tell.
#
# The values are tomllib's business. Here the file is only looked over by a second parser that keeps
# places, so a file that tomllib has refused still gets the best map that can be had.

KeyPath = tuple[str | int, ...]
"""Keys from the top of the file down; a number is a place in a list, counted from nought."""

_PARSER = tree_sitter.Parser(tree_sitter.Language(tree_sitter_toml.language()))
_KEYS = ("bare_key", "quoted_key", "dotted_key")
_BARE = re.compile(r"[A-Za-z0-9_-]+")


@dataclass(frozen=True, slots=True)
class Twice:
    """A key that stands in the file a second time. Lines count from one."""

    path: KeyPath
    first: int
    second: int


@dataclass(slots=True)
class KeyLines:
    """Key paths and their lines, counted from one."""

    lines: dict[KeyPath, int] = field(default_factory=dict)
    twice: list[Twice] = field(default_factory=list)
    _rows_in: dict[KeyPath, int] = field(default_factory=dict)
    """How many times a list of tables has been headed."""

    def line(self, path: KeyPath) -> int:
        """Return the line of ``path``, or of the nearest table around it, or 1.

        A table such as [colours] needs no heading of its own where [colours.marsh] has one; its
        line is that of the first thing in it.
        """
        for end in range(len(path), 0, -1):
            if path[:end] in self.lines:
                return self.lines[path[:end]]
        inside = self.lines.items() if len(path) == 1 else ()
        return min((line for known, line in inside if known[:1] == path), default=1)

    def _note(self, path: KeyPath, line: int, *, stated: bool) -> None:
        if stated and path in self.lines:
            self.twice.append(Twice(path, self.lines[path], line))
        self.lines.setdefault(path, line)

    def _enter(self, keys: list[str], *, row: bool) -> KeyPath:
        """Return the path of a heading; a list of tables on the way means its last row."""
        path: KeyPath = ()
        for place, key in enumerate(keys):
            path = (*path, key)
            if row and place == len(keys) - 1:
                self._rows_in[path] = self._rows_in.get(path, 0) + 1
            if path in self._rows_in:
                path = (*path, self._rows_in[path] - 1)
        return path

    def _read_heading(self, node: tree_sitter.Node) -> None:
        keys = [key for child in node.children if child.type in _KEYS for key in _parts(child)]
        path = self._enter(keys, row=node.type == "table_array_element")
        self._note(path, _line(node), stated=node.type == "table")
        for child in node.children:
            if child.type == "pair":
                self._read_pair(child, path)

    def _read_pair(self, node: tree_sitter.Node, above: KeyPath) -> None:
        path = above
        keys = [key for child in node.children if child.type in _KEYS for key in _parts(child)]
        for place, key in enumerate(keys):
            path = (*path, key)
            self._note(path, _line(node), stated=place == len(keys) - 1)
        self._read_value(node.children[-1], path)

    def _read_value(self, node: tree_sitter.Node, path: KeyPath) -> None:
        if node.type == "inline_table":
            for child in node.named_children:
                if child.type == "pair":
                    self._read_pair(child, path)
        elif node.type == "array":
            items = [child for child in node.named_children if child.type != "comment"]
            for place, child in enumerate(items):
                self._note((*path, place), _line(child), stated=False)
                self._read_value(child, (*path, place))


def locate_keys(text: str) -> KeyLines:
    """Return where every key of ``text`` stands. Nesting must be known to be shallow."""
    found = KeyLines()
    for node in _PARSER.parse(text.encode()).root_node.children:
        if node.type in ("table", "table_array_element"):
            found._read_heading(node)
        elif node.type == "pair":
            found._read_pair(node, ())
    return found


def key_text(path: KeyPath) -> str:
    """Return ``path`` as a maker would write it: ``patterns.river-vesper.weights[2]``."""
    words = ""
    for key in path:
        if isinstance(key, int):
            words += f"[{key}]"
        else:
            words += ("." if words else "") + (key if _BARE.fullmatch(key) else _quoted(key))
    return words


def _quoted(key: str) -> str:
    return '"' + shown(key.replace("\\", "\\\\").replace('"', '\\"')) + '"'


def _line(node: tree_sitter.Node) -> int:
    return node.start_point.row + 1


def _parts(node: tree_sitter.Node) -> list[str]:
    """Return the keys of a dotted key, which the parser nests to the left."""
    parts: list[str] = []
    waiting = [node]
    while waiting:
        one = waiting.pop()
        if one.type == "dotted_key":
            waiting += [child for child in one.children if child.type in _KEYS]
        else:
            parts.insert(0, _spoken(one.text or b""))
    return parts


def _spoken(raw: bytes) -> str:
    """Return the key that ``raw`` writes, quotes and escapes undone."""
    text = raw.decode(errors="replace")
    if _BARE.fullmatch(text):
        return text
    try:
        return next(iter(tomllib.loads(f"{text} = 0")))
    except (tomllib.TOMLDecodeError, StopIteration):
        return text


# ----------------------------------------------------------------------------
# What tomllib says of an unsound file, in a maker's words, with the line that it stands on.

_SPOT = re.compile(r"\(at (?:line (\d+), column (\d+)|end of document)\)$")

_DOUBLED = ("Cannot", "Duplicate")
_NEVER_CLOSED = ("Unterminated string", "Expected \"'")

_IN_PLAIN_WORDS = (
    ("Invalid value", "a value is expected here", 'Text stands in quotes: "River Vesper".'),
    (
        "Expected newline or end of document",
        "the line goes on after its value has ended",
        'One key a line; fractions and other text stand in quotes: "3/8 oz".',
    ),
    (
        "Expected '='",
        "a key is followed by = and a value",
        "A key with a space or an accent in it stands in quotes.",
    ),
    (
        "Invalid initial character for a key part",
        "a key is expected here",
        "A key is of letters, digits, - and _; any other stands in quotes.",
    ),
    ("Invalid statement", "a key, a [table] or a # comment is expected here", ""),
    ("Expected ']", "the heading of a table is not closed", "It is written [name] or [[name]]."),
    ("Unclosed array", "a list is not closed, or lacks a comma", "Look for its [ further up."),
    (
        "Unclosed inline table",
        "a table in braces is not closed, or lacks a comma",
        "It stands on one line: { name = 1, other = 2 }.",
    ),
    ("Illegal character '\\n'", "a text is not closed on its line", "It needs a second quote."),
    ("Illegal character", "a character that cannot be seen stands here", "Type the line again."),
    (
        "Found invalid character '\\n'",
        "a text is not closed on its line",
        "It needs a second quote.",
    ),
    ("Found invalid character", "a character that cannot be seen stands here", ""),
    ("Unterminated string", "a text is opened here and never closed", "It ends with three quotes."),
    ("Expected \"'''", "a text is opened here and never closed", "It ends with three quotes."),
    ("Expected \"'", "a text is opened here and never closed", "It needs a second quote."),
    (
        "Unescaped '\\'",
        "a backslash means something else in double quotes",
        "Write it twice, or put the text in single quotes.",
    ),
    ("Invalid hex value", "a \\u in double quotes is not followed by its digits", ""),
    ("Escaped character", "a \\u in double quotes names no character", ""),
    ("Invalid date", "this day or time does not exist", "Text stands in quotes."),
    ("Exceeds the limit", "a number in the file has too many digits", ""),
)
"""How tomllib begins what it says, what that means to a maker, and what to do about it."""


def syntax_finding(file: str, text: str, said: str) -> Finding:
    """Return the finding for ``said``, tomllib's own words on ``text``."""
    spot = _SPOT.search(said)
    lines = text.split("\n")
    line = int(spot[1]) if spot and spot[1] else len(lines) if spot else None
    if said.startswith(_DOUBLED):
        return _doubled(file, text, line or 1)
    if said.startswith(_NEVER_CLOSED):
        line = _last_opened(text)
    message, hint = "is no sound TOML", said
    for begin, plain, advice in _IN_PLAIN_WORDS:
        if said.startswith(begin):
            message, hint = plain, advice
            break
    found = shown(lines[line - 1].strip()) if line else ""
    return stop(
        "catalog-syntax",
        Place(file=file, line=line, key=f"column {spot[2]}" if spot and spot[2] else ""),
        message,
        found=found or ("the end of the file" if line else ""),
        hint=hint,
    )


def _last_opened(text: str) -> int:
    """Return the line of the last quotes: were they not the open ones, they would close."""
    at = max(text.rfind('"""'), text.rfind("'"), 0)
    return text.count("\n", 0, at) + 1


def _doubled(file: str, text: str, line: int) -> Finding:
    """Say which key stands twice, and where it stood first."""
    exact = [twice for twice in locate_keys(text).twice if twice.second == line]
    first = f"It stands on line {exact[0].first} already." if exact else "It stands further up."
    return stop(
        "catalog-duplicate-key",
        Place(file=file, line=line, key=key_text(exact[0].path) if exact else ""),
        "the same key stands here a second time",
        found=shown(text.split("\n")[line - 1].strip()),
        hint=first + " Keep one of the two.",
    )


CATALOG_NAME = "catalog.toml"

LARGEST_BYTES = 5_000_000
"""A line of ten thousand SKUs stays well under a megabyte; beyond five it is another file."""

DEEPEST = 64
"""Tables within tables, or parts of one dotted key. A catalog needs five."""

_ASIDE = re.compile(
    r'"""(?:[^"\\]|\\.|"(?!""))*+(?:"""|\Z)'
    r"|'''(?:[^']|'(?!''))*+(?:'''|\Z)"
    r'|"(?:[^"\\\n]|\\.)*+"?'
    r"|'[^'\n]*+'?"
    r"|\#[^\n]*+",
    re.DOTALL,
)
"""Strings and comments, closed or not. Possessive, so that no text makes it slow."""

_LONG_KEY = re.compile(rf'(?<![\w"-])(?:[\w"-]++[ \t]*+\.[ \t]*+){{{DEEPEST}}}', re.ASCII)


@dataclass(frozen=True)
class Source:
    """A catalog file whose TOML is sound; whether it says the right things is not yet known."""

    file: str
    raw: bytes
    text: str
    data: dict[str, Any]

    @cached_property
    def whereabouts(self) -> KeyLines:
        """Where its keys stand; found when first asked for."""
        return locate_keys(self.text)

    def place(self, path: KeyPath) -> Place:
        """Return the place of the key at ``path``."""
        return Place(file=self.file, line=self.whereabouts.line(path), key=key_text(path))


def read_source(folder: Path) -> Source:
    """Return the folder's catalog file, its TOML parsed.

    Raises:
        LabelerError: if there is none, or it is no sound TOML.
    """
    raw = read_file(find_catalog(folder), LARGEST_BYTES)
    text = _decode(raw)
    if fault := too_deep(text):
        raise LabelerError(fault)
    return Source(CATALOG_NAME, raw, text, _parse(text))


def find_catalog(folder: Path) -> Path:
    """Return the path of the folder's catalog file.

    Raises:
        LabelerError: if folder or file is missing, with the nearest name there is.
    """
    starter = (
        "`labeler --catalog FOLDER ...` names yours; `labeler new FOLDER` makes one to start from."
    )
    if not folder.is_dir():
        fault = "this is a file, not a folder" if folder.exists() else "there is no such folder"
        raise LabelerError(stop("catalog-missing", Place(file=str(folder)), fault, hint=starter))
    path = folder / CATALOG_NAME
    if path.is_file():
        return path
    try:
        near = did_you_mean(CATALOG_NAME, [p.name for p in folder.glob("*.toml") if p.is_file()])
    except OSError:
        near = ""
    raise LabelerError(
        stop(
            "catalog-missing",
            Place(file=str(folder)),
            f"there is no {CATALOG_NAME} in this folder",
            hint=near or starter,
        )
    )


def read_file(path: Path, largest: int) -> bytes:
    """Return the file's bytes.

    Raises:
        LabelerError: if it cannot be read, or is larger than ``largest`` bytes.
    """
    place = Place(file=path.name)
    try:
        with path.open("rb") as file:
            raw = file.read(largest + 1)
            size = path.stat().st_size
    except OSError as error:
        reason = (error.strerror or str(error)).lower()
        raise LabelerError(stop("file-unreadable", place, f"cannot be read: {reason}")) from None
    if len(raw) > largest:
        raise LabelerError(
            stop(
                "file-too-large",
                place,
                "is too large to be what it is called",
                found=f"{size:,} bytes",
                expected=f"at most {largest:,} bytes",
            )
        )
    return raw


def _decode(raw: bytes) -> str:
    place = Place(file=CATALOG_NAME)
    if raw[:2] in (b"\xff\xfe", b"\xfe\xff"):
        again = "Open it in the editor and save it again with the encoding UTF-8."
        raise LabelerError(stop("catalog-encoding", place, "is saved as UTF-16", hint=again))
    if b"\0" in raw:
        raise LabelerError(
            stop("catalog-not-text", place, "is no text file", found=f"{raw[:8]!r} at its start")
        )
    try:
        text = raw.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = raw.count(b"\n", 0, error.start) + 1
        meant = raw[error.start : error.start + 1].decode("cp1252", errors="replace")
        raise LabelerError(
            stop(
                "catalog-encoding",
                Place(file=CATALOG_NAME, line=line),
                "holds a letter that is not UTF-8",
                found=f"byte 0x{raw[error.start]:02X}, perhaps {meant!r}",
                hint="Open it in the editor and save it again with the encoding UTF-8.",
            )
        ) from None
    if not text.strip():
        starter = "`labeler new` makes a folder to start from."
        raise LabelerError(stop("catalog-empty", place, "is empty", hint=starter))
    return text


def too_deep(text: str) -> Finding | None:
    """Say where ``text`` nests deeper than any catalog does; the parsers would run wild."""
    bare = _ASIDE.sub(lambda found: '""' + "\n" * found[0].count("\n"), text)
    spot = _LONG_KEY.search(bare)
    at = spot.start() if spot else _depth_passed(bare)
    if at is None:
        return None
    return stop(
        "catalog-nesting",
        Place(file=CATALOG_NAME, line=bare.count("\n", 0, at) + 1),
        f"is nested deeper than {DEEPEST} levels",
        expected="no more than five levels in a catalog",
    )


def _depth_passed(bare: str) -> int | None:
    depth = 0
    for bracket in re.finditer(r"[\[\]{}]", bare):
        depth += 1 if bracket[0] in "[{" else -1
        if depth > DEEPEST:
            return bracket.start()
    return None


def _parse(text: str) -> dict[str, Any]:
    try:
        data = tomllib.loads(text)
    except (ValueError, RecursionError) as error:
        raise LabelerError(syntax_finding(CATALOG_NAME, text, str(error))) from None
    if not data:
        starter = "`labeler new` makes a folder to start from."
        raise LabelerError(
            stop(
                "catalog-empty",
                Place(file=CATALOG_NAME),
                "holds nothing but comments",
                hint=starter,
            )
        )
    return data


# ----------------------------------------------------------------------------
# A TOML file as the maker wrote it: its values, and the line on which each stands.

_LARGEST = 1_000_000
"""A file of sheets or printers is a few pages of text; a megabyte is something else."""

_HEADER = re.compile(r"^\s*\[(?!\[)(.+)\]\s*(?:#.*)?$")
_KEY = re.compile(r"""^\s*((?:"[^"]*"|'[^']*'|[A-Za-z0-9_-]+)(?:\s*\.\s*[\w"'-]+)*)\s*=""")
_AT_LINE = re.compile(r"\(at line (\d+), column \d+\)")


@dataclass(frozen=True)
class Written:
    """The values of a TOML file and where they stand."""

    path: Path
    values: dict[str, Any]
    lines: dict[tuple[str, ...], int] = field(default_factory=dict)

    def place(self, *keys: str) -> Place:
        """Return where ``keys`` stand, or what is in them, or the nearest heading above."""
        within = [line for path, line in self.lines.items() if path[: len(keys)] == keys]
        above = [self.lines[keys[:n]] for n in range(len(keys), 0, -1) if keys[:n] in self.lines]
        line = min(within, default=None) or next(iter(above), None)
        return Place(file=str(self.path), line=line, key=".".join(keys))


def read_toml(path: Path) -> Written:
    """Return what ``path`` says.

    Raises:
        LabelerError: if the file can't be read or is no TOML, with the line where it breaks.
    """
    try:
        size = path.stat().st_size
        if size > _LARGEST:
            raise LabelerError(_unreadable(path, None, f"it has {size:,} bytes"))
        text = path.read_bytes().decode("utf-8-sig").replace("\r\n", "\n")
        return Written(path, tomllib.loads(text), _lines(text))
    except OSError as error:
        raise LabelerError(_unreadable(path, None, error.strerror or str(error))) from error
    except UnicodeDecodeError as error:
        raise LabelerError(_unreadable(path, None, "it is not UTF-8 text")) from error
    except RecursionError as error:
        raise LabelerError(_unreadable(path, None, "it is nested too deep")) from error
    except tomllib.TOMLDecodeError as error:
        at = _AT_LINE.search(str(error))
        line = int(at[1]) if at else None
        raise LabelerError(_unreadable(path, line, _AT_LINE.sub("", str(error)).strip())) from error


def _unreadable(path: Path, line: int | None, why: str) -> Any:
    return stop(
        "file-unreadable",
        Place(file=str(path), line=line),
        f"this file can't be read: {why}",
        expected="a TOML file",
    )


def _lines(text: str) -> dict[tuple[str, ...], int]:
    """Map each key, with the headings above it, to its line."""
    found: dict[tuple[str, ...], int] = {}
    heading: tuple[str, ...] = ()
    for number, line in enumerate(text.splitlines(), 1):
        if header := _HEADER.match(line):
            heading = _path(header[1])
            found.setdefault(heading, number)
        elif key := _KEY.match(line):
            found.setdefault(heading + _path(key[1]), number)
    return found


def _path(dotted: str) -> tuple[str, ...]:
    """Return the keys of ``a."b.c".d``; TOML itself knows best how they are quoted."""
    try:
        level = tomllib.loads(f"{dotted} = 0")
    except tomllib.TOMLDecodeError:
        return (dotted.strip(),)
    keys: list[str] = []
    node: Any = level
    while isinstance(node, dict):
        ((key, node),) = node.items()
        keys.append(key)
    return tuple(keys)


# ----------------------------------------------------------------------------
# One table of the maker's TOML: values read with their kind, errors collected with their line.
#
# A bad value becomes a finding and a harmless stand-in, so that one reading finds everything.

LONGEST = 200 * 72.0
"""ISO 32000-1:2008, annex C.2: a page may measure 14,400 units."""

DPI = range(72, 4801)
"""From the coarsest screen to the finest typesetter."""

_A_LENGTH = "a length with its unit, such as 2 5/8 in, 66.7 mm or 12 pt"


class TomlTable:
    """The table that stands under ``keys``."""

    def __init__(self, written: Written, keys: tuple[str, ...], findings: list[Finding]) -> None:
        self.written = written
        self.keys = keys
        self.findings = findings
        self._before = len(findings)
        values: Any = written.values
        for key in keys:
            values = values[key]
        self.values: dict[str, Any] = values

    @property
    def sound(self) -> bool:
        """Whether nothing has been found in this table so far."""
        return len(self.findings) == self._before

    def complain(self, key: str, rule: str, message: str, **rest: str) -> None:
        """Add a finding about ``key``, or about the table if that is empty."""
        place = self.written.place(*self.keys, *([key] if key else []))
        self.findings.append(stop(rule, place, message, **rest))

    def wrong(self, key: str, value: object, expected: str, hint: str = "") -> None:
        """Add the finding that the value of ``key`` is none that was expected."""
        self.complain(
            key,
            "value-not-understood",
            f"{key} is not understood",
            found=repr(value),
            expected=expected,
            hint=hint,
        )

    def refuse_all_but(self, *allowed: str) -> None:
        """Add a finding for each key that is not allowed."""
        what = f"a {self.keys[0]}" if self.keys else "this file"
        for key in self.values:
            if key not in allowed:
                self.complain(
                    key,
                    "unknown-key",
                    f"{key!r} is no key of {what}",
                    hint=did_you_mean(key, allowed),
                )

    def length(self, key: str, default: float = 0.0) -> float:
        """Return a length in points."""
        return self._length(key, self.values[key], False) if key in self.values else default

    def lengths(self, key: str, signed: bool = False) -> tuple[float, float]:
        """Return two lengths in points, across and down; ``signed`` ones may be negative."""
        value = self.values.get(key)
        if not isinstance(value, list) or len(value) != 2:
            self.wrong(key, value, 'two lengths, across and down, such as ["2 5/8 in", "1 in"]')
            return 1.0, 1.0
        return self._length(key, value[0], signed), self._length(key, value[1], signed)

    def numbers(self, key: str, least: float, most: float) -> tuple[float, float]:
        """Return two plain numbers between ``least`` and ``most``."""
        value = self.values.get(key)
        if (
            isinstance(value, list)
            and len(value) == 2
            and all(isinstance(part, (int, float)) and least <= part <= most for part in value)
        ):
            return float(value[0]), float(value[1])
        self.wrong(key, value, f"two numbers from {least:g} to {most:g}, across and down")
        return least, least

    def whole(self, key: str, allowed: range) -> int:
        """Return a whole number."""
        value = self.values.get(key)
        if isinstance(value, int) and not isinstance(value, bool) and value in allowed:
            return value
        self.wrong(key, value, f"a whole number from {allowed[0]} to {allowed[-1]}")
        return allowed[0]

    def choice(self, key: str, allowed: Sequence[str], default: str) -> str:
        """Return one of the words allowed."""
        value = self.values.get(key, default)
        if isinstance(value, str) and value in allowed:
            return value
        hint = did_you_mean(value, allowed) if isinstance(value, str) else ""
        self.wrong(key, value, " or ".join(allowed), hint)
        return default

    def _length(self, key: str, value: object, signed: bool) -> float:
        if isinstance(value, str):
            text = value.strip().replace("\N{MINUS SIGN}", "-")
            minus = signed and text.startswith("-")
            try:
                length = Length.parse(text[1:].strip() if minus else text).pt
            except (ValueError, OverflowError):
                length = LONGEST + 1
            if length <= LONGEST:
                return -length if minus else length
        self.wrong(key, value, _A_LENGTH)
        return 1.0


def tables(written: Written, room: str, findings: list[Finding]) -> Iterator[tuple[str, TomlTable]]:
    """Yield the tables under ``room`` by name; whatever is no table there is a finding."""
    values = written.values.get(room, {})
    if not isinstance(values, dict):
        place = written.place(room)
        findings.append(
            stop("value-not-understood", place, f"{room} must be a table, [{room}.NAME]")
        )
        return
    for name, table in values.items():
        if isinstance(table, dict):
            yield name, TomlTable(written, (room, name), findings)
        else:
            place = written.place(room, name)
            findings.append(stop("value-not-understood", place, f"[{room}.{name}] must be a table"))
