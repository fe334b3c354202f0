"""Type in a PDF: fonts embedded as subsets, glyph runs as strings of their codes."""

from __future__ import annotations

import hashlib
from functools import lru_cache
from pathlib import Path
from typing import NamedTuple

from reportlab.pdfbase.ttfonts import TTFont

from labeler import files
from labeler.findings import Finding, LabelerError, Place, stop
from labeler.marks import Glyphs
from labeler.press.pdf_file import PdfFile, unusable_font
from labeler.type.faces import typeface

_RUNS_KEPT = 20_000

_GAPING = 95.0
"""Thousandths of an em. pdfminer.six and poppler read a gap of a tenth of an em as a space (their
``word_margin`` and ``minWordBreakSpace``)."""

_DIGITS = "0123456789"

Figure = tuple[str, int, float]
"""A digit, its glyph, and its advance in thousandths of an em."""

_TABULAR = "-tnum"
"""Behind the name of a font with other digits: it is another subset of its file. What follows is
how much wider they are."""


class Set(NamedTuple):
    """A run set in one subset of a font: the font's name in the file, and the showing of it."""

    font: str
    show: str


class Line(NamedTuple):
    """A run set: its parts, and what it reads as where wide gaps would be read as spaces."""

    parts: tuple[Set, ...]
    says: str


class TypeCase:
    """The fonts of one PDF, and the runs that were set from them."""

    def __init__(self, file: PdfFile, own: Path | None) -> None:
        self._file = file
        self._own = own
        self._fonts: dict[tuple[str, int], TTFont] = {}
        self._runs: dict[tuple[str, str, tuple[float, ...]], Line] = {}

    def set(self, run: Glyphs) -> Line:
        """Return ``run`` as its fonts' codes: in one part, or more where a subset is full.

        Raises:
            LabelerError: if the face has no glyph for a letter, naming the letters.
        """
        key = (run.face, run.text, run.shifts)
        known = self._runs.get(key)
        if known is None:
            if len(self._runs) >= _RUNS_KEPT:
                self._runs.clear()
            known = self._runs[key] = self._set(run)
        return known

    def _set(self, run: Glyphs) -> Line:
        wider = _evenly_wider(run)
        shifts = tuple(round(shift - wider, 2) for shift in run.shifts) if wider else run.shifts
        font = self._font(run.face, wider)
        parts: list[Set] = []
        first = 0
        for subset, codes in font.splitString(run.text, self._file):
            if 0 in codes:
                raise LabelerError(_missing(run, typeface(run.face, self._own).lacks(run.text)))
            name = font.getSubsetInternalName(subset, self._file)
            parts.append(Set(name, _show(codes, shifts[first : first + len(codes)])))
            first += len(codes)
        return Line(tuple(parts), run.text if _gaping(run.text, shifts) else "")

    def _font(self, face: str, wider: int) -> TTFont:
        font = self._fonts.get((face, wider))
        if font is None:
            cut = typeface(face, self._own)
            digits = _DIGITS if wider else "".join(cut.figures)
            figures = tuple((d, cut.glyph_of(d), cut.advance_of(d) + wider) for d in digits)
            changed = cut.path.stat().st_mtime_ns
            mark = f"{_TABULAR}{wider or ''}" if figures else ""
            font = self._fonts[face, wider] = _load(str(cut.path), changed, mark, figures)
        return font


def _gaping(text: str, shifts: tuple[float, ...]) -> bool:
    """Tell whether two letters of one word stand so far apart that they are read as two words."""
    return any(
        shift > _GAPING and text[place : place + 2].isalnum()
        for place, shift in enumerate(shifts[:-1])
    )


def _evenly_wider(run: Glyphs) -> int:
    """Return how much wider all figures of a run are set where the gaps would read as spaces.

    So they stand under the bars of a code. They are then set in a font in which they are that
    much wider, in thousandths of an em, and there is no gap.
    """
    spread = set(run.shifts)
    if len(spread) != 1 or run.shifts[0] <= _GAPING or set(run.text) - set(_DIGITS):
        return 0
    return int(run.shifts[0])


def _show(codes: bytes, shifts: tuple[float, ...]) -> str:
    """Return the operator that shows ``codes``, each followed by its shift.

    A number in TJ moves what follows back, in thousandths of an em
    (ISO 32000-1:2008, table 109).
    """
    digits = codes.hex()
    if not any(shifts):
        return f"<{digits}>Tj"
    parts, first = [], 0
    for place, shift in enumerate(shifts, 1):
        if shift:
            parts.append(f"<{digits[2 * first : 2 * place]}>{_number(-shift)}")
            first = place
    rest = digits[2 * first :]
    return f"[{''.join(parts)}{f'<{rest}>' if rest else ''}]TJ"


def _number(value: float) -> str:
    return f"{value:.2f}".rstrip("0").rstrip(".")


@lru_cache(maxsize=64)
def _load(path: str, _changed: int, mark: str, figures: tuple[Figure, ...]) -> TTFont:
    """Return the font in the file at ``path``, read again whenever the file changed.

    Args:
        path: of a TrueType file.
        mark: what is put behind the font's name.
        figures: digits that are drawn with other glyphs, or are wider, than usual.
    """
    try:
        font = TTFont(f"{path}@{_changed}{mark}", path, asciiReadable=False)
        per_unit = font.face.unitsPerEm / 1000
        for digit, glyph, advance in figures:
            font.face.charToGlyph[ord(digit)] = glyph
            font.face.charWidths[ord(digit)] = advance
            bearing = font.face.hmetrics[glyph][1]
            font.face.hmetrics[glyph] = round(advance * per_unit), bearing
    except Exception as error:  # a damaged font breaks its reader in many ways
        raise LabelerError(unusable_font(path, error)) from error
    font.face.subfontNameX += _suffix(Path(path)) + mark.encode("ascii")
    return font


def _suffix(path: Path) -> bytes:
    """Return what a maker's own font adds to its name: two files may call themselves the same."""
    if path.parent == files.shipped("fonts"):
        return b""
    return b"-" + hashlib.sha256(path.read_bytes()).hexdigest()[:8].encode()


def _missing(run: Glyphs, letters: str) -> Finding:
    named = ", ".join(f"{letter} (U+{ord(letter):04X})" for letter in letters)
    return stop(
        "letters-missing",
        Place(),
        f"the face {run.face} has no glyph for {named}",
        found=repr(run.text),
        hint="Write it in other letters, or choose a face that has them.",
    )
