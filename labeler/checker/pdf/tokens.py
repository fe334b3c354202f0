"""The words of a content stream, cut without being understood.

Source: ISO 32000-1:2008, 7.2 (lexical conventions) and 7.8.2 (content streams).
"""

from __future__ import annotations

import re
from collections.abc import Iterator

_SPACE = rb"\x00\t\n\x0c\r "
_TEXT = rb"(?:[^\\()]|\\[\s\S])*+"
_IN_TEXT = rb"\((?:[^\\()]|\\[\s\S]|\(" + _TEXT + rb"\))*+\)"
STRING = rb"\((?:[^\\()]|\\[\s\S]|" + _IN_TEXT + rb")*+\)"
"""A string in round brackets, which may nest three deep in it, which no font's codes ever need."""

_NUMBER = rb"[+-]?(?:\d++(?:\.\d*+)?|\.\d++)[" + _SPACE + rb"]++"
_TWO = rb"(?:" + _NUMBER + rb"){2}"
_REST = rb"[" + _SPACE + rb"]++(?:h[" + _SPACE + rb"]++)?+"
_BEGIN = _TWO + rb"(?:m|" + _TWO + rb"re)" + _REST
_STEP = _TWO + rb"(?:[ml]|" + _TWO + rb"(?:re|" + _TWO + rb"c))" + _REST

_TOKEN = re.compile(
    _BEGIN + rb"(?:" + _STEP + rb")++|[^" + _SPACE + rb"\[\]<>()/%{}]++"
    rb"|/[^" + _SPACE + rb"\[\]<>()/%{}]*+"
    rb"|[\[\]]"
    rb"|<[0-9A-Fa-f" + _SPACE + rb"]*+>"
    rb"|<<|>>"
    rb"|" + STRING + rb"|%[^\r\n]*+"
)
"""One word, or a stretch of a path of two steps or more, of which codes and drawings have
thousands."""

ENDS_A_STRETCH = frozenset(b"\x00\t\n\x0c\r ")
"""The last byte of a stretch of a path, and of no word."""

_NO_LETTERS = bytes.maketrans(b"mlchre", b"      ")
_NO_FIGURES = b"0123456789+-." + bytes(ENDS_A_STRETCH)

_INLINE = re.compile(
    rb"(?<![^"
    + _SPACE
    + rb"])BI(?=["
    + _SPACE
    + rb"/])[\s\S]*?["
    + _SPACE
    + rb"]ID["
    + _SPACE
    + rb"]"
)
_INLINE_END = re.compile(rb"[" + _SPACE + rb"]EI(?![^" + _SPACE + rb"])")

INLINE_PICTURE = b"BI"
"""Stands for a whole picture in the stream, its data included."""

_ESCAPES = {
    b"n": b"\n", b"r": b"\r", b"t": b"\t", b"b": b"\b", b"f": b"\f",
    b"(": b"(", b")": b")", b"\\": b"\\",
}  # fmt: skip
_ESCAPE = re.compile(rb"\\([0-7]{1,3}|\r\n|[\s\S])")


def tokens(data: bytes) -> Iterator[bytes]:
    """Yield the words of a content stream, without comments and without pictures' data."""
    for part in _around_pictures(data):
        if part is INLINE_PICTURE:
            yield part
        elif b"%" in part:
            yield from (word for word in _TOKEN.findall(part) if word[:1] != b"%")
        else:
            yield from _TOKEN.findall(part)


def comments(data: bytes) -> list[bytes]:
    """Return the comments of a content stream; a percent sign within a string begins none."""
    parts = [part for part in _around_pictures(data) if b"%" in part]
    return [word for part in parts for word in _TOKEN.findall(part) if word[:1] == b"%"]


def _around_pictures(data: bytes) -> Iterator[bytes]:
    """Yield the stretches between pictures, and the sign for one where one stands."""
    begin = 0
    if b"ID" not in data:
        yield data
        return
    while found := _INLINE.search(data, begin):
        yield data[begin : found.start()]
        yield INLINE_PICTURE
        end = _INLINE_END.search(data, found.end())
        begin = end.end() if end else len(data)
    yield data[begin:]


def string(word: bytes) -> bytes:
    """Return the bytes that a string in angle or round brackets stands for; else none."""
    if word[:1] == b"<" and word[:2] != b"<<":
        digits = word[1:-1].translate(None, b"\x00\t\n\x0c\r ")
        return bytes.fromhex((digits + b"0" * (len(digits) % 2)).decode("ascii"))
    if word[:1] == b"(":
        inner = word[1:-1]
        return _ESCAPE.sub(_unescaped, inner) if b"\\" in inner else inner
    return b""


def _unescaped(found: re.Match[bytes]) -> bytes:
    said = found[1]
    if said[:1].isdigit() and said < b"8":
        return bytes([int(said, 8) & 0xFF])
    if said in (b"\n", b"\r", b"\r\n"):
        return b""
    return _ESCAPES.get(said, said)


def read_stretch(words: bytes) -> tuple[str, list[float]]:
    """Return the steps of a stretch of a path, and the points that they name.

    The steps are m, l, c and h, or r for a rectangle, of which two opposite corners are told.
    """
    steps = words.translate(None, _NO_FIGURES).replace(b"re", b"r").decode("ascii")
    figures = list(map(float, words.translate(_NO_LETTERS).split()))
    if "r" not in steps:
        return steps, figures
    if not steps.strip("rh"):
        for axis in (0, 1):
            near, far = figures[axis::4], figures[axis + 2 :: 4]
            figures[axis + 2 :: 4] = [a + length for a, length in zip(near, far, strict=True)]
        return steps, figures
    at = 0
    for step in steps:
        if step == "r":
            figures[at + 2] += figures[at]
            figures[at + 3] += figures[at + 1]
        at += FIGURES[step]
    return steps, figures


FIGURES = {"m": 2, "l": 2, "c": 6, "h": 0, "r": 4}
"""How many numbers each kind of step takes."""


def name_in(word: bytes) -> str:
    """Return a name without its solidus, its ``#`` codes read."""
    plain = re.sub(rb"#([0-9A-Fa-f]{2})", lambda found: bytes.fromhex(found[1].decode()), word)
    return plain.decode("latin-1")
