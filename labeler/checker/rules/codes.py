"""Codes on the piece: what they say, and whether a scanner and a telephone can read them."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any
from urllib.parse import urlsplit

from labeler.catalog.gtin import as_14
from labeler.checker.page import elements
from labeler.checker.page.codes import SeenCode
from labeler.checker.page.sides import SeenSide
from labeler.checker.rulebook import asks, finding, number
from labeler.checker.subject import CheckedProduct
from labeler.codes import links, print_quality
from labeler.codes.links import as_small_host, read_product_link
from labeler.findings import Finding, Grade, LabelerError, Place
from labeler.geometry import contains, grown
from labeler.units import MM_PER_INCH, POINTS_PER_INCH, Length

_SAME = 1.005
"""Sizes measured on the page are true to half a percent."""

_AROUND = {"left": "left of it", "right": "right of it", "above": "above it", "below": "below it"}


def codes(side: SeenSide, subject: CheckedProduct, dpi: float | None) -> Iterator[Finding]:
    """Yield what is wrong with the codes of a side.

    Args:
        side: one side of a piece.
        subject: what the piece has to be.
        dpi: the printer's resolution, None where it is not known.
    """
    for code in side.all_codes:
        if code.kind == "unread":
            yield from _unreadable(code, side)
            continue
        if code.kind == "foreign":
            yield from _foreign(code, side)
            continue
        yield from _cut(code, side)
        yield from _reading(code, side)
        if code.kind == "qr":
            yield from _address(code, side, subject)
            yield from _module(code, side)
        else:
            yield from _number(code, side, subject)
            yield from _bars(code, side)
        yield from _dots(code, side, dpi)


@asks("code-unreadable")
def _unreadable(code: SeenCode, side: SeenSide) -> Iterator[Finding]:
    yield finding("code-unreadable", side.place(code.box), found="no decoder reads it")


@asks("code-foreign")
def _foreign(code: SeenCode, side: SeenSide) -> Iterator[Finding]:
    found = f"{code.symbology}: “{code.text[:80]}”"
    yield finding("code-foreign", side.place(code.box), found=found)


@asks("code-cut")
def _cut(code: SeenCode, side: SeenSide) -> Iterator[Finding]:
    """Yield that a code or its quiet zone runs over the edge of the piece."""
    name: Any = "qr-phone" if code.kind == "qr" else code.kind
    quiet = max(print_quality.size_of(name).quiet if code.kind != "upc-e" else (9,)) * code.module
    box = side.own(code.box)
    room = grown(box, quiet)
    if code.kind != "qr":
        room = grown(box, quiet, 0) if code.start in ("left", "right") else grown(box, 0, quiet)
    if not contains(side.trim, room, _EDGE):
        over = not contains(side.trim, box, 0.05)
        what = "it runs over the edge" if over else "its quiet zone runs over the edge"
        yield finding("code-cut", side.place(code.box), found=what)


_EDGE = 0.25
"""Points: a quiet zone that ends at the edge of a label is one that a hair's shift cuts into."""


@asks("code-inverted", "code-faint", "code-crowded", "code-damaged", "code-mirrored")
def _reading(code: SeenCode, side: SeenSide) -> Iterator[Finding]:
    place = side.place(code.box)
    if code.inverted:
        yield finding("code-inverted", place)
    else:
        yield from _faint(code, side)
    if code.mirrored:
        yield finding("code-mirrored", place)
    if code.crowded:
        where = " and ".join(_AROUND[each] for each in code.crowded)
        yield finding("code-crowded", place, found=f"something {where}")
    if code.correction_left < 1:
        yield finding(
            "code-damaged", place, found=f"{code.correction_left:.0%} of its error correction left"
        )


def _faint(code: SeenCode, side: SeenSide) -> Iterator[Finding]:
    if code.ink is None:
        return
    ink, ground = elements.as_hex(code.ink), elements.as_hex(code.ground)
    if print_quality.scanner_verdict(ink, ground) == "unseen":
        yield finding(
            "code-faint", side.place(code.box),
            found=f"{ink} on {ground}: a contrast of"
            f" {print_quality.scanner_contrast(ink, ground):.2f} in red",
            expected=f"at least {print_quality.LEAST_CONTRAST:.2f}, and bars half as light as"
            " their ground or less",
        )  # fmt: skip


# --------------------------------------------------------------------------------- QR codes


@asks("code-other-address")
def _address(code: SeenCode, side: SeenSide, subject: CheckedProduct) -> Iterator[Finding]:
    due = link_of(subject)
    said = as_small_host(code.text)
    if said == due or _serial_of(said, due):
        return
    product = read_product_link(code.text) is not None
    if not product and _own_site(code.text, subject):
        return
    yield finding(
        "code-other-address",
        side.place(code.box),
        grade=Grade.STOP if product or due else Grade.FIX,
        found=code.text[:160],
        expected=due or "no address: the catalog has none for links",
    )


def link_of(subject: CheckedProduct) -> str:
    """Return the address that the piece's code leads to; nothing where the maker has none."""
    try:
        return links.link_of(subject.product, subject.claim.lot)
    except LabelerError:
        return ""


def _serial_of(said: str, due: str) -> bool:
    """Tell whether an address is the one due with the serial number of one piece."""
    found, wanted = read_product_link(said), read_product_link(due) if due else None
    if found is None or wanted is None or not found.serial:
        return False
    return (found.stem, found.gtin, found.sku, found.lot) == (
        wanted.stem, wanted.gtin, wanted.sku, wanted.lot
    )  # fmt: skip


def _own_site(address: str, subject: CheckedProduct) -> bool:
    """Tell whether an address that names no product lies on the maker's own site."""
    host = (urlsplit(address).hostname or "").casefold()
    site = (subject.product.maker.site or "").casefold().removeprefix("https://")
    return bool(host and site) and host.removeprefix("www.") == site.split("/")[0].removeprefix(
        "www."
    )


@asks("code-module-small", "code-module-large")
def _module(code: SeenCode, side: SeenSide) -> Iterator[Finding]:
    """Yield that a QR code's modules are too small or too large, by its own size table."""
    size, mm = print_quality.size_of("qr-phone"), Length(code.module).mm
    place = side.place(code.box)
    if mm < size.least / _SAME:
        yield finding(
            "code-module-small", place, found=f"{mm:.3f} mm", expected=f"at least {size.least} mm"
        )
    elif mm > size.most * _SAME:
        yield finding(
            "code-module-large", place, found=f"{mm:.3f} mm", expected=f"at most {size.most} mm"
        )


@asks("code-off-dots")
def _dots(code: SeenCode, side: SeenSide, dpi: float | None) -> Iterator[Finding]:
    if not dpi or not code.module:
        return
    dots = code.module * dpi / POINTS_PER_INCH
    if abs(dots - round(dots)) > number("code-off-dots") * max(1, round(dots)):
        yield finding(
            "code-off-dots", side.place(code.box),
            found=f"{dots:.2f} dots at {dpi:g} dpi, of {MM_PER_INCH / dpi:.3f} mm each",
            expected=f"{max(1, round(dots))} dots",
        )  # fmt: skip


# ------------------------------------------------------------------------------ retail bars


@asks("bars-other-number")
def _number(code: SeenCode, side: SeenSide, subject: CheckedProduct) -> Iterator[Finding]:
    due = subject.product.gtin
    if due is None or code.text.zfill(14) != as_14(due):
        yield finding(
            "bars-other-number", side.place(code.box), found=code.text,
            expected=due or "no article number",
        )  # fmt: skip


@asks("bars-size", "bars-low")
def _bars(code: SeenCode, side: SeenSide) -> Iterator[Finding]:
    if code.kind == "upc-e":
        return
    name: Any = code.kind
    size, mm = print_quality.size_of(name), Length(code.module).mm
    place = side.place(code.box)
    share = mm / size.nominal
    if not size.least / _SAME <= mm <= size.most * _SAME:
        yield finding(
            "bars-size", place, found=f"{share:.0%}, a module of {mm:.3f} mm",
            expected=f"{size.least / size.nominal:.0%} to {size.most / size.nominal:.0%}",
        )  # fmt: skip
    low = code.height / (size.tall + _GUARDS)
    if low < number("bars-low"):
        yield finding(
            "bars-low", place, found=f"{low:.0%} of the standard height", expected="100 %"
        )


_GUARDS = 5.0
"""Guard bars run five modules below the others. Source: GS1 General Specifications, 5.2.1, as
restated at foreignpharmacystore.com/industry_news/1014.html."""


# ------------------------------------------------------------------- what codes can't carry


@asks("code-none")
def none(has_code: bool, subject: CheckedProduct, place: Place) -> Iterator[Finding]:
    """Yield that no code stands on a piece though the catalog has an address for one."""
    if not has_code and link_of(subject):
        yield finding("code-none", place)
