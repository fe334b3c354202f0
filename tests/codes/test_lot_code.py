"""Lot codes against the standard's promises, outside vectors and a reference library."""

from __future__ import annotations

from datetime import date, timedelta
from itertools import product

import pytest
from hypothesis import given
from hypothesis import strategies as st
from stdnum.iso7064 import mod_11_10, mod_37_36

from labeler.codes.lot_code import (
    ALPHANUMERIC,
    CLEAR,
    CONFUSABLE,
    DIGITS,
    LotForm,
    check_character,
    is_valid,
    read,
    slips,
    tidy,
)
from labeler.findings import LabelerError

PLAIN, PREFIXED = LotForm(), LotForm(prefix="RV")

DAYS = st.dates(date(2000, 1, 1), date(2099, 12, 31))
FORMS = st.builds(LotForm, prefix=st.text([c for c in CLEAR if c.isalpha()], max_size=8))


@pytest.mark.parametrize(
    ("payload", "check"),
    [
        ("0794", "5"),  # computed by hand from ISO/IEC 7064:2003, hybrid systems
        ("79462", "3"),  # python-stdnum 2.2, iso7064.mod_11_10 docstring
        ("00200667308", "5"),  # the same
    ],
)
def test_numeric_vectors_get_their_check_digit(payload: str, check: str) -> None:
    assert check_character(payload, DIGITS) == check


@pytest.mark.parametrize(
    ("payload", "check"),
    [
        # Source: lobster-world.com, online documentation, "BasicISO7064Mod3736Checksum".
        ("A12425GABC1234002", "M"),
        ("123AB", "X"),
        ("DADPIDA3897722461", "J"),
    ],
)
def test_alphanumeric_vectors_get_their_check_character(payload: str, check: str) -> None:
    assert check_character(payload, ALPHANUMERIC) == check


@given(st.text(DIGITS, min_size=1, max_size=19))
def test_digits_agree_with_the_reference_library(payload: str) -> None:
    assert check_character(payload, DIGITS) == mod_11_10.calc_check_digit(payload)


@given(st.text(ALPHANUMERIC, min_size=1, max_size=19))
def test_letters_agree_with_the_reference_library(payload: str) -> None:
    assert check_character(payload, ALPHANUMERIC) == mod_37_36.calc_check_digit(payload)


def codes_of_a_year(form: LotForm) -> list[str]:
    days = [date(2028, 1, 1) + timedelta(days=n) for n in range(0, 366, 5)]
    return [form.write(day, number) for day in days for number in (1, 2, 12)]


@pytest.mark.parametrize("form", [PLAIN, PREFIXED])
def test_every_slip_of_one_character_is_caught(form: LotForm) -> None:
    """ISO/IEC 7064:2003, 1.3 a): "all single substitution errors"."""
    tried = caught = 0
    for code in codes_of_a_year(form):
        alphabet = CLEAR if form.prefix else DIGITS
        for at, letter in product(range(len(code)), alphabet):
            if letter != code[at]:
                tried += 1
                caught += not is_valid(code[:at] + letter + code[at + 1 :])
    assert tried > 15_000
    assert caught == tried


@pytest.mark.parametrize(
    ("alphabet", "pairs"), [(DIGITS, 10 * 9 // 2), (ALPHANUMERIC, 36 * 35 // 2)]
)
def test_swaps_of_neighbours_are_caught_but_one_pair_for_each_state(
    alphabet: str, pairs: int
) -> None:
    """ISO/IEC 7064:2003, 1.3 b): "all or nearly all" transpositions; counted whole here.

    One leading character brings the sum to each of its M states, so this tries every state with
    every pair: exactly one pair in 45, or in 630, gets past.
    """
    size, missed = len(alphabet), 0
    for lead in alphabet:
        for at, a in enumerate(alphabet):
            for b in alphabet[at + 1 :]:
                code = lead + a + b + check_character(lead + a + b, alphabet)
                missed += reads_true(lead + b + a + code[-1], alphabet)
    assert missed == size
    assert missed / (size * pairs) < 0.023


def reads_true(code: str, alphabet: str) -> bool:
    return check_character(code[:-1], alphabet) == code[-1]


def test_the_reference_library_misses_the_same_swaps() -> None:
    for lead, a, b in product(DIGITS, repeat=3):
        code = lead + a + b + check_character(lead + a + b, DIGITS)
        swapped = lead + b + a + code[-1]
        assert is_valid(swapped) == mod_11_10.is_valid(swapped)


def test_the_plain_form_is_year_day_number_and_check_digit() -> None:
    code = PLAIN.write(date(2026, 11, 25), 1)
    assert code == "26329001" + mod_11_10.calc_check_digit("26329001")


@pytest.mark.parametrize(
    ("day", "head"),
    [
        # Ordinal dates: ISO 8601-1:2019, 5.2.3.
        (date(2027, 1, 1), "27001"),
        (date(2027, 12, 31), "27365"),
        (date(2028, 2, 29), "28060"),
        (date(2028, 12, 31), "28366"),
        (date(2000, 3, 1), "00061"),
    ],
)
def test_new_year_and_leap_day_have_their_ordinal(day: date, head: str) -> None:
    assert PLAIN.write(day, 7)[:5] == head
    assert read(PLAIN.write(day, 7)).made == day


def test_a_busy_day_grows_the_number_and_nothing_collides() -> None:
    codes = [PLAIN.write(date(2026, 5, 4), number) for number in range(1, 4001)]
    assert len(set(codes)) == 4000
    assert all(is_valid(code) for code in codes)
    assert {len(code) for code in codes} == {9, 10}


@given(FORMS, DAYS, st.integers(1, 2000))
def test_a_code_reads_back_to_the_day_it_was_written_for(
    form: LotForm, day: date, number: int
) -> None:
    code = form.write(day, number)
    back = read(code)
    assert (back.text, back.prefix, back.made) == (code, form.prefix, day)
    assert len(code) <= 20
    assert not set(code) & set(CONFUSABLE)


@given(DAYS, st.integers(1, 400))
def test_a_prefixed_code_is_true_by_mod_37_36(day: date, number: int) -> None:
    assert mod_37_36.is_valid(PREFIXED.write(day, number))


def test_prefixed_codes_of_a_day_are_all_different() -> None:
    codes = {PREFIXED.write(date(2026, 5, 4), number) for number in range(1, 1200, 7)}
    assert len(codes) == len(range(1, 1200, 7))


@given(FORMS, DAYS, st.integers(1, 300), st.data())
def test_spaces_dashes_and_case_are_forgiven(
    form: LotForm, day: date, number: int, data: st.DataObject
) -> None:
    code = form.write(day, number)
    noise = st.sampled_from(["", "", " ", "-", "–", "\u00a0", "\u2011", "\t"])
    typed = "".join(data.draw(noise) + c for c in code).lower()
    assert tidy(typed) == code
    assert read(typed).text == code


def test_letters_that_look_like_digits_are_forgiven() -> None:
    assert tidy("rv 26o1l i") == "RV260111"
    assert tidy("２６３２９") == "26329"


@given(FORMS, DAYS, st.integers(1, 300))
def test_the_right_code_is_among_the_slips_of_a_wrong_one(
    form: LotForm, day: date, number: int
) -> None:
    code = form.write(day, number)
    wrong = code[:3] + ("7" if code[3] != "7" else "8") + code[4:]
    assert code in slips(wrong)
    assert code in slips(code[:4] + code[5:])
    assert code in slips(code[:4] + code[4] + code[4:])
    assert code not in slips(code)


def test_a_swapped_code_finds_its_way_back() -> None:
    code = PLAIN.write(date(2026, 11, 25), 12)
    assert code in slips(code[:5] + code[6] + code[5] + code[7:])


@pytest.mark.parametrize(
    ("typed", "rule"),
    [
        ("", "lot-code-shape"),
        ("26", "lot-code-shape"),
        ("26000001" + "5", "lot-code-shape"),
        ("27366001" + mod_11_10.calc_check_digit("27366001"), "lot-code-shape"),
        ("2632900199999999999999", "lot-code-shape"),
        ("26329001٣", "lot-code-shape"),
        ("jig no. 7", "lot-code-shape"),
        ("263290014", "lot-code-check"),
    ],
)
def test_what_is_no_lot_code_is_told_so(typed: str, rule: str) -> None:
    with pytest.raises(LabelerError) as error:
        read(typed)
    assert error.value.findings[0].rule == rule


def test_a_wrong_check_digit_is_named_with_the_right_one() -> None:
    with pytest.raises(LabelerError) as error:
        read("2632-9001-4")
    assert str(error.value.findings[0]) == (
        "lot: the last character does not fit the others: there is a slip in this lot code; "
        "found '2632-9001-4'; expected '3' at the end if the rest is right [lot-code-check]"
    )


@pytest.mark.parametrize("prefix", ["LO", "rv", "R2", "R V", "ABCDEFGHJ"])
def test_a_prefix_that_could_be_misread_is_refused(prefix: str) -> None:
    with pytest.raises(LabelerError) as error:
        LotForm(prefix=prefix)
    assert error.value.findings[0].rule == "lot-prefix"


@pytest.mark.parametrize("day", [date(1999, 12, 31), date(2100, 1, 1)])
def test_a_day_outside_the_century_is_refused(day: date) -> None:
    with pytest.raises(LabelerError) as error:
        PLAIN.write(day, 1)
    assert error.value.findings[0].rule == "lot-year"


def test_a_code_of_more_than_twenty_characters_is_refused() -> None:
    """GS1 General Specifications, AI (10): at most 20 characters."""
    with pytest.raises(LabelerError) as error:
        PLAIN.write(date(2026, 1, 1), 10**14)
    assert error.value.findings[0].rule == "lot-code-length"
