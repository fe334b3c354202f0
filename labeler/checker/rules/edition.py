"""What a book must say, put together afresh from the catalog: chapter by chapter, row by row.

Nothing is taken from what lays the book out. Words that stand beside the catalog's own are in
``book-words.toml``; every figure is computed here.
"""

from __future__ import annotations

import math
import re
import tomllib
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from decimal import Decimal
from fractions import Fraction
from functools import cache, cached_property, lru_cache, partial
from itertools import chain, islice
from pathlib import Path
from typing import Any

from labeler.catalog.model import Catalog, Colour, Material, Product, Tier
from labeler.catalog.values import web_address
from labeler.checker.claims import BookClaim
from labeler.checker.rules import listing, stated
from labeler.checker.rules.codes import link_of
from labeler.checker.rules.entries import ELSEWHERE, written
from labeler.checker.rules.listing import ListedProduct
from labeler.checker.subject import alike
from labeler.disclosures import statements
from labeler.disclosures.rules import NO_LEGAL_ADVICE, country
from labeler.disclosures.sale import MEANS, SHORT, Status, Verdict, parts_not_asked, verdicts


@cache
def said() -> Mapping[str, Any]:
    """Return what ``book-words.toml`` holds."""
    return tomllib.loads((Path(__file__).parents[1] / "book-words.toml").read_text("utf-8"))


@dataclass(frozen=True, slots=True)
class Due:
    """Words that a chapter must say, in one of these forms; beside their label, if they have one.

    A money's sign may stand in more ways than one. ``SCALE`` in a form stands for any scale of a
    figure: a thing of the drawing, which is not known here.
    """

    forms: tuple[str, ...]
    label: str = ""

    def forms_in(self, text: str) -> list[str]:
        """Return the forms that a text may hold, with the scales of which it has the figures."""
        return [
            form.replace(SCALE, scale)
            for form in self.forms
            for scale in (_scales_in(text) if SCALE in form else ("",))
        ]

    @property
    def sample(self) -> str:
        """The first form, at some scale."""
        return self.forms[0].replace(SCALE, said()["captions"]["natural"])


SCALE = "\N{OBJECT REPLACEMENT CHARACTER}"


@lru_cache(maxsize=16)
def _scales_in(text: str) -> tuple[str, ...]:
    """Return in words the scales whose figures a text has: to a tenth, a small one to a hundredth.

    All are tried on a leaf's text at once, since hundreds of captions would stand at any of them.
    """
    words = said()["captions"]
    known = [f"{n / 10:g}" for n in range(1, 31)] + [f"{n / 100:g}" for n in range(1, 50)]
    found = dict.fromkeys(times for times in known if times in text)
    return (words["natural"], *(words["scale"].format(times=times) for times in found))


@dataclass(frozen=True, slots=True)
class Chapter:
    """What the leaves of one chapter say between them."""

    title: str
    dues: tuple[Due, ...]
    more: tuple[str, ...] = ()
    """What may stand there as well."""


@dataclass(frozen=True, slots=True)
class Grid:
    """The table of places of sale: what stands in each row, under each heading."""

    heads: tuple[str, ...]
    rows: tuple[tuple[str, tuple[str, ...]], ...]


Money = Callable[[Decimal], str]


def _moneys(currency: str) -> list[Money]:
    """Return the ways in which a currency's amounts are written."""
    signs = [sign for sign, codes in stated.known()["signs"].items() if currency in codes][:1]
    return [partial(_amount, sign, cents) for sign in (*signs, f"{currency} ") for cents in (2, 0)]


def _amount(sign: str, cents: int, amount: Decimal) -> str:
    """Return an amount with its sign, and at least so many places of cents."""
    exponent = amount.normalize().as_tuple().exponent
    places = -exponent if isinstance(exponent, int) else 0
    return f"{sign}{amount:,.{max(cents, places)}f}"


def _each(*texts: str | None) -> Iterator[Due]:
    """Yield words that must be said, each by themselves; nothing for what there is not."""
    return (Due((text,)) for text in texts if text)


def _beside(label: str, text: str | None) -> Iterator[Due]:
    """Yield words that must be said beside a label, if there are any."""
    if text:
        yield Due((text,), label)


def _taxed(subjects: Iterable[ListedProduct]) -> str:
    """Return all that must be said of the excise tax on any of some products, each once."""
    taxed = (subject.said("excise") for subject in subjects)
    return " ".join(dict.fromkeys(one.full.plain for one in taxed if one))


@dataclass
class EditionWords:
    """The words of one edition.

    Attributes:
        catalog: the whole of it.
        subjects: the products that the edition lists, in the catalog's order.
        claim: which edition it says that it is.
        tiers: whose prices stand in it.
    """

    catalog: Catalog
    subjects: Sequence[ListedProduct]
    claim: BookClaim
    tiers: tuple[Tier, ...]
    _rows: dict[str, list[str]] = field(default_factory=dict)

    def __post_init__(self) -> None:
        self.file, self.words = self.catalog.file, said()
        self.maker, self.terms = self.file.maker, self.file.terms
        self.currency = self.file.sale.currency
        self.moneys = _moneys(self.currency)
        self.for_dealers = self.claim.edition == "dealer"
        alone = "_prices" if self.claim.prices else ""
        self.title = self.words["title"][f"{self.claim.edition}{alone}"]
        dealers = {dealer.name: dealer for dealer in self.file.dealers.values()}
        self.dealer = dealers.get(self.claim.dealer)
        self.by_sku = {subject.product.sku: subject for subject in self.subjects}
        self.by_pattern: dict[str, list[ListedProduct]] = {}
        for subject in self.subjects:
            self.by_pattern.setdefault(subject.product.pattern.code, []).append(subject)
        self.patterns = {code: each[0].product.pattern for code, each in self.by_pattern.items()}

    # ---------------------------------------------------------------------------- its chapters

    @property
    def slim(self) -> bool:
        """Whether it is of one pattern alone, which needs no contents and no index."""
        return len(self.by_pattern) == 1

    @property
    def backed(self) -> bool:
        """Whether it ends in a back cover: a shop's leaves on one pattern end in the form."""
        formed = self.slim and self.for_dealers and not self.claim.booklet
        return not (self.claim.prices or formed)

    @cached_property
    def sections(self) -> dict[str, str]:
        """The titles of the sections that this edition has, by their names."""
        titles = self.words["sections"]
        if self.claim.prices:
            return {"prices": titles["prices"]}
        gone = {"prices"} if self.maker.links else {"codes", "prices"}
        gone |= set() if self.for_dealers else {"order"}
        gone |= {"contents", "line", "colors", "weights", "skus"} if self.slim else set()
        return {name: title for name, title in titles.items() if name not in gone}

    @cached_property
    def chapters(self) -> dict[str, Chapter]:
        """Every chapter by the name of the place where it begins."""
        whose = f"{self.maker.name} · {self.title}"
        notes = self.words["captions"]["notes"]
        if self.claim.prices:
            title = self.sections["prices"]
            return {"prices": self._chapter(title, chain(_each(title), self._prices()), [whose])}
        made = {"cover": self._chapter("", self._cover())}
        if self.backed:
            made["back"] = self._chapter("", self._back())
        for code, subjects in self.by_pattern.items():
            name = self.patterns[code].name
            more = [f"{name} · {code}", code, whose, notes]
            made[f"pattern-{code}"] = self._chapter(name, self._pattern(subjects), more)
        write: dict[str, Callable[[], Iterable[Due]]] = {
            "contents": self._contents, "line": self._line, "colors": self._colors,
            "weights": lambda: (), "skus": lambda: (), "markets": self._markets,
            "codes": self._codes, "terms": self._terms, "order": self._order,
        }  # fmt: skip
        for name, title in self.sections.items():
            dues = chain(_each(title), write[name]())
            made[name] = self._chapter(title, dues, [title, whose, notes])
        return made

    @staticmethod
    def _chapter(title: str, dues: Iterable[Due], more: Iterable[str] = ()) -> Chapter:
        return Chapter(title, tuple(dict.fromkeys(dues)), tuple(more))

    def _sums(self, write: Callable[[Money], str], label: str = "") -> Due:
        """Return words with amounts in them."""
        return Due(tuple(dict.fromkeys(map(write, self.moneys))), label)

    @cached_property
    def dates(self) -> str:
        """From when to when the prices hold."""
        words, until = self.words["cover"], self.terms.valid_until
        start = written(self.terms.listed or self.claim.listed)
        end = written(until) if until else ""
        return str(words["until" if until else "since"].format(start=start, end=end))

    @cached_property
    def ways(self) -> list[tuple[str, str]]:
        """How to reach the maker, each with its link or none: the post, then telephone and web."""
        maker = self.maker
        town = ", ".join(filter(None, (maker.city, maker.state)))
        post = f"{town} {maker.postcode}, {country(maker.country)}"
        ways = [(", ".join(filter(None, (maker.street, post))), "")]
        if maker.phone:
            plus = "+" if maker.phone.strip().startswith("+") else ""
            ways.append((maker.phone, f"tel:{plus}{''.join(filter(str.isdigit, maker.phone))}"))
        if maker.email:
            ways.append((maker.email, f"mailto:{maker.email}"))
        if maker.site:
            ways.append((maker.site, web_address(maker.site)))
        return ways

    def _cover(self) -> Iterator[Due]:
        words, products, patterns = self.words["cover"], len(self.subjects), len(self.by_pattern)
        items = words["item" if products == 1 else "items"].format(products=f"{products:,}")
        count = words["pattern" if patterns == 1 else "patterns"]
        weights = sorted({subject.product.weight for subject in self.subjects})
        span = _weight(weights[0])
        if len(weights) > 1:
            span = words["span"].format(first=span, last=_weight(weights[-1]))
        counted = count.format(items=items, patterns=f"{patterns:,}", span=span)
        yield from _each(self.title, self.maker.name, counted)
        if self.claim.dealer and self.for_dealers:
            yield from _each(words["dealer"].format(dealer=self.claim.dealer))
        yield from _each(self.dates)
        shown = islice(self.patterns.values(), _ON_THE_COVER)
        yield from _each(*(f"{number} {pattern.name}" for number, pattern in enumerate(shown, 1)))

    def _back(self) -> Iterator[Due]:
        return _each(self.maker.name, *(text for text, _ in self.ways))

    def _contents(self) -> Iterator[Due]:
        yield from _each(*(f"{p.name} {p.code} {p.kind}" for p in self.patterns.values()))
        yield from _each(*(title for name, title in self.sections.items() if name != "contents"))
        yield from _each(self.words["contents"]["how"])

    def _prices(self) -> Iterator[Due]:
        words = self.words["prices"]
        text = re.sub(r"\[(.*?)\]", r"\1" if self.claim.dealer else "", words["said"])
        text = text.format(maker=self.maker.name, dealer=self.claim.dealer, dates=self.dates,
                           currency=self.currency)  # fmt: skip
        least = self.terms.minimum if self.for_dealers else None
        if least is None:
            yield from _each(text)
        else:
            yield self._sums(lambda money: words["least"].format(said=text, least=money(least)))
        yield from _each(_taxed(self.subjects), *(way for way, _ in self.ways))

    def listed(self, subjects: Sequence[ListedProduct]) -> list[str]:
        """Return all that a pattern's part of a price list may say."""
        pattern, words = subjects[0].product.pattern, self.words["rows"]
        heading = f"{pattern.name} {pattern.code} {pattern.kind}"
        found = [heading, heading + words["continued"], *self.entry(subjects)]
        for product in (each.product for each in subjects):
            both = product.weight.oz_text, product.weight.g_text
            found += [" ".join(both), " ".join(both[::-1])]
            found.append(_sized(words["hook"], product.hook_size))
        return list(dict.fromkeys(found))

    def _line(self) -> Iterator[Due]:
        yield from _each(*(f"{pattern.name} {code}" for code, pattern in self.patterns.items()))
        if any(_face(subjects).colour.layers for subjects in self.by_pattern.values()):
            yield self._scaled(self.words["captions"]["line"])

    def _scaled(self, *forms: str, **said: str) -> Due:
        """Return a caption at whatever scale."""
        return Due(tuple(form.format(scale=SCALE, **said) for form in forms))

    def _captions(self, subjects: Sequence[ListedProduct]) -> Iterator[Due]:
        """Yield what stands below a pattern's plate, its colors and its photo."""
        words, face = self.words["captions"], _face(subjects)
        name = face.pattern.name
        drawn = {each.product.colour.code for each in subjects if each.product.colour.layers}
        shown = {each.product.colour.code for each in subjects}
        plate = re.sub(r"\[(.*?)\]", r"\1" if drawn else "", words["plate"])
        weight = _weight(face.weight)
        yield self._scaled(plate, pattern=name, color=face.colour.name, weight=weight)
        if drawn and len(shown) > 1:
            weights = {_weight(each.product.weight) for each in subjects}
            forms = [form.replace("{weight}", one) for one in weights for form in words["colors"]]
            yield self._scaled(*forms, pattern=name)
        if photo := next((each.product for each in subjects if each.product.photo), None):
            weight = _weight(photo.weight)
            yield from _each(words["photo"].format(color=photo.colour.name, weight=weight))

    @cached_property
    def names(self) -> tuple[str, ...]:
        """What the maker, the line's patterns, colors and parts are called."""
        found = [self.maker.name]
        for product in (each.product for each in self.subjects):
            found += [product.pattern.name, product.pattern.kind, product.colour.name]
            found += [product.head.name, product.alloy.name]
            found += filter(None, [product.hook.name, product.hook.finish])
            found += [each.name for each in product.materials.values()]
            found += [product.guard.name] if product.guard else []
            found += [each.shade for each in product.colour.layers]
        return tuple(dict.fromkeys(found))

    @cached_property
    def own_words(self) -> tuple[str, ...]:
        """What the maker says in words of their own, and how they, shops and tiers are called."""
        maker, terms = self.maker, self.terms
        found = [maker.street, maker.city, maker.phone, maker.email, maker.site, terms.lead_time,
                 terms.freight, terms.payment, terms.returns, terms.notes]  # fmt: skip
        found += [each.name for each in self.file.tiers.values()]
        found += [each.name for each in self.file.dealers.values()]
        for pattern in self.patterns.values():
            found += [" ".join((pattern.story or "").split()), pattern.tie.trim]
        return tuple(filter(None, found))

    # ---------------------------------------------------------------------------- one pattern

    def _pattern(self, subjects: Sequence[ListedProduct]) -> Iterator[Due]:
        pattern = subjects[0].product.pattern
        yield from _each(pattern.kind, pattern.name, " ".join((pattern.story or "").split()))
        yield from self._facts([subject.product for subject in subjects])
        parts = self._parts(_face(subjects))
        yield from _each(*(f"{part} {text}" for part, text in parts if text))
        yield from self._captions(subjects)
        yield from _each(*(colour.name for colour in as_plated(subjects)), _taxed(subjects))

    def _facts(self, products: Sequence[Product]) -> Iterator[Due]:
        words, first = self.words["facts"], products[0]
        pattern = first.pattern
        weights = sorted({product.weight for product in products})
        lightest_first = sorted(products, key=lambda each: each.weight)
        hooks = dict.fromkeys(each.hook_size for each in lightest_first if each.hook_size)
        facts = {
            "weights": ", ".join(map(_weight, weights)),
            "hook": ", ".join(filter(None, (first.hook.name, *hooks))),
            "head": f"{first.head.name}, {first.alloy.name}",
            "guard": first.guard.name if first.guard else "",
            "length": str(pattern.length) if pattern.length else "",
            "colors": str(len({product.colour.code for product in products})),
            "pack": ", ".join(map(str, sorted({product.pattern.pack for product in products}))),
            "case": words["packs"].format(count=pattern.case) if pattern.case else "",
            "origin": _origin(products),
        }
        for name, text in facts.items():
            yield from _beside(words[name], text)

    def _parts(self, product: Product) -> Iterator[tuple[str, str]]:
        """Yield each part's name and what it is, as they stand beside the large figure."""
        words, pattern, guard = self.words["parts"], product.pattern, product.guard
        yield words["head"], f"{product.head.name}, {product.alloy.name}"
        if guard:
            fibre = words["strands"].format(guard=guard.name, strands=guard.strands)
            yield words["guard"], fibre if guard.style == "fibre" else guard.name
        hook = product.hook
        named = ", ".join(filter(None, (hook.name, hook.finish)))
        if sized := _sized(words["finish"], product.hook_size, hook=named).removeprefix(", "):
            yield words["hook"], sized
        thread, turns = product.materials.get(pattern.tie.thread or ""), pattern.tie.wraps
        if thread:
            wound = words["wraps"].format(thread=thread.name, wraps=turns)
            yield words["collar"], wound if turns else thread.name
        layers = [f"{each.shade} {each.amount or each.strands}" for each in product.colour.layers]
        yield words[pattern.skirt], ", ".join(layers)
        yield words["trim"], pattern.tie.trim or ""

    @cached_property
    def heads(self) -> list[str]:
        """What the heads of the tables say."""
        words = self.words["heads"]
        tiers = [each.format(tier=t.name) for t in self.tiers for each in words["tier"]]
        twice = [words["keystone"]] if self.claim.keystone else []
        twice += [words["ready"]] if self.claim.ready is not None else []
        always = words["list" if self.claim.prices else "always"]
        return [*always, *words[self.claim.edition], words["case"], *tiers, *twice]

    def entry(self, subjects: Sequence[ListedProduct]) -> list[str]:
        """Return all that an entry of these products may say."""
        words = self.words["rows"]
        found = [words["continued"], words["open"], words["none"]]
        for subject in subjects:
            product, weight = subject.product, subject.product.weight
            both = (weight.oz_text, weight.g_text)
            hook = _sized(words["hook"], product.hook_size)
            found += [f"{' '.join(pair)} {hook}".strip() for pair in (both, both[::-1])]
            for one in subject.statements:
                if one.kind not in ELSEWHERE:
                    found += [one.full.plain, one.text]
            found += self._row(subject)
        named = [subject.product.sku for subject in subjects]
        return [*dict.fromkeys(found), *(f"{sku}," for sku in named), *(f"{sku}:" for sku in named)]

    def _row(self, subject: ListedProduct) -> list[str]:
        """Return what stands in a product's row, cell by cell."""
        product = subject.product
        if product.sku not in self._rows:
            sums = [*listing.PriceList(self.tiers, self.currency).due(product).values()]
            found = [product.colour.name, product.sku, product.gtin or ""]
            found.append(self.words["rows"]["pack"].format(count=product.pattern.pack))
            found += [one.text for one in subject.statements if one.kind == "quantity"]
            found += [money(amount) for amount in sums for money in self.moneys]
            if self.claim.ready is not None:
                ready, open_ = self.words["rows"]["ready"]
                found.append(ready if product.sku in self.claim.ready else open_)
            if self.for_dealers:
                found += self._case_and_margins(product)
            self._rows[product.sku] = [text for text in dict.fromkeys(found) if text]
        return self._rows[product.sku]

    def _case_and_margins(self, product: Product) -> Iterator[str]:
        yield str(product.pattern.case or "")
        for tier in self.tiers:
            price = listing.at_tier(product, tier)
            if price is not None and product.price is not None:
                yield f"{listing.margin(price, product.price)} %"

    # -------------------------------------------------------------------------- other sections

    @cached_property
    def colours(self) -> dict[str, list[str]]:
        """The patterns that each color comes in, by the color's name, as the index tells them."""
        found: dict[str, list[str]] = {}
        for code, subjects in self.by_pattern.items():
            for name in dict.fromkeys(subject.product.colour.name for subject in subjects):
                found.setdefault(name, []).append(code)
        return found

    def _colors(self) -> Iterator[Due]:
        return _each(*self.colours, *(pattern.name for pattern in self.patterns.values()))

    def _codes(self) -> Iterator[Due]:
        return _each(*(() if self.slim else (each.name for each in self.patterns.values())))

    def code(self, subject: ListedProduct) -> list[str]:
        """Return what stands beside a product's code."""
        product = subject.product
        words = self.words["rows"]["weight"]
        weight = _sized(words, product.hook_size, weight=_weight(product.weight))
        return [f"{product.sku} {product.colour.name} {weight}"]

    @cached_property
    def places(self) -> tuple[str, ...]:
        """The places of sale that stand in the table, and parts of them that are not asked."""
        sold = dict.fromkeys(chain.from_iterable(each.product.markets for each in self.subjects))
        if self.dealer and self.dealer.market:
            sold[self.dealer.market] = None
        return (*sold, *parts_not_asked(tuple(sold)))

    @cached_property
    def _verdicts(self) -> tuple[Grid, list[str]]:
        """The table of places, and the notes that its figures point to."""
        notes: dict[str, int] = {}
        kinds: dict[object, tuple[str, ...]] = {}
        rows: list[tuple[str, tuple[str, ...]]] = []
        for subjects in self.by_pattern.values():
            alike_here: dict[tuple[str, ...], list[Product]] = {}
            for product in (subject.product for subject in subjects):
                key = alike(product)
                if key not in kinds:
                    judged = verdicts(product, self.places, self.claim.day)
                    kinds[key] = tuple(_in_short(each, notes) for each in judged)
                alike_here.setdefault(kinds[key], []).append(product)
            for cells, products in alike_here.items():
                weights = ", ".join(dict.fromkeys(str(product.weight) for product in products))
                name = products[0].pattern.name
                rows.append((f"{name}, {weights}" if len(alike_here) > 1 else name, cells))
        return Grid(self.places, tuple(rows)), list(notes)

    @property
    def grid(self) -> Grid:
        """The table of places of sale."""
        return self._verdicts[0]

    def _markets(self) -> Iterator[Due]:
        words = self.words["markets"]
        yield from _each(words["materials"], words["where"], words["pattern"])
        found: dict[str, Material] = {}
        for subject in self.subjects:
            found = {**subject.product.materials, **found}
        for material in found.values():
            parts = material.composition.items()
            made = ", ".join(f"{float(share * 100):g} % {name}" for name, share in parts)
            says = f"{material.kind}: {made}" if made else material.kind
            lead = material.lead_share > 0
            yield from _beside(material.name, words["lead"].format(made=says) if lead else says)
        grid, notes = self._verdicts
        cells = [cell for _, row in grid.rows for cell in row]
        means = [
            words["means"].format(short=SHORT[one], says=text) for one, text in MEANS.items()
            if any(cell.startswith(SHORT[one]) for cell in cells)
        ]  # fmt: skip
        yield from _each(" ".join([*means, words["points"]]))
        yield from _each(*(f"{number} {note}" for number, note in enumerate(notes, 1)))
        yield from _each(NO_LEGAL_ADVICE, *grid.heads, *(name for name, _ in grid.rows))

    def _terms(self) -> Iterator[Due]:
        words, terms = self.words["terms"], self.terms
        label, text = words["prices"]
        yield from _beside(label, text.format(dates=self.dates, currency=self.currency))
        if self.for_dealers:
            for tier in self.tiers:
                yield self._of_tier(tier)
            yield from _beside(*words["keystone" if self.claim.keystone else "margin"])
            if (least := terms.minimum) is not None:
                label, text = words["least"]
                yield self._sums(lambda money: text.format(least=money(least)), label)
            if self.claim.ready is not None:
                label, text = words["ready"]
                yield from _beside(label, text.format(day=written(self.claim.day)))
            for name in ("lead_time", "freight", "payment", "returns"):
                yield from _beside(words[name], getattr(terms, name))
        else:
            yield from _beside(*words["quantity"])
        yield from self._excise()
        yield from _beside(words["notes"], terms.notes)
        for text, link in self.ways:
            way = next((way for way in ("tel", "mailto", "http") if link.startswith(way)), "post")
            yield from _beside(words[way], text)
        yield from _beside(words["advice"], NO_LEGAL_ADVICE)

    def _of_tier(self, tier: Tier) -> Due:
        label, text = self.words["terms"]["tier"]
        packs = f"{tier.at_least:,} {'pack' if tier.at_least == 1 else 'packs'}"
        off = f"{math.floor(tier.off * 100 + Fraction(1, 2))} %"
        return self._sums(
            lambda money: text.format(off=off, packs=packs, step=money(tier.round_to)),
            label.format(tier=tier.name),
        )

    def _excise(self) -> Iterator[Due]:
        label, terms = self.words["terms"]["excise"], self.terms
        taxed = (subject.said("excise") for subject in self.subjects)
        says = next((one.full.plain for one in taxed if one), "")
        product = next((s.product for s in self.subjects if s.product.price is not None), None)
        retail_only = not (self.file.tiers or self.file.dealers)
        if not says:
            return
        if product is None or product.price is None or not (self.for_dealers or retail_only):
            yield from _beside(label, says)
            return
        price = listing.at_tier(product, self.tiers[0]) if self.for_dealers else product.price
        if price is None:
            return
        within = terms.excise == "included"
        tax = listing.tax_of(price, within, at_retail=not self.for_dealers)
        name = f"{'' if self.for_dealers else 'retail_'}{'included' if within else 'on_top'}"
        form, sku = self.words["excise"][name], product.sku
        yield self._sums(
            lambda money: form.format(
                says=says, price=money(price), sku=sku, tax=money(tax), whole=money(price + tax)
            ),
            label,
        )

    # ------------------------------------------------------------------------- the order form

    @cached_property
    def filled(self) -> dict[str, str]:
        """What stands in the fields above the rows: the tiers, and what is known of the dealer."""
        known = {"tier": " / ".join(tier.name for tier in self.tiers)}
        if dealer := self.dealer:
            town = " ".join(filter(None, (dealer.state, dealer.postcode)))
            known["dealer"] = dealer.name
            known["address"] = ", ".join(filter(None, (dealer.street, dealer.city, town)))
            known["contact"] = dealer.phone or dealer.email or ""
        return {name: known.get(name, "") for name in self.words["order"]["fields"]}

    def _order(self) -> Iterator[Due]:
        words, rows = self.words["order"], self.words["rows"]
        for name, label in words["fields"].items():
            yield from _each(label, self.filled[name] if self.claim.booklet else "")
        how = words["how"].format(back=self.maker.email or self.maker.phone or self.maker.name)
        if (least := self.terms.minimum) is None:
            yield from _each(how)
        else:
            yield self._sums(lambda money: words["least"].format(how=how, least=money(least)))
        for pattern in self.patterns.values():
            text = rows["order"].format(pattern=pattern.name, code=pattern.code)
            text += "" if self.mixed(pattern.code) else rows["packs"].format(count=pattern.pack)
            text += rows["case"].format(count=pattern.case) if pattern.case else ""
            yield from _each(text)
        yield from _each(words["color"], words["signature"], *words["whole"].values())
        yield from _each(*(label for label, _ in words["sums"].values()))

    def sums(self, code: str) -> Iterator[tuple[str, str]]:
        """Yield the fields for a pattern's sums: each one's name, and what it is called."""
        name = self.patterns[code].name
        for key, (_, says) in self.words["order"]["sums"].items():
            yield f"{key} {code.replace('.', '_')}", says.format(pattern=name)

    def indexed(self, subject: ListedProduct, pages: Iterable[int]) -> list[str]:
        """Return what a line of an index that leads to a product's price may say."""
        numbers = [f" {page}" for page in sorted(pages)]
        return [text + number for text in self.led_by(subject) for number in numbers]

    def led_by(self, subject: ListedProduct) -> list[str]:
        """Return what leads to a product's price in an index: its SKU, and its weight."""
        product, words = subject.product, self.words["rows"]["index"]
        weight, name = _weight(product.weight), product.pattern.name
        return [product.sku, _sized(words, product.hook_size, weight=weight, pattern=name)]

    def graded(self, subject: ListedProduct) -> str:
        """Return what stands over a product's column of the order form."""
        product, words = subject.product, self.words["rows"]["weight"]
        return _sized(words, product.hook_size, weight=_weight(product.weight))

    def ordered(self, subject: ListedProduct) -> list[str]:
        """Return what stands in a product's cell of the order form."""
        product, words, code = subject.product, self.words["rows"], subject.product.pattern.code
        prices = [listing.at_tier(product, tier) for tier in self.tiers]
        paid = [price for price in prices if price is not None]
        whole = len(paid) == len(prices)
        sums = [" / ".join(map(money, paid)) for money in self.moneys] if whole else [words["open"]]
        pack = words["pack"].format(count=product.pattern.pack).casefold()
        return [*dict.fromkeys(sums), product.sku, *([pack] if self.mixed(code) else [])]

    def shaded(self, subject: ListedProduct) -> str:
        """Return what stands before a product's row of the order form."""
        product = subject.product
        name, count = product.colour.name, product.pattern.pack
        if (product.pattern.code, product.colour.code) not in self._parted:
            return name
        return str(self.words["rows"]["shade"].format(color=name, count=count))

    @cached_property
    def _parted(self) -> set[tuple[str, str]]:
        """The patterns and colors that come in several packs in one weight, so in several rows."""
        found: dict[tuple[str, str], list[Product]] = {}
        for product in (subject.product for subject in self.subjects):
            found.setdefault((product.pattern.code, product.colour.code), []).append(product)
        return {
            key for key, products in found.items()
            if len({(each.weight, each.hook_size) for each in products}) < len(products)
            and len({each.pattern.pack for each in products}) > 1
        }  # fmt: skip

    def mixed(self, code: str) -> bool:
        """Tell whether a pattern's packs do not all hold as many, so that each says how many."""
        return len({subject.product.pattern.pack for subject in self.by_pattern[code]}) > 1

    # ----------------------------------------------------------------- what pictures are called

    def pictured(self, subjects: Iterable[ListedProduct]) -> Iterator[str]:
        """Yield what pictures of these products are called for those who do not see them."""
        words = self.words["pictures"]
        if self.maker.logo:
            yield words["logo"].format(maker=self.maker.name)
        for product, link in ((each.product, link_of(each)) for each in subjects):
            yield words["photo"].format(name=product.name)
            yield words["code"].format(sku=product.sku, link=link)
            yield _described(product)


_ON_THE_COVER = 8
"""Patterns that the cover shows."""


def _weight(weight: Any) -> str:
    return str(weight.oz_text if weight.unit == "oz" else weight.g_text)


def _sized(words: str, size: str | None, **others: str) -> str:
    """Return words filled in; what stands in brackets is said only of a hook of known size."""
    return re.sub(r"\[(.*?)\]", r"\1" if size else "", words).format(size=size, **others)


def _origin(products: Sequence[Product]) -> str:
    """Return where they are tied, and of the US what of any is imported: 16 CFR 323.2.

    Nothing where that is not told, or where nothing can be said of all.
    """
    where = statements.country(products[0], ()) or ""
    if products[0].pattern.made_in != "US":
        return where
    parts = {statements.imports(each, ()) for each in products}
    foreign = {part for part in parts if part and part.startswith("imported")}
    if None in parts:
        return ""
    if not foreign:
        return where
    return f"{where}, with {foreign.pop() if len(foreign) == 1 else 'imported parts'}"


def as_plated(subjects: Iterable[ListedProduct]) -> list[Colour]:
    """Return the colors of a pattern as its plate shows them: those without a recipe come last."""
    colours = (each.product.colour for each in subjects)
    return sorted(colours, key=lambda colour: not colour.layers)


def _face(subjects: Sequence[ListedProduct]) -> Product:
    """Return the product that stands for a pattern: its first color in a middling weight.

    A color that has a recipe goes before one that has none.
    """
    drawn = (each.product for each in subjects if each.product.colour.layers)
    first = next(drawn, subjects[0].product).colour.code
    sizes = [each.product for each in subjects if each.product.colour.code == first]
    return sorted(sizes, key=lambda one: one.weight)[(len(sizes) - 1) // 2]


def _in_short(verdict: Verdict, notes: dict[str, int]) -> str:
    """Return what stands in a cell, and number the notes that it points to."""
    behind = verdict.notes if verdict.status is Status.NOTED else verdict.reasons
    numbers = sorted({notes.setdefault(one.about, len(notes) + 1) for one in behind})
    doubt = "" if verdict.certain else "?"
    return f"{SHORT[verdict.status]}{doubt} {', '.join(map(str, numbers))}".strip()


def _described(product: Product) -> str:
    """Return a figure's recipe in words: brown over blue, orange belly, fibre guard, 4/0 hook."""

    def shade(text: str) -> str:
        return text.replace(", ", " with ", 1).replace(", ", " and ")

    layers = product.colour.layers
    parts = [" over ".join(shade(each.shade) for each in layers if each.seat == "around")]
    for each in (each for each in layers if each.seat != "around"):
        plain = shade(each.shade)
        parts.append(f"{plain} {each.seat}" if plain == each.shade else f"{each.seat} in {plain}")
    if product.guard:
        parts.append(f"{product.guard.style} guard")
    parts += [f"{product.hook_size} hook"] if product.hook_size else []
    said = ", ".join(filter(None, parts))
    kind = f"{product.colour.name}, {product.pattern.kind}"
    return f"{kind}: {said}" if said else kind
