"""Warnings, weights and claims damaged at one entry of a book, each found at that entry."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pikepdf
import pytest

from labeler.checker.report import Report

MUD, HEAVY, OTTER = "RV-14-40-MUD", "RV-38-40-REE", "TO-12-50-MUD"
Hunt = Callable[..., Report]
Fault = tuple[str, str, str, Callable[[Any], None]]


def dropped(book: Any) -> None:
    for run in book.warning(HEAVY):
        book.drop(run)


def at_the_end(book: Any) -> None:
    """Leave the warning out of the entry, and print it on the page of the terms."""
    text = "".join(run.text for run in book.warning(HEAVY))
    dropped(book)
    page = book.anywhere("Federal excise tax included").page + 6
    half = text.index("cancer")
    book.typed(page, 60, 700, text[:half], 7)
    book.typed(page, 60, 709, text[half:], 7)


def a_sign_alone(book: Any) -> None:
    for run in book.warning(HEAVY)[1:]:
        book.drop(run)


def one_word(book: Any) -> None:
    book.rewrite(book.find(HEAVY, "chemicals including lead"), "birth", "berth")


def smaller(book: Any) -> None:
    for run in book.warning(HEAVY):
        by = 5.82 / run.size  # three per cent under the six points of 27 CCR 25603(b)
        book.moved(run, lambda a, b, c, d, e, f, by=by: (a * by, b, c, d * by, e, f))


def faded(book: Any) -> None:
    for run in book.warning(HEAVY):
        book.wrap(run, "0.47 g", "0 g")  # 4.4:1 on white


def boxed(ink: str, over: bool) -> Callable[[Any], None]:
    def damage(book: Any) -> None:
        run = book.warning(HEAVY)[1]
        box = f"{ink} {run.x - 2} {run.y - 8} 420 20 re f"
        (book.over if over else book.under)(run.page, box)

    return damage


def wrapped(before: str, after: str, **state: float) -> Callable[[Any], None]:
    def damage(book: Any) -> None:
        if state:
            page = book.place(HEAVY)[0]
            states = book.pdf.pages[page].Resources.get("/ExtGState", pikepdf.Dictionary())
            states["/GX"] = pikepdf.Dictionary(**state)
            book.pdf.pages[page].Resources["/ExtGState"] = states
        for run in book.warning(HEAVY):
            book.wrap(run, before, after)

    return damage


def moved(x: float, y: float) -> Callable[[Any], None]:
    def damage(book: Any) -> None:
        for run in book.warning(HEAVY):
            book.moved(run, lambda a, b, c, d, e, f: (a, b, c, d, e + x, f + y))

    return damage


def clipped(book: Any) -> None:
    for run in book.warning(HEAVY):
        book.wrap(run, f"q {run.x} {run.y - 9} 60 12 re W n", "Q")


def signless(book: Any) -> None:
    """Take away the triangle left of the signal word."""
    run = book.warning(HEAVY)[0]
    words = book.words(run.page)
    for at, (operands, _) in enumerate(words):
        path = "".join(str(word[1]) for word in words[at : at + 5])
        if path == "mllhB" and abs(float(operands[1]) - run.y) < 12:
            words[at + 4] = pikepdf.ContentStreamInstruction([], pikepdf.Operator("n"))
            return
    raise AssertionError("no sign")


def of_the_other(book: Any) -> None:
    """Say before the warning that it is of one of the two colors only."""
    run = book.warning(HEAVY)[0]
    book.moved(run, lambda a, b, c, d, e, f: (a, b, c, d, e + 60, f))
    book.typed(run.page, run.x, run.y, "RV-38-40-MUD: ", run.size)


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


FAULTS: list[Fault] = [
    ("the warning left out of one entry", "statement-missing", HEAVY, dropped),
    ("the warning at the end of the book", "statement-missing", HEAVY, at_the_end),
    ("a sign and a signal word alone", "statement-missing", HEAVY, a_sign_alone),
    ("one letter of the warning changed", "statement-missing", HEAVY, one_word),
    ("the warning 3 % under its size", "statement-small", HEAVY, smaller),
    ("the warning faded", "statement-faint", HEAVY, faded),
    ("a white box over the warning", "statement-unseen", HEAVY, boxed("1 g", over=True)),
    ("a black box over the warning", "statement-unseen", HEAVY, boxed("0 g", over=True)),
    ("a pale box under the warning", "", HEAVY, boxed("0.97 g", over=False)),
    ("the warning drawn without ink", "statement-unseen", HEAVY, wrapped("3 Tr", "0 Tr")),
    ("the warning white on white", "statement-unseen", HEAVY, wrapped("1 g", "0 g")),
    ("the warning transparent", "statement-unseen", HEAVY,
     wrapped("q /GX gs", "Q", ca=0.0)),
    ("the warning clipped away", "statement-unseen", HEAVY, clipped),
    ("the warning off the page", "statement-missing", HEAVY, moved(900, 0)),
    ("the warning moved to another place of the page", "statement-missing", HEAVY, moved(0, 260)),
    ("the warning for the other color only", "statement-missing", HEAVY, of_the_other),
    ("the warning without its sign", "sign-missing", HEAVY, signless),
    ("grams rounded up", "weight-rounded-up", "RV-14-40-REE", grams("7.09")),
    ("another weight in grams", "weight-wrong", "RV-14-40-REE", grams("8.07")),
    ("ounces alone", "weight-one-system", "RV-14-40-REE", one_system),
    ("another hook's size", "hook-wrong", OTTER, another_hook),
]  # fmt: skip


@pytest.mark.daily("ounces alone")
@pytest.mark.parametrize(("name", "rule", "sku", "damage"), FAULTS, ids=[f[0] for f in FAULTS])
def test_an_entry_that_is_damaged(
    name: str, rule: str, sku: str, damage: Callable[[Any], None], hunt_book: Hunt
) -> None:
    hunt_book(name, rule, "dealer", sku, damage)


CLAIMS = [
    ("made in USA, torn apart", "us-claim-made-in-usa", OTTER, torn(OTTER, "Made in", "the USA")),
    ("lead-free of a head of lead", "house-claim-lead-free", HEAVY, said(HEAVY, "lead-free")),
    (
        "made in USA on a hook from elsewhere",
        "us-claim-made-in-usa",
        OTTER,
        said(OTTER, "Made in USA"),
    ),
]


@pytest.mark.parametrize(("name", "rule", "sku", "damage"), CLAIMS, ids=[c[0] for c in CLAIMS])
@pytest.mark.parametrize("book", ["dealer", "retail"])
def test_a_claim_that_the_goods_contradict(
    book: str, name: str, rule: str, sku: str, damage: Callable[[Any], None], hunt_book: Hunt
) -> None:
    hunt_book(f"{name}, {book}", rule, book, sku, damage)
