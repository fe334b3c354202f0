"""What the catalog has not told and somebody asks."""

from __future__ import annotations

import datetime as dt
from typing import Any

import pytest

from labeler.catalog.model import Product
from labeler.disclosures.needed import gaps, label_panel, needed
from labeler.disclosures.statements import imports
from labeler.findings import Finding, Grade
from labeler.units import Length

NOVEMBER = dt.date(2026, 11, 25)


def told(product: Product, *markets: str) -> list[Finding]:
    return list(gaps(product, markets, NOVEMBER))


def test_a_jig_that_tells_all_leaves_no_gap(jig: Any) -> None:
    assert told(jig(), "US", "US-ME", "US-WA", "GB", "DK") == []


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"street": None}, "no street"),
        ({"postcode": "5489"}, "ZIP code"),
        ({"postcode": "54899-12"}, "ZIP code"),
        ({"state": None}, "state"),
        ({"state": "Wisc."}, "state"),
    ],
)
def test_an_address_lacks_what_the_rule_asks(
    jig: Any, change: dict[str, str | None], words: str
) -> None:
    """16 CFR 500.5; Ohio Administrative Code 901:6-3-05."""
    found = told(jig(maker=change), "US")
    assert [(one.rule, one.grade) for one in found] == [("us-responsible", Grade.STOP)]
    assert words in found[0].message


@pytest.mark.parametrize(
    "change",
    [{"street": None, "listed": True}, {"postcode": "54899-0012"}, {"state": "Wisconsin"}],
)
def test_an_address_that_will_do(jig: Any, change: dict[str, Any]) -> None:
    assert told(jig(maker=change), "US") == []


def test_a_foreign_makers_postal_code_is_their_own_affair(jig: Any) -> None:
    foreign = {"country": "CA", "state": "ON", "postcode": "K1A 0B1"}
    assert told(jig(maker=foreign, pattern={"made_in": "CA"}), "US") == []


def test_an_address_is_not_asked_for_where_no_law_does(jig: Any) -> None:
    assert told(jig(maker={"street": None}), "GB") == []


def test_a_head_that_tells_nothing_is_told_of_once_with_all_who_ask(jig: Any) -> None:
    found = [one for one in told(jig(alloy="untold"), "US-NH", "DK") if "composition" in
             one.message]  # fmt: skip
    assert len(found) == 1
    assert found[0].grade is Grade.FIX
    assert "us-nh-lead-jig-sale" in found[0].hint
    assert "dk-lead-tackle" in found[0].hint


def test_a_length_is_asked_for_where_somebody_measures(jig: Any) -> None:
    short = jig(pattern={"length": None})
    assert [one.rule for one in told(short, "US-WA")] == ["us-wa-lead-jig-use"]
    assert told(short, "US-NH") == []


def test_a_hook_without_an_origin_costs_the_claim(jig: Any) -> None:
    found = told(jig(hook_origin=None), "US")
    assert [(one.rule, one.grade) for one in found] == [
        ("us-origin-hook", Grade.NOTE),
        ("us-origin-qualified", Grade.NOTE),
    ]
    assert "want of imports" in found[1].message


def test_where_it_is_tied_is_asked(jig: Any) -> None:
    found = told(jig(pattern={"made_in": None}), "US")
    assert [(one.rule, one.grade) for one in found] == [("us-origin-imported", Grade.FIX)]


def test_lead_free_asks_for_its_paper(jig: Any) -> None:
    assert [one.rule for one in told(jig(alloy="bismuth-tin"), "US")] == ["house-lead-free"]
    vouched = jig(alloy="bismuth-tin", certificate="Assay 12, blue folder")
    assert told(vouched, "US") == []


def test_a_kind_that_no_buyer_knows_is_told_of(jig: Any) -> None:
    found = told(jig(pattern={"kind": "creeper"}), "US")
    assert [(one.rule, one.grade) for one in found] == [("form-identity-nouns", Grade.NOTE)]


@pytest.mark.parametrize(("hook", "claim"), [("US", None), ("JP", "imported parts")])
def test_a_dressing_without_a_recipe_is_not_claimed_to_be_from_anywhere(
    jig: Any, hook: str, claim: str | None
) -> None:
    """16 CFR 323.2: what is known of hook and head is not all or virtually all of the jig."""
    bare = jig(hook_origin=hook)
    bare = bare.model_copy(update={
        "colour": bare.colour.model_copy(update={"layers": ()}),
        "materials": {"head metal": bare.materials["head metal"]},
    })  # fmt: skip
    assert imports(bare, ("US",)) == claim
    assert ("us-origin-qualified" in [one.rule for one in told(bare, "US")]) == (claim is None)


def undressed(product: Product, *tied_with: str) -> Product:
    """Return a jig without a recipe; its pattern may say what it is tied from."""
    dressing = ("silicone", "rubber")
    return product.model_copy(
        update={
            "colour": product.colour.model_copy(update={"layers": ()}),
            "pattern": product.pattern.model_copy(update={"tied_with": tied_with}),
            "materials": {
                name: part
                for name, part in product.materials.items()
                if name not in dressing or name in tied_with
            },
        }
    )


def test_whether_latex_is_in_a_skirt_without_a_recipe_is_asked(jig: Any) -> None:
    found = {one.rule: one for one in told(undressed(jig(hook_origin="US")), "US")}
    assert found["house-latex"].grade is Grade.FIX
    assert "tied_with" in found["house-latex"].message


def test_a_pattern_may_say_what_it_is_tied_from(jig: Any) -> None:
    silicone = undressed(jig(), "silicone")
    assert told(silicone, "US", "US-ME", "US-WA", "GB", "DK") == []
    assert imports(silicone, ()) == "imported hook"
    rubber = undressed(jig(rubber=True), "rubber")
    assert told(rubber, "US") == []
    panel = label_panel(Length(190), Length(70), rubber.bag)
    assert any("latex" in one.text for one in needed(rubber, ("US",), NOVEMBER, panel=panel))
