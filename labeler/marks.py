"""A finished piece and a page of a book as plain data: marks at fixed places.

Points, top left origin (a page's is its trim's), y down. This is the whole contract between layout
and ink. A mark knows nothing of PDF or SVG, and whoever draws it decides nothing. A book's pages
keep their marks in reading order, with what they are and where they lead.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Literal

from labeler.geometry import Box, Matrix, Point

InkMode = Literal["colour", "black", "grey"]
"""Whether inks are printed as they are, or all in black and the white of paper; in "grey" the same,
but photographs, which "black" replaces by the engraving, in greys."""

Step = (
    tuple[Literal["M", "L"], float, float]
    | tuple[Literal["C"], float, float, float, float, float, float]
    | tuple[Literal["Z"]]
)
"""One step of a path: move, line, cubic curve, close."""


@dataclass(frozen=True, slots=True)
class Glyphs:
    """A run of glyphs on one baseline, in one face, size and ink.

    ``shifts`` is the extra advance after each glyph in thousandths of an em (kerning,
    tracking, tabular cells), or empty for none. ``width`` is the run's whole advance.
    ``says`` is what the run reads as where that is not ``text`` itself.
    """

    x: float
    y: float
    face: str
    size: float
    ink: str
    text: str
    width: float
    shifts: tuple[float, ...] = ()
    says: str = ""


@dataclass(frozen=True, slots=True)
class VectorPath:
    """A path, filled, stroked or both. Inks are ``#rrggbb``.

    With ``round_ends`` a stroke's corners are rounded as its ends are, so that no mitre reaches
    past half its width.
    """

    steps: tuple[Step, ...]
    fill: str | None = None
    stroke: str | None = None
    width: float = 0.5
    dash: tuple[float, ...] = ()
    round_ends: bool = False
    even_odd: bool = False


@dataclass(frozen=True, slots=True)
class Image:
    """A picture ready to print: sRGB or grey, already turned and scaled down.

    ``data`` is a whole JPEG or PNG file; ``key`` names its content.
    """

    key: str
    data: bytes
    width: int
    height: int


@dataclass(frozen=True, slots=True)
class Picture:
    """An image in a box."""

    x: float
    y: float
    width: float
    height: float
    image: Image
    says: str = ""


@dataclass(frozen=True, slots=True)
class Code:
    """A machine-readable code, drawn as one filled path.

    ``x, y, width, height`` is the box with its quiet zone. ``bars`` are rectangles
    (x, y, width, height) counted in modules from (``left``, ``top``).
    """

    kind: Literal["qr", "upc-a", "ean-13", "ean-8"]
    payload: str
    x: float
    y: float
    width: float
    height: float
    left: float
    top: float
    module: float
    bars: tuple[tuple[float, float, float, float], ...]
    ink: str = "#000000"


@dataclass(frozen=True, slots=True)
class Group:
    """Marks under one matrix. A group with a ``key`` is drawn once and placed many times.

    ``box`` is what the marks may cover, in the group's own coordinates; ``says`` is the
    alternative text.
    """

    matrix: Matrix
    marks: tuple[Mark, ...]
    box: Box
    key: str = ""
    says: str = ""


Mark = Glyphs | VectorPath | Picture | Code | Group


@dataclass(frozen=True, slots=True)
class PieceSide:
    """One side of a piece. ``holes`` and ``folds`` are die lines, drawn but never inked art.

    Marks may reach past the trim by the piece's bleed, and no further.
    """

    name: Literal["front", "back"]
    marks: tuple[Mark, ...]
    holes: tuple[VectorPath, ...] = ()
    folds: tuple[float, ...] = ()


@dataclass(frozen=True, slots=True)
class Piece:
    """One printed thing, finished. Sizes in points; ``folds`` on a face are heights from its top.

    ``sku``, ``lot`` and ``layout`` say what it is, for the run's record.
    """

    sku: str
    lot: str
    layout: str
    width: float
    height: float
    faces: tuple[PieceSide, ...]
    bleed: float = 0.0
    safe: float = 0.0
    radius: float = 0.0


def path_points(path: VectorPath) -> Iterator[Point]:
    """Yield every point of a path, control points included."""
    for step in path.steps:
        numbers: tuple[float, ...] = step[1:]
        yield from zip(numbers[::2], numbers[1::2], strict=True)


def rectangle(
    box: Box, *, fill: str | None = None, stroke: str | None = None, width: float = 0.5
) -> VectorPath:
    """Return a rectangle as a path."""
    left, top, right, bottom = box
    return VectorPath(
        (("M", left, top), ("L", right, top), ("L", right, bottom), ("L", left, bottom), ("Z",)),
        fill=fill,
        stroke=stroke,
        width=width,
    )


def line(
    begin: Point, end: Point, *, stroke: str = "#000000", width: float = 0.5,
    dash: tuple[float, ...] = (),
) -> VectorPath:  # fmt: skip
    """Return a straight line as a path."""
    return VectorPath((("M", *begin), ("L", *end)), stroke=stroke, width=width, dash=dash)


KAPPA = 0.5522847498
"""How far a cubic's handles reach for a quarter of a circle: 4/3 (√2 - 1)."""


def circle(x: float, y: float, r: float) -> tuple[Step, ...]:
    """Return the steps of a circle of radius ``r`` around (``x``, ``y``)."""
    k = r * KAPPA
    return (
        ("M", x + r, y),
        ("C", x + r, y + k, x + k, y + r, x, y + r),
        ("C", x - k, y + r, x - r, y + k, x - r, y),
        ("C", x - r, y - k, x - k, y - r, x, y - r),
        ("C", x + k, y - r, x + r, y - k, x + r, y),
        ("Z",),
    )


@dataclass(frozen=True, slots=True)
class Element:
    """A place in the book's structure: what it is, and a key that is its own.

    Passages on several pages may lie in one element, as the rows of a long table do.

    Attributes:
        tag: a standard structure type (ISO 32000-1:2008, 14.8.4), such as ``P`` or ``Table``.
        key: unlike that of any other element.
        says: alternative text, for a figure.
        scope: of a table's head cell, ``Column`` or ``Row``.
        span: how many columns a cell takes.
    """

    tag: str
    key: str
    says: str = ""
    scope: Literal["", "Column", "Row"] = ""
    span: int = 1


@dataclass(frozen=True, slots=True)
class Passage:
    """Marks that are read as one thing. Without a path they are decoration, and not read.

    Attributes:
        marks: what is drawn.
        path: the elements it lies in, from the outermost.
        link: where a touch leads: an address, or ``#`` and an anchor in this book.
        box: what may be touched; needed with a link.
    """

    marks: tuple[Mark, ...]
    path: tuple[Element, ...] = ()
    link: str = ""
    box: Box | None = None


@dataclass(frozen=True, slots=True)
class Field:
    """A place to type in.

    Attributes:
        name: unlike that of any other field; no full stop in it.
        box: where.
        says: what belongs there, for those who hear the page.
        path: the elements it lies in.
        value: what stands there already.
        align: where in the box the text stands.
        most: the most letters, 0 for any number.
        fixed: whether it may not be changed.
    """

    name: str
    box: Box
    says: str
    path: tuple[Element, ...] = ()
    value: str = ""
    align: Literal["left", "centre", "right"] = "left"
    most: int = 0
    fixed: bool = False


@dataclass(frozen=True, slots=True)
class Claim:
    """What a place on the page is about, for whoever checks the finished file.

    Attributes:
        kind: ``pattern``, a page on a pattern; ``heads``, the heads of its table; ``entry``, rows
            of the table with what must be said of them; ``code``; ``order``, a cell of the order
            form, ``sizes``, the head of a column of such cells, ``shades``, the name of a row of
            them; ``index``, a line of an index; ``section``, the part of a page that is one
            section's; ``list``, a pattern's part of a price list, ``priced``, a row of it.
        pattern: the pattern's code; of a section its anchor.
        skus: the products whose rows or codes stand there.
        box: where.
    """

    kind: Literal[
        "pattern",
        "heads",
        "entry",
        "code",
        "order",
        "sizes",
        "shades",
        "index",
        "section",
        "list",
        "priced",
    ]
    pattern: str
    skus: tuple[str, ...]
    box: Box


@dataclass(frozen=True, slots=True)
class BookPage:
    """One page. ``anchors`` are names and how far down the page they lie."""

    width: float
    height: float
    passages: tuple[Passage, ...]
    fields: tuple[Field, ...] = ()
    anchors: tuple[tuple[str, float], ...] = ()
    label: str = ""
    """What the viewer calls the page where that is not its number."""
    claims: tuple[Claim, ...] = ()


@dataclass(frozen=True, slots=True)
class Heading:
    """An entry of the outline that viewers show beside the pages."""

    title: str
    anchor: str
    under: tuple[Heading, ...] = ()
