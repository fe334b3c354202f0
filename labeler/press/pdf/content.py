"""Marks as operators: the content of pages and forms, one small function a kind of mark.

Marks keep their own coordinates, top left origin, y down: the page turns y over once. Decides
nothing. Numbers are written with three decimals, a third of a thousandth of a millimetre.
Operators: ISO 32000-1:2008, tables 57, 59, 60 and 74.
"""

from __future__ import annotations

import zlib
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from functools import lru_cache
from io import BytesIO
from pathlib import Path

from PIL import Image as Pixels
from PIL import UnidentifiedImageError

from labeler.findings import Place, refusal
from labeler.geometry import Box, Matrix
from labeler.marks import Code, Glyphs, Group, Image, Mark, Picture, VectorPath
from labeler.press.pdf.fonts import Fonts
from labeler.press.pdf.objects import Entries, Name, PdfFile, Ref, Value, entries, number, pdf

_State = tuple[str, tuple[str, float], str]
_UNKNOWN: _State = ("", ("", 0.0), "")
"""Ink, font and stroke. A form begins with whatever its user had (ISO 32000-1:2008, 8.10.1), so it
trusts none."""


class Shared:
    """What all content of one PDF draws from: its fonts, pictures and keyed groups."""

    def __init__(self, file: PdfFile, maker_folder: Path | None) -> None:
        self.file = file
        self.fonts = Fonts(file, maker_folder)
        self.groups: dict[str, Ref] = {}
        self._pictures: dict[str, Ref] = {}

    def form(self, marks: Iterable[Mark], box: Box, artifacts: Iterable[VectorPath] = ()) -> Ref:
        """Write marks as a form to be placed many times, and return its reference.

        A form clips to its box (ISO 32000-1:2008, 8.10.1), so ``box`` must hold the bleed.
        """
        content = Content(self)
        content.draw(marks)
        content.draw_artifacts(artifacts)
        edges = [round(edge, 3) for edge in box]
        about = entries("XObject", "Form", BBox=edges, Resources=content.resources())
        return self.file.add_stream(content.data(), about)

    def picture(self, image: Image) -> Ref:
        """Return the object that holds ``image``, written the first time it is asked for.

        Raises:
            LabelerError: if the data is no picture.
        """
        known = self._pictures.get(image.key)
        if known is None:
            try:
                known = self._pictures[image.key] = self._write_picture(image)
            except (UnidentifiedImageError, OSError, SyntaxError) as error:
                raise refusal(
                    "picture-unusable", Place(), f"this picture can't be printed: {error}"
                ) from error
        return known

    def _write_picture(self, image: Image) -> Ref:
        """Write a JPEG as it is, all else as pixels with their transparency beside them."""
        with Pixels.open(BytesIO(image.data)) as pixels:
            if pixels.format == "JPEG" and pixels.mode in _SPACES:
                return self.file.add_stream(image.data, _about(pixels, "DCTDecode"), packed=True)
            grey = pixels.mode in ("1", "L", "LA") and "transparency" not in pixels.info
            if not pixels.has_transparency_data:
                return self._write_pixels(pixels.convert("L" if grey else "RGB"))
            full = pixels.convert("RGBA")
            mask = self._write_pixels(full.getchannel("A"))
            return self._write_pixels(full.convert("L" if grey else "RGB"), SMask=mask)

    def _write_pixels(self, pixels: Pixels.Image, **more: Value) -> Ref:
        data = zlib.compress(pixels.tobytes(), 6)
        return self.file.add_stream(data, _about(pixels, "FlateDecode") | more, packed=True)


def _about(pixels: Pixels.Image, packing: str) -> Entries:
    return entries(
        "XObject", "Image", Width=pixels.width, Height=pixels.height, BitsPerComponent=8,
        ColorSpace=Name(_SPACES[pixels.mode]), Filter=Name(packing),
    )  # fmt: skip


_SPACES = {"L": "DeviceGray", "RGB": "DeviceRGB"}


class Content:
    """A content stream in the making."""

    def __init__(self, shared: Shared) -> None:
        self._shared = shared
        self._parts: list[str] = []
        self._used: set[Ref] = set()
        self._ink, self._font, self._stroke = _UNKNOWN

    def data(self) -> bytes:
        """Return the operators so far."""
        return "\n".join(self._parts).encode("ascii")

    def resources(self) -> Entries:
        """Return the dictionary of what the operators refer to."""
        used: Entries = {f"X{int(ref)}": ref for ref in sorted(self._used)}
        return entries(Font=self._shared.fonts.ref) | (entries(XObject=used) if used else {})

    def emit(self, operators: str) -> None:
        """Add operators that change neither ink nor font."""
        self._parts.append(operators)

    def begin(self, tag: str, properties: Entries | None = None) -> None:
        """Open a marked passage (ISO 32000-1:2008, 14.6)."""
        self.emit(_marked(tag, properties))

    def end(self) -> None:
        """Close the marked passage that was opened last."""
        self.emit("EMC")

    def draw(self, marks: Iterable[Mark]) -> None:
        """Draw the marks in their order."""
        for mark in marks:
            if type(mark) is Glyphs:
                self._glyphs(mark)
            elif type(mark) is VectorPath:
                self._path(mark)
            elif type(mark) is Code:
                self._code(mark)
            elif type(mark) is Group:
                self._group(mark)
            elif type(mark) is Picture:
                self._picture(mark)

    def draw_artifacts(self, marks: Iterable[Mark]) -> None:
        """Draw lines for the maker's hands, which are no part of what the piece says.

        Source: ISO 32000-1:2008, 14.8.2.2.2: cut marks are page artifacts.
        """
        marks = list(marks)
        if marks:
            self.begin("Artifact", {"Type": Name("Page")})
            self.draw(marks)
            self.end()

    def place(
        self, operators: str, marks: Iterable[Mark], artifacts: Iterable[VectorPath] = ()
    ) -> None:
        """Draw marks under the operators given, and leave the state as it was."""
        state = self._ink, self._font, self._stroke
        self.emit(f"q {operators}")
        self.draw(marks)
        self.draw_artifacts(artifacts)
        self.emit("Q")
        self._ink, self._font, self._stroke = state

    def place_object(self, operators: str, ref: Ref) -> None:
        """Place a form or a picture under the operators given."""
        self._used.add(ref)
        self.emit(f"q {operators} /X{int(ref)} Do Q")

    def _fill_with(self, colour: str) -> None:
        if colour != self._ink:
            self._ink = colour
            self.emit(_ink(colour)[0])

    def _glyphs(self, run: Glyphs) -> None:
        """Draw a run; y is turned back for the letters themselves, or they stood on their heads."""
        self._fill_with(run.ink)
        parts = [f"BT 1 0 0 -1 {run.x:.3f} {run.y:.3f} Tm"]
        line = self._shared.fonts.set(run)
        for font, show in line.parts:
            if (font, run.size) != self._font:
                self._font = font, run.size
                parts.append(f"{font} {number(run.size)} Tf")
            parts.append(show)
        parts.append("ET")
        text = " ".join(parts)
        if says := run.says or line.says:
            text = f"{_marked('Span', {'ActualText': says})} {text} EMC"
        self.emit(text)

    def _path(self, path: VectorPath) -> None:
        if path.fill:
            self._fill_with(path.fill)
        if path.stroke:
            style = _stroke_style(path.stroke, path.width, path.dash, path.round_ends)
            if style != self._stroke:
                self._stroke = style
                self.emit(style)
        self.emit(f"{_outline(path)} {_painting(path)}")

    def _code(self, mark: Code) -> None:
        """Draw a code as one filled path.

        One path and not one a bar: two paths that share an edge show a grey seam between them
        wherever the edge falls inside a pixel. Counting in modules keeps the numbers whole.
        """
        self._fill_with(mark.ink)
        self.emit(
            f"q {mark.module:.7f} 0 0 {mark.module:.7f} {mark.left:.5f} {mark.top:.5f} cm\n"
            f"{''.join(map(_BARS.__getitem__, mark.bars))}f Q"
        )

    def _picture(self, picture: Picture) -> None:
        bottom = picture.y + picture.height
        where = moved((picture.width, 0.0, 0.0, -picture.height, picture.x, bottom))
        with self._alternative(picture.says):
            self.place_object(where, self._shared.picture(picture.image))

    def _group(self, group: Group) -> None:
        with self._alternative(group.says):
            if not group.key:
                self.place(moved(group.matrix), group.marks)
                return
            ref = self._shared.groups.get(group.key)
            if ref is None:
                ref = self._shared.groups[group.key] = self._shared.form(group.marks, group.box)
            self.place_object(moved(group.matrix), ref)

    @contextmanager
    def _alternative(self, says: str) -> Iterator[None]:
        """Say what a picture shows (ISO 32000-1:2008, 14.9.3)."""
        if says:
            self.begin("Span", {"Alt": says})
        yield
        if says:
            self.end()


def moved(matrix: Matrix) -> str:
    """Return the operator that moves what follows by ``matrix``."""
    return _MATRIX % matrix


_MATRIX = "%.7f %.7f %.7f %.7f %.5f %.5f cm"


def clipped(left: float, top: float, width: float, height: float) -> str:
    """Return the operators that keep what follows inside a rectangle."""
    return f"{left:.3f} {top:.3f} {width:.3f} {height:.3f} re W n "


def _marked(tag: str, properties: Entries | None) -> str:
    return f"{pdf(Name(tag))}{pdf(properties)}BDC" if properties else f"{pdf(Name(tag))} BMC"


@lru_cache(maxsize=4096)
def _ink(colour: str) -> tuple[str, str]:
    """Return the operators that fill and stroke with ``#rrggbb``.

    Black and greys are grey in the file too, so that a printer uses its black alone.
    """
    red, green, blue = (number(int(colour[at : at + 2], 16) / 255) for at in (1, 3, 5))
    if red == green == blue:
        return f"{red} g", f"{red} G"
    return f"{red} {green} {blue} rg", f"{red} {green} {blue} RG"


@lru_cache(maxsize=4096)
def _stroke_style(colour: str, width: float, dash: tuple[float, ...], round_ends: bool) -> str:
    """Return the operators for a stroke's ink, width, dashes and ends."""
    lengths = [number(length, 3) for length in dash]
    if not any(map(float, lengths)):  # a dash of nothing hangs viewers, and would be solid
        lengths = []
    ends = "1 J 1 j" if round_ends else "0 J 0 j"
    return f"{_ink(colour)[1]} {width:.3f} w {ends} [{' '.join(lengths)}] 0 d"


def _painting(path: VectorPath) -> str:
    """Return the operator that paints the path."""
    star = "*" if path.even_odd else ""
    if path.fill:
        return ("B" if path.stroke else "f") + star
    return "S" if path.stroke else "n"


def _outline(path: VectorPath) -> str:
    """Return the operators that build the path, without painting it."""
    kinds, numbers = "", list[float]()
    for step in path.steps:
        kinds += step[0]
        numbers += step[1:]
    return _form_of(kinds) % tuple(numbers)


@lru_cache(maxsize=4096)
def _form_of(kinds: str) -> str:
    """Return the operators of such steps with their numbers left open; many paths are alike."""
    return "\n".join(map(_STEPS.__getitem__, kinds))


_STEPS = {"M": "%.3f %.3f m", "L": "%.3f %.3f l", "C": "%.3f %.3f %.3f %.3f %.3f %.3f c", "Z": "h"}


class _BarOperators(dict[tuple[float, float, float, float], str]):
    """Bars as operators. Codes share most of theirs, so each is written out once."""

    def __missing__(self, bar: tuple[float, float, float, float]) -> str:
        if len(self) >= _BARS_KEPT:
            self.clear()
        text = self[bar] = f"{' '.join(map(number, bar))} re\n"
        return text


_BARS = _BarOperators()
_BARS_KEPT = 200_000
