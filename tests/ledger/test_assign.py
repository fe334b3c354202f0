"""Lot codes are given out once, for ever, without a gap, and keep the product as it was."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from datetime import date, timedelta
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from sqlalchemy import text
from sqlalchemy.exc import DBAPIError

from labeler.catalog.model import Product
from labeler.codes import lot_code
from labeler.findings import LabelerError
from labeler.ledger.assign import Batch, add_materials, assign, assign_many, void
from labeler.ledger.backup import examine
from labeler.ledger.lots import SupplierLot, find, list_lots, newest, snapshot_of
from labeler.ledger.open import open_ledger
from labeler.ledger.store import Ledger, entries
from labeler.ledger.trace import trace

DAY = date(2026, 11, 25)
HOOKS = (SupplierLot("hook", "HK-2291"), SupplierLot("alloy", "PB 77/3"))


def rules(error: pytest.ExceptionInfo[LabelerError]) -> list[str]:
    return [finding.rule for finding in error.value.findings]


def test_the_first_lot_of_a_day_is_number_one(ledger: Ledger, melon: Product) -> None:
    lot = assign(ledger, Batch(melon, 24, DAY, HOOKS, note="bench 2"), catalog_digest="c" * 64)
    assert lot.code == "263290013"
    assert (lot.number, lot.count, lot.sku, lot.made) == (1, 24, melon.sku, DAY)
    assert (lot.name, lot.note, lot.catalog_digest) == (
        "Reed Vole, Melon Rind",
        "bench 2",
        "c" * 64,
    )
    assert lot.opened_at.isoformat() == "2026-11-25T12:00:00+00:00"
    assert lot.opened_by == "ann"
    assert lot.materials == tuple(sorted(HOOKS))
    assert find(ledger, "2632-9001 3") == lot


def test_a_prefix_of_the_makers_own_gives_letters(ledger: Ledger, melon: Product) -> None:
    lot = assign(ledger, Batch(melon, 24, DAY), form=lot_code.LotForm(prefix="RV"))
    assert lot.code.startswith("RV26329")
    assert lot_code.is_valid(lot.code)
    assert find(ledger, lot.code.lower()).id == lot.id


def test_many_lots_at_once_are_numbered_in_order(
    ledger: Ledger, product: Callable[..., Product]
) -> None:
    a, b = product("RV-A"), product("RV-B")
    other_day = DAY - timedelta(days=1)
    batches = [Batch(a, 1, DAY), Batch(b, 2, other_day), Batch(b, 3, DAY), Batch(a, 4, other_day)]
    made = assign_many(ledger, batches)
    assert [(lot.sku, lot.count, lot.number) for lot in made] == [
        ("RV-A", 1, 1), ("RV-B", 2, 1), ("RV-B", 3, 2), ("RV-A", 4, 2),
    ]  # fmt: skip
    assert examine(ledger) == ()


def test_many_lots_are_opened_all_or_none(ledger: Ledger, melon: Product) -> None:
    with pytest.raises(LabelerError) as error:
        assign_many(
            ledger,
            [
                Batch(melon, 12, DAY),
                Batch(melon, 0, DAY),
                Batch(melon, 2_000_000, date(1999, 1, 1)),
                Batch(melon, 1, DAY, note="bell \a"),
            ],
        )
    assert rules(error) == ["lot-count", "lot-count", "lot-year", "ledger-text"]
    assert list_lots(ledger) == []


def test_the_same_key_gives_the_same_lot(ledger: Ledger, melon: Product) -> None:
    first = assign(ledger, Batch(melon, 24, DAY, HOOKS, key="monday 1"))
    again = assign(ledger, Batch(melon, 24, DAY + timedelta(days=1), HOOKS, key="monday 1"))
    assert again == first
    assert len(list_lots(ledger)) == 1
    assert [entry.what for entry in entries(ledger)] == ["assign"]


def test_a_key_twice_in_one_list_opens_one_lot(ledger: Ledger, melon: Product) -> None:
    batches = [Batch(melon, 24, DAY, key=key) for key in ("a", "b", "a")]
    made = assign_many(ledger, batches)
    assert [lot.number for lot in made] == [1, 2, 1]


def test_a_key_for_something_else_is_refused(ledger: Ledger, melon: Product) -> None:
    assign(ledger, Batch(melon, 24, DAY, key="monday 1"))
    with pytest.raises(LabelerError) as error:
        assign(ledger, Batch(melon, 36, DAY, key="monday 1"))
    assert str(error.value) == (
        "key: this key was used before, to assign something else; found 'monday 1' [key-used]\n"
        "    Take a new key for a new request; the old one was carried out."
    )


def test_a_void_code_is_kept_and_never_given_again(ledger: Ledger, melon: Product) -> None:
    first = assign(ledger, Batch(melon, 24, DAY))
    gone = void(ledger, first.code, "wrong colour")
    assert gone.void
    assert (gone.void.why, gone.void.who) == ("wrong colour", "ann")
    assert void(ledger, first.code, "asked again").void == gone.void
    second = assign(ledger, Batch(melon, 24, DAY))
    assert second.number == 2
    assert newest(ledger, melon.sku) == second
    assert [lot.code for lot in list_lots(ledger)] == [first.code, second.code]


def test_no_lot_can_be_changed_or_deleted_behind_our_back(ledger: Ledger, melon: Product) -> None:
    lot = assign(ledger, Batch(melon, 24, DAY, HOOKS))
    for sql in ("UPDATE lots SET count = 1", "DELETE FROM lots", "DELETE FROM journal"):
        with (
            pytest.raises(DBAPIError, match="keeps every row"),
            ledger.engine.begin() as connection,
        ):
            connection.execute(text(sql))
    assert find(ledger, lot.code) == lot


def test_the_product_is_kept_as_it_was(ledger: Ledger, product: Callable[..., Product]) -> None:
    old, new = product(price="4.75"), product(price="5.25")
    first, second = assign(ledger, Batch(old, 12, DAY)), assign(ledger, Batch(new, 12, DAY))
    third = assign(ledger, Batch(old, 12, DAY))
    assert snapshot_of(ledger, first) == old
    assert snapshot_of(ledger, second) == new
    assert first.snapshot == third.snapshot != second.snapshot


def test_a_clock_set_back_over_new_year_gives_no_code_twice(ledger: Ledger, melon: Product) -> None:
    days = [
        date(2027, 12, 31), date(2028, 1, 1), date(2027, 12, 31), date(2028, 2, 29),
        date(2028, 3, 1), date(2028, 2, 29), date(2028, 1, 1),
    ]  # fmt: skip
    made = [assign(ledger, Batch(melon, 12, day)) for day in days]
    assert [lot.code[:8] for lot in made] == [
        "27365001", "28001001", "27365002", "28060001", "28061001", "28060002", "28001002",
    ]  # fmt: skip
    assert len({lot.code for lot in made}) == len(days)
    latest = newest(ledger, melon.sku)
    assert latest
    assert latest.made == date(2028, 3, 1)
    assert examine(ledger) == ()


def test_two_catalogs_may_share_a_ledger(where: str, product: Callable[..., Product]) -> None:
    with open_ledger(where, who="ann") as one, open_ledger(where, who="bo") as other:
        made = [
            assign(ledger, Batch(product(sku), 12, DAY), form=form, catalog_digest=catalog)
            for _ in range(3)
            for ledger, sku, form, catalog in (
                (one, "RV-1", lot_code.LotForm(), "a" * 64),
                (other, "BK-1", lot_code.LotForm(prefix="BK"), "b" * 64),
            )
        ]
        assert [lot.number for lot in made] == [1, 2, 3, 4, 5, 6]
        assert {lot.catalog_digest for lot in list_lots(one, sku="BK-1")} == {"b" * 64}


def test_an_unknown_code_is_answered_with_the_nearest_that_exist(
    ledger: Ledger, melon: Product
) -> None:
    for _ in range(3):
        assign(ledger, Batch(melon, 12, DAY))
    with pytest.raises(LabelerError) as error:
        find(ledger, "26329-001-4")
    assert str(error.value) == (
        "lot: there is a slip in this lot code; found '26329-001-4' [unknown-lot]\n"
        "    Nearest codes that exist: 263290013"
    )
    with pytest.raises(LabelerError) as error:
        find(ledger, "nonsense, really")
    assert error.value.findings[0].hint == ""


def test_lots_are_listed_by_product_and_by_day(
    ledger: Ledger, product: Callable[..., Product]
) -> None:
    for at, sku in enumerate(("RV-A", "RV-B", "RV-A")):
        assign(ledger, Batch(product(sku), 12, DAY + timedelta(days=at)))
    assert [lot.number for lot in list_lots(ledger, sku="RV-A")] == [1, 1]
    since = list_lots(ledger, since=DAY + timedelta(days=1))
    assert [lot.sku for lot in since] == ["RV-B", "RV-A"]
    assert [lot.sku for lot in list_lots(ledger, until=DAY)] == ["RV-A"]
    assert newest(ledger, "RV-C") is None


def test_materials_may_be_noted_later(ledger: Ledger, melon: Product) -> None:
    lot = assign(ledger, Batch(melon, 12, DAY, HOOKS[:1]))
    more = add_materials(ledger, lot.code, [*HOOKS, SupplierLot("Hook", "HK-2291")])
    assert more.materials == tuple(sorted(HOOKS))
    assert add_materials(ledger, lot.code, HOOKS) == more
    assert [entry.what for entry in entries(ledger)] == ["assign", "materials"]
    assert [story.lot for story in trace(ledger, "PB 77/3").stories] == [lot.code]


def test_a_suppliers_lot_is_read_from_one_word() -> None:
    assert SupplierLot.parse("Hook = HK 2291") == SupplierLot("hook", "HK 2291")
    for typed in ("hook", "hook=", "=HK"):
        with pytest.raises(LabelerError) as error:
            SupplierLot.parse(typed)
        assert rules(error) == ["material-lot"]


@pytest.fixture(scope="module")
def growing(new_folder: Callable[[], Path]) -> Iterator[Ledger]:
    with open_ledger(new_folder()) as opened:
        yield opened


@settings(max_examples=settings().max_examples // 2)
@given(
    st.lists(
        st.lists(st.dates(date(2027, 12, 28), date(2028, 1, 3)), min_size=1, max_size=6),
        max_size=4,
    )
)
def test_however_the_days_come_their_numbers_have_no_gap(
    growing: Ledger, melon: Product, calls: list[list[date]]
) -> None:
    for days in calls:
        made = assign_many(growing, [Batch(melon, 12, day) for day in days])
        assert [lot.made for lot in made] == days
    every = list_lots(growing)
    assert len({lot.code for lot in every}) == len(every)
    for day in {lot.made for lot in every}:
        numbers = [lot.number for lot in every if lot.made == day]
        assert numbers == list(range(1, len(numbers) + 1))
