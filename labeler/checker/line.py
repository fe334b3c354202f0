"""What a file is held against: the products of a line, and what they are called."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from functools import cached_property

from labeler.catalog.model import Catalog, CatalogFile, Product
from labeler.disclosures.statements import folded


@dataclass(frozen=True)
class ProductLine:
    """A line of products.

    Attributes:
        products: those that are sold.
        retired: the SKUs of those that are not any more.
        fingerprint: the catalog's; empty where there is none.
        called: every pattern's and colour's name, folded, in small letters.
        catalog: the whole catalog; None for a product that is held against its own record.
    """

    products: tuple[Product, ...]
    retired: frozenset[str]
    fingerprint: str
    called: frozenset[str]
    catalog: Catalog | None = None

    @cached_property
    def skus(self) -> frozenset[str]:
        """Every SKU, sold or retired."""
        return frozenset(product.sku for product in self.products) | self.retired

    @classmethod
    def of(cls, catalog: Catalog) -> ProductLine:
        """Return the line of a catalog."""
        file = catalog.file
        return cls(
            tuple(catalog.products),
            frozenset(catalog.retired),
            catalog.fingerprint,
            _folded(_names(file)),
            catalog,
        )

    @classmethod
    def alone(cls, product: Product, fingerprint: str = "") -> ProductLine:
        """Return a product as the ledger kept it, as a line of its own."""
        names = _folded((product.pattern.name, product.colour.name))
        return cls((product,), frozenset(), fingerprint, names)


def _names(file: CatalogFile) -> Iterator[str]:
    yield from (pattern.name for pattern in file.patterns.values())
    yield from (colour.name for colour in file.colours.values())


def _folded(names: Iterable[str]) -> frozenset[str]:
    return frozenset(folded(name).casefold() for name in names)
