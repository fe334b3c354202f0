"""Labels of a lot: its own product, its own number, on record, on the next free cells."""

from __future__ import annotations

import hashlib
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from pypdf import PdfReader

from labeler.catalog.model import Catalog
from labeler.ledger.open import open_ledger
from labeler.ledger.runs import open_sheet, past_runs

Labeler = Callable[..., Any]
Lot = Callable[..., str]


def used(folder: Path) -> tuple[int, ...]:
    with open_ledger(folder) as ledger:
        return open_sheet(ledger, "letter-3x10").used


def text_of(file: Path) -> str:
    """Return the words of a file without their spaces: some readers see one beside a tabular 1."""
    return "".join("".join(page.extract_text().split()) for page in PdfReader(file).pages)


def test_without_a_ledger_the_code_is_printed_as_typed_and_none_is_begun(
    labeler: Labeler, folder: Path, tmp_path: Path
) -> None:
    out = tmp_path / "bags.pdf"
    said = labeler("bags", "--sku", "RM-38-40-SBR", "--lot", "MINE-7", "--out", out)
    assert (said.status, "lot-unchecked" in said.err) == (0, True)
    assert "MINE-7" in text_of(out)
    assert not list(folder.glob("ledger*"))


def test_a_lot_prints_its_own_product_as_many_as_there_are_and_the_spares(
    labeler: Labeler, lot: Lot, tmp_path: Path
) -> None:
    lot("MW-38-50-OAK")
    code = lot("RM-38-40-SBR", "--count", 17)
    out = tmp_path / "bags.pdf"
    said = labeler("bags", "--lot", f"{code[:5]}-{code[5:]}", "--spare", 2, "--out", out, "--json")
    assert (said.json["pieces"], said.json["products"], said.json["lot"]) == (19, 1, code)
    assert text_of(out).count(code) == 19
    assert "SundayBream" in text_of(out)
    assert "WetOak" not in text_of(out)


def test_more_labels_than_the_lot_has_jigs_are_printed_and_told(
    labeler: Labeler, lot: Lot, tmp_path: Path
) -> None:
    code = lot()
    said = labeler("bags", "--lot", code, "--spare", 1, "--out", tmp_path / "x.pdf")
    assert (said.status, "lot-more-labels" in said.err) == (0, False)
    said = labeler("bags", "--lot", lot(), "--count", 13, "--out", tmp_path / "x.pdf")
    assert (said.status, "lot-more-labels" in said.err) == (0, True)


def test_jigs_that_are_sold_in_packs_take_a_label_a_pack(
    labeler: Labeler, lot: Lot, catalog: Catalog, tmp_path: Path
) -> None:
    code = lot("TD-116-6-DAN", "--count", 24)
    assert labeler("lot", "list", code, "--json").json["count"] == 24
    said = labeler("bags", "--lot", code, "--out", tmp_path / "bags.pdf", "--json")
    pack = next(p.pattern.pack for p in catalog.products if p.sku == "TD-116-6-DAN")
    assert said.json["pieces"] == 24 / pack < 24


def test_a_code_the_ledger_does_not_know_is_refused_with_the_nearest(
    labeler: Labeler, lot: Lot, tmp_path: Path
) -> None:
    code = lot()
    wrong = code[:-1] + str((int(code[-1]) + 1) % 10)
    said = labeler("bags", "--lot", wrong, "--out", tmp_path / "bags.pdf")
    assert (said.status, code in said.err) == (2, True)
    assert not (tmp_path / "bags.pdf").exists()


def test_a_lot_prints_for_no_other_product_and_a_void_one_for_none(
    labeler: Labeler, lot: Lot, tmp_path: Path
) -> None:
    code, out = lot(), tmp_path / "bags.pdf"
    said = labeler("bags", "--lot", code, "--sku", "MW-*", "--out", out)
    assert (said.status, "lot-of-another" in said.err) == (2, True)
    labeler("lot", "void", code, "--why", "never tied")
    said = labeler("bags", "--lot", code, "--out", out)
    assert (said.status, "never tied" in said.err) == (2, True)
    assert labeler("lot", "card", code, "--out", out).status == 2
    assert not out.exists()


@pytest.mark.daily
def test_a_run_is_on_record_with_all_that_it_was(
    labeler: Labeler, lot: Lot, folder: Path, tmp_path: Path
) -> None:
    code, out = lot(), tmp_path / "bags.pdf"
    labeler("bags", "--lot", code, "--count", 5, "--start", 3, "--spoiled", 4, "--out", out)
    with open_ledger(folder) as ledger:
        (run,) = past_runs(ledger, lot=code)
    assert run.pdf == hashlib.sha256(out.read_bytes()).hexdigest()
    assert run.spots == ((1, 3), (1, 5), (1, 6), (1, 7), (1, 8))
    assert (run.kind, run.sku, run.count, run.stock) == ("bag", "RM-38-40-SBR", 5, "letter-3x10")
    assert run.layout == "bag-strip"
    assert all(len(each) == 64 for each in (run.layout_fingerprint, run.catalog_digest, run.fonts))


def test_next_goes_on_at_the_first_free_cell_and_leaves_the_spoiled_out(
    labeler: Labeler, lot: Lot, folder: Path, tmp_path: Path
) -> None:
    code, out = lot(), tmp_path / "bags.pdf"
    labeler("bags", "--lot", code, "--count", 4, "--spoiled", "2,7", "--out", out)
    said = labeler("bags", "--lot", code, "--count", 3, "--start", "next", "--out", out, "--json")
    assert said.json["start"] == 6
    with open_ledger(folder) as ledger:
        assert past_runs(ledger, lot=code)[-1].spots == ((1, 6), (1, 8), (1, 9))
        assert open_sheet(ledger, "letter-3x10").next_free == 10
        assert open_sheet(ledger, "letter-2x7").next_free == 1


def test_a_begun_sheet_is_offered_to_whoever_takes_a_new_one(
    labeler: Labeler, lot: Lot, tmp_path: Path
) -> None:
    code, out = lot(), tmp_path / "bags.pdf"
    labeler("bags", "--lot", code, "--count", 4, "--out", out)
    said = labeler("bags", "--lot", code, "--count", 4, "--out", out)
    assert "next free cell is 5" in said.err


@pytest.mark.parametrize("command", ["bags", "reprint"])
def test_a_cell_that_is_used_is_never_printed_on_again_without_a_word(
    labeler: Labeler, lot: Lot, folder: Path, tmp_path: Path, command: str
) -> None:
    code, out = lot(), tmp_path / "bags.pdf"
    labeler("bags", "--lot", code, "--count", 6, "--spoiled", "9", "--out", out)
    asked = ("bags", "--lot", code) if command == "bags" else ("reprint", code)
    asked = (*asked, "--count", 2, "--out", tmp_path / "more.pdf")
    for cell in (3, 6, 9):
        said = labeler(*asked, "--start", cell)
        assert said.status == 2
        assert "sheet letter-3x10 that was begun is used" in said.err
        assert f"found {cell}; expected next, which is 7" in said.err
        assert f"--spoiled 1-{cell - 1} and leave --start out" in said.err
        assert not (tmp_path / "more.pdf").exists()
    assert labeler(*asked, "--start", 3, "--trial").status == 0, "on plain paper"
    assert used(folder) == (*range(1, 7), 9)
    said = labeler(*asked, "--start", 8)
    assert "[cells-skipped]" in said.err
    with open_ledger(folder) as ledger:
        assert past_runs(ledger, lot=code)[-1].spots == ((1, 8), (1, 10))
    assert used(folder) == tuple(range(1, 11))
    labeler("unprint", 1, "--why", "jam")  # a gap before what others printed
    assert labeler(*asked, "--start", 4).status == 0
    said = labeler(*asked, "--start", "next")
    with open_ledger(folder) as ledger:
        assert past_runs(ledger, lot=code)[-1].spots == ((1, 6), (1, 9))


def test_another_sheet_with_cells_gone_is_said_by_those_to_leave_out(
    labeler: Labeler, lot: Lot, folder: Path, tmp_path: Path
) -> None:
    code, out = lot(), tmp_path / "bags.pdf"
    labeler("bags", "--lot", code, "--count", 6, "--out", out)
    assert (
        labeler("bags", "--lot", code, "--count", 2, "--spoiled", "1-2", "--out", out).status == 0
    )
    assert used(folder) == (1, 2, 3, 4)


def test_a_full_sheet_makes_next_a_new_one(labeler: Labeler, lot: Lot, tmp_path: Path) -> None:
    code, out = lot(), tmp_path / "bags.pdf"
    labeler("bags", "--lot", code, "--count", 30, "--out", out)
    said = labeler("bags", "--lot", code, "--count", 1, "--start", "next", "--out", out, "--json")
    assert said.json["start"] == 1


def test_a_file_that_cannot_be_written_leaves_no_record(
    labeler: Labeler, lot: Lot, folder: Path, tmp_path: Path
) -> None:
    code = lot()
    said = labeler("bags", "--lot", code, "--out", tmp_path / "nowhere" / "bags.pdf")
    assert said.status == 2
    with open_ledger(folder) as ledger:
        assert past_runs(ledger) == []


def test_what_the_catalog_says_otherwise_since_is_told(
    labeler: Labeler, lot: Lot, folder: Path, tmp_path: Path
) -> None:
    code = lot()
    text = (folder / "catalog.toml").read_text("utf-8")
    (folder / "catalog.toml").write_text(
        text.replace('price = "4.95"', 'price = "6.15"', 1), "utf-8"
    )
    out = tmp_path / "bags.pdf"
    said = labeler("bags", "--lot", code, "--sheet", "letter-2x5", "--out", out)
    assert "price $4.95, now $6.15" in said.err
    assert "$4.95" in text_of(out)
    assert "$6.15" not in text_of(out)


@pytest.mark.daily
def test_a_preview_or_a_trial_never_takes_the_place_of_a_print_on_record(
    labeler: Labeler, lot: Callable[..., str], tmp_path: Path
) -> None:
    code, out = lot(), tmp_path / "bags.pdf"
    assert labeler("bags", "--lot", f"{code}=1", "--out", out).status == 0
    before = out.read_bytes()
    for way in ("--preview", "--trial"):
        said = labeler("bags", "--lot", f"{code}=1", way, "--out", out)
        assert (said.status, "bags-preview.pdf" in said.err) == (2, True), said.err
        assert out.read_bytes() == before
