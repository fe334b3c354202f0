"""Type: measured from outlines, broken well, as large as it fits, or an error by name."""

from __future__ import annotations

import math
from collections.abc import Callable
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from labeler.catalog.model import Product
from labeler.findings import Finding
from labeler.layout.alike import below_aim
from labeler.layout.compose import Composer, Job
from labeler.marks import Glyphs, Piece
from labeler.type.faces import typeface
from labeler.type.setting import (
    BETWEEN,
    FIGURE_SHARE,
    Span,
    break_well,
    glyphs_of,
    keep_units,
    text_of,
    width_of,
    words_of,
)
from labeler.type.styles import read_styles
from labeler.units import Weight

Lay = Callable[..., Piece]
Runs = Callable[[Piece], list[Glyphs]]

NAME = read_styles()["name"]
STORY = read_styles()["story"]
WEIGHT = read_styles()["weight"]

words = st.lists(st.text("abcdefghijklmnop", min_size=1, max_size=12), min_size=1, max_size=30)


def told(text: str) -> str:
    return " ".join("".join(a.text for a in w.atoms) for w in words_of([Span(STORY, text)]))


@given(words, st.floats(2_000, 40_000), st.booleans())
def test_no_word_is_lost_and_no_line_is_too_long(
    said: list[str], measure: float, balance: bool
) -> None:
    text = words_of([Span(STORY, " ".join(said))])
    broken = break_well(text, measure, balance)
    if broken is None:
        assert max(word.left + word.width + word.right for word in text) > measure
        return
    assert [word for line in broken for word in line] == list(text)
    assert all(width_of(line) <= measure for line in broken)


@given(words, st.floats(6_000, 40_000))
def test_breaking_evenly_takes_no_more_lines_than_breaking_greedily(
    said: list[str], measure: float
) -> None:
    text = words_of([Span(NAME, " ".join(said))])
    broken = break_well(text, measure, balance=True)
    greedy, used = 0, math.inf
    for word in text:
        if used + word.width + word.right > measure:
            greedy, used = greedy + 1, word.left
        used += word.width + word.gap
    assert broken is None or len(broken) == greedy


def test_no_word_is_left_alone_on_the_last_line() -> None:
    text = words_of([Span(STORY, "It swims level through standing reeds and rolls a bit so")])
    for measure in range(9_000, 20_000, 250):
        broken = break_well(text, measure, balance=False)
        assert broken is not None
        last = broken[-1]
        alone = len(last) == 1 and len(broken) > 1
        before = broken[-2] if alone else ()
        if alone:  # only where the line above has no word to spare
            assert len(before) == 1 or width_of((before[-1], *last)) > measure


@pytest.mark.parametrize(
    ("text", "kept"),
    [
        ("3/8 oz", "3/8\u00a0oz"),
        ("a 10.6 g head", "a 10.6\u00a0g head"),
        ("1 1/2 oz", "1\u20091/2\u00a0oz"),
        ("trim 1/4 in past", "trim 1/4\u00a0in past"),
        ("7 gulls", "7 gulls"),
        ("12 strands", "12\u00a0strands"),
    ],
)
def test_a_number_and_its_unit_stay_together(text: str, kept: str) -> None:
    assert keep_units(text) == kept


@pytest.mark.parametrize(
    "weight",
    ["1/32", "1/24", "1/16", "3/32", "1/8", "3/16", "1/4", "5/16", "3/8", "7/16", "1/2", "5/8",
     "3/4", "7/8", "1", "1 1/4", "1 1/2"],
)  # fmt: skip
def test_every_weight_of_the_trade_is_set_as_a_fraction(weight: str) -> None:
    """Common practice, no published source; most have no code point of their own."""
    text = text_of((Span(WEIGHT, Weight.parse(f"{weight} oz").oz_text),), WEIGHT, 30, 30, 1)
    setting = text.largest(500, 100, 30)
    assert setting is not None
    runs = list(glyphs_of(text, setting, 0, 0, 500, "left"))
    assert not text.lacking
    if "/" in weight:
        upper, slash, lower = (r for r in runs if r.text in (*weight.split()[-1].split("/"), "⁄"))
        cap = WEIGHT.face.cap_height
        bold = typeface("sans-bold").cap_height
        assert slash.text == "⁄"
        assert upper.y - bold * upper.size / 1000 == pytest.approx(lower.y - cap * 30 / 1000)
        assert upper.size == lower.size == pytest.approx(FIGURE_SHARE * 30)
        assert upper.x + upper.width < lower.x + lower.width


def test_a_hook_size_is_no_fraction(lay: Lay, runs: Runs) -> None:
    (run,) = runs(lay("<text>{{ product.hook_size }}</text>"))
    assert run.text == "4/0"


def test_figures_are_tabular_where_the_style_says_so() -> None:
    face = typeface("sans-semibold")
    ones, eights = face.shape("1111", tabular=True), face.shape("8888", tabular=True)
    assert ones.width == pytest.approx(eights.width)
    assert face.shape("1111").width < face.shape("8888").width


def test_a_text_takes_the_largest_size_that_fits(lay: Lay, runs: Runs) -> None:
    wide = runs(lay('<text style="name" share="1" lines="1">{{ product.pattern }}</text>'))
    assert wide[0].size == NAME.most
    narrow = runs(
        lay('<text style="name" share="1" lines="1" width="60pt">Marsh Lantern</text>', (68, 100))
    )
    (run,) = narrow
    assert NAME.least < run.size < NAME.most
    assert run.width <= 60.03
    bigger = text_of((Span(NAME, "Marsh Lantern"),), NAME, 22, 8, 1).at(run.size + 0.1, 60)
    assert bigger is None


def test_what_does_not_fit_is_named_with_both_measures(
    faults: Callable[..., tuple[Finding, ...]],
) -> None:
    (found,) = faults(
        '<text name="title" style="name" lines="1">Rhabarberbarbarabar</text>', (60, 90)
    )
    assert found.rule == "layout-overflow"
    assert found.place.block == "title"
    assert "mm" in found.expected


def test_letters_that_a_face_lacks_are_named(faults: Callable[..., tuple[Finding, ...]]) -> None:
    (found,) = faults("<text>海 Reed 鯉</text>")
    assert found.rule == "missing-letters"
    assert found.found == "海 (U+6D77) 鯉 (U+9BC9)"


def test_an_accent_on_a_capital_stays_inside_the_box(lay: Lay) -> None:
    piece = lay('<text style="name">ÉPHÉMÈRE</text>')
    (run,) = (m for m in piece.faces[0].marks if isinstance(m, Glyphs))
    top, _ = typeface(run.face).ink_of("É")
    assert run.y - top * run.size / 1000 >= -0.01


@given(words, st.floats(40, 300), st.floats(20, 300))
def test_a_set_text_stays_in_its_box(said: list[str], width: float, height: float) -> None:
    text = text_of((Span(NAME, " ".join(said)),), NAME, 22, 8, 1_000)
    setting = text.largest(width, height, 22)
    if setting is None:
        return
    for run in glyphs_of(text, setting, 10, 20, width, "right"):
        top, bottom = NAME.face.ink_of(run.text)
        assert run.x >= 10 - 0.05
        assert run.x + run.width <= 10 + width + 0.05
        assert run.y - top * run.size / 1000 >= 20 - 0.05
        assert run.y - bottom * run.size / 1000 <= 20 + height + 0.05


LETTERS = "abcdefghijkmnopqrstuvwxyzAVTWYLPFÄÖÉçøŁß0123456789 .,-/()&'"


@pytest.mark.parametrize("style", sorted(read_styles()))
@settings(max_examples=settings().max_examples // 2)
@given(st.lists(st.text(LETTERS, min_size=1, max_size=14), min_size=1, max_size=6))
def test_a_line_is_drawn_exactly_as_wide_as_it_was_measured(style: str, said: list[str]) -> None:
    """Whatever is kerned, tracked or tabular in it, and wherever one style ends in a line."""
    base, other = read_styles()[style], read_styles()["field"]
    spans = [
        Span((base, other)[n % 2], f"{part} ", (1.0, 0.8)[n % 2]) for n, part in enumerate(said)
    ]
    text = text_of(tuple(spans), base, 10, 10, 1)
    setting = text.largest(5_000, 100, 10)
    assert setting is not None
    runs = list(glyphs_of(text, setting, 0, 0, 5_000, "left"))
    if runs:
        end = runs[-1].x + runs[-1].width
        assert end + text.words[-1].right / 100 == pytest.approx(setting.width, abs=0.01)
    for run in runs:
        face = typeface(run.face)
        advances = sum(map(face.advance_of, run.text)) + sum(run.shifts)
        assert run.width == pytest.approx(advances * run.size / 1000, abs=0.01)


@pytest.mark.parametrize(
    ("typed", "set_as"),
    [("Épinoche", "Épinoche"), ("Gröpüszander", "Gröpüszander")],
)
def test_marks_typed_after_their_letter_are_composed_with_it(
    lay: Lay, runs: Runs, typed: str, set_as: str
) -> None:
    """The Unicode Standard, annex #15: canonically equivalent text looks the same."""
    (run,) = runs(lay(f'<text style="name">{typed}</text>'))
    assert run.text == set_as


@pytest.mark.parametrize(
    "letter", ["\u202e", "\u00ad", "\u2028", "q\u0303", "\u05d0", "\u0627", "\U0001f41f", "\u200b"]
)
@pytest.mark.parametrize("style", ["name", "note", "colour"])
def test_what_no_row_of_glyphs_stands_for_is_refused_by_its_number(
    faults: Callable[..., tuple[Finding, ...]], letter: str, style: str
) -> None:
    (found,) = faults(f'<text name="it" style="{style}">Reed {letter} mace</text>')
    assert (found.rule, found.place.block) == ("missing-letters", "it")
    assert f"U+{ord(letter[-1]):04X}" in found.found


def test_greek_and_cyrillic_names_are_set_where_the_face_has_them(lay: Lay, runs: Runs) -> None:
    assert runs(lay('<text style="name">Καλάμι</text>'))[0].text == "Καλάμι"
    assert runs(lay('<text style="colour">Камыш</text>'))[0].text == "Камыш"


@pytest.mark.parametrize(
    ("said", "words"),
    [
        ("Chartreuse/Pearl/Black", 3),
        ("RIVER-VESPER", 2),
        ("Fliegenfischer–Traum", 2),
        ("RM-38-40-SBR", 1),
        ("4/0", 1),
        ("X-ray", 1),
        ("50 %", 1),
    ],
)
def test_a_line_may_end_between_two_words_and_never_inside_a_number(said: str, words: int) -> None:
    assert len(words_of([Span(NAME, said)])) == words


def test_the_point_between_two_statements_stands_though_the_first_ends_in_a_space() -> None:
    words = words_of([Span(STORY, "Contains lead. "), Span(STORY, BETWEEN), Span(STORY, "Sharp.")])
    assert [word.gap_text for word in words] == [" ", " · ", ""]


def test_a_text_never_outgrows_the_one_it_is_under(lay: Lay, runs: Runs) -> None:
    """A name on two lines is set small; the one word below it has room for more, and leaves it."""
    both = (
        '<text name="pattern" style="name" most="20pt" least="6pt" lines="1">'
        "Thirty-Four Letters Of A Long Name</text>"
        '<text name="colour" style="colour" most="20pt" least="6pt"{under}>Marsh</text>'
    )
    name, colour = runs(lay(both.format(under=' under="pattern"')))
    assert colour.size == pytest.approx(name.size)  # both faces have capitals of like height
    name, colour = runs(lay(both.format(under="")))
    assert colour.size > name.size * 1.2


@pytest.mark.parametrize(("aim", "told"), [("9pt", True), ("6pt", False)])
def test_capitals_lower_than_aimed_at_are_told(
    tmp_path: Path, product: Product, aim: str, told: bool
) -> None:
    """At 10 pt Noto Serif's capitals stand 7.14 pt high: 714 thousandths, by its OS/2 table."""
    (tmp_path / "layouts").mkdir()
    (tmp_path / "layouts" / "mine.xml.jinja").write_text(
        '<piece safe="0pt"><front><text name="pattern" style="name" most="10pt" least="6pt" '
        f'aim="{aim}">Reedmace</text></front></piece>',
        "utf-8",
    )
    job = Job(product, "mine", (200, 100))
    found = [
        (each.rule, each.place.piece, each.found)
        for each in below_aim([(job, Composer(tmp_path).compose_with_pictures(job))])
    ]
    assert found == ([("text-below-aim", product.sku, "capitals 7.1 pt high")] if told else [])
