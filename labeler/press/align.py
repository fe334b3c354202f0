"""The alignment sheet: printed once for each printer, measured with a ruler.

Crosses in the corners, rulers along two edges, lines of known length, and in plain words what
to measure. Drawn as marks like any other piece, so that it meets the printer as labels do.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import replace
from functools import lru_cache
from pathlib import Path as File

from labeler.marks import Glyphs, Group, Mark, Piece, PieceSide, VectorPath, circle, line
from labeler.press.impose import Imposition, PieceOrder, impose
from labeler.press.printers import Crosses, Flip
from labeler.press.sheets import whole_page
from labeler.type.faces import typeface
from labeler.type.finish import finished
from labeler.type.setting import Span, runs_of, words_of
from labeler.type.styles import Style
from labeler.units import MM_PER_INCH, POINTS_PER_INCH, Length

_MM = POINTS_PER_INCH / MM_PER_INCH
_SMALL = 5 * POINTS_PER_INCH
"""A page narrower or lower than this has room for crosses only."""

_ROOM_FOR_WORDS = 190 * _MM, 270 * _MM

_CLEAR = 16 * _MM
"""How far the rulers keep from the crosses."""

_HAIRLINE = 0.25
_INK = "#000000"
_GREY = "#666666"


def crosses(width: float, height: float) -> Crosses:
    """Return where the crosses belong on paper of this size, in points.

    Clear of every desk printer's blank border, and at a round figure in the paper's own units.
    """
    small, metric = min(width, height) < _SMALL, _is_metric(width)
    if metric:
        return Crosses(width, height, (3 if small else 15) * _MM)
    return Crosses(width, height, (1 if small else 5) * POINTS_PER_INCH / 8)


def alignment_plan(
    width: float,
    height: float,
    *,
    both_sides: bool = False,
    flip: Flip = "long-edge",
    maker_folder: File | None = None,
) -> Imposition:
    """Return the alignment sheet for paper of this size, ready for the press.

    Args:
        width: of the paper, in points.
        height: of the paper, in points.
        both_sides: whether the printer is to print its back too.
        flip: the edge over which it turns.
        maker_folder: the catalog folder, whose own fonts go before ours.
    """
    where = crosses(width, height)
    faces = [PieceSide("front", tuple(_front(where, maker_folder)))]
    if both_sides:
        faces.append(PieceSide("back", tuple(_back(where, maker_folder))))
    piece = Piece("alignment sheet", "", "alignment", width, height, tuple(faces))
    return impose([PieceOrder(piece, 1)], whole_page("alignment", width, height), flip=flip)


def _front(where: Crosses, maker_folder: File | None) -> Iterator[Mark]:
    yield from _corner_crosses(where, maker_folder)
    if min(where.width, where.height) < _SMALL:
        return
    yield from _rulers(where, maker_folder)
    if not _has_room_for_words(where):
        return
    words = tuple(front_words(where, _is_metric(where.width), maker_folder))
    left, top = where.inset + 22 * _MM, where.inset + 24 * _MM
    yield Group((1, 0, 0, 1, left, top), words, (0, 0, 0, 0))
    below = top + max(run.y for run in words if isinstance(run, Glyphs))
    yield from _known_lengths(left, below + 14 * _MM, maker_folder)


def _back(where: Crosses, maker_folder: File | None) -> Iterator[Mark]:
    yield from _corner_crosses(where, maker_folder)
    if _has_room_for_words(where):
        words = tuple(back_words(where, _is_metric(where.width), maker_folder))
        left, top = where.inset + 22 * _MM, where.inset + 24 * _MM
        yield Group((1, 0, 0, 1, left, top), words, (0, 0, 0, 0))


def _has_room_for_words(where: Crosses) -> bool:
    return where.width >= _ROOM_FOR_WORDS[0] and where.height >= _ROOM_FOR_WORDS[1]


def _corner_crosses(where: Crosses, maker_folder: File | None) -> Iterator[Mark]:
    """Draw cross A at the top left, B at the top right, C and D below them."""
    near, right = where.inset, where.width - where.inset
    bottom = where.height - where.inset
    arm = min(8 * _MM, where.inset * 0.7)
    for name, x, y in (
        ("A", near, near),
        ("B", right, near),
        ("C", near, bottom),
        ("D", right, bottom),
    ):
        yield _line(x - arm, y, x + arm, y)
        yield _line(x, y - arm, x, y + arm)
        yield VectorPath(circle(x, y, arm * 0.45), stroke=_INK, width=_HAIRLINE)
        size = arm * 0.8
        inward = 1 if y < where.height / 2 else -1
        aside = arm * 0.35 if x < where.width / 2 else -arm * 0.35 - size * 0.45
        base = y + inward * arm * 0.9 + (size * 0.5 if inward > 0 else 0)
        yield from _run(name, "sans-semibold", size, maker_folder, (x + aside, base))


def _rulers(where: Crosses, maker_folder: File | None) -> Iterator[Mark]:
    """Draw a ruler from A to B and one from A to C, counting from the paper's edge.

    Laid along one, a real ruler shows at a glance how far the print is off.
    """
    # A division's step, how many make a middle and a whole one, and what a whole one is called.
    step, to_middle, to_whole, called = (
        (_MM, 5, 10, 10) if _is_metric(where.width) else (POINTS_PER_INCH / 16, 8, 16, 1)
    )
    edge = where.inset
    for across, end in ((True, where.width - edge), (False, where.height - edge)):
        first = math.ceil((edge + _CLEAR) / step)
        last = math.floor((end - _CLEAR) / step)
        for number in range(first, last + 1):
            at = number * step
            whole, middle = number % to_whole == 0, number % to_middle == 0
            long = (3.2 if whole else 2.2 if middle else 1.4) * _MM
            yield _line(at, edge, at, edge + long) if across else _line(edge, at, edge + long, at)
            if whole:
                text = str(number // to_whole * called)
                spot = (at - 2, edge + long + 7) if across else (edge + long + 2.5, at + 2.2)
                yield from _run(text, "sans", 6.5, maker_folder, spot, _GREY)


def _known_lengths(left: float, top: float, maker_folder: File | None) -> Iterator[Mark]:
    """Draw lines of 100 mm and 4 in, across and down, to see at once that nothing was scaled."""
    for row, (text, length) in enumerate((("100 mm", 100 * _MM), ("4 in", 4 * POINTS_PER_INCH))):
        y = top + row * 9 * _MM
        yield from _measured(left, y, left + length, y)
        yield from _run(text, "sans-medium", 8, maker_folder, (left + length + 6, y + 2.8))
        x = left + 128 * _MM + row * 14 * _MM
        yield from _measured(x, top, x, top + length)
        yield from _run(text, "sans-medium", 8, maker_folder, (x - 8, top + length + 12))


def _measured(x: float, y: float, to_x: float, to_y: float) -> Iterator[VectorPath]:
    """Draw a line with a short stroke across either end."""
    yield _line(x, y, to_x, to_y)
    aside_x, aside_y = (0.0, 2 * _MM) if y == to_y else (2 * _MM, 0.0)
    for end_x, end_y in ((x, y), (to_x, to_y)):
        yield _line(end_x - aside_x, end_y - aside_y, end_x + aside_x, end_y + aside_y)


_Style = tuple[str, float, float]
"""The face of a line of words, its size, and how far its baseline lies below the one before."""

_TITLE = ("serif-semibold", 20.0, 30.0)
_HEADING = ("sans-semibold", 11.0, 24.0)
_TEXT = ("sans", 10.0, 14.5)
_LEAD = ("sans", 10.0, 22.0)
_ITEM = ("sans", 10.0, 18.0)
_INDENT = 14.0
_FIGURE_AT = 130.0
_BLANK = 285.0, 375.0


def front_words(
    where: Crosses, metric: bool, maker_folder: File | None
) -> Iterator[Glyphs | VectorPath]:
    """Yield the front's words and blanks, from the top left corner of their block."""
    inset = _figure(where.inset, metric)
    yield from _lines(
        maker_folder,
        (_TITLE, "Alignment sheet"),
        (
            _LEAD,
            "Print this page at 100 % (actual size), fitted to nothing, on the paper you will use.",
        ),
        (_TEXT, "Measure with a steel rule, from the paper's edge to the middle of the cross."),
        (_HEADING, "Two distances put the print in its place"),
        (_ITEM, "1", "Left edge to cross A", inset),
        (_ITEM, "2", "Top edge to cross A", inset),
        (_HEADING, "Four more make it straight and true to size"),
        (_ITEM, "3", "Left edge to cross C", inset),
        (_ITEM, "4", "Top edge to cross B", inset),
        (_ITEM, "5", "Cross A to cross B", _figure(where.across, metric)),
        (_ITEM, "6", "Cross A to cross C", _figure(where.down, metric)),
        (_HEADING, "Then"),
        (_TEXT, "Enter what you measured, and print this sheet once more to see that it holds."),
        (_TEXT, "The lines below are 100 mm and 4 in long. If they are clearly longer or shorter,"),
        (_TEXT, "the page was scaled in the print dialog: set it to 100 % and start again."),
    )


def back_words(
    where: Crosses, metric: bool, maker_folder: File | None
) -> Iterator[Glyphs | VectorPath]:
    """Yield the back's words and blanks, from the top left corner of their block."""
    inset = _figure(where.inset, metric)
    yield from _lines(
        maker_folder,
        (_TITLE, "Alignment sheet, back"),
        (_LEAD, "Measure on this side too; left and top are as you look at it now."),
        (_HEADING, "Two distances put the back behind the front"),
        (_ITEM, "7", "Left edge to cross A", inset),
        (_ITEM, "8", "Top edge to cross A", inset),
        (_HEADING, "Then"),
        (_TEXT, "Held against the light, the crosses of both sides should lie on each other."),
    )


def _lines(
    maker_folder: File | None, *lines: tuple[_Style, *tuple[str, ...]]
) -> Iterator[Glyphs | VectorPath]:
    """Set lines under each other: a style, and a text or the number, text and figure of an item."""
    y = 0.0
    for (face, size, down), *texts in lines:
        y += down
        if len(texts) == 1:
            yield from _run(texts[0], face, size, maker_folder, (0.0, y))
            continue
        number, text, figure = texts
        yield from _run(number, "sans-semibold", size, maker_folder, (0.0, y))
        yield from _run(text, face, size, maker_folder, (_INDENT, y))
        yield from _run(f"should be {figure}", "sans-medium", size, maker_folder, (_FIGURE_AT, y))
        yield _line(_BLANK[0], y + 2, _BLANK[1], y + 2)


def _figure(length: float, metric: bool) -> str:
    """Return a length as it reads on the paper's own ruler, and on the other."""
    mm = f"{Length(length).mm:.1f} mm"
    return f"{mm} ({Length(length).inches:.3f} in)" if metric else f"{Length(length)} ({mm})"


def _line(x: float, y: float, to_x: float, to_y: float) -> VectorPath:
    return line((x, y), (to_x, to_y), stroke=_INK, width=_HAIRLINE)


def _run(
    text: str, face: str, size: float, maker_folder: File | None, spot: tuple[float, float],
    ink: str = _INK,
) -> Iterator[Glyphs]:  # fmt: skip
    words = words_of((Span(_style(face, size, maker_folder, ink), finished(text)),))
    for run in runs_of(words, size):
        yield replace(run, x=run.x + spot[0], y=run.y + spot[1])


@lru_cache(maxsize=32)
def _style(face: str, size: float, maker_folder: File | None, ink: str) -> Style:
    return Style("align", typeface(face, maker_folder), size, size, ink=ink)


def _is_metric(width: float) -> bool:
    """Paper whose width is no whole number of eighths of an inch is measured in millimetres."""
    eighths = width / POINTS_PER_INCH * 8
    return abs(eighths - round(eighths)) > 0.01
