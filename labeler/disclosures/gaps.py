"""What the catalog has not told, and a rule or a statement would need to know."""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Iterator, Sequence

from labeler.catalog.model import Product
from labeler.disclosures import fields, load, places
from labeler.disclosures.load import RuleBook
from labeler.disclosures.needed import blank
from labeler.disclosures.rules import Effect, Rule
from labeler.disclosures.rulings import Ruling, rulings
from labeler.disclosures.triggers import backs_lead_free
from labeler.findings import Finding, Grade, Place, fix, note
from labeler.units import NO_BREAK_SPACE

_ZIP = re.compile(r"\d{5}(-\d{4})?")
"""Source: United States Postal Service, Publication 28, 225: five digits, or nine with a hyphen."""


def gaps(
    product: Product,
    markets: Sequence[str],
    day: dt.date,
    rules: RuleBook | None = None,
    held: Sequence[Ruling] | None = None,
) -> tuple[Finding, ...]:
    """Return what a product's markets ask and its catalog does not tell.

    Args:
        product: what is sold.
        markets: where, by ISO 3166 code.
        day: the day of the run.
        rules: the rules to go by; those that ship, if none are given.
        held: every rule with its answer, where somebody has asked them all already.
    """
    place = Place(piece=product.sku)
    if held is None:
        held = list(rulings(product, markets, day, rules or load.shipped()))
    return (
        *_address(product, markets, held, place),
        *_identity(product, place),
        *_untold(held, place),
        *_blanks(product, markets, held, place),
        *_certificate(product, place),
    )


def _address(
    product: Product, markets: Sequence[str], held: Sequence[Ruling], place: Place
) -> Iterator[Finding]:
    """Yield what the address lacks, where a rule asks for a postal address."""
    maker = product.maker
    rule = next((one.rule for one in held if one.rule.kind == "maker" and one.set_off
                 and one.rule.duty == "law"), None)  # fmt: skip
    if rule is None:
        return
    if not maker.street and not maker.listed:
        hint = "If a current city or telephone directory lists it, say listed = true in [maker]."
        found = fields.address(product, markets).replace(NO_BREAK_SPACE, " ")
        yield _by(
            rule, place, "the maker's address has no street", found=found,
            expected="street, city, state and ZIP code", hint=hint,
        )  # fmt: skip
    if maker.country == "US" and not _ZIP.fullmatch(maker.postcode):
        digits = "five digits, or nine with a hyphen"
        yield _by(rule, place, "the maker's ZIP code", found=maker.postcode, expected=digits)
    if maker.country == "US" and not places.is_state(maker.state or ""):
        letters = "two letters, such as WI"
        yield _by(rule, place, "the maker's state", found=maker.state or "", expected=letters)


def _by(rule: Rule, place: Place, message: str, **rest: str) -> Finding:
    source = f"{rule.source} ({rule.confidence.value})"
    return Finding(rule.id, rule.grade, place, message, source=source, **rest)


def _identity(product: Product, place: Place) -> Iterator[Finding]:
    if not fields.noun(product.pattern.kind):
        yield note(
            "form-identity-nouns",
            place,
            "the pattern's kind has no word that every buyer knows; 'fishing jig' is added",
            found=product.pattern.kind,
        )


def _untold(held: Sequence[Ruling], place: Place) -> Iterator[Finding]:
    """Yield each thing that is not told once, with the rules that ask for it."""
    asking: dict[str, list[Rule]] = {}
    for ruling in held:
        if ruling.untold and ruling.rule.effect is not Effect.CLAIM:
            asking.setdefault(ruling.answer.because, []).append(ruling.rule)
    for because, rules in asking.items():
        names = list(dict.fromkeys(rule.id for rule in rules))
        grave = any(rule.grade is not Grade.NOTE for rule in rules)
        say = fix if grave else note
        asked = f"Asked by {', '.join(names)}."
        yield say(names[0], place, because, hint=asked, source=rules[0].source)


def _blanks(
    product: Product, markets: Sequence[str], held: Sequence[Ruling], place: Place
) -> Iterator[Finding]:
    """Yield the statements that are not printed because a field is empty."""
    seen: set[str] = set()
    for ruling in held:
        rule = ruling.rule
        if not ruling.set_off or rule.where == "price list" or rule.id in seen:
            continue
        seen.add(rule.id)
        if lacking := blank(rule, product, markets):
            message = f"no statement of {rule.kind} is printed, for want of {', '.join(lacking)}"
            yield note(rule.id, place, message, hint=rule.about, source=rule.source)


def _certificate(product: Product, place: Place) -> Iterator[Finding]:
    """Yield a note where the label says lead-free and no paper vouches for it."""
    if backs_lead_free(product) and not product.alloy.certificate:
        yield note(
            "house-lead-free",
            place,
            f"{product.alloy.name} is called lead-free, and no supplier's certificate is named",
            hint="Keep the paper that vouches for the composition, and name it in the catalog.",
        )
