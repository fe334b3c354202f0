"""From a string of codes to glyphs on the page (ISO 32000-1:2008, 9.4.4)."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from labeler.checker.fonts import GlyphMetrics
from labeler.checker.geometry import Matrix, times, under
from labeler.checker.graphics import State, TextPlace
from labeler.checker.limits import TooMuchError, limit
from labeler.checker.seen import Drawn, Font, Glyph


class Setter:
    """Sets strings on one page."""

    def __init__(self, drawn: Drawn) -> None:
        self._drawn = drawn
        self._most = limit("page-glyphs")

    def show(
        self, state: State, place: TextPlace, parts: Sequence[bytes | float], order: int
    ) -> None:
        """Take down every glyph of some strings and move on.

        Args:
            state: the graphics state.
            place: where the text stands; moved to its end.
            parts: strings of codes; a number between them moves the next back by so many
                thousandths of an em.
            order: their place in the order of painting.

        Raises:
            TooMuchError: if a page has more glyphs than a page of labels ever has.
        """
        font = state.font
        if font is None:
            return
        glyphs = self._drawn.glyphs
        on_page = times(place.now, state.matrix)
        spread = state.size * state.stretch
        whole = times((spread, 0.0, 0.0, state.size, 0.0, state.rise), on_page)
        set_one = _setter_of(state, font.font, whole, on_page, order)
        moved = 0.0
        for part in parts:
            if isinstance(part, float):
                moved -= part / 1000 * spread
                continue
            if len(glyphs) + len(part) > self._most:
                raise TooMuchError("the letters of one page")
            for code in font.codes(part):
                sort = font.sort(code)
                step = sort.advance * spread + state.letter_space * state.stretch
                if sort.word_space:
                    step += state.word_space * state.stretch
                glyphs.append(set_one(sort, moved, step))
                moved += step
        place.now = times((1, 0, 0, 1, moved, 0), place.now)


def _setter_of(
    state: State, font: Font, whole: Matrix, on_page: Matrix, order: int
) -> Callable[[GlyphMetrics, float, float], Glyph]:
    """Return what makes a glyph of a string from a code, how far along it stands, and its step.

    Args:
        state: the graphics state.
        font: the font.
        whole: the matrix from ems to the page, at the string's beginning.
        on_page: the matrix from text space to the page.
        order: the string's place in the order of painting.
    """
    a, b, c, d, e, f = whole
    ta, tb = on_page[0], on_page[1]
    tall = (c * c + d * d) ** 0.5
    spread = abs(a * d - b * c)
    stroked = state.mode % 4 == 1
    colour = state.stroke if stroked else state.fill
    alpha = state.stroke_alpha if stroked else state.fill_alpha
    mode, clip = state.mode, state.clip
    upright = b == 0 == c and a > 0 > d

    def made(sort: GlyphMetrics, moved: float, step: float) -> Glyph:
        ink = sort.ink
        x, y = e + ta * moved, f + tb * moved
        if upright:
            box = x + a * ink.left, y + d * ink.high, x + a * ink.right, y + d * ink.low
        else:
            box = under((a, b, c, d, x, y), (ink.left, ink.low, ink.right, ink.high))
        return Glyph(
            sort.text, sort.shape, font, tall, x, y, (ta * step, tb * step), box,
            ink.high * tall, ink.low * tall, ink.area * spread, colour, alpha, mode, clip, order,
        )  # fmt: skip

    return made
