"""What a product has to be in a price list, and what must be said of it there."""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import cached_property

from labeler.catalog.model import Terms
from labeler.checker.subject import Subject, alike
from labeler.disclosures.needed import needed_in_price_list
from labeler.disclosures.statements import Statement


@dataclass(eq=False)
class ListedProduct(Subject):
    """A product that a price list holds, computed anew from the catalog."""

    terms: Terms = field(default_factory=Terms)

    @cached_property
    def statements(self) -> tuple[Statement, ...]:
        """All that its markets want said of it in a price list."""
        key = (alike(self.product), self.markets, self.day)
        if key not in self.law.statements:
            self.law.statements[key] = needed_in_price_list(
                self.product, self.markets, self.day, excise=self.terms.excise
            )
        return self.law.statements[key]

    @cached_property
    def lawful_kind(self) -> object:
        """The same for products that no rule tells apart."""
        return alike(self.product), self.markets

    @cached_property
    def weight_kind(self) -> object:
        """The same for products of one weight."""
        return self.product.weight, self.product.whole_weight

    def said(self, kind: str) -> Statement | None:
        """Return the first statement of a kind that is required of it, or None."""
        return next((said for said in self.required if said.kind == kind), None)
