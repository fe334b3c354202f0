"""The line as a reader looks it up: by pattern, then by weight and hook, then by colour."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from functools import cached_property

from labeler.catalog.model import Colour, Pattern, Product
from labeler.units import Weight


@dataclass(frozen=True)
class Group:
    """A pattern in one weight on one hook, in its colours."""

    weight: Weight
    hook_size: str
    products: tuple[Product, ...]


@dataclass(frozen=True)
class Entry:
    """One pattern, with all its products that are in the book."""

    number: int
    pattern: Pattern
    products: tuple[Product, ...]

    @property
    def anchor(self) -> str:
        """The name of its place in the book."""
        return f"pattern-{self.pattern.code}"

    @cached_property
    def groups(self) -> tuple[Group, ...]:
        """Its products by weight and hook, the lightest first."""
        groups: dict[tuple[Weight, str], list[Product]] = {}
        for product in self.products:
            groups.setdefault((product.weight, product.hook_size), []).append(product)
        ordered = sorted(groups.items(), key=lambda one: one[0][0])
        return tuple(Group(*key, tuple(products)) for key, products in ordered)

    @cached_property
    def colourways(self) -> tuple[Product, ...]:
        """One product of each colour, in the order in which they are shown."""
        first: dict[str, Product] = {}
        for product in self.products:
            first.setdefault(product.colour.code, product)
        return tuple(first.values())

    @property
    def face(self) -> Product:
        """The product that stands for the pattern: its first colour in a middling weight."""
        colour = self.products[0].colour.code
        alike = [product for product in self.products if product.colour.code == colour]
        return sorted(alike, key=lambda one: one.weight)[(len(alike) - 1) // 2]

    @cached_property
    def photo(self) -> Product | None:
        """The first product of which there is a photo."""
        return next((product for product in self.products if product.photo), None)


def entries_of(products: Iterable[Product]) -> tuple[Entry, ...]:
    """Return the products by pattern, in the catalog's order."""
    patterns: dict[str, list[Product]] = {}
    for product in products:
        patterns.setdefault(product.pattern.code, []).append(product)
    return tuple(
        Entry(number, found[0].pattern, tuple(found))
        for number, found in enumerate(patterns.values(), 1)
    )


def by_colour(entries: Iterable[Entry]) -> list[tuple[Colour, list[tuple[Entry, Product]]]]:
    """Return every colour with the entries that come in it, by name."""
    found: dict[str, tuple[Colour, list[tuple[Entry, Product]]]] = {}
    for entry in entries:
        for product in entry.colourways:
            colour = product.colour
            found.setdefault(colour.code + colour.name, (colour, []))[1].append((entry, product))
    return sorted(found.values(), key=lambda one: (one[0].name.casefold(), one[0].code))
