"""Shops: orders from the form that came in to the parcel that went, and what each shop is sent."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from types import MappingProxyType
from typing import Any, get_args
from urllib.parse import urlencode

from starlette.responses import Response

from labeler.app.layouts import shown_sheets
from labeler.app.lots import lose, trace_to_lots
from labeler.app.orders import (
    OrderRequest,
    OrderStory,
    TakenOrder,
    cancel_order_of,
    digest,
    keep_order_of,
    look_at_order,
    orders_of,
    stories_of_orders,
)
from labeler.app.shipping import address_of, parcels_of, ship_mistake
from labeler.book.edition import find_named, weight_and_hook
from labeler.book.order import HEADS, TO_MAKER, OrderLine, order_in
from labeler.catalog.model import Catalog, Product
from labeler.catalog.read import by_words, named_count, nearest_products, readable, split_count
from labeler.desk.outcome import is_count
from labeler.desk.page import Ask, DeskPage, Faults, PageRoute
from labeler.desk.pages.figures import shown_jigs
from labeler.findings import Finding, LabelerError, Place, stop
from labeler.layout.facts import amount_text
from labeler.ledger.lots import fold
from labeler.ledger.orders import KeptOrder
from labeler.ledger.ship import Parcel, Whom

_FORM_BYTES = 24 * 1024 * 1024
"""Of an order form that comes in: a dealer's book with pictures takes some millions."""

_LATELY = 20
"""Parcels shown before the others are asked for."""

_DONE = {
    "new": "It is on record. What to pull and what to tie stands below.",
    "known": "This order was on record before, and it is kept once.",
    "otherwise": "This order is on record as it was given first. What differs now was not put in: "
    "correct it below if it is to hold.",
    "changed": "The order reads so from now on; how it read before is kept.",
    "cancelled": "What was open of it is let go. What had gone out stays so.",
    "back": "The parcel is taken back: what was in it is on hand again, and the order is open.",
    "slip-back": "The slip is taken back: everything is as it was before. Nothing was deleted.",
    "lost": "They are noted, and neither they nor any lower number is given out again.",
}
"""What was just done, by the word that the address says it with."""


# ---------------------------------------------------------------------------- what the shops want


def _shops(ask: Ask, faults: Faults | None = None) -> Response:
    """Show the open orders, what has gone where, and the shops."""
    catalog, _ = readable(ask.folder)
    stories = stories_of_orders(ask.folder)
    stories = [each for each in stories if each.order.open]
    parcels = parcels_of(ask.folder, most=_LATELY + 1)
    return ask.shown(
        "shops.html.jinja", faults, stories=stories, ready=_ready, tie=_tie,
        packs=sum(map(_ready, stories)), short=sum(map(_short, stories)),
        jigs=sum(map(_tie, stories)), **shown_jigs(catalog),
        parcels=parcels[:_LATELY], more=len(parcels) > _LATELY, invoices=_invoices(ask),
        shops=_known_shops(ask, catalog), typed=ask.text, done=_DONE.get(ask.query("done"), ""),
        most=_most,
    )  # fmt: skip


def _ready(story: OrderStory) -> int:
    return sum(each.ready for each in story.portions)


def _short(story: OrderStory) -> int:
    return sum(each.short for each in story.portions)


def _tie(story: OrderStory) -> int:
    return sum(each.short * each.line.pack for each in story.portions)


def _most(order: KeptOrder) -> str:
    """Return the SKU that an order is drawn by: the one of which most is ordered."""
    return max(order.reading.lines, key=lambda line: line.packs).sku


def _invoices(ask: Ask) -> dict[str, KeptOrder]:
    """Return the order that each slip of an invoice went for."""
    orders, _ = orders_of(ask.folder, every=True)
    return {each.slip: order for order in orders for each in order.invoices}


def _known_shops(ask: Ask, catalog: Catalog) -> list[tuple[str, str, str, int]]:
    """Return each shop's name, town, tier, and how many packs are open for it."""
    open_for: Counter[str] = Counter()
    names: dict[str, str] = {}
    for order in orders_of(ask.folder)[0]:
        open_for[fold(order.dealer)] += order.open
        names[fold(order.dealer)] = order.dealer
    known = catalog.file.dealers.values()
    listed = [
        (each.name, ", ".join(filter(None, (each.city, each.state))),
         catalog.file.tiers[each.tier].name if each.tier else "", open_for[fold(each.name)])
        for each in known
    ]  # fmt: skip
    mine = {fold(each.name) for each in known}
    return listed + [
        (name, "", "", open_for[of]) for of, name in names.items() if of not in mine
    ]  # fmt: skip


def _orders(ask: Ask) -> Response:
    """Show every order, the newest first."""
    found, _ = orders_of(ask.folder, every=True)
    return ask.shown("orders.html.jinja", value=_value, **ask.leaf(found[::-1]))


def _parcels(ask: Ask) -> Response:
    """Show everything that came and went, the newest first."""
    leaf = ask.leaf(parcels_of(ask.folder))
    return ask.shown("parcels.html.jinja", invoices=_invoices(ask), **leaf)


def _value(order: KeptOrder) -> str:
    return amount_text(order.value(lambda line: line.packs), order.reading.currency)


def _lost(ask: Ask) -> Response:
    """Note numbers that are on papers and not on record."""
    try:
        lose(ask.folder, ask.text("lost").replace(",", " ").split())
    except LabelerError as error:
        return _shops(ask, Faults(error.findings, {each.rule: "lost" for each in error.findings}))
    return ask.went_to("/shops", done="lost")


# ------------------------------------------------------------------------------ an order comes in


def _read(ask: Ask) -> Response:
    """Show a form that was dropped, or lines that were typed, as they are understood."""
    (upload,) = ask.uploads.get("form", ()) or (None,)
    if upload is not None and upload.data:
        try:
            filled = order_in(upload.data, Place(file=upload.name[:80]))
        except LabelerError as error:
            return _shops(ask, Faults(error.findings, {x.rule: "form" for x in error.findings}))
        rows = [(each.sku, "" if each.value is None else str(each.value)) for each in filled.typed]
        return _as_read(ask, rows, dict(filled.heads) | {"source": digest(upload.data)})
    rows = [_row(line) for line in ask.text("lines").splitlines() if line.strip()]
    return _as_read(ask, rows, {"dealer": ask.text("dealer")})


def _begin_again(ask: Ask) -> Response:
    """Lead back from the address of a form that was sent, which shows nothing by itself."""
    return ask.went_to("/shops")


def _row(line: str) -> tuple[str, str]:
    """Return what a typed line names and how many: ``NAME = N``, ``NAME x N``, ``6 pcs NAME``.

    A number that stands alone at an end is how many, too: an order says it of every line.
    """
    if "=" in line:
        name, _, packs = line.rpartition("=")
    elif said := split_count(line):
        name, packs = said
    elif last := re.fullmatch(r"(.*\S)[\s,:]+(\d+)", line.strip()):
        name, packs = last[1], last[2]
    elif first := re.fullmatch(r"(\d+)\s+([^\W\d].*)", line.strip()):
        packs, name = first[1], first[2]
    else:
        name, packs = line, ""
    return name.strip(" ,:"), packs.strip()


def _look(ask: Ask) -> Response:
    """Show lines again that were corrected, or put them on record."""
    rows = [
        (name, ask.text(f"packs-{at}"))
        for at in (of.removeprefix("sku-") for of in ask.fields if of.startswith("sku-"))
        if (name := ask.text(f"pick-{at}") or ask.text(f"sku-{at}"))
    ]  # fmt: skip
    typed = {name: ask.text(name) for name in _HEADS}
    if not ask.text("keep"):
        return _as_read(ask, rows, typed)
    try:
        taken = keep_order_of(_request(ask, rows, typed, ask.text("instead")))
    except LabelerError as error:
        return _as_read(ask, rows, typed, error.findings)
    assert taken.kept
    otherwise = taken.state == "known" and any(
        each.rule in ("order-kept-once", "order-corrected-since") for each in taken.findings
    )
    done = "otherwise" if otherwise else taken.state
    return ask.went_to(f"/shops/orders/{taken.kept.number}", done=done)


_HEADS = (*HEADS, "source", "customer", "own-tier", "instead", "again")


def _request(
    ask: Ask, rows: Sequence[tuple[str, str]], typed: Mapping[str, str], instead: str = ""
) -> OrderRequest:
    customer = typed["dealer"] if typed.get("customer") else ""
    heads = {name: typed[name] for name in HEADS if typed.get(name)}
    return OrderRequest(
        ask.folder, lines=tuple(map(_counted, rows)), heads=heads, source=typed.get("source", ""),
        customer=customer, tier=typed.get("own-tier", ""), instead=instead,
        again=bool(typed.get("again")), key=f"desk {once}" if (once := ask.text("once")) else None,
    )  # fmt: skip


def _counted(row: tuple[str, str]) -> tuple[str, int | str]:
    """Return a row with its packs as a number, or as they were typed where they are none."""
    try:
        return row[0], named_count(f"x={row[1]}")[1] or row[1]
    except LabelerError:
        return row


def _as_read(
    ask: Ask, rows: Sequence[tuple[str, str]], typed: Mapping[str, str],
    faults: Iterable[Finding] = (),
) -> Response:  # fmt: skip
    """Show an order line by line: what is understood, what it comes to, what is wrong."""
    catalog, _ = readable(ask.folder)
    taken: TakenOrder | None = None
    findings = list(faults)
    try:
        taken = look_at_order(_request(ask, rows, typed, typed.get("instead", "")))
    except LabelerError as error:
        findings += [each for each in error.findings if each not in findings]
    meant = [_meant(catalog, name) for name, _ in rows]
    lines = {line.product.sku: line for line in taken.order.lines} if taken else {}
    fields = {f"line {at}": f"packs-{at}" for at in range(1, len(rows) + 1)}
    fields |= {"order-nobody": "dealer", "dealer-unlisted": "dealer", "dealer-slip": "dealer",
               "unknown-tier": "own-tier"}  # fmt: skip
    near = [() if of else nearest_products(name, catalog.products)[:_NEAR]
            for (name, _), of in zip(rows, meant, strict=True)]  # fmt: skip
    offered = {f"line {at}" for at, close in enumerate(near, 1) if close}
    findings = [
        replace(each, hint="")
        if each.place.key in offered and each.hint.startswith("Nearest:") else each
        for each in findings
    ]  # fmt: skip
    said = [each for each in taken.order.findings if each.rule != "order-short"] if taken else []
    return ask.shown(
        "order_read.html.jinja", Faults(findings, fields), typed=typed,
        rows=[_Row(at, name, packs, tuple(of), tuple(close),
                   lines.get(of[0].sku) if len(of) == 1 else None)
              for at, ((name, packs), of, close)
              in enumerate(zip(rows, meant, near, strict=True), 1)],
        order=taken.order if taken else None, said=said, tiers=catalog.file.tiers,
        dealers=[each.name for each in catalog.file.dealers.values()], heads=TO_MAKER,
        **shown_jigs(catalog),
        money=lambda amount: amount_text(amount, catalog.file.sale.currency),
        other=next((each.place.key.removeprefix("order ") for each in findings
                    if each.rule in ("order-known", "order-corrected")), typed.get("instead", "")),
        may_again=any(each.rule in ("order-known", "order-corrected", "order-cancelled")
                      for each in findings) or bool(typed.get("again")),
    )  # fmt: skip


_NEAR = 6
"""Products that are offered for words that fit none."""


@dataclass(frozen=True, slots=True)
class _Row:
    """A line of an order as it stands on the page: what was typed, and what it may mean."""

    at: int
    name: str
    packs: str
    meant: tuple[Product, ...]
    near: tuple[Product, ...]
    line: OrderLine | None

    @property
    def product(self) -> Product | None:
        """The one that is meant, if only one can be."""
        return self.meant[0] if len(self.meant) == 1 else None


def _meant(catalog: Catalog, name: str) -> list[Product]:
    sku = name.strip().upper()
    return [each for each in catalog.products if each.sku == sku] or by_words(
        name, catalog.products
    )  # fmt: skip


# -------------------------------------------------------------------------------------- one order


def _order(ask: Ask) -> Response:
    """Show an order in the order of the work on it."""
    asked, findings = _before(ask, "ship-order")
    same = asked.get("order") == ask.part("number")
    return _order_shown(ask, findings if same else (), asked if same else {})


def _order_shown(
    ask: Ask, findings: Sequence[Finding], asked: Mapping[str, Any] = MappingProxyType({})
) -> Response:
    (story,) = stories_of_orders(ask.folder, [ask.part("number")])
    order, catalog = story.order, readable(ask.folder)[0]
    pull = [(code, packs, each.line) for each in story.portions for code, packs in each.lots]
    fields = {f"lot {code}": f"lot-{code}" for code, *_ in pull}
    lots = {str(code): str(jigs) for code, jigs in asked.get("lots", ())}
    other = next((each for each in lots.items() if f"lot {each[0]}" not in fields), ("", ""))
    fields.setdefault(f"lot {other[0]}", "other")
    fields |= {
        "on": "day",
        "order-ahead-or-lots": "ahead",
        "unknown-lot": "other",
        "address-missing": "address",
        "why": "why",
        "cell": "cell",
    }
    to_tie = {f"n-{each.line.sku}": str(each.short * each.line.pack) for each in story.to_tie}
    labels = [("lot", f"{each.lot}={each.labels}") for each in story.to_label]
    return ask.shown(
        "order.html.jinja", Faults(findings, fields), story=story, order=order, pull=pull,
        asked=asked, typed=ask.text, **shown_jigs(catalog),
        done=_DONE.get(ask.query("done"), ""), ready=_ready(story), short=_short(story),
        jigs=_tie(story), to_tie=to_tie, print_at=f"{ask.at('/print')}?{urlencode(labels)}",
        promised=any(each.short and each.promised for each in story.portions),
        sheets=[each for each in shown_sheets(ask.folder) if each.sheet.grid],
        lots=lots, left_out="0" if "lots" in asked else "", other=other,
        money=lambda amount: amount_text(amount, order.reading.currency), value=_value(order),
        address=_address(catalog, order), about=_about(catalog, order),
        even_so=asked.get("even_so") or any(each.rule == "move-day" for each in findings),
    )  # fmt: skip


def _about(catalog: Catalog, order: KeptOrder) -> dict[str, str]:
    """Return weight and hook of what an order names; of what is no longer known, nothing."""
    known = {each.sku: each for each in (*catalog.gone, *catalog.products)}
    skus = [line.sku for line in order.reading.lines]
    return {
        sku: weight_and_hook(known[sku].weight, known[sku].hook_size)
        if sku in known else "no longer sold" for sku in skus
    }  # fmt: skip


def _address(catalog: Catalog, order: KeptOrder) -> list[str]:
    """Return where an order goes, line by line; nothing where nobody said."""
    if order.reading.ship_to:
        return order.reading.ship_to.split("\n")
    known = (
        each for each in catalog.file.dealers.values() if fold(each.name) == fold(order.dealer)
    )
    dealer = next(known, None) if order.whom == "dealer" else None
    return list(address_of(dealer, catalog.file.maker.country)) if dealer else []


def _correct(ask: Ask) -> Response:
    """Show the lines of an order on record, to be corrected."""
    (story,) = stories_of_orders(ask.folder, [ask.part("number")])
    order, reading = story.order, story.order.reading
    by_label = {label: name for name, label in HEADS.items()}
    typed = {by_label[label]: text for label, text in reading.heads.items() if label in by_label}
    typed |= {"dealer": order.dealer, "order": reading.reference, "day": reading.dated,
              "address": reading.ship_to, "instead": order.number,
              "customer": "1" if order.whom == "customer" else ""}  # fmt: skip
    tiers = readable(ask.folder)[0].file.tiers
    typed["own-tier"] = next((key for key, x in tiers.items() if x.name == reading.tier), "")
    return _as_read(ask, [(line.sku, str(line.packs)) for line in reading.lines], typed)


def _to_order(ask: Ask) -> Response:
    """Lead back from the address of a form that was sent, which shows nothing by itself."""
    return ask.went_to(f"/shops/orders/{ask.part('number')}")


def _cancel(ask: Ask) -> Response:
    number = ask.part("number")
    try:
        cancel_order_of(ask.folder, number, ask.text("why"))
    except LabelerError as error:
        return _order_shown(ask, error.findings)
    return ask.went_to(f"/shops/orders/{number}", done="cancelled")


def _ship(ask: Ask) -> Response:
    """Ship what the form names, or show it as it is filled in."""
    number, seen = ask.part("number"), ask.text("parcels")
    typed = {name: ask.text(name) for name in ask.fields if name.startswith("lot-")}
    lots = [(of.removeprefix("lot-"), text) for of, text in typed.items() if text not in ("", "0")]
    if any(other := (ask.text("other"), ask.text("other-count"))):
        lots.append(other)
    asked: dict[str, Any] = {
        "order": number, "lots": lots, "day": ask.text("day"), "note": ask.text("note"),
        "parcels": int(seen) if is_count(seen) else -1, "ahead": bool(ask.text("ahead")),
        "even_so": bool(ask.text("even_so")), **_papers(ask),
    }  # fmt: skip
    if ask.text("look"):
        return _order_shown(ask, (), asked)
    if not (lots or asked["ahead"]):
        nothing = stop("move-count", Place(key="lots"), "nothing is moved", found="no jig",
                       expected="how many of one of the lots")  # fmt: skip
        return _order_shown(ask, (nothing,), asked)
    if lots and asked["ahead"] and dict(lots) != _ready_lots(ask, number):
        both = stop("order-ahead-or-lots", Place(), "all that is here is to go, and the "
                    "jigs of its lots were filled in besides", expected="one or the other: untick "
                    "that all goes, or leave every lot empty")  # fmt: skip
        return _order_shown(ask, (both,), asked)
    title, back = f"Ship order {number}", f"/shops/orders/{number}"
    return ask.set_to_work("ship-order", title, back, **asked)


def _ready_lots(ask: Ask, number: str) -> dict[str, str]:
    """Return the lots that the form of an order is filled in with, and the jigs of each."""
    (story,) = stories_of_orders(ask.folder, [number])
    return {code: str(packs * portion.line.pack)
            for portion in story.portions for code, packs in portion.lots}  # fmt: skip


def _papers(ask: Ask) -> dict[str, Any]:
    named = [name for name in ("slip", "invoice", "address") if ask.text(f"paper-{name}")]
    return {"papers": named, "sheet": ask.text("sheet"), "cell": ask.text("cell") or "1"}


def _again(ask: Ask) -> Response:
    """Print the papers of a parcel once more."""
    number = ask.part("number")
    return ask.set_to_work(
        "parcel-papers", f"Papers of parcel {number}", f"/shops/orders/{number}", invoice=number,
        **_papers(ask),
    )  # fmt: skip


def _of_order(kind: str, title: str) -> Any:
    def answer(ask: Ask) -> Response:
        number = ask.text("order")
        back = f"/shops/orders/{number}" if number.isdecimal() else "/shops"
        of = f" of order {number}" if number else ""
        return ask.set_to_work(kind, f"{title}{of}", back, orders=[number] if number else [])

    return answer


# ------------------------------------------------------------------------------ what comes and goes


def _parcel(ask: Ask) -> Response:
    return _parcel_shown(ask, Faults(), ask.query("slip"))


def _parcel_shown(ask: Ask, faults: Faults, key: str) -> Response:
    found: list[Parcel] = parcels_of(ask.folder, key=key) if key else []
    order = _invoices(ask).get(key)
    catalog, _ = readable(ask.folder)
    return ask.shown(
        "parcel.html.jinja", faults, parcel=found[0] if found else None, order=order, key=key,
        done=_DONE.get(ask.query("done"), ""), typed=ask.text, **shown_jigs(catalog),
        names={each.sku: f"{each.name}, {each.weight}" for each in catalog.products},
    )  # fmt: skip


def _take_back(ask: Ask) -> Response:
    """Take a parcel back that never went."""
    key, order = ask.text("slip"), ask.text("order")
    try:
        ship_mistake(ask.folder, key, ask.text("note"))
    except LabelerError as error:
        fields = {"note": "note"}
        return _parcel_shown(ask, Faults(error.findings, fields), key)
    if order.isdecimal():
        return ask.went_to(f"/shops/orders/{order}", done="back")
    return ask.went_to("/shops/parcel", slip=key, done="slip-back")


def _send(ask: Ask) -> Response:
    """Show the form for what goes out or comes back without an order."""
    asked, findings = _before(ask, "ship-lots")
    lines = "\n".join(f"{name} = {count}" for name, count in asked.get("lots", ()))
    fields = {each.rule: "lines" for each in findings}
    fields |= {"dealer-slip": "name", "move-day": "day", "day-unread": "day"}
    fields |= {each.rule: "name" for each in findings if each.place.key in ("dealer", *WHOM)}
    catalog, _ = readable(ask.folder)
    return ask.shown(
        "send.html.jinja", Faults(findings, fields), asked=asked, lines=lines or ask.query("lot"),
        dealers=[each.name for each in catalog.file.dealers.values()],
        twice=any(each.rule == "move-twice" for each in findings) or asked.get("again"),
        even_so=any(each.rule in _EVEN_SO for each in findings) or asked.get("even_so"),
    )  # fmt: skip


WHOM = get_args(Whom)
_EVEN_SO = ("move-held", "move-day", "order-left-short")

_WAYS = {
    "to": ("ship", "dealer"), "customer": ("ship", "customer"), "fair": ("ship", "fair"),
    "back": ("return", "dealer"), "scrap": ("scrap", "dealer"), "extra": ("extra", "dealer"),
}  # fmt: skip


def _send_it(ask: Ask) -> Response:
    kind, whom = _WAYS.get(ask.text("way"), _WAYS["to"])
    lots = [_row(line) for line in ask.text("lines").splitlines() if line.strip()]
    name = ask.text("name") if kind in ("ship", "return") else ""
    return ask.set_to_work(
        "ship-lots", "What goes and comes", "/shops/send", move=kind, whom=whom, name=name,
        way=ask.text("way"), lots=lots, day=ask.text("day"), note=ask.text("note"),
        again=bool(ask.text("again")), even_so=bool(ask.text("even_so")), once=ask.text("once"),
    )  # fmt: skip


# --------------------------------------------------------------------------------------- one shop


def _shop(ask: Ask) -> Response:
    """Show a shop: its orders, what went there, and the book for it."""
    asked, stopped = _before(ask, "book")
    name = ask.query("name") or str(asked.get("dealer", ""))
    catalog, _ = readable(ask.folder)
    dealer = find_named(catalog.file.dealers, name)
    address = address_of(dealer, catalog.file.maker.country) if dealer else ()
    orders = [x for x in orders_of(ask.folder, every=True)[0] if fold(x.dealer) == fold(name)]
    parcels = parcels_of(ask.folder, dealer=name, most=_LATELY) if name else []
    fields = {"sku-unknown": "only", "sku-several": "only", "day-unread": "day"}
    return ask.shown(
        "shop.html.jinja", Faults(stopped, fields), name=dealer.name if dealer else name,
        dealer=dealer, address=address, orders=orders[::-1],
        parcels=parcels, invoices=_invoices(ask), tiers=catalog.file.tiers, asked=asked,
        stopped=any(each.rule == "not-passed" for each in stopped), value=_value,
        lots=_with(ask, name) if parcels else 0,
        own=catalog.file.tiers.get(dealer.tier or "") if dealer else None,
    )  # fmt: skip


def _with(ask: Ask, name: str) -> int:
    """Return how many jigs a shop has."""
    try:
        found, _ = trace_to_lots(ask.folder, name)
    except LabelerError:
        return 0
    return sum(each.count for each in found.dealers if fold(each.dealer) == fold(name))


def _before(ask: Ask, kind: str) -> tuple[Mapping[str, Any], tuple[Finding, ...]]:
    """Return what was asked of work that was not done, and why it was not."""
    again = ask.desk.works.find(ask.query("again"))
    if again is None or again.kind != kind or again.state == "done":
        return {}, ()
    return again.asked, again.findings


def _book(ask: Ask) -> Response:
    """Make the book, or only look at it; or the order form alone."""
    name, audience = ask.text("dealer"), "retail" if ask.text("retail") else "dealer"
    back = f"/shops/shop?{urlencode({'name': name})}" if name else "/shops/shop"
    only = [each.strip() for each in ask.text("only").split(",") if each.strip()]
    whose = name or ("buyers" if audience == "retail" else "shops")
    asked = {"dealer": name, "tier": ask.text("tier"), "only": only, "day": ask.text("day")}
    if ask.text("make") == "form":
        return ask.set_to_work("order-form", f"Order form for {whose}", back, **asked)
    look = ask.text("make") == "look"
    return ask.set_to_work(
        "book", f"{'A look at the book' if look else 'Book'} for {whose}", back, **asked,
        audience=audience, paper="a4" if ask.text("paper") == "a4" else "letter",
        booklet=bool(ask.text("booklet")), bleed=bool(ask.text("bleed")),
        archive=bool(ask.text("archive")), order_sheet=bool(ask.text("order_sheet")) and not look,
        prices=bool(ask.text("prices")), keystone=bool(ask.text("keystone")),
        preview=look, even_so=bool(ask.text("even_so")),
    )  # fmt: skip


PAGE = DeskPage(
    "Shops",
    (
        PageRoute("/shops", _shops),
        PageRoute("/shops/orders", _orders),
        PageRoute("/shops/orders/read", _read, post=True, most=_FORM_BYTES, files=1),
        PageRoute("/shops/orders/read", _begin_again),
        PageRoute("/shops/orders/keep", _look, post=True, settles=("/shops/orders/read",)),
        PageRoute("/shops/orders/keep", _begin_again),
        PageRoute("/shops/orders/pull", _of_order("pull-list", "Pull list"), post=True),
        PageRoute("/shops/orders/cards", _of_order("cards-to-tie", "Bench cards"), post=True),
        PageRoute("/shops/orders/{number}", _order),
        PageRoute("/shops/orders/{number}/correct", _correct),
        PageRoute("/shops/orders/{number}/cancel", _cancel, post=True),
        PageRoute("/shops/orders/{number}/ship", _ship, post=True),
        PageRoute("/shops/orders/{number}/ship", _to_order),
        PageRoute("/shops/orders/{number}/papers", _again, post=True),
        PageRoute("/shops/parcels", _parcels),
        PageRoute("/shops/parcel", _parcel),
        PageRoute("/shops/parcel/back", _take_back, post=True),
        PageRoute("/shops/send", _send),
        PageRoute("/shops/send/it", _send_it, post=True),
        PageRoute("/shops/shop", _shop),
        PageRoute("/shops/book", _book, post=True),
        PageRoute("/shops/lost", _lost, post=True),
    ),
)
