"""What `labeler new` gives a maker is whole, small, and explains itself."""

from __future__ import annotations

import re
import shutil
import tomllib
from decimal import Decimal
from pathlib import Path

import pytest

from labeler.catalog.model import Catalog, CatalogFile
from labeler.catalog.read import examine, read_catalog, starter_placeholders
from labeler.findings import Grade

TABLES = sorted(
    CatalogFile.model_fields.keys() - {"spreadsheet", "prices", "packs", "labels", "photos"}
)
"""Who has a spreadsheet of her own gets its table with her folder, made from it; prices from a day
on are written by the command that changes prices; few sell assorted packs, or print a second
language; a jig is found in its photo without being told where it is."""


def test_it_is_one_pattern_in_two_weights_and_two_colours(starter: Catalog) -> None:
    assert len(starter.file.patterns) == 1
    assert {str(product.weight) for product in starter.products} == {"3/8 oz", "1/2 oz"}
    assert len({product.colour.code for product in starter.products}) == 2
    assert len(starter.products) == 4


def test_everything_a_label_needs_is_there(starter: Catalog) -> None:
    for product in starter.products:
        assert product.price is not None
        assert product.guard is not None
        assert product.bag is not None
        assert product.alloy.composition
        assert product.hook.origin
        assert product.maker.street


@pytest.mark.parametrize("table", TABLES)
def test_every_table_is_shown(starter_folder: Path, table: str) -> None:
    data = tomllib.loads((starter_folder / "catalog.toml").read_text("utf-8"))
    assert data.get(table), table


def test_every_group_of_tables_is_explained_above_it(starter_folder: Path) -> None:
    lines = (starter_folder / "catalog.toml").read_text("utf-8").splitlines()
    explained: dict[str, bool] = {}
    remark = False
    for line in lines:
        remark = remark or line.startswith("# ")
        if heading := re.match(r"\[(\w+)", line):
            explained.setdefault(heading[1], remark)
            remark = heading[1] in ("heads", "hooks")  # one remark stands for these and guards
    assert set(explained) == set(TABLES)
    assert [table for table, told in explained.items() if not told] == []


def test_melting_lead_is_not_shown_without_its_cautions(starter_folder: Path) -> None:
    text = (starter_folder / "catalog.toml").read_text("utf-8")
    above = text[: text.index("[materials.lead]")]
    for word in ("draft", "gloves", "respirator", "children", "wash", "law"):
        assert word in above


def test_lines_are_short_enough_to_read_on_a_small_screen(starter_folder: Path) -> None:
    text = (starter_folder / "catalog.toml").read_text("utf-8")
    assert max(map(len, text.splitlines())) <= 130


def test_nothing_is_said_against_it_but_which_price_holds(starter_folder: Path) -> None:
    assert [finding.rule for finding in examine(starter_folder)[1]] == ["spreadsheet-holds"]


def test_its_spreadsheet_changes_one_sku(starter: Catalog) -> None:
    changed = {product.sku: product.price for product in starter.products if product.note}
    assert changed == {"FST-12-50-INK": Decimal("5.00")}


def test_what_is_still_the_starters_is_told_and_as_a_fault_once_the_business_is_named(
    starter_folder: Path, tmp_path: Path
) -> None:
    whole = read_catalog(starter_folder)
    (trial,) = starter_placeholders(whole)
    assert (trial.grade, "patterns.first.story" in trial.found) == (Grade.NOTE, True)
    file = shutil.copytree(starter_folder, tmp_path / "mine") / "catalog.toml"
    text = file.read_text("utf-8").replace("Your Business Name", "Alder & Sons")
    file.write_text(text, "utf-8")
    (kept,) = starter_placeholders(read_catalog(file.parent))
    assert kept.grade is Grade.FIX
    assert "maker.street, maker.city" in kept.found
    assert "maker.name" not in kept.found


def test_the_demos_line_has_nothing_of_the_starter(demo: Catalog) -> None:
    assert starter_placeholders(demo) == ()
