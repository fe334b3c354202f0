"""From patterns to products: every weight on its hooks in every colour.

A product is first a draft, which says only what it is made of by name. Spreadsheet rows change
drafts; what is left in the end becomes products, which share every record that they have in common.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field
from decimal import Decimal
from typing import Any

from labeler.catalog.bill import materials_of
from labeler.catalog.keyed import by_weight
from labeler.catalog.model import Catalog, CatalogFile, Material, Pattern, Product
from labeler.catalog.pattern_rules import hook_sizes
from labeler.catalog.sku import make_sku
from labeler.catalog.source import Source
from labeler.findings import Finding, Place, stop
from labeler.units import Weight


@dataclass(slots=True)
class Draft:
    """A product to be: names in the catalog, and what a spreadsheet row says otherwise."""

    sku: str
    pattern: str
    weight: Weight
    hook: str
    colour: str
    place: Place
    says: dict[str, Any] = field(default_factory=dict)
    """Of price, gtin, photo, note, markets and pack those that a row overrides."""

    def __str__(self) -> str:
        return f"{self.pattern} in {self.weight}, hook {self.hook}, {self.colour}"


LONGEST_SKU = 40


def can_expand(source: Source, file: CatalogFile) -> bool:
    """Tell whether all patterns and colours are sound enough to say which products there are.

    Other faults may remain; then the spreadsheets are still worth holding against the products.
    """
    for table, sound in (("patterns", file.patterns), ("colours", file.colours)):
        stated = source.data.get(table, {})
        if not isinstance(stated, dict) or len(stated) != len(sound):
            return False
    try:
        for pattern in file.patterns.values():
            by_weight(pattern.hook_for)
    except ValueError:
        return False
    named = {colour for pattern in file.patterns.values() for colour in pattern.colours}
    return named <= file.colours.keys()


def expand(source: Source, file: CatalogFile) -> tuple[dict[str, Draft], list[Finding]]:
    """Return a draft for every product of the patterns, by SKU, and what stands in the way."""
    drafts: dict[str, Draft] = {}
    clashes: dict[tuple[str, ...], list[tuple[Draft, Draft]]] = {}
    findings = []
    for draft in _all(source, file):
        first = drafts.setdefault(draft.sku, draft)
        if first is not draft:
            pair = (first.pattern, draft.pattern, first.colour, draft.colour)
            clashes.setdefault(pair if first.pattern == draft.pattern else pair[:2], []).append(
                (first, draft)
            )
        elif len(draft.sku) > LONGEST_SKU:
            findings.append(
                stop("sku-too-long", draft.place, "the SKU is too long", found=draft.sku,
                     expected=f"at most {LONGEST_SKU} letters; shorten code or weight")
            )  # fmt: skip
    return drafts, findings + [_clash(pairs) for pairs in clashes.values()]


def _all(source: Source, file: CatalogFile) -> Iterable[Draft]:
    for name, pattern in file.patterns.items():
        place = source.place(("patterns", name))
        for weight in pattern.weights:
            for hook in hook_sizes(pattern, weight):
                for colour in pattern.colours:
                    sku = make_sku(pattern.code, weight, hook, file.colours[colour].code)
                    yield Draft(sku, name, weight, hook, colour, place)


def _clash(pairs: list[tuple[Draft, Draft]]) -> Finding:
    first, second = pairs[0]
    more = f", and {len(pairs) - 1} more SKUs like it" if len(pairs) > 1 else ""
    return stop(
        "duplicate-sku",
        second.place,
        f"two products come to the SKU {first.sku}{more}",
        found=f"{second}; and {first} ({first.place})",
        hint="Give the patterns, or the colours, codes that differ.",
    )


def make_catalog(file: CatalogFile, drafts: Iterable[Draft], rest: dict[str, Any]) -> Catalog:
    """Return the catalog of these drafts, in the order of the file's patterns.

    Args:
        file: The catalog file, without fault.
        drafts: What is sold.
        rest: The catalog's other fields.
    """
    order = {name: place for place, name in enumerate(file.patterns)}
    maker = _Maker(file)
    products = tuple(
        maker.product(draft) for draft in sorted(drafts, key=lambda one: order[one.pattern])
    )
    return Catalog.model_construct(file=file, products=products, **rest)


class _Maker:
    """Makes products of drafts. All that is checked is checked: nothing is validated again."""

    def __init__(self, file: CatalogFile) -> None:
        self.file = file
        self.fields = set(Product.model_fields)  # one for all; a copy of a product copies it
        self.materials: dict[tuple[str, str], dict[str, Material]] = {}
        self.packed: dict[tuple[str, int], Pattern] = {}
        self.prices = {name: by_weight(pattern.prices) for name, pattern in file.patterns.items()}

    def product(self, draft: Draft) -> Product:
        file = self.file
        pattern = self.pattern(draft)
        return Product.model_construct(
            _fields_set=self.fields,
            sku=draft.sku,
            pattern=pattern,
            weight=draft.weight,
            hook_size=draft.hook,
            colour=file.colours[draft.colour],
            head=file.heads[pattern.head],
            hook=file.hooks[pattern.hook],
            guard=file.guards[pattern.guard] if pattern.guard else None,
            bag=file.bags[pattern.bag] if pattern.bag else None,
            materials=self.bill(draft),
            maker=file.maker,
            markets=draft.says.get("markets", file.sale.markets),
            currency=file.sale.currency,
            price=self.price(draft),
            gtin=draft.says.get("gtin"),
            photo=draft.says.get("photo", pattern.photo),
            note=draft.says.get("note"),
        )

    def pattern(self, draft: Draft) -> Pattern:
        plain = self.file.patterns[draft.pattern]
        pack = draft.says.get("pack", plain.pack)
        if pack == plain.pack:
            return plain
        key = (draft.pattern, pack)
        if key not in self.packed:
            self.packed[key] = plain.model_copy(update={"pack": pack})
        return self.packed[key]

    def bill(self, draft: Draft) -> dict[str, Material]:
        key = (draft.pattern, draft.colour)
        if key not in self.materials:
            self.materials[key] = materials_of(
                self.file, self.file.patterns[draft.pattern], self.file.colours[draft.colour]
            )
        return self.materials[key]

    def price(self, draft: Draft) -> Decimal | None:
        if "price" in draft.says:
            stated: Decimal = draft.says["price"]
            return stated
        plain = self.file.patterns[draft.pattern].price
        return self.prices[draft.pattern].get(draft.weight, plain)
