"""Opens a PDF with care: what it is, whether it is whole, its pages and what is attached.

Nothing here raises on a strange file but `UnreadableError`, which carries the finding.
"""

from __future__ import annotations

import hashlib
import io
import re
import stat
import tomllib
from collections.abc import Iterable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from pathlib import Path
from typing import Any

from pypdf import PdfReader
from pypdf.errors import LimitReachedError, PyPdfError
from pypdf.generic import (
    DictionaryObject,
    EncodedStreamObject,
    IndirectObject,
    NullObject,
    StreamObject,
)

from labeler.checker.rulebook import asks, finding
from labeler.findings import Finding, Place
from labeler.geometry import Box

# ----------------------------------------------------------------------------
# Looking up things in a PDF's objects, where a reference may stand for anything.

_LONGEST_WAY = 32
"""References that lead to references: a file of ours has none."""


def resolved(thing: Any) -> Any:
    """Return what a reference leads to; None where it leads in a circle or nowhere."""
    for _ in range(_LONGEST_WAY):
        if not isinstance(thing, IndirectObject):
            return None if isinstance(thing, NullObject) else thing
        thing = thing.get_object()
    return None


def look(holder: Any, key: str | int) -> Any:
    """Return an entry of a dictionary or an array, its reference followed; None where none is."""
    plain = resolved(holder)
    if isinstance(plain, DictionaryObject) and isinstance(key, str):
        return resolved(plain.raw_get(key)) if key in plain else None
    if isinstance(plain, list) and isinstance(key, int) and key < len(plain):
        return resolved(plain[key])
    return None


def decoded(stream: StreamObject) -> bytes:
    """Return the data of a stream, without leaving a second copy in the reader's hands."""
    data = stream.get_data()
    if isinstance(stream, EncodedStreamObject):
        stream.decoded_self = None
    return data


def identity(holder: Any, key: str) -> int | None:
    """Return the number of the object that an entry refers to, if it is a reference."""
    plain = resolved(holder)
    if isinstance(plain, DictionaryObject) and key in plain:
        entry = plain.raw_get(key)
        return int(entry.idnum) if isinstance(entry, IndirectObject) else None
    return None


def numbers(thing: Any, count: int) -> list[float] | None:
    """Return an array of exactly ``count`` numbers, or None where it is none."""
    plain = resolved(thing)
    if not isinstance(plain, list) or len(plain) != count:
        return None
    try:
        return [float(resolved(each)) for each in plain]
    except (TypeError, ValueError):
        return None


def text_of(thing: Any) -> str:
    """Return a name or string without its solidus; nothing where it is neither."""
    plain = resolved(thing)
    return plain.removeprefix("/") if isinstance(plain, str) else ""


def mapping(thing: Any) -> Mapping[str, Any]:
    """Return a dictionary, an empty one where it is none."""
    plain = resolved(thing)
    return plain if isinstance(plain, DictionaryObject) else {}


def sequence(thing: Any) -> Sequence[Any]:
    """Return an array, an empty one where it is none."""
    plain = resolved(thing)
    return plain if isinstance(plain, list) else ()


def members(thing: Any) -> Iterator[Any]:
    """Yield what stands in an array, references followed: as much as any file of ours has."""
    listed = sequence(thing)
    return (look(listed, at) for at in range(min(len(listed), _MOST)))


_MOST = 20_000


def rectangle(thing: Any) -> Box | None:
    """Return a rectangle as left, low, right, high, whichever corners it names; or None."""
    given = numbers(thing, 4)
    if given is None:
        return None
    x0, y0, x1, y1 = given
    return min(x0, x1), min(y0, y1), max(x0, x1), max(y0, y1)


def named(root: Any, kind: str) -> Iterator[tuple[str, Any]]:
    """Yield the names of a kind in a file, and what each stands for (ISO 32000-1:2008, 7.9.6)."""
    stack, left = [look(look(root, "/Names"), kind)], _MOST_NODES
    while stack and left:
        left -= 1
        node = stack.pop()
        names = sequence(look(node, "/Names"))
        for at in range(0, len(names) - 1, 2):
            yield text_of(names[at]), look(names, at + 1)
        stack += members(look(node, "/Kids"))


_MOST_NODES = 10_000


# ----------------------------------------------------------------------------
# What in a file lets another page come out of the printer than the one that was looked at.


@asks("file-script")
def scripts(root: Any, pages: Iterable[tuple[int, Any]], file: str) -> Iterator[Finding]:
    """Yield that something runs when the file or a page is opened, printed, clicked or closed."""
    opened = text_of(look(look(root, "/OpenAction"), "/S"))
    named = look(look(root, "/Names"), "/JavaScript")
    if opened not in _HARMLESS or look(root, "/AA") is not None or named is not None:
        yield finding("file-script", Place(file=file))
    for number, entry in pages:
        on_page = list(members(look(entry, "/Annots")))
        does = {text_of(look(look(each, "/A"), "/S")) for each in on_page}
        if does.difference(_HARMLESS) or any(look(each, "/AA") for each in (entry, *on_page)):
            yield finding("file-script", Place(file=file, page=number))


_HARMLESS = ("", "GoTo", "URI")
"""What an action may do: lead to a page or an address, which other rules look at."""


@asks("file-layers")
def layers(root: Any, place: Place) -> Iterator[Finding]:
    """Yield that layers are shown on paper otherwise than on the screen."""
    properties = look(root, "/OCProperties")
    uses = (look(group, "/Usage") for group in members(look(properties, "/OCGs")))
    if any(look(use, "/Print") is not None for use in uses):
        yield finding("file-layers", place)


@asks("page-scaled")
def scaled(pages: Iterable[tuple[int, Any]], file: str) -> Iterator[Finding]:
    """Yield the pages whose units are not points, from their numbers and dictionaries."""
    for number, entry in pages:
        unit = look(entry, "/UserUnit")
        if unit is not None and unit != 1:
            yield finding("page-scaled", Place(file=file, page=number), found=f"{unit} points")


# ----------------------------------------------------------------------------
# How much of a file is read before it is refused, from ``limits.toml``.


@cache
def _limits() -> dict[str, float]:
    return tomllib.loads(files(__package__).joinpath("limits.toml").read_text("utf-8"))


def limit(name: str) -> float:
    """Return the limit called ``name``.

    Raises:
        KeyError: if there is none.
    """
    return _limits()[name]


class TooMuchError(Exception):
    """The file asks for more than a page of labels ever needs."""


_ID = re.compile(rb"/ID\s*\[\s*<([0-9A-Fa-f]{32})>")
_LETTER: Box = (0.0, 0.0, 612.0, 792.0)
"""A page without a size is taken as one of these; PDFium does so too."""


def in_words(error: Exception) -> str:
    """Return what is wrong with a file, in our own words: a library's are for programmers."""
    if isinstance(error, TooMuchError):
        return str(error)
    if isinstance(error, LimitReachedError):
        return "what leads back to itself, or unpacks to more than any run of labels holds"
    return "objects that can't be followed to their end"


class UnreadableError(Exception):
    """The file can't be checked, and the finding says why."""

    def __init__(self, said: Finding) -> None:
        self.finding = said
        super().__init__(said.message)


@dataclass(frozen=True, slots=True)
class PageEntry:
    """One page as the file brings it: its dictionary and what it inherits."""

    number: int
    entry: DictionaryObject
    resources: Any
    box: Box
    """Left, bottom, right, top of what is seen, in the page's own coordinates."""
    rotate: int
    identity: tuple[object, ...]
    """Equal for pages that say the same of themselves, and so draw the same."""

    @property
    def size(self) -> tuple[float, float]:
        """Width and height as the page is looked at."""
        wide, high = self.box[2] - self.box[0], self.box[3] - self.box[1]
        return (high, wide) if self.rotate % 180 else (wide, high)

    @property
    def annotations(self) -> Iterator[Any]:
        """What lies over the page: links, fields to type in, comments."""
        return members(look(self.entry, "/Annots"))


@asks("file-unread", "file-too-large", "file-not-pdf", "file-truncated")
def read_bytes(path: Path) -> bytes:
    """Return the file's bytes.

    Raises:
        UnreadableError: if it can't be read, is no PDF, or is larger than any run of labels.
    """
    place = Place(file=path.name)
    try:
        about = path.stat()
        if not stat.S_ISREG(about.st_mode):  # a pipe that nobody writes into is waited for
            raise UnreadableError(finding("file-unread", place, found="no file of its own"))
        size = about.st_size
        if size > limit("file-bytes"):
            raise UnreadableError(finding("file-too-large", place, found=f"{size:,} bytes"))
        data = path.read_bytes()
    except OSError as error:
        raise UnreadableError(
            finding("file-unread", place, found=error.strerror or str(error))
        ) from error
    if b"%PDF-" not in data[:1024]:
        raise UnreadableError(finding("file-not-pdf", place, found=_begins(data)))
    if b"%%EOF" not in data[-1024:] or b"startxref" not in data[-1024:]:
        raise UnreadableError(finding("file-truncated", place, found=f"{len(data):,} bytes"))
    return data


def _begins(data: bytes) -> str:
    return f"a file that begins with {data[:8]!r}" if data else "an empty file"


def untouched(data: bytes) -> bool:
    """Tell whether the bytes are those that our press wrote.

    The press writes into the trailer the MD5 of all that stands before the cross-references, and
    writes those once. Whoever changes the file and does not know that, changes the sum.
    """
    end = data.rfind(b"startxref")
    found = re.match(rb"startxref\s+(\d+)\s+%%EOF\s*$", data[end:])
    named = _ID.search(data[-4096:])
    if not found or not named or data.count(b"startxref") != 1:
        return False
    begin = int(found[1])
    digest = hashlib.md5(data[:begin], usedforsecurity=False).hexdigest()
    return digest == named[1].decode().lower()


_BROKEN = (
    PyPdfError, ValueError, TypeError, KeyError, AttributeError, RecursionError, OSError
)  # fmt: skip
"""What comes up where a file's objects are followed that are not what they should be."""


class CheckedPdf:
    """A PDF that could be opened.

    Raises:
        UnreadableError: if it is encrypted, damaged, or a form that another program fills.
    """

    @asks("file-encrypted", "file-form")
    def __init__(self, data: bytes, name: str) -> None:
        self._pages: list[PageEntry] = []
        self.data = data
        self.name = name
        self.place = Place(file=name)
        with self._reading():
            self.reader = PdfReader(io.BytesIO(data), strict=False)
            if self.reader.is_encrypted:
                raise UnreadableError(finding("file-encrypted", self.place))
            self.root = look(self.reader.trailer, "/Root")
        if not isinstance(self.root, DictionaryObject):
            raise self._damaged("no catalog inside")
        if "/XFA" in mapping(look(self.root, "/AcroForm")):
            raise UnreadableError(finding("file-form", self.place))

    @contextmanager
    def _reading(self) -> Iterator[None]:
        """Tell that the file is damaged, where its objects can't be followed."""
        try:
            yield
        except _BROKEN as error:
            raise self._damaged(in_words(error)) from error

    @asks("file-damaged")
    def _damaged(self, found: str) -> UnreadableError:
        return UnreadableError(finding("file-damaged", self.place, found=found))

    @asks("file-empty", "file-too-large")
    def pages(self) -> list[PageEntry]:
        """Return every page in order.

        Raises:
            UnreadableError: if there are none, too many, or the page tree bites its tail.
        """
        if self._pages:
            return self._pages
        found: list[PageEntry] = []
        with self._reading():
            for entry, passed_on in self._leaves():
                found.append(_page(len(found) + 1, entry, passed_on))
                if len(found) > limit("pages"):
                    said = f"more than {limit('pages'):,.0f} pages"
                    raise UnreadableError(finding("file-too-large", self.place, found=said))
        if not found:
            raise UnreadableError(finding("file-empty", self.place))
        self._pages = found
        return found

    def _leaves(self) -> Iterator[tuple[DictionaryObject, dict[str, Any]]]:
        """Yield the pages of the tree with what they inherit, without trusting its shape."""
        seen: set[int] = set()
        stack: list[tuple[Any, dict[str, Any], int]] = [
            (self.root.raw_get("/Pages") if "/Pages" in self.root else None, {}, 0)
        ]
        while stack:
            thing, passed_on, depth = stack.pop()
            if isinstance(thing, IndirectObject):
                if thing.idnum in seen:
                    raise self._damaged("a page that stands in the page tree twice")
                seen.add(thing.idnum)
                thing = thing.get_object()
            if not isinstance(thing, DictionaryObject):
                continue
            if depth > limit("tree-depth"):
                raise self._damaged(f"a page tree more than {limit('tree-depth'):.0f} deep")
            held = passed_on | {key: thing.raw_get(key) for key in _INHERITED if key in thing}
            kids = look(thing, "/Kids")
            if isinstance(kids, list) and text_of(look(thing, "/Type")) != "Page":
                stack += [(kid, held, depth + 1) for kid in reversed(kids)]
            else:
                yield thing, held

    def forget(self, references: Sequence[Any]) -> None:
        """Let go what references lead to, which is read again if it is asked for again."""
        for each in references:
            if isinstance(each, IndirectObject):
                self.reader.resolved_objects.pop((each.generation, each.idnum), None)

    def attached(self, name: str) -> bytes | None:
        """Return the attached file called ``name``, or None.

        Raises:
            UnreadableError: if it can't be read.
            TooMuchError: if it inflates to more than any run sheet.
        """
        with self._reading():
            try:
                for said, entry in self.attachments():
                    stream = look(look(entry, "/EF"), "/F")
                    if said == name and isinstance(stream, StreamObject):
                        return decoded(stream)
            except LimitReachedError as error:
                raise TooMuchError("a run sheet of this size") from error
        return None

    def attachments(self) -> Iterator[tuple[str, Any]]:
        """Yield the files that travel inside: their names and file specifications."""
        for _, entry in named(self.root, "/EmbeddedFiles"):
            yield text_of(look(entry, "/UF")) or text_of(look(entry, "/F")), entry

    @asks("file-edited", "file-in-spite-of")
    def findings(self) -> Iterator[Finding]:
        """Yield what is odd about the file as a whole."""
        if not untouched(self.data):
            yield finding("file-edited", self.place)
        said = text_of(look(look(self.reader.trailer, "/Info"), "/Keywords"))
        if said.startswith(_IN_SPITE_OF):
            rules = said.removeprefix(_IN_SPITE_OF)[:_RULES_SHOWN]
            yield finding("file-in-spite-of", self.place, found=rules)
        pages = [(page.number, page.entry) for page in self.pages()]
        yield from scripts(self.root, pages, self.name)
        yield from layers(self.root, self.place)
        yield from scaled(pages, self.name)


_IN_SPITE_OF = "Made in spite of "
_RULES_SHOWN = 400
_INHERITED = ("/Resources", "/MediaBox", "/CropBox", "/Rotate")


def _page(number: int, entry: DictionaryObject, held: dict[str, Any]) -> PageEntry:
    media = rectangle(held.get("/MediaBox")) or _LETTER
    crop = rectangle(held.get("/CropBox")) or media
    box = (
        max(media[0], crop[0]), max(media[1], crop[1]),
        min(media[2], crop[2]), min(media[3], crop[3]),
    )  # fmt: skip
    if box[0] >= box[2] or box[1] >= box[3]:
        box = media
    rotate = held.get("/Rotate", 0)
    turn = int(rotate) % 360 if isinstance(rotate, int) else 0
    contents = entry.raw_get("/Contents") if "/Contents" in entry else None
    own = {key: entry.raw_get(key) for key in entry if key != "/Parent"}
    said = ((key, repr(value)) for key, value in (held | own).items())  # str follows a reference
    same = tuple(sorted(said))
    alike = same if isinstance(contents, IndirectObject) else (*same, number)
    return PageEntry(number, entry, held.get("/Resources"), box, turn, alike)


def content_of(page: PageEntry) -> bytes:
    """Return a page's whole content.

    Raises:
        TooMuchError: if it inflates to more than any page of labels.
    """
    contents = look(page.entry, "/Contents")
    parts = contents if isinstance(contents, list) else [contents]
    joined, total = [], 0
    for at in range(len(parts)):
        stream = look(parts, at)
        if isinstance(stream, StreamObject):
            joined.append(decoded(stream))
            total += len(joined[-1])
        if total > limit("stream-bytes"):
            raise TooMuchError("the drawing operators of one page")
    return b"\n".join(joined)
