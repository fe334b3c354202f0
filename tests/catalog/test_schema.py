"""The schema that ships: up to date, sound, and of one mind with the reader."""

from __future__ import annotations

import json
import tomllib
from pathlib import Path
from typing import Any

import jsonschema
import pytest

from labeler.catalog.structure import SHIPPED, catalog_schema, schema_text

ROOT = Path(__file__).resolve().parents[2]
Bench = Any


def test_the_shipped_schema_is_the_one_that_the_records_give() -> None:
    assert SHIPPED.read_text(encoding="utf-8") == schema_text(), (
        "run: python -m labeler.catalog.schema"
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
