"""The papers of an order: pull list, invoice, address label."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from labeler.app.orders import OrderStory, stories_of_orders
from labeler.app.papers import (
    SIZES,
    BenchCards,
    LaidPaper,
    deliver_papers,
    lay_pages,
    logo_in,
    paper_for,
    print_bench_cards,
)
from labeler.catalog.model import Maker
from labeler.catalog.read import readable
from labeler.files import refuse_to_bury
from labeler.findings import Place, refusal
from labeler.layout.compose import BenchPaper, Composer
from labeler.layout.facts import amount_text, bare_amount, maker_facts, named_facts
from labeler.ledger.lots import find, snapshot_of
from labeler.ledger.orders import Invoice
from labeler.ledger.promises import Portion
from labeler.ledger.store import Ledger
from labeler.press.impose import PieceOrder, Ticket, impose
from labeler.press.sheets import Sheet, SheetGrid, find_sheet
from labeler.units import Length

_PULLED_A_PAGE, _TIED_A_PAGE = 12, 8
"""Lines that a pull list's page holds beside its head and foot, on the lower of the papers."""


def print_pull_list(
    folder: Path, numbers: Sequence[str], out: Path, paper: str = ""
) -> list[OrderStory]:
    """Write what to pull for the orders named, or for all that are open: each on its own page.

    Args:
        folder: the catalog.
        numbers: of the orders; none means all that are open.
        out: the PDF to write.
        paper: letter or a4; empty takes the maker's country's.

    Raises:
        LabelerError: if there is no such order or none is open, something does not fit, or the
            file can't be written.
    """
    refuse_to_bury(out)
    catalog, _ = readable(folder)
    stories = [each for each in stories_of_orders(folder, numbers) if each.order.open]
    if not stories:
        raise refusal(
            "order-nothing", Place(key="orders"), "nothing of these orders is open"
            if numbers else "no order is open, so there is nothing to pull",
            hint="labeler orders --all shows those that are done, too.",
        )  # fmt: skip
    maker = catalog.file.maker
    paper = paper_for(maker.country, paper)
    with stories[0].location.opened() as ledger:
        pages = [
            page for story in stories for page in _pull_pages(ledger, story, maker, SIZES[paper])
        ]
    which = f"{len(stories)} orders" if len(stories) > 1 else f"order {stories[0].order.number}"
    title = f"Pull list, {which}"
    ticket = Ticket(title, author=maker.name, maker_folder=folder)
    deliver_papers([lay_pages(out, pages, paper, ticket)])
    return stories


def print_cards_to_tie(
    folder: Path, numbers: Sequence[str], out: Path, paper: str = ""
) -> BenchCards:
    """Write the bench cards of what is short of the orders named, or of all that are open.

    Args:
        folder: the catalog.
        numbers: of the orders; none means all that are open.
        out: the PDF to write.
        paper: letter or a4; empty takes the maker's country's.

    Raises:
        LabelerError: if there is no such order or nothing is to be tied, or as
            `print_bench_cards` does.
    """
    wanted = [
        (each.line.sku, each.short * each.line.pack)
        for story in stories_of_orders(folder, numbers)
        for each in story.to_tie
    ]
    if not wanted:
        raise refusal(
            "order-nothing", Place(key="orders"), "nothing is to be tied: all that is open is here"
        )
    return print_bench_cards(folder, wanted, out, paper)


def _pull_pages(
    ledger: Ledger, story: OrderStory, maker: Maker, size: tuple[float, float]
) -> list[BenchPaper]:
    """Return an order's pages: lots first, then what is still to be tied."""
    order = story.order
    labels = {each.lot: each.labels for each in story.to_label}
    rows, products = [], {}
    for portion in story.portions:
        for code, packs in portion.lots:
            lot = find(ledger, code)
            product = products[portion.line.sku] = snapshot_of(ledger, lot)
            below = [f"bags of {portion.line.pack}"] if portion.line.pack > 1 else []
            below += [f"{labels[code]:,} to label"] if code in labels else []
            rows.append(
                {**named_facts(product), "lot": code, "made": lot.made.isoformat(),
                 "packs": f"{packs:,}", "below": ", ".join(below)}
            )  # fmt: skip
    to_tie = [_to_tie(each) for each in story.to_tie]
    pages = [(rows[at : at + _PULLED_A_PAGE], list[dict[str, str]]())
             for at in range(0, len(rows), _PULLED_A_PAGE)] or [([], [])]  # fmt: skip
    left = 2 * (_PULLED_A_PAGE - len(pages[-1][0])) - 2
    while to_tie:
        if left < 1:
            pages.append(([], []))
            left = 2 * _PULLED_A_PAGE
        pages[-1][1].extend(to_tie[:left])
        to_tie, left = to_tie[left:], 0
    about = [f"Their order {order.reading.reference}"] if order.reading.reference else []
    ship_to = order.reading.ship_to.split("\n")
    about += [each for each in (*ship_to, *order.reading.heads.values()) if each]
    facts = {
        "number": order.number, "dealer": order.dealer, "about": about,
        "day": order.taken.isoformat(), "pages": len(pages),
        "packs": f"{sum(each.ready for each in story.portions):,}",
    }  # fmt: skip
    return [
        BenchPaper(
            "pull-list", size,
            {"maker": maker_facts(maker), "order": {**facts, "page": at}, "rows": on_page,
             "to_tie": tied},
            others=products,
        )
        for at, (on_page, tied) in enumerate(pages, 1)
    ]  # fmt: skip


def _to_tie(each: Portion) -> dict[str, str]:
    why = [f"{each.short:,} bags"] if each.line.pack > 1 else []
    why += [f"{each.promised:,} are promised"] if each.promised else []
    why += [f"{each.held:,} are held"] if each.held else []
    jigs = f"{each.short * each.line.pack:,}"
    return {"sku": each.line.sku, "name": each.line.name, "jigs": jigs,
            "why": ", ".join(why)}  # fmt: skip


_FIRST_LINES, _LAST_LINES = 12, 9
"""Lines that a page of an invoice holds, and one that holds the total too, on the lower of the
papers."""


def lay_invoice(folder: Path, invoice: Invoice, out: Path, maker: Maker, paper: str) -> LaidPaper:
    """Return an invoice on its pages.

    Args:
        folder: the catalog.
        invoice: as it is on record, or will be.
        out: the PDF to write.
        maker: whose logo it bears today.
        paper: letter or a4; empty takes the maker's country's.

    Raises:
        LabelerError: if something does not fit.
    """
    paper = paper_for(maker.country, paper)
    currency = invoice.currency
    rows = [
        {"sku": line.sku, "name": line.name, "about": line.about, "packs": f"{line.packs:,}",
         "price": bare_amount(line.price, currency), "amount": bare_amount(line.amount, currency)}
        for line in invoice.lines
    ]  # fmt: skip
    pages = [rows[at : at + _FIRST_LINES] for at in range(0, len(rows), _FIRST_LINES)]
    if len(pages[-1]) > _LAST_LINES:
        pages.append(pages[-1][_LAST_LINES:])
        pages[-2] = pages[-2][:_LAST_LINES]
    sums = [(each.words, bare_amount(each.amount, currency)) for each in invoice.charges]
    if sums:
        sums.insert(0, ("Goods", bare_amount(invoice.goods, currency)))
    about = [("Our order", invoice.order), ("Your order", invoice.reference)]
    facts = {
        "maker": {"logo": logo_in(folder, maker)},
        "seller": {"name": invoice.seller[0], "lines": invoice.seller[1:]},
        "invoice": {
            "number": invoice.number, "day": invoice.day, "dealer": invoice.dealer,
            "address": list(invoice.address), "ship_to": list(invoice.ship_to),
            "about": [each for each in about if each[1]], "payment": invoice.payment,
            "within": invoice.within, "note": invoice.note, "currency": currency,
        },
        "sums": sums, "total": amount_text(invoice.total, currency), "pages": len(pages),
    }  # fmt: skip
    papers = [
        BenchPaper(
            "invoice", SIZES[paper],
            {**facts, "rows": page, "page": at, "last": at == len(pages)},
        )
        for at, page in enumerate(pages, 1)
    ]  # fmt: skip
    title = f"Invoice {invoice.number}, {invoice.dealer}"
    ticket = Ticket(title, author=invoice.seller[0], maker_folder=folder)
    return lay_pages(out, papers, paper, ticket)


@dataclass(frozen=True, slots=True)
class LabelPaper:
    """What an address label is printed on: a sheet's cell, or plain paper where none is named."""

    sheet: str = ""
    cell: int = 1
    paper: str = ""


_LABEL = Length.from_inches(6).pt, Length.from_inches(4).pt
"""Width and height of a label that is cut out of plain paper."""


def lay_address_label(
    folder: Path, maker: Maker, to: Sequence[str], number: str, out: Path, on: LabelPaper
) -> LaidPaper:
    """Return the label of a parcel.

    Args:
        folder: the catalog.
        maker: who sends it.
        to: name and address, line by line.
        number: of the parcel.
        out: the PDF to write.
        on: what it is printed on.

    Raises:
        LabelerError: if there is no such sheet or cell, or the address does not fit.
    """
    if len(to) < _LEAST_LINES:
        raise refusal(
            "address-missing", Place(key="address"), "nothing says where this parcel goes",
            found=to[0],
            hint="Put street, city and postcode into the dealer's table in catalog.toml.",
        )  # fmt: skip
    sheet = find_sheet(on.sheet, folder) if on.sheet else _plain(paper_for(maker.country, on.paper))
    size = (sheet.grid.cell_width, sheet.grid.cell_height) if sheet.grid else _LABEL
    lines = [line for line in to[1:] if line != maker.country]
    facts = {"maker": maker_facts(maker), "to": {"name": to[0], "lines": lines},
             "number": number, "plain": not on.sheet}  # fmt: skip
    piece = Composer(folder).compose_paper(BenchPaper("address-label", size, facts))
    plan = impose([PieceOrder(piece, 1)], sheet, start=on.cell)
    ticket = Ticket(f"Address label, {number}", author=maker.name, maker_folder=folder)
    return LaidPaper(out, plan, ticket)


_LEAST_LINES = 2
"""A name and one line."""


def _plain(paper: str) -> Sheet:
    """Return plain paper with one label in the middle of its upper half."""
    width, height = SIZES[paper]
    across, down = _LABEL
    left, top = (width - across) / 2, Length.from_inches(0.75).pt
    grid = SheetGrid(width, height, 1, 1, across, down, left, top, across, down)
    return Sheet(f"{paper}-page", "die-cut", width, height, grid)
