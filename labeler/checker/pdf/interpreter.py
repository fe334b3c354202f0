"""Follows the operators of a page and takes down what they draw, glyph by glyph.

Source: ISO 32000-1:2008, annex A (operator summary). What is not followed here, shadings and
patterns and soft masks, is named in ``Drawn.untold``; whether anything is seen at all is decided
by the rendered page.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from itertools import chain
from pathlib import Path
from typing import Any

from pypdf.generic import StreamObject

from labeler.checker.page import elements
from labeler.checker.page.elements import BLACK, Drawn, Font, Glyph, PaintedArea, PaintedPath, Rgb
from labeler.checker.pdf.file import (
    TooMuchError,
    decoded,
    identity,
    limit,
    look,
    mapping,
    numbers,
    rectangle,
    text_of,
)
from labeler.checker.pdf.fonts import FileFont, GlyphMetrics
from labeler.checker.pdf.outlines import Faces
from labeler.checker.pdf.tokens import (
    ENDS_A_STRETCH,
    FIGURES,
    INLINE_PICTURE,
    name_in,
    read_stretch,
    string,
    tokens,
)
from labeler.geometry import EVERYWHERE, IDENTITY, Box, Matrix, apply_to_box, intersection, multiply

# ----------------------------------------------------------------------------
# The graphics state of a content stream (ISO 32000-1:2008, 8.4 and 9.3).


@dataclass(slots=True)
class State:
    """All that one operator leaves for the next."""

    matrix: Matrix
    clip: Box = EVERYWHERE
    fill: Rgb | None = BLACK
    stroke: Rgb | None = BLACK
    fill_parts: int | None = 1
    """How many numbers the fill's colour space takes; None where they say nothing by themselves."""
    stroke_parts: int | None = 1
    fill_alpha: float = 1.0
    stroke_alpha: float = 1.0
    width: float = 1.0
    font: FileFont | None = None
    size: float = 0.0
    letter_space: float = 0.0
    word_space: float = 0.0
    stretch: float = 1.0
    leading: float = 0.0
    rise: float = 0.0
    mode: int = 0
    style: tuple[object, ...] = ()
    """What was set that is not followed: dashes, caps, joins, dictionaries of parameters."""
    cuts: tuple[tuple[str, Matrix, tuple[float, ...]], ...] = ()
    """The clipping paths in force that are no upright rectangles: steps, matrix and points."""

    def copy(self) -> State:
        """Return the state as it is now, to come back to."""
        return State(
            self.matrix, self.clip, self.fill, self.stroke, self.fill_parts, self.stroke_parts,
            self.fill_alpha, self.stroke_alpha, self.width, self.font, self.size,
            self.letter_space, self.word_space, self.stretch, self.leading, self.rise, self.mode,
            self.style, self.cuts,
        )  # fmt: skip

    @property
    def ink(self) -> tuple[object, ...]:
        """All that a form drawn now inherits, but where it stands and what is clipped."""
        return (
            self.fill, self.stroke, self.fill_parts, self.stroke_parts, self.fill_alpha,
            self.stroke_alpha, self.width, id(self.font), self.size, self.letter_space,
            self.word_space, self.stretch, self.leading, self.rise, self.mode, self.style,
        )  # fmt: skip


@dataclass(slots=True)
class TextPlace:
    """Where the next glyph and the next line begin."""

    now: Matrix = IDENTITY
    line: Matrix = IDENTITY


# ----------------------------------------------------------------------------
# The operators of a content stream, one small function each, and what each does to the page.
#
# Source: ISO 32000-1:2008, annex A (operator summary).

Words = list[bytes]

NUMERIC = frozenset(b"0123456789+-.")
"""What a number begins with."""


def _floats(operands: Words) -> list[float]:
    return [float(word) for word in operands]


def _matrix(operands: Words) -> Matrix:
    a, b, c, d, e, f = map(float, operands)
    return a, b, c, d, e, f


Operator = Callable[["ContentInterpreter", Words], None]


def _step(page: ContentInterpreter, kind: str, figures: list[float]) -> None:
    if len(figures) != FIGURES[kind]:
        raise ValueError("a step of another kind")
    page.kinds.append(kind)
    page.points += figures


def _current_point(page: ContentInterpreter) -> list[float]:
    """Return where the next step begins: after a closed figure at that figure's beginning.

    Source: ISO 32000-1:2008, table 59.
    """
    at = len(page.points) - 2
    if page.kinds and page.kinds[-1].endswith(("h", "r")):
        at += 2
        for kind in chain.from_iterable(map(reversed, reversed(page.kinds))):
            at -= FIGURES[kind]
            if kind in "mr":
                break
    return page.points[at : at + 2]


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
        page.state.fill = elements.of_parts(_floats(operands), count)

    return take


def _stroke_with(count: int) -> Operator:
    def take(page: ContentInterpreter, operands: Words) -> None:
        page.state.stroke_parts = count
        page.state.stroke = elements.of_parts(_floats(operands), count)

    return take


def _fill_space(page: ContentInterpreter, operands: Words) -> None:
    page.state.fill_parts = page.parts_of(operands[0])
    page.state.fill = elements.BLACK if page.state.fill_parts else None


def _stroke_space(page: ContentInterpreter, operands: Words) -> None:
    page.state.stroke_parts = page.parts_of(operands[0])
    page.state.stroke = elements.BLACK if page.state.stroke_parts else None


def _fill_colour(page: ContentInterpreter, operands: Words) -> None:
    page.state.fill = page.colour_of(operands, page.state.fill_parts)


def _stroke_colour(page: ContentInterpreter, operands: Words) -> None:
    page.state.stroke = page.colour_of(operands, page.state.stroke_parts)


def _set_state(page: ContentInterpreter, operands: Words) -> None:
    page.set_from(look(look(page.resources, "/ExtGState"), name_in(operands[0])))


def _begin_text(page: ContentInterpreter, operands: Words) -> None:
    page.place = TextPlace()


def _font(page: ContentInterpreter, operands: Words) -> None:
    page.state.font = page.font(name_in(operands[0])[1:])
    page.state.size = float(operands[1])


def _next_line(page: ContentInterpreter, x: float, y: float) -> None:
    page.place.line = page.place.now = multiply((1, 0, 0, 1, x, y), page.place.line)


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
    page.show(string(operands[-1]))


def _show_on_next_line(page: ContentInterpreter, operands: Words) -> None:
    _line_feed(page, operands)
    _show(page, operands)


def _show_spaced(page: ContentInterpreter, operands: Words) -> None:
    page.state.word_space, page.state.letter_space = float(operands[0]), float(operands[1])
    _show_on_next_line(page, operands)


def _show_array(page: ContentInterpreter, operands: Words) -> None:
    parts = (word for word in operands if word not in (b"[", b"]"))
    page.show(*(float(w) if w[0] in NUMERIC else string(w) for w in parts))


def _setting(name: str, factor: float = 1.0) -> Operator:
    def take(page: ContentInterpreter, operands: Words) -> None:
        setattr(page.state, name, float(operands[0]) * factor)

    return take


def _text_mode(page: ContentInterpreter, operands: Words) -> None:
    page.state.mode = int(operands[0])


def _shading(page: ContentInterpreter, operands: Words) -> None:
    page.drawn.untold.add("shadings")
    page.paint_area("shading")


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
    b"w": _setting("width"),
    b"J": _style(b"J"), b"j": _style(b"j"), b"M": _style(b"M"), b"d": _style(b"d"),
    b"ri": _style(b"ri"), b"i": _style(b"i"),
    b"gs": _set_state,
    b"m": lambda page, operands: _step(page, "m", _floats(operands)),
    b"l": lambda page, operands: _step(page, "l", _floats(operands)),
    b"c": lambda page, operands: _step(page, "c", _floats(operands)),
    b"v": lambda page, operands: _step(page, "c", [*_current_point(page), *_floats(operands)]),
    b"y": lambda page, operands: _step(page, "c", _floats(operands + operands[-2:])),
    b"h": lambda page, operands: page.kinds.append("h"),
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
    b"Tc": _setting("letter_space"), b"Tw": _setting("word_space"),
    b"Tz": _setting("stretch", 0.01), b"TL": _setting("leading"),
    b"Ts": _setting("rise"), b"Tr": _text_mode,
    b"Do": lambda page, operands: page.draw_object(name_in(operands[0])[1:]),
    INLINE_PICTURE: lambda page, operands: page.paint_area("image"),
    b"BDC": _marked,
}  # fmt: skip


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
    mirrored = a * d > b * c  # the page is looked at with y down, which turns the sign

    def made(sort: GlyphMetrics, moved: float, step: float) -> Glyph:
        ink = sort.ink
        x, y = e + ta * moved, f + tb * moved
        if upright:
            box = x + a * ink.left, y + d * ink.high, x + a * ink.right, y + d * ink.low
        else:
            box = apply_to_box((a, b, c, d, x, y), (ink.left, ink.low, ink.right, ink.high))
        return Glyph(
            sort.text, sort.shape, font, tall, x, y, (ta * step, tb * step), box,
            ink.high * tall, ink.low * tall, ink.area * spread, colour, alpha, mode, clip, order,
            mirrored=mirrored,
        )  # fmt: skip

    return made


_CONSTANTS = frozenset((b"true", b"false", b"null"))
_NOWHERE: Box = (0.0, 0.0, 0.0, 0.0)


_Form = tuple[Matrix | None, Box | None, Any]


class Library:
    """The fonts and cut streams of one file, kept from page to page."""

    def __init__(self, maker_folder: Path | None) -> None:
        self.faces = Faces(maker_folder)
        self.fonts: dict[int, FileFont] = {}
        self.words: dict[int, Words] = {}
        self._forms: dict[int, _Form] = {}

    def font(self, resources: Any, name: str) -> FileFont | None:
        """Return the font that the resources call ``name``."""
        fonts = look(resources, "/Font")
        entry = look(fonts, f"/{name}")
        if entry is None:
            return None
        number = identity(fonts, f"/{name}") or id(entry)
        if number not in self.fonts:
            self.fonts[number] = FileFont(entry, self.faces)
        return self.fonts[number]

    def form(self, form: StreamObject, number: int | None) -> _Form:
        """Return the matrix of a form, the box that it is clipped to, and its resources."""
        known = self._forms.get(number) if number is not None else None
        if known is None:
            given = numbers(look(form, "/Matrix"), 6)
            matrix: Any = tuple(given) if given else None
            known = matrix, rectangle(look(form, "/BBox")), look(form, "/Resources")
            if number is not None:
                self._forms[number] = known
        return known

    def cut(self, stream: StreamObject, number: int | None) -> Words:
        """Return the words of a form's stream."""
        words = self.words.pop(number, None) if number is not None else None
        if words is None:
            words = words_of(decoded(stream))
        if number is not None:
            self.words[number] = words
            if len(self.words) > _MOST_CUT:
                del self.words[next(iter(self.words))]
        return words


_MOST_CUT = 64
"""Forms of which the words are kept: those that were last drawn."""


def words_of(data: bytes) -> Words:
    """Return the words of a stream.

    Raises:
        TooMuchError: if it is larger than any page of labels.
    """
    if len(data) > limit("stream-bytes") / 4:
        raise TooMuchError("the drawing operators of one page")
    return list(tokens(data))


@dataclass(eq=False)
class Placement:
    """A form that the page's own operators place, not followed yet or followed already."""

    form: StreamObject
    number: int | None
    """Of the form's object; None where it has none."""
    state: State
    resources: Any
    order: int
    """Before all that it draws, in the order of painting."""
    extent: Box
    """Around all that it may draw, on the page, not counting what clips the page."""
    kind: int = -1
    """The same for forms that look the same."""
    glyphs: list[Glyph] | None = None
    """Its glyphs, once it is followed; so with what else it draws."""
    shapes: list[PaintedPath] = field(default_factory=list)
    pictures: list[PaintedArea] = field(default_factory=list)
    steps: int = 0
    """How many operators it took."""


class ContentInterpreter:
    """Follows the operators of one page.

    Args:
        library: the file's fonts and cut streams.
        drawn: takes what is drawn.
        base: the matrix from the page's own coordinates to how it is looked at.
        clip: outside of which nothing is seen.
        lay_aside: whether forms that the page itself places are laid aside in ``placements``, to
            be followed if they are asked for.
    """

    def __init__(
        self, library: Library, drawn: Drawn, base: Matrix, clip: Box, *, lay_aside: bool = False
    ) -> None:
        self.placements: list[Placement] = []
        self._lay_aside = lay_aside
        self.library = library
        self.drawn = drawn
        self.state = State(base, clip)
        self.saved: list[State] = []
        self.place = TextPlace()
        self.kinds: list[str] = []
        self.points: list[float] = []
        self.clip_next = False
        self.order = 0
        self.steps = 0
        self._most_steps, self._most_glyphs = limit("page-operators"), limit("page-glyphs")
        self.depth = 0
        self.resources: Any = None
        self._fonts: dict[str, FileFont | None] = {}

    def font(self, name: str) -> FileFont | None:
        """Return the font that the resources at hand call ``name``."""
        if name not in self._fonts:
            self._fonts[name] = self.library.font(self.resources, name)
        return self._fonts[name]

    def run(self, words: Words, resources: Any) -> None:
        """Follow a stream with its resources.

        Raises:
            TooMuchError: if there are more operators than a page of labels ever has.
        """
        self.count(len(words))
        outer, self.resources = self.resources, resources
        fonts, self._fonts = self._fonts, {}
        held = len(self.saved)
        operands: Words = []
        for word in words:
            if word[0] in NUMERIC:
                if word[-1] in ENDS_A_STRETCH:
                    self.trace(word, operands)
                else:
                    operands.append(word)
                continue
            operator = OPERATORS.get(word)
            if operator is not None:
                try:
                    operator(self, operands)
                except (ValueError, IndexError, TypeError, ZeroDivisionError):
                    self.drawn.untold.add("operators with the wrong operands")
                operands.clear()
            elif word[:1].isalpha() and word not in _CONSTANTS:
                operands.clear()
            elif len(operands) < _MOST_OPERANDS:
                operands.append(word)
        while len(self.saved) > held:
            self.restore()
        self.resources, self._fonts = outer, fonts

    def count(self, steps: int) -> None:
        """Count the steps that are taken.

        Raises:
            TooMuchError: if there are more of them than a page of labels ever has.
        """
        self.steps += steps
        if self.steps > self._most_steps:
            raise TooMuchError("the drawing operators of one page")

    # ---------------------------------------------------------------------------- the state

    def save(self) -> None:
        """Keep the state, to come back to it."""
        if len(self.saved) > _MOST_SAVED:
            raise TooMuchError("graphics states within each other")
        self.saved.append(self.state.copy())

    def restore(self) -> None:
        """Come back to the state last kept."""
        if self.saved:
            self.state = self.saved.pop()

    def concat(self, matrix: Matrix) -> None:
        """Move what follows by ``matrix``."""
        self.state.matrix = multiply(matrix, self.state.matrix)

    def set_from(self, entry: Any) -> None:
        """Take what a dictionary of graphics state parameters says (ISO 32000-1:2008, 8.4.5)."""
        given = mapping(entry)
        self.state.style = *self.state.style, id(given)
        for key in given:
            value = look(entry, key)
            if key == "/ca":
                self.state.fill_alpha = float(value)
            elif key == "/CA":
                self.state.stroke_alpha = float(value)
            elif key == "/LW":
                self.state.width = float(value)
            elif key == "/SMask" and text_of(value) != "None":
                self.drawn.untold.add("soft masks")
            elif key == "/BM" and text_of(value) not in ("Normal", "Compatible"):
                self.drawn.untold.add("blend modes")

    # ---------------------------------------------------------------------------- paths

    def paint(self, fill: bool, stroke: bool) -> None:
        """Paint the path, then begin a new one; take it as the clip if that was asked."""
        state = self.state
        if self.kinds and (fill or stroke):
            wide = state.width * _scale(state.matrix) / 2 if stroke else 0.0
            left, top, right, bottom = self.path_box()
            box = left - wide, top - wide, right + wide, bottom + wide
            self.order += 1
            self.drawn.shapes.append(
                PaintedPath(
                    box,
                    state.fill if fill else None,
                    state.stroke if stroke else None,
                    2 * wide,
                    state.fill_alpha if fill else state.stroke_alpha,
                    state.clip,
                    self.order,
                    "".join(self.kinds),
                    self.points,
                    state.matrix,
                    fill,
                    stroke,
                    state.style,
                )
            )
        if self.clip_next:
            self._clip_to_path()
        self.kinds, self.points, self.clip_next = [], [], False

    def trace(self, stretch: bytes, operands: Words) -> None:
        """Add a whole stretch of corners or rectangles to the path.

        Raises:
            TooMuchError: if it has more steps than a page of labels ever has.
        """
        if operands:
            self.drawn.untold.add("operators with the wrong operands")
            operands.clear()
        steps, points = read_stretch(stretch)
        self.count(len(steps))
        self.kinds.append(steps)
        self.points += points

    def path_box(self) -> Box:
        """Return the box around the path on the page, control points included."""
        xs, ys = self.points[::2], self.points[1::2]
        return apply_to_box(self.state.matrix, (min(xs), min(ys), max(xs), max(ys)))

    def clip_to(self, box: Box) -> None:
        """Let nothing be seen outside ``box``."""
        self.state.clip = intersection(self.state.clip, box) or _NOWHERE

    def _clip_to_path(self) -> None:
        state, steps = self.state, "".join(self.kinds)
        if steps not in ("", "r") or not _upright(state.matrix):
            state.cuts = *state.cuts, (steps, state.matrix, tuple(self.points))
        self.clip_to(self.path_box() if steps else _NOWHERE)

    # ---------------------------------------------------------------------------- text

    def show(self, *parts: bytes | float) -> None:
        """Take down every glyph of some strings, and move on (ISO 32000-1:2008, 9.4.4).

        Args:
            parts: strings of codes; a number between them moves the next back by so many
                thousandths of an em.

        Raises:
            TooMuchError: if a page has more glyphs than a page of labels ever has.
        """
        state, place, glyphs = self.state, self.place, self.drawn.glyphs
        font = state.font
        if font is None:
            return
        self.order += 1
        on_page = multiply(place.now, state.matrix)
        spread = state.size * state.stretch
        whole = multiply((spread, 0.0, 0.0, state.size, 0.0, state.rise), on_page)
        set_one = _setter_of(state, font.font, whole, on_page, self.order)
        moved = 0.0
        for part in parts:
            if isinstance(part, float):
                moved -= part / 1000 * spread
                continue
            if len(glyphs) + len(part) > self._most_glyphs:
                raise TooMuchError("the letters of one page")
            for code in font.codes(part):
                sort = font.sort(code)
                step = sort.advance * spread + state.letter_space * state.stretch
                if sort.word_space:
                    step += state.word_space * state.stretch
                glyphs.append(set_one(sort, moved, step))
                moved += step
        place.now = multiply((1, 0, 0, 1, moved, 0), place.now)

    # ---------------------------------------------------------------------------- objects

    def draw_object(self, name: str) -> None:
        """Draw a form or a picture of the resources."""
        objects = look(self.resources, "/XObject")
        entry = look(objects, f"/{name}")
        if not isinstance(entry, StreamObject):
            return
        kind = text_of(look(entry, "/Subtype"))
        if kind == "Image":
            self._picture(entry)
        elif kind == "Form":
            self.draw_form(entry, identity(objects, f"/{name}"))

    def _picture(self, entry: StreamObject) -> None:
        wide, high = look(entry, "/Width"), look(entry, "/Height")
        if (
            isinstance(wide, int)
            and isinstance(high, int)
            and wide * high > limit("picture-pixels")
        ):
            raise TooMuchError("a picture of this size")
        self.paint_area("image")

    def paint_area(self, kind: Any) -> None:
        """Take down a picture in the unit square, or a shading over all that is not clipped."""
        self.order += 1
        state = self.state
        box = apply_to_box(state.matrix, (0.0, 0.0, 1.0, 1.0)) if kind == "image" else state.clip
        if shown := intersection(box, state.clip):
            self.drawn.pictures.append(PaintedArea(shown, kind, self.order))

    def draw_form(self, form: StreamObject, number: int | None) -> None:
        """Follow a form's own stream (ISO 32000-1:2008, 8.10), or lay it aside.

        Raises:
            TooMuchError: if forms lie in each other deeper than any label's.
        """
        if self.depth >= limit("form-depth"):
            raise TooMuchError("forms within each other")
        self.save()
        matrix, box, resources = self.library.form(form, number)
        if matrix is not None:
            self.concat(matrix)
        extent = apply_to_box(self.state.matrix, box) if box else EVERYWHERE
        if self._lay_aside and self.depth == 0:
            self.placements.append(
                Placement(form, number, self.state, resources or self.resources, self.order, extent)
            )
            self.order += _ROOM
            if len(self.placements) > _MOST_PLACEMENTS:
                raise TooMuchError("the forms of one page")
        else:
            self._draw(form, number, extent)
        self.restore()

    def follow(self, placement: Placement) -> None:
        """Follow a form that was laid aside, as it was drawn then."""
        if placement.glyphs is not None:
            return
        self._lay_aside = False
        order, self.order = self.order, placement.order
        state, self.state = self.state, placement.state.copy()
        resources, self.resources = self.resources, placement.resources
        drawn = self.drawn
        steps = self.steps
        glyphs, shapes, pictures = len(drawn.glyphs), len(drawn.shapes), len(drawn.pictures)
        self._draw(placement.form, placement.number, placement.extent)
        placement.steps = self.steps - steps
        placement.glyphs = drawn.glyphs[glyphs:]
        placement.shapes, placement.pictures = drawn.shapes[shapes:], drawn.pictures[pictures:]
        self.order, self.state, self.resources = order, state, resources
        self._lay_aside = True

    def follow_all(self) -> None:
        """Follow every form that was laid aside."""
        for placement in self.placements:
            self.follow(placement)

    def _draw(self, form: StreamObject, number: int | None, extent: Box) -> None:
        if look(form, "/Group") is not None:
            self.drawn.untold.add("transparency groups")
        self.clip_to(extent)
        self.depth += 1
        path, self.kinds, self.points = (self.kinds, self.points), [], []
        place, self.place = self.place, TextPlace()
        self.run(self.library.cut(form, number), look(form, "/Resources") or self.resources)
        self.kinds, self.points = path
        self.place = place
        self.depth -= 1

    def colour_of(self, operands: Words, parts: int | None) -> Rgb | None:
        """Return the colour that the operands name in a space of so many parts."""
        if operands and operands[-1][:1] == b"/":
            self.drawn.untold.add("patterns")
            return None
        return elements.of_parts([float(word) for word in operands], parts)

    def parts_of(self, word: bytes) -> int | None:
        """Return how many parts a colour space named in the stream has."""
        name = name_in(word)[1:]
        return elements.parts_of(name) or elements.parts_of(
            look(look(self.resources, "/ColorSpace"), f"/{name}")
        )


_MOST_OPERANDS = 60_000
_MOST_PLACEMENTS = 20_000
_ROOM = 1 << 23
"""Places in the order of painting that are kept for a form: more than a page may have operators."""

_MOST_SAVED = 2_000


def _upright(matrix: Matrix) -> bool:
    """Tell whether a matrix leaves a rectangle one whose sides run along the page's."""
    a, b, c, d, _, _ = matrix
    return b == 0 == c or a == 0 == d


def _scale(matrix: Matrix) -> float:
    a, b, c, d, _, _ = matrix
    return float(abs(a * d - b * c) ** 0.5)
