"""Books to read back: the demo's, and lines of an invented maker as long as one likes."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Any

import pypdfium2
import pytest

from labeler.app.book import BookMade, BookRequest, make_catalog_book
from labeler.catalog.model import Catalog
from labeler.catalog.read import read_catalog
from tests.unread import unread

DEMO = Path(__file__).resolve().parents[2] / "demo_catalog"
DAY = dt.date(2026, 11, 25)

_LINE = """
[maker]
name = {maker}
street = "1 Dock Road"
city = "Nowhere"
state = "WI"
postcode = "54000"
country = "US"
links = "https://go.example.com/j"
email = "bench@example.com"
phone = "715-555-0111"
employees = {employees}

[sale]
markets = ["US", "US-CA"]

[materials.lead]
name = "Hard lead"
kind = "alloy"
composition = {{ lead = "97 %", antimony = "3 %" }}

[materials.silicone]
name = "Silicone"
kind = "silicone"
composition = {{ silicone = "100 %" }}

[heads.round]
name = "Round head"
style = "round"
alloy = "lead"

[hooks.stout]
name = "Stout hook"

[tiers.dealer]
name = "Dealer"
off = "40 %"
round_to = "0.05"

[dealers.landing]
name = "The Landing"
tier = "dealer"
market = "US-CA"

[terms]
excise = "{excise}"
"""
_COLOUR = """
[colours.c{number}]
code = "C{number}"
name = {name}
layers = [
  {{ material = "silicone", shade = "shade {number}", ink = "#{ink:06x}", strands = 20 }},
  {{ material = "silicone", shade = "dark", ink = "#302010", strands = 9, seat = "belly" }},
]
"""
_PATTERN = """
[patterns.p{number}]
code = "P{number}"
name = {name}
kind = "swim jig"
head = "round"
hook = "stout"
hook_sizes = ["4/0"]
weights = [{weights}]
colours = [{colours}]
price = "4.95"
"""
WEIGHTS = ("1/4 oz", "3/8 oz", "1/2 oz", "5/8 oz", "3/4 oz", "1 oz")


def quoted(text: str) -> str:
    """Return a TOML string."""
    return '"' + text.replace("\\", "\\\\").replace('"', '\\"') + '"'


def write_line(
    folder: Path, patterns: Sequence[tuple[str, int, int]], colours: Sequence[str], **rest: Any
) -> Path:
    """Write a catalog of patterns, each a name, how many weights and how many colours."""
    more = {"maker": quoted(rest.get("maker", "Dock & Daughter")), "employees": 2}
    more |= {"excise": "included"} | {k: v for k, v in rest.items() if k != "maker"}
    parts = [_LINE.format(**more)]
    parts += [
        _COLOUR.format(number=number, name=quoted(name), ink=(number * 7919 + 0x406030) % 0x1000000)
        for number, name in enumerate(colours)
    ]
    for number, (name, weights, shown) in enumerate(patterns):
        parts.append(
            _PATTERN.format(
                number=number,
                name=quoted(name),
                weights=", ".join(f'"{one}"' for one in WEIGHTS[:weights]),
                colours=", ".join(f'"c{place}"' for place in range(shown)),
            )
        )
    folder.mkdir(parents=True, exist_ok=True)
    (folder / "catalog.toml").write_text("".join(parts), encoding="utf-8")
    return folder


@pytest.fixture(scope="session")
def line() -> Callable[..., Path]:
    return write_line


@pytest.fixture(scope="session")
def make() -> Callable[..., BookMade]:
    def made(folder: Path, out: Path, **asked: Any) -> BookMade:
        return make_catalog_book(BookRequest(folder, out, day=DAY, **asked))

    return made


@pytest.fixture(scope="session")
def demo() -> Catalog:
    return read_catalog(DEMO)


@pytest.fixture(scope="session")
def demo_folder() -> Path:
    return DEMO


@pytest.fixture(scope="session")
def dealer_book(tmp_path_factory: pytest.TempPathFactory, make: Callable[..., BookMade]) -> Path:
    """The book for one dealer; the order sheet lies beside it."""
    out = tmp_path_factory.mktemp("dealer") / "book.pdf"
    with unread():  # as below: the checker's tests read the demo's books
        make(DEMO, out, dealer="ferry-landing", order_sheet=out.with_suffix(".xlsx"))
    return out


@pytest.fixture(scope="session")
def retail_book(tmp_path_factory: pytest.TempPathFactory, make: Callable[..., BookMade]) -> Path:
    out = tmp_path_factory.mktemp("retail") / "book.pdf"
    with unread():
        make(DEMO, out, audience="retail")
    return out


@pytest.fixture(scope="session")
def texts() -> Callable[[Path], list[str]]:
    """Return a reader of each page's text, one that shares no code with what wrote it."""

    def read(path: Path) -> list[str]:
        document = pypdfium2.PdfDocument(path)
        try:
            return [page.get_textpage().get_text_range() for page in document]
        finally:
            document.close()

    return read
