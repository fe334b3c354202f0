"""From a string of codes to glyphs on the page (ISO 32000-1:2008, 9.4.4)."""

from __future__ import annotations

from labeler.checker.fonts import Sort
from labeler.checker.geometry import Matrix, times
from labeler.checker.graphics import State, TextPlace
from labeler.checker.limits import TooMuchError, limit
from labeler.checker.seen import Drawn, Font, Glyph


class Setter:
    """Sets strings on one page."""

    def __init__(self, drawn: Drawn) -> None:
        self._drawn = drawn
        self._most = limit("page-glyphs")

    def show(self, state: State, place: TextPlace, data: bytes, order: int) -> None:
        """Take down every glyph of a string and move on.

        Raises:
            TooMuchError: if a page has more glyphs than a page of labels ever has.
        """
        font = state.font
        if font is None:
            return
        glyphs = self._drawn.glyphs
        if len(glyphs) > self._most:
            raise TooMuchError("the letters of one page")
        whole = times((state.size * state.stretch, 0.0, 0.0, state.size, 0.0, state.rise),
                      times(place.now, state.matrix))  # fmt: skip
        on_page = times(place.now, state.matrix)
        moved = 0.0
        for code in font.codes(data):
            sort = font.sort(code)
            space = state.letter_space + (state.word_space if sort.word_space else 0.0)
            step = (sort.advance * state.size + space) * state.stretch
            glyphs.append(_glyph(state, font.font, sort, whole, on_page, (moved, step, order)))
            moved += step
        place.now = times((1, 0, 0, 1, moved, 0), place.now)

    def shift(self, state: State, place: TextPlace, thousandths: float) -> None:
        """Move the next glyph back by so many thousandths of an em."""
        back = -thousandths / 1000 * state.size * state.stretch
        place.now = times((1, 0, 0, 1, back, 0), place.now)


def _glyph(
    state: State,
    font: Font,
    sort: Sort,
    whole: Matrix,
    on_page: Matrix,
    at: tuple[float, float, int],
) -> Glyph:
    """Return one glyph.

    Args:
        state: the graphics state.
        font: the font.
        sort: what the font says of the code.
        whole: the matrix from ems to the page, at the string's beginning.
        on_page: the matrix from text space to the page.
        at: how far along the string it stands, how far it moves the next one, and its order.
    """
    moved, step, order = at
    a, b, c, d, e, f = whole
    ta, tb = on_page[0], on_page[1]
    x, y = e + ta * moved, f + tb * moved
    ink = sort.ink
    if b == 0 == c:
        xs = x + a * ink.left, x + a * ink.right
        ys = y + d * ink.high, y + d * ink.low
    else:
        corners = [(u, v) for u in (ink.left, ink.right) for v in (ink.low, ink.high)]
        xs = tuple(x + a * u + c * v for u, v in corners)  # type: ignore[assignment]
        ys = tuple(y + b * u + d * v for u, v in corners)  # type: ignore[assignment]
    tall = (c * c + d * d) ** 0.5
    stroked = state.mode % 4 == 1
    return Glyph(
        sort.text,
        sort.shape,
        font,
        tall,
        x,
        y,
        (ta * step, tb * step),
        (min(xs), min(ys), max(xs), max(ys)),
        ink.high * tall,
        ink.low * tall,
        ink.area * abs(a * d - b * c),
        state.stroke if stroked else state.fill,
        state.stroke_alpha if stroked else state.fill_alpha,
        state.mode,
        state.clip,
        order,
    )
