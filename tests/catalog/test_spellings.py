"""British or American: a key or word is taken in either spelling, and told of as it was written."""

from __future__ import annotations

import json
import re
import tomllib
from typing import Any

import pytest

from labeler.catalog.structure import SHIPPED, catalog_schema, reference

Bench = Any

AMERICAN = {"colours": "colors", "fibre": "fiber"}


def americanized(text: str) -> str:
    return re.sub("colours|fibre", lambda word: AMERICAN[word[0]], text)


def test_a_catalog_in_american_spelling_is_the_same_catalog(bench: Bench) -> None:
    bench.append('\n[guards.brush]\nname = "Brush"\nstyle = "fibre"\n')
    british = bench.read()
    text = bench.text
    assert "colours" in text
    assert '"fibre"' in text
    bench.write("catalog.toml", americanized(text))
    american = bench.read()
    assert american.products == british.products
    assert american.file == british.file


def test_a_fault_names_the_key_as_it_was_written(bench: Bench) -> None:
    text = americanized(bench.text).replace("strands = 22", "strands = 0", 1)
    bench.write("catalog.toml", text)
    (fault,) = [each for each in bench.findings() if each.place.key.endswith("strands")]
    assert fault.place.key == "colors.melon.layers[0].strands"
    assert text.split("\n")[fault.place.line - 1].count("strands = 0") == 1


@pytest.mark.parametrize(
    ("old", "new", "key"),
    [
        ("[colours.melon]", '[colors.reed]\ncode = "D"\n\n[colours.melon]', "colors"),
        ("hook_sizes = [", 'colors = ["melon"]\nhook_sizes = [', "patterns.river-vesper.colors"),
    ],
)  # fmt: skip
def test_both_spellings_at_once_are_told(bench: Bench, old: str, new: str, key: str) -> None:
    bench.change(old, new)
    fault = bench.finding("key-two-spellings")
    assert fault.place.key == key
    assert fault.message == "colors and colours are one key, and both are given here"


def test_no_key_or_word_of_a_catalog_is_taken_in_one_spelling_only() -> None:
    """Whoever adds one with another spelling is told here."""
    twins = {"colour": "color", "fibre": "fiber", "grey": "gray", "mould": "mold",
             "centre": "center", "aluminium": "aluminum", "licence": "license"}  # fmt: skip
    found = set()

    def look(node: Any) -> None:
        if isinstance(node, list):
            for one in node:
                look(one)
        elif isinstance(node, dict):
            for names in (list(node.get("properties", ())), node.get("enum", [])):
                for name in filter(lambda each: isinstance(each, str), names):
                    for ours, theirs in twins.items():
                        if ours in name:
                            found.add(name)
                            assert name.replace(ours, theirs) in names
            for value in node.values():
                look(value)

    look(catalog_schema())
    assert found == {"colours", "colour", "fibre", "guard fibre"}
    assert json.loads(SHIPPED.read_text("utf-8")) == catalog_schema()
    assert not any("[colors" in line for line in reference()), "listed once"


def test_the_schema_asks_for_one_of_the_two(bench: Bench) -> None:
    pattern = catalog_schema()["$defs"]["Pattern"]
    assert {"required": ["colors"]} in pattern["oneOf"]
    assert "colours" not in pattern["required"]
    assert "colours" in tomllib.loads(bench.text)
