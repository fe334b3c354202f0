"""Judges a finished book: every entry, row, code and link, against the catalog and the markets."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from functools import cached_property
from typing import TYPE_CHECKING

from labeler.catalog.model import Catalog, Product, Tier
from labeler.catalog.structure import PHOTOS
from labeler.checker.claims import (
    BookClaim,
    BookPlace,
    PieceClaim,
    ProductLine,
    no_such_product,
    other_catalog,
    other_pages,
)
from labeler.checker.page.book_page import BookReader, SeenField, SeenPage, SeenPlace
from labeler.checker.page.codes import codes_in
from labeler.checker.page.elements import unswept
from labeler.checker.pdf.file import CheckedPdf, PageEntry
from labeler.checker.pieces import tried
from labeler.checker.report import ALWAYS_OPEN, Report
from labeler.checker.rulebook import asks, finding
from labeler.checker.rules import (
    accounted,
    codes,
    entries,
    identity,
    links,
    listing,
    placing,
    required,
    retail,
)
from labeler.checker.rules.book_file import BookFile
from labeler.checker.rules.claims import said_in
from labeler.checker.rules.edition import EditionWords, said
from labeler.checker.rules.listing import Column, ColumnHeading, DueField, ListedProduct, PriceList
from labeler.checker.rules.words import packed
from labeler.checker.subject import LawAsked
from labeler.disclosures import sale, statements
from labeler.findings import Finding, Place
from labeler.geometry import Box, grown

if TYPE_CHECKING:
    from labeler.checker.subject import CheckRequest, Progress


@dataclass
class BookCheck:
    """One book being checked."""

    request: CheckRequest
    line: ProductLine
    catalog: Catalog
    claim: BookClaim
    progress: Progress | None = None
    found: list[Finding] = field(default_factory=list)
    pages: int = 0
    open_points: list[str] = field(default_factory=list)

    def __post_init__(self) -> None:
        self.file = self.request.name
        self.rows: dict[str, list[Place]] = {}
        self.addresses: set[str] = set()
        self.heads: dict[str, list[tuple[ColumnHeading, Column]]] = {}
        self.tables: dict[str, entries.Taxed] = {}
        self._apart: dict[object, list[ListedProduct]] = {}
        self.sold: set[str] = set()
        self.orderable: set[str] = set()
        self.leaf_of: dict[int, int] = {}
        self.heads_typed: dict[str, list[tuple[Place, SeenField]]] = {}
        self.pages_of = links.pages_of(self.claim, self._called, self.catalog)

    # ------------------------------------------------------------------------- what it must be

    @cached_property
    def place(self) -> Place:
        """The file as a whole."""
        return Place(file=self.file)

    @cached_property
    def subjects(self) -> dict[str, ListedProduct]:
        """The edition's products, by SKU, and what must be said of each."""
        law = LawAsked()
        wanted = set(self.claim.skus) if self.claim.skus is not None else None
        return {
            product.sku: ListedProduct(
                product,
                PieceClaim(0, product.sku, "", (), 1.0, 1.0, 0.0, ()),
                self._markets(product),
                self.request.day,
                "book",
                law,
                terms=self.catalog.file.terms,
            )
            for product in self.line.products
            if wanted is None or product.sku in wanted
        }

    def _markets(self, product: Product) -> tuple[str, ...]:
        """Return where a product of this book is sold: where the dealer sells, too."""
        if self.request.markets:
            return self.request.markets
        known = {dealer.name: dealer for dealer in self.catalog.file.dealers.values()}
        dealer = known.get(self.claim.dealer)
        more = [dealer.market] if dealer and dealer.market else []
        return tuple(dict.fromkeys([*product.markets, *more]))

    @cached_property
    def by_pattern(self) -> dict[str, list[ListedProduct]]:
        """The edition's products by their pattern's code."""
        found: dict[str, list[ListedProduct]] = {}
        for subject in self.subjects.values():
            found.setdefault(subject.product.pattern.code, []).append(subject)
        return found

    @cached_property
    def tiers(self) -> tuple[Tier, ...]:
        """The tiers whose prices stand in the book; none in one for buyers, whatever it says."""
        if self.claim.edition == "retail":
            return ()
        known = {tier.name: tier for tier in self.catalog.file.tiers.values()}
        return tuple(known[name] for name in self.claim.tiers if name in known)

    @cached_property
    def amounts(self) -> listing.Amounts:
        """The money that the book may name beside its tables."""
        terms = self.catalog.file.terms
        said = (terms.lead_time, terms.freight, terms.payment, terms.returns, terms.notes)
        own = [text for text in said if text]
        own += sorted({subject.own_words for subject in self.subjects.values()})
        products = [subject.product for subject in self.subjects.values()]
        return listing.Amounts(products, self.tiers, terms, " \n ".join(own))

    @cached_property
    def matters(self) -> retail.DealersMatters | None:
        """What a book for buyers must not hold; None for a dealer's book."""
        if self.claim.edition != "retail":
            return None
        return retail.DealersMatters(
            self.catalog, [subject.product for subject in self.subjects.values()]
        )

    # ------------------------------------------------------------------------------- the file

    def run(self, document: CheckedPdf, trusted: bool) -> None:
        """Check every page that the sheet names, and then the book as a whole."""
        pages = document.pages()
        self.found += document.findings()
        if self.claim.preview:
            self.found.append(placing.only_preview(self.place))
            return
        self.found += tried(self.place, self._about_the_book, pages)
        self.found += retail.judge_attachments(document, self.matters)
        self.leaf_of = {page: at for at, page in enumerate(sorted(self.claim.pages), 1)}
        reader = BookReader(document, self.request.folder, None, trusted)
        try:
            for page in pages:
                places = self.claim.pages.get(page.number, ())
                if places:
                    self.pages += 1
                    self.found += self._page(page, places, reader)
                if self.progress:
                    self.progress(page.number, len(pages))
            if self.words is not None:
                self.found += tried(self.place, self._fields_above)
                file = BookFile(document, self.words, reader)
                self.found += tried(self.place, file.judge)
            self.open_points += self._open_points(reader)
        finally:
            reader.close()
        self.found += tried(self.place, self._as_a_whole)

    @cached_property
    def _called(self) -> dict[str, str]:
        return {code: each[0].product.pattern.name for code, each in self.by_pattern.items()}

    @asks("book-tier-unknown", "book-dealer-unknown")
    def _about_the_book(self, pages: Sequence[PageEntry]) -> Iterator[Finding]:
        claim, there = self.claim, {page.number for page in pages}
        yield from other_pages(self.file, claim.pages, there, lambda _: "")
        yield from other_catalog(claim.catalog_digest, self.line, self.place)
        listed = {sku for place in claim.places for sku in place.skus} | set(claim.skus or ())
        for sku in sorted(listed - set(self.subjects)):
            place = Place(file=self.file, piece=sku)
            yield no_such_product(sku, self.subjects, self.line, place)
        known = [tier.name for tier in self.catalog.file.tiers.values()]
        for name in [name for name in claim.tiers if name not in known]:
            yield finding("book-tier-unknown", self.place, found=name, expected=" or ".join(known))
        dealers = [dealer.name for dealer in self.catalog.file.dealers.values()]
        if claim.dealer and claim.dealer not in dealers:
            yield finding("book-dealer-unknown", self.place, found=claim.dealer)

    # -------------------------------------------------------------------------------- a page

    @asks("order-field-altered")
    def _fields_above(self) -> Iterator[Finding]:
        """Yield what is wrong with the fields that say who orders."""
        for due in self._due_above():
            fields = self.heads_typed.pop(due.name, [])
            place = fields[0][0] if fields else self.place
            yield from listing.judge_field(place, [each for _, each in fields], due)
        for fields in self.heads_typed.values():
            for place, each in fields:
                yield finding(
                    "order-field-altered", place, found=each.name, expected="no such field"
                )

    def _due_above(self) -> Iterator[DueField]:
        """Yield the fields of a dealer's book that stand above and below its order form."""
        claim = self.claim
        if self.words is None or claim.edition != "dealer" or claim.booklet or claim.prices:
            return
        words, edition = said()["order"], self.words.edition
        for name, label in words["fields"].items():
            filled = edition.filled[name]
            yield DueField(name, label, filled, words["longest"], name == "tier")
        for name, label in words["whole"].items():
            yield DueField(name, label, "", words["longest"])
        for code in self.by_pattern:
            for name, label in edition.sums(code):
                yield DueField(name, label, "", words["sum"])

    @unswept()
    def _page(
        self, page: PageEntry, places: Sequence[BookPlace], reader: BookReader
    ) -> list[Finding]:
        seen = reader.leaf(page, places, self._called)
        found = list(self._on_page(seen))
        worded = list(self._worded(seen, found))
        if self.words is not None:
            found = [each for one in found for each in self.words.weighed(one, seen)]
            self.words.here.clear()
        return [*found, *worded]

    def _on_page(self, page: SeenPage) -> Iterator[Finding]:
        yield from page.odd
        yield from placing.strays(page.strays, Place(file=self.file, page=page.number))
        for place in page.places:
            if place.about.kind == "heads":
                heads = listing.heads_in(place)
                self.heads[place.about.pattern] = listing.columns_of(heads, self.tiers)
        for place in page.places:
            yield from tried(place.place(), self._in_place, place, page)
        whole, maker = Place(file=self.file, page=page.number), self.catalog.file.maker
        for touch in page.touches:
            self.addresses.add(touch.address)
            yield from tried(whole, links.judge_link, page, touch, dict(self.subjects), maker)
            if page.leaves and self.number_of[page.number, page.leaves[0].about.trim] != 1:
                yield from tried(whole, links.judge_page_number, page, touch, self.leaf_of)
            yield from tried(whole, links.judge_pattern_link, page, touch, self.pages_of)
            if touch.says and packed(touch.says) not in packed(touch.words) and self.words:
                where = page.leaves[0].place(touch.box)
                yield from self.words.judge.told(touch.says, where, " behind a link")
        yield from tried(whole, self._typed, page)

    @cached_property
    def words(self) -> accounted.BookWords | None:
        """All words of the book against those of its edition; None where it lists nothing."""
        subjects = list(self.subjects.values())
        if not subjects:
            return None
        first = subjects[0]
        noun = statements.units(first.product, first.markets).casefold()
        judge = accounted.Judge(self.line, first.product, noun, self.matters)
        edition = EditionWords(self.catalog, subjects, self.claim, self.tiers)
        return accounted.BookWords(edition, judge)

    def _worded(self, page: SeenPage, told: Sequence[Finding]) -> Iterator[Finding]:
        """Yield what is wrong with the words of each leaf of a page."""
        if self.words is None:
            return
        for leaf in page.leaves:
            inner = [
                place for place in page.places
                if place is not leaf and place.about.trim == leaf.about.trim
            ]  # fmt: skip
            number = self.number_of[leaf.about.page, leaf.about.trim]
            last = len(self.number_of)
            yield from tried(leaf.place(), self.words.on, leaf, inner, number, last, told)

    @cached_property
    def number_of(self) -> dict[tuple[int, Box], int]:
        """The number of each leaf, from 1, by its page in the file and where it lies there.

        Two leaves lie on each side of a booklet's sheets; blank ones stand before the last leaf.
        Source: common practice of saddle stitching.
        """
        leaves = sorted({(place.page, place.trim) for place in self.claim.places})
        if not self.claim.booklet:
            return {leaf: at for at, leaf in enumerate(leaves, 1)}
        sides = max(page for page, _ in leaves)
        edge = min(trim[0] for _, trim in leaves)
        found = {}
        for page, trim in leaves:
            right = trim[0] - edge > (trim[2] - trim[0]) / 2
            number = page if (page % 2 == 1) == right else 2 * sides + 1 - page
            found[page, trim] = min(number, len(leaves)) if number == 2 * sides else number
        return found

    def _in_place(self, place: SeenPlace, page: SeenPage) -> Iterator[Finding]:
        kind = place.about.kind
        if kind in ("page", "pattern"):
            yield from self._on_leaf(place, page)
        elif kind == "entry":
            yield from self._in_entry(place)
        elif kind == "code":
            yield from self._at_code(place)
        elif kind == "order":
            yield from self._ordered(place, page)
        elif kind == "list":
            yield from self._listed(place)
        elif kind == "priced":
            yield from self._priced(place)

    def _of(self, about: BookPlace) -> list[ListedProduct]:
        """Return the products that a place is about: its own, its pattern's, or all."""
        if about.skus:
            return [self.subjects[sku] for sku in about.skus if sku in self.subjects]
        return self.by_pattern.get(about.pattern) or list(self.subjects.values())

    def _unlike(self, about: BookPlace, by: str) -> list[ListedProduct]:
        """Return one product of each weight, or of each kind that the law tells apart."""
        key = about.skus or about.pattern, by
        if key not in self._apart:
            found: dict[object, ListedProduct] = {}
            for subject in self._of(about):
                kind = subject.weight_kind if by == "weight" else subject.lawful_kind
                found.setdefault(kind, subject)
            self._apart[key] = list(found.values())
        return self._apart[key]

    @cached_property
    def dates(self) -> entries.Dates:
        """From when to when the prices hold, and what of it was found."""
        terms = self.catalog.file.terms
        return entries.Dates(terms.listed or self.claim.listed, terms.valid_until)

    # -------------------------------------------------------------------------------- a leaf

    def _on_leaf(self, leaf: SeenPlace, page: SeenPage) -> Iterator[Finding]:
        """Yield what is wrong with a leaf of the book, whatever stands on it."""
        products = self._of(leaf.about)
        if not products:
            return
        if leaf.about.kind == "page":
            yield from self.dates.on(leaf)
        elif any(p.about.kind == "entry" for p in page.places):
            table = self.tables.setdefault(leaf.about.pattern, entries.Taxed(products[0]))
            table.look(leaf, products[0].said("excise"))
        if leaf.about.kind == "pattern":
            yield from placing.empty(leaf, products[0])
        yield from placing.edges(leaf, products[0])
        yield from placing.letters(leaf, products[0])
        yield from self._claims(leaf, page)
        if leaf.about.kind == "pattern" or any(p.about.kind == "order" for p in page.places):
            yield from self._weighed(leaf, page)
        if due := self._excise:
            yield from entries.judge_excise(leaf, due)
        yield from listing.judge_amounts(leaf, page, self.amounts)
        if leaf.pictures:
            photos = (each.product.photo for each in self.by_pattern.get(leaf.about.pattern, ()))
            first = self.number_of[leaf.about.page, leaf.about.trim] == 1
            photo = self.catalog.file.maker.logo if first else next(filter(None, photos), "")
            yield from entries.judge_pictures(
                leaf, self.request.folder / PHOTOS / photo if photo else None
            )
        if self.matters is not None:
            yield from retail.judge_leaf(leaf, self.matters)
        yield from self._stray_codes(leaf, page)

    def _weighed(self, leaf: SeenPlace, page: SeenPage) -> Iterator[Finding]:
        """Yield the weights on a leaf that are no product's.

        What the law says of weights, on a leaf that a pattern shares with it, is no product's.
        """
        for one in entries.judge_weights(leaf, self._unlike(leaf.about, "weight")):
            shared = page.within(one.place.box, "section") if one.place.box else None
            if shared is None or shared.about.pattern == "order":
                yield one

    @cached_property
    def _excise(self) -> str:
        said = (subject.said("excise") for subject in self.subjects.values())
        return next((one.full.plain.casefold() for one in said if one), "")

    def _claims(self, leaf: SeenPlace, page: SeenPage) -> Iterator[Finding]:
        for text, line in said_in(leaf.passages):
            near = page.within(line.box, "entry", "code", "order")
            products = self._unlike((near or leaf).about, "law")
            yield from entries.judge_entry_claims(text, products, near or leaf, line.box)

    def _stray_codes(self, leaf: SeenPlace, page: SeenPage) -> Iterator[Finding]:
        """Yield the codes that stand beside no product, and lead to one that they are not by."""
        loose = [code for code in leaf.codes if page.within(code.box, "code") is None]
        if leaf.pictures:
            boxes = [grown(each.box, _AROUND) for each in leaf.pictures]
            loose += codes_in(boxes, leaf.raster)
        if not loose:
            return
        links = {codes.link_of(subject) for subject in self._of(leaf.about)}
        for code in loose:
            if code.text not in links:
                yield finding(
                    "code-other-address", leaf.place(code.box), found=code.text[:160] or "unread",
                    expected="a link of a product that stands here",
                )  # fmt: skip

    def _typed(self, page: SeenPage) -> Iterator[Finding]:
        """Yield the claims in what stands in a page's fields."""
        for each in page.fields:
            if page.within(each.box, "order") is None:
                place = Place(file=self.file, page=page.number, box=each.box)
                self.heads_typed.setdefault(each.name, []).append((place, each))
            where = page.within(each.box, "order", "page", "pattern")
            if each.value and where is not None:
                products = self._unlike(where.about, "law")
                yield from entries.judge_entry_claims(each.value, products, where, each.box)

    # ------------------------------------------------------------------------------- entries

    @asks("piece-other-product", "listing-missing")
    def _in_entry(self, place: SeenPlace) -> Iterator[Finding]:
        products = self._of(place.about)
        if not products:
            return
        yield from entries.judge_heading(place, products[0])
        prices = PriceList(
            self.tiers, self.catalog.file.sale.currency, self.heads.get(place.about.pattern, [])
        )
        wanted = {subject.product.sku: subject for subject in products}
        rows = listing.rows_in(place, self.line.skus)
        leaf = self.number_of[place.about.page, place.about.trim]
        for row in rows:
            if self.words is not None:
                self.words.row_pages.setdefault(row.sku, set()).add(leaf)
            spot = place.place_of(row.sku, row.box)
            self.rows.setdefault(row.sku, []).append(spot)
            if row.sku in wanted:
                yield from listing.judge_row(row, wanted[row.sku], prices)
            else:
                yield finding("piece-other-product", spot, found=row.sku)
        entry = entries.EntryStanding(place, self.line.skus)
        for sku, subject in wanted.items():
            yield from entry.said(subject)
            if all(row.sku != sku for row in rows):
                yield finding("listing-missing", place.place_of(sku), expected=sku)
            yield from self._sold(subject, place)

    def _listed(self, place: SeenPlace) -> Iterator[Finding]:
        """Yield what is wrong with what a pattern's part of a price list must say."""
        entry = entries.EntryStanding(place, self.line.skus)
        for subject in self._of(place.about):
            yield from entry.said(subject)
            yield from self._sold(subject, place)

    def _sold(self, subject: ListedProduct, place: SeenPlace) -> Iterator[Finding]:
        """Yield, the first time a product stands in the book, what keeps it from being sold."""
        sku = subject.product.sku
        if sku not in self.sold:
            self.sold.add(sku)
            yield from required.judge_sale(subject, place.place_of(sku))
            yield from identity.samples(subject, place.place_of(sku))

    @asks("listing-missing")
    def _priced(self, place: SeenPlace) -> Iterator[Finding]:
        """Yield what is wrong with a row of a price list, of all products that it names."""
        subjects = self._of(place.about)
        yield from entries.judge_heading(place, subjects[0])
        prices = PriceList(self.tiers, self.catalog.file.sale.currency, self.heads.get("", []))
        said = set(place.text.replace(",", " ").split())
        for subject in subjects:
            sku = subject.product.sku
            if sku not in said:
                yield finding("listing-missing", place.place_of(sku), expected=sku)
            self.rows.setdefault(sku, []).append(place.place_of(sku))
            yield from listing.judge_shared_row(place, subject, prices)

    def _at_code(self, place: SeenPlace) -> Iterator[Finding]:
        for subject in self._of(place.about)[:1]:
            yield from codes.codes(place, subject, None)
            yield from codes.none(bool(place.all_codes), subject, place.place())
            yield from identity.others(place, subject, self.line)
            yield from entries.judge_weights(place, [subject])
            said = place.text.split()
            if subject.product.sku not in said:
                yield finding("listing-missing", place.place(), expected=subject.product.sku)

    def _ordered(self, place: SeenPlace, page: SeenPage) -> Iterator[Finding]:
        prices = PriceList(self.tiers, self.catalog.file.sale.currency)
        inside = page.fields_in.get(id(place), ())
        words = said()["order"]
        for subject in self._of(place.about)[:1]:
            product = subject.product
            self.orderable.add(product.sku)
            mixed = bool(self.words and self.words.edition.mixed(product.pattern.code))
            yield from listing.judge_order_cell(place, product, prices, mixed)
            labels = [
                each for each in page.places
                if each.about.kind in ("sizes", "shades") and each.about.trim == place.about.trim
            ]  # fmt: skip
            if self.words is not None:
                edition = self.words.edition
                shaded, graded = edition.shaded(subject), edition.graded(subject)
                yield from listing.judge_order_place(place, labels, shaded, graded)
            if not self.claim.booklet:
                says = words["packs"].format(sku=product.sku, name=product.name)
                due = DueField(listing.field_of(product.sku), says, "", words["most"])
                yield from listing.judge_field(place.place(), inside, due)

    # ------------------------------------------------------------------------ the whole book

    @asks("listing-missing", "listing-twice", "order-cell-missing")
    def _as_a_whole(self) -> Iterator[Finding]:
        formed = self.words is not None and "order" in self.words.edition.sections
        for sku, subject in self.subjects.items():
            rows = self.rows.get(sku, [])
            if len(rows) > 1:
                pages = ", ".join(str(each.page) for each in rows)
                yield finding(
                    "listing-twice", rows[-1], found=f"{len(rows)} rows, on pages {pages}"
                )
            elif not rows and sku not in self.sold:
                place = Place(file=self.file, piece=sku)
                yield finding("listing-missing", place, expected=sku)
                yield from required.judge_sale(subject, place)
            if formed and sku not in self.orderable:
                yield finding("order-cell-missing", Place(file=self.file, piece=sku), expected=sku)
        for table in self.tables.values():
            yield from table.judge()
        yield from self.dates.missing(self.place)
        if self.words is not None:
            yield from self.words.missing(self.place)
            yield from self.words.spreads()
        yield from entries.over(self.catalog.file.terms, self.request.day, self.place)
        if not (self.claim.booklet or self.claim.prices):
            yield from links.find_unlinked(self.addresses, self.subjects.values(), self.place)

    def _open_points(self, reader: BookReader) -> Iterator[str]:
        if strange := sorted(name for name in reader.unfamiliar_fonts if name):
            yield f"whether the letters of {', '.join(strange)} are what the text layer says"
        markets = sorted({market for each in self.subjects.values() for market in each.markets})
        if parts := sale.parts_not_asked(markets):
            yield f"the rules of {', '.join(parts)}, which are not among the places of sale"
        yield "what the stories, the anatomy and the terms say, but for weights, dates and claims"
        yield from ALWAYS_OPEN

    def report(self) -> Report:
        """Return all that was found."""
        subjects = self.subjects.values()
        markets = dict.fromkeys(market for subject in subjects for market in subject.markets)
        return Report(
            file=self.file,
            findings=tuple(dict.fromkeys(self.found)),
            pieces=sum(map(len, self.rows.values())),
            products=len(self.subjects),
            pages=self.pages,
            not_checked=tuple(self.open_points),
            day=self.request.day,
            markets=tuple(markets),
            noun="row",
        )


_AROUND = 8.0
"""Points beside a picture that are looked at for a code in it: its quiet zone."""
