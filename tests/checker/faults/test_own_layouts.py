"""A maker's own layouts with her own words: nothing on them is told, and what is wrong still is."""

from __future__ import annotations

import shutil
from collections.abc import Callable
from pathlib import Path
from typing import Any
from xml.sax.saxutils import escape

import pikepdf
import pytest

from labeler.catalog.read import read_catalog
from labeler.checker.judge import check_pdf
from labeler.checker.report import Report
from labeler.findings import Finding
from tests.checker.test_stated import HONEST, PLAIN

Grave = Callable[[Report], list[Finding]]
OWN = Path(__file__).parents[1] / "own"

WISHES: dict[str, dict[str, Any]] = {
    "river-card": {"use": "cards", "layout": "river-card"},
    "dozen-label": {"use": "bags", "layout": "dozen-label", "sheet": "letter-2x3"},
    "plain-label": {"use": "bags", "layout": "plain-label", "sheet": "letter-2x3"},
}
PACKS = {f'bag = "{bag}"\nprice': f'bag = "{bag}"\npack = 12\nprice' for bag in ("tall", "small")}


@pytest.fixture(scope="module")
def makers(workshop: Any, tmp_path_factory: pytest.TempPathFactory) -> dict[str, Path]:
    """Three catalogs: the demo's, one of dozens sold in other places, one with another address."""
    root = tmp_path_factory.mktemp("makers")
    changes = {
        "river-card": {},
        "dozen-label": {'markets = ["US", "US-CA", "US-MN", "US-WI", "CA"]': 'markets = ["US"]',
                        **PACKS},
        "plain-label": {'"14 Cooper\'s Row"': '"Rural Route 2, Box 9"', '"54899"': '"54899-1234"',
                        '"715-555-0114"': '"+1 (715) 555-0114"', '"Hobbin & Daughter"':
                        '"No. 7 Tackle Co."', '"bench@hobbin.example.com"': '"7@no7.example.com"'},
    }  # fmt: skip
    folders = {}
    for name, given in changes.items():
        folders[name] = workshop.copied(root / name, **given)
        shutil.copytree(OWN, folders[name] / "layouts")
    return folders


@pytest.mark.parametrize("layout", list(WISHES))
def test_nothing_is_told_of_a_makers_own_layout(
    layout: str, makers: dict[str, Path], workshop: Any, tmp_path: Path, grave: Grave
) -> None:
    folder = makers[layout]
    skus = ("RM-14-30-*", "RM-38-40-SBR", "EP-18-10-BRK", "TD-132-8-*", "LL-14-30-*", "SF-7G-20-*")
    run = workshop.printed(folder, tmp_path / "own.pdf", skus=skus, **WISHES[layout])
    report = check_pdf(run.pdf, folder, day=workshop.day)
    assert report.pieces > 12
    assert not grave(report), report.as_text()


def test_no_honest_line_in_a_layout_is_told(workshop: Any, tmp_path: Path, grave: Grave) -> None:
    """A few lines to a piece, one under the other in the same type, so that they read on."""
    folder = workshop.copied(tmp_path / "own")
    lines = [line for line in HONEST if line not in PLAIN]
    skus = [each.sku for each in read_catalog(folder).products]
    some = -(-len(lines) // len(skus))
    blocks = ""
    for at in range(some):
        cases = "".join(
            f'{{% if product.sku == "{sku}" %}}{escape(line)}{{% endif %}}'
            for sku, line in zip(skus, lines[at::some], strict=False)
        )
        blocks += f'<text style="note" most="8pt" least="5pt" lines="2">{cases}&#160;</text>\n'
    shutil.copytree(OWN, folder / "layouts")
    layout = folder / "layouts" / "plain-label.xml.jinja"
    text = layout.read_text("utf-8")
    layout.write_text(text.replace('    <spacer share="1"/>', blocks + '    <spacer share="1"/>'))
    used = tuple(skus[: -(-len(lines) // some)])
    run = workshop.printed(folder, tmp_path / "o.pdf", skus=used, **WISHES["plain-label"])
    report = check_pdf(run.pdf, folder, day=workshop.day)
    assert report.pieces == len(used) > 70
    assert not grave(report), report.as_text()


SKU = "RM-14-30-TSP"


@pytest.fixture(scope="module")
def card(makers: dict[str, Path], workshop: Any, tmp_path_factory: pytest.TempPathFactory) -> Any:
    """One good card of her own layout."""
    out = tmp_path_factory.mktemp("card") / "good.pdf"
    return workshop.printed(makers["river-card"], out, skus=(SKU,), **WISHES["river-card"])


@pytest.mark.parametrize(
    ("old", "new", "rule"),
    [
        ("PO Box 41", "PO Box 14", "fact-unaccounted"),
        ("5⁄8", "7⁄8", "fact-unaccounted"),
        ("First cast", "Last cast", "words-unaccounted"),
        ("715-555-0114", "715-555-0141", "fact-unaccounted"),
    ],
)
def test_what_is_wrong_among_her_own_words_is_told(
    old: str, new: str, rule: str, card: Any, workshop: Any, tmp_path: Path, sheet_of: Any
) -> None:
    with pikepdf.open(card.pdf) as pdf:
        sheet = sheet_of(pdf)
        (sheet.refigure if "⁄" in old else sheet.rewrite)(SKU, old, new, "back")
        file = sheet.save(tmp_path / "damaged.pdf")
    report = check_pdf(file, card.folder, day=workshop.day)
    assert rule in {each.rule for each in report.findings}, report.as_text()
