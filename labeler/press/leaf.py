"""A page of a book as plain data: marks in reading order, with what they are and where they lead.

Points, the trimmed page's top left corner as origin, y down.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from labeler.geometry import Box
from labeler.marks import Mark


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
        lines: whether it takes several lines.
    """

    name: str
    box: Box
    says: str
    path: tuple[Element, ...] = ()
    value: str = ""
    align: Literal["left", "centre", "right"] = "left"
    most: int = 0
    fixed: bool = False
    lines: bool = False


@dataclass(frozen=True, slots=True)
class Claim:
    """What a place on the page is about, for whoever checks the finished file.

    Attributes:
        kind: ``pattern``, a page on a pattern; ``heads``, the heads of its table; ``entry``, rows
            of the table with what must be said of them; ``code``; ``order``, a row of the form.
        pattern: the pattern's code.
        skus: the products whose rows or codes stand there.
        box: where.
    """

    kind: Literal["pattern", "heads", "entry", "code", "order"]
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
