"""The page as a printer sees it: rendered by PDFium, once whole and once without its type.

What the two have in common is what the type stands on; where they differ there is ink of type
that is really seen, whatever covers, clips or fades the rest.
"""

from __future__ import annotations

import ctypes
import io
import math
import weakref
from collections.abc import Iterable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from functools import cached_property, lru_cache
from pathlib import Path
from typing import Any, NamedTuple

import numpy as np
import numpy.typing as npt
import pypdfium2.raw as pdfium_c

from labeler import vector
from labeler.checker.page import elements
from labeler.checker.page.elements import Drawn, Glyph, Rgb
from labeler.checker.pdf.file import TooMuchError, limit
from labeler.geometry import Box, bounding_box, overlaps, union
from labeler.units import POINTS_PER_INCH

Grey = npt.NDArray[np.uint8]
"""Rows by columns, 0 black to 255."""

Colour = npt.NDArray[np.uint8]
"""Rows by columns by blue, green, red."""

_Cells = npt.NDArray[np.float64]

_FORM_DEPTH = 12
_SPARE = 4
"""Dots beyond what is to be looked at."""
_FLAGS = pdfium_c.FPDF_ANNOT
_PAPER = 0xFFFFFFFF


class OpenPdf:
    """A PDF open in PDFium, by its own functions.

    The library's objects close themselves at the end of the program, and complain there when it
    was ended in the midst of something.

    Raises:
        ValueError: if PDFium can't open it.
    """

    def __init__(self, data: bytes) -> None:
        self._data = data  # which PDFium reads from for as long as the file is open
        self._pages: list[Any] = []
        self._file = pdfium_c.FPDF_LoadMemDocument64(data, len(data), None)
        if not self._file:
            raise ValueError("PDFium can't open this file")

    def page(self, number: int, dpi: float) -> Raster:
        """Return page ``number``, from 1, to be rendered at ``dpi``.

        Raises:
            ValueError: if PDFium can't read the page.
            TooMuchError: if the page has too many dots.
        """
        page = pdfium_c.FPDF_LoadPage(self._file, number - 1)
        if not page:
            raise ValueError(f"PDFium can't read page {number}")
        self._pages.append(page)
        raster = Raster(page, dpi)
        weakref.finalize(raster, self._let_go, page).atexit = False
        return raster

    def _let_go(self, page: Any) -> None:
        if page in self._pages:
            self._pages.remove(page)
            pdfium_c.FPDF_ClosePage(page)

    def close(self) -> None:
        """Let the file go, and what is left of its pages before it."""
        for page in list(self._pages):
            self._let_go(page)
        if self._file:
            pdfium_c.FPDF_CloseDocument(self._file)
            self._file = None


class Raster:
    """One page, rendered when it is asked for."""

    def __init__(self, page: Any, dpi: float) -> None:
        self._page = page
        self.scale = min(dpi, limit("render-dpi")) / POINTS_PER_INCH
        width = pdfium_c.FPDF_GetPageWidthF(page)
        height = pdfium_c.FPDF_GetPageHeightF(page)
        self.columns = max(1, math.ceil(width * self.scale))
        self.rows = max(1, math.ceil(height * self.scale))
        if self.columns * self.rows > limit("render-pixels"):
            raise TooMuchError("a page of this size")
        self._stretch_x, self._stretch_y = self.columns / width, self.rows / height
        self._window = 0, self.columns, 0, self.rows
        self._forms: list[tuple[Any, Box]] = []
        """Forms that the picture in greys is without, and the dots around each."""

    def leave_out_forms(self, places: Iterable[Box]) -> None:
        """Render without forms that lie beside all of these places, in points.

        Their drawings take most of the time. What is asked for later at a place that one of them
        reaches into is rendered with all of them.
        """
        wanted = np.array([self.dots(place, _SPARE) for place in places]).reshape(-1, 4)
        left, right, top, bottom = wanted.T
        for thing, bounds in self._things():
            if not _is_form(thing):
                continue
            box = self._dots_around(bounds)
            beside = (left >= box[2]) | (right <= box[0]) | (top >= box[3]) | (bottom <= box[1])
            if beside.all():
                self._forms.append((thing, box))

    def _things(self) -> Iterator[tuple[Any, Box]]:
        """Yield all that PDFium finds straight on the page, in the order in which it is painted.

        Each with the box around it, in the page's own coordinates, y up.
        """
        bounds = [ctypes.c_float() for _ in range(4)]
        for at in range(pdfium_c.FPDFPage_CountObjects(self._page)):
            thing = pdfium_c.FPDFPage_GetObject(self._page, at)
            pdfium_c.FPDFPageObj_GetBounds(thing, *bounds)
            left, low, right, high = (each.value for each in bounds)
            yield thing, (left, low, right, high)

    def _dots_around(self, bounds: Box) -> Box:
        """Return the columns and rows of dots, and one more, around a box in the page's own."""
        column, row = ctypes.c_int(), ctypes.c_int()
        dots = []
        for x, y in (bounds[:2], bounds[2:]):
            pdfium_c.FPDF_PageToDevice(
                self._page, 0, 0, self.columns, self.rows, 0, x, y, column, row
            )
            dots.append((column.value, row.value))
        left, top, right, bottom = bounding_box(dots)
        return left - 1, top - 1, right + 2, bottom + 2

    def narrow(self, box: Box) -> None:
        """Look at a part of the page alone, given in points; before anything was rendered."""
        self._window = self.dots(box, _SPARE)

    @property
    def columns_a_point(self) -> float:
        """How many columns of dots a point across the page takes."""
        return float(self._stretch_x)

    @cached_property
    def _grey(self) -> Grey:
        """What is looked at of the page as it is printed, in greys."""
        with _switched_off(form for form, _ in self._forms):
            picture: Grey = self._render(pdfium_c.FPDFBitmap_Gray, 1, self._window)[:, :, 0]
        return picture

    def grey(self, box: Box) -> Grey:
        """Return the part of the page, in greys, that a box in points covers."""
        return self.grey_at(self.dots(box))

    def grey_at(self, dots: tuple[int, int, int, int]) -> Grey:
        """Return columns and rows of the page, in greys, from first to end of each."""
        left, right, top, bottom = dots
        if any(overlaps((left, top, right, bottom), box) for _, box in self._forms):
            self._forms.clear()
            vars(self).pop("_grey", None)
        first_column, _, first_row, _ = self._window
        return self._grey[
            top - first_row : bottom - first_row, left - first_column : right - first_column
        ]

    def coloured(self, box: Box) -> PagePart:
        """Return a part of the page in colours, rendered only there."""
        dots = self.dots(box, 2)
        return PagePart(dots, self._render(pdfium_c.FPDFBitmap_BGR, 3, dots))

    def bare(self, box: Box, flags: int = _FLAGS) -> PagePart:
        """Return a part of the page without its type, in colours, rendered only there."""
        dots = self.dots(box, 2)
        with _switched_off(_type_on(self._page)):
            return PagePart(dots, self._render(pdfium_c.FPDFBitmap_BGR, 3, dots, flags))

    def alone(self, box: Box) -> PagePart:
        """Return a part of the page with neither type nor what lies over the page."""
        return self.bare(box, 0)

    def objects(self) -> list[PageObject]:
        """Return what PDFium finds straight on the page, in the order in which it is painted."""
        return [
            PageObject(
                _is_form(thing),
                box,
                pdfium_c.FPDFClipPath_CountPaths(pdfium_c.FPDFPageObj_GetClipPath(thing)),
                bool(pdfium_c.FPDFPageObj_HasTransparency(thing)),
            )
            for thing, box in self._things()
        ]

    def _render(
        self, form: int, channels: int, dots: tuple[int, int, int, int], flags: int = _FLAGS
    ) -> npt.NDArray[np.uint8]:
        """Render the columns and rows of the page from first to end that ``dots`` names."""
        left, right, top, bottom = dots
        wide, high = max(1, right - left), max(1, bottom - top)
        picture = np.empty((high, wide, channels), np.uint8)
        place = picture.ctypes.data_as(ctypes.c_void_p)
        sheet = pdfium_c.FPDFBitmap_CreateEx(wide, high, form, place, wide * channels)
        if not sheet:
            raise TooMuchError("a page of this size")
        pdfium_c.FPDFBitmap_FillRect(sheet, 0, 0, wide, high, _PAPER)
        pdfium_c.FPDF_RenderPageBitmap(
            sheet, self._page, -left, -top, self.columns, self.rows, 0, flags
        )
        pdfium_c.FPDFBitmap_Destroy(sheet)
        return picture

    # ------------------------------------------------------------------------------ looking

    def dots(self, box: Box, spare: int = 0) -> tuple[int, int, int, int]:
        """Return the columns and rows that a box in points covers: first, end, first, end.

        No further than the page is looked at.
        """
        first_column, end_column, first_row, end_row = self._window
        left = max(first_column, math.floor(box[0] * self._stretch_x) - spare)
        top = max(first_row, math.floor(box[1] * self._stretch_y) - spare)
        right = min(end_column, math.ceil(box[2] * self._stretch_x) + spare)
        bottom = min(end_row, math.ceil(box[3] * self._stretch_y) + spare)
        return left, max(left, right), top, max(top, bottom)

    def colours_at(self, box: Box) -> Colour:
        """Return the colours of the dots of a box in points, type and all."""
        return self._render(pdfium_c.FPDFBitmap_BGR, 3, self.dots(box))

    def png(self) -> bytes:
        """Return the page as a picture."""
        from PIL import Image  # only where somebody looks at a page

        whole = 0, self.columns, 0, self.rows
        dots = self._render(pdfium_c.FPDFBitmap_BGR, 3, whole)
        made = io.BytesIO()
        Image.fromarray(np.ascontiguousarray(dots[:, :, ::-1])).save(made, "PNG", compress_level=4)
        return made.getvalue()

    def point(self, column: float, row: float) -> tuple[float, float]:
        """Return where on the page a dot lies, in points."""
        return column / self._stretch_x, row / self._stretch_y


class PageObject(NamedTuple):
    """What PDFium finds straight on a page, in forms not followed."""

    is_form: bool
    box: Box
    """In the page's own coordinates, y up."""
    clips: int
    see_through: bool


class PagePart:
    """A part of a page, in colours."""

    def __init__(self, dots: tuple[int, int, int, int], picture: Colour) -> None:
        self._left, self._right, self._top, self._bottom = dots
        self._picture = picture

    @property
    def whole(self) -> Colour:
        """All of it: rows, columns, and blue, green and red."""
        return self._picture

    def cut(self, dots: tuple[int, int, int, int]) -> Colour:
        """Return the columns and rows of the page, from first to end, as far as they are here."""
        left, right, top, bottom = dots
        return self._picture[
            max(0, top - self._top) : max(0, bottom - self._top),
            max(0, left - self._left) : max(0, right - self._left),
        ]


def _is_form(thing: Any) -> bool:
    return bool(pdfium_c.FPDFPageObj_GetType(thing) == pdfium_c.FPDF_PAGEOBJ_FORM)


@contextmanager
def _switched_off(things: Iterable[Any]) -> Iterator[None]:
    """Render without some objects of a page until the block is left."""
    off = list(things)
    for thing in off:
        pdfium_c.FPDFPageObj_SetIsActive(thing, False)
    yield
    for thing in off:
        pdfium_c.FPDFPageObj_SetIsActive(thing, True)


def _type_on(page: Any) -> Iterator[Any]:
    """Yield every text object of a page, those in its forms too."""
    count, get = pdfium_c.FPDFPage_CountObjects(page), pdfium_c.FPDFPage_GetObject
    for at in range(count):
        yield from _type_in(get(page, at), 0)


def _type_in(thing: Any, depth: int) -> Iterator[Any]:
    kind = pdfium_c.FPDFPageObj_GetType(thing)
    if kind == pdfium_c.FPDF_PAGEOBJ_TEXT:
        yield thing
    elif kind == pdfium_c.FPDF_PAGEOBJ_FORM and depth < _FORM_DEPTH:
        for at in range(max(0, pdfium_c.FPDFFormObj_CountObjects(thing))):
            yield from _type_in(pdfium_c.FPDFFormObj_GetObject(thing, at), depth + 1)


# ----------------------------------------------------------------------------
# How much of each glyph is really seen, and on what ground it stands.
#
# Where only paper lies under a run of type, the rendered page must be darker there by the area of
# its outlines. Where anything else is drawn at that place, or the page holds what is not followed
# here, the page is rendered again without its type and the two are held against each other.

_SAME = 24
"""Two grounds closer than this, of 255 levels, are the same."""

_SLURRED = 0.85
"""PDFium sets small glyphs on whole dots, so that up to half a dot of a stem may lie outside the
glyph's true box; below this share a dot more is looked at on either side."""

INVISIBLE_MODES = (3, 7)
"""Text rendering modes that paint nothing (ISO 32000-1:2008, table 106)."""

_GREY_OF_BGR = np.array([11, 59, 30], np.float32) / 100
"""Source: PDFium, core/fxge/dib/fx_dib.h, FXRGB2GRAY."""


@dataclass(slots=True)
class _ShownRun:
    """Glyphs that one operator showed, those with ink, and the box around them."""

    glyphs: list[Glyph]
    box: Box
    touched: bool = False


def look_at(
    drawn: Drawn, raster: Raster, laid_over: bool = False, beside: Iterable[Box] = ()
) -> None:
    """Find for every glyph how much of it is seen and what it stands on.

    Args:
        drawn: what the page draws; its glyphs are completed.
        raster: the page rendered.
        laid_over: whether more lies on the page than its own operators draw.
        beside: where else all that is drawn will be looked at.
    """
    runs = list(_runs(drawn.glyphs))
    _find_touched(runs, drawn, everything=laid_over or bool(drawn.untold))
    raster.leave_out_forms([*beside, *(run.box for run in runs if not run.touched)])
    touched = [run.box for run in runs if run.touched]
    both = (raster.coloured(union(touched)), raster.bare(union(touched))) if touched else None
    over = [run.box for run in runs if run.glyphs[0].order > drawn.over_from]
    laid = (raster.coloured(union(over)), raster.alone(union(over))) if over else None
    rows = _Rows(raster)
    for run in runs:
        beyond = run.glyphs[0].order > drawn.over_from
        _look_at_run(run, raster, laid if beyond else both if run.touched else None, rows)
    rows.measure()


def _runs(glyphs: Sequence[Glyph]) -> Iterator[_ShownRun]:
    inked = [glyph for glyph in glyphs if glyph.area]
    if not inked:
        return
    orders = np.array([glyph.order for glyph in inked])
    begin = np.flatnonzero(np.diff(orders, prepend=orders[0] - 1))
    left, top, right, bottom = np.array([glyph.box for glyph in inked], np.float64).T
    first = (np.minimum.reduceat(each, begin).tolist() for each in (left, top))
    last = (np.maximum.reduceat(each, begin).tolist() for each in (right, bottom))
    ends = [*begin.tolist()[1:], len(inked)]
    for start, end, box in zip(begin.tolist(), ends, zip(*first, *last, strict=True), strict=True):
        yield _ShownRun(inked[start:end], box)


def _find_touched(runs: list[_ShownRun], drawn: Drawn, everything: bool) -> None:
    """Mark the runs at whose place something else is drawn, under or over them.

    Runs in transparent ink are marked too: PDFium blends them truly only in colours.
    """
    things = [shape.box for shape in drawn.shapes] + [each.box for each in drawn.pictures]
    left, top, right, bottom = np.array(things, np.float64).reshape(-1, 4).T
    step = max(1, _COMPARED // (len(things) + 1))
    for first in range(0, len(runs), step):
        some = runs[first : first + step]
        boxes = np.array([run.box for run in some], np.float64)[:, :, np.newaxis]
        hit = (left < boxes[:, 2]) & (right > boxes[:, 0])
        hit &= (top < boxes[:, 3]) & (bottom > boxes[:, 1])
        touches: Any = hit.any(axis=1).tolist()
        for run, touched in zip(some, touches, strict=True):
            one = run.glyphs[0]
            run.touched = everything or touched or one.alpha < 1 or one.ink is None


_COMPARED = 1_000_000
"""Pairs of boxes that are held against each other in one go."""


def _look_at_run(
    run: _ShownRun, raster: Raster, both: tuple[PagePart, PagePart] | None, rows: _Rows
) -> None:
    dots = left, right, top, bottom = raster.dots(run.box, 1)
    if right <= left or bottom <= top:
        for glyph in run.glyphs:
            glyph.shown = 0.0
        return
    ink: npt.NDArray[np.generic]
    if both is None:
        ink = ~raster.grey_at(dots)
    else:
        whole, under = (part.cut(dots) for part in both)
        ink = np.abs(whole @ _GREY_OF_BGR - under @ _GREY_OF_BGR)
        _find_grounds(run, under, raster, (left, top))
        if run.glyphs[0].ink is None:
            _find_ink(run, whole)
        if run.glyphs[0].mode == _CLIPS:
            _look_through(run, both[0], raster)
            return
    if not run.glyphs[0].font.measured:
        _guess(run.glyphs, float(ink.sum(dtype=np.float64)), raster)
    elif run.glyphs[0].across[1] == 0 == run.glyphs[-1].across[1]:
        rows.add(run.glyphs, ink, left)
    else:
        for glyph in run.glyphs:
            first, end, upper, lower = raster.dots(glyph.box, 1)
            part = ink[upper - top : lower - top, first - left : end - left]
            glyph.shown = _share(glyph, float(part.sum()), raster)


_CLIPS = 7
"""The text rendering mode in which letters are a hole through which what follows is seen."""


def _look_through(run: _ShownRun, whole: PagePart, raster: Raster) -> None:
    """Find which letters that are a clip are filled by what is painted after them."""
    for glyph in run.glyphs:
        dots = whole.cut(raster.dots(glyph.box)).reshape(-1, 3).astype(np.int16)
        if len(dots):
            away = np.abs(dots - dots[0]).max(axis=1) > _SAME
            share = min(float(away.mean()), 1 - float(away.mean()))
            glyph.shown = 1.0 if share > _OF_A_LETTER else 0.0


_OF_A_LETTER = 0.05
"""Less of a letter's box is neither ink nor ground. The house's judgement."""


def _find_grounds(run: _ShownRun, under: Colour, raster: Raster, corner: tuple[int, int]) -> None:
    """Find what each glyph stands on, and how much of its place is something else."""
    if not under.size:
        return
    spread = under.reshape(-1, 3)
    if (spread == spread[0]).all():
        blue, green, red = spread[0].tolist()
        ground: Rgb | None = (red, green, blue)
    else:
        even = int((spread.max(axis=0) - spread.min(axis=0)).max()) <= _SAME // 2
        ground = _median(spread) if even else None
    if ground is not None:
        for glyph in run.glyphs:
            glyph.ground = ground
        return
    for glyph in run.glyphs:
        first, end, upper, lower = raster.dots(glyph.box)
        left, top = corner
        part = under[upper - top : lower - top, first - left : end - left].reshape(-1, 3)
        if part.size:
            glyph.ground = _median(part)
            red, green, blue = glyph.ground
            away = np.abs(part.astype(np.int16) - (blue, green, red)).max(axis=1)
            glyph.uneven = float(np.mean(away > _SAME))


def _find_ink(run: _ShownRun, whole: Colour) -> None:
    """Take for a run's ink, where no operator tells it, the colour farthest from its ground."""
    dots = whole.reshape(-1, 3)
    red, green, blue = run.glyphs[0].ground
    away = np.abs(dots.astype(np.int16) - (blue, green, red)).sum(axis=1)
    blue, green, red = dots[int(away.argmax())].tolist()
    for glyph in run.glyphs:
        glyph.ink = red, green, blue


def _median(colours: npt.NDArray[np.uint8]) -> Rgb:
    blue, green, red = np.median(colours, axis=0).astype(int).tolist()
    return red, green, blue


class _Rows:
    """Glyphs that stand side by side, measured from sums over the columns of their runs."""

    def __init__(self, raster: Raster) -> None:
        self._raster = raster
        self._glyphs: list[Glyph] = []
        self._changes: list[float] = []
        self._sums: list[npt.NDArray[np.float64]] = []
        self._places: list[tuple[int, int, int]] = []
        self._end = 0

    def add(self, glyphs: Sequence[Glyph], ink: npt.NDArray[np.generic], left: int) -> None:
        """Take down a run, the ink in its dots, and the column of the page where those begin."""
        columns = np.zeros(ink.shape[1] + 1)
        np.cumsum(np.add.reduce(ink, axis=0, dtype=np.float64), out=columns[1:])
        self._sums.append(columns)
        self._places += [(self._end - left, self._end, self._end + ink.shape[1])] * len(glyphs)
        self._end += len(columns)
        self._glyphs += glyphs
        ground = glyphs[0].ground
        if all(glyph.ground is ground for glyph in glyphs):
            self._changes += [_change(glyphs[0])] * len(glyphs)
        else:
            self._changes += map(_change, glyphs)

    def measure(self) -> None:
        """Find how much is seen of every glyph that was taken down."""
        if not self._glyphs:
            return
        sums, stretch = np.concatenate(self._sums), self._raster.columns_a_point
        ends = np.array([(glyph.box[0], glyph.box[2], glyph.area) for glyph in self._glyphs])
        start, first, last = np.array(self._places).T
        due = np.array(self._changes) * ends[:, 2] * self._raster.scale**2
        due[due < 1] = np.inf
        left = np.clip(start + np.floor(ends[:, 0] * stretch).astype(np.int64), first, last)
        right = np.clip(start + np.ceil(ends[:, 1] * stretch).astype(np.int64), first, last)
        shown = (sums[right] - sums[left]) / due
        wider = sums[np.minimum(right + 1, last)] - sums[np.maximum(left - 1, first)]
        shown = np.where(shown < _SLURRED, wider / due, shown)
        for glyph, share in zip(self._glyphs, shown.tolist(), strict=True):
            glyph.shown = share


def _guess(glyphs: list[Glyph], ink: float, raster: Raster) -> None:
    """Take letters whose outlines can't be read as seen if enough ink is where they should be."""
    shown = sum(_share(glyph, ink, raster) > 0 for glyph in glyphs)
    change = max(1.0, sum(glyph.area for glyph in glyphs) * raster.scale**2 * 255)
    for glyph in glyphs:
        glyph.shown = 1.0 if shown and ink > _SOME_INK * change else 0.0


_SOME_INK = 0.1


def _share(glyph: Glyph, ink: float, raster: Raster) -> float:
    """Return the share of a glyph's ink that is seen; 0 where none is asked for."""
    due = _change(glyph) * glyph.area * raster.scale**2
    return ink / due if due >= 1 else 0.0


def _change(glyph: Glyph) -> float:
    """Return by how many levels of grey a dot changes that a glyph's ink covers."""
    if glyph.mode in INVISIBLE_MODES or glyph.alpha == 0 or glyph.ink is None:
        return 0.0
    if glyph.alpha == 1 and glyph.ink == (0, 0, 0) and glyph.ground == elements.WHITE:
        return 255.0
    asked = elements.over(glyph.ink, glyph.alpha, glyph.ground)
    return abs(elements.seen_as_grey(asked) - elements.seen_as_grey(glyph.ground))


# ----------------------------------------------------------------------------
# Whether a picture on the page is one of the maker's.

_CELLS = 12
"""Along each side: so coarse that no printer's or viewer's scaling tells."""
_LIKE = 0.85
"""The least correlation of the greys of a photo and its print. A house limit: the print of an
undamaged photo comes to 0.99 and more."""
_PLAIN = 3.0
"""Greys that vary less than this, of 255, are a plain ground, whose brightness alone is held."""


def alike(shown: Grey, due: Path | bytes) -> bool:
    """Tell whether a picture on the page looks like a photo or logo, in coarse greys.

    Args:
        shown: the page where the picture stands.
        due: the picture's file, or what was in it once. What lets the ground show through is held
            against white, and against what the page has around it.
    """
    from PIL import Image  # only where a piece or a book has a picture

    try:
        cells = _coarse(due.read_bytes() if isinstance(due, Path) else due)
    except (OSError, ValueError, Image.DecompressionBombError):
        return True  # that a picture can't be read is told where the catalog is
    if cells is None:
        return True
    ink, clear = cells
    seen = np.asarray(Image.fromarray(shown).resize((_CELLS, _CELLS), Image.Resampling.BOX), float)
    edge = float(np.median(np.concatenate([shown[0], shown[-1], shown[:, 0], shown[:, -1]])))
    return any(_alike(ink + ground * clear, seen) for ground in (255.0, edge))


_BINS = 16
"""Levels of a channel that count as one color: coarse enough for a profile and for JPEG."""
_VIVID = 28
"""From this difference of its channels, of 255, a dot has a hue; shadows and metal have none."""
_FEW_VIVID = 0.01
"""What has fewer dots with a hue than this is a picture in greys."""
_OF_IT = 0.85
"""The least part of a cut picture's colors that the photo has. A house limit: a jig cut from its
own photo comes to 0.95 and more, and another of other colors to 0.6 and less."""


def cut_from(shown: Colour, due: Path) -> bool:
    """Tell whether a picture on the page may be a part of a photo, however turned, by its colors.

    Of a picture in greys, or of a photo in greys, it can't be told, and may be so.

    Args:
        shown: the page where the picture stands, in blue, green and red.
        due: the photo's file.
    """
    from PIL import Image, ImageOps

    try:
        with Image.open(due) as picture:
            picture.draft("RGB", (_LOOKED_AT, _LOOKED_AT))
            photo = ImageOps.exif_transpose(picture).convert("RGB")
    except (OSError, ValueError, Image.DecompressionBombError):
        return True  # that a picture can't be read is told where the catalog is
    photo.thumbnail((_LOOKED_AT, _LOOKED_AT), Image.Resampling.BOX)
    part = Image.fromarray(np.ascontiguousarray(shown[..., ::-1]))
    part.thumbnail((_LOOKED_AT, _LOOKED_AT), Image.Resampling.BOX)
    own, seen = (np.asarray(each).reshape(-1, 3).astype(int) for each in (photo, part))
    hued = [np.ptp(each, axis=1) >= _VIVID for each in (own, seen)]
    if min(each.mean() for each in hued) < _FEW_VIVID:
        return True
    there = np.zeros((_BINS + 2,) * 3, bool)
    width = 256 // _BINS
    for step in np.ndindex(3, 3, 3):
        there[tuple((own[hued[0]] // width + step).T)] = True
    return bool(there[tuple((seen[hued[1]] // width + 1).T)].mean() > _OF_IT)


_LOOKED_AT = 240
"""Dots along the longer side; more tell nothing else."""


def _alike(due: _Cells, seen: _Cells) -> bool:
    if min(due.std(), seen.std()) < _PLAIN:
        return bool(abs(due.mean() - seen.mean()) < 10 * _PLAIN and due.std() < 2 * _PLAIN)
    return bool(np.corrcoef(due.ravel(), seen.ravel())[0, 1] > _LIKE)


@lru_cache(maxsize=32)
def _coarse(data: bytes) -> tuple[_Cells, _Cells] | None:
    """Return how bright a picture's ink makes each cell, and how much ground it lets through.

    None is a picture of more than eight bits a grey, which there is no one way to show.

    Raises:
        OSError, ValueError: if there is no picture in it that can be read.
    """
    from PIL import Image, ImageOps

    if kind := vector.kind_of(io.BytesIO(data)):
        data, _ = vector.drawn(data, kind)
    with Image.open(io.BytesIO(data)) as picture:
        if picture.mode.startswith(("I", "F")):
            return None
        upright = ImageOps.exif_transpose(picture).convert("RGBA")
    opaque = np.asarray(upright.getchannel("A"), np.float32) / 255
    ink = Image.fromarray(np.asarray(upright.convert("L"), np.float32) * opaque)
    return tuple(  # type: ignore[return-value]
        np.asarray(each.resize((_CELLS, _CELLS), Image.Resampling.BOX), float)
        for each in (ink, Image.fromarray(1 - opaque))
    )
