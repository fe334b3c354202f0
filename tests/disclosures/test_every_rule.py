"""Every rule that is held has a jig that sets it off, and one that does not.

A rule that cannot be set off is no rule; one that always is, is no test. What the house says of
every pack stands apart, by name.
"""

from __future__ import annotations

import datetime as dt
import io
import json
import re
import unicodedata
from collections.abc import Iterable, Sequence
from pathlib import Path
from typing import Any, NamedTuple

import pikepdf
import pytest
from reportlab.pdfbase import pdfmetrics
from reportlab.pdfbase.ttfonts import TTFont
from reportlab.pdfgen.canvas import Canvas

from labeler.catalog.model import Product
from labeler.checker import rulebook
from labeler.checker.claims import ProductLine
from labeler.checker.judge import check_bytes
from labeler.checker.report import Report
from labeler.checker.subject import CheckRequest
from labeler.disclosures import market_rules, rules
from labeler.disclosures.market_rules import rulings
from labeler.disclosures.needed import card_panel, needed
from labeler.disclosures.rules import Effect, Rule
from labeler.disclosures.statements import Statement
from labeler.units import Length

FONTS = Path(__file__).parents[2] / "fonts"


class Case(NamedTuple):
    """A jig, a market and a day."""

    market: str
    jig: dict[str, Any]
    day: dt.date = dt.date(2026, 11, 25)


def kind(words: str, **rest: Any) -> dict[str, Any]:
    return {"pattern": {"kind": words, **rest}}


LEAD: dict[str, Any] = {}
FREE = {"alloy": "bismuth-tin"}
FRENCH = {"second": ("fr", {"swim jig": "turlutte nageuse", "jigs": "turluttes"})}
"""Invented words of a maker."""
CHILD = {"for_children": True}
OF_EVERY_PACK = {
    "house-identity", "house-maker", "house-head-weight", "house-claim-net-weight",
    "house-hook-caution", "house-claim-harmless", "house-claim-green", "house-claim-approved",
    "house-claim-origin",
}  # fmt: skip

TABLE: dict[str, tuple[Case, Case | None]] = {
    **{rule: (Case("US", LEAD), None) for rule in OF_EVERY_PACK},
    "house-variety": (Case("GB", {"with_": {}}), Case("GB", LEAD)),
    "house-variety-weight": (Case("US", {"with_": {}}), Case("US", LEAD)),
    "us-variety": (Case("US", {"with_": {}}), Case("US", {"pattern": {"pack": 3}})),
    "house-contains-lead": (Case("US", LEAD), Case("US", FREE)),
    "house-lead-free": (Case("US", FREE), Case("US", LEAD)),
    "house-head-metal": (Case("US", {"lead": "0.05 %"}), Case("US", FREE)),
    "house-latex": (Case("US", {"rubber": True}), Case("US", LEAD)),
    "house-lead-caution": (Case("US", LEAD), Case("US", FREE)),
    "house-care": (Case("US", {"pattern": {"care": "Dry it."}}), Case("US", LEAD)),
    "house-claim-lead-free": (Case("US", {"lead": "0.01 %"}), Case("US", FREE)),
    "house-claim-non-toxic": (Case("US", {**FREE, "bead": {"nickel": "9 %"}}), Case("US", FREE)),
    "us-identity": (Case("US-TX", {"bag": ("3 in", "5 in", False)}), Case("GB", LEAD)),
    "us-identity-visible": (
        Case("US", LEAD),
        Case("US", {"bag": ("3 in", "5 in", False)}),
    ),
    "us-responsible": (Case("US", LEAD), Case("DE", LEAD)),
    "us-linking-phrase": (Case("US", {"pattern": {"made_by": "made for"}}), Case("US", LEAD)),
    "us-count": (Case("US", {"pattern": {"pack": 2}}), Case("US", LEAD)),
    "us-count-plural": (Case("US", kind("swim jigs")), Case("US", kind("swim jigs", pack=2))),
    "us-count-visible": (
        Case("US", {"pattern": {"pack": 6}}),
        Case("US", {"pattern": {"pack": 7}}),
    ),
    "us-price-count": (Case("US", LEAD), Case("CA", LEAD)),
    "us-claim-quantity-puffed": (Case("US", LEAD), Case("GB", LEAD)),
    "us-origin-imported": (Case("US", {"pattern": {"made_in": "MX"}}), Case("US", LEAD)),
    "us-origin-qualified": (Case("US", LEAD), Case("US", {"pattern": {"made_in": "MX"}})),
    "us-claim-made-in-usa": (Case("US", LEAD), Case("US", {"hook_origin": "US"})),
    "us-origin-hook": (Case("US", LEAD), Case("US", {"hook_origin": "US"})),
    "us-excise": (Case("US", LEAD), Case("CA", LEAD)),
    "us-children-lead": (
        Case("US", {"lead": "0.02 %", "pattern": CHILD}),
        Case("US", {"lead": "0.01 %", "pattern": CHILD}),
    ),
    "us-children-hook": (Case("US", {"pattern": CHILD}), Case("US", LEAD)),
    "us-claim-children": (Case("US", LEAD), Case("GB", LEAD)),
    "us-refuge-lead": (Case("US-MD", LEAD), Case("US-TX", LEAD)),
    "us-refuge-thicket": (Case("US-NY", LEAD), Case("US-MD", LEAD)),
    "us-park-lead": (Case("US-WY", LEAD), Case("US-WY", FREE)),
    "us-ca-prop-65": (
        Case("US-CA", {"maker": {"employees": 10}}),
        Case("US-CA", {"maker": {"employees": 9}}),
    ),
    "us-ca-prop-65-language": (
        Case("US-CA", {"maker": {"employees": 10}, "second": ("es", {"Hook": "Anzuelo"})}),
        Case("US-CA", {"maker": {"employees": 10}}),
    ),
    "us-ca-prop-65-small-maker": (
        Case("US-CA", {"maker": {"employees": 9}}),
        Case("US-CA", {"maker": {"employees": 10}}),
    ),
    "us-ca-prop-65-others": (
        Case("US-CA", {"bead": {"antimony trioxide": "2 %"}}),
        Case("US-CA", LEAD),
    ),
    "us-nh-lead-jig-sale": (Case("US-NH", LEAD), Case("US-NH", kind("spinnerbait"))),
    "us-nh-lead-jig-use": (Case("US-NH", LEAD), Case("US-NH", FREE)),
    "us-me-lead-jig-sale": (
        Case("US-ME", LEAD, dt.date(2024, 9, 1)),
        Case("US-ME", LEAD, dt.date(2024, 8, 31)),
    ),
    "us-me-bare-lead-jig-sale": (
        Case("US-ME", {"painted": False}, dt.date(2024, 8, 31)),
        Case("US-ME", {"painted": True}, dt.date(2024, 8, 31)),
    ),
    "us-me-lead-jig-use": (
        Case("US-ME", LEAD, dt.date(2026, 9, 1)),
        Case("US-ME", LEAD, dt.date(2026, 8, 31)),
    ),
    "us-ma-lead-jig-use": (Case("US-MA", LEAD), Case("US-MA", {"weight": "1 oz"})),
    "us-vt-lead-sinker": (Case("US-VT", kind("drop sinker")), Case("US-VT", LEAD)),
    "us-ny-lead-sinker": (Case("US-NY", kind("drop sinker")), Case("US-NY", LEAD)),
    "us-wa-lead-jig-use": (
        Case("US-WA", {"pattern": {"length": "1 1/2 in"}}),
        Case("US-WA", {"pattern": {"length": "1 9/16 in"}}),
    ),
    "us-wa-lead-fly-use": (Case("US-WA", kind("weighted fly")), Case("US-WA", LEAD)),
    "us-mn-lead-jig-bills": (Case("US-MN", LEAD), Case("US-MN", FREE)),
    "us-mi-lead": (Case("US-MI", LEAD), Case("US-MI", FREE)),
    "us-va-lead": (Case("US-VA", LEAD), Case("US-VA", FREE)),
    "ca-park-lead-jig-use": (Case("CA", LEAD), Case("CA", {"weight": "50 g"})),
    "ca-two-languages": (Case("CA-QC", LEAD), Case("US", LEAD)),
    "ca-label": (Case("CA-ON", LEAD), Case("US", LEAD)),
    "ca-identity-french": (Case("CA", FRENCH), Case("CA", {"second": ("es", {})})),
    "ca-count-french": (Case("CA", {**FRENCH, "pattern": {"pack": 4}}), Case("CA", FRENCH)),
    "ca-qc-french": (Case("CA-QC", LEAD), Case("CA", LEAD)),
    "gb-product-safety": (Case("GB", FREE), Case("US", FREE)),
    "eu-packaging": (
        Case("SE", LEAD, dt.date(2026, 8, 12)),
        Case("SE", LEAD, dt.date(2026, 8, 11)),
    ),
    "eu-lead-mouthed": (Case("FR", {"lead": "0.05 %"}), Case("FR", {"lead": "0.049 %"})),
    "gb-lead-weight": (Case("GB", LEAD), Case("GB", {"weight": "28.36 g"})),
    "dk-lead-tackle": (Case("DK", {"lead": "0.011 %"}), Case("DK", {"lead": "0.01 %"})),
    "eu-lead-lure-pending": (Case("FR", {"lead": "1 %"}), Case("FR", {"lead": "0.99 %"})),
    "eu-svhc-lead": (Case("DE", {"lead": "0.11 %"}), Case("DE", {"lead": "0.1 %"})),
    "eu-product-safety": (
        Case("SE", LEAD, dt.date(2024, 12, 13)),
        Case("SE", LEAD, dt.date(2024, 12, 12)),
    ),
}

HELD = [rule for _, rule in market_rules.shipped().rules()]


def set_off(jig: Any, rule: str, case: Case) -> bool:
    held = rulings(jig(**case.jig), (case.market,), case.day, market_rules.shipped())
    return any(one.rule.id == rule and one.set_off for one in held)


def cases_of(rule: str) -> tuple[Case, Case | None]:
    assert rule in TABLE, "without cases: give TABLE a jig that sets it off and one that does not"
    return TABLE[rule]


@pytest.mark.parametrize("rule", [rule.id for rule in HELD])
def test_the_rule_is_set_off_by_one_jig_and_not_by_another(jig: Any, rule: str) -> None:
    positive, negative = cases_of(rule)
    assert set_off(jig, rule, positive)
    if negative is not None:
        assert not set_off(jig, rule, negative)


def test_only_what_the_house_says_of_every_pack_has_no_other_case() -> None:
    assert {rule for rule, cases in TABLE.items() if cases[1] is None} == OF_EVERY_PACK


def test_no_case_stands_for_a_rule_that_is_gone() -> None:
    assert set(TABLE) <= {rule.id for rule in HELD}, "ids are never renamed: others cite them"


@pytest.mark.parametrize("rule", [*HELD, *rules.rules().values()], ids=lambda rule: rule.id)
def test_the_rule_names_a_source_and_is_no_surer_than_it_may_be(rule: Any) -> None:
    assert rule.source
    assert rule.about.endswith(".")
    assert (rule.confidence.value == "from memory") == (rule.read is None)
    if rule.confidence.value == "from memory" or rule.doubt:
        assert rule.grade.value != "stop"


BINDING = {
    "gb-product-safety", "ca-label", "ca-two-languages", "ca-qc-french", "eu-product-safety",
    "eu-packaging", "eu-lead-mouthed", "us-children-hook", "us-ca-prop-65-language",
}  # fmt: skip
"""Notes on laws that bind and that no label is held against: where one holds, nothing is free."""

CITED = {
    "us-variety": "16 CFR 500.28(a)",
    "us-linking-phrase": "16 CFR 500.5(a)",
    "us-responsible": "80 FR 71689",
    "us-origin-hook": "19 CFR 134.14",
    "us-claim-made-in-usa": "16 CFR 323.1(a)",
    "us-claim-children": "16 CFR 1200.2",
    "us-count-visible": "American Samoa",
    "us-price-count": "American Samoa",
    "us-refuge-lead": "50 CFR 32.38, 32.39, 32.57 and 32.65, as 88 FR 74050 amends them",
    "gb-product-safety": "SI 2005/1803, reg. 7(4)(a)",
    "ca-label": "C.R.C., c. 417",
    "ca-qc-french": "ss. 51",
    "eu-packaging": "Regulation (EU) 2025/40",
    "eu-lead-mouthed": "entry 63",
    "house-claim-green": "16 CFR 260.4(b)",
    "form-type-height": "16 CFR 500.2(h)",
    "form-trade-fractions": "16 CFR 500.17(a)(1)",
    "form-metric-figures": "16 CFR 500.19(b), which says should",
    "form-units": "16 CFR 500.23(b)",
    "form-clear-above": "American Samoa",
    "form-clear-beside": "American Samoa",
}
"""What a rule's source must name: each was once named wrongly, or not at all."""

GRADES = {
    "us-claim-made-in-usa": "stop", "house-claim-origin": "stop", "house-claim-lead-free": "stop",
    "house-claim-non-toxic": "stop", "house-claim-green": "fix", "house-claim-approved": "fix",
    "us-claim-children": "fix", "house-claim-harmless": "note", "form-metric-figures": "fix",
    "form-fractions": "fix", "form-trade-fractions": "note", "form-decimals": "fix",
    "form-units": "fix", "us-refuge-lead": "note", "us-refuge-thicket": "note",
    "statement-faint": "fix", "statement-squeezed": "fix", "weight-rounded-up": "fix",
}  # fmt: skip
"""A stop for what is false or what the source binds; what says should, or is a house's number, is
to be looked at; what nobody read is a note."""


def test_the_notes_on_binding_laws_are_these() -> None:
    assert {rule.id for rule in HELD if rule.binds} == BINDING


@pytest.mark.parametrize("rule", CITED)
def test_the_source_is_the_law_that_says_so(rule: str) -> None:
    every = {one.id: one for one in (*HELD, *rules.rules().values())}
    assert CITED[rule] in every[rule].source
    assert not [one.id for one in every.values() if "Arkansas" in one.source]


def test_since_2015_an_electronic_directory_serves_too() -> None:
    """16 CFR 500.5(c), as 80 FR 71689 has it."""
    responsible = market_rules.shipped().rule("us-responsible")
    assert "electronic database or web site" in responsible.about


@pytest.mark.parametrize("rule", GRADES)
def test_the_grade_is_what_the_source_bears(rule: str) -> None:
    every = {one.id: one.grade.value for one in (*HELD, *rules.rules().values())}
    assert (every.get(rule) or rulebook.rule(rule).grade.value) == GRADES[rule]


@pytest.mark.parametrize("state", ["IN", "MD", "ME", "PA", "VA"])
def test_refuges_are_told_of_in_the_states_whose_sections_are_amended(jig: Any, state: str) -> None:
    """Indiana 32.33, Maine 32.38, Maryland 32.39, Pennsylvania 32.57, Virginia 32.65."""
    case = Case(f"US-{state}", LEAD, dt.date(2026, 9, 1))
    assert set_off(jig, "us-refuge-lead", case)
    assert not set_off(jig, "us-refuge-lead", Case(case.market, LEAD, dt.date(2026, 8, 31)))


DAYS_OF_READING = {dt.date(2026, 11, 25), dt.date(2026, 11, 28), dt.date(2026, 11, 29)}
"""The days on which the sources of the shipped rules were read."""


def test_what_was_read_was_read_on_the_day_that_is_stated() -> None:
    days = {rule.read for rule in HELD if rule.read is not None}
    assert days == DAYS_OF_READING, "a new day goes there, if the law was read on it"


# ------------------------------------------------------------------------------------- on a page

CARD = (288.0, 432.0)
"""Points, 4 by 6 in."""

TYPE = 14.0
FACES = {False: "BarlowCondensed-Medium", True: "BarlowCondensed-Bold"}
PRICE_LIST = {rule.id for rule in HELD if rule.where == "price list"}
ON_PIECES = [rule for rule in HELD if rule.id not in PRICE_LIST]


REPORTS: dict[tuple[str, ...], Report] = {}


class Card:
    """A card that says what it is told, set by the test itself: no layout, and none of our press.

    Args:
        product: what it is a card of.
        case: where and when it is sold.
    """

    def __init__(self, product: Product, case: Case) -> None:
        self.product, self.case = product, case
        panel = card_panel(Length(CARD[0]), Length(CARD[1]))
        self.statements = needed(product, (case.market,), case.day, panel=panel)

    def said(self, rule: str) -> list[Statement]:
        """Return the statements that a rule asks for."""
        return [one for one in self.statements if rule in one.rules]

    def report(self, without: str = "", words: Sequence[str] = ()) -> Report:
        """Return the checker's report on the card, without a rule's statement, with more words.

        Many rules have the same jig: what was said of the same card once is said again.
        """
        key = (repr(self.case), without, *words)
        if key not in REPORTS:
            REPORTS[key] = self._report(without, words)
        return REPORTS[key]

    def _report(self, without: str, words: Sequence[str]) -> Report:
        left = [one for one in self.statements if without not in one.rules]
        data = self._bound(self._drawn(left, words))
        question = CheckRequest(
            Path("card.pdf"), Path(__file__).parent, self.case.day, (self.case.market,),
            ProductLine.alone(self.product),
        )  # fmt: skip
        report = check_bytes(data, question, None, None, trusted=False)
        assert report.pieces == 1, report.as_text()
        return report

    def _drawn(self, statements: Sequence[Statement], words: Sequence[str]) -> bytes:
        for face in FACES.values():
            if face not in pdfmetrics.getRegisteredFontNames():
                pdfmetrics.registerFont(TTFont(face, str(FONTS / f"{face}.ttf")))
        file = io.BytesIO()
        canvas = Canvas(file, pagesize=CARD)
        head = [(f"{self.product.pattern.name} {self.product.colour.name}", True)]
        texts = [head, *([(text, False)] for text in words)]
        texts += [[(run.text, run.bold) for run in one.full.runs] for one in statements]
        signed = [False] * (1 + len(words)) + [one.full.triangle for one in statements]
        y = CARD[1] - 24.0
        for runs, sign in zip(texts, signed, strict=True):
            y = _set(canvas, runs, sign, y) - 2.5 * TYPE
        canvas.save()
        return file.getvalue()

    def _bound(self, data: bytes) -> bytes:
        """Return the page with the sheet that says which product it claims to be."""
        sheet = {
            "form": 1, "run": {"use": "cards", "day": self.case.day.isoformat(), "catalog": ""},
            "correction": {},
            "pieces": [
                {"sku": self.product.sku, "lot": "", "size": CARD, "markets": [], "holes": []}
            ],
            "pages": [{"numbers": [[1, 1, 1]], "places": [[0, 0, 0, 0, "front", 1]]}],
        }  # fmt: skip
        out = io.BytesIO()
        with pikepdf.open(io.BytesIO(data)) as pdf:
            pdf.attachments["run-sheet.json"] = json.dumps(sheet).encode()
            pdf.save(out)
        return out.getvalue()


def _set(canvas: Any, runs: Sequence[tuple[str, bool]], sign: bool, y: float) -> float:
    """Set runs of text in lines from ``y`` down, a warning's sign before them; return its last."""
    x = left = 18.0
    if sign:
        left = x = 36.0
        path = canvas.beginPath()
        path.moveTo(18, y)
        path.lineTo(32, y)
        path.lineTo(25, y + 12.2)
        path.close()
        canvas.drawPath(path, stroke=1, fill=0)
        canvas.setFont(FACES[True], 9)
        canvas.drawString(24, y + 1.5, "!")
    for text, bold in runs:
        plain = unicodedata.normalize("NFKC", text).replace("\N{FRACTION SLASH}", "/")
        for word in re.findall(r"\s*\S+\s*", plain):
            wide = pdfmetrics.stringWidth(word, FACES[bold], TYPE)
            if x + wide > CARD[0] - 12:
                x, y = left, y - TYPE * 1.1
            canvas.setFont(FACES[bold], TYPE)
            canvas.drawString(x, y, word)
            x += wide
    return y


def named(report: Report, rules: Iterable[str]) -> bool:
    """Tell whether any finding is by one of the rules, or of a statement that they ask for."""
    return any(
        each.rule == rule or each.source.startswith(f"{rule}: ")
        for each in report.findings
        for rule in rules
    )


def spoken(rule: Rule, text: str) -> list[str]:
    """Return a line in which the words of a claim stand, beside the weight if they must."""
    for name, listed in rules.word_lists().items():
        text = text.replace(f"{{{name}}}", listed[0])
    words = text.replace("*", "the").title()
    return [f"{words} 3/8 oz" if rule.near == "quantity" else words]


@pytest.mark.daily(
    "house-claim-origin", "house-contains-lead", "house-identity", "house-lead-free",
    "house-maker", "house-variety", "house-variety-weight", "us-ca-prop-65",
    "us-claim-made-in-usa", "us-claim-quantity-puffed", "us-identity-visible",
    "us-nh-lead-jig-sale", "us-nh-lead-jig-use", "us-responsible", "us-variety", "eu-svhc-lead",
)  # fmt: skip
@pytest.mark.parametrize("rule", ON_PIECES, ids=lambda rule: rule.id)
def test_the_rule_has_a_page_that_passes_and_a_page_that_fails(jig: Any, rule: Rule) -> None:
    positive, negative = cases_of(rule.id)
    card = Card(jig(**positive.jig), positive)
    other = Card(jig(**negative.jig), negative) if negative else None
    if rule.effect is Effect.CLAIM:
        words = spoken(rule, rule.words[0])
        assert named(card.report(words=words), [rule.id])
        assert not named(other.report(words=words) if other else card.report(), [rule.id])
    elif rule.effect is Effect.WAIVES:
        assert other is not None
        asked = [waived for waived in rule.waives if other.said(waived)]
        assert asked
        for waived in asked:
            assert not named(card.report(without=waived), [waived])
            assert named(other.report(without=waived), [waived])
    elif said := card.said(rule.id):
        assert not named(card.report(), said[0].rules)
        optional = said[0].duty == "optional"
        assert named(card.report(without=rule.id), said[0].rules) is not optional
    else:
        assert other is not None
        assert named(card.report(), [rule.id])
        assert not named(other.report(), [rule.id])


def test_what_stands_in_price_lists_only_is_held_by_the_tests_of_books() -> None:
    assert {"us-price-count", "us-excise"} == PRICE_LIST
