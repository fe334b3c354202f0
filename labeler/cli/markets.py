"""``labeler markets``."""

from __future__ import annotations

import datetime as dt
import shutil
from collections.abc import Iterator, Sequence
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from labeler.cli import words

if TYPE_CHECKING:
    from labeler.bench.market_table import MarketRow
    from labeler.bench.markets import MarketReport

_NAME_WIDTH = 34
"""The most letters of a row's name on one line."""


@click.command()
@click.option(
    "--sku",
    "wanted",
    multiple=True,
    metavar="SKU",
    help='Which products: a SKU, or a pattern such as "RV-*". May be given again.',
)
@click.option(
    "--market",
    "asked",
    multiple=True,
    metavar="CODE",
    help="A place by its ISO 3166 code, such as US-ME, sold there or not. May be given "
    "again. Left out, every place where the line is sold.",
)
@click.option(
    "--on",
    "day",
    metavar="DATE",
    type=words.DayType(),
    default=None,
    help="The day of the sale, such as 2027-03-01; today if left out.",
)
@click.option(
    "--sheet",
    default=None,
    metavar="FILE",
    type=click.Path(path_type=Path),
    help="Write the table to this PDF, to hang on the wall.",
)
@click.option(
    "--paper",
    type=click.Choice(["letter", "a4"]),
    default="letter",
    show_default=True,
    help="The sheet's paper.",
)
@click.option("--json", "as_json", is_flag=True, help="Tell every product in every market as JSON.")
@click.pass_obj
def markets(
    folder: Path, /, wanted: tuple[str, ...], asked: tuple[str, ...], day: dt.date | None,
    sheet: Path | None, **how: Any,
) -> None:  # fmt: skip
    """Show what may be sold where: free, with a notice, with limited use, or not at all.

    \b
    Examples:
      labeler markets
      labeler markets --sku "RV-*" --market US-ME --market US-NH
      labeler markets --sheet wall.pdf
    """  # noqa: D301
    from labeler.bench.markets import MarketWish, market_report, write_wall_sheet

    wish = MarketWish(folder, wanted, asked)
    report = market_report(replace(wish, day=day) if day else wish)
    pages = write_wall_sheet(report, sheet, how["paper"], folder) if sheet else 0
    if how["as_json"]:
        made = {"file": str(sheet), "pages": pages} if sheet else {}
        words.tell_json({"done": True, **made, **report.as_json()})
        return
    for line in _lines(report, shutil.get_terminal_size((100, 24)).columns):
        click.echo(words.harmless(line))
    if sheet:
        click.echo(f"\n{sheet}: {words.plural(pages, 'page')}.")


def _lines(report: MarketReport, width: int) -> Iterator[str]:
    """Yield the table, what its words mean, the rules behind it and what was not checked."""
    from labeler.disclosures.rules import NO_LEGAL_ADVICE
    from labeler.disclosures.sale_words import MEANS, SHORT

    count = words.plural(len(report.products), "product")
    yield f"Where {count} of {report.maker} may be sold, as of {report.day.isoformat()}."
    yield from _bands(report, width)
    yield ""
    for status, means in MEANS.items():
        yield from _hung(SHORT[status], means + ".", width, 13)
    yield from _hung("?", "the catalog does not tell all that a rule asks; until it does, the"
                     " worst is taken.", width, 13)  # fmt: skip
    yield "\nThe rules behind the cells; letters are only good to know"
    for rule in report.rules:
        yield from _hung(rule.mark.rjust(3), f"{rule.rule.about} [{rule.rule.id}]", width, 5)
        for line in (*rule.lines(), rule.rule.doubt or "", rule.authority):
            yield from _hung("", line, width, 5)
    yield "\nNot checked"
    for line in report.not_checked:
        yield from _hung("  -", line, width, 5)
    yield ""
    yield from _hung("", NO_LEGAL_ADVICE, width, 0)


def _bands(report: MarketReport, width: int) -> Iterator[str]:
    """Yield the table; where the markets do not stand side by side, one part below the other."""
    names = [_name(row) for row in report.rows]
    first = min(_NAME_WIDTH, max(map(len, names)))
    columns = [
        [market.code, *(_cell(row, place) for row in report.rows)]
        for place, market in enumerate(report.markets)
    ]
    begin = 0
    while begin < len(columns):
        end, used = begin, first
        while end < len(columns) and (end == begin or used + 2 + _widest(columns[end]) <= width):
            used += 2 + _widest(columns[end])
            end += 1
        yield ""
        yield from _band(["", *names], columns[begin:end], first)
        begin = end


def _band(names: Sequence[str], columns: Sequence[Sequence[str]], first: int) -> Iterator[str]:
    for place, name in enumerate(names):
        parts = _wrapped(name, first) or [""]
        cells = "".join(f"  {column[place]:<{_widest(column)}}" for column in columns)
        yield f"{parts[0]:<{first}}{cells}".rstrip()
        yield from (f"  {part}" for part in parts[1:])


def _widest(column: Sequence[str]) -> int:
    return max(map(len, column))


def _name(row: MarketRow) -> str:
    return f"{row.pattern}, {row.which}" if row.apart else row.pattern


def _cell(row: MarketRow, place: int) -> str:
    cell = row.cells[place]
    return f"{cell.words} {','.join(cell.marks)}".rstrip()


def _hung(head: str, text: str, width: int, indent: int) -> Iterator[str]:
    """Yield a text in lines that hang beside its head."""
    parts = _wrapped(text, max(30, width - indent))
    for place, part in enumerate(parts):
        yield f"{head if place == 0 else '':<{indent}}{part}"


def _wrapped(text: str, width: int) -> list[str]:
    import textwrap

    return textwrap.wrap(text, width, break_long_words=False, break_on_hyphens=False)
