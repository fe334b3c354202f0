"""Finished text: any text comes out with the marks of a printer, and nothing else of it changed."""

from __future__ import annotations

import re

import pytest
from hypothesis import given
from hypothesis import strategies as st

from labeler.disclosures.statements import folded
from labeler.files import shipped
from labeler.type.finish import finished, finished_html, spelled
from labeler.type.setting import keep_units
from labeler.units import NO_BREAK_SPACE

_ADDRESS = "https://go.example.com/01/09521234001010/10/263330011"
_PIECES = st.sampled_from([
    "Miller's", "Cooper's Row", '"Magnum"', "'Delft'", "the anglers' choice", "3/8 oz", "1 1/2 in",
    "(7.08 g)", "Head 1/2 oz (14.1 g) nom.", "hook 3/0", "RM-38-40-SBR", "263330011", "7 g",
    '2 3/16"', "6' rod", "'90s", "rock 'n' roll", _ADDRESS, "bench@hobbin.example.com", "3/4",
    "don't", "·", "(", ")", "-", "“so”", "it’s", "Head", "nom.", "1/4, 3/8 and 1/2 oz",
    "21 strands", "é", "5 %",
])  # fmt: skip
TEXTS = st.one_of(
    st.lists(_PIECES, max_size=7).map(" ".join),
    st.text("aA s'\"1 3/8.,()-“’⁄\u00a0\u2009ozging", max_size=40),
    st.text(max_size=40),
)
_CODES = re.compile(r"[A-Z]{2}-\d\d-\d\d-[A-Z]{3}|\d{9,}|\S+://\S+|\S+@\S+\.\S+")


@given(TEXTS)
def test_finished_text_is_finished_and_says_the_same(text: str) -> None:
    done = finished(text)
    assert finished(done) == done
    assert len(done) == len(text)
    assert re.findall(r"\d", done) == re.findall(r"\d", text)
    assert _CODES.findall(done) == _CODES.findall(text)
    assert folded(done) == folded(text.replace(" ", " "))


@given(TEXTS.filter(lambda text: not re.search(r"://|www\.|@|[\w-]\.\w+/|labeler |--", text)))
def test_no_straight_quote_is_left_and_no_quantity_can_be_torn(text: str) -> None:
    done = keep_units(finished(text))
    assert not set("'\"") & set(done)
    assert not re.search(r"\d (?:oz|g|kg|mg|lb|in|ft|mm|cm|pt)\b", done)
    assert not re.search(r"\b[Hh]ead \d", done)
    assert not re.search(
        r"\d\u00a0(?:oz|g|lb|in|mm) \(\d+(?:\.\d+)?\u00a0(?:oz|g|lb|in|mm)\)", done
    )


@pytest.mark.parametrize(
    ("typed", "printed"),
    [
        # Apostrophes, quotes, primes: The Chicago Manual of Style, 17th ed., 6.115, 6.117, 10.66
        # (from memory).
        ("Cooper's Row", "Cooper’s Row"),
        ('the "big" one', "the “big” one"),
        ("the '90s", "the ’90s"),
        ("rock 'n' roll", "rock ’n’ roll"),
        ("'Delft' and 'Kiln'", "‘Delft’ and ‘Kiln’"),
        ("\"it's 'fine'\"", "“it’s ‘fine’”"),
        ("6' rod, 3/8\" head", "6′ rod, 3⁄8″ head"),
        ('"3/8" wide"', "“3⁄8″ wide”"),
        ("hook 3/0", "hook 3/0"),
        ("lot 3/4", "lot 3/4"),
        ("tied 3/14 in Ohio", "tied 3/14\u00a0in Ohio"),
        ("3/16 in past the bend", "3⁄16\u00a0in past the bend"),
        ("1 1/2 x 2 3/16 in", "1\u20091⁄2 x 2\u20093⁄16\u00a0in"),
        ("Head 1/2 oz (14.1 g) nom.", "Head 1⁄2 oz (14.1 g) nom.".replace(" ", NO_BREAK_SPACE)),
        ("(nominal) 1/2 oz", "(nominal) 1⁄2 oz".replace(" ", NO_BREAK_SPACE)),
        ("labeler bags --sku 'RM-*'. It's so", "labeler bags --sku 'RM-*'. It’s so"),
        ("https://example.com/it's", "https://example.com/it's"),
    ],
)
def test_a_text_is_printed_as_a_printer_would(typed: str, printed: str) -> None:
    assert finished(typed) == printed


def test_a_page_of_the_web_is_finished_in_its_words_alone() -> None:
    page = (
        "<p title='a \"b\"'>Miller<b>&#39;s</b> &quot;own&quot; 3/8 oz "
        "<code>--sku 'x'</code><script>'y'</script><!-- 'z' --></p>"
    )
    assert finished_html(page) == (
        "<p title='a \"b\"'>Miller<b>’s</b> “own” 3/8\u00a0oz "
        "<code>--sku 'x'</code><script>'y'</script><!-- 'z' --></p>"
    )


def test_a_page_whose_faces_can_has_its_fractions_built() -> None:
    page = "<title>3/8 oz</title><p title='3/8 oz'>3/8 oz, 1 1/2 in, hook 3/0, <b>3⁄16 oz</b>"
    parts = '{}<span class="over">{}</span>⁄<span class="under">{}</span>'
    built = f'<span class="amount">{parts}</span>'
    eighths, half = built.format("", 3, 8), built.format("1\u00a0", 1, 2)
    assert finished_html(page, fractions=True) == (
        f"<title>3/8\u00a0oz</title><p title='3/8 oz'>{eighths}\u00a0oz, {half}\u00a0in, "
        f"hook 3/0, <b>{built.format('', 3, 16)}\u00a0oz</b>"
    )


@pytest.mark.parametrize(
    ("country", "text"),
    [
        ("US", "Vapors, DRAFT, mold, fibers, Color, aluminum, labeled"),
        ("GB", "Vapours, DRAUGHT, mould, fibres, Colour, aluminium, labelled"),
        ("AU", "Vapours, DRAUGHT, mould, fibres, Colour, aluminium, labelled"),
        ("CA", "Vapours, DRAFT, mould, fibres, Colour, aluminum, labelled"),
    ],
)
def test_our_own_words_are_spelled_as_in_the_makers_country(country: str, text: str) -> None:
    for written in ("Vapors, DRAFT, mold, fibers, Color, aluminum, labeled", text):
        assert spelled(written, country) == text
    assert spelled("Colorado, draftsman, moldable", country) == "Colorado, draftsman, moldable"


def test_no_layout_that_ships_has_a_word_that_is_spelled_otherwise_elsewhere() -> None:
    """Such words come from the facts, which know the maker's country."""
    for file in shipped("layouts").glob("*.xml.jinja"):
        source = re.sub(
            r"\{#.*?#\}|\{%.*?%\}|\{\{.*?\}\}|<[^>]*>", "|", file.read_text("utf-8"), flags=re.S
        )
        for country in ("US", "GB", "CA"):
            assert spelled(source, country) == source, file.name
