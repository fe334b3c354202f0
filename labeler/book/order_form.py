"""The order form in the book: a grid a pattern, with a field for each SKU. No script, no sums."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from typing import NamedTuple

from labeler.book.edition import (
    Edition,
    PatternEntry,
    SizeGroup,
    weight_text,
)
from labeler.book.figures import draw_swatch
from labeler.book.order import HEADS, WHOLE, field_name
from labeler.book.tables import keep_rows_company
from labeler.book.typesetting import (
    GREY,
    HAIR,
    BookContext,
    Canvas,
    Paragraph,
    Stack,
    StructurePath,
    Unit,
    Words,
    across,
)
from labeler.catalog.model import Product
from labeler.findings import Place
from labeler.geometry import Box
from labeler.layout.facts import amount_text
from labeler.marks import Claim, Element, Field, rectangle
from labeler.units import NO_BREAK_SPACE

_BOX, _BOX_HIGH = 30.0, 12.0
_HIGH = 23.0
_SWATCH, _GAP = 26.0, 9.0
"""Points: a swatch's width, and what lies between two cells."""
_WIDEST = 104.0
"""Points: cells do not stand further apart than this."""
_MOST_DIGITS = 6
_PLACE = Place(block="order form")


class FormHead(NamedTuple):
    """One of the form's first fields: its name, its label, and what stands there already."""

    name: str
    label: str
    value: str
    fixed: bool


def heads_of(edition: Edition) -> list[FormHead]:
    """Return the form's first fields, filled in with what is known of the dealer."""
    known = {"tier": " / ".join(tier.name for tier in edition.tiers)}
    dealer = edition.dealer
    if dealer:
        town = " ".join(filter(None, (dealer.state, dealer.postcode)))
        known["dealer"] = dealer.name
        known["address"] = ", ".join(filter(None, (dealer.street, dealer.city, town)))
        known["contact"] = dealer.phone or dealer.email or ""
    return [FormHead(name, label, known.get(name, ""), name == "tier")
            for name, label in HEADS.items()]  # fmt: skip


def form_heads(book: BookContext, path: StructurePath) -> list[Unit]:
    """Return the part of the form above its rows: who orders, and how it is filled in."""
    edition = book.edition
    heads = heads_of(edition)
    per_line = 1 if edition.small else 2
    units: list[Unit] = [
        FormLine(book, heads[first : first + per_line], path)
        for first in range(0, len(heads), per_line)
    ]
    maker, least = edition.catalog.file.maker, edition.catalog.file.terms.minimum
    back = maker.email or maker.phone or maker.name
    text = f"How many packs of each? Leave the others empty, and send the form back to {back}."
    if least is not None:
        text += f" Least order {amount_text(least, edition.currency)}."
    words = book.setter.words("book-text", text, place=_PLACE)
    return [*units, Paragraph(words, (*path, Element("P", "order.how")), gap=12)]


def form_rows(book: BookContext, path: StructurePath) -> list[Unit]:
    """Return a grid for each pattern, colours down and weights across; then the form's end."""
    units: list[Unit] = []
    for entry in book.entries:
        units += _Grid(book, entry, path).units()
    units[-1].keep = True
    return [*units, LastLine(book, path, gap=8)]


class FormRow(NamedTuple):
    """What a row of the form is called, and its products: of one colour, one in a cell."""

    name: str
    products: tuple[Product, ...]

    def of(self, group: SizeGroup) -> Product | None:
        """Return the product of a weight and hook, if the row has one."""
        size = group.weight, group.hook_size
        return next((p for p in self.products if (p.weight, p.hook_size) == size), None)


def rows_of(entry: PatternEntry) -> list[FormRow]:
    """Return a row a colour; of one that comes twice in a weight and hook, a row a pack.

    Products that even the pack does not tell apart, which a catalogue may hold, have a row each.
    """
    rows: list[FormRow] = []
    for colour in (shade.colour for shade in entry.colourways):
        products = [each for each in entry.products if each.colour.code == colour.code]
        if len({(each.weight, each.hook_size) for each in products}) == len(products):
            rows.append(FormRow(colour.name, tuple(products)))
            continue
        found: dict[tuple[int, int], list[Product]] = {}
        before: Counter[object] = Counter()
        for each in products:
            alike = each.weight, each.hook_size, each.pattern.pack
            found.setdefault((each.pattern.pack, before[alike]), []).append(each)
            before[alike] += 1
        told = len({pack for pack, _ in found}) > 1
        for pack, number in sorted(found):
            count = f", pack{NO_BREAK_SPACE}of{NO_BREAK_SPACE}{pack}" if told else ""
            rows.append(FormRow(f"{colour.name}{count}", tuple(found[pack, number])))
    return rows


class _Grid:
    """One pattern's part of the form: a row a colour, a column a weight and hook.

    Where more weights than fit stand side by side, the colours stand again below with the rest.
    How many a pack holds stands in the heading, or in each cell where that is not the same in all.
    """

    def __init__(self, book: BookContext, entry: PatternEntry, path: StructurePath) -> None:
        self.book, self.entry, self.path = book, entry, path
        packs = {product.pattern.pack for product in entry.products}
        self.pack = packs.pop() if len(packs) == 1 else None
        measure = book.frame.measure
        self.label = measure * (0.27 if book.edition.small else 0.25)
        cells = (words for product in entry.products for words in self.words(product))
        needs = max(words.width() for words in cells) + _GAP
        prices = max(self.words(product)[1].width() for product in entry.products)
        self.cell = max(needs, prices + _BOX + 5 + _GAP)
        room = measure - self.label
        self.most = max(1, int(room / self.cell))
        self.cell = max(self.cell, min(room / min(len(entry.groups), self.most), _WIDEST))

    def words(self, product: Product) -> tuple[Words, Words]:
        """Return a cell's SKU, with what a pack holds if the heading can't say it; and a price."""
        edition, setter = self.book.edition, self.book.setter
        place = Place(piece=product.sku, block="order form, item")
        pack = "" if self.pack else f"{NO_BREAK_SPACE * 2}pack of {product.pattern.pack}"
        sku = setter.words(
            "book-code", product.sku, ("book-cell", pack), place=place, scale=0.74, least=4.0
        )
        prices = [edition.price(product, tier) for tier in edition.tiers]
        said = " / ".join(amount_text(p, edition.currency) for p in prices if p is not None)
        said = "on request" if None in prices else said
        place = Place(piece=product.sku, block="order form, price")
        return sku, setter.words("book-sum", said, place=place, scale=0.86, least=4.0)

    def units(self) -> list[Unit]:
        """Return heading, heads of columns, rows, and where to write the pattern's totals."""
        units: list[Unit] = []
        groups, entry = self.entry.groups, self.entry
        shades = rows_of(entry)
        for number, first in enumerate(range(0, len(groups), self.most)):
            part = groups[first : first + self.most]
            more = ", continued" if number else ""
            table = (*self.path, Element("Table", f"order.{entry.anchor}.{number}"))
            head = GridHead(self, part, table, gap=3)
            again = Stack(
                [self.heading(f"{number}.again", ", continued"), replace(head, drawn=True)]
            )
            rows: list[Unit] = [
                GridRow(self, shade, part, table, head=again)
                for shade in shades
                if any(map(shade.of, part))
            ]
            keep_rows_company(rows)
            units += [self.heading(str(number), more), head, *rows]
        units[-1].keep = True
        return [*units, SumLine(self.book, entry, self.path, gap=4)]

    def heading(self, key: str, more: str) -> Paragraph:
        """Return the pattern's name with its code, and how it is packed."""
        pattern = self.entry.pattern
        packed = f", pack of {self.pack}" if self.pack else ""
        packed += f", case of {pattern.case} packs" if pattern.case else ""
        words = self.book.setter.words(
            "book-caption", f"{pattern.name}{NO_BREAK_SPACE * 2}", ("book-code", pattern.code),
            ("book-cell", f"{packed}{more}"), least=5.0,
            place=Place(piece=pattern.name, block="order form"),
        )  # fmt: skip
        element = Element("P", f"order.{self.entry.anchor}.name.{key}")
        return Paragraph(words, (*self.path, element), gap=11, keep=True, rule_below=2.4)

    def cells(self, box: Box, count: int) -> list[Box]:
        """Return the boxes of a row's cells."""
        lefts = [box[0] + self.label + place * self.cell for place in range(count)]
        return [(left, box[1], left + self.cell - _GAP, box[3]) for left in lefts]


@dataclass(slots=True)
class GridHead(Unit):
    """The weights and hooks above the columns."""

    grid: _Grid
    groups: Sequence[SizeGroup]
    path: StructurePath
    keep: bool = field(default=True, kw_only=True)
    drawn: bool = False
    """Whether it stands again, and is not read again."""

    def _words(self, group: SizeGroup) -> Words:
        place = Place(piece=self.grid.entry.pattern.name, block="order form, weight")
        hook = f", hook {group.hook_size}" if group.hook_size else ""
        return self.grid.book.setter.words(
            "book-cell", ("book-figure", weight_text(group.weight)), hook, place=place, scale=0.92,
            least=4.0,
        )  # fmt: skip

    def height(self, width: float) -> float:
        """Return the height of the highest of them."""
        wide = self.grid.cell - _GAP
        return max(self._words(group).height(wide) for group in self.groups) + 4

    def draw(self, canvas: Canvas, box: Box) -> None:
        """Draw them, flush with the cells below."""
        row = Element("TR", f"{self.path[-1].key}.head")
        first = Element("TH", f"{row.key}.color", scope="Column")
        color = self.grid.book.setter.words("field", "Color", place=_PLACE)
        path: StructurePath = () if self.drawn else (*self.path, row, first)
        inner = (box[0], box[1], box[0] + self.grid.label - _GAP, box[3] - 2)
        canvas.write(color, inner, path, valign="bottom")
        for group, cell in zip(self.groups, self.grid.cells(box, len(self.groups)), strict=True):
            skus = tuple(product.sku for product in group.products)
            head = Element("TH", f"{row.key}.{skus[0]}", scope="Column")
            path = () if self.drawn else (*self.path, row, head)
            canvas.write(self._words(group), (*cell[:3], box[3] - 2), path, valign="bottom")
            claim = Claim("sizes", self.grid.entry.pattern.code, skus, cell)
            canvas.claim(claim, ("sizes", skus))
        canvas.rule(box[0], box[2], box[3], 0.25)


@dataclass(slots=True)
class GridRow(Unit):
    """A colour: its swatch and name, and a cell for each weight with SKU, price and box."""

    grid: _Grid
    shade: FormRow
    groups: Sequence[SizeGroup]
    path: StructurePath

    def _name(self) -> Words:
        place = Place(piece=self.shade.products[0].sku, block="order form, color")
        return self.grid.book.setter.words(
            "book-cell", self.shade.name, place=place, scale=0.96, least=4.8
        )

    def _name_width(self) -> float:
        return self.grid.label - _GAP - _SWATCH - 6

    def height(self, width: float) -> float:
        """Return the height of SKU and box, or of the name's lines."""
        return max(_HIGH, self._name().height(self._name_width()) + 6)

    def draw(self, canvas: Canvas, box: Box) -> None:
        """Draw the name, and what each cell holds."""
        grid, first = self.grid, self.shade.products[0]
        name, middle = self._name(), (box[1] + box[3]) / 2
        bar = (box[0], middle - 2.6, box[0] + _SWATCH, middle + 2.6)
        draw_swatch(canvas, grid.book.edition, first, bar)
        row = Element("TR", f"{self.path[-1].key}.{first.sku}")
        head = (*self.path, row, Element("TH", f"{row.key}.name", scope="Row"))
        left = box[0] + _SWATCH + 6
        label = (left, box[1], left + self._name_width(), box[3])
        canvas.write(name, label, head, valign="middle")
        found = [self.shade.of(group) for group in self.groups]
        skus = tuple(product.sku for product in found if product)
        canvas.claim(Claim("shades", grid.entry.pattern.code, skus, label), ("shades", skus))
        for place, (product, cell) in enumerate(
            zip(found, grid.cells(box, len(found)), strict=True)
        ):
            path = (*self.path, row, Element("TD", f"{row.key}.{place}"))
            if product:
                self._cell(canvas, product, cell, path)
            else:
                canvas.put((), path)  # read aloud, each cell stands below its column's head
        canvas.rule(box[0], box[2], box[3], 0.2, GREY)

    def _cell(self, canvas: Canvas, product: Product, box: Box, path: StructurePath) -> None:
        left, top, right, bottom = box
        sku, price = self.grid.words(product)
        key = path[-1].key
        body = (*path, Element("P", f"{key}.sku"))
        canvas.write(sku, (left, top + 2.8, right, bottom), body)
        frame = (right - _BOX, bottom - _BOX_HIGH - 1.6, right, bottom - 1.6)
        low = (left, frame[1], frame[0] - 2, frame[3])
        canvas.write(price, low, (*path, Element("P", f"{key}.price")), valign="middle")
        canvas.claim(Claim("order", product.pattern.code, (product.sku,), box),
                     ("order", product.sku))  # fmt: skip
        form = (*path, Element("Form", f"order.{product.sku}.field"))
        says = f"Packs of {product.sku}, {product.name}"
        name = field_name(product.sku)
        typed = Field(name, frame, says, form, align="right", most=_MOST_DIGITS)
        _draw_box(canvas, typed, "box", live=self.grid.book.edition.live)


def _draw_box(canvas: Canvas, typed: Field, what: str, *, live: bool) -> None:
    """Draw a box to write in; where the book is read on a screen, to type in."""
    canvas.decorate(rectangle(typed.box, stroke="#000000", width=HAIR))
    canvas.take(typed.box, f"order form, {what}")
    if live:
        canvas.fields.append(typed)


@dataclass(slots=True)
class SumLine(Unit):
    """Where a pattern's packs and their amount are written in."""

    book: BookContext
    entry: PatternEntry
    path: StructurePath

    def height(self, width: float) -> float:
        """Return the height of a box, with air."""
        return 14.0

    def draw(self, canvas: Canvas, box: Box) -> None:
        """Draw both boxes at the right, each behind its name."""
        right = box[2]
        for (name, label, says), wide in zip(reversed(sums_of(self.entry)), (74.0, 44.0),
                                             strict=True):  # fmt: skip
            frame = (right - wide, box[1] + 1, right, box[3] - 1)
            words = self.book.setter.words("field", label, place=_PLACE)
            width = words.width() + 0.5
            inner = (frame[0] - 5 - width, frame[1], frame[0] - 5, frame[3])
            key = f"order.{name}"
            path = (*self.path, Element("P", f"{key}.label"))
            canvas.write(words, inner, path, valign="middle")
            form = (*self.path, Element("Form", key))
            typed = Field(name, frame, says, form, align="right", most=12)
            _draw_box(canvas, typed, "total", live=self.book.edition.live)
            right = inner[0] - 16


def sums_of(entry: PatternEntry) -> list[tuple[str, str, str]]:
    """Return a pattern's fields for totals: each one's name, its label, and what it is called."""
    code, name = entry.pattern.code.replace(".", "_"), entry.pattern.name
    return [(f"packs {code}", "Packs", f"Packs of {name} in all"),
            (f"amount {code}", "Amount", f"Amount for {name}")]  # fmt: skip


@dataclass(slots=True)
class FormLine(Unit):
    """Some labelled lines to write on, side by side."""

    book: BookContext
    heads: Sequence[FormHead]
    path: StructurePath
    gap: float = field(default=7.0, kw_only=True)
    keep: bool = field(default=True, kw_only=True)

    def height(self, width: float) -> float:
        """Return the height of a label and a line."""
        return 27.0

    def draw(self, canvas: Canvas, box: Box) -> None:
        """Draw labels, lines and fields."""
        setter = self.book.setter
        for head, cell in zip(self.heads, across(box, len(self.heads), 14.0), strict=True):
            left, top, right, bottom = cell
            words = setter.words("field", head.label, place=_PLACE)
            key = f"order.{head.name}"
            label_path = (*self.path, Element("P", f"{key}.label"))
            canvas.write(words, (left, top, right, top + 9), label_path)
            frame = (left, top + 9, right, bottom)
            canvas.rule(left, right, bottom)
            path = (*self.path, Element("Form", key))
            if self.book.edition.live:
                name, label, value, fixed = head
                canvas.fields.append(Field(name, frame, label, path, value, fixed=fixed, most=120))
            elif head.value:
                words = setter.words("book-cell", head.value, place=_PLACE)
                canvas.write(words, frame, path, valign="middle")


@dataclass(slots=True)
class LastLine(Unit):
    """The sums of the whole order, and a line to sign on."""

    book: BookContext
    path: StructurePath

    def _sums(self) -> FormLine:
        whole = [FormHead(name, label, "", fixed=False) for name, label in WHOLE.items()]
        return FormLine(self.book, whole, self.path)

    def height(self, width: float) -> float:
        """Return the height of a label, with room to sign."""
        return self._sums().height(width) + 8

    def draw(self, canvas: Canvas, box: Box) -> None:
        """Draw the sums at the left, and label and line at the right."""
        left, top, right, bottom = box
        middle = left + (right - left) * 0.56
        self._sums().draw(canvas, (left, top + 8, middle - 14, bottom))
        words = self.book.setter.words("field", "Signature", place=_PLACE)
        path = (*self.path, Element("P", "order.signature"))
        canvas.write(words, (middle, top + 8, right, top + 17), path)
        canvas.rule(middle, right, bottom)
