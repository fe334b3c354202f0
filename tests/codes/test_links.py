"""Addresses behind a product's QR code; GS1 Digital Links against GS1's own examples."""

from __future__ import annotations

import string
from collections.abc import Callable

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st
from PIL import Image

from labeler.catalog.gtin import close
from labeler.codes.links import (
    SET_82,
    DigitalLink,
    LinkError,
    Scanned,
    as_small_host,
    build,
    parse,
    product_link,
    read_product_link,
)
from labeler.codes.print_quality import Symbol
from labeler.codes.qr import qr_symbol

Raster = Callable[[Symbol, int], Image.Image]
Reader = Callable[[Image.Image], list[tuple[str, bytes]]]

LINKS = "https://go.example.com"
AWKWARD = st.sampled_from(["p", "lot", "serial", "01", "10", "21", "00", "gtin", "a/b", "#", "%2F"])
NAME = (
    AWKWARD
    | st.text("ABC0123456789-./ ", min_size=1, max_size=12)
    | st.text(st.characters(exclude_categories=["Cs"]), min_size=1, max_size=8)
).filter(lambda name: name not in (".", ".."))

READ = [
    ("https://id.gs1.org/01/09520123456788", "0109520123456788"),
    ("https://id.gs1.org/01/09520123456788/22/2A", "0109520123456788222A"),
    ("https://id.gs1.org/01/09520123456788/10/ABC123", "010952012345678810ABC123"),
    ("https://id.gs1.org/01/09520123456788/21/12345", "01095201234567882112345"),
    (
        "https://id.gs1.org/01/09520123456788/10/ABC1/21/12345?17=180426",
        "010952012345678810ABC1^2112345^17180426",
    ),
    ("https://id.gs1.org/01/09520123456788?3103=000195", "01095201234567883103000195"),
    (
        "https://example.com/01/09520123456788?3103=000195&3922=0299&17=201225",
        "0109520123456788310300019539220299^17201225",
    ),
    (
        "https://id.gs1.org/01/09520123456788?17=201225&3103=000195&3922=0299",
        "010952012345678817201225310300019539220299",
    ),
    ("https://a/01/12312312312333/22/TEST/10/ABC/21/XYZ", "011231231231233322TEST^10ABC^21XYZ"),
    (
        "https://a/01/12312312312333/22/ABC%2d123?99=ABC&98=XYZ%2f987",
        "011231231231233322ABC-123^99ABC^98XYZ/987",
    ),
    ("https://id.gs1.org/414/9520123456788/254/32a%2Fb", "414952012345678825432a/b"),
    ("https://a/more/stem/01/09520123456788", "0109520123456788"),
    ("HTTPS://EXAMPLE.COM/01/09520123456788/10/L2507A", "010952012345678810L2507A"),
    ("http://a:8080/01/09520123456788#shop", "0109520123456788"),
    ("https://a/01/09520123456788?utm=x&&&99=ABC&&", "010952012345678899ABC"),
    ("https://a/01/09520123456788?99=A;98=B", "010952012345678899A^98B"),
    ("https://a/01/09520123456788/10/A+B?99=A%2BB", "010952012345678810A+B^99A+B"),
    ("https://a/01/09520123456788/10/5%25%2", "0109520123456788105%%2"),
    ("https://a/01/09520123456788/235/TPX?10=A", "0109520123456788235TPX^10A"),
    ("https://a/00/952012345678912341/01/09520123456788", "0109520123456788"),
    ("https://[::1]/01/09520123456788", "0109520123456788"),
]
"""Source: GS1 Syntax Engine, src/c-lib/dl.c, tests; ^ is the separator."""

REFUSED = [
    ("ftp://a/01/09520123456788", 0, "begins with https://"),
    ("HtTp://a/01/09520123456788", 0, "all small or all capitals"),
    ("go.example.com/01/09520123456788", 0, "begins with https://"),
    ("https://00/006141411234567890", 10, "no GS1 key"),
    ("https:///01/09520123456788", 8, "name of a host"),
    ("https://[fe80::1%25eth0]/01/09520123456788", 8, "name of a host"),
    ("https://a/01/2112345678900", 26, "14 of them, and has 13"),
    ("https://a/01/095201234567880", 27, "longer than 14"),
    ("https://a/01/09520123456787", 26, "check digit of GTIN (01) would have to be 8"),
    ("https://a/01/0952012345678X", 26, "takes digits and not 'X'"),
    ("https://a/01//10/ABC", 13, "has 0"),
    ("https://a/01/09520123456788/", 9, "no GS1 key"),
    ("https://a/01/09520123456788/10/", 31, "at least 1 character"),
    ("https://a/gtin/09520123456788", 9, "no GS1 key"),
    ("https://a/10/ABC123", 9, "no GS1 key"),
    ("https://a/01/09520123456788/21/12345/10/ABC1", 28, "in this order"),
    ("https://a/01/09520123456788/10/A/10/B", 28, "once each"),
    ("https://a/01/09520123456788/22/A/235/B", 28, "22, 10, 21 or 235"),
    ("https://a/01/09520123456788/17/180426", 28, "not 17"),
    ("https://a/01/09520123456788?10=ABC123", 28, "stands in the path"),
    ("https://a/01/09520123456788?99=", 31, "at least 1 character"),
    ("https://a/01/09520123456788?99", 30, "at least 1 character"),
    ("https://a/01/09520123456788?17=180426&17=180427", 38, "twice"),
    ("https://a/01/09520123456788?01=09520123456788", 28, "twice"),
    ("https://a/01/09520123456788?235=A", 28, "can't stand behind the question mark"),
    ("https://a/01/09520123456788?8200=A", 28, "can't stand behind the question mark"),
    ("https://a/01/09520123456788?0123=A", 28, "no Application Identifier"),
    ("https://a/01/09520123456788?17=180230", 31, "month 02 has no day 30"),
    ("https://a/01/09520123456788?99=A+B", 32, "not ' '"),
    ("https://a/01/09520123456788/10/A%00B", 32, "'\\x00'"),
    ("https://a/01/09520123456788/10/A%23B", 32, "'#'"),
    ("https://a/01/09520123456788/10/%41%C3%86", 34, "82 characters"),
    ("https://a/01/09520123456788/10/" + "A" * 21, 51, "longer than 20"),
    *(
        (f"https://a/01/09520123456788/10/A{letter}B", 32, "can't stand in an address")
        for letter in '<>{}\\^`"| Æ\n'
    ),
]
"""Source: GS1 Syntax Engine, src/c-lib/dl.c, tests, and the rules that they exercise."""


FIXED_LENGTHS = ("00", "01", "11", "17", "31", "41")
"""Beginnings, among the identifiers above, of those whose values need no separator after them.

Source: GS1 General Specifications, 7.8.4 (element strings of predefined length).
"""


def _element_string(values: tuple[tuple[str, str], ...]) -> str:
    text = before = ""
    for ai, value in values:
        separator = "^" if before and not before.startswith(FIXED_LENGTHS) else ""
        text, before = text + separator + ai + value, ai
    return text


@pytest.mark.parametrize(("uri", "element"), READ)
def test_gs1s_own_links_say_what_gs1_says(uri: str, element: str) -> None:
    assert _element_string(parse(uri).values) == element


@pytest.mark.parametrize(("uri", "place", "sentence"), REFUSED)
def test_what_gs1_refuses_is_refused_with_its_place(uri: str, place: int, sentence: str) -> None:
    with pytest.raises(LinkError) as caught:
        parse(uri)
    assert sentence in caught.value.sentence
    assert caught.value.place == place
    assert str(caught.value) == f"{caught.value.sentence} (at character {place + 1})"


@pytest.mark.parametrize(
    ("stem", "values", "uri"),
    [
        ("https://id.gs1.org", {"01": "12312312312326", "21": "abc123"},
         "https://id.gs1.org/01/12312312312326/21/abc123"),
        ("https://example.com",
         {"21": "XYZ", "01": "12312312312333", "10": "ABC123", "99": "XYZ"},
         "https://example.com/01/12312312312333/10/ABC123/21/XYZ?99=XYZ"),
        ("https://id.gs1.org", {"01": "12312312312333", "10": "ABC+123", "99": "XYZ+QWERTY"},
         "https://id.gs1.org/01/12312312312333/10/ABC%2B123?99=XYZ%2BQWERTY"),
        ("https://id.gs1.org",
         {"3103": "000189", "01": "05412345000013", "3923": "2172", "10": "ABC&+123"},
         "https://id.gs1.org/01/05412345000013/10/ABC%26%2B123?3103=000189&3923=2172"),
        ("https://example.com/", {"01": "9521234543213"}, "https://example.com/01/09521234543213"),
        ("https://a/more/stem//", {"01": "614141123452"}, "https://a/more/stem/01/00614141123452"),
        ("https://id.gs1.org", {"414": "9520123456788", "254": "32a/b"},
         "https://id.gs1.org/414/9520123456788/254/32a%2Fb"),
        ("https://a", {"01": "09520123456788", "235": "TPX", "10": "A"},
         "https://a/01/09520123456788/235/TPX?10=A"),
        ("https://a", {"17": "180426", "11": "180401", "01": "09520123456788"},
         "https://a/01/09520123456788?11=180401&17=180426"),
    ],
)  # fmt: skip
def test_links_are_built_as_gs1_builds_them(stem: str, values: dict[str, str], uri: str) -> None:
    """Source: GS1 Syntax Engine, dl.c, tests; github.com/gs1/GS1DigitalLinkToolkit.js, README."""
    assert build(stem, values) == uri
    assert dict(parse(uri).values).keys() == values.keys()
    assert build(parse(uri).stem, dict(parse(uri).values)) == uri


@pytest.mark.parametrize(
    ("stem", "values", "sentence"),
    [
        ("https://a", {"10": "ABC"}, "names one key"),
        ("https://a", {"414": "9520123456788", "417": "9520123456788"}, "names one key"),
        ("https://a", {"01": "9521234543214"}, "would have to be 3, not 4"),
        ("https://a", {"01": "09520123456788", "10": "AB#"}, "and not '#'"),
        ("https://a", {"01": "09520123456788", "10": "."}, "browsers take out"),
        ("https://a", {"01": "09520123456788", "10": ".."}, "browsers take out"),
        ("https://a", {"01": "09520123456788", "235": "A", "21": "B"}, "and not both"),
        ("https://a", {"01": "09520123456788", "0123": "B"}, "no Application Identifier"),
        ("https://a", {"01": "09520123456788", "8200": "B"}, "behind the question mark"),
        ("a", {"01": "09520123456788"}, "looks like https://a"),
        ("go.example.com/x", {"01": "09520123456788"}, "looks like https://go.example.com/x"),
        ("https://", {"01": "09520123456788"}, "name of a host"),
        ("https://a b", {"01": "09520123456788"}, "a space can't stand"),
        ("https://a?x=1", {"01": "09520123456788"}, "'?' can't stand"),
        ("https://a/#x", {"01": "09520123456788"}, "'#' can't stand"),
        ("https://bær.example.com", {"01": "09520123456788"}, "'æ' can't stand"),
        ("", {"01": "09520123456788"}, "looks like https://links.example.com"),
    ],
)
def test_what_can_not_be_a_link_is_refused_in_words(
    stem: str, values: dict[str, str], sentence: str
) -> None:
    with pytest.raises(LinkError, match=sentence.replace("?", r"\?")):
        build(stem, values)


def test_percent_encoding_leaves_letters_digits_and_four_signs_alone() -> None:
    """Source: GS1 Syntax Engine, dl.c, test_dl_URIescape; RFC 3986, 2.3."""
    signs = "!\"%&'()*+,/:;<=>?"
    link = build("https://a", {"01": "09520123456788", "10": signs, "99": signs})
    encoded = "%21%22%25%26%27%28%29%2A%2B%2C%2F%3A%3B%3C%3D%3E%3F"
    assert link == f"https://a/01/09520123456788/10/{encoded}?99={encoded}"
    assert "+" not in link
    plain = "azAZ09-._"
    assert build("https://a", {"01": "09520123456788", "10": plain}).endswith("/10/" + plain)


LOT = st.text(sorted(SET_82), min_size=1, max_size=20).filter(lambda t: t not in (".", ".."))
GTIN = st.integers(1, 10**13 - 1).map(lambda body: close(f"{body:013}"))


@given(
    stem=st.sampled_from(["https://go.example.com", "http://a:81/x/y", "HTTPS://EXAMPLE.COM/01/7"]),
    gtin=GTIN,
    rest=st.fixed_dictionaries(
        {}, optional={"22": LOT, "10": LOT, "21": LOT, "240": LOT, "30": st.just("12"), "91": LOT}
    ),
)
def test_reading_a_link_gives_what_it_was_built_of(
    stem: str, gtin: str, rest: dict[str, str]
) -> None:
    uri = build(stem, {"01": gtin} | rest)
    link = parse(uri)
    assert link.stem == stem
    assert dict(link.values) == {"01": gtin} | rest
    assert build(link.stem, dict(link.values)) == uri
    assert link.value("10") == rest.get("10", "")


def _read_or_place(uri: str) -> DigitalLink | int:
    try:
        return parse(uri)
    except LinkError as error:
        return error.place


@given(text=st.text(string.printable, max_size=60), gtin=GTIN)
def test_no_text_gives_anything_but_a_link_or_a_sentence(text: str, gtin: str) -> None:
    for uri in (text, f"https://a/{text}", f"https://a/01/{gtin}{text}"):
        read = _read_or_place(uri)
        assert read.values if isinstance(read, DigitalLink) else 0 <= read <= len(uri)


@given(gtin=GTIN, place=st.integers(0, 13), digit=st.sampled_from(string.digits))
def test_a_slip_of_one_digit_in_a_link_is_caught(gtin: str, place: int, digit: str) -> None:
    assume(gtin[place] != digit)
    with pytest.raises(LinkError, match="check digit"):
        parse(f"https://a/01/{gtin[:place]}{digit}{gtin[place + 1 :]}")


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
    "address",
    ["https://go.example.com/01/09521234543213/10/L25", "https://go.example.com/p/RV-38"],
)
def test_scheme_and_host_may_be_in_capitals(address: str) -> None:
    """Source: RFC 3986, 6.2.2.1."""
    loud = address.replace("https://go.example.com", "HTTPS://GO.EXAMPLE.COM")
    assert as_small_host(loud) == address
    assert read_product_link(loud) == read_product_link(address)


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
        product_link(LINKS, "9521234543213", "RV-38-BLK", "25193017").upper(),
        product_link(LINKS, None, "RV-38-BLK", "25193017", "12"),
    ):
        picture = raster(qr_symbol(link), 3)
        assert zxing(picture) == zbar(picture) == [("qr", link.encode())]
