"""Shipping what an order asks for: the parcel, its slip, its invoice and its address label."""

from __future__ import annotations

import datetime as dt
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from decimal import Decimal
from fractions import Fraction
from pathlib import Path

from labeler.app.order_papers import LabelPaper, lay_address_label, lay_invoice
from labeler.app.orders import ledger_of_orders
from labeler.app.papers import LaidPaper, PackingSlip, deliver_papers, lay_packing_slip
from labeler.app.shipping import TRIES, address_of, odd_day
from labeler.app.workstation import ledger_location
from labeler.book.edition import EXCISE, excise_on_top, excise_within, find_named, percent
from labeler.catalog.model import Catalog
from labeler.catalog.read import readable
from labeler.files import refuse_one_name, refuse_to_bury
from labeler.findings import (
    Finding,
    Grade,
    LabelerError,
    Place,
    listed,
    note,
    read_each,
    refusal,
    stop,
)
from labeler.layout.facts import amount_text, maker_facts, named_facts
from labeler.ledger.lots import Lot, find, fold, snapshot_of
from labeler.ledger.orders import (
    Charge,
    Invoice,
    InvoiceLine,
    KeptOrder,
    NumberTakenError,
    due_number,
    find_invoice,
    find_order,
    keep_invoice,
    refuse_cancelled,
    to_the_cent,
)
from labeler.ledger.promises import Portion, serve
from labeler.ledger.ship import Move, Moved, move, on_hand, slip
from labeler.ledger.store import Ledger
from labeler.units import NO_BREAK_SPACE, print_decimal


@dataclass(frozen=True, slots=True)
class ParcelPapers:
    """The papers that go with a parcel: each a PDF to write, or None.

    ``size`` is letter or a4, the maker's country's if empty; ``label`` what the address is
    printed on.
    """

    slip: Path | None = None
    invoice: Path | None = None
    address: Path | None = None
    size: str = ""
    label: LabelPaper = field(default_factory=LabelPaper)

    @property
    def files(self) -> list[Path]:
        """The files to write."""
        return [each for each in (self.slip, self.invoice, self.address) if each is not None]


@dataclass(frozen=True, slots=True)
class OrderParcel:
    """What goes out for an order: all that is ready, or the lots that are named.

    Attributes:
        folder: the catalog.
        number: the order's.
        lots: lot codes with their jigs; none means what is ready, from the oldest lots.
        on: the day; None is today, at the bench.
        note: a line for the slip.
        papers: what to write.
        even_so: ship on a day that lies ahead or before a lot was made.
        ahead: ship what is promised to orders that came first, where no lots are named.
        parcels: how many of the order were on record when this was asked for, those taken back
            too: where another went since, nothing is shipped. None asks nothing.
    """

    folder: Path
    number: str
    lots: tuple[tuple[str, int], ...] = ()
    on: dt.date | None = None
    note: str = ""
    papers: ParcelPapers = field(default_factory=ParcelPapers)
    even_so: bool = False
    ahead: bool = False
    parcels: int | None = None


@dataclass(frozen=True, slots=True)
class OrderShipped:
    """A parcel that went out for an order: the order as it stands now, and what was billed."""

    order: KeptOrder
    invoice: Invoice
    moves: tuple[Moved, ...]
    left: dict[str, int]
    files: tuple[Path, ...]
    findings: tuple[Finding, ...]


@dataclass(frozen=True, slots=True)
class _Billed:
    """One lot of a parcel: how many jigs of it go out for which line of the order."""

    lot: Lot
    portion: Portion
    jigs: int


def ship_order(request: OrderParcel) -> OrderShipped:
    """Ship what there is of an order, leave the rest open, and write slip, invoice and label.

    The papers are on the disk before the parcel is recorded and get their names only after. Given
    again it ships what has come in since, and refuses where that is nothing.

    Raises:
        LabelerError: with everything that stands in the way: nothing ready, a line without a
            price, a held lot, more than is open, an odd day.
    """
    papers = request.papers
    for file in papers.files:
        refuse_to_bury(file)
    refuse_one_name(*papers.files)
    catalog, _ = readable(request.folder)
    location = ledger_location(request.folder)
    today = location.today()
    day = request.on or today
    with ledger_of_orders(request.folder) as ledger:
        for last in range(TRIES, 0, -1):
            order = find_order(ledger, request.number)
            refuse_cancelled(order)
            if request.parcels not in (None, len(order.invoices)):
                raise refusal(
                    "order-went-on", Place(key=f"order {order.number}"),
                    "a parcel of this order went since this was asked for, so this one did not",
                    hint=f"labeler orders {order.number} shows what is open now.",
                )  # fmt: skip
            goods = _goods(ledger, order, request)
            ahead = _is_ahead(ledger, order, goods)
            odd = list(odd_day(day, [each.lot for each in goods], today, request.even_so))
            if any(each.grade is Grade.STOP for each in odd):
                raise LabelerError(odd)
            number = due_number(ledger, day)
            invoice = _invoice(ledger, catalog, order, goods, (number, day), request.note)
            moves = [
                Move("ship", each.lot.code, each.jigs, day, order.dealer, request.note, order.whom)
                for each in goods
            ]
            laid = _lay(request.folder, catalog, ledger, invoice, moves, papers)
            try:
                moved = _carry_out(ledger, order, invoice, moves, laid)
                break
            except NumberTakenError:
                if last == 1:
                    raise refusal(
                        "order-busy", Place(key=f"order {order.number}"),
                        "another bench is shipping at this moment", hint="Give it once more.",
                    ) from None  # fmt: skip
        left = {each.lot: on_hand(ledger, each.lot) for each in moved}
        order = find_order(ledger, request.number)
    said = (*odd, *_remarks(catalog, order, ahead=ahead))
    return OrderShipped(order, invoice, tuple(moved), left, tuple(papers.files), said)


def _carry_out(
    ledger: Ledger, order: KeptOrder, invoice: Invoice, moves: Sequence[Move],
    laid: Sequence[LaidPaper],
) -> list[Moved]:  # fmt: skip
    """Record parcel and invoice as one; the papers get their names once that is done.

    Raises:
        NumberTakenError: if another parcel took the number meanwhile.
    """
    moved: list[Moved] = []

    def carry_out() -> None:
        try:
            moved.extend(
                move(
                    ledger, moves, key=invoice.number,
                    along=lambda connection: keep_invoice(connection, ledger, invoice, order.id),
                )
            )  # fmt: skip
        except LabelerError as error:
            if {each.rule for each in error.findings} == {"key-used"}:
                raise NumberTakenError from error
            raise

    deliver_papers(laid, carry_out)
    return moved


def _goods(ledger: Ledger, order: KeptOrder, request: OrderParcel) -> list[_Billed]:
    """Return the lots that go out.

    Raises:
        LabelerError: if nothing can, or a lot that is named has nothing to do with the order.
    """
    shares = ledger.read(
        lambda connection: serve(connection, [order.id], first=request.ahead)
    ).portions[order.id]  # fmt: skip
    if request.lots:
        goods = _named_lots(ledger, order, shares, request.lots)
    else:
        goods = [
            _Billed(find(ledger, code), each, packs * each.line.pack)
            for each in shares
            for code, packs in each.lots
        ]
    if not goods:
        raise _nothing(order, shares)
    if bare := dict.fromkeys(
        each.portion.line.sku for each in goods if each.portion.line.price is None
    ):
        raise refusal(
            "order-no-price", Place(key=f"order {order.number}"),
            "no price was agreed, so there is nothing to bill", found=listed(list(bare)),
            hint="Put the price into the catalog and give the order again with "
            f"--instead {order.number}.",
        )  # fmt: skip
    return goods


def _nothing(order: KeptOrder, shares: Sequence[Portion]) -> LabelerError:
    """Say why nothing of an order can go out."""
    place = Place(key=f"order {order.number}")
    gone = [each for each in order.invoices if not each.taken_back]
    last = ""
    if gone:
        latest = gone[-1].invoice
        last = (
            f"Its last parcel went on {latest.day}; its papers again: labeler orders "
            f"{latest.number} --slip slip.pdf --invoice invoice.pdf"
        )
    if not order.open:
        return refusal("order-nothing", place, "all of this order went out", hint=last)
    promised = any(each.short and each.promised for each in shares)
    ahead = "--even-so ships what is promised to orders that came first." if promised else ""
    short = [f"{each.short:,} of {each.line.sku}" for each in shares if each.short]
    return refusal(
        "order-nothing", place, "nothing of this order lies ready today",
        found=f"short: {listed(short)}", hint="\n    ".join(filter(None, (ahead, last))),
    )  # fmt: skip


def _named_lots(
    ledger: Ledger, order: KeptOrder, shares: Sequence[Portion], wanted: Sequence[tuple[str, int]]
) -> list[_Billed]:
    """Return the lots that the maker names, each for its line of the order.

    Raises:
        LabelerError: with every lot that is of no line, breaks a bag, or is more than is open.
    """
    lots = read_each(lambda each: find(ledger, each[0]), wanted)
    lines = {each.line.sku: each for each in shares}
    packs: Counter[str] = Counter()
    faults: list[Finding] = []
    goods = []
    for lot, (_, jigs) in zip(lots, wanted, strict=True):
        place = Place(key=f"lot {lot.code}")
        if (portion := lines.get(lot.sku)) is None:
            faults.append(
                stop("order-not-in-it", place, f"order {order.number} holds none of this product",
                     found=lot.sku)
            )  # fmt: skip
            continue
        if jigs < 1 or jigs % portion.line.pack:
            faults.append(
                stop("order-broken-bag", place, "a bag is not broken for an order",
                     found=f"{jigs:,} jigs", expected=f"a multiple of {portion.line.pack}")
            )  # fmt: skip
            continue
        packs[lot.sku] += jigs // portion.line.pack
        goods.append(_Billed(lot, portion, jigs))
    for sku, count in packs.items():
        if count > lines[sku].left:
            faults.append(
                stop("order-over", Place(key=sku), "less of it is open than this parcel holds",
                     found=f"{count:,}", expected=f"at most {lines[sku].left:,}")
            )  # fmt: skip
    if faults:
        raise LabelerError(faults)
    return goods


def _invoice(
    ledger: Ledger, catalog: Catalog, order: KeptOrder, goods: Sequence[_Billed],
    numbered: tuple[str, dt.date], said: str,
) -> Invoice:  # fmt: skip
    """Return the invoice of a parcel: every text as it will stand on the paper."""
    terms, maker, reading = catalog.file.terms, catalog.file.maker, order.reading
    number, day = numbered
    known = find_named(catalog.file.dealers, order.dealer) if order.whom == "dealer" else None
    ship_to = _lines(reading.ship_to)
    address = tuple(address_of(known, maker.country)) if known else ()
    same = fold("".join(address)).startswith(
        fold("".join(ship_to))
    )  # a form leaves the country out
    elsewhere = bool(address and ship_to) and not same
    lines = []
    for line in reading.lines:
        mine = [each for each in goods if each.portion.line.sku == line.sku]
        if mine:
            assert line.price is not None  # a line without one was refused before
            facts = named_facts(snapshot_of(ledger, mine[0].lot))
            hook = f"hook {facts['hook_size']}" if facts["hook_size"] else ""
            pack = f"pack of {line.pack}" if line.pack > 1 else ""
            about = " · ".join(filter(None, (facts["kind"], facts["weight"], hook, pack)))
            lots = tuple(f"{each.lot.code}={each.jigs}" for each in mine)
            packs = sum(each.jigs for each in mine) // line.pack
            lines.append(InvoiceLine(line.sku, line.name, about, packs, line.price, lots))
    bill = Invoice(
        number, order.number, reading.reference, day.isoformat(), _seller(catalog), order.dealer,
        address or ship_to, ship_to if elsewhere else (), tuple(lines), (),
        "", reading.currency, terms.payment or "", terms.invoice or "", "",
    )  # fmt: skip
    charges, within = _taxes(catalog, order, bill.goods)
    shipped = {line.sku: line.packs for line in lines}
    to_come = [
        f"{left:,} of {line.sku}".replace(" ", NO_BREAK_SPACE)
        for line in reading.lines
        if (left := order.left(line) - shipped.get(line.sku, 0)) > 0
    ]
    parts = [_order_words(order.number, reading.reference)]
    parts += [f"Still to come: {listed(to_come, 4)}"] if to_come else []
    beside = ". ".join(filter(None, (*parts, said.strip().rstrip("."))))
    return replace(bill, charges=charges, within=within, parcel=f"{beside}.")


def _order_words(number: str, reference: str) -> str:
    """Return how slip and invoice name an order: by our number and by the buyer's."""
    return f"Order {number}" + (f", your {reference}" if reference else "")


def _seller(catalog: Catalog) -> tuple[str, ...]:
    facts = maker_facts(catalog.file.maker)
    reached = " · ".join(filter(None, (facts["phone"], facts["email"], facts["site"])))
    return facts["name"], facts["address"], *filter(None, (reached,))


def _taxes(
    catalog: Catalog, order: KeptOrder, goods: Decimal
) -> tuple[tuple[Charge, ...], str]:  # fmt: skip
    """Return the taxes that come on top, and what is said of one that the prices hold."""
    currency = order.reading.currency
    charges, within = [], ""
    if order.reading.excise == "on top":
        words = f"Federal excise tax, {percent(EXCISE)} of {amount_text(goods, currency)}"
        charges.append(Charge(words, excise_on_top(goods)))
    elif order.reading.excise == "within":
        held, of = (amount_text(each, currency) for each in (excise_within(goods), goods))
        within = f"Federal excise tax included: {held} of the {of} for goods."
    rate, says = _sales_tax(catalog, order)
    if rate:
        share = f"{print_decimal(rate * 100)}{NO_BREAK_SPACE}%"
        words = f"{says}, {share} of {amount_text(goods, currency)}"
        charges.append(Charge(words, to_the_cent(Fraction(goods) * rate)))
    return tuple(charges), within


def _sales_tax(catalog: Catalog, order: KeptOrder) -> tuple[Fraction | None, str]:
    """Return the rate that the catalog states for this buyer, and what it calls the tax."""
    sale = catalog.file.sale
    if order.whom != "dealer":
        return sale.sales_tax, sale.sales_tax_says
    dealer = find_named(catalog.file.dealers, order.dealer)
    return (dealer.sales_tax, dealer.sales_tax_says) if dealer else (None, "")


def _lines(text: str) -> tuple[str, ...]:
    """Return an address line by line; one that was typed in one line is parted after its street."""
    lines = [line.strip() for line in text.split("\n") if line.strip()]
    if len(lines) == 1 and lines[0].count(",") > 1:
        street, _, rest = lines[0].partition(",")
        lines = [street.strip(), rest.strip()]
    return tuple(lines)


def _lay(
    folder: Path, catalog: Catalog, ledger: Ledger, invoice: Invoice, moves: Sequence[Move],
    papers: ParcelPapers,
) -> list[LaidPaper]:  # fmt: skip
    maker = catalog.file.maker
    to = invoice.ship_to or invoice.address
    laid = []
    if papers.slip:
        order = _order_words(invoice.order, invoice.reference)
        note = invoice.parcel.removeprefix(order).removeprefix(".").strip()
        slip_of = PackingSlip(folder, papers.slip, "ship", invoice.number, invoice.dealer, to,
                              moves, note, papers.size, order)  # fmt: skip
        laid.append(lay_packing_slip(slip_of, ledger))
    if papers.invoice:
        laid.append(lay_invoice(folder, invoice, papers.invoice, maker, papers.size))
    if papers.address:
        laid.append(
            lay_address_label(folder, maker, (invoice.dealer, *to), invoice.number,
                              papers.address, papers.label)
        )  # fmt: skip
    return laid


def _is_ahead(ledger: Ledger, order: KeptOrder, goods: Sequence[_Billed]) -> bool:
    """Tell whether more goes out than is this order's share once those before it are served."""
    shares = ledger.read(lambda connection: serve(connection, [order.id])).portions[order.id]
    ready = {each.line.sku: each.ready * each.line.pack for each in shares}
    taken: Counter[str] = Counter()
    for each in goods:
        taken[each.lot.sku] += each.jigs
    return any(jigs > ready[sku] for sku, jigs in taken.items())


def _remarks(catalog: Catalog, order: KeptOrder, *, ahead: bool) -> list[Finding]:
    """Return what is worth knowing of a parcel that went out."""
    place = Place(key=f"order {order.number}")
    found = []
    if order.whom != "dealer" and not _sales_tax(catalog, order)[0]:
        found.append(
            note("no-sales-tax", place, "no sales tax is billed, since the catalog states none",
                 hint='If this customer owes one: sales_tax = "5.5 %" under [sale].')
        )  # fmt: skip
    if ahead:
        message = "this holds what was promised to orders that came first"
        found.append(note("order-ahead", place, message))
    return found


def print_parcel_papers(
    folder: Path, number: str, papers: ParcelPapers
) -> tuple[KeptOrder, Invoice]:
    """Write the papers of a parcel that went out, once more.

    Args:
        folder: the catalog.
        number: the invoice's.
        papers: what to write.

    Raises:
        LabelerError: if there is no such invoice or it was taken back, something does not fit, or
            a file can't be written.
    """
    for file in papers.files:
        refuse_to_bury(file)
    refuse_one_name(*papers.files)
    catalog, _ = readable(folder)
    with ledger_of_orders(folder) as ledger:
        order, kept = find_invoice(ledger, number)
        if kept.taken_back:
            raise refusal(
                "invoice-taken-back", Place(key=f"invoice {kept.invoice.number}"),
                "its parcel was taken back as a mistake, so nothing is billed by it",
                hint=f"labeler orders {kept.invoice.order} shows what was shipped instead.",
            )  # fmt: skip
        moves = [
            Move(each.kind, each.lot, each.count, each.moved, each.dealer, each.note, each.whom)
            for each in slip(ledger, kept.slip)
        ]
        laid = _lay(folder, catalog, ledger, kept.invoice, moves, papers)
    deliver_papers(laid)
    return order, kept.invoice
