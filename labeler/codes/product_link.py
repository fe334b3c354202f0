"""The address behind the QR code of a product: to the maker's own site, and back again.

With a GTIN it is a GS1 Digital Link. Without one it is a plain address,

    https://go.example.com/p/RV-38-BLK/lot/25193017/serial/4

which is no Digital Link whatever the SKU and the lot are called, since neither ``p``, ``lot``
nor ``serial`` is a GS1 Application Identifier.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from urllib.parse import quote, unquote

from labeler.codes.link import LinkError, build, checked_stem, parse

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
    address = f"{checked_stem(maker_links)}/p/{_segment('SKU', sku)}"
    if lot:
        address += f"/lot/{_segment('lot', lot)}"
    if serial:
        address += f"/serial/{_segment('serial number', serial)}"
    return address


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


def in_capitals(address: str) -> str:
    """Return the address in capitals, if that is the same address; else as it is.

    A QR code holds capitals in fewer modules, but some telephones are said to stumble over such
    an address (help.info.link, best practices for QR codes), so it is a choice. Scheme and host
    may be written either way; what follows them may not.
    Source: RFC 3986, 6.2.2.1 (case normalization); ISO/IEC 18004:2015, table 5.
    """
    found = re.match(r"[^:/?#]+://[^/?#]*", address)
    rest = address[found.end() :] if found else address
    return address.upper() if rest == rest.upper() else address


def as_small_host(address: str) -> str:
    """Return the address with scheme and host in small letters, which name the same place."""
    found = re.match(r"[^:/?#]+://[^/?#]*", address)
    return found[0].lower() + address[found.end() :] if found else address


def _segment(name: str, text: str) -> str:
    """Return ``text`` percent-encoded. RFC 3986, 5.2.4: segments of one or two dots vanish."""
    if text in ("", ".", ".."):
        raise ValueError(f"a {name} of {text!r} can't stand in an address")
    try:
        return quote(text, safe="")
    except UnicodeEncodeError:
        raise ValueError(f"the {name} {text!r} holds half a letter") from None
