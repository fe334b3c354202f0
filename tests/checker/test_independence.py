"""The checker shares no code with what it checks, and so catches its mistakes."""

from __future__ import annotations

import ast
import datetime as dt
import subprocess
import sys
from collections.abc import Callable, Mapping
from pathlib import Path
from typing import Any

import pytest

from labeler.catalog.model import Product
from labeler.catalog.read import read_catalog
from labeler.checker.claims import PieceClaim
from labeler.checker.judge import check_pdf
from labeler.checker.rules import words
from labeler.checker.subject import CheckedProduct
from labeler.layout.facts import facts_of, statement_facts
from labeler.layout.index import LayoutSpec, read_index

ROOMS = Path(__file__).parents[2] / "labeler"
DEMO = ROOMS.parent / "demo_catalog"

MAY_IMPORT = {
    "checker": {
        "units",
        "findings",
        "files",
        "tomlfile",
        "geometry",
        "vector",
        "catalog",
        "codes",
        "disclosures",
        "type",
    },
    "disclosures": {"units", "findings", "files", "tomlfile", "catalog"},
}
"""The rooms above each in the floor plan."""


def imported(file: Path) -> set[str]:
    """Return the rooms that a module imports."""
    rooms = set()
    for node in ast.walk(ast.parse(file.read_text("utf-8"))):
        names: list[str] = []
        if isinstance(node, ast.ImportFrom):
            names = [f"{node.module}.{alias.name}" for alias in node.names]
        elif isinstance(node, ast.Import):
            names = [alias.name for alias in node.names]
        rooms |= {name.split(".")[1] for name in names if name.startswith("labeler.")}
    return rooms


@pytest.mark.parametrize("room", list(MAY_IMPORT))
def test_a_room_imports_only_from_rooms_above_it(room: str) -> None:
    files = list((ROOMS / room).rglob("*.py"))
    assert len(files) > 5
    for file in files:
        strange = imported(file) - MAY_IMPORT[room] - {room}
        assert not strange, f"{file.name} imports {strange}"


def asked_of(layout: str, product: Product, width: float, height: float) -> CheckedProduct:
    """Return a piece that says which layout it was made by. Sizes in points."""
    markets = product.markets
    claim = PieceClaim(1, product.sku, "", markets, width, height, 0.0, (), layout)
    return CheckedProduct(product, claim, markets, dt.date(2026, 11, 25), "bags")


def keys_of(facts: Any) -> Any:
    """Return the names of facts, of facts within facts too; of several alike, of the first."""
    if isinstance(facts, Mapping):
        return {name: keys_of(fact) for name, fact in facts.items()}
    return [keys_of(fact) for fact in facts[:1]] if isinstance(facts, list | tuple) else None


def test_the_checker_knows_of_every_fact_that_a_layout_may_ask_of() -> None:
    """A fact that it does not know makes a layout account for nothing, and nobody is told."""
    for product in read_catalog(DEMO).products:
        theirs = dict(facts_of(product, lot="", link="", width=180, height=72, black=False))
        theirs["says"] = statement_facts(())
        ours = words._facts(asked_of("bag-strip", product, 180, 72), False)
        assert keys_of(ours) == keys_of(theirs)
        assert ours["product"]["opaque"] == theirs["product"]["opaque"]


@pytest.mark.parametrize(
    "layout", [spec for spec in read_index().values() if not spec.packs], ids=lambda spec: spec.name
)
def test_the_checker_can_fill_in_every_layout_of_labels_and_cards(layout: LayoutSpec) -> None:
    template = words.layouts(None).template(layout.name)
    assert template
    for product in read_catalog(DEMO).products[::11]:
        for size in (layout.least, layout.most):
            for black in (False, True):
                facts = words._facts(asked_of(layout.name, product, *size), black)
                assert words._filled_in(template, facts), product.sku


@pytest.mark.siege
def test_checking_loads_nothing_that_lays_out_or_prints() -> None:
    code = (
        "import sys, labeler.checker.judge, labeler.checker.proof, labeler.checker.worker\n"
        "print([m for m in sys.modules if m.startswith('labeler.')"
        " and m.split('.')[1] in ('drawing', 'layout', 'press', 'ledger', 'book', 'app', 'cli')])"
    )
    said = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert said.stdout.strip() == "[]"


@pytest.fixture
def printed_with(workshop: Any, bases: dict[str, Any], tmp_path: Path) -> Callable[[str], Any]:
    """Print a good file anew, and check it; for use with a layout that was made to err."""

    def run(base: str) -> Any:
        folder = bases[base].folder
        wrong = workshop.printed(folder, tmp_path / "erred.pdf", **workshop.wishes[base])
        report = check_pdf(wrong.pdf, folder, day=workshop.day)
        return {each.rule for each in report.findings if each.grade.value != "note"}

    return run


@pytest.mark.daily("strip-a statement forgotten-statement-missing")
@pytest.mark.parametrize(
    ("base", "error", "rule"),
    [
        ("witness", "sizes 5 % under", "statement-small"),
        ("witness", "sizes 1.5 % under", "statement-small"),
        ("witness", "no sign", "sign-missing"),
        ("strip", "type 5 pt too low", "text-unsafe"),
        ("strip", "codes 25 % under", "code-module-small"),
        ("strip", "a statement forgotten", "statement-missing"),
    ],
)
def test_a_bug_in_the_layout_is_caught(
    base: str,
    error: str,
    rule: str,
    bases: dict[str, Any],
    printed_with: Callable[[str], Any],
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    assert bases[base], "the good print must be made before the layout errs: others look at it too"
    plant(error, monkeypatch)
    assert rule in printed_with(base)


def plant(error: str, monkeypatch: pytest.MonkeyPatch) -> None:
    """Make the layout err, and the press with it."""
    from dataclasses import replace

    from labeler.layout import text_blocks as disclosure
    from labeler.press.pdf import content as pdf_content

    if error.startswith("sizes"):
        least = disclosure.Disclosure._least
        by = 0.95 if "5 %" in error and "1.5" not in error else 0.985
        monkeypatch.setattr(
            disclosure.Disclosure, "_least", lambda self, form: least(self, form) * by
        )
    elif error == "no sign":
        monkeypatch.setattr(disclosure, "warning_sign", lambda *given: iter(()))
    elif error.startswith("type"):
        draw = pdf_content.Content._glyphs
        monkeypatch.setattr(
            pdf_content.Content, "_glyphs", lambda self, run: draw(self, replace(run, y=run.y + 5))
        )
    elif error.startswith("codes"):
        code = pdf_content.Content._code
        monkeypatch.setattr(
            pdf_content.Content,
            "_code",
            lambda self, mark: code(self, replace(mark, module=mark.module * 0.75)),
        )
    else:
        taken = disclosure._take
        monkeypatch.setattr(disclosure, "_take", lambda said, kinds: taken(said, kinds)[:-1])
