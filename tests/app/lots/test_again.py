"""A finished file held against what the ledger kept of its run, whatever the catalog says since."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pikepdf
import pytest

from labeler.press.printers import Printer, save_printer

Labeler = Callable[..., Any]
Lot = Callable[..., str]
Checked = Callable[[Path], dict[str, Any]]


@pytest.fixture
def checked(labeler: Labeler) -> Checked:
    """Checks a file and returns the report."""
    return lambda file: dict(labeler("check", file, "--json").json)


def of_again(report: dict[str, Any]) -> dict[str, str]:
    """Return the grade of each rule that making the run again found broken."""
    told = report["findings"]
    return {each["rule"]: each["grade"] for each in told if each["rule"].startswith("again-")}


def change(folder: Path, old: str, new: str) -> None:
    file = folder / "catalog.toml"
    text = file.read_text("utf-8")
    assert old in text
    file.write_text(text.replace(old, new), "utf-8")


def saved(file: Path, damage: Callable[[pikepdf.Pdf], Any] = lambda pdf: None) -> Path:
    """Save a file by another program, perhaps damaged."""
    out = file.with_name(f"saved-{file.name}")
    with pikepdf.open(file) as pdf:
        damage(pdf)
        pdf.save(out)
    return out


def stamped(pdf: pikepdf.Pdf) -> None:
    page = pdf.pages[0]
    page.Contents = pdf.make_stream(page.Contents.read_bytes() + b"\n0 g 60 700 20 5 re f")


def forged(change: Callable[[dict[str, Any]], Any]) -> Callable[[pikepdf.Pdf], None]:
    def forge(pdf: pikepdf.Pdf) -> None:
        stream = pdf.attachments["run-sheet.json"].get_file().obj
        record = json.loads(stream.read_bytes())
        change(record)
        stream.write(json.dumps(record, ensure_ascii=False, separators=(",", ":")).encode())

    return forge


def test_the_very_file_of_a_run_is_known_by_its_sum_whatever_has_changed_since(
    labeler: Labeler, lot: Lot, folder: Path, tmp_path: Path, checked: Checked
) -> None:
    out = tmp_path / "bags.pdf"
    assert labeler("bags", "--lot", lot(), "--out", out).status == 0
    change(folder, "Reedmace began", "Reedmace started")
    report = checked(out)
    assert report["made_again"] == "byte for byte the file of run 1 in the ledger"
    assert of_again(report) == {}


@pytest.mark.parametrize("ink", ["colour", "black"])
@pytest.mark.daily("black")
def test_a_changed_file_is_held_against_what_the_ledger_kept(
    labeler: Labeler, lot: Lot, folder: Path, tmp_path: Path, checked: Checked, ink: str
) -> None:
    out = tmp_path / "bags.pdf"
    words = ("--ink", ink, "--start", 4, "--spoiled", "6", "--outline", "--sheet", "letter-2x5")
    assert labeler("bags", "--lot", f"{lot()}=3", *words, "--out", out).status == 0
    change(folder, 'price = "4.95"', 'price = "6.15"')
    report = checked(saved(out))
    assert of_again(report) == {}
    assert "run 1 as the ledger kept it (the catalog has changed since)" in report["made_again"]
    assert of_again(checked(saved(out, stamped)))["again-looks"] == "stop"


def test_a_run_sheet_of_other_pieces_than_the_ledger_has_is_told(
    labeler: Labeler, lot: Lot, tmp_path: Path, checked: Checked
) -> None:
    out = tmp_path / "bags.pdf"
    assert labeler("bags", "--lot", lot(), "--out", out).status == 0
    moved = forged(lambda record: record["pages"][0]["places"][0].__setitem__(5, 30))
    assert of_again(checked(saved(out, moved)))["again-not-on-record"] == "fix"


def test_without_a_ledger_a_changed_catalog_is_said_and_compared_with_all_the_same(
    labeler: Labeler, folder: Path, tmp_path: Path, checked: Checked
) -> None:
    out = tmp_path / "bags.pdf"
    assert labeler("bags", "--sku", "RM-38-40-SBR", "--out", out).status == 0
    change(folder, "Reedmace began", "Reedmace started")  # which no bag label says
    report = checked(out)
    said = "the run made again from the catalog (which has changed since) gives"
    assert report["made_again"] == f"byte for byte what {said}"
    assert of_again(report) == {}
    assert of_again(checked(saved(out, stamped))) == {"again-looks": "fix"}


def test_a_printer_that_was_measured_again_since_is_named(
    labeler: Labeler, folder: Path, tmp_path: Path, checked: Checked
) -> None:
    out = tmp_path / "bags.pdf"
    save_printer(Printer("office", 600, (2.0, -1.0), (1.002, 0.999), (0.001, 0.0)), folder)
    words = ("--sku", "RM-38-40-SBR", "--printer", "office", "--out", out)
    assert labeler("bags", *words).status == 0
    assert of_again(checked(saved(out))) == {}
    save_printer(Printer("office", 600, (0.5, 0.0)), folder)
    report = checked(saved(out))
    assert of_again(report)["again-other-printer"] == "fix"
    assert "again-looks" not in of_again(report), "by the correction that it was printed with"
    told = next(each for each in report["findings"] if each["rule"] == "again-other-printer")
    assert "office" in told["message"]
    assert told["place"]["page"] == 1


@pytest.mark.daily
def test_a_preview_is_never_taken_for_a_checked_print(labeler: Labeler, tmp_path: Path) -> None:
    out = tmp_path / "look.pdf"
    asked = ("cards", "--sku", "RM-38-40-SBR", "--layout", "insert-card", "--preview", "--out", out)
    assert labeler(*asked).status == 0
    said = labeler("check", out, "--json")
    assert (said.status, [each["rule"] for each in said.json["findings"]]) == (1, ["preview"])
    told = saved(out, forged(lambda record: record["run"].pop("preview")))
    said = labeler("check", told, "--json").json["findings"]
    frames = [(each["place"]["page"], each["grade"]) for each in said if each["rule"] == "preview"]
    assert frames == [(1, "stop"), (2, "stop")], "by the words around the paper"
