"""One maker at one bench, as a process of its own: run by the tests, never imported by them.

``hand.py benches WHERE PRODUCT MANY DAY BENCHES`` forks BENCHES of them, which all open MANY lots
and print each code once it is acknowledged. ``hand.py nursery`` reads lines ``WHERE PRODUCT SEED
ACKS`` and for each one forks a hand that works at random until it is killed; what was acknowledged
stands in the file ACKS. ``hand.py squeezed WHERE PRODUCT BYTES`` works until no file may grow
beyond BYTES.
"""

from __future__ import annotations

import gc
import json
import os
import random
import resource
import signal
import sys
import tempfile
from collections.abc import Callable
from datetime import date
from fractions import Fraction
from pathlib import Path
from typing import Any

from labeler.catalog.model import Product
from labeler.findings import LabelerError
from labeler.ledger.assign import Batch, assign
from labeler.ledger.lots import SupplierLot
from labeler.ledger.open import open_ledger
from labeler.ledger.runs import KeptLayout, PrintedPiece, Run, RunPaper, record_run
from labeler.ledger.ship import Move, move
from labeler.ledger.store import Ledger
from labeler.ledger.weigh import weigh
from labeler.units import Weight

DAY = date(2026, 11, 25)
Acknowledge = Callable[[str, Any], None]


def read_product(file: str) -> Product:
    return Product.model_validate_json(Path(file).read_text(encoding="utf-8"))


def benches(where: str, file: str, many: str, day: str, all_of_them: str) -> None:
    product, made = read_product(file), date.fromisoformat(day)
    for bench in range(int(all_of_them)):
        if not os.fork():
            assign_many_times(where, product, int(many), made, f"bench {bench}")
            os._exit(0)
    ended = [os.waitstatus_to_exitcode(os.wait()[1]) for _ in range(int(all_of_them))]
    sys.exit(any(ended))


def assign_many_times(where: str, product: Product, many: int, day: date, who: str) -> None:
    with open_ledger(where, who=who, patience=60) as ledger:
        for at in range(many):
            code = assign(ledger, Batch(product, 12, day, key=f"{who} {at}")).code
            os.write(1, f"{code}\n".encode())


def squeezed(where: str, file: str, most: str) -> None:
    """Stop with the finding's rule and hint once the disk has no room left."""
    product = read_product(file)
    with open_ledger(where, who="squeezed", patience=2) as ledger:
        resource.setrlimit(resource.RLIMIT_FSIZE, (int(most), int(most)))
        try:
            while True:
                print(assign(ledger, Batch(product, 12, DAY, note="x" * 500)).code, flush=True)
        except LabelerError as error:
            finding = error.findings[0]
            print("stopped", finding.rule, finding.hint, flush=True)


def nursery() -> None:
    signal.signal(signal.SIGCHLD, signal.SIG_IGN)
    practised = False
    for line in sys.stdin:
        where, file, seed, acks = line.split()
        if not practised:
            practise(read_product(file))
            practised = True
        child = os.fork()
        if not child:
            work_at_random(where, read_product(file), int(seed), acks)
        print(child, flush=True)


def practise(product: Product) -> None:
    """Do each job once, so that the hands, who are forked after it, need load nothing."""
    chance = random.Random(0)
    with tempfile.TemporaryDirectory() as home, open_ledger(home) as ledger:
        code = open_a_lot(ledger, product, chance, lambda what, answer: None)
        for job in (weigh_it, ship_it, print_it):
            job(ledger, code, chance, lambda what, answer: None)
    gc.freeze()


def work_at_random(where: str, product: Product, seed: int, acks: str) -> None:
    written = os.open(acks, os.O_WRONLY | os.O_CREAT | os.O_APPEND)

    def acknowledge(what: str, answer: Any) -> None:
        os.write(written, (json.dumps([what, answer]) + "\n").encode())

    chance = random.Random(seed)
    acknowledge("started", seed)
    with open_ledger(where, who=f"hand {seed}") as ledger:
        known = [open_a_lot(ledger, product, chance, acknowledge)]
        while True:
            job = chance.choice([weigh_it, ship_it, print_it])
            if chance.random() < 0.4:
                known.append(open_a_lot(ledger, product, chance, acknowledge))
            job(ledger, chance.choice(known), chance, acknowledge)


def open_a_lot(
    ledger: Ledger, product: Product, chance: random.Random, acknowledge: Acknowledge
) -> str:
    went_in = (SupplierLot("hook", f"HK-{chance.randrange(40)}"),)
    code = assign(ledger, Batch(product, 500, DAY, went_in)).code
    acknowledge("assign", code)
    return code


def weigh_it(ledger: Ledger, code: str, chance: random.Random, acknowledge: Acknowledge) -> None:
    weights = [Weight(Fraction(chance.randrange(990, 1120), 100), "g") for _ in range(24)]
    acknowledge("weigh", [code, weigh(ledger, code, weights).at.isoformat()])


def ship_it(ledger: Ledger, code: str, chance: random.Random, acknowledge: Acknowledge) -> None:
    parcel = [Move("ship", code, 1, DAY, dealer=f"Dealer {chance.randrange(12)}")]
    sent = move(ledger, parcel, even_so=True)  # a weigh-in by chance may have held the lot
    acknowledge("ship", sent[0].slip)


def print_it(ledger: Ledger, code: str, chance: random.Random, acknowledge: Acknowledge) -> None:
    layout = KeptLayout("bag", {"bag.xml": b"<bag/>" * chance.randrange(1, 4)})
    spots = [(1, cell) for cell in range(1, 25)]
    run = Run(
        RunPaper("letter-3x10", 30), [PrintedPiece("bag", "RV", code, layout, spots)], pdf="0" * 64
    )
    acknowledge("print", record_run(ledger, run))


if __name__ == "__main__":
    jobs: dict[str, Callable[..., None]] = {
        "benches": benches,
        "squeezed": squeezed,
        "nursery": nursery,
    }
    jobs[sys.argv[1]](*sys.argv[2:])
