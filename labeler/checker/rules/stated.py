"""What words on a piece state, in figures or in words: weights, prices, lots, counts."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Iterator, Mapping
from decimal import Decimal
from fractions import Fraction
from functools import cache, lru_cache
from pathlib import Path
from typing import Any, NamedTuple

from labeler.catalog.model import Product
from labeler.disclosures.wording import grams_agree, ounces_agree
from labeler.units import parse_number


@cache
def known() -> Mapping[str, Any]:
    """Return what ``words.toml`` knows of words that state something."""
    return tomllib.loads((Path(__file__).parents[1] / "words.toml").read_text("utf-8"))


class Stated(NamedTuple):
    """An amount that stands in a text: from its first letter to its end."""

    said: str
    first: int
    end: int
    value: Fraction
    unit: str
    """In small letters, as it stands there; empty where there is none."""


def _either(words: Any) -> str:
    return "|".join(sorted(map(re.escape, words), key=len, reverse=True))


_IN_WORDS = _either({**known()["numbers"], **known()["shares"], "thirty-second": 0,
                     "thirty-seconds": 0})  # fmt: skip
_FIGURES = r"\d+[\s-]+\d+/\d+|\d+/\d+|\d{1,3}(?:,\d{3})+(?:\.\d+)?|\d*[.,]\d+|\d+"
_NUMBER = (
    rf"(?:{_FIGURES}|(?:(?:{_IN_WORDS})(?:[\s-]+(?:and[\s-]+(?:an?[\s-]+)?)?(?:{_IN_WORDS}))*))"
)
"""A number in figures or in words: ``3/8``, ``1-3/8``, ``three eighths``, ``one and a half``."""


@lru_cache(maxsize=4_096)
def number_of(text: str) -> Fraction:
    """Return a number that stands in figures or in words; 0 for what is none."""
    plain = text.casefold().strip()
    if plain[:1].isalpha():
        return _in_words(plain)
    if re.fullmatch(r"\d{1,3}(?:,\d{3})+(?:\.\d+)?", plain):
        plain = plain.replace(",", "")
    try:
        return parse_number(re.sub(r"(?<=\d)[\s-]+(?=\d+/)", " ", plain).replace(",", "."))
    except ValueError:
        return Fraction(0)


def _in_words(text: str) -> Fraction:
    numbers, shares = known()["numbers"], known()["shares"]
    whole, counted = Fraction(0), None
    for word in re.findall(r"[a-z]+", text.replace("thirty-second", "thirtysecond")):
        if word in numbers:
            counted = (counted or 0) + numbers[word]
        elif word in shares:
            whole += Fraction(1 if counted is None else counted, shares[word])
            counted = None
        elif word == "and":
            whole, counted = whole + (counted or 0), None
    return whole + (counted or 0)


def _pattern(text: str) -> re.Pattern[str]:
    return re.compile(text, re.IGNORECASE)


# ---------------------------------------------------------------------------------------- weights

OUNCES = {unit: Fraction(value) for unit, value in known()["ounces"].items()}
GRAMS = {unit: Fraction(str(value)) for unit, value in known()["grams"].items()}
_WEIGHT = _pattern(
    rf"(?<![\w./,-])({_NUMBER})(?:\s|-){{0,2}}(?:of\s+)?(?:an?\s+)?"
    rf"({_either({**OUNCES, **GRAMS})})(\.?)(?![\w-])"
)


def weights(text: str) -> Iterator[Stated]:
    """Yield every weight that stands in a text."""
    for hit in _WEIGHT.finditer(text):
        value = number_of(hit[1])
        yield Stated(hit[0], *hit.span(), value, hit[2].casefold())


def is_weight(amount: Stated, product: Product) -> bool:
    """Tell whether an amount is the product's weight, of the head or of the whole."""
    stated = [each for each in (product.weight, product.whole_weight) if each is not None]
    if amount.unit in OUNCES:
        return any(ounces_agree(each, amount.value * OUNCES[amount.unit]) for each in stated)
    return any(grams_agree(each, amount.value * GRAMS[amount.unit]) for each in stated)


# ----------------------------------------------------------------------------------------- prices

_SIGNS = _either(known()["signs"])
_MONEY = _either({**known()["signs"], **known()["cents"]})
_PRICE = _pattern(
    rf"(?<!\w)({_SIGNS})\s?({_FIGURES})(?![\d%])"
    rf"|(?<![\w.,/$€£-])({_NUMBER})[\s-]?({_MONEY})(?!\w)"
)


def prices(text: str, currency: str) -> Iterator[Stated]:
    """Yield every amount of money that stands in a text; in another currency, without a value."""
    signs, cents = known()["signs"], known()["cents"]
    for hit in _PRICE.finditer(text):
        number, sign = (hit[2], hit[1]) if hit[1] else (hit[3], hit[4])
        sign = sign if sign in signs else sign.casefold() if len(sign) > 1 else sign
        value = number_of(number)
        if sign in cents and not hit[1]:
            meant, value = cents[sign], value / 100
        else:
            meant = signs.get(sign) or signs.get(sign.upper(), ())
        yield Stated(hit[0], *hit.span(), value if currency in meant else Fraction(-1), sign)


def is_price(amount: Stated, price: Decimal | None) -> bool:
    """Tell whether an amount is the price."""
    return price is not None and amount.value == Fraction(price)


# ------------------------------------------------------------------------------------------- lots

LOT = re.compile(
    r"\b(?:lot|batch|serial|s/n)\b\s*(?:no\.?|code|number)?\s*[:#.]?\s*([0-9A-Z][0-9A-Z\- ]{0,30})",
    re.I,
)

# ----------------------------------------------------------------------------------------- counts

_WHOLE = rf"\d{{1,4}}|(?:{_IN_WORDS})(?:[\s-]+(?:{_IN_WORDS}))*"
_EACH = r"(?:packs?|pk|pcs?|pieces?|count|ct|jigs?|lures?|units?|per\s+(?:bag|pack|card))"


@lru_cache(maxsize=64)
def _count(noun: str) -> re.Pattern[str]:
    own = re.escape(noun.casefold().removesuffix("s"))
    of = r"(?:(?:pack|bag|box|card|set|case)(?:\s+of)?|qty\.?|quantity|contents?)"
    return _pattern(
        rf"(?<![\w./-])({_WHOLE})(?:\s|-|/)?(?:{own}s?|{_EACH})(?!\w)"
        rf"|\b{of}[:\s]\s*(?:of\s+)?({_WHOLE})(?![\w/.,-])"
        rf"|\b((?:half\s+(?:a\s+)?|(?:{_IN_WORDS})\s+)?)dozen\b"
    )


def counts(text: str, noun: str) -> Iterator[Stated]:
    """Yield every count of pieces that stands in a text. ``noun`` is what the product is called."""
    for hit in _count(noun).finditer(text):
        if hit[3] is not None:
            times = number_of(hit[3].replace(" a ", " ")) if hit[3].strip() else Fraction(1)
            yield Stated(hit[0], *hit.span(), 12 * times, "dozen")
        else:
            yield Stated(hit[0], *hit.span(), number_of(hit[1] or hit[2]), "")


# ------------------------------------------------------------------------- which kinds of words


class Kind(NamedTuple):
    """A kind of fact that words may state."""

    name: str
    says: str
    words: re.Pattern[str]


@cache
def kinds() -> tuple[Kind, ...]:
    """Return the kinds of facts that words may state, the gravest first."""
    return tuple(
        Kind(each["kind"], each["says"], _pattern(rf"(?<!\w)(?:{'|'.join(each['words'])})(?!\w)"))
        for each in known()["states"]
    )


def facts_in(text: str, product: Product, noun: str) -> tuple[list[str], bool]:
    """Return what kinds of facts a stretch of words states, and whether all agree.

    Whether they agree is told for amounts alone; whatever else is stated is taken to differ.
    """
    found: dict[str, bool] = {}
    bare = text
    for what, amounts, agrees in (
        ("a weight", weights(text), lambda each: is_weight(each, product)),
        ("a price", prices(text, product.currency), lambda each: is_price(each, product.price)),
        ("a count", counts(text, noun), lambda each: each.value == product.pattern.pack),
    ):
        for each in amounts:
            found[what] = found.get(what, True) and agrees(each)
            bare = bare.replace(each.said, " ")
    for kind in kinds():
        if kind.words.search(bare):
            found[kind.says] = False
    return list(found), all(found.values())
