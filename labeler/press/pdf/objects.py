"""The objects of a PDF as Python values, and the file that they go to as soon as they are whole.

A value is written as what it is: a `Name`, a `Ref` to another object, a text (``str``), bytes or
`Hex`, a number, a dictionary with plain keys, a list, None. Whatever has a meaning of its own
inside a string or a name is escaped here and nowhere else.
Source: ISO 32000-1:2008, 7.3 and 7.5.
"""

from __future__ import annotations

import hashlib
import re
import zlib
from array import array
from collections.abc import Callable, Sequence
from typing import Any, BinaryIO, TypeAlias

_HEADER = b"%PDF-1.7\n%\xe2\xe3\xcf\xd3\n"
"""Bytes above 127 tell file transfer that this is binary (ISO 32000-1:2008, 7.5.2)."""

_STREAM_ENDS = b"\r\nendstream"
"""Both, so that data whose last byte is a carriage return keeps it, from whichever end it is read
(ISO 32000-1:2008, 7.3.8.1)."""

_PACKED = 4
"""How hard zlib packs: beyond it takes twice the time and saves a tenth."""


class Name(str):
    """A name, without its slash."""

    __slots__ = ()


class Ref(int):
    """A reference to the object of this number."""

    __slots__ = ()


class Hex(bytes):
    """Bytes that are written as hexadecimal digits, whatever they are."""

    __slots__ = ()


Value: TypeAlias = "str | bytes | bool | int | float | Sequence[Value] | dict[str, Value] | None"
Entries: TypeAlias = dict[str, Value]
"""A dictionary: what stands under which name."""


def entries(kind: str = "", subtype: str = "", /, **more: Value) -> Entries:
    """Return a dictionary, of a type and a subtype if they are given."""
    if subtype:
        return {"Type": Name(kind), "Subtype": Name(subtype), **more}
    return {"Type": Name(kind), **more} if kind else more


_ESCAPED = {ord(letter): "\\" + letter for letter in "()\\"}
"""What has a meaning of its own in a literal string (ISO 32000-1:2008, 7.3.4.2)."""

_IRREGULAR = re.compile(rb"[^A-Za-z0-9_.+:@,*'-]")
"""What is written as a number in a name: more than must be (ISO 32000-1:2008, 7.3.5)."""


def pdf(value: Value) -> str:
    """Return a value as PDF, in ASCII."""
    return _WRITTEN[type(value)](value)


def number(value: float, places: int = 4) -> str:
    """Return a number with at most so many decimals, and none that is not needed."""
    text = f"{value:.{places}f}".rstrip("0").rstrip(".")
    return "0" if text == "-0" else text


class _Names(dict[str, str]):
    """Names as they are written; most of a file's are alike."""

    def __missing__(self, name: str) -> str:
        if len(self) >= _NAMES_KEPT:
            self.clear()
        spelt = _IRREGULAR.sub(
            lambda found: b"#%02X" % found[0][0], name.encode("utf-8", "surrogatepass")
        )
        text = self[name] = "/" + spelt.decode("ascii")
        return text


_NAMES = _Names()
_NAMES_KEPT = 10_000


def _dictionary(value: Entries) -> str:
    parts = []
    for key, one in value.items():
        text = _WRITTEN[type(one)](one)
        parts.append(_NAMES[key] + (text if text[0] in "/[(<" else " " + text))
    return f"<<{''.join(parts)}>>"


def _array(value: Sequence[Value]) -> str:
    return f"[{' '.join([_WRITTEN[type(one)](one) for one in value])}]"


def _text(text: str) -> str:
    """Return a text string (ISO 32000-1:2008, 7.9.2.2).

    Plain ASCII stands as it is, which is a quarter as long; all else as UTF-16BE with its mark.
    """
    if text.isascii() and text.isprintable():
        return _literal(text)
    return f"<FEFF{text.encode('utf-16-be').hex().upper()}>"


def _bytes(data: bytes) -> str:
    text = data.decode("ascii") if data.isascii() else "\n"
    return _literal(text) if text.isprintable() else hex_string(data)


def _literal(text: str) -> str:
    return f"({text.translate(_ESCAPED)})"


def hex_string(data: bytes) -> str:
    """Return bytes as a hexadecimal string."""
    return f"<{data.hex()}>"


_WRITTEN: dict[type, Callable[[Any], str]] = {
    Name: _NAMES.__getitem__,
    Ref: "%d 0 R".__mod__,
    Hex: hex_string,
    str: _text,
    bytes: _bytes,
    bool: {True: "true", False: "false"}.__getitem__,
    int: str,
    float: number,
    dict: _dictionary,
    list: _array,
    tuple: _array,
    type(None): lambda _: "null",
}


class PdfFile:
    """A PDF being written to ``target``, object by object.

    Only where each object begins is kept in memory, eight bytes apiece, so that a long run costs
    no more than a short one. Its identity is a sum of all that is in it.
    """

    def __init__(self, target: BinaryIO) -> None:
        self._target = target
        self._digest = hashlib.md5(usedforsecurity=False)
        self._at = 0
        self._begins = array("Q", [0])
        self._put(_HEADER)

    def reserve(self) -> Ref:
        """Return a reference to an object that is written later."""
        self._begins.append(0)
        return Ref(len(self._begins) - 1)

    def write(self, ref: Ref, value: Value) -> Ref:
        """Write an object under its reserved number, and return its reference."""
        return self._write(ref, pdf(value).encode("ascii"))

    def add(self, value: Value) -> Ref:
        """Write an object, and return its reference."""
        return self.write(self.reserve(), value)

    def add_stream(self, data: bytes, about: Entries | None = None, packed: bool = False) -> Ref:
        """Write a stream, and return its reference.

        Args:
            data: what it holds.
            about: further entries of its dictionary.
            packed: whether ``data`` stays as it is; ``about`` says how it is packed, if it is.
        """
        described = about or {}
        if not packed:
            data = zlib.compress(data, _PACKED)
            described = described | {"Filter": Name("FlateDecode")}
        head = pdf(described | {"Length": len(data)}).encode("ascii")
        return self._write(self.reserve(), head + b"\nstream\n" + data + _STREAM_ENDS)

    def finish(self, root: Ref, info: Ref) -> None:
        """Write the cross-reference table and the trailer (ISO 32000-1:2008, 7.5.4 and 7.5.5)."""
        identity = Hex(self._digest.digest())
        begin, size = self._at, len(self._begins)
        self._put(f"xref\n0 {size}\n0000000000 65535 f \n".encode("ascii"))
        for first in range(1, size, 1000):
            block = self._begins[first : first + 1000]
            self._put("".join(f"{place:010d} 00000 n \n" for place in block).encode("ascii"))
        trailer = entries(Size=size, Root=root, Info=info, ID=[identity, identity])
        self._put(f"trailer\n{pdf(trailer)}\nstartxref\n{begin}\n%%EOF\n".encode("ascii"))

    def _write(self, ref: Ref, body: bytes) -> Ref:
        self._begins[ref] = self._at
        self._put(b"%d 0 obj\n%b\nendobj\n" % (ref, body))
        return ref

    def _put(self, data: bytes) -> None:
        self._target.write(data)
        self._digest.update(data)
        self._at += len(data)
