"""How long a trace takes at 100,000 lots, beside the same rows fetched by bare SQL.

Run it as a program: ``python tests/bench/bench_ledger.py [LOTS]``. Aim: every trace under 100 ms,
but for one that asks for every lot there is, which no bare SQL can fetch in that time. A name that
nobody knows has no lots, so its bare SQL only looks for them and offers no nearest name.
Ten years of a busy bench: 400 SKUs, 2,000 lots of hooks, 200 dealers, three shipments for two lots.
"""

from __future__ import annotations

import random
import sqlite3
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from contextlib import closing
from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from typing import Any

from sqlalchemy import Table, insert

from labeler.codes import lot_code
from labeler.findings import LabelerError
from labeler.ledger import schema
from labeler.ledger.backup import backup
from labeler.ledger.lots import fold, remember_names
from labeler.ledger.open import open_ledger
from labeler.ledger.store import Ledger
from labeler.ledger.trace import trace

SKUS, HOOK_LOTS, DEALERS, DAYS = 400, 2_000, 200, 3_650
FIRST_DAY = date(2017, 1, 1)
NOW = datetime(2026, 11, 25, tzinfo=UTC)
TURNS = 7

BARE = """
SELECT lots.id, code, lots.sku, name, made, lots.count, voids.lot_id FROM lots
    JOIN snapshots ON fingerprint = snapshot LEFT JOIN voids ON voids.lot_id = lots.id
    WHERE lots.id IN ({ids}) ORDER BY made, number;
SELECT lot_id, kind, supplier_lot FROM materials WHERE lot_id IN ({ids});
SELECT lot_id, kind, sum(count) FROM printed WHERE lot_id IN ({ids}) GROUP BY lot_id, kind;
SELECT lot_id, max(dealer), sum(CASE WHEN kind IN ('ship', 'return') THEN -change ELSE 0 END),
    sum(change) FROM moves WHERE lot_id IN ({ids}) GROUP BY lot_id, dealer_folded
"""


def fill(ledger: Ledger, many: int) -> None:
    """Write the rows as the ledger would, many at once."""
    chance = random.Random(1)
    put(ledger, schema.snapshots, (snapshot(at) for at in range(SKUS)))
    put(ledger, schema.layouts, [{"fingerprint": "l", "name": "strip", "files": {}}])
    put(ledger, schema.lots, lots(many, chance))
    put(ledger, schema.materials, materials(many, chance))
    put(ledger, schema.runs, (run(at) for at in range(1, many + 1)))
    put(ledger, schema.printed, (printed(at) for at in range(1, many + 1)))
    put(ledger, schema.moves, (shipment(many, chance) for _ in range(many * 3 // 2)))
    put(ledger, schema.voids, (void(at) for at in range(1, many, 97)))
    every = [f"RV-{at:03d}" for at in range(SKUS)] + [f"Dealer {at}" for at in range(DEALERS)]
    every += [row["supplier_lot"] for row in materials(many, chance)]
    ledger.write(lambda connection: remember_names(connection, every))


def put(ledger: Ledger, table: Table, rows: Any) -> None:
    every = list(rows)
    ledger.write(lambda connection: connection.execute(insert(table), every))


def snapshot(at: int) -> dict[str, Any]:
    name = f"Pattern {at // 10}, colour {at % 10}"
    sku = f"RV-{at:03d}"
    return {"fingerprint": f"{at}", "sku": sku, "name": name, "gtin": None, "product": {}}


def lots(many: int, chance: random.Random) -> Iterator[dict[str, Any]]:
    form, last = lot_code.LotForm(), dict.fromkeys(range(DAYS), 0)
    for at in range(many):
        day = at * DAYS // many
        last[day] += 1
        made, sku = FIRST_DAY + timedelta(days=day), chance.randrange(SKUS)
        yield {
            "id": at + 1, "code": form.write(made, last[day]), "made": made, "number": last[day],
            "sku": f"RV-{sku:03d}", "count": 24, "snapshot": f"{sku}", "catalog": "", "note": "",
            "opened_at": NOW, "opened_by": "ann",
        }  # fmt: skip


def materials(many: int, chance: random.Random) -> Iterator[dict[str, Any]]:
    for at in range(many):
        for kind, lot in (
            ("hook", f"HK-{at * HOOK_LOTS // many}"),
            ("alloy", f"PB-{at // 500}"),
            ("silicone", f"S-{chance.randrange(900)}"),
        ):
            yield {"lot_id": at + 1, "kind": kind, "supplier_lot": lot, "folded": fold(lot)}


def run(at: int) -> dict[str, Any]:
    return {
        "id": at, "stock": "letter-3x10", "printer": "", "catalog": "", "fonts": "", "pdf": "",
        "sheets": 1, "findings": [], "overrides": [], "at": NOW, "who": "ann",
    }  # fmt: skip


def printed(at: int) -> dict[str, Any]:
    return {
        "run_id": at, "kind": "bag", "sku": "RV", "lot_id": at, "layout": "l", "count": 25,
        "cells": "1:1-25",
    }  # fmt: skip


def shipment(many: int, chance: random.Random) -> dict[str, Any]:
    dealer = f"Dealer {chance.randrange(DEALERS)}"
    return {
        "lot_id": chance.randrange(many) + 1, "kind": "ship", "dealer": dealer,
        "dealer_folded": fold(dealer), "count": 3, "change": -3, "moved": FIRST_DAY, "slip": "",
        "note": "", "at": NOW, "who": "ann",
    }  # fmt: skip


def void(at: int) -> dict[str, Any]:
    return {"lot_id": at, "why": "wrong colour", "at": NOW, "who": "ann"}


def questions(ledger: Ledger, many: int) -> list[tuple[str, str, str]]:
    """Return what is asked, and the bare SQL that names the same lots."""
    middle = ledger.read(
        lambda connection: connection.scalars(
            schema.lots.select()
            .where(schema.lots.c.id == many // 2)
            .with_only_columns(schema.lots.c.code)
        ).one()
    )
    link = f"https://go.example.com/p/RV-007/lot/{middle}"
    by_code = f"SELECT id FROM lots WHERE code = '{middle}'"
    return [
        ("lot code", middle, by_code),
        ("scanned address", link, by_code),
        ("supplier's lot", "HK-777", "SELECT lot_id FROM materials WHERE folded = 'hk777'"),
        ("alloy lot", "alloy=PB-9", "SELECT lot_id FROM materials WHERE folded = 'pb9'"),
        ("SKU", "RV-123", "SELECT id FROM lots WHERE sku = 'RV-123'"),
        ("SKUs", "RV-12*", "SELECT id FROM lots WHERE sku LIKE 'RV-12%'"),
        ("dealer", "Dealer 12", "SELECT lot_id FROM moves WHERE dealer_folded = 'dealer12'"),
        ("one day", "2020-02-29", "SELECT id FROM lots WHERE made = '2020-02-29'"),
        (
            "one month",
            "2020-02",
            "SELECT id FROM lots WHERE made BETWEEN '2020-02-01' AND '2020-02-29'",
        ),
        ("every lot", "2017..2026", "SELECT id FROM lots"),
        ("nobody's name", "HK-77x7", "SELECT lot_id FROM materials WHERE folded = 'hk77x7'"),
        ("no name at all", "Alder Bait", "SELECT lot_id FROM moves WHERE dealer_folded = 'alder'"),
    ]


def ask(ledger: Ledger, text: str) -> int:
    """Return how many lots a question leads to; none if the answer is the nearest names."""
    try:
        return len(trace(ledger, text).stories)
    except LabelerError:
        return 0


def least_ms(work: Callable[[], object]) -> float:
    """Return the least processor time of some turns: SQLite works in this very process."""
    took = []
    for _ in range(TURNS):
        began = time.process_time()
        work()
        took.append(1000 * (time.process_time() - began))
    return min(took)


def bare(connection: sqlite3.Connection, ids: str) -> None:
    for statement in BARE.format(ids=ids).split(";"):
        connection.execute(statement).fetchall()


def main(many: int) -> None:
    with tempfile.TemporaryDirectory() as folder, open_ledger(folder) as ledger:
        began = time.perf_counter()
        fill(ledger, many)
        size = Path(folder, "ledger.sqlite").stat().st_size / 1e6
        print(f"{many:,} lots, {size:.0f} MB, written in {time.perf_counter() - began:.0f} s")
        print(f"{'question':18}{'lots':>7}{'trace':>10}{'bare SQL':>10}{'factor':>8}")
        with closing(sqlite3.connect(Path(folder, "ledger.sqlite"))) as connection:
            for name, asked, ids in questions(ledger, many):
                found = ask(ledger, asked)
                ours = least_ms(lambda asked=asked: ask(ledger, asked))  # type: ignore[misc]
                theirs = least_ms(lambda ids=ids: bare(connection, ids))  # type: ignore[misc]
                print(f"{name:18}{found:7}{ours:8.1f} ms{theirs:7.1f} ms{ours / theirs:8.1f}")
        copied = least_ms(lambda: backup(ledger, Path(folder, "copy.sqlite")))
        print(f"{'whole backup':18}{'':7}{copied:8.0f} ms")


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 100_000)
