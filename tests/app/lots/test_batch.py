"""What a batch asks of the bench, worked out and printed on its card."""

from __future__ import annotations

from collections.abc import Callable
from fractions import Fraction
from pathlib import Path
from typing import Any

import numpy as np
import pypdfium2
import pytest
from hypothesis import given
from hypothesis import strategies as st
from pypdf import PdfReader

from labeler.catalog.casting import cautions_for, layer_needs, metal_for, packs_of
from labeler.catalog.model import Catalog, Product
from labeler.layout.facts import in_all
from labeler.units import GRAMS_PER_OUNCE, Weight

pytestmark = pytest.mark.daily

Labeler = Callable[..., Any]
HAND = (9, 18, 12, 22)
"""Strands of four layers. What they come to is a check value worked by hand: common practice, no
published source."""


def with_layers(catalog: Catalog, strands: tuple[int, ...], waste: str | None = None) -> Product:
    product = next(p for p in catalog.products if p.sku == "RM-38-40-SBR")
    first = product.colour.layers[0]
    layers = tuple(first.model_copy(update={"strands": n, "shade": f"shade {n}"}) for n in strands)
    colour = product.colour.model_copy(update={"layers": layers})
    share = Fraction(waste.rstrip("% ")) / 100 if waste else None
    tie = product.pattern.tie.model_copy(update={"waste": share})
    pattern = product.pattern.model_copy(update={"tie": tie})
    return product.model_copy(update={"colour": colour, "pattern": pattern})


def test_a_recipe_tied_twelve_times_comes_out_as_by_hand(catalog: Catalog) -> None:
    needs = layer_needs(with_layers(catalog, HAND), 12)
    assert [need.strands for need in needs] == [108, 216, 144, 264]
    assert [need.tabs for need in needs] == [5, 10, 7, 12]  # of 22 strands each


def test_what_is_lost_is_pulled_on_top_and_rounded_up(catalog: Catalog) -> None:
    needs = layer_needs(with_layers(catalog, HAND, "5 %"), 12)
    assert [need.with_waste for need in needs] == [114, 227, 152, 278]
    assert [need.tabs for need in needs] == [6, 11, 7, 13]
    assert [need.strands for need in needs] == [108, 216, 144, 264]


@given(st.integers(1, 400), st.integers(1, 500))
def test_the_tabs_opened_hold_the_strands_and_one_fewer_would_not(
    catalog: Catalog, strands: int, jigs: int
) -> None:
    (need,) = layer_needs(with_layers(catalog, (strands,)), jigs)
    assert need.tabs
    assert (need.tabs - 1) * 22 < strands * jigs <= need.tabs * 22


def test_hair_is_pulled_by_the_words_of_the_recipe(catalog: Catalog) -> None:
    hair = next(p for p in catalog.products if p.sku == "ND-14-10-COA")
    assert [(need.strands, need.tabs) for need in layer_needs(hair, 12)] == [(None, None)] * 2


def test_heads_weigh_together_what_their_mould_gives(catalog: Catalog) -> None:
    loon = next(p for p in catalog.products if p.sku == "LL-38-40-LNB")
    # A 1/2 oz cavity marked for lead (11.34 g/cm3, CRC Handbook, from memory), filled with
    # bismuth-tin of 8.56 g/cm3.
    by_hand = 60 * Fraction(1, 2) * GRAMS_PER_OUNCE * Fraction("8.56") / Fraction("11.34")
    assert abs(metal_for(loon, 60).grams / by_hand - 1) < Fraction(1, 1000)


def test_weights_are_told_in_both_systems() -> None:
    assert in_all(Weight(Fraction(45, 2), "oz")) == "637 g (1 lb 6.5 oz)"
    assert in_all(Weight(Fraction(2000), "g")) == "2 kg (4 lb 6.5 oz)"
    assert in_all(Weight(Fraction(10), "g")) == "10 g (0.4 oz)"


def test_jigs_fill_packs_and_the_last_may_lack_one(catalog: Catalog) -> None:
    pair = next(p for p in catalog.products if p.pattern.pack == 2)
    assert [packs_of(pair, jigs) for jigs in (1, 2, 3, 24)] == [1, 1, 2, 12]


def test_lead_is_warned_of_where_there_is_lead_and_nowhere_else(catalog: Catalog) -> None:
    for product in catalog.products:
        titles = [caution.title for caution in cautions_for(product)]
        assert ("Lead" in titles) == product.has_lead
        assert {"Hot metal", "Hooks", "First"} <= set(titles)
        assert "safety data sheets" in cautions_for(product)[-1].text


@pytest.mark.daily("letter")
@pytest.mark.parametrize("paper", ["letter", "a4"])
def test_the_card_tells_the_bench_everything_on_one_page(
    labeler: Labeler, lot: Callable[..., str], tmp_path: Path, paper: str
) -> None:
    code = lot("RM-38-40-SBR", "--count", 60, "--material", "hook=HK-2291", "--note", "second pour")
    out = tmp_path / "card.pdf"
    assert labeler("lot", "card", code, "--out", out, "--paper", paper).status == 0
    (page,) = PdfReader(out).pages
    text = "".join(page.extract_text().split())  # some readers see a space beside a tabular 1
    for words in (
        code, "Reedmace", "Sunday Bream", "1,320", "660", "of 22", "HK-2291", "Hard lead",
        "Light brush guard", "14 wraps", "3⁄8 in past the bend", "10 minutes, nose down",
        "Weigh-in: 12 jigs", "second pour", "Lead.", "safety data sheets",
    ):  # fmt: skip
        assert words.replace(" ", "") in text, words
    width = 612 if paper == "letter" else 595
    assert int(page.mediabox.width) == width


def test_what_is_to_be_tied_gets_its_cards_in_one_file_and_opens_no_lot(
    labeler: Labeler, folder: Path, tmp_path: Path
) -> None:
    out = tmp_path / "week.pdf"
    wanted = ("reedmace sunday bream 3/8=24", "ND-38-20-FRO=12", "RM-38-40-SBR=6")
    said = labeler("lot", "card", *wanted, "--out", out, "--json").json
    assert said["products"] == [
        {"sku": "RM-38-40-SBR", "count": 30},  # what is named twice is one card
        {"sku": "ND-38-20-FRO", "count": 12},
    ]
    first, second = ("".join(page.extract_text().split()) for page in PdfReader(out).pages)
    assert "SundayBream" in first
    assert "660" in first  # 22 strands a jig, 30 jigs
    assert "FirstFrost" in second
    assert "Opened" not in first
    assert not list(folder.glob("ledger.sqlite*"))
    assert labeler("lot", "card", "263290013", wanted[0], "--out", out).status == 2


@pytest.mark.parametrize("lots", [True, False], ids=["of a lot", "of what is to be tied"])
def test_a_card_in_black_has_no_color_on_it(
    lots: bool, labeler: Labeler, folder: Path, tmp_path: Path
) -> None:
    out, of = tmp_path / "card.pdf", "RM-38-40-SBR=6"
    if lots:
        said = labeler("lot", "assign", "RM-38-40-SBR", "--count", "6", "--json").json
        of = said["lots"][0]["lot"]
    for ink, colored in (("black", False), ("colour", True)):
        assert labeler("lot", "card", of, "--out", out, "--ink", ink).status == 0
        with pypdfium2.PdfDocument(out) as document:
            seen = np.asarray(document[0].render(scale=1).to_pil().convert("RGB"), dtype=int)
        assert bool((np.ptp(seen, axis=2) > 8).any()) == colored


@pytest.mark.siege
def test_every_product_of_the_line_has_a_card_that_fits(
    labeler: Labeler, catalog: Catalog, folder: Path, tmp_path: Path
) -> None:
    one_of_each = {p.pattern.code: p for p in catalog.products}.values()
    batches = tmp_path / "batches.csv"
    rows = "".join(f"{p.sku},96,2026-11-25\r\n" for p in one_of_each)
    batches.write_text(f"SKU,Count,Made\r\n{rows}")
    lots = labeler("lot", "assign", "--from", batches, "--json").json["lots"]
    assert len(lots) == len(one_of_each)
    for each in lots:
        said = labeler("lot", "card", each["lot"], "--out", tmp_path / "card.pdf", "--paper", "a4")
        assert said.status == 0, said.err


@pytest.mark.siege
def test_the_same_card_is_the_same_bytes(
    labeler: Labeler, lot: Callable[..., str], tmp_path: Path
) -> None:
    code = lot()
    for name in ("1.pdf", "2.pdf"):
        labeler("lot", "card", code, "--out", tmp_path / name)
    assert (tmp_path / "1.pdf").read_bytes() == (tmp_path / "2.pdf").read_bytes()


def test_what_is_named_twice_counts_together(labeler: Labeler, tmp_path: Path) -> None:
    many = "RM-38-40-SBR=600000"
    said = labeler("lot", "card", many, many, "--out", tmp_path / "cards.pdf")
    assert (said.status, "1,200,000" in said.err) == (2, True)
    assert not (tmp_path / "cards.pdf").exists()
