"""The operators of a content stream, one small function each, and what each does to the page.

Source: ISO 32000-1:2008, annex A (operator summary).
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import TYPE_CHECKING

from labeler.checker import colour, tokens
from labeler.checker.geometry import Matrix, times
from labeler.checker.graphics import TextPlace
from labeler.checker.objects import look

if TYPE_CHECKING:
    from labeler.checker.content import ContentInterpreter

Words = list[bytes]

NUMERIC = frozenset(b"0123456789+-.")
"""What a number begins with."""


def _floats(operands: Words) -> list[float]:
    return [float(word) for word in operands]


def _matrix(operands: Words) -> Matrix:
    a, b, c, d, e, f = map(float, operands)
    return a, b, c, d, e, f


Operator = Callable[["ContentInterpreter", Words], None]


def _move(page: ContentInterpreter, operands: Words) -> None:
    x, y = map(float, operands)
    page.kinds.append("m")
    page.points += (x, y)


def _line(page: ContentInterpreter, operands: Words) -> None:
    x, y = map(float, operands)
    page.kinds.append("l")
    page.points += (x, y)


def _curve(page: ContentInterpreter, operands: Words) -> None:
    page.kinds.append("c")
    page.points += map(float, operands)


def _close(page: ContentInterpreter, operands: Words) -> None:
    page.kinds.append("h")


def _rectangle(page: ContentInterpreter, operands: Words) -> None:
    x, y, wide, high = map(float, operands)
    page.kinds.append("r")
    page.points += (x, y, x + wide, y + high)


def _painter(fill: bool, stroke: bool, close: bool = False) -> Operator:
    def paint(page: ContentInterpreter, operands: Words) -> None:
        if close:
            page.kinds.append("h")
        page.paint(fill, stroke)

    return paint


def _clip(page: ContentInterpreter, operands: Words) -> None:
    page.clip_next = True


def _fill_with(count: int) -> Operator:
    def take(page: ContentInterpreter, operands: Words) -> None:
        page.state.fill_parts = count
        page.state.fill = colour.of_parts(_floats(operands), count)

    return take


def _stroke_with(count: int) -> Operator:
    def take(page: ContentInterpreter, operands: Words) -> None:
        page.state.stroke_parts = count
        page.state.stroke = colour.of_parts(_floats(operands), count)

    return take


def _fill_space(page: ContentInterpreter, operands: Words) -> None:
    page.state.fill_parts = page.parts_of(operands[0])
    page.state.fill = colour.BLACK if page.state.fill_parts else None


def _stroke_space(page: ContentInterpreter, operands: Words) -> None:
    page.state.stroke_parts = page.parts_of(operands[0])
    page.state.stroke = colour.BLACK if page.state.stroke_parts else None


def _fill_colour(page: ContentInterpreter, operands: Words) -> None:
    page.state.fill = page.colour_of(operands, page.state.fill_parts)


def _stroke_colour(page: ContentInterpreter, operands: Words) -> None:
    page.state.stroke = page.colour_of(operands, page.state.stroke_parts)


def _set_state(page: ContentInterpreter, operands: Words) -> None:
    page.set_from(look(look(page.resources, "/ExtGState"), tokens.name(operands[0])))


def _begin_text(page: ContentInterpreter, operands: Words) -> None:
    page.place = TextPlace()


def _font(page: ContentInterpreter, operands: Words) -> None:
    page.state.font = page.font(tokens.name(operands[0])[1:])
    page.state.size = float(operands[1])


def _next_line(page: ContentInterpreter, x: float, y: float) -> None:
    page.place.line = page.place.now = times((1, 0, 0, 1, x, y), page.place.line)


def _move_text(page: ContentInterpreter, operands: Words) -> None:
    _next_line(page, float(operands[0]), float(operands[1]))


def _move_text_leading(page: ContentInterpreter, operands: Words) -> None:
    page.state.leading = -float(operands[1])
    _move_text(page, operands)


def _text_matrix(page: ContentInterpreter, operands: Words) -> None:
    page.place.line = page.place.now = _matrix(operands)


def _line_feed(page: ContentInterpreter, operands: Words) -> None:
    _next_line(page, 0.0, -page.state.leading)


def _show(page: ContentInterpreter, operands: Words) -> None:
    page.show(tokens.string(operands[-1]))


def _show_on_next_line(page: ContentInterpreter, operands: Words) -> None:
    _line_feed(page, operands)
    _show(page, operands)


def _show_spaced(page: ContentInterpreter, operands: Words) -> None:
    page.state.word_space, page.state.letter_space = float(operands[0]), float(operands[1])
    _show_on_next_line(page, operands)


def _show_array(page: ContentInterpreter, operands: Words) -> None:
    parts = (word for word in operands if word not in (b"[", b"]"))
    page.show(*(float(w) if w[0] in NUMERIC else tokens.string(w) for w in parts))


def _text_setting(name: str, factor: float = 1.0) -> Operator:
    def take(page: ContentInterpreter, operands: Words) -> None:
        setattr(page.state, name, float(operands[0]) * factor)

    return take


def _text_mode(page: ContentInterpreter, operands: Words) -> None:
    page.state.mode = int(operands[0])


def _object(page: ContentInterpreter, operands: Words) -> None:
    page.draw_object(tokens.name(operands[0])[1:])


def _inline_picture(page: ContentInterpreter, operands: Words) -> None:
    page.paint_area("image")


def _shading(page: ContentInterpreter, operands: Words) -> None:
    page.drawn.untold.add("shadings")
    page.paint_area("shading")


def _stroke_width(page: ContentInterpreter, operands: Words) -> None:
    page.state.width = float(operands[0])


def _style(operator: bytes) -> Operator:
    """Return what keeps a setting that is not followed; one that was made before is forgotten."""

    def take(page: ContentInterpreter, operands: Words) -> None:
        others = (
            each for each in page.state.style if not (type(each) is tuple and each[0] == operator)
        )
        page.state.style = *others, (operator, *operands)

    return take


def _marked(page: ContentInterpreter, operands: Words) -> None:
    if operands and operands[0] == b"/OC":
        page.drawn.untold.add("layers that can be switched off")


OPERATORS: Mapping[bytes, Operator] = {
    b"q": lambda page, operands: page.save(),
    b"Q": lambda page, operands: page.restore(),
    b"cm": lambda page, operands: page.concat(_matrix(operands)),
    b"w": _stroke_width,
    b"J": _style(b"J"), b"j": _style(b"j"), b"M": _style(b"M"), b"d": _style(b"d"),
    b"ri": _style(b"ri"), b"i": _style(b"i"),
    b"gs": _set_state,
    b"m": _move, b"l": _line, b"c": _curve, b"v": _curve, b"y": _curve, b"h": _close,
    b"re": _rectangle,
    b"S": _painter(False, True), b"s": _painter(False, True, True),
    b"f": _painter(True, False), b"F": _painter(True, False), b"f*": _painter(True, False),
    b"B": _painter(True, True), b"B*": _painter(True, True),
    b"b": _painter(True, True, True), b"b*": _painter(True, True, True),
    b"n": _painter(False, False),
    b"W": _clip, b"W*": _clip,
    b"g": _fill_with(1), b"rg": _fill_with(3), b"k": _fill_with(4),
    b"G": _stroke_with(1), b"RG": _stroke_with(3), b"K": _stroke_with(4),
    b"cs": _fill_space, b"CS": _stroke_space,
    b"sc": _fill_colour, b"scn": _fill_colour, b"SC": _stroke_colour, b"SCN": _stroke_colour,
    b"sh": _shading,
    b"BT": _begin_text, b"Tf": _font, b"Td": _move_text, b"TD": _move_text_leading,
    b"Tm": _text_matrix, b"T*": _line_feed,
    b"Tj": _show, b"TJ": _show_array, b"'": _show_on_next_line, b'"': _show_spaced,
    b"Tc": _text_setting("letter_space"), b"Tw": _text_setting("word_space"),
    b"Tz": _text_setting("stretch", 0.01), b"TL": _text_setting("leading"),
    b"Ts": _text_setting("rise"), b"Tr": _text_mode,
    b"Do": _object, tokens.INLINE_PICTURE: _inline_picture,
    b"BDC": _marked,
}  # fmt: skip
