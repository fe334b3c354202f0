"""Orders on record: one file is one order, who came first is served first, nothing is lost."""

from __future__ import annotations

import os
import signal
from collections.abc import Callable
from dataclasses import replace
from datetime import date
from decimal import Decimal
from itertools import count
from pathlib import Path
from typing import Any

import pytest
from sqlalchemy import Engine, event, select, update
from sqlalchemy.exc import DBAPIError
from stdnum.iso7064 import mod_11_10

from labeler.catalog.model import Product
from labeler.findings import LabelerError
from labeler.ledger.assign import Batch, assign, hold
from labeler.ledger.backup import examine
from labeler.ledger.open import open_ledger
from labeler.ledger.orders import (
    Invoice,
    InvoiceLine,
    KeptOrder,
    NewOrder,
    OrderedLine,
    Reading,
    cancel_order,
    due_number,
    find_order,
    keep_invoice,
    keep_order,
    list_orders,
)
from labeler.ledger.promises import promised, serve
from labeler.ledger.schema import orders
from labeler.ledger.ship import Move, Moved, move, on_hand, take_back
from labeler.ledger.store import Ledger, entries

DAY = date(2026, 11, 25)


def ordered(
    sku: str = "RV-38-40-MLN", packs: int = 12, *, dealer: str = "The Odd Pail",
    reference: str = "", source: str = "", pack: int = 1, taken: date = DAY,
) -> NewOrder:  # fmt: skip
    line = OrderedLine(sku, "Reed Vole, Melon Rind", packs, pack, Decimal("3.10"))
    reading = Reading("Dealer", "USD", "within", (line,), reference)
    return NewOrder(dealer, "dealer", taken, reading, source)


def rule_of(error: pytest.ExceptionInfo[LabelerError]) -> str:
    (finding,) = error.value.findings
    return finding.rule


def test_numbers_run_without_a_gap_and_carry_a_check_digit(ledger: Ledger) -> None:
    """The check digit is python-stdnum's, ISO/IEC 7064 MOD 11,10."""
    kept = [keep_order(ledger, ordered(packs=n))[0] for n in range(1, 12)]
    kept.append(keep_order(ledger, ordered(taken=date(2027, 1, 2)))[0])
    assert [each.number[:-1] for each in kept] == [*(f"26{n:04d}" for n in range(1, 12)), "270001"]
    assert all(mod_11_10.is_valid(each.number) for each in kept)
    with pytest.raises(LabelerError) as error:
        find_order(ledger, kept[0].number[:-1] + str((int(kept[0].number[-1]) + 1) % 10))
    assert rule_of(error) == "order-number-check"
    with pytest.raises(LabelerError) as error:
        find_order(ledger, mod_11_10.calc_check_digit("269999").join(("269999", "")))
    assert rule_of(error) == "order-none"
    assert find_order(ledger, f" {kept[3].number[:4]}-{kept[3].number[4:]} ") == kept[3]


def test_the_same_file_is_one_order(ledger: Ledger) -> None:
    first, state = keep_order(ledger, ordered(source="a" * 64, reference="PO 7"))
    assert state == "new"
    again, state = keep_order(ledger, ordered(source="a" * 64, reference="PO 7"))
    assert (again, state) == (first, "known")
    saved_anew, state = keep_order(ledger, ordered(source="b" * 64, reference="po-7"))
    assert (saved_anew, state) == (first, "known")
    assert list_orders(ledger) == [first]


def test_a_corrected_order_is_asked_about_and_then_holds(ledger: Ledger) -> None:
    first, _ = keep_order(ledger, ordered(source="a" * 64, reference="PO 7"))
    corrected = ordered(source="b" * 64, reference="PO 7", packs=18)
    with pytest.raises(LabelerError) as error:
        keep_order(ledger, corrected)
    assert rule_of(error) == "order-corrected"
    assert error.value.findings[0].found == "RV-38-40-MLN 18 instead of 12"
    changed, state = keep_order(ledger, corrected, instead=first.number)
    assert (changed.number, changed.packs, changed.readings, state) == (
        first.number, 18, 2, "changed",
    )  # fmt: skip
    assert keep_order(ledger, corrected, instead=first.number) == (changed, "known")
    old, state = keep_order(ledger, ordered(source="a" * 64, reference="PO 7"))
    assert (old, state) == (changed, "known")
    other, state = keep_order(ledger, replace(corrected, source="c" * 64), again=True)
    assert (state, other.packs) == ("new", 18)
    with pytest.raises(LabelerError) as error:
        keep_order(ledger, ordered(dealer="Landing"), instead=first.number)
    assert rule_of(error) == "order-other-dealer"


def test_what_is_typed_twice_within_a_week_is_asked_about(ledger: Ledger) -> None:
    first, _ = keep_order(ledger, ordered())
    with pytest.raises(LabelerError) as error:
        keep_order(ledger, ordered(dealer="the odd pail"))
    assert rule_of(error) == "order-known"
    keep_order(ledger, ordered(), again=True)
    keep_order(ledger, ordered(reference="PO 8"), key="call of noon", again=True)
    keep_order(ledger, ordered(taken=date(2026, 12, 9)))
    assert len(list_orders(ledger)) == 4
    known = keep_order(ledger, ordered(reference="PO 8"), key="call of noon", again=True)
    assert known[0].number != first.number
    assert len(list_orders(ledger)) == 4


def test_a_key_used_again_is_the_same_order_or_refused(ledger: Ledger) -> None:
    new = ordered()
    first, state = keep_order(ledger, new, key="noon")
    dearer = replace(new.reading.lines[0], price=Decimal("3.30"))
    today = replace(new, reading=replace(new.reading, lines=(dearer,)))
    assert (state, keep_order(ledger, today, key="noon")) == ("new", (first, "known"))
    for other in (
        {"tier": "Gold"}, {"ship_to": "12 Elm Street"}, {"heads": {"Notes": "ring first"}},
        {"lines": (replace(dearer, packs=13),)},
    ):  # fmt: skip
        with pytest.raises(LabelerError) as error:
            keep_order(ledger, replace(new, reading=replace(new.reading, **other)), key="noon")
        assert rule_of(error) == "key-used"
    assert list_orders(ledger) == [first]


def test_a_customer_is_no_dealer_of_the_same_name(ledger: Ledger) -> None:
    first, _ = keep_order(ledger, ordered(dealer="Ada", reference="7"))
    customer = replace(ordered(dealer="Ada", reference="7"), whom="customer")
    other, state = keep_order(ledger, customer)
    assert (state, other.id == first.id) == ("new", False)
    with pytest.raises(LabelerError) as error:
        keep_order(ledger, customer, instead=first.number)
    assert rule_of(error) == "order-other-dealer"
    assert "customer" in str(error.value.findings[0].found)


def test_the_journal_says_what_a_correction_changes(ledger: Ledger) -> None:
    new = ordered()
    first, _ = keep_order(ledger, new)
    cheaper = replace(new.reading.lines[0], price=Decimal("2.80"))
    other = replace(new.reading, tier="Gold", ship_to="12 Elm Street", lines=(cheaper,))
    with pytest.raises(LabelerError) as error:
        keep_order(ledger, replace(new, reading=other))
    assert (rule_of(error), "--instead" in str(error.value.findings[0].hint)) == (
        "order-known", True,
    )  # fmt: skip
    keep_order(ledger, replace(new, reading=other), instead=first.number)
    assert entries(ledger)[-1].detail["change"] == (
        "prices Gold instead of Dealer, RV-38-40-MLN at 2.80 instead of 3.10, "
        "to '12 Elm Street' instead of none"
    )


def test_a_cancelled_order_is_open_no_more(ledger: Ledger) -> None:
    first, _ = keep_order(ledger, ordered(source="a" * 64))
    gone, before = cancel_order(ledger, first.number, "the shop closed")
    assert (gone.cancelled, gone.open, before) == ("the shop closed", 0, False)
    assert cancel_order(ledger, first.number, "never mind") == (gone, True)
    assert list_orders(ledger) == []
    with pytest.raises(LabelerError) as error:
        keep_order(ledger, ordered(source="a" * 64))
    assert rule_of(error) == "order-cancelled"
    new, state = keep_order(ledger, ordered(source="a" * 64), again=True)
    assert (state, new.open) == ("new", 12)
    told = [(entry.what, entry.detail["order"]) for entry in entries(ledger)]
    assert told == [
        ("order", first.number), ("order cancelled", first.number), ("order", new.number),
    ]  # fmt: skip


def test_who_came_first_is_served_first_from_the_oldest_lots(
    ledger: Ledger, product: Callable[..., Product]
) -> None:
    pair = product("TD-116-6-INK")
    codes = [
        assign(ledger, Batch(pair, count, day)).code
        for count, day in ((7, date(2026, 11, 3)), (9, date(2026, 11, 2)), (50, DAY))
    ]
    hold(ledger, codes[2], "hooks")
    sku = pair.sku
    one, two = (
        keep_order(ledger, ordered(sku, packs, pack=2, dealer=dealer))[0]
        for packs, dealer in ((5, "Landing"), (4, "The Odd Pail"))
    )
    both = ledger.read(lambda connection: serve(connection, [one.id, two.id])).portions
    # nine jigs of the older lot are four whole bags of two, seven of the younger three
    assert both[one.id][0].lots == ((codes[1], 4), (codes[0], 1))
    assert both[two.id][0].lots == ((codes[0], 2),)
    short = both[two.id][0]
    assert (short.left, short.ready, short.short, short.promised, short.held) == (4, 2, 2, 5, 25)
    alone = ledger.read(lambda connection: serve(connection, [two.id])).portions
    assert alone[two.id][0].lots == ((codes[1], 2),)  # its share, from the oldest on the shelf
    ahead = ledger.read(lambda connection: serve(connection, [two.id], first=True)).portions
    assert ahead[two.id][0].lots == ((codes[1], 4),)
    assert ledger.read(promised) == {sku: 18}


def test_what_is_on_record_can_not_be_changed(ledger: Ledger) -> None:
    keep_order(ledger, ordered())
    with pytest.raises(DBAPIError), ledger.engine.begin() as connection:
        connection.execute(update(orders).values(dealer="Somebody Else"))
    assert ledger.read(lambda connection: connection.scalar(select(orders.c.dealer)))
    assert examine(ledger) == ()


def ship(ledger: Ledger, order: KeptOrder, lot: str, packs: int) -> list[Moved]:
    """Ship packs of the order's one line, and bill them."""
    (line,) = order.reading.lines
    number = due_number(ledger, DAY)
    assert line.price is not None
    bill = Invoice(
        number, order.number, "", DAY.isoformat(), ("Alder Slough",), order.dealer, (), (),
        (InvoiceLine(line.sku, line.name, "", packs, line.price, (lot,)),), (), "", "USD", "",
    )  # fmt: skip
    return move(
        ledger, [Move("ship", lot, packs * line.pack, DAY, order.dealer)], key=number,
        along=lambda connection: keep_invoice(connection, ledger, bill, order.id),
    )  # fmt: skip


def test_a_parcel_and_its_invoice_are_one(ledger: Ledger, melon: Product) -> None:
    lot = assign(ledger, Batch(melon, 30, DAY)).code
    order, _ = keep_order(ledger, ordered(melon.sku, 20))
    first = ship(ledger, order, lot, 15)
    with pytest.raises(LabelerError) as error:
        ship(ledger, order, lot, 6)
    assert rule_of(error) == "order-over"
    with pytest.raises(LabelerError) as error:
        keep_order(ledger, ordered(melon.sku, 14), instead=order.number)
    assert rule_of(error) == "order-shipped"
    assert on_hand(ledger, lot) == 15
    second = ship(ledger, order, lot, 5)
    done = find_order(ledger, order.number)
    assert (done.state, done.gone, [each.slip[:-1] for each in (*first, *second)]) == (
        "shipped", 20, ["2600001", "2600002"],
    )  # fmt: skip
    take_back(ledger, first[0].slip)
    open_again = find_order(ledger, order.number)
    assert (open_again.state, open_again.open) == ("part shipped", 15)
    assert [each.taken_back for each in open_again.invoices] == [True, False]
    assert ship(ledger, order, lot, 15)[0].slip[:-1] == "2600003"
    assert examine(ledger) == ()


@pytest.mark.siege
def test_killed_at_any_statement_it_is_done_whole_or_not_at_all(
    folder: Path, melon: Product
) -> None:
    with open_ledger(folder) as ledger:
        lot = assign(ledger, Batch(melon, 12, DAY)).code

    def order(ledger: Ledger) -> None:
        keep_order(ledger, ordered(melon.sku, 6))

    def parcel(ledger: Ledger) -> None:
        ship(ledger, list_orders(ledger)[0], lot, 6)

    def seen() -> tuple[int, int, int]:
        with open_ledger(folder) as ledger:
            assert examine(ledger) == ()
            known = list_orders(ledger, every=True)
            billed = sum(len(each.invoices) for each in known)
            return len(known), billed, on_hand(ledger, lot)

    for work, before, after in ((order, (0, 0, 12), (1, 0, 12)), (parcel, (1, 0, 12), (1, 1, 6))):
        killed = 0
        for at in count(1):
            acknowledged = not killed_at(at, folder, work)
            found = seen()
            assert found in (before, after)
            if acknowledged or found == after:
                assert found == after
                break
            killed += 1
        assert killed > 8, "it was killed within its transaction"


def killed_at(at: int, folder: Path, work: Callable[[Ledger], None]) -> bool:
    """Carry work out in a process that is killed before its statement ``at``; tell whether it was.

    A commit counts as one.
    """
    if process := os.fork():
        _, status = os.waitpid(process, 0)
        assert os.waitstatus_to_exitcode(status) in (0, -signal.SIGKILL)
        return status != 0
    try:
        with open_ledger(folder) as ledger:
            numbers = count(1)

            def die(*_: Any) -> None:
                if next(numbers) == at:
                    os.kill(os.getpid(), signal.SIGKILL)

            event.listen(Engine, "before_cursor_execute", die)
            event.listen(Engine, "commit", die)
            work(ledger)
    except BaseException:
        os._exit(1)
    os._exit(0)
