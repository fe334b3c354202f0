"""The tables of a book: a row for each product, its number, its prices, its quantity."""

from __future__ import annotations

import math
import re
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from decimal import Decimal
from fractions import Fraction
from functools import cached_property
from typing import NamedTuple

from labeler.catalog.gtin import as_14
from labeler.catalog.model import Product, Terms, Tier
from labeler.checker.page.book_page import SeenField, SeenPage, SeenPlace
from labeler.checker.page.elements import Glyph
from labeler.checker.page.text import TextLine
from labeler.checker.rulebook import asks, finding
from labeler.checker.subject import CheckedProduct, told
from labeler.disclosures.needed import needed_in_price_list
from labeler.disclosures.statements import Statement, folded
from labeler.findings import Finding, Grade, Place
from labeler.geometry import Box, union

# ----------------------------------------------------------------------------
# Money as it is printed and as it is computed: from the catalog alone, all of it decimal.

_FIGURES = r"(?:\d{1,3}(?:,\d{3})+|\d+)(?:\.\d+)?|\.\d+|\d+,\d\d"
_AMOUNT = re.compile(
    rf"(?<![\w.,-])(?P<sign>[A-Z]{{1,2}}[$€£¥]|[$€£¥]|[A-Z]{{3}})\s?(?P<figures>{_FIGURES})"
    r"(?![\w-]|[.,]\d)"
    rf"|(?<![\w.,$€£¥-])(?P<ahead>{_FIGURES})\s?(?P<behind>[$€£¥]|[A-Z]{{3}})(?!\w|\s?\.?\d)"
)
_CENTS_AFTER_COMMA = re.compile(r"\d+,\d\d")
_SIGNS = {"$": ("USD", "CAD", "AUD", "NZD"), "€": ("EUR",), "£": ("GBP",), "¥": ("JPY", "CNY")}
"""Which currencies a sign alone may stand for."""

_HALF = Fraction(1, 2)


@dataclass(frozen=True, slots=True)
class Amount:
    """An amount of money that stands in a text."""

    said: str
    sign: str
    value: Decimal
    first: int
    end: int

    def is_in(self, currency: str) -> bool:
        """Tell whether its sign is one of a currency's."""
        return self.sign == currency or currency in _SIGNS.get(self.sign, ())


def amounts(text: str, currency: str = "") -> Iterator[Amount]:
    """Yield every amount of money in a text: a sign or an ISO 4217 code, and figures.

    Three capitals and a whole number may be anything, such as USA 54899, and so may any number
    before three capitals: they are an amount only of ``currency``.
    """
    for hit in _AMOUNT.finditer(text):
        sign, figures = hit["sign"] or hit["behind"], hit["figures"] or hit["ahead"]
        fraction = hit["sign"] and "." in figures
        if sign.isalpha() and sign != currency and not fraction:
            continue
        yield Amount(hit[0], sign, _value(figures), hit.start(), hit.end())


def _value(figures: str) -> Decimal:
    comma = "." if _CENTS_AFTER_COMMA.fullmatch(figures) else ""
    return Decimal(figures.replace(",", comma))


def at_tier(product: Product, tier: Tier) -> Decimal | None:
    """Return what a pack costs at a tier: half a step goes up. None where it has no price."""
    if product.price is None or tier.round_to <= 0:
        return None
    exact = Fraction(product.price) * (1 - tier.off) / Fraction(tier.round_to)
    return math.floor(exact + _HALF) * tier.round_to


def margin(dealer: Decimal, retail: Decimal) -> int:
    """Return the share of the retail price that a shop keeps, in whole per cent, half up."""
    if not retail:
        return 0
    return math.floor(Fraction(retail - dealer) * 100 / Fraction(retail) + _HALF)


_LEVEL = 0.35
"""Cells stand on one baseline, give or take this share of the type size."""

_NUMBER = re.compile(r"(?<![\w/.,$€£¥-])\d{8,14}(?![\w/.,-])")
_PERCENT = re.compile(r"(?<![\w/.,])(\d+)\s?%")
_PACK = re.compile(r"\bpack of (\d+)\b", re.IGNORECASE)
_CASE = re.compile(r"(?<!\S)\d{1,5}(?!\S)")
_NO_PRICE = "on request"


@dataclass(eq=False)
class ListingRow:
    """A row of a table: all that stands on the line of a SKU, from left to right."""

    sku: str
    text: str
    glyphs: list[Glyph | None]
    side: SeenPlace
    before: str = ""
    """What stands left of the SKU."""
    below: tuple[str, ...] = ()
    """The lines under that, flush with it, down to the end of the place."""

    @property
    def cells(self) -> str:
        """Its text, but blank where the name stands, which may hold figures of its own."""
        name = self.text.find(self.sku)
        return " " * name + self.text[name:]

    @property
    def box(self) -> Box:
        """Around its ink."""
        return self.box_of(0, len(self.text))

    def box_of(self, first: int, end: int) -> Box:
        """Return the box around some of its letters."""
        boxes = [g.box for g in self.glyphs[first:end] if g is not None and g.area]
        return union(boxes) if boxes else self.side.about.box


def rows_in(side: SeenPlace, skus: frozenset[str]) -> list[ListingRow]:
    """Return a row for each SKU that stands in a place by itself, as a word.

    A SKU before a colon, as where some of a group are named in a statement, is none.
    """
    lines = side.lines
    return [
        _row(word, line, lines, side)
        for line in lines
        for word in folded(line.text).split()
        if word in skus
    ]


def _row(sku: str, line: TextLine, lines: Sequence[TextLine], side: SeenPlace) -> ListingRow:
    level = [
        other
        for other in lines
        if other.angle == line.angle and abs(other.base - line.base) <= _LEVEL * line.size
    ]
    text, glyphs = "", list[Glyph | None]()
    for other in sorted(level, key=lambda each: each.start):
        text += other.text + " "
        glyphs += [*other.glyphs, None]
    before = text[: max(0, text.find(sku))]
    first = min(level, key=lambda each: each.start)
    below = sorted(
        (
            other
            for other in lines
            if other.angle == line.angle
            and other.base > first.base + _LEVEL * first.size
            and abs(other.start - first.start) < first.size
        ),
        key=lambda each: each.base,
    )
    return ListingRow(
        sku, text, glyphs, side, folded(before), tuple(folded(other.text) for other in below)
    )


# ------------------------------------------------------------------------------------- heads


@dataclass(frozen=True, slots=True)
class ColumnHeading:
    """What the heading of a column says, and from where to where it reaches."""

    text: str
    left: float
    right: float


def heads_in(side: SeenPlace) -> list[ColumnHeading]:
    """Return the heads of a table, from left to right: words that stand under one another."""
    heads: list[ColumnHeading] = []
    for line in sorted(side.lines, key=lambda one: one.base):
        for part in _parted(line):
            over = next((h for h in heads if h.left < part.right and h.right > part.left), None)
            if over is not None:
                heads.remove(over)
                part = ColumnHeading(
                    f"{over.text} {part.text}",
                    min(over.left, part.left),
                    max(over.right, part.right),
                )
            heads.append(part)
    return sorted(heads, key=lambda head: head.left)


_BETWEEN = 0.8
"""Heads stand further apart than this share of the type size; the words of one stand nearer."""


def _parted(line: TextLine) -> Iterator[ColumnHeading]:
    """Yield the heads on a line."""
    text, left, right = "", 0.0, -math.inf
    for letter, glyph in zip(line.text, line.glyphs, strict=True):
        if glyph is None or not glyph.area:
            text += " "
            continue
        if glyph.box[0] - right > _BETWEEN * line.size and text.strip():
            yield ColumnHeading(folded(text).casefold(), left, right)
            text = ""
        left = left if text.strip() else glyph.box[0]
        text += letter
        right = glyph.box[2]
    if text.strip():
        yield ColumnHeading(folded(text).casefold(), left, right)


Column = tuple[str, str]
"""``retail``, ``case``, ``tier``, ``keystone`` or ``margin``, and of which tier; nothing where
unknown."""


def columns_of(
    heads: Sequence[ColumnHeading], tiers: Sequence[Tier]
) -> list[tuple[ColumnHeading, Column]]:
    """Return what each column holds. Keystone and margin are of the tier to their left."""
    found: list[tuple[ColumnHeading, Column]] = []
    latest = ""
    for head in heads:
        names = [t.name for t in tiers if folded(t.name).casefold() in head.text]
        named = max(names, key=len, default="")
        kind = _kind_of(head.text, named)
        if kind == "tier":
            latest = named
        found.append((head, (kind, latest if kind in ("tier", "keystone", "margin") else "")))
    return found


def _kind_of(text: str, tier: str) -> str:
    if tier and "price" in text:
        return "tier"
    words = {"keystone": "keystone", "margin": "margin", "retail": "retail", "case": "case"}
    found = next((kind for word, kind in words.items() if word in text), "")
    return found or ("retail" if text == "price" else "")


def _over(box: Box, columns: Sequence[tuple[ColumnHeading, Column]]) -> Column:
    """Return the column in which a box stands: whose heading is over it, or ends where it does."""
    best, most = ("", ""), 0.0
    for head, column in columns:
        shared = min(head.right, box[2]) - max(head.left, box[0])
        if abs(head.right - box[2]) < _FLUSH:
            shared += box[2] - box[0]
        if shared > most:
            best, most = column, shared
    return best


_FLUSH = 1.5
"""Points: figures stand flush right under their heading."""


# -------------------------------------------------------------------------------------- rows


@dataclass(frozen=True)
class PriceList:
    """By what the rows of a book are computed."""

    tiers: tuple[Tier, ...]
    currency: str
    columns: Sequence[tuple[ColumnHeading, Column]] = field(default_factory=list)

    def due(self, product: Product) -> Mapping[Column, Decimal]:
        """Return every amount that a product's row holds, by its column."""
        if product.price is None:
            return {}
        found: dict[Column, Decimal] = {("retail", ""): product.price}
        for tier in self.tiers:
            price = at_tier(product, tier)
            if price is not None:
                found["tier", tier.name] = price
                found["keystone", tier.name] = price * 2
        return found


def judge_row(row: ListingRow, subject: CheckedProduct, prices: PriceList) -> Iterator[Finding]:
    """Yield what is wrong with a product's row of a table."""
    yield from _named(row, subject)
    yield from _numbered(row, subject)
    yield from _priced(row, subject.product, prices)
    yield from _margins(row, subject.product, prices)
    yield from _counted(row, subject, prices.columns)


@asks("piece-other-product", "piece-nameless")
def _named(row: ListingRow, subject: CheckedProduct) -> Iterator[Finding]:
    """Yield that another colour's name stands before the SKU; a long one goes on below."""
    name = subject.names[1]
    place = row.side.place_of(row.sku, row.box)
    if not row.before:
        yield finding("piece-nameless", place, expected=name)
    elif not _goes_on(row, name):
        yield finding("piece-other-product", place, found=row.before, expected=name)


def _goes_on(row: ListingRow, name: str) -> bool:
    """Tell whether a row begins with a name, all of it."""
    due, said = _letters(name), _letters(row.before)
    for line in row.below:
        if said == due or not due.startswith(said):
            break
        said += _letters(line)
    return said == due


def _letters(text: str) -> str:
    """Return the letters and figures of a text, wherever its lines are broken."""
    return "".join(letter for letter in folded(text).casefold() if letter.isalnum())


@asks("gtin-wrong")
def _numbered(row: ListingRow, subject: CheckedProduct) -> Iterator[Finding]:
    due = subject.product.gtin
    hits = list(_NUMBER.finditer(row.cells))
    for hit in hits:
        if due is None or hit[0].zfill(14) != as_14(due):
            yield finding(
                "gtin-wrong", row.side.place_of(row.sku, row.box_of(hit.start(), hit.end())),
                found=hit[0], expected=due or "no article number",
            )  # fmt: skip
    if due is not None and not hits:
        yield finding("gtin-wrong", row.side.place_of(row.sku, row.box), found="none", expected=due)


@asks("price-wrong", "price-unnamed", "price-missing", "price-currency")
def _priced(row: ListingRow, product: Product, prices: PriceList) -> Iterator[Finding]:
    due = dict(prices.due(product))
    missing = {column for column in due if column[0] != "keystone"}
    for amount in amounts(row.cells, prices.currency):
        box = row.box_of(amount.first, amount.end)
        place = row.side.place_of(row.sku, box)
        if not amount.is_in(prices.currency):
            yield finding("price-currency", place, found=amount.said, expected=prices.currency)
        column = _over(box, prices.columns)
        if not column[0] or column[0] == "margin":
            yield finding("price-unnamed", place, found=amount.said)
            continue
        missing.discard(column)
        if amount.value != due.get(column):
            yield finding(
                "price-wrong", place, grade=Grade.STOP, found=f"{amount.said}, {_called(column)}",
                expected=str(due.get(column, "no price")),
            )  # fmt: skip
    for column in sorted(missing):
        yield finding(
            "price-missing", row.side.place_of(row.sku, row.box),
            expected=f"{due[column]}, {_called(column)}",
        )  # fmt: skip
    if product.price is None and _NO_PRICE not in folded(row.text).casefold():
        place = row.side.place_of(row.sku, row.box)
        yield finding("price-missing", place, expected=_NO_PRICE)


def _called(column: Column) -> str:
    kind, tier = column
    return {"tier": f"{tier} price", "keystone": f"keystone of {tier}"}.get(kind, kind)


@asks("margin-wrong")
def _margins(row: ListingRow, product: Product, prices: PriceList) -> Iterator[Finding]:
    tiers = {tier.name: tier for tier in prices.tiers}
    for hit in _PERCENT.finditer(row.cells):
        box = row.box_of(hit.start(), hit.end())
        kind, name = _over(box, prices.columns)
        price = at_tier(product, tiers[name]) if name in tiers else None
        due = None if price is None else margin(price, product.price or Decimal(0))
        if kind != "margin" or due != int(hit[1]):
            yield finding(
                "margin-wrong", row.side.place_of(row.sku, box), found=hit[0],
                expected=f"{due} %" if due is not None else "no margin",
            )  # fmt: skip


@asks("quantity-wrong", "quantity-not-by-price")
def _counted(
    row: ListingRow, subject: CheckedProduct, columns: Sequence[tuple[ColumnHeading, Column]]
) -> Iterator[Finding]:
    """Yield that the quantity is not in the row, or another is; or another count to a case."""
    pack, case = subject.product.pattern.pack, subject.product.pattern.case
    for hit in _CASE.finditer(row.cells):
        box = row.box_of(hit.start(), hit.end())
        if _over(box, columns) == ("case", "") and int(hit[0]) != case:
            place = row.side.place_of(row.sku, box)
            yield finding("quantity-wrong", place, found=f"a case of {hit[0]}", expected=str(case))
    for hit in _PACK.finditer(folded(row.cells)):
        if int(hit[1]) != pack:
            place = row.side.place_of(row.sku, row.box)
            yield finding("quantity-wrong", place, found=f"“{hit[0]}”", expected=str(pack))
            return
    yield from _by_price(folded(row.text), subject, row.side.place_of(row.sku, row.box))


def _by_price(text: str, subject: CheckedProduct, place: Place) -> Iterator[Finding]:
    """Yield the quantities that must stand by a product's price and do not; ``text`` is folded."""
    for said in subject.required:
        forms = [form.plain for form in said.satisfying]
        if said.kind == "quantity" and not any(form in text for form in forms):
            expected = f"“{said.full.plain}”"
            yield finding("quantity-not-by-price", place, expected=expected, source=told(said))


@asks("price-wrong", "price-missing", "quantity-not-by-price")
def judge_shared_row(
    side: SeenPlace, subject: CheckedProduct, prices: PriceList
) -> Iterator[Finding]:
    """Yield what is wrong with a row of a price list for one of the products that share it.

    Args:
        side: the row.
        subject: the product.
        prices: the tiers, whose prices stand one after another, and then the retail price.
    """
    product, place = subject.product, side.place_of(subject.product.sku)
    text = folded(" ".join(line.text for line in side.lines))
    twice = any(kind == "keystone" for _, (kind, _) in prices.columns)
    due: list[Decimal | None] = []
    for tier in prices.tiers:
        price = at_tier(product, tier)
        due += [price, price and price * 2] if twice else [price]
    due.append(product.price)
    level = sorted(side.lines, key=lambda line: line.start)
    said = [each.value for line in level for each in amounts(line.text, prices.currency)]
    yield from _in_order(said, due, product.price is None, text, place)
    yield from _by_price(text, subject, place)


def _in_order(
    said: list[Decimal], due: list[Decimal | None], open_: bool, text: str, place: Place
) -> Iterator[Finding]:
    """Yield that the amounts in a text are not those due, or that an open price is not told."""
    if open_:
        if _NO_PRICE not in text.casefold():
            yield finding("price-missing", place, expected=_NO_PRICE)
    elif said != due:
        yield finding(
            "price-wrong", place, grade=Grade.STOP, found=" / ".join(map(str, said)) or "none",
            expected=" / ".join(map(str, due)),
        )  # fmt: skip


# ------------------------------------------------------------------------------- order form


@asks("price-wrong", "price-missing", "piece-other-product", "quantity-wrong")
def judge_order_cell(
    side: SeenPlace, product: Product, prices: PriceList, mixed: bool
) -> Iterator[Finding]:
    """Yield what is wrong with a product's cell of the order form.

    Args:
        side: the cell.
        product: whose it is.
        prices: the tiers, whose prices stand one after another.
        mixed: whether the cell must say how many a pack holds, since its heading can't for all.
    """
    text = folded(" ".join(passage.text for passage in side.passages))
    place = side.place()
    if product.sku not in text.split():
        yield finding("piece-other-product", place, found=text[:60], expected=product.sku)
    counts = list(_PACK.finditer(text))
    if {int(hit[1]) for hit in counts} != ({product.pattern.pack} if counts or mixed else set()):
        yield finding(
            "quantity-wrong", place, found=", ".join(f"“{hit[0]}”" for hit in counts) or "no count",
            expected=str(product.pattern.pack),
        )  # fmt: skip
    if rest := _letters(_unpriced(_PACK.sub(" ", text), product, prices)):
        yield finding("piece-other-product", place, found=rest[:60], expected=product.sku)
    due = [at_tier(product, tier) for tier in prices.tiers]
    said = [amount.value for amount in amounts(text, prices.currency)]
    yield from _in_order(said, due, None in due, text, place)


@asks("order-cell-moved")
def judge_order_place(
    cell: SeenPlace, labels: Sequence[SeenPlace], shaded: str, graded: str
) -> Iterator[Finding]:
    """Yield that a cell of the order form is not in its color's row, or not under its weight.

    Args:
        cell: the cell.
        labels: the names of rows and the heads of columns on the same leaf.
        shaded: what its row is called.
        graded: what its column is headed with.
    """
    left, top, right, bottom = cell.about.box
    x, y = (left + right) / 2, (top + bottom) / 2
    rows = [e for e in labels if e.about.kind == "shades" and e.about.box[1] < y < e.about.box[3]]
    above = [
        each for each in labels
        if each.about.kind == "sizes" and each.about.box[1] < y
        and each.about.box[0] < x < each.about.box[2]
    ]  # fmt: skip
    head = max(above, key=lambda each: each.about.box[1], default=None)
    for said, due in ((rows[0] if rows else None, shaded), (head, graded)):
        text = " ".join(each.text for each in said.lines) if said else ""
        if _letters(text) != _letters(due):
            yield finding("order-cell-moved", cell.place(), found=text[:60] or "none", expected=due)


class DueField(NamedTuple):
    """What a field to type in must be.

    ``name`` is the file's word for it, ``says`` what it is called for those who do not see it,
    ``value`` what stands in it, ``most`` how many letters it takes, ``fixed`` whether it is closed.
    """

    name: str
    says: str
    value: str
    most: int
    fixed: bool = False


@asks("order-field-other", "order-field-missing", "order-field-altered")
def judge_field(place: Place, fields: Sequence[SeenField], due: DueField) -> Iterator[Finding]:
    """Yield what is wrong with the field to type in that belongs to a place; it should be one."""
    if not fields:
        yield finding("order-field-missing", place, expected=due.name)
    for each in fields:
        if each.name != due.name:
            yield finding("order-field-other", place, found=each.name, expected=due.name)
        if altered := list(_altered(each, due)):
            yield finding("order-field-altered", place, found="; ".join(altered), expected=due.name)
    if len(fields) > 1:
        yield finding(
            "order-field-altered", place, found=f"{len(fields)} fields", expected=due.name
        )


def _altered(seen: SeenField, due: DueField) -> Iterator[str]:
    yield from (f"it holds “{text}”" for text in (seen.value, seen.default) if text != due.value)
    if seen.closed:
        yield seen.closed
    if seen.fixed != due.fixed:
        yield "it can't be typed in" if seen.fixed else "it can be typed over"
    if seen.most != due.most:
        yield f"it takes {seen.most or 'any number of'} letters"
    if seen.says != due.says:
        yield f"it is called “{seen.says}”"
    if seen.more:
        yield f"it has {', '.join(seen.more)}"


def _unpriced(text: str, product: Product, prices: PriceList) -> str:
    """Return what a row says beside its SKU and its prices."""
    for amount in amounts(text, prices.currency):
        text = text.replace(amount.said, " ", 1)
    return text.replace(product.sku, " ", 1).casefold().replace(_NO_PRICE, " ", 1)


def field_of(sku: str) -> str:
    """Return the name of the field for a SKU's quantity.

    It has underscores for full stops, which part a field's name (ISO 32000-1:2008, 12.7.3.2).
    """
    return f"qty {sku.replace('.', '_')}"


# ----------------------------------------------------------------------------
# Amounts and discounts in a book's running text are the catalog's, too.

_EXCISE = Fraction(10, 100)
"""Of the price without the tax. Source: 26 USC 4161(a)(1), 4216(a)."""

_AT_RETAIL_ONLY = Fraction(6, 100)
"""Ten per cent of 60 % of the price. Source: Rev. Rul. 80-273 as modified by Rev. Rul. 81-226."""

_OFF = re.compile(r"\b(\d+)\s?% off the suggested retail price on orders of ([\d,]+) packs?\b")


class Amounts:
    """Every amount of money that a book may name beside its tables."""

    def __init__(
        self, products: Sequence[Product], tiers: Sequence[Tier], terms: Terms, own_words: str
    ) -> None:
        self.tiers = tiers
        self.currency = products[0].currency if products else ""
        prices = {product.price for product in products if product.price is not None}
        paid = {p for each in products for t in tiers if (p := at_tier(each, t)) is not None}
        self._known = prices | paid | {price * 2 for price in paid}
        self._known |= {tier.round_to for tier in tiers}
        self._own = {each.value for each in amounts(own_words, self.currency)}
        if terms.minimum is not None:
            self._known.add(terms.minimum)
        for price in (*prices, *paid):
            for rate in (_EXCISE, _AT_RETAIL_ONLY):
                self._known |= set(_taxes(price, rate, terms))

    def holds(self, amount: Amount) -> bool:
        """Tell whether an amount is the catalog's, or stands in the maker's own words."""
        return amount.value in self._known or amount.value in self._own


def _taxes(price: Decimal, rate: Fraction, terms: Terms) -> Iterator[Decimal]:
    """Yield the tax in a price; or the tax on top of it, and what both come to."""
    tax = _tax_at(rate, price, terms.excise == "included")
    yield tax
    if terms.excise != "included":
        yield price + tax


def tax_of(price: Decimal, within: bool, at_retail: bool) -> Decimal:
    """Return the excise tax in a price, or else on top of it, to the cent.

    Args:
        price: what a pack costs.
        within: whether the price holds the tax.
        at_retail: whether it is the price of a maker who sells at retail only.
    """
    return _tax_at(_AT_RETAIL_ONLY if at_retail else _EXCISE, price, within)


def _tax_at(rate: Fraction, price: Decimal, within: bool) -> Decimal:
    exact = Fraction(price) * (rate / (1 + rate) if within else rate)
    return Decimal(math.floor(exact * 100 + _HALF)) / 100


@asks("price-stray", "tier-wrong")
def judge_amounts(leaf: SeenPlace, page: SeenPage, known: Amounts) -> Iterator[Finding]:
    """Yield the amounts and discounts of a leaf, beside its tables, that are not the catalog's."""
    for passage in leaf.passages:
        for amount in amounts(passage.text, known.currency):
            box = passage.box_of(amount.first, amount.end)
            in_table = box is not None and page.within(box, "entry", "order", "list")
            if not in_table and not known.holds(amount):
                yield finding("price-stray", leaf.place(box), found=amount.said)
        for hit in _OFF.finditer(passage.text):
            off, least = int(hit[1]), int(hit[2].replace(",", ""))
            if (off, least) not in _discounts(known.tiers):
                yield finding(
                    "tier-wrong", leaf.place(passage.box_of(hit.start(), hit.end())), found=hit[0],
                    expected=" or ".join(
                        f"{off} % from {least:,} on" for off, least in _discounts(known.tiers)
                    ),
                )  # fmt: skip


def _discounts(tiers: Iterable[Tier]) -> list[tuple[int, int]]:
    """Return what comes off at each tier, in whole per cent, and from how many packs on."""
    return [(math.floor(tier.off * 100 + _HALF), tier.at_least) for tier in tiers]


# ----------------------------------------------------------------------------
# What a product has to be in a price list, and what must be said of it there.


@dataclass(eq=False)
class ListedProduct(CheckedProduct):
    """A product that a price list holds, computed afresh from the catalog."""

    terms: Terms = field(default_factory=Terms)

    @cached_property
    def statements(self) -> tuple[Statement, ...]:
        """All that its markets want said of it in a price list."""
        sold = self.product, self.markets, self.day
        return self.law.once(
            ("listed", self.lawful_kind),
            lambda: needed_in_price_list(*sold, excise=self.terms.excise),
        )

    @cached_property
    def weight_kind(self) -> object:
        """The same for products of one weight."""
        return self.product.weight, self.product.whole_weight

    def said(self, kind: str) -> Statement | None:
        """Return the first statement of a kind that is required of it, or None."""
        return next((said for said in self.required if said.kind == kind), None)
