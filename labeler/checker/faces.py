"""Whether a glyph is the letter that the text layer says: its outline beside the face's own.

A font inside a PDF carries the name of the face that it was cut from. Where that face is on the
shelf, the letter's outline there is known, and the embedded outline must be the same, point by
point. Fonts from elsewhere can't be held against anything, and the report says so.
"""

from __future__ import annotations

import tomllib
from collections.abc import Iterator
from functools import lru_cache
from pathlib import Path

from labeler import shelf
from labeler.checker.outlines import Drawing, Outlines
from labeler.findings import LabelerError
from labeler.typefaces import typeface


class Face:
    """A face on the shelf, with the outline of each letter that was asked for."""

    def __init__(self, path: Path) -> None:
        self._outlines = Outlines(path.read_bytes())
        self.name = self._outlines.postscript_name
        self._drawings: dict[str, Drawing] = {}
        self._letters: dict[Drawing, str] | None = None

    def drawing(self, letter: str) -> Drawing | None:
        """Return the outline of a letter; None where the face lacks it."""
        if letter not in self._drawings:
            gid = self._outlines.gid_of(letter)
            self._drawings[letter] = self._outlines.drawing(gid) if gid else ()
            if not gid:
                return None
        return self._drawings[letter]

    def o_height(self) -> float:
        """Return the height of the ink of the small o, in ems."""
        ink = self._outlines.ink(self._outlines.gid_of("o"))
        return ink.high - ink.low

    def width_of_n(self) -> float:
        """Return the width of the ink of the capital N, in ems."""
        ink = self._outlines.ink(self._outlines.gid_of("N"))
        return ink.right - ink.left

    def letter_of(self, drawing: Drawing) -> str:
        """Return the letter whose outline this is, or nothing."""
        if self._letters is None:
            found: dict[Drawing, str] = {}
            for gid, letter in self._outlines.letters.items():
                if outline := self._outlines.drawing(gid):
                    found.setdefault(outline, letter)
            self._letters = found
        return self._letters.get(drawing, "")


def shape_of(face: Face, drawing: Drawing, said: str) -> str:
    """Return what a glyph is: what is ``said``, another letter, or nothing that the face has."""
    if not drawing:
        return said if not said.strip() else ""
    if len(said) == 1 and face.drawing(said) == drawing:
        return said
    return face.letter_of(drawing) or UNKNOWN_SHAPE


UNKNOWN_SHAPE = "\N{REPLACEMENT CHARACTER}"
"""Reads as no letter, so that nothing is taken for said that only the text layer says."""


def face_named(postscript: str, own: Path | None) -> Face | None:
    """Return the face on the shelf with that PostScript name, the maker's own first."""
    return _faces(own).get(postscript)


@lru_cache(maxsize=8)
def _faces(own: Path | None) -> dict[str, Face]:
    found: dict[str, Face] = {}
    for name in _names(own):
        try:
            face = _face(typeface(name, own).path)
        except (LabelerError, ValueError, OSError):
            continue
        found.setdefault(face.name, face)
    return found


@lru_cache(maxsize=64)
def _face(path: Path) -> Face:
    return Face(path)


def _names(own: Path | None) -> Iterator[str]:
    for folder in shelf.shelves("fonts", own):
        try:
            yield from tomllib.loads((folder / "faces.toml").read_text("utf-8"))
        except (OSError, ValueError):
            continue
