"""kill -9 at any instant of a whole command: nothing half, nothing acknowledged is lost."""

from __future__ import annotations

import json
import random
import signal
from collections import Counter
from collections.abc import Callable
from contextlib import suppress
from hashlib import sha256
from pathlib import Path
from typing import Any, Protocol

import pytest
from pypdf import PdfReader

from labeler.ledger.backup import examine
from labeler.ledger.lots import list_lots
from labeler.ledger.open import open_ledger
from labeler.ledger.runs import past_runs
from labeler.ledger.ship import on_hand, slip
from labeler.ledger.weigh import weigh_ins

STARTER = Path(__file__).resolve().parents[3] / "layouts" / "starter"
pytestmark = [pytest.mark.siege, pytest.mark.parametrize("line", [STARTER], ids=["small"])]

KILLS = 16
"""Of each of four commands; the ledger's own tests kill what it does inside some times more."""

SKU = "FST-38-40-MAR"
Lot = Callable[..., str]
Labeler = Callable[..., Any]


class Commands(Protocol):
    def practise(self, *words: object) -> None: ...
    def time(self, *words: object) -> float: ...
    def end(self, *words: object, after: float, number: int) -> tuple[int, str]: ...


@pytest.fixture
def kill(commands: Commands) -> Callable[..., Any]:
    """Return a function that kills a command, and returns its answer if it got to giving one."""

    def call(*words: object, after: float) -> Any:
        status, told = commands.end(*words, after=after, number=signal.SIGKILL)
        assert status in (0, -signal.SIGKILL), told
        with suppress(ValueError):  # half an answer is none
            return json.loads(told)

    return call


def test_a_command_that_is_killed_leaves_nothing_half_and_loses_nothing_acknowledged(
    commands: Commands,
    kill: Callable[..., Any],
    lot: Lot,
    labeler: Labeler,
    folder: Path,
    tmp_path: Path,
) -> None:
    code, chance = lot(SKU, "--count", 1000), random.Random(9)
    out = tmp_path / "out"
    out.mkdir()
    asked: dict[str, Callable[[int], tuple[object, ...]]] = {
        "assign": lambda at: ("lot", "assign", SKU, "--count", 12, "--key", f"batch {at}"),
        "weigh": lambda at: ("lot", "weigh", code, *["10.7"] * 24, "--key", f"scale {at}",
                             "--again", "--why", f"weighing {at}"),
        "ship": lambda at: ("ship", code, "--to", "landing", "--count", 3, "--key", f"order {at}",
                            "--slip", out / f"slip {at}.pdf"),
        "print": lambda at: ("bags", "--lot", code, "--count", 4, "--start", "next",
                             "--out", out / f"bags {at}.pdf"),
    }  # fmt: skip

    def typed(what: str, at: int) -> tuple[object, ...]:
        return ("--catalog", folder, *asked[what](at), "--json")

    for what in asked:
        commands.practise(*typed(what, 0))
    longest = {what: commands.time(*typed(what, 0)) for what in asked}
    answers: dict[str, list[Any]] = {what: [] for what in asked}
    for at in range(1, KILLS + 1):
        for what in asked:
            answer = kill(*typed(what, at), after=longest[what] * chance.random())
            answers[what] += [answer] if answer is not None else []
            # Some are to be killed before they answer and some after, however busy the machine.
            longest[what] *= 1.15 if answer is None else 0.75
            assert_whole(folder, code, out, answers)
    told = Counter({what: len(given) for what, given in answers.items()})
    print(f"{KILLS * len(asked)} commands killed; they had answered before: {dict(told)}")
    assert all(0 < told[what] < KILLS for what in asked)
    for at in range(1, KILLS + 1, 5):  # given again, it is done once
        codes = [labeler(*asked["assign"](at), "--json").json["lots"][0]["lot"] for _ in range(2)]
        assert codes[0] == codes[1]
        assert labeler(*asked["ship"](at)[:-2]).status == 0
    with open_ledger(folder) as ledger:
        moved = [slip(ledger, f"order {at}") for at in range(KILLS + 1)]
        assert {len(each) for each in moved[1::5]} == {1}
        assert on_hand(ledger, code) == 1000 - sum(each.count for one in moved for each in one)
        assert examine(ledger) == ()


def assert_whole(folder: Path, code: str, out: Path, answers: dict[str, list[Any]]) -> None:
    """Hold ledger and files against what was acknowledged."""
    with open_ledger(folder) as ledger:
        assert examine(ledger) == ()
        runs = {run.run: run.pdf for run in past_runs(ledger, lot=code)}
        known = {lot.code for lot in list_lots(ledger)}
        moved = {each["slip"]: slip(ledger, each["slip"]) for each in answers["ship"][-1:]}
        weighed = len(weigh_ins(ledger, code))
        for file in out.glob("slip *.pdf"):
            (each,) = slip(ledger, file.stem.replace("slip", "order"))
            assert each.count == 3
    assert {answer["lots"][0]["lot"] for answer in answers["assign"]} <= known
    assert all(moved.values())
    assert weighed > len(answers["weigh"])
    assert {answer["run"] for answer in answers["print"]} <= runs.keys()
    for file in out.glob("*.pdf"):
        if file not in SEEN:
            SEEN[file] = sha256(file.read_bytes()).hexdigest()
            assert len(PdfReader(file).pages) in (1, 2, 3)
        assert file.stem.startswith("slip") or SEEN[file] in runs.values()


SEEN: dict[Path, str] = {}
"""Files looked at before: a file under a final name is never touched again."""


def test_an_order_and_an_evening_that_are_killed_are_whole_or_not_there(
    commands: Commands,
    kill: Callable[..., Any],
    lot: Lot,
    labeler: Labeler,
    folder: Path,
    tmp_path: Path,
) -> None:
    code, chance = lot(SKU, "--count", 100), random.Random(4)
    buyers = [f"Buyer {at}" for at in range(3)]
    asked = "order", f"{SKU}=1", "--json", "--customer"
    orders = [labeler(*asked, name).json["order"]["order"] for name in buyers]

    def words(what: str, at: int) -> tuple[object, ...]:
        papers = tmp_path / f"{what} {at}.pdf", tmp_path / f"{what} {at} too.pdf"
        if what == "ship":
            given: tuple[object, ...] = ("--order", orders[at], "--slip", papers[0],
                                         "--invoice", papers[1])  # fmt: skip
        else:
            given = (f"{SKU} = {at + 1}", "--out", papers[0], "--cards", papers[1])
        return ("--catalog", folder, what, *given, "--json")

    answers: dict[tuple[str, int], Any] = {}
    for what in ("ship", "tied"):
        commands.practise(*words(what, 0))
        longest = commands.time(*words(what, 0)) if what == "tied" else 1.0
        for at in (1, 2):
            answers[what, at] = kill(*words(what, at), after=longest * chance.random())
    with open_ledger(folder) as ledger:
        assert examine(ledger) == ()
        tied = [each for each in list_lots(ledger) if each.code != code]
    shown = labeler("orders", "--all", "--json").json["orders"]
    billed = {each["order"]: len(each["invoices"]) for each in shown}
    for (what, at), answer in answers.items():
        there = billed[orders[at]] if what == "ship" else sum(lot.count == at + 1 for lot in tied)
        papers = list(tmp_path.glob(f"{what} {at}*.pdf"))
        assert there >= bool(answer), "nothing acknowledged is lost"
        assert there or not papers, "no paper names what is not on record"
        again = labeler(*words(what, at)[2:])
        assert again.status == (2 if what == "ship" and there else 0), again.err
    with open_ledger(folder) as ledger:
        lots = list_lots(ledger)
        assert on_hand(ledger, code) == 100 - len(orders)
    assert Counter(each.count for each in lots if each.code != code) == {1: 1, 2: 1, 3: 1}
