"""A product's words stand wherever a SKU does: said where one is meant, several never guessed."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import click
import pytest

from labeler.app.tied import read_tied
from labeler.cli.group import VERBS
from labeler.cli.group import labeler as group
from labeler.findings import Place

Labeler = Callable[..., Any]
Lot = Callable[..., str]

SKU, WORDS, SEVERAL = "ND-38-20-FRO", "november doe first frost 3/8", "november doe 3/8"
COMMANDS: dict[str, tuple[str, ...]] = {
    "bags --sku": ("bags", "--sku", "{}=2", "--trial", "--out", "out.pdf"),
    "cards --sku": ("cards", "--sku", "{}", "--trial", "--out", "out.pdf"),
    "catalog --only": ("catalog", "--for", "retail", "--only", "{}", "--out", "book.pdf"),
    "layouts --specimen": ("layouts", "--specimen", "{}", "--out", "out.pdf"),
    "lot assign SKU": ("lot", "assign", "{}", "--count", "6", "--sure"),
    "lot card LOT ... | SKU=N ...": ("lot", "card", "{}=6", "--out", "card.pdf"),
    "lot list --sku": ("lot", "list", "--sku", "{}"),
    "lot opening SKU=N ...": ("lot", "opening", "{}=6", "--sure"),
    "markets --sku": ("markets", "--sku", "{}", "--market", "US"),
    "order FILE | SKU=PACKS ...": ("order", "{}=2", "--customer", "Ada", "--look"),
    "prices --sku": ("prices", "--sku", "{}"),
    "reprint SKU|LOT[=N]": ("reprint", "{}=1", "--trial", "--out", "out.pdf"),
    "ship LOT|SKU[=N] ...": ("ship", "{}=1", "--customer", "Ada", "--again"),
    "stock --sku": ("stock", "--sku", "{}"),
    "stock [SKU ...]": ("stock", "{}"),
    "trace TEXT": ("trace", "{}"),
}
"""Every place for a SKU: the command's words, with a gap for the product."""


def places(command: click.Command, name: str) -> Iterator[str]:
    """Yield every argument and option of a command, and of those in it, that takes a product."""
    if isinstance(command, click.Group):
        for each in command.list_commands(click.Context(command)):
            inner = command.get_command(click.Context(command), each)
            assert inner is not None
            yield from places(inner, f"{name} {each}".strip())
    for param in command.params:
        shown = param.make_metavar(click.Context(command))
        spoken = f"{shown} {getattr(param, 'help', '') or ''}"
        option = param.opts[0] if isinstance(param, click.Option) else shown
        if "SKU" in spoken or (name, param.name) == ("trace", "text"):
            yield f"{name} {option}"


def test_every_place_for_a_sku_is_tried() -> None:
    found = {each.replace("[SKU]", "SKU").replace("TEXT...", "TEXT") for each in places(group, "")}
    assert set(VERBS) >= {each.split()[0] for each in found}
    assert found == set(COMMANDS)


def test_words_are_taken_wherever_a_sku_is(
    labeler: Labeler, lot: Lot, folder: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    code = lot(SKU)
    other = lot("ND-38-20-COA")
    for place, words in COMMANDS.items():
        named = labeler(*(each.format(WORDS) for each in words))
        assert named.status == 0, (place, named.err)
        assert f"{SKU}: is the one product so called" in named.err, place
        several = labeler(*(each.format(SEVERAL) for each in words))
        assert several.status == 2, place
        assert "sku-several" in several.err, place
        assert all(each in several.err for each in (SKU, "ND-38-20-COA", "ND-38-20-FOX")), place
        none = labeler(*(each.format("november doe first frost 5/8") for each in words))
        assert none.status == 2, place
        assert none.err.startswith("stop  "), place
    assert other not in labeler("trace", WORDS).out
    with (folder / "products.csv").open("a", encoding="utf-8") as file:
        file.write(f"{SKU},,,,,,,,,,yes\n")
    for place in ("lot list --sku", "reprint SKU|LOT[=N]", "ship LOT|SKU[=N] ...", "trace TEXT"):
        retired = labeler(*(each.format(WORDS) for each in COMMANDS[place]))
        assert retired.status == 0, (place, retired.err)
    assert code in retired.out
    for place in ("bags --sku", "cards --sku", "catalog --only", "lot assign SKU", "markets --sku"):
        said = labeler(*(each.format(WORDS) for each in COMMANDS[place]))
        assert said.status == 2, place
        assert f"{SKU}: is retired and no longer sold" in said.err, place
        assert code in said.err or f"labeler lot list --sku {SKU}" in said.err, place
    assert labeler("bags", "--sku", WORDS, "--out", "out.pdf").err.count(f"--lot {code} (made") == 1


def test_a_lot_code_where_a_product_is_meant_is_told_as_one(labeler: Labeler, lot: Lot) -> None:
    code = lot(SKU)
    for place in ("bags --sku", "cards --sku", "lot list --sku"):
        said = labeler(*(each.format(code) for each in COMMANDS[place]))
        assert said.status == 2, place
        assert "this is a lot code where a product is meant" in said.err, place
        assert f"--lot {code}" in said.err, place


def test_words_of_a_parcel_without_their_quotes_are_told_together(
    labeler: Labeler, lot: Lot
) -> None:
    lot(SKU)
    said = labeler("ship", *WORDS.split(), "--count", 2, "--customer", "Ada")
    assert (said.status, f'"{WORDS}"=2' in said.err) == (2, True), said.err
    assert f"{SKU}: these words are one product" in said.err
    said = labeler("ship", *f"{WORDS}=2".split(), "--customer", "Ada")
    assert (said.status, f'in quotes: "{WORDS}=2"' in said.err) == (2, True), said.err
    said = labeler("ship", "november", "moe", "3/8", "--count", 2, "--customer", "Ada")
    assert said.status == 2
    assert said.err.count("stop  ") == 1
    assert "November Doe, First Frost, 3/8 oz" in said.err
    assert 'in quotes: "november moe 3/8"=2' in said.err


def test_a_note_that_says_a_products_name_hides_no_lot_of_it(labeler: Labeler, lot: Lot) -> None:
    of_it, noted = lot(SKU), lot("RM-38-40-SBR", "--note", f"beside {WORDS} on the peg")
    said = labeler("trace", *WORDS.split())
    assert of_it in said.out
    assert noted in said.out


def test_a_slip_in_a_sku_is_no_slip_in_a_lot_code(labeler: Labeler, lot: Lot) -> None:
    lot(SKU)
    said = labeler("ship", "ND-38-20-FRP=2", "--customer", "Ada")
    assert (said.status, SKU in said.err, "lot code" in said.err) == (2, True, False)
    said = labeler("ship", "ND-14-10-FRO=2", "--customer", "Ada")
    assert (said.status, "no lot of this product" in said.err) == (2, True)


def test_a_reprint_of_what_was_never_printed_says_what_was(
    labeler: Labeler, tmp_path: Path
) -> None:
    out = tmp_path / "out.pdf"
    assert labeler("bags", "--sku", SKU, "--start", "next", "--out", out).status == 0
    said = labeler("reprint", SKU, "--kind", "cards", "--count", 1, "--out", tmp_path / "c.pdf")
    assert said.status == 2
    assert "no such piece of it was printed; found run 1 (labels, printed)" in said.err
    assert "knows no" not in said.err


def test_dozens_are_counts_wherever_one_stands(labeler: Labeler, tmp_path: Path) -> None:
    log = tmp_path / "log.csv"
    log.write_bytes(b"sku,count\r\nRM-38-40-SBR,2 doz\r\nRM-38-40-TSP,a dozen\r\n")
    lots = labeler("lot", "assign", "--from", log, "--json").json["lots"]
    assert [each["count"] for each in lots] == [24, 12]
    order = labeler("order", "RM-38-40-SBR=1 doz", "--customer", "Ada", "--json").json["order"]
    assert order["packs"] == 12
    moved = labeler("ship", "RM-38-40-SBR=a dozen", "--fair", "Spring", "--json").json["moves"]
    assert [each["count"] for each in moved] == [12]
    said = labeler("ship", "RM-38-40-SBR=2 bags", "--fair", "Spring")
    assert (said.status, "dozens: =2 doz" in said.err) == (2, True)
    (first, second) = read_tied("river, vesper = 2 doz., B = 1,200", Place())
    assert [(first.sku, first.count), (second.sku, second.count)] == [
        ("river, vesper", 24), ("B", 1200),
    ]  # fmt: skip
