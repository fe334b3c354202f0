"""The one way in which this program reads a TOML file: its values, and the line of every key.

`tomllib` gives the values; it does not tell where they stand. A second parser that keeps places
looks the text over when a place is first asked for, so that a sound file costs nothing more.
Pydantic models judge what the values may be (`validate`). Whatever is wrong comes back as findings
in a maker's words: the line, the key, what stands there, what was expected, the nearest name.
"""

from __future__ import annotations

import re
import tomllib
from collections.abc import Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass, field, replace
from functools import cache, lru_cache
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeVar

from labeler.files import read_file
from labeler.findings import (
    Finding,
    LabelerError,
    Place,
    as_written,
    did_you_mean,
    refusal,
    shown,
    stop,
)

if TYPE_CHECKING:
    import tree_sitter
    from pydantic import BaseModel
    from pydantic_core import ErrorDetails

KeyPath = tuple[str | int, ...]
"""Keys from the top of the file down; a number is a place in a list, counted from 0."""

LARGEST_BYTES = 1_000_000
"""A file of sheets, printers or styles is a few pages of text; a megabyte is something else."""

DEEPEST = 64
"""Tables within tables, or parts of one dotted key. A catalog needs five."""

_BARE_KEY = re.compile(r"[A-Za-z0-9_-]+")


@dataclass(frozen=True)
class TomlFile:
    """A file whose TOML is sound; whether it says the right things is not yet known."""

    name: str
    """What messages call it."""
    raw: bytes
    text: str
    data: dict[str, Any]
    """Its values; nobody changes them, since the same bytes are parsed once for all who ask."""
    spelled: Mapping[KeyPath, KeyPath] = field(default_factory=dict)
    """Where a key is read by another spelling than the file has: that one, by the one read."""
    faults: tuple[Finding, ...] = ()
    """What is wrong with how its keys are spelled."""

    def written(self, path: KeyPath) -> KeyPath:
        """Return ``path`` as the file spells it."""
        for end in range(len(path), 0, -1):
            if path[:end] in self.spelled:
                return (*self.spelled[path[:end]], *path[end:])
        return path

    def line(self, path: KeyPath) -> int:
        """Return the line of ``path``, counted from 1.

        Where it has no key or heading of its own, that of the first thing in it, or else of the
        nearest table around it.
        """
        path, lines = self.written(path), _lines(self.text)
        for end in range(len(path), 0, -1):
            if path[:end] in lines:
                return lines[path[:end]]
            inside = [line for key, line in lines.items() if key[:end] == path[:end]]
            if inside:
                return min(inside)
        return 1

    def place(self, path: KeyPath) -> Place:
        """Return the place of the key at ``path``."""
        return Place(file=self.name, line=self.line(path), key=key_text(self.written(path)))


def read_toml(
    path: Path, rule: str = "", *, name: str = "", largest: int = LARGEST_BYTES
) -> TomlFile:
    """Return the file at ``path``, its TOML parsed.

    Args:
        path: the file.
        rule: the identifier of the finding if it can't be read; left out, each fault has its own.
        name: what messages call the file; left out, its whole path.
        largest: bytes beyond which it is not read.

    Raises:
        LabelerError: with the line, if the file can't be read or is no sound TOML.
    """
    name = name or str(path)
    try:
        return parse_toml(name, read_file(path, largest, name))
    except LabelerError as error:
        if not rule:
            raise
        raise LabelerError(replace(finding, rule=rule) for finding in error.findings) from None


_KEPT = 8
"""Files whose values and places are kept: one command asks for the same few over and over."""


@lru_cache(_KEPT)
def parse_toml(name: str, raw: bytes) -> TomlFile:
    """Return a file's bytes as TOML; ``name`` is what messages call it.

    Raises:
        LabelerError: with the line, if it is no sound TOML.
    """
    text = _decode(name, raw)
    if fault := _nested_too_deep(name, text):
        raise LabelerError(fault)
    try:
        return TomlFile(name, raw, text, tomllib.loads(text))
    except (ValueError, RecursionError) as error:
        raise LabelerError(_syntax_fault(name, text, str(error))) from None


def key_text(path: KeyPath) -> str:
    """Return ``path`` as a maker would write it: ``patterns.river-vesper.weights[2]``."""
    words = ""
    for key in path:
        if isinstance(key, int):
            words += f"[{key}]"
            continue
        if not _BARE_KEY.fullmatch(key):
            key = '"' + shown(key.replace("\\", "\\\\").replace('"', '\\"')) + '"'
        words += ("." if words else "") + key
    return words


def _decode(name: str, raw: bytes) -> str:
    save_again = "Open it in the editor and save it again with the encoding UTF-8."
    place = Place(file=name)
    if raw[:2] in (b"\xff\xfe", b"\xfe\xff"):
        raise refusal("catalog-encoding", place, "is saved as UTF-16", hint=save_again)
    if b"\0" in raw:
        found = f"{raw[:8]!r} at its start"
        raise refusal("catalog-not-text", place, "is no text file", found=found)
    try:
        return raw.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        letter = raw[error.start : error.start + 1]
        raise refusal(
            "catalog-encoding",
            replace(place, line=raw.count(b"\n", 0, error.start) + 1),
            "holds a letter that is not UTF-8",
            found=f"byte 0x{letter.hex().upper()}, perhaps"
            f" {letter.decode('cp1252', errors='replace')!r}",
            hint=save_again,
        ) from None


_STRING_OR_COMMENT = re.compile(
    r'"""(?:[^"\\]|\\.|"(?!""))*+(?:"""|\Z)'
    r"|'''(?:[^']|'(?!''))*+(?:'''|\Z)"
    r'|"(?:[^"\\\n]|\\.)*+"?'
    r"|'[^'\n]*+'?"
    r"|\#[^\n]*+",
    re.DOTALL,
)
"""Closed or not. Possessive, so that no text makes it slow."""

_LONG_KEY = re.compile(rf'(?<![\w"-])(?:[\w"-]++[ \t]*+\.[ \t]*+){{{DEEPEST}}}', re.ASCII)


def _nested_too_deep(name: str, text: str) -> Finding | None:
    """Say where ``text`` nests deeper than any file of ours; the parsers would run wild."""
    bare = _STRING_OR_COMMENT.sub(lambda found: '""' + "\n" * found[0].count("\n"), text)
    long_key = _LONG_KEY.search(bare)
    at = long_key.start() if long_key else None
    depth = 0
    for bracket in re.finditer(r"[\[\]{}]", bare) if at is None else ():
        depth += 1 if bracket[0] in "[{" else -1
        if depth > DEEPEST:
            at = bracket.start()
            break
    if at is None:
        return None
    return stop(
        "catalog-nesting",
        Place(file=name, line=bare.count("\n", 0, at) + 1),
        f"is nested deeper than {DEEPEST} levels",
        expected="no more than five levels in a catalog",
    )


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


def _syntax_fault(name: str, text: str, message: str) -> Finding:
    """Return the finding for what tomllib says of ``text``."""
    at = re.search(r"\(at (?:line (\d+), column (\d+)|end of document)\)$", message)
    lines = text.split("\n")
    line = int(at[1]) if at and at[1] else len(lines) if at else None
    key = f"column {at[2]}" if at and at[2] else ""
    if message.startswith(("Cannot", "Duplicate")):
        line = line or 1
        again = next((one for one in locate_keys(text)[1] if one[1] == line), None)
        return stop(
            "catalog-duplicate-key",
            Place(file=name, line=line, key=key_text(again[0]) if again else ""),
            "the same key stands here a second time",
            found=shown(lines[line - 1].strip()),
            hint=(f"It stands on line {again[2]} already." if again else "It stands further up.")
            + " Keep one of the two.",
        )
    if message.startswith(("Unterminated string", "Expected \"'")):
        # the last quotes in the file: if they were not the open ones, they would close
        last_quotes = max(text.rfind('"""'), text.rfind("'"), 0)
        line, key = text.count("\n", 0, last_quotes) + 1, ""
    plain, hint = "is no sound TOML", message
    for begin, meaning, advice in _IN_PLAIN_WORDS:
        if message.startswith(begin):
            plain, hint = meaning, advice
            break
    found = shown(lines[line - 1].strip()) if line else ""
    return stop(
        "catalog-syntax",
        Place(file=name, line=line, key=key),
        plain,
        found=found or ("the end of the file" if line else ""),
        hint=hint,
    )


@lru_cache(_KEPT)
def _lines(text: str) -> Mapping[KeyPath, int]:
    """Return the line of every key of a sound text."""
    return locate_keys(text)[0]


def locate_keys(text: str) -> tuple[dict[KeyPath, int], list[tuple[KeyPath, int, int]]]:
    """Return the line of every key of ``text``, and the keys that stand in it a second time.

    Also of a text that tomllib refuses, as well as can be. Nesting must be known to be shallow.

    Returns:
        Lines by key path, counted from 1; and of each repeated key its path, its line and the line
        where it stands first.
    """
    import tree_sitter  # only where a place is asked for
    import tree_sitter_toml

    parser = tree_sitter.Parser(tree_sitter.Language(tree_sitter_toml.language()))
    finder = _KeyFinder()
    for node in parser.parse(text.encode()).root_node.children:
        if node.type == "pair":
            finder.pair(node, ())
        elif node.type in ("table", "table_array_element"):
            finder.table(node)
    return finder.lines, finder.again


class _KeyFinder:
    def __init__(self) -> None:
        self.lines: dict[KeyPath, int] = {}
        self.again: list[tuple[KeyPath, int, int]] = []
        self._rows: dict[KeyPath, int] = {}
        """How many times a list of tables has been headed."""

    def table(self, node: tree_sitter.Node) -> None:
        keys = _keys(node)
        row = node.type == "table_array_element"
        path: KeyPath = ()
        for place, key in enumerate(keys):
            path = (*path, key)
            if row and place == len(keys) - 1:
                self._rows[path] = self._rows.get(path, 0) + 1
            if path in self._rows:  # a list of tables on the way means its last row
                path = (*path, self._rows[path] - 1)
        self._note(path, node, stated=not row)
        for child in node.children:
            if child.type == "pair":
                self.pair(child, path)

    def pair(self, node: tree_sitter.Node, path: KeyPath) -> None:
        keys = _keys(node)
        for place, key in enumerate(keys):
            path = (*path, key)
            self._note(path, node, stated=place == len(keys) - 1)
        self._value(node.children[-1], path)

    def _value(self, node: tree_sitter.Node, path: KeyPath) -> None:
        if node.type == "inline_table":
            for child in node.named_children:
                if child.type == "pair":
                    self.pair(child, path)
        elif node.type == "array":
            items = [child for child in node.named_children if child.type != "comment"]
            for place, child in enumerate(items):
                self._note((*path, place), child, stated=False)
                self._value(child, (*path, place))

    def _note(self, path: KeyPath, node: tree_sitter.Node, *, stated: bool) -> None:
        line = node.start_point.row + 1
        first = self.lines.setdefault(path, line)
        if stated and first != line:
            self.again.append((path, line, first))


_KEY_NODES = ("bare_key", "quoted_key", "dotted_key")


def _keys(node: tree_sitter.Node) -> list[str]:
    """Return the keys in a heading or a pair, quotes undone; the parser nests dotted ones."""
    keys: list[str] = []
    for child in node.children:
        if child.type == "dotted_key":
            keys += _keys(child)
        elif child.type in _KEY_NODES:
            text = (child.text or b"").decode(errors="replace")
            if not _BARE_KEY.fullmatch(text):
                with suppress(tomllib.TOMLDecodeError, StopIteration):  # else shown as it stands
                    text = next(iter(tomllib.loads(f"{text} = 0")))
            keys.append(text)
    return keys


Model = TypeVar("Model", bound="BaseModel")
Schema = dict[str, Any]
"""A part of a JSON Schema."""


@dataclass(frozen=True, slots=True)
class RuleIds:
    """The identifiers of the findings on a file's values."""

    missing: str = "missing-key"
    unknown: str = "unknown-key"
    value: str = "wrong-value"


def validate(
    model: type[Model],
    file: TomlFile,
    path: KeyPath = (),
    *,
    rules: RuleIds = RuleIds(),
) -> tuple[Model | None, list[Finding]]:
    """Return what stands at ``path`` of a file as ``model``, or None, and every fault in it.

    Args:
        model: what the table there must be.
        file: the file.
        path: the table; the whole file by default.
        rules: the findings' identifiers.
    """
    from pydantic import ValidationError  # a file that nobody judges needs none

    values: Any = file.data
    for key in path:
        values = values[key]
    try:
        return model.model_validate(values), []
    except ValidationError as error:
        errors = error.errors(include_url=False)
        return None, explain_errors(model, errors, file, path, rules=rules)


def explain_errors(
    model: type[BaseModel],
    errors: Sequence[ErrorDetails],
    file: TomlFile,
    path: KeyPath = (),
    *,
    rules: RuleIds = RuleIds(),
    also: Mapping[str, str] = {},
) -> list[Finding]:
    """Return pydantic's ``errors`` on the table at ``path`` as findings; see `validate`.

    ``also`` is what people call keys of the model by other names, with the key that is meant.
    That a list holds too little is left out where what it holds is at fault already.
    """
    places = [error["loc"] for error in errors]
    return [
        _explain(_json_schema(model), error, file, path, rules, also)
        for error in errors
        if error["type"] != "too_short"
        or not any(
            other != error["loc"] and other[: len(error["loc"])] == error["loc"] for other in places
        )
    ]


def _explain(
    schema: Schema,
    error: ErrorDetails,
    file: TomlFile,
    above: KeyPath,
    rules: RuleIds,
    also: Mapping[str, str],
) -> Finding:
    within: KeyPath = tuple(key for key in error["loc"] if key != "[key]")
    place, found = file.place((*above, *within)), as_written(error["input"])
    node = _node_at(schema, within)
    wanted = expected(node, (*above, *within))
    key = str(within[-1]) if within else ""
    if error["type"] == "missing":
        name = (
            f"[{key_text(file.written((*above, *within)))}]"
            if node.get("type") == "object"
            else key
        )
        return stop(rules.missing, place, f"{name} is missing", expected=wanted)
    if error["type"] == "extra_forbidden":
        known = list(_node_at(schema, within[:-1]).get("properties", {}))
        meant = also.get(key.casefold().replace("-", "_"), "")
        return stop(
            rules.unknown,
            place,
            "there is no such key here",
            found=f"{key_text(within[-1:])} = {found}",
            hint=f"Did you mean {meant!r}?" if meant in known else did_you_mean(key, known),
        )
    details = error.get("ctx", {})
    if error["type"] == "literal_error":
        names = choices(node)
        message = "this is none of the values that may stand here"
        hint = did_you_mean(str(error["input"]), names)
        hint = hint if hint.startswith("Did") else ""  # the others stand in what was expected
        return stop(rules.value, place, message, found=found, expected=wanted, hint=hint)
    message = "this value may not stand here"
    if error["loc"][-1:] == ("[key]",):
        message, found = "this name may not stand here", as_written(key)
    if error["type"] == "string_too_long":
        wanted = f"at most {details.get('max_length')} letters"
    elif error["type"] == "too_short":
        wanted = "a list with something in it"
    elif "error" in details:
        wanted = str(details["error"])
    return stop(rules.value, place, message, found=found, expected=wanted)


@cache
def _json_schema(model: type[BaseModel]) -> Schema:
    return model.model_json_schema(mode="validation")


def _node_at(root: Schema, path: KeyPath) -> Schema:
    """Return the schema of what stands at ``path``; an empty one where it knows nothing."""
    node = root
    for key in path:
        if isinstance(key, int):
            # also where one thing may stand without a list
            lists = [n for n in (node, *node.get("anyOf", ())) if isinstance(n.get("items"), dict)]
            node = {"examples": node.get("examples", [])} | lists[0]["items"] if lists else {}
            continue
        node = resolve(root, node)
        more = node.get("additionalProperties", {})
        node = node.get("properties", {}).get(key, more if isinstance(more, dict) else {})
    return resolve(root, node)


def resolve(root: Schema, node: Schema) -> Schema:
    """Return ``node`` with its reference followed and the choice of nothing taken away."""
    while True:
        if "$ref" in node:
            node = root["$defs"][node["$ref"].rpartition("/")[2]]
        elif "type" not in node and (
            some := [one for one in node.get("anyOf", ()) if one.get("type") != "null"]
        ):
            node = some[0]
        else:
            return node


def choices(node: Schema) -> list[str]:
    """Return the words that a schema allows; none where it allows others, too."""
    return [str(name) for name in node.get("enum", [node["const"]] if "const" in node else [])]


def expected(node: Schema, path: KeyPath = ("name",)) -> str:
    """Say in words what a schema asks for at ``path``."""
    if names := choices(node):
        return "one of " + ", ".join(names)
    kind = node.get("type")
    if kind in ("integer", "number"):
        low, high = node.get("minimum"), node.get("maximum")
        limits = "" if low is None else f" from {low:g} up"
        if low is not None and high is not None:
            limits = f" from {low:g} to {high:g}"
        return ("a whole number" if kind == "integer" else "a number") + limits
    if isinstance(kind, list) or kind == "string":
        example = f', such as "{node["examples"][0]}"' if node.get("examples") else ""
        return "text in quotes" + example
    if kind == "object":
        return f"a table of its own, written [{key_text(path)}]"
    return {"boolean": "true or false", "array": "a list in square brackets"}.get(str(kind), "")
