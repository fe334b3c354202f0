"""The outer structure of a PDF: objects go to the file as soon as they are whole.

Only where each object begins is kept in memory, eight bytes apiece, so that a long run costs
no more than a short one. Fonts come last, once it is known which letters they need.
"""

from __future__ import annotations

import hashlib
import zlib
from array import array
from collections.abc import Iterable
from threading import Lock
from typing import Any, BinaryIO

from reportlab.pdfbase import pdfdoc
from reportlab.pdfbase.ttfonts import TTFont

from labeler.findings import Finding, LabelerError, Place, stop
from labeler.press.pdf_unicode import is_to_unicode, tidied

_HEADER = b"%PDF-1.7\n%\xe2\xe3\xcf\xd3\n"
"""Bytes above 127 tell file transfer that this is binary (ISO 32000-1:2008, 7.5.2)."""

_STREAM_ENDS = b"\r\nendstream"
"""Both, so that data whose last byte is a carriage return keeps it, from whichever end it is read
(ISO 32000-1:2008, 7.3.8.1)."""

_KIDS_A_NODE = 64

_PACKED = 4
"""How hard zlib packs: beyond it takes twice the time and saves a tenth."""

_FONTS = Lock()
"""A loaded font is shared, and is read with one finger on its page: one file at a time."""


class PdfFile(pdfdoc.PDFDocument):  # type: ignore[misc]
    """A PDF being written to ``target``, object by object.

    It stands in for the library's document, which keeps everything until the end.
    """

    def __init__(self, target: BinaryIO) -> None:
        try:
            super().__init__(compression=1, invariant=1)
        except (ValueError, OverflowError, OSError) as error:
            raise LabelerError(_bad_clock()) from error
        self._target = target
        self._digest = hashlib.md5(usedforsecurity=False)
        self._at = 0
        self._begins = array("Q", [0])
        self._put(_HEADER)
        self._tree = self.reserve()
        self._nodes = array("L")
        self._node = 0
        self._kids = array("L")
        self.page_count = 0

    @property
    def fonts(self) -> str:
        """A reference to the dictionary of all fonts."""
        return f"{self.idToObjectNumberAndVersion[pdfdoc.BasicFonts][0]} 0 R"

    def reserve(self) -> int:
        """Return a number for an object that is written later."""
        self.objectcounter += 1
        return int(self.objectcounter)

    def write(self, number: int, body: bytes) -> int:
        """Write an object under its reserved number, and return the number."""
        missing = number + 1 - len(self._begins)
        if missing > 0:
            self._begins.extend([0] * missing)
        self._begins[number] = self._at
        self._put(b"%d 0 obj\n%b\nendobj\n" % (number, body))
        return number

    def add(self, entries: str) -> int:
        """Write a dictionary with these entries, and return its number."""
        return self.write(self.reserve(), f"<<{entries}>>".encode("ascii"))

    def add_stream(self, data: bytes, entries: str = "", packed: bool = False) -> int:
        """Write a stream, and return its number.

        Args:
            data: what it holds.
            entries: further entries of its dictionary.
            packed: whether ``data`` is compressed already, and ``entries`` say how.
        """
        return self._put_stream(self.reserve(), data, entries, packed)

    def _put_stream(self, number: int, data: bytes, entries: str, packed: bool = False) -> int:
        if not packed:
            data = zlib.compress(data, _PACKED)
            entries += "/Filter/FlateDecode"
        head = f"<<{entries}/Length {len(data)}>>\nstream\n".encode("ascii")
        return self.write(number, head + data + _STREAM_ENDS)

    def add_page(self, entries: str, number: int = 0) -> None:
        """Write a page with these entries after the last one.

        Args:
            entries: what the page's dictionary holds beside its type and parent.
            number: the number that was reserved for it, if something points to it.
        """
        if not self._kids:
            self._node = self.reserve()
        body = f"<</Type/Page/Parent {self._node} 0 R{entries}>>".encode("ascii")
        page = self.write(number or self.reserve(), body)
        self._kids.append(page)
        self.page_count += 1
        if len(self._kids) == _KIDS_A_NODE:
            self._close_node()

    def finish(self, catalog: str, info: str) -> None:
        """Write fonts, page tree, catalog and cross-references. Nothing may follow.

        Args:
            catalog: further entries of the catalog.
            info: entries of the information dictionary.
        """
        self._close_node()
        kids = "".join(f"{node} 0 R\n" for node in self._nodes)
        tree = f"<</Type/Pages/Count {self.page_count}/Kids[{kids}]>>"
        self.write(self._tree, tree.encode("ascii"))
        with _FONTS:
            for font in self.delayedFonts:
                self._embed(font)
            self._write_the_library_s_objects()
        root = self.add(f"/Type/Catalog/Pages {self._tree} 0 R{catalog}")
        self._write_end(root, self.add(info))

    def _close_node(self) -> None:
        if self._kids:
            kids = "".join(f"{page} 0 R\n" for page in self._kids)
            body = f"<</Type/Pages/Parent {self._tree} 0 R/Count {len(self._kids)}/Kids[{kids}]>>"
            self.write(self._node, body.encode("ascii"))
            self._nodes.append(self._node)
            self._kids = array("L")

    def _embed(self, font: TTFont) -> None:
        try:
            font.addObjects(self)
        except Exception as error:  # a damaged font breaks its reader in many ways
            raise LabelerError(unusable_font(font.face.filename, error)) from error

    def _write_the_library_s_objects(self) -> None:
        """Write what fonts registered; formatting one may register more."""
        number = 0
        while number < self.objectcounter:
            number += 1
            name = self.numberToId.get(number)
            if name is not None:
                thing = self.idToObject[name]
                if isinstance(thing, pdfdoc.PDFStream):
                    self._write_stream(number, thing.content, thing.dictionary)
                else:
                    body = pdfdoc.format(thing, self, toplevel=1)
                    self.write(number, body.rstrip(b"\n"))

    def _write_stream(self, number: int, content: str | bytes, entries: Any) -> None:
        """Write one of the library's streams; it would put no end of line after the data."""
        if is_to_unicode(content):
            content = tidied(str(content))
        data = content.encode("latin-1") if isinstance(content, str) else content
        said = pdfdoc.format(entries, self).decode("ascii").strip()
        self._put_stream(number, data, said.removeprefix("<<").removesuffix(">>").strip())

    def _write_end(self, root: int, info: int) -> None:
        """Write the cross-reference table and the trailer (ISO 32000-1:2008, 7.5.4 and 7.5.5)."""
        identity = self._digest.hexdigest()
        begin, size = self._at, len(self._begins)
        self._put(f"xref\n0 {size}\n0000000000 65535 f \n".encode("ascii"))
        for block in _blocks(self._begins[1:]):
            self._put("".join(f"{place:010d} 00000 n \n" for place in block).encode("ascii"))
        self._put(
            f"trailer\n<</Size {size}/Root {root} 0 R/Info {info} 0 R"
            f"/ID[<{identity}><{identity}>]>>\nstartxref\n{begin}\n%%EOF\n".encode("ascii")
        )

    def _put(self, data: bytes) -> None:
        self._target.write(data)
        self._digest.update(data)
        self._at += len(data)


def text_string(text: str) -> str:
    """Return ``text`` as a PDF text string (ISO 32000-1:2008, 7.9.2.2).

    Plain ASCII stands as it is, which is a quarter as long; all else as UTF-16BE with its mark.
    """
    if text.isascii() and text.isprintable():
        return literal(text)
    return f"<FEFF{text.encode('utf-16-be').hex().upper()}>"


def literal(text: str) -> str:
    """Return a literal string of ASCII text."""
    return "(" + text.translate(_ESCAPED) + ")"


_ESCAPED = str.maketrans({letter: "\\" + letter for letter in "()\\"})
"""What has a meaning of its own in a literal string (ISO 32000-1:2008, 7.3.4.2)."""


def unusable_font(path: str, error: Exception) -> Finding:
    """Return the finding that the font at ``path`` can't be embedded."""
    said = str(error) or type(error).__name__
    return stop(
        "face-unusable",
        Place(file=path),
        f"this font can't be embedded: {said}",
        expected="a whole TrueType font file (.ttf with glyf outlines)",
    )


def _blocks(places: array[int]) -> Iterable[array[int]]:
    return (places[first : first + 1000] for first in range(0, len(places), 1000))


def _bad_clock() -> Finding:
    return stop(
        "bad-setting",
        Place(key="SOURCE_DATE_EPOCH"),
        "this setting of your system is no time",
        expected="a whole number of seconds since 1970, or nothing",
    )
