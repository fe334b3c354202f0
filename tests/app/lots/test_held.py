"""Held lots: not labelled, not shipped, not counted as ready; told wherever a lot is told."""

from __future__ import annotations

import csv
import io
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from pypdf import PdfReader

Labeler = Callable[..., Any]
Lot = Callable[..., str]
SKU = "RM-38-40-SBR"


@pytest.fixture
def held(labeler: Labeler, lot: Lot) -> str:
    """A lot of twelve, six of them with a dealer, that is held."""
    code = lot(SKU, "--made", "2026-11-20")
    labeler("ship", f"{code}=6", "--to", "odd-pail", "--on", "2026-11-21")
    assert labeler("lot", "hold", code, "--why", "hooks break").status == 0
    return code


@pytest.mark.parametrize("verb", ["bags", "cards", "reprint"])
def test_no_label_of_a_held_lot_is_printed_unless_even_so(
    labeler: Labeler, lot: Lot, tmp_path: Path, verb: str
) -> None:
    code, out = lot(SKU), tmp_path / "out.pdf"
    assert labeler("bags", "--lot", code, "--out", tmp_path / "before.pdf").status == 0
    labeler("lot", "hold", code, "--why", "hooks break")
    of_lot = (code,) if verb == "reprint" else ("--lot", code)
    asked = (verb, *of_lot, "--count", 2, "--out", out)
    said = labeler(*asked)
    assert (said.status, "[lot-held]" in said.err, out.exists()) == (2, True, False)
    assert "hooks break" in said.err
    done = labeler(*asked, "--even-so", "--json")
    assert done.status == 0, done.err
    assert "lot-held" in done.json["in_spite_of"]
    told = labeler("lot", "list", code, "--json").json
    assert "lot-held" in told["runs"][-1]["overrides"]
    assert told["journal"][-1]["detail"]["although held"] == "hooks break"
    labeler("lot", "release", code, "--why", "every hook pulled")
    assert labeler(*asked).status == 0


def test_a_file_that_carries_the_code_of_a_held_lot_is_stopped(
    labeler: Labeler, lot: Lot, tmp_path: Path
) -> None:
    code, out = lot(SKU), tmp_path / "bags.pdf"
    labeler("bags", "--lot", code, "--out", out)
    assert labeler("check", out).status == 0
    labeler("lot", "hold", code, "--why", "hooks break")
    said = labeler("check", out)
    assert (said.status, "lot-held" in said.out, "hooks break" in said.out) == (1, True, True)


def test_none_of_it_goes_out_unless_even_so_and_what_comes_back_is_booked(
    labeler: Labeler, held: str
) -> None:
    said = labeler("ship", f"{held}=2", "--to", "odd-pail")
    assert (said.status, "[move-held]" in said.err) == (2, True)
    assert labeler("ship", f"{held}=4", "--back", "odd-pail").status == 0
    assert labeler("ship", f"{held}=1", "--scrap").status == 0
    assert labeler("ship", f"{held}=2", "--customer", "Ann Reed", "--even-so").status == 0
    journal = labeler("lot", "journal", held, "--json").json["journal"]
    assert journal[-1]["detail"]["although held"] == "hooks break"
    assert "although held" not in journal[-2]["detail"]


def test_it_is_told_wherever_the_lot_is(labeler: Labeler, held: str, tmp_path: Path) -> None:
    for asked in (("lot", "list"), ("trace", held), ("lot", "list", held)):
        assert "hooks break" in labeler(*asked).out, asked
    table, sheet = tmp_path / "t.csv", tmp_path / "recall.pdf"
    said = labeler("trace", SKU, "--csv", table, "--sheet", sheet)
    assert "6 on hand, 6 of them held" in said.out
    (row,) = csv.DictReader(io.StringIO(table.read_text("utf-8-sig")))
    assert row["held"] == "hooks break"
    assert ", held" in PdfReader(sheet).pages[0].extract_text()
    assert labeler("trace", held, "--json").json["lots"][0]["held"] == "hooks break"


def test_what_is_released_is_a_lot_like_any_other_and_both_stay_in_the_journal(
    labeler: Labeler, held: str
) -> None:
    assert labeler("lot", "release", held).status == 2
    said = labeler("lot", "release", held, "--why", "pulled with 5 kg", "--json")
    assert said.json["held"] is None
    assert labeler("lot", "release", held, "--why", "once more").status == 0
    assert labeler("ship", f"{held}=2", "--to", "odd-pail").status == 0
    what = [each["what"] for each in labeler("lot", "journal", held, "--json").json["journal"]]
    assert what == ["assign", "ship", "hold", "release", "ship"]


def test_a_sku_is_shipped_from_the_oldest_lots_and_not_from_held_ones(
    labeler: Labeler, lot: Lot
) -> None:
    days = ("2026-11-03", "2026-11-01", "2026-11-02", "2026-11-04")
    third, first, second, fourth = (lot(SKU, "--made", day) for day in days)
    labeler("lot", "hold", second, "--why", "light")
    said = labeler("ship", f"{SKU.lower()}=20", "--to", "odd-pail", "--key", "118", "--json")
    moved = [(each["lot"], each["count"]) for each in said.json["moves"]]
    assert moved == [(first, 12), (third, 8)]
    again = labeler("ship", f"{SKU}=20", "--to", "odd-pail", "--key", "118", "--json").json
    assert (again["again"], again["moves"]) == (True, said.json["moves"])
    short = labeler("ship", f"{fourth}=10", f"{SKU}=7", "--to", "odd-pail")
    assert (short.status, "at most 6" in short.err) == (2, True)
    assert f"12 of lot {second} (light)" in short.err


def test_a_sku_where_only_a_lot_will_do_is_told_with_its_lots(labeler: Labeler, lot: Lot) -> None:
    code = lot(SKU)
    for name, what in ((SKU, "SKU"), ("reedmace sunday bream", "product")):
        for asked in (("lot", "weigh", name), ("lot", "hold", name, "--why", "x"),
                      ("lot", "list", name), ("bags", "--lot", name, "--out", "x")):  # fmt: skip
            said = labeler(*asked)
            assert said.status == 2
            assert f"this is a {what} where a lot code is meant" in said.err
            assert f"Its lots: {code} (made " in said.err


def test_what_of_a_product_comes_back_or_is_scrapped_is_never_guessed(
    labeler: Labeler, lot: Lot
) -> None:
    one, two = lot(SKU, "--made", "2026-11-02"), lot(SKU, "--made", "2026-11-03")
    assert labeler("ship", f"{SKU}=15", "--to", "odd-pail").status == 0
    for name in (SKU, "reedmace sunday bream 3/8"):
        for way, expected in (
            (("--back", "odd-pail"), f"one of {one} (12 with The Odd Pail), {two} (3 with The Odd"),
            (("--back", "The Landing"), "a lot, but none is with The Landing"),
            (("--scrap",), f"one of {two} (9 on hand)"),
            (("--extra",), f"one of {one} (0 on hand), {two} (9 on hand)"),
        ):
            said = labeler("ship", f"{name}=1", *way)
            assert (said.status, "[lot-which]" in said.err) == (2, True), said.err
            assert expected in said.err


def test_letters_read_as_figures_are_said(labeler: Labeler, lot: Lot) -> None:
    code = lot(SKU, "--made", "2026-01-10")  # 26010...
    typed = code.replace("0", "O").replace("1", "l")
    said = labeler("ship", f"{typed}=1", "--to", "odd-pail")
    assert (said.status, "[lot-letters]" in said.err, code in said.err) == (0, True, True)
    assert "lot-letters" not in labeler("ship", f"{code}=2", "--to", "odd-pail").err
    assert "no letter O, I or L" in labeler("ship", f"{typed}O=1", "--to", "odd-pail").err


def test_the_same_parcel_typed_twice_is_asked_about(labeler: Labeler, lot: Lot) -> None:
    one, two = lot(SKU), lot("LL-38-40-LNB")
    parcel = (f"{one}=2", f"{two}=3", "--to", "odd-pail")
    assert labeler("ship", *parcel).status == 0
    said = labeler("ship", f"{two}=3", f"{one}=2", "--to", "The Odd Pail")
    assert (said.status, "[move-twice]" in said.err) == (2, True)
    assert labeler("ship", *parcel, "--again").status == 0
    assert labeler("ship", *parcel, "--key", "order 9").status == 0
    assert labeler("ship", *parcel, "--key", "order 9").status == 0
    for other in ((f"{one}=2", "--to", "odd-pail"), (*parcel[:2], "--customer", "Ann Reed")):
        assert labeler("ship", *other).status == 0, other
    assert labeler("lot", "list", one, "--json").json["on_hand"] == 12 - 2 * 5


def test_a_parcel_of_a_sku_typed_twice_is_asked_about_whatever_lots_it_would_come_from(
    labeler: Labeler, lot: Lot
) -> None:
    first = lot(SKU, "--made", "2026-11-02")
    lot(SKU, "--made", "2026-11-03")
    drawn, mixed, all_of_it = (f"{SKU}=8",), (f"{first}=1", f"{SKU}=2"), (f"{SKU}=13",)
    for parcel in (drawn, mixed, all_of_it):
        assert labeler("ship", *parcel, "--to", "odd-pail").status == 0
        said = labeler("ship", *parcel, "--to", "odd-pail")
        assert (said.status, "[move-twice]" in said.err) == (2, True), said.err
    said = labeler("ship", *all_of_it, "--to", "odd-pail", "--again")
    assert "fewer are on hand" in said.err


def test_a_mistake_is_taken_back_as_one(labeler: Labeler, lot: Lot) -> None:
    one, two = lot(SKU), lot("LL-38-40-LNB")
    shipped = labeler("ship", f"{one}=2", f"{two}=3", "--to", "odd-pail")
    number = shipped.out.split("slip ")[1].split(".")[0]
    done = labeler("ship", "--mistake", number, "--note", "never packed", "--json").json
    assert [(each["lot"], each["on_hand"]) for each in done["moves"]] == [(one, 12), (two, 12)]
    assert labeler("ship", "--mistake", number.lower(), "--json").json["moves"] == done["moves"]
    assert labeler("trace", one, "--json").json["dealers"] == []
    journal = labeler("lot", "journal", one, "--json").json["journal"]
    assert [each["what"] for each in journal] == ["assign", "ship", "mistake"]
    assert (journal[-1]["detail"]["slip"], journal[-1]["detail"]["why"]) == (number, "never packed")
    assert labeler("ship", f"{one}=2", f"{two}=3", "--to", "odd-pail").status == 0


def test_part_of_a_slip_s_number_takes_nothing_back(labeler: Labeler, lot: Lot) -> None:
    code = lot()
    shipped = labeler("ship", f"{code}=3", "--customer", "Ann")
    slip = shipped.out.split("slip ")[1].split(".")[0]
    for part in (slip[0], slip[:7], slip[:8], "%", "_"):
        assert labeler("ship", "--mistake", part).status == 2
    key = f"{slip[:4]}-{int(slip[5:])}"  # a key of her own that is another slip's number in short
    assert labeler("ship", f"{code}=2", "--customer", "Bea", "--key", key).status == 0
    taken = labeler("ship", "--mistake", key)
    assert (taken.status, "2 jigs" in taken.out) == (0, True)
    assert labeler("ship", "--mistake", slip).status == 0


def test_a_sku_beside_one_of_its_lots_is_one_parcel_however_often_it_is_asked_for(
    labeler: Labeler, lot: Lot
) -> None:
    older, newer = lot(SKU, "--made", "2026-11-20"), lot(SKU, "--made", "2026-11-21")
    asked = ("ship", f"{SKU}=14", f"{newer}=10", "--customer", "Ann", "--key", "k9", "--json")
    first = labeler(*asked).json
    assert labeler(*asked).json["moves"] == first["moves"]
    assert {each["lot"] for each in first["moves"]} == {older, newer}


def test_a_recall_sheet_that_can_t_be_made_leaves_no_table_behind(
    labeler: Labeler, lot: Lot, tmp_path: Path
) -> None:
    code, table = lot(), tmp_path / "a.csv"
    labeler("ship", f"{code}=3", "--customer", "日本の店")
    said = labeler("trace", code, "--csv", table, "--sheet", tmp_path / "r.pdf")
    assert (said.status, sorted(tmp_path.glob("*.csv"))) == (2, [])


def test_a_mistake_on_which_more_stands_is_not_taken_back(labeler: Labeler, lot: Lot) -> None:
    code = lot(SKU)
    labeler("ship", f"{code}=6", "--to", "odd-pail", "--key", "order 1")
    labeler("ship", f"{code}=2", "--back", "odd-pail", "--key", "back 1")
    said = labeler("ship", "--mistake", "order 1")
    assert (said.status, "[mistake-too-late]" in said.err) == (2, True)
    assert labeler("lot", "list", code, "--json").json["on_hand"] == 8
    for slip in ("back 1", "order 1"):
        assert labeler("ship", "--mistake", slip).status == 0
    assert labeler("lot", "list", code, "--json").json["on_hand"] == 12
    said = labeler("ship", f"{code}=6", "--to", "odd-pail", "--key", "order 1")
    assert (said.status, "[slip-taken-back]" in said.err) == (2, True)
    said = labeler("ship", "--mistake", "order 2")
    assert (said.status, "[slip-unknown]" in said.err) == (2, True)
    assert labeler("ship", code, "--mistake", "order 1").status == 2


def test_a_customer_and_a_fair_are_no_dealers(labeler: Labeler, lot: Lot) -> None:
    code = lot(SKU)
    said = labeler("ship", f"{code}=3", "--fair", "Millrace Spring Fair")
    assert (said.status, said.err) == (0, "")
    labeler("ship", f"{code}=1", "--customer", "Ann Reed")
    back = labeler("ship", f"{code}=2", "--back", "millrace spring fair")
    assert (back.status, back.err) == (0, "")
    told = labeler("trace", "Millrace Spring Fair", "--json").json["dealers"]
    assert told == [{"dealer": "Ann Reed (customer)", "count": 1},
                    {"dealer": "Millrace Spring Fair (fair)", "count": 1}]  # fmt: skip
