"""Follows the operators of a page and takes down what they draw, glyph by glyph.

Source: ISO 32000-1:2008, annex A (operator summary). What is not followed here, shadings and
patterns and soft masks, is named in ``Drawn.untold``; whether anything is seen at all is decided
by the rendered page.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from pypdf.generic import StreamObject

from labeler.checker import colour, tokens
from labeler.checker.faces import Faces
from labeler.checker.fonts import FileFont
from labeler.checker.geometry import EVERYWHERE, Box, Matrix, overlap, times, under
from labeler.checker.graphics import State, TextPlace
from labeler.checker.limits import TooMuchError, limit
from labeler.checker.objects import identity, look, mapping, numbers, text_of
from labeler.checker.operators import NUMERIC, OPERATORS, Words
from labeler.checker.seen import Drawn, Glyph, Picture, Rgb, Shape
from labeler.checker.type_setting import Setter

_CONSTANTS = frozenset((b"true", b"false", b"null"))
_NOWHERE: Box = (0.0, 0.0, 0.0, 0.0)


_Form = tuple[Matrix | None, Box | None, Any]


class Library:
    """The fonts and cut streams of one file, kept from page to page."""

    def __init__(self, own: Path | None) -> None:
        self.faces = Faces(own)
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
            given, box = numbers(look(form, "/Matrix"), 6), numbers(look(form, "/BBox"), 4)
            matrix: Any = tuple(given) if given else None
            known = matrix, _ordered(box) if box else None, look(form, "/Resources")
            if number is not None:
                self._forms[number] = known
        return known

    def cut(self, stream: StreamObject, number: int | None) -> Words:
        """Return the words of a form's stream."""
        if number is None:
            return words_of(stream.get_data())
        if number not in self.words:
            self.words[number] = words_of(stream.get_data())
        return self.words[number]


def words_of(data: bytes) -> Words:
    """Return the words of a stream.

    Raises:
        TooMuchError: if it is larger than any page of labels.
    """
    if len(data) > limit("stream-bytes") / 4:
        raise TooMuchError("the drawing operators of one page")
    return list(tokens.tokens(data))


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
    shapes: list[Shape] = field(default_factory=list)
    pictures: list[Picture] = field(default_factory=list)
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
        self.setter = Setter(drawn)
        self.kinds: list[str] = []
        self.points: list[float] = []
        self.clip_next = False
        self.order = 0
        self.steps = 0
        self._most = limit("page-operators")
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
                if word[-1] in tokens.ENDS_A_STRETCH:
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
        if self.steps > self._most:
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
        self.state.matrix = times(matrix, self.state.matrix)

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
                Shape(
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
        steps, points = tokens.stretch(stretch)
        self.count(len(steps))
        self.kinds.append(steps)
        self.points += points

    def path_box(self) -> Box:
        """Return the box around the path on the page, control points included."""
        xs, ys = self.points[::2], self.points[1::2]
        return under(self.state.matrix, (min(xs), min(ys), max(xs), max(ys)))

    def clip_to(self, box: Box) -> None:
        """Let nothing be seen outside ``box``."""
        self.state.clip = overlap(self.state.clip, box) or _NOWHERE

    def _clip_to_path(self) -> None:
        state, steps = self.state, "".join(self.kinds)
        if steps not in ("", "r") or not _upright(state.matrix):
            state.cuts = *state.cuts, (steps, state.matrix, tuple(self.points))
        self.clip_to(self.path_box() if steps else _NOWHERE)

    # ---------------------------------------------------------------------------- text

    def show(self, *parts: bytes | float) -> None:
        """Show strings of codes in the font at hand; a number between them moves the next back."""
        if self.state.font is None:
            return
        self.order += 1
        self.setter.show(self.state, self.place, parts, self.order)

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
        box = under(state.matrix, (0.0, 0.0, 1.0, 1.0)) if kind == "image" else state.clip
        if shown := overlap(box, state.clip):
            self.drawn.pictures.append(Picture(shown, kind, self.order))

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
        extent = under(self.state.matrix, box) if box else EVERYWHERE
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
        return colour.of_parts([float(word) for word in operands], parts)

    def parts_of(self, word: bytes) -> int | None:
        """Return how many parts a colour space named in the stream has."""
        name = tokens.name(word)[1:]
        return colour.parts_of(name) or colour.parts_of(
            look(look(self.resources, "/ColorSpace"), f"/{name}")
        )


_MOST_OPERANDS = 60_000
_MOST_PLACEMENTS = 20_000
_ROOM = 1 << 23
"""Places in the order of painting that are kept for a form: more than a page may have operators."""

_MOST_SAVED = 2_000


def _ordered(box: Sequence[float]) -> Box:
    x0, y0, x1, y1 = box
    return min(x0, x1), min(y0, y1), max(x0, x1), max(y0, y1)


def _upright(matrix: Matrix) -> bool:
    """Tell whether a matrix leaves a rectangle one whose sides run along the page's."""
    a, b, c, d, _, _ = matrix
    return b == 0 == c or a == 0 == d


def _scale(matrix: Matrix) -> float:
    a, b, c, d, _, _ = matrix
    return float(abs(a * d - b * c) ** 0.5)
