"""What may not stand on a label: claims that the goods contradict, figures and units gone wrong.

Pure functions over a text and a product, so that a maker's own layout is held to the same rules
as ours. Which words, and what makes them false, stands in the markets' files; the rules on figures
(16 CFR 500.17, 500.19 and 500.22) in ``form.toml``.
"""

from __future__ import annotations

import datetime as dt
import re
import unicodedata
from collections.abc import Iterable, Iterator, Sequence
from fractions import Fraction
from functools import cache, lru_cache

from labeler.catalog.model import Product
from labeler.disclosures import market_rules
from labeler.disclosures import rules as form
from labeler.disclosures.market_rules import RuleBook, Ruling, rulings
from labeler.disclosures.rules import Effect, Rule
from labeler.findings import Finding, Grade, Place
from labeler.units import FRACTION_SLASH, Weight, truncate

_ANY_FEW = r"(?:\S+ ){0,4}"
"""What ``*`` stands for in a rule's words."""


def contradicted(
    text: str,
    product: Product,
    markets: Sequence[str],
    day: dt.date,
    *,
    place: Place | None = None,
    rules: RuleBook | None = None,
) -> tuple[Finding, ...]:
    """Return a finding for each claim in ``text`` that may not be made of ``product``.

    ``text`` is one block: words that qualify a claim must stand in it too.
    """
    held = _claims(product, markets, day, rules)
    return _findings(text, [one for one in held if one.rule.near == "anywhere"], place)


def puffed(
    quantity: str,
    product: Product,
    markets: Sequence[str],
    day: dt.date,
    *,
    place: Place | None = None,
    rules: RuleBook | None = None,
) -> tuple[Finding, ...]:
    """Return a finding for each word in or beside the quantity that exaggerates it."""
    held = _claims(product, markets, day, rules)
    return _findings(quantity, [one for one in held if one.rule.near == "quantity"], place)


def _claims(
    product: Product, markets: Sequence[str], day: dt.date, rules: RuleBook | None
) -> list[Ruling]:
    """Return the rulings that bar words, each rule once."""
    book = rules or market_rules.shipped()
    barred = {
        one.rule.id: one
        for one in rulings(product, markets, day, book, {Effect.CLAIM})
        if one.set_off or one.unknown
    }
    return list(barred.values())


def _findings(text: str, held: Sequence[Ruling], place: Place | None) -> tuple[Finding, ...]:
    plain = folded(text)
    found = [(ruling, spoken(ruling.rule, plain)) for ruling in held]
    return tuple(_finding(one, words, place or Place()) for one, words in found if words)


def spoken(rule: Rule, plain: str) -> str:
    """Return the words in a folded text that ``rule`` bars, or nothing."""
    if any(_pattern(words).search(plain) for words in rule.unless):
        return ""
    hits = (_pattern(words).search(plain) for words in rule.words)
    return next((hit[0] for hit in hits if hit), "")


def any_words(rules: Iterable[Rule]) -> re.Pattern[str]:
    """Return the pattern that finds the words of any of ``rules`` in a folded text.

    Where it finds nothing, `spoken` finds nothing for any of them.
    """
    words = dict.fromkeys(words for rule in rules for words in rule.words)
    return re.compile(rf"(?<!\w)(?:{'|'.join(_body(each) for each in words)})(?!\w)")


@lru_cache(maxsize=1024)
def folded(text: str) -> str:
    """Return ``text`` in plain small letters, one space between words.

    ``U.S.A.`` becomes usa, every hyphen a space, every apostrophe straight.
    """
    plain = unicodedata.normalize("NFKC", text).casefold().replace("’", "'")
    plain = re.sub(r"(?<=\b\w)\.(?=\w\b|\s|$)", "", plain)
    plain = re.sub(r"[\u00ad\u200b]", "", plain)
    return " ".join(re.sub(r"[‐-―\-_/]", " ", plain).split())


@cache
def _pattern(words: str) -> re.Pattern[str]:
    """Return the pattern of a rule's words, as whole words."""
    return re.compile(rf"(?<!\w){_body(words)}(?!\w)")


def _body(words: str) -> str:
    parts = [_ANY_FEW if part == "*" else re.escape(part) + " " for part in folded(words).split()]
    return "".join(parts).removesuffix(" ")


def _finding(ruling: Ruling, words: str, place: Place) -> Finding:
    rule = ruling.rule
    unknown = ruling.unknown and rule.grade is Grade.STOP
    return Finding(
        rule=rule.id,
        grade=Grade.FIX if unknown else rule.grade,
        place=place,
        message=f"{words!r} may not stand here: {rule.about}",
        found=ruling.answer.because,
        hint=rule.doubt or "Take these words out of your own text: story, note, name or layout.",
        source=f"{rule.source} ({rule.confidence.value})",
    )


_FRACTION = re.compile(rf"(\d+)\s?[/{FRACTION_SLASH}]\s?(\d+)")
_DECIMAL = re.compile(r"(?<![\d.])\d*\.(\d+)")
_UNIT = re.compile(r"(?<=\d)\s?([^\W\d_]+)(\.?)")
_METRIC = frozenset({"g", "kg", "mg", "cm", "mm", "m"})


def grams_agree(weight: Weight, printed: Fraction) -> bool:
    """Tell whether ``printed`` grams may stand beside ``weight``: cut, to two or three digits.

    2 oz is 56 or 56.6 g, never 56.7. Source: 16 CFR 500.19(b).
    """
    stated = weight.unit == "g" and printed == weight.grams
    return stated or printed in _cut(weight.grams)


def ounces_agree(weight: Weight, printed: Fraction) -> bool:
    """Tell whether ``printed`` ounces may stand beside ``weight``: itself, or cut likewise."""
    stated = weight.unit == "oz" and printed == weight.ounces
    return stated or printed in _cut(weight.ounces)


@lru_cache(maxsize=256)
def _cut(exact: Fraction) -> frozenset[Fraction]:
    fewest, most = form.rules()["form-metric-figures"].numbers
    digits = range(fewest if exact < 100 else most, most + 1)
    return frozenset(Fraction(truncate(exact, count)) for count in digits)


def nominal(weight: Weight) -> tuple[Fraction, Fraction]:
    """Return the least and the most, in grams, that a head called ``weight`` may weigh."""
    share = Fraction(str(form.number("form-nominal-tolerance")))
    return weight.grams * (1 - share), weight.grams * (1 + share)


def written_badly(text: str, place: Place | None = None) -> tuple[Finding, ...]:
    """Return what is wrong with the fractions, decimals and units in a declaration of weight."""
    spot = place or Place()
    return (*_fractions(text, spot), *_decimals(text, spot), *_units(text, spot))


def _fractions(text: str, place: Place) -> Iterator[Finding]:
    plain = set(form.rules()["form-fractions"].numbers)
    custom = set(form.rules()["form-trade-fractions"].numbers)
    for found in _FRACTION.finditer(text):
        over, under = int(found[1]), int(found[2])
        if not under:
            continue
        if text[found.end() :].lstrip().casefold().startswith("g"):
            yield _fault("form-metric-figures", place, "grams never take a fraction", found[0])
        if Fraction(over, under).denominator != under:
            yield _fault("form-fractions", place, "a fraction not in lowest terms", found[0])
        elif under in custom:
            yield _fault("form-trade-fractions", place, "a fraction of the trade's own", found[0])
        elif under not in plain:
            yield _fault("form-fractions", place, "a fraction that nobody expects", found[0])


def _decimals(text: str, place: Place) -> Iterator[Finding]:
    most = form.number("form-decimals")
    for found in _DECIMAL.finditer(text):
        if len(found[1]) > most:
            yield _fault("form-decimals", place, "too many decimal places", found[0])


def _units(text: str, place: Place) -> Iterator[Finding]:
    known = form.rules()["form-units"].words
    for found in _UNIT.finditer(text):
        unit, dot = found[1], found[2]
        if unit.casefold() not in {word.casefold() for word in _METRIC | set(known)}:
            if _misspelt(unit):
                yield _fault("form-units", place, "an abbreviation nobody lists", unit)
        elif unit.casefold() in _METRIC and (unit not in _METRIC or dot):
            yield _fault("form-units", place, "a metric symbol written wrongly", unit + dot)


def _misspelt(unit: str) -> bool:
    """Tell whether a word after a number is meant as a metric unit: gm, gms, grm, cms."""
    return bool(re.fullmatch(r"g(?:r?ms?|rs?|s)|kgs|cms|mms", unit.casefold()))


def _fault(rule_id: str, place: Place, message: str, found: str) -> Finding:
    rule = form.rules()[rule_id]
    return Finding(rule_id, rule.grade, place, message, found=found, expected=rule.about,
                   source=rule.source)  # fmt: skip
