"""The fonts of a PDF: from the codes in a string to letters, outlines and advances.

Source: ISO 32000-1:2008, 9.6 (simple fonts), 9.7 (composite fonts), 9.10 (extraction of text).
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from functools import lru_cache
from typing import Any, NamedTuple

from pypdf.generic import StreamObject

from labeler.checker.page.elements import Font
from labeler.checker.pdf.file import (
    TooMuchError,
    limit,
    look,
    mapping,
    numbers,
    resolved,
    sequence,
    text_of,
)
from labeler.checker.pdf.outlines import (
    FOR_TABLES,
    MARK,
    NO_INK,
    UNKNOWN_SHAPE,
    Drawing,
    Faces,
    Ink,
    Outlines,
    shape_of,
    to_unicode,
)

_WEIGHTS = {
    "thin": 100, "hairline": 100, "extralight": 200, "ultralight": 200, "light": 300,
    "regular": 400, "roman": 400, "book": 400, "medium": 500, "semibold": 600, "demibold": 600,
    "demi": 600, "extrabold": 800, "ultrabold": 800, "bold": 700, "black": 900, "heavy": 900,
}  # fmt: skip
"""What styles are called. Source: CSS Fonts Level 4, 2.2.1 (common weight names)."""

_TAG = re.compile(r"^[A-Z]{6}\+")


class GlyphMetrics(NamedTuple):
    """One code of a font: what it says, what it is, how wide, and its ink in ems."""

    text: str
    shape: str | None
    advance: float
    ink: Ink
    word_space: bool


class FileFont:
    """A font as the file brings it."""

    def __init__(self, entry: Any, shelf: Faces) -> None:
        self._entry = mapping(entry)
        self.kind = text_of(look(entry, "/Subtype"))
        self._below = look(look(entry, "/DescendantFonts"), 0) if self.kind == "Type0" else entry
        self._descriptor = look(self._below, "/FontDescriptor")
        name = _TAG.sub("", text_of(look(entry, "/BaseFont")))
        self._outlines = self._read_outlines()
        brought = any(key in mapping(self._descriptor) for key in _FILES)
        self._letters = self._read_letters()
        self._widths = self._read_widths()
        self._usual_width = self._read_usual_width()
        self._gids = self._read_gids()
        self._sorts: dict[int, GlyphMetrics] = {}
        self._face = shelf.of(name, self._samples()) if self._outlines is not None else None
        self.font = Font(
            name,
            weight_of(self._face.name if self._face else name),
            brought or self.kind == "Type3",
            self._outlines is not None,
            self._outlines is None and "/FontFile2" in mapping(self._descriptor),
            self._face is not None,
            self._face.o_height if self._face else None,
            self._face.width_of_n if self._face else None,
        )

    def _samples(self) -> list[tuple[str, Drawing]]:
        """Return some letters of the font with their outlines."""
        assert self._outlines is not None
        found: list[tuple[str, Drawing]] = []
        for code, letter in self._letters.items():
            drawing = self._outlines.drawing(self._gid(code))
            if drawing and len(letter) == 1:
                found.append((letter, drawing))
            if len(found) == _SAMPLES:
                break
        return found

    def _gid(self, code: int) -> int:
        return self._gids.get(code, code if self.kind == "Type0" else 0)

    def codes(self, data: bytes) -> Iterable[int]:
        """Return the codes in a string, one byte each, or two in a composite font."""
        if self.kind != "Type0":
            return data
        return [int.from_bytes(data[at : at + 2], "big") for at in range(0, len(data) - 1, 2)]

    def sort(self, code: int) -> GlyphMetrics:
        """Return what a code stands for."""
        known = self._sorts.get(code)
        if known is None:
            known = self._sorts[code] = self._sort(code)
        return known

    def _sort(self, code: int) -> GlyphMetrics:
        text = self._letters.get(code, "")
        gid = self._gid(code)
        ink, shape = NO_INK, None
        if self._outlines is not None:
            ink = self._outlines.ink(gid)
            if self._face is not None:
                shape = shape_of(self._face, self._outlines.drawing(gid), text)
        elif text.strip():
            ink = _GUESSED
        if shape is None and len(text) > _MOST_LETTERS:
            shape = UNKNOWN_SHAPE
        advance = self._widths.get(code, self._usual_width) / 1000
        return GlyphMetrics(text, shape, advance, ink, code == 32 and self.kind != "Type0")

    # ------------------------------------------------------------------ what the file brings

    def _read_outlines(self) -> Outlines | None:
        for key in _FILES:
            file = look(self._descriptor, key)
            if isinstance(file, StreamObject):
                data = file.get_data()
                if len(data) > limit("font-bytes"):
                    raise TooMuchError("a font of this size")
                return outlines_of(data)
        return None

    def _read_letters(self) -> dict[int, str]:
        stream = look(self._entry, "/ToUnicode")
        if isinstance(stream, StreamObject):
            return to_unicode(stream.get_data())
        return {} if self.kind == "Type0" else _by_encoding(self._entry)

    def _read_widths(self) -> dict[int, float]:
        if self.kind == "Type0":
            return _composite_widths(sequence(look(self._below, "/W")))
        first = look(self._entry, "/FirstChar")
        listed = sequence(look(self._entry, "/Widths"))
        start = int(first) if isinstance(first, int) else 0
        return {start + step: float(resolved(width)) for step, width in enumerate(listed)
                if isinstance(resolved(width), int | float)}  # fmt: skip

    def _read_usual_width(self) -> float:
        if self.kind == "Type0":
            width = look(self._below, "/DW")
            return float(width) if isinstance(width, int | float) else 1000.0
        width = look(self._descriptor, "/MissingWidth")
        if isinstance(width, int | float):
            return float(width)
        return 0.0 if self._widths else _USUAL_WIDTH

    def _read_gids(self) -> dict[int, int]:
        if self._outlines is None:
            return {}
        if self.kind == "Type0":
            return _listed_gids(look(self._below, "/CIDToGIDMap"))
        has_own_codes = look(self._entry, "/Encoding") is None
        return _simple_gids(self._outlines, None if has_own_codes else _by_encoding(self._entry))


_USUAL_WIDTH = 500.0
"""Thousandths of an em: the width of a letter of a font that is outside the file and brings no
widths. Common practice, no published source."""

_FILES = ("/FontFile2", "/FontFile3", "/FontFile")

_SAMPLES = 12

_MOST_LETTERS = 3
"""In one glyph: ffi. What says more by itself is no letter that can be believed."""

_GUESSED = Ink(0.05, 0.0, 0.5, 0.7, 0.1)
"""The ink of a letter whose outline can't be read: enough to know where on the page it is."""


@lru_cache(maxsize=128)
def outlines_of(data: bytes) -> Outlines | None:
    """Return the outlines in a font file, or None where they can't be read."""
    try:
        return Outlines(data)
    except ValueError:
        return None


def weight_of(name: str) -> int | None:
    """Return the weight that a PostScript name tells: ``BarlowCondensed-SemiBold`` is 600.

    A name without a word for its weight is of a regular one.
    """
    name = MARK.sub("", FOR_TABLES.sub("", name))
    style = name.rpartition("-")[2] if "-" in name else name.rpartition(",")[2]
    plain = style.casefold()
    for word in sorted(_WEIGHTS, key=len, reverse=True):
        if word in plain:
            return _WEIGHTS[word]
    return 400 if name else None


def _by_encoding(entry: Mapping[str, Any]) -> dict[int, str]:
    """Return the letter of each code in the encodings that need no list of glyph names."""
    base = look(entry, "/Encoding")
    name = text_of(base) or text_of(look(base, "/BaseEncoding"))
    codec = "mac-roman" if name == "MacRomanEncoding" else "cp1252"
    return {code: bytes([code]).decode(codec, "ignore") for code in range(256)}


def _simple_gids(outlines: Outlines, letters: dict[int, str] | None) -> dict[int, int]:
    """Return the glyphs of a simple TrueType font's codes (ISO 32000-1:2008, 9.6.6.4)."""
    codes = outlines.codes
    if letters is not None and (unicode := codes.get((3, 1))):
        return {code: unicode.get(ord(letter), 0) for code, letter in letters.items() if letter}
    if symbols := codes.get((3, 0)):
        return {code & 0xFF: gid for code, gid in symbols.items()}
    return codes.get((1, 0), {})


def _listed_gids(entry: Any) -> dict[int, int]:
    if not isinstance(entry, StreamObject):
        return {}
    data = entry.get_data()
    pairs = (data[at : at + 2] for at in range(0, len(data) - 1, 2))
    return {code: int.from_bytes(pair, "big") for code, pair in enumerate(pairs)}


def _composite_widths(listed: Iterable[Any]) -> dict[int, float]:
    """Return the widths of a composite font (ISO 32000-1:2008, 9.7.4.3)."""
    widths: dict[int, float] = {}
    row = [resolved(one) for one in listed]
    at = 0
    while at + 1 < len(row):
        first, second = row[at], row[at + 1]
        if not isinstance(first, int):
            break
        if isinstance(second, list):
            given = numbers(second, len(second)) or []
            widths |= {first + step: width for step, width in enumerate(given)}
            at += 2
        elif at + 2 < len(row) and isinstance(second, int):
            last = min(second, first + 70_000)
            widths |= dict.fromkeys(range(first, last + 1), float(row[at + 2]))
            at += 3
        else:
            break
    return widths
