"""One run of several lots; cells that are taken once; runs that are tried, stopped, taken back."""

from __future__ import annotations

import json
import platform
from collections import Counter
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Any

import pytest
from pypdf import PdfReader

from labeler.app import record
from labeler.app.print_request import PrintRequest
from labeler.app.print_run import print_pieces
from labeler.app.workstation import ledger_location
from labeler.findings import Finding, LabelerError, Place, refusal
from labeler.ledger.open import open_ledger
from labeler.ledger.runs import (
    PlannedFile,
    RunPaper,
    TakenCells,
    open_sheet,
    past_runs,
    reserve,
    settle,
)
from labeler.ledger.trace import trace

Labeler = Callable[..., Any]
Lot = Callable[..., str]
STOCK = "letter-3x10"
BREAM, OAK = "RM-38-40-SBR", "MW-38-50-OAK"
STARTER, MARSH = Path(__file__).resolve().parents[3] / "layouts" / "starter", "FST-38-40-MAR"


def text_of(file: Path) -> str:
    return "".join("".join(page.extract_text().split()) for page in PdfReader(file).pages)


def used(folder: Path) -> tuple[int, ...]:
    with open_ledger(folder) as ledger:
        return open_sheet(ledger, STOCK).used


def labels_of(labeler: Labeler, code: str) -> int:
    return int(labeler("lot", "list", code, "--json").json["labels"])


def test_several_lots_are_one_run_on_one_sheet_each_with_its_count(
    labeler: Labeler, lot: Lot, tmp_path: Path, folder: Path
) -> None:
    first, second, third = lot(), lot(OAK, "--count", 5), lot()
    out = tmp_path / "bags.pdf"
    asked = ("--lot", f"{first}=7", "--lot", second, "--lot", third, "--count", 3)
    said = labeler("bags", *asked, "--out", out, "--json")
    assert said.json["labels"] == [
        {"sku": BREAM, "lot": first, "count": 7}, {"sku": OAK, "lot": second, "count": 3},
        {"sku": BREAM, "lot": third, "count": 3},
    ]  # fmt: skip
    assert (said.json["sheets"], said.json["pieces"], said.json["run"]) == (1, 13, 1)
    words = text_of(out)
    assert [words.count(code) for code in (first, second, third)] == [7, 3, 3]
    with open_ledger(folder) as ledger:
        runs = past_runs(ledger)
    assert [(run.run, run.lot, run.count) for run in runs] == [
        (1, first, 7), (1, second, 3), (1, third, 3),
    ]  # fmt: skip
    assert labeler("check", out).status == 0
    assert labeler("reprint", f"{third}=2", "--out", tmp_path / "again.pdf").status == 0


def test_a_pattern_means_the_lots_that_it_fits_and_none_that_is_void(
    labeler: Labeler, lot: Lot, tmp_path: Path
) -> None:
    first, gone, last = lot(), lot(), lot(OAK)
    assert labeler("lot", "void", gone, "--why", "counted wrong").status == 0
    out = tmp_path / "bags.pdf"
    asked = ("--lot", f"{first[:5]}*=1", "--lot", f"{last}=3")
    said = labeler("bags", *asked, "--preview", "--out", out, "--json")
    counts = {each["lot"]: each["count"] for each in said.json["labels"]}
    assert counts == {first: 1, last: 3}
    said = labeler("bags", "--lot", "9*", "--out", out)
    assert (said.status, "unknown-lot" in said.err, "9*" in said.err) == (2, True, True)
    said = labeler("bags", "--lot", "*", "--lot", f"{last}=3", "--lot", f"{last}=4", "--out", out)
    assert (said.status, "count-twice" in said.err) == (2, True)
    assert labeler("lot", "hold", first, "--why", "hooks snap").status == 0
    said = labeler("bags", "--lot", "*=1", "--out", out)
    assert (said.status, first in said.err) == (2, True)


def test_several_skus_bring_their_own_counts_and_are_named_by_words(
    labeler: Labeler, tmp_path: Path
) -> None:
    out = tmp_path / "bags.pdf"
    said = labeler(
        "bags", "--sku", f"{BREAM}=6", "--sku", "millers weir wet oak 3/8=10", "--sku",
        "RM-12-40-SBR", "--count", 2, "--spare", 1, "--out", out,
    )  # fmt: skip
    assert said.status == 0, said.err
    assert f"{OAK}: is the one product so called" in said.err
    for line in (f"7 of {BREAM}", f"11 of {OAK}", "3 of RM-12-40-SBR"):
        assert f"  {line}\n" in said.out


@pytest.mark.parametrize(
    ("words", "rule"),
    [
        (["--sku", f"{BREAM}=6", "--sku", f"{BREAM}=7"], "count-twice"),
        (["--sku", "RM-*=6", "--sku", f"{BREAM}=7"], "count-twice"),
        (["--sku", f"{BREAM}=six"], "count-unread"),
        (["--sku", f"{BREAM}=0"], "count-out-of-range"),
        (["--sku", f"{BREAM}=6", "--sku", f"{OAK}=300000"], "count-out-of-range"),
        (["--lot", "MINE-7"], "lot-of-many"),
        (["--lot", "MINE-7", "--sku", "RM-*"], "lot-of-many"),
        (["--lot", "MINE-7=3", "--lot", "MINE-7=4", "--sku", BREAM], "count-twice"),
        (["--lot", "MINE-7", "--lot", "MINE-7=4", "--sku", BREAM], "count-twice"),
        (["--lot", "MINE-7=3", "--sku", f"{BREAM}=2"], "count-twice"),
        (["--sku", BREAM, "--sku", "reedmace sunday bream 3/8"], "count-twice"),
        (["--sku", f"{BREAM}=6", "--count", "4"], "count-twice"),
    ],
)
def test_what_would_be_dropped_or_guessed_at_is_refused(
    labeler: Labeler, folder: Path, tmp_path: Path, words: list[str], rule: str
) -> None:
    said = labeler("bags", *words, "--out", tmp_path / "bags.pdf")
    assert (said.status, f"[{rule}]" in said.err) == (2, True), said.err
    assert not (tmp_path / "bags.pdf").exists()


def test_lots_that_don_t_go_with_the_products_named_are_refused(
    labeler: Labeler, lot: Lot, tmp_path: Path
) -> None:
    code, out = lot(), tmp_path / "bags.pdf"
    for words in (("--sku", OAK), ("--sku", BREAM, "--sku", f"{OAK}=6")):
        said = labeler("bags", "--lot", code, *words, "--out", out)
        assert (said.status, "lot-of-another" in said.err, OAK in said.err) == (2, True, True)
    said = labeler("bags", "--lot", f"{code}=3", "--lot", f"{code}=4", "--out", out)
    assert (said.status, "count-twice" in said.err) == (2, True)
    said = labeler("bags", "--lot", code, "--sku", "RM-38-*", "--out", out, "--json")
    (told,) = (each for each in said.json["findings"] if each["rule"] == "lot-only")
    assert (BREAM in told["found"], "RM-38-40-TSP" in told["found"]) == (False, True)
    said = labeler("bags", "--lot", code, "--sku", f"{BREAM}=4", "--out", out, "--json")
    assert said.json["pieces"] == 4


def test_labels_beyond_the_lot_are_told_before_the_file_is_made_with_the_earlier_runs(
    lot: Lot, folder: Path, tmp_path: Path
) -> None:
    code, out = lot("RM-38-40-SBR", "--count", 24), tmp_path / "bags.pdf"
    told: list[tuple[bool, Finding]] = []

    def tell(findings: Sequence[Finding]) -> None:
        told.extend((out.exists(), each) for each in findings)

    request = PrintRequest(folder, out, "bags", lots=(code,))
    print_pieces(request, tell=tell)
    assert not [each for _, each in told if each.rule == "lot-more-labels"]
    out.unlink()
    print_pieces(request, tell=tell)
    ((there, finding),) = [pair for pair in told if pair[1].rule == "lot-more-labels"]
    assert not there
    assert finding.found.startswith("24 now and 24 before (run 1: 24 on ")
    assert finding.expected == "24 in all"
    assert "labeler unprint 1 --why" in finding.hint


def test_a_trial_uses_no_cells_and_counts_nothing_and_is_the_same_file(
    labeler: Labeler, lot: Lot, folder: Path, tmp_path: Path
) -> None:
    code, tried, real = lot(), tmp_path / "tried.pdf", tmp_path / "real.pdf"
    said = labeler("bags", "--lot", code, "--trial", "--out", tried)
    assert "A trial: no cells are used up" in said.out
    assert (used(folder), labels_of(labeler, code)) == ((), 0)
    said = labeler("bags", "--lot", code, "--out", real, "--json")
    assert (said.json["start"], said.json["trial"]) == (1, False)
    assert tried.read_bytes() == real.read_bytes()
    assert (used(folder), labels_of(labeler, code)) == (tuple(range(1, 13)), 12)
    more = tmp_path / "more.pdf"  # tried.pdf is by now, byte for byte, a print on record
    assert labeler("reprint", code, "--count", 3, "--trial", "--out", more).status == 0
    said = labeler("bags", "--lot", code, "--trial", "--out", more)
    assert "lot-more-labels" not in said.err
    assert labels_of(labeler, code) == 12
    assert "(trial, not counted)" in labeler("lot", "list", code).out
    journal = labeler("lot", "journal", code, "--json").json["journal"]
    whats = [each["what"] for each in journal]
    assert whats == ["assign", "trial", "print", "trial", "trial"]


def test_a_preview_shows_the_pages_and_leaves_no_trace(
    labeler: Labeler, lot: Lot, folder: Path, tmp_path: Path
) -> None:
    out = tmp_path / "look.pdf"
    said = labeler("bags", "--sku", BREAM, "--start", "next", "--preview", "--out", out)
    assert (said.status, said.err.count("these labels carry no lot")) == (0, 1)
    assert f"labeler lot assign {BREAM} --count N" in said.err
    assert "A preview, to look at" in said.out
    assert "100 %" not in said.out
    assert not (folder / "ledger.sqlite").exists(), "--start next begins no ledger for it"
    code = lot()
    said = labeler("bags", "--lot", code, "--count", 2, "--out", tmp_path / "real.pdf")
    assert "no-lot" not in said.err
    said = labeler("bags", "--sku", BREAM, "--preview", "--out", out)
    assert f"--lot {code}" in said.err, "the lot that there is"
    before = {file: file.read_bytes() for file in folder.rglob("*") if file.is_file()}
    asked = ("--lot", code, "--count", 40, "--start", "next", "--preview", "--json")
    said = labeler("bags", *asked, "--out", out).json
    assert (said["preview"], said["trial"], said["run"], said["start"]) == (True, False, None, 3)
    assert {file: file.read_bytes() for file in folder.rglob("*") if file.is_file()} == before
    first = PdfReader(out).pages[0]
    assert first.extract_text().count("Preview, not for use") == 1
    assert [float(side) for side in first.mediabox.upper_right] == [612 + 72, 792 + 72]
    assert labeler("reprint", code, "--count", 1, "--preview", "--out", out).status == 0
    assert len(labeler("lot", "journal", code, "--json").json["journal"]) == 2


def test_what_stops_a_print_is_shown_on_its_preview(
    labeler: Labeler, lot: Lot, tmp_path: Path
) -> None:
    code, out = lot(), tmp_path / "look.pdf"
    labeler("lot", "hold", code, "--why", "hooks break")
    said = labeler("bags", "--lot", code, "--preview", "--out", out)
    assert (said.status, "[lot-held]" in said.err, out.exists()) == (1, True, True)
    assert "1 to put right, 0 to look at" in said.out


def test_an_outlined_test_print_uses_no_cells_and_counts_nothing(
    labeler: Labeler, lot: Lot, folder: Path, tmp_path: Path
) -> None:
    code, out = lot(), tmp_path / "plain.pdf"
    said = labeler("bags", "--lot", code, "--outline", "--out", out)
    assert "A trial: no cells are used up" in said.out
    assert (used(folder), labels_of(labeler, code)) == ((), 0)
    assert labeler("check", out).status == 0


def test_a_trial_is_no_original_of_a_reprint(labeler: Labeler, lot: Lot, tmp_path: Path) -> None:
    code, out = lot(), tmp_path / "x.pdf"
    labeler("bags", "--lot", code, "--trial", "--sheet", "letter-2x5", "--out", out)
    said = labeler("reprint", code, "--count", 1, "--out", out, "--json")
    assert said.json["of_run"] is None
    assert "reprint-first" in [each["rule"] for each in said.json["findings"]]


def test_a_run_that_was_not_printed_is_taken_back_with_its_cells(
    labeler: Labeler, lot: Lot, folder: Path, tmp_path: Path
) -> None:
    code, out = lot(), tmp_path / "bags.pdf"
    labeler("bags", "--lot", code, "--count", 4, "--out", out)
    labeler("bags", "--lot", code, "--count", 5, "--start", "next", "--out", out)
    labeler("bags", "--lot", code, "--count", 2, "--start", "next", "--out", out)
    said = labeler("unprint", 2, "--why", "paper jam", "--key", "jam")
    assert said.out.startswith("Run 2 is taken back: its cells are free")
    assert "5 bags of RM-38-40-SBR" in said.out
    assert (used(folder), labels_of(labeler, code)) == ((1, 2, 3, 4, 10, 11), 6)
    assert labeler("unprint", 2, "--why", "paper jam", "--key", "jam").status == 0
    assert "before; nothing is changed" in labeler("unprint", 2, "--why", "again").out
    assert "paper jam" in labeler("lot", "journal", code).out
    assert "(taken back, not counted)" in labeler("lot", "list", code).out
    said = labeler("bags", "--lot", code, "--count", 7, "--start", "next", "--out", out, "--json")
    with open_ledger(folder) as ledger:
        assert [cell for _, cell in past_runs(ledger)[-1].spots] == [5, 6, 7, 8, 9, 12, 13]
    assert labeler("unprint", 99, "--why", "x").status == 2
    assert labeler("unprint", 1, "--why", " ").status == 2


def test_a_sheet_taken_back_whole_is_the_one_before_again(
    labeler: Labeler, lot: Lot, folder: Path, tmp_path: Path
) -> None:
    code, out = lot("RM-38-40-SBR", "--count", 100), tmp_path / "bags.pdf"
    labeler("bags", "--lot", code, "--count", 25, "--out", out)
    labeler("bags", "--lot", code, "--count", 20, "--start", "next", "--out", out)
    assert used(folder) == tuple(range(1, 16))
    labeler("unprint", 2, "--why", "the printer ate it")
    assert used(folder) == tuple(range(1, 26))


def test_what_fails_gives_its_cells_back(
    labeler: Labeler, lot: Lot, folder: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    code, out = lot(), tmp_path / "bags.pdf"
    labeler("bags", "--lot", code, "--count", 4, "--out", out)

    def full(*_: object, **__: object) -> int:
        assert used(folder) == tuple(range(1, 10)), "taken before the file is made"
        raise OSError(28, "no space left", str(out))

    with monkeypatch.context() as patch:
        patch.setattr("labeler.app.print_run.write_pdf", full)
        said = labeler("bags", "--lot", code, "--count", 5, "--start", "next", "--out", out)
    assert said.status == 2
    assert used(folder) == (1, 2, 3, 4)
    with open_ledger(folder) as ledger:
        assert len(past_runs(ledger)) == 1


def test_a_lot_given_twice_however_typed_is_refused(
    labeler: Labeler, lot: Lot, tmp_path: Path
) -> None:
    code, out = lot(), tmp_path / "bags.pdf"
    for one, other in (("", "=6"), ("=5", "=6")):
        typed = f"{code[:3]}-{code[3:]}{other}"
        said = labeler("bags", "--lot", code + one, "--lot", typed, "--out", out)
        assert (said.status, f"{code}{one} and {code}{other}" in said.err) == (2, True)
    said = labeler("bags", "--lot", f"{code}=3", "--sku", f"{BREAM}=2", "--out", out)
    assert (said.status, f"{code}=3 and {BREAM}=2" in said.err) == (2, True)


@pytest.mark.parametrize("when", ["writing", "recorded", "recorded, then swept"])
def test_the_next_command_sees_to_a_run_that_was_killed(
    labeler: Labeler, lot: Lot, folder: Path, tmp_path: Path, when: str,
    monkeypatch: pytest.MonkeyPatch,
) -> None:  # fmt: skip
    """A killed process tidies nothing up: neither its cells nor its hidden file."""
    code, out = lot(), tmp_path / "bags.pdf"

    class Killed(BaseException):
        pass

    def kill(*_: object, **__: object) -> None:
        raise Killed

    with monkeypatch.context() as patch:
        patch.setattr("labeler.app.record.end_plan", lambda *_: None)
        patch.setattr("pathlib.Path.unlink", lambda *_, **__: None)
        name = (
            "labeler.app.print_run.write_pdf"
            if when == "writing"
            else "labeler.files._take_the_name"
        )
        patch.setattr(name, kill)
        with pytest.raises(Killed):
            labeler("bags", "--lot", code, "--count", 5, "--out", out)
    assert len(list(tmp_path.glob(".bags.pdf.*.part"))) == 1
    with open_ledger(folder) as ledger:  # which no command has seen to
        assert trace(ledger, code).stories[0].labels == (0 if when == "writing" else 5)
    assert used(folder) == tuple(range(1, 6))
    if when == "recorded, then swept":  # by whatever else was written beside it
        assert labeler("align", "--printer", "desk", "--out", tmp_path / "a.pdf").status == 0
        assert not list(tmp_path.glob(".*"))
    said = labeler("bags", "--lot", code, "--count", 3, "--start", "next", "--out", out)
    assert said.status == 0
    assert "[run-killed]" in said.err
    assert ("run 1 was stopped before" in said.err) == (when != "writing")
    assert "Give the command again" in said.err
    assert (used(folder), labels_of(labeler, code)) == ((1, 2, 3), 3)
    assert not list(tmp_path.glob(".*"))
    again = labeler("bags", "--lot", code, "--count", 1, "--start", "next", "--out", out)
    assert "[run-killed]" not in again.err


@pytest.mark.parametrize(
    "command",
    [
        ("lot", "list"), ("lot", "journal"), ("trace", MARSH), ("ship", "{}=1", "--customer", "A"),
        ("check", "{file}"), ("pages", "--out", "{site}"), ("lot", "weigh", "{}"),
        ("lot", "backup", "{site}.sqlite"), ("unprint", "1", "--why", "dead"),
        ("bags", "--lot", "{}", "--spoiled", "x", "--out", "{site}.pdf"),
    ],
    ids=lambda command: " ".join(command[:2]),
)  # fmt: skip
@pytest.mark.parametrize("line", [STARTER], ids=["small"])
def test_every_command_that_opens_the_ledger_tells_of_a_run_that_was_killed(
    labeler: Labeler, lot: Lot, folder: Path, tmp_path: Path, command: tuple[str, ...]
) -> None:
    code, file = lot(MARSH), tmp_path / "done.pdf"
    if "{file}" in command:
        assert labeler("bags", "--sku", MARSH, "--trial", "--out", file).status == 0
    with open_ledger(folder) as ledger:
        at = PlannedFile(str(tmp_path / "bags.pdf"), str(tmp_path / ".bags.part"), platform.node())
        reserve(ledger, RunPaper(STOCK, 0), at, lambda _: TakenCells(30, (), (1, 2)))
    Path(at.part).touch()
    said = labeler(*(each.format(code, file=file, site=tmp_path / "site") for each in command))
    assert said.err.count("[run-killed]") == 1, said.err
    assert f"{at.file}: a run was stopped before this file got its name" in said.err
    assert "Give the command again" in said.err
    assert (used(folder), Path(at.part).exists()) == ((), False)
    assert "[run-killed]" not in labeler("lot", "list").err


def test_a_full_disk_stops_no_look_at_the_ledger_for_a_run_that_was_killed(
    labeler: Labeler, lot: Lot, folder: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    lot()
    with open_ledger(folder) as ledger:
        at = PlannedFile(str(tmp_path / "bags.pdf"), str(tmp_path / ".bags.part"), platform.node())
        reserve(ledger, RunPaper(STOCK, 0), at, lambda _: TakenCells(30, (), (1, 2)))

    def full(*_: object) -> None:
        raise refusal("ledger-disk-full", Place(), "full")

    with monkeypatch.context() as patch:
        patch.setattr("labeler.ledger.runs.end_plan", full)
        said = labeler("lot", "list")
        assert (said.status, said.err) == (0, "")
    assert "[run-killed]" in labeler("lot", "list").err


def test_a_run_that_another_command_is_making_is_left_alone(
    labeler: Labeler, lot: Lot, folder: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    code, out = lot(), tmp_path / "bags.pdf"
    settled: list[tuple[Finding, ...]] = []
    write = record.record

    def meanwhile(*given: Any) -> int:
        with open_ledger(folder) as ledger:
            settled.append(settle(ledger))
        return write(*given)

    monkeypatch.setattr(record, "record", meanwhile)
    assert labeler("bags", "--lot", code, "--count", 5, "--out", out).status == 0
    assert settled == [()]
    assert (used(folder), labels_of(labeler, code)) == (tuple(range(1, 6)), 5)


@pytest.mark.siege
@pytest.mark.parametrize("line", [STARTER], ids=["small"])
@pytest.mark.parametrize("kind", ["sqlite", "postgresql"])
def test_two_commands_at_one_instant_never_print_on_the_same_cells(
    kind: str, lot: Lot, folder: Path, tmp_path: Path, request: pytest.FixtureRequest,
    monkeypatch: pytest.MonkeyPatch,
) -> None:  # fmt: skip
    if kind == "postgresql":
        monkeypatch.setenv("LABELER_LEDGER", request.getfixturevalue("server").schema())
    commands = request.getfixturevalue("commands")
    code, rounds, benches = lot(MARSH, "--count", 500), 2, 3

    def bags(start: object, out: str) -> tuple[object, ...]:
        return ("--catalog", folder, "bags", "--lot", code, "--count", 3, "--start", start,
                "--json", "--out", tmp_path / out)  # fmt: skip

    commands.practise(*bags("next", "first.pdf"))
    for turn in range(rounds):
        starts = (*["next"] * benches, 10 * turn + 6)
        ended = commands.at_once(*(bags(s, f"{turn}-{n}.pdf") for n, s in enumerate(starts)))
        *answers, last = [json.loads(told) for _, told in ended]
        assert all(answer["done"] for answer in answers), answers
        assert last["done"] or last["findings"][0]["rule"] == "cell-used"
    with ledger_location(folder).opened() as ledger:
        cells = Counter(spot for run in past_runs(ledger) for spot in run.spots)
        sheet = open_sheet(ledger, STOCK, workstation=ledger_location(folder).workstation)
    assert set(cells.values()) == {1}
    assert len(cells) >= benches * rounds * 3
    assert {cell for page, cell in cells if page == max(cells)[0]} <= set(sheet.used)


def test_no_look_at_a_ledger_that_may_not_be_written_settles_anything(
    lot: Lot, folder: Path
) -> None:
    lot()
    with open_ledger(folder) as ledger:
        ledger.only_read = True
        assert settle(ledger) == ()
        with pytest.raises(LabelerError):
            ledger.write(lambda _: None)


def test_words_name_a_product_wherever_a_sku_does(labeler: Labeler, tmp_path: Path) -> None:
    words, out = "reedmace sunday bream 3/8", tmp_path / "x.pdf"
    said = labeler("lot", "assign", words, "--count", 6, "--json")
    assert [each["rule"] for each in said.json["findings"]] == ["sku-by-name"]
    (opened,) = said.json["lots"]
    assert opened["sku"] == BREAM
    assert [each["lot"] for each in labeler("lot", "list", "--sku", words, "--json").json["lots"]]
    said = labeler("reprint", f"{words}=2", "--out", out, "--json")
    assert (said.json["lot"], said.json["pieces"]) == (opened["lot"], 2)
    for command in (("lot", "assign", "sunday bream", "--count", 6), ("lot", "list", "--sku",
                    "sunday bream"), ("reprint", "sunday bream=2", "--out", out)):  # fmt: skip
        said = labeler(*command)
        assert (said.status, "[sku-several]" in said.err, BREAM in said.err) == (2, True, True)
