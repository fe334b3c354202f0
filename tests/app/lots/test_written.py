"""What makers write: suppliers' lots several in one cell, days in their own order, notes."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest
from sqlalchemy import text

from labeler.catalog.model import Catalog
from labeler.ledger.assign import Batch, assign
from labeler.ledger.lots import SupplierLot, apart
from labeler.ledger.open import open_ledger
from labeler.units import day_readings

Labeler = Callable[..., Any]
Lot = Callable[..., str]
SKU = "RM-38-40-SBR"
TODAY = dt.date(2026, 11, 28)


@pytest.mark.parametrize(
    ("written", "kept"),
    [
        *[(f"bag 74{at}bag 75", ["bag 74", "bag 75"])
          for at in (" + ", "+", ", ", ",", "; ", ";", " / ", "/", " & ", "&", " and ", " AND ")],
        ("bag 74 + 75", ["bag 74", "bag 75"]),
        ("bag A + bag B", ["bag A", "bag B"]),
        ("HK-2291, HK-2292 and HK-2293", ["HK-2291", "HK-2292", "HK-2293"]),
        ("HK-2291/HK-2292", ["HK-2291", "HK-2292"]),
        # one each: a part that looks like no lot of its own, or quotes
        *[(one, [one]) for one in ("HK-2291", "S/7", "HK-2291/2", "12/26", "R & D 7", "Acme, 74",
                                   "sand and gravel 7", "A+", "+7", "T 7", "thread 7-8")],
        ('"bag 74 + bag 75"', ["bag 74 + bag 75"]),
        ("“HK-1/HK-2”", ["HK-1/HK-2"]),
    ],
)  # fmt: skip
def test_several_suppliers_lots_are_taken_apart(written: str, kept: list[str]) -> None:
    assert apart(written) == kept


def test_they_are_said_back_before_they_are_kept(labeler: Labeler, tmp_path: Path) -> None:
    said = labeler("lot", "assign", SKU, "--count", 12, "--material", "hook=bag 74 + bag 75",
                   "--material", "alloy=S/7")  # fmt: skip
    assert "[material-apart]" in said.err
    assert "hook=bag 74, hook=bag 75" in said.err
    assert "[material-whole]" in said.err
    batches = tmp_path / "b.csv"
    batches.write_text('sku,count,hook,materials\nLL-38-40-LNB,12,"bag 75, bag 76",thread=T 1&T 2')
    done = labeler("lot", "assign", "--from", batches, "--json").json
    assert [each["rule"] for each in done["findings"]] == ["material-apart"] * 2
    assert done["lots"][0]["materials"] == [
        "hook=bag 75", "hook=bag 76", "thread=T 1", "thread=T 2",
    ]  # fmt: skip
    assert len(labeler("trace", "bag 75", "--json").json["lots"]) == 2


def test_a_trace_offers_every_name_that_contains_what_was_asked(labeler: Labeler, lot: Lot) -> None:
    one = lot(SKU, "--material", "hook=bag 75")
    told = labeler("trace", "75", "--json").json  # the only one, so it is meant
    assert [each["lot"] for each in told["lots"]] == [one]
    assert told["meanings"] == ["supplier's lot bag 75"]
    two = lot(SKU, "--material", "hook=bag 175")
    said = labeler("trace", "75")
    assert (said.status, "bag 75" in said.err, "bag 175" in said.err) == (2, True, True)
    lot(SKU, "--material", "hook=75")
    told = labeler("trace", "75", "--json").json
    assert told["also"] == ["bag 175", "bag 75"]
    assert "bag 175, bag 75" in labeler("trace", "75").out
    assert [each["lot"] for each in labeler("trace", "bag 175", "--json").json["lots"]] == [two]


@pytest.fixture
def old(folder: Path, catalog: Catalog) -> Iterator[str]:
    """A lot of a ledger that kept two suppliers' lots as one."""
    product = next(each for each in catalog.products if each.sku == SKU)
    with open_ledger(folder) as ledger:
        went_in = (SupplierLot("hook", "bag 74 + bag 75"),)
        yield assign(ledger, Batch(product, 12, TODAY, went_in)).code


def test_what_was_kept_as_one_is_found_by_each_part(labeler: Labeler, old: str, lot: Lot) -> None:
    for asked in ("bag 74", "BAG 75", "hook=bag 75", "bag 74 + bag 75"):
        told = labeler("trace", asked, "--json").json
        assert [each["lot"] for each in told["lots"]] == [old], asked
    assert labeler("trace", "thread=bag 75").status == 2
    other = lot(SKU, "--material", 'hook="bag 75/bag 79"')
    both = [each["lot"] for each in labeler("trace", "bag 75", "--json").json["lots"]]
    assert sorted(both) == sorted([old, other]), "each of several that were kept so"


def test_a_correction_strikes_the_old_entry_and_the_journal_keeps_it(
    labeler: Labeler, folder: Path, old: str
) -> None:
    change = ("lot", "add", old, "hook=bag 84", "hook=bag 75", "--instead", "hook=Bag 74+bag 75")
    for _ in range(2):
        done = labeler(*change, "--json")
        assert done.json["materials"] == ["hook=bag 75", "hook=bag 84"]
    assert labeler("trace", "bag 74").status == 2
    assert labeler("trace", "bag 84").status == 0
    (entry,) = [each for each in labeler("lot", "journal", old, "--json").json["journal"]
                if each["what"] == "materials"]  # fmt: skip
    assert entry["detail"]["struck"] == ["hook=bag 74 + bag 75"]
    said = labeler("lot", "add", old, "hook=bag 85", "--instead", "hook=bag 99")
    assert (said.status, "[material-not-noted]" in said.err) == (2, True)
    back = ("lot", "add", old, 'hook="bag 74 + bag 75"', "--instead", "hook=bag 84", "--json")
    assert labeler(*back).json["materials"] == ["hook=bag 74 + bag 75", "hook=bag 75"]
    with open_ledger(folder) as ledger, ledger.engine.connect() as connection:
        kept = connection.execute(text("SELECT count(*) FROM materials")).scalar()
    assert kept == 3  # struck ones among them


def test_notes_and_the_keys_of_requests_are_searched(labeler: Labeler, lot: Lot) -> None:
    one = lot(SKU, "--note", "old log: B-14, second pour")
    two = lot("LL-38-40-LNB", "--key", "spring log 7")
    labeler("ship", f"{two}=1", "--customer", "Ann Reed", "--note", "bent 4/0 in box C-9")
    for asked, code in (("b14", one), ("second pour", one), ("spring log 7", two), ("C 9", two)):
        told = labeler("trace", asked, "--json").json
        assert [each["lot"] for each in told["lots"]] == [code], asked
        assert told["meanings"] == [f"written in a note: {asked}"]
    assert labeler("trace", "B-1").status == 2  # not the whole word


ANY = {"": dt.date(2026, 10, 2)}


@pytest.mark.parametrize(
    "written",
    ["2026-10-02", "Oct 2", "oct. 2nd", "2 October", "Oct 2, 2026", "2-Oct-26", "Friday, Oct 2",
     "2nd of October 2026", "2026/10/2", "20261002"],
)  # fmt: skip
def test_a_day_in_letters_is_one_day(written: str) -> None:
    assert day_readings(written, TODAY) == ANY


@pytest.mark.parametrize(
    ("written", "month_first", "day_first"),
    [
        ("9/14/26", dt.date(2026, 9, 14), None),
        ("11/27", dt.date(2026, 11, 27), None),
        ("12/27", dt.date(2025, 12, 27), None),  # the last one: today is 28 November 2026
        ("14.9.2026", None, dt.date(2026, 9, 14)),
        ("3/4/26", dt.date(2026, 3, 4), dt.date(2026, 4, 3)),
        ("2/29", dt.date(2024, 2, 29), None),
    ],
)
def test_a_day_in_figures_is_read_in_every_order_it_can_be(
    written: str, month_first: dt.date | None, day_first: dt.date | None
) -> None:
    read = {"month first": month_first, "day first": day_first}
    assert day_readings(written, TODAY) == {k: v for k, v in read.items() if v}


@pytest.mark.parametrize(
    "written", ["soon", "Oct", "Oct 2026", "Oct 32", "13/13", "2/30/26", "Oct 2 3 4", "May Oct 2",
                "1/2/3/4", "~Oct 2", "", "31"],
)  # fmt: skip
def test_what_is_no_day_is_refused(written: str) -> None:
    with pytest.raises(ValueError, match=r"day|month|year"):
        day_readings(written, TODAY)


def test_one_row_of_a_file_settles_the_order_of_the_others(
    labeler: Labeler, tmp_path: Path
) -> None:
    batches = tmp_path / "b.csv"

    def made(*days: str, count: int = 12) -> Any:
        rows = "".join(f"{SKU},{count},{day}\n" for day in days)
        batches.write_text(f"sku,count,made\n{rows}")
        return labeler("lot", "assign", "--from", batches, "--json").json

    first = made("3/4/26", "9/14/26", "Oct 2 2026")
    assert [each["made"] for each in first["lots"]] == ["2026-03-04", "2026-09-14", "2026-10-02"]
    (said,) = first["findings"]
    assert (said["rule"], said["found"]) == ("days-read", "3/4/26 as 2026-03-04")
    other = made("3/5/26", "14/9/26", count=24)
    assert [each["made"] for each in other["lots"]] == ["2026-05-03", "2026-09-14"]
    for days in (("3/4/26", "Oct 3 2026"), ("3/4/26", "14/9/26", "9/15/26")):
        assert [each["rule"] for each in made(*days)["findings"]] == ["day-unclear"], days
    assert len(labeler("lot", "list", "--json").json["lots"]) == 5
