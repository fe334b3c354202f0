"""Warnings, weights and claims damaged at one entry of a book, each found at that entry."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pikepdf
import pytest

from labeler.checker.report import Report
from tests.checker.faults.books.several import Fault, called

LIGHT, MUD, HEAVY, OTTER = "RV-14-40-REE", "RV-14-40-MUD", "RV-38-40-REE", "TO-12-50-MUD"
Hunt = Callable[..., Report]
At = Callable[[Any, str], None]
"""Damages a warning, that of a product."""


def dropped(book: Any, sku: str) -> None:
    for run in book.warning(sku):
        book.drop(run)


def at_the_end(book: Any, sku: str) -> None:
    """Leave the warning out of the entry, and print it on the page of the terms."""
    text = "".join(run.text for run in book.warning(sku))
    dropped(book, sku)
    page = book.anywhere("Federal excise tax included").page + 6
    half = text.index("cancer")
    book.typed(page, 60, 700, text[:half], 7)
    book.typed(page, 60, 709, text[half:], 7)


def a_sign_alone(book: Any, sku: str) -> None:
    for run in book.warning(sku)[1:]:
        book.drop(run)


def one_word(book: Any, sku: str) -> None:
    book.rewrite(book.find(sku, "chemicals including lead"), "birth", "berth")


def smaller(book: Any, sku: str) -> None:
    for run in book.warning(sku):
        by = 5.82 / run.size  # three per cent under the six points of 27 CCR 25603(b)
        book.moved(run, lambda a, b, c, d, e, f, by=by: (a * by, b, c, d * by, e, f))


def faded(book: Any, sku: str) -> None:
    for run in book.warning(sku):
        book.wrap(run, "0.47 g", "0 g")  # 4.4:1 on white


def boxed(ink: str, over: bool) -> At:
    def damage(book: Any, sku: str) -> None:
        run = book.warning(sku)[1]
        box = f"{ink} {run.x - 2} {run.y - 8} 420 20 re f"
        (book.over if over else book.under)(run.page, box)

    return damage


def wrapped(before: str, after: str, **state: float) -> At:
    def damage(book: Any, sku: str) -> None:
        if state:
            page = book.place(sku)[0]
            states = book.pdf.pages[page].Resources.get("/ExtGState", pikepdf.Dictionary())
            states["/GX"] = pikepdf.Dictionary(**state)
            book.pdf.pages[page].Resources["/ExtGState"] = states
        for run in book.warning(sku):
            book.wrap(run, before, after)

    return damage


def moved(x: float, y: float) -> At:
    def damage(book: Any, sku: str) -> None:
        for run in book.warning(sku):
            book.moved(run, lambda a, b, c, d, e, f: (a, b, c, d, e + x, f + y))

    return damage


def clipped(book: Any, sku: str) -> None:
    for run in book.warning(sku):
        book.wrap(run, f"q {run.x} {run.y - 9} 60 12 re W n", "Q")


def signless(book: Any, sku: str) -> None:
    """Take away the triangle left of the signal word."""
    run = book.warning(sku)[0]
    words = book.words(run.page)
    for at, (operands, _) in enumerate(words):
        path = "".join(str(word[1]) for word in words[at : at + 5])
        if path == "mllhB" and abs(float(operands[1]) - run.y) < 12:
            words[at + 4] = pikepdf.ContentStreamInstruction([], pikepdf.Operator("n"))
            return
    raise AssertionError("no sign")


def of_the_other(book: Any, sku: str) -> None:
    """Say before the warning that it is of one of the two colors only."""
    run = book.warning(sku)[0]
    book.moved(run, lambda a, b, c, d, e, f: (a, b, c, d, e + 60, f))
    book.typed(run.page, run.x, run.y, f"{sku.removesuffix('REE')}MUD: ", run.size)


def said(sku: str, text: str, down: float = -4.0) -> Callable[[Any], None]:
    """Print words into an entry, in the air beside its weight."""

    def damage(book: Any) -> None:
        page, (_, top, right, _) = book.place(sku)
        book.typed(page, right - 190, top + 14 + down, text, 7.5)

    return damage


def torn(sku: str, first: str, then: str) -> Callable[[Any], None]:
    """Print words into an entry, and more of them far to the right on the same line."""

    def damage(book: Any) -> None:
        page, (_, top, right, _) = book.place(sku)
        book.typed(page, right - 190, top + 10, first, 7.5)
        book.typed(page, right - 130, top + 10, then, 7.5)

    return damage


def grams(new: str) -> Callable[[Any], None]:
    def damage(book: Any) -> None:
        run = book.find(MUD, "7.08")
        book.rewrite(run, "7.08", new)

    return damage


def one_system(book: Any) -> None:
    book.drop(book.find(MUD, "7.08"))


def another_hook(book: Any) -> None:
    run = book.find(OTTER, "OOK")
    book.rewrite(run, "5/0", "4/0")


WARNINGS: list[tuple[str, str, At]] = [
    ("the warning left out of one entry", "statement-missing", dropped),
    ("the warning at the end of the book", "statement-missing", at_the_end),
    ("a sign and a signal word alone", "statement-missing", a_sign_alone),
    ("one letter of the warning changed", "statement-missing", one_word),
    ("the warning 3 % under its size", "statement-small", smaller),
    ("the warning faded", "statement-faint", faded),
    ("a white box over the warning", "statement-unseen", boxed("1 g", over=True)),
    ("a black box over the warning", "statement-unseen", boxed("0 g", over=True)),
    ("the warning drawn without ink", "statement-unseen", wrapped("3 Tr", "0 Tr")),
    ("the warning white on white", "statement-unseen", wrapped("1 g", "0 g")),
    ("the warning transparent", "statement-unseen", wrapped("q /GX gs", "Q", ca=0.0)),
    ("the warning clipped away", "statement-unseen", clipped),
    ("the warning moved to another place of the page", "statement-missing", moved(0, 260)),
    ("the warning off the page", "statement-missing", moved(900, 0)),
    ("the warning for the other color only", "statement-missing", of_the_other),
    ("the warning without its sign", "sign-missing", signless),
]
TORN: Fault = (
    "made in USA, torn apart", "us-claim-made-in-usa", OTTER, torn(OTTER, "Made in", "the USA"),
)  # fmt: skip
FREE: Fault = (
    "lead-free of a head of lead", "house-claim-lead-free", HEAVY, said(HEAVY, "lead-free"),
)  # fmt: skip
MADE: Fault = (
    "made in USA on a hook from elsewhere", "us-claim-made-in-usa", OTTER,
    said(OTTER, "Made in USA"),
)  # fmt: skip
HEADS: list[list[Fault]] = [
    [("grams rounded up", "weight-rounded-up", LIGHT, grams("7.09")),
     ("another hook's size", "hook-wrong", OTTER, another_hook), FREE],
    [("another weight in grams", "weight-wrong", LIGHT, grams("8.07")), TORN],
    [("ounces alone", "weight-one-system", LIGHT, one_system), MADE],
]  # fmt: skip


def at(sku: str, name: str, rule: str, damage: At) -> Fault:
    """Return a fault of the warning of one product."""
    return name, rule, sku, lambda book: damage(book, sku)


BOOKS = [
    [at(HEAVY, *one), at(LIGHT, *other)]
    for one, other in zip(WARNINGS[::2], WARNINGS[1::2], strict=True)
]  # fmt: skip
"""Each with two warnings damaged, of two products."""


@pytest.mark.daily(called(HEADS[-1]))
@pytest.mark.parametrize("faults", [*BOOKS, *HEADS], ids=called)
def test_an_entry_that_is_damaged(faults: list[Fault], hunt_books: Callable[..., None]) -> None:
    hunt_books(faults, "dealer")


@pytest.mark.parametrize("faults", [[TORN, FREE], [MADE]], ids=called)
def test_a_claim_that_the_goods_contradict_in_a_book_for_buyers(
    faults: list[Fault], hunt_books: Callable[..., None]
) -> None:
    hunt_books(faults, "retail")


def test_a_pale_box_under_a_warning_does_no_harm(hunt_book: Hunt) -> None:
    pale = boxed("0.97 g", over=False)
    hunt_book("a pale box under the warning", "", "dealer", HEAVY, lambda book: pale(book, HEAVY))
