"""Shipments, returns and what is on hand: never below nought, whatever two benches do at once."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from concurrent.futures import ThreadPoolExecutor
from datetime import date
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from labeler.catalog.model import Product
from labeler.findings import LabelerError
from labeler.ledger.assign import Batch, assign, hold, void
from labeler.ledger.backup import examine
from labeler.ledger.open import open_ledger
from labeler.ledger.ship import (
    Move,
    MoveKind,
    SlipTakenError,
    due_slip,
    from_lots,
    lose_slips,
    move,
    move_numbered,
    on_hand,
    refuse_twice,
    slip,
    slip_number,
    take_back,
)
from labeler.ledger.store import Ledger

DAY = date(2026, 11, 25)
HERON, OTTER = "Heron Point Outfitters", "Otter Bend Bait"


@pytest.fixture
def lot(ledger: Ledger, melon: Product) -> str:
    """A lot of 24."""
    return assign(ledger, Batch(melon, 24, DAY)).code


def rules(error: pytest.ExceptionInfo[LabelerError]) -> list[str]:
    return [finding.rule for finding in error.value.findings]


def test_what_is_shipped_is_no_longer_on_hand(ledger: Ledger, lot: str) -> None:
    (sent,) = move(ledger, [Move("ship", lot, 6, DAY, HERON, "by post")])
    assert (sent.lot, sent.kind, sent.count, sent.dealer, sent.note, sent.moved, sent.who) == (
        lot, "ship", 6, HERON, "by post", DAY, "ann",
    )  # fmt: skip
    assert on_hand(ledger, lot) == 18
    assert slip(ledger, sent.slip) == [sent]


def test_more_than_is_on_hand_cannot_go(ledger: Ledger, lot: str) -> None:
    move(ledger, [Move("ship", lot, 20, DAY, HERON)])
    with pytest.raises(LabelerError) as error:
        move(ledger, [Move("ship", lot, 5, DAY, OTTER)])
    (finding,) = error.value.findings
    assert (finding.rule, finding.found, finding.expected) == (
        "not-on-hand", "5 wanted", "at most 4",
    )  # fmt: skip
    assert on_hand(ledger, lot) == 4


def test_a_parcel_goes_whole_or_not_at_all(ledger: Ledger, melon: Product, lot: str) -> None:
    other = assign(ledger, Batch(melon, 2, DAY)).code
    parcel = [
        Move("ship", lot, 20, DAY, HERON),
        Move("ship", lot, 5, DAY, HERON),
        Move("ship", other, 3, DAY, HERON),
        Move("ship", other, 0, DAY, HERON),
    ]
    with pytest.raises(LabelerError) as error:
        move(ledger, parcel)
    assert rules(error) == ["not-on-hand", "not-on-hand", "move-count"]
    assert (on_hand(ledger, lot), on_hand(ledger, other)) == (24, 2)


def test_every_unknown_lot_of_a_parcel_is_named(ledger: Ledger, lot: str) -> None:
    with pytest.raises(LabelerError) as error:
        move(
            ledger, [Move("ship", lot[:-1] + "9", 1, DAY, HERON), Move("ship", "1", 1, DAY, OTTER)]
        )
    assert rules(error) == ["unknown-lot", "unknown-lot"]
    assert lot in error.value.findings[0].hint


def test_a_return_comes_back_on_hand(ledger: Ledger, lot: str) -> None:
    move(ledger, [Move("ship", lot, 6, DAY, HERON)])
    move(ledger, [Move("return", lot, 2, DAY, "heron point  OUTFITTERS")])
    assert on_hand(ledger, lot) == 20


def test_a_dealer_cannot_return_what_it_never_got(ledger: Ledger, lot: str) -> None:
    move(ledger, [Move("ship", lot, 6, DAY, HERON)])
    with pytest.raises(LabelerError) as error:
        move(ledger, [Move("return", lot, 1, DAY, OTTER), Move("return", lot, 7, DAY, HERON)])
    assert rules(error) == ["not-with-dealer", "not-with-dealer"]
    assert error.value.findings[1].expected == "at most 6"


def test_scrap_goes_and_extra_pieces_come(ledger: Ledger, lot: str) -> None:
    move(ledger, [Move("scrap", lot, 3, DAY, note="eyes off centre")])
    move(ledger, [Move("extra", lot, 1, DAY), Move("ship", lot, 22, DAY, HERON)])
    assert on_hand(ledger, lot) == 0


def test_the_same_key_ships_once(ledger: Ledger, lot: str) -> None:
    parcel = [Move("ship", lot, 20, DAY, HERON)]
    assert move(ledger, parcel, key="parcel 7") == move(ledger, parcel, key="parcel 7")
    assert on_hand(ledger, lot) == 4
    with pytest.raises(LabelerError) as error:
        move(ledger, [Move("ship", lot, 1, DAY, HERON)], key="parcel 7")
    assert rules(error) == ["key-used"]


def test_nothing_of_a_void_lot_goes_out(ledger: Ledger, lot: str) -> None:
    void(ledger, lot, "wrong colour")
    assert on_hand(ledger, lot) == 0
    with pytest.raises(LabelerError) as error:
        move(ledger, [Move("ship", lot, 1, DAY, HERON)])
    assert rules(error) == ["move-void"]


def test_a_lot_that_is_out_cannot_be_made_void(ledger: Ledger, lot: str) -> None:
    move(ledger, [Move("ship", lot, 6, DAY, HERON), Move("scrap", lot, 1, DAY)])
    with pytest.raises(LabelerError) as error:
        void(ledger, lot, "wrong colour")
    assert error.value.findings[0].found == "6 shipped and not returned"
    move(ledger, [Move("return", lot, 6, DAY, HERON)])
    assert void(ledger, lot, "wrong colour").void


def test_a_shipment_needs_a_dealer(ledger: Ledger, lot: str) -> None:
    with pytest.raises(LabelerError) as error:
        move(ledger, [Move("ship", lot, 6, DAY, "  ")])
    assert rules(error) == ["ledger-text"]


def test_two_benches_cannot_ship_the_same_piece(where: str, melon: Product) -> None:
    with open_ledger(where) as one, open_ledger(where) as other:
        lot = assign(one, Batch(melon, 10, DAY)).code

        def ship_one(at: int) -> str:
            try:
                move((one, other)[at % 2], [Move("ship", lot, 1, DAY, HERON)])
            except LabelerError as error:
                return error.findings[0].rule
            return "shipped"

        with ThreadPoolExecutor(4) as benches:
            said = list(benches.map(ship_one, range(16)))
        assert (said.count("shipped"), said.count("not-on-hand")) == (10, 6)
        assert on_hand(one, lot) == 0
        assert examine(one) == ()


def test_a_mistake_undoes_its_moves_and_no_others(ledger: Ledger, lot: str) -> None:
    move(ledger, [Move("ship", lot, 6, DAY, HERON)], key="a")
    move(ledger, [Move("ship", lot, 2, DAY, HERON, whom="customer"), Move("scrap", lot, 1, DAY)],
         key="b")  # fmt: skip
    undone = take_back(ledger, "b", "never packed")
    assert [(each.kind, each.count) for each in undone] == [("ship", 2), ("scrap", 1)]
    assert take_back(ledger, "b") == undone
    assert on_hand(ledger, lot) == 18
    with pytest.raises(LabelerError) as error:
        move(ledger, [Move("return", lot, 7, DAY, HERON)])
    assert rules(error) == ["not-with-dealer"]
    assert from_lots(ledger, [("RV-38-40-MLN", 18)], "c") == [(lot, 18)]
    hold(ledger, lot, "hooks break")
    for wanted, refusal in (
        (lambda: from_lots(ledger, [("RV-38-40-MLN", 1)], "c"), "not-on-hand"),
        (lambda: move(ledger, [Move("ship", lot, 1, DAY, HERON)]), "move-held"),
    ):
        with pytest.raises(LabelerError) as error:
            wanted()
        assert rules(error) == [refusal]
    move(ledger, [Move("ship", lot, 1, DAY, HERON)], even_so=True)
    assert examine(ledger) == ()


def test_slips_are_numbered_by_year_and_no_number_comes_twice(ledger: Ledger, lot: str) -> None:
    def send(day: date, count: int = 1) -> str:
        number = due_slip(ledger, day)
        (sent,) = move_numbered(ledger, [Move("ship", lot, count, day, HERON)], number)
        assert sent.slip == number
        return slip_number(sent.slip)

    made_up = "3f2a9c01" + 24 * "0"
    move(ledger, [Move("ship", lot, 1, DAY, HERON)], key=made_up)
    move(ledger, [Move("ship", lot, 1, DAY, HERON)], key="2026-11")
    assert [send(DAY), send(DAY), send(date(2027, 1, 2))] == ["2026-0001", "2026-0002", "2027-0001"]
    take_back(ledger, "2026 2")
    assert send(DAY) == "2026-0003", "what was taken back keeps its number"
    assert slip_number(made_up) == "3F2A9C01", "a parcel of older days keeps its own"
    assert [each.count for each in take_back(ledger, "3f2a9c01")] == [1]
    assert lose_slips(ledger, ["2026-0007", "2025-1"]) == [
        ("slip", "2026-0007", "2026-0008"), ("slip", "2025-0001", "2025-0002"),
    ]  # fmt: skip
    for text, rule in (("2026-0001", "lost-known"), ("2026-9999", "lost-number")):
        with pytest.raises(LabelerError) as error:
            lose_slips(ledger, [text])
        assert rules(error) == [rule]
    assert send(DAY) == "2026-0008"
    with pytest.raises(SlipTakenError):
        move_numbered(ledger, [Move("ship", lot, 1, DAY, HERON)], "2026-0008")
    with pytest.raises(SlipTakenError):
        move_numbered(ledger, [Move("ship", lot, 2, DAY, OTTER)], "2026-0008")
    assert examine(ledger) == ()


def test_two_benches_ship_at_once_under_numbers_of_their_own(where: str, melon: Product) -> None:
    with open_ledger(where) as one, open_ledger(where) as other:
        lot = assign(one, Batch(melon, 24, DAY)).code

        def send(at: int) -> str:
            bench = (one, other)[at % 2]
            while True:
                try:
                    number = due_slip(bench, DAY)
                    move_numbered(bench, [Move("ship", lot, 1, DAY, HERON)], number)
                except SlipTakenError:
                    continue
                return number

        with ThreadPoolExecutor(4) as benches:
            numbers = list(benches.map(send, range(12)))
        assert sorted(numbers) == [f"2026-{each:04d}" for each in range(1, 13)]
        assert on_hand(one, lot) == 12


def test_a_parcel_is_asked_about_within_a_week_alone(ledger: Ledger, lot: str) -> None:
    for day, twice in ((1, False), (8, True), (9, False), (2, True)):
        asked = Move("ship", lot, 1, DAY.replace(day=day), HERON)
        if not twice:
            refuse_twice(ledger, asked, [(lot, 1)])
            move(ledger, [asked])
            continue
        with pytest.raises(LabelerError) as error:
            refuse_twice(ledger, asked, [(lot, 1)])
        assert rules(error) == ["move-twice"]


KINDS: list[MoveKind] = ["ship", "return", "scrap", "extra"]


@pytest.fixture(scope="module")
def book(new_folder: Callable[[], Path]) -> Iterator[Ledger]:
    with open_ledger(new_folder()) as opened:
        yield opened


@settings(max_examples=settings().max_examples // 2)
@given(
    st.lists(
        st.tuples(st.sampled_from(KINDS), st.integers(1, 9), st.sampled_from([HERON, OTTER])),
        max_size=12,
    )
)
def test_the_count_is_what_came_less_what_went(
    book: Ledger, melon: Product, wanted: list[tuple[MoveKind, int, str]]
) -> None:
    lot = assign(book, Batch(melon, 12, DAY)).code
    here, there = 12, {HERON: 0, OTTER: 0}
    for kind, count, dealer in wanted:
        change = count if kind in ("return", "extra") else -count
        possible = count <= there[dealer] if kind == "return" else here + change >= 0
        if possible:
            move(book, [Move(kind, lot, count, DAY, dealer)])
            here += change
            there[dealer] -= change if kind in ("ship", "return") else 0
        else:
            with pytest.raises(LabelerError):
                move(book, [Move(kind, lot, count, DAY, dealer)])
        assert on_hand(book, lot) == here
    assert examine(book) == ()
