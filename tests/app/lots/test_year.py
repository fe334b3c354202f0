"""A year at the bench through the command line: 400 lots, 40 lots of hooks, 12 dealers.

The catalog changes three times. Lots are opened and shipped by the ledger, as the commands do;
what happened is counted a second time by plain dictionaries; then ten questions are asked as they
come by telephone.
"""

from __future__ import annotations

import json
import random
from collections import Counter, defaultdict
from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import date, timedelta
from pathlib import Path
from typing import Any

import pytest
from pypdf import PdfReader

from labeler.app.workstation import ledger_location
from labeler.catalog.model import Product
from labeler.catalog.read import read_catalog
from labeler.cli.group import run
from labeler.codes.links import product_link
from labeler.ledger.assign import Batch, assign_many, void
from labeler.ledger.lots import SupplierLot
from labeler.ledger.ship import Move, move
from labeler.ledger.store import Ledger
from labeler.ledger.weigh import read_weights, weigh

pytestmark = pytest.mark.siege


LOTS, HOOKS, DEALERS, CHANGES = 400, 40, 12, 3
EACH_QUARTER = LOTS // (CHANGES + 1)
NEW_YEAR = date(2028, 1, 1)
"""A leap year."""

PRICES = ("4.95", "5.15", "5.35", "5.55")


DEMO = Path(__file__).resolve().parents[3] / "demo_catalog"


@dataclass
class Year:
    """What happened, by our own count."""

    folder: Path
    lots: dict[str, Product] = field(default_factory=dict)
    made: dict[str, date] = field(default_factory=dict)
    of_hook: defaultdict[str, list[str]] = field(default_factory=lambda: defaultdict(list))
    here: Counter[str] = field(default_factory=Counter)
    out: Counter[tuple[str, str]] = field(default_factory=Counter)
    verdicts: dict[str, str] = field(default_factory=dict)
    void: list[str] = field(default_factory=list)

    @property
    def price(self) -> dict[str, str]:
        return {code: str(product.price) for code, product in self.lots.items()}


@pytest.fixture(scope="module")
def year(copy_in: Callable[[Path], Path]) -> Year:
    place = copy_in(DEMO)
    told, chance = Year(place), random.Random(2028)
    for quarter in range(CHANGES + 1):
        if quarter:
            change_the_price(place / "catalog.toml", *PRICES[quarter - 1 : quarter + 1])
        make_lots(told, chance, quarter)
        send_them_out(told, chance)
    return told


def change_the_price(catalog: Path, old: str, new: str) -> None:
    text = catalog.read_text("utf-8")
    assert f'price = "{old}"' in text
    catalog.write_text(text.replace(f'price = "{old}"', f'price = "{new}"'), "utf-8")


def make_lots(told: Year, chance: random.Random, quarter: int) -> None:
    catalog = read_catalog(told.folder)
    line = [product for product in catalog.products if product.sku.startswith("RM-")]
    batches = []
    for number in range(quarter * EACH_QUARTER, (quarter + 1) * EACH_QUARTER):
        went_in = [SupplierLot("hook", f"HK-{number * HOOKS // LOTS:03d}")]
        day = NEW_YEAR + timedelta(days=number * 366 // LOTS)
        batches.append(Batch(chance.choice(line), 24, day, tuple(went_in)))
    with ledger_location(told.folder).opened(begin=True) as ledger:
        lots = assign_many(ledger, batches, catalog_digest=catalog.fingerprint)
    for lot, batch in zip(lots, batches, strict=True):
        told.lots[lot.code], told.made[lot.code] = batch.product, batch.made
        told.of_hook[batch.materials[0].lot].append(lot.code)
        told.here[lot.code] = 24


def send_them_out(told: Year, chance: random.Random) -> None:
    fresh = list(told.lots)[-EACH_QUARTER:]
    with ledger_location(told.folder).opened() as ledger:
        for code in fresh:
            if chance.random() < 0.02:
                void(ledger, code, "counted wrong")
                told.void.append(code)
                told.here[code] = 0
            else:
                live_through(told, ledger, code, chance)


def live_through(told: Year, ledger: Ledger, code: str, chance: random.Random) -> None:
    """Weigh a lot, or not; ship some of it, or none; some of that comes back."""
    if chance.random() < 0.1:
        weights = [f"{10.66 + chance.gauss(0, 0.15):.2f}" for _ in range(12)]
        kept = weigh(ledger, code, read_weights(weights), sure=True)
        told.verdicts[code] = kept.judgement.verdict
        if kept.judgement.verdict == "fail":
            return  # it is held
    for _ in range(chance.randrange(3)):
        dealer, count = f"Dealer {chance.randrange(DEALERS):02d}", chance.randrange(1, 9)
        moves = [Move("ship", code, count, told.made[code], dealer)]
        back = int(chance.random() < 0.2)
        moves += [Move("return", code, 1, told.made[code] + timedelta(days=30), dealer)] * back
        move(ledger, moves)
        told.here[code] -= count - back
        told.out[code, dealer] += count - back


Ask = Callable[..., Any]


@pytest.fixture
def ask(year: Year, capfd: pytest.CaptureFixture[str]) -> Ask:
    def asked(*words: object) -> Any:
        capfd.readouterr()
        status = run(["--catalog", str(year.folder), *map(str, words), "--json"])
        said = capfd.readouterr().out
        assert status == 0, said
        return json.loads(said)

    return asked


def codes(answer: Any) -> list[str]:
    return [lot["lot"] for lot in answer["lots"]]


def dealers(answer: Any) -> dict[str, int]:
    return {each["dealer"]: each["count"] for each in answer["dealers"]}


def out_of(year: Year, lots: list[str]) -> dict[str, int]:
    totals: Counter[str] = Counter()
    for (code, dealer), count in year.out.items():
        if code in lots:
            totals[dealer] += count
    return dict(totals)


def words_on(file: Path) -> str:
    """Return the words of a file without their spaces."""
    return "".join("".join(page.extract_text().split()) for page in PdfReader(file).pages)


def test_the_year_was_as_full_as_it_should_be(year: Year) -> None:
    assert len(year.lots) == LOTS
    assert len(year.of_hook) == HOOKS
    assert len({dealer for _, dealer in year.out}) == DEALERS
    assert set(PRICES) <= set(year.price.values())
    assert {"pass", "fail"} <= set(year.verdicts.values())
    assert len(year.void) > 1


def test_1_which_batches_have_the_brittle_hook_and_which_shops(year: Year, ask: Ask) -> None:
    answer = ask("trace", "hook=hk 017")
    bad = year.of_hook["HK-017"]
    assert codes(answer) == bad
    assert dealers(answer) == out_of(year, bad)
    assert answer["on_hand"] == sum(year.here[code] for code in bad)


def test_2_where_is_the_rest_of_this_lot(year: Year, ask: Ask) -> None:
    code = min(year.here, key=lambda each: year.here[each] or 99)
    answer = ask("trace", f"{code[:2]} {code[2:5]} {code[5:]}")
    assert (codes(answer), answer["on_hand"]) == ([code], year.here[code])
    assert dealers(answer) == out_of(year, [code])


def test_3_what_did_this_shop_ever_get(year: Year, ask: Ask) -> None:
    answer = ask("trace", "dealer 04")
    theirs = {code: n for (code, dealer), n in year.out.items() if dealer == "Dealer 04"}
    assert set(codes(answer)) == set(theirs)
    assert dealers(answer)["Dealer 04"] == sum(theirs.values())


def test_4_all_lots_of_one_product(year: Year, ask: Ask) -> None:
    sku = next(iter(year.lots.values())).sku
    assert codes(ask("trace", sku)) == [c for c, p in year.lots.items() if p.sku == sku]


def test_5_what_was_made_in_february_of_a_leap_year(year: Year, ask: Ask) -> None:
    wanted = [code for code, day in year.made.items() if day.month == 2]
    assert codes(ask("trace", "2028-02")) == wanted
    assert date(2028, 2, 29) in [year.made[code] for code in wanted]


def test_6_what_does_this_scanned_code_say(year: Year, ask: Ask) -> None:
    code, product = next(each for each in year.lots.items() if each[0] not in year.void)
    assert product.maker.links
    address = product_link(product.maker.links, product.gtin, product.sku, code)
    assert codes(ask("trace", address)) == [code]


def test_7_what_lies_on_the_shelf(year: Year, ask: Ask) -> None:
    listed = {each["lot"]: each["on_hand"] for each in ask("lot", "list")["lots"]}
    assert listed == {code: year.here[code] for code in year.lots}


def test_8_what_became_of_lots_that_were_withdrawn_and_of_one_that_was_weighed(
    year: Year, ask: Ask
) -> None:
    for code in year.void:
        told = ask("lot", "list", code)
        assert (told["void"], told["on_hand"]) == ("counted wrong", 0)
        assert [entry["what"] for entry in told["journal"]] == ["assign", "void"]
    for code, verdict in list(year.verdicts.items())[::9]:
        told = ask("lot", "list", code)
        assert [each["verdict"] for each in told["weigh_ins"]] == [verdict]
        assert [entry["what"] for entry in told["journal"]][:2] == ["assign", "weigh"]


def test_9_what_did_the_label_say_before_the_price_went_up(
    year: Year, ask: Ask, tmp_path: Path
) -> None:
    out = tmp_path / "six.pdf"
    for price in (PRICES[0], PRICES[-1]):
        code = next(c for c, was in year.price.items() if was == price and c not in year.void)
        ask("reprint", code, "--count", 1, "--sheet", "letter-2x5", "--out", out)
        assert f"${price}" in words_on(out)
        assert code in words_on(out)


def test_10_six_more_of_this_one_are_of_its_newest_lot(
    year: Year, ask: Ask, tmp_path: Path
) -> None:
    sku = list(year.lots.values())[3].sku
    theirs = [code for code, product in year.lots.items() if product.sku == sku]
    last = [code for code in theirs if code not in year.void][-1]
    answer = ask("reprint", sku, "--count", 6, "--out", tmp_path / "six.pdf")
    assert (answer["lot"], answer["pieces"]) == (last, 6)


def test_the_recall_sheet_is_one_page_with_every_lot_and_every_shop(
    year: Year, ask: Ask, tmp_path: Path
) -> None:
    out = tmp_path / "recall.pdf"
    ask("trace", "HK-017", "--sheet", out)
    bad = year.of_hook["HK-017"]
    shops = [dealer.replace(" ", "") for dealer in out_of(year, bad)]
    words = words_on(out)
    assert [name for name in ("HK-017", *bad, *shops) if name not in words] == []
    assert len(PdfReader(out).pages) == 1
    ask("trace", "HK-017", "--sheet", tmp_path / "again.pdf")
    assert out.read_bytes() == (tmp_path / "again.pdf").read_bytes()


def test_a_recall_of_a_whole_month_goes_on_over_pages_and_loses_no_lot(
    year: Year, ask: Ask, tmp_path: Path
) -> None:
    out = tmp_path / "recall.pdf"
    ask("trace", "2028-02", "--sheet", out, "--paper", "a4")
    wanted = [code for code, day in year.made.items() if day.month == 2]
    words = words_on(out)
    assert [code for code in wanted if code not in words] == []
    assert len(PdfReader(out).pages) > 1
