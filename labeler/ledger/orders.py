"""Orders: what was asked for, what of it went out and is still open; and the invoices.

An order's number has seven digits, an invoice's eight, so that neither is taken for the other or
for a lot of nine: two of the year, a number that runs without a gap, and a check digit by ISO/IEC
7064:2003, MOD 11,10, as lot codes have it.
"""

from __future__ import annotations

import math
import re
from collections import defaultdict
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from datetime import date, datetime
from decimal import Decimal
from fractions import Fraction
from typing import Any, NoReturn

from sqlalchemy import Connection, Row, Table, func, or_, select

from labeler.codes import lot_code
from labeler.findings import Place, listed, refusal
from labeler.ledger.assign import Request, once
from labeler.ledger.documents import MONEY
from labeler.ledger.lots import a_line, fold, remember_names
from labeler.ledger.schema import (
    cancels,
    invoices,
    journal,
    lots,
    moves,
    order_readings,
    orders,
)
from labeler.ledger.ship import ALIKE_WITHIN, STANDS, LostNumber, Whom, lose
from labeler.ledger.store import Ledger, enter, put
from labeler.ledger.stored import TEXT, TEXTS, WHOLE, Shape, StoredKind, lacking, mapped
from labeler.ledger.stored import listed as in_a_list

_ORDER_FIGURES, _INVOICE_FIGURES = 4, 5
"""Of the running number; more are written where more are needed."""


@dataclass(frozen=True, slots=True)
class OrderedLine:
    """Packs of one SKU as they were agreed: ``pack`` units in each, ``price`` for one of them."""

    sku: str
    name: str
    packs: int
    pack: int
    price: Decimal | None


@dataclass(frozen=True, slots=True)
class Reading:
    """What an order says, as it was read.

    Attributes:
        tier: the name of the prices that were agreed.
        currency: by ISO 4217.
        excise: whether the federal excise tax is "within" the prices, comes "on top", or is
            nobody's matter: "".
        lines: what is ordered.
        reference: the buyer's own number of the order.
        dated: the day that the form states, as written there.
        ship_to: where it is to go, if the form says so.
        heads: what else stands on the form, by its label.
    """

    tier: str
    currency: str
    excise: str
    lines: tuple[OrderedLine, ...]
    reference: str = ""
    dated: str = ""
    ship_to: str = ""
    heads: dict[str, str] = field(default_factory=dict)

    @property
    def packs(self) -> dict[str, int]:
        """Packs by SKU."""
        return {line.sku: line.packs for line in self.lines}


READING = StoredKind(
    "an order",
    Shape(
        Reading,
        tier=TEXT, currency=TEXT, excise=TEXT, reference=TEXT, dated=TEXT, ship_to=TEXT,
        heads=mapped(TEXT),
        lines=in_a_list(
            Shape(OrderedLine, sku=TEXT, name=TEXT, packs=WHOLE, pack=WHOLE, price=lacking(MONEY))
        ),
    ),
    (),
    ("0.1.0",),
)  # fmt: skip


def to_the_cent(amount: Decimal | Fraction) -> Decimal:
    """Return an amount rounded to the cent, halves up."""
    cents = math.floor(Fraction(amount) * 100 + Fraction(1, 2))
    return (Decimal(cents) / 100).quantize(Decimal("0.01"))


@dataclass(frozen=True, slots=True)
class InvoiceLine:
    """Packs of one SKU that went out.

    ``about`` says what it is beside its name, ``lots`` which lots they came from.
    """

    sku: str
    name: str
    about: str
    packs: int
    price: Decimal
    lots: tuple[str, ...]

    @property
    def amount(self) -> Decimal:
        """What they cost together, to the cent, halves up."""
        return to_the_cent(self.price * self.packs)


@dataclass(frozen=True, slots=True)
class Charge:
    """What is added to the goods, such as a tax."""

    words: str
    amount: Decimal


@dataclass(frozen=True, slots=True)
class Invoice:
    """One parcel's invoice, every text as it stands on the paper.

    Attributes:
        number: its own and the parcel's.
        order: the order's.
        reference: the buyer's number of the order.
        day: in ISO 8601.
        seller: the maker's name, and the lines below it.
        dealer: who owes it.
        address: theirs, line by line.
        ship_to: where the parcel goes, if elsewhere.
        lines: the goods.
        charges: what is added.
        within: what is said of a tax that the prices hold.
        currency: by ISO 4217.
        payment: when and how it is to be paid.
        note: the maker's own line.
        parcel: what the packing slip says beside its lines.
    """

    number: str
    order: str
    reference: str
    day: str
    seller: tuple[str, ...]
    dealer: str
    address: tuple[str, ...]
    ship_to: tuple[str, ...]
    lines: tuple[InvoiceLine, ...]
    charges: tuple[Charge, ...]
    within: str
    currency: str
    payment: str
    note: str = ""
    parcel: str = ""

    @property
    def goods(self) -> Decimal:
        """What all lines come to."""
        return sum((line.amount for line in self.lines), start=Decimal("0.00"))

    @property
    def total(self) -> Decimal:
        """What is to be paid."""
        return sum((charge.amount for charge in self.charges), start=self.goods)


INVOICE = StoredKind(
    "an invoice",
    Shape(
        Invoice,
        number=TEXT, order=TEXT, reference=TEXT, day=TEXT, seller=TEXTS, dealer=TEXT,
        address=TEXTS,
        ship_to=TEXTS,
        lines=in_a_list(
            Shape(
                InvoiceLine,
                sku=TEXT, name=TEXT, about=TEXT, packs=WHOLE, price=MONEY, lots=TEXTS,
            )
        ),
        charges=in_a_list(Shape(Charge, words=TEXT, amount=MONEY)),
        within=TEXT, currency=TEXT, payment=TEXT, note=TEXT, parcel=TEXT,
    ),
    (),
    ("0.1.0",),
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class NewOrder:
    """An order that comes in: ``source`` is the SHA-256 of its file, empty where it was typed."""

    dealer: str
    whom: Whom
    taken: date
    reading: Reading
    source: str = ""


@dataclass(frozen=True, slots=True)
class KeptInvoice:
    """An invoice on record; ``shipped`` are the pieces by SKU, none once it was taken back."""

    invoice: Invoice
    slip: str
    shipped: dict[str, int]
    at: datetime

    @property
    def taken_back(self) -> bool:
        """Whether the parcel was a mistake."""
        return not self.shipped


@dataclass(frozen=True, slots=True)
class KeptOrder:
    """An order on record. ``readings`` is how often it was read, the first time included."""

    id: int
    number: str
    taken: date
    dealer: str
    whom: Whom
    at: datetime
    who: str
    reading: Reading
    readings: int
    cancelled: str | None
    invoices: tuple[KeptInvoice, ...]

    def shipped(self, line: OrderedLine) -> int:
        """Return how many packs of a line went out."""
        return sum(each.shipped.get(line.sku, 0) for each in self.invoices) // line.pack

    def left(self, line: OrderedLine) -> int:
        """Return how many packs of a line are still to go out; none of a cancelled order."""
        return 0 if self.cancelled is not None else max(0, line.packs - self.shipped(line))

    @property
    def open(self) -> int:
        """Packs that are still to go out."""
        return sum(map(self.left, self.reading.lines))

    @property
    def packs(self) -> int:
        """Packs that were ordered."""
        return sum(line.packs for line in self.reading.lines)

    @property
    def gone(self) -> int:
        """Packs that went out."""
        return sum(map(self.shipped, self.reading.lines))

    def value(self, packs: Callable[[OrderedLine], int]) -> Decimal:
        """Return what so many packs of each line come to, without taxes; of lines with a price."""
        return sum(
            (line.price * packs(line) for line in self.reading.lines if line.price is not None),
            start=Decimal("0.00"),
        )

    @property
    def state(self) -> str:
        """How far it has come, in a word or two."""
        if self.cancelled is not None:
            return "cancelled"
        if not self.open:
            return "shipped"
        return "part shipped" if self.gone else "open"


def keep_order(
    ledger: Ledger, new: NewOrder, *, key: str | None = None, instead: str = "", again: bool = False
) -> tuple[KeptOrder, str]:
    """Put an order on record; the same file is one order, however often it is read.

    Args:
        ledger: an open ledger.
        new: the order.
        key: names this request, so that making it twice gives the same order. Today's prices are
            no part of it: they are those of the first time.
        instead: the number of the order that this is the corrected reading of.
        again: whether it is another order though it looks like one that is on record.

    Returns:
        The order, and whether it is "new", was "known" or is "changed".

    Raises:
        LabelerError: if it looks like another order, or can't stand in the place of the one named.
    """
    dealer = a_line(new.dealer, new.whom)
    said = new.reading
    request = Request.of(
        "order", key, dealer=fold(dealer), whom=new.whom, packs=said.packs, tier=said.tier,
        reference=said.reference, ship_to=said.ship_to, heads=said.heads, instead=instead,
    )  # fmt: skip
    carried_out = False

    def attempt(connection: Connection) -> list[Any]:
        nonlocal carried_out
        carried_out = True
        if instead:
            return _put_in_place(connection, ledger, new, instead)
        if not again and (known := _known(connection, new)):
            return [known, "known"]
        number = next_number(connection, orders, new.taken)
        remember_names(connection, [dealer])
        order_id = put(connection, ledger, orders, number=number, taken=new.taken, dealer=dealer,
                       dealer_folded=fold(dealer), whom=new.whom)  # fmt: skip
        _add_reading(connection, ledger, order_id, new)
        enter(connection, ledger, "order", None, order=number, dealer=dealer,
              packs=sum(new.reading.packs.values()))  # fmt: skip
        return [order_id, "new"]

    order_id, state = once(ledger, request, attempt)
    kept = ledger.read(lambda connection: load(connection, [order_id])[0])
    return kept, state if carried_out else "known"


def _add_reading(connection: Connection, ledger: Ledger, order_id: int, new: NewOrder) -> None:
    put(connection, ledger, order_readings, order_id=order_id, source=new.source,
        document=READING.write(new.reading))  # fmt: skip


def _put_in_place(
    connection: Connection, ledger: Ledger, new: NewOrder, instead: str
) -> list[Any]:  # fmt: skip
    """Let a corrected reading of an order hold from now on; what went out stays as it is."""
    row = order_row(connection, instead, hold=True)
    order = load(connection, [row.id])[0]
    refuse_cancelled(order)
    if (fold(new.dealer), new.whom) != (fold(order.dealer), order.whom):
        raise refusal(
            "order-other-dealer", Place(key="instead"),
            "this order is another's, so nothing is put in its place",
            found=f"{new.dealer} ({new.whom})", expected=f"{order.dealer} ({order.whom})",
        )  # fmt: skip
    if order.reading == new.reading:
        return [row.id, "known"]
    wanted = new.reading.packs
    gone = {line.sku: order.shipped(line) for line in order.reading.lines}
    if less := [
        f"{sku} {wanted.get(sku, 0):,} of {count:,} shipped"
        for sku, count in gone.items()
        if wanted.get(sku, 0) < count
    ]:
        raise refusal(
            "order-shipped", Place(key=f"order {order.number}"),
            "more went out than the order would be for", found=listed(less),
            hint="Take the parcel back first if it never went: labeler ship --mistake SLIP",
        )  # fmt: skip
    _add_reading(connection, ledger, row.id, new)
    enter(connection, ledger, "order changed", None, order=order.number, dealer=order.dealer,
          change=listed(differences(order.reading, new.reading)))  # fmt: skip
    return [row.id, "changed"]


def differences(before: Reading, after: Reading) -> list[str]:
    """Return what another reading of an order changes, such as ``RM-14-30-SBR 24 instead of 12``.

    Each stands by itself: packs first, then prices and what else was agreed, then texts.
    """
    old, new = ({line.sku: line for line in each.lines} for each in (before, after))
    both = [(old[sku], line) for sku, line in new.items() if sku in old]
    packs = [(sku, f"{before.packs.get(sku, 0):,}", f"{after.packs.get(sku, 0):,}")
             for sku in dict.fromkeys((*old, *new))]  # fmt: skip
    bags = [(f"{line.sku} in packs of", str(was.pack), str(line.pack)) for was, line in both]
    prices = [(f"{line.sku} at", _price(was), _price(line)) for was, line in both]
    agreed = [
        ("prices", before.tier, after.tier),
        ("currency", before.currency, after.currency),
        ("excise tax", before.excise or "none", after.excise or "none"),
    ]
    texts = [
        ("their number", before.reference, after.reference),
        ("dated", before.dated, after.dated),
        ("to", *(" · ".join(each.ship_to.split("\n")) for each in (before, after))),
        *((label, before.heads.get(label, ""), after.heads.get(label, ""))
          for label in dict.fromkeys((*before.heads, *after.heads))),
    ]  # fmt: skip
    changed = [(what, was, now) for what, was, now in packs + bags + agreed + prices if was != now]
    said = [(what, repr(was) if was else "none", repr(now) if now else "none")
            for what, was, now in texts if was != now]  # fmt: skip
    return [f"{what} {now} instead of {was}" for what, was, now in changed + said]


def _price(line: OrderedLine) -> str:
    return "on request" if line.price is None else f"{line.price:,}"


def _known(connection: Connection, new: NewOrder) -> int | None:
    """Return the order on record that this one is, if it is one.

    Raises:
        LabelerError: if it may be one, or is one that was cancelled.
    """
    if new.source:
        query = select(order_readings.c.order_id).where(order_readings.c.source == new.source)
        of = connection.scalar(query.order_by(order_readings.c.id.desc()).limit(1))
        if of is not None:
            refuse_cancelled(load(connection, [of])[0])
            return int(of)
    mine_alone = orders.c.dealer_folded == fold(new.dealer), orders.c.whom == new.whom
    query = select(orders.c.id).where(*mine_alone)
    query = query.order_by(orders.c.id.desc()).limit(_LOOKED_AT)
    for order in reversed(load(connection, list(connection.scalars(query)))):
        if order.cancelled is not None:
            continue
        mine, theirs = new.reading, order.reading
        same_number = bool(mine.reference) and fold(mine.reference) == fold(theirs.reference)
        same_packs = mine.packs == theirs.packs
        if same_number and same_packs:
            return order.id
        other_number = mine.reference and theirs.reference and not same_number
        near = abs(new.taken - order.taken) <= ALIKE_WITHIN
        if same_number or (same_packs and near and not other_number):
            _ask(order, new)
    return None


_LOOKED_AT = 50
"""A dealer's newest orders: two years of them."""


def _ask(order: KeptOrder, new: NewOrder) -> NoReturn:
    changed = differences(order.reading, new.reading)
    instead = f"--instead {order.number} puts this in its place; --again keeps it as another order."
    if order.reading.packs == new.reading.packs:
        raise refusal(
            "order-known", Place(key=f"order {order.number}"),
            "just the same packs are on record: perhaps they were typed twice",
            found="; ".join((f"{order.dealer}, {order.taken}", *changed)),
            hint=instead if changed else "If it is so, nothing is left to do. If they ordered it "
            "once more, say --again.",
        )  # fmt: skip
    raise refusal(
        "order-corrected", Place(key=f"order {order.number}"),
        f"{order.dealer} ordered under this number before, but not the same",
        found=listed(changed), hint=instead,
    )  # fmt: skip


def cancel_order(ledger: Ledger, number: str, why: str) -> tuple[KeptOrder, bool]:
    """Let go of what is open of an order; what went out stays. Asked again, nothing is done again.

    Returns:
        The order, and whether it had been cancelled before.

    Raises:
        LabelerError: if there is no such order, or nothing of it is open.
    """
    reason = a_line(why, "why")

    def cancel(connection: Connection) -> list[Any]:
        row = order_row(connection, number, hold=True)
        order = load(connection, [row.id])[0]
        if order.cancelled is not None:
            return [row.id, True]
        if not order.open:
            raise refusal(
                "order-done", Place(key=f"order {order.number}"),
                "all of this order went out, so nothing of it can be cancelled",
                hint="A parcel that never went: labeler ship --mistake SLIP",
            )  # fmt: skip
        put(connection, ledger, cancels, order_id=row.id, why=reason)
        enter(connection, ledger, "order cancelled", None, order=order.number,
              dealer=order.dealer, packs=order.open, why=reason)  # fmt: skip
        return [row.id, False]

    order_id, before = once(ledger, Request.of("cancel", None, order=number), cancel)
    return ledger.read(lambda connection: load(connection, [order_id])[0]), before


def refuse_cancelled(order: KeptOrder) -> None:
    """Refuse what can't be done with an order that was cancelled.

    Raises:
        LabelerError: with the reason that was given then.
    """
    if order.cancelled is not None:
        raise refusal(
            "order-cancelled", Place(key=f"order {order.number}"), "this order was cancelled",
            found=order.cancelled, hint="Given once more with --again it is a new order.",
        )  # fmt: skip


def find_order(ledger: Ledger, number: str) -> KeptOrder:
    """Return an order by its number or an invoice's, spaces and dashes forgiven.

    Raises:
        LabelerError: if there is none; a slip in the number is told from one never given out.
    """
    return ledger.read(lambda connection: load(connection, [order_row(connection, number).id])[0])


def order_row(connection: Connection, text: str, *, hold: bool = False) -> Row[Any]:
    """Return an order's row, kept from other writers if ``hold``.

    Raises:
        LabelerError: as `find_order` does.
    """
    number = lot_code.tidy(text)
    billed = select(invoices.c.order_id).where(invoices.c.number == number)
    query = select(orders).where(or_(orders.c.number == number, orders.c.id.in_(billed)))
    row = connection.execute(query.with_for_update() if hold else query).first()
    if row is None:
        refuse_number(connection, text, "order", orders)
    return row


def refuse_number(connection: Connection, text: str, what: str, table: Table) -> NoReturn:
    """Say why a text is no number of an order or an invoice.

    Raises:
        LabelerError: always.
    """
    number = lot_code.tidy(text)
    if number.isdecimal() and not lot_code.is_valid(number):
        raise refusal(
            "order-number-check", Place(key=what),
            "the last digit does not fit the others: there is a slip in this number",
            found=repr(text), source="ISO/IEC 7064:2003",
        )  # fmt: skip
    newest = connection.scalar(select(table.c.number).order_by(table.c.id.desc()).limit(1))
    raise refusal(
        "order-none", Place(key=what), f"no {what} has this number", found=repr(text),
        hint=f"labeler orders --all shows every number. The last {what} is {newest}."
        if newest else NO_ORDER_YET,
    )  # fmt: skip


NO_ORDER_YET = "None is on record yet: labeler order FILE puts one on record."


def list_orders(ledger: Ledger, *, every: bool = False) -> list[KeptOrder]:
    """Return the orders of which something is still to go out, or every one; oldest first."""
    found = ledger.read(load)
    return found if every else [order for order in found if order.open]


def load(connection: Connection, numbers: Sequence[int] | None = None) -> list[KeptOrder]:
    """Return orders by their row, or all of them, oldest first."""
    newest = select(func.max(order_readings.c.id), func.count()).group_by(order_readings.c.order_id)
    if numbers is not None:
        newest = newest.where(order_readings.c.order_id.in_(numbers))
    counted = {int(last): int(count) for last, count in connection.execute(newest)}
    query = (
        select(orders, order_readings.c.id.label("reading"), order_readings.c.document,
               cancels.c.why)
        .join_from(orders, order_readings)
        .join(cancels, cancels.c.order_id == orders.c.id, isouter=True)
        .order_by(orders.c.id)
    )  # fmt: skip
    if numbers is not None:
        query = query.where(orders.c.id.in_(numbers))
    parcels = _parcels(connection, numbers)
    return [
        KeptOrder(
            row.id, row.number, row.taken, row.dealer, row.whom, row.at, row.who,
            READING.read(row.document, Place(key=f"order {row.number}")),
            counted[row.reading], row.why, tuple(parcels[row.id]),
        )
        for row in connection.execute(query)
        if row.reading in counted
    ]  # fmt: skip


def _parcels(
    connection: Connection, numbers: Sequence[int] | None
) -> defaultdict[int, list[KeptInvoice]]:
    """Return every order's invoices, with what of their parcels was not taken back."""
    went = (
        select(invoices.c.id, lots.c.sku, func.sum(moves.c.count))
        .join_from(invoices, moves, moves.c.slip == invoices.c.slip)
        .join(lots, lots.c.id == moves.c.lot_id)
        .where(STANDS)
        .group_by(invoices.c.id, lots.c.sku)
    )
    query = select(invoices).order_by(invoices.c.id)
    if numbers is not None:
        went = went.where(invoices.c.order_id.in_(numbers))
        query = query.where(invoices.c.order_id.in_(numbers))
    shipped: defaultdict[int, dict[str, int]] = defaultdict(dict)
    for of, sku, count in connection.execute(went):
        shipped[of][sku] = int(count)
    found: defaultdict[int, list[KeptInvoice]] = defaultdict(list)
    for row in connection.execute(query):
        place = Place(key=f"invoice {row.number}")
        found[row.order_id].append(
            KeptInvoice(INVOICE.read(row.document, place), row.slip, shipped[row.id], row.at)
        )
    return found


def next_number(connection: Connection, table: Table, day: date) -> str:
    """Return the next number of a year's orders or invoices, after all that were given out."""
    figures = _ORDER_FIGURES if table is orders else _INVOICE_FIGURES
    year, number = f"{day:%y}", table.c.number
    newest = select(number).where(number.startswith(year))
    highest = connection.scalar(newest.order_by(func.length(number).desc(), number.desc()).limit(1))
    lost = select(journal.c.detail).where(journal.c.what == f"{_KIND[table]} lost")
    given = [highest or "", *(detail["number"] for detail in connection.scalars(lost))]
    last = max(int(each[2:-1]) if each.startswith(year) else 0 for each in given)
    payload = f"{year}{last + 1:0{figures}d}"
    return payload + lot_code.check_character(payload, lot_code.DIGITS)


_KIND = {orders: "order", invoices: "invoice"}


def is_number(text: str) -> bool:
    """Tell whether a text has the shape of an order's or an invoice's number, and not a lot's."""
    return bool(re.fullmatch(rf"\d{{{_ORDER_LONG},{_INVOICE_LONG}}}", lot_code.tidy(text)))


_ORDER_LONG, _INVOICE_LONG = _ORDER_FIGURES + 3, _INVOICE_FIGURES + 3
"""Digits of a number, with those of the year and the check digit."""


def lose_numbers(ledger: Ledger, numbers: Sequence[str]) -> list[tuple[str, str, str]]:
    """Have numbers that were given out and lost never be given out again: all of them, or none.

    The year goes on numbering after the highest of them. Noting one twice changes nothing.

    Args:
        ledger: an open ledger.
        numbers: of orders and invoices, as `is_number` knows them.

    Returns:
        "order" or "invoice", the number as it is stored, and the one that comes next after all.

    Raises:
        LabelerError: with every number in which there is a slip, that is not lost, or too high.
    """
    tables = {_ORDER_LONG: orders, _INVOICE_LONG: invoices}

    def read(connection: Connection, text: str) -> LostNumber:
        number = lot_code.tidy(text)
        table, year = tables[len(number)], date(2000 + int(number[:2]), 1, 1)
        if not lot_code.is_valid(number):
            refuse_number(connection, text, _KIND[table], table)
        there = connection.scalar(select(table.c.id).where(table.c.number == number))
        return LostNumber(_KIND[table], f"{_KIND[table]} numbers", number, slice(2, -1),
                          there is not None,
                          lambda: next_number(connection, table, year))  # fmt: skip

    return lose(ledger, "numbers lost", numbers, read)


class NumberTakenError(Exception):
    """Another bench took the invoice's number while its paper was made."""


def keep_invoice(connection: Connection, ledger: Ledger, invoice: Invoice, order_id: int) -> None:
    """Put an invoice on record, in the transaction that ships its parcel, before the parcel.

    Raises:
        LabelerError: if the order was cancelled, or no longer has so much open.
        NumberTakenError: if its number went to another.
    """
    connection.execute(select(orders.c.id).where(orders.c.id == order_id).with_for_update())
    order = load(connection, [order_id])[0]
    refuse_cancelled(order)
    left = {line.sku: order.left(line) for line in order.reading.lines}
    if over := [line.sku for line in invoice.lines if line.packs > left.get(line.sku, 0)]:
        raise refusal(
            "order-over", Place(key=f"order {order.number}"),
            "less of it is open than this parcel holds", found=listed(over),
            hint=f"labeler orders {order.number} shows what is open.",
        )  # fmt: skip
    if invoice.number != next_number(connection, invoices, date.fromisoformat(invoice.day)):
        raise NumberTakenError
    put(connection, ledger, invoices, number=invoice.number, order_id=order_id,
        slip=invoice.number, document=INVOICE.write(invoice))  # fmt: skip
    enter(connection, ledger, "invoice", None, invoice=invoice.number, order=order.number,
          dealer=order.dealer, total=f"{invoice.currency} {invoice.total}")  # fmt: skip


def find_invoice(ledger: Ledger, text: str) -> tuple[KeptOrder, KeptInvoice]:
    """Return an invoice by its number, and the order that it is of.

    Raises:
        LabelerError: if there is none; a slip in the number is told from one never given out.
    """

    def look(connection: Connection) -> tuple[KeptOrder, KeptInvoice]:
        number = lot_code.tidy(text)
        of = connection.scalar(select(invoices.c.order_id).where(invoices.c.number == number))
        if of is None:
            refuse_number(connection, text, "invoice", invoices)
        order = load(connection, [of])[0]
        return order, next(each for each in order.invoices if each.invoice.number == number)

    return ledger.read(look)


def due_number(ledger: Ledger, day: date) -> str:
    """Return the number that the next invoice of this day would get."""
    return ledger.read(lambda connection: next_number(connection, invoices, day))
