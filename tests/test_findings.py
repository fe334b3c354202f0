"""Findings read like a sentence to the maker, and the nearest name is near."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from labeler.findings import (
    Finding,
    Grade,
    LabelerError,
    Place,
    did_you_mean,
    listed,
    masked,
    nearest,
    stop,
)


def test_a_finding_says_where_what_stands_there_and_what_was_expected() -> None:
    finding = stop(
        "weight-unread",
        Place(file="catalog.toml", line=12, key="patterns.reedmace.weights[1]"),
        "this is no weight",
        found="'3/8'",
        expected="a weight with its unit",
        hint="Write 3/8 oz.",
    )
    assert str(finding) == (
        "catalog.toml:12, patterns.reedmace.weights[1]: this is no weight; found '3/8'; "
        "expected a weight with its unit [weight-unread]\n    Write 3/8 oz."
    )


def test_a_finding_in_a_spreadsheet_names_the_cell() -> None:
    assert str(Place(file="products.xlsx", cell="C14")) == "products.xlsx cell C14"


def test_json_leaves_out_what_is_not_known() -> None:
    finding = Finding("a-rule", Grade.NOTE, Place(page=2, piece="RM-38"), "said")
    assert finding.as_json() == {
        "rule": "a-rule",
        "grade": "note",
        "place": {"page": 2, "piece": "RM-38"},
        "message": "said",
    }


@given(st.lists(st.text("abc-", min_size=1, max_size=90), max_size=60), st.integers(0, 6))
def test_a_list_names_all_that_fits_and_one_more_is_named(names: list[str], most: int) -> None:
    said = listed(names, most)
    whole, _, counted = said.partition(" and ")
    shown = whole.split(", ") if whole else []
    left = int(counted.removesuffix(" more")) if counted else 0
    assert (shown, len(shown) + left) == (names[: len(shown)], len(names))
    assert left != 1
    assert most or not left or len(whole) > 480 - 92, "six lines of a screen are filled first"


def test_nearest_ignores_case_and_gives_up_on_the_far() -> None:
    assert nearest("Reedmice", ["reedmace", "thistledown"]) == "reedmace"
    assert nearest("xyz", ["reedmace"]) == ""
    assert did_you_mean("xyz", []) == ""
    assert did_you_mean("xyz", ["b", "a"]) == "Known: a, b"


def test_one_error_carries_all_findings() -> None:
    error = LabelerError(stop(f"rule-{n}", Place(), "said") for n in range(3))
    assert len(error.findings) == 3
    assert error.exit_status == 2


@pytest.mark.parametrize(
    ("text", "copied"),
    [
        ("postgresql://ann:s3/cr@et@h/j", "postgresql://ann:***@h/j"),
        ("(ann:s3cret@h/j) and bo:x@i", "(ann:***@h/j) and bo:***@i"),
        ("a:1 b://c 'd:e' f@g", "a:1 b://c 'd:e' f@g"),
        ("h?user=ann&PassWord = s3cret&x=1", "h?user=ann&PassWord = ***&x=1"),
    ],
)
def test_no_password_is_copied(text: str, copied: str) -> None:
    assert masked(text) == copied


@pytest.mark.parametrize("end", [" x@y", "@", "&k=1"])
@pytest.mark.parametrize("letters", ["x", "a:", "pass", "b://"])
def test_a_cell_as_long_as_a_book_is_read_once(letters: str, end: str) -> None:
    """A search that began again at each letter would take hours here."""
    assert masked(letters * 300_000 + end).endswith(end)
