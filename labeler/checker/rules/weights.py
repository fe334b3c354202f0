"""Every weight on the piece is the catalog's, in both systems, and cut where it is converted."""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction
from typing import cast

from labeler.checker.page.sides import SeenSide
from labeler.checker.page.text import TextLine
from labeler.checker.rulebook import asks, finding
from labeler.checker.rules import stated
from labeler.checker.rules.claims import judge_puffery
from labeler.checker.rules.stated import Stated
from labeler.checker.subject import CheckedProduct
from labeler.disclosures.statements import folded
from labeler.disclosures.wording import written_badly
from labeler.findings import Finding, Place
from labeler.units import Weight


@asks("weight-wrong", "weight-rounded-up", "weight-in-own-words")
def weights(side: SeenSide, subject: CheckedProduct) -> Iterator[Finding]:
    """Yield every weight that is not the catalog's, or is badly written."""
    for hit, place in _said(side):
        if stated.is_weight(hit, subject.product):
            yield from written_badly(hit.said, place)
        elif subject.says(hit.said):
            yield finding("weight-in-own-words", place, found=f"“{hit.said}”")
        elif not hit.aside:
            yield _wrong(hit, place, subject)
    for plain, line in _lines(side):
        yield from judge_puffery(plain, subject, side.place(line.box))


def judge_layout_text(text: str, subject: CheckedProduct, place: Place) -> Iterator[Finding]:
    """Yield the weights in a text of a layout that are not the catalog's."""
    for hit in stated.weights(text):
        if not (hit.aside or stated.is_weight(hit, subject.product) or subject.says(hit.said)):
            yield _wrong(hit, place, subject)


def _said(side: SeenSide) -> list[tuple[Stated, Place]]:
    """Return the weights that stand on a side, which is asked of many products, found once."""
    if "weights" not in side.found:
        side.found["weights"] = list(stated.on(side, stated.weights))
    return cast("list[tuple[Stated, Place]]", side.found["weights"])


def _lines(side: SeenSide) -> list[tuple[str, TextLine]]:
    """Return the lines of a side that name a weight and little else, folded."""
    if "weight lines" not in side.found:
        folded_lines = [(folded(line.text), line) for line in side.lines]
        side.found["weight lines"] = [
            (plain, line)
            for plain, line in folded_lines
            if len(plain) <= _A_FIELD and any(stated.weights(plain))
        ]
    return cast("list[tuple[str, TextLine]]", side.found["weight lines"])


def _wrong(hit: Stated, place: Place, subject: CheckedProduct) -> Finding:
    weight = subject.product.weight
    metric = hit.unit in stated.GRAMS
    exact = weight.grams if metric else weight.ounces
    printed = hit.value * (stated.GRAMS if metric else stated.OUNCES)[hit.unit]
    up = exact < printed <= exact * _NEARLY
    return finding(
        "weight-rounded-up" if up else "weight-wrong",
        place,
        found=f"“{hit.said}”",
        expected=_both(weight),
    )


_NEARLY = Fraction(51, 50)
"""What is no more than 2 % too much is taken as rounded, not as another weight."""


def _both(weight: Weight) -> str:
    ounces, grams = (
        text.replace("\N{NO-BREAK SPACE}", " ") for text in (weight.oz_text, weight.g_text)
    )
    return f"{ounces} ({grams})".replace("\N{FRACTION SLASH}", "/").replace("\N{THIN SPACE}", " ")


_A_FIELD = 40
"""Letters: a longer line is running text, in which a word stands for itself."""


# ----------------------------------------------------------------------------
# The hook's size on a piece is the product's: a 4/0 in the bag is no 3/0 in the catalog.


NO_SIZE = "no hook size: the catalog states none"


@asks("hook-wrong")
def sizes(side: SeenSide, subject: CheckedProduct) -> Iterator[Finding]:
    """Yield every hook size that is neither the product's nor in the maker's own words."""
    every = [one.hook_size for one in subject.product.units]
    due = " or ".join(dict.fromkeys(filter(None, every)))
    for hit, place in stated.on(side, stated.hook_sizes):
        if hit.said not in every and not hit.aside and not subject.says(hit.said):
            expected = f"hook {due}" if due else NO_SIZE
            yield finding("hook-wrong", place, found=hit.said, expected=expected)
