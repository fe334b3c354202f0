"""The terms: prices and when they hold, the least order, freight, returns, tax, how to order."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from labeler.book.cover import dates_of, reach
from labeler.book.edition import (
    EXCISE,
    RETAIL_BASE,
    Edition,
    PatternEntry,
    Sayings,
    alike,
    excise_on_top,
    excise_on_top_of_retail,
    excise_within,
    excise_within_retail,
    percent,
)
from labeler.book.flow import Labelled, Paragraph, Unit
from labeler.book.table import BodyRow, Cell, HeadRow, Table, TableColumn, rows_kept
from labeler.book.typesetting import Typesetter
from labeler.catalog.model import Product
from labeler.disclosures.rules import NO_LEGAL_ADVICE
from labeler.disclosures.sale import MEANS, SHORT, Verdict, may_be_sold, parts_not_asked
from labeler.findings import Place
from labeler.layout.facts import amount_text
from labeler.press.leaf import Element


def terms_units(setter: Typesetter, edition: Edition, path: tuple[Element, ...]) -> list[Unit]:
    """Return the terms, a field and its words each."""
    lists = (*path, Element("L", "terms.list"))
    units: list[Unit] = []
    for number, (name, says, link) in enumerate(_lines(edition)):
        place = Place(block=f"terms, {name.lower()}")
        units.append(
            Labelled(
                setter.words("field", name, place=place),
                setter.words("book-text", says, place=place, scale=1.08),
                (*lists, Element("LI", f"terms.{number}")),
                indent=96.0,
                gap=9.0,
                link=link,
            )
        )
    return units


def _lines(edition: Edition) -> Iterator[tuple[str, str, str]]:
    terms = edition.catalog.file.terms
    yield "Prices", f"{dates_of(edition)}. All in {edition.currency}.", ""
    if edition.for_dealers:
        yield from _dealer_lines(edition)
    else:
        yield "Quantity", "Each price is for one pack, whose count stands beside it.", ""
    excise = _excise(edition)
    if excise:
        yield "Excise tax", excise, ""
    if terms.notes:
        yield "Good to know", terms.notes, ""
    names = ("By post", "By telephone", "By e-mail", "On the web")
    ways = reach(edition.catalog.file.maker)
    kinds = {"tel:": names[1], "mailto:": names[2], "http": names[3]}
    for text, link in ways:
        name = next((said for start, said in kinds.items() if link.startswith(start)), names[0])
        yield name, text, link
    yield "No legal advice", NO_LEGAL_ADVICE, ""


def _dealer_lines(edition: Edition) -> Iterator[tuple[str, str, str]]:
    terms = edition.catalog.file.terms
    currency = edition.currency
    for tier in edition.tiers:
        packs = "pack" if tier.at_least == 1 else "packs"
        says = (
            f"{percent(tier.off)} off the suggested retail price on orders of {tier.at_least:,} "
            f"{packs} or more, to the nearest {amount_text(tier.round_to, currency)}."
        )
        yield f"{tier.name} prices", says, ""
    yield (
        "Margin and keystone",
        (
            "Margin is what the shop keeps of the suggested retail price. Keystone is twice the "
            "dealer price; it is shown so that you can set a price of your own."
        ),
        "",
    )
    if terms.minimum is not None:
        yield "Least order", f"{amount_text(terms.minimum, currency)} at dealer prices.", ""
    carried = (("Lead time", terms.lead_time), ("Freight", terms.freight),
              ("Payment", terms.payment), ("Returns", terms.returns))  # fmt: skip
    for name, words in carried:
        if words:
            yield name, words, ""


def _at_retail(edition: Edition, product: Product) -> str:
    """Return the arithmetic for a maker who sells at retail only; else nothing.

    Whoever sells to shops too reckons the tax on retail sales by what those pay, which is nobody's
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


def _excise(edition: Edition) -> str:
    """Return the statement on the federal excise tax, with the arithmetic on one price."""
    sayings = Sayings(edition)
    said = next((text for text in map(sayings.excise, edition.products) if text), "")
    product = next((p for p in edition.products if p.price is not None), None)
    if not said or product is None:
        return said
    if not edition.for_dealers:
        return f"{said} {_at_retail(edition, product)}".strip()
    price = edition.price(product, edition.tiers[0])
    assert price is not None  # a product with a retail price has a dealer price
    shown = amount_text(price, edition.currency)
    rate = percent(EXCISE)
    if edition.catalog.file.terms.excise == "included":
        within = amount_text(excise_within(price), edition.currency)
        return (
            f"{said} The tax is {rate} of the price without it, so 10/110 of the price here: of "
            f"{shown} for {product.sku}, {within} is tax."
        )
    tax, whole = excise_on_top(price), price + excise_on_top(price)
    return (
        f"{said} It comes on top, at {rate}: {shown} for {product.sku} and "
        f"{amount_text(tax, edition.currency)} of tax make {amount_text(whole, edition.currency)}. "
        "The margins shown are reckoned without it."
    )


# ----------------------------------------------------------------------------
# Materials and markets: what holds lead, and where each pattern may be sold.

_POINTS = "Numbers point to the notes below; a question mark, to what the catalog does not tell."
_ABREAST = 8


class Markets:
    """The verdicts of an edition, each looked up once for all products that are alike."""

    def __init__(
        self, setter: Typesetter, edition: Edition, entries: Sequence[PatternEntry]
    ) -> None:
        self.setter, self.edition, self.entries = setter, edition, entries
        sold = dict.fromkeys(market for p in edition.products for market in p.markets)
        if edition.dealer and edition.dealer.market:
            sold[edition.dealer.market] = None
        self.markets = [*sold, *parts_not_asked(tuple(sold))]
        self._known: dict[object, tuple[Verdict, ...]] = {}
        self.notes: dict[str, int] = {}

    def verdicts(self, product: Product) -> tuple[Verdict, ...]:
        """Return what each market makes of the product."""
        key = alike(product)
        if key not in self._known:
            self._known[key] = tuple(
                may_be_sold(product, market, self.edition.day) for market in self.markets
            )
        return self._known[key]

    def _said(self, verdict: Verdict) -> str:
        doubt = "" if verdict.certain else "?"
        numbers = [self.notes.setdefault(one.about, len(self.notes) + 1) for one in verdict.reasons]
        listed = ",\N{NO-BREAK SPACE}".join(map(str, sorted(numbers)))
        return f"{SHORT[verdict.status]}{doubt} {listed}".strip()

    def rows(self) -> Iterator[tuple[str, list[str]]]:
        """Yield a row for each pattern, or for each of its weights where they differ."""
        for entry in self.entries:
            by_verdict: dict[tuple[str, ...], list[Product]] = {}
            for product in entry.products:
                said = tuple(self._said(verdict) for verdict in self.verdicts(product))
                by_verdict.setdefault(said, []).append(product)
            for said, products in by_verdict.items():
                name = entry.pattern.name
                if len(by_verdict) > 1:
                    weights = dict.fromkeys(str(product.weight) for product in products)
                    name = f"{name}, {', '.join(weights)}"
                yield name, list(said)

    def units(self, path: tuple[Element, ...], small: bool) -> list[Unit]:
        """Return materials, tables of markets side by side, notes and the closing sentence."""
        units: list[Unit] = [*self._materials(path)]
        units.append(self._heading("Where it may be sold", path, "where"))
        rows = list(self.rows())
        abreast = 5 if small else _ABREAST
        count = -(-len(self.markets) // abreast)
        each = -(-len(self.markets) // count)
        for number, first in enumerate(range(0, len(self.markets), each)):
            units += self._table(
                rows, first, first + each, (*path, Element("Table", f"markets.{number}"))
            )
        means = [f"{SHORT[status]}: {says}." for status, says in MEANS.items()]
        units.append(self._note(" ".join([*means, _POINTS]), path, "means"))
        for about, number in self.notes.items():
            units.append(self._note(f"{number}  {about}", path, f"note{number}", gap=2.4))
        units[-1].keep = True
        units.append(self._note(NO_LEGAL_ADVICE, path, "advice", gap=6))
        return units

    def _heading(self, text: str, path: tuple[Element, ...], key: str) -> Paragraph:
        words = self.setter.words("book-heading", text, scale=0.8)
        return Paragraph(words, (*path, Element("H2", f"markets.{key}")), gap=14, keep=True)

    def _note(self, text: str, path: tuple[Element, ...], key: str, gap: float = 8) -> Paragraph:
        words = self.setter.words("note", text, place=Place(block="materials and markets"))
        return Paragraph(words, (*path, Element("P", f"markets.{key}")), gap=gap)

    def _table(
        self, rows: Sequence[tuple[str, list[str]]], first: int, last: int,
        path: tuple[Element, ...],
    ) -> list[Unit]:  # fmt: skip
        def words(style: str, text: str) -> Cell:
            place = Place(block="table of markets")
            return Cell(self.setter.words(style, text, place=place, scale=0.9))

        columns = [TableColumn(words("field", "Pattern").words, spare=2.2, least=70.0)]
        columns += [TableColumn(words("field", market).words, spare=1.0, least=24.0)
                    for market in self.markets[first:last]]  # fmt: skip
        table = Table(columns, path)
        head = HeadRow(table)
        head.gap = 8.0
        made: list[BodyRow | object] = []
        for number, (name, said) in enumerate(rows):
            cells = [
                words("book-cell", name),
                *(words("book-cell", one) for one in said[first:last]),
            ]
            table.row(cells)
            made.append(BodyRow(table, cells, f"r{number}", head=head))
        rows_kept([row for row in made if isinstance(row, BodyRow)])
        return [head, *(row for row in made if isinstance(row, BodyRow))]

    def _materials(self, path: tuple[Element, ...]) -> Iterator[Unit]:
        """Yield a line for each material of the heads, hooks and dressings, lead first."""
        yield self._heading("What it is made of", path, "materials")
        found: dict[str, tuple[str, bool]] = {}
        for entry in self.entries:
            for product in entry.colourways:
                for name, material in product.materials.items():
                    if name not in found:
                        made = ", ".join(
                            f"{float(share * 100):g}\N{NO-BREAK SPACE}% {substance}"
                            for substance, share in material.composition.items()
                        )
                        lead = material.lead_share > 0
                        says = f"{material.kind}{': ' + made if made else ''}"
                        found[name] = (f"{says}. Contains lead." if lead else says, lead)
                        found[name] = (f"{material.name}\n{found[name][0]}", lead)
        ordered = sorted(found.items(), key=lambda one: not one[1][1])
        for number, (key, (text, lead)) in enumerate(ordered):
            name, says = text.split("\n", 1)
            place = Place(block=f"material {key}")
            yield Labelled(
                self.setter.words("book-figure" if lead else "book-cell", name, place=place),
                self.setter.words("book-figure" if lead else "book-cell", says, place=place),
                (*path, Element("L", "markets.list"), Element("LI", f"markets.material.{key}")),
                indent=130.0, gap=2.0 if number else 6.0,
            )  # fmt: skip
