"""What a price list must say beside each product, looked up once for all that are alike."""

from __future__ import annotations

from labeler.book.edition import Edition
from labeler.catalog.model import Product
from labeler.disclosures.needed import needed_in_price_list
from labeler.disclosures.statements import Statement


class Sayings:
    """The statements of every product of an edition."""

    def __init__(self, edition: Edition) -> None:
        self._edition = edition
        self._known: dict[object, tuple[Statement, ...]] = {}

    def of(self, product: Product) -> tuple[Statement, ...]:
        """Return all that must be said of ``product``, in print order."""
        key = alike(product)
        if key not in self._known:
            excise = self._edition.catalog.file.terms.excise
            markets = product.markets
            dealer = self._edition.dealer
            if dealer and dealer.market and dealer.market not in markets:
                markets = (*markets, dealer.market)
            self._known[key] = needed_in_price_list(
                product, markets, self._edition.day, excise=excise
            )
        return self._known[key]

    def quantity(self, product: Product) -> str:
        """Return the quantity that stands beside a price."""
        said = [one.text for one in self.of(product) if one.kind == "quantity"]
        return said[0] if said else f"Pack of {product.pattern.pack}"

    def excise(self, product: Product) -> str:
        """Return whether prices hold the federal excise tax, empty where it is nobody's matter."""
        return next((one.text for one in self.of(product) if one.kind == "excise"), "")

    def beside(self, product: Product) -> tuple[Statement, ...]:
        """Return what stands with the product itself: warnings, and all else."""
        return tuple(one for one in self.of(product) if one.kind not in ("quantity", "excise"))


def alike(product: Product) -> object:
    """Return a key that is the same for products that no rule tells apart."""
    pattern = product.pattern
    return (pattern.code, pattern.pack, product.weight, product.hook_size, product.markets,
            tuple(product.materials))  # fmt: skip
