"""Words that neither the catalog nor a layout accounts for, each on a piece of its own."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any
from xml.sax.saxutils import escape

import pytest

from labeler.catalog.read import read_catalog
from labeler.checker.judge import check_pdf
from labeler.checker.report import Report
from labeler.findings import Grade

STOP, FIX = "stop", "fix"

PLANTED: list[tuple[str, str, str]] = [
    # What the words say that are printed beside a good label; the grade; how they are found.
    ("half ounce", STOP, "weight-wrong"),
    ("three eighths", FIX, "words-unaccounted"),
    ("three eighths of an ounce", STOP, "weight-wrong"),
    ("7/16-oz", STOP, "weight-wrong"),
    ("1-3/8 oz", STOP, "weight-wrong"),
    ("seven sixteenths oz.", STOP, "weight-wrong"),
    ("one and a half ounces", STOP, "weight-wrong"),
    ("a quarter pound", STOP, "weight-wrong"),
    ("ten grams", FIX, "words-unaccounted"),
    ("twelve grams", STOP, "weight-wrong"),
    ("150 grain", STOP, "fact-unaccounted"),
    ("Net 12.4", STOP, "fact-unaccounted"),
    ("395¢", STOP, "price-wrong"),
    ("3.95 USD", STOP, "price-wrong"),
    ("USD 3.95", STOP, "price-wrong"),
    ("CA$6.49", STOP, "price-wrong"),
    ("four dollars", STOP, "price-wrong"),
    ("95 cents", STOP, "price-wrong"),
    ("€4", STOP, "price-wrong"),
    ("20% off", STOP, "fact-unaccounted"),
    ("Sale! Buy two", STOP, "fact-unaccounted"),
    ("Batch 263290021", STOP, "lot-wrong"),
    ("Lot 263290021", STOP, "lot-wrong"),
    ("Serial A-1001", STOP, "lot-wrong"),
    ("Best before 2027-05-01", STOP, "fact-unaccounted"),
    ("Made on 11/02/26", STOP, "fact-unaccounted"),
    ("Pack of six", STOP, "quantity-wrong"),
    ("3-pack", STOP, "quantity-wrong"),
    ("two dozen", STOP, "quantity-wrong"),
    ("Contents: 5", STOP, "quantity-wrong"),
    ("4 pcs", STOP, "quantity-wrong"),
    ("Qty 25", STOP, "quantity-wrong"),
    ("a pair", STOP, "fact-unaccounted"),
    ("Made in China", STOP, "fact-unaccounted"),
    ("Product of Norway", STOP, "fact-unaccounted"),
    ("Tied in Vermont", STOP, "fact-unaccounted"),
    ("Made in Minnesota", STOP, "fact-unaccounted"),
    ("Fabriqué au Canada", STOP, "fact-unaccounted"),
    ("All American", STOP, "fact-unaccounted"),
    ("Pb-free", STOP, "fact-unaccounted"),
    ("leadless", STOP, "fact-unaccounted"),
    ("Safe for ducks", STOP, "fact-unaccounted"),
    ("eco-minded", STOP, "fact-unaccounted"),
    ("tungsten head", STOP, "fact-unaccounted"),
    ("Ages 3 and up", STOP, "fact-unaccounted"),
    ("Guaranteed for life", STOP, "fact-unaccounted"),
    ("Patent pending", STOP, "fact-unaccounted"),
    ("CHOKING HAZARD", STOP, "fact-unaccounted"),
    ("Not a toy", STOP, "fact-unaccounted"),
    ("Harmful if inhaled", STOP, "fact-unaccounted"),
    ("715-555-0199", STOP, "fact-unaccounted"),
    ("Call 555 0123", STOP, "fact-unaccounted"),
    ("jigs.example.org", STOP, "fact-unaccounted"),
    ("www.hobbins.example.com", STOP, "fact-unaccounted"),
    ("sales@hobbin.example.com", STOP, "fact-unaccounted"),
    ("16 Cooper's Row", STOP, "fact-unaccounted"),
    ("Alder Ferry, WI 54898", STOP, "fact-unaccounted"),
    ("9 Mill Lane, Otter Falls", STOP, "fact-unaccounted"),
    ("Hobbin & Sons LLC", STOP, "fact-unaccounted"),
    ("RM-38-40-ZZZ", STOP, "fact-unaccounted"),
    ("Item 4471", STOP, "fact-unaccounted"),
    ("Hook 5/0", STOP, "hook-wrong"),
    ("Hook #2", STOP, "fact-unaccounted"),
    ("in the Swim jig family", STOP, "fact-unaccounted"),
    ("in Delft Craw", STOP, "fact-unaccounted"),
    ("Model 12", STOP, "fact-unaccounted"),
    ("9521234000999", STOP, "gtin-wrong"),
    ("Hobbin and Daughter", FIX, "words-unaccounted"),
    ("DRAFT", FIX, "words-unaccounted"),
    ("Lorem ipsum", FIX, "words-unaccounted"),
    ("12", FIX, "words-unaccounted"),
    ("xx", FIX, "words-unaccounted"),
    ("Ask for Wren", FIX, "words-unaccounted"),
    ("Ooops", FIX, "words-unaccounted"),
    ("See over", FIX, "words-unaccounted"),
]  # fmt: skip

LAYOUT = """<piece name="planted" safe="1/16 in">
  <front pad="9pt, 10pt, 8pt, 10pt" gap="3pt">
    <row gap="8pt">
      <column share="1">
        <text name="pattern" style="name" most="14pt" least="7pt" lines="2">{{ product.pattern }}</text>
        <text name="colour" style="colour" most="10pt" least="7pt" lines="2">{{ product.colour }}</text>
      </column>
      <text name="weight" style="weight" most="24pt" lines="1">{{ product.weight_number }} {{ product.weight_unit }}</text>
    </row>
    <text name="planted" style="note" most="9pt" lines="1">WORDS</text>
    <spacer share="1"/>
    <row gap="10pt" valign="bottom">
      <column share="1" gap="2pt">
        <text name="hook" style="note" most="7pt" lines="1">Hook {{ product.hook_size }}</text>
        <text name="lot" style="note" most="7pt" lines="1">Lot {{ lot }}</text>
      </column>
      {% if link %}<code name="link" align="right"/>{% endif %}
    </row>
    <disclosure name="disclosures" most="7pt"/>
  </front>
</piece>
"""


@dataclass(frozen=True)
class Planted:
    """One file in which every piece bears other words, and what is said of each."""

    report: Report
    sku_of: dict[str, str]


def with_words(folder: Path, words: str) -> Path:
    """Put the layout with some words into a catalog's folder."""
    (folder / "layouts").mkdir(exist_ok=True)
    (folder / "layouts" / "planted.xml.jinja").write_text(LAYOUT.replace("WORDS", words), "utf-8")
    (folder / "layouts" / "layouts.toml").write_text(
        '[planted]\nabout = "To be damaged."\nuse = "bags"\n'
        'least = ["3 in", "1 3/4 in"]\nmost = ["6 in", "6 in"]\n'
    )
    return folder


@pytest.fixture(scope="module")
def planted(workshop: Any, tmp_path_factory: pytest.TempPathFactory) -> Planted:
    """Print a piece for each row of the table, and check it against the catalog without them."""
    root = tmp_path_factory.mktemp("planted")
    true = with_words(workshop.copied(root / "true"), "")
    skus = [p.sku for p in read_catalog(true).products if p.weight.oz_text != "3/8 oz"]
    assert len(skus) >= len(PLANTED)
    sku_of = {words: sku for (words, _, _), sku in zip(PLANTED, skus, strict=False)}
    cases = "".join(
        f'{{% if product.sku == "{sku}" %}}{escape(words)}{{% endif %}}'
        for words, sku in sku_of.items()
    )
    false = with_words(workshop.copied(root / "false"), cases)
    run = workshop.printed(
        false, root / "planted.pdf", skus=tuple(sku_of.values()), sheet="letter-2x3",
        layout="planted",
    )  # fmt: skip
    return Planted(check_pdf(run.pdf, true, day=workshop.day), sku_of)


@pytest.mark.parametrize("row", PLANTED, ids=lambda row: row[0])
def test_words_that_nothing_accounts_for_are_told(
    row: tuple[str, str, str], planted: Planted, expect_fault: Callable[..., None]
) -> None:
    words, grade, rule = row
    sku = planted.sku_of[words]
    expect_fault(f"printed beside: {words}", rule, planted.report, sku)
    mine = [each for each in planted.report.findings if each.place.piece == sku]
    assert max(mine, key=lambda each: (Grade.NOTE, Grade.FIX, Grade.STOP).index(each.grade)).grade.value == grade  # fmt: skip


def test_nothing_else_is_said_of_pieces_that_bear_no_such_words(
    workshop: Any, tmp_path: Path, grave: Any
) -> None:
    """A maker's own layout with its own words, in its own folder, is accounted for."""
    folder = with_words(
        workshop.copied(tmp_path / "own"), "Since the flood. Fish it slow, near the bottom!"
    )
    run = workshop.printed(
        folder, tmp_path / "own.pdf", skus=("RM-*", "EP-*"), sheet="letter-2x3", layout="planted"
    )
    report = check_pdf(run.pdf, folder, day=workshop.day)
    assert report.pieces > 10
    assert not grave(report), report.as_text()
