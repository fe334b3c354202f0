"""On which line of a TOML file every key stands: what tomllib does not tell.

The values are tomllib's business. Here the file is only looked over by a second parser that keeps
places, so a file that tomllib has refused still gets the best map that can be had.
"""

from __future__ import annotations

import re
import tomllib
from dataclasses import dataclass, field

import tree_sitter
import tree_sitter_toml

from labeler.catalog.wording import shown

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
class Whereabouts:
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


def look_over(text: str) -> Whereabouts:
    """Return where every key of ``text`` stands. Nesting must be known to be shallow."""
    found = Whereabouts()
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
