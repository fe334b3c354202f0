"""From the bytes of ``catalog.toml`` to plain values, each with its line; or what is wrong."""

from __future__ import annotations

import re
import tomllib
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path
from typing import Any

from labeler.catalog.syntax import syntax_finding
from labeler.catalog.whereabouts import KeyPath, Whereabouts, key_text, look_over
from labeler.findings import Finding, LabelerError, Place, did_you_mean, stop

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
    def whereabouts(self) -> Whereabouts:
        """Where its keys stand; found when first asked for."""
        return look_over(self.text)

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
