"""The page as a printer sees it: rendered by PDFium, once whole and once without its type.

What the two have in common is what the type stands on; where they differ there is ink of type
that is really seen, whatever covers, clips or fades the rest.
"""

from __future__ import annotations

import ctypes
import math
import weakref
from collections.abc import Iterator
from functools import cached_property
from typing import Any, NamedTuple

import numpy as np
import numpy.typing as npt
import pypdfium2.raw as pdfium_c

from labeler.checker.geometry import Box
from labeler.checker.limits import TooMuchError, limit
from labeler.units import POINTS_PER_INCH

Grey = npt.NDArray[np.uint8]
"""Rows by columns, 0 black to 255."""

Colour = npt.NDArray[np.uint8]
"""Rows by columns by blue, green, red."""

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

    def narrow(self, box: Box) -> None:
        """Look at a part of the page alone, given in points; before anything was rendered."""
        self._window = self.dots(box, _SPARE)

    @property
    def columns_a_point(self) -> float:
        """How many columns of dots a point across the page takes."""
        return float(self._stretch_x)

    @property
    def dots_per_inch(self) -> float:
        """The resolution at which the page is rendered."""
        return self.scale * POINTS_PER_INCH

    @cached_property
    def _grey(self) -> Grey:
        """What is looked at of the page as it is printed, in greys."""
        picture: Grey = self._render(pdfium_c.FPDFBitmap_Gray, 1, self._window)[:, :, 0]
        return picture

    def grey(self, box: Box) -> Grey:
        """Return the part of the page, in greys, that a box in points covers."""
        return self.grey_at(self.dots(box))

    def grey_at(self, dots: tuple[int, int, int, int]) -> Grey:
        """Return columns and rows of the page, in greys, from first to end of each."""
        left, right, top, bottom = dots
        first_column, _, first_row, _ = self._window
        return self._grey[
            top - first_row : bottom - first_row, left - first_column : right - first_column
        ]

    def coloured(self, box: Box) -> Part:
        """Return a part of the page in colours, rendered only there."""
        dots = self.dots(box, 2)
        return Part(dots, self._render(pdfium_c.FPDFBitmap_BGR, 3, dots))

    def bare(self, box: Box) -> Part:
        """Return a part of the page without its type, in colours, rendered only there."""
        dots = self.dots(box, 2)
        runs = list(_type_on(self._page))
        for run in runs:
            pdfium_c.FPDFPageObj_SetIsActive(run, False)
        picture = self._render(pdfium_c.FPDFBitmap_BGR, 3, dots)
        for run in runs:
            pdfium_c.FPDFPageObj_SetIsActive(run, True)
        return Part(dots, picture)

    def objects(self) -> list[PageObject]:
        """Return what PDFium finds straight on the page, in the order in which it is painted."""
        page, bounds = self._page, [ctypes.c_float() for _ in range(4)]
        found = []
        for at in range(pdfium_c.FPDFPage_CountObjects(page)):
            thing = pdfium_c.FPDFPage_GetObject(page, at)
            pdfium_c.FPDFPageObj_GetBounds(thing, *bounds)
            left, low, right, high = (each.value for each in bounds)
            found.append(
                PageObject(
                    pdfium_c.FPDFPageObj_GetType(thing) == pdfium_c.FPDF_PAGEOBJ_FORM,
                    (left, low, right, high),
                    pdfium_c.FPDFClipPath_CountPaths(pdfium_c.FPDFPageObj_GetClipPath(thing)),
                    bool(pdfium_c.FPDFPageObj_HasTransparency(thing)),
                )
            )
        return found

    def _render(
        self, form: int, channels: int, dots: tuple[int, int, int, int]
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
            sheet, self._page, -left, -top, self.columns, self.rows, 0, _FLAGS
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


class Part:
    """A part of a page, in colours."""

    def __init__(self, dots: tuple[int, int, int, int], picture: Colour) -> None:
        self._left, self._right, self._top, self._bottom = dots
        self._picture = picture

    def cut(self, dots: tuple[int, int, int, int]) -> Colour:
        """Return the columns and rows of the page, from first to end, as far as they are here."""
        left, right, top, bottom = dots
        return self._picture[
            max(0, top - self._top) : max(0, bottom - self._top),
            max(0, left - self._left) : max(0, right - self._left),
        ]


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
