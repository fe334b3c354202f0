"""Every weight on the piece is the catalog's, in both systems, and cut where it is converted."""

from __future__ import annotations

import re
from collections.abc import Iterator
from fractions import Fraction
from functools import lru_cache
from typing import cast

from labeler.checker.page.sides import SeenSide
from labeler.checker.page.text import TextLine, TextPassage
from labeler.checker.rulebook import asks, finding
from labeler.checker.rules.claims import puffed
from labeler.checker.subject import CheckedProduct
from labeler.disclosures.statements import folded
from labeler.disclosures.wording import grams_agree, ounces_agree, written_badly
from labeler.findings import Finding
from labeler.units import Weight, parse_number

_NUMBER = r"\d+\s+\d+/\d+|\d+/\d+|\d*[.,]\d+|\d+"
_UNITS = {
    "oz": Fraction(1), "ozs": Fraction(1), "ounce": Fraction(1), "ounces": Fraction(1),
    "lb": Fraction(16), "lbs": Fraction(16),
}  # fmt: skip
_METRIC = {
    "g": Fraction(1), "gram": Fraction(1), "grams": Fraction(1), "gramme": Fraction(1),
    "grammes": Fraction(1), "gr": Fraction(1), "gm": Fraction(1), "gms": Fraction(1),
    "grm": Fraction(1), "kg": Fraction(1000), "mg": Fraction(1, 1000),
}  # fmt: skip
_UNIT = "|".join(sorted({**_UNITS, **_METRIC}, key=len, reverse=True))
_WEIGHT = re.compile(rf"(?<![\w./,-])({_NUMBER})\s?({_UNIT})(\.?)(?![\w-])", re.IGNORECASE)


@asks("weight-wrong", "weight-rounded-up", "weight-in-own-words")
def weights(side: SeenSide, subject: CheckedProduct) -> Iterator[Finding]:
    """Yield every weight that is not the catalog's, or is badly written."""
    own_words = subject.own_words.casefold()
    for passage, hits in _said(side):
        for hit in hits:
            if _agrees(hit[1], hit[2].casefold(), subject):
                yield from written_badly(hit[0], side.place(passage.box_of(*hit.span())))
            elif hit[0].casefold() in own_words:
                yield finding(
                    "weight-in-own-words",
                    side.place(passage.box_of(*hit.span())),
                    found=f"“{hit[0]}”",
                )
            else:
                yield _wrong(hit, passage, side, subject)
    yield from _puffed(side, subject)


def _said(side: SeenSide) -> list[tuple[TextPassage, list[re.Match[str]]]]:
    """Return the weights that stand on a side, which is asked of many products, found once."""
    if "weights" not in side.found:
        hits = [(passage, list(_WEIGHT.finditer(passage.text))) for passage in side.passages]
        side.found["weights"] = [(passage, some) for passage, some in hits if some]
    return cast("list[tuple[TextPassage, list[re.Match[str]]]]", side.found["weights"])


def _lines(side: SeenSide) -> list[tuple[str, TextLine]]:
    """Return the lines of a side that name a weight and little else, folded."""
    if "weight lines" not in side.found:
        lines = [line for passage in side.passages for line in passage.lines]
        folded_lines = [(folded(line.text), line) for line in lines]
        side.found["weight lines"] = [
            (plain, line)
            for plain, line in folded_lines
            if len(plain) <= _A_FIELD and _WEIGHT.search(plain)
        ]
    return cast("list[tuple[str, TextLine]]", side.found["weight lines"])


@lru_cache(maxsize=1_024)
def _number(text: str) -> Fraction:
    try:
        return parse_number(text.replace(",", "."))
    except ValueError:
        return Fraction(0)


def _agrees(text: str, unit: str, subject: CheckedProduct) -> bool:
    """Tell whether a number in a unit is the product's weight, of the head or of the whole."""
    number = _number(text)
    stated = [subject.product.weight]
    if subject.product.whole_weight is not None:
        stated.append(subject.product.whole_weight)
    if unit in _UNITS:
        return any(ounces_agree(weight, number * _UNITS[unit]) for weight in stated)
    return any(grams_agree(weight, number * _METRIC[unit]) for weight in stated)


def _wrong(
    hit: re.Match[str], passage: TextPassage, side: SeenSide, subject: CheckedProduct
) -> Finding:
    weight = subject.product.weight
    metric = hit[2].casefold() in _METRIC
    exact = weight.grams if metric else weight.ounces
    printed = _number(hit[1]) * (_METRIC if metric else _UNITS)[hit[2].casefold()]
    up = exact < printed <= exact * _NEARLY
    return finding(
        "weight-rounded-up" if up else "weight-wrong",
        side.place(passage.box_of(*hit.span())),
        found=f"“{hit[0]}”",
        expected=_both(weight),
    )


_NEARLY = Fraction(51, 50)
"""What is no more than 2 % too much is taken as rounded, not as another weight."""


def _both(weight: Weight) -> str:
    ounces, grams = (
        text.replace("\N{NO-BREAK SPACE}", " ") for text in (weight.oz_text, weight.g_text)
    )
    return f"{ounces} ({grams})".replace("\N{FRACTION SLASH}", "/").replace("\N{THIN SPACE}", " ")


def _puffed(side: SeenSide, subject: CheckedProduct) -> Iterator[Finding]:
    """Yield the words on a weight's own line that exaggerate it."""
    for plain, line in _lines(side):
        yield from puffed(plain, subject, side.place(line.box))


_A_FIELD = 40
"""Letters: a longer line is running text, in which a word stands for itself."""


# ----------------------------------------------------------------------------
# The hook's size on a piece is the product's: a 4/0 in the bag is no 3/0 in the catalog.

_SIZE = re.compile(r"(?<![\w/.,])\d{1,2}/0(?![\w/])")
"""The large sizes, which are written like nothing else. Common practice, no published source."""


@asks("hook-wrong")
def sizes(side: SeenSide, subject: CheckedProduct) -> Iterator[Finding]:
    """Yield every hook size that is neither the product's nor in the maker's own words."""
    due = subject.product.hook_size
    for passage in side.passages:
        for hit in _SIZE.finditer(passage.text):
            if hit[0] != due and hit[0] not in subject.own_words:
                yield finding(
                    "hook-wrong", side.place(passage.box_of(*hit.span())),
                    found=hit[0], expected=f"hook {due}",
                )  # fmt: skip
