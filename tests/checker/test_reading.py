"""Glyphs become lines and lines become passages as an eye reads them."""

from __future__ import annotations

import random
from collections.abc import Iterable

import pytest
from hypothesis import given
from hypothesis import strategies as st

from labeler.checker.page.elements import Font, Glyph
from labeler.checker.page.text import TextPassage, lines_of, passages
from labeler.checker.rules.claims import said_in

FACE = Font("Test-Regular", 400, True, True)


def typed(
    text: str, x: float, y: float, size: float = 6.0, turned: bool = False, spaces: bool = True
) -> list[Glyph]:
    """Set a line of letters half an em wide each, from left to right or upside down."""
    step = size / 2 * (-1 if turned else 1)
    glyphs = []
    for number, letter in enumerate(text):
        if letter == " " and not spaces:
            continue
        at = x + number * step
        area = 0.0 if letter == " " else size
        box = (min(at, at + step), y - size, max(at, at + step), y)
        glyphs.append(
            Glyph(
                letter, letter, FACE, size, at, y, (step, 0.0), box, size, 0.0, area,
                (0, 0, 0), 1.0, 0, (0.0, 0.0, 999.0, 999.0), 0,
            )
        )  # fmt: skip
    return glyphs


def read(glyphs: Iterable[Glyph]) -> list[str]:
    return [passage.text for passage in passages(lines_of(glyphs))]


def test_lines_under_each_other_are_read_on() -> None:
    glyphs = typed("Sharp hook.", 10, 20) + typed("Keep from children", 10, 27)
    assert read(glyphs) == ["Sharp hook. Keep from children"]


def test_the_order_of_painting_counts_for_nothing() -> None:
    glyphs = typed("and pets.", 10, 27) + typed("Keep from children", 10, 20)
    assert read(glyphs) == ["Keep from children and pets."]


def test_columns_side_by_side_are_read_apart() -> None:
    left = typed("Swim jig of lead", 10, 20) + typed("wash your hands", 10, 27)
    right = typed("LOT 263290013", 120, 20) + typed("price on tag", 120, 27)
    assert sorted(read(right + left)) == [
        "LOT 263290013 price on tag",
        "Swim jig of lead wash your hands",
    ]


def test_lines_far_apart_are_not_one_passage() -> None:
    assert read(typed("Reedmace", 10, 20) + typed("Contains lead.", 10, 40)) == [
        "Reedmace",
        "Contains lead.",
    ]


def test_what_stands_upside_down_is_read_as_it_is_turned() -> None:
    """The back of a card that folds stands on its head on the flat sheet."""
    glyphs = typed("Wash hands", 100, 40, turned=True) + typed("after use.", 100, 33, turned=True)
    assert read(glyphs) == ["Wash hands after use."]


def test_a_gap_is_a_space_though_none_is_drawn() -> None:
    assert read(typed("Contains lead.", 10, 20, spaces=False)) == ["Contains lead."]


def test_letters_set_wide_are_still_one_word() -> None:
    glyphs = typed("LOT", 10, 20)
    for number, glyph in enumerate(glyphs):
        glyph.x += number * 0.09 * 6
    assert read(glyphs) == ["LOT"]


def built_fraction(upper: str, lower: str, size: float, x: float, y: float) -> list[Glyph]:
    small = 0.64 * size
    top = typed(upper, x, y - 0.3 * size, small)
    slash = typed("⁄", x + len(upper) * small / 2, y, size)
    foot = typed(lower, slash[0].x + size / 2, y, small)
    return top + slash + foot


@pytest.mark.parametrize(("upper", "lower"), [("1", "4"), ("3", "16"), ("5", "32"), ("1", "100")])
def test_a_fraction_built_of_small_figures_reads_as_one(upper: str, lower: str) -> None:
    glyphs = typed("Head ", 10, 50, 6) + built_fraction(upper, lower, 6, 25, 50)
    end = glyphs[-1].x + glyphs[-1].across[0]
    glyphs += typed(" oz", end, 50, 6)
    assert read(glyphs) == [f"Head {upper}/{lower} oz"]


def test_a_vulgar_fraction_of_one_sign_reads_like_a_built_one() -> None:
    assert read(typed("⅜ oz", 10, 20)) == ["3/8 oz"]


def passage(text: str) -> TextPassage:
    (found,) = passages(lines_of(typed(text, 0, 20)))
    return found


@pytest.mark.parametrize(
    ("text", "wanted", "there"),
    [
        ("Pack: 2 JIGS inside", "2 JIGS", True),
        ("12 JIGS", "2 JIGS", False),
        ("1/2 JIGS", "2 JIGS", False),
        ("1.2 JIGS", "2 JIGS", False),
        ("2 JIGSAWS", "2 JIGS", False),
        ("Total: 2 JIGS.", "2 JIGS", True),
        ("Contains lead.", "Contains lead.", True),
        ("It Contains lead.Free", "Contains lead.", True),
        ("contains lead.", "Contains lead.", False),
        ("7.08 g", "7.08 g", True),
        ("17.08 g", "7.08 g", False),
    ],
)
def test_words_are_found_whole(text: str, wanted: str, there: bool) -> None:
    assert bool(list(passage(text).find(wanted))) == there


@pytest.mark.parametrize(
    ("lines", "wanted", "there"),
    [
        (["Brook Tumbler, Olive/", "Orange"], "Brook Tumbler, Olive/Orange", True),
        (["made lead-", "free here"], "lead-free", True),
        (["Olive/ Orange"], "Olive/Orange", False),  # a space that is printed
        (["weighs 3/", "8 oz"], "3/8 oz", False),  # a figure parted
        (["Olive/", "Blue Orange"], "Olive/Orange", False),
        (["Olive", "Orange"], "Olive/Orange", False),
        (["Olive/", "Oranges"], "Olive/Orange", False),
    ],
)
def test_a_line_may_end_after_a_slash_or_a_hyphen(
    lines: list[str], wanted: str, there: bool
) -> None:
    glyphs = [one for at, text in enumerate(lines) for one in typed(text, 0, 20 + 7 * at)]
    (found,) = passages(lines_of(glyphs))
    assert bool(list(found.find(wanted))) == there


def test_capitals_are_let_pass_only_where_asked() -> None:
    assert list(passage("SWIM JIG").find("Swim jig", any_case=True)) == [(0, 8)]
    assert not list(passage("SWIM JIG").find("Swim jig"))


words = st.lists(st.text("abcdefgh", min_size=1, max_size=7), min_size=1, max_size=30)


@given(words, st.integers(20, 60), st.randoms())
def test_any_text_that_is_set_reads_back(
    said: list[str], width: int, chance: random.Random
) -> None:
    """Set in lines of at most so many letters and painted in any order of lines."""
    lines, line = [], ""
    for word in said:
        if line and len(line) + 1 + len(word) > width:
            lines.append(line)
            line = ""
        line = f"{line} {word}".strip()
    lines.append(line)
    runs = [typed(text, 10, 20 + 7 * number) for number, text in enumerate(lines)]
    chance.shuffle(runs)
    assert read(glyph for run in runs for glyph in run) == [" ".join(said)]


TORN = {
    ("MADE IN", "THE USA"), ("Hand-tied in", "Alder Ferry, Wisconsin"), ("LEAD", "FREE"),
    ("Made", "in China"), ("Safe for", "loons"), ("MADE", "IN", "AMERICA"), ("No", "Pb"),
    ("Made with", "no lead"), ("KID", "APPROVED"), ("Hooks made in", "Taiwan"),
    ("AMERICAN", "MADE"),
}  # fmt: skip
"""Claims of two and three lines; in what way each is one stands with the rules on words."""

UNRELATED = {
    ("Hard lead", "Free Spirit"), ("Hand-tied", "Alder Ferry, WI"), ("Contains lead.", "Free"),
    ("Made by hand", "LOT 263290013"), ("LEAD", "3/8 oz"), ("Head: hard lead", "Free"),
    ("Hand-tied one by one", "USA"), ("Alder Ferry, WI", "Hand-tied"), ("Safe for", "12 JIGS"),
    ("Kids and lead", "Wash hands"),
}  # fmt: skip


def spread(lines: Iterable[str], right: float, down: float) -> list[str]:
    """Return what is said in lines of which each stands apart from the one before it."""
    glyphs: list[Glyph] = []
    x, y = 20.0, 40.0
    for text in lines:
        glyphs += typed(text, x, y)
        x, y = x + (right + 3 * len(text) if right else 0), y + down
    return [text for text, _ in said_in(passages(lines_of(glyphs)))]


@pytest.mark.parametrize(("right", "down"), [(0, 14), (0, 30), (0, 46), (12, 0), (40, 0), (8, 13)])
def test_a_claim_of_whole_lines_is_read_however_far_they_stand_apart(
    right: float, down: float
) -> None:
    for lines in sorted(TORN):
        assert any(" ".join(lines) in " ".join(text.split()) for text in spread(lines, right, down))
    for lines in sorted(UNRELATED):
        assert sorted(spread(lines, right, down)) == sorted(lines)


def test_a_line_between_two_parts_them() -> None:
    glyphs = typed("NOT", 20, 40) + typed("CONTAIN", 20, 54) + typed("LEAD", 20, 68)
    assert spread(["NOT", "LEAD"], 0, 28) == ["NOT", "LEAD", "NOT\nLEAD"]
    assert "NOT\nLEAD" not in [text for text, _ in said_in(passages(lines_of(glyphs)))]


def test_what_stands_below_a_torn_claim_is_read_with_it_and_may_qualify_it() -> None:
    glyphs = typed("MADE IN", 20, 40) + typed("THE USA", 20, 60)
    glyphs += typed("with imported hooks", 20, 67)
    said = [text for text, _ in said_in(passages(lines_of(glyphs)))]
    assert said == ["MADE IN", "THE USA\nwith imported hooks",
                    "MADE IN\nTHE USA\nwith imported hooks"]  # fmt: skip


def test_a_line_that_leads_two_ways_hides_no_claim() -> None:
    """The eye goes on to the wider of two lines below it; the claim goes on in the other."""
    glyphs = typed("HAND-TIED IN", 20, 40) + typed("LOT 26329", 20, 47) + typed("USA", 65, 47)
    assert "HAND-TIED IN\nUSA" in [text for text, _ in said_in(passages(lines_of(glyphs)))]
