"""From anything in hand to the lots it touches."""

from __future__ import annotations

import csv
import io
import random
from collections.abc import Callable, Iterator
from datetime import date
from pathlib import Path

import pytest

from labeler.catalog.model import Product
from labeler.codes.links import product_link
from labeler.findings import LabelerError
from labeler.ledger.assign import Batch, add_materials, assign, assign_many, void
from labeler.ledger.lots import SupplierLot, fold, nearest, remember_names
from labeler.ledger.open import open_ledger
from labeler.ledger.runs import KeptLayout, PrintedPiece, Run, RunPaper, record_run
from labeler.ledger.ship import Move, move
from labeler.ledger.store import Ledger
from labeler.ledger.trace import WithDealer, trace

HERON, OTTER = "Heron Point Outfitters", "Otter Bend Bait"
DAY, LATER = date(2026, 11, 25), date(2026, 12, 3)
GTIN = "9521234543213"
BAD, GOOD = SupplierLot("hook", "HK-2291"), SupplierLot("hook", "HK-2292")


@pytest.fixture(
    scope="module", params=["sqlite", pytest.param("postgresql", marks=pytest.mark.siege)]
)
def ledger(request: pytest.FixtureRequest, new_folder: Callable[[], Path]) -> Iterator[Ledger]:
    """A ledger that most of these tests only read, and so share, on each kind of database."""
    where: Path | str = new_folder()
    if request.param == "postgresql":
        where = request.getfixturevalue("server").schema()
    with open_ledger(where, who="ann", patience=5) as opened:
        yield opened


@pytest.fixture(scope="module")
def codes(ledger: Ledger, product: Callable[..., Product]) -> list[str]:
    return open_four(ledger, product)


@pytest.fixture
def fresh(where: str) -> Iterator[Ledger]:
    """A ledger of the test's own, to write in."""
    with open_ledger(where, who="ann", patience=5) as opened:
        yield opened


@pytest.fixture
def fresh_codes(fresh: Ledger, product: Callable[..., Product]) -> list[str]:
    return open_four(fresh, product)


def open_four(ledger: Ledger, product: Callable[..., Product]) -> list[str]:
    """Four lots: two on the bad hooks, one of them with a GTIN; two on good ones."""
    plain, coded = product("RV-A"), product("RV-B", gtin=GTIN)
    lots = assign_many(
        ledger,
        [
            Batch(plain, 12, DAY, (BAD, SupplierLot("alloy", "=PB 9"))),
            Batch(coded, 24, DAY, (BAD,)),
            Batch(coded, 36, LATER, (GOOD,)),
            Batch(product("QV-C"), 48, LATER, (GOOD, SupplierLot("thread", "HK 2291"))),
        ],
    )
    codes = [lot.code for lot in lots]
    layout = KeptLayout("strip", {"strip.xml": b"<piece/>"})
    cells = [(1, cell) for cell in range(1, 15)]
    for kind, spots in (("bag", cells), ("bag", cells[:2]), ("card", cells[:12])):
        piece = PrintedPiece(kind, "RV-A", codes[0], layout, spots)  # type: ignore[arg-type]
        record_run(ledger, Run(RunPaper("letter-3x10", 30), [piece], "d" * 64))
    move(ledger, [Move("ship", codes[0], 6, DAY, HERON), Move("ship", codes[1], 10, DAY, HERON)])
    move(ledger, [Move("ship", codes[1], 4, LATER, OTTER), Move("scrap", codes[1], 1, LATER)])
    move(ledger, [Move("return", codes[0], 6, LATER, HERON)])
    return codes


def found(ledger: Ledger, text: str) -> list[str]:
    return [story.lot for story in trace(ledger, text).stories]


def test_a_bad_hook_leads_to_its_lots_and_to_who_has_them(ledger: Ledger, codes: list[str]) -> None:
    told = trace(ledger, "hook=hk 2291")
    assert told.meanings == ("hook of supplier's lot hk 2291",)
    first, second = told.stories
    assert (first.lot, first.sku, first.name, first.made) == (
        codes[0], "RV-A", "Reed Vole, Melon Rind", DAY,
    )  # fmt: skip
    assert (first.count, first.labels, first.cards, first.on_hand) == (12, 16, 12, 12)
    assert (first.dealers, first.shipped) == ((), 0)
    assert (second.on_hand, second.shipped) == (9, 14)
    assert second.dealers == (WithDealer(HERON, 10), WithDealer(OTTER, 4))
    assert told.dealers == (WithDealer(HERON, 10), WithDealer(OTTER, 4))


@pytest.mark.parametrize(
    ("asked", "lots"),
    [
        ("HK-2291", [0, 1, 3]),
        ("hk2292", [2, 3]),
        ("thread=HK-2291", [3]),
        ("=PB 9", [0]),
        ("RV-A", [0]),
        ("rv-b", [1, 2]),
        ("RV-*", [0, 1, 2]),
        ("*-C", [3]),
        ("heron point outfitters", [0, 1]),
        ("Otter Bend Bait", [1]),
        ("2026-11-25", [0, 1]),
        ("2026-12", [2, 3]),
        ("2026-11-26..2026-12-31", [2, 3]),
        ("2026-11 to 2026-12", [0, 1, 2, 3]),
        ("..2026-11-30", [0, 1]),
        ("2026-12-03..", [2, 3]),
        ("2031-01..2031-02", []),
        ("2026", [0, 1, 2, 3]),
        ("2025..2027", [0, 1, 2, 3]),
    ],
)
def test_what_the_maker_types_leads_to_lots(
    ledger: Ledger, codes: list[str], asked: str, lots: list[int]
) -> None:
    assert found(ledger, asked) == [codes[at] for at in lots]


def test_a_scanned_address_leads_to_its_lot(ledger: Ledger, codes: list[str]) -> None:
    for gtin, sku, lot in ((None, "RV-A", 0), (GTIN, "RV-B", 1)):
        address = product_link("https://go.example.com", gtin, sku, codes[lot])
        assert found(ledger, address) == [codes[lot]]


def test_a_scanned_address_without_a_lot_leads_to_the_product(
    ledger: Ledger, codes: list[str]
) -> None:
    address = product_link("https://go.example.com", GTIN, "RV-B")
    assert found(ledger, address) == codes[1:3]
    assert found(ledger, product_link("https://go.example.com", None, "RV-A")) == codes[:1]


def test_a_lot_code_is_found_as_it_is_read_over_the_telephone(
    ledger: Ledger, codes: list[str]
) -> None:
    code = codes[2]
    assert found(ledger, f"{code[:2]} {code[2:5]}-{code[5:]}") == [code]


def test_a_day_that_is_a_supplier_s_lot_too_is_taken_for_both(
    fresh: Ledger, fresh_codes: list[str], melon: Product
) -> None:
    dated = assign(fresh, Batch(melon, 12, LATER, (SupplierLot("hook", str(DAY)),)))
    told = trace(fresh, str(DAY))
    assert [story.lot for story in told.stories] == [*fresh_codes[:2], dated.code]
    assert told.meanings == (f"made on {DAY}", f"supplier's lot {DAY}")
    assert found(fresh, f"hook={DAY}") == [dated.code]


@pytest.mark.siege
def test_any_slip_in_any_of_many_names_is_answered_with_the_name(
    fresh: Ledger, melon: Product
) -> None:
    chance = random.Random(5)
    named = [
        f"{chance.choice(MAKES)}{number:05d}" for number in chance.sample(range(99_999), 3_000)
    ]
    fresh.write(lambda connection: remember_names(connection, named))
    slips = [(name, mistyped(name, chance)) for name in chance.sample(named, 100)]
    answers = fresh.read(lambda c: {slip: nearest(c, slip, 5) for _, slip in slips})
    for name, slip in slips:
        assert name in answers[slip] or fold(slip) in map(fold, answers[slip]), (name, slip)


MAKES = ("HK-", "hook ", "S/", "Fil d'été ")


def mistyped(name: str, chance: random.Random) -> str:
    """Return a name with one letter wrong, left out, doubled, or changed with the next."""
    at = chance.randrange(len(name) - 1)
    head, letter, tail = name[:at], name[at], name[at + 1 :]
    return head + chance.choice(["x" + tail, tail, letter * 2 + tail, tail[0] + letter + tail[1:]])


def test_what_is_struck_out_leads_to_its_lot_no_more_until_it_is_noted_again(
    fresh: Ledger, fresh_codes: list[str]
) -> None:
    kept = [fresh_codes[1], fresh_codes[3]]
    right = SupplierLot("hook", "HK-3300")
    assert add_materials(fresh, fresh_codes[0], [right], BAD).materials[-1] == right
    assert found(fresh, str(BAD.lot)) == kept
    add_materials(fresh, fresh_codes[0], [BAD], right)
    assert found(fresh, str(BAD.lot)) == [fresh_codes[0], *kept]
    with pytest.raises(LabelerError):
        trace(fresh, "HK-3300")


def test_a_void_lot_is_told_as_void(fresh: Ledger, fresh_codes: list[str]) -> None:
    void(fresh, fresh_codes[3], "never tied")
    (story,) = trace(fresh, fresh_codes[3]).stories
    assert (story.void, story.on_hand, story.count) == (True, 0, 48)


@pytest.mark.parametrize(
    ("asked", "hint"),
    [
        ("HK-2219", "Nearest names in the ledger: HK-2292, HK-2291"),
        ("Otter Bent Bait", "Nearest names in the ledger: Otter Bend Bait"),
        ("https://elsewhere.example.com/", ""),
    ],
)
def test_an_unknown_name_is_answered_with_the_nearest(
    ledger: Ledger, codes: list[str], asked: str, hint: str
) -> None:
    with pytest.raises(LabelerError) as error:
        trace(ledger, asked)
    (finding,) = error.value.findings
    assert finding.rule == "trace-nothing"
    assert finding.hint == hint


def test_a_slip_in_a_lot_code_is_answered_with_the_code(ledger: Ledger, codes: list[str]) -> None:
    with pytest.raises(LabelerError) as error:
        trace(ledger, codes[0][:-1] + ("8" if codes[0][-1] != "8" else "7"))
    assert codes[0] in error.value.findings[0].hint


def test_the_table_has_a_row_for_every_dealer_and_no_formula(
    ledger: Ledger, codes: list[str]
) -> None:
    move(ledger, [Move("ship", codes[0], 2, LATER, "=cmd|' /C calc'!A0")])
    rows = list(csv.DictReader(io.StringIO(trace(ledger, "HK-2291").as_csv(), newline="")))
    assert [(row["lot"], row["dealer"], row["with dealer"]) for row in rows] == [
        (codes[0], "'=cmd|' /C calc'!A0", "2"),
        (codes[1], HERON, "10"),
        (codes[1], OTTER, "4"),
        (codes[3], "", "0"),
    ]
    assert rows[0]["materials"] == "alloy==PB 9; hook=HK-2291"


def test_plain_values_hold_the_whole_answer(ledger: Ledger, codes: list[str]) -> None:
    record = trace(ledger, codes[1]).as_json()
    assert record["lots"][0]["materials"] == ["hook=HK-2291"]
    assert record["dealers"] == [{"dealer": HERON, "count": 10}, {"dealer": OTTER, "count": 4}]
    assert (record["made"], record["on_hand"]) == (24, 9)
