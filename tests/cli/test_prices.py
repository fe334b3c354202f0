"""Prices through the command line: seen first, then written; a lot and a day keep theirs."""

from __future__ import annotations

import json
import re
import tomllib
from collections.abc import Callable
from pathlib import Path
from typing import Any

import openpyxl
import pytest
from pypdf import PdfReader

from labeler import files
from labeler.catalog import edit

Labeler = Callable[..., Any]
MARSH = "FST-38-40-MAR"


@pytest.fixture
def price_of(line: Path, run_cli: Labeler) -> Callable[..., str]:
    """Return a function that tells what a SKU costs on a day, as the command says it."""

    def ask(sku: str, *words: str) -> str:
        said = run_cli("--catalog", line, "prices", "--sku", sku, "--json", *words)
        return str(json.loads(said.out)["prices"][0]["retail"])

    return ask


def test_nothing_is_written_until_it_is_wanted_and_a_code_makes_two_one(
    line: Path, run_cli: Labeler, price_of: Callable[..., str]
) -> None:
    def change(*words: str) -> Any:
        return run_cli("--catalog", line, "prices", "--change", "+10 %", "--round", "0.05", *words)

    before = (line / "catalog.toml").read_bytes()
    shown = change()
    assert "4.50 -> 4.95  2.95 -> 3.20" in shown.out
    assert (line / "catalog.toml").read_bytes() == before
    code = re.findall(r"--write --shown (\w+)", shown.out)[0]
    assert change("--write", "--shown", code).status == 0
    assert price_of(MARSH) == "4.95"
    after = (line / "catalog.toml").read_bytes()
    assert [a == b for a, b in zip(before.splitlines(), after.splitlines(), strict=True)].count(
        False
    ) == 2, "price and prices, and not one comment"  # fmt: skip
    again = change("--write", "--shown", code)
    assert again.status == 2
    assert "changed already" in again.err
    assert (line / "catalog.toml").read_bytes() == after


def test_a_few_products_go_beside_the_others(
    line: Path, run_cli: Labeler, price_of: Callable[..., str]
) -> None:
    some = "--catalog", line, "prices", "--write", "--sku"
    assert run_cli(*some, "first pattern marsh 3/8", "--change", "= 3.99").status == 0
    assert (price_of(MARSH), price_of("FST-38-40-INK")) == ("3.99", "4.50")
    assert run_cli(*some, "*-38-*", "--change", "+0.01").status == 0
    assert (price_of(MARSH), price_of("FST-38-40-INK")) == ("4.00", "4.51")
    assert price_of("FST-12-50-INK") == "5.00"


def test_cells_of_a_csv_are_written_and_those_of_a_workbook_listed(
    line: Path, run_cli: Labeler, price_of: Callable[..., str], tmp_path: Path
) -> None:
    (line / "products.csv").write_bytes(b"SKU;Price;Note\r\nFST-38-40-MAR;4,80;x\r\n")
    change = ("--catalog", line, "prices", "--change", "+0.20", "--write")
    assert run_cli(*change).status == 0
    assert (line / "products.csv").read_bytes() == b"SKU;Price;Note\r\nFST-38-40-MAR;5,00;x\r\n"
    (line / "products.csv").unlink()
    book = openpyxl.Workbook()
    sheet = book.create_sheet(index=0)
    sheet.append(["SKU", "Note", "Price"])
    sheet.append([MARSH, "", 4.25])
    del book["Sheet"]
    book.save(line / "products.xlsx")
    own = (line / "products.xlsx").read_bytes()
    listing = tmp_path / "cells.csv"
    said = run_cli(*change, "--again", "--list", listing)
    assert "products.xlsx C2: 4.25 -> 4.45  FST-38-40-MAR" in said.out
    assert "1 of them you change by hand" in said.out
    assert "[price-by-hand]" in said.err
    assert (line / "products.xlsx").read_bytes() == own
    rows = listing.read_text("utf-8-sig").splitlines()
    assert rows[1:] == ["products.xlsx,C2,FST-38-40-MAR,4.25,4.45"]
    assert (price_of(MARSH), price_of("FST-38-40-INK")) == ("4.25", "4.90")


def test_the_very_same_change_said_again_is_asked_about_and_writes_nothing(
    line: Path, run_cli: Labeler, price_of: Callable[..., str]
) -> None:
    change = ("--catalog", line, "prices", "--change", "+10 %")
    assert run_cli(*change, "--round", "0.05", "--write").status == 0
    once = {name: (line / name).read_bytes() for name in ("catalog.toml", "products.csv")}
    for words in (("--write",), ("--until", "2099-12-31", "--write")):
        again = run_cli(*change, "--round", "0.05", *words)
        assert (again.status, "[price-change-twice]" in again.err) == (2, True)
    assert "fix  change: the very same change" in run_cli(*change, "--round", "0.05").err
    assert {name: (line / name).read_bytes() for name in once} == once
    assert run_cli(*change, "--write").status == 0, "rounded otherwise it is another"
    assert price_of(MARSH) == "5.45"
    assert run_cli(*change, "--again", "--write").status == 0
    assert price_of(MARSH) == "6.00"
    for name, raw in once.items():
        (line / name).write_bytes(raw)
    assert run_cli(*change, "--write").status == 0, "what was put back by hand is no rise"


@pytest.mark.parametrize("names", range(6), ids=lambda at: f"killed after {at} files")
def test_a_rise_that_is_killed_is_completed_by_the_next_command(
    line: Path, run_cli: Labeler, price_of: Callable[..., str], names: int,
    monkeypatch: pytest.MonkeyPatch,
) -> None:  # fmt: skip
    (line / "products.csv").write_bytes(b"SKU,Price\nFST-38-40-MAR,4.80\n")
    change = ("--catalog", line, "prices", "--change", "+0.20", "--write")
    take, left = files._take_the_name, [names]

    class KilledError(BaseException):
        pass

    def killed(*args: Any) -> None:
        if not left[0]:
            raise KilledError
        left[0] -= 1
        take(*args)

    with monkeypatch.context() as patch:
        patch.setattr(files, "_take_the_name", killed)
        with pytest.raises(KilledError):
            run_cli(*change)
    before = ("4.80", "4.50") if names < 3 else ("5.00", "4.70")
    assert (price_of(MARSH), price_of("FST-38-40-INK")) == before
    assert not (line / edit.HALF).exists()
    assert run_cli(*change).status == (0 if names < 3 else 2), "said again, it is one rise"
    assert (price_of(MARSH), price_of("FST-38-40-INK")) == ("5.00", "4.70")


def test_what_was_edited_after_a_broken_rise_is_told_and_kept(
    line: Path, run_cli: Labeler, price_of: Callable[..., str]
) -> None:
    text = (line / "catalog.toml").read_text("utf-8")
    step = {"name": "catalog.toml", "before": "", "after": "", "new": "eA=="}
    (line / edit.HALF).write_text(json.dumps([step]))
    said = run_cli("--catalog", line, "check")
    assert "[price-change-half]" in said.out
    assert (line / "catalog.toml").read_text("utf-8") == text
    assert "price-change-half" not in run_cli("--catalog", line, "check").out
    (line / edit.HALF).write_text(json.dumps([step | {"name": "../elsewhere.toml"}]))
    said = run_cli("--catalog", line, "check")
    assert (said.status, "[price-change-half]" in said.out) == (1, True)
    assert not (line.parent / "elsewhere.toml").exists()


def test_a_season_holds_on_its_days_and_said_again_it_is_the_same(
    line: Path, run_cli: Labeler, price_of: Callable[..., str]
) -> None:
    season = ("--from", "2027-12-01", "--until", "2027-12-24")
    for _ in range(2):
        said = run_cli("--catalog", line, "prices", "--change", "-10 %", *season, "--write")
        assert said.status == 0
        assert "[price-promised]" in said.err, "the starter's list holds until 2027-12-31"
        days = "2027-11-30", "2027-12-01", "2027-12-24", "2027-12-25"
        assert [price_of(MARSH, "--on", day) for day in days] == ["4.50", "4.05", "4.05", "4.50"]
    assert (line / "catalog.toml").read_text("utf-8").count("[[prices]]") == 1


def test_what_is_wrong_with_dated_prices_is_told(line: Path, run_cli: Labeler) -> None:
    with (line / "catalog.toml").open("a") as file:
        file.write('[[prices]]\nfirst_day = 2027-01-02\nskus = { "FTS-*" = "4.00" }\n')
    assert "[price-for-nothing]" in run_cli("--catalog", line, "check").out
    with (line / "catalog.toml").open("a") as file:
        file.write("last_day = 2027-01-01\n")
    said = run_cli("--catalog", line, "check")
    assert said.status == 1
    assert "[prices-never]" in said.out


@pytest.mark.siege
def test_labels_of_a_lot_and_of_a_day_keep_their_price(
    line: Path, run_cli: Labeler, tmp_path: Path
) -> None:
    out = tmp_path / "cards.pdf"

    def do(*words: object) -> str:
        did = run_cli("--catalog", line, *words)
        assert did.status == 0, did
        return str(did.out + did.err)

    def printed() -> str:
        text = PdfReader(out).pages[0].extract_text()
        return ", ".join(sorted(set(re.findall(r"\$\d+\.\d+", text))))

    lot = json.loads(do("lot", "assign", MARSH, "--count", "12", "--json"))["lots"][0]["lot"]
    do("cards", "--lot", lot, "--count", "1", "--out", out)
    assert printed() == "$4.50"
    do("prices", "--change", "+10 %", "--from", "2026-01-01", "--write")
    for day, price in (("2025-12-31", "$4.50"), ("2026-01-01", "$4.95")):
        do("cards", "--sku", MARSH, "--on", day, "--out", out)
        first = out.read_bytes()
        assert printed() == price
        do("cards", "--sku", MARSH, "--on", day, "--out", out)
        assert out.read_bytes() == first, "same input, same bytes"
        assert "make" not in do("check", out, "--on", day).split("Not checked")[0]
    do("reprint", f"{lot}=1", "--out", out)
    assert printed() == "$4.50"
    assert "price" in do("reprint", f"{lot}=1", "--today", "--out", out)
    assert printed() == "$4.95"
    book = do("catalog", "--for", "dealer", "--on", "2025-12-31", "--out", out)
    assert "[terms-other-day]" in book


def test_a_dated_price_takes_no_later_product_and_says_where_its_old_one_changed(
    line: Path, run_cli: Labeler, price_of: Callable[..., str]
) -> None:
    def say(price: str) -> None:
        rows = f"SKU,Price\nFST-38-40-MAR,{price}\n"
        (line / "products.csv").write_text(rows, encoding="utf-8")

    say("4.50")
    change = ("--catalog", line, "prices", "--change", "+5 %", "--from", "2026-01-01", "--write")
    assert run_cli(*change).status == 0
    entry = tomllib.loads((line / "catalog.toml").read_text("utf-8"))["prices"][0]
    assert entry["was"][MARSH] == "4.50"
    assert not [name for name in entry["skus"] if set(name) & set("*?[")]
    assert "dated-price-holds" not in run_cli("--catalog", line, "check").out
    say("5.25")
    for told in (run_cli("--catalog", line, "check").out, run_cli("--catalog", line, "prices").err):
        said = "says 5.25 in place of 4.50"
        assert "[dated-price-holds]" in told
        assert "FST-38-40-MAR at 4.73" in " ".join(told.split())
        assert said in " ".join(told.split())
    assert price_of(MARSH) == "4.73"
    assert run_cli(*change).status == 0
    assert price_of(MARSH) == "5.51", "said again, it is of the new price"
    assert "dated-price-holds" not in run_cli("--catalog", line, "check").out


def test_prices_are_shown_as_labels_print_them_and_wholesale_cells_are_told_to_stay(
    line: Path, run_cli: Labeler
) -> None:
    book = openpyxl.Workbook()
    book.worksheets[0].append(["Jig", "Size", "Color", "Hook", "Retail", "Shop price"])
    book.worksheets[0].append(["First Pattern", "3/8 oz", "Marsh", "4/0", 4.5, 2.7])
    book.save(line / "Jigs.xlsx")
    with (line / "catalog.toml").open("a", encoding="utf-8") as file:
        file.write(
            '\n[spreadsheet]\nfile = "Jigs.xlsx"\n[spreadsheet.headings]\nJig = "pattern"\n'
            'Size = "weight"\nColor = "colour"\nHook = "hook"\nRetail = "price"\n'
            '"Shop price" = "wholesale"\n'
        )
    said = run_cli("--catalog", line, "prices", "--change", "+5 %", "--sku", MARSH)
    assert "Jigs.xlsx E2: 4.50 -> 4.73  FST-38-40-MAR" in said.out
    assert "[wholesale-stays]" in said.err
    assert "Shop price" in said.err
    run_cli("--catalog", line, "prices", "--change", "= 5", "--from", "2026-01-01", "--write")
    assert "FST-12-50-MAR at 5.00" in run_cli("--catalog", line, "prices").out
