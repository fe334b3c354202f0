"""What must survive: many benches at once, a kill at any instant, a server that falls over."""

from __future__ import annotations

import json
import os
import random
import signal
import subprocess
import sys
import time
from collections.abc import Iterator
from datetime import date
from pathlib import Path
from typing import Any, Protocol

import pytest
from sqlalchemy import select

from labeler.catalog.model import Product
from labeler.codes import lot_code
from labeler.ledger.backup import examine
from labeler.ledger.open import open_ledger
from labeler.ledger.schema import lots, moves, runs, weighings
from labeler.ledger.store import Ledger

pytestmark = pytest.mark.siege

HAND = Path(__file__).with_name("hand.py")
DAY = "2026-11-25"
PROCESSES, EACH, KILLS = 8, 60, 40
RESTARTED = 30


class Restarts(Protocol):
    def start(self) -> None: ...
    def stop(self, mode: str = "immediate") -> None: ...


@pytest.fixture
def product_file(tmp_path: Path, melon: Product) -> Path:
    file = tmp_path / "product.json"
    file.write_text(melon.model_dump_json(), encoding="utf-8")
    return file


def hands(where: str, product_file: Path, each: int) -> subprocess.Popen[str]:
    return subprocess.Popen(
        [sys.executable, HAND, "benches", where, product_file, str(each), DAY, str(PROCESSES)],
        stdout=subprocess.PIPE,
        text=True,
    )


def acknowledged(working: subprocess.Popen[str]) -> list[str]:
    with working:
        assert working.stdout
        codes = working.stdout.read().split()
    assert working.returncode == 0
    return codes


def assert_every_code_is_there_once(ledger: Ledger, codes: list[str], many: int) -> None:
    assert len(codes) == len(set(codes)) == many
    assert all(lot_code.is_valid(code) for code in codes)
    rows = ledger.read(lambda c: c.execute(select(lots.c.code, lots.c.number, lots.c.made)).all())
    assert {row.code for row in rows} == set(codes)
    assert {row.made for row in rows} == {date.fromisoformat(DAY)}
    assert sorted(row.number for row in rows) == list(range(1, many + 1))
    assert examine(ledger) == ()


def test_eight_benches_at_once_never_get_the_same_code(where: str, product_file: Path) -> None:
    began = time.monotonic()
    codes = acknowledged(hands(where, product_file, EACH))
    print(f"{len(codes)} codes by {PROCESSES} processes in {time.monotonic() - began:.1f} s")
    with open_ledger(where) as ledger:
        assert_every_code_is_there_once(ledger, codes, PROCESSES * EACH)


def test_a_server_restarted_in_mid_command_loses_and_doubles_nothing(
    server: Restarts, database: str, product_file: Path
) -> None:
    working, codes = hands(database, product_file, RESTARTED), []
    assert working.stdout
    for _ in range(3):
        codes += [working.stdout.readline().strip() for _ in range(PROCESSES * RESTARTED // 8)]
        assert working.poll() is None, "there is more to be done"
        server.stop("immediate")
        server.start()
    codes += acknowledged(working)
    with open_ledger(database) as ledger:
        assert_every_code_is_there_once(ledger, codes, PROCESSES * RESTARTED)


@pytest.fixture
def nursery() -> Iterator[subprocess.Popen[str]]:
    with subprocess.Popen(
        [sys.executable, HAND, "nursery"], stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True
    ) as process:
        yield process
        process.kill()


def test_kill_9_at_any_instant_loses_nothing_acknowledged(
    nursery: subprocess.Popen[str], folder: Path, product_file: Path, tmp_path: Path
) -> None:
    chance, acks = random.Random(7), tmp_path / "acks"
    acks.touch()
    assert nursery.stdin
    assert nursery.stdout
    for seed in range(KILLS):
        wanted = len(acks.read_bytes().splitlines()) + chance.randrange(1, 8)
        print(folder, product_file, seed, acks, file=nursery.stdin, flush=True)
        hand = int(nursery.stdout.readline())
        while len(acks.read_bytes().splitlines()) < wanted:
            assert Path(f"/proc/{hand}").exists(), "the hand gave up before it was killed"
            time.sleep(0.0005)
        time.sleep(chance.random() * 0.02)
        os.kill(hand, signal.SIGKILL)
        wait_for_the_end_of(hand)
        with open_ledger(folder) as ledger:
            assert examine(ledger) == (), f"after kill {seed}"
            assert_all_there(ledger, acks)
    done = [json.loads(line)[0] for line in acks.read_text().splitlines()]
    print({what: done.count(what) for what in sorted(set(done))})
    assert all(done.count(what) > 8 for what in ("assign", "weigh", "ship", "print"))


def wait_for_the_end_of(process: int) -> None:
    while Path(f"/proc/{process}").exists():
        time.sleep(0.0005)


def assert_all_there(ledger: Ledger, acks: Path) -> None:
    told = [json.loads(line) for line in acks.read_text().splitlines()]
    kept = ledger.read(
        lambda c: {
            "assign": set(c.scalars(select(lots.c.code))),
            "ship": set(c.scalars(select(moves.c.slip))),
            "print": set(c.scalars(select(runs.c.id))),
            "weigh": set(c.scalars(select(weighings.c.at))),
        }
    )
    kept["weigh"] = {at.isoformat() for at in kept["weigh"]}
    for what, answer in told:
        assert what == "started" or thing(what, answer) in kept[what]


def thing(what: str, answer: Any) -> Any:
    return answer[1] if what == "weigh" else answer
