"""Weights, lots, article numbers, prices and counts that are not those of the piece."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest

from labeler.checker.subject import KnownLot

Sheet = Any
Damage = Callable[[Sheet], None]
SKU, OTHER = "RM-14-30-TSP", "RM-14-30-SBR"
LOT = "263290013"


def changed(old: str, new: str, side: str = "front") -> Damage:
    return lambda sheet: sheet.rewrite(SKU, old, new, side)


def large_weight(figure: str, new: str) -> Damage:
    """Change a figure of the large weight."""

    def damage(sheet: Sheet) -> None:
        run = next(r for r in sheet.runs(SKU) if r.text == figure and r.size > 10)
        sheet.write(SKU, run, new)

    return damage


def small_weight(figure: str, new: str) -> Damage:
    """Change a figure of the fraction in the statement of weight."""

    def damage(sheet: Sheet) -> None:
        run = next(r for r in sheet.runs(SKU) if r.text == figure and r.size < 10)
        sheet.write(SKU, run, new)

    return damage


def nothing(sheet: Sheet) -> None:
    """Leave the file as it is, but for being saved again."""


FAULTS: list[tuple[str, str, str, Damage]] = [
    ("the large weight is another", "weight-wrong", "strip", large_weight("1", "3")),
    ("the large weight's lower figure is another", "weight-wrong", "strip", large_weight("4", "8")),
    ("the stated fraction is another", "weight-wrong", "strip", small_weight("1", "3")),
    ("two figures of the grams change places", "weight-wrong", "strip",
     changed("7.08 g", "7.80 g")),
    ("the grams are those of another weight", "weight-wrong", "strip", changed("7.08 g", "10.6 g")),
    ("the grams are rounded up at the third figure", "weight-rounded-up", "strip",
     changed("7.08 g", "7.09 g")),
    ("the grams are rounded up at the second figure", "weight-rounded-up", "strip",
     changed("7.08 g", "7.1 g")),
    ("grams cut to two figures, which is allowed, but the wording is another",
     "statement-missing", "strip", changed("7.08 g", "7 g")),
    ("a full stop after the gram", "form-units", "strip", changed("7.08 g", "7.08 g.")),
    ("the lot's figures change places", "lot-wrong", "strip", changed(LOT, "263290031")),
    ("one figure of the lot is another", "lot-wrong", "strip", changed(LOT, "263290012")),
    ("the lot is dropped", "lot-missing", "strip", changed(LOT, "")),
    ("two figures of the article number change places", "gtin-wrong", "header",
     changed("001027", "001072")),
    ("one figure of the article number is left out", "fact-unaccounted", "header",
     changed("001027", "00127")),
    ("the price is another", "price-wrong", "header", changed("$4.95", "$4.59")),
    ("another number in the pack", "quantity-wrong", "witness", changed("12 JIGS", "21 JIGS")),
    ("another SKU on the back", "piece-other-product", "witness",
     changed("RM-14-30-TSP", "RM-14-30-SBR", "back")),
    ("another colour's name", "piece-other-product", "strip",
     changed("Teaspoon Silver", "Sunday Bream")),
    ("no colour's name", "piece-nameless", "strip", changed("Teaspoon Silver", "")),
]  # fmt: skip


@pytest.mark.daily("no colour's name", "the lot is dropped")
@pytest.mark.parametrize("fault", FAULTS, ids=lambda fault: fault[0])
def test_a_figure_or_a_name_that_is_another_is_found(fault: tuple[Any, ...], hunt: Any) -> None:
    name, rule, base, damage = fault
    hunt(name, rule, base, SKU, damage)


LOTS: list[tuple[str, str, KnownLot | None]] = [
    ("the ledger has no such lot", "lot-unknown", None),
    ("the lot was withdrawn", "lot-void", KnownLot(SKU, void=True)),
    ("the lot is held", "lot-held", KnownLot(SKU, held="hooks break")),
    ("the lot is another product's", "lot-of-another", KnownLot(OTHER)),
]


@pytest.mark.daily("the ledger has no such lot")
@pytest.mark.parametrize("fault", LOTS, ids=lambda fault: fault[0])
def test_a_lot_that_the_ledger_does_not_bear_out_is_found(
    fault: tuple[str, str, KnownLot | None], hunt: Any
) -> None:
    name, rule, known = fault
    asked = []

    def known_lot(code: str) -> KnownLot | None:
        asked.append(code)
        return known

    hunt(name, rule, "strip", SKU, nothing, known_lot=known_lot)
    assert set(asked) == {LOT}


def test_a_lot_that_the_ledger_knows_is_no_fault(hunt: Any) -> None:
    names = {"RM-14-30-SBR", "RM-14-30-TSP", "RM-38-40-SBR"}

    def scratched(sheet: Sheet) -> None:
        left, top, right, bottom = sheet.code_box(SKU)
        sheet.over(SKU, f"1 g {(left + right) / 2} {(top + bottom) / 2} 5 5 re f")

    report = hunt(
        "the ledger knows the lot", "code-damaged", "strip", SKU, scratched,
        known_lot=lambda code: KnownLot(SKU),
    )  # fmt: skip
    others = {each.place.piece for each in report.findings if each.rule == "lot-of-another"}
    assert others == names - {SKU}


def test_a_lot_code_with_a_slip_in_it_is_found(misprint: Any) -> None:
    """The check character of 26329001 is 3. Source: ISO/IEC 7064:2003, MOD 11,10."""
    wish = {"lot": "263290014"}
    misprint("a lot code with a slip", "lot-invalid", "strip", SKU, {}, wish=wish)


def test_the_ledgers_product_counts_and_not_todays(
    workshop: Any, bases: dict[str, Any], grave: Any, tmp_path: Any
) -> None:
    """A label of an old lot is as the product was: the catalog has changed its price since."""
    from labeler.catalog.read import read_catalog
    from labeler.checker.judge import check_pdf

    wish = workshop.wishes["header"] | {"skus": (SKU,)}
    old = workshop.printed(bases["header"].folder, tmp_path / "old.pdf", **wish)
    today = workshop.copied(tmp_path / "today", **{'price = "4.95"': 'price = "5.95"'})
    then = {product.sku: product for product in read_catalog(old.folder).products}

    def changed_since(**how: Any) -> set[str]:
        report = check_pdf(old.pdf, today, day=workshop.day, **how)
        return {each.rule for each in grave(report)}

    assert changed_since() == {"price-wrong"}
    kept = KnownLot(SKU, product=then[SKU])
    assert changed_since(known_lot=lambda code: kept) == set()
