"""Whatever lies in the folder: a catalog, or findings that say where. Never an exception."""

from __future__ import annotations

import tomllib
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from labeler.catalog.model import Catalog, Product
from labeler.catalog.read import examine
from labeler.catalog.spreadsheet.cells import PRODUCT_COLUMNS
from labeler.findings import Finding, Grade

Bench = Any

in_one_folder = settings(suppress_health_check=[HealthCheck.function_scoped_fixture])


def judge(folder: Path) -> Catalog | None:
    """Read the folder; a catalog comes without a stop, findings have their place."""
    catalog, findings = examine(folder)
    assert (catalog is None) == any(f.grade is Grade.STOP for f in findings)
    for finding in findings:
        assert finding.place.file
        assert finding.message
        assert str(finding).isprintable() or "\n" in str(finding)
        assert_safe(finding)
    if catalog is not None:
        for product in catalog.products[:3]:
            assert Product.model_validate_json(product.model_dump_json()) == product
    return catalog


def assert_safe(finding: Finding) -> None:
    """No finding carries what a terminal would obey."""
    assert not set(str(finding)) & {chr(code) for code in (*range(10), *range(11, 32), 127)}


@in_one_folder
@given(content=st.one_of(st.text(), st.binary()))
def test_any_text_or_bytes_as_catalog(bench: Bench, content: str | bytes) -> None:
    bench.write("catalog.toml", content.encode("utf-8", "surrogatepass")
                if isinstance(content, str) else content)  # fmt: skip
    judge(bench.folder)


@in_one_folder
@given(data=st.data())
def test_the_small_catalog_with_pieces_cut_out_and_put_in(
    bench: Bench, data: st.DataObject
) -> None:
    text = bench.text
    for _ in range(data.draw(st.integers(1, 4))):
        begin = data.draw(st.integers(0, len(text)))
        end = min(len(text), begin + data.draw(st.integers(0, 30)))
        piece = data.draw(
            st.one_of(
                st.text(max_size=6),
                st.sampled_from(
                    [
                        '"',
                        "[",
                        "]",
                        "{",
                        "=",
                        "\n",
                        '"""',
                        "nan",
                        "[[x]]\n",
                        "a.b.c = 1\n",
                        "'",
                        "\\",
                    ]
                ),
            )
        )
        text = text[:begin] + piece + text[end:]
    bench.write("catalog.toml", text.encode("utf-8", "replace"))
    judge(bench.folder)


VALUES = st.recursive(
    st.one_of(
        st.integers(), st.floats(), st.booleans(), st.text(max_size=8),
        st.sampled_from(["3/8 oz", "lead", "melon", "4/0", "4.75", "58 %", "US", "#112233", "RV"]),
    ),
    lambda inner: st.one_of(
        st.lists(inner, max_size=3), st.dictionaries(st.text(max_size=6), inner, max_size=3)
    ),
    max_leaves=6,
)  # fmt: skip


def spots(node: Any, path: tuple[str | int, ...] = ()) -> Iterator[tuple[str | int, ...]]:
    yield path
    items = node.items() if isinstance(node, dict) else enumerate(node)
    if isinstance(node, dict | list):
        for key, value in items:
            yield from (
                spots(value, (*path, key))
                if isinstance(value, dict | list)
                else iter([(*path, key)])
            )


def toml_value(value: Any) -> str:
    """Write a value as TOML, inline."""
    if isinstance(value, bool):
        return str(value).lower()
    if isinstance(value, int | float):
        return repr(value)
    if isinstance(value, str):
        return '"' + "".join(f"\\U{ord(c):08x}" for c in value) + '"'
    if isinstance(value, list):
        return "[" + ", ".join(map(toml_value, value)) + "]"
    pairs = (f"{toml_value(key)} = {toml_value(one)}" for key, one in value.items())
    return "{" + ", ".join(pairs) + "}"


@in_one_folder
@given(data=st.data())
def test_any_value_in_any_place_of_sound_toml(bench: Bench, data: st.DataObject) -> None:
    whole = tomllib.loads(bench.text)
    for _ in range(data.draw(st.integers(1, 3))):
        path = data.draw(st.sampled_from([p for p in spots(whole) if p]))
        node: Any = whole
        for key in path[:-1]:
            node = node[key]
        node[path[-1]] = data.draw(VALUES)
    text = "\n".join(f"{toml_value(key)} = {toml_value(value)}" for key, value in whole.items())
    assert tomllib.loads(text)
    bench.write("catalog.toml", text)
    judge(bench.folder)


HEADINGS = [column.name for column in PRODUCT_COLUMNS]
CELLS = st.one_of(
    st.text(max_size=10),
    st.sampled_from(
        ["RV-38-40-MLN", "rv", "3/8", "10,6 g", "3-Aug", "4/0", "melon", "4.75", "x", "9.5E+12",
         "9521234543213", "#REF!", '"', '""', "\n", ";", "US", "46089", "Dusk", "1e9", "٣/٨"]
    ),
)  # fmt: skip


@in_one_folder
@given(content=st.binary(max_size=400))
def test_any_bytes_as_products_and_record(bench: Bench, content: bytes) -> None:
    bench.write("products.csv", content)
    bench.write("gtins.csv", content)
    bench.write("products.xlsx", content)
    judge(bench.folder)


@in_one_folder
@given(
    rows=st.lists(st.lists(CELLS, max_size=8), max_size=6),
    heads=st.lists(st.sampled_from(HEADINGS), min_size=1, max_size=8),
    between=st.sampled_from([",", ";", "\t"]),
    encoding=st.sampled_from(["utf-8", "utf-16", "cp1252"]),
)
def test_any_cells_under_any_headings(
    bench: Bench, rows: list[list[str]], heads: list[str], between: str, encoding: str
) -> None:
    lines = [between.join(row) for row in (["sku", *heads], *rows)]
    bench.write("products.csv", "\n".join(lines).encode(encoding, "replace"))
    judge(bench.folder)


@pytest.mark.siege
@pytest.mark.parametrize("part", ["xl/workbook.xml", "xl/worksheets/sheet1.xml", "xl/styles.xml"])
@in_one_folder
@given(data=st.data())
def test_a_workbook_with_damaged_parts(bench: Bench, part: str, data: st.DataObject) -> None:
    import io
    import zipfile

    bench.workbook(["sku", "price", "note"], ["RV-38-40-MLN", 4.5, "x"])
    raw = (bench.folder / "products.xlsx").read_bytes()
    out = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(raw)) as source, zipfile.ZipFile(out, "w") as target:
        for name in source.namelist():
            content = source.read(name)
            if name == part:
                at = data.draw(st.integers(0, len(content)))
                content = content[:at] + data.draw(st.binary(max_size=5)) + content[at + 3 :]
            target.writestr(name, content)
    bench.write("products.xlsx", out.getvalue())
    judge(bench.folder)
