"""From patterns to products: every weight on its hooks in every colour.

A product is first a draft, which says only what it is made of by name. Spreadsheet rows change
drafts; what is left in the end becomes products, which share every record that they have in common.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from contextlib import suppress
from dataclasses import dataclass, field
from decimal import Decimal
from fractions import Fraction
from typing import Any, TypeVar

from labeler.catalog.model import (
    Catalog,
    CatalogFile,
    Colour,
    Material,
    MaterialKind,
    Pattern,
    Product,
)
from labeler.findings import Finding, Place, as_written, did_you_mean, stop
from labeler.tomlfile import KeyPath, TomlFile
from labeler.units import Weight

# ----------------------------------------------------------------------------
# Which materials go into a pattern tied in a colour: what a label must answer for.
#
# Most are named outright. Glue, paint and eyes are not: a text such as "two drops of thin
# cyanoacrylate" means the glue whose name it holds, or the only glue there is.


def materials_of(file: CatalogFile, pattern: Pattern, colour: Colour) -> dict[str, Material]:
    """Return the materials of a pattern in a colour, by their names in the catalog.

    The alloy comes first, then hook, guard, layers in tying order, thread, glue, paint and eyes.
    """
    return {name: file.materials[name] for name in _names(file, pattern, colour) if name}


def _names(file: CatalogFile, pattern: Pattern, colour: Colour) -> Iterator[str | None]:
    yield file.heads[pattern.head].alloy
    yield file.hooks[pattern.hook].material
    if pattern.guard:
        yield file.guards[pattern.guard].material
    yield from (layer.material for layer in colour.layers)
    yield pattern.tie.thread
    yield from unnamed(file, pattern, colour)


def unnamed(file: CatalogFile, pattern: Pattern, colour: Colour) -> Iterator[str]:
    """Yield the glue, paint and eyes that go in without being named by their heading."""
    yield from which(file, "glue", pattern.tie.glue)
    yield from which(file, "paint", colour.head_paint)
    yield from which(file, "eyes", "eyes" if file.heads[pattern.head].eyes else None)


def which(file: CatalogFile, kind: MaterialKind, said: str | None) -> list[str]:
    """Return the materials of ``kind`` that ``said`` means: those it names, else the only one."""
    of_kind = {name: one for name, one in file.materials.items() if one.kind == kind}
    if not said or not of_kind:
        return []
    plain = said.casefold()
    named = [
        name
        for name, one in of_kind.items()
        if name.casefold() in plain or one.name.casefold() in plain
    ]
    return named or (list(of_kind) if len(of_kind) == 1 else [])


# ----------------------------------------------------------------------------
# Tables whose keys are weights: ``prices = { "1/2 oz" = "5.25" }``.

Value = TypeVar("Value")


def by_weight(table: Mapping[str, Value]) -> dict[Weight, Value]:
    """Return ``table`` by the weights that its keys write.

    Raises:
        ValueError: if a key is no weight; `check_keys` says so beforehand.
    """
    return {Weight.parse(text): value for text, value in table.items()}


def check_keys(
    source: TomlFile, path: KeyPath, table: Mapping[str, object], weights: tuple[Weight, ...] | None
) -> Iterator[Finding]:
    """Yield a finding for every key that is no weight, none of ``weights``, or there twice.

    With None for ``weights`` any weight will do.
    """
    seen: dict[Weight, str] = {}
    for text in table:
        try:
            weight = Weight.parse(text)
        except ValueError as fault:
            yield stop(
                "wrong-value",
                source.place((*path, text)),
                "this key is no weight",
                found=as_written(text),
                expected=str(fault),
            )
            continue
        if weight in seen:
            yield stop(
                "duplicate-weight",
                source.place((*path, text)),
                f"the weight is here already, as {as_written(seen[weight])}",
                found=as_written(text),
            )
        elif weights is not None and weight not in weights:
            yield stop(
                "weight-not-listed",
                source.place((*path, text)),
                "the pattern is not made in this weight",
                found=as_written(text),
                expected="one of " + ", ".join(str(one) for one in weights),
                hint=did_you_mean(text, [str(one) for one in weights]),
            )
        seen.setdefault(weight, text)


# ----------------------------------------------------------------------------
# Whether each pattern is whole in itself: no weight twice, a hook for each, keys that fit.


def check_patterns(source: TomlFile, file: CatalogFile) -> list[Finding]:
    """Return what is wrong within the patterns and heads."""
    findings: list[Finding] = []
    for name, head in file.heads.items():
        findings += check_keys(source, ("heads", name, "cavities"), head.cavities, None)
    for name, pattern in file.patterns.items():
        path: KeyPath = ("patterns", name)
        for key in ("hook_for", "prices", "whole"):
            table = getattr(pattern, key)
            findings += check_keys(source, (*path, key), table, pattern.weights)
        findings += _repeated(source, (*path, "weights"), pattern.weights)
        findings += _repeated(source, (*path, "hook_sizes"), pattern.hook_sizes)
        findings += _repeated(source, (*path, "colours"), pattern.colours)
        findings += _hookless(source, path, pattern)
    return findings


def _repeated(source: TomlFile, path: KeyPath, values: Iterable[Weight | str]) -> Iterator[Finding]:
    seen: dict[Weight | str, int] = {}
    for place, value in enumerate(values):
        if value in seen:
            yield stop(
                "listed-twice",
                source.place((*path, place)),
                f"this is in the list already, at place {seen[value] + 1}",
                found=as_written(str(value)),
            )
        seen.setdefault(value, place)


def hook_sizes(pattern: Pattern, weight: Weight) -> tuple[str, ...]:
    """Return the hook sizes that a pattern is made on in a weight."""
    return by_weight(pattern.hook_for).get(weight, pattern.hook_sizes)


def _hookless(source: TomlFile, path: KeyPath, pattern: Pattern) -> Iterator[Finding]:
    if pattern.hook_sizes:
        return
    with suppress(ValueError):
        for weight in pattern.weights:
            if not hook_sizes(pattern, weight):
                yield stop(
                    "hook-missing",
                    source.place(path),
                    f"no hook size is given for {weight}",
                    expected='hook_sizes = ["4/0"], or a row of hook_for for each weight',
                )


# ----------------------------------------------------------------------------
# How a SKU is put together: pattern, weight, hook, colour, such as ``RV-38-40-MLN``.
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

_RUN_TOGETHER = (2, 4, 8, 16, 32, 64, 48, 80, 100)
"""Denominators whose proper fractions stay apart when the stroke is left out; tested, all pairs."""


def weight_part(weight: Weight) -> str:
    """Return the part of a SKU that names the weight, never the same for two weights."""
    if weight.unit == "g":
        return f"{_decimal(weight.value)}G"
    whole, rest = divmod(weight.value, 1)
    if rest and rest.denominator not in _RUN_TOGETHER:
        return f"{_decimal(weight.value)}OZ"
    run = f"{rest.numerator}{rest.denominator}" if rest else ""
    return f"{whole}OZ{run}" if whole else run


def _decimal(value: Fraction) -> str:
    for places in range(_PLACES):
        if (value * 10**places).denominator == 1:
            whole, rest = divmod(int(value * 10**places), 10**places)
            return f"{whole}.{rest:0{places}d}" if places else str(whole)
    return f"{value.numerator}D{value.denominator}"


_PLACES = 7
"""A weight finer than a millionth is written as numerator, D for "divided by", denominator."""


def hook_part(size: str) -> str:
    """Return the part of a SKU that names the hook size, never the same for two sizes."""
    if size.endswith("/0"):
        return size.replace("/", "")
    return size if len(size) == 1 else f"N{size}"


def make_sku(pattern: str, weight: Weight, hook_size: str, colour: str) -> str:
    """Return the SKU of a pattern's code, a weight, a hook size and a colour's code."""
    return f"{pattern}-{weight_part(weight)}-{hook_part(hook_size)}-{colour}"


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


def _all(source: TomlFile, file: CatalogFile) -> Iterable[Draft]:
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
    maker = _ProductMaker(file)
    products = tuple(
        maker.product(draft) for draft in sorted(drafts, key=lambda one: order[one.pattern])
    )
    return Catalog.model_construct(file=file, products=products, **rest)


class _ProductMaker:
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
