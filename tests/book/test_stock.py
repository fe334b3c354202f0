"""What lies ready for an order, and which pages lots have, by a ledger that is really kept."""

from __future__ import annotations

import datetime as dt
import shutil
from collections.abc import Callable
from pathlib import Path

import pytest

from labeler.app.book import make_pages
from labeler.app.orders import OrderRequest, look_at_order, stock_of
from labeler.book.order import Stock
from labeler.book.site import page_path
from labeler.catalog.model import Product
from labeler.catalog.read import read_catalog
from labeler.ledger.assign import Batch, assign, hold, void
from labeler.ledger.lots import list_lots
from labeler.ledger.open import open_ledger
from tests.unread import unread

DAY = dt.date(2026, 11, 25)


@pytest.fixture
def bench(tmp_path: Path, demo_folder: Path) -> Path:
    """A copy of the demo in which lots of two products have been opened."""
    folder = tmp_path / "bench"
    shutil.copytree(demo_folder, folder, ignore=shutil.ignore_patterns("ledger*"))
    catalog = read_catalog(folder)
    by_sku = {product.sku: product for product in catalog.products}
    with open_ledger(folder) as ledger:
        for sku, count in (("RM-14-30-SBR", 20), ("RM-14-30-SBR", 12), ("TD-116-6-INK", 13)):
            assign(ledger, batch(by_sku[sku], count))
    return folder


def batch(product: Product, count: int) -> Batch:
    return Batch(product=product, count=count, made=DAY)


@pytest.mark.daily
def test_packs_on_hand_are_whole_packs_of_all_lots_together(bench: Path) -> None:
    ready = stock_of(bench, read_catalog(bench))
    assert ready("RM-14-30-SBR") == Stock(32)
    assert ready("TD-116-6-INK") == Stock(6)  # thirteen jigs, two to a pack
    assert ready("RM-14-30-TSP") == Stock(0)  # it never had a lot


def test_what_is_held_or_void_is_not_ready(bench: Path) -> None:
    with open_ledger(bench) as ledger:
        first, second, _ = (lot.code for lot in list_lots(ledger))
        hold(ledger, first, "hooks break")
        void(ledger, second, "counted wrong")
    stock = stock_of(bench, read_catalog(bench))
    assert stock("RM-14-30-SBR") == Stock(0, held=20)


def test_a_folder_without_a_ledger_has_nothing_ready(demo_folder: Path, tmp_path: Path) -> None:
    folder = tmp_path / "plain"
    shutil.copytree(demo_folder, folder, ignore=shutil.ignore_patterns("ledger*"))
    assert stock_of(folder, read_catalog(folder))("RM-14-30-SBR") == Stock(0)
    assert not list(folder.glob("ledger*"))


@pytest.mark.siege
def test_an_order_is_held_against_the_ledger(
    bench: Path, tmp_path: Path, make: Callable[..., object]
) -> None:
    import openpyxl

    out, sheet = tmp_path / "book.pdf", tmp_path / "o.xlsx"
    with unread():
        make(bench, out, dealer="odd-pail", only=("reedmace",), order_sheet=sheet)
    book = openpyxl.load_workbook(sheet)
    for row in book["Order"].iter_rows():
        if row[0].value == "RM-14-30-SBR":
            row[-1].value = 40
    book.save(tmp_path / "filled.xlsx")
    order = look_at_order(OrderRequest(bench, tmp_path / "filled.xlsx")).order
    assert [(line.stock.ready, line.short) for line in order.lines] == [(32, 8)]


def test_every_lot_of_the_ledger_has_its_page(bench: Path, tmp_path: Path) -> None:
    made = make_pages(bench, tmp_path / "site", DAY)
    assert made.lots == 3
    product = next(one for one in read_catalog(bench).products if one.sku == "RM-14-30-SBR")
    folder = tmp_path / "site" / page_path(product).parent
    lots = sorted(folder.glob("10/*/index.html"))
    assert len(lots) == 2
    for lot in lots:
        assert lot.parent.name in lot.read_text("utf-8")
        assert lot.parent.name in (folder / "index.html").read_text("utf-8")
