"""kill -9 at any instant of ``bags`` and ``ship``: nothing half, nothing acknowledged is lost."""

from __future__ import annotations

import json
import random
import signal
import subprocess
import sys
import time
from collections.abc import Callable
from hashlib import sha256
from pathlib import Path
from typing import Any

import pytest
from pypdf import PdfReader

from labeler.ledger.examine import examine
from labeler.ledger.open import open_ledger
from labeler.ledger.runs import past_runs
from labeler.ledger.ship import on_hand, slip

pytestmark = pytest.mark.siege

KILLS = 30
"""Of each command as a whole; the ledger's own tests kill it some hundred times more."""

Lot = Callable[..., str]


def begun(folder: Path, *words: object) -> subprocess.Popen[str]:
    return subprocess.Popen(
        [sys.executable, "-m", "labeler", "--catalog", str(folder), *map(str, words), "--json"],
        stdout=subprocess.PIPE,
        stderr=subprocess.DEVNULL,
        text=True,
    )


def killed(process: subprocess.Popen[str], after: float) -> Any:
    """Kill the command; return its answer if it got as far as giving one."""
    time.sleep(after)
    process.send_signal(signal.SIGKILL)
    out, _ = process.communicate(timeout=30)
    try:
        return json.loads(out)
    except ValueError:
        return None


def whole(folder: Path, *words: object) -> float:
    """Carry a command out; return how many seconds it took."""
    began = time.monotonic()
    process = begun(folder, *words)
    process.communicate(timeout=60)
    assert process.returncode == 0
    return time.monotonic() - began


def test_a_print_that_is_killed_leaves_no_half_file_and_none_that_is_not_on_record(
    lot: Lot, folder: Path, tmp_path: Path
) -> None:
    code, chance = lot("RM-38-40-SBR", "--count", 400), random.Random(9)
    asked = ("bags", "--lot", code, "--count", 40, "--start", "next", "--out")
    usual = whole(folder, *asked, tmp_path / "0.pdf")
    answers = 0
    for at in range(1, KILLS + 1):
        out = tmp_path / f"{at}.pdf"
        # File and record are made at the end: most kills fall there.
        answer = killed(begun(folder, *asked, out), usual * (0.5 + 0.6 * chance.random()))
        with open_ledger(folder) as ledger:
            assert examine(ledger) == ()
            kept = {run.pdf: run.run for run in past_runs(ledger, lot=code)}
        if out.exists():
            assert len(PdfReader(out).pages) in (2, 3)
            assert sha256(out.read_bytes()).hexdigest() in kept
        if answer is not None:
            answers += 1
            assert out.exists()
            assert answer["run"] in kept.values()
    print(f"{KILLS} prints killed, {answers} of them after they had answered")
    assert answers < KILLS


def test_a_shipment_that_is_killed_is_whole_or_not_there_and_may_be_asked_again(
    lot: Lot, folder: Path, tmp_path: Path
) -> None:
    code, chance = lot("RM-38-40-SBR", "--count", 1000), random.Random(10)
    asked = ("ship", code, "--to", "odd-pail", "--count", 3)
    usual = whole(folder, *asked, "--key", "0", "--slip", tmp_path / "0.pdf")
    for at in range(1, KILLS + 1):
        out = tmp_path / f"{at}.pdf"
        request = (*asked, "--key", f"order {at}", "--slip", out)
        answer = killed(begun(folder, *request), usual * (0.4 + 0.7 * chance.random()))
        with open_ledger(folder) as ledger:
            assert examine(ledger) == ()
            moved = slip(ledger, f"order {at}")
        assert [each.count for each in moved] in ([], [3])
        if answer is not None or out.exists():
            assert moved
            assert len(PdfReader(out).pages) == 1
        whole(folder, *request)
        with open_ledger(folder) as ledger:
            assert on_hand(ledger, code) == 1000 - 3 * (at + 1)
