"""All objects of a file as they lie in it, read no further than their words: reached or left over.

A reader of a PDF follows references from its root and sees no more. Whoever searches the file sees
all of it: objects that nothing leads to any more, earlier states, what stands between objects.
Source: ISO 32000-1:2008, 7.3, 7.5.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from functools import cached_property

from pypdf.errors import PyPdfError
from pypdf.generic import IndirectObject, StreamObject

from labeler.checker.pdf.file import CheckedPdf, TooMuchError, decoded, look
from labeler.checker.pdf.tokens import STRING, string

_HEAD = re.compile(
    rb"\s*\d+\s+\d+\s+obj((?:[^(es]++|" + STRING + rb"|e(?!ndobj)|s(?!tream[\r\n])|\()*+)"
)
"""An object up to its data or its end; what stands in a string ends nothing."""
_WORD = re.compile(STRING + rb"|<[0-9A-Fa-f\s]*>|/[^\s\[\]<>()/%{}]*|%[^\r\n]*")
_ANY_STRING = re.compile(STRING)
_REFERENCE = re.compile(rb"(?<![\w.])(\d+)\s+\d+\s+R(?!\w)")
_BEGINS = re.compile(rb"(?<=[\r\n])\d+ \d+ obj\b")
_BETWEEN = re.compile(rb"endobj\s*+(?!\d+\s+\d+\s+obj|xref|startxref|trailer)([^\r\n]{1,200})")
_AFTER = re.compile(rb"%%EOF\s*+(?!\d+\s+\d+\s+obj|xref|startxref)([^\r\n]{1,200})")
_TABLE = re.compile(rb"/Type\s*/XRef\b")
_MOST = 2_000_000


class RawObjects:
    """The objects of one file by their numbers, each as the bytes of its head.

    Raises:
        TooMuchError: if there are more objects than in any file of ours.
    """

    def __init__(self, document: CheckedPdf) -> None:
        self._document, self._reader = document, document.reader
        self._at = {n: at for held in self._reader.xref.values() for n, at in held.items()}
        if len(self._at) + len(self._reader.xref_objStm) > _MOST:
            raise TooMuchError("the objects of one file")

    def heads(self) -> Iterator[tuple[int, bytes]]:
        """Yield every object that the table of objects names, by its number."""
        for number, at in sorted(self._at.items()):
            if head := _HEAD.match(self._document.data, at):
                yield number, head[1]
        holders = sorted({holder for holder, _ in self._reader.xref_objStm.values()})
        for holder in holders:
            yield from self._packed(holder)

    def _packed(self, holder: int) -> Iterator[tuple[int, bytes]]:
        """Yield the objects that lie in a stream of objects (ISO 32000-1:2008, 7.5.7)."""
        stream = self.object(holder)
        if not isinstance(stream, StreamObject):
            return
        data, first = decoded(stream), look(stream, "/First")
        if not isinstance(first, int):
            return
        figures = list(map(int, re.findall(rb"\d+", data[:first])))
        pairs = sorted(zip(figures[1::2], figures[::2], strict=False))
        for (at, number), (end, _) in zip(pairs, [*pairs[1:], (len(data), 0)], strict=False):
            yield number, data[first + at : first + end]

    def object(self, number: int) -> object:
        """Return an object whole, without keeping it; None for a broken one."""
        try:
            return self._reader.get_object(IndirectObject(number, 0, self._reader))
        except (PyPdfError, ArithmeticError, AttributeError, LookupError, TypeError, ValueError):
            return None
        finally:
            self._reader.resolved_objects.pop((0, number), None)

    @cached_property
    def links(self) -> dict[int, list[int]]:
        """Which objects each refers to."""
        return {
            number: [int(hit) for hit in _REFERENCE.findall(_ANY_STRING.sub(b"", head))]
            for number, head in self.heads()
        }

    def left_over(self) -> list[int]:
        """Return the objects that nothing leads to from the root, but for what holds the file."""
        trailer = self._reader.trailer
        held = (trailer.raw_get(key) for key in trailer)
        stack = [int(each.idnum) for each in held if isinstance(each, IndirectObject)]
        seen = set(stack)
        while stack:
            for number in self.links.get(stack.pop(), ()):
                if number not in seen:
                    seen.add(number)
                    stack.append(number)
        holders = {holder for holder, _ in self._reader.xref_objStm.values()}
        tables = {number for number, head in self.heads() if _TABLE.search(head)}
        return sorted(set(self.links) - seen - holders - tables)

    def earlier(self) -> int:
        """Return how many objects lie in the file that its table does not name: earlier states."""
        at = {hit.start() for hit in _BEGINS.finditer(self._document.data)}
        return len(at - set(self._at.values()))

    def between(self) -> Iterator[bytes]:
        """Yield what stands between the objects, and after the last of them."""
        for pattern in (_BETWEEN, _AFTER):
            for hit in pattern.finditer(self._document.data):
                if hit[1].strip():
                    yield hit[1]


def words_in(head: bytes) -> list[bytes]:
    """Return the strings, names and comments of an object's head."""
    return _WORD.findall(head)


def shape_of(head: bytes) -> bytes:
    """Return what is the same for objects that differ in numbers alone; empty for one with strings.

    A book has thousands of those, and few shapes.
    """
    if b"(" in head or b"%" in head or head.count(b"<") != 2 * head.count(b"<<"):
        return b""
    return head.translate(None, b"0123456789 ")


def text_in(word: bytes) -> str:
    """Return what a string says (ISO 32000-1:2008, 7.9.2.2)."""
    data = string(word)
    if data[:2] == b"\xfe\xff":
        return data[2:].decode("utf-16-be", "replace")
    marked = data[:3] == b"\xef\xbb\xbf"
    return data[3:].decode("utf-8", "replace") if marked else data.decode("latin-1")
