"""A TOML file as the maker wrote it: its values, and the line on which each stands."""

from __future__ import annotations

import re
import tomllib
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from labeler.findings import LabelerError, Place, stop

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
