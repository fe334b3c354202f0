"""What is on hand, held, promised and free, of every product and lot."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

from labeler.catalog.model import Catalog

Labeler = Callable[..., Any]
SKU, OTHER = "RM-38-40-SBR", "RM-38-40-DKW"


def test_stock_counts_what_came_went_is_held_and_is_promised(
    labeler: Labeler, lot: Callable[..., str], catalog: Catalog, tmp_path: Path
) -> None:
    assert labeler("stock", "--json").json["total"]["on_hand"] == 0  # and no ledger is begun
    first, second = lot(SKU, "--count", 24), lot(SKU, "--count", 12)
    gone = lot(OTHER, "--count", 5)
    labeler("ship", first, "--to", "odd-pail", "--count", 10)
    labeler("lot", "hold", second, "--why", "hooks snap")
    labeler("lot", "void", gone, "--why", "counted wrong")
    assert labeler("order", f"{SKU}=20", "--dealer", "odd-pail").status == 0
    told = labeler("stock", "--json").json
    lines = {line["sku"]: line for line in told["products"]}
    assert lines.keys() == {product.sku for product in catalog.products}
    pack = next(each.pattern.pack for each in catalog.products if each.sku == SKU)
    sums = {"on_hand": 26, "held": 12, "promised": 20 * pack, "free": 14 - 20 * pack}
    assert {name: lines[SKU][name] for name in sums} == sums == told["total"]
    assert {each["lot"]: each["on_hand"] for each in lines[SKU]["lots"]} == {first: 14, second: 12}
    assert lines[OTHER]["on_hand"] == 0
    table = tmp_path / "stock.csv"
    assert labeler("stock", "--sku", "rm-38-*", "--lots", "--csv", table).status == 0
    rows = [row.split(",") for row in table.read_text("utf-8-sig").splitlines()[1:]]
    assert [[row[-4], *row[-2:]] for row in rows] == [
        [first, "14", ""], [second, "12", "hooks snap"],
    ]  # fmt: skip
    assert "total" in labeler("stock", "--sku", "reedmace sunday bream 3/8").out
    assert labeler("stock", "--sku", "RX-*").status == 2


def test_stock_takes_words_and_is_whole_or_none(
    labeler: Labeler, folder: Path, tmp_path: Path
) -> None:
    told = labeler("stock", "RM-38*", "--sku", "reedmace sunday bream 1/4", "--json").json
    found = {line["sku"] for line in told["products"]}
    assert {SKU, "RM-14-30-SBR"} <= found
    assert all(sku.startswith("RM-") for sku in found)
    file = folder / "catalog.toml"
    file.write_text(file.read_text("utf-8") + "\n[patterns.broken]\n", "utf-8")
    table = tmp_path / "stock.csv"
    said = labeler("stock", "--csv", table)
    assert (said.status, "patterns.broken" in said.err) == (2, True)
    assert not table.exists()
