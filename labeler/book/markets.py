"""Materials and markets: what holds lead, and where each pattern may be sold."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from labeler.book.edition import Edition
from labeler.book.entries import Entry
from labeler.book.flow import Unit
from labeler.book.said import alike
from labeler.book.setter import Setter
from labeler.book.table import BodyRow, Cell, Column, HeadRow, Table, rows_kept
from labeler.book.units import Labelled, Paragraph
from labeler.catalog.model import Product
from labeler.disclosures.rules import NO_LEGAL_ADVICE
from labeler.disclosures.sale import Verdict, may_be_sold, parts_not_asked
from labeler.disclosures.sale_words import MEANS, SHORT
from labeler.findings import Place
from labeler.press.leaf import Element

_POINTS = "Numbers point to the notes below; a question mark, to what the catalog does not tell."
_ABREAST = 8


class Markets:
    """The verdicts of an edition, each looked up once for all products that are alike."""

    def __init__(self, setter: Setter, edition: Edition, entries: Sequence[Entry]) -> None:
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

        columns = [Column(words("field", "Pattern").words, spare=2.2, least=70.0)]
        columns += [Column(words("field", market).words, spare=1.0, least=24.0)
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
