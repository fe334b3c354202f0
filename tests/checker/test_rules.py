"""Every rule has a source, a function that looks for it, and a page that breaks it."""

from __future__ import annotations

import ast
import datetime as dt
import itertools
import re
from pathlib import Path

import pytest

import labeler.checker.judge  # noqa: F401  (which brings in every function that looks for a rule)
from labeler.catalog.read import read_catalog
from labeler.checker import rulebook
from labeler.checker.claims import PieceClaim
from labeler.checker.subject import CheckedProduct, when_missing
from labeler.disclosures import market_rules
from labeler.findings import Grade, LabelerError

RULES = rulebook.rules()
HERE = Path(__file__).parent

ROW = """
[[rule]]
id = "test-rule"
about = "It asks something."
says = "it is broken"
grade = "stop"
source = "16 CFR 500.20"
standing = "read"
seen = "somewhere"
read = 2026-11-25
"""


def load(tmp_path: Path, text: str) -> dict[str, rulebook.CheckRule]:
    file = tmp_path / "rules.toml"
    file.write_text(text, "utf-8")
    return rulebook.load(file)


def test_a_whole_row_loads(tmp_path: Path) -> None:
    assert load(tmp_path, ROW)["test-rule"].grade is Grade.STOP


@pytest.mark.parametrize(
    ("old", "new", "why"),
    [
        ('source = "16 CFR 500.20"\n', "", "source"),
        ('source = "16 CFR 500.20"\n', 'source = ""\n', "source"),
        ('seen = "somewhere"\n', "", "where and when it was read"),
        ("read = 2026-11-25\n", "", "where and when it was read"),
        ('standing = "read"\nseen = "somewhere"\nread = 2026-11-25\n',
         'standing = "from memory"\n', "never stop"),
        ('id = "test-rule"', 'id = "Test Rule"', "id"),
        ('says = "it is broken"\n', "", "says"),
    ],
)  # fmt: skip
def test_a_rule_without_its_source_does_not_load(
    old: str, new: str, why: str, tmp_path: Path
) -> None:
    assert old in ROW
    with pytest.raises(LabelerError) as caught:
        load(tmp_path, ROW.replace(old, new))
    said = " ".join(map(str, caught.value.findings))
    assert why in said


def test_the_same_id_twice_does_not_load(tmp_path: Path) -> None:
    with pytest.raises(LabelerError, match="taken"):
        load(tmp_path, ROW + ROW)


def test_a_function_can_not_look_for_a_rule_that_has_no_row() -> None:
    with pytest.raises(KeyError):
        rulebook.asks("no-such-rule")(lambda: None)


def looked_for() -> set[str]:
    """Return the rules that functions of the checker say they look for, from its sources."""
    calls = (
        node
        for file in Path(rulebook.__file__).parent.rglob("*.py")
        for node in ast.walk(ast.parse(file.read_text("utf-8")))
        if isinstance(node, ast.Call) and ast.unparse(node.func) == "asks"
    )
    return {str(ast.literal_eval(argument)) for call in calls for argument in call.args}


def test_every_rule_is_looked_for() -> None:
    assert looked_for() == set(RULES), "no function says that it asks for these rules"


@pytest.mark.parametrize("rule_id", list(RULES))
def test_every_rule_is_broken_by_some_page_in_these_tests(rule_id: str) -> None:
    """The rule's id stands in the table of a test that holds that it is found."""
    tables = [*HERE.glob("test_bad_input.py"), *HERE.glob("faults/**/test_*.py")]
    assert any(f'"{rule_id}"' in file.read_text("utf-8") for file in tables)


@pytest.mark.parametrize("rule", RULES.values(), ids=list(RULES))
def test_what_stands_on_memory_never_stops(rule: rulebook.CheckRule) -> None:
    assert rule.source
    assert rule.standing != "from memory" or rule.grade is not Grade.STOP


def test_a_finding_carries_its_rules_source_and_standing() -> None:
    from labeler.findings import Place

    said = rulebook.finding("quantity-narrow", Place())
    assert said.source == "16 CFR 500.21(e) (read)"
    assert said.grade is Grade.STOP


@pytest.mark.parametrize("market", sorted(market_rules.shipped().files))
def test_a_lead_statement_that_is_missing_stops_in_every_market(market: str) -> None:
    """Of a bench of two and of one of fourteen, who have to warn; on labels and on cards."""
    catalog = read_catalog(Path(__file__).parents[2] / "demo_catalog")
    lead = next(each for each in catalog.products if each.sku == "RM-38-40-SBR")
    asked = 0
    for staff, use in itertools.product((2, 14), ("bags", "cards")):
        maker = lead.maker.model_copy(update={"employees": staff})
        product = lead.model_copy(update={"maker": maker})
        claim = PieceClaim(1, product.sku, "", (market,), 216.0, 396.0, 0.0, ())
        subject = CheckedProduct(product, claim, (market,), dt.date(2026, 11, 28), use)
        for said in subject.required:
            if re.search(r"\blead\b", said.full.plain, re.IGNORECASE):
                asked += 1
                assert when_missing(said) is Grade.STOP, (said.id, said.full.plain)
    assert asked >= 4
