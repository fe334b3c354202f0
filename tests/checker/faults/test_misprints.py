"""Labels printed from another catalog than today's: an older one, a copy, somebody else's."""

from __future__ import annotations

from typing import Any

import pytest

SKU = "RM-14-30-TSP"
LEAD = 'composition = { lead = "97 %", antimony = "3 %" }'

MISPRINTS: list[tuple[str, str, str, dict[str, str]]] = [
    ("printed before the maker moved", "statement-missing", "strip",
     {'street = "14 Cooper\'s Row"': 'street = "2 Mill Lane"'}),
    ("printed with a slip in the ZIP code", "statement-missing", "strip",
     {'postcode = "54899"': 'postcode = "54898"'}),
    ("printed before the tenth person came", "statement-missing", "witness",
     {"employees = 14\n": "employees = 9\n"}),
    ("printed for a metal without lead", "statement-missing", "strip",
     {LEAD: 'composition = { bismuth = "97 %", antimony = "3 %" }'}),
    ("called lead-free before the metal changed", "house-claim-lead-free", "header",
     {LEAD: 'composition = { bismuth = "97 %", tin = "3 %" }'}),
    ("printed with links to another site", "code-other-address", "strip",
     {'links = "https://go.example.com"': 'links = "https://shop.example.com"'}),
    ("printed at last year's price", "price-wrong", "header", {'price = "4.95"': 'price = "4.50"'}),
    ("printed for ten in a pack", "quantity-wrong", "witness", {"pack = 12": "pack = 10"}),
    ("printed when the colour had another name", "piece-nameless", "strip",
     {'name = "Teaspoon Silver"': 'name = "Tin Spoon"'}),
    ("printed from another catalog", "catalog-changed", "strip",
     {"employees = 2\n": "employees = 3\n"}),
    ("an article number of GS1's examples", "gtin-sample", "strip", {}),
    ("sold on in one more state since", "markets-changed", "strip",
     {'markets = ["US", "US-CA", "US-MN", "US-WI", "CA"]': 'markets = ["US", "US-CA"]'}),
]  # fmt: skip


@pytest.mark.parametrize("fault", MISPRINTS, ids=lambda fault: fault[0])
def test_labels_of_another_catalog_are_found(fault: tuple[Any, ...], misprint: Any) -> None:
    name, rule, base, changes = fault
    misprint(name, rule, base, SKU, changes)


def test_a_weight_in_the_makers_own_story_is_only_noted(
    workshop: Any, tmp_path: Any, expect_fault: Any
) -> None:
    """A story may speak of another weight; it is in the catalog, so the maker knows of it."""
    from labeler.checker.judge import check_pdf

    folder = workshop.copied(
        tmp_path / "story", **{"Reedmace began with a skirt": "A 3/4 oz sinker began with a skirt"}
    )
    base = workshop.printed(folder, tmp_path / "story.pdf", **workshop.wishes["insert"])
    report = check_pdf(base.pdf, folder, day=workshop.day)
    expect_fault("another weight in the maker's own story", "weight-in-own-words", report, SKU)
    assert not report.stops


@pytest.mark.parametrize(
    ("wrong", "told"), [("Reedmace began with a skert", 2), ("Reedmace begun, and more", 2)]
)
def test_of_a_story_only_the_sentence_that_differs_is_told(
    wrong: str, told: int, workshop: Any, bases: dict[str, Any], tmp_path: Any
) -> None:
    """Of six lines; its first sentence stands on two of them."""
    from labeler.checker.judge import check_pdf

    folder = workshop.copied(tmp_path / "story", **{"Reedmace began with a skirt": wrong})
    report = check_pdf(bases["insert"].pdf, folder, day=workshop.day)
    mine = [
        one.found
        for one in report.findings
        if one.rule in ("words-unaccounted", "fact-unaccounted") and one.place.piece == SKU
    ]
    assert mine, "a letter that differs is told"
    assert len(mine) <= told
    assert "bumped on a stem" not in " ".join(mine)


@pytest.mark.daily
def test_labels_of_the_same_catalog_for_another_place_of_sale(
    workshop: Any, bases: dict[str, Any], expect_fault: Any
) -> None:
    """Made for the demo's places of sale and then offered to a shop in New Hampshire."""
    from labeler.checker.judge import check_pdf

    base = bases["strip"]
    report = check_pdf(base.pdf, base.folder, day=workshop.day, markets=("US", "US-NH"))
    expect_fault("offered in New Hampshire", "us-nh-lead-jig-sale", report, "RM-14-30-SBR")
    assert report.stops
