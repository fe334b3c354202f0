"""Old batches and counted stock: lots from before the ledger, known by the codes in the shops."""

from __future__ import annotations

import io
import zipfile
from collections.abc import Callable
from pathlib import Path
from typing import Any
from xml.sax.saxutils import escape

import openpyxl
import pytest
from pypdf import PdfReader

Labeler = Callable[..., Any]

LOG = (
    ("Batches at the bench",),
    ("Date", "Jig", "Color", "Size", "Qty", "Batch", "Hook bag", "Head pour", "Notes"),
    ("9/14/26", "reedmace", "sunday bream", "3/8", "48", "A7", "bag 74 + bag 75", "P-31", "first"),
    ("", "reedmace", "duckweed", "3/8", "24", "A8", "bag 75", "P-31", ""),
    ("10/2/26", "november doe", "first frost", "3/8", "36", "B1", "HK-2291", "P-32", ""),
    ("", "TOTAL", "", "", "108", "", "", "", ""),
)


def as_csv(rows: tuple[tuple[str, ...], ...]) -> bytes:
    return "".join(",".join(row) + "\r\n" for row in rows).encode()


def as_xlsx(rows: tuple[tuple[str, ...], ...]) -> bytes:
    book, file = openpyxl.Workbook(), io.BytesIO()
    for row in rows:
        book.active.append([cell or None for cell in row])  # type: ignore[union-attr]
    book.save(file)
    return file.getvalue()


def as_ods(rows: tuple[tuple[str, ...], ...]) -> bytes:
    """Return the smallest ODS with these cells. Source: OASIS OpenDocument 1.3, part 3, 9.1."""
    cells = "".join(
        "<table:table-row>" + "".join(
            f'<table:table-cell office:value-type="string"><text:p>{escape(cell)}</text:p>'
            "</table:table-cell>" for cell in row
        ) + "</table:table-row>" for row in rows
    )  # fmt: skip
    urn = "urn:oasis:names:tc:opendocument:xmlns"
    content = (
        f'<office:document-content xmlns:office="{urn}:office:1.0" xmlns:text="{urn}:text:1.0" '
        f'xmlns:table="{urn}:table:1.0"><office:body><office:spreadsheet><table:table '
        f'table:name="log">{cells}</table:table></office:spreadsheet></office:body>'
        "</office:document-content>"
    )
    manifest = (
        f'<manifest:manifest xmlns:manifest="{urn}:manifest:1.0"><manifest:file-entry '
        'manifest:full-path="/" manifest:media-type="application/vnd.oasis.opendocument.'
        'spreadsheet"/></manifest:manifest>'
    )
    file = io.BytesIO()
    with zipfile.ZipFile(file, "w") as archive:
        archive.writestr("mimetype", "application/vnd.oasis.opendocument.spreadsheet")
        archive.writestr("content.xml", content)
        archive.writestr("META-INF/manifest.xml", manifest)
    return file.getvalue()


@pytest.fixture
def log(tmp_path: Path) -> Path:
    file = tmp_path / "batches.csv"
    file.write_bytes(as_csv(LOG))
    return file


@pytest.mark.parametrize("make", [as_csv, as_xlsx, as_ods])
def test_a_log_becomes_lots_with_day_count_materials_and_the_code_of_old(
    labeler: Labeler, tmp_path: Path, make: Callable[[Any], bytes]
) -> None:
    file = tmp_path / "batches"
    file.write_bytes(make(LOG))
    done = labeler("lot", "opening", "--from", file, "--json").json
    found = [
        (lot["sku"], lot["count"], lot["made"], lot["materials"], lot["other_names"])
        for lot in done["lots"]
    ]
    assert found == [
        ("RM-38-40-SBR", 48, "2026-09-14", ["alloy=P-31", "hook=bag 74", "hook=bag 75"], ["A7"]),
        ("RM-38-40-DKW", 24, "2026-09-14", ["alloy=P-31", "hook=bag 75"], ["A8"]),
        ("ND-38-20-FRO", 36, "2026-10-02", ["alloy=P-32", "hook=HK-2291"], ["B1"]),
    ]


@pytest.mark.daily
def test_the_code_of_old_leads_to_its_lot_and_again_nothing_is_opened_twice(
    labeler: Labeler, log: Path
) -> None:
    first = labeler("lot", "opening", "--from", log, "--json").json["lots"]
    code = first[0]["lot"]
    grown = (*LOG[:-1], ("11/1/26", "reedmace", "duckweed", "3/8", "6", "A8", "", "", ""))
    log.write_bytes(as_csv(grown))
    lots = labeler("lot", "opening", "--from", log, "--json").json["lots"]
    assert [lot["again"] for lot in lots] == [True, True, True, False]
    assert labeler("lot", "list", "a7", "--json").json["lot"] == code
    assert [lot["lot"] for lot in labeler("trace", "A7", "--json").json["lots"]] == [code]
    moved = labeler("ship", "A7=3", "--to", "odd-pail", "--json").json["moves"]
    assert [(each["lot"], each["on_hand"]) for each in moved] == [(code, 45)]
    asked = labeler("ship", "A8=1", "--to", "odd-pail", "--json").json["findings"]
    assert [each["rule"] for each in asked] == ["lot-which"]
    assert all(lot["lot"] in asked[0]["expected"] for lot in lots[1::2])
    near = labeler("trace", "A77", "--json").json["findings"][0]
    assert "A7" in near["hint"]


def test_old_labels_are_printed_and_reprinted_by_the_code_of_old(
    labeler: Labeler, log: Path, tmp_path: Path
) -> None:
    code = labeler("lot", "opening", "--from", log, "--json").json["lots"][0]["lot"]
    printed = labeler("bags", "--lot", "A7=2", "--out", tmp_path / "a.pdf", "--json").json
    assert printed["lot"] == code
    again = labeler("reprint", "A7=1", "--out", tmp_path / "b.pdf", "--json").json
    assert again["same"]
    wide = tmp_path / "wide.pdf"
    printed = labeler(
        "bags", "--lot", "A7=1", "--sheet", "letter-2x5", "--out", wide, "--json"
    ).json
    assert f"{code} · A7" in PdfReader(wide).pages[0].extract_text()
    told = labeler("check", wide, "--json")  # the ledger accounts for it, and makes it again
    assert told.status == 0
    rules = {each["rule"] for each in told.json["findings"] if each["grade"] != "note"}
    assert rules == {each["rule"] for each in printed["findings"] if each["grade"] != "note"}


def test_counted_stock_is_one_lot_of_each_product_and_traces_say_that_nobody_knows(
    labeler: Labeler, log: Path, tmp_path: Path
) -> None:
    counted = ("ND-38-20-FRO=18", "gravel bell peat cutter 3/8=6")
    words = ("lot", "opening", "--from", log, *counted, "--json")
    lots = labeler(*words).json["lots"]
    assert [(lot["sku"], lot["untraced"]) for lot in lots[3:]] == [
        ("ND-38-20-FRO", True), ("GB-38-40-PEA", True),
    ]  # fmt: skip
    assert len(labeler(*words).json["lots"]) == 3  # stock is counted once
    stock = {line["sku"]: line for line in labeler("stock", "--json").json["products"]}
    assert stock["ND-38-20-FRO"]["on_hand"] == 18  # the old batch counts as gone
    assert stock["RM-38-40-SBR"]["on_hand"] == 48
    sheet = tmp_path / "recall.pdf"
    found = labeler("trace", "HK-2291", "--sheet", sheet, "--json").json
    assert [(lot["other_names"], lot["gone"]) for lot in found["lots"]] == [(["B1"], 36)]
    assert [lot["lot"] for lot in found["perhaps"]] == [lot["lot"] for lot in lots[3:]]
    text = " ".join(PdfReader(sheet).pages[0].extract_text().split())
    assert "36 of these jigs went before there was a record" in text
    assert "24 jigs of 2 lots not traceable to materials" in text
    assert "B1" in text
    assert labeler("trace", "GB-38-40-PEA", "--json").json["perhaps"] == []
    assert "not traceable to materials" in labeler("trace", "GB-38-40-PEA").out
    twice = labeler("lot", "opening", "RM-38-40-SBR=5", "--json").json["findings"]
    assert [each["rule"] for each in twice] == ["stock-twice"]


def test_what_cant_be_read_is_told_all_at_once_or_left_out(labeler: Labeler, log: Path) -> None:
    odd = (
        *LOG[:3],
        ("9/15/26", "reedmaze", "duckweed", "3/8", "24", "A9", "", "", ""),
        ("9/16/26", "reedmace", "duckweed", "3/8", "many", "A9", "", "", ""),
    )
    log.write_bytes(as_csv(odd))
    words = ("lot", "opening", "--from", log, "--json")
    told = labeler(*words)
    assert told.status == 2
    assert {each["rule"] for each in told.json["findings"]} >= {"sku-unknown", "cell-misread"}
    assert labeler("lot", "list", "--json").json == {"lots": []}
    done = labeler(*words, "--leave-out").json
    assert [lot["other_names"] for lot in done["lots"]] == [["A7"]]
    assert {each["rule"] for each in done["findings"]} >= {"sku-unknown", "cell-misread"}
    undated = (LOG[1], ("", "reedmace", "duckweed", "3/8", "24", "A9", "", "", ""))
    log.write_bytes(as_csv(undated))
    assert [each["rule"] for each in labeler(*words).json["findings"]] == ["batch-undated"]


def test_a_log_that_is_read_better_adds_to_its_lots_and_opens_none_again(
    labeler: Labeler, tmp_path: Path
) -> None:
    file = tmp_path / "log.csv"
    rows = (
        ("9/14/26", "reedmace sunday bream 3/8", "48", "A7", "HK-11 / HK-12"),
        ("9/15/26", "reedmace duckweed 3/8", "24", "A8", ""),
        ("9/15/26", "reedmace duckweed 3/8", "24", "A9", "HK-12"),
    )
    words = ("lot", "opening", "--from", file, "--json")

    def read(*headings: str, then: tuple[object, ...] = words) -> Any:
        file.write_bytes(as_csv((("Date", "Jig", "Qty", *headings), *rows)))
        return labeler(*then).json

    asked = read("Whatsit", "Hk frm")["findings"]
    assert [(each["rule"], each["found"]) for each in asked if each["grade"] == "stop"] == [
        ("batch-column", '"Whatsit"'), ("batch-column", '"Hk frm"'),
    ]  # fmt: skip
    assert labeler("lot", "list", "--json").json == {"lots": []}
    bare = read("Whatsit", "Hk frm", then=(*words, "--leave-out"))["lots"]
    done = read("Tag", "Hooks from")
    assert [lot["lot"] for lot in done["lots"]] == [lot["lot"] for lot in bare]
    assert [(lot["other_names"], lot["materials"]) for lot in done["lots"]] == [
        (["A7"], ["hook=HK-11", "hook=HK-12"]), (["A8"], []), (["A9"], ["hook=HK-12"]),
    ]  # fmt: skip
    assert len(labeler("lot", "list", "--json").json["lots"]) == 3
    rows = (rows[2], rows[0], ("9/15/26", "reedmace duckweed 3/8", "24", "A10", ""))
    other = read("Tag", "Hooks from")["findings"]
    assert [each["rule"] for each in other if each["grade"] == "stop"] == ["lot-alike"]


def test_what_the_log_has_left_is_among_what_was_counted(labeler: Labeler, tmp_path: Path) -> None:
    file = tmp_path / "log.csv"
    made = ("9/14/26", "reedmace sunday bream 3/8", "48")
    file.write_bytes(as_csv((("Date", "Jig", "Qty", "Left"), (*made, "6"), (*made, ""))))

    def opening(*counts: str) -> Any:
        return labeler("lot", "opening", "--from", file, *counts, "--json").json

    assert [each["rule"] for each in opening("RM-38-40-SBR=4")["findings"]][-1] == "stock-less"
    done = opening("RM-38-40-SBR=24")
    assert [lot["count"] for lot in done["lots"]] == [48, 48, 18]
    assert "stock-of-log" in {each["rule"] for each in done["findings"]}
    stock = {line["sku"]: line for line in labeler("stock", "--json").json["products"]}
    assert stock["RM-38-40-SBR"]["on_hand"] == 24
    assert [lot["again"] for lot in opening("RM-38-40-SBR=24")["lots"]] == [True, True]


def test_what_a_log_says_otherwise_now_is_corrected_or_told_and_opens_no_lot(
    labeler: Labeler, tmp_path: Path
) -> None:
    file = tmp_path / "log.csv"
    jigs = (
        ("9/14/26", "reedmace sunday bream 3/8", "48"),
        ("9/15/26", "reedmace duckweed 3/8", "24"),
    )

    def opening(*left: str, count: str = "48", tag: str = "A7") -> Any:
        rows = ((*jigs[0][:2], count, tag, left[0]), (*jigs[1], "A8", left[1]))
        file.write_bytes(as_csv((("Date", "Jig", "Qty", "Tag", "Left"), *rows)))
        done = labeler("lot", "opening", "--from", file, "--json").json
        told = [each for each in done["findings"] if "batch" in each["rule"]]
        return [(each["rule"], each["grade"]) for each in told]

    def here() -> dict[str, int]:
        lots = labeler("lot", "list", "--json").json["lots"]
        return {"".join(each["other_names"]): each["on_hand"] for each in lots}

    assert opening("6", "") == [("batches-left", "note")]
    assert opening("9", "20") == [("batch-left-changed", "note")] * 2
    assert here() == {"A7": 9, "A8": 20}
    assert opening("9", "20") == []
    assert labeler("ship", "A7=8", "--fair", "Spring").status == 0
    assert opening("4", "20") == [("batch-left-changed", "fix")]
