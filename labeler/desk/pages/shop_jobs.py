"""The long work of Shops and Markets: parcels and their papers, books, the sheet for the wall."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path
from typing import Any

from labeler.app.book import BookRequest, make_catalog_book, make_order_sheet
from labeler.app.invoices import OrderParcel, ParcelPapers, print_parcel_papers, ship_order
from labeler.app.markets import market_report
from labeler.app.order_papers import LabelPaper, print_cards_to_tie, print_pull_list
from labeler.app.shipping import ShipRequest, ship
from labeler.app.wall_sheet import write_wall_sheet
from labeler.catalog.read import named_count
from labeler.checker.subject import Progress
from labeler.desk.outcome import Asked, Outcome, plain
from labeler.findings import LabelerError, Place, plural, read_each, refusal
from labeler.layout.facts import amount_text
from labeler.ledger.ship import slip_number
from labeler.units import day_readings


def day_asked(text: str) -> dt.date | None:
    """Return the day that was typed, if one was.

    Raises:
        LabelerError: if it is none, or may be two.
    """
    if not text:
        return None
    try:
        (found,) = set(day_readings(text, dt.date.today()).values())  # noqa: DTZ011
    except ValueError:
        raise refusal("day-unread", Place(key="on"), "this is no day, or may be two",
                      found=repr(text), expected="a day such as 2027-03-01") from None  # fmt: skip
    return found


def _day(asked: Asked) -> dt.date | None:
    return day_asked(str(asked["day"]))


def _day_or_today(asked: Asked) -> dt.date:
    return _day(asked) or dt.date.today()  # noqa: DTZ011  (the maker's own day)


def _counts(lots: Sequence[tuple[str, str]]) -> tuple[tuple[str, int], ...]:
    """Return lots or products with their jigs.

    Raises:
        LabelerError: with each that does not say how many, at its lot.
    """

    def counted(lot: tuple[str, str]) -> tuple[str, int]:
        name, text = lot
        try:
            return name, named_count(f"{name}={text}")[1] or 0
        except LabelerError as error:
            place = Place(key=f"lot {name}")
            raise LabelerError(
                replace(each, place=place, found=repr(text), hint="") for each in error.findings
            ) from None

    return tuple(read_each(counted, lots))


def pull_list(folder: Path, out: Path, asked: Asked, progress: Progress) -> Outcome:
    """Print what to pull for ``orders``, or for all that are open."""
    numbers = list(asked["orders"])
    file = out / f"pull-{plain('-'.join(numbers) or 'all')}.pdf"
    stories = print_pull_list(folder, numbers, file)
    bags = sum(each.ready for story in stories for each in story.portions)
    said = f"{plural(bags, 'bag')} to pull for {plural(len(stories), 'order')}."
    return Outcome((said,), (("Pull list", file),))


def cards_to_tie(folder: Path, out: Path, asked: Asked, progress: Progress) -> Outcome:
    """Print the bench cards of what is short of ``orders``, or of all that are open."""
    numbers = list(asked["orders"])
    file = out / f"to-tie-{plain('-'.join(numbers) or 'all')}.pdf"
    made = print_cards_to_tie(folder, numbers, file)
    jigs = sum(count for _, count in made.products)
    said = f"{plural(len(made.products), 'card')}, {plural(jigs, 'jig')} to tie."
    return Outcome((said,), (("Bench cards", file),), made.findings)


_PAPERS = {"slip": "Packing slip", "invoice": "Invoice", "address": "Address label"}


def _papers(out: Path, of: str, asked: Asked) -> tuple[ParcelPapers, list[tuple[str, Path]]]:
    files = {name: out / f"{name}-{of}.pdf" for name in _PAPERS if name in asked["papers"]}
    try:
        cell = named_count(f"cell={asked['cell']}")[1] or 0
    except LabelerError as error:
        raise LabelerError(replace(x, place=Place(key="cell")) for x in error.findings) from None
    on = LabelPaper(asked["sheet"], cell)
    papers = ParcelPapers(
        files.get("slip"), files.get("invoice"), files.get("address"), label=on
    )  # fmt: skip
    return papers, [(_PAPERS[name], file) for name, file in files.items()]


def ship_an_order(folder: Path, out: Path, asked: Asked, progress: Progress) -> Outcome:
    """Ship what there is of an order.

    Args:
        folder: the catalog's.
        out: where the papers go.
        asked: ``order``, with how many ``parcels`` of it were known; ``lots`` with their jigs, none
            for all that is ready; ``day``, ``note``; ``papers``, of which the label on ``cell`` of
            ``sheet``; ``even_so``, on an odd day; ``ahead``, all that is ready with what is
            promised to others, whatever the lots.
        progress: is not told: the papers are a few pages.
    """
    number, parcels = str(asked["order"]), int(asked["parcels"])
    papers, files = _papers(out, f"{plain(number)}-{parcels + 1}", asked)
    ahead = bool(asked["ahead"])
    lots = () if ahead else _counts(asked["lots"])
    done = ship_order(
        OrderParcel(folder, number, lots, _day(asked), str(asked["note"]), papers,
                    bool(asked["even_so"]), ahead, parcels)
    )  # fmt: skip
    order, invoice = done.order, done.invoice
    packs = plural(sum(line.packs for line in invoice.lines), "pack")
    total = amount_text(invoice.total, invoice.currency)
    said = [f"{packs} went to {order.dealer}. Slip and invoice {invoice.number}: {total}."]
    said += [f"{each.words}: {amount_text(each.amount, invoice.currency)}."
             for each in invoice.charges]  # fmt: skip
    said.append(f"{plural(order.open, 'pack')} of order {order.number} stay open." if order.open
                else f"Order {order.number} is done.")  # fmt: skip
    back = (f"Order {order.number}: what went, and taking it back", f"/shops/orders/{order.number}")
    return Outcome(tuple(said), tuple(files), done.findings, (back,))


def parcel_papers(folder: Path, out: Path, asked: Asked, progress: Progress) -> Outcome:
    """Write the papers of a parcel that went out once more: ``invoice``, and as for shipping."""
    papers, files = _papers(out, plain(str(asked["invoice"])), asked)
    order, invoice = print_parcel_papers(folder, str(asked["invoice"]), papers)
    said = f"Of parcel {invoice.number}, order {order.number}, as it went out."
    return Outcome((said,), tuple(files))


def ship_lots(folder: Path, out: Path, asked: Asked, progress: Progress) -> Outcome:
    """Record what goes out or comes back without an order.

    Args:
        folder: the catalog's.
        out: where the slip goes.
        asked: ``move``, ``whom``, ``name``, ``lots`` with their jigs, ``day``, ``note``,
            ``again``, ``even_so``; ``once``, the number of the form.
        progress: is not told: a slip is a page.
    """
    kind: Any = asked["move"]
    file = f"slip-{plain(str(asked['name']))}-{str(asked['once'])[:6]}.pdf"
    slip = out / file if kind in ("ship", "return") else None
    done = ship(
        ShipRequest(
            folder, kind, _counts(asked["lots"]),
            str(asked["name"]), _day(asked), str(asked["note"]), None, slip,
            whom=asked["whom"], again=bool(asked["again"]), even_so=bool(asked["even_so"]),
        )
    )  # fmt: skip
    went = {"ship": "went out", "return": "came back", "scrap": "were thrown away",
            "extra": "more were made"}[kind]  # fmt: skip
    said = [f"{plural(each.count, 'jig')} of lot {each.lot} {went}; {done.left[each.lot]:,} on "
            "hand." for each in done.moves]  # fmt: skip
    number = slip_number(done.moves[0].slip)
    leads = ((f"Slip {number}: what went, and taking it back",
              f"/shops/parcel?slip={done.moves[0].slip}"),)  # fmt: skip
    files = (("Packing slip", slip),) if slip else ()
    return Outcome(tuple(said), files, done.findings, leads)


def book(folder: Path, out: Path, asked: Asked, progress: Progress) -> Outcome:
    """Make the line as a book, for a shop or for buyers.

    Args:
        folder: the catalog's.
        out: where the files go.
        asked: ``audience``, ``dealer``, ``tier``, ``only``, ``paper``, ``booklet``, ``bleed``,
            ``archive``, ``preview``, ``even_so``, ``order_sheet``, ``prices``, ``keystone``
            and ``day``.
        progress: is told of each page, drawn and then checked.
    """
    whose = plain(str(asked["dealer"] or asked["tier"] or asked["audience"]))
    look = "look-" if asked["preview"] else ""
    thing = "prices" if asked.get("prices") else "book"
    file = out / f"{look}{thing}-{whose}.pdf"
    form = out / f"order-form-{whose}.xlsx" if asked["order_sheet"] else None
    made = make_catalog_book(
        BookRequest(
            folder, file, asked["audience"], str(asked["tier"]), str(asked["dealer"]),
            tuple(asked["only"]), asked["paper"], bool(asked["booklet"]), bool(asked["bleed"]),
            bool(asked["archive"]), form, _day_or_today(asked),
            bool(asked["even_so"]), bool(asked["preview"]), bool(asked.get("keystone")),
            bool(asked.get("prices")),
        ),
        progress,
    )  # fmt: skip
    said = [f"{plural(made.pages, 'page')}, {plural(made.products, 'product')} in "
            f"{plural(made.patterns, 'pattern')}."]  # fmt: skip
    if made.preview:
        said.append("To look at, and not to hand on: every page says so.")
    elif asked["booklet"]:
        said.append("Print both sides, turned over the short edge; fold, and staple in the fold.")
    name = "Price list" if thing == "prices" else "Book"
    files = [(f"Look at the {name.lower()}" if made.preview else name, file)]
    files += [("Order form, to fill in as a spreadsheet", form)] if form else []
    return Outcome(tuple(said), tuple(files), made.findings)


def order_form(folder: Path, out: Path, asked: Asked, progress: Progress) -> Outcome:
    """Make the order form alone, as a spreadsheet: ``dealer``, ``tier``, ``only``, ``day``."""
    file = out / f"order-form-{plain(str(asked['dealer'] or asked['tier'] or 'all'))}.xlsx"
    made = make_order_sheet(
        BookRequest(folder, file, tier=str(asked["tier"]), dealer=str(asked["dealer"]),
                    only=tuple(asked["only"]), day=_day_or_today(asked))
    )  # fmt: skip
    said = f"{plural(made.products, 'product')}. What comes back is dropped on the page Shops."
    return Outcome((said,), (("Order form", file),), made.findings)


def wall_sheet(folder: Path, out: Path, asked: Asked, progress: Progress) -> Outcome:
    """Make the table of markets to hang on the wall: ``skus``, ``places``, ``day``, ``paper``."""
    report = market_report(folder, asked["skus"], asked["places"], _day(asked))
    file = out / f"markets-{report.day.isoformat()}.pdf"
    pages = write_wall_sheet(report, file, asked["paper"], folder)
    places = plural(len(report.markets), "place")
    said = f"{places} as of {report.day.isoformat()}, on {plural(pages, 'page')}."
    return Outcome((said,), (("Sheet for the wall", file),), report.findings)
