"""GS1 Application Identifiers: what their values may hold."""

from __future__ import annotations

import string

import pytest

from labeler.catalog.values import SKU_LETTERS
from labeler.codes.links import SET_82, identifier
from labeler.codes.qr import ALPHANUMERICS


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
