"""Type in a PDF: fonts embedded as subsets, glyph runs as strings of their codes."""

from __future__ import annotations

import hashlib
from functools import lru_cache
from pathlib import Path
from typing import NamedTuple

from reportlab.pdfbase.ttfonts import TTFont

from labeler import shelf
from labeler.findings import Finding, LabelerError, Place, stop
from labeler.layout.marks import Glyphs
from labeler.press.pdf_file import PdfFile, unusable_font
from labeler.typefaces import typeface

_RUNS_KEPT = 20_000


class Set(NamedTuple):
    """A run set in one subset of a font: the font's name in the file, and the showing of it."""

    font: str
    show: str


class TypeCase:
    """The fonts of one PDF, and the runs that were set from them."""

    def __init__(self, file: PdfFile, own: Path | None) -> None:
        self._file = file
        self._own = own
        self._fonts: dict[str, TTFont] = {}
        self._runs: dict[tuple[str, str, tuple[float, ...]], list[Set]] = {}

    def set(self, run: Glyphs) -> list[Set]:
        """Return ``run`` as its fonts' codes: one part, or more where a subset is full.

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

    def _set(self, run: Glyphs) -> list[Set]:
        font = self._font(run.face)
        parts: list[Set] = []
        first = 0
        for subset, codes in font.splitString(run.text, self._file):
            if 0 in codes:
                raise LabelerError(_missing(run, typeface(run.face, self._own).lacks(run.text)))
            name = font.getSubsetInternalName(subset, self._file)
            parts.append(Set(name, _show(codes, run.shifts[first : first + len(codes)])))
            first += len(codes)
        return parts

    def _font(self, face: str) -> TTFont:
        font = self._fonts.get(face)
        if font is None:
            path = typeface(face, self._own).path
            font = self._fonts[face] = _load(str(path), path.stat().st_mtime_ns)
        return font


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
            parts.append(f"<{digits[2 * first : 2 * place]}>{-shift:.2f}")
            first = place
    rest = digits[2 * first :]
    return f"[{''.join(parts)}{f'<{rest}>' if rest else ''}]TJ"


@lru_cache(maxsize=64)
def _load(path: str, _changed: int) -> TTFont:
    """Return the font in the file at ``path``, read again whenever the file changed."""
    try:
        font = TTFont(f"{path}@{_changed}", path, asciiReadable=False)
    except Exception as error:  # a damaged font breaks its reader in many ways
        raise LabelerError(unusable_font(path, error)) from error
    font.face.subfontNameX += _suffix(Path(path))
    return font


def _suffix(path: Path) -> bytes:
    """Return what a maker's own font adds to its name: two files may call themselves the same."""
    if path.parent == shelf.shipped("fonts"):
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
