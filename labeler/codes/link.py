"""GS1 Digital Link: a web address that is a GTIN, with its lot and serial number, as well.

    https://example.com/01/09521234543213/10/25193017/21/4?11=250712

Source: GS1 Digital Link Standard: URI Syntax, grammar 1.4; what is doubtful there is done as
GS1's own engine does it (github.com/gs1/gs1-syntax-engine, src/c-lib/dl.c and its tests).
"""

from __future__ import annotations

import re
import string
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from urllib.parse import quote

from labeler.catalog.gtin import as_14
from labeler.codes.identifiers import Identifier, identifier

CANONICAL_STEM = "https://id.gs1.org"
"""Where GS1's own resolver answers for every GTIN."""

_LETTERS = frozenset(string.ascii_letters + string.digits + "-._~:/?#[]@!$&'()*+,;=%")
"""The characters of an address. Source: RFC 3986, 2."""

_SHAPE = re.compile(r"([^:/?#]*)://([^/?#]*)([^?#]*)(\?[^#]*)?(#.*)?")
_HOST = re.compile(r"(?:[A-Za-z0-9._~%!$&'()*+,;=-]+|\[[0-9A-Fa-f:.]+\])(?::\d*)?")
_ONE_LETTER = re.compile(r"%[0-9A-Fa-f]{2}|.", re.DOTALL)


class LinkError(ValueError):
    """An address is no GS1 Digital Link, or can't be made one.

    ``place`` counts characters from 0: of the address that was read, or of the value that was
    to go into one.
    """

    def __init__(self, sentence: str, place: int) -> None:
        self.sentence = sentence
        self.place = place
        super().__init__(f"{sentence} (at character {place + 1})")


@dataclass(frozen=True, slots=True)
class DigitalLink:
    """What a GS1 Digital Link says.

    ``stem`` is the address up to the key, with no slash at its end; ``values`` are the key, its
    qualifiers and the attributes, each with its Application Identifier, as they stand.
    """

    stem: str
    values: tuple[tuple[str, str], ...]

    def value(self, ai: str) -> str:
        """Return the value of an Application Identifier, or ``""``."""
        return dict(self.values).get(ai, "")

    @property
    def uri(self) -> str:
        """The address itself."""
        return build(self.stem, dict(self.values))


@dataclass(frozen=True, slots=True)
class _Piece:
    """A value as it stands in an address.

    ``at`` is where its identifier stands, ``places`` where each decoded letter does and where
    the value ends.
    """

    kind: Identifier
    at: int
    letters: str
    places: tuple[int, ...]


def build(stem: str, values: Mapping[str, str]) -> str:
    """Return the link for ``values``, by Application Identifier, in whatever order they come.

    The key comes first, then its qualifiers in the standard's order, then the attributes
    behind the question mark in ascending order.

    Args:
        stem: the address up to the key, such as ``https://example.com``.
        values: a GTIN may have 8, 12, 13 or 14 digits.

    Raises:
        LinkError: if the stem is no address, a value may not be what it is, or they can't stand
            in one link.
    """
    root = checked_stem(stem)
    key = _key_of(values)
    path = next((path for path in key.paths if _fits(path, values, key)), None)
    if path is None:
        among = " or ".join(", ".join(names) for names in key.paths)
        raise LinkError(f"within {key.title} stand either {among}, and not both", 0)
    rest = {ai: _attribute(ai, 0) for ai in sorted(set(values) - {key.ai, *path})}
    named = [kind for kind in map(identifier, (key.ai, *path)) if kind and kind.ai in values]
    before = "".join(f"/{kind.ai}/{_segment(kind, values[kind.ai])}" for kind in named)
    after = "&".join(f"{ai}={_encoded(kind, values[ai])}" for ai, kind in rest.items())
    return root + before + ("?" + after if after else "")


def parse(uri: str) -> DigitalLink:
    """Return what a GS1 Digital Link says.

    Names behind the question mark that are no numbers are passed over, as is what follows #.

    Raises:
        LinkError: with a sentence and the place in ``uri``, if it is none.
    """
    for place, letter in enumerate(uri):
        if letter not in _LETTERS:
            raise LinkError(f"{letter!r} can't stand in an address", place)
    found = _SHAPE.fullmatch(uri)
    if not found or found[1] not in ("http", "https", "HTTP", "HTTPS"):
        raise LinkError("a link begins with https:// or http://, all small or all capitals", 0)
    if not _HOST.fullmatch(found[2]):
        raise LinkError("after :// stands the name of a host", found.start(2))
    key, *qualifiers = _path(uri, found.start(3), found.end(3))
    _check_order(key, qualifiers)
    attributes = list(_attributes(uri, found.start(4) + 1, found.end(4))) if found[4] else []
    for piece in attributes:
        _check_attribute(piece, key, qualifiers)
    pieces = [key, *qualifiers, *attributes]
    _check_once(pieces)
    return DigitalLink(uri[: key.at - 1], tuple((piece.kind.ai, _said(piece)) for piece in pieces))


def checked_stem(stem: str) -> str:
    """Return an address that links can begin with, without a slash at its end.

    Raises:
        LinkError: if it lacks its scheme or host, or holds what no address holds, a question
            mark or a #.
    """
    for place, letter in enumerate(stem):
        if letter not in _LETTERS or letter in "?#":
            name = "a space" if letter == " " else repr(letter)
            raise LinkError(f"{name} can't stand in the address that links begin with", place)
    found = _SHAPE.fullmatch(stem)
    if not found or found[1] not in ("http", "https", "HTTP", "HTTPS"):
        bare = stem.rpartition("//")[2] or "links.example.com"
        raise LinkError(f"the address that links begin with looks like https://{bare}", 0)
    if not _HOST.fullmatch(found[2]):
        raise LinkError("after :// stands the name of a host", found.start(2))
    return stem.rstrip("/")


def _key_of(values: Mapping[str, str]) -> Identifier:
    """Return what the link is about: a GTIN if there is one."""
    names = ["01"] if "01" in values else sorted(values)
    keys = [kind for kind in map(identifier, names) if kind and kind.paths]
    if len(keys) != 1:
        raise LinkError("a link names one key, such as a GTIN (01)", 0)
    return keys[0]


def _fits(path: tuple[str, ...], values: Mapping[str, str], key: Identifier) -> bool:
    """Tell whether all values that must stand in the path can stand in this one."""
    bound = {ai for other in key.paths for ai in other if ai in values and _only_in_path(ai)}
    return bound <= set(path)


def _only_in_path(ai: str) -> bool:
    kind = identifier(ai)
    return kind is not None and not kind.attribute


def _segment(kind: Identifier, value: str) -> str:
    """Return a value as a segment of a path.

    Source: RFC 3986, 5.2.4: segments of one or two dots are taken out of a path.
    """
    text = _encoded(kind, value)
    if text in (".", ".."):
        raise LinkError(f"{kind.title} is {text!r}, which browsers take out of an address", 0)
    return text


def _encoded(kind: Identifier, value: str) -> str:
    """Return a value percent-encoded, a GTIN in fourteen digits."""
    try:
        whole = as_14(value) if kind.ai == "01" else value
    except ValueError as error:
        raise LinkError(f"{kind.title}: {error}", 0) from None
    if fault := kind.fault(whole):
        raise LinkError(*fault)
    return quote(whole, safe="")


def _attribute(ai: str, place: int) -> Identifier:
    kind = identifier(ai)
    if kind is None:
        raise LinkError(f"({ai}) is no Application Identifier", place)
    if not kind.attribute:
        raise LinkError(f"{kind.title} can't stand behind the question mark", place)
    return kind


def _path(uri: str, start: int, end: int) -> list[_Piece]:
    """Return the key and its qualifiers.

    Read from the right, because any path may go before the key.
    """
    segments = [(found.start(1), found[1]) for found in re.finditer(r"/([^/]*)", uri[start:end])]
    pieces: list[_Piece] = []
    for nth in range(len(segments) - 2, -1, -2):
        (name_at, name), (value_at, raw) = segments[nth], segments[nth + 1]
        kind = identifier(name)
        if kind is None:
            break
        pieces.insert(0, _piece(kind, start + name_at, raw, start + value_at))
        if kind.paths:
            return pieces
    raise LinkError("no GS1 key, such as /01/ and a GTIN, stands in the path", start)


def _attributes(uri: str, start: int, end: int) -> Iterator[_Piece]:
    """Yield what stands behind the question mark, where a plus sign is a space."""
    for found in re.finditer(r"([^&;=]*)=?([^&;]*)(?:[&;]|$)", uri[start:end]):
        if found[1].isdecimal():
            at = start + found.start(1)
            value = found[2].replace("+", " ")
            yield _piece(_attribute(found[1], at), at, value, start + found.start(2))


def _piece(kind: Identifier, at: int, raw: str, value_at: int) -> _Piece:
    """Decode a value; a percent sign without two hexadecimal digits stands for itself."""
    letters, places = "", []
    for found in _ONE_LETTER.finditer(raw):
        letters += chr(int(found[0][1:], 16)) if len(found[0]) == 3 else found[0]
        places.append(value_at + found.start())
    return _Piece(kind, at, letters, (*places, value_at + len(raw)))


def _said(piece: _Piece) -> str:
    if fault := piece.kind.fault(piece.letters):
        raise LinkError(fault.sentence, piece.places[fault.place])
    return piece.letters


def _check_order(key: _Piece, qualifiers: list[_Piece]) -> None:
    names = [piece.kind.ai for piece in qualifiers]
    if any([ai for ai in path if ai in names] == names for path in key.kind.paths):
        return
    allowed = " or ".join(", ".join(path) for path in key.kind.paths if path) or "nothing"
    raise LinkError(
        f"within {key.kind.title} stand {allowed}, in this order and once each, not"
        f" {', '.join(names)}",
        qualifiers[0].at,
    )


def _check_attribute(piece: _Piece, key: _Piece, qualifiers: list[_Piece]) -> None:
    """Refuse behind the question mark what could still stand in the path."""
    taken = {qualifier.kind.ai for qualifier in qualifiers}
    if any(piece.kind.ai in path and taken <= set(path) for path in key.kind.paths):
        raise LinkError(f"{piece.kind.title} stands in the path, before the ?", piece.at)


def _check_once(pieces: list[_Piece]) -> None:
    seen: set[str] = set()
    for piece in pieces:
        if piece.kind.ai in seen:
            raise LinkError(f"{piece.kind.title} stands there twice", piece.at)
        seen.add(piece.kind.ai)
