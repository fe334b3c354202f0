"""Holds a finished PDF against the same run made again, and its pages against another program's.

Who makes the run again is no part of this room; here two files are compared, one of which nobody
vouches for, so that all of it happens in a worker. Objects are gone through side by side from the
trailer on, however a program has numbered, packed or compressed them; pages are rendered by PDFium,
both in the same way, since two readers of one file need not see the same in it. Whether they do is
asked of a second one, where poppler is installed.
"""

from __future__ import annotations

import difflib
import hashlib
import itertools
import os
import re
import shutil
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import closing
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any, NamedTuple
from xml.etree import ElementTree

import numpy as np
from PIL import Image
from pypdf.generic import (
    BooleanObject,
    ByteStringObject,
    DictionaryObject,
    IndirectObject,
    StreamObject,
    TextStringObject,
)

from labeler.checker import claims, worker
from labeler.checker.page.rendering import Colour, OpenPdf, Raster
from labeler.checker.pdf.file import (
    CheckedPdf,
    PageEntry,
    TooMuchError,
    content_of,
    decoded,
    limit,
    look,
    mapping,
    numbers,
    read_bytes,
    resolved,
    sequence,
    text_of,
)
from labeler.checker.pdf.tokens import INLINE_PICTURE, comments, string, tokens
from labeler.checker.report import ONE_PROGRAM
from labeler.checker.rulebook import asks, finding, number, rule
from labeler.findings import Finding, Place, shown
from labeler.geometry import Box, bounding_box

# ------------------------------------------------------------------------- who asks


Allow = Callable[[int], None]


def origin_of(_: Allow, path: Path) -> Mapping[str, Any]:
    """Return what `origin` does, read in this process."""
    document = CheckedPdf(read_bytes(path), path.name)
    sheets = {
        key: document.attached(name)
        for key, name in (("run", claims.NAME), ("book", claims.BOOK_SHEET_NAME))
    }
    said = text_of(look(look(document.reader.trailer, "/Info"), "/Keywords"))
    return sheets | {"keywords": said[:_LONGEST]}


_LONGEST = 4_000


def differences_of(allow: Allow, path: Path, again: Path) -> tuple[Finding, ...]:
    """Return what `differences` does, found in this process.

    Args:
        allow: told how many pages were compared, since the next ones may take time too.
        path: the file in question.
        again: the run made again.
    """
    comparison = _Comparison(
        path.name,
        CheckedPdf(read_bytes(path), path.name),
        CheckedPdf(read_bytes(again), path.name),
    )
    comparison.run(allow)
    return tuple(dict.fromkeys(comparison.found))


class _Spot(NamedTuple):
    """A piece, or an entry of a book, and where it stands on its page."""

    box: Box
    piece: str
    cell: str


@dataclass
class _Comparison:
    """Two files on their way to be compared: the one in question, and the run made again."""

    name: str
    theirs: CheckedPdf
    ours: CheckedPdf
    found: list[Finding] = field(default_factory=list)

    def run(self, allow: Allow) -> None:
        """Compare the pages in pairs, and then the rest of the two files."""
        pages, wanted = self.theirs.pages(), self.ours.pages()
        self.walk = _SideBySide(_numbered(pages), _numbered(wanted))
        pairs = list(self._paired(pages, wanted))
        spots = _spots(self.ours)
        with (
            closing(OpenPdf(self.theirs.data)) as mine,
            closing(OpenPdf(self.ours.data)) as its,
        ):
            for count, (page, other) in enumerate(pairs, 1):
                moved = self._moved(page, other)
                same = moved or self._looks(page, other, (mine, its), spots.get(other.number, []))
                self._page(page, other, same)
                allow(count)
        for key in ("/Root", "/Info"):
            held = look(self.theirs.reader.trailer, key), look(self.ours.reader.trailer, key)
            for each in self.walk.unlike(*held, (key[1:],)):
                self._tell(each, Place(file=self.name))
        self._left_over()

    # ------------------------------------------------------------------------- pages

    @asks("again-pages")
    def _paired(
        self, pages: Sequence[PageEntry], wanted: Sequence[PageEntry]
    ) -> Iterator[tuple[PageEntry, PageEntry]]:
        """Yield each page with the one it should be, and tell of those that stand elsewhere."""
        a, b = [_digest(page) for page in pages], [_digest(page) for page in wanted]
        if len(a) == len(b) and (a == b or sorted(a) != sorted(b)):
            yield from zip(pages, wanted, strict=True)
            return
        matched = difflib.SequenceMatcher(None, a, b, autojunk=False)
        for _, first, end, begin, last in matched.get_opcodes():
            both = min(end - first, last - begin)
            yield from zip(pages[first : first + both], wanted[begin : begin + both], strict=True)
            for page in pages[first + both : end]:
                said = "a page that is not next"
                self.found.append(finding("again-pages", _whole(self.name, page), found=said))
            for page in wanted[begin + both : last]:
                at = min(first + both + 1, len(pages))
                place = Place(file=self.name, page=at)
                said = f"page {page.number} of the run, which is not here"
                self.found.append(finding("again-pages", place, expected=said))

    @asks("again-page-box")
    def _moved(self, page: PageEntry, other: PageEntry) -> bool:
        """Tell whether a page is of another size, place or turn, which moves all that it shows."""
        told = len(self.found)
        for key in _BOXES:
            values = _box_of(page.entry, key), _box_of(other.entry, key)
            for each in self.walk.unlike(*values, (key[1:],)):
                self._tell(each, _whole(self.name, page))
        return len(self.found) > told

    @asks("again-drawing", "again-hidden", "again-layers")
    def _page(self, page: PageEntry, other: PageEntry, same: bool) -> None:
        """Tell in what a page's own entries and its operators differ.

        By which operators it comes to look otherwise is told only where it looks the same.
        """
        unlike = self.walk.unlike
        for each in itertools.chain(
            unlike(page.entry, other.entry, ("page",), _APART),
            unlike(page.resources, other.resources, ("Resources",)),
            _operators_unlike(content_of(page), content_of(other), ("Contents",)),
        ):
            if same or _rule_of(each) != "again-drawing":
                self._tell(each, _whole(self.name, page))
        for each, box in self._annotations(page, other):
            self._tell(each, Place(file=self.name, page=page.number, box=box))

    def _annotations(
        self, page: PageEntry, other: PageEntry
    ) -> Iterator[tuple[_Difference, Box | None]]:
        """Yield in what the links and fields of two pages differ, each where it lies."""
        lists = [list(sequence(look(each.entry, "/Annots"))) for each in (page, other)]
        theirs, ours = (list(zip(map(_spot_of, each), each, strict=True)) for each in lists)
        for at, (spot, one) in enumerate(theirs):
            near = [n for n, (its, _) in enumerate(ours) if its == spot]
            partner = min(near, key=lambda n: abs(n - at), default=None)
            box = _rect_on(page, one)
            if partner is None:
                yield _Difference(("Annots",), f"one that does not belong: {spot[0]}", ""), box
                continue
            for each in self.walk.unlike(one, ours.pop(partner)[1], ("Annots",), {"/P"}):
                yield each, box
        for spot, one in ours:
            yield _Difference(("Annots",), "", f"one that is gone: {spot[0]}"), _rect_on(page, one)

    # ------------------------------------------------------------------------- the pixels

    @asks("again-looks")
    def _looks(
        self, page: PageEntry, other: PageEntry, screens: tuple[OpenPdf, OpenPdf],
        spots: Sequence[_Spot],
    ) -> bool:  # fmt: skip
        """Tell whether two pages show the same; ring where they do not."""
        dpi = limit("compare-dpi")
        raster = screens[0].page(page.number, dpi)
        seen = raster.colours_at(_EVERYWHERE)
        wanted = screens[1].page(other.number, dpi).colours_at(_EVERYWHERE)
        if seen.shape != wanted.shape:  # PDFium finds another size than the page's boxes tell
            self.found.append(finding("again-looks", _whole(self.name, page), found="its size"))
            return False
        if np.array_equal(seen, wanted):  # as nearly all pages are, at a sixth of the work below
            return True
        far = np.maximum(seen, wanted) - np.minimum(seen, wanted) > number("again-looks")
        away = far[..., 0] | far[..., 1] | far[..., 2]
        if not away.any():
            return True
        for place in _ringed(away, raster, spots, Place(self.name, page=page.number)):
            said = "beside the pieces" if spots and not place.piece else ""
            self.found.append(finding("again-looks", place, found=said))
        return False

    # ------------------------------------------------------------------------- what is told

    @asks(
        "again-script", "again-alternate", "again-printer", "again-viewer", "again-annotation",
        "again-attachment", "again-bookmark", "again-said", "again-saved",
    )  # fmt: skip
    def _tell(self, unlike: _Difference, place: Place) -> None:
        where = " / ".join(unlike.way[-_STEPS_SHOWN:])
        self.found.append(
            finding(
                _rule_of(unlike),
                place,
                found=f"{where}: {unlike.found or 'nothing'}",
                expected=unlike.expected or "nothing",
            )
        )

    @asks("again-left-over")
    def _left_over(self) -> None:
        """Tell what no page and no entry leads to: whoever opens the file can still read it."""
        place, data = Place(file=self.name), self.theirs.data
        said = []
        if data.count(b"startxref") > (2 if _linear(data) else 1):
            said.append("an earlier state of the file")
        if count := len(_unreached(self.theirs)):
            said.append(f"{count:,} objects" if count > 1 else "1 object")
        if said:
            self.found.append(finding("again-left-over", place, found=" and ".join(said)))


_RULES = (
    "again-script", "again-alternate", "again-layers", "again-page-box", "again-viewer",
    "again-bookmark", "again-annotation", "again-printer", "again-attachment", "again-hidden",
    "again-saved", "again-said", "again-drawing",
)  # fmt: skip
"""Asked in this order: a script in a link is told as a script."""

_STEPS_SHOWN = 4
_EVERYWHERE: Box = (0.0, 0.0, 1e5, 1e5)
_BOXES = (
    "/MediaBox", "/CropBox", "/BleedBox", "/TrimBox", "/ArtBox", "/Rotate", "/UserUnit",
)  # fmt: skip
_APART = frozenset({"/Parent", "/Contents", "/Annots", "/Resources", *_BOXES})
"""Entries of a page that are compared by themselves."""


def _whole(name: str, page: PageEntry) -> Place:
    return Place(file=name, page=page.number, box=(0.0, 0.0, *page.size))


def _rule_of(unlike: _Difference) -> str:
    """Return the rule that two files break by a difference, from the keys that lead there."""
    way = unlike.inside | set(unlike.way)
    return next((each for each in _RULES if way & set(rule(each).words)), "again-said")


def _numbered(pages: Sequence[PageEntry]) -> dict[int, int]:
    """Return the pages' numbers by those of their objects."""
    refs = ((getattr(page.entry, "indirect_reference", None), page.number) for page in pages)
    return {ref.idnum: number for ref, number in refs if ref is not None}


def _digest(page: PageEntry) -> bytes:
    return hashlib.sha256(content_of(page)).digest()


def _box_of(page: DictionaryObject, key: str) -> Any:
    """Return a box or a turn of a page, with what stands for it where it has none of its own.

    Source: ISO 32000-1:2008, 7.7.3.3, table 30, and 7.7.3.4.
    """
    node: Any = page
    for _ in range(int(limit("tree-depth"))):
        if (value := look(node, key)) is not None:
            return value
        if key not in ("/MediaBox", "/CropBox", "/Rotate"):
            break
        node = look(node, "/Parent")
    stands_for = {"/CropBox": "/MediaBox", "/BleedBox": "/CropBox", "/TrimBox": "/CropBox",
                  "/ArtBox": "/CropBox"}  # fmt: skip
    return _box_of(page, stands_for[key]) if key in stands_for else _NO_BOX.get(key)


_NO_BOX = {"/Rotate": 0, "/UserUnit": 1}


def _spot_of(annotation: Any) -> tuple[str, tuple[int, ...]]:
    rect = numbers(look(annotation, "/Rect"), 4) or ()
    return text_of(look(annotation, "/Subtype")), tuple(round(each * 10) for each in rect)


def _rect_on(page: PageEntry, annotation: Any) -> Box:
    """Return where an annotation lies, from the top left corner of a page that is not turned."""
    rect = numbers(look(annotation, "/Rect"), 4)
    if rect is None or page.rotate:
        return (0.0, 0.0, *page.size)
    left, _, _, top = page.box
    return bounding_box([(rect[0] - left, top - rect[1]), (rect[2] - left, top - rect[3])])


def _ringed(away: Any, raster: Raster, spots: Sequence[_Spot], page: Place) -> Iterator[Place]:
    """Yield the places on a page, piece by piece, around the dots that differ."""
    for box, piece, cell in spots:
        left, right, top, bottom = raster.dots(box)
        if ring := _ring(away[top:bottom, left:right], raster, (left, top)):
            yield replace(page, cell=cell, piece=piece, box=ring)
            away[top:bottom, left:right] = False
    if ring := _ring(away, raster, (0, 0)):
        yield replace(page, box=ring)


def _ring(away: Any, raster: Raster, corner: tuple[int, int]) -> Box | None:
    """Return the box, in points, around the dots that differ; None where none does."""
    rows, columns = np.flatnonzero(away.any(axis=1)), np.flatnonzero(away.any(axis=0))
    if not rows.size:
        return None
    left, top = corner
    return (
        *raster.point(left + int(columns[0]), top + int(rows[0])),
        *raster.point(left + int(columns[-1]) + 1, top + int(rows[-1]) + 1),
    )


def _spots(ours: CheckedPdf) -> dict[int, list[_Spot]]:
    """Return what stands where, by page, from the sheet in the run that was made again."""
    if data := ours.attached(claims.NAME):
        run = claims.read_run_sheet(data, ours.name)
        return {
            page: [_Spot(each.box, each.piece.sku, str(each.cell)) for each in places]
            for page, places in run.pages.items()
        }
    data = ours.attached(claims.BOOK_SHEET_NAME)
    book = claims.read_book_sheet(data, ours.name).pages if data else {}
    return {
        page: [_Spot(each.box, each.skus[0] if each.skus else each.pattern, "")
               for each in places if each.kind not in ("page", "pattern")]
        for page, places in book.items()
    }  # fmt: skip


# ------------------------------------------------------------------------- another program


@asks("drawn-otherwise")
def drawing_differences_of(allow: Allow, path: Path) -> tuple[tuple[Finding, ...], str]:
    """Return what `drawing_differences` does, found in this process."""
    tool = shutil.which("pdftoppm")
    if tool is None:
        return (), f"{ONE_PROGRAM} (none is installed here; with poppler, check asks its pdftoppm)"
    document = CheckedPdf(read_bytes(path), path.name)
    spots, found = _spots(document), list[Finding]()
    unlike: dict[object, PageEntry] = {}
    for page in document.pages():
        unlike.setdefault(page.identity, page)
    most, begun, not_drawn = limit("worker-seconds"), _by_others(), []
    with closing(OpenPdf(document.data)) as screen:
        for count, page in enumerate(unlike.values(), 1):
            raster = screen.page(page.number, limit("render-dpi"))
            in_time = _by_others() - begun < most + count * limit("worker-seconds-a-page")
            other = _by_poppler(tool, path, page.number, raster) if in_time else None
            if other is None:
                not_drawn.append(str(page.number))
                continue
            away = _otherwise(raster.colours_at(_EVERYWHERE), other)
            for field_box in _fields_on(page):  # which PDFium leaves to whoever fills them in
                left, right, top, bottom = raster.dots(field_box, _GRAIN)
                away[top:bottom, left:right] = False
            where = Place(path.name, page=page.number)
            places = _ringed(away, raster, spots.get(page.number, []), where)
            found += [finding("drawn-otherwise", place) for place in places]
            allow(count)
    still_open = "how a program other than PDFium and poppler draws the pages"
    if not_drawn:
        listed = ", ".join(not_drawn[:_FEW]) + (" and more" if len(not_drawn) > _FEW else "")
        still_open = f"{ONE_PROGRAM}: poppler drew nothing, or not in time, of page {listed}"
    return tuple(found), still_open


def _by_others() -> float:
    """Return the processor time that programs have used which this process ran."""
    times = os.times()
    return times.children_user + times.children_system


def _fields_on(page: PageEntry) -> Iterator[Box]:
    """Yield where form fields lie, on which there are rules of their own."""
    listed = sequence(look(page.entry, "/Annots"))
    for each in (look(listed, at) for at in range(len(listed))):
        if text_of(look(each, "/Subtype")) == "Widget":
            yield _rect_on(page, each)


def _by_poppler(tool: str, path: Path, number: int, raster: Raster) -> Colour | None:
    """Return a page as poppler draws it, as large as PDFium does; None where it does not.

    One page at a time, so that it can be ended; no time that it takes makes a file hostile.
    """
    page, wide, high = str(number), str(raster.columns), str(raster.rows)
    size = ("-scale-to-x", wide, "-scale-to-y", high)
    asked = [tool, "-q", "-cropbox", "-f", page, "-l", page, *size, str(path.absolute())]
    written = worker.output_of(asked, limit("second-seconds"))
    head = f"P6\n{wide} {high}\n255\n".encode()
    if not written.startswith(head) or len(written) != len(head) + raster.rows * raster.columns * 3:
        return None
    flat = np.frombuffer(written, np.uint8, offset=len(head))
    return flat.reshape(raster.rows, raster.columns, 3)


def _otherwise(one: Colour, other: Colour) -> Any:
    """Return the dots at which two pictures differ by more than how two programs draw an edge.

    PDFium draws the one in blue, green and red, poppler the other in red, green and blue. What is
    compared are means of some dots, each with its neighbours in the other picture too.
    """
    a, b = (np.asarray(Image.fromarray(p).reduce(_GRAIN), np.int16) for p in (one, other))
    b = b[..., ::-1]  # here, where there are few
    beyond = np.maximum(_beyond(a, b), _beyond(b, a)) > number("drawn-otherwise")
    rows, columns = one.shape[:2]
    return beyond.repeat(_GRAIN, axis=0)[:rows].repeat(_GRAIN, axis=1)[:, :columns]


_GRAIN = 12
"""Dots: about 3 points at 300 to an inch, half a letter of the smallest statement."""


def _beyond(one: Any, other: Any) -> Any:
    """Return by how much each value lies beyond all those around its place in the other."""
    rows, columns = one.shape[:2]
    around = np.pad(other, ((1, 1), (1, 1), (0, 0)), "edge")
    near = [around[y : y + rows, x : x + columns] for y in range(3) for x in range(3)]
    high, low = np.maximum.reduce(near), np.minimum.reduce(near)
    return np.maximum(one - high, low - one).max(axis=2)


def _unreached(document: CheckedPdf) -> set[tuple[int, int]]:
    """Return the objects that nothing leads to and that say something: number, generation.

    Of an object that was written over all generations are there to be read, if only by hand.
    """
    reader, left = document.reader, {(at, 0) for at in document.reader.xref_objStm}
    for generation, listed in reader.xref.items():
        left |= {(at, generation) for at in listed}
    stack: list[Any] = [reader.trailer]
    while stack:
        thing = stack.pop()
        if isinstance(thing, IndirectObject):
            which = thing.idnum, thing.generation
            if which not in left:
                continue
            left.discard(which)
            thing = resolved(thing)
        if isinstance(thing, DictionaryObject):
            stack += (thing.raw_get(key) for key in thing)
        elif isinstance(thing, list):
            stack += thing
    kept = {which: resolved(IndirectObject(*which, reader)) for which in left}
    linear = _linear(document.data)
    return {which for which, thing in kept.items() if not _serves(thing, linear)}


def _linear(data: bytes) -> bool:
    """Tell whether a file is laid out so that its first page is shown sooner, and still is whole.

    It then has two tables of cross-references, and tells at its begin how long it is. A comment
    that says so, or a file that was changed since, is none.

    Source: ISO 32000-1:2008, annex F.3.1 to F.3.3.
    """
    first = _FIRST_OBJECT.match(_COMMENT.sub(b"", data[:_LINEAR_WITHIN]))
    length = re.search(rb"/L\s+(\d+)", first[1]) if first and b"/Linearized" in first[1] else None
    return length is not None and int(length[1]) == len(data)


_FIRST_OBJECT = re.compile(rb"\s*\d+\s+\d+\s+obj\s*<<([^>]*)>>")
_LINEAR_WITHIN = 1_024
_NODE_KEYS = {"/Type", "/Kids", "/Count", "/Parent"}
_LINEAR_KEYS = {"/Linearized", "/L", "/H", "/O", "/E", "/N", "/T", "/P"}


def _serves(thing: Any, linear: bool) -> bool:
    """Tell whether an object serves to find others, or to show the first page of a file sooner.

    Source: ISO 32000-1:2008, 7.5.7, 7.5.8 and annex F.
    """
    kind, entries = text_of(look(thing, "/Type")), mapping(thing)
    hints = isinstance(thing, StreamObject) and isinstance(look(thing, "/S"), int)
    first = linear and (hints or {"/Linearized"} <= set(entries) <= _LINEAR_KEYS)
    a_length = thing is None or isinstance(thing, int)  # which a stream may refer to
    node = kind == "Pages" and set(entries) <= _NODE_KEYS  # which a program made a flatter tree of
    return a_length or node or kind in ("ObjStm", "XRef") or first


# ------------------------------------------------------------------------- objects


class _Difference(NamedTuple):
    """One thing that two files say otherwise, and the keys that lead there."""

    way: tuple[str, ...]
    found: str
    expected: str
    inside: frozenset[str] = frozenset()
    """The keys inside what one file has and the other has not."""


_PACKING = frozenset({"/Length", "/Filter", "/DecodeParms", "/DL", "/Parent"})
"""How a stream is packed, which no reader of it sees; and what leads back to where one came from.
"""

_NEAR = 0.002
"""Two lengths closer than this are the same; a printer's dot at 1,200 dpi is 0.06 pt."""

_MOST_NODES = 4_000_000
_MOST_TOLD = 200
_MOST_INSIDE = 500


class _SideBySide:
    """Objects of two files gone through side by side, each pair once.

    Args:
        theirs: page numbers by object, of the file in question.
        ours: those of the run made again.
    """

    def __init__(self, theirs: Mapping[int, int], ours: Mapping[int, int]) -> None:
        self._theirs, self._ours = theirs, ours
        self._seen: set[tuple[int, int]] = set()
        self._nodes = 0

    def unlike(
        self, theirs: Any, ours: Any, way: tuple[str, ...],
        without: frozenset[str] | set[str] = frozenset({"/Pages"}),
    ) -> Iterator[_Difference]:  # fmt: skip
        """Yield in what two objects, and all that they lead to, differ.

        Args:
            theirs: the object of the file in question.
            ours: that of the run made again.
            way: the keys that lead to them.
            without: keys of the two themselves that are not looked at.

        Raises:
            TooMuchError: if they lead on and on.
        """
        for count, each in enumerate(self._walk([(theirs, ours, way)], without)):
            if count == _MOST_TOLD:
                yield _Difference(way, f"more than {_MOST_TOLD} differences", "")
                return
            yield each

    def _walk(
        self, stack: list[tuple[Any, Any, tuple[str, ...]]], without: frozenset[str] | set[str]
    ) -> Iterator[_Difference]:
        while stack:
            self._nodes += 1
            if self._nodes > _MOST_NODES:
                raise TooMuchError("objects that lead on and on")
            a, b, way = stack.pop()
            if isinstance(a, IndirectObject) and isinstance(b, IndirectObject):
                pages = self._theirs.get(a.idnum), self._ours.get(b.idnum)
                if pages[0] != pages[1]:
                    mine, its = (f"page {each or 'of none'}" for each in pages)
                    yield _Difference(way, mine, its)
                if pages != (None, None) or (a.idnum, b.idnum) in self._seen:
                    continue
                self._seen.add((a.idnum, b.idnum))
            a, b = resolved(a), resolved(b)
            if isinstance(a, DictionaryObject) and isinstance(b, DictionaryObject):
                keys = [key for key in {**a, **b} if key not in without and key != "/Parent"]
                without = frozenset()
                if isinstance(a, StreamObject) and isinstance(b, StreamObject):
                    keys = [key for key in keys if key not in _PACKING]
                    yield from self._streams(a, b, way)
                stack += (
                    (_raw(a, key), _raw(b, key), (*way, str(key).removeprefix("/"))) for key in keys
                )
            elif isinstance(a, list) and isinstance(b, list) and len(a) == len(b):
                stack += ((one, other, way) for one, other in zip(a, b, strict=True))
            elif not _same(a, b):
                yield _Difference(way, _said(a), _said(b), _keys_inside(a if b is None else b))

    def _streams(
        self, a: StreamObject, b: StreamObject, way: tuple[str, ...]
    ) -> Iterator[_Difference]:
        one, other = _data(a), _data(b)
        if text_of(look(b, "/Type")) == "Metadata":
            one, other = _canonical(one), _canonical(other)
        if one == other:
            return
        if text_of(look(a, "/Subtype")) == "Form" == text_of(look(b, "/Subtype")):
            yield from _operators_unlike(one, other, way)
        else:
            yield _Difference(way, f"{len(one):,} other bytes", f"{len(other):,} bytes")


def _keys_inside(thing: Any) -> frozenset[str]:
    """Return the keys of a dictionary and of what it leads to, some of them where it is large."""
    found: set[str] = set()
    stack, seen = [thing], 0
    while stack and seen < _MOST_INSIDE:
        seen += 1
        held = resolved(stack.pop())
        if isinstance(held, DictionaryObject):
            keys = [key for key in held if key != "/Parent"]
            found |= {key.removeprefix("/") for key in keys}
            stack += (held.raw_get(key) for key in keys)
        elif isinstance(held, list):
            stack += held
    return frozenset(found)


def _raw(holder: DictionaryObject, key: str) -> Any:
    return holder.raw_get(key) if key in holder else None


def _data(stream: StreamObject) -> bytes:
    try:
        return decoded(stream)
    except NotImplementedError:  # a picture packed in a way that only a picture's reader opens
        return bytes(stream._data)


def _canonical(xmp: bytes) -> bytes:
    """Return XML with its attributes in one order; as it is, where it is none.

    Source: W3C, Canonical XML 2.0.
    """
    try:
        return ElementTree.canonicalize(xmp.decode(), with_comments=True).encode()
    except (ElementTree.ParseError, ValueError):
        return xmp


def _same(a: Any, b: Any) -> bool:
    """Tell whether two plain values are the same, however each is written."""
    if isinstance(a, BooleanObject) or isinstance(b, BooleanObject):
        return type(a) is type(b) and bool(a) == bool(b)
    if isinstance(a, int | float) and isinstance(b, int | float):
        return abs(a - b) <= _NEAR
    if isinstance(a, TextStringObject | ByteStringObject) and isinstance(
        b, TextStringObject | ByteStringObject
    ):
        return a == b or a.original_bytes == b.original_bytes
    return type(a) is type(b) and bool(a == b)


def _said(value: Any) -> str:
    if value is None:
        return ""
    if isinstance(value, list) and len(value) > _FEW:
        return f"a list of {len(value)}"
    if isinstance(value, StreamObject):
        return "a stream"
    return shown(str(dict(value) if isinstance(value, DictionaryObject) else value))


_FEW = 8

# ------------------------------------------------------------------------- drawing operators

_MARKED = frozenset({b"BDC", b"BMC", b"EMC", b"DP", b"MP"})
"""Operators that draw nothing. Source: ISO 32000-1:2008, 14.6, table 320."""

_OPERATOR = re.compile(rb"[A-Za-z'\"][A-Za-z0-9*]*")
_VALUES = frozenset({b"true", b"false", b"null"})
_COMMENT = re.compile(rb"%[^\r\n]*")


def _operators_unlike(theirs: bytes, ours: bytes, way: tuple[str, ...]) -> Iterator[_Difference]:
    """Yield in what two content streams differ: in what they draw, mark or merely hold."""
    if theirs == ours:
        return
    (drawn, marked), (wanted, marks) = _parted(theirs), _parted(ours)
    if INLINE_PICTURE in drawn or not _alike(drawn, wanted):
        yield _Difference((*way, "operators"), *_first_unlike(drawn, wanted))
    if not _alike(marked, marks):
        layer = ("OC",) if marked.count(b"/OC") > marks.count(b"/OC") else ()
        yield _Difference((*way, *layer, "marked"), *_first_unlike(marked, marks))
    said, expected = comments(theirs), comments(ours)
    if said != expected and _alike(drawn, wanted):
        yield _Difference((*way, "comments"), _extract(said), _extract(expected))


def _parted(data: bytes) -> tuple[list[bytes], list[bytes]]:
    """Return the words of the operators that draw, and of those that only mark what is drawn."""
    drawn: list[bytes] = []
    marked: list[bytes] = []
    waiting: list[bytes] = []
    for token in tokens(data):
        if token[:1] in (b"(", b"<") and token[:2] != b"<<":
            waiting.append(b"(" + string(token))
            continue
        for word in token.split():  # a stretch of a path is one token
            waiting.append(word)
            if _OPERATOR.fullmatch(word) and word not in _VALUES:
                (marked if word in _MARKED else drawn).extend(waiting)
                waiting = []
    return drawn + waiting, marked


def _alike(words: Sequence[bytes], others: Sequence[bytes]) -> bool:
    """Tell whether words are the same, however their figures are written."""
    return len(words) == len(others) and all(map(_same_word, words, others))


def _same_word(word: bytes, other: bytes) -> bool:
    if word == other:
        return True
    try:
        return abs(float(word) - float(other)) <= _NEAR
    except ValueError:
        return False


def _first_unlike(words: Sequence[bytes], others: Sequence[bytes]) -> tuple[str, str]:
    """Return where two rows of words part, a few words of each."""
    pairs = enumerate(zip(words, others, strict=False))
    at = next((at for at, pair in pairs if not _same_word(*pair)), min(len(words), len(others)))
    return _extract(words[at : at + _FEW]), _extract(others[at : at + _FEW])


def _extract(words: Sequence[bytes]) -> str:
    return shown(b" ".join(words).decode("latin-1"))
