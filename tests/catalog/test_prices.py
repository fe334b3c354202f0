"""Changed prices: exact money, rounding as it is said, and files that keep every other byte."""

from __future__ import annotations

import csv
import datetime as dt
import io
import tomllib
from decimal import ROUND_HALF_UP, Decimal
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from labeler.catalog.model import DatedPrices, dated_price
from labeler.catalog.prices import PriceEdits, PriceMove, read_rule, rewrite_prices, with_prices
from labeler.catalog.spreadsheet.cells import PRODUCT_COLUMNS
from labeler.catalog.spreadsheet.grid import csv_text
from labeler.findings import LabelerError, Place
from labeler.tomlfile import parse_toml

amounts = st.decimals(0, 999, places=2)
steps = st.sampled_from(["0.01", "0.05", "0.10", "0.25", "1"])
shares = st.integers(-100, 300)


@given(amounts, shares, steps)
def test_a_share_is_exact_and_half_a_step_goes_up(price: Decimal, share: int, step: str) -> None:
    """Against the decimal module's ROUND_HALF_UP, which no line of ours uses."""
    new = read_rule(f"{share:+d} %", step).apply(price)
    exact = price * (100 + share) / 100 / Decimal(step)
    assert new == exact.quantize(Decimal(1), ROUND_HALF_UP) * Decimal(step)


@given(amounts, amounts, shares, st.sampled_from([".99", ".49/.99", ".00/.50", ".95", ".05/.25"]))
def test_endings_hold_are_nearest_never_below_0_and_dear_stays_dear(
    one: Decimal, other: Decimal, share: int, ending: str
) -> None:
    rule = read_rule(f"{share:+d} %", ending=ending)
    new, others = rule.apply(one), rule.apply(other)
    assert new is not None
    assert others is not None
    ends = [Decimal(each) for each in ending.split("/")]
    assert new >= 0
    assert new % 1 in ends
    exact = Fraction(one) * (100 + share) / 100
    every = [Decimal(whole) + end for whole in range(int(exact) + 2) for end in ends]
    assert abs(Fraction(new) - exact) == min(abs(Fraction(each) - exact) for each in every)
    assert (one <= other) <= (new <= others)


@pytest.mark.parametrize(
    ("said", "old", "new"),
    [("+5 %", "4.75", "4.99"), ("-10%", "5.95", "5.36"), ("+0.25", "4.75", "5.00"),
     ("\N{MINUS SIGN}0.25", "4.75", "4.50"), ("= 5.49", "4.75", "5.49")],
)  # fmt: skip
def test_words_for_a_change(said: str, old: str, new: str) -> None:
    assert str(read_rule(said).apply(Decimal(old))) == new


@pytest.mark.parametrize("said", ["5 %", "= 5 %", "+5 % %", "x", "+", "+1,5 %", "+-1"])
def test_other_words_are_refused(said: str) -> None:
    with pytest.raises(LabelerError, match="price-change-unread"):
        read_rule(said)


def test_all_that_is_wrong_with_the_rounding_is_told_at_once() -> None:
    with pytest.raises(LabelerError) as refused:
        read_rule("5", "0", "99")
    assert [one.rule for one in refused.value.findings] == [
        "price-change-unread", "price-rounding-unread", "price-rounding-unread",
        "price-rounding-twice",
    ]  # fmt: skip


DAYS = [dt.date(2027, 3, day) for day in range(1, 11)]


@given(st.lists(st.tuples(st.sampled_from(DAYS), st.none() | st.sampled_from(DAYS),
                          st.sampled_from(["A-1", "A-*", "B-*", "A-?"])), max_size=5),
       st.sampled_from(DAYS))  # fmt: skip
def test_of_several_prices_the_one_that_began_last_holds(
    entries: list[tuple[dt.date, dt.date | None, str]], day: dt.date
) -> None:
    prices = [
        DatedPrices(first_day=first, last_day=last, skus={name: Decimal(at)})
        for at, (first, last, name) in enumerate(entries)
    ]
    holding = [
        (first, at) for at, (first, last, name) in enumerate(entries)
        if name[0] == "A" and first <= day and (last is None or day <= last)
    ]  # fmt: skip
    found = dated_price(prices, "A-1", day)
    assert (found and found[0]) == (max(holding)[1] if holding else None)


cells = st.text(st.sampled_from('ab1,;"\n é'), max_size=6)


@given(st.lists(st.lists(cells, min_size=3, max_size=3), max_size=4),
       st.sampled_from([",", ";", "\t"]), st.sampled_from(["\n", "\r\n"]),
       st.sampled_from(["utf-8", "utf-8-sig", "utf-16"]))  # fmt: skip
def test_cells_are_found_where_the_csv_module_finds_them(
    rows: list[list[str]], between: str, ends: str, encoding: str
) -> None:
    text = io.StringIO(newline="")
    csv.writer(text, delimiter=between, lineterminator=ends).writerows(
        [["SKU", "Price", "Note"], *rows]
    )
    form = csv_text("products.csv", text.getvalue().encode(encoding), PRODUCT_COLUMNS)
    assert form is not None
    found = [[_bare(form.text[start:end]) for start, end in spans] for _, spans in form.spans()]
    reader = csv.reader(io.StringIO(text.getvalue(), newline=""), delimiter=between, strict=True)
    assert found == list(reader)


def _bare(cell: str) -> str:
    return cell[1:-1].replace('""', '"') if cell.startswith('"') else cell


def move(new: str) -> PriceMove:
    return PriceMove(None, None, Decimal(new))  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("cell", "new"),
    [("5.75", "6.05"), ("$5.75", "$6.05"), ('"5,75"', '"6,05"'), ("5.75 USD", "6.05 USD"),
     ("6", "6.05"), ('"$1,005.00"', '"$6.05"')],
)  # fmt: skip
def test_a_cell_keeps_its_sign_and_every_other_byte_stays(cell: str, new: str) -> None:
    start = 'SKU,Note,Price\r\nA-1,"two\r\nlines",4.00\r\nA-2,"a ""b"" , c",'
    raw = b"\xef\xbb\xbf" + f"{start}{cell}\r\nA-3,,1\r\n".encode()
    written = with_prices("products.csv", raw, {Place("products.csv", line=4): move("6.05")})
    assert written == b"\xef\xbb\xbf" + f"{start}{new}\r\nA-3,,1\r\n".encode()


CATALOG = """\
# my line
[patterns.a]                # the first
price = "4.50"              # since spring
prices = { "1/2 oz" = "4.75" }   # dear lead

[terms]
notes = "x"  # the end
"""


def test_a_catalog_keeps_its_comments_and_gains_an_entry() -> None:
    first = dt.date(2027, 3, 1)
    edits = PriceEdits(
        {("patterns", "a", "price"): Decimal("4.99"),
         ("patterns", "a", "prices", "3/4 oz"): Decimal("5.49")},
        (first, None), {"A-*": Decimal("5.25")},
    )  # fmt: skip
    once = rewrite_prices(parse_toml("catalog.toml", CATALOG.encode()), edits)
    assert [line for line in CATALOG.splitlines() if line not in once.decode()] == [
        'price = "4.50"              # since spring',
        'prices = { "1/2 oz" = "4.75" }   # dear lead',
    ]
    assert 'price = "4.99"              # since spring' in once.decode()
    data = tomllib.loads(once.decode())
    assert data["patterns"]["a"]["prices"] == {"1/2 oz": "4.75", "3/4 oz": "5.49"}
    assert data["prices"] == [{"first_day": "2027-03-01", "skus": {"A-*": "5.25"}}]
    assert rewrite_prices(parse_toml("catalog.toml", once), edits) == once, "twice is once"
    dos = rewrite_prices(parse_toml("catalog.toml", CATALOG.replace("\n", "\r\n").encode()), edits)
    assert dos == once.replace(b"\n", b"\r\n")
