"""check tells before anything is printed which of the maker's own words would stop the print.

Every kind of claim in every field of the catalog that is printed anywhere, and then the other way
round: what a book, a card and a label say of such words, check had said before.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from labeler.disclosures import market_rules

DEMO = Path(__file__).resolve().parents[3] / "demo_catalog"

CLAIMS = {
    "house-claim-lead-free": "Pb-free",
    "house-claim-non-toxic": "Poison-free",
    "house-claim-harmless": "Harmless",
    "house-claim-green": "Biodegradable",
    "house-claim-approved": "FDA approved",
    "house-claim-origin": "Made in China",
    "house-claim-net-weight": "Net Wt",
    "us-claim-made-in-usa": "Made in USA",
    "us-claim-children": "Ages 3+",
}
"""Words for each rule that bars any; of a lead jig on a Japanese hook."""

FIELDS = [
    "maker.name", "maker.street", "maker.city", "patterns.reedmace.name",
    "patterns.reedmace.kind", "patterns.reedmace.story", "patterns.reedmace.care",
    "patterns.reedmace.tie.trim", "colours.sunday-bream.name", "colours.sunday-bream.note",
    "colours.sunday-bream.layers.shade", "colours.sunday-bream.head_paint", "heads.reed.name",
    "hooks.swim.name", "hooks.swim.finish", "guards.light.name", "materials.lead.name",
    "materials.silicone.name", "tiers.dealer.name", "dealers.odd-pail.name", "terms.lead_time",
    "terms.freight", "terms.payment", "terms.returns", "terms.notes",
]  # fmt: skip


def with_words(text: str, field: str, words: str) -> str:
    """Return the catalog with words in a field, instead of or beside what stands in it."""
    *tables, key = field.split(".")
    inner = tables.pop() if tables[-1] in ("tie", "layers") else ""
    head, begin, rest = text.partition(f"[{'.'.join(tables)}]\n")
    assert begin, field
    end = re.search(r"^\[[\w.-]+\]$", rest, re.MULTILINE)
    block, after = (rest[: end.start()], rest[end.start() :]) if end else (rest, "")
    if inner:
        there = re.compile(rf'({inner} = .*?{key} = )"[^"]*"', re.DOTALL)
        new, count = there.subn(rf'\1"{words}"', block, count=1)
        assert count == 1, field
        return head + begin + new + after
    block = re.sub(rf'^{key} = (?:""".*?"""|"[^"\n]*")\n', "", block, count=1, flags=re.S | re.M)
    return head + begin + f'{key} = "{words}"\n' + block + after


def keyed(field: str) -> str:
    """Return the key by which a finding names a field: what is within an entry by its table."""
    return field.removesuffix(".trim").removesuffix(".shade")


@pytest.fixture
def saying(tmp_path: Path) -> Callable[..., Path]:
    """Return a function that writes the demo with words in fields of it."""

    def say(words: dict[str, str]) -> Path:
        text = (DEMO / "catalog.toml").read_text("utf-8")
        for field, said in words.items():
            text = with_words(text, field, said)
        folder = tmp_path / "line"
        folder.mkdir(exist_ok=True)
        (folder / "catalog.toml").write_text(text, "utf-8")
        return folder

    return say


def test_every_rule_on_claims_has_words_here() -> None:
    barring = [rule for _, rule in market_rules.shipped().rules() if rule.words]
    assert set(CLAIMS) == {rule.id for rule in barring if rule.near == "anywhere"}


@pytest.mark.parametrize("alone", ["maker.name", "colours.sunday-bream.layers.shade", ""])
def test_every_claim_is_told_in_every_field(
    alone: str, saying: Callable[..., Path], run_cli: Any
) -> None:
    fields = [alone] if alone else FIELDS
    words = {field: f"{n}. {'. '.join(CLAIMS.values())}" for n, field in enumerate(fields)}
    folder = saying(words)
    report = run_cli(folder, "check", status=1)
    told = [(one["rule"], one["place"]) for one in report["findings"] if one["rule"] in CLAIMS]
    keys = {(rule, place["key"]) for rule, place in told}
    assert len(keys) == len(told) == len(CLAIMS) * len(fields)
    for field in fields:
        assert {rule for rule, key in keys if key == keyed(field)} == set(CLAIMS), field
    lines = (folder / "catalog.toml").read_text("utf-8").splitlines()
    for _, place in told:
        assert place["file"] == "catalog.toml"
        assert "Pb-free" in "".join(lines[place["line"] - 1 : place["line"] + 6])


def test_a_claim_in_the_spreadsheet_is_told_too(saying: Callable[..., Path], run_cli: Any) -> None:
    folder = saying({})
    (folder / "products.csv").write_text('SKU,Note\nRM-14-30-SBR,"Pb-free. Made in USA"\n', "utf-8")
    told = {
        one["rule"]: one["place"]
        for one in run_cli(folder, "check", status=1)["findings"]
        if one["rule"] in CLAIMS
    }
    assert set(told) == {"house-claim-lead-free", "us-claim-made-in-usa"}
    assert {place["piece"] for place in told.values()} == {"RM-14-30-SBR"}


@pytest.mark.parametrize(
    ("market", "told"), [("GB", False), ("DE", False), ("US", True), ("US-WI", True)]
)
def test_a_claim_is_told_where_its_rule_holds(
    market: str, told: bool, saying: Callable[..., Path], run_cli: Any
) -> None:
    """16 CFR 323 and 1200 are the United States' own; false of lead is false anywhere."""
    folder = saying({"patterns.reedmace.story": "Made in USA. Ages 3+. Pb-free."})
    file = folder / "catalog.toml"
    file.write_text(re.sub(r"markets = \[.*\]", f'markets = ["{market}"]', file.read_text("utf-8"),
                           count=1), "utf-8")  # fmt: skip
    rules = {one["rule"] for one in run_cli(folder, "check", status=1)["findings"]}
    assert "house-claim-lead-free" in rules
    assert ("us-claim-made-in-usa" in rules) is told
    assert ("us-claim-children" in rules) is told


WORDS = [
    "Pb-free", "Lead-free", "No lead", "Unleaded", "Leadless", "Zero lead", "Without lead",
    "Contains no lead", "No Pb", "Free of lead", "Free from lead", "Has no lead", "Lead substitute",
    "Lead alternative", "Lead replacement", "Never any lead", "Non-lead", "Not any lead",
    "Does not contain lead", "Instead of lead", "Made without lead", "Rather than lead",
    "No added lead", "Sans plomb", "Bleifrei",
]  # fmt: skip


@pytest.mark.siege
def test_what_the_checker_says_of_a_print_check_had_said_of_the_catalog(
    saying: Callable[..., Path], run_cli: Any, tmp_path: Path
) -> None:
    """Each field with words of its own, a dealer's book and a label of it: nothing new is found."""
    folder = saying(dict(zip(FIELDS, WORDS, strict=True)))

    def quoted(findings: list[dict[str, Any]]) -> set[str]:
        claims = [one for one in findings if one["rule"] == "house-claim-lead-free"]
        return {one["message"].partition(" may not")[0].replace("\\n", " ") for one in claims}

    told = quoted(run_cli(folder, "check", status=1)["findings"])
    assert len(told) == len(FIELDS)
    asked = {
        "book.pdf": ["catalog", "--for", "dealer", "--only", "RM-*"],
        "card.pdf": ["cards", "--sku", "RM-14-30-SBR", "--trial"],
    }
    found = set()
    for name, words in asked.items():
        out = str(tmp_path / name)
        run_cli(folder, *words, "--even-so", "--out", out)
        found |= quoted(run_cli(folder, "check", out, status=1)["findings"])
    assert found <= told
    assert len(found) > 12


LAYOUT = """<piece name="own" safe="1/16 in">
  <front>
    <text style="name" most="16pt" least="8pt" lines="2">{{ product.name }}, {{ product.weight_oz }}
      and {{ product.price }}</text>
    {% if not product.has_lead %}<text style="note" most="8pt" least="6pt">Pb-free</text>{% endif %}
    <text style="note" most="8pt" least="6pt" lines="3">WORDS</text>
  </front>
</piece>
"""


@pytest.mark.parametrize(
    ("words", "rules"),
    [
        ("Pb-free <span>jig</span>", {"house-claim-lead-free"}),
        ("Safe for <span>ducks</span>!", {"house-claim-green", "house-claim-non-toxic"}),
        ("Made in the {{ 'U.S.A.' }}", {"us-claim-made-in-usa"}),
        ("Made in China", {"house-claim-origin"}),
        ("Half ounce, $1.05", {"weight-wrong", "price-wrong"}),
        ("Rinse and dry. Tied on 10 lb test, {{ product.weight_g }}. Keep away from kids.", set()),
    ],
)
def test_words_of_the_makers_own_layouts_are_told_before_anything_is_printed(
    words: str, rules: set[str], saying: Callable[..., Path], run_cli: Any
) -> None:
    folder = saying({})
    (folder / "layouts").mkdir()
    (folder / "layouts" / "own.xml.jinja").write_text(LAYOUT.replace("WORDS", words), "utf-8")
    barred = rules - {"house-claim-lead-free", "house-claim-green", "weight-wrong"}
    report = run_cli(folder, "check", status=1 if barred else 0)
    told = [one for one in report["findings"] if one["place"].get("file", "").startswith("layouts")]
    assert {one["rule"] for one in told} == rules
    assert {(one["place"]["file"], one["place"]["line"]) for one in told} <= {
        ("layouts/own.xml.jinja", 6)
    }
    stops = {one["rule"] for one in told if one["grade"] == "stop"}
    assert stops == barred, "what is true of no product stops, the rest is to be looked at"
