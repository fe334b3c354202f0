"""How wide and how tall glyphs are, and which letters a face has.

Measures come from the outlines through HarfBuzz, in thousandths of an em, so that what is laid
out is what the embedded font draws. Knows nothing of lines, boxes or PDF.
"""

from __future__ import annotations

import re
import unicodedata
from dataclasses import dataclass
from functools import cache, cached_property, lru_cache
from pathlib import Path
from typing import Any

import uharfbuzz as hb

from labeler import files
from labeler.findings import LabelerError, Place, did_you_mean, refusal
from labeler.tomlfile import read_toml

_FEATURES = {"kern": True} | dict.fromkeys(
    ("liga", "clig", "ccmp", "calt", "locl", "rlig", "rclt", "rvrn", "mark", "mkmk", "curs"), False
)
"""Kerning only: one glyph a letter, since a subset font maps letters, not glyphs."""

_TABLE = _FEATURES | {"tnum": True}
_DIGITS = re.compile("[0-9]+")

TABULAR = ", tabular figures"
"""What stands behind a face's name where its digits are those for tables."""

_LANGUAGE = "en"
"""Always the same one, or the computer's own would choose the kerning."""

_NOT_SET = frozenset({"Cc", "Cf", "Cs", "Mc", "Me", "Mn", "Zl", "Zp"})
"""Unicode categories that no glyph in a row stands for: controls, marks over letters, breaks."""

_RIGHT_TO_LEFT = frozenset({"R", "AL", "AN"})
"""Directions (Unicode Standard Annex #9, table 4) whose letters would stand in false order."""

_SPACES = {"\N{THIN SPACE}": 0.7, "\N{NO-BREAK SPACE}": 1.0, "\N{NARROW NO-BREAK SPACE}": 0.7}
"""Spaces drawn with the face's own space, at this share of its width."""


@dataclass(frozen=True, slots=True)
class Shaped:
    """A text shaped in one face, in thousandths of an em.

    ``text`` is what to draw, one letter a glyph; ``shifts`` what to add after each glyph (empty
    when nothing is), ``lead`` what to add before the first; ``width`` the whole advance.
    """

    text: str
    shifts: tuple[float, ...]
    lead: float
    width: float


class Typeface:
    """One font file, measured."""

    def __init__(self, name: str, path: Path, tabular: bool = False) -> None:
        self.name = name
        self.path = path
        try:
            self._face = hb.Face(hb.Blob(path.read_bytes()))
            tables = self._face.table_tags
        except (hb.HarfBuzzError, UnicodeDecodeError, OSError) as error:
            raise _unreadable(path) from error
        if "glyf" not in tables:
            raise _unreadable(path)
        self._font = hb.Font(self._face)
        self._per_unit = 1000 / self._face.upem
        # Kept with the face, whose letters are asked for again and again.
        self.glyph_of = cache(self._glyph_of)
        self.advance_of = cache(self._advance_of)
        self.overhang_of = cache(self._overhang_of)
        self.shape = lru_cache(maxsize=20_000)(self._shape)
        self._letter_ink = cache(self._ink_of_letter)
        self._sets = cache(self._sets_letter)
        self.figures = self._tabular_figures() if tabular else {}
        """The glyphs of the digits that stand in place of the face's usual ones."""

    def _tabular_figures(self) -> dict[str, int]:
        """Return the digits that the face keeps for tables, if it has them.

        They are one width, so that a column of prices is even and no gap beside a narrow 1 reads
        as a space. Source: OpenType specification, registered features, tnum.
        """
        glyphs = [info.codepoint for info in self._harfbuzz("0123456789", _TABLE)[0]]
        widths = {self._font.get_glyph_h_advance(glyph) for glyph in glyphs}
        usual = [self._font.get_nominal_glyph(ord(digit)) for digit in "0123456789"]
        if len(glyphs) != 10 or len(widths) != 1 or 0 in glyphs or glyphs == usual:
            return {}
        return dict(zip("0123456789", glyphs, strict=True))

    def _glyph_of(self, letter: str) -> int:
        """Return the number of the glyph that a letter is drawn with, 0 where there is none."""
        return self.figures.get(letter) or self._font.get_nominal_glyph(ord(letter)) or 0

    @cached_property
    def cap_height(self) -> float:
        """Height of the outline of H, a flat capital, in thousandths of an em."""
        return self.ink_of("H")[0]

    @cached_property
    def o_height(self) -> float:
        """Height of the ink of the lower-case o, overshoot included, in thousandths of an em.

        The letter by which 16 CFR 500.21(d) measures type with any lower case in it.
        """
        top, bottom = self.ink_of("o")
        return top - bottom

    @cached_property
    def ascent(self) -> float:
        """How high d and H rise, in thousandths of an em."""
        return self.ink_of("Hd")[0]

    @cached_property
    def descent(self) -> float:
        """How deep p and g hang, as a positive number of thousandths of an em."""
        return -self.ink_of("pg")[1]

    @cached_property
    def figure_width(self) -> float:
        """The width of a tabular figure: the widest digit's advance."""
        return max(self.advance_of(digit) for digit in "0123456789")

    def _advance_of(self, letter: str) -> float:
        """Return the unkerned advance of one letter, in thousandths of an em."""
        share = _SPACES.get(letter)
        glyph = self.glyph_of(" " if share else letter)
        advance: float = self._font.get_glyph_h_advance(glyph) * self._per_unit * (share or 1.0)
        return advance

    def ink_of(self, text: str) -> tuple[float, float]:
        """Return how high and how low the ink of ``text`` reaches from its baseline."""
        highest, lowest = 0.0, 0.0
        for letter in set(text):
            top, bottom = self._letter_ink(letter)
            highest, lowest = max(highest, top), min(lowest, bottom)
        return highest, lowest

    def _ink_of_letter(self, letter: str) -> tuple[float, float]:
        extents = self._extents(letter)
        if not (extents and extents.height):
            return 0.0, 0.0
        top = extents.y_bearing * self._per_unit
        return top, top + extents.height * self._per_unit

    def _overhang_of(self, letter: str) -> tuple[float, float]:
        """Return how far the ink of a letter stands out to the left of its place, and to the right.

        Above 0 only for letters such as an italic J or f.
        """
        extents = self._extents(letter)
        if not (extents and extents.width):
            return 0.0, 0.0
        left = extents.x_bearing * self._per_unit
        right = left + extents.width * self._per_unit - self.advance_of(letter)
        return max(0.0, -left), max(0.0, right)

    def _extents(self, letter: str) -> Any:
        glyph = self.glyph_of(letter)
        return self._font.get_glyph_extents(glyph) if glyph else None

    def lacks(self, text: str) -> str:
        """Return the letters of ``text`` that can't be set in this face, each once.

        It has no glyph for them, or they are none that stand one after the other from the left:
        marks that no letter with them is composed of, letters that run from right to left.
        """
        composed = text if text.isascii() else unicodedata.normalize("NFC", text)
        return "".join(letter for letter in dict.fromkeys(composed) if not self._sets(letter))

    def _sets_letter(self, letter: str) -> bool:
        return letter in _SPACES or bool(
            self._font.get_nominal_glyph(ord(letter))
            and unicodedata.category(letter) not in _NOT_SET
            and unicodedata.bidirectional(letter) not in _RIGHT_TO_LEFT
        )

    def _shape(self, text: str, tracking: float = 0.0, tabular: bool = False) -> Shaped:
        """Shape ``text``: kerned, tracked, its figures tabular if asked.

        Args:
            text: in any form; it is composed (NFC) first.
            tracking: what to add after every letter, in thousandths of an em.
            tabular: whether every digit takes the same cell, the digit in its middle.
        """
        composed = unicodedata.normalize("NFC", text)
        drawn = "".join(" " if letter in _SPACES else letter for letter in composed)
        nominal = [self.advance_of(letter) for letter in drawn]
        advances = [advance + tracking for advance in self._kerned(drawn, nominal)]
        lead = 0.0
        for place, letter in enumerate(composed):
            if letter in _SPACES:
                advances[place] = self.advance_of(letter) + tracking
            elif tabular and letter.isdecimal() and letter.isascii():
                before = (self.figure_width - nominal[place]) / 2
                if place:
                    advances[place - 1] += before
                else:
                    lead = before
                advances[place] = self.figure_width + tracking - before
        shifts = tuple(round(a - n, 2) for a, n in zip(advances, nominal, strict=True))
        return Shaped(drawn, shifts if any(shifts) else (), lead, lead + sum(advances))

    def _kerned(self, text: str, nominal: list[float]) -> list[float]:
        features: dict[str, Any] = _FEATURES
        if self.figures:
            figures = [(found.start(), found.end(), True) for found in _DIGITS.finditer(text)]
            features = _FEATURES | ({"tnum": figures} if figures else {})
        positions = self._harfbuzz(text, features)[1]
        if positions is None or len(positions) != len(text):
            return list(nominal)
        return [p.x_advance * self._per_unit for p in positions]

    def _harfbuzz(self, text: str, features: dict[str, Any]) -> tuple[Any, Any]:
        """Return HarfBuzz's glyphs and their positions."""
        buffer = hb.Buffer()
        buffer.add_str(text)
        buffer.direction, buffer.language = "ltr", _LANGUAGE
        buffer.guess_segment_properties()
        hb.shape(self._font, buffer, features)
        return buffer.glyph_infos, buffer.glyph_positions


def typeface(name: str, maker_folder: Path | None = None) -> Typeface:
    """Return the face that ``faces.toml`` calls ``name``, the maker's own first.

    With `TABULAR` behind the name its digits are those that it keeps for tables, if it has any.

    Raises:
        LabelerError: if no such face is named, or its file can't be embedded.
    """
    maker_folder = files.with_shelves(maker_folder, "fonts")
    file = _file_of(
        name.removesuffix(TABULAR), maker_folder, files.stamps("fonts", "faces.toml", maker_folder)
    )
    try:
        return _opened(name, file, file.stat().st_mtime_ns)
    except OSError as error:
        raise _unreadable(file) from error


@lru_cache(maxsize=64)
def _opened(name: str, file: Path, _changed: int) -> Typeface:
    face = Typeface(name, file, name.endswith(TABULAR))
    if face.name.endswith(TABULAR) and not face.figures:
        return _opened(name.removesuffix(TABULAR), file, _changed)
    return face


@lru_cache(maxsize=256)
def _file_of(name: str, maker_folder: Path | None, _stamps: files.Stamps) -> Path:
    known: list[str] = []
    for folder in files.shelves("fonts", maker_folder):
        listing = folder / "faces.toml"
        faces = read_toml(listing, "faces-unreadable").data if listing.is_file() else {}
        if name in faces:
            entry = faces[name].get("file", "") if isinstance(faces[name], dict) else ""
            file = folder / str(entry)
            if not file.is_file() or file.resolve().parent != folder.resolve():
                raise _unreadable(file)
            return file.resolve()
        known += faces
    raise refusal(
        "unknown-face",
        Place(file="fonts/faces.toml"),
        f"there is no face called {name!r}",
        hint=did_you_mean(name, known),
    )


def _unreadable(path: Path) -> LabelerError:
    return refusal(
        "face-unusable",
        Place(file=str(path)),
        "this font can't be embedded",
        expected="a TrueType font file (.ttf with glyf outlines) that lies in the fonts folder",
    )
