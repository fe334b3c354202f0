"""Orders: put on record, looked at, cancelled; what to pull for them and what is to be tied."""

from __future__ import annotations

import hashlib
from collections.abc import Mapping, Sequence
from contextlib import AbstractContextManager
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import TYPE_CHECKING

from labeler.app.workstation import LedgerLocation, ledger_location
from labeler.findings import Finding, LabelerError, Place, listed, note, read_each, refusal
from labeler.ledger.lots import a_line, list_lots
from labeler.ledger.orders import (
    NO_ORDER_YET,
    KeptOrder,
    NewOrder,
    OrderedLine,
    Reading,
    cancel_order,
    differences,
    find_order,
    keep_order,
    list_orders,
)
from labeler.ledger.promises import Portion, serve
from labeler.ledger.ship import Whom
from labeler.ledger.store import Ledger
from labeler.ledger.trace import stories_of

if TYPE_CHECKING:
    from labeler.book.order import Filled, OnHand, Order
    from labeler.catalog.model import Catalog


@dataclass(frozen=True, slots=True)
class OrderRequest:
    """An order that came in: a filled form, or lines that were typed.

    Attributes:
        folder: the catalog.
        file: the form, a PDF or an XLSX workbook; None where ``lines`` are given.
        lines: SKUs or the words of products, with packs; what is no number of packs is told.
        heads: what else stands on a form whose lines are given, by the names of its fields.
        source: the SHA-256 of that form, by which it is known again.
        dealer: who orders, if not the one on the form.
        customer: who orders where it is no dealer.
        tier: the price tier, if not the dealer's.
        reference: the buyer's own number of the order.
        ship_to: where it goes, if the form or the catalog does not say.
        note: a line of the maker's own.
        instead: the number of the order on record that this corrects.
        again: whether it is another order though one on record looks like it.
        key: names the request.
    """

    folder: Path
    file: Path | None = None
    lines: tuple[tuple[str, int | str], ...] = ()
    heads: Mapping[str, str] = field(default_factory=dict)
    source: str = ""
    dealer: str = ""
    customer: str = ""
    tier: str = ""
    reference: str = ""
    ship_to: str = ""
    note: str = ""
    instead: str = ""
    again: bool = False
    key: str | None = None


@dataclass(frozen=True, slots=True)
class TakenOrder:
    """An order as it was read: ``kept`` once it is on record, ``state`` what became of it there.

    ``state`` is "new", "known" or "changed"; empty where it was only looked at.
    """

    order: Order
    currency: str
    kept: KeptOrder | None = None
    state: str = ""
    findings: tuple[Finding, ...] = ()


def look_at_order(request: OrderRequest, on_hand: OnHand | None = None) -> TakenOrder:
    """Return what an order comes to; nothing is put on record.

    Args:
        request: the order.
        on_hand: tells how many packs of a SKU lie ready; None asks the folder's ledger.

    Raises:
        LabelerError: if the catalog or the order is at fault, with everything that is.
    """
    from labeler.catalog.read import readable

    catalog, _ = readable(request.folder)
    said: list[Finding] = []
    filled = _filled(request, catalog, said)
    here = on_hand or stock_of(request.folder, catalog, _row_of(request))
    order = _judged(request, catalog, filled, here)
    if not (on_hand or ledger_location(request.folder).begun):
        order = replace(order, findings=(*order.findings, _NO_LEDGER))
    return TakenOrder(order, catalog.file.sale.currency, findings=tuple(said))


def _row_of(request: OrderRequest) -> int | None:
    """Return the row of the order that is corrected, which is not promised to anybody else."""
    if not request.instead:
        return None
    try:
        with ledger_of_orders(request.folder) as ledger:
            return find_order(ledger, request.instead).id
    except LabelerError:
        return None  # putting it on record tells what is wrong with the number


def keep_order_of(request: OrderRequest) -> TakenOrder:
    """Put an order on record. The same file is one order, however often it is given.

    Raises:
        LabelerError: if the catalog or the order is at fault; if nobody is named who orders; if
            the order looks like one on record.
    """
    from labeler.app.shipping import Recipient, dealer_named, nearest_dealers
    from labeler.book.order import Stock
    from labeler.catalog.read import readable

    catalog, _ = readable(request.folder)
    said: list[Finding] = []
    filled = _filled(request, catalog, said)
    order = _judged(request, catalog, filled, lambda sku: Stock(0))
    source = digest(request.file.read_bytes()) if request.file else request.source
    location = ledger_location(request.folder)
    whom: Whom = "customer" if order.customer else "dealer"
    if not order.dealer.strip():
        raise refusal(
            "order-nobody", Place(file=str(request.file or "")), "nothing says who orders",
            hint="Say it: --dealer NAME, or --customer NAME for a buyer of your own.",
        )  # fmt: skip
    name = a_line(order.dealer, whom)
    own = catalog.file.maker.country
    who = Recipient(name) if order.customer else dealer_named(catalog.file.dealers, name, own)
    if who.findings and not request.tier:
        raise refusal(
            "dealer-unlisted", Place(key="dealer"),
            "this dealer is not in the catalog, so nothing says which prices are theirs",
            found=name,
            hint=f"{nearest_dealers(catalog.file.dealers, name)} If it is a new dealer, state the "
            "prices with --tier NAME; for a buyer of your own say --customer NAME.",
        )  # fmt: skip
    said += who.findings
    with location.opened(begin=True) as ledger:
        new = NewOrder(who.name, whom, location.today(), _reading(order, catalog), source)
        kept, state = keep_order(
            ledger, new, key=request.key, instead=request.instead, again=request.again
        )
        if changed := differences(kept.reading, new.reading) if state == "known" else []:
            said.append(_says_otherwise(kept, changed))
        if no_lots := not list_lots(ledger):
            said.append(_NO_LEDGER)
    here = (lambda sku: Stock(0)) if no_lots else stock_of(request.folder, catalog, kept.id)
    judged = _judged(request, catalog, filled, here)
    return TakenOrder(judged, kept.reading.currency, kept, state, tuple(said))


def digest(form: bytes) -> str:
    """Return by what a form is known again."""
    return hashlib.sha256(form).hexdigest()


def _filled(request: OrderRequest, catalog: Catalog, said: list[Finding]) -> Filled:
    """Return what was filled in, or typed."""
    from labeler.book.order import Filled, TypedQuantity, count_faults, read_order
    from labeler.catalog.read import pieces, sku_by_name

    if request.file is not None:
        filled = read_order(request.file)
    else:
        lines, faults = list[TypedQuantity](), list[Finding]()
        single = {each.sku for each in catalog.products if each.pattern.pack == 1}
        for at, (text, packs) in enumerate(request.lines, 1):
            sku, place = text.strip().upper(), Place(key=f"line {at}")
            try:
                if sku not in catalog.retired:
                    sku = sku_by_name(text, (*catalog.products, *catalog.gone), said, strict=True)
            except LabelerError as error:
                faults += [replace(each, place=place) for each in error.findings]
            if isinstance(packs, str) and sku in single:  # of larger packs: pieces, or packs?
                packs = pieces(packs) or packs
            lines.append(TypedQuantity(sku, packs, place))
        if faults:
            raise LabelerError((*faults, *(each for line in lines for each in count_faults(line))))
        filled = Filled(dict(request.heads), lines)
    given = {"order": request.reference, "address": request.ship_to, "notes": request.note}
    filled.heads |= {key: text for key, text in given.items() if text}
    return filled


def _judged(request: OrderRequest, catalog: Catalog, filled: Filled, here: OnHand) -> Order:
    from labeler.book.order import judge

    asked = {"tier": request.tier, "dealer": request.dealer, "customer": request.customer}
    return judge(filled, catalog, here, **asked)


def _reading(order: Order, catalog: Catalog) -> Reading:
    from labeler.book.order import HEADS

    heads = {key: " ".join(text.split()) for key, text in order.heads.items()}
    lines = [line.strip() for line in order.heads.get(HEADS["address"], "").splitlines()]
    return Reading(
        order.tier.name, catalog.file.sale.currency,
        "on top" if order.tax_on_top else "within" if order.tax else "",
        tuple(
            OrderedLine(line.product.sku, line.product.name, line.packs,
                        line.product.pattern.pack, line.price)
            for line in order.lines
        ),
        heads.pop(HEADS["order"], ""), heads.pop(HEADS["day"], ""),
        "\n".join(line for line in lines if line),
        {key: text for key, text in heads.items() if key != HEADS["address"]},
    )  # fmt: skip


_NO_LEDGER = note(
    "order-no-ledger", Place(key="ready"),
    "no lot was opened in this folder, so nothing is known to lie ready and all of it is short",
    hint="labeler lot assign opens a lot for what is made.",
)  # fmt: skip


def _says_otherwise(kept: KeptOrder, changed: Sequence[str]) -> Finding:
    """Return what a known order is asked for now and was not put on record."""
    place, instead = Place(key=f"order {kept.number}"), f"--instead {kept.number}"
    if kept.readings > 1:
        return note(
            "order-corrected-since", place,
            "this order was corrected since, so what is given here no longer holds",
            found=listed(changed), hint=f"If this is to hold after all, say {instead}.",
        )  # fmt: skip
    return note(
        "order-kept-once", place,
        "this order is on record as it was given first, and what differs now is not put in",
        found=listed(changed), hint=f"If this is to hold from now on, say {instead}.",
    )  # fmt: skip


def stock_of(folder: Path, catalog: Catalog, before: int | None = None) -> OnHand:
    """Return what tells how many whole packs of a SKU lie ready, by the folder's ledger.

    What is promised to other open orders does not lie ready. A SKU without a lot has none, nor has
    one where there is no ledger.

    Args:
        folder: the catalog.
        catalog: the same, read; by it packs are counted.
        before: only orders that came in before the one of this row are served first.
    """
    from labeler.book.order import Stock

    packs = {product.sku: product.pattern.pack for product in catalog.products}
    with ledger_location(folder).opened_if_begun() as ledger:
        if ledger is None:
            return lambda sku: Stock(0)
        served = ledger.read(lambda connection: serve(connection, before=before))
    here, left = served.here, served.left

    def tell(sku: str) -> Stock:
        pack = packs.get(sku, 1)
        ready = left.packs(sku, pack)
        return Stock(ready, here.held[sku] // pack, here.packs(sku, pack) - ready)

    return tell


@dataclass(frozen=True, slots=True)
class ToLabel:
    """A lot of which fewer bags have a label than are to be pulled."""

    lot: str
    sku: str
    labels: int


@dataclass(frozen=True, slots=True)
class OrderStory:
    """Everything there is to know of an order: line by line what there is for it today."""

    order: KeptOrder
    portions: tuple[Portion, ...]
    to_label: tuple[ToLabel, ...]
    location: LedgerLocation

    @property
    def to_tie(self) -> list[Portion]:
        """The lines that are short."""
        return [each for each in self.portions if each.short]


def orders_of(folder: Path, *, every: bool = False) -> tuple[list[KeptOrder], LedgerLocation]:
    """Return the orders that are open, or every one, oldest first; none where no ledger is.

    Raises:
        LabelerError: if the ledger can't be read.
    """
    location = ledger_location(folder)
    with location.opened_if_begun() as ledger:
        return list_orders(ledger, every=every) if ledger else [], location


def ledger_of_orders(folder: Path) -> AbstractContextManager[Ledger]:
    """Return the folder's ledger, to look for an order that is named.

    Raises:
        LabelerError: if there is no ledger, so no order either.
    """
    location = ledger_location(folder)
    if not location.begun:
        raise refusal(
            "order-none", Place(key="order"), "no order has this number", hint=NO_ORDER_YET
        )
    return location.opened()


def stories_of_orders(folder: Path, numbers: Sequence[str] = ()) -> list[OrderStory]:
    """Return the stories of the orders named, or of all that are open, oldest first.

    Raises:
        LabelerError: with every number that is none.
    """
    location = ledger_location(folder)
    if not (numbers or location.begun):
        return []
    with ledger_of_orders(folder) as ledger:
        named = read_each(lambda number: find_order(ledger, number), numbers)
        wanted = {order.id: order for order in named or list_orders(ledger)}
        shares = ledger.read(lambda connection: serve(connection, wanted)).portions
        to_label = _to_label(ledger, shares)
        return [
            OrderStory(order, tuple(shares[of]), tuple(to_label[of]), location)
            for of, order in sorted(wanted.items())
        ]


def _to_label(
    ledger: Ledger, shares: Mapping[int, Sequence[Portion]]
) -> dict[int, list[ToLabel]]:  # fmt: skip
    """Return, for each order, the lots to pull of which not every bag here has its label."""
    pulled = {code for of in shares.values() for each in of for code, _ in each.lots}
    lots = [lot.id for lot in list_lots(ledger) if lot.code in pulled] if pulled else []
    stories = stories_of(ledger, lots)
    found: dict[int, list[ToLabel]] = {}
    for of, portions in shares.items():
        wanted = {code: (each.line, packs) for each in portions for code, packs in each.lots}
        found[of] = []
        for story in (each for each in stories if each.lot in wanted):
            line, packs = wanted[story.lot]
            bags = -(-story.count // line.pack)
            lacking = min(bags - story.labels, story.on_hand // line.pack, packs)
            if lacking > 0:
                found[of].append(ToLabel(story.lot, story.sku, lacking))
    return found


def cancel_order_of(folder: Path, number: str, why: str) -> tuple[KeptOrder, bool]:
    """Let go of what is open of an order; return it, and whether it had been cancelled before.

    Raises:
        LabelerError: if there is no such order, or nothing of it is open.
    """
    with ledger_of_orders(folder) as ledger:
        return cancel_order(ledger, number, why)
