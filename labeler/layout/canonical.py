"""What a piece draws, as text that outlives the program: by it a reprint is known to be the same.

A run's record keeps the SHA-256 of one of these texts, with the number of its form. A form is never
altered once a ledger holds it: what draws otherwise takes a new number, and old ones stay here.

Form 1, which is written today, is ASCII, one line a mark, words apart by one space:

    marks 1
    piece WIDTH HEIGHT BLEED SAFE
    face front | face back                                  then its marks, holes, folds
    glyphs X Y SIZE WIDTH FACE INK TEXT SAYS SHIFT ...      FACE is the typeface's name
    path FILL STROKE WIDTH [DASH ...] ENDS RULE STEP ...    ENDS round or square, RULE of winding
    picture X Y WIDTH HEIGHT SHA256 PIXELS PIXELS SAYS      SHA256 of the whole picture file
    code KIND PAYLOAD X Y WIDTH HEIGHT LEFT TOP MODULE INK BAR ...
    group A B C D E F LEFT TOP RIGHT BOTTOM SAYS            then its marks, then end
    hole PATH
    folds Y ...
    end

Lengths are in points, numbers have six decimals and no negative zero, inks are ``#rrggbb`` in lower
case or ``none``, texts are JSON strings, a step is M, L, C or Z with its points, a bar is X Y WIDTH
HEIGHT in modules. What a group is called for drawing it once is left out: it draws nothing.

Form 0 is what the first versions hashed, Python's own display of their records. What it calls them
is written out here, so that it does not follow when a class takes another name.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Callable, Iterable, Iterator

from labeler.drawing.subject import Records, displayed
from labeler.marks import Code, Glyphs, Group, Image, Mark, Picture, Piece, PieceSide, VectorPath

FORM = 1
"""The form that is written today."""


def drawn_print(piece: Piece, form: int = FORM) -> str:
    """Return the SHA-256 of everything that is drawn on a piece, in one of the known forms.

    Args:
        piece: a finished piece.
        form: 0 or 1.

    Raises:
        KeyError: if this program does not know the form; whoever reads a record asks before.
    """
    return hashlib.sha256(_FORMS[form](piece).encode()).hexdigest()


def drawn_text(piece: Piece) -> str:
    """Return everything that is drawn on a piece, in form 1."""
    return "\n".join(_piece(piece)) + "\n"


def _piece(piece: Piece) -> Iterator[str]:
    yield "marks 1"
    yield f"piece {_numbers((piece.width, piece.height, piece.bleed, piece.safe))}"
    for face in piece.faces:
        yield f"face {face.name}"
        for mark in face.marks:
            yield from _mark(mark)
        for hole in face.holes:
            yield f"hole {_path(hole)}"
        if face.folds:
            yield f"folds {_numbers(face.folds)}"
    yield "end"


def _mark(mark: Mark) -> Iterator[str]:
    if isinstance(mark, VectorPath):
        yield f"path {_path(mark)}"
    elif isinstance(mark, Glyphs):
        yield _glyphs(mark)
    elif isinstance(mark, Picture):
        at, image = _numbers((mark.x, mark.y, mark.width, mark.height)), mark.image
        digest = hashlib.sha256(image.data).hexdigest()
        yield f"picture {at} {digest} {image.width} {image.height} {json.dumps(mark.says)}"
    elif isinstance(mark, Code):
        yield _code(mark)
    else:
        yield f"group {_numbers((*mark.matrix, *mark.box))} {json.dumps(mark.says)}"
        for each in mark.marks:
            yield from _mark(each)
        yield "end"


def _glyphs(mark: Glyphs) -> str:
    at = _numbers((mark.x, mark.y, mark.size, mark.width))
    shifts = f" {_numbers(mark.shifts)}" if mark.shifts else ""
    words = f"{json.dumps(mark.text)} {json.dumps(mark.says)}"
    return f"glyphs {at} {json.dumps(mark.face)} {_ink(mark.ink)} {words}{shifts}"


def _code(mark: Code) -> str:
    at = _numbers((mark.x, mark.y, mark.width, mark.height, mark.left, mark.top, mark.module))
    bars = _numbers([side for bar in mark.bars for side in bar])
    return f"code {mark.kind} {json.dumps(mark.payload)} {at} {_ink(mark.ink)} {bars}"


_STEPS = {"M": "M %.6f %.6f", "L": "L %.6f %.6f", "C": "C" + 6 * " %.6f", "Z": "Z"}


def _path(mark: VectorPath) -> str:
    ends = "round" if mark.round_ends else "square"
    rule = "even-odd" if mark.even_odd else "nonzero"
    points: list[float] = []
    for step in mark.steps:
        points += step[1:]
    steps = " ".join([_STEPS[step[0]] for step in mark.steps]) % tuple(points)
    pen = f"{_ink(mark.fill)} {_ink(mark.stroke)} {_numbers((mark.width,))}"
    return f"{pen} [{_numbers(mark.dash)}] {ends} {rule} {_unsigned(steps)}"


def _ink(ink: str | None) -> str:
    return ink.lower() if ink else "none"


def _numbers(values: Iterable[float]) -> str:
    listed = tuple(values)
    return _unsigned(" ".join(["%.6f"] * len(listed)) % listed)


def _unsigned(text: str) -> str:
    """Write a zero that has a sign without it; six decimals, so that it is no end of a number."""
    return text.replace("-0.000000", "0.000000")


_RECORDS: Records = {
    PieceSide: ("Face", "name marks holes folds"),
    Glyphs: ("Glyphs", "x y face size ink text width shifts says"),
    VectorPath: ("Path", "steps fill stroke width dash round_ends even_odd"),
    Picture: ("Picture", "x y width height image says"),
    Image: ("Image", "key data width height"),
    Code: ("Code", "kind payload x y width height left top module bars ink"),
    Group: ("Group", "matrix marks box key says"),
}
"""What form 0 calls each record and its fields, in their order."""


def _first_form(piece: Piece) -> str:
    sizes = f"{piece.width!r}, {piece.height!r}, {piece.bleed!r}, {piece.safe!r}"
    return f"({sizes}, {displayed(piece.faces, _RECORDS)})"


_FORMS: dict[int, Callable[[Piece], str]] = {0: _first_form, 1: drawn_text}
