"""What goes to a dealer and comes back, and the slip that goes with it."""

from __future__ import annotations

import csv
import io
from collections.abc import Callable
from datetime import date
from pathlib import Path
from typing import Any

import pytest
from pypdf import PdfReader

from labeler.ledger.open import open_ledger
from labeler.ledger.ship import Move, move

Labeler = Callable[..., Any]
Lot = Callable[..., str]


def words_on(file: Path) -> str:
    """Return the words of a file without their spaces."""
    return "".join("".join(page.extract_text().split()) for page in PdfReader(file).pages)


def on_hand(labeler: Labeler, code: str) -> int:
    return int(labeler("lot", "list", code, "--json").json["on_hand"])


@pytest.mark.daily
def test_a_parcel_of_lots_goes_out_with_its_slip(
    labeler: Labeler, lot: Lot, tmp_path: Path
) -> None:
    one = lot("RM-38-40-SBR", "--made", "2026-11-20")
    two = lot("LL-38-40-LNB", "--count", 36, "--made", "2026-11-20")
    slip = tmp_path / "slip.pdf"
    said = labeler("ship", f"{one}=7", f"{two}=6", "--to", "odd-pail", "--slip", slip,
                   "--on", "2026-11-25", "--key", "order 118")  # fmt: skip
    assert said.status == 0, said.err
    assert (on_hand(labeler, one), on_hand(labeler, two)) == (5, 30)
    words = words_on(slip)
    for each in (one, two, "TheOddPail", "LittleTamarack", "order118", "2026-11-25", "Loonlight",
                 "RM-38-40-SBR", "Packingslip"):  # fmt: skip
        assert each in words, each


@pytest.mark.daily
def test_a_parcel_abroad_has_a_number_to_say_and_its_country_in_words(
    labeler: Labeler, lot: Lot, tmp_path: Path
) -> None:
    code, slip = lot("RM-38-40-SBR", "--made", "2026-11-20"), tmp_path / "slip.pdf"
    for count in (2, 3):
        sent = ("ship", f"{code}={count}", "--to", "trois-etangs", "--on", "2026-11-29")
        said = labeler(*sent, "--slip", slip)
        assert said.status == 0, said.err
    words = words_on(slip)
    assert "2026-0002" in words
    assert "J0X0X0Canada" in words
    assert "54899,USA" in words, "what comes from abroad says from where"
    assert labeler("ship", "--mistake", "2026-0002").status == 0
    assert on_hand(labeler, code) == 10
    said = labeler("lot", "lost", "2026-0183")
    assert said.out.splitlines()[-1] == "The next slip of 2026 gets number 2026-0184."


def test_a_lot_named_twice_goes_together_and_that_is_said(labeler: Labeler, lot: Lot) -> None:
    code, gone = lot(), lot("LL-38-40-LNB", "--count", 36)
    said = labeler("ship", f"{code}=3", f"{code.lower()}=4", "--customer", "Ada")
    assert (said.status, on_hand(labeler, code)) == (0, 5)
    assert "[parcel-named-twice]" in said.err + said.out
    assert "7" in (said.err + said.out).partition("named more than once")[2]
    assert labeler("lot", "void", gone, "--why", "never made").status == 0
    made = labeler("trace", gone).out
    assert "1 lot: 0 made" in made


def test_a_count_of_nothing_is_no_other_count(labeler: Labeler, lot: Lot) -> None:
    code = lot()
    for asked, says in ((f"{code}=0", "counts for nothing"), (f"{code}=3", "has its own")):
        said = labeler("ship", asked, "--count", 4, "--customer", "Ada")
        assert (said.status, says in said.err, on_hand(labeler, code)) == (2, True, 12)
    assert labeler("ship", f"{code}=0", "--customer", "Ada").status == 2


def test_the_same_request_ships_once_and_writes_the_same_slip(
    labeler: Labeler, lot: Lot, tmp_path: Path
) -> None:
    code = lot()
    asked = ("ship", code, "--to", "odd-pail", "--count", 5, "--key", "order 118", "--slip")
    first, second = tmp_path / "1.pdf", tmp_path / "2.pdf"
    labeler(*asked, first)
    again = labeler(*asked, second, "--json")
    assert again.json["again"] is True
    assert on_hand(labeler, code) == 7
    assert first.read_bytes() == second.read_bytes()


def test_on_hand_never_falls_below_zero_and_no_slip_says_so(
    labeler: Labeler, lot: Lot, tmp_path: Path
) -> None:
    code, slip = lot(), tmp_path / "slip.pdf"
    labeler("ship", code, "--to", "odd-pail", "--count", 10)
    said = labeler("ship", code, "--to", "odd-pail", "--count", 3, "--slip", slip)
    assert (said.status, "at most 2" in said.err, slip.exists()) == (2, True, False)
    assert on_hand(labeler, code) == 2


def test_a_day_on_which_nothing_can_have_gone_is_refused(labeler: Labeler, lot: Lot) -> None:
    code = lot("RM-38-40-SBR", "--made", "2026-11-20")
    for day in ("2062-01-01", "2026-11-19"):
        asked = ("ship", f"{code}=1", "--to", "odd-pail", "--on", day)
        said = labeler(*asked)
        assert (said.status, "move-day" in said.err) == (2, True)
        said = labeler(*asked, "--even-so")
        assert (said.status, "move-day" in said.err) == (0, True)
    assert labeler("ship", f"{code}=2", "--to", "odd-pail", "--on", "2026-11-20").err == ""


def test_every_lot_that_is_unknown_is_told_at_once(labeler: Labeler, lot: Lot) -> None:
    said = labeler("ship", f"{lot()}=1", "99=1", "MINE-7=1", "--to", "odd-pail")
    assert (said.status, said.err.count("stop  ")) == (2, 2)
    assert "[unknown-lot]" in said.err  # the figures
    assert "[sku-unknown]" in said.err  # the letters, which no lot code of this maker has


def test_a_parcel_goes_whole_or_not_at_all(labeler: Labeler, lot: Lot) -> None:
    one, two = lot(), lot()
    assert labeler("ship", f"{one}=1", f"{two}=13", "--to", "odd-pail").status == 2
    assert (on_hand(labeler, one), on_hand(labeler, two)) == (12, 12)


def test_what_comes_back_is_on_hand_again_and_no_more_than_went_out(
    labeler: Labeler, lot: Lot
) -> None:
    code = lot()
    labeler("ship", code, "--to", "odd-pail", "--count", 6)
    assert labeler("ship", code, "--back", "The Odd Pail", "--count", 7).status == 2
    assert labeler("ship", code, "--back", "the odd pail", "--count", 2).status == 0
    assert on_hand(labeler, code) == 8
    labeler("ship", code, "--scrap", "--count", 3)
    labeler("ship", code, "--extra", "--count", 1)
    assert on_hand(labeler, code) == 6


def test_a_dealer_s_name_with_a_slip_is_questioned(labeler: Labeler, lot: Lot) -> None:
    code = lot()
    said = labeler("ship", code, "--to", "The Odd Pial", "--count", 1)
    assert (said.status, "The Odd Pail" in said.err) == (2, True)
    said = labeler("ship", code, "--to", "Aunt Minna", "--count", 1)
    assert (said.status, "dealer-unlisted" in said.err) == (0, True)


@pytest.mark.parametrize(
    "words",
    [
        (),
        ("--to", "odd-pail", "--scrap", "--count", "1"),
        ("--to", "odd-pail"),
        ("--scrap", "--count", "1", "--slip", "slip.pdf"),
    ],
)
def test_wrong_use_is_said_so(labeler: Labeler, lot: Lot, words: tuple[str, ...]) -> None:
    assert labeler("ship", lot(), *words).status == 2


@pytest.mark.siege
def test_a_long_slip_goes_on_over_pages_and_loses_no_lot(labeler: Labeler, tmp_path: Path) -> None:
    batches, slip = tmp_path / "b.csv", tmp_path / "slip.pdf"
    batches.write_text("sku,count\n" + "RM-38-40-SBR,2\n" * 30)
    codes = [
        each["lot"] for each in labeler("lot", "assign", "--from", batches, "--json").json["lots"]
    ]
    said = labeler("ship", *codes, "--to", "odd-pail", "--count", 1, "--slip", slip)
    assert said.status == 0, said.err
    words = words_on(slip)
    assert all(code in words for code in codes)
    assert len(PdfReader(slip).pages) == 3


def test_a_dealer_is_found_by_name_and_by_heading(labeler: Labeler, lot: Lot) -> None:
    code = lot()
    labeler("ship", code, "--to", "odd-pail", "--count", 3)
    for asked in ("The Odd Pail", "the odd pail", "odd-pail"):
        told = labeler("trace", asked, "--json").json
        assert told["dealers"] == [{"dealer": "The Odd Pail", "count": 3}], asked
    assert labeler("trace", "Aunt Minna").status == 2


def test_the_table_of_a_trace_is_safe_in_a_spreadsheet(
    labeler: Labeler, lot: Lot, tmp_path: Path
) -> None:
    code, table = lot("RM-38-40-SBR", "--material", "hook==1+1"), tmp_path / "t.csv"
    labeler("ship", f"{code}=1", "--to", '=HYPERLINK("http://example.com")')
    labeler("ship", f"{code}=1", "--to", "@SUM(1+1)*cmd")
    labeler("ship", f"{code}=1", "--to", "-2+3 Bait")
    assert labeler("trace", code, "--csv", table).status == 0
    cells = [c for row in csv.reader(io.StringIO(table.read_text("utf-8-sig"))) for c in row]
    assert sum("HYPERLINK" in c or "SUM" in c or "Bait" in c for c in cells) == 3
    # OWASP, "CSV Injection": cells that begin with these are computed.
    assert not [c for c in cells if c.startswith(("=", "+", "-", "@", "\t", "\r"))]


@pytest.mark.daily
def test_a_recall_says_whom_to_call_why_and_shows_the_label_as_it_was_printed(
    labeler: Labeler, lot: Lot, tmp_path: Path
) -> None:
    code, other = lot("RM-38-40-SBR"), lot("RM-38-40-TSP")
    sheet, bags = tmp_path / "recall.pdf", tmp_path / "bags.pdf"
    assert labeler("bags", "--lot", f"{code}=2", "--out", bags).status == 0
    assert labeler("ship", f"{code}=3", f"{other}=2", "--to", "odd-pail").status == 0
    assert labeler("ship", f"{code}=1", "--customer", "Ada").status == 0
    assert labeler("trace", code, "--why", "hooks snap").status == 2, "there is no sheet to say it"
    said = labeler("trace", code, "--sheet", sheet, "--why", "hooks of box 2251 snap")
    assert said.status == 0, said.err
    words = words_on(sheet)
    for each in ("218-555-0143", "hello@oddpail.example.com", "hooksofbox2251snap", "Ada"):
        assert each in words, each
    on_label = words_on(bags)
    assert on_label.count("Containslead") == 2
    assert words.count("Containslead") == 1, "the label itself, as the ledger kept it"

    assert labeler("lot", "hold", code, "--why", "points are dull").status == 0
    assert labeler("trace", "RM-38-40-*", "--sheet", sheet).status == 0
    assert f"{code}:pointsaredull" in words_on(sheet), "of one lot of two"
    assert labeler("trace", code, "--sheet", sheet).status == 0
    assert "pointsaredull" in words_on(sheet)
    assert f"{code}:points" not in words_on(sheet)

    a4 = tmp_path / "a4.pdf"
    assert labeler("bags", "--lot", f"{other}=1", "--out", bags).status == 0
    why = "hooks of this box snap at the bend; " * 30
    said = labeler("trace", "RM-38-40-*", "--sheet", a4, "--paper", "a4", "--why", why)
    assert said.status == 0, said.err
    assert words_on(a4).count("Containslead") == 2, "both labels, side by side"
    assert "…" in words_on(a4)


def test_a_lot_that_went_to_a_hundred_shops_is_recalled_from_every_one(
    labeler: Labeler, lot: Lot, folder: Path, tmp_path: Path
) -> None:
    code, sheet = lot("RM-38-40-SBR", "--count", 200), tmp_path / "recall.pdf"
    shops = [f"Shop {number:03d} Bait" for number in range(100)]
    with open_ledger(folder) as ledger:
        move(ledger, [Move("ship", code, 2, date(2026, 11, 25), shop) for shop in shops])
    assert labeler("trace", code, "--sheet", sheet).status == 0
    words = words_on(sheet)
    assert [shop for shop in shops if words.count(shop.replace(" ", "")) < 1] == []
    assert "and98moredealersabove" in words
