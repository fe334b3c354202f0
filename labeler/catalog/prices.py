"""Changing the prices of a line: how a change is said, where each price stands, what is written.

A price stands in one of four places, the first that gives one holding: in ``[[prices]]``, from a
day on; in a cell of the spreadsheet; under a weight in the pattern's ``prices``; in its ``price``.
"""

from __future__ import annotations

import csv
import datetime as dt
import io
import json
import math
import re
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field, replace
from decimal import Decimal
from fnmatch import fnmatchcase
from fractions import Fraction
from pathlib import Path
from typing import Any

from labeler.catalog.edit import DONE, changed, csv_to_edit, put, spliced, there
from labeler.catalog.model import Catalog, DatedPrices, Product, dated_price
from labeler.catalog.spreadsheet.cells import CellError, read_price
from labeler.findings import LabelerError, Place, a_few, as_written, stop
from labeler.tomlfile import KeyPath, TomlFile
from labeler.units import Weight

DEAREST = Decimal(999_999)
"""What a catalog takes as a price at most: six digits and their cents."""

CENT = Decimal("0.01")


@dataclass(frozen=True, slots=True)
class PriceRule:
    """How a price becomes another: a share, an amount or a price; and to what it is rounded.

    Attributes:
        share: what is added, as a part of the price.
        amount: what is added, in money.
        to: the price it becomes, whatever it was.
        step: to the nearest multiple of this it is rounded, half up.
        endings: to the nearest price that ends so it is rounded instead, the dearer of two as near.
    """

    share: Fraction = Fraction(0)
    amount: Decimal = Decimal(0)
    to: Decimal | None = None
    step: Decimal = CENT
    endings: tuple[Decimal, ...] = ()

    def apply(self, price: Decimal | None) -> Decimal | None:
        """Return what a price becomes, -1 for any below 0; None where there is no price."""
        if self.to is None and price is None:
            return None
        exact = Fraction(self.to if self.to is not None else price or 0)
        if self.to is None:
            exact = exact * (1 + self.share) + Fraction(self.amount)
        if exact < 0:
            return Decimal(-1)
        if self.endings:
            return _nearest(exact, self.endings)
        steps = math.floor(exact / Fraction(self.step) + Fraction(1, 2))
        return _plain(steps * self.step)


def _nearest(exact: Fraction, endings: Iterable[Decimal]) -> Decimal:
    """Return the nearest price of 0 or more with one of the endings, the dearer of two as near."""
    whole = math.floor(exact)
    near = (
        Decimal(whole + more) + ending
        for more in (-1, 0, 1)
        for ending in endings
        if whole + more >= 0
    )
    return _plain(min(near, key=lambda one: (abs(Fraction(one) - exact), -one)))


def _plain(amount: Decimal) -> Decimal:
    """Return an amount with its cents, and with no places that say nothing beyond them."""
    cents = amount.quantize(CENT)
    return cents if cents == amount else amount.normalize()


_AMOUNT = r"(\d{1,6}(?:\.\d{1,4})?)"


def read_rule(text: str, step: str = "", ending: str = "") -> PriceRule:
    """Return the rule that words mean: ``+5 %``, ``-10 %``, ``+0.25``, ``-0.25`` or ``= 5.49``.

    Args:
        text: the change.
        step: to what it is rounded, such as ``0.05``; the cent if left out.
        ending: how prices end, such as ``.49/.99``.

    Raises:
        LabelerError: with all that can't be understood.
    """
    faults = []
    found = re.fullmatch(rf"\s*([+=-])\s*{_AMOUNT}\s*(%?)\s*", text.replace("\N{MINUS SIGN}", "-"))
    if not found or (found[1] == "=" and found[3]):
        faults.append(stop(
            "price-change-unread", Place(key="change"), "this does not say how prices change",
            found=as_written(text), expected='"+5 %", "-10 %", "+0.25", "-0.25" or "= 5.49"',
        ))  # fmt: skip
    steps = re.fullmatch(rf"\s*{_AMOUNT}\s*", step) if step else None
    if step and not (steps and Decimal(steps[1])):
        faults.append(stop(
            "price-rounding-unread", Place(key="round"), "this is nothing to round to",
            found=as_written(step), expected="an amount such as 0.05",
        ))  # fmt: skip
    ends = [part.strip() for part in ending.split("/")] if ending else []
    if not all(re.fullmatch(r"0?\.\d{1,2}", part) for part in ends):
        faults.append(stop(
            "price-rounding-unread", Place(key="ending"), "prices can't end so",
            found=as_written(ending), expected=".99, or .49/.99",
        ))  # fmt: skip
    if step and ending:
        faults.append(stop(
            "price-rounding-twice", Place(key="round"),
            "prices are rounded to a step or to an ending, not to both", found=f"{step}, {ending}",
        ))  # fmt: skip
    if faults or not found:
        raise LabelerError(faults)
    amount = Decimal(found[2])
    rule = PriceRule(
        step=Decimal(steps[1]) if steps else CENT, endings=tuple(Decimal(part) for part in ends)
    )
    if found[1] == "=":
        return replace(rule, to=amount)
    signed = -amount if found[1] == "-" else amount
    return replace(rule, share=Fraction(signed) / 100) if found[3] else replace(rule, amount=signed)


@dataclass(frozen=True, slots=True)
class PriceMove:
    """The price of one product, before and after."""

    product: Product
    old: Decimal | None
    new: Decimal


def moves(rule: PriceRule, products: Iterable[Product]) -> list[PriceMove]:
    """Return what a rule changes; a product without a price has none to raise.

    Raises:
        LabelerError: with every price that would fall below 0 or grow beyond what a catalog takes.
    """
    found: list[PriceMove] = []
    odd: dict[str, list[Product]] = {}
    for product in products:
        new = rule.apply(product.price)
        if new is None or new == product.price:
            continue
        if not 0 <= new <= DEAREST:
            why = "the price would fall below 0" if new < 0 else "the price would be too high"
            odd.setdefault(why, []).append(product)
        else:
            found.append(PriceMove(product, product.price, new))
    if odd:
        raise LabelerError(
            stop("price-out-of-range", Place(key="change"), why,
                 found=a_few([f"{one.sku} at {one.price}" for one in those], 3),
                 expected=f"a price from 0 to {DEAREST:,}")
            for why, those in odd.items()
        )  # fmt: skip
    return found


@dataclass(slots=True)
class PriceEdits:
    """Where new prices are to be written.

    Attributes:
        keys: keys of the catalog file, each with its price.
        season: the days of the entry of ``[[prices]]`` that is to be written; None for no entry.
        dated: what is to stand in it, SKU or SKUs to price. A new price is written for each SKU: a
            name for many would give it to products that come later and were never shown.
        was: the prices that those replace, by SKU.
        cells: cells of the spreadsheet, each with its old and new price and its SKU.
    """

    keys: dict[KeyPath, Decimal] = field(default_factory=dict)
    season: tuple[dt.date, dt.date | None] | None = None
    dated: dict[str, Decimal] = field(default_factory=dict)
    was: dict[str, Decimal] = field(default_factory=dict)
    cells: dict[Place, PriceMove] = field(default_factory=dict)


def place_in_season(
    catalog: Catalog, changed: Iterable[PriceMove], season: tuple[dt.date, dt.date | None]
) -> PriceEdits:
    """Return the entry of ``[[prices]]`` that keeps prices of a season, with what it had before."""
    there = next((one for one in catalog.file.prices if _days(one) == season), None)
    prices = {move.product.sku: move.new for move in changed}
    every = [product.sku for product in catalog.products]

    def kept(name: str) -> bool:
        fitting = [sku for sku in every if fnmatchcase(sku, name.upper())]
        return not fitting or any(sku not in prices for sku in fitting)

    old = {name: price for name, price in (there.skus if there else {}).items() if kept(name)}
    own = {
        product.sku: price
        for product in catalog.products
        if product.sku in prices and (price := catalog.own_price(product)) is not None
    }
    before = {sku: price for sku, price in (there.was if there else {}).items() if sku in old}
    return PriceEdits(season=season, dated=old | prices, was=before | own)


def place_at_once(catalog: Catalog, changed: Iterable[PriceMove], day: dt.date) -> PriceEdits:
    """Return where new prices are to be written that hold at once.

    Each where the old one stands, if all that share it change; else beside it, under its weight or
    from today on.
    """
    new = {move.product.sku: move for move in changed}
    homes: dict[KeyPath | Place, list[Product]] = {}
    for product in catalog.products:
        homes.setdefault(_home(catalog, product, day), []).append(product)
    edits = PriceEdits()
    rest: list[PriceMove] = []
    for home, products in homes.items():
        moved = [new[product.sku] for product in products if product.sku in new]
        if not moved:
            continue
        if isinstance(home, Place):
            edits.cells[home] = moved[0]
        elif len(moved) == len(products) and len({move.new for move in moved}) == 1:
            edits.keys[home] = moved[0].new
        elif home[0] == "prices":
            edits.keys.update({(*home[:-1], move.product.sku): move.new for move in moved})
        elif home[-1] == "price":
            rest += _by_weight(home, products, moved, edits)
        else:
            rest += moved
    if rest:
        season = place_in_season(catalog, rest, (day, None))
        return replace(season, keys=edits.keys, cells=edits.cells)
    return edits


def _by_weight(
    home: KeyPath, products: Iterable[Product], moved: Iterable[PriceMove], edits: PriceEdits
) -> Iterator[PriceMove]:
    """Note down what whole weights of a pattern come to cost; yield what is left."""
    size: dict[Weight, int] = {}
    for product in products:
        size[product.weight] = size.get(product.weight, 0) + 1
    by: dict[Weight, list[PriceMove]] = {}
    for move in moved:
        by.setdefault(move.product.weight, []).append(move)
    for weight, ones in by.items():
        if len(ones) == size[weight] and len({move.new for move in ones}) == 1:
            edits.keys[(*home[:-1], "prices", str(weight))] = ones[0].new
        else:
            yield from ones


def _home(catalog: Catalog, product: Product, day: dt.date) -> KeyPath | Place:
    """Return where the price of a product stands: keys of the catalog file, or a cell."""
    if dated := dated_price(catalog.file.prices, product.sku, day):
        return ("prices", dated[0], "skus", dated[1])
    if product.sku in catalog.priced_in:
        return catalog.priced_in[product.sku]
    if product.parts:
        named = next(n for n, one in catalog.file.packs.items() if one.code == product.sku)
        return ("packs", named, "price")
    called = product.pattern.code, product.pattern.name
    name, pattern = next(
        (n, one) for n, one in catalog.file.patterns.items() if (one.code, one.name) == called
    )
    weight = next((w for w in pattern.prices if Weight.parse(w) == product.weight), None)
    return ("patterns", name, "price") if weight is None else ("patterns", name, "prices", weight)


def _days(prices: DatedPrices) -> tuple[dt.date, dt.date | None]:
    return prices.first_day, prices.last_day


def rewrite_prices(source: TomlFile, edits: PriceEdits) -> bytes:
    """Return the catalog file with new prices, its comments and all other keys as they are.

    Raises:
        LabelerError: if the file can't be edited.
    """

    def change(document: Any) -> None:
        for path, price in edits.keys.items():
            put(document, path, str(price))
        if edits.season is not None:
            _write_season(document, edits)

    return changed(source, change)


def _write_season(document: Any, edits: PriceEdits) -> None:
    import tomlkit
    from tomlkit.items import AoT

    assert edits.season is not None
    first, last = edits.season
    entries = document.get("prices")
    inline = entries is not None and not isinstance(entries, AoT)
    made: dict[str, Any] = {}
    for name, of in (("skus", edits.dated), ("was", edits.was)):
        made[name] = tomlkit.inline_table() if inline else tomlkit.table()
        made[name].update({sku: str(price) for sku, price in of.items()})
    made = {name: table for name, table in made.items() if table}
    for each in entries or ():
        if _day(each["first_day"]) == first and _day(each.get("last_day")) == last:
            _renew(each, made)
            return
    entry: Any = tomlkit.inline_table() if inline else tomlkit.table()
    entry["first_day"] = first.isoformat()
    if last is not None:
        entry["last_day"] = last.isoformat()
    entry.update(made)
    if entries is None:
        entries = document["prices"] = tomlkit.aot()
    elif not inline:
        entries[-1].add(tomlkit.nl())
    document["prices"].append(entry)


def _renew(entry: Any, made: Mapping[str, Any]) -> None:
    """Make the tables of an entry say what they are to, each line where it stands."""
    for name in ("skus", "was"):
        new = made.get(name, {})
        if name not in entry and new:
            entry[name] = {}
        for gone in set(entry.get(name, ())) - set(new):
            del entry[name][gone]
        if new:
            entry[name].update(new)


def _day(value: Any) -> dt.date | None:
    if value is None or isinstance(value, dt.date):
        return value
    return dt.date.fromisoformat(str(value).strip())


def with_prices(file: str, raw: bytes, cells: Mapping[Place, PriceMove]) -> bytes:
    """Return a CSV of products with other prices in some cells, and every other byte as it was.

    A cell keeps its money sign and its decimal comma.

    Args:
        file: its name.
        raw: its bytes.
        cells: cells of its column of prices.

    Raises:
        LabelerError: if it is no text that can be written again.
    """
    form = csv_to_edit(file, raw, "price")
    new = {place.line: move.new for place, move in cells.items()}
    spans = {line: every[form.heads["price"]] for line, every in form.spans() if line in new}
    edits = [
        (start, end, _cell(form.text[start:end], new[line], form.between))
        for line, (start, end) in spans.items()
    ]
    return form.mark + spliced(form.text, edits).encode(form.encoding)


def _cell(written: str, price: Decimal, between: str) -> str:
    """Return a cell with another price, written as the old one was."""
    old = written.strip().strip('"')
    number = re.search(r"\d[\d.,]*", old)
    comma = bool(number and re.search(r",\d{1,2}$", number[0]))
    said = str(price).replace(".", ",") if comma else str(price)
    new = old[: number.start()] + said + old[number.end() :] if number else str(price)
    try:
        if read_price(new)[0] != price:
            new = str(price)
    except CellError:
        new = str(price)
    return f'"{new}"' if between in new or '"' in written else new


def cell_list(cells: Mapping[Place, PriceMove]) -> bytes:
    """Return a CSV of cells to change: file, cell or line, SKU, old price, new price."""
    text = io.StringIO(newline="")
    writer = csv.writer(text, lineterminator="\r\n")
    writer.writerow(("File", "Cell", "SKU", "Old price", "New price"))
    for place, move in cells.items():
        where = place.cell or f"line {place.line}"
        writer.writerow((place.file, where, move.product.sku, move.old, move.new))
    return b"\xef\xbb\xbf" + text.getvalue().encode()


# ----------------------------------------------------------------------------
# What was written of late.

REMEMBERED = dt.timedelta(days=30)
"""A line seldom rises twice in a month by the same. Common practice, no published source."""


def written_of_late(folder: Path, rule: PriceRule, today: dt.date) -> dict[str, tuple[str, str]]:
    """Return what the very same change made of each SKU of late: the day and the price."""
    found: dict[str, tuple[str, str]] = {}
    for each in _remembered(there(folder / DONE), today):
        if each["rule"] == _in_words(rule):
            found |= {sku: (each["day"], price) for sku, price in each["prices"].items()}
    return found


def remember(raw: bytes, rule: PriceRule, prices: Mapping[str, Decimal], today: dt.date) -> bytes:
    """Return the record of what was written of late, with one change more.

    Args:
        raw: what it holds; empty for nothing.
        rule: the change.
        prices: what each SKU costs after it.
        today: the day it is written.
    """
    said = {sku: str(price) for sku, price in prices.items()}
    now = {"day": today.isoformat(), "rule": _in_words(rule), "prices": said}
    return json.dumps([*_remembered(raw, today), now], indent=1).encode()


def _remembered(raw: bytes, today: dt.date) -> list[dict[str, Any]]:
    try:
        kept: list[dict[str, Any]] = json.loads(raw or b"[]")
        return [
            each
            for each in kept
            if today - dt.date.fromisoformat(each["day"]) <= REMEMBERED
            and each["rule"] is not None
            and each["prices"].keys()
        ]
    except (ValueError, KeyError, TypeError, AttributeError):
        return []  # it only helps to ask; who edits it is not asked


def _in_words(rule: PriceRule) -> str:
    ends = "/".join(map(str, rule.endings))
    return f"{rule.share} {rule.amount} {rule.to} {rule.step} {ends}"
