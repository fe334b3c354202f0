"""GTINs are drawn once, recorded whole, and never given again."""

from __future__ import annotations

import multiprocessing
import os
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from stdnum import ean

from labeler.catalog.gtin_record import capacity, draw_gtins
from labeler.catalog.model import Catalog
from labeler.catalog.read import read_catalog
from labeler.findings import Grade, LabelerError

Bench = Any


def record(bench: Bench) -> dict[str, str]:
    lines = (bench.folder / "gtins.csv").read_text().splitlines()
    assert lines[0] == "sku,gtin"
    rows = dict(line.split(",") for line in lines[1:])
    assert len(rows) == len(set(rows.values())) == len(lines) - 1
    return rows


def test_every_product_draws_the_next_number_and_keeps_it(bench: Bench) -> None:
    drawn = draw_gtins(bench.read(), bench.folder)
    # Prefix, item reference from 0, check digit (GS1 General Specifications, 2.1 and 7.9).
    assert list(drawn) == ["RV-38-40-MLN", "RV-38-40-DSK", "RV-12-40-MLN", "RV-12-40-DSK"]
    assert [gtin[:12] for gtin in drawn.values()] == [f"9521234{n:05d}" for n in range(4)]
    assert all(ean.is_valid(gtin) for gtin in drawn.values())
    assert record(bench) == drawn
    assert {p.sku: p.gtin for p in bench.read().products} == drawn


def test_drawing_again_does_nothing(bench: Bench) -> None:
    draw_gtins(bench.read(), bench.folder)
    before = (bench.folder / "gtins.csv").read_bytes()
    assert draw_gtins(bench.read(), bench.folder) == {}
    assert (bench.folder / "gtins.csv").read_bytes() == before


def test_a_new_product_takes_the_next_number_and_nothing_else_moves(bench: Bench) -> None:
    first = draw_gtins(bench.read(), bench.folder)
    bench.change('["3/8 oz", "1/2 oz"]', '["1/4 oz", "3/8 oz", "1/2 oz"]')
    more = draw_gtins(bench.read(), bench.folder)
    assert [gtin[7:12] for gtin in more.values()] == ["00004", "00005"]
    assert record(bench) == first | more


def test_the_number_of_a_retired_sku_is_never_given_again(bench: Bench) -> None:
    drawn = draw_gtins(bench.read(), bench.folder)
    bench.write("products.csv", "sku,retired\nRV-12-40-DSK,yes\n")
    bench.change('colours = ["melon", "dusk"]', 'colours = ["melon", "dusk"]\nhook_for = {}')
    bench.change('["3/8 oz", "1/2 oz"]', '["1/4 oz", "3/8 oz", "1/2 oz"]')
    catalog = bench.read()
    assert catalog.gtins["RV-12-40-DSK"] == drawn["RV-12-40-DSK"]
    more = draw_gtins(catalog, bench.folder)
    assert not set(more.values()) & set(drawn.values())
    assert record(bench)["RV-12-40-DSK"] == drawn["RV-12-40-DSK"]


def test_numbers_given_in_the_spreadsheet_are_recorded_and_stepped_over(bench: Bench) -> None:
    bench.write(
        "products.csv",
        "sku,gtin,retired\nRV-38-40-MLN,9521234000006,\nRV-12-40-DSK,9521234000020,yes\n"
        "GONE-1,9521234000037,yes\n",
    )
    assert not [f for f in bench.findings() if f.grade is Grade.STOP], bench.findings()
    drawn = draw_gtins(bench.read(), bench.folder)
    kept = record(bench)
    assert kept["RV-38-40-MLN"] == "9521234000006"
    assert kept["RV-12-40-DSK"] == "9521234000020"
    assert kept["GONE-1"] == "9521234000037"
    assert [gtin[7:12] for gtin in drawn.values()] == ["00004", "00005"]
    (bench.folder / "products.csv").unlink()
    assert bench.read().gtins["RV-38-40-MLN"] == "9521234000006"


def test_a_number_never_changes(bench: Bench) -> None:
    draw_gtins(bench.read(), bench.folder)
    bench.write("products.csv", "sku,gtin\nRV-38-40-MLN,9521234543213\n")
    finding = bench.finding("gtin-changed")
    assert (finding.place.file, finding.place.line) == ("products.csv", 2)
    assert "gtins.csv:2" in finding.expected


def test_two_skus_never_share_a_number_however_it_is_written(bench: Bench) -> None:
    bench.write(
        "products.csv",
        "sku,gtin\nRV-38-40-MLN,614141123452\nRV-12-40-MLN,0614141123452\n",
    )
    finding = bench.finding("gtin-twice")
    assert "RV-38-40-MLN" in finding.message
    assert "products.csv:2" in finding.hint


def test_a_short_prefix_with_a_nought_gives_numbers_for_a_upc(bench: Bench) -> None:
    # 0 614141 is the company prefix of GS1's own examples; a GTIN-12 drops the 0 in front.
    bench.change('"9521234"', '"0614141"')
    drawn = draw_gtins(bench.read(), bench.folder)
    assert {len(gtin) for gtin in drawn.values()} == {12}
    assert next(iter(drawn.values())).startswith("61414100000")
    assert all(ean.is_valid(gtin) for gtin in drawn.values())


def test_a_prefix_that_runs_out_gives_nothing_at_all(bench: Bench) -> None:
    assert (capacity("95212345678"), capacity("952123456789")) == (10, 1)
    bench.change('"9521234"', '"95212345678"')
    bench.change('["4/0"]', '["2/0", "3/0", "4/0"]')
    with pytest.raises(LabelerError, match="prefix-exhausted") as caught:
        draw_gtins(bench.read(), bench.folder)
    assert "10 of 10" in caught.value.findings[0].found
    assert not (bench.folder / "gtins.csv").exists()


def test_a_prefix_of_twelve_digits_is_one_number(bench: Bench) -> None:
    bench.change('"9521234"', '"952123456789"')
    bench.change('["3/8 oz", "1/2 oz"]', '["3/8 oz"]')
    bench.change('colours = ["melon", "dusk"]', 'colours = ["melon"]')
    assert [g[:12] for g in draw_gtins(bench.read(), bench.folder).values()] == ["952123456789"]


def test_gaps_are_filled_only_after_the_end_is_reached(bench: Bench) -> None:
    bench.change('"9521234"', '"95212345678"')
    bench.write("gtins.csv", "sku,gtin\nOLD,9521234567899\n")
    drawn = draw_gtins(bench.read(), bench.folder)
    assert [gtin[11] for gtin in drawn.values()] == ["0", "1", "2", "3"]


def test_without_a_prefix_nothing_is_drawn(bench: Bench) -> None:
    bench.change('gs1_prefix = "9521234"\n', "")
    with pytest.raises(LabelerError, match="prefix-missing"):
        draw_gtins(bench.read(), bench.folder)


@pytest.mark.parametrize(
    ("text", "rule"),
    [
        ("sku,gtin\nRV-38-40-MLN,9.52E+12\n", "cell-misread"),
        ("sku,gtin\nRV-38-40-MLN,\n", "record-incomplete"),
        ("sku,gtin\nRV-38-40-MLN,9521234000006\nRV-38-40-MLN,9521234000013\n", "duplicate-sku"),
        ("sku,gtin\nRV-38-40-MLN,9521234000006\nX,9521234000006\n", "gtin-twice"),
        ("sku,number\nRV-38-40-MLN,9521234000006\n", "record-incomplete"),
    ],
)
def test_a_spoiled_record_stops_reading_and_drawing(bench: Bench, text: str, rule: str) -> None:
    catalog = bench.read()
    bench.write("gtins.csv", text)
    assert rule in {f.rule for f in bench.findings() if f.grade is Grade.STOP}
    if rule != "gtin-twice":
        with pytest.raises(LabelerError, match=rule):
            draw_gtins(catalog, bench.folder)
    assert (bench.folder / "gtins.csv").read_text() == text


def test_an_in_store_number_is_pointed_out_and_a_coupon_refused(bench: Bench) -> None:
    # GS1 General Specifications, 1.4: 02 and 2 are restricted, 99 coupons.
    bench.write("products.csv", "sku,gtin\nRV-38-40-MLN,2012345678903\n")
    assert bench.finding("gtin-in-store").grade is Grade.FIX
    bench.write("products.csv", "sku,gtin\nRV-38-40-MLN,9901234567899\n")
    assert "coupons" in bench.finding("cell-misread").message


def draw(catalog: Catalog, folder: Path, when: Callable[[], object]) -> None:
    when()
    draw_gtins(catalog, folder)


another_lock = pytest.mark.skipif(sys.platform == "win32", reason="the lock there is another")


@pytest.mark.siege
@another_lock
def test_two_benches_at_the_same_instant_never_give_one_number_twice(
    new_bench: Any, tmp_path: Path
) -> None:
    """Each knows products that the other does not; both write one record."""
    benches = [new_bench(), new_bench()]
    benches[1].change('code = "RV"', 'code = "LV"')
    forked = multiprocessing.get_context("fork")
    together = forked.Barrier(4)
    running = [
        forked.Process(target=draw, args=(one.read(), tmp_path, together.wait))
        for one in (*benches, *benches)
    ]
    for one in running:
        one.start()
    for one in running:
        one.join(timeout=600)
        assert one.exitcode == 0
    rows = (tmp_path / "gtins.csv").read_text().splitlines()[1:]
    assert len(rows) == 8
    assert len({row.split(",")[1] for row in rows}) == 8
    assert [path.name for path in tmp_path.iterdir()] == ["gtins.csv"]


@pytest.mark.siege
@another_lock
def test_a_bench_waits_while_another_holds_the_record(bench: Bench) -> None:
    import fcntl

    handle = os.open(bench.folder, os.O_RDONLY)
    fcntl.flock(handle, fcntl.LOCK_EX)
    forked = multiprocessing.get_context("fork")
    ready = forked.Event()

    def when() -> None:
        os.close(handle)  # the lock is the holder's alone
        ready.set()

    waiting = forked.Process(target=draw, args=(bench.read(), bench.folder, when))
    waiting.start()
    assert ready.wait(timeout=600)
    waiting.join(timeout=0.5)
    assert waiting.is_alive()
    assert not (bench.folder / "gtins.csv").exists()
    os.close(handle)
    waiting.join(timeout=600)
    assert waiting.exitcode == 0
    assert len(record(bench)) == 4


def test_what_a_killed_bench_left_behind_is_cleared_away(bench: Bench) -> None:
    bench.write(".gtins.csv.0a1b2c3d4e5f.part", "sku,gt")
    draw_gtins(bench.read(), bench.folder)
    assert not list(bench.folder.glob(".*.part"))
    assert len(read_catalog(bench.folder).gtins) == 4


def test_a_folder_that_cannot_be_written_is_a_finding(bench: Bench) -> None:
    catalog = bench.read()
    with pytest.raises(LabelerError, match="record-unwritable"):
        draw_gtins(catalog, bench.folder / "nowhere")
