"""From patterns to products: every weight on its hooks in every colour.

A product is first a draft, which says only what it is made of by name. Spreadsheet rows change
drafts; what is left in the end becomes products, which share every record that they have in common.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from fractions import Fraction
from typing import Any

from labeler.catalog.model import (
    Catalog,
    CatalogFile,
    Colour,
    Material,
    MaterialKind,
    Pattern,
    Product,
    by_weight,
)
from labeler.findings import Finding, stop
from labeler.tomlfile import TomlFile
from labeler.units import Weight, print_decimal


@dataclass(slots=True)
class Draft:
    """A product to be: names in the catalog, and what a spreadsheet row says otherwise."""

    sku: str
    pattern: str
    weight: Weight
    hook: str
    colour: str
    overrides: dict[str, Any] = field(default_factory=dict)
    """Of price, gtin, photo, note, markets and pack those that a row gives."""

    def __str__(self) -> str:
        return f"{self.pattern} in {self.weight}, hook {self.hook}, {self.colour}"


LONGEST_SKU = 40


def can_expand(source: TomlFile, file: CatalogFile) -> bool:
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


def expand(source: TomlFile, file: CatalogFile) -> tuple[dict[str, Draft], list[Finding]]:
    """Return a draft for every product of the patterns, by SKU, and what stands in the way."""
    drafts: dict[str, Draft] = {}
    clashes: dict[tuple[str, ...], list[tuple[Draft, Draft]]] = {}
    findings = []
    for draft in _drafts(file):
        first = drafts.setdefault(draft.sku, draft)
        if first is not draft:
            # one finding for all SKUs that two patterns, or two colours of a pattern, share
            between: tuple[str, ...] = (first.pattern, draft.pattern)
            if first.pattern == draft.pattern:
                between += (first.colour, draft.colour)
            clashes.setdefault(between, []).append((first, draft))
        elif len(draft.sku) > LONGEST_SKU:
            findings.append(
                stop(
                    "sku-too-long",
                    source.place(("patterns", draft.pattern)),
                    "the SKU is too long",
                    found=draft.sku,
                    expected=f"at most {LONGEST_SKU} letters; shorten code or weight",
                )
            )
    for pairs in clashes.values():
        first, second = pairs[0]
        more = f", and {len(pairs) - 1} more SKUs like it" if len(pairs) > 1 else ""
        findings.append(
            stop(
                "duplicate-sku",
                source.place(("patterns", second.pattern)),
                f"two products come to the SKU {first.sku}{more}",
                found=f"{second}; and {first} ({source.place(('patterns', first.pattern))})",
                hint="Give the patterns, or the colours, codes that differ.",
            )
        )
    return drafts, findings


def _drafts(file: CatalogFile) -> Iterator[Draft]:
    for name, pattern in file.patterns.items():
        for weight in pattern.weights:
            for hook in hook_sizes(pattern, weight):
                for colour in pattern.colours:
                    sku = make_sku(pattern.code, weight, hook, file.colours[colour].code)
                    yield Draft(sku, name, weight, hook, colour)


def hook_sizes(pattern: Pattern, weight: Weight) -> tuple[str, ...]:
    """Return the hook sizes that a pattern is made on in a weight."""
    return by_weight(pattern.hook_for).get(weight, pattern.hook_sizes)


def make_catalog(file: CatalogFile, drafts: Iterable[Draft], **others: Any) -> Catalog:
    """Return the catalog of these drafts, in the order of the file's patterns.

    All that is checked is checked: nothing is validated again.

    Args:
        file: The catalog file, without fault.
        drafts: What is sold.
        others: The catalog's other fields.
    """
    order = {name: place for place, name in enumerate(file.patterns)}
    prices = {name: by_weight(pattern.prices) for name, pattern in file.patterns.items()}
    materials: dict[tuple[str, str], dict[str, Material]] = {}
    packed: dict[tuple[str, int], Pattern] = {}
    fields_set = set(Product.model_fields)  # one for all; a copy of a product copies it
    products = []
    for draft in sorted(drafts, key=lambda one: order[one.pattern]):
        pattern, colour = file.patterns[draft.pattern], file.colours[draft.colour]
        made_of = (draft.pattern, draft.colour)
        if made_of not in materials:
            materials[made_of] = materials_of(file, pattern, colour)
        says = draft.overrides
        pack = says.get("pack", pattern.pack)
        if pack != pattern.pack:
            if (draft.pattern, pack) not in packed:
                packed[draft.pattern, pack] = pattern.model_copy(update={"pack": pack})
            pattern = packed[draft.pattern, pack]
        product = Product.model_construct(
            _fields_set=fields_set,
            sku=draft.sku,
            pattern=pattern,
            weight=draft.weight,
            hook_size=draft.hook,
            colour=colour,
            head=file.heads[pattern.head],
            hook=file.hooks[pattern.hook],
            guard=file.guards[pattern.guard] if pattern.guard else None,
            bag=file.bags[pattern.bag] if pattern.bag else None,
            materials=materials[made_of],
            maker=file.maker,
            markets=says.get("markets", file.sale.markets),
            currency=file.sale.currency,
            price=says.get("price", prices[draft.pattern].get(draft.weight, pattern.price)),
            gtin=says.get("gtin"),
            photo=says.get("photo", pattern.photo),
            note=says.get("note"),
        )
        products.append(product)
    return Catalog.model_construct(file=file, products=tuple(products), **others)


# ---- Which materials go into a pattern tied in a colour: what a label must answer for ----


def materials_of(file: CatalogFile, pattern: Pattern, colour: Colour) -> dict[str, Material]:
    """Return the materials of a pattern in a colour, by their names in the catalog.

    The alloy comes first, then hook, guard, layers in tying order, thread, glue, paint and eyes.
    Glue, paint and eyes are not named by their heading: see `which`.
    """
    head = file.heads[pattern.head]
    names = [
        head.alloy,
        file.hooks[pattern.hook].material,
        file.guards[pattern.guard].material if pattern.guard else None,
        *(layer.material for layer in colour.layers),
        pattern.tie.thread,
        *which(file, "glue", pattern.tie.glue),
        *which(file, "paint", colour.head_paint),
        *which(file, "eyes", "eyes" if head.eyes else None),
    ]
    return {name: file.materials[name] for name in names if name}


def which(file: CatalogFile, kind: MaterialKind, text: str | None) -> list[str]:
    """Return the materials of ``kind`` that ``text`` means: those it names, else the only one.

    Such as the glue whose name stands in "two drops of thin cyanoacrylate".
    """
    of_kind = {name: one for name, one in file.materials.items() if one.kind == kind}
    if not text or not of_kind:
        return []
    plain = text.casefold()
    named = [
        name
        for name, one in of_kind.items()
        if name.casefold() in plain or one.name.casefold() in plain
    ]
    return named or (list(of_kind) if len(of_kind) == 1 else [])


# ---- How a SKU is put together: pattern, weight, hook, colour, such as ``RV-38-40-MLN`` ----
#
# | what         | is written | because                                                       |
# |--------------|------------|---------------------------------------------------------------|
# | 3/8 oz       | 38         | the trade writes it so                                        |
# | 1/16 oz      | 116        | and so                                                        |
# | 1 oz         | 1OZ        | 1 alone would leave 12 oz and 1/2 oz alike                    |
# | 1 1/2 oz     | 1OZ12      | 112 would be 1/12 oz                                          |
# | 0.3 oz       | 0.3OZ      | a decimal keeps its point                                     |
# | 10.6 g       | 10.6G      |                                                               |
# | hook 4/0     | 40         |                                                               |
# | hook 4       | 4          |                                                               |
# | hook 10      | N10        | 10 would be 1/0, as 20 and 30 would be 2/0 and 3/0; so all    |
# |              |            | plain sizes of two digits have an N for "number" before them  |
#
# No two weights and no two hook sizes are written alike.


def make_sku(pattern: str, weight: Weight, hook_size: str, colour: str) -> str:
    """Return the SKU of a pattern's code, a weight, a hook size and a colour's code."""
    return f"{pattern}-{weight_part(weight)}-{hook_part(hook_size)}-{colour}"


_RUN_TOGETHER = (2, 4, 8, 16, 32, 64, 48, 80, 100)
"""Denominators whose proper fractions stay apart when the stroke is left out; tested, all pairs."""

_PLACES = 6
"""A weight finer than a millionth is written as numerator, D for "divided by", denominator."""


def weight_part(weight: Weight) -> str:
    """Return the part of a SKU that names the weight, never the same for two weights."""
    if weight.unit == "g":
        return f"{_decimal(weight.value)}G"
    whole, part = divmod(weight.value, 1)
    if part and part.denominator not in _RUN_TOGETHER:
        return f"{_decimal(weight.value)}OZ"
    run = f"{part.numerator}{part.denominator}" if part else ""
    return f"{whole}OZ{run}" if whole else run


def _decimal(value: Fraction) -> str:
    return print_decimal(value, _PLACES) or f"{value.numerator}D{value.denominator}"


def hook_part(size: str) -> str:
    """Return the part of a SKU that names the hook size, never the same for two sizes."""
    if size.endswith("/0"):
        return size.replace("/", "")
    return size if len(size) == 1 else f"N{size}"
