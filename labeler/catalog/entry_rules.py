"""Whether maker and materials state what can be: shares, prefix, address of the links, metals."""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction
from urllib.parse import urlsplit

from labeler.catalog.cast import mark_density
from labeler.catalog.gtin import company_prefix_kind
from labeler.catalog.model import CatalogFile
from labeler.catalog.source import Source
from labeler.catalog.wording import as_written
from labeler.findings import Finding, did_you_mean, fix, note, stop


def check_entries(source: Source, file: CatalogFile) -> list[Finding]:
    """Return what is wrong with single entries, taken by themselves."""
    return [
        *_compositions(source, file),
        *_prefix(source, file),
        *_links(source, file),
        *_marks(source, file),
    ]


def _compositions(source: Source, file: CatalogFile) -> Iterator[Finding]:
    for name, material in file.materials.items():
        whole = sum(material.composition.values(), start=Fraction(0))
        if whole > 1:
            yield stop(
                "composition-over",
                source.place(("materials", name, "composition")),
                "the shares add up to more than the whole",
                found=f"{float(whole * 100):g} %",
                expected="at most 100 %",
            )


def _prefix(source: Source, file: CatalogFile) -> Iterator[Finding]:
    prefix = file.maker.gs1_prefix
    if prefix is None:
        return
    place = source.place(("maker", "gs1_prefix"))
    kind = company_prefix_kind(prefix)
    if kind in ("restricted", "reserved"):
        yield stop(
            "prefix-not-licensed",
            place,
            "numbers that begin so are licensed to nobody",
            found=as_written(prefix),
            expected="the GS1 Company Prefix from your certificate",
            source="GS1 General Specifications, 1.4",
        )
    elif kind == "demo":
        yield note(
            "prefix-for-samples",
            place,
            "numbers that begin with 952 are for samples: no shop can sell by them",
            source="GS1 General Specifications, 1.4",
        )
    elif file.maker.country == "US" and not _from_gs1_us(prefix):
        yield fix(
            "prefix-without-nought",
            place,
            "GS1 US gives out no prefix that begins so",
            found=as_written(prefix),
            expected="a prefix that begins with 0 or with 10 to 13",
            hint="A U.P.C. company prefix lacks the 0 that the GS1 Company Prefix begins with.",
            source="GS1 General Specifications, 1.4 (from memory)",
        )


def _from_gs1_us(prefix: str) -> bool:
    return int(prefix[:3]) <= _LAST_OF_GS1_US


_LAST_OF_GS1_US = 139
"""Source: GS1 General Specifications, 1.4: 000 to 139 are GS1 US's, less what is kept back."""


def _links(source: Source, file: CatalogFile) -> Iterator[Finding]:
    if file.maker.links is not None and not _good_link(file.maker.links):
        yield stop(
            "wrong-value",
            source.place(("maker", "links")),
            "QR links cannot begin with this",
            found=as_written(file.maker.links),
            expected="https:// and a domain, such as https://go.example.com",
        )


def _good_link(links: str) -> bool:
    try:
        parts = urlsplit(links)
        port = parts.port
    except ValueError:
        return False
    plain = links.isascii() and links.isprintable() and " " not in links
    whole = parts.scheme in ("http", "https") and bool(parts.hostname)
    simple = not (parts.query or parts.fragment or parts.username) and port != 0
    return plain and whole and simple


def _marks(source: Source, file: CatalogFile) -> Iterator[Finding]:
    for name, head in file.heads.items():
        if head.marked_for not in file.materials and mark_density(head, file.materials) is None:
            metals = ["lead", "tin", "bismuth", "zinc", *file.materials]
            yield stop(
                "unknown-name",
                source.place(("heads", name, "marked_for")),
                "this is no metal whose density is known, nor a material of the catalog",
                found=as_written(head.marked_for),
                hint=did_you_mean(head.marked_for, metals),
            )
