"""What a product must say where it is sold, and what the catalog leaves open that rules ask."""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Literal

from labeler.catalog.model import Bag, Product
from labeler.disclosures import market_rules, rules, statements
from labeler.disclosures.market_rules import (
    RuleBook,
    Ruling,
    backs_lead_free,
    of_whole_pack,
    rulings,
)
from labeler.disclosures.rules import Effect, HeightRow, Least, Measure, Rule, Wording
from labeler.disclosures.statements import (
    FIELDS,
    Excise,
    LeastSize,
    Statement,
    StatementForm,
    TextRun,
    largest,
    merge,
    parse_runs,
)
from labeler.findings import Finding, Grade, Place, fix, note
from labeler.units import NO_BREAK_SPACE, Length

# The display panel: how large it is, how high letters on it must stand, and what stays clear.
#
# The panel is the side of the package that faces the buyer: the card for carded goods, the bag's
# face for a label on a bag. A label is never the panel where the bag behind it is larger.

Side = Literal["card", "bag", "label", "unstated bag"]

_METRIC = re.compile(r"(?<=\d)\s?(?:[kmc]?[gm])\b")

_SAME_AREA = 1e-6
"""Relative: two areas closer than this are the same, whatever units they were typed in."""


@dataclass(frozen=True, slots=True)
class Panel:
    """A display panel: what it is, and its area in square inches.

    ``height`` is how high it stands as it is displayed, where that is known.
    """

    side: Side
    area: float
    height: Length | None = None

    @property
    def free_of_bottom_rule(self) -> bool:
        """Whether it is so small that the quantity may stand anywhere on it."""
        return _not_above(self.area, rules.number("form-bottom-relief"))

    @property
    def row(self) -> HeightRow:
        """The row of the table of type heights that this panel falls in."""
        rows = rules.rules()["form-type-height"].row
        return next(row for row in rows if row.up_to is None or _not_above(self.area, row.up_to))

    @property
    def letter_height(self) -> float:
        """The least height of the quantity's letters, in points."""
        return self.row.points

    @property
    def firm_letter_height(self) -> float:
        """The part of that height, in points, that the text as read asks for."""
        return self.row.firm

    @property
    def bottom(self) -> Length | None:
        """How far up from the foot the quantity may reach; None where it may stand anywhere."""
        if self.free_of_bottom_rule or self.height is None:
            return None
        return Length(self.height.pt * rules.number("form-bottom"))


def card_panel(width: Length, height: Length) -> Panel:
    """Return the panel of goods on a card: the card's whole face, not the blister or the bag.

    Source: 16 CFR 500.2(h), edition of 2015; 1 NYCRR 221.8, "display card".
    """
    return Panel("card", width.inches * height.inches, height)


def label_panel(width: Length, height: Length, bag: Bag | None) -> Panel:
    """Return the panel of a label on a bag: the bag's face, or the label where that is larger.

    A bag of which nothing is known is taken to be no small one, so that letters are not set
    smaller than they should be.
    """
    label = Panel("label", width.inches * height.inches, height)
    if bag is None or bag.size is None:
        unknown = Panel("unstated bag", rules.number("form-unstated-bag"))
        return unknown if label.area < unknown.area else label
    wide, high = bag.size
    face = Panel("bag", wide.inches * high.inches, high)
    return face if label.area <= face.area else label


def panel_of(use: str, product: Product, size: tuple[float, float]) -> Panel:
    """Return the panel that a piece comes to.

    Args:
        use: "cards" or "bags".
        product: what lies in the bag.
        size: of the piece, width and height in points.
    """
    width, height = Length(size[0]), Length(size[1])
    return card_panel(width, height) if use == "cards" else label_panel(width, height, product.bag)


def measured_by(text: str) -> Measure:
    """Return what of ``text`` is measured: its capitals, or its small o once it has a small letter.

    Figures count as capitals, and so do metric symbols, which are judged by the height of an L
    or a d. Source: 16 CFR 500.21(d) and (h).
    """
    plain = _METRIC.sub("", text)
    return "x-height" if any(letter.islower() for letter in plain) else "cap height"


def too_narrow(letter: str, height: float, width: float) -> bool:
    """Tell whether the ink of ``letter`` is too high for its width.

    Letters narrow by nature, and marks that are no letters, are left out.
    """
    rule = rules.rules()["form-narrowness"]
    if letter in rule.words or not letter.isalnum():
        return False
    return height > rules.number("form-narrowness") * width * (1 + _SAME_AREA)


def clear_space(letter_height: float, width_of_n: float) -> tuple[float, float]:
    """Return what stays clear of print around the quantity, in points: above and below, beside.

    Args:
        letter_height: the height of the declaration's letters, in points.
        width_of_n: the width of its capital N at that size, in points.
    """
    above = letter_height * rules.number("form-clear-above")
    return above, width_of_n * rules.number("form-clear-beside")


def _not_above(area: float, bound: float) -> bool:
    return area <= bound * (1 + _SAME_AREA)


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
    book = rules or market_rules.shipped()
    if product.parts:
        asked = rulings(product, markets, day, book, _PRINTED)
        whole = [each for each in asked if of_whole_pack(each.rule)]
        waived = {name for each in whole if each.set_off for name in each.rule.waives}
        own = _statements(context, ("piece", "both"), whole)
        kinds = [needed(one, markets, day, panel=panel, rules=rules) for one in product.units]
        return _joined(product, own, kinds, waived)
    if asked is None:
        asked = rulings(product, markets, day, book, _PRINTED)
    return _statements(context, ("piece", "both"), asked)


def _joined(
    pack: Product, own: Sequence[Statement], kinds: Sequence[Sequence[Statement]], waived: set[str]
) -> tuple[Statement, ...]:
    """Return what an assorted pack must say: its own, and what each kind in it has to say.

    What all say alike stands once, and so does every warning and caution: what holds of one jig
    in the bag holds of the bag. What only some say, or each in other words, names the jig that it
    is about, or is left out where nobody asks for it: a bag with lead in it boasts of none that is
    free of it. What the pack's own statements stand for is not said again.
    """
    found = list(own)
    for said in dict.fromkeys(one for some in kinds for one in some):
        named = [
            statements.part_name(pack, part)
            for part, some in zip(pack.parts, kinds, strict=True)
            if any(one.text == said.text for one in some)
        ]
        if set(said.rules) <= waived or said.kind in {one.kind for one in own}:
            continue
        for_all = len(named) == len(kinds) or said.kind in ("warning", "caution")
        if for_all or said.duty != "optional":
            found.append(said if for_all else _about(" and ".join(named), said))
    return merge(found)


def _about(name: str, said: Statement) -> Statement:
    """Return a statement that begins with the name of what it is about."""

    def begun(form: StatementForm) -> StatementForm:
        return replace(form, runs=(TextRun(f"{name}: "), *form.runs))

    return replace(
        said, full=begun(said.full), short=begun(said.short) if said.short else None,
        accepted=tuple(map(begun, said.accepted)), expired=tuple(map(begun, said.expired)),
    )  # fmt: skip


def needed_in_price_list(
    product: Product,
    markets: Sequence[str],
    day: dt.date,
    *,
    excise: Excise,
) -> tuple[Statement, ...]:
    """Return what a price list must say beside the product, in print order.

    Args:
        product: what is sold.
        markets: where, by ISO 3166 code.
        day: the day the list is made.
        excise: whether its prices include the federal excise tax on sport fishing equipment.
    """
    context = _SaleContext(product, markets, day, None, {"excise": excise})
    asked = rulings(product, markets, day, market_rules.shipped(), _PRINTED)
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
    serving = [one for one in rule.wording if one.holds_on(context.day)]
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
    if product.parts:
        each = (gaps(one, markets, day, rules) for one in product.units)
        found = (replace(one, place=place) for some in each for one in some)
        return tuple(dict.fromkeys(found))
    if asked is None:
        asked = list(rulings(product, markets, day, rules or market_rules.shipped()))
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
        hint = "If a current directory, printed or on the web, lists it: listed = true in [maker]."
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
            in_french = rule.when is not None and rule.when.french
            yield (fix if in_french else note)(
                rule.id, place, message, hint=rule.about, source=rule.source
            )


def _certificate(product: Product, place: Place) -> Iterator[Finding]:
    """Yield a note where the label says lead-free and no paper vouches for it."""
    if backs_lead_free(product) and not product.alloy.certificate:
        yield note(
            "house-lead-free",
            place,
            f"{product.alloy.name} is called lead-free, and no supplier's certificate is named",
            hint="Keep the paper that vouches for the composition, and name it in the catalog.",
        )
