"""What a book says of the federal excise tax, with its arithmetic, and of where it is tied."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest

from labeler.app.book import BookMade
from labeler.book.edition import PatternEntry
from labeler.book.make import facts_of_entry
from labeler.catalog.model import Catalog

Texts = Callable[[Path], list[str]]


@pytest.fixture
def terms(
    tmp_path: Path, line: Callable[..., Path], make: Callable[..., BookMade], texts: Texts
) -> Callable[..., str]:
    """Return the words of the terms of a book; a maker without tiers sells at retail only."""

    def read(audience: str, excise: str, *, shops: bool) -> str:
        folder = line(tmp_path / "line", [("Reed Vole", 1, 1)], ["Reed Brown"], excise=excise)
        file = folder / "catalog.toml"
        text = file.read_text("utf-8")
        if not shops:
            first, last = text.index("[tiers.dealer]"), text.index("[terms]")
            file.write_text(text[:first] + text[last:], "utf-8")
        made = make(folder, tmp_path / "book.pdf", audience=audience)
        assert not made.report.stops
        pages = [" ".join(text.split()) for text in texts(tmp_path / "book.pdf")]
        assert "NO LEGAL ADVICE" in " ".join(pages).upper()
        return " ".join(pages)

    return read


def test_a_maker_without_shops_reckons_it_on_sixty_per_cent(terms: Callable[..., str]) -> None:
    said = terms("retail", "included", shops=False)
    assert "We sell at retail only, so it is 10 % of 60 % of the price without it" in said
    assert "6/106 of the price here: of $4.95 for P0-14-40-C0, $0.28 is tax." in said


def test_a_maker_without_shops_adds_six_of_a_hundred(terms: Callable[..., str]) -> None:
    said = terms("retail", "not included", shops=False)
    assert "$4.95 for P0-14-40-C0 and $0.30 of tax make $5.25." in said


@pytest.mark.daily
def test_who_sells_to_shops_too_tells_buyers_no_arithmetic(terms: Callable[..., str]) -> None:
    said = terms("retail", "included", shops=True)
    assert "Federal excise tax included." in said
    assert "60 %" not in said
    assert "is tax" not in said


@pytest.mark.siege
def test_a_dealer_is_told_the_tax_in_their_own_price(terms: Callable[..., str]) -> None:
    said = terms("dealer", "included", shops=True)
    assert "10/110 of the price here: of $2.95 for P0-14-40-C0, $0.27 is tax." in said


@pytest.mark.parametrize(
    ("hook", "parts", "said"),
    [
        ("JP", "US", "USA, with imported hook"),
        ("JP", "MX", "USA, with imported hook and materials"),
        ("US", "MX", "USA, with imported materials"),
        ("US", "US", "USA"),
        ("JP", None, "USA, with imported parts"),
        (None, "US", ""),
        ("US", None, ""),
    ],
)
def test_where_it_is_tied_is_never_more_than_its_parts_bear_out(
    hook: str | None, parts: str | None, said: str, demo: Catalog
) -> None:
    """An unqualified claim of US origin is for goods all or virtually all of the US: 16 CFR 323.2.

    A buyer reads the label and the value of the table as one sentence.
    """
    one = next(p for p in demo.products if p.pattern.made_in == "US" and p.pattern.pack == 1)
    dressing = {
        name: part.model_copy(update={"origin": parts}) for name, part in one.materials.items()
    }
    own = one.model_copy(
        update={"hook": one.hook.model_copy(update={"origin": hook}), "materials": dressing}
    )
    facts = dict(facts_of_entry(PatternEntry(1, own.pattern, (own,))))
    assert facts.get("Tied in", "") == said
