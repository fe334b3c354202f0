"""Words that may not stand: puffery by the quantity, and claims that the goods contradict.

Pure functions over a text and a product, so that a maker's own layout is held to the same rules
as ours. Which words, and what makes them false, stands in the markets' files.
"""

from __future__ import annotations

import datetime as dt
import re
import unicodedata
from collections.abc import Iterable, Sequence
from functools import cache, lru_cache

from labeler.catalog.model import Product
from labeler.disclosures import load
from labeler.disclosures.load import RuleBook
from labeler.disclosures.rules import Effect, Rule
from labeler.disclosures.triggers import Ruling, rulings
from labeler.findings import Finding, Grade, Place

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
    book = rules or load.shipped()
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
