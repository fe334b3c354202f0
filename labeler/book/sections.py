"""The sections beside the patterns: contents, colour index, codes to scan, terms, markets.

Lines of the first end in the number of a page; codes lead to the same address as the labels.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from functools import lru_cache

from labeler.book.edition import (
    EXCISE,
    RETAIL_BASE,
    Edition,
    PatternEntry,
    alike,
    by_colour,
    contact_ways,
    dates_of,
    excise_on_top,
    excise_within,
    long_date,
    percent,
    weight_and_hook,
    weight_text,
)
from labeler.book.figures import draw_swatch
from labeler.book.tables import (
    BodyRow,
    BookTable,
    Cell,
    HeadRow,
    TableColumn,
    keep_rows_company,
    sku_anchor,
)
from labeler.book.typesetting import (
    GREY,
    BookContext,
    Canvas,
    Labelled,
    Paragraph,
    StructurePath,
    Unit,
    Words,
    across,
)
from labeler.catalog.model import Material, Product
from labeler.codes.links import link_of
from labeler.codes.qr import qr_side, qr_symbol
from labeler.disclosures.rules import NO_LEGAL_ADVICE
from labeler.disclosures.sale import MEANS, SHORT, Status, Verdict, may_be_sold, parts_not_asked
from labeler.findings import Place
from labeler.geometry import Box
from labeler.layout.facts import amount_text
from labeler.marks import Claim, Code, Element
from labeler.units import NO_BREAK_SPACE, Length

_SHADE = 34.0
"""Points: how long a swatch is in the contents."""

_NUMBER = 30.0
"""Points that a page's number takes at the right of a line."""


def contents_units(book: BookContext, path: StructurePath) -> list[Unit]:
    """Return a line for each pattern, then one for each section after them."""
    toc = (*path, Element("TOC", f"{path[-1].key}.toc"))
    units: list[Unit] = []
    for entry in book.entries:
        words = book.setter.words(
            "book-heading", f"{entry.pattern.name}{NO_BREAK_SPACE * 2}",
            ("book-key", f"{entry.pattern.code}{NO_BREAK_SPACE * 2}"),
            ("book-cell", entry.pattern.kind),
            place=Place(piece=entry.pattern.name, block="contents"), scale=0.82, least=7.0,
            lines=4,
        )  # fmt: skip
        gap = 5.0 if book.edition.small else 9.0
        line = ContentsLine(book, words, entry.anchor, toc, gap=gap, shades=entry.colourways)
        units.append(line)
    for number, (title, anchor) in enumerate(book.headings):
        words = book.setter.words("book-caption", title, scale=1.08)
        apart, above = (4.0, 10.0) if book.edition.small else (6.5, 16.0)
        units.append(ContentsLine(book, words, anchor, toc, gap=apart if number else above))
    place = Place(block="how to find a price")
    words = book.setter.words("book-text", HOW_TO_FIND, place=place)
    gap = 9 if book.edition.small else 16
    return [*units, Paragraph(words, (*path, Element("P", f"{path[-1].key}.how")), gap=gap)]


HOW_TO_FIND = (
    "Every price is two look-ups away: a SKU, a color or a weight in its index, and the page that "
    "the index names. Each plate is on a left page; its colors and prices face it or follow. The "
    "letters at the outer edge are the pattern\N{RIGHT SINGLE QUOTATION MARK}s code."
)


@dataclass(slots=True)
class ContentsLine(Unit):
    """A name, perhaps with a word beside it, and its page at the right; all of it is a link."""

    book: BookContext
    words: Words
    anchor: str
    path: StructurePath
    gap: float = field(default=6.5, kw_only=True)
    number: float = _NUMBER
    """Points that the page's number takes at the right."""
    pattern: str = ""
    skus: tuple[str, ...] = ()
    """Whose line of an index it is; none in the contents."""
    shades: tuple[Product, ...] = ()
    """The colours whose swatches stand below."""

    def height(self, width: float) -> float:
        """Return the height of the name's lines, and of the swatches."""
        return self.words.height(width - self.number) + 3 + self._swatches()

    def _swatches(self) -> float:
        return 10.0 if any(product.colour.layers for product in self.shades) else 0.0

    def draw(self, canvas: Canvas, box: Box) -> None:
        """Draw name, number, and a dotted rule between them."""
        left, top, right, bottom = box
        bottom -= self._swatches()
        for at, product in enumerate(p for p in self.shades if p.colour.layers):
            begin = left + at * (_SHADE + 5)
            if begin + _SHADE < right - self.number:
                bar = (begin, bottom + 1, begin + _SHADE, bottom + 6)
                draw_swatch(canvas, self.book.edition, product, bar)
        key = f"{self.path[-1].key}.{self.anchor}"
        body: StructurePath
        if self.skus:
            body = (Element("LI", key), Element("LBody", f"{key}.body"))
            canvas.claim(Claim("index", self.pattern, self.skus, box), ("index", key))
        else:
            body = (Element("TOCI", key),)
        item = (*self.path, *body, Element("Link", f"{key}.link"))
        edge = right - self.number
        marks, ink = self.words.glyphs((left, top, edge, bottom))
        canvas.put(marks, item, f"#{self.anchor}", box)
        canvas.take(ink, "contents")
        page = str(self.book.starts.get(self.anchor, 0))
        place = Place(block="page number")
        scale = 1.0 if self.skus else 1.15
        number = self.book.setter.words("book-folio", page, place=place, scale=scale)
        setting = self.words.fit(edge - left)
        last = top + setting.first_baseline
        last += (len(setting.lines) - 1) * self.words.text.leading * setting.size
        down = last - number.fit(self.number).first_baseline
        ink = canvas.write(number, (edge, down, right, down + 14), item, align="right")
        begin, end = left + self.words.text.natural_width(setting.size) + 6, ink[0] - 5
        if len(setting.lines) == 1 and begin + 1 < end:
            canvas.rule(begin, end, last - 0.4, 0.4, GREY, (0.4, 2.6))


def index_units(book: BookContext, path: StructurePath) -> list[Unit]:
    """Return the colour index's lines, by name."""
    lists = (*path, Element("L", f"{path[-1].key}.list"))
    lines: list[Unit] = [
        IndexLine(book, product, entries, lists) for product, entries in by_colour(book.entries)
    ]
    lines[0].gap = 14
    return lines


@dataclass(slots=True)
class IndexLine(Unit):
    """A colour: its bar, its name, and in which patterns it comes, each a link with its page."""

    book: BookContext
    product: Product
    entries: Sequence[PatternEntry]
    path: StructurePath

    def _name(self) -> Words:
        place = Place(piece=self.product.sku, block="color index, name")
        return self.book.setter.words("book-caption", self.product.colour.name, place=place)

    def _pattern(self, entry: PatternEntry, page: str) -> Words:
        name, number = f"{entry.pattern.name} ", ("book-folio", f" {page}")
        place = Place(piece=entry.pattern.name, block="color index, pattern")
        return self.book.setter.words("book-cell", name, number, place=place, lines=4)

    def _first(self, entry: PatternEntry) -> str:
        """Return the SKU whose row is the first of this colour among the entry's prices."""
        colour = self.product.colour
        rows = (product for group in entry.groups for product in group.products)
        return next(p.sku for p in rows if (p.colour.code, p.colour.name) ==
                    (colour.code, colour.name))  # fmt: skip

    def _heights(self, width: float) -> list[float]:
        # The number of the page is not known yet when the height is asked for: four digits serve.
        room = width - width * 0.15 - width * 0.30 - 20
        return [self._pattern(entry, "8888").height(room) + 2.5 for entry in self.entries]

    def height(self, width: float) -> float:
        """Return the height of the names, or of the patterns' lines."""
        return max(self._name().height(width * 0.30), sum(self._heights(width))) + 6

    def draw(self, canvas: Canvas, box: Box) -> None:
        """Draw bar, name and patterns."""
        width = box[2] - box[0]
        y = box[1] + 3
        bar = (box[0], y + 2, box[0] + width * 0.15, y + 8)
        draw_swatch(canvas, self.book.edition, self.product, bar)
        key = f"{self.path[-1].key}.{self.product.colour.code}.{self.product.sku}"
        item = (*self.path, Element("LI", key))
        left = bar[2] + 10
        right = left + width * 0.30
        label = (*item, Element("Lbl", f"{key}.name"))
        canvas.write(self._name(), (left, y, right, box[3]), label)
        body = (*item, Element("LBody", f"{key}.in"))
        for entry, high in zip(self.entries, self._heights(width), strict=True):
            anchor = sku_anchor(self._first(entry))
            words = self._pattern(entry, str(self.book.starts.get(anchor, 0)))
            link = (*body, Element("Link", f"{key}.{entry.anchor}"))
            place = (right + 10, y, box[2], y + high)
            canvas.write(words, place, link, link=f"#{anchor}")
            y += high
        canvas.rule(box[0], box[2], box[3], 0.2)


def weight_units(book: BookContext, path: StructurePath) -> list[Unit]:
    """Return the weight index: the lightest first, and each pattern that comes in a weight."""
    listed = (*path, Element("L", f"{path[-1].key}.list"))
    groups = [(group, entry) for entry in book.entries for group in entry.groups]
    units: list[Unit] = []
    before = None
    for group, entry in sorted(groups, key=lambda one: (one[0].weight, one[1].number)):
        hook = f", hook {group.hook_size}" if group.hook_size else ""
        words = book.setter.words(
            "book-cell", ("book-figure", weight_text(group.weight)),
            f"{NO_BREAK_SPACE * 2}{entry.pattern.name}{hook}", lines=3, least=5.0, scale=1.06,
            place=Place(piece=entry.pattern.name, block="weight index"),
        )  # fmt: skip
        skus = tuple(product.sku for product in group.products)
        gap = 1.6 if before == group.weight else 7.0
        before = group.weight
        units.append(
            ContentsLine(book, words, sku_anchor(skus[0]), listed, gap=gap,
                         number=_INDEX_NUMBER, pattern=entry.pattern.code, skus=skus)
        )  # fmt: skip
    return units


def sku_units(book: BookContext, path: StructurePath) -> list[Unit]:
    """Return the SKU index: every SKU of the book, with the page on which its price stands."""
    listed = (*path, Element("L", f"{path[-1].key}.list"))
    units: list[Unit] = []
    for product in sorted(book.edition.products, key=lambda one: one.sku):
        sku = product.sku
        place = Place(piece=sku, block="SKU index")
        words = book.setter.words("book-code", sku, place=place, lines=1, least=4.0)
        units.append(
            ContentsLine(book, words, sku_anchor(sku), listed, gap=1.2, number=_INDEX_NUMBER,
                         pattern=product.pattern.code, skus=(sku,))
        )  # fmt: skip
    return units


_INDEX_NUMBER = 24.0

_MODULE = Length.from_mm(0.36).pt
"""As on labels: at least 0.33 mm, a house choice; common practice, no published source."""

_TEXT_LEAST = 92.0
_GUTTER = 10.0


def code_units(book: BookContext, path: StructurePath) -> list[Unit]:
    """Return the codes by pattern, as many side by side as there is room for."""
    units: list[Unit] = []
    for entry in book.entries:
        widest = max(map(_code_width, entry.products))
        room = book.frame.measure + _GUTTER
        columns = max(1, int(room / (widest + _TEXT_LEAST + _GUTTER)))
        key = f"codes.{entry.anchor}"
        if not book.edition.slim:
            units.append(_heading(book, entry, (*path, Element("H2", key))))
        codes = (*path, Element("L", f"{key}.list"))
        for first in range(0, len(entry.products), columns):
            again = (*path, Element("P", f"{key}.{first}"))
            head = _heading(book, entry, again, ", continued")
            row = entry.products[first : first + columns]
            units.append(CodeRow(book, row, columns, codes, gap=6, head=head))
    return units


def _heading(
    book: BookContext, entry: PatternEntry, path: StructurePath, more: str = ""
) -> Paragraph:
    place = Place(piece=entry.pattern.name, block="codes")
    name = f"{entry.pattern.name}{more}"
    words = book.setter.words("book-heading", name, place=place, scale=0.72, least=6.5)
    return Paragraph(words, path, gap=14, keep=True, rule_below=4)


def _code_width(product: Product) -> float:
    """Return how wide a product's code is in points, quiet zone included."""
    return _side(link_of(product)) * _MODULE


_side = lru_cache(maxsize=8192)(qr_side)


@dataclass(slots=True)
class CodeRow(Unit):
    """Some products' codes side by side, each with its SKU and what it is."""

    book: BookContext
    products: Sequence[Product]
    columns: int
    path: StructurePath

    def height(self, width: float) -> float:
        """Return the height of the largest code."""
        return max(map(_code_width, self.products))

    def draw(self, canvas: Canvas, box: Box) -> None:
        """Draw each code with its words."""
        for product, cell in zip(self.products, across(box, self.columns, _GUTTER), strict=False):
            self._draw_one(canvas, product, cell)

    def _draw_one(self, canvas: Canvas, product: Product, box: Box) -> None:
        left, top, right, bottom = box
        address = link_of(product)
        symbol = qr_symbol(address)
        side = symbol.columns * _MODULE
        code = Code(symbol.kind, symbol.payload, left, top, side, side, left, top,
                    _MODULE, symbol.bars)  # fmt: skip
        key = f"code.{product.sku}"
        item = (*self.path, Element("LI", key), Element("LBody", f"{key}.words"))
        figure = Element("Figure", f"{key}.code", says=f"QR code of {product.sku}, {address}")
        canvas.put([code], (*item, figure))
        canvas.take((left, top, left + side, top + side), "QR code")
        canvas.claim(Claim("code", product.pattern.code, (product.sku,), box), key)
        words = self.book.setter.words(
            "book-code", product.sku, ("book-cell", f"\n{product.colour.name}\n"
            f"{weight_and_hook(product.weight, product.hook_size)}"),
            place=Place(piece=product.sku, block="codes"), scale=0.88, least=4.5,
        )  # fmt: skip
        marks, ink = words.glyphs((left + side + 1, top, right, bottom), valign="middle")
        link = (*item, Element("Link", f"{key}.link"))
        canvas.put(marks, link, address, (left, top, ink[2], bottom))
        canvas.take(ink, "codes")


_WAYS = {"tel:": "By telephone", "mailto:": "By e-mail", "http": "On the web", "": "By post"}
"""What a way to reach the maker is called, by how its link begins."""


def terms_units(book: BookContext, path: StructurePath) -> list[Unit]:
    """Return the terms, a field and its words each: prices, orders, freight, returns, tax."""
    lists = (*path, Element("L", "terms.list"))
    units: list[Unit] = []
    for number, (name, words, link) in enumerate(_fields_of_terms(book)):
        place = Place(block=f"terms, {name.lower()}")
        units.append(
            Labelled(
                book.setter.words("field", name, place=place),
                book.setter.words("book-text", words, place=place, scale=1.08),
                (*lists, Element("LI", f"terms.{number}")),
                96.0,
                gap=(5.5 if book.edition.slim else 9.0) if number else 12.0,
                link=link,
            )
        )
    return units


def _fields_of_terms(book: BookContext) -> Iterator[tuple[str, str, str]]:
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
    says = "Margin is what the shop keeps of the suggested retail price."
    if edition.keystone:
        twice = (
            "Keystone is twice the dealer price; it is shown so that you can set a price of "
            "your own."
        )
        yield "Margin and keystone", f"{says} {twice}"
    else:
        yield "Margin", says
    if terms.minimum is not None:
        yield "Least order", f"{amount_text(terms.minimum, currency)} at dealer prices."
    if edition.ready is not None:
        says = (
            f"Ready: packs lay here on {long_date(edition.day)}, not promised to anybody. "
            "To order: tied once it is ordered."
        )
        yield "On hand", says
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
        tax = amount_text(excise_within(price, RETAIL_BASE), edition.currency)
        return f"{base}, 6/106 of the price here: of {shown} for {product.sku}, {tax} is tax."
    on_top = excise_on_top(price, RETAIL_BASE)
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
    said = {verdict for _, verdicts in rows for verdict in verdicts}
    means = [
        f"{SHORT[status]}: {says}." for status, says in MEANS.items()
        if any(verdict.startswith(SHORT[status]) for verdict in said)
    ]  # fmt: skip
    units.append(note(" ".join([*means, _POINTS]), "means"))
    units += [note(f"{n}  {about}", f"note{n}", 1.2) for n, about in enumerate(notes, 1)]
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
        behind = verdict.notes if verdict.status is Status.NOTED else verdict.reasons
        numbers = sorted({notes.setdefault(one.about, len(notes) + 1) for one in behind})
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
