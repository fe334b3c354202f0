"""What a product must say where it is sold, and what the catalog leaves open that rules ask."""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Iterable, Iterator, Mapping, Sequence

from labeler.catalog.model import Product
from labeler.disclosures import load, rules, statements
from labeler.disclosures.load import RuleBook
from labeler.disclosures.panel import Panel, measured_by
from labeler.disclosures.rules import Effect, Least, Rule, Wording
from labeler.disclosures.statements import (
    FIELDS,
    Excise,
    LeastSize,
    Statement,
    StatementForm,
    largest,
    merge,
    parse_runs,
)
from labeler.disclosures.triggers import Ruling, backs_lead_free, rulings
from labeler.findings import Finding, Grade, Place, fix, note
from labeler.units import NO_BREAK_SPACE

_PRINTED = frozenset({Effect.DECLARED, Effect.DISCLOSURE, Effect.WAIVES})

_ZIP = re.compile(r"\d{5}(-\d{4})?")
"""Source: United States Postal Service, Publication 28, 225: five digits, or nine with a hyphen."""


def needed(
    product: Product,
    markets: Sequence[str],
    day: dt.date,
    *,
    panel: Panel,
    rules: RuleBook | None = None,
    asked: Iterable[Ruling] | None = None,
) -> tuple[Statement, ...]:
    """Return what a piece must say, in print order, each statement once for all its markets.

    Args:
        product: what is sold.
        markets: where, by ISO 3166 code.
        day: the day of the run.
        panel: the display panel, whose area decides how high the quantity stands.
        rules: the rules to go by; those that ship, if none are given.
        asked: every rule with its answer, where they have all been asked already.
    """
    context = _SaleContext(product, markets, day, panel, {})
    if asked is None:
        asked = rulings(product, markets, day, rules or load.shipped(), _PRINTED)
    return _statements(context, ("piece", "both"), asked)


def needed_in_price_list(
    product: Product,
    markets: Sequence[str],
    day: dt.date,
    *,
    excise: Excise,
    rules: RuleBook | None = None,
) -> tuple[Statement, ...]:
    """Return what a price list must say beside the product, in print order.

    Args:
        product: what is sold.
        markets: where, by ISO 3166 code.
        day: the day the list is made.
        excise: whether its prices include the federal excise tax on sport fishing equipment.
        rules: the rules to go by; those that ship, if none are given.
    """
    context = _SaleContext(product, markets, day, None, {"excise": excise})
    asked = rulings(product, markets, day, rules or load.shipped(), _PRINTED)
    return _statements(context, ("price list", "both"), asked)


def blank(rule: Rule, product: Product, markets: Sequence[str]) -> tuple[str, ...]:
    """Return the fields of a rule's full wording that the catalog does not fill."""
    full = next((one.text for one in rule.wording if one.form == "full"), "")
    return tuple(
        name
        for name, field in FIELDS.items()
        if f"{{{name}}}" in full and field(product, markets) is None
    )


class _SaleContext:
    """A product with its markets, day and panel, which fill and size the wordings."""

    def __init__(
        self,
        product: Product,
        markets: Sequence[str],
        day: dt.date,
        panel: Panel | None,
        given: Mapping[str, str],
    ) -> None:
        self.product, self.markets, self.day, self.panel = product, markets, day, panel
        filled = {name: field(product, markets) for name, field in FIELDS.items()}
        self.fields = {k: v for k, v in filled.items() if v is not None} | dict(given)

    def compose(self, wording: Wording, rule: Rule) -> StatementForm | None:
        """Return a wording filled and sized, or None where the catalog does not tell enough."""
        try:
            text = wording.text.format_map(self.fields)
        except KeyError:
            return None
        runs = parse_runs(text)
        plain = "".join(run.text for run in runs)
        return StatementForm(
            runs=runs,
            least=self._least(wording.least or rule.least, plain),
            triangle=wording.triangle,
            as_large_as_other=wording.as_large_as_other,
            rule=rule.id,
            until=wording.ends.isoformat() if wording.ends else "",
        )

    def compose_all(self, wordings: Sequence[Wording], rule: Rule) -> tuple[StatementForm, ...]:
        """Return those of the wordings that can be filled."""
        composed = (self.compose(one, rule) for one in wordings)
        return tuple(one for one in composed if one is not None)

    def _least(self, least: Least | None, text: str) -> tuple[LeastSize, ...]:
        floor = rules.size_pt("form-floor")
        sizes = [LeastSize("font size", floor, 0.0)]
        if least is not None and least.by != "panel" and least.size is not None:
            sizes.append(LeastSize(least.by, least.size.pt, least.size.pt))
        elif least is not None and self.panel is not None:
            height, firm = self.panel.letter_height, self.panel.firm_letter_height
            sizes.append(LeastSize(measured_by(text), height, firm))
        return largest(sizes)


def _statements(
    context: _SaleContext, places: tuple[str, ...], asked: Iterable[Ruling]
) -> tuple[Statement, ...]:
    by_rule: dict[str, list[Ruling]] = {}
    waived: set[tuple[str, str]] = set()
    for ruling in asked:
        rule = ruling.rule
        if rule.effect not in _PRINTED or not ruling.set_off:
            continue
        waived.update((other, ruling.market) for other in rule.waives)
        if rule.states and rule.where in places:
            by_rule.setdefault(rule.id, []).append(ruling)
    composed = (_statement(set_off, context, waived) for set_off in by_rule.values())
    return merge(statement for statement in composed if statement is not None)


def _statement(
    set_off: Sequence[Ruling], context: _SaleContext, waived: set[tuple[str, str]]
) -> Statement | None:
    """Return the statement that one rule asks for; None where the catalog tells too little.

    It is optional only where it is waived in every market that asks for it.
    """
    rule = set_off[0].rule
    serving = [one for one in rule.wording if one.serves_on(context.day)]
    full = next((one for one in serving if one.form == "full"), None)
    short = next((one for one in serving if one.form == "short"), None)
    composed = context.compose(full, rule) if full else None
    if composed is None or rule.kind is None:
        return None
    printed = [one for one in (full, short) if one is not None]
    others = [one for one in serving if one is not full and one is not short]
    over = [one for one in rule.wording if one.ends is not None and context.day >= one.ends]
    needless = all((rule.id, one.market) in waived for one in set_off)
    return Statement(
        id=rule.id,
        kind=rule.kind,
        full=composed,
        short=context.compose(short, rule) if short else None,
        accepted=context.compose_all([*others, *_signalled(others), *_signalled(printed)], rule),
        expired=context.compose_all(over, rule),
        emphasis=rule.emphasis,
        duty="optional" if needless else rule.duty,
        markets=tuple(one.market for one in set_off),
        rules=(rule.id,),
        confidence=rule.confidence,
        placement=(rule.placement,) if rule.placement else (),
    )


def _signalled(wordings: Sequence[Wording]) -> list[Wording]:
    """Return the wordings once more under each other signal word that they may begin with."""
    return [
        one.model_copy(update={"text": f"**{signal}**{one.text.split('**', 2)[2]}"})
        for one in wordings
        for signal in one.signals
    ]


def gaps(
    product: Product,
    markets: Sequence[str],
    day: dt.date,
    rules: RuleBook | None = None,
    asked: Sequence[Ruling] | None = None,
) -> tuple[Finding, ...]:
    """Return what a product's markets ask and its catalog does not tell.

    Args:
        product: what is sold.
        markets: where, by ISO 3166 code.
        day: the day of the run.
        rules: the rules to go by; those that ship, if none are given.
        asked: every rule with its answer, where they have all been asked already.
    """
    place = Place(piece=product.sku)
    if asked is None:
        asked = list(rulings(product, markets, day, rules or load.shipped()))
    return (
        *_address(product, markets, asked, place),
        *_identity(product, place),
        *_unknown(asked, place),
        *_blanks(product, markets, asked, place),
        *_certificate(product, place),
    )


def _address(
    product: Product, markets: Sequence[str], asked: Sequence[Ruling], place: Place
) -> Iterator[Finding]:
    """Yield what the address lacks, where a rule asks for a postal address."""
    maker = product.maker
    rule = next((one.rule for one in asked if one.rule.kind == "maker" and one.set_off
                 and one.rule.duty == "law"), None)  # fmt: skip
    if rule is None:
        return
    if not maker.street and not maker.listed:
        hint = "If a current city or telephone directory lists it, say listed = true in [maker]."
        found = statements.address(product, markets).replace(NO_BREAK_SPACE, " ")
        yield _by(
            rule, place, "the maker's address has no street", found=found,
            expected="street, city, state and ZIP code", hint=hint,
        )  # fmt: skip
    if maker.country == "US" and not _ZIP.fullmatch(maker.postcode):
        digits = "five digits, or nine with a hyphen"
        yield _by(rule, place, "the maker's ZIP code", found=maker.postcode, expected=digits)
    if maker.country == "US" and not rules.is_state(maker.state or ""):
        letters = "two letters, such as WI"
        yield _by(rule, place, "the maker's state", found=maker.state or "", expected=letters)


def _by(rule: Rule, place: Place, message: str, **rest: str) -> Finding:
    source = f"{rule.source} ({rule.confidence.value})"
    return Finding(rule.id, rule.grade, place, message, source=source, **rest)


def _identity(product: Product, place: Place) -> Iterator[Finding]:
    if not statements.noun(product.pattern.kind):
        yield note(
            "form-identity-nouns",
            place,
            "the pattern's kind has no word that every buyer knows; 'fishing jig' is added",
            found=product.pattern.kind,
        )


def _unknown(asked: Sequence[Ruling], place: Place) -> Iterator[Finding]:
    """Yield each thing that the catalog does not state once, with the rules that ask for it."""
    by_reason: dict[str, list[Rule]] = {}
    for ruling in asked:
        if ruling.unknown and ruling.rule.effect is not Effect.CLAIM:
            by_reason.setdefault(ruling.answer.because, []).append(ruling.rule)
    for because, rules_asking in by_reason.items():
        names = list(dict.fromkeys(rule.id for rule in rules_asking))
        grave = any(rule.grade is not Grade.NOTE for rule in rules_asking)
        yield (fix if grave else note)(
            names[0],
            place,
            because,
            hint=f"Asked by {', '.join(names)}.",
            source=rules_asking[0].source,
        )


def _blanks(
    product: Product, markets: Sequence[str], asked: Sequence[Ruling], place: Place
) -> Iterator[Finding]:
    """Yield the statements that are not printed because a field is empty."""
    seen: set[str] = set()
    for ruling in asked:
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
