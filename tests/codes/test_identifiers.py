"""GS1 Application Identifiers: what their values may hold, and the strings that tills read."""

from __future__ import annotations

import string

import numpy as np
import pytest
import zxingcpp

from labeler.catalog.values import SKU_LETTERS
from labeler.codes.identifiers import SET_82, element_string, identifier, in_brackets
from labeler.codes.segments import ALPHANUMERICS


def _fault(ai: str, value: str) -> tuple[str, int] | None:
    kind = identifier(ai)
    assert kind is not None
    return kind.fault(value)


def test_a_lot_takes_the_82_characters_and_no_other_of_ascii() -> None:
    """Source: GS1 Barcode Syntax Dictionary, lint_cset82."""
    assert len(SET_82) == 82
    refused = {letter for letter in map(chr, range(128)) if _fault("10", f"A{letter}B")}
    assert refused == set(map(chr, range(128))) - SET_82
    assert set(" #$@[\\]^{|}~`") <= refused
    assert _fault("10", "AB#C") == ("lot (10) takes the 82 characters of GS1 and not '#'", 2)
    assert _fault("10", "Æ") is not None


def test_a_lot_has_1_to_20_characters() -> None:
    """Source: GS1 Barcode Syntax Dictionary: 10 is X..20."""
    assert _fault("10", "A" * 20) is None
    assert _fault("10", "A" * 21) == ("lot (10) is longer than 20 characters", 20)
    assert _fault("10", "") == (
        "lot (10) takes the 82 characters of GS1, at least 1 character, and has 0",
        0,
    )


def test_lot_letters_that_suit_code_path_and_gs1_alike_are_thirty_eight() -> None:
    """Source: ISO/IEC 18004:2015, table 5; RFC 3986, 2.3; GS1 Syntax Dictionary, lint_cset82."""
    unreserved = set(string.ascii_letters + string.digits + "-._~")
    common = set(ALPHANUMERICS.decode()) & unreserved & SET_82
    assert len(common) == 38
    assert common == set(string.ascii_uppercase + string.digits + ".-")
    assert SKU_LETTERS == "A-Z0-9.-"


@pytest.mark.parametrize(
    "date", ["000606", "250606", "200131", "200229", "240229", "000229", "250600", "251200"]
)
def test_real_dates_and_whole_months_pass(date: str) -> None:
    """Source: GS1 Barcode Syntax Dictionary, lint_yymmd0 and its tests."""
    assert _fault("11", date) is None


@pytest.mark.parametrize(
    "date",
    ["200010", "201310", "200132", "200230", "200431", "210229", "220229",
     "", "25060", "2506061", "25-606", "abcdef"],
)  # fmt: skip
def test_days_that_do_not_exist_fail(date: str) -> None:
    """Source: GS1 Barcode Syntax Dictionary, lint_yymmd0 and its tests."""
    assert _fault("11", date) is not None


def test_a_date_that_fails_says_which_part() -> None:
    assert _fault("17", "201310") == ("use-by date (17): there is no month 13", 0)
    assert _fault("17", "210229") == ("use-by date (17): month 02 has no day 29", 0)


@pytest.mark.parametrize(
    ("ai", "right", "wrong"),
    [
        ("01", "12345678901231", "12345678901232"),
        ("01", "09521234543213", "09521234543231"),
        ("00", "123456789012345675", "123456789012345670"),
        ("414", "9520123456788", "9520123456787"),
        ("253", "1234567890128ABC", "1234567890129ABC"),
    ],
)
def test_a_check_digit_is_looked_at(ai: str, right: str, wrong: str) -> None:
    """Source: GS1 Barcode Syntax Dictionary, lint_csum and its tests."""
    assert _fault(ai, right) is None
    fault = _fault(ai, wrong)
    assert fault is not None
    assert "check digit" in fault[0]


def test_a_gtin_in_a_link_has_fourteen_digits() -> None:
    """Source: GS1 Digital Link Standard, grammar 1.4; 8, 12 and 13 went with grammar 1.2."""
    assert _fault("01", "9521234543213") == (
        "GTIN (01) takes digits, 14 of them, and has 13",
        13,
    )


def test_parts_that_may_be_left_out_may_be_left_out() -> None:
    assert _fault("7007", "250606") is None
    assert _fault("7007", "250606250610") is None
    assert _fault("7007", "2506062506") is not None
    assert _fault("8008", "25060612") is None
    assert _fault("421", "840") is not None
    assert _fault("421", "84012345") is None


@pytest.mark.parametrize("ai", ["04", "14", "18", "23", "3106", "3999", "7043", "9", "100", "x1"])
def test_numbers_that_gs1_has_not_given_out_are_none(ai: str) -> None:
    """Source: GS1 Barcode Syntax Dictionary."""
    assert identifier(ai) is None


@pytest.mark.parametrize(
    ("values", "expected"),
    [
        ([("01", "12345678901231"), ("10", "12345")], "01123456789012311012345"),
        ([("10", "12345"), ("11", "991225")], "1012345^11991225"),
        ([("3100", "123456"), ("10", "12345")], "31001234561012345"),
        ([("01", "09520123456788"), ("10", "ABC1"), ("21", "12345"), ("17", "180426")],
         "010952012345678810ABC1^2112345^17180426"),
        ([("01", "09520123456788"), ("3103", "000195"), ("3922", "0299"), ("17", "201225")],
         "0109520123456788310300019539220299^17201225"),
        ([("414", "9520123456788"), ("254", "32a/b")], "414952012345678825432a/b"),
    ],
)  # fmt: skip
def test_a_separator_follows_only_what_has_no_length_of_its_own(
    values: list[tuple[str, str]], expected: str
) -> None:
    """Source: GS1 Syntax Engine, src/c-lib/ai.c and dl.c, tests."""
    assert element_string(values, "^") == expected


def test_a_till_reads_the_same_string_from_another_encoders_symbol() -> None:
    """zxing-cpp encodes the bracketed text and reads its own picture back."""
    values = [("01", "09521234543213"), ("10", "L2507A"), ("11", "250712")]
    made = zxingcpp.create_barcode(
        "".join(f"({ai}){value}" for ai, value in values),
        zxingcpp.BarcodeFormat.DataMatrix,
        gs1=True,
    )
    (read,) = zxingcpp.read_barcodes(np.array(made.to_image(scale=4)))
    assert read.symbology_identifier == "]d2"
    assert read.bytes.decode() == element_string(values)


def test_brackets_are_for_people_and_never_in_the_string() -> None:
    values = [("01", "09521234543213"), ("10", "25193017")]
    assert in_brackets(values) == "(01) 09521234543213 (10) 25193017"
    assert "(" not in element_string(values)


def test_an_unknown_number_has_no_element_string() -> None:
    with pytest.raises(KeyError):
        element_string([("9", "x")])
