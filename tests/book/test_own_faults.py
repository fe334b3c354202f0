"""Faults put into the book's own code are found by the checker, which shares none of it."""

from __future__ import annotations

import math
from collections.abc import Callable
from decimal import Decimal
from fractions import Fraction
from pathlib import Path
from typing import Any

import pytest

from labeler.app.book import BookMade
from labeler.book import edition, order_form, sections, tables
from labeler.book.edition import Edition
from labeler.catalog.model import Product, Tier
from labeler.codes.links import product_link
from labeler.disclosures.statements import Statement
from labeler.findings import LabelerError
from labeler.units import Weight

Patch = pytest.MonkeyPatch


def rounds_up(patch: Patch) -> None:
    def price(self: Edition, product: Product, tier: Tier) -> Decimal:
        assert product.price is not None
        steps = Fraction(product.price) * (1 - tier.off) / Fraction(tier.round_to)
        return math.ceil(steps) * tier.round_to

    patch.setattr(Edition, "price", price)


def forgets_to_warn(patch: Patch) -> None:
    patch.setattr(edition.PriceListStatements, "beside", lambda *_: ())


def warns_of_the_first_only(patch: Patch) -> None:
    whole = edition.PriceListStatements.beside

    def beside(self: edition.PriceListStatements, product: Product) -> tuple[Statement, ...]:
        return whole(self, product) if product.sku.endswith("C0") else ()

    patch.setattr(edition.PriceListStatements, "beside", beside)


def rounds_grams_up(patch: Patch) -> None:
    said = property(lambda self: f"{float(self.grams):.1f}\N{NO-BREAK SPACE}g")
    patch.setattr(Weight, "g_text", said)


def mixes_up_links(patch: Patch) -> None:
    patch.setattr(sections, "link_of", lambda product: product_link(
        product.maker.links or "", None, product.sku.replace("C0", "C1")))  # fmt: skip


def says_another_tax(patch: Patch) -> None:
    patch.setattr(
        edition.PriceListStatements, "excise", lambda *_: "Federal excise tax not included."
    )


def leaves_the_last_row_out(patch: Patch) -> None:
    whole = tables._TableMaker.units

    def units(self: Any) -> list[Any]:
        return [row for row in whole(self) if getattr(row, "key", "") != "P0-14-40-C1"]

    patch.setattr(tables._TableMaker, "units", units)


def forgets_the_second_pack(patch: Patch) -> None:
    """As it was: of two packs of one color at one weight, only the first had a cell."""
    whole = order_form.rows_of

    def rows(entry: edition.PatternEntry) -> list[order_form.FormRow]:
        return [row for row in whole(entry) if not row.name.endswith("3")]

    patch.setattr(order_form, "rows_of", rows)


def calls_another_pack(patch: Patch) -> None:
    whole = order_form.rows_of

    def rows(entry: edition.PatternEntry) -> list[order_form.FormRow]:
        return [row._replace(name=row.name.replace("3", "1")) for row in whole(entry)]

    patch.setattr(order_form, "rows_of", rows)


def dates_it_wrongly(patch: Patch) -> None:
    patch.setattr(sections, "dates_of", lambda _: "Prices from 1 April 2026")


FAULTS: list[tuple[Callable[[Patch], None], str, str]] = [
    (rounds_up, "price-wrong", "dealer"),
    (forgets_to_warn, "statement-missing", "retail"),
    (warns_of_the_first_only, "statement-missing", "retail"),
    (rounds_grams_up, "weight-rounded-up", "retail"),
    (mixes_up_links, "code-other-address", "retail"),
    (says_another_tax, "excise-wrong", "retail"),
    (leaves_the_last_row_out, "listing-missing", "retail"),
    (forgets_the_second_pack, "order-cell-missing", "dealer"),
    (calls_another_pack, "order-cell-moved", "dealer"),
    (dates_it_wrongly, "price-date-wrong", "retail"),
]


@pytest.mark.daily("forgets_to_warn")
@pytest.mark.parametrize(("fault", "rule", "audience"), FAULTS, ids=[f[0].__name__ for f in FAULTS])
def test_a_fault_of_the_book_s_own_does_not_leave_the_bench(
    fault: Callable[[Patch], None], rule: str, audience: str, tmp_path: Path,
    line: Callable[..., Path], make: Callable[..., BookMade], monkeypatch: Patch,
) -> None:  # fmt: skip
    folder = line(tmp_path / "line", [("Reed Vole", 1, 2)], ["Reed", "Mud"], employees=12)
    more = "sku,pattern,colour,weight,hook,pack\nP0-14-40-C0-3PK,p0,c0,1/4 oz,4/0,3\n"
    (folder / "products.csv").write_text(more, "utf-8")
    fault(monkeypatch)
    try:
        made = make(folder, tmp_path / "book.pdf", audience=audience)
    except LabelerError as error:
        found = {each.rule for each in error.findings}
        assert not (tmp_path / "book.pdf").exists()
    else:
        found = {each.rule for each in made.findings}
    assert rule in found
