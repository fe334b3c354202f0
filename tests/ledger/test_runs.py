"""What was printed is remembered: which cells, which layout, and where the next run begins."""

from __future__ import annotations

from datetime import UTC, date, datetime

import pytest
from hypothesis import given
from hypothesis import strategies as st

from labeler.catalog.model import Product
from labeler.findings import LabelerError
from labeler.ledger.assign import Batch, assign
from labeler.ledger.runs import (
    KeptLayout,
    OpenSheet,
    PlannedFile,
    PrintedPiece,
    Run,
    RunPaper,
    TakenCells,
    end_plan,
    layout_of,
    open_plans,
    open_sheet,
    past_runs,
    read_spots,
    record_run,
    reserve,
    set_sheet,
    take_back,
    write_spots,
)
from labeler.ledger.store import Ledger

DAY = date(2026, 11, 25)
STRIP = KeptLayout("bag-strip", {"bag-strip.xml.jinja": b"<piece/>", "styles.toml": b"[name]"})
STOCK = "letter-3x10"


def sheet(first: int, last: int, number: int = 1) -> list[tuple[int, int]]:
    return [(number, cell) for cell in range(first, last + 1)]


def bags(spots: list[tuple[int, int]], lot: str = "", layout: KeptLayout = STRIP) -> PrintedPiece:
    return PrintedPiece("bag", "RV-38-40-MLN", lot, layout, spots)


@pytest.mark.parametrize(
    ("spots", "short"),
    [
        ([], ""),
        ([(1, 5)], "1:5"),
        (sheet(5, 30), "1:5-30"),
        (sheet(5, 7) + sheet(9, 9), "1:5-7,9"),
        ([spot for number in range(1, 1001) for spot in sheet(1, 30, number)], "1-1000:1-30"),
        (
            sheet(29, 30) + [s for n in (2, 3) for s in sheet(1, 30, n)] + sheet(1, 2, 4),
            "1:29-30 2-3:1-30 4:1-2",
        ),
    ],
)
def test_cells_are_written_short(spots: list[tuple[int, int]], short: str) -> None:
    assert write_spots(spots) == short
    assert read_spots(short) == spots


@given(st.sets(st.tuples(st.integers(1, 40), st.integers(1, 30))))
def test_every_cell_reads_back(spots: set[tuple[int, int]]) -> None:
    assert read_spots(write_spots(spots)) == sorted(spots)


def test_a_run_is_kept_with_all_that_it_takes_to_print_again(
    ledger: Ledger, melon: Product
) -> None:
    lot = assign(ledger, Batch(melon, 24, DAY)).code
    run = Run(
        RunPaper(STOCK, 30),
        [bags(sheet(1, 24), lot), bags(sheet(25, 26))],
        pdf="d" * 64,
        printer="laser",
        catalog_digest="c" * 64,
        fonts="f" * 64,
        findings=[{"rule": "contrast", "grade": "fix", "message": "pale ink"}],
        overrides=["contrast"],
    )
    number = record_run(ledger, run)
    (past,) = past_runs(ledger, lot=lot)
    assert (past.run, past.kind, past.sku, past.count) == (number, "bag", melon.sku, 24)
    assert (past.spots, past.stock, past.printer) == (tuple(sheet(1, 24)), STOCK, "laser")
    assert (past.pdf, past.catalog_digest, past.fonts) == ("d" * 64, "c" * 64, "f" * 64)
    assert past.findings == ({"rule": "contrast", "grade": "fix", "message": "pale ink"},)
    assert past.overrides == ("contrast",)
    assert (past.at, past.who) == (datetime(2026, 11, 25, 12, tzinfo=UTC), "ann")
    assert [each.lot for each in past_runs(ledger, sku=melon.sku)] == [lot, ""]
    assert past_runs(ledger, kind="card") == []


def test_the_layout_is_kept_as_it_was(ledger: Ledger) -> None:
    changed = KeptLayout("bag-strip", {**STRIP.files, "styles.toml": b"[name]\nsize = 9"})
    for layout in (STRIP, changed, STRIP):
        record_run(ledger, Run(RunPaper(STOCK, 30), [bags(sheet(1, 1), layout=layout)], "d" * 64))
    first, second, third = past_runs(ledger)
    assert first.layout_fingerprint == third.layout_fingerprint == STRIP.fingerprint
    assert layout_of(ledger, first.layout_fingerprint) == STRIP
    assert layout_of(ledger, second.layout_fingerprint) == changed
    assert layout_of(ledger, "0" * 64) is None


def test_the_next_run_begins_at_the_first_free_cell(ledger: Ledger) -> None:
    assert open_sheet(ledger, STOCK).next_free == 1
    record_run(ledger, Run(RunPaper(STOCK, 30), [bags(sheet(1, 12))], "d" * 64))
    assert open_sheet(ledger, STOCK).used == tuple(range(1, 13))
    start = open_sheet(ledger, STOCK).next_free
    assert start == 13
    record_run(ledger, Run(RunPaper(STOCK, 30, start), [bags(sheet(13, 20))], "d" * 64))
    assert open_sheet(ledger, STOCK).next_free == 21
    rest = sheet(21, 30) + sheet(1, 30, 2) + sheet(1, 3, 3)
    record_run(ledger, Run(RunPaper(STOCK, 30, 21), [bags(rest)], "d" * 64))
    assert open_sheet(ledger, STOCK).used == (1, 2, 3)


def test_a_full_sheet_is_followed_by_a_new_one(ledger: Ledger) -> None:
    record_run(ledger, Run(RunPaper(STOCK, 30), [bags(sheet(1, 30))], "d" * 64))
    assert open_sheet(ledger, STOCK).used == ()
    assert open_sheet(ledger, STOCK).next_free == 1


def test_spoiled_cells_stay_spoiled(ledger: Ledger) -> None:
    spoiled = [(1, 2), (1, 9)]
    record_run(ledger, Run(RunPaper(STOCK, 30, 1, spoiled), [bags([(1, 1), (1, 3)])], "d" * 64))
    now = open_sheet(ledger, STOCK)
    assert (now.used, now.next_free, now.spoiled) == ((1, 2, 3, 9), 4, (9,))


def test_a_sheet_of_another_stock_or_workstation_is_another_sheet(ledger: Ledger) -> None:
    record_run(ledger, Run(RunPaper(STOCK, 30), [bags(sheet(1, 12))], "d" * 64))
    record_run(ledger, Run(RunPaper(STOCK, 30, workstation="loft"), [bags(sheet(1, 2))], "d" * 64))
    record_run(ledger, Run(RunPaper("a4-2x5", 10), [bags(sheet(1, 4))], "d" * 64))
    assert open_sheet(ledger, STOCK).next_free == 13
    assert open_sheet(ledger, STOCK, workstation="loft").next_free == 3
    assert open_sheet(ledger, "a4-2x5").next_free == 5


def test_the_maker_may_say_how_the_sheet_really_is(ledger: Ledger) -> None:
    record_run(ledger, Run(RunPaper(STOCK, 30), [bags(sheet(1, 12))], "d" * 64))
    assert set_sheet(ledger, RunPaper(STOCK, 30)).next_free == 1
    assert set_sheet(ledger, RunPaper(STOCK, 30, 4, [(1, 4)])).next_free == 5
    with pytest.raises(LabelerError) as error:
        set_sheet(ledger, RunPaper(STOCK, 30, spoiled=[(1, 31)]))
    assert error.value.findings[0].rule == "cell-not-on-sheet"
    assert open_sheet(ledger, STOCK).next_free == 5


def test_the_same_key_records_one_run(ledger: Ledger) -> None:
    run = Run(RunPaper(STOCK, 30), [bags(sheet(1, 12))], "d" * 64)
    assert record_run(ledger, run, key="print 1") == record_run(ledger, run, key="print 1")
    assert len(past_runs(ledger)) == 1


def test_a_run_with_an_unknown_lot_is_not_recorded_by_halves(ledger: Ledger) -> None:
    run = Run(RunPaper(STOCK, 30), [bags(sheet(1, 1)), bags(sheet(2, 2), "263290013")], "d" * 64)
    with pytest.raises(LabelerError) as error:
        record_run(ledger, run)
    assert error.value.findings[0].rule == "unknown-lot"
    assert past_runs(ledger) == []
    assert open_sheet(ledger, STOCK).next_free == 1


def test_planned_cells_are_counted_together_and_free_again_when_given_back(ledger: Ledger) -> None:
    def plan(*cells: int) -> tuple[int, OpenSheet]:
        file = PlannedFile("/home/ann/bags.pdf", f"/home/ann/.bags.pdf.{cells[0]}.part", "bench")
        return reserve(ledger, RunPaper(STOCK, 0), file, lambda _: TakenCells(30, cells))

    first, saw_first = plan(1, 2, 3)
    second, saw_second = plan(4, 5)
    assert (saw_first.used, saw_second.used) == ((), (1, 2, 3))
    assert [each.number for each in open_plans(ledger, "bench")] == [first, second]
    assert open_plans(ledger, "loft") == []
    end_plan(ledger, first, why="killed")
    end_plan(ledger, first)
    assert open_sheet(ledger, STOCK).used == (4, 5)
    run = Run(RunPaper(STOCK, 30), [bags(sheet(4, 5))], "d" * 64)
    number = record_run(ledger, run, plan=second)
    assert open_sheet(ledger, STOCK).used == (4, 5)
    assert [each.run for each in open_plans(ledger, "bench")] == [number]
    end_plan(ledger, second, number)
    assert open_plans(ledger, "bench") == []
    assert past_runs(ledger)[-1].state == "printed"
    assert take_back(ledger, number, "paper jam", key="jam") == "printed"
    assert take_back(ledger, number, "paper jam", key="jam") == "printed"
    assert take_back(ledger, number, "again") == "taken back"
    assert (open_sheet(ledger, STOCK).used, past_runs(ledger)[-1].state) == ((), "taken back")


def test_a_run_from_before_there_were_plans_is_taken_back_with_its_cells(ledger: Ledger) -> None:
    for first, last in ((1, 12), (13, 20)):
        run = Run(RunPaper(STOCK, 30, first), [bags(sheet(first, last))], "d" * 64)
        number = record_run(ledger, run)
    assert take_back(ledger, number, "thrown away") == "printed"
    assert open_sheet(ledger, STOCK).used == tuple(range(1, 13))
    with pytest.raises(LabelerError, match="unknown-run"):
        take_back(ledger, number + 1, "no such run")
