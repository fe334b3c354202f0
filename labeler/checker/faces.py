"""Whether a glyph is the letter that the text layer says: its outline beside the face's own.

A font inside a PDF carries the name of the face that it was cut from. Where that face is on the
shelf, the letter's outline there is known, and the embedded outline must be the same, point by
point. Fonts from elsewhere can't be held against anything, and the report says so.
"""

from __future__ import annotations

import re
import tomllib
from collections.abc import Iterator, Mapping, Sequence
from functools import cached_property, lru_cache
from pathlib import Path

from labeler import files
from labeler.checker.outlines import Drawing, Outlines
from labeler.findings import LabelerError
from labeler.type.faces import TABULAR, typeface


class Face:
    """A face on the shelf, with the outline of each letter that was asked for."""

    def __init__(self, path: Path, figures: Mapping[str, int]) -> None:
        self.own = path.parent != files.shipped("fonts")
        self.figures = figures
        """The digits that have another glyph than usual, and which."""
        self._outlines = Outlines(path.read_bytes())
        self.name = self._outlines.postscript_name
        self._drawings: dict[str, Drawing] = {}
        self._letters: dict[Drawing, str] | None = None

    def drawing(self, letter: str) -> Drawing | None:
        """Return the outline of a letter; None where the face lacks it."""
        if letter not in self._drawings:
            gid = self.figures.get(letter) or self._outlines.gid_of(letter)
            self._drawings[letter] = self._outlines.drawing(gid) if gid else ()
            if not gid:
                return None
        return self._drawings[letter]

    @cached_property
    def o_height(self) -> float:
        """The height of the ink of the small o, in ems."""
        ink = self._outlines.ink(self._outlines.gid_of("o"))
        return ink.high - ink.low

    @cached_property
    def width_of_n(self) -> float:
        """The width of the ink of the capital N, in ems."""
        ink = self._outlines.ink(self._outlines.gid_of("N"))
        return ink.right - ink.left

    def agrees(self, samples: Sequence[tuple[str, Drawing]]) -> int:
        """Return how many letters have the outlines that this face gives them."""
        return sum(self.drawing(letter) == drawing for letter, drawing in samples)

    def letter_of(self, drawing: Drawing) -> str:
        """Return the letter whose outline this is, or nothing."""
        if self._letters is None:
            found = {self._outlines.drawing(gid): digit for digit, gid in self.figures.items()}
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


class Faces:
    """The faces on the shelf: the maker's own, then those that ship."""

    def __init__(self, own: Path | None) -> None:
        found: dict[tuple[Path, bool], Face] = {}
        for folder in dict.fromkeys((own, None)):
            for name in (name + kind for name in _names(folder) for kind in ("", TABULAR)):
                try:
                    cut = typeface(name, folder)
                    figures = tuple(cut.figures.items())
                    face = _face(cut.path, cut.path.stat().st_mtime_ns, figures)
                    found.setdefault((cut.path, bool(figures)), face)
                except (LabelerError, ValueError, OSError):
                    continue
        self._faces = list(found.values())

    def of(self, postscript: str, samples: Sequence[tuple[str, Drawing]]) -> Face | None:
        """Return the face that a font is cut from, or None if it is none of these.

        Args:
            postscript: what the font calls itself. A font that takes a face's name is held
                against that face, whatever it draws; else the outlines tell.
            samples: some of its letters with their outlines.
        """
        tabular = FOR_TABLES.search(postscript) is not None
        postscript = FOR_TABLES.sub("", postscript)
        marked = _MARK.search(postscript) is not None
        plain = _MARK.sub("", postscript)
        named = [
            face for face in self._faces
            if (face.name, face.own, bool(face.figures)) == (plain, marked, tabular)
        ]  # fmt: skip
        agreeing = [(face.agrees(samples), face) for face in named or self._faces]
        best = max(agreeing, key=lambda pair: pair[0], default=(0, None))
        if named or (samples and best[0] == len(samples)):
            return best[1]
        return None


FOR_TABLES = re.compile(r"-tnum\d*$")
"""What the press adds to the name of a font whose digits are the face's own for tables, and by how
much they are wider there."""

_MARK = re.compile(r"-[0-9a-f]{8}$")
"""What the press adds to the name of a maker's own font, since two may call themselves the same."""


@lru_cache(maxsize=64)
def _face(path: Path, _changed: int, figures: tuple[tuple[str, int], ...]) -> Face:
    """Return the face in the file at ``path``, read again whenever the file changed."""
    return Face(path, dict(figures))


def _names(own: Path | None) -> Iterator[str]:
    for folder in files.shelves("fonts", own):
        try:
            yield from tomllib.loads((folder / "faces.toml").read_text("utf-8"))
        except (OSError, ValueError):
            continue
