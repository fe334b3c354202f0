"""What the alignment sheet says: which distances to measure, and what they should be."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path as File

from labeler.layout.marks import Glyphs, Path
from labeler.press.correction import Crosses
from labeler.typefaces import typeface
from labeler.units import Length

_TITLE = ("serif-semibold", 20.0, 30.0)
_HEADING = ("sans-semibold", 11.0, 24.0)
_TEXT = ("sans", 10.0, 14.5)
_LEAD = ("sans", 10.0, 22.0)
_ITEM = ("sans", 10.0, 18.0)
_INDENT = 14.0
_FIGURE_AT = 130.0
_BLANK = 285.0, 375.0

_Style = tuple[str, float, float]


def front_words(where: Crosses, metric: bool, own: File | None) -> Iterator[Glyphs | Path]:
    """Yield the front's words and blanks, from the top left corner of their block."""
    inset = _figure(where.inset, metric)
    yield from _Block(own).lines(
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


def back_words(where: Crosses, metric: bool, own: File | None) -> Iterator[Glyphs | Path]:
    """Yield the back's words and blanks, from the top left corner of their block."""
    inset = _figure(where.inset, metric)
    yield from _Block(own).lines(
        (_TITLE, "Alignment sheet, back"),
        (_LEAD, "Measure on this side too; left and top are as you look at it now."),
        (_HEADING, "Two distances put the back behind the front"),
        (_ITEM, "7", "Left edge to cross A", inset),
        (_ITEM, "8", "Top edge to cross A", inset),
        (_HEADING, "Then"),
        (_TEXT, "Held against the light, the crosses of both sides should lie on each other."),
    )


class _Block:
    """Lines of words under each other."""

    def __init__(self, own: File | None) -> None:
        self._own = own
        self._y = 0.0

    def lines(self, *lines: tuple[_Style, *tuple[str, ...]]) -> Iterator[Glyphs | Path]:
        """Set each line: its style, and a text or the number, text and figure of an item."""
        for style, *texts in lines:
            self._y += style[2]
            if len(texts) == 1:
                yield self._set(style, texts[0], 0.0)
                continue
            number, text, figure = texts
            yield self._set(("sans-semibold", *style[1:]), number, 0.0)
            yield self._set(style, text, _INDENT)
            yield self._set(("sans-medium", *style[1:]), f"should be {figure}", _FIGURE_AT)
            (first, last), y = _BLANK, self._y + 2
            yield Path((("M", first, y), ("L", last, y)), stroke="#000000", width=0.25)

    def _set(self, style: _Style, text: str, x: float) -> Glyphs:
        face, size, _ = style
        shaped = typeface(face, self._own).shape(text)
        width = shaped.width * size / 1000
        return Glyphs(x, self._y, face, size, "#000000", shaped.text, width, shaped.shifts)


def _figure(length: float, metric: bool) -> str:
    """Return a length as it reads on the paper's own ruler, and on the other."""
    mm, inches = f"{Length(length).mm:.1f} mm", f"{Length(length).inches:.3f} in"
    if metric:
        return f"{mm} ({inches})"
    return f"{Length(length)} ({mm})"
