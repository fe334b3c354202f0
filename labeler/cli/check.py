"""``labeler check`` and ``labeler markets``."""

from __future__ import annotations

import datetime as dt
import importlib
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from labeler.cli import options, words
from labeler.findings import plural

if TYPE_CHECKING:
    from labeler.app.markets import MarketReport, MarketRow
    from labeler.app.preflight import Again


@click.command()
@click.argument("pdf", required=False, type=options.PATH)
@options.path("--proof", help="Write the checked pages to this PDF, every finding ringed.")
@options.flag("--rules", "list_rules",
              help="List every rule there is to check against, with its source, instead.",
)  # fmt: skip
@click.option("--on", "day", metavar="DATE", type=options.day,
              help="The day of the sale, such as 2027-03-01; today if left out. With --rules, only "
              "the rules in force on that day.")  # fmt: skip
@options.flag("--give-gtins", help="First give every product that has none a GTIN of your prefix.")
@options.as_json("the findings")
@click.pass_obj
def check(folder: Path, /, pdf: Path | None, as_json: bool, **asked: Any) -> int:
    """Check the catalog, or a finished PDF of labels or cards before ink is spent.

    Of the catalog every error is told at once, with its file, line or cell, and it is held
    against the rules of the places where the line is sold. Of a PDF every piece on every cell
    is read back and held against what it must carry. Exit status 1 if anything stops the press.

    \b
    Examples:
      labeler --catalog my_line check
      labeler --catalog my_line check bags.pdf --proof proof.pdf
      labeler check --rules
    """  # noqa: D301
    proof, day = asked["proof"], asked["day"]
    if asked["list_rules"]:
        if pdf is not None or proof is not None:
            raise click.UsageError("--rules lists the rules and checks no file: leave the PDF out")
        _echo_rules(day, as_json)
        return 0
    if pdf is not None:
        return _check_file(folder, pdf, proof, day, as_json)
    if proof is not None:
        raise click.UsageError("--proof draws on the pages of a PDF: name the PDF to check too")
    from labeler.app.check import check_catalog, number_products
    from labeler.disclosures.rules import NO_LEGAL_ADVICE

    if asked["give_gtins"]:
        given = number_products(folder)
        if not as_json:
            click.echo(f"{plural(len(given), 'GTIN')} given and kept in gtins.csv.")
    report = check_catalog(folder, day)
    if as_json:
        words.echo_json({
            "products": report.products, "findings": report.findings, "stops": report.stops,
            "no_legal_advice": NO_LEGAL_ADVICE,
        })  # fmt: skip
    else:
        words.say(report.as_text(words.width()))
    return 1 if report.stops else 0


def _check_file(
    folder: Path, pdf: Path, proof: Path | None, day: dt.date | None, as_json: bool
) -> int:
    from labeler.checker import process

    def make_again(*of: Any) -> Again:
        from labeler.app import again

        return again.make_again(*of)

    if pdf.is_file():  # what reads it loads in one process, what sets labels and books in this one
        process.begin_one()
        importlib.import_module("labeler.app.again")
    from labeler.app.preflight import check_file

    with words.Bar("Checking") as bar:
        report = check_file(folder, pdf, make_again, day, proof, bar)
    if as_json:
        words.echo_json(report.as_json())
    else:
        words.say(report.as_text(words.width()))
        if proof is not None:
            click.echo(f"\n{proof}: the pages, every finding ringed.")
    return 1 if report.stops else 0


def _echo_rules(day: dt.date | None, as_json: bool) -> None:
    """List every rule with what it asks, its source and how far that was read."""
    from labeler.app.reference import every_rule
    from labeler.disclosures.rules import NO_LEGAL_ADVICE

    rules = every_rule(day)
    if as_json:
        words.echo_json({"rules": rules, "no_legal_advice": NO_LEGAL_ADVICE})
        return
    kind = ""
    for rule in rules:
        if rule.kind != kind:
            kind = rule.kind
            click.echo(f"\n{kind} ({rule.market})" if rule.market else f"\n{kind}")
        click.echo(f"\n  {rule.rule}  ({rule.grade})")
        how = _HOW_FAR.get(rule.confidence, rule.confidence)
        read = f", looked up {rule.read} at {rule.seen}" if rule.read else ""
        doubt = f"In doubt: {rule.doubt}" if rule.doubt else ""
        days = _days(rule.begins, rule.ends)
        for text in (rule.about, doubt, days, f"{rule.source} ({how}{read})"):
            if text:
                _echo_wrapped(f"    {text}")
    when = f" in force on {day.isoformat()}" if day else ""
    click.echo(f"\n{plural(len(rules), 'rule')}{when}.")
    _echo_wrapped(NO_LEGAL_ADVICE)


_HOW_FAR = {
    "read": "text read",
    "secondary": "secondary: what others write of it was read",
    "from memory": "from memory, so it never stops",
    "own data": "own data",
}
"""How far a rule's source was read, in words."""


def _echo_wrapped(text: str) -> None:
    click.echo("\n".join(words.wrapped(text, max(40, words.width()))))


def _days(begins: str, ends: str) -> str:
    """Return from when until when a rule holds, or nothing where it always does."""
    parts = [f"from {begins}"] if begins else []
    parts += [f"until the day before {ends}"] if ends else []
    return f"In force {' '.join(parts)}." if parts else ""


_NAME_WIDTH = 34
"""The most letters of a row's name on one line."""


@click.command()
@click.option("--sku", "skus", multiple=True, metavar="SKU",
              help='Which products: a SKU, a pattern such as "RV-*", or words of one product. May '
              "be given again.",
)  # fmt: skip
@click.option("--market", "asked", multiple=True, metavar="CODE",
              help="A place by its ISO 3166 code, such as US-ME, sold there or not. May be given "
              "again. Left out, every place where the line is sold.")  # fmt: skip
@click.option("--on", "day", metavar="DATE", type=options.day,
              help="The day of the sale, such as 2027-03-01; today if left out.")  # fmt: skip
@options.path("--sheet", help="Write the table to this PDF, to hang on the wall.")
@click.option("--paper", type=click.Choice(["letter", "a4"]), default="letter", show_default=True,
              help="The sheet's paper.")  # fmt: skip
@options.as_json("every product in every market")
@click.pass_obj
def markets(
    folder: Path, /, skus: tuple[str, ...], asked: tuple[str, ...], day: dt.date | None,
    sheet: Path | None, **how: Any,
) -> None:  # fmt: skip
    """Show what may be sold where: as it is, with a notice, with limited use, or not at all.

    \b
    Examples:
      labeler markets
      labeler markets --sku "RV-*" --market US-ME --market US-NH
      labeler markets --sheet wall.pdf
    """  # noqa: D301
    from labeler.app.markets import market_report

    report = market_report(folder, skus, asked, day)
    words.echo_findings(report.findings)
    pages = 0
    if sheet:
        from labeler.app.wall_sheet import write_wall_sheet  # loads what sets books

        pages = write_wall_sheet(report, sheet, how["paper"], folder)
    if how["as_json"]:
        made = {"file": sheet, "pages": pages} if sheet else {}
        words.echo_json({"done": True, **made, **report.as_json()})
        return
    for line in _lines(report, words.width()):
        words.say(line)
    if sheet:
        click.echo(f"\n{sheet}: {plural(pages, 'page')}.")


def _lines(report: MarketReport, width: int) -> Iterator[str]:
    """Yield the table, what its words mean, the rules behind it and what was not checked."""
    from labeler.disclosures.rules import NO_LEGAL_ADVICE
    from labeler.disclosures.sale import MEANS, SHORT

    count = plural(len(report.products), "product")
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
    names = [f"{row.pattern}, {row.which}" if row.apart else row.pattern for row in report.rows]
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
        parts = words.wrapped(name, first) or [""]
        cells = "".join(f"  {column[place]:<{_widest(column)}}" for column in columns)
        yield f"{parts[0]:<{first}}{cells}".rstrip()
        yield from (f"  {part}" for part in parts[1:])


def _widest(column: Sequence[str]) -> int:
    return max(map(len, column))


def _cell(row: MarketRow, place: int) -> str:
    cell = row.cells[place]
    return f"{cell.words} {','.join(cell.marks)}".rstrip()


def _hung(head: str, text: str, width: int, indent: int) -> Iterator[str]:
    """Yield a text in lines that hang beside its head."""
    parts = words.wrapped(text, max(30, width - indent))
    for place, part in enumerate(parts):
        yield f"{head if place == 0 else '':<{indent}}{part}"
