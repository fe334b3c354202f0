"""Slips and recall sheets with the longest names that shops, jigs and boxes have."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import pytest

from labeler.catalog.model import Product, Tie
from labeler.layout.compose import BenchPaper, Composer
from labeler.layout.facts import (
    BatchFacts,
    Recall,
    Recalled,
    RecallHolder,
    Slip,
    SlipLine,
    batch_facts,
    recall_facts,
    slip_facts,
)
from labeler.marks import Glyphs, Group, Mark

LETTER, A4 = (612.0, 792.0), (595.28, 841.89)
SHOPS = [
    "The Anchor & Auger Hardware Cooperative of Upper Sandrock",
    "Northern Reach Lodge Gift Counter and Dock Store",
    "Comptoir de pêche Trois-Étangs",
    "Aldous & Aldous",
]
MATERIALS = ["cable=CABLE-STAINLESS-0012", "glue=CYANO-26-0113", "hook=LONGHOOK-2026-11-A",
             "thread=THREAD-BOX-2291-7"]  # fmt: skip


@pytest.fixture
def wordy(product: Product) -> Product:
    """A jig of seven grams whose name is a sentence."""
    name = "The Slow Fall of a Leaf on a Morning Without Any Wind"
    pattern = product.pattern.model_copy(update={"name": name, "pack": 2})
    colour = product.colour.model_copy(update={"name": "Fallen Linden in November"})
    weight = type(product.weight).parse("7 g")
    return product.model_copy(update={"pattern": pattern, "colour": colour, "weight": weight})


def said(marks: tuple[Mark, ...]) -> str:
    """Return all that stands on a page, without the breaks of its lines."""
    words = []
    for mark in marks:
        if isinstance(mark, Glyphs):
            words.append(mark.text)
        elif isinstance(mark, Group) and not mark.key:
            words.append(said(mark.marks))
    return " ".join(" ".join(words).replace("\xa0", " ").split())


def page(layout: str, size: tuple[float, float], facts: Mapping[str, Any], shown: Product) -> str:
    paper = BenchPaper(layout, size, facts, others={shown.sku: shown})
    (face,) = Composer().compose_paper(paper).faces
    return said(face.marks)


@pytest.mark.parametrize("size", [LETTER, A4])
def test_a_dozen_lines_stand_on_a_slip_with_the_weight_as_the_label_states_it(
    wordy: Product, size: tuple[float, float]
) -> None:
    parcels = [SlipLine(f"2632900{n:02d}", wordy, 1_200, "2026-11-25") for n in range(12)]
    lines = ("10 Millrace Road, second door past the old ferry landing", "Alder Ferry, WI 54899")
    slip = Slip(
        wordy.maker, "2026-0183", "2026-11-25", SHOPS[0], (*lines, "Canada"), False, parcels,
        "Carton 1 of 2; " * 12, "Order 2600018, your purchase order 4471-B of last Friday", "USA",
    )  # fmt: skip
    text = page("packing-slip", size, slip_facts(slip, parcels, (4, 4)), wordy)
    assert text.count("Fallen Linden in November") == 12
    assert text.count("7 g") == 12
    assert "oz" not in text
    assert "Cooperative of Upper Sandrock" in text
    for each in ("2026-0183", "Canada", "WI 54899, USA", "2600018, your purchase order 4471-B"):
        assert each in text


@pytest.mark.parametrize("size", [LETTER, A4])
@pytest.mark.parametrize("tight", [False, True])
def test_a_recall_is_never_refused_for_a_long_name(
    wordy: Product, size: tuple[float, float], tight: bool
) -> None:
    dealers = [
        RecallHolder(
            name, 1_200, "+1 218-555-0143 ext. 4", "the.counter@anchor-and-auger.example.com"
        )
        for name in SHOPS
    ] * 2
    lots = [
        Recalled(
            f"2632900{n:02d}", wordy, "2026-11-25", 4_800, 4_800, 0, True, dealers[: n + 1],
            MATERIALS,
        )
        for n in range(6)
    ]  # fmt: skip
    recall = Recall(
        wordy.maker, "LONGHOOK-2026-11-A", ("supplier's lot LONGHOOK-2026-11-A",),
        "2026-11-25 15:46 UTC", lots, dealers, tight,
        why="Hooks of the box that came on the third of November snap at the bend. " * 2,
    )  # fmt: skip
    text = page("recall-sheet", size, recall_facts(recall, dealers, lots, (1, 1)), wordy)
    assert text.count("THREAD-BOX-2291-7") == 6
    assert text.count("Cooperative of Upper Sandrock") >= 3
    assert "7 g, hook 4/0" in text


def test_papers_of_a_jig_without_recipe_and_hook_size_tell_neither(product: Product) -> None:
    bare = product.model_copy(
        update={
            "hook_size": None,
            "colour": product.colour.model_copy(update={"layers": ()}),
            "pattern": product.pattern.model_copy(update={"tie": Tie()}),
        }
    )
    card = batch_facts(BatchFacts(bare, "263290013", "", 24, "2026-11-25", "2026-11-25", 12))
    (face,) = Composer().compose_paper(BenchPaper("batch-card", LETTER, card, bare)).faces
    batch = said(face.marks)
    assert "No recipe in the catalog: tie by your own note" in batch
    slip = Slip(bare.maker, "E8D3B589", "2026-11-25", SHOPS[0], (), False, [
        SlipLine("263290013", bare, 24, "2026-11-25")])  # fmt: skip
    packed = page("packing-slip", LETTER, slip_facts(slip, slip.parcels, (1, 1)), bare)
    lot = Recalled("263290013", bare, "2026-11-25", 24, 0, 24, False, [], [])
    recall = Recall(bare.maker, "HK-1", ["hook"], "now", [lot], [])
    recalled = page("recall-sheet", LETTER, recall_facts(recall, [], [lot], (1, 1)), bare)
    assert bare.sku in recalled
    for paper in (batch, packed, recalled):
        assert "None" not in paper
        assert "hook ·" not in paper
