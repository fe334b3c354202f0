"""Line: what the maker makes, pattern by pattern, and the ways to change it."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal

from starlette.responses import Response

from labeler.app.line import earlier_versions, put_back
from labeler.app.workstation import clocks, ledger_location
from labeler.catalog.model import Catalog, Pattern, Product
from labeler.catalog.read import readable
from labeler.desk.page import Ask, DeskPage, PageRoute
from labeler.desk.pages import entries, photos, prices, recipe
from labeler.desk.pages.figures import shown_jigs
from labeler.desk.pages.tonight import Plate, plates
from labeler.layout.facts import amount_text

_OPEN = 12
"""Patterns whose colors lie open; of a longer line each is opened by its name."""

_MOST = 60
"""Colors that a search shows."""


@dataclass(frozen=True, slots=True)
class Shown:
    """A pattern with its colors, by their headings."""

    key: str
    pattern: Pattern
    colours: dict[str, Plate]
    currency: str

    @property
    def weights(self) -> str:
        """Its weights in one line, the unit said once where it is one."""
        weights = list(dict.fromkeys(str(p.weight) for c in self.colours.values()
                                     for p in c.products))  # fmt: skip
        units = {each.rpartition(" ")[2] for each in weights}
        if len(units) > 1:
            return ", ".join(weights)
        return f"{', '.join(each.rpartition(' ')[0] for each in weights)} {''.join(units)}"

    @property
    def prices(self) -> str:
        """What it costs."""
        return price_range(
            [product for plate in self.colours.values() for product in plate.products],
            self.currency,
        )


def price_range(products: Sequence[Product], currency: str) -> str:
    """Return what products cost, from the cheapest to the dearest; "no price" where none has."""
    prices = [product.price for product in products if product.price is not None]
    if not prices:
        return "no price"
    low, high = (amount_text(Decimal(one), currency) for one in (min(prices), max(prices)))
    return low if low == high else f"{low} to {high}"


def shown_line(catalog: Catalog) -> list[Shown]:
    """Return the patterns of which something is sold, in the catalog's order."""
    patterns = {one.name: (key, one) for key, one in reversed(catalog.file.patterns.items())}
    colours = {one.name: key for key, one in reversed(catalog.file.colours.items())}
    return [
        Shown(*patterns[name], {colours[colour]: plate for colour, plate in found.items()},
              catalog.file.sale.currency)
        for name, found in plates(catalog.products).items()
    ]  # fmt: skip


def _line(ask: Ask) -> Response:
    """Show the line."""
    catalog, findings = readable(ask.folder)
    line = shown_line(catalog)
    asked = ask.query("q").casefold().split()
    found = [one for one in (_fitting(each, asked) for each in line) if one] if asked else line
    room, opened = _MOST, set[str]()
    for each in found:
        if len(line) <= _OPEN or (asked and room > 0):
            opened.add(each.key)
            room -= len(each.colours)
    file = catalog.file
    used = {product.colour.code for product in catalog.products}
    return ask.shown(
        "line.html.jinja", line=found, opened=opened, **shown_jigs(catalog),
        whole=len(line), file=file, products=len(catalog.products), findings=findings,
        proposed={key: one for key, one in file.colours.items() if one.proposed and one.layers
                  and one.code in used},
        was=recipe.proofs(ask), done=_DONE.get(ask.query("done"), ""), taken=ask.query("taken"),
        sheet=re.split(r"[\\/]", file.spreadsheet.file)[-1] if file.spreadsheet else "",
    )  # fmt: skip


_DONE = {"back": "It is as it was. What stood there is kept among the earlier versions."}


def _fitting(shown: Shown, asked: Sequence[str]) -> Shown | None:
    """Return a pattern with those of its colors that hold all the words; None if none does."""
    found = {
        key: plate for key, plate in shown.colours.items()
        if all(word in _words_of(plate) for word in asked)
    }  # fmt: skip
    return Shown(shown.key, shown.pattern, found, shown.currency) if found else None


def _words_of(plate: Plate) -> str:
    one = plate.products[0]
    skus = " ".join(product.sku for product in plate.products)
    return f"{one.pattern.name} {one.pattern.kind} {one.colour.name} {skus}".casefold()


# -------------------------------------------------------------------------------- earlier versions


def _versions(ask: Ask) -> Response:
    """Show what is kept of the catalog."""
    kept = earlier_versions(ask.folder)
    when = clocks(ledger_location(ask.folder), [one.until for one in kept])
    return ask.shown(
        "versions.html.jinja",
        lines=[
            (one.code, at, [_called(each) for each in one.about])
            for one, at in zip(kept, when, strict=True)
        ],
    )


def _called(entry: str) -> str:
    """Return what a maker calls an entry of the catalog file."""
    table, _, key = entry.partition(".")
    word = {"colours": "color", "colors": "color", **entries.ONE}.get(table.strip(), table.strip())
    name = key.strip(" \"'")
    return f"{word} {name}".strip()


def _back(ask: Ask) -> Response:
    """Put an earlier version back."""
    put_back(ask.folder, ask.text("code"))
    to, _, of = ask.text("to").partition("?")
    if to in ("/line/color", "/line/pattern") and of:
        return ask.went_to(to, of=of, saved="back")
    if to in ("/line/parts", "/line/prices", "/line/photos"):
        return ask.went_to(to, saved="back")
    return ask.went_to("/line", done="back")


PAGE = DeskPage(
    "Line",
    (
        PageRoute("/line", _line),
        PageRoute("/line/versions", _versions),
        PageRoute("/line/versions", _back, post=True),
        *recipe.PLACES,
        *entries.PLACES,
        *prices.PLACES,
        *photos.PLACES,
    ),
)
