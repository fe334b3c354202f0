"""A file is read back before it gets its name; what stops the press is not handed out."""

from __future__ import annotations

import contextlib
import sqlite3
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from pypdf import PdfReader

from labeler.app import preflight
from labeler.checker.subject import KnownLot
from labeler.findings import LabelerError, Place, stop
from labeler.ledger import lots
from labeler.ledger.open import open_ledger
from labeler.ledger.runs import past_runs

Labeler = Callable[..., Any]
Lot = Callable[..., str]

UNTRUE = '<text style="note" lines="1">Lead-free!</text>\n'
"""What no label of a lead jig may say."""


@pytest.fixture
def untrue(folder: Path) -> str:
    """A layout of the maker's own that says what is not so."""
    own = folder / "layouts"
    own.mkdir()
    shipped = Path(__file__).resolve().parents[3] / "layouts" / "bag-panel.xml.jinja"
    text = shipped.read_text("utf-8")
    at = text.index("<text")
    (own / "mine.xml.jinja").write_text(text[:at] + UNTRUE + text[at:], "utf-8")
    (own / "layouts.toml").write_text(MENU, "utf-8")
    return "mine"


MENU = """[mine]
about = "Ours."
use = "bags"
least = ["2 in", "1 1/2 in"]
most = ["8 in", "8 in"]
"""


@pytest.mark.daily
def test_what_stops_the_press_is_told_and_nothing_is_written_or_recorded(
    labeler: Labeler, lot: Lot, folder: Path, untrue: str, tmp_path: Path
) -> None:
    code, out = lot(), tmp_path / "bags.pdf"
    said = labeler("bags", "--lot", code, "--layout", untrue, "--sheet", SHEET, "--out", out)
    assert said.status == 1
    assert "lead free" in said.err
    assert "--even-so" in said.err
    assert not list(tmp_path.glob("*.pdf"))
    assert not list(tmp_path.glob(".*part"))
    with open_ledger(folder) as ledger:
        assert not past_runs(ledger, sku="RM-38-40-SBR")


SHEET = "letter-2x5"


def test_wanted_even_so_the_file_and_the_ledger_remember_it(
    labeler: Labeler, lot: Lot, folder: Path, untrue: str, tmp_path: Path
) -> None:
    code, out = lot(), tmp_path / "bags.pdf"
    asked = ("bags", "--lot", code, "--layout", untrue, "--sheet", SHEET, "--json")
    alone = labeler(*asked, "--out", out, "--why", "a sample")
    assert alone.status == 2
    assert "a reason goes with --even-so" in alone.out
    said = labeler(*asked, "--even-so", "--why", "a sample for the shop", "--out", out)
    assert said.status == 0
    (rule,) = said.json["in_spite_of"]
    info = PdfReader(out).metadata
    assert info is not None
    assert str(info["/Keywords"]) == f"Made in spite of {rule}"
    with open_ledger(folder) as ledger:
        (run,) = past_runs(ledger, sku="RM-38-40-SBR")
    assert run.overrides == (rule,)
    kept = {finding["rule"]: finding.get("found") for finding in run.findings}
    assert rule in kept
    assert kept["overruled"] == "a sample for the shop"
    again = labeler("check", out, "--json")
    assert again.status == 1
    assert {"file-in-spite-of", rule} <= {each["rule"] for each in again.json["findings"]}


def test_what_nothing_stops_is_the_same_file_even_so(
    labeler: Labeler, lot: Lot, tmp_path: Path
) -> None:
    code = lot()
    plain, even_so = tmp_path / "a.pdf", tmp_path / "b.pdf"
    assert labeler("bags", "--lot", code, "--out", plain).status == 0
    assert labeler("bags", "--lot", code, "--out", even_so, "--even-so").status == 0
    assert plain.read_bytes() == even_so.read_bytes()


def test_the_run_s_record_keeps_what_the_checker_said(
    labeler: Labeler, lot: Lot, folder: Path, tmp_path: Path
) -> None:
    code = lot()
    out = tmp_path / "bags.pdf"
    said = labeler("bags", "--lot", code, "--out", out)
    assert "Read back and checked: nothing stops it" in said.out
    assert f"labeler --catalog {folder} check {out} tells them" in said.out
    with open_ledger(folder) as ledger:
        (run,) = past_runs(ledger, sku="RM-38-40-SBR")
    told = {each["rule"] for each in labeler("check", out, "--json").json["findings"]}
    assert told
    assert told <= {finding["rule"] for finding in run.findings}


def test_a_reprint_is_held_against_its_own_day_and_product(
    labeler: Labeler, lot: Lot, folder: Path, tmp_path: Path
) -> None:
    code = lot()
    labeler("bags", "--lot", code, "--out", tmp_path / "first.pdf")
    catalog = folder / "catalog.toml"
    catalog.write_text("this is no catalog any more", "utf-8")
    said = labeler("reprint", code, "--count", 3, "--out", tmp_path / "again.pdf")
    assert (said.status, "nothing stops it" in said.out) == (0, True)


def test_a_ledger_that_is_busy_is_not_taken_for_one_without_the_lot(
    folder: Path, lot: Lot, monkeypatch: pytest.MonkeyPatch
) -> None:
    code = lot()
    with open_ledger(folder) as ledger:
        known = preflight.lots_known(ledger)
        assert known("99999999") is None
        assert getattr(known(code), "sku", "") == "RM-38-40-SBR"

        def busy(*_: object) -> None:
            raise LabelerError(stop("ledger-busy", Place(), "others are writing"))

        monkeypatch.setattr(lots, "find", busy)
        with pytest.raises(LabelerError, match="others are writing"):
            known(code)


@pytest.mark.parametrize("kept", ['{"schema": 99, "needs": "9.8.7"}', '{"schema": 2}'])
def test_a_lot_whose_product_this_version_cannot_read_is_still_known(
    folder: Path, lot: Lot, kept: str
) -> None:
    code = lot()
    with contextlib.closing(sqlite3.connect(folder / "ledger.sqlite")) as database, database:
        guards = "SELECT name FROM sqlite_master WHERE type = 'trigger' AND tbl_name = 'snapshots'"
        for (guard,) in database.execute(guards).fetchall():
            database.execute(f"DROP TRIGGER {guard}")
        database.execute("UPDATE snapshots SET product = ?", (kept,))
    with open_ledger(folder) as ledger:
        known = preflight.lots_known(ledger)(code)
    assert isinstance(known, KnownLot)
    assert (known.sku, known.product) == ("RM-38-40-SBR", None)
