"""What was tied tonight: lots, batch cards and labels in one act, and harmless said again."""

from __future__ import annotations

import io
import signal
from collections.abc import Callable, Sequence
from datetime import date
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st
from pypdf import PdfReader

from labeler.app import record, tied
from labeler.app.tied import TiedRequest, Understood, read_tied, tie
from labeler.codes.lot_code import LotForm
from labeler.findings import LabelerError, Place, refusal
from labeler.ledger.assign import codes_ahead
from labeler.ledger.backup import examine
from labeler.ledger.open import open_ledger
from labeler.ledger.runs import open_sheet, past_runs, record_run

Labeler = Callable[..., Any]
TONIGHT = "reedmace, sunday bream 3/8 = 4, ND-38-20-FRO = 2"
NAMES = st.text(st.sampled_from("abc 3/8,.-"), min_size=1).map(str.strip).filter(
    lambda name: name.strip(" ,") == name and name
)  # fmt: skip


@pytest.fixture(autouse=True)
def at_home(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """Files without a folder of their own go here."""
    monkeypatch.chdir(tmp_path)
    return tmp_path


def text_of(file: Path) -> str:
    return "".join("".join(page.extract_text().split()) for page in PdfReader(file).pages)


@pytest.mark.daily
@pytest.mark.parametrize("text", ["", " , ", " \n;"])
def test_nothing_but_blanks_is_refused_and_begins_no_ledger(
    labeler: Labeler, folder: Path, text: str
) -> None:
    said = labeler("tied", text)
    assert (said.status, "tied-unread" in said.err) == (2, True)
    assert not list(folder.glob("ledger*"))


@pytest.mark.daily
def test_what_was_made_void_since_is_said_and_a_twin_is_asked_about(
    labeler: Labeler, lot: Callable[..., str], at_home: Path
) -> None:
    lot("RM-38-40-SBR", "--count", 4)
    twin = labeler("tied", "RM-38-40-SBR = 4")
    assert "lot-alike" in twin.err
    assert "column key" not in twin.err
    done = labeler("tied", "ND-38-20-FRO = 2", "--json").json
    code = done["lots"][0]["lot"]
    again = labeler("tied", "ND-38-20-FRO = 2")
    assert f"labeler reprint {code}=N --out labels-{code}.pdf" in again.out
    assert labeler("lot", "void", code, "--why", "never tied").status == 0
    gone = labeler("tied", "ND-38-20-FRO = 2")
    assert (gone.status, "tied-void" in gone.err, code in gone.err) == (2, True, True)
    assert labeler("tied", "ND-38-20-FRO = 2", "--sure").status == 0


@pytest.mark.daily
def test_one_act_opens_lots_and_prints_cards_and_labels_and_again_does_nothing_twice(
    labeler: Labeler, folder: Path, at_home: Path
) -> None:
    done = labeler("tied", TONIGHT, "--material", "hook=HK-2291", "--json").json
    codes = [lot["lot"] for lot in done["lots"]]
    assert [(lot["sku"], lot["count"]) for lot in done["lots"]] == [
        ("RM-38-40-SBR", 4), ("ND-38-20-FRO", 2),
    ]  # fmt: skip
    assert {tuple(lot["materials"]) for lot in done["lots"]} == {("hook=HK-2291",)}
    labels, cards = at_home / f"labels-{codes[0]}.pdf", at_home / f"cards-{codes[0]}.pdf"
    text = text_of(labels)
    assert (text.count(codes[0]), text.count(codes[1])) == (4, 2)
    assert len(PdfReader(cards).pages) == 2
    assert all(code in text_of(cards) and "HK-2291" in text_of(cards) for code in codes)
    before = {file: file.read_bytes() for file in (labels, cards)}
    swapped = "nd-38-20-fro = 2\nRM-38-40-SBR = 4"  # in other words the same
    again = labeler("tied", swapped, "--material", "hook=HK-2291", "--json").json
    assert again["again"]
    assert sorted(lot["lot"] for lot in again["lots"]) == codes
    assert again["labels"] is None
    assert {file: file.read_bytes() for file in before} == before
    with open_ledger(folder) as ledger:
        assert {run.run for run in past_runs(ledger)} == {1, 2}
        assert open_sheet(ledger, "letter-3x10").next_free == 7
        assert examine(ledger) == ()


def test_what_fails_at_the_last_moment_opens_nothing(
    labeler: Labeler, folder: Path, at_home: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    keep = record_run

    def full(ledger: Any, run: Any, **more: Any) -> int:
        if run.printed[0].kind == "bag":
            raise refusal("ledger-full", Place(file="ledger"), "no room is left on the disk")
        return keep(ledger, run, **more)

    with monkeypatch.context() as patched:
        patched.setattr(record, "record_run", full)
        assert labeler("tied", TONIGHT).status == 2
    with open_ledger(folder) as ledger:
        assert past_runs(ledger) == []
        assert open_sheet(ledger, "letter-3x10").next_free == 1
    assert labeler("lot", "list", "--json").json == {"lots": []}
    assert list(at_home.iterdir()) == []
    assert labeler("tied", TONIGHT, "--sheet", "letter-9x9").status == 2
    first = labeler("tied", TONIGHT, "--json").json["lots"][0]
    assert first["lot"] == LotForm().write(date.fromisoformat(first["made"]), 1)  # none used up


def test_another_bench_that_is_faster_gets_the_codes_and_the_labels_bear_the_next(
    labeler: Labeler, lot: Callable[..., str], at_home: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    look, taken = codes_ahead, list[str]()

    def overtaken(*about: Any) -> list[str]:
        codes = look(*about)
        if not taken:
            taken.append(lot("RM-38-40-DKW"))
        return codes

    monkeypatch.setattr(tied, "codes_ahead", overtaken)
    done = labeler("tied", TONIGHT, "--json").json
    codes = [each["lot"] for each in done["lots"]]
    assert taken[0] not in codes
    assert text_of(at_home / f"labels-{codes[0]}.pdf").count(codes[0]) == 4
    assert not (at_home / f"labels-{taken[0]}.pdf").exists()


def test_labels_that_were_taken_back_are_printed_when_it_is_said_again(
    labeler: Labeler, at_home: Path
) -> None:
    first = labeler("tied", TONIGHT, "--json").json
    labeler("unprint", first["run"], "--why", "paper jam")
    (at_home / first["cards"]).unlink()
    again = labeler("tied", TONIGHT, "--json").json
    assert again["again"]
    assert again["labels"]["pieces"] == 6
    assert again["run"] != first["run"]
    assert (at_home / first["cards"]).exists()
    sure = labeler("tied", TONIGHT, "--sure", "--json").json
    assert {lot["lot"] for lot in sure["lots"]}.isdisjoint(lot["lot"] for lot in first["lots"])


class ToldError(Exception):
    """Ends the act once it is said what was understood."""


def understood(folder: Path, **asked: Any) -> list[tuple[str, int, list[str]]]:
    """Return what is understood: SKU, count and materials of each batch."""
    told: list[Understood] = []

    def tell(batches: Sequence[Understood], _: object) -> None:
        told.extend(batches)
        raise ToldError

    with pytest.raises(ToldError):
        tie(TiedRequest(folder, **asked), tell=tell)
    return [(b.product.sku, b.count, [*map(str, b.materials)]) for b in (one.batch for one in told)]


def test_lines_and_a_spreadsheet_say_it_too_and_materials_go_into_all(folder: Path) -> None:
    lines = b"RM-38-40-SBR = 2\n\nreedmace, duckweed, 3/8 = 1, ND-38-20-FOX=1,000"
    assert understood(folder, file=(lines, "tonight.txt")) == [
        ("RM-38-40-SBR", 2, []), ("RM-38-40-DKW", 1, []), ("ND-38-20-FOX", 1000, []),
    ]  # fmt: skip
    table = b"Product,Jigs,Hook lot\nreedmace duckweed 3/8,3,HK-7\n"
    asked = {"file": (table, "tonight.csv"), "materials": ("glue=G-1",)}
    assert understood(folder, **asked) == [("RM-38-40-DKW", 3, ["hook=HK-7", "glue=G-1"])]
    assert not list(folder.glob("ledger.sqlite*"))


def test_what_is_piped_in_is_read_and_nothing_at_all_is_wrong_use(
    labeler: Labeler, monkeypatch: pytest.MonkeyPatch
) -> None:
    assert labeler("tied").status == 2
    monkeypatch.setattr("sys.stdin", io.TextIOWrapper(io.BytesIO(b"GB-38-40-PEA = 1000001")))
    said = labeler("tied", "--file", "-", "--json").json
    assert [each["rule"] for each in said["findings"]] == ["lot-count"]


def test_what_cant_be_meant_is_told_all_at_once_and_nothing_is_kept(
    labeler: Labeler, folder: Path
) -> None:
    said = labeler("tied", "ND-38-20-FRU = 12", "reedmace = 3", "--json").json
    assert [each["rule"] for each in said["findings"]] == ["sku-unknown", "sku-several"]
    said = labeler("tied", "ND-38-20-FRO = 2, ND-38-20-FRO = 2", "--json").json
    assert [each["rule"] for each in said["findings"]] == ["tied-twice"]
    said = labeler("tied", "ND-38-20-FRO = 0", "--made", "2099-01-01", "--json").json
    assert {each["rule"] for each in said["findings"]} == {"lot-count", "lot-day"}
    assert labeler("tied", "ND-38-20-FRO").status == 2
    assert not list(folder.glob("ledger.sqlite*"))


@pytest.mark.daily
@given(st.lists(st.tuples(NAMES, st.integers(0, 99_999)), min_size=1))
def test_names_and_counts_come_apart_as_they_were_put_together(
    entries: list[tuple[str, int]],
) -> None:
    for between, form in ((", ", "{}={:,}"), ("\n", "{} = {}"), (";", "{} = {:,}")):
        text = between.join(form.format(*entry) for entry in entries)
        assert [(row.sku, row.count) for row in read_tied(text, Place())] == entries


def test_counts_are_said_without_an_equals_sign_too() -> None:
    text = "river, vesper 3/8 x 6, 12 x hopper muskrat\n2 doz ND-38-20-FRO; hopper 6 pcs"
    assert [(row.sku, row.count) for row in read_tied(text, Place())] == [
        ("river, vesper 3/8", 6), ("hopper muskrat", 12), ("ND-38-20-FRO", 24), ("hopper", 6),
    ]  # fmt: skip


@pytest.mark.daily
@pytest.mark.parametrize("text", ["hopper", "a = 3, b", "= 3", "a = x", "a = 3 b = 4"])
def test_what_does_not_say_how_many_is_refused(text: str) -> None:
    with pytest.raises(LabelerError, match="how many"):
        read_tied(text, Place())


def test_killed_at_any_moment_it_is_whole_or_not_begun_and_said_again_it_is_whole(
    commands: Any, labeler: Labeler, folder: Path, at_home: Path
) -> None:
    skus = ("ND-38-20-FRO", "ND-38-20-FOX", "ND-38-20-COA")
    asked = [("tied", f"{sku} = 4", "--json") for sku in skus]
    commands.practise("--catalog", folder, *asked[0])
    length = commands.time("--catalog", folder, *asked[0])
    for at, words in enumerate(asked[1:], 1):
        moment = length * (0.65, 0.9)[at - 1]
        commands.end("--catalog", folder, *words, after=moment, number=signal.SIGKILL)
        with open_ledger(folder) as ledger:
            assert examine(ledger) == ()
        done = labeler(*words).json
        (lot,) = done["lots"]
        with open_ledger(folder) as ledger:
            assert examine(ledger) == ()
            printed = past_runs(ledger, lot=lot["lot"], kind="bag")
            assert [run.count for run in printed if run.state == "printed"] == [4]
        assert text_of(at_home / f"labels-{lot['lot']}.pdf").count(lot["lot"]) == 4
        assert len(PdfReader(at_home / done["cards"]).pages) == 1
    assert len(labeler("lot", "list", "--json").json["lots"]) == len(skus)
