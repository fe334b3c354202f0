"""The address behind the QR code of a product: to the maker's own site, and back again.

With a GTIN it is a GS1 Digital Link, which names the lot and the serial number as well:

    https://example.com/01/09521234543213/10/25193017/21/4?11=250712

Without one it is a plain address,

    https://go.example.com/p/RV-38-BLK/lot/25193017/serial/4

which is no Digital Link whatever the SKU and the lot are called, since neither ``p``, ``lot``
nor ``serial`` is a GS1 Application Identifier.

What an Application Identifier may hold (10 is a lot, 01 a GTIN) stands in
``application_identifiers.toml``. A date's century, a country's code and the like are not looked
into.

Source: GS1 Digital Link Standard: URI Syntax, grammar 1.4; what is doubtful there is done as
GS1's own engine does it (github.com/gs1/gs1-syntax-engine, src/c-lib/dl.c and its tests).
"""

from __future__ import annotations

import re
import string
import tomllib
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from typing import TYPE_CHECKING, Any, NamedTuple
from urllib.parse import quote, unquote

from labeler.catalog.gtin import as_14, check_digit
from labeler.catalog.values import ADDRESS_LETTERS
from labeler.findings import Place, refusal

if TYPE_CHECKING:
    from labeler.catalog.model import Product

_DIGITS = frozenset(string.digits)

SET_82 = frozenset("!\"%&'()*+,-./0123456789:;<=>?_" + string.ascii_letters)
"""The characters of lots, serial numbers and the like.

Source: GS1 General Specifications, 7.11 (figure 7.11-1); GS1 Barcode Syntax Dictionary,
lint_cset82.
"""

_SETS = {
    "N": (_DIGITS, "digits"),
    "X": (SET_82, "the 82 characters of GS1"),
    "Y": (frozenset("#-/" + string.digits + string.ascii_uppercase), "digits, capitals, # - /"),
    "Z": (frozenset("-_=" + string.digits + string.ascii_letters), "letters, digits, - _ ="),
}
_PART = re.compile(r"(\[)?([NXYZ])(\.\.)?(\d+)(?:,(csum|date))?\]?")
_DAYS = (31, 29, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31)


class Fault(NamedTuple):
    """What is wrong with a value, as a sentence without its full stop, and at which character."""

    sentence: str
    place: int


class _Part(NamedTuple):
    letters: str
    least: int
    most: int
    optional: bool
    check: str


@dataclass(frozen=True, slots=True)
class Identifier:
    """An Application Identifier.

    Attributes:
        ai: its digits.
        title: what it is called, with its digits in brackets.
        attribute: whether it may stand behind the question mark of a link.
        paths: if links may name it, what may stand within it: one order or another; else none.
    """

    ai: str
    title: str
    attribute: bool
    paths: tuple[tuple[str, ...], ...]
    parts: tuple[_Part, ...]

    def fault(self, value: str) -> Fault | None:
        """Return what is wrong with ``value``, or None if it may stand here."""
        place = 0
        for part in self.parts:
            piece = value[place : place + part.most]
            if not piece and part.optional:
                break
            if fault := self._fault_of(part, piece, place):
                return fault
            place += len(piece)
        if place < len(value):
            return Fault(f"{self.title} is longer than {place} characters", place)
        return None

    def _fault_of(self, part: _Part, piece: str, place: int) -> Fault | None:
        allowed, words = _SETS[part.letters]
        for nth, letter in enumerate(piece):
            if letter not in allowed:
                return Fault(f"{self.title} takes {words} and not {letter!r}", place + nth)
        if len(piece) < part.least:
            count = "at least 1 character" if part.least < part.most else f"{part.least} of them"
            return Fault(
                f"{self.title} takes {words}, {count}, and has {len(piece)}", place + len(piece)
            )
        if part.check == "csum" and piece[-1] != (right := check_digit(piece[:-1])):
            return Fault(
                f"the check digit of {self.title} would have to be {right}, not {piece[-1]}",
                place + len(piece) - 1,
            )
        if part.check == "date" and (sentence := _fault_of_date(piece)):
            return Fault(f"{self.title}: {sentence}", place)
        return None


@cache
def identifier(ai: str) -> Identifier | None:
    """Return the Application Identifier with these digits, or None if there is none."""
    table = _table()
    form = next(
        (form for pattern, form in table["form"].items() if re.fullmatch(pattern, ai)), None
    )
    if form is None:
        return None
    name = table["titles"].get(ai, "")
    return Identifier(
        ai=ai,
        title=f"{name} ({ai})".strip(),
        attribute=ai not in table["never"]["attributes"],
        paths=tuple(tuple(path) for path in table["keys"].get(ai, ())),
        parts=tuple(
            _Part(letters, 1 if dots else int(most), int(most), bool(bracket), check)
            for bracket, letters, dots, most, check in _PART.findall(form)
        ),
    )


@cache
def _table() -> dict[str, Any]:
    name = "application_identifiers.toml"
    return tomllib.loads(files(__package__).joinpath(name).read_text("utf-8"))


def _fault_of_date(digits: str) -> str:
    """Return why ``digits`` are no date, year, month and day of two digits each; "" if they are.

    A year is taken to lie in this century, where it matters: for the last of February.
    Source: GS1 Barcode Syntax Dictionary, lint_yymmd0.
    """
    year, month, day = (int(digits[place : place + 2]) for place in (0, 2, 4))
    if not 1 <= month <= 12:
        return f"there is no month {month:02}"
    last = 28 if month == 2 and year % 4 else _DAYS[month - 1]
    return f"month {month:02} has no day {day:02}" if day > last else ""


_SHAPE = re.compile(r"([^:/?#]*)://([^/?#]*)([^?#]*)(\?[^#]*)?(#.*)?")
_HOST = re.compile(r"(?:[A-Za-z0-9._~%!$&'()*+,;=-]+|\[[0-9A-Fa-f:.]+\])(?::\d*)?")
_ONE_LETTER = re.compile(r"%[0-9A-Fa-f]{2}|.", re.DOTALL)
_PLAIN = re.compile(
    r"(?P<stem>https?://.+)/p/(?P<sku>[^/?#]+)(?:/lot/(?P<lot>[^/?#]+))?"
    r"(?:/serial/(?P<serial>[^/?#]+))?/?(?:[?#].*)?"
)


@dataclass(frozen=True, slots=True)
class Scanned:
    """What a product's address says; a GTIN in fourteen digits or a SKU, never both."""

    stem: str
    gtin: str = ""
    sku: str = ""
    lot: str = ""
    serial: str = ""


def product_link(
    maker_links: str, gtin: str | None, sku: str, lot: str = "", serial: str = ""
) -> str:
    """Return the address for a product, its lot and its serial number.

    Args:
        maker_links: the address that the maker's links begin with, such as
            ``https://go.example.com``; a slash at its end does no harm.
        gtin: the product's GTIN, or None.
        sku: the product's SKU; it stands in the address only where there is no GTIN.
        lot: the lot's code, or ``""``.
        serial: the serial number of the one piece, or ``""``.

    Raises:
        ValueError: with a sentence, if ``maker_links`` is no address to begin with, the GTIN is
            none, or lot or serial can't be what they are in a Digital Link.
    """
    if gtin:
        parts = {"01": gtin, "10": lot, "21": serial}
        return build(maker_links, {ai: value for ai, value in parts.items() if value})
    address = f"{checked_stem(maker_links)}/p/{_plain_segment('SKU', sku)}"
    if lot:
        address += f"/lot/{_plain_segment('lot', lot)}"
    if serial:
        address += f"/serial/{_plain_segment('serial number', serial)}"
    return address


def link_of(product: Product, lot: str = "") -> str:
    """Return the address that the labels of a product, or of a lot of it, carry; empty if none.

    Raises:
        LabelerError: if no link can begin as the maker's did, as a lot may keep it.
    """
    maker_links = product.maker.links
    if not maker_links:
        return ""
    try:
        return product_link(maker_links, product.gtin, product.sku, lot)
    except ValueError as error:
        raise refusal(
            "links-unsound",
            Place(key=f"lot {lot}" if lot else product.sku),
            "no label can link to the address that it was to link to",
            found=f"{maker_links}: {error}",
            hint="The lot keeps its product as it was. Void the lot and open another."
            if lot
            else "Correct maker.links in catalog.toml.",
        ) from error


def read_product_link(address: str) -> Scanned | None:
    """Return what a scanned address says of a product, or None if it is no product's."""
    plain = as_small_host(address)
    try:
        link = parse(plain)
    except LinkError:
        found = _PLAIN.fullmatch(plain)
        if not found:
            return None
        parts = {name: unquote(text or "") for name, text in found.groupdict().items()}
        return Scanned(**parts | {"stem": found["stem"]})
    if not link.value("01"):
        return None
    return Scanned(link.stem, link.value("01"), "", link.value("10"), link.value("21"))


def as_small_host(address: str) -> str:
    """Return the address with scheme and host in small letters, which name the same place."""
    found = re.match(r"[^:/?#]+://[^/?#]*", address)
    return found[0].lower() + address[found.end() :] if found else address


def _plain_segment(name: str, text: str) -> str:
    """Return ``text`` percent-encoded. RFC 3986, 5.2.4: segments of one or two dots vanish."""
    if text in ("", ".", ".."):
        raise ValueError(f"a {name} of {text!r} can't stand in an address")
    try:
        return quote(text, safe="")
    except UnicodeEncodeError:
        raise ValueError(f"the {name} {text!r} holds half a letter") from None


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


@dataclass(frozen=True, slots=True)
class _Value:
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
        if letter not in ADDRESS_LETTERS:
            raise LinkError(f"{letter!r} can't stand in an address", place)
    found = _parts(uri, "a link begins with https:// or http://, all small or all capitals")
    key, *qualifiers = _path(uri, found.start(3), found.end(3))
    _check_order(key, qualifiers)
    attributes = list(_attributes(uri, found.start(4) + 1, found.end(4))) if found[4] else []
    for value in attributes:
        _check_attribute(value, key, qualifiers)
    values = [key, *qualifiers, *attributes]
    _check_once(values)
    return DigitalLink(
        uri[: key.at - 1], tuple((value.kind.ai, _checked(value)) for value in values)
    )


def checked_stem(stem: str) -> str:
    """Return an address that links can begin with, without a slash at its end.

    Raises:
        LinkError: if it lacks its scheme or host, or holds what no address holds, a question
            mark or a #.
    """
    for place, letter in enumerate(stem):
        if letter not in ADDRESS_LETTERS or letter in "?#":
            name = "a space" if letter == " " else repr(letter)
            raise LinkError(f"{name} can't stand in the address that links begin with", place)
    bare = stem.rpartition("//")[2] or "links.example.com"
    _parts(stem, f"the address that links begin with looks like https://{bare}")
    return stem.rstrip("/")


def _parts(address: str, expected: str) -> re.Match[str]:
    """Return scheme, host, path, query and fragment; ``expected`` is said if there is no scheme."""
    found = _SHAPE.fullmatch(address)
    if not found or found[1] not in ("http", "https", "HTTP", "HTTPS"):
        raise LinkError(expected, 0)
    if not _HOST.fullmatch(found[2]):
        raise LinkError("after :// stands the name of a host", found.start(2))
    return found


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


def _path(uri: str, start: int, end: int) -> list[_Value]:
    """Return the key and its qualifiers.

    Read from the right, because any path may go before the key.
    """
    segments = [(found.start(1), found[1]) for found in re.finditer(r"/([^/]*)", uri[start:end])]
    values: list[_Value] = []
    for nth in range(len(segments) - 2, -1, -2):
        (name_at, name), (value_at, raw) = segments[nth], segments[nth + 1]
        kind = identifier(name)
        if kind is None:
            break
        values.insert(0, _decoded(kind, start + name_at, raw, start + value_at))
        if kind.paths:
            return values
    raise LinkError("no GS1 key, such as /01/ and a GTIN, stands in the path", start)


def _attributes(uri: str, start: int, end: int) -> Iterator[_Value]:
    """Yield what stands behind the question mark, where a plus sign is a space."""
    for found in re.finditer(r"([^&;=]*)=?([^&;]*)(?:[&;]|$)", uri[start:end]):
        if found[1].isdecimal():
            at = start + found.start(1)
            value = found[2].replace("+", " ")
            yield _decoded(_attribute(found[1], at), at, value, start + found.start(2))


def _decoded(kind: Identifier, at: int, raw: str, value_at: int) -> _Value:
    """Decode a value; a percent sign without two hexadecimal digits stands for itself."""
    letters, places = "", []
    for found in _ONE_LETTER.finditer(raw):
        letters += chr(int(found[0][1:], 16)) if len(found[0]) == 3 else found[0]
        places.append(value_at + found.start())
    return _Value(kind, at, letters, (*places, value_at + len(raw)))


def _checked(value: _Value) -> str:
    if fault := value.kind.fault(value.letters):
        raise LinkError(fault.sentence, value.places[fault.place])
    return value.letters


def _check_order(key: _Value, qualifiers: list[_Value]) -> None:
    names = [value.kind.ai for value in qualifiers]
    if any([ai for ai in path if ai in names] == names for path in key.kind.paths):
        return
    allowed = " or ".join(", ".join(path) for path in key.kind.paths if path) or "nothing"
    raise LinkError(
        f"within {key.kind.title} stand {allowed}, in this order and once each, not"
        f" {', '.join(names)}",
        qualifiers[0].at,
    )


def _check_attribute(value: _Value, key: _Value, qualifiers: list[_Value]) -> None:
    """Refuse behind the question mark what could still stand in the path."""
    taken = {qualifier.kind.ai for qualifier in qualifiers}
    if any(value.kind.ai in path and taken <= set(path) for path in key.kind.paths):
        raise LinkError(f"{value.kind.title} stands in the path, before the ?", value.at)


def _check_once(values: list[_Value]) -> None:
    for at, value in enumerate(values):
        if any(value.kind.ai == other.kind.ai for other in values[:at]):
            raise LinkError(f"{value.kind.title} stands there twice", value.at)
