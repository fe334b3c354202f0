"""Rows of a book's tables damaged, each found in the row of its own product."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest

from labeler.checker.report import Report
from tests.checker.faults.books.several import Fault, books_of, called

REED, MUD, HEAVY, OTTER = "RV-14-40-REE", "RV-14-40-MUD", "RV-38-40-REE", "TO-12-50-MUD"
Hunt = Callable[..., Report]


def row(sku: str, old: str, new: str) -> Callable[[Any], None]:
    """Change words in a product's row."""

    def damage(book: Any) -> None:
        book.rewrite(book.in_row(sku, old), old, new)

    return damage


def left_out(sku: str, words: str) -> Callable[[Any], None]:
    return lambda book: book.drop(book.in_row(sku, words))


def unseen(sku: str, words: str) -> Callable[[Any], None]:
    return lambda book: book.wrap(book.in_row(sku, words), "3 Tr", "0 Tr")


def twice(book: Any) -> None:
    """Set the SKU of one row in place of another's."""
    book.rewrite(book.in_row(MUD, MUD), "MUD", "REE")


def headless(word: str) -> Callable[[Any], None]:
    def damage(book: Any) -> None:
        page, (left, top, right, bottom) = book.place(REED, "heads")
        for run in book.shown(page):
            if left <= run.x <= right and top <= run.y <= bottom and word in run.text:
                book.drop(run)

    return damage


def untaxed(book: Any) -> None:
    for page in {book.place(REED)[0]}:
        for run in book.shown(page):
            if "excise" in run.text:
                book.drop(run)


def taxed_otherwise(book: Any) -> None:
    run = book.anywhere("Federal excise tax included")
    book.rewrite(run, "tax included", "tax not included")


TWICE: list[Fault] = [
    ("a SKU twice", "listing-twice", REED, twice),
    ("a SKU that its row lost to another", "listing-missing", MUD, lambda _: None),
]
SKUS: list[Fault] = [
    ("a SKU left out", "listing-missing", OTTER, left_out(OTTER, OTTER)),
    ("a SKU that nobody sees", "listing-missing", REED, unseen(REED, REED)),
    ("another SKU of the line", "piece-other-product", "RV-38-40-MUD", row(MUD, "14-40", "38-40")),
]
ROWS: list[Fault] = [
    ("digits swapped in a number", "gtin-wrong", REED, row(REED, "9521234001010", "9521234000110")),
    ("a number left out", "gtin-wrong", REED, left_out(REED, "9521234001010")),
    ("the retail price off by a cent", "price-wrong", REED, row(REED, "$4.95", "$4.94")),
    ("the dealer price off by a cent", "price-wrong", REED, row(REED, "$3.20", "$3.21")),
    ("the dealer price of another tier", "price-wrong", REED, row(REED, "$3.20", "$2.55")),
    ("keystone off", "price-wrong", REED, row(REED, "$6.40", "$6.50")),
    ("the margin off", "margin-wrong", REED, row(REED, "35", "48")),
    ("a price left out", "price-missing", OTTER, left_out(OTTER, "$9.50")),
    ("a price that nobody sees", "price-missing", OTTER, unseen(OTTER, "$9.50")),
    ("prices under no heading", "price-unnamed", REED, headless("RETAIL")),
    ("the quantity off", "quantity-wrong", OTTER, row(OTTER, "Pack of 2", "Pack of 4")),
    ("no quantity by the price", "quantity-not-by-price", OTTER, left_out(OTTER, "Pack of 2")),
    ("another color's name", "piece-other-product", MUD, row(MUD, "Mud", "Reed")),
    ("half of a color's name", "piece-other-product", REED, row(REED, "Reed Brown", "Reed")),
    ("no word of the excise tax", "statement-missing", REED, untaxed),
    ("the wrong word of the excise tax", "excise-wrong", "Reed Vole", taxed_otherwise),
]


BOOKS = [TWICE, SKUS, *books_of(ROWS)]
"""A row is found by its SKU, so that damaged SKUs are in books of their own."""


@pytest.mark.daily(called(BOOKS[0]))
@pytest.mark.parametrize("faults", BOOKS, ids=called)
def test_a_row_that_is_damaged(faults: list[Fault], hunt_books: Callable[..., None]) -> None:
    hunt_books(faults, "dealer")


Misprint = tuple[str, str, str, tuple[str, str]]
"""What is otherwise, the rule that tells it, at which product, and the words of the catalog."""

MISPRINTS: list[tuple[str, list[Misprint]]] = [
    ("dealer", [
        ("a tier with another discount", "price-wrong", HEAVY, ('off = "35 %"', 'off = "36 %"')),
        ("made as if the tax came on top", "excise-wrong", "",
         ('excise = "included"', 'excise = "not included"')),
    ]),
    ("dealer", [
        ("a tier of another name", "book-tier-unknown", "", ('name = "Dealer"', 'name = "Shop"')),
    ]),
    ("retail", [
        ("prices in another currency", "price-currency", OTTER,
         ('markets = ["US", "US-CA"]', 'markets = ["US", "US-CA"]\ncurrency = "EUR"')),
        ("dates that are not the terms'", "price-date-wrong", "",
         ('valid_until = "2027-10-31"', 'valid_until = "2027-12-31"')),
        ("made as if nobody had to warn", "statement-missing", REED,
         ("employees = 14", "employees = 4")),
    ]),
]  # fmt: skip


@pytest.mark.siege
@pytest.mark.parametrize(
    ("book", "misprints"), MISPRINTS, ids=[each[0][0] for _, each in MISPRINTS]
)
def test_a_book_of_another_catalog(book: str, misprints: list[Misprint], reckoned: Hunt) -> None:
    reckoned(misprints, book)
