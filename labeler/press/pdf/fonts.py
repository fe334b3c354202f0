"""Type in a PDF: glyph runs as strings of their fonts' codes, fonts embedded as subsets.

The PDF library reads the font files and cuts the subsets; which letter has which code of which
subset is kept here, document by document. Source: ISO 32000-1:2008, 9.6 to 9.10.
"""

from __future__ import annotations

import hashlib
from collections.abc import Sequence
from functools import lru_cache
from itertools import groupby
from pathlib import Path
from threading import Lock
from typing import Any, NamedTuple

from reportlab.pdfbase.ttfonts import TTFontFace

from labeler import files
from labeler.findings import Finding, LabelerError, Place, stop
from labeler.marks import Glyphs
from labeler.press.pdf.objects import Entries, Name, PdfFile, Ref, entries, hex_string, number
from labeler.type.faces import typeface

_RUNS_KEPT = 20_000

_GAPING = 95.0
"""Thousandths of an em. pdfminer.six and poppler read a gap of a tenth of an em as a space (their
``word_margin`` and ``minWordBreakSpace``)."""

_DIGITS = "0123456789"

_TABULAR = "-tnum"
"""Behind the name of a font with other digits: it is another subset of its file. What follows is
how much wider they are."""

_SPACE, _CODES = 32, 256

_SYMBOLIC, _NONSYMBOLIC = 1 << 2, 1 << 5
"""Flags of a font with codes of its own, and of one without (ISO 32000-1:2008, table 123)."""

_READING = Lock()
"""A loaded font is shared, and is read with one finger on its page: one subset at a time."""


class Line(NamedTuple):
    """A run set: each part a font's name in the file and the showing of its codes.

    ``says`` is what the run reads as where wide gaps would be read as spaces.
    """

    parts: tuple[tuple[str, str], ...]
    says: str


class Fonts:
    """The fonts of one PDF, and the runs that were set from them."""

    def __init__(self, file: PdfFile, maker_folder: Path | None) -> None:
        self._file, self._maker_folder = file, maker_folder
        self._cut: dict[tuple[str, int], _CutFont] = {}
        self._runs: dict[tuple[str, str, tuple[float, ...]], Line] = {}
        self.ref = file.reserve()
        """The dictionary of all fonts; it is written last, when it is known what they need."""

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
        parts: list[tuple[str, str]] = []
        first = 0
        for subset, codes in font.codes(run, self._maker_folder):
            shown = _show(codes, shifts[first : first + len(codes)])
            parts.append((f"/{font.name}.{subset}", shown))
            first += len(codes)
        return Line(tuple(parts), run.text if _gaping(run.text, shifts) else "")

    def _font(self, face: str, wider: int) -> _CutFont:
        font = self._cut.get((face, wider))
        if font is None:
            cut = typeface(face, self._maker_folder)
            digits = _DIGITS if wider else "".join(cut.figures)
            figures = tuple((d, cut.glyph_of(d), cut.advance_of(d) + wider) for d in digits)
            mark = f"{_TABULAR}{wider or ''}" if figures else ""
            font = _CutFont(cut.path, mark, figures, f"F{len(self._cut) + 1}")
            self._cut[face, wider] = font
        return font

    def finish(self) -> None:
        """Write all fonts. No run can be set after that.

        Raises:
            LabelerError: if a font file is damaged.
        """
        fonts = [font for cut in self._cut.values() for font in cut.embed(self._file)]
        self._file.write(self.ref, dict(fonts))


class _CutFont:
    """One font file as a document uses it: as many subsets of 256 codes as its letters need."""

    def __init__(
        self, path: Path, mark: str, figures: tuple[tuple[str, int, float], ...], name: str
    ) -> None:
        self.name = name
        self._path = path
        self._face = _load(str(path), path.stat().st_mtime_ns, figures)
        self._suffix = _suffix(path) + mark
        self._subsets: list[list[int]] = []
        self._next = 0
        self._codes: dict[str, int] = {}

    def codes(self, run: Glyphs, maker_folder: Path | None) -> list[tuple[int, bytes]]:
        """Return the codes of a run's letters, letters of one subset together.

        Raises:
            LabelerError: if the face has no glyph for a letter, naming the letters.
        """
        for letter in run.text:
            if letter not in self._codes:
                if ord(letter) not in self._face.charToGlyph:
                    raise LabelerError(
                        _missing(run, typeface(run.face, maker_folder).lacks(run.text))
                    )
                self._codes[letter] = self._new_code(ord(letter))
        codes = [self._codes[letter] for letter in run.text]
        if len(self._subsets) == 1:
            return [(0, bytes(codes))]
        parts = groupby(codes, lambda code: code // _CODES)
        return [(subset, bytes([code % _CODES for code in part])) for subset, part in parts]

    def _new_code(self, letter: int) -> int:
        """Return the code of a letter that is met for the first time, counted through all subsets.

        Code 0 is the missing glyph, 32 the space, as every reader expects it.
        """
        if self._next % _CODES == 0:
            self._subsets.append([0] + [_SPACE] * _SPACE)
            self._next += 1
        subset, code = self._subsets[-1], self._next % _CODES
        if letter == _SPACE:
            return self._next - code + _SPACE
        if code < _SPACE:
            subset[code] = letter
        else:
            subset.append(letter)
        given = self._next
        self._next += 2 if code == _SPACE - 1 else 1
        return given

    def embed(self, file: PdfFile) -> list[tuple[str, Ref]]:
        """Write the subsets, and return each one's name in the file and its font."""
        return [
            (f"{self.name}.{number}", self._embed(file, letters))
            for number, letters in enumerate(self._subsets)
        ]

    def _embed(self, file: PdfFile, letters: list[int]) -> Ref:
        face = self._face
        try:
            with _READING:
                program: bytes = face.makeSubset(letters)
        except Exception as error:  # a damaged font breaks its reader in many ways
            raise LabelerError(_unusable(str(self._path), error)) from error
        name = f"{_tag(program)}+{face.name.decode('utf-8')}{self._suffix}"
        read_as = entries(ToUnicode=file.add_stream(to_unicode(letters)))
        return _write_font(file, face, name, program, letters, read_as)


@lru_cache(maxsize=64)
def _load(path: str, _changed: int, figures: tuple[tuple[str, int, float], ...]) -> Any:
    """Return the font in the file at ``path``, read again whenever the file changed.

    Args:
        path: of a TrueType file.
        figures: digits that are drawn with other glyphs, or are wider, than usual: each with its
            glyph and its advance in thousandths of an em.
    """
    try:
        face = TTFontFace(path)
        for digit, glyph, advance in figures:
            face.charToGlyph[ord(digit)] = glyph
            face.charWidths[ord(digit)] = advance
            bearing = face.hmetrics[glyph][1]
            face.hmetrics[glyph] = round(advance * face.unitsPerEm / 1000), bearing
    except Exception as error:  # a damaged font breaks its reader in many ways
        raise LabelerError(_unusable(path, error)) from error
    return face


def whole_font(file: PdfFile, path: Path) -> Ref:
    """Embed all of a font file under the Windows Latin code page (ISO 32000-1:2008, annex D)."""
    face = _load(str(path), path.stat().st_mtime_ns, ())
    letters = [ord(bytes([code]).decode("cp1252", "replace")) for code in range(_CODES)]
    encoding = entries(Encoding=Name("WinAnsiEncoding"))
    return _write_font(file, face, path.stem, path.read_bytes(), letters, encoding)


def _write_font(
    file: PdfFile, face: Any, name: str, program: bytes, letters: Sequence[int], codes: Entries
) -> Ref:
    """Write a simple font, its descriptor and its program (ISO 32000-1:2008, 9.6.3 and 9.8).

    Args:
        file: the PDF.
        face: the font as the library read it.
        name: what the font is called.
        program: the font file.
        letters: which letter each code shows, from code 0.
        codes: the entries that say how codes become glyphs or letters.
    """
    symbolic = _NONSYMBOLIC if "Encoding" in codes else _SYMBOLIC
    descriptor = entries(
        "FontDescriptor", FontName=Name(name),
        Flags=face.flags & ~_NONSYMBOLIC & ~_SYMBOLIC | symbolic,
        FontBBox=face.bbox, ItalicAngle=face.italicAngle, StemV=face.stemV, Ascent=face.ascent,
        Descent=face.descent, CapHeight=face.capHeight, MissingWidth=face.defaultWidth,
        FontFile2=file.add_stream(program, {"Length1": len(program)}),
    )  # fmt: skip
    widths = [face.getCharWidth(letter) for letter in letters]
    font = entries(
        "Font", "TrueType", BaseFont=Name(name), FirstChar=0, LastChar=len(letters) - 1,
        Widths=widths, FontDescriptor=file.add(descriptor),
    )  # fmt: skip
    return file.add(font | codes)


def to_unicode(letters: Sequence[int]) -> bytes:
    """Return the map from a font's codes to letters, as archives and readers want it.

    Args:
        letters: what each code reads as, from code 0; 0 where it reads as nothing.

    Source: ISO 32000-1:2008, 9.10.3; Adobe Technical Note 5014 (CMap and CIDFont Files), 1.4.1,
    for the hundred of a block; ISO 19005-2:2011, 6.2.11.7.2, for the values that may not stand
    there.
    """
    mapped = [
        f"<{code:02X}> <{chr(letter).encode('utf-16-be').hex().upper()}>"
        for code, letter in enumerate(letters)
        if letter not in _NO_LETTERS
    ]
    blocks = [mapped[first : first + _MOST] for first in range(0, len(mapped), _MOST)]
    listed = [
        line for block in blocks for line in (f"{len(block)} beginbfchar", *block, "endbfchar")
    ]
    return "\n".join([_CMAP, *listed, _CMAP_ENDS]).encode("ascii")


_CMAP = """/CIDInit /ProcSet findresource begin
12 dict begin
begincmap
/CIDSystemInfo <</Registry (Adobe) /Ordering (UCS) /Supplement 0>> def
/CMapName /Adobe-Identity-UCS def
/CMapType 2 def
1 begincodespacerange
<00> <FF>
endcodespacerange"""
_CMAP_ENDS = "endcmap\nCMapName currentdict /CMap defineresource pop\nend\nend"
_NO_LETTERS = frozenset({0x0000, 0xFEFF, 0xFFFE})
_MOST = 100


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
    if not any(shifts):
        return f"{hex_string(codes)}Tj"
    parts: list[str] = []
    first = 0
    for place, shift in enumerate(shifts, 1):
        if shift:
            parts += hex_string(codes[first:place]), number(-shift, 2)
            first = place
    if first < len(codes):
        parts.append(hex_string(codes[first:]))
    return f"[{''.join(parts)}]TJ"


def _tag(program: bytes) -> str:
    """Return the six letters before a subset's name: other letters make another font (9.6.4)."""
    sum_of_it = int.from_bytes(hashlib.sha256(program).digest()[:8], "big")
    return "".join(chr(ord("A") + sum_of_it // 26**place % 26) for place in range(6))


def _suffix(path: Path) -> str:
    """Return what a maker's own font adds to its name: two files may call themselves the same."""
    if path.parent == files.shipped("fonts"):
        return ""
    return "-" + hashlib.sha256(path.read_bytes()).hexdigest()[:8]


def _unusable(path: str, error: Exception) -> Finding:
    reason = str(error) or type(error).__name__
    return stop(
        "face-unusable",
        Place(file=path),
        f"this font can't be embedded: {reason}",
        expected="a whole TrueType font file (.ttf with glyf outlines)",
    )


def _missing(run: Glyphs, letters: str) -> Finding:
    named = ", ".join(f"{letter} (U+{ord(letter):04X})" for letter in letters)
    return stop(
        "letters-missing",
        Place(),
        f"the face {run.face} has no glyph for {named}",
        found=repr(run.text),
        hint="Write it in other letters, or choose a face that has them.",
    )
