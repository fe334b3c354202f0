"""The outlines of a font file: how far their ink reaches, how much there is, and their shape.

Measured from the curves themselves, through HarfBuzz: a font's tables of widths and heights say
what somebody wrote there.
"""

from __future__ import annotations

import re
import struct
import tomllib
from collections.abc import Iterator, Mapping, Sequence
from functools import cached_property, lru_cache
from itertools import pairwise
from pathlib import Path
from typing import NamedTuple

import uharfbuzz as hb

from labeler import files
from labeler.findings import LabelerError
from labeler.type.faces import TABULAR, typeface

# ----------------------------------------------------------------------------
# From codes to glyphs and to letters: a font's own table, and a PDF's ToUnicode map.

_HEX = rb"<([0-9A-Fa-f\s]*)>"
_CHAR_BLOCK = re.compile(rb"beginbfchar(.*?)endbfchar", re.DOTALL)
_RANGE_BLOCK = re.compile(rb"beginbfrange(.*?)endbfrange", re.DOTALL)
_CHAR = re.compile(_HEX + rb"\s*" + _HEX)
_RANGE = re.compile(_HEX + rb"\s*" + _HEX + rb"\s*(?:" + _HEX + rb"|\[(.*?)\])", re.DOTALL)

_MOST = 70_000
"""Codes in one map: two bytes give 65,536."""


def to_unicode(data: bytes) -> dict[int, str]:
    """Return the letters that a ToUnicode map gives each code.

    Source: ISO 32000-1:2008, 9.10.3.
    """
    found: dict[int, str] = {}
    for block in _CHAR_BLOCK.findall(data):
        for code, letters in _CHAR.findall(block):
            found[_number(code)] = _letters(letters)
    for block in _RANGE_BLOCK.findall(data):
        for first, last, letters, listed in _RANGE.findall(block):
            found |= _range(_number(first), _number(last), letters, listed)
            if len(found) > _MOST:
                return found
    return found


def _range(first: int, last: int, letters: bytes, listed: bytes) -> dict[int, str]:
    last = min(last, first + _MOST)
    if listed:
        each = [_letters(one) for one in re.findall(_HEX, listed)]
        return dict(zip(range(first, last + 1), each, strict=False))
    start = _letters(letters)
    if not start:
        return {}
    made = {}
    for step in range(last - first + 1):
        point = ord(start[-1]) + step
        if point > 0x10FFFF:
            break
        made[first + step] = start[:-1] + chr(point)
    return made


@lru_cache(maxsize=4096)
def _number(digits: bytes) -> int:
    plain = b"".join(digits.split())
    return int(plain, 16) if plain else 0


@lru_cache(maxsize=4096)
def _letters(digits: bytes) -> str:
    plain = b"".join(digits.split())
    raw = bytes.fromhex((plain + b"0" * (len(plain) % 2)).decode("ascii"))
    if len(raw) == 1:
        return chr(raw[0])
    return raw.decode("utf-16-be", "replace")


def font_codes(table: bytes) -> dict[tuple[int, int], dict[int, int]]:
    """Return the maps of a font's ``cmap`` table, by platform and encoding, codes to glyphs.

    Source: ISO/IEC 14496-22, 5.2.1 (cmap), formats 0, 4 and 6.
    """
    found: dict[tuple[int, int], dict[int, int]] = {}
    try:
        count = struct.unpack_from(">H", table, 2)[0]
        for index in range(min(count, 16)):
            platform, encoding, offset = struct.unpack_from(">HHI", table, 4 + 8 * index)
            found[platform, encoding] = dict(_map(table[offset:]))
    except struct.error:
        pass
    return found


def _map(table: bytes) -> Iterator[tuple[int, int]]:
    form = struct.unpack_from(">H", table)[0]
    if form == 0:
        yield from ((code, gid) for code, gid in enumerate(table[6:262]) if gid)
    elif form == 6:
        first, count = struct.unpack_from(">HH", table, 6)
        gids = struct.unpack_from(f">{count}H", table, 10)
        yield from ((first + step, gid) for step, gid in enumerate(gids) if gid)
    elif form == 4:
        yield from _segments(table)


def _segments(table: bytes) -> Iterator[tuple[int, int]]:
    count = struct.unpack_from(">H", table, 6)[0] // 2
    ends = struct.unpack_from(f">{count}H", table, 14)
    starts = struct.unpack_from(f">{count}H", table, 16 + 2 * count)
    deltas = struct.unpack_from(f">{count}H", table, 16 + 4 * count)
    at = 16 + 6 * count
    offsets = struct.unpack_from(f">{count}H", table, at)
    for number, (start, end, delta, offset) in enumerate(
        zip(starts, ends, deltas, offsets, strict=True)
    ):
        for code in range(start, min(end, 0xFFFE) + 1):
            gid = code
            if offset:
                where = at + 2 * number + offset + 2 * (code - start)
                if where + 2 > len(table):
                    break
                gid = struct.unpack_from(">H", table, where)[0]
                if not gid:
                    continue
            if gid := (gid + delta) & 0xFFFF:
                yield code, gid


Step = tuple[str, tuple[float, ...]]

Drawing = tuple[Step, ...]
"""Every step of an outline with its points, in the font's own units."""


class Ink(NamedTuple):
    """The ink of a glyph, in ems: its extent from the origin, y up, and its area."""

    left: float
    low: float
    right: float
    high: float
    area: float


NO_INK = Ink(0.0, 0.0, 0.0, 0.0, 0.0)


class _OutlinePen:
    """Takes down an outline."""

    def __init__(self) -> None:
        self.steps: list[Step] = []

    def moveTo(self, point: tuple[float, float]) -> None:  # noqa: N802  (HarfBuzz calls it so)
        self.steps.append(("M", point))

    def lineTo(self, point: tuple[float, float]) -> None:  # noqa: N802
        self.steps.append(("L", point))

    def qCurveTo(self, *points: tuple[float, float]) -> None:  # noqa: N802
        self.steps.append(("Q", tuple(number for point in points for number in point)))

    def curveTo(self, *points: tuple[float, float]) -> None:  # noqa: N802
        self.steps.append(("C", tuple(number for point in points for number in point)))

    def closePath(self) -> None:  # noqa: N802
        self.steps.append(("Z", ()))


class Outlines:
    """One font file's outlines.

    Raises:
        ValueError: if HarfBuzz finds no outlines in it.
    """

    def __init__(self, data: bytes) -> None:
        try:
            self._face = hb.Face(data)
        except hb.HarfBuzzError as error:
            raise ValueError("this is no font") from error
        if not {"glyf", "CFF ", "CFF2"} & set(self._face.table_tags):
            raise ValueError("this font has no outlines that can be read")
        self._font = hb.Font(self._face)
        self.per_unit = 1.0 / float(self._face.upem)
        self.count = self._face.glyph_count
        self.codes = font_codes(self._table("cmap"))
        self._drawings: dict[int, Drawing] = {}
        self._inks: dict[int, Ink] = {}

    def _table(self, tag: str) -> bytes:
        blob = self._face.reference_table(tag)
        return bytes(blob.data) if blob is not None else b""

    @property
    def postscript_name(self) -> str:
        """The name by which a PDF calls the font."""
        return self._face.get_name(hb.OTNameIdPredefined.POSTSCRIPT_NAME) or ""

    def gid_of(self, letter: str) -> int:
        """Return the glyph of a Unicode letter, 0 if there is none."""
        return self._font.get_nominal_glyph(ord(letter)) or 0

    @property
    def letters(self) -> dict[int, str]:
        """The first letter that each glyph serves."""
        found: dict[int, str] = {}
        for code in sorted(self._face.unicodes):
            found.setdefault(self._font.get_nominal_glyph(code) or 0, chr(code))
        return found

    def advance(self, gid: int) -> float:
        """Return a glyph's advance, in ems."""
        return float(self._font.get_glyph_h_advance(gid) * self.per_unit)

    def drawing(self, gid: int) -> Drawing:
        """Return a glyph's outline; empty where it draws nothing."""
        if not 0 <= gid < self.count:
            return ()
        if gid not in self._drawings:
            pen = _OutlinePen()
            self._font.draw_glyph_with_pen(gid, pen)
            self._drawings[gid] = tuple(pen.steps)
        return self._drawings[gid]

    def ink(self, gid: int) -> Ink:
        """Return how far a glyph's ink reaches, and its area.

        By the curves themselves: a TrueType glyph's own box is around its control points too.
        """
        if gid not in self._inks:
            self._inks[gid] = _ink(self.drawing(gid), self.per_unit)
        return self._inks[gid]


def _ink(drawing: Drawing, unit: float) -> Ink:
    points = list(_reached(drawing))
    if not points:
        return NO_INK
    xs, ys = zip(*points, strict=True)
    area = abs(_area(drawing)) * unit * unit
    return Ink(min(xs) * unit, min(ys) * unit, max(xs) * unit, max(ys) * unit, area)


def _reached(drawing: Drawing) -> Iterator[tuple[float, float]]:
    """Yield the points of an outline between which all of it lies: its ends and its turns."""
    x0 = y0 = 0.0
    for kind, points in drawing:
        if kind == "Z":
            continue
        xs, ys = (x0, *points[::2]), (y0, *points[1::2])
        x0, y0 = points[-2:]
        if kind != "M":
            yield xs[0], ys[0]
            yield x0, y0
        if kind in ("Q", "C"):
            for t in {*_turns(xs), *_turns(ys)}:
                yield _on_curve(xs, t), _on_curve(ys, t)


def _turns(ends: tuple[float, ...]) -> Iterator[float]:
    """Yield where a curve of second or third degree turns in one direction, from 0 to 1.

    A curve whose handles lie between its ends stays between them, wherever it turns.
    """
    low, high = min(ends[0], ends[-1]), max(ends[0], ends[-1])
    if all(low <= handle <= high for handle in ends[1:-1]):
        return
    first = [b - a for a, b in pairwise(ends)]
    second = [b - a for a, b in pairwise(first)]
    if len(first) == 2:
        roots = [-first[0] / second[0]] if second[0] else []
    else:
        a, b, c = second[1] - second[0], 2 * second[0], first[0]
        roots = _roots(a, b, c)
    yield from (t for t in roots if 0 < t < 1)


def _roots(a: float, b: float, c: float) -> list[float]:
    """Return the real roots of a quadratic, or of what is left of it."""
    if abs(a) < 1e-12:
        return [-c / b] if abs(b) > 1e-12 else []
    under = b * b - 4 * a * c
    if under < 0:
        return []
    return [(-b + sign * under**0.5) / (2 * a) for sign in (1, -1)]


def _on_curve(ends: tuple[float, ...], t: float) -> float:
    """Return a point of a Bézier curve, by de Casteljau's construction."""
    row = list(ends)
    while len(row) > 1:
        row = [a + (b - a) * t for a, b in pairwise(row)]
    return row[0]


def _area(drawing: Drawing) -> float:
    """Return the signed area of an outline, in square units.

    A quadratic curve encloses two thirds of the triangle of its points with its chord; a cubic
    one, 3/20 of a sum of cross products (both follow from Green's theorem).
    """
    total = 0.0
    x0 = y0 = first_x = first_y = 0.0
    for kind, points in drawing:
        if kind == "Z":
            total += (x0 * first_y - first_x * y0) / 2
            x0, y0 = first_x, first_y
            continue
        x, y = points[-2:]
        if kind == "M":
            x0, y0, first_x, first_y = x, y, x, y
            continue
        total += (x0 * y - x * y0) / 2
        if kind == "Q":
            cx, cy = points[0] - x0, points[1] - y0
            total += (cx * (y - y0) - (x - x0) * cy) / 3
        elif kind == "C":
            (ax, ay), (bx, by) = (points[0] - x0, points[1] - y0), (points[2] - x0, points[3] - y0)
            ex, ey = x - x0, y - y0
            total += 3 / 20 * ((ax * by - bx * ay) + (ax * ey - ex * ay) + (bx * ey - ex * by))
        x0, y0 = x, y
    return total


# ----------------------------------------------------------------------------
# Whether a glyph is the letter that the text layer says: its outline beside the face's own.
#
# A font inside a PDF carries the name of the face that it was cut from. Where that face is on the
# shelf, the letter's outline there is known, and the embedded outline must be the same, point by
# point. Fonts from elsewhere can't be held against anything, and the report says so.


class ShelfFace:
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


def shape_of(face: ShelfFace, drawing: Drawing, said: str) -> str:
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

    def __init__(self, maker_folder: Path | None) -> None:
        maker_folder = files.with_shelves(maker_folder, "fonts")
        self._faces, whole = _faces_of(maker_folder, files.stamps("fonts", "*", maker_folder))
        if not whole:  # what can't be read now may be read the next time
            _faces_of.cache_clear()

    def of(self, postscript: str, samples: Sequence[tuple[str, Drawing]]) -> ShelfFace | None:
        """Return the face that a font is cut from, or None if it is none of these.

        Args:
            postscript: what the font calls itself. A font that takes a face's name is held
                against that face, whatever it draws; else the outlines tell.
            samples: some of its letters with their outlines.
        """
        tabular = FOR_TABLES.search(postscript) is not None
        postscript = FOR_TABLES.sub("", postscript)
        marked = MARK.search(postscript) is not None
        plain = MARK.sub("", postscript)
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

MARK = re.compile(r"-[0-9a-f]{8}$")
"""What the press adds to the name of a maker's own font, since two may call themselves the same."""


@lru_cache(maxsize=4)
def _faces_of(maker_folder: Path | None, _stamps: files.Stamps) -> tuple[list[ShelfFace], bool]:
    """Return the faces that can be read, and whether these are all.

    They are read again whenever a file on the shelf has changed.
    """
    found: dict[tuple[Path, bool], ShelfFace] = {}
    whole = True
    for folder in dict.fromkeys((maker_folder, None)):
        for name in (name + kind for name in _names(folder) for kind in ("", TABULAR)):
            try:
                cut = typeface(name, folder)
                key = cut.path, bool(cut.figures)
                if key not in found:
                    found[key] = ShelfFace(cut.path, cut.figures)
            except (LabelerError, ValueError, OSError):
                whole = False
    return list(found.values()), whole


def _names(maker_folder: Path | None) -> Iterator[str]:
    for folder in files.shelves("fonts", maker_folder):
        try:
            yield from tomllib.loads((folder / "faces.toml").read_text("utf-8"))
        except (OSError, ValueError):
            continue
