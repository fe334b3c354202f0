"""What the pieces of one run have to be, each found once."""

from __future__ import annotations

from collections.abc import Iterator

from labeler.catalog.model import Product
from labeler.checker.claimed import no_such_product
from labeler.checker.line import ProductLine
from labeler.checker.places import PieceClaim, RunClaim
from labeler.checker.question import CheckRequest, LotBook
from labeler.checker.rulebook import asks, finding
from labeler.checker.subject import LawAsked, Subject
from labeler.findings import Finding, Place


class Subjects:
    """What the pieces of one run have to be.

    Args:
        question: what is checked.
        line: what it is held against.
        run: what the run sheet says.
        known_lot: tells what the ledger knows of a lot; None where there is no ledger.
    """

    def __init__(
        self, question: CheckRequest, line: ProductLine, run: RunClaim, known_lot: LotBook | None
    ) -> None:
        self.line = line
        self.run = run
        self.found: list[Finding] = []
        """Pieces that the catalog does not know, or that were made for other places of sale."""
        self._question = question
        self._known_lot = known_lot
        self._products = {product.sku: product for product in line.products}
        self._law = LawAsked()
        self._subjects: dict[int, Subject | None] = {}

    @property
    def known(self) -> list[Subject]:
        """Those that were asked for, and that the catalog knows."""
        return [subject for subject in self._subjects.values() if subject]

    def of(self, claim: PieceClaim) -> Subject | None:
        """Return what a piece has to be, or None if the catalog does not know it."""
        if claim.number not in self._subjects:
            product = self._product(claim)
            self._subjects[claim.number] = None
            if product is None:
                place = self._first_place(claim)
                self.found.append(no_such_product(claim.sku, self._products, self.line, place))
            else:
                markets = self._question.markets or claim.markets or product.markets
                self.found += self._other_markets(claim, product)
                self._subjects[claim.number] = Subject(
                    product, claim, markets, self._question.day, self.run.use, self._law
                )
        return self._subjects[claim.number]

    def _product(self, claim: PieceClaim) -> Product | None:
        """Return the product as the ledger kept it with its lot, or else today's."""
        asked = self._known_lot if claim.lot and not self.run.today else None
        known = asked(claim.lot) if asked else None
        kept = getattr(known, "product", None)
        if isinstance(kept, Product) and kept.sku == claim.sku:
            return kept
        return self._products.get(claim.sku)

    @asks("markets-changed")
    def _other_markets(self, claim: PieceClaim, product: Product) -> Iterator[Finding]:
        added = [market for market in product.markets if market not in claim.markets]
        if added and claim.markets and not self._question.markets:
            yield finding(
                "markets-changed", self._first_place(claim),
                found=", ".join(claim.markets), expected=", ".join(product.markets),
            )  # fmt: skip

    def _first_place(self, claim: PieceClaim) -> Place:
        file = self._question.name
        for number in sorted(self.run.pages):
            for place in self.run.pages[number]:
                if place.piece is claim:
                    return Place(
                        file=file, cell=str(place.cell), page=number, piece=claim.sku,
                        box=place.box,
                    )  # fmt: skip
        return Place(file=file, piece=claim.sku)
