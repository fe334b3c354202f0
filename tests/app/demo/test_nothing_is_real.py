"""Nothing in the demo or the starter leads to anybody who exists."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from labeler.catalog.model import Catalog

DOMAIN = re.compile(r"\b(?:[\w-]+\.)+(?:com|net|org|info|biz|io|co|shop|store|ca|us|uk)\b", re.I)
PHONE = re.compile(r"\(?\d{3}\)?[ .-]\d{3}[ .-]\d{4}")
FOLDERS = ("demo_catalog", "layouts/starter")


def texts(folder: str) -> str:
    root = Path(__file__).resolve().parents[3] / folder
    files = [path for path in root.rglob("*") if path.suffix in (".toml", ".csv", ".md")]
    assert len(files) >= 2
    return "\n".join(path.read_text("utf-8-sig") for path in files)


@pytest.mark.parametrize("folder", FOLDERS)
def test_every_site_and_address_lies_under_example_com(folder: str) -> None:
    # RFC 2606, section 3: example.com is kept for examples.
    found = DOMAIN.findall(texts(folder))
    assert len(found) >= 3
    assert [
        name for name in found if name != "example.com" and not name.endswith(".example.com")
    ] == []
    assert not re.search(r"https?://(?![\w.-]*\bexample\.com)", texts(folder))
    assert not re.search(r"@(?![\w.-]*\bexample\.com)", texts(folder))


@pytest.mark.parametrize("folder", FOLDERS)
def test_every_telephone_rings_nowhere(folder: str) -> None:
    # ATIS-0300115 (555 NXX line numbers): 555-0100 to 555-0199 are kept for fiction (from memory).
    found = PHONE.findall(texts(folder))
    assert len(found) >= 2
    assert [number for number in found if not re.search(r"555-01\d\d$", number)] == []


def closes(gtin: str) -> bool:
    """Tell whether the check digit is right.

    Source: GS1 General Specifications, 7.9.1: from the right the digits weigh 1 (the check digit
    itself), 3, 1, 3 ..., and the sum is a multiple of ten.
    """
    return sum(int(digit) * (1, 3)[place % 2] for place, digit in enumerate(gtin[::-1])) % 10 == 0


def test_a_known_gtin_closes_and_a_slip_does_not() -> None:
    # GS1's own example: gs1.org/services/how-calculate-check-digit-manually, 629104150021-3.
    assert closes("6291041500213")
    assert not closes("6291041500231")


def test_every_gtin_is_from_the_prefix_for_examples(demo: Catalog) -> None:
    # 952 is GS1's prefix for demonstrations and examples (from memory).
    gtins = [product.gtin for product in demo.products if product.gtin]
    assert demo.file.maker.gs1_prefix
    assert demo.file.maker.gs1_prefix.startswith("952")
    assert all(gtin.startswith(demo.file.maker.gs1_prefix) for gtin in gtins)
    assert all(len(gtin) == 13 and closes(gtin) for gtin in gtins)
    assert len(set(gtins)) == len(gtins)


def test_some_products_have_a_gtin_and_some_have_none(demo: Catalog) -> None:
    numbered = {product.pattern.code for product in demo.products if product.gtin}
    bare = {product.pattern.code for product in demo.products if not product.gtin}
    assert len(numbered) >= 2
    assert len(bare) >= 2


def test_the_starter_names_no_prefix_that_is_not_the_makers(starter: Catalog) -> None:
    assert starter.file.maker.gs1_prefix is None
    assert not any(product.gtin for product in starter.products)
