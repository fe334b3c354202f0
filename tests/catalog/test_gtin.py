"""GTIN arithmetic against published numbers and an independent library."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st
from stdnum import ean

from labeler.catalog.gtin import (
    LENGTHS,
    as_14,
    check_digit,
    close,
    company_prefix_kind,
    explain,
    prefix_kind,
)

PUBLISHED = [
    # www.gs1.org/how-calculate-check-digit-manually
    ("629104150021", "3"),
    # www.gs1.se, "Så beräknas kontrollsiffran"
    ("730001100001", "7"),
    # www.gs1india.org/SERV/checkdgt.htm
    ("890400021003", "7"),
    # GS1 UK leaflet "Getting your barcodes right", example number
    ("501234567890", "0"),
    # github.com/gs1/gs1-syntax-dictionary, src/lint_csum.c, its own tests
    ("0234567", "3"),
    ("41600033610", "8"),
    ("123456789012", "8"),
    ("1234567890123", "1"),
    ("12345678901234567", "5"),
    # github.com/gs1/gs1-syntax-engine, src/c-lib/dl.c, examples of the GS1 Digital Link standard
    ("952123454321", "3"),
    ("952012345678", "8"),
]

REFUSED = ["12345673", "416000336109", "1234567890129", "12345678901232"]
"""github.com/gs1/gs1-syntax-dictionary, src/lint_csum.c: these must fail."""


@pytest.mark.parametrize(("body", "digit"), PUBLISHED)
def test_check_digits_are_the_published_ones(body: str, digit: str) -> None:
    assert check_digit(body) == digit
    assert close(body) == body + digit


@pytest.mark.parametrize("gtin", REFUSED)
def test_a_wrong_check_digit_is_named(gtin: str) -> None:
    fault = explain(gtin)
    assert fault is not None
    assert "check digit" in fault
    with pytest.raises(ValueError, match="check digit"):
        as_14(gtin)


@pytest.mark.parametrize(
    "gtin", ["", " 9521234543213", "952 1234543213", "952123454321X", "９５２"]
)
def test_anything_but_digits_is_refused_and_never_stripped(gtin: str) -> None:
    # github.com/gs1/gs1-syntax-dictionary, src/lint_csum.c refuses spaces the same way.
    assert "digits" in (explain(gtin) or "")
    with pytest.raises(ValueError, match="digits"):
        check_digit(gtin)


@pytest.mark.parametrize("count", [1, 7, 9, 10, 11, 15, 18])
def test_a_wrong_count_of_digits_is_counted_out(count: int) -> None:
    assert f"this has {count}" in (explain("1" * count) or "")


def test_noughts_only_are_no_number() -> None:
    assert explain("0" * 12) is not None


def test_a_shorter_number_is_filled_with_noughts() -> None:
    # GS1 General Specifications, 3.3.2.
    assert as_14("614141123452") == as_14("0614141123452") == "00614141123452"


@given(st.sampled_from(LENGTHS), st.data())
def test_every_closed_number_is_valid_and_python_stdnum_agrees(
    length: int, data: st.DataObject
) -> None:
    body = data.draw(st.text("0123456789", min_size=length - 1, max_size=length - 1))
    whole = close(body)
    assert ean.is_valid(whole)
    if whole.strip("0"):
        assert explain(whole) is None


@given(st.text("0123456789", min_size=13, max_size=13), st.integers(0, 13), st.integers(1, 9))
def test_one_wrong_digit_is_always_caught(body: str, place: int, more: int) -> None:
    # GS1 General Specifications, 7.9: weights 3 and 1 are prime to ten.
    whole = close(body)
    wrong = whole[:place] + str((int(whole[place]) + more) % 10) + whole[place + 1 :]
    assert explain(wrong) is not None


@pytest.mark.parametrize(
    ("body", "kind"),
    [
        ("952123454321", "demo"),
        ("02123456789", "ordinary"),
        ("21234567890", "restricted"),
        ("020123456789", "restricted"),
        ("049123456789", "restricted"),
        ("050123456789", "reserved"),
        ("299123456789", "restricted"),
        ("300123456789", "ordinary"),
        ("977123456789", "reserved"),
        ("979123456789", "reserved"),
        ("984123456789", "reserved"),
        ("985123456789", "ordinary"),
        ("990123456789", "reserved"),
        ("629104150021", "ordinary"),
        ("000000012345", "restricted"),
        ("0123456", "restricted"),
        ("2123456", "restricted"),
        ("9521234", "demo"),
        ("4012345", "ordinary"),
    ],
)
def test_a_prefix_says_what_it_is_kept_for(body: str, kind: str) -> None:
    # GS1 General Specifications, 1.4.
    assert prefix_kind(close(body)) == kind


def test_a_company_prefix_is_judged_by_its_first_three_digits() -> None:
    assert company_prefix_kind("9521234") == "demo"
    assert company_prefix_kind("0240001") == "restricted"
    assert company_prefix_kind("614141") == "ordinary"
    with pytest.raises(ValueError, match="three digits"):
        company_prefix_kind("95")
