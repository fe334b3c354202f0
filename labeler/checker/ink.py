"""How much of each glyph is really seen, and on what ground it stands.

Where only paper lies under a run of type, the rendered page must be darker there by the area of
its outlines. Where anything else is drawn at that place, or the page holds what is not followed
here, the page is rendered again without its type and the two are held against each other.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from labeler.checker import colour
from labeler.checker.geometry import Box, around
from labeler.checker.raster import Colour, Part, Raster
from labeler.checker.seen import Drawn, Glyph, Rgb

_SAME = 24
"""Two grounds closer than this, of 255 levels, are the same."""

_WHITE: Rgb = (255, 255, 255)

_SLURRED = 0.85
"""PDFium sets small glyphs on whole dots, so that up to half a dot of a stem may lie outside the
glyph's true box; below this share a dot more is looked at on either side."""

INVISIBLE_MODES = (3, 7)
"""Text rendering modes that paint nothing (ISO 32000-1:2008, table 106)."""

_GREY_OF_BGR = np.array([11, 59, 30], np.float32) / 100
"""Source: PDFium, core/fxge/dib/fx_dib.h, FXRGB2GRAY."""


@dataclass(slots=True)
class _Run:
    """Glyphs that one operator showed, those with ink, and the box around them."""

    glyphs: list[Glyph]
    box: Box
    touched: bool = False


def look_at(drawn: Drawn, raster: Raster, laid_over: bool = False) -> None:
    """Find for every glyph how much of it is seen and what it stands on.

    Args:
        drawn: what the page draws; its glyphs are completed.
        raster: the page rendered.
        laid_over: whether more lies on the page than its own operators draw.
    """
    runs = list(_runs(drawn.glyphs))
    _find_touched(runs, drawn, everything=laid_over or bool(drawn.untold))
    touched = [run.box for run in runs if run.touched]
    both = (raster.coloured(around(touched)), raster.bare(around(touched))) if touched else None
    for run in runs:
        _look_at_run(run, raster, both if run.touched else None)


def _runs(glyphs: Sequence[Glyph]) -> Iterator[_Run]:
    run: list[Glyph] = []
    for glyph in glyphs:
        if run and glyph.order != run[0].order:
            yield _Run(run, around([each.box for each in run]))
            run = []
        if glyph.area:
            run.append(glyph)
    if run:
        yield _Run(run, around([each.box for each in run]))


def _find_touched(runs: list[_Run], drawn: Drawn, everything: bool) -> None:
    """Mark the runs at whose place something else is drawn, under or over them.

    Runs in transparent ink are marked too: PDFium blends them truly only in colours.
    """
    things = [shape.box for shape in drawn.shapes] + [each.box for each in drawn.pictures]
    if not things:
        things = [(0.0, 0.0, 0.0, 0.0)]
    left, top, right, bottom = np.array(things, np.float64).T
    for run in runs:
        box = run.box
        run.touched = (
            everything
            or run.glyphs[0].alpha < 1
            or run.glyphs[0].ink is None
            or bool(np.any((left < box[2]) & (right > box[0]) & (top < box[3]) & (bottom > box[1])))
        )


def _look_at_run(run: _Run, raster: Raster, both: tuple[Part, Part] | None) -> None:
    dots = left, right, top, bottom = raster.dots(run.box, 1)
    if right <= left or bottom <= top:
        for glyph in run.glyphs:
            glyph.shown = 0.0
        return
    ink: npt.NDArray[np.generic]
    if both is None:
        ink = 255 - raster.whole[top:bottom, left:right]
    else:
        whole, under = (part.cut(dots) for part in both)
        ink = np.abs(whole @ _GREY_OF_BGR - under @ _GREY_OF_BGR)
        _find_grounds(run, under, raster, (left, top))
        if run.glyphs[0].ink is None:
            _find_ink(run, whole)
    if not run.glyphs[0].font.measured:
        _guess(run.glyphs, float(ink.sum(dtype=np.float64)), raster)
    elif all(glyph.across[1] == 0 for glyph in run.glyphs):
        _measure_along(run.glyphs, ink, raster, left)
    else:
        for glyph in run.glyphs:
            first, end, upper, lower = raster.dots(glyph.box, 1)
            part = ink[upper - top : lower - top, first - left : end - left]
            glyph.shown = _share(glyph, float(part.sum()), raster)


def _find_grounds(run: _Run, under: Colour, raster: Raster, corner: tuple[int, int]) -> None:
    """Find what each glyph stands on, and how much of its place is something else."""
    spread = under.reshape(-1, 3)
    if int(np.ptp(spread, axis=0).max()) <= _SAME // 2:
        ground = _median(spread)
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


def _find_ink(run: _Run, whole: Colour) -> None:
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


def _measure_along(
    glyphs: list[Glyph], ink: npt.NDArray[np.generic], raster: Raster, left: int
) -> None:
    """Measure glyphs that stand side by side, from sums over the columns of their run."""
    columns = ink.sum(axis=0, dtype=np.float64)
    sums = [0, *np.cumsum(columns).tolist()]
    last, stretch = len(sums) - 1, raster.columns_a_point
    for glyph in glyphs:
        first, end = int(glyph.box[0] * stretch) - left, math.ceil(glyph.box[2] * stretch) - left
        first, end = max(0, min(last, first)), max(0, min(last, end))
        shown = _share(glyph, float(sums[end] - sums[first]), raster)
        if shown < _SLURRED:
            wider = sums[min(last, end + 1)] - sums[max(0, first - 1)]
            shown = _share(glyph, float(wider), raster)
        glyph.shown = shown


def _guess(glyphs: list[Glyph], ink: float, raster: Raster) -> None:
    """Take letters whose outlines can't be read as seen if enough ink is where they should be."""
    shown = sum(_share(glyph, ink, raster) > 0 for glyph in glyphs)
    change = max(1.0, sum(glyph.area for glyph in glyphs) * raster.scale**2 * 255)
    for glyph in glyphs:
        glyph.shown = 1.0 if shown and ink > _SOME_INK * change else 0.0


_SOME_INK = 0.1


def _share(glyph: Glyph, ink: float, raster: Raster) -> float:
    """Return the share of a glyph's ink that is seen; 1 where that can't be known."""
    if glyph.mode in INVISIBLE_MODES or glyph.alpha == 0:
        return 0.0
    if glyph.ink is None:
        return 0.0
    if glyph.alpha == 1 and glyph.ink == (0, 0, 0) and glyph.ground == _WHITE:
        change = 255.0
    else:
        asked = colour.over(glyph.ink, glyph.alpha, glyph.ground)
        change = abs(colour.seen_as_grey(asked) - colour.seen_as_grey(glyph.ground))
    dots = glyph.area * raster.scale**2
    return ink / (change * dots) if change * dots >= 1 else 0.0
