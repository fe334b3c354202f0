"""From one page of a book to its places, measured, and where its links and fields lead."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from copy import copy
from dataclasses import dataclass, field, replace
from functools import cached_property
from typing import Any

import numpy as np

from labeler.checker.claims import BookPlace
from labeler.checker.page import rendering
from labeler.checker.page.codes import codes_on
from labeler.checker.page.elements import Glyph
from labeler.checker.page.sides import (
    Boxes,
    PageReader,
    SeenSide,
    StrangePageError,
    boxes_of,
    laid_over_by,
    odd,
    part,
    too_large,
    touching,
)
from labeler.checker.page.text import TextLine, passages
from labeler.checker.pdf.file import (
    PageEntry,
    UnreadableError,
    look,
    named,
    rectangle,
    resolved,
    sequence,
    text_of,
)
from labeler.findings import Finding, Place
from labeler.geometry import Box, contains_point


@dataclass(eq=False)
class SeenPlace(SeenSide):
    """A place of the book with all that stands in it."""

    about: BookPlace = field(kw_only=True)
    named: str = field(kw_only=True, default="")
    """What a finding names where it is about no one product."""

    def place(self, box: Box | None = None) -> Place:
        """Return where a finding stands: at this place's first product, in ``box``."""
        piece = self.about.skus[0] if self.about.skus else self.named
        return Place(file=self.file, page=self.about.page, piece=piece, box=box or self.about.box)

    def place_of(self, sku: str, box: Box | None = None) -> Place:
        """Return where a finding about one of its products stands."""
        return Place(file=self.file, page=self.about.page, piece=sku, box=box or self.about.box)

    @cached_property
    def _line_boxes(self) -> tuple[list[TextLine], Boxes]:
        """Its lines that have ink, and the boxes around them."""
        lines = [line for line in self.lines if line.text.strip()]
        return lines, boxes_of(line.box for line in lines)

    def lines_at(self, place: Box) -> list[TextLine]:
        """Return the lines that reach into a place."""
        lines, boxes = self._line_boxes
        return [lines[number] for number in np.flatnonzero(touching(boxes, place))]

    @cached_property
    def by_line(self) -> SeenPlace:
        """The same place, every line read by itself.

        A name that ends in a figure is so no part of the weight on the next line.
        """
        apart = copy(self)
        apart.found = {}
        alone = [replace(line, after=None, leads_on=False) for line in self.lines]
        apart.passages = passages(alone)
        return apart

    @cached_property
    def trim(self) -> Box:
        """The leaf, as it lies from the place's top left corner: there the paper is cut."""
        left, top, right, bottom = self.about.trim
        x, y = self.about.box[:2]
        return left - x, top - y, right - x, bottom - y


@dataclass(frozen=True, slots=True)
class Touch:
    """A link: what may be touched, what stands there, and where it leads."""

    box: Box
    lines: tuple[str, ...]
    address: str
    """Where it leads on the web; empty where it leads elsewhere."""
    target: int
    """The page of this book it leads to, from 1; 0 where to none."""
    acts: str
    """What else it does: the kind of action; empty for a plain link."""
    says: str
    """Where it leads, for those who do not see it."""

    @property
    def words(self) -> str:
        """All that stands where it is touched."""
        return " ".join(self.lines)


@dataclass(frozen=True, slots=True)
class SeenField:
    """A field to type in: where it is, what it is called and what stands in it."""

    box: Box
    name: str
    value: str
    says: str
    """What it is called for those who do not see it."""
    default: str
    """What stands in it once the form is emptied."""
    closed: str
    """Why it can't be seen, typed in or printed; empty where it can."""
    fixed: bool
    """Whether it can't be typed in."""
    most: int
    """The most letters that it takes; 0 for any number."""
    more: tuple[str, ...]
    """What else it has, beside what any field of ours has."""


@dataclass(eq=False)
class SeenPage:
    """One page of the PDF: its places, the type on none of them, its links and its fields."""

    number: int
    places: list[SeenPlace] = field(default_factory=list)
    strays: list[Glyph] = field(default_factory=list)
    odd: list[Finding] = field(default_factory=list)
    touches: list[Touch] = field(default_factory=list)
    fields: list[SeenField] = field(default_factory=list)

    @cached_property
    def fields_in(self) -> dict[int, list[SeenField]]:
        """The fields that lie in each row of the order form, by the row's identity."""
        found: dict[int, list[SeenField]] = {}
        for each in self.fields:
            if (row := self.within(each.box, "order")) is not None:
                found.setdefault(id(row), []).append(each)
        return found

    @cached_property
    def leaves(self) -> list[SeenPlace]:
        """The places that are whole leaves of the book."""
        return [place for place in self.places if place.about.kind in ("page", "pattern")]

    def within(self, box: Box, *kinds: str) -> SeenPlace | None:
        """Return the place of one of these kinds in which the middle of a box lies."""
        x, y = (box[0] + box[2]) / 2, (box[1] + box[3]) / 2
        return next(
            (p for p in self.places if p.about.kind in kinds and contains_point(p.about.box, x, y)),
            None,
        )


class BookReader(PageReader):
    """Reads the pages of one book, one after another."""

    def leaf(self, page: PageEntry, places: Sequence[BookPlace], names: dict[str, str]) -> SeenPage:
        """Return a page with its places measured.

        Args:
            page: the page.
            places: what it claims to hold.
            names: of the patterns, by their codes.

        Raises:
            TooMuchError: if the page asks for more than any page of a book.
            StrangePageError: if the file is trusted and the page holds what our press never writes.
        """
        where = Place(file=self.document.name, page=page.number)
        seen = SeenPage(page.number)
        seen.odd += too_large(page, where)
        if seen.odd:
            return seen
        drawn = self._follow(page).drawn
        strange = list(laid_over_by(each for each in page.annotations if not _is_field(each)))
        if self.trusted and (strange or drawn.untold):
            raise StrangePageError
        seen.fields = list(_fields(page))
        try:
            raster = self._rendered(page, where)
        except UnreadableError as error:
            seen.odd.append(error.finding)
            return seen
        rendering.look_at(drawn, raster, laid_over=bool(strange or seen.fields))
        codes = codes_on(drawn, raster)
        claims = [place.as_side for place in places]
        sides, seen.strays = part(drawn, codes, claims, raster, self.document.name)
        for place, side in zip(places, sides, strict=True):
            seen.places.append(
                SeenPlace(
                    side.claim,
                    side.file,
                    side.glyphs,
                    side.shapes,
                    side.pictures,
                    side.codes,
                    side.raster,
                    about=place,
                    named=names.get(place.pattern, place.pattern),
                )
            )
        seen.touches = list(self._touches(page, seen))
        seen.odd += odd(strange, drawn.untold, where)
        self.document.forget(sequence(look(page.entry, "/Annots")))
        return seen

    def _touches(self, page: PageEntry, seen: SeenPage) -> Iterator[Touch]:
        for entry in page.annotations:
            box = _box_of(entry, page)
            if text_of(look(entry, "/Subtype")) != "Link" or box is None:
                continue
            lines = [line for leaf in seen.leaves for line in _lines_in(leaf, box)]
            action = look(entry, "/A")
            kind = text_of(look(action, "/S"))
            dest = look(entry, "/Dest") if action is None else look(action, "/D")
            plain = kind in ("", "URI", "GoTo") and look(entry, "/AA") is None
            yield Touch(
                box,
                tuple(lines),
                _address(action) if kind == "URI" else "",
                self.page_of(dest),
                "" if plain else kind or "an action of its own",
                text_of(look(entry, "/Contents")),
            )

    def page_of(self, dest: Any) -> int:
        """Return the number of the page that a destination names, 0 for none."""
        target = dest if isinstance(dest, list) else self._named_places.get(text_of(dest))
        entry = look(target, 0) if target is not None else None
        return self._numbers.get(id(entry), 0) if entry is not None else 0

    @property
    def named_pages(self) -> dict[str, int]:
        """The page of each named place, 0 where it is none."""
        return {name: self.page_of(place) for name, place in self._named_places.items()}

    @cached_property
    def _named_places(self) -> dict[str, Any]:
        """The named destinations of the file (ISO 32000-1:2008, 12.3.2.3)."""
        return {
            name: said if isinstance(said, list) else look(said, "/D")
            for name, said in named(self.document.root, "/Dests")
        }

    @cached_property
    def _numbers(self) -> dict[int, int]:
        """Which page of the file each page's dictionary is, from 1."""
        return {id(resolved(page.entry)): page.number for page in self.document.pages()}


def _is_field(entry: Any) -> bool:
    """Tell whether an annotation is a plain place to type in, which does nothing by itself."""
    return (
        text_of(look(entry, "/Subtype")) == "Widget"
        and text_of(look(entry, "/FT")) == "Tx"
        and look(entry, "/A") is None
        and look(entry, "/AA") is None
    )


def _fields(page: PageEntry) -> Iterator[SeenField]:
    for entry in page.annotations:
        box = _box_of(entry, page)
        if _is_field(entry) and box is not None:
            flags, shown = _whole(look(entry, "/Ff")), _whole(look(entry, "/F"))
            yield SeenField(
                box, text_of(look(entry, "/T")), text_of(look(entry, "/V")),
                text_of(look(entry, "/TU")), text_of(look(entry, "/DV")),
                _UNSEEN if shown & _HIDES else _UNPRINTED if not shown & _PRINTS else "",
                bool(flags & 1), _whole(look(entry, "/MaxLen")),
                tuple(sorted(set(entry) - _OF_A_FIELD)),
            )  # fmt: skip


_HIDES, _PRINTS = 1 | 2 | 32, 4
"""Source: ISO 32000-1:2008, 12.5.3, table 165: invisible, hidden, not viewed; printed."""
_UNSEEN, _UNPRINTED = "nobody sees it", "it is not printed"
_OF_A_FIELD = frozenset({
    "/Type", "/Subtype", "/FT", "/Rect", "/F", "/DA", "/MK", "/Ff", "/Q", "/T", "/TU", "/V", "/DV",
    "/AP", "/MaxLen", "/P", "/StructParent",
})  # fmt: skip


def _whole(thing: Any) -> int:
    return thing if isinstance(thing, int) else 0


def _box_of(entry: Any, page: PageEntry) -> Box | None:
    """Return where an annotation lies, from the page's top left corner; None where nowhere."""
    given = rectangle(look(entry, "/Rect"))
    if given is None:
        return None
    x0, y0, x1, y1 = given
    left, top = page.box[0], page.box[3]
    return x0 - left, top - y1, x1 - left, top - y0


def _address(action: Any) -> str:
    said = resolved(look(action, "/URI"))
    return said.decode("latin-1") if isinstance(said, bytes) else str(said or "")


def _lines_in(leaf: SeenPlace, box: Box) -> Iterator[str]:
    """Yield what is read within a box, line after line."""
    for line in leaf.lines_at(box):
        letters = [
            letter
            for letter, glyph in zip(line.text, line.glyphs, strict=True)
            if glyph is None or _middle_in(glyph.box, box)
        ]
        if said := "".join(letters).strip():
            yield said


def _middle_in(inner: Box, outer: Box) -> bool:
    return contains_point(outer, (inner[0] + inner[2]) / 2, (inner[1] + inner[3]) / 2)
