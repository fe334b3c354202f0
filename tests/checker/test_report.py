"""What the checker says: a summary first, what is gravest next, and what it did not check."""

from __future__ import annotations

import datetime as dt
import json
from pathlib import Path
from typing import Any

import pytest
from pypdf import PdfReader

from labeler.checker.judge import check_pdf
from labeler.checker.proof import rings, write_proof
from labeler.checker.report import Report, grouped
from labeler.disclosures.rules import NO_LEGAL_ADVICE
from labeler.findings import Finding, LabelerError, Place, fix, note, stop

DAY = dt.date(2026, 11, 25)


def at(sku: str, page: int = 1, cell: int = 1) -> Place:
    return Place(file="b.pdf", page=page, piece=sku, cell=str(cell), box=(20, 40, 120, 60))


REPORT = Report(
    "b.pdf",
    (
        note("gtin-sample", at("A-1"), "a sample", found="952"),
        fix("lot-missing", at("A-2"), "no lot", source="common practice"),
        stop("weight-wrong", at("A-1"), "not the weight", found="“3/8 oz”", expected="1/4 oz"),
        note("gtin-sample", at("A-2"), "a sample", found="953"),
        stop("weight-wrong", at("A-3", 2), "not the weight", found="“3/8 oz”", expected="1/4 oz"),
    ),
    pieces=3,
    products=3,
    pages=2,
    not_checked=("whether the lots are in the ledger",),
    day=DAY,
    markets=("US",),
)


def test_the_summary_comes_first_and_the_gravest_next() -> None:
    lines = REPORT.as_text().splitlines()
    assert lines[0] == ("b.pdf: do not print; 3 pieces on 2 pages checked: 2 stop, 1 fix, 2 note")
    assert lines[2].split()[:2] == ["1", "STOP"]
    grades = [line.split()[1] for line in lines if line[:3].strip().isdigit()]
    assert grades == ["STOP", "FIX", "NOTE"]


def test_what_is_the_same_of_several_pieces_is_said_once() -> None:
    counts = [(one.rule, len(others)) for one, others in grouped(REPORT.findings)]
    assert counts == [("weight-wrong", 1), ("lot-missing", 0), ("gtin-sample", 1)]
    assert "A-3 page 2 cell 1" in REPORT.as_text()


def test_it_ends_with_what_was_not_checked_and_that_it_is_no_legal_advice() -> None:
    text = " ".join(REPORT.as_text().split())
    assert text.endswith(NO_LEGAL_ADVICE)
    assert "Not checked: - whether the lots are in the ledger" in text


def test_it_is_plain_values_for_programs() -> None:
    record = json.loads(json.dumps(REPORT.as_json()))
    assert record["stops"] is True
    assert record["findings"][2]["place"]["piece"] == "A-1"
    assert record["findings"][2]["grade"] == "stop"
    assert record["no_legal_advice"] == NO_LEGAL_ADVICE


def test_a_good_file_is_told_as_good(bases: dict[str, Any]) -> None:
    base = bases["strip"]
    report = check_pdf(base.pdf, base.folder, day=DAY)
    assert not report.stops
    assert report.summary.startswith("strip.pdf: nothing stops the press; 3 pieces on 1 page")
    assert "how ink, paper and glue turn out" in report.as_text()


def test_a_file_is_called_by_the_name_that_it_will_have(
    bases: dict[str, Any], tmp_path: Path
) -> None:
    """The press checks what it wrote before it gives the file its name."""
    base = bases["strip"]
    part = tmp_path / ".bags.pdf.1a2b.part"
    part.write_bytes(base.pdf.read_bytes()[:-9])
    report = check_pdf(part, base.folder)
    assert report.file == part.name
    named = report.called("bags.pdf")
    assert named.file == "bags.pdf"
    assert {each.place.file for each in named.findings} == {"bags.pdf"}


def test_alike_pages_are_told_each(workshop: Any, bases: dict[str, Any], tmp_path: Path) -> None:
    """Sheets that draw the same are read once, and judged once for each."""
    folder = bases["strip"].folder
    run = workshop.printed(folder, tmp_path / "many.pdf", skus=("RM-14-30-TSP",), count=95)
    pages = []
    report = check_pdf(run.pdf, folder, day=DAY, progress=lambda page, of: pages.append((page, of)))
    assert (report.pieces, report.pages) == (95, 4)
    assert pages == [(1, 4), (2, 4), (3, 4), (4, 4)]
    there = check_pdf(run.pdf, folder, day=DAY, known_lot=lambda code: None)
    places = {(each.place.page, each.place.cell) for each in there.findings
              if each.rule == "lot-unknown"}  # fmt: skip
    assert len(places) == 95


@pytest.mark.usefixtures("unread")
@pytest.mark.siege
def test_fronts_and_backs_are_one_piece_though_all_fronts_come_first(
    workshop: Any, bases: dict[str, Any], tmp_path: Path
) -> None:
    """A stack that is turned over by hand is printed all fronts, then all backs."""
    from labeler.press.printers import Printer, save_printer

    folder = workshop.copied(tmp_path / "byhand")
    save_printer(Printer("hand", feed="hand"), folder)
    skus = ("RM-14-*", "RM-38-40-SBR")
    wish = {"use": "cards", "layout": "insert-card", "printer": "hand", "skus": skus}
    run = workshop.printed(folder, tmp_path / "hand.pdf", **wish)
    report = check_pdf(run.pdf, folder, day=DAY)
    assert report.pieces == 5
    assert report.pages == 4
    assert not report.stops, report.as_text()


# ----------------------------------------------------------------------------------- the proof


def test_the_proof_shows_each_page_with_a_finding_and_the_list(
    bases: dict[str, Any], tmp_path: Path
) -> None:
    base = bases["strip"]
    report = Report("strip.pdf", REPORT.findings, pieces=3, pages=1)
    proof = write_proof(base.pdf, report, tmp_path / "proof.pdf")
    pages = [page.extract_text() for page in PdfReader(proof).pages]
    assert len(pages) == 2  # page 2 does not exist in this file
    assert "Reedmace" in pages[1]
    text = " ".join(pages[0].split())
    assert "Do not print" in text
    assert "1 STOP b.pdf cell 1, page 1, A-1 " in text
    assert "also: A-3 page 2 cell 1" in text
    assert "[weight-wrong]" in text
    assert "This is not legal advice" in text


def test_the_proof_rings_what_was_found_in_its_place(bases: dict[str, Any], tmp_path: Path) -> None:
    """Red dots appear along the ring of a finding that stops, and nowhere in its middle."""
    import pypdfium2 as pdfium

    base = bases["strip"]
    box = (300.0, 400.0, 400.0, 440.0)
    report = Report("strip.pdf", (stop("weight-wrong", Place(page=1, box=box), "here"),))
    proof = write_proof(base.pdf, report, tmp_path / "proof.pdf")
    with pdfium.PdfDocument(proof) as document:
        dots = document[1].render(scale=2).to_numpy()
    red = (dots[:, :, 2] > 150) & (dots[:, :, 1] < 80)
    rows, columns = red.nonzero()
    assert (rows.min() / 2, rows.max() / 2) == pytest.approx((398, 442), abs=6)
    assert (columns.min() / 2, columns.max() / 2) == pytest.approx((298, 402), abs=4)
    assert not red[830:850, 640:760].any()


def test_what_is_said_of_a_whole_piece_is_ringed_at_its_cell(bases: dict[str, Any]) -> None:
    base = bases["strip"]
    found = [each for each in check_pdf(base.pdf, base.folder, day=DAY).findings
             if each.rule == "us-origin-hook"]  # fmt: skip
    assert found
    assert all(each.place.cell and each.place.box for each in found)
    alone: list[Finding] = []
    numbered = [(number, (each, alone)) for number, each in enumerate(found, 1)]
    assert {ring.box for of in rings(numbered).values() for ring in of} == {
        each.place.box for each in found
    }


def test_the_proof_of_a_file_that_can_not_be_read_is_the_list(tmp_path: Path) -> None:
    file = tmp_path / "bad.pdf"
    file.write_bytes(b"not at all")
    report = check_pdf(file, tmp_path)
    proof = write_proof(file, report, tmp_path / "proof.pdf")
    (page,) = PdfReader(proof).pages
    assert "this is no PDF" in page.extract_text()


def test_a_proof_that_can_not_be_written_leaves_nothing(
    bases: dict[str, Any], tmp_path: Path
) -> None:
    with pytest.raises(LabelerError, match="can't be written"):
        write_proof(bases["strip"].pdf, REPORT, tmp_path / "no" / "proof.pdf")
    assert not list(tmp_path.iterdir())
