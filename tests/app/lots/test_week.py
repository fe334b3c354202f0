"""A maker's week through the command line, in a folder and under headings of her own.

Seven old batches from her spreadsheet, three lots printed in one go, a failed weigh-in, an order
half in stock, a recall, a parcel typed twice; in the end the ledger is held against what happened.
And every command that there is: none ends in a traceback.
"""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import click
import openpyxl
import pytest
from pypdf import PdfReader

from labeler.cli.group import VERBS, run
from labeler.cli.group import labeler as group
from labeler.ledger.backup import examine
from labeler.ledger.lots import list_lots
from labeler.ledger.open import open_ledger
from labeler.ledger.runs import open_sheet, past_runs
from labeler.ledger.trace import trace

pytestmark = pytest.mark.siege

Labeler = Callable[..., Any]

STARTER = Path(__file__).resolve().parents[3] / "layouts" / "starter"
MARSH, INK, LIGHT = "FST-38-40-MAR", "FST-12-50-INK", "FST-38-40-INK"
BATCHES = """Bench log 2026;;;;;
Item No.;Qty;Day;Hook;Alloy;Remarks
FST-38-40-MAR;24;9/14;HK-70;LD-1;
First Pattern ink 3/8;12;9/14;HK-70;LD-1;second pour
FST-12-50-INK;36;10/2;bag 74 + bag 75;LD-1;
;;;;;
FST-12-50-MAR;12;Oct 9;bag 75;LD-2;tail of the old tabs
FST-38-40-MAR;12;10/30;HK-71;LD-2;
FST-12-50-INK;18;11/6;bag 76;LD-2;
FST-38-40-INK;10;11/13;HK-71;LD-2;
"""


def test_a_week(tmp_path: Path, capfd: pytest.CaptureFixture[str]) -> None:  # noqa: PLR0915
    shop = tmp_path / "my shop"

    def do(*words: object, status: int = 0, says: str | tuple[str, ...] = ()) -> str:
        capfd.readouterr()
        done = run(["--catalog", str(shop), *map(str, words)])
        said = "".join(capfd.readouterr())
        assert done == status, (words, said)
        for part in (says,) if isinstance(says, str) else says:
            assert re.search(part, said), (part, said)
        return said

    # Monday: the folder, her products under her own headings, the old batches.
    do("new", shop, says="put your own line in")
    (shop / "products.csv").write_bytes(
        "Item #;Retail;Remarks\nFST-38-40-MAR;4,75;für den Laden\n".encode("cp1252")
    )
    do("check", says=("0 to put right", "read as Windows-1252", "4.75, not the 4.50 of catalog"))
    log = tmp_path / "log.csv"
    log.write_text(BATCHES.replace("10/2;", "10/2x;"), "utf-8")
    do("lot", "assign", "--from", log, status=2, says=(r"log.csv:5, made: this is no day",))
    log.write_text(BATCHES, "utf-8")
    said = do(
        "lot", "assign", "--from", log,
        says=(r"kept as 2 suppliers' lots: hook=bag 74, hook=bag 75", "FST-38-40-INK: is the one",
              "month first; found 11/6 as 2026-11-06|month first; found 10/2 as 2026-10-02"),
    )  # fmt: skip
    codes = re.findall(r"^Lot (\d+):", said, re.MULTILINE)
    assert len(codes) == len(set(codes)) == 7
    first, second, third, fourth, fifth, sixth, seventh = codes
    assert "made 2026-09-14" in said
    do("lot", "assign", "--from", log, says=f"Lot {first}.*It was opened before")

    # Tuesday: three lots on one sheet; what is too much is told first; one jams.
    bags = tmp_path / "bags.pdf"
    do("bags", "--lot", fifth, "--lot", f"{seventh}=8", "--lot", fourth, "--out", bags,
       says=("32 labels of 3 products on 2 sheets", f"8 of {LIGHT}, lot {seventh}",
             "next free cell of the last sheet is 3"))  # fmt: skip
    do(
        "bags",
        "--lot",
        f"{fifth}=4",
        "--start",
        2,
        "--out",
        bags,
        status=2,
        says="this cell of the sheet letter-3x10 that was begun is used; found 2; expected next",
    )
    do("bags", "--lot", f"{fifth}=4", "--start", "next", "--out", bags,
       says=r"4 now and 12 before \(run 1: 12 on .*expected 12 in all")  # fmt: skip
    do("unprint", 2, "--why", "jam", says="Run 2 is taken back")
    do("bags", "--lot", sixth, "--sku", "first pattern ink 1/2", "--start", "next", "--out", bags,
       says=(f"{INK}: is the one product so called", "18 labels of 1 product"))  # fmt: skip
    do("check", bags, says="18 pieces on 1 page checked: 0 stop")

    # Wednesday: the scale. What fails is held by itself: no labels, no parcel.
    do("lot", "weigh", first, says="Weigh 12 of the 24 jigs")
    do("lot", "weigh", first, *["10.7"] * 3, says="Not judged yet: weigh 9 more")
    do("lot", "weigh", first, *["10.7"] * 9, says="All 24 may be sold as 3/8 oz")
    do("lot", "weigh", third, *["12.9"] * 12, status=1,
       says=("Held: the lot is not to be sold as 1/2 oz",
             f"labeler lot release {third}"))  # fmt: skip
    held = tmp_path / "held.pdf"
    do("bags", "--lot", third, "--out", held, status=2, says="held, so nothing is labeled")
    do("cards", "--lot", third, "--out", held, status=2, says="held, so nothing is labeled")
    do("ship", f"{third}=1", "--to", "landing", status=2, says="held, so none of it may go out")
    assert not held.exists()

    # Thursday: an order that is half in stock, and its parcel, typed twice.
    do("catalog", "--for", "dealer", "--dealer", "landing", "--order-sheet", tmp_path / "form.xlsx",
       "--out", tmp_path / "book.pdf", says="4 products in 1 pattern")  # fmt: skip
    order(tmp_path / "form.xlsx", {MARSH: 30, INK: 30})
    do("order", tmp_path / "form.xlsx",
       says=(f"{MARSH} +30 .* 36 +First", f"{INK} +30 .* 18 +12 +First",
             "30 ordered, 18 ready, 12 short; 36 more are held"))  # fmt: skip
    parcel = ("ship", "first pattern marsh 3/8=30", f"{INK}=18", "--to", "landing", "--slip",
              tmp_path / "slip.pdf")  # fmt: skip
    said = do(*parcel, says=(f"24 jigs of lot {first} .*; 0 on hand", f"6 jigs of lot {fifth} ",
                             f"18 jigs of lot {sixth} .* shipped to A Shop Near You"))  # fmt: skip
    (number,) = re.findall(r"the slip ([\w-]+)\.", said)
    assert number in "".join(page.extract_text() for page in PdfReader(tmp_path / "slip.pdf").pages)
    do(*parcel, status=2, says="perhaps it was typed twice; found slip " + number)
    do(*parcel, "--again", status=2, says="expected at most 6")
    do("ship", f"{fourth}=2", "--customer", "Ada", says="shipped to Ada .customer.")
    said = do("ship", f"{fourth}=2", "--customer", "Ada", status=2, says="perhaps it was typed")
    said = do("ship", f"{fourth}=2", "--customer", "Ada", "--again")
    (wrong,) = re.findall(r"slip ([\w-]+)\.", said)
    do("ship", "--mistake", wrong, says=f"Taken back as a mistake: 2 jigs of lot {fourth}")

    # Friday: a hook broke; the box leads to the lots, the lots to who has them.
    recall = tmp_path / "recall.pdf"
    do("trace", "bag", 75, "--sheet", recall,
       says=("supplier's lot bag 75", third, fourth, "2 lots: 48 made, 2 with dealers",
             "36 of them held", r"2 with Ada \(customer\)"))  # fmt: skip
    assert fourth in "".join(page.extract_text() for page in PdfReader(recall).pages)
    do("lot", "hold", fourth, "--why", "hooks of bag 75 snap", says="is held since")
    do("ship", f"{fourth}=1", "--fair", "Spring Fair", status=2, says="held, so none")
    do("ship", f"{fourth}=2", "--back", "ada", says="back from Ada")
    do("lot", "void", fourth, "--why", "melted down", says="is void since")
    do("check", bags, says="0 stop")
    do("pages", "--out", tmp_path / "site", says="12 pages, 7 lots")
    public = "".join(page.read_text("utf-8") for page in (tmp_path / "site").rglob("*.html"))
    assert fourth in public
    assert not re.search("melted|snap|weigh-in|tail of the old|Ada", public), "the ledger's own"
    do("lot", "list", says=("7 lots", "held: failed weigh-in", "void"))

    with open_ledger(shop) as ledger:  # the truth, in the end
        assert examine(ledger) == ()
        runs = past_runs(ledger)
        assert [(run.run, run.lot, run.count, run.state) for run in runs] == [
            (1, fifth, 12, "printed"), (1, seventh, 8, "printed"), (1, fourth, 12, "printed"),
            (2, fifth, 4, "taken back"), (3, sixth, 18, "printed"),
        ]  # fmt: skip
        assert runs[2].spots[-2:] == ((2, 1), (2, 2))
        assert runs[4].spots == tuple((1, cell) for cell in range(3, 21))
        assert open_sheet(ledger, "letter-3x10").used == tuple(range(1, 21))
        stories = trace(ledger, "2026").stories
        assert {each.lot: (each.count, each.on_hand, each.labels) for each in stories} == {
            first: (24, 0, 0), second: (12, 12, 0), third: (36, 36, 0), fourth: (12, 0, 12),
            fifth: (12, 6, 12), sixth: (18, 0, 18), seventh: (10, 10, 8),
        }  # fmt: skip
        assert [lot.code for lot in list_lots(ledger) if lot.held] == [third, fourth]
        assert {each.dealer: each.count for each in trace(ledger, "2026").dealers} == {
            "A Shop Near You": 48
        }
    left = {file.name for file in tmp_path.rglob("*") if file.name.startswith(".")}
    assert not left


def order(form: Path, packs: dict[str, int]) -> None:
    """Fill an order sheet in as a shop does."""
    book = openpyxl.load_workbook(form)
    sheet = book.worksheets[0]
    rows = list(sheet.iter_rows())
    head = next(row for row in rows if row[0].value == "SKU")
    column = next(cell.column for cell in head if cell.value == "Packs ordered")
    for row in rows:
        if row[0].value in packs:
            sheet.cell(row[0].row, column, packs[str(row[0].value)])
    book.save(form)


def commands(command: click.Command, words: tuple[str, ...] = ()) -> Iterator[tuple[str, ...]]:
    """Yield the words of every command, those of a group's commands too."""
    if not isinstance(command, click.Group):
        yield words
        return
    for name in command.list_commands(click.Context(command)):
        inner = command.get_command(click.Context(command), name)
        assert inner is not None
        yield from commands(inner, (*words, name))


GIVEN: dict[str, tuple[tuple[object, ...], int]] = {
    "align": (("--printer", "desk", "--out", "{at}/align.pdf"), 0),
    "bags": (("--lot", "{lot}", "--out", "{at}/bags.pdf"), 0),
    "cards": (("--sku", MARSH, "--out", "{at}/cards.pdf"), 0),
    "catalog": (("--for", "retail", "--only", "first", "--out", "{at}/book.pdf"), 0),
    "check": (("{at}/bags.pdf",), 0),
    "desk": (("--icon",), 0),
    "help": (("findings",), 0),
    "layouts": ((), 0),
    "lot add": (("{lot}", "glue=G-7"), 0),
    "lot assign": ((MARSH, "--count", "6", "--sure"), 0),
    "lot backup": (("{at}/copy.sqlite",), 0),
    "lot begin": ((), 0),
    "lot card": (("{lot}", "--out", "{at}/card.pdf"), 0),
    "lot hold": (("{lot}", "--why", "hooks"), 0),
    "lot journal": ((), 0),
    "lot list": ((), 0),
    "lot lost": (("263290013",), 0),
    "lot opening": ((), 2),
    "lot release": (("{lot}", "--why", "pulled"), 0),
    "lot void": (("{lot}", "--why", "miscounted"), 0),
    "lot weigh": (("{lot}", "10.7"), 0),
    "markets": (("--market", "US"), 0),
    "new": (("{at}/mine",), 0),
    "order": ((f"{MARSH}=6", "--customer", "Ada", "--again"), 0),
    "orders": ((), 0),
    "pages": (("--out", "{at}/site"), 0),
    "prices": ((), 0),
    "reprint": (("{lot}=2", "--out", "{at}/again.pdf"), 0),
    "sheets": ((), 0),
    "ship": (("{lot}=1", "--scrap"), 0),
    "stock": ((), 0),
    "tied": ((f"{MARSH}=5", "--out", "{at}/l.pdf", "--cards", "{at}/c.pdf"), 0),
    "trace": ((f"{dt.datetime.now(dt.UTC):%Y}",), 0),
    "unprint": (("1", "--why", "jam"), 0),
}
"""What each command is given on the small line, and how it ends."""


@pytest.mark.parametrize("line", [STARTER], ids=["small"])
def test_every_command_ends_as_it_should(
    labeler: Labeler, lot: Callable[..., str], tmp_path: Path
) -> None:
    names = {" ".join(words) for words in commands(group)}
    assert names == set(GIVEN), "a new command needs a line here"
    assert {name.split()[0] for name in names} == set(VERBS)
    code = lot(MARSH)
    last = ("lot hold", "lot release", "lot void")
    for name in [*(each for each in GIVEN if each not in last), *last]:
        given, status = GIVEN[name]
        words = [str(each).format(lot=code, at=tmp_path) for each in given]
        for extra in ((), ("--no-such-option",), ("--help",)):
            said = labeler(*name.split(), *words, *extra)
            expected = {(): status, ("--no-such-option",): 2, ("--help",): 0}[extra]
            assert said.status == expected, (name, said)
            assert "Traceback" not in said.out + said.err
        if name == "desk":  # which stays open until Ctrl-C
            continue
        bare = labeler(*name.split())
        assert bare.status in (0, 2), (name, bare)
        assert bare.out or bare.err, name
        assert "Traceback" not in bare.out + bare.err
