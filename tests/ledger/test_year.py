"""A year at the bench: 400 lots, 40 lots of hooks, 12 dealers, 3 changes of the catalog.

What happened is counted twice: by the ledger, and by plain dictionaries here. Then ten questions
are asked, such as come by telephone.
"""

from __future__ import annotations

import random
from collections import Counter, defaultdict
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from datetime import date, timedelta
from pathlib import Path

import pytest

from labeler.catalog.model import Product
from labeler.codes.product_link import product_link
from labeler.ledger.assign import Batch, assign_many
from labeler.ledger.examine import examine
from labeler.ledger.journal import entries
from labeler.ledger.kept_layouts import KeptLayout
from labeler.ledger.lots import Lot, SupplierLot, list_lots, newest, snapshot_of
from labeler.ledger.open import open_ledger
from labeler.ledger.open_sheets import Paper
from labeler.ledger.runs import Printed, Run, past_runs, record_run
from labeler.ledger.ship import Move, move
from labeler.ledger.store import Ledger
from labeler.ledger.trace import WithDealer, trace
from labeler.ledger.weigh import read_weights, weigh, weigh_ins
from labeler.ledger.withdraw import void

NEW_YEAR = date(2028, 1, 1)  # a leap year
SKUS = [f"RV-{weight}-{colour}" for weight in ("14", "38", "12") for colour in ("MLN", "BLK", "PB")]
DEALERS = [f"{name} Bait" for name in (
    "Alder", "Birch", "Cedar", "Dogwood", "Elm", "Fir", "Gorse", "Hazel", "Ivy", "Juniper",
    "Larch", "Maple",
)]  # fmt: skip
PRICES = ["4.75", "4.95", "5.25", "5.45"]
STRIP = KeptLayout("strip", {"strip.xml": b"<piece/>"})


@dataclass
class Year:
    """What happened, by our own count."""

    ledger: Ledger
    lots: list[Lot] = field(default_factory=list)
    hooks: dict[str, list[str]] = field(default_factory=lambda: defaultdict(list))
    price: dict[str, str] = field(default_factory=dict)
    with_dealer: Counter[tuple[str, str]] = field(default_factory=Counter)
    here: Counter[str] = field(default_factory=Counter)
    labels: Counter[str] = field(default_factory=Counter)
    verdicts: dict[str, str] = field(default_factory=dict)
    void: set[str] = field(default_factory=set)


@pytest.fixture(scope="module")
def year(new_folder: Callable[[], Path], product: Callable[..., Product]) -> Iterator[Year]:
    with open_ledger(new_folder(), who="ann") as ledger:
        told = Year(ledger)
        chance = random.Random(2028)
        for week in range(50):
            work_a_week(told, product, chance, week)
        yield told


def work_a_week(
    told: Year, product: Callable[..., Product], chance: random.Random, week: int
) -> None:
    """Eight lots a week; the price, and so the catalog, changes every 13 weeks or so."""
    ledger, price = told.ledger, PRICES[week // 13]
    day = NEW_YEAR + timedelta(days=7 * week)
    batches = []
    for at in range(8):
        hook = SupplierLot("hook", f"HK-{min(39, week * 8 // 10 + at % 2):03d}")
        batches.append(
            Batch(
                product(chance.choice(SKUS), price),
                chance.choice([12, 24, 36]),
                day + timedelta(days=at % 5),
                (hook, SupplierLot("alloy", f"PB {week // 5}")),
                key=f"{week} {at}",
            )
        )
    catalog = f"{PRICES.index(price)}" * 64
    for lot in assign_many(ledger, batches, catalog=catalog):
        told.lots.append(lot)
        told.price[lot.code] = price
        told.here[lot.code] = lot.count
        told.hooks[lot.materials[1].lot].append(lot.code)
        live_through(told, lot, chance)


def live_through(told: Year, lot: Lot, chance: random.Random) -> None:
    ledger, code = told.ledger, lot.code
    if chance.random() < 0.03:
        void(ledger, code, "wrong colour tied")
        told.void.add(code)
        told.here[code] = 0
        return
    if chance.random() < 0.1:
        weights = [
            f"{10.6 + chance.gauss(0, 0.15):.2f}" for _ in range(12 if lot.count > 11 else 1)
        ]
        told.verdicts[code] = weigh(ledger, code, read_weights(weights)).judgement.verdict
    spots = [(1 + at // 30, 1 + at % 30) for at in range(lot.count + 1)]
    printed = [Printed("bag", lot.sku, code, STRIP, spots)]
    record_run(ledger, Run(Paper("letter-3x10", 30), printed, "d" * 64, catalog=lot.catalog))
    told.labels[code] = lot.count + 1
    for dealer in chance.sample(DEALERS, chance.randrange(4)):
        count = min(told.here[code], chance.choice([3, 6, 12]))
        if count:
            move(ledger, [Move("ship", code, count, lot.made + timedelta(days=9), dealer)])
            told.here[code] -= count
            told.with_dealer[code, dealer] += count
            if chance.random() < 0.1:
                move(ledger, [Move("return", code, 1, lot.made + timedelta(days=30), dealer)])
                told.here[code] += 1
                told.with_dealer[code, dealer] -= 1


def test_the_year_was_what_it_was_meant_to_be(year: Year) -> None:
    assert len(year.lots) == 400
    assert len(year.hooks) == 40
    assert len({dealer for _, dealer in year.with_dealer}) == 12
    assert len({lot.catalog for lot in year.lots}) == 1 + 3
    assert year.void
    assert examine(year.ledger) == ()


def brittle(year: Year) -> str:
    """The hook lot that went into most batches."""
    return max(year.hooks, key=lambda hook: len(year.hooks[hook]))


def test_1_which_lots_have_the_brittle_hooks(year: Year) -> None:
    hook = brittle(year)
    found = [story.lot for story in trace(year.ledger, hook).stories]
    assert sorted(found) == sorted(year.hooks[hook])


def test_2_which_shops_have_them_and_how_many(year: Year) -> None:
    hook = brittle(year)
    counted: Counter[str] = Counter()
    for (code, dealer), count in year.with_dealer.items():
        counted[dealer] += count if code in year.hooks[hook] else 0
    expected = tuple(WithDealer(d, counted[d]) for d in sorted(counted) if counted[d])
    assert trace(year.ledger, f"hook={hook.lower()}").dealers == expected


def test_3_how_many_are_still_on_the_bench(year: Year) -> None:
    hook = brittle(year)
    left = sum(story.on_hand for story in trace(year.ledger, hook).stories)
    assert left == sum(year.here[code] for code in year.hooks[hook])


def test_4_what_did_the_label_of_a_lot_say_in_march(year: Year) -> None:
    march = [lot for lot in year.lots if lot.made.month == 3]
    for lot in march:
        assert str(snapshot_of(year.ledger, lot).price) == year.price[lot.code] == "4.75"


def test_5_what_hangs_at_one_shop(year: Year) -> None:
    counted = {code: n for (code, dealer), n in year.with_dealer.items() if dealer == "Elm Bait"}
    found = {
        story.lot: {each.dealer: each.count for each in story.dealers}.get("Elm Bait", 0)
        for story in trace(year.ledger, "elm bait").stories
    }
    assert found == counted


def test_6_which_lot_is_the_newest_of_a_sku(year: Year) -> None:
    for sku in SKUS:
        last = max(
            (lot for lot in year.lots if lot.sku == sku and lot.code not in year.void),
            key=lambda lot: (lot.made, lot.number),
        )
        found = newest(year.ledger, sku)
        assert found
        assert found.code == last.code


def test_7_what_was_made_on_the_leap_day(year: Year) -> None:
    leap = [lot.code for lot in year.lots if lot.made == date(2028, 2, 29)]
    assert leap
    assert [story.lot for story in trace(year.ledger, "2028-02-29").stories] == leap
    assert {code[:5] for code in leap} == {"28060"}


def test_8_how_many_labels_were_printed_in_june(year: Year) -> None:
    june = [lot.code for lot in year.lots if lot.made.month == 6]
    found = trace(year.ledger, "2028-06").stories
    assert sum(story.labels for story in found) == sum(year.labels[code] for code in june)
    some = next(code for code in june if year.labels[code])
    assert sum(run.count for run in past_runs(year.ledger, lot=some)) == year.labels[some]


def test_9_a_customer_scans_a_bag_and_asks_what_it_is(year: Year) -> None:
    lot = next(lot for lot in year.lots if (lot.code, "Fir Bait") in year.with_dealer)
    address = product_link("https://go.example.com", None, lot.sku, lot.code)
    (story,) = trace(year.ledger, address).stories
    assert (story.lot, story.sku, story.made) == (lot.code, lot.sku, lot.made)
    assert story.materials == lot.materials


def test_10_what_became_of_every_lot(year: Year) -> None:
    stories = {story.lot: story for story in trace(year.ledger, "2028-01..2028-12").stories}
    assert set(stories) == {lot.code for lot in year.lots}
    for lot in list_lots(year.ledger):
        story = stories[lot.code]
        assert story.on_hand == year.here[lot.code]
        assert story.void is (lot.code in year.void) is (lot.void is not None)
        assert story.labels == year.labels[lot.code]
        assert story.shipped == sum(
            count for (code, _), count in year.with_dealer.items() if code == lot.code
        )
        verdicts = [each.judgement.verdict for each in weigh_ins(year.ledger, lot.code)]
        assert verdicts == ([year.verdicts[lot.code]] if lot.code in year.verdicts else [])
        assert entries(year.ledger, lot=lot.code)[0].what == "assign"
