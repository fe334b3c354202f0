"""What an older version stored is listed, traced, reprinted mark for mark, weighed, shipped again.

`vectors/ledger-0002.sqlite` was made before anything stored had a number; `stored-0002.json` is
what its documents are in the form with one. Neither is ever made anew.
"""

from __future__ import annotations

import dataclasses
import datetime as dt
import hashlib
import json
import lzma
import shutil
import sqlite3
from collections import Counter
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pypdfium2
import pytest
from PIL import Image, ImageChops
from pydantic import BaseModel
from pypdf import PdfReader

from labeler import marks
from labeler.app.reprint import find_original, lay_out_again
from labeler.app.workstation import ledger_location
from labeler.catalog import model
from labeler.cli.group import run
from labeler.drawing import jig, subject
from labeler.drawing.subject import look_of
from labeler.findings import LabelerError, Place
from labeler.layout.canonical import drawn_print, drawn_text
from labeler.ledger import documents, stored, weigh
from labeler.ledger.stored import RenamedField, Shape, StoredKind

VECTORS = Path(__file__).parent / "vectors"
DRAWN: dict[str, str] = json.loads(lzma.decompress((VECTORS / "drawn-0002.json.xz").read_bytes()))
STORED: dict[str, list[Any]] = json.loads((VECTORS / "stored-0002.json").read_text("utf-8"))
HERE = Place(key="here")

HERON, VOLE, METRIC, WIDE, SEED, VOID = (
    "263240016", "263240024", "263270012", "263280018", "263280026", "263280034"
)  # fmt: skip
GOOD = ("10.4", "10.7", "10.6", "10.5", "10.8", "10.6", "10.7", "10.5", "10.6", "10.4", "10.6",
        "10.7")  # fmt: skip

RUNS = {
    "1 bag SW-38-40-DHN 263240016": (HERON, "--count", 12),
    "2 card SW-38-40-DHN 263240016": (HERON, "--count", 4),
    "3 bag CV-38-30-LMP 263240024": (VOLE, "--count", 8, "--spoiled", "1-4,7-8"),
    "4 card CV-38-30-LMP 263240024": (VOLE, "--count", 2),
    "5 bag SW-12-50-DHN 263280018": (WIDE, "--count", 3),
    "7 bag SW-38-40-DHN 263240016": (HERON, "--count", 2, "--start", 4),
    "8 bag SW-12-40-DHN ": ("SW-12-40-DHN", "--count", 1),
    "9 bag CV-10.5G-30-LMP 263270012": (METRIC, "--count", 3),
    "10 bag SE-116-6-ASH 263280026": (SEED, "--count", 2, "--even-so"),
    "11 card CV-38-30-LMP 263240024": (VOLE, "--count", 1),
}
"""Every piece that a run drew, and how the run is printed again on the same cells."""


@pytest.fixture
def line(tmp_path: Path) -> Path:
    """The folder that the old ledger was made in, with the ledger as it was."""
    folder = Path(shutil.copytree(VECTORS / "line-0002", tmp_path / "line"))
    shutil.copy(VECTORS / "ledger-0002.sqlite", folder / "ledger.sqlite")
    return folder


@pytest.fixture
def run_cli(line: Path, capfd: pytest.CaptureFixture[str]) -> Callable[..., Any]:
    """Gives a command and returns what it tells; its exit status must be ``status``."""

    def give(*words: object, status: int = 0) -> Any:
        capfd.readouterr()
        ended = run(["--catalog", str(line), *map(str, words), "--json"])
        out, err = capfd.readouterr()
        assert ended == status, (out, err)
        assert "Traceback" not in out + err
        return json.loads(out)

    return give


RunCli = Callable[..., Any]


def rows(line: Path) -> dict[str, list[Any]]:
    """Return the rows of all that is stored as JSON or files."""
    with sqlite3.connect(line / "ledger.sqlite") as ledger:
        found = {
            table: ledger.execute(f"SELECT * FROM {table} ORDER BY 1").fetchall()
            for table in ("snapshots", "files", "layouts", "weighings", "runs", "printed")
        }
    ledger.close()
    return found


# ----------------------------------------------------------------------- the ledger as it was


def test_every_piece_that_the_ledger_printed_is_asked_for() -> None:
    assert set(RUNS) == set(DRAWN)


def test_its_lots_are_listed(run_cli: RunCli) -> None:
    lots = {each["lot"]: each for each in run_cli("lot", "list")["lots"]}
    assert set(lots) == {HERON, VOLE, METRIC, WIDE, SEED, VOID}
    assert (lots[HERON]["count"], lots[HERON]["on_hand"], lots[HERON]["shipped"]) == (60, 30, 28)
    assert (lots[METRIC]["on_hand"], lots[VOID]["void"]) == (13, "counted wrong")
    heron = run_cli("lot", "list", HERON)
    assert heron["materials"] == ["alloy=PB 9", "hook=HK-2291", "thread=T-7"]
    assert heron["note"] == "first of all"
    assert [each["verdict"] for each in heron["weigh_ins"]] == ["pass"]
    assert [each["run"] for each in heron["runs"]] == [1, 2, 6, 7]
    assert [each["verdict"] for each in run_cli("lot", "list", VOLE)["weigh_ins"]] == ["fail"]
    assert [each["verdict"] for each in run_cli("lot", "list", WIDE)["weigh_ins"]] == ["weigh more"]


def test_a_hook_is_traced_to_the_shops(run_cli: RunCli) -> None:
    found = run_cli("trace", "HK-2291")
    assert [each["lot"] for each in found["lots"]] == [HERON, VOLE]
    with_dealers = {each["dealer"]: each["count"] for each in found["dealers"]}
    assert with_dealers == {"The Ferry Shop": 28, "Dry Dock Tackle Room": 6}
    assert [
        each["lot"] for each in run_cli("trace", "https://go.example.com/01/09521987001015")["lots"]
    ] == [HERON]


@pytest.mark.daily("1 bag SW-38-40-DHN 263240016", "4 card CV-38-30-LMP 263240024")
@pytest.mark.parametrize("piece", RUNS)
def test_every_run_is_printed_again_mark_for_mark(
    run_cli: RunCli, line: Path, tmp_path: Path, piece: str
) -> None:
    number, kind, _, lot = piece.split(" ")
    target, *words = RUNS[piece]
    out = tmp_path / "again.pdf"
    which = ("--kind", f"{kind}s", "--run", number)
    again = run_cli("reprint", target, *words, *which, "--out", out)
    assert (again["same"], again["of_run"]) == (True, int(number))
    rules = {each["rule"] for each in again["findings"]}
    assert not rules & {"reprint-drawn-otherwise", "ink-colour", "shades-alike"}
    with ledger_location(line).opened() as ledger:
        original = find_original(ledger, target, kind, int(number))  # type: ignore[arg-type]
    laid, making, said = lay_out_again(original, line)
    assert said == ()
    assert drawn_text(laid.composed.piece).split("\n") == DRAWN[piece].split("\n")
    assert (making.marks_form, drawn_print(laid.composed.piece, 0)) == (0, making.marks)
    if lot:  # the run without a lot held other pieces too
        assert farthest(out, VECTORS / "pages-0002" / f"run-{number}.png") <= 16


def farthest(pdf: Path, page: Path) -> int:
    """Return how far the greys of any eight points square differ from the page as it was."""
    with pypdfium2.PdfDocument(pdf) as document:
        seen = document[0].render(scale=1).to_pil().convert("L")
    was = Image.open(page).convert("L")
    assert seen.size == was.size
    small = (seen.width // 8, seen.height // 8)
    box = Image.Resampling.BOX
    apart = ImageChops.difference(seen.resize(small, box), was.resize(small, box))
    return int(apart.getextrema()[1])  # type: ignore[arg-type]


@pytest.mark.siege
def test_a_page_with_one_label_less_is_seen_to_differ(run_cli: RunCli, tmp_path: Path) -> None:
    out = tmp_path / "one.pdf"
    run_cli("reprint", WIDE, "--count", 2, "--out", out)
    assert farthest(out, VECTORS / "pages-0002" / "run-5.png") > 16


@pytest.mark.siege
def test_a_print_of_today_keeps_the_same_marks_in_today_s_form(
    run_cli: RunCli, line: Path, tmp_path: Path
) -> None:
    made = run_cli("bags", "--lot", HERON, "--count", 1, "--sheet", "letter-2x5", "--printer",
                "laser", "--layout", "bag-panel", "--out", tmp_path / "one.pdf")  # fmt: skip
    kept = kept_files(line, made["run"])
    making = json.loads(kept["piece.json"])
    assert (making["schema"], making["marks_form"], making["language"]) == (2, 1, 5)
    with ledger_location(line).opened() as ledger:
        original = find_original(ledger, HERON, "bag", made["run"])
    laid, _, said = lay_out_again(original, line)
    text = drawn_text(laid.composed.piece)
    assert (said, making["marks"]) == ((), hashlib.sha256(text.encode()).hexdigest())
    # The words and the code are those of then, however today's label places them.
    assert written(text) == written(DRAWN["1 bag SW-38-40-DHN 263240016"])
    assert json.loads(kept["said.json"])["schema"] == 2
    again = run_cli("reprint", HERON, "--count", 1, "--out", tmp_path / "two.pdf")
    assert (again["same"], again["of_run"]) == (True, made["run"])
    first, second = tmp_path / "one.pdf", tmp_path / "two.pdf"
    assert first.read_bytes() == second.read_bytes()


def written(drawn: str) -> tuple[Counter[str], list[str]]:
    """Return each word that is drawn on a piece, with its number, and what its codes say."""
    lines = [line.split('"') for line in drawn.split("\n") if line.startswith(("glyphs ", "code "))]
    words = " ".join(part[3] for part in lines if part[0].startswith("glyphs "))
    codes = [part[1] for part in lines if part[0].startswith("code ")]
    return Counter(json.loads(f'"{words}"').replace("·", " ").split()), codes


def kept_files(line: Path, number: int) -> dict[str, bytes]:
    """Return the files that a run kept, by their paths."""
    with sqlite3.connect(line / "ledger.sqlite") as ledger:
        (prints,) = ledger.execute(
            "SELECT files FROM layouts JOIN printed ON layout = fingerprint WHERE run_id = ?",
            (number,),
        ).fetchone()
        kept = dict(ledger.execute("SELECT fingerprint, data FROM files"))
    ledger.close()
    return {path: kept[each] for path, each in json.loads(prints).items()}


def test_it_is_weighed_and_shipped_again_and_nothing_old_is_touched(
    run_cli: RunCli, line: Path
) -> None:
    before = rows(line)
    assert run_cli("lot", "weigh", HERON, *GOOD)["verdict"] == "pass"
    run_cli("ship", HERON, "--to", "ferry", "--count", 5)
    run_cli("ship", HERON, "--back", "dry-dock", "--count", 6)
    heron = run_cli("lot", "list", HERON)
    assert [each["verdict"] for each in heron["weigh_ins"]] == ["pass", "pass"]
    assert heron["on_hand"] == 31
    for table, was in before.items():  # a later step may add columns after them
        now = {row[: len(was[0])] for row in rows(line)[table]}
        assert set(was) <= now


def test_a_sample_that_was_too_small_then_grows_now(run_cli: RunCli) -> None:
    told = run_cli("lot", "weigh", WIDE, *["14.2"] * 9)
    assert told["sample"] == 3 + 9


def test_a_request_that_it_carried_out_is_not_carried_out_twice(run_cli: RunCli) -> None:
    first = run_cli("lot", "assign", "SW-38-40-DHN", "--count", 60, "--key", "monday", "--material",
                 "hook=HK-2291", "--material", "alloy=PB 9")["lots"][0]  # fmt: skip
    assert (first["lot"], first["again"]) == (HERON, True)
    run_cli("lot", "weigh", HERON, *GOOD[:-1], "0.376 oz", "--key", "scale")
    run_cli("ship", f"{HERON}=24", f"{VOLE}=6", "--to", "ferry", "--key", "parcel 1")
    heron = run_cli("lot", "list", HERON)
    assert (len(heron["weigh_ins"]), heron["on_hand"]) == (1, 30)


def test_a_week_of_orders_packs_and_old_codes_goes_on(
    run_cli: RunCli, line: Path, tmp_path: Path
) -> None:
    """`ledger-0008.sqlite` was made when these had just come into the ledger."""
    shutil.copy(VECTORS / "ledger-0008.sqlite", line / "ledger.sqlite")
    with (line / "catalog.toml").open("a", encoding="utf-8") as file:
        file.write((VECTORS / "more-0008.toml").read_text("utf-8"))
    lots = {each["lot"]: each for each in run_cli("lot", "list")["lots"]}
    assert {code: (each["on_hand"], each["other_names"]) for code, each in lots.items()} == {
        "262780016": (0, ["A7"]), "262850019": (0, ["B2"]), "263270012": (18, []),
        "263270029": (20, []), "263280018": (6, []),
    }  # fmt: skip
    assert lots["263280018"]["held"] == lots["262850019"]["held"] == "rust in box HK-2188"
    found = run_cli("trace", "HK-2188")
    assert [each["lot"] for each in found["lots"]] == ["262780016", "262850019", "263280018"]
    assert {each["dealer"]: each["count"] for each in found["dealers"]} == {
        "The Ferry Shop": 8, "Spring Fair (fair)": 2,
    }  # fmt: skip
    kept = {each["order"]: each for each in run_cli("orders", "--all")["orders"]}
    assert {number: (each["state"], each["open"]) for number, each in kept.items()} == {
        "2600018": ("part shipped", 4), "2600026": ("part shipped", 2),
        "2600034": ("cancelled", 0),
    }  # fmt: skip
    bills = run_cli("orders", "2600026")["orders"][0]["invoices"]
    assert [(each["invoice"], each["taken_back"]) for each in bills] == [
        ("26000033", False), ("26000041", True),
    ]  # fmt: skip
    paper = tmp_path / "invoice.pdf"
    run_cli("orders", "26000017", "--invoice", paper)
    said = " ".join(PdfReader(paper).pages[0].extract_text().split())
    assert all(text in said for text in ("26000017", "PO 118", "$25.20", "The Ferry Shop"))
    again = run_cli("reprint", "A7", "--count", 2, "--run", 1, "--out", tmp_path / "again.pdf")
    assert (again["same"], again["of_run"]) == (True, 1)
    run_cli("lot", "release", "B2", "--why", "it was tea")
    again = run_cli("reprint", "263280018", "--count", 2, "--out", tmp_path / "packs.pdf")
    assert (again["same"], again["of_run"]) == (True, 2)
    more = run_cli("ship", "--order", "2600018")
    order = run_cli("order", "SW-38-40-DHN=1", "--customer", "Cid")["order"]["order"]
    year = f"{dt.datetime.now(dt.UTC):%y}"  # numbers begin again with each
    bill, next_order = ("26000050", "2600042") if year == "26" else (f"{year}00001", f"{year}0001")
    assert (more["invoice"][: len(bill)], more["open"]) == (bill, 0)
    assert order.startswith(next_order)


# ------------------------------------------------------------------------------ numbers, upcasts

Read = Callable[[Any], Any]
FORMS: dict[str, tuple[StoredKind[Any], Read, Callable[[Any], Any]]] = {
    "product": (
        documents.PRODUCT,
        lambda kept: documents.PRODUCT.read(kept, HERE),
        documents.PRODUCT.write,
    ),
    "weigh-in": (
        weigh.JUDGEMENT, lambda kept: weigh.JUDGEMENT.read(kept, HERE), weigh.JUDGEMENT.write
    ),
    "findings": (
        stored.FINDINGS, lambda kept: stored.read_findings(kept, HERE), stored.write_findings
    ),
    "making": (
        documents.MAKING, lambda kept: documents.MAKING.read(kept, HERE),
        documents.MAKING.write,
    ),
    "statements": (
        documents.STATEMENTS,
        lambda kept: documents.read_statements(json.dumps(kept).encode(), HERE),
        lambda said: json.loads(documents.write_statements(said)),
    ),
}  # fmt: skip
"""By its name in the vector: the kind of document, what reads it and what writes it."""


def first_forms() -> dict[str, list[Any]]:
    """Return the documents of the vector as the old ledger holds them, without a number."""
    ledger = sqlite3.connect(VECTORS / "ledger-0002.sqlite")
    found = {
        "product": "SELECT product FROM snapshots ORDER BY sku",
        "weigh-in": "SELECT report FROM weighings ORDER BY id",
        "findings": "SELECT findings FROM runs WHERE id = 10",
    }
    first = {
        name: [json.loads(text) for (text,) in ledger.execute(query)]
        for name, query in found.items()
    }
    ledger.close()
    return first


def test_the_parts_of_a_pack_are_brought_up_to_date_with_it() -> None:
    """As the first packs were stored, whose makers had no logo."""
    kind, read, write = FORMS["product"]
    plain = {"colour": {"proposed": False}, "pattern": {"tied_with": []}}
    one = STORED["product"][0]
    fourth = one | {"schema": 4, "parts": []} | {k: one[k] | more for k, more in plain.items()}
    inner = {key: value for key, value in fourth.items() if key not in ("schema", "needs")}
    pack = write(read(fourth | {"parts": [{"product": inner, "count": 2}]}))
    (part,) = pack["parts"]
    whole = {key: value for key, value in pack.items() if key not in ("schema", "needs", "parts")}
    assert (pack["schema"], part["count"]) == (kind.number, 2)
    assert {key: part["product"][key] for key in whole} == whole


def of_today(name: str, kept: dict[str, Any]) -> dict[str, Any]:
    """Return a document of the vector as it is written today: a product has more to it since."""
    if name != "product":
        return kept
    more = {"colour": {"proposed": False}, "pattern": {"tied_with": []}, "maker": {"logo": None}}
    return (
        kept
        | {"schema": 6, "parts": [], "second_language": None, "second_words": {}}
        | {part: kept[part] | field for part, field in more.items()}
    )


@pytest.mark.parametrize("name", FORMS)
def test_a_document_is_written_as_it_always_was(name: str) -> None:
    kind, read, write = FORMS[name]
    for kept in STORED[name]:
        now = of_today(name, kept)
        assert (kept["schema"], kind.number) == (2, now["schema"])
        assert write(read(kept)) == write(read(now)) == now


@pytest.mark.parametrize("name", ["product", "weigh-in", "findings"])
def test_a_document_without_a_number_is_brought_up_to_date(name: str) -> None:
    _, read, write = FORMS[name]
    now = [of_today(name, kept) for kept in STORED[name]]
    assert [write(read(kept)) for kept in first_forms()[name]] == now
    assert [read(kept) for kept in first_forms()[name]] == [read(kept) for kept in STORED[name]]


def test_a_making_and_statements_without_a_number_are_brought_up_to_date(line: Path) -> None:
    kept = {name: json.loads(data) for name, data in kept_files(line, 1).items() if "json" in name}
    assert isinstance(kept["said.json"], list)
    assert "schema" not in kept["piece.json"]
    for name, file in (("making", "piece.json"), ("statements", "said.json")):
        _, read, write = FORMS[name]
        assert write(read(kept[file])) == STORED[name][0]


def test_the_product_of_the_first_ledger_of_all_is_read() -> None:
    ledger = sqlite3.connect(VECTORS / "ledger-0001.sqlite")
    ((text,),) = ledger.execute("SELECT product FROM snapshots").fetchall()
    ledger.close()
    first = json.loads(text)
    product = documents.PRODUCT.read(first, HERE)
    assert "tab_weight" not in first["materials"]["lead"]
    assert (product.sku, str(product.weight), product.has_lead) == ("RV-38-40-MLN", "3/8 oz", True)
    assert product.pattern.tie.waste is None
    assert documents.PRODUCT.read(documents.PRODUCT.write(product), HERE) == product


def test_what_the_catalog_forbids_by_now_is_still_read() -> None:
    """A rule that became stricter must not lose a lot."""
    kept = STORED["product"][0] | {"sku": "an old way: to write it", "hook_size": "77"}
    assert documents.PRODUCT.read(kept, HERE).sku == "an old way: to write it"


SHOWN_BY = {
    "product": ("lot", "weigh", HERON, *GOOD),
    "weigh-in": ("lot", "list", HERON),
    "findings": ("lot", "list", HERON),
    "making": ("reprint", HERON, "--kind", "bags", "--run", 1, "--count", 1, "--out", "x.pdf"),
    "statements": ("reprint", HERON, "--kind", "bags", "--run", 1, "--count", 1, "--out", "x.pdf"),
}
"""A command that reads each kind of document."""


def plant(line: Path, name: str, change: Callable[[Any], Any]) -> None:
    """Alter every document of a kind behind the program's back."""
    with sqlite3.connect(line / "ledger.sqlite") as ledger:
        triggers = "SELECT name FROM sqlite_master WHERE type = 'trigger'"
        for (trigger,) in ledger.execute(triggers).fetchall():
            ledger.execute(f"DROP TRIGGER {trigger}")
        table, column, key = {
            "product": ("snapshots", "product", "fingerprint"),
            "weigh-in": ("weighings", "report", "id"),
            "findings": ("runs", "findings", "id"),
        }.get(name, ("files", "data", "fingerprint"))
        for at, kept in ledger.execute(f"SELECT {key}, {column} FROM {table}").fetchall():
            if table == "files" and not kept.startswith(b'{"' if name == "making" else b"[{"):
                continue
            data: Any = json.dumps(change(json.loads(kept)))
            data = data.encode() if table == "files" else data
            ledger.execute(f"UPDATE {table} SET {column} = ? WHERE {key} = ?", (data, at))
    ledger.close()


@pytest.mark.daily("product", "making")
@pytest.mark.parametrize("name", SHOWN_BY)
def test_a_newer_document_says_which_version_it_needs(
    run_cli: RunCli, line: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, name: str
) -> None:
    monkeypatch.chdir(tmp_path)
    plant(line, name, lambda kept: {"schema": 99, "needs": "9.8.7", "moulds": []})
    (finding,) = run_cli(*SHOWN_BY[name], status=2)["findings"]
    assert finding["rule"] == "stored-newer"
    assert "schema 99" in finding["found"]
    assert "version 9.8.7 or a later one" in finding["hint"]
    assert not (tmp_path / "x.pdf").exists()


@pytest.mark.daily("marks_form-marks, form 7")
@pytest.mark.parametrize(
    ("key", "what"), [("marks_form", "marks, form 7"), ("language", "layout language 7")]
)
def test_marks_and_layouts_of_a_newer_form_say_which_version_they_need(
    run_cli: RunCli, line: Path, tmp_path: Path, key: str, what: str
) -> None:
    newer = STORED["making"][0] | {key: 7, "program": "9.8.7"}
    plant(line, "making", lambda kept: newer)
    out = tmp_path / "x.pdf"
    (finding,) = run_cli("reprint", HERON, "--count", 1, "--out", out, status=2)["findings"]
    assert (finding["rule"], finding["found"]) == ("stored-newer", what)
    assert "9.8.7" in finding["hint"]
    assert not out.exists()


@pytest.mark.daily("17-product", "None-making", "damage1-weigh-in")
@pytest.mark.parametrize("name", SHOWN_BY)
@pytest.mark.parametrize("damage", [17, {"schema": 2}, {"schema": "two"}, {"schema": 0}, None])
def test_a_damaged_document_is_told_and_no_fright(
    run_cli: RunCli,
    line: Path,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    name: str,
    damage: Any,
) -> None:
    monkeypatch.chdir(tmp_path)
    plant(line, name, lambda kept: damage)
    (finding,) = run_cli(*SHOWN_BY[name], status=2)["findings"]
    assert finding["rule"] == "stored-unreadable"
    assert not (tmp_path / "x.pdf").exists()


@pytest.mark.parametrize(
    ("change", "found", "expected"),
    [
        (lambda p: p["pattern"].update(weights=["heavy"]), "pattern > weights > 1: 'heavy'", "oz"),
        (lambda p: p["pattern"].update(pack="2"), "pattern > pack: '2'", "a whole number"),
        (lambda p: p["hook"].pop("eye"), "hook: 'eye'", "a key"),
        (lambda p: p["bag"].update(lid=True), "bag: 'lid'", "no such key"),
        (lambda p: p.update(markets="US"), "markets: 'US'", "a list"),
        (lambda p: p.update(price="dear"), "price: 'dear'", "an amount"),
    ],
)
def test_what_is_damaged_is_told_by_its_place(
    change: Callable[[Any], Any], found: str, expected: str
) -> None:
    kept = json.loads(json.dumps(STORED["product"][-1]))
    change(kept)
    with pytest.raises(LabelerError) as error:
        documents.PRODUCT.read(kept, HERE)
    (finding,) = error.value.findings
    assert finding.found == found
    assert expected in finding.expected


# -------------------------------------------------------------------------------------- renames


def shapes() -> Iterator[tuple[Shape[Any], Any]]:
    """Yield every shape of a living record, and the record's class."""
    for module in (stored, documents, weigh):
        for shape in vars(module).values():
            if isinstance(shape, Shape):
                yield shape, getattr(shape.make, "__self__", shape.make)


def test_every_field_of_a_record_has_a_key() -> None:
    seen = set()
    for shape, record in shapes():
        living = (
            set(record.model_fields)
            if issubclass(record, BaseModel)
            else {each.name for each in dataclasses.fields(record)}
        )
        assert {called.attribute for called in shape.keys.values()} == living, record
        seen.add(record.__name__)
    assert {"Product", "Layer", "Statement", "Making", "Judgement"} <= seen


def test_a_field_that_takes_another_name_is_stored_as_before() -> None:
    keep = STORED["product"][0]["colour"]["layers"][0]
    (layer,) = (shape for shape, record in shapes() if record is model.Layer)
    renamed: Shape[Any] = Shape(
        SimpleNamespace,
        **{key: RenamedField(f"new_{was.attribute}", was.codec) for key, was in layer.keys.items()},
    )
    record = renamed.read(keep)
    assert (record.new_shade, record.new_strands) == (keep["shade"], keep["strands"])
    assert renamed.write(record) == layer.write(layer.read(keep)) == keep


LIVING: tuple[Any, ...] = (
    marks.Glyphs, marks.VectorPath, marks.Image, marks.Picture, marks.Code, marks.Group,
    marks.PieceSide, marks.Piece,
    subject.JigLook, subject.HeadLook, subject.HookLook, subject.GuardLook,
    subject.LayerLook,
    *(record for _, record in shapes()),
)  # fmt: skip


@contextmanager
def renamed_and_moved() -> Iterator[None]:
    """Give every record that is stored or drawn another name in another module."""
    was = [(each, each.__name__, each.__qualname__, each.__module__) for each in LIVING]
    for each in LIVING:
        each.__name__ = each.__qualname__ = f"Other{each.__name__}"
        each.__module__ = "labeler.elsewhere"
    try:
        yield
    finally:
        for each, name, qualified, module in was:
            each.__name__, each.__qualname__, each.__module__ = name, qualified, module


@pytest.mark.siege
def test_classes_that_take_other_names_and_modules_change_nothing(
    run_cli: RunCli, line: Path, tmp_path: Path
) -> None:
    with ledger_location(line).opened() as ledger:
        original = find_original(ledger, VOLE, "card", 4)
    laid, making, _ = lay_out_again(original, line)
    piece, product = laid.composed.piece, laid.job.product
    as_shown, seed = repr((piece, product)), look_of(product).seed
    with renamed_and_moved():
        jig._drawn.cache_clear()  # else the jig is not drawn again
        assert repr((piece, product)) != as_shown
        assert drawn_text(piece) == DRAWN["4 card CV-38-30-LMP 263240024"]
        assert drawn_print(piece, making.marks_form) == making.marks
        assert look_of(product).seed == seed
        for name, (_, read, write) in FORMS.items():
            now = [of_today(name, kept) for kept in STORED[name]]
            assert [write(read(kept)) for kept in STORED[name]] == now
        again = run_cli("reprint", VOLE, "--kind", "cards", "--run", 4, "--count", 1,
                     "--out", tmp_path / "x.pdf")  # fmt: skip
    assert again["same"] is True
    assert repr((piece, product)) == as_shown
