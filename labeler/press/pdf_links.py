"""Where a touch leads: links to addresses and to places in the same PDF, and its outline.

Source: ISO 32000-1:2008, 12.3 and 12.5.6.5.
"""

from __future__ import annotations

from collections.abc import Sequence
from urllib.parse import quote

from labeler.geometry import Box
from labeler.press.leaf import Heading
from labeler.press.pdf_file import PdfFile, literal, text_string

_PRINTED = 4
"""The flag that an annotation is printed with its page, which archives insist on."""


class Anchors:
    """The named places of one PDF."""

    def __init__(self, file: PdfFile) -> None:
        self._file = file
        self._places: dict[str, str] = {}

    def add(self, name: str, page: int, y: float) -> None:
        """Name a place: ``y`` points up from the foot of the page with this object number."""
        self._places.setdefault(name, f"[{page} 0 R/XYZ null {y:.2f} null]")

    def finish(self) -> str:
        """Return an entry for the dictionary of names; they stand sorted in their tree."""
        names = sorted(self._places, key=lambda name: name.encode("ascii"))
        pairs = "\n".join(f"{literal(name)} {self._places[name]}" for name in names)
        tree = self._file.add(f"/Names[{pairs}]")
        return f"/Dests {tree} 0 R"


def link(rectangle: str, target: str, says: str, tree: str = "") -> str:
    """Return the entries of a link annotation.

    Args:
        rectangle: four numbers of the page.
        target: an address, or ``#`` and the name of a place.
        says: where it leads, in words.
        tree: the entry that ties it to its structure element.
    """
    if target.startswith("#"):
        leads = f"/Dest{literal(target[1:])}"
    else:
        leads = f"/A<</S/URI/URI{literal(as_ascii(target))}>>"
    return (
        f"/Type/Annot/Subtype/Link/Rect[{rectangle}]/Border[0 0 0]/F {_PRINTED}"
        f"/Contents{text_string(says)}{leads}{tree}"
    )


def rectangle(box: Box, shift: tuple[float, float], height: float) -> str:
    """Return a box as four numbers of a page ``height`` high, y up, moved by ``shift``."""
    left, top, right, bottom = box
    return (
        f"{left + shift[0]:.2f} {height - bottom - shift[1]:.2f} "
        f"{right + shift[0]:.2f} {height - top - shift[1]:.2f}"
    )


def as_ascii(address: str) -> str:
    """Return an address in ASCII, as a URI action wants it (ISO 32000-1:2008, 12.6.4.7)."""
    return quote(address, safe=":/?#[]@!$&'()*+,;=%-._~")


def outline(file: PdfFile, headings: Sequence[Heading]) -> str:
    """Write the outline, and return the catalog's entries for it."""
    if not headings:
        return ""
    root = file.reserve()
    first, last = _level(file, headings, root)
    body = f"<</Type/Outlines/First {first} 0 R/Last {last} 0 R/Count {len(headings)}>>"
    file.write(root, body.encode("ascii"))
    return f"/Outlines {root} 0 R/PageMode/UseOutlines"


def _level(file: PdfFile, headings: Sequence[Heading], parent: int) -> tuple[int, int]:
    """Write headings that stand on one level, closed, and return the first's and last's number."""
    numbers = [file.reserve() for _ in headings]
    for place, heading in enumerate(headings):
        entries = f"/Title{text_string(heading.title)}/Parent {parent} 0 R"
        entries += f"/Dest{literal(heading.anchor)}"
        if place:
            entries += f"/Prev {numbers[place - 1]} 0 R"
        if place + 1 < len(numbers):
            entries += f"/Next {numbers[place + 1]} 0 R"
        if heading.under:
            first, last = _level(file, heading.under, numbers[place])
            entries += f"/First {first} 0 R/Last {last} 0 R/Count -{len(heading.under)}"
        file.write(numbers[place], f"<<{entries}>>".encode("ascii"))
    return numbers[0], numbers[-1]
