"""Figures on a label: fractions, decimals, units, and grams that must agree with ounces.

Source of the rules: 16 CFR 500.17, 500.19 and 500.22, as ``form.toml`` has them.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from fractions import Fraction
from functools import lru_cache

from labeler.disclosures import rules
from labeler.findings import Finding, Place
from labeler.units import FRACTION_SLASH, Weight, truncate

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
    fewest, most = rules.rules()["form-metric-figures"].numbers
    digits = range(fewest if exact < 100 else most, most + 1)
    return frozenset(Fraction(truncate(exact, count)) for count in digits)


def nominal(weight: Weight) -> tuple[Fraction, Fraction]:
    """Return the least and the most, in grams, that a head called ``weight`` may weigh."""
    share = Fraction(str(rules.number("form-nominal-tolerance")))
    return weight.grams * (1 - share), weight.grams * (1 + share)


def written_badly(text: str, place: Place | None = None) -> tuple[Finding, ...]:
    """Return what is wrong with the fractions, decimals and units in a declaration of weight."""
    spot = place or Place()
    return (*_fractions(text, spot), *_decimals(text, spot), *_units(text, spot))


def _fractions(text: str, place: Place) -> Iterator[Finding]:
    plain = set(rules.rules()["form-fractions"].numbers)
    custom = set(rules.rules()["form-trade-fractions"].numbers)
    for found in _FRACTION.finditer(text):
        over, under = int(found[1]), int(found[2])
        if not under:
            continue
        if text[found.end() :].lstrip().casefold().startswith("g"):
            yield _finding("form-metric-figures", place, "grams never take a fraction", found[0])
        if Fraction(over, under).denominator != under:
            yield _finding("form-fractions", place, "a fraction not in lowest terms", found[0])
        elif under in custom:
            yield _finding("form-trade-fractions", place, "a fraction of the trade's own", found[0])
        elif under not in plain:
            yield _finding("form-fractions", place, "a fraction that nobody expects", found[0])


def _decimals(text: str, place: Place) -> Iterator[Finding]:
    most = rules.number("form-decimals")
    for found in _DECIMAL.finditer(text):
        if len(found[1]) > most:
            yield _finding("form-decimals", place, "too many decimal places", found[0])


def _units(text: str, place: Place) -> Iterator[Finding]:
    known = rules.rules()["form-units"].words
    for found in _UNIT.finditer(text):
        unit, dot = found[1], found[2]
        if unit.casefold() not in {word.casefold() for word in _METRIC | set(known)}:
            if _misspelt(unit):
                yield _finding("form-units", place, "an abbreviation nobody lists", unit)
        elif unit.casefold() in _METRIC and (unit not in _METRIC or dot):
            yield _finding("form-units", place, "a metric symbol written wrongly", unit + dot)


def _misspelt(unit: str) -> bool:
    """Tell whether a word after a number is meant as a metric unit: gm, gms, grm, cms."""
    return bool(re.fullmatch(r"g(?:r?ms?|rs?|s)|kgs|cms|mms", unit.casefold()))


def _finding(rule_id: str, place: Place, message: str, found: str) -> Finding:
    rule = rules.rules()[rule_id]
    return Finding(rule_id, rule.grade, place, message, found=found, expected=rule.about,
                   source=rule.source)  # fmt: skip
