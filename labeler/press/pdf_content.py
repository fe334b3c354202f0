"""Marks as the content of a page or of a form, one small function a kind of mark.

Marks keep their own coordinates, top left origin, y down: the page turns y over once.
Decides nothing.
"""

from __future__ import annotations

from collections.abc import Iterable

from labeler.geometry import Box
from labeler.marks import Code, Glyphs, Group, Mark, Picture, VectorPath
from labeler.press.pdf_file import PdfFile, text_string
from labeler.press.pdf_ink import code, ink, moved, outline, painting, stroke_style
from labeler.press.pdf_picture import Pictures
from labeler.press.pdf_type import TypeCase

_State = tuple[str, tuple[str, float], str]
_UNKNOWN: _State = ("", ("", 0.0), "")
"""Ink, font and stroke. A form begins with whatever its user had (ISO 32000-1:2008, 8.10.1), so it
trusts none."""


class Inkwell:
    """What all content of one PDF draws from: its file, type, pictures and keyed groups."""

    def __init__(self, file: PdfFile, case: TypeCase, pictures: Pictures) -> None:
        self.file = file
        self.case = case
        self.pictures = pictures
        self.groups: dict[str, int] = {}

    def form(self, marks: Iterable[Mark], box: Box, artifacts: Iterable[VectorPath] = ()) -> int:
        """Write marks as a form to be placed many times, and return its number.

        A form clips to its box (ISO 32000-1:2008, 8.10.1), so ``box`` must hold the bleed.
        """
        content = Content(self)
        content.draw(marks)
        content.draw_artifacts(artifacts)
        left, top, right, bottom = box
        return self.file.add_stream(
            content.data(),
            f"/Type/XObject/Subtype/Form/BBox[{left:.3f} {top:.3f} {right:.3f} {bottom:.3f}]"
            f"/Resources{content.resources()}",
        )


class Content:
    """A content stream in the making."""

    def __init__(self, inkwell: Inkwell) -> None:
        self._well = inkwell
        self._parts: list[str] = []
        self._used: set[int] = set()
        self._ink, self._font, self._stroke = _UNKNOWN

    def data(self) -> bytes:
        """Return the operators so far."""
        return "\n".join(self._parts).encode("ascii")

    def resources(self) -> str:
        """Return the dictionary of what the operators refer to."""
        objects = "".join(f"/X{number} {number} 0 R" for number in sorted(self._used))
        used = f"/XObject<<{objects}>>" if objects else ""
        return f"<</Font {self._well.file.fonts}{used}>>"

    def emit(self, operators: str) -> None:
        """Add operators that change neither ink nor font."""
        self._parts.append(operators)

    def draw(self, marks: Iterable[Mark]) -> None:
        """Draw the marks in their order."""
        for mark in marks:
            if type(mark) is Glyphs:
                self._glyphs(mark)
            elif type(mark) is VectorPath:
                self._path(mark)
            elif type(mark) is Code:
                self._code(mark)
            elif type(mark) is Group:
                self._group(mark)
            elif type(mark) is Picture:
                self._picture(mark)

    def draw_artifacts(self, paths: Iterable[VectorPath]) -> None:
        """Draw lines for the maker's hands, which are no part of what the piece says.

        Source: ISO 32000-1:2008, 14.8.2.2.2: cut marks are page artifacts.
        """
        paths = list(paths)
        if paths:
            self.emit("/Artifact<</Type/Page>>BDC")
            self.draw(paths)
            self.emit("EMC")

    def place(self, operators: str, marks: Iterable[Mark], artifacts: Iterable[VectorPath]) -> None:
        """Draw marks under the operators given, and leave the state as it was."""
        before = self._enter(operators)
        self.draw(marks)
        self.draw_artifacts(artifacts)
        self._leave(before)

    def place_object(self, operators: str, number: int) -> None:
        """Place a form or a picture under the operators given."""
        self._used.add(number)
        self._parts.append(f"q {operators} /X{number} Do Q")

    def _enter(self, operators: str) -> _State:
        self._parts.append(f"q {operators}")
        return self._ink, self._font, self._stroke

    def _leave(self, state: _State) -> None:
        self._parts.append("Q")
        self._ink, self._font, self._stroke = state

    def _fill_with(self, colour: str) -> None:
        if colour != self._ink:
            self._ink = colour
            self._parts.append(ink(colour)[0])

    def _glyphs(self, run: Glyphs) -> None:
        """Draw a run; y is turned back for the letters themselves, or they stood on their heads."""
        self._fill_with(run.ink)
        parts = [f"BT 1 0 0 -1 {run.x:.3f} {run.y:.3f} Tm"]
        line = self._well.case.set(run)
        for font, show in line.parts:
            if (font, run.size) != self._font:
                self._font = font, run.size
                parts.append(f"{font} {run.size:.4f} Tf")
            parts.append(show)
        parts.append("ET")
        text = " ".join(parts)
        says = run.says or line.says
        if says:
            text = f"/Span<</ActualText{text_string(says)}>>BDC {text} EMC"
        self._parts.append(text)

    def _path(self, path: VectorPath) -> None:
        if path.fill:
            self._fill_with(path.fill)
        if path.stroke:
            style = stroke_style(path.stroke, path.width, path.dash, path.round_ends)
            if style != self._stroke:
                self._stroke = style
                self._parts.append(style)
        self._parts.append(f"{outline(path)} {painting(path)}")

    def _code(self, mark: Code) -> None:
        self._fill_with(mark.ink)
        self._parts.append(f"q {code(mark)} Q")

    def _picture(self, picture: Picture) -> None:
        number = self._well.pictures.number(picture.image)
        bottom = picture.y + picture.height
        self._alternative(picture.says)
        self.place_object(
            moved((picture.width, 0.0, 0.0, -picture.height, picture.x, bottom)), number
        )
        self._end_alternative(picture.says)

    def _group(self, group: Group) -> None:
        self._alternative(group.says)
        if group.key:
            number = self._well.groups.get(group.key)
            if number is None:
                number = self._well.form(group.marks, group.box)
                self._well.groups[group.key] = number
            self.place_object(moved(group.matrix), number)
        else:
            before = self._enter(moved(group.matrix))
            self.draw(group.marks)
            self._leave(before)
        self._end_alternative(group.says)

    def _alternative(self, says: str) -> None:
        """Say what a picture shows (ISO 32000-1:2008, 14.9.3)."""
        if says:
            self.emit(f"/Span<</Alt{text_string(says)}>>BDC")

    def _end_alternative(self, says: str) -> None:
        if says:
            self.emit("EMC")
