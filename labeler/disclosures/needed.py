"""What a product must say where it is sold: on its piece, and in a price list."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Iterator, Mapping, Sequence

from labeler.catalog.model import Product
from labeler.disclosures import form, load
from labeler.disclosures.fields import FIELDS, Excise
from labeler.disclosures.load import RuleBook
from labeler.disclosures.panel import Panel, measured_by
from labeler.disclosures.rules import Effect, Least, Rule, Wording
from labeler.disclosures.rulings import Ruling, rulings
from labeler.disclosures.statements import Form, LeastSize, Statement, largest, merge, parse_runs


def needed(
    product: Product,
    markets: Sequence[str],
    day: dt.date,
    *,
    panel: Panel,
    rules: RuleBook | None = None,
    held: Iterable[Ruling] | None = None,
) -> tuple[Statement, ...]:
    """Return what a piece must say, in print order, each statement once for all its markets.

    Args:
        product: what is sold.
        markets: where, by ISO 3166 code.
        day: the day of the run.
        panel: the display panel, whose area decides how high the quantity stands.
        rules: the rules to go by; those that ship, if none are given.
        held: every rule with its answer, where somebody has asked them all already.
    """
    setting = _Setting(product, markets, day, panel, {})
    if held is None:
        held = rulings(product, markets, day, rules or load.shipped(), _PRINTED)
    return _needed(setting, ("piece", "both"), held)


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
    setting = _Setting(product, markets, day, None, {"excise": excise})
    held = rulings(product, markets, day, rules or load.shipped(), _PRINTED)
    return _needed(setting, ("price list", "both"), held)


def blank(rule: Rule, product: Product, markets: Sequence[str]) -> tuple[str, ...]:
    """Return the fields of a rule's full wording that the catalog does not fill."""
    full = next((one.text for one in rule.wording if one.form == "full"), "")
    return tuple(
        name
        for name, field in FIELDS.items()
        if f"{{{name}}}" in full and field(product, markets) is None
    )


class _Setting:
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

    def compose(self, wording: Wording, rule: Rule) -> Form | None:
        """Return a wording filled and sized, or None where the catalog does not tell enough."""
        try:
            text = wording.text.format_map(self.fields)
        except KeyError:
            return None
        runs = parse_runs(text)
        plain = "".join(run.text for run in runs)
        return Form(
            runs=runs,
            least=self._least(wording.least or rule.least, plain),
            triangle=wording.triangle,
            as_large_as_other=wording.as_large_as_other,
            rule=rule.id,
            until=wording.ends.isoformat() if wording.ends else "",
        )

    def _least(self, least: Least | None, text: str) -> tuple[LeastSize, ...]:
        floor = form.size_pt("form-floor")
        sizes = [LeastSize("font size", floor, 0.0)]
        if least is not None and least.by != "panel" and least.size is not None:
            sizes.append(LeastSize(least.by, least.size.pt, least.size.pt))
        elif least is not None and self.panel is not None:
            height, firm = self.panel.letter_height, self.panel.firm_letter_height
            sizes.append(LeastSize(measured_by(text), height, firm))
        return largest(sizes)


_PRINTED = frozenset({Effect.DECLARED, Effect.DISCLOSURE, Effect.WAIVES})


def _needed(
    setting: _Setting, places: tuple[str, ...], held: Iterable[Ruling]
) -> tuple[Statement, ...]:
    asking: dict[str, list[Ruling]] = {}
    waived: set[tuple[str, str]] = set()
    for ruling in held:
        rule = ruling.rule
        if rule.effect not in _PRINTED or not ruling.set_off:
            continue
        waived.update((other, ruling.market) for other in rule.waives)
        if rule.states and rule.where in places:
            asking.setdefault(rule.id, []).append(ruling)
    return merge(said for asked in asking.values() for said in _states(asked, setting, waived))


def _states(
    held: Sequence[Ruling], setting: _Setting, waived: set[tuple[str, str]]
) -> Iterator[Statement]:
    """Yield the statement that one rule asks for, if the catalog tells enough to compose it.

    It is optional only where it is waived in every market that asks for it.
    """
    rule = held[0].rule
    serving = [one for one in rule.wording if one.serves_on(setting.day)]
    full, short = _first("full", serving), _first("short", serving)
    said = setting.compose(full, rule) if full else None
    if said is None or rule.kind is None:
        return
    spare = [one for one in serving if one is not full and one is not short]
    printed = [one for one in (full, short) if one is not None]
    needless = all((rule.id, one.market) in waived for one in held)
    yield Statement(
        id=rule.id,
        kind=rule.kind,
        full=said,
        short=setting.compose(short, rule) if short else None,
        accepted=_forms([*spare, *_signalled(spare), *_signalled(printed)], rule, setting),
        expired=_forms([one for one in rule.wording if _over(one, setting.day)], rule, setting),
        emphasis=rule.emphasis,
        duty="optional" if needless else rule.duty,
        markets=tuple(one.market for one in held),
        rules=(rule.id,),
        confidence=rule.confidence,
        placement=(rule.placement,) if rule.placement else (),
    )


def _first(form_of: str, wordings: Sequence[Wording]) -> Wording | None:
    return next((one for one in wordings if one.form == form_of), None)


def _forms(wordings: Sequence[Wording], rule: Rule, setting: _Setting) -> tuple[Form, ...]:
    composed = (setting.compose(one, rule) for one in wordings)
    return tuple(one for one in composed if one is not None)


def _over(wording: Wording, day: dt.date) -> bool:
    return wording.ends is not None and day >= wording.ends


def _signalled(wordings: Sequence[Wording]) -> list[Wording]:
    """Return the wordings once more under each other signal word that they may begin with."""
    return [
        one.model_copy(update={"text": f"**{signal}**{one.text.split('**', 2)[2]}"})
        for one in wordings
        for signal in one.signals
    ]
