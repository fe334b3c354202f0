"""The terms, how to order, and what the patterns are made of and where each may be sold."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from labeler.book.context import BookContext
from labeler.book.edition import Edition, alike, contact_ways, dates_of
from labeler.book.flow import Labelled, Paragraph, Unit
from labeler.book.prices import (
    EXCISE,
    RETAIL_BASE,
    excise_on_top,
    excise_on_top_of_retail,
    excise_within,
    excise_within_retail,
    percent,
)
from labeler.book.table import BodyRow, BookTable, Cell, HeadRow, TableColumn, keep_rows_company
from labeler.book.typesetting import StructurePath
from labeler.catalog.model import Material, Product
from labeler.disclosures.rules import NO_LEGAL_ADVICE
from labeler.disclosures.sale import MEANS, SHORT, Verdict, may_be_sold, parts_not_asked
from labeler.findings import Place
from labeler.layout.facts import amount_text
from labeler.marks import Element

_WAYS = {"tel:": "By telephone", "mailto:": "By e-mail", "http": "On the web", "": "By post"}
"""What a way to reach the maker is called, by how its link begins."""


def terms_units(book: BookContext, path: StructurePath) -> list[Unit]:
    """Return the terms, a field and its words each: prices, orders, freight, returns, tax."""
    lists = (*path, Element("L", "terms.list"))
    units: list[Unit] = []
    for number, (name, words, link) in enumerate(_terms(book)):
        place = Place(block=f"terms, {name.lower()}")
        units.append(
            Labelled(
                book.setter.words("field", name, place=place),
                book.setter.words("book-text", words, place=place, scale=1.08),
                (*lists, Element("LI", f"terms.{number}")),
                96.0,
                gap=9.0 if number else 14.0,
                link=link,
            )
        )
    return units


def _terms(book: BookContext) -> Iterator[tuple[str, str, str]]:
    """Yield each field's name, its words, and where they lead, if anywhere."""
    edition = book.edition
    terms = edition.catalog.file.terms
    texts = [("Prices", f"{dates_of(edition)}. All in {edition.currency}.")]
    if edition.for_dealers:
        texts += _dealer_terms(edition)
    else:
        texts += [("Quantity", "Each price is for one pack, whose count stands beside it.")]
    texts += [("Excise tax", _excise(book)), ("Good to know", terms.notes or "")]
    yield from ((name, words, "") for name, words in texts if words)
    for text, link in contact_ways(edition.catalog.file.maker):
        yield next(name for start, name in _WAYS.items() if link.startswith(start)), text, link
    yield "No legal advice", NO_LEGAL_ADVICE, ""


def _dealer_terms(edition: Edition) -> Iterator[tuple[str, str]]:
    terms, currency = edition.catalog.file.terms, edition.currency
    for tier in edition.tiers:
        packs = "pack" if tier.at_least == 1 else "packs"
        says = (
            f"{percent(tier.off)} off the suggested retail price on orders of {tier.at_least:,} "
            f"{packs} or more, to the nearest {amount_text(tier.round_to, currency)}."
        )
        yield f"{tier.name} prices", says
    says = (
        "Margin is what the shop keeps of the suggested retail price. Keystone is twice the "
        "dealer price; it is shown so that you can set a price of your own."
    )
    yield "Margin and keystone", says
    if terms.minimum is not None:
        yield "Least order", f"{amount_text(terms.minimum, currency)} at dealer prices."
    yield "Lead time", terms.lead_time or ""
    yield "Freight", terms.freight or ""
    yield "Payment", terms.payment or ""
    yield "Returns", terms.returns or ""


def _excise(book: BookContext) -> str:
    """Return the statement on the federal excise tax, with the arithmetic on one price."""
    edition = book.edition
    statement = next(filter(None, map(book.statements.excise, edition.products)), "")
    product = next((p for p in edition.products if p.price is not None), None)
    if not statement or product is None:
        return statement
    if not edition.for_dealers:
        return f"{statement} {_excise_at_retail(edition, product)}".strip()
    price = edition.price(product, edition.tiers[0])
    assert price is not None  # a product with a retail price has a dealer price
    shown = amount_text(price, edition.currency)
    rate = percent(EXCISE)
    if edition.catalog.file.terms.excise == "included":
        within = amount_text(excise_within(price), edition.currency)
        return (
            f"{statement} The tax is {rate} of the price without it, so 10/110 of the price here: "
            f"of {shown} for {product.sku}, {within} is tax."
        )
    tax = excise_on_top(price)
    added, whole = (amount_text(each, edition.currency) for each in (tax, price + tax))
    return (
        f"{statement} It comes on top, at {rate}: {shown} for {product.sku} and {added} of tax "
        f"make {whole}. The margins shown leave it out."
    )


def _excise_at_retail(edition: Edition, product: Product) -> str:
    """Return the arithmetic for a maker who sells at retail only; else nothing.

    Whoever sells to shops too is taxed on retail sales by what those pay, which is nobody's
    matter here.
    """
    file = edition.catalog.file
    if file.tiers or file.dealers or product.price is None:
        return ""
    price, shown = product.price, amount_text(product.price, edition.currency)
    rate, share = percent(EXCISE), percent(RETAIL_BASE)
    base = f"We sell at retail only, so it is {rate} of {share} of the price without it"
    if file.terms.excise == "included":
        tax = amount_text(excise_within_retail(price), edition.currency)
        return f"{base}, 6/106 of the price here: of {shown} for {product.sku}, {tax} is tax."
    on_top = excise_on_top_of_retail(price)
    added, whole = (amount_text(each, edition.currency) for each in (on_top, price + on_top))
    return f"{base}: {shown} for {product.sku} and {added} of tax make {whole}."


_POINTS = "Numbers point to the notes below; a question mark, to what the catalog does not tell."


def market_units(book: BookContext, path: StructurePath) -> list[Unit]:
    """Return materials, tables of markets side by side, notes and the closing sentence."""

    def heading(text: str, key: str) -> Paragraph:
        words = book.setter.words("book-heading", text, scale=0.8)
        return Paragraph(words, (*path, Element("H2", f"markets.{key}")), gap=14, keep=True)

    def note(text: str, key: str, gap: float = 8) -> Paragraph:
        words = book.setter.words("note", text, place=Place(block="materials and markets"))
        return Paragraph(words, (*path, Element("P", f"markets.{key}")), gap=gap)

    units: list[Unit] = [heading("What it is made of", "materials"), *_materials(book, path)]
    units.append(heading("Where it may be sold", "where"))
    markets = _markets(book.edition)
    rows, notes = _verdict_rows(book, markets)
    tables = -(-len(markets) // (5 if book.edition.small else 8))
    each = -(-len(markets) // tables)
    for number, first in enumerate(range(0, len(markets), each)):
        part = slice(first, first + each)
        cells = [(name, verdicts[part]) for name, verdicts in rows]
        table_path = (*path, Element("Table", f"markets.{number}"))
        units += _market_table(book, markets[part], cells, table_path)
    means = [f"{SHORT[status]}: {says}." for status, says in MEANS.items()]
    units.append(note(" ".join([*means, _POINTS]), "means"))
    units += [note(f"{n}  {about}", f"note{n}", 2.4) for n, about in enumerate(notes, 1)]
    units[-1].keep = True
    units.append(note(NO_LEGAL_ADVICE, "advice", 6))
    return units


def _materials(book: BookContext, path: StructurePath) -> Iterator[Unit]:
    """Yield a line for each material of the heads, hooks and dressings, lead first."""
    products = [product for entry in book.entries for product in entry.colourways]
    found: dict[str, Material] = {}
    for product in products:
        for key, material in product.materials.items():
            found.setdefault(key, material)
    ordered = sorted(found.items(), key=lambda one: one[1].lead_share <= 0)
    for number, (key, material) in enumerate(ordered):
        made = ", ".join(
            f"{float(share * 100):g}\N{NO-BREAK SPACE}% {substance}"
            for substance, share in material.composition.items()
        )
        says = f"{material.kind}{': ' + made if made else ''}"
        style = "book-cell"
        if material.lead_share > 0:
            says, style = f"{says}. Contains lead.", "book-figure"
        place = Place(block=f"material {key}")
        yield Labelled(
            book.setter.words(style, material.name, place=place),
            book.setter.words(style, says, place=place),
            (*path, Element("L", "markets.list"), Element("LI", f"markets.material.{key}")),
            130.0, gap=2.0 if number else 6.0,
        )  # fmt: skip


def _markets(edition: Edition) -> list[str]:
    """Return where the line is sold, the dealer's market, and parts of both not asked for."""
    sold = dict.fromkeys(market for p in edition.products for market in p.markets)
    if edition.dealer and edition.dealer.market:
        sold[edition.dealer.market] = None
    return [*sold, *parts_not_asked(tuple(sold))]


def _verdict_rows(
    book: BookContext, markets: Sequence[str]
) -> tuple[list[tuple[str, tuple[str, ...]]], list[str]]:
    """Return what each market makes of each pattern, and the notes that the verdicts point to.

    A row is a pattern, or some of its weights where they differ, with a verdict a market. Each
    verdict is looked up once for all products that are alike.
    """
    notes: dict[str, int] = {}
    known: dict[object, tuple[str, ...]] = {}

    def short(verdict: Verdict) -> str:
        numbers = sorted(notes.setdefault(one.about, len(notes) + 1) for one in verdict.reasons)
        doubt = "" if verdict.certain else "?"
        listed = ",\N{NO-BREAK SPACE}".join(map(str, numbers))
        return f"{SHORT[verdict.status]}{doubt} {listed}".strip()

    rows = []
    for entry in book.entries:
        by_verdict: dict[tuple[str, ...], list[Product]] = {}
        for product in entry.products:
            key = alike(product)
            if key not in known:
                day = book.edition.day
                known[key] = tuple(short(may_be_sold(product, market, day)) for market in markets)
            by_verdict.setdefault(known[key], []).append(product)
        for verdicts, products in by_verdict.items():
            name = entry.pattern.name
            if len(by_verdict) > 1:
                name += f", {', '.join(dict.fromkeys(str(p.weight) for p in products))}"
            rows.append((name, verdicts))
    return rows, list(notes)


def _market_table(
    book: BookContext, markets: Sequence[str], rows: Sequence[tuple[str, Sequence[str]]],
    path: StructurePath,
) -> list[Unit]:  # fmt: skip
    def cell(text: str, style: str = "book-cell") -> Cell:
        place = Place(block="table of markets")
        return Cell(book.setter.words(style, text, place=place, scale=0.9))

    columns = [TableColumn(cell("Pattern", "field").words, spare=2.2, least=70.0)]
    columns += [TableColumn(cell(market, "field").words, spare=1.0, least=24.0)
                for market in markets]  # fmt: skip
    table = BookTable(columns, path)
    head = HeadRow(table, gap=8.0)
    body = [
        BodyRow(table, [cell(name), *map(cell, verdicts)], f"r{number}", head=head)
        for number, (name, verdicts) in enumerate(rows)
    ]
    keep_rows_company(body)
    return [head, *body]
