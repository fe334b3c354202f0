"""The schema that ships: up to date, sound, and of one mind with the reader."""

from __future__ import annotations

import json
import tomllib
from pathlib import Path
from typing import Any

import jsonschema
import pytest

from labeler.catalog.structure import SHIPPED, catalog_schema, reference, schema_text

ROOT = Path(__file__).resolve().parents[2]
Bench = Any


def test_the_shipped_schema_is_the_one_that_the_records_give() -> None:
    assert SHIPPED.read_text(encoding="utf-8") == schema_text(), (
        "run: python -m labeler.catalog.structure"
    )


def test_it_is_a_sound_schema_and_speaks_of_no_null() -> None:
    # JSON Schema 2020-12, by the jsonschema library; TOML v1.0.0 has no null.
    jsonschema.Draft202012Validator.check_schema(catalog_schema())
    assert "null" not in json.dumps(catalog_schema())


@pytest.mark.parametrize("folder", ["demo_catalog", "layouts/starter"])
def test_it_passes_the_catalogs_that_ship(folder: str) -> None:
    data = tomllib.loads((ROOT / folder / "catalog.toml").read_text(encoding="utf-8"))
    jsonschema.Draft202012Validator(catalog_schema()).validate(data)


@pytest.mark.parametrize(
    ("old", "new"),
    [
        ('"3/8 oz", "1/2 oz"', '"3/8", "1/2 oz"'),
        ('"3/8 oz", "1/2 oz"', "0.375"),
        ('["4/0"]', '["0/4"]'),
        ('["4/0"]', "[4]"),
        ('price = "4.75"', "price = 4.75"),
        ('price = "4.75"', 'prise = "4.75"'),
        ('style = "swim"', 'style = "swimm"'),
        ("strands = 22", "strands = 0"),
        ('city = "Low Ferry"\n', ""),
        ('"9521234"', '"95 21"'),
        ("#5b5a2b", "5b5a2b"),
        ('"97 %"', "97"),
        ('["US", "US-CA"]', '["usa"]'),
        ('code = "RV"', 'code = "R/V"'),
    ],
)
def test_it_refuses_what_the_reader_refuses(bench: Bench, old: str, new: str) -> None:
    validator = jsonschema.Draft202012Validator(catalog_schema())
    assert validator.is_valid(tomllib.loads(bench.text))
    bench.change(old, new)
    assert not validator.is_valid(tomllib.loads(bench.text))
    assert any(f.rule in ("wrong-value", "unknown-key", "missing-key") for f in bench.findings())


EXAMPLE = SHIPPED.with_name("example.toml").read_text(encoding="utf-8")


def test_the_example_of_every_key_is_a_catalog_that_reads(bench: Bench) -> None:
    """What the reference shows may be typed as it stands."""
    bench.write("catalog.toml", EXAMPLE.replace("../Jigs 2027.xlsx", "Jigs 2027.xlsx"))
    bench.workbook(
        ["Jigs that we make"],
        ["", "prices in US dollars"],
        ["Jig", "Color", "Hk", "Retail", "half", "Parcel g"],
        ["SLOUGH HOPPER"],
        ["", "Muskrat, Melon Craw", "see list", "", 5.25, 40],
        name="Jigs 2027.xlsx",
    )
    bench.write("photos/river-vesper.jpg", b"a photo, by its name")
    bench.write("photos/logo.svg", b"a logo, by its name")
    catalog = bench.read()
    assert [one.sku for one in catalog.products[3:]] == ["SH-12-40-MSK", "SH-12-40-MLN", "TRIO-1"]
    jsonschema.Draft202012Validator(catalog_schema()).validate(
        json.loads(json.dumps(tomllib.loads(EXAMPLE), default=str))
    )


def test_the_reference_tells_every_key_with_its_use_and_an_example() -> None:
    lines = reference()
    text = "\n".join(lines)
    records = [catalog_schema(), *catalog_schema()["$defs"].values()]
    keys = [
        (key, node)
        for record in records[1:]
        for key, node in record["properties"].items()
        if "$ref" not in node
        and "$ref" not in node.get("items", {})
        and key not in ("color", "colors")
    ]
    told = [line for line in lines if line.startswith("  ") and not line.startswith("    ")]
    assert len(told) == len(keys) > 100
    for key, node in keys:
        assert f"\n  {key}: " in text
        assert f"\n    {key} = " in text
        assert f"\n    {node['description']}\n" in text
    for table in records[0]["properties"].keys() - {"colors"}:
        assert f"[{table}]" in text or f"[{table}.NAME]" in text
    assert "[[colours.NAME.layers]]" in text
    assert "[patterns.NAME.tie]" in text


def test_the_reference_says_what_kind_of_value_each_key_takes() -> None:
    text = "\n".join(reference())
    assert "  gs1_prefix: text in quotes; may be left out." in text
    assert "  weights: a list, each text in quotes; needed." in text
    assert "  pack: a whole number from 1 to 1000; may be left out, and is 1 then." in text
    assert "  style: one of round, football," in text
    assert '    prices = { "1/2 oz" = "5.25" }' in text
