"""The addresses behind a product's QR code."""

from __future__ import annotations

from collections.abc import Callable

import pytest
from hypothesis import given
from hypothesis import strategies as st
from PIL import Image

from labeler.codes.link import LinkError, parse
from labeler.codes.product_link import (
    Scanned,
    as_small_host,
    in_capitals,
    product_link,
    read_product_link,
)
from labeler.codes.qr import qr
from labeler.codes.symbol import Symbol

Raster = Callable[[Symbol, int], Image.Image]
Reader = Callable[[Image.Image], list[tuple[str, bytes]]]

LINKS = "https://go.example.com"
AWKWARD = st.sampled_from(["p", "lot", "serial", "01", "10", "21", "00", "gtin", "a/b", "#", "%2F"])
NAME = (
    AWKWARD
    | st.text("ABC0123456789-./ ", min_size=1, max_size=12)
    | st.text(st.characters(exclude_categories=["Cs"]), min_size=1, max_size=8)
).filter(lambda name: name not in (".", ".."))


def test_with_a_gtin_the_link_is_a_digital_link_on_the_makers_domain() -> None:
    link = product_link(LINKS, "9521234543213", "RV-38-BLK", "25193017", "4")
    assert link == "https://go.example.com/01/09521234543213/10/25193017/21/4"
    assert read_product_link(link) == Scanned(LINKS, "09521234543213", "", "25193017", "4")


def test_without_a_gtin_the_link_is_plain() -> None:
    link = product_link(LINKS, None, "RV-38-BLK", "25193017")
    assert link == "https://go.example.com/p/RV-38-BLK/lot/25193017"
    assert read_product_link(link) == Scanned(LINKS, "", "RV-38-BLK", "25193017", "")
    assert product_link(LINKS + "/", "", "RV-38-BLK") == "https://go.example.com/p/RV-38-BLK"


def test_what_stands_in_a_plain_link_is_percent_encoded() -> None:
    link = product_link(LINKS, None, "a/b ?#%", "é+1", "¼")
    assert link == "https://go.example.com/p/a%2Fb%20%3F%23%25/lot/%C3%A9%2B1/serial/%C2%BC"


@given(
    stem=st.sampled_from([LINKS, "http://a/shop/p/x", "https://a/01/09521234543213", "HTTPS://A"]),
    sku=NAME,
    lot=NAME | st.just(""),
    serial=NAME | st.just(""),
)
def test_a_plain_link_never_passes_for_a_digital_link_and_reads_back(
    stem: str, sku: str, lot: str, serial: str
) -> None:
    link = product_link(stem, None, sku, lot, serial)
    with pytest.raises(LinkError, match="no GS1 key"):
        parse(link)
    assert read_product_link(link) == Scanned(as_small_host(stem), "", sku, lot, serial)


@pytest.mark.parametrize(
    ("links", "sentence"),
    [
        ("go.example.com", r"looks like https://go.example.com \(at character 1\)"),
        ("https://go example.com", r"a space can't stand .* \(at character 11\)"),
        (" https://go.example.com", r"a space can't stand .* \(at character 1\)"),
        ("https://", "name of a host"),
        ("", "looks like https://"),
        ("mailto:me@example.com", "looks like https://"),
        ("https://go.example.com?x=1", r"'\?' can't stand"),
    ],
)
@pytest.mark.parametrize("gtin", [None, "9521234543213"])
def test_an_address_that_links_can_not_begin_with_is_refused_in_words(
    links: str, sentence: str, gtin: str | None
) -> None:
    with pytest.raises(ValueError, match=sentence):
        product_link(links, gtin, "RV-38-BLK")


@pytest.mark.parametrize(
    ("gtin", "sku", "lot", "sentence"),
    [
        ("9521234543214", "A", "", "would have to be 3"),
        ("9521234543213", "A", "LOT 7", "not ' '"),
        ("9521234543213", "A", "8" * 21, "longer than 20"),
        (None, "", "", "SKU of '' can't stand"),
        (None, "..", "", "SKU of '..' can't stand"),
        (None, "A", ".", "lot of '.' can't stand"),
        (None, "\ud83c", "", "half a letter"),
    ],
)
def test_what_can_not_stand_in_a_link_is_refused_in_words(
    gtin: str | None, sku: str, lot: str, sentence: str
) -> None:
    with pytest.raises(ValueError, match=sentence):
        product_link(LINKS, gtin, sku, lot)


@pytest.mark.parametrize(
    ("address", "capitals"),
    [
        ("https://go.example.com/01/09521234543213/10/L25",
         "HTTPS://GO.EXAMPLE.COM/01/09521234543213/10/L25"),
        ("https://go.example.com/01/09521234543213?11=250712",
         "HTTPS://GO.EXAMPLE.COM/01/09521234543213?11=250712"),
        ("https://go.example.com", "HTTPS://GO.EXAMPLE.COM"),
        ("https://go.example.com/01/09521234543213/10/l25", None),
        ("https://go.example.com/p/RV-38", None),
        ("https://go.example.com/shop/01/09521234543213", None),
    ],
)  # fmt: skip
def test_only_scheme_and_host_may_change_their_case(address: str, capitals: str | None) -> None:
    """Source: RFC 3986, 6.2.2.1."""
    assert in_capitals(address) == (capitals or address)
    assert read_product_link(in_capitals(address)) == read_product_link(address)


@pytest.mark.parametrize(
    "address",
    [
        "hello", "", "https://go.example.com", "https://go.example.com/p/", "tel:555-0100",
        "https://a/414/9520123456788", "https://go.example.com/p/A/lot/", "25193017",
    ],
)  # fmt: skip
def test_what_is_no_products_address_is_not_taken_for_one(address: str) -> None:
    assert read_product_link(address) is None


def test_a_products_link_is_scanned_back_to_the_letter(
    raster: Raster, zxing: Reader, zbar: Reader
) -> None:
    for link in (
        product_link(LINKS, "9521234543213", "RV-38-BLK", "25193017"),
        in_capitals(product_link(LINKS, "9521234543213", "RV-38-BLK", "25193017")),
        product_link(LINKS, None, "RV-38-BLK", "25193017", "12"),
    ):
        picture = raster(qr(link), 3)
        assert zxing(picture) == zbar(picture) == [("qr", link.encode())]
