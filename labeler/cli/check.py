"""``labeler check``."""

from __future__ import annotations

import datetime as dt
import shutil
import textwrap
from pathlib import Path
from typing import Any

import click

from labeler.cli import words


@click.command()
@click.argument("pdf", required=False, type=click.Path(path_type=Path))
@click.option("--proof", metavar="FILE", type=click.Path(path_type=Path),
              help="Write the checked pages to this PDF, every finding ringed.")  # fmt: skip
@click.option(
    "--rules",
    "list_rules",
    is_flag=True,
    help="List every rule there is to check against, with its source, instead.",
)
@click.option(
    "--on",
    "day",
    metavar="DATE",
    type=words.DayType(),
    default=None,
    help="The day of the sale, such as 2027-03-01; today if left out. With --rules, only the "
    "rules in force on that day.",
)
@click.option("--give-gtins", is_flag=True,
              help="First give every product that has none a GTIN of your prefix.")  # fmt: skip
@click.option("--json", "as_json", is_flag=True, help="Tell the findings as JSON.")
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
        _tell_rules(day, as_json)
        return 0
    if pdf is not None:
        return _check_file(folder, pdf, proof, day, as_json)
    if proof is not None:
        raise click.UsageError("--proof draws on the pages of a PDF: name the PDF to check too")
    from labeler.bench.checking import check_catalog, number_products
    from labeler.disclosures.rules import NO_LEGAL_ADVICE

    if asked["give_gtins"]:
        given = number_products(folder)
        if not as_json:
            click.echo(f"{words.plural(len(given), 'GTIN')} given and kept in gtins.csv.")
    report = check_catalog(folder, day)
    if as_json:
        record: dict[str, Any] = {
            "products": report.products,
            "findings": [f.as_json() for f in report.findings],
            "stops": report.stops,
            "no_legal_advice": NO_LEGAL_ADVICE,
        }
        words.tell_json(record)
        return 1 if report.stops else 0
    click.echo(words.harmless(report.as_text(_width())))
    return 1 if report.stops else 0


def _width() -> int:
    """Return how many letters a line of the terminal holds."""
    return shutil.get_terminal_size((100, 24)).columns


def _check_file(
    folder: Path, pdf: Path, proof: Path | None, day: dt.date | None, as_json: bool
) -> int:
    from labeler.bench.proofing import Proofing, check_file

    with words.Bar("Checking") as bar:
        report = check_file(Proofing(folder, pdf, day, proof), bar)
    if as_json:
        words.tell_json(report.as_json())
    else:
        click.echo(words.harmless(report.as_text(_width())))
        if proof is not None:
            click.echo(f"\n{proof}: the pages, every finding ringed.")
    return 1 if report.stops else 0


def _tell_rules(day: dt.date | None, as_json: bool) -> None:
    """List every rule with what it asks, its source and how far that was read."""
    from labeler.bench.rule_list import every_rule
    from labeler.disclosures.rules import NO_LEGAL_ADVICE

    rules = every_rule(day)
    if as_json:
        words.tell_json({"rules": [rule.as_json() for rule in rules],
                         "no_legal_advice": NO_LEGAL_ADVICE})  # fmt: skip
        return
    kind = ""
    for rule in rules:
        if rule.kind != kind:
            kind = rule.kind
            click.echo(f"\n{kind} ({rule.market})" if rule.market else f"\n{kind}")
        click.echo(f"\n  {rule.rule}  ({rule.grade})")
        read = f", looked up {rule.read} at {rule.seen}" if rule.read else ""
        doubt = f"In doubt: {rule.doubt}" if rule.doubt else ""
        days = _days(rule.begins, rule.ends)
        for text in (rule.about, doubt, days, f"{rule.source} ({rule.confidence}{read})"):
            if text:
                click.echo(_wrapped(text, "    "))
    when = f" in force on {day.isoformat()}" if day else ""
    click.echo(f"\n{words.plural(len(rules), 'rule')}{when}.\n{_wrapped(NO_LEGAL_ADVICE, '')}")


def _wrapped(text: str, indent: str) -> str:
    """Return a text in lines of the terminal's width, each indented."""
    return textwrap.fill(
        text, max(40, _width()), initial_indent=indent, subsequent_indent=indent,
        break_long_words=False, break_on_hyphens=False,
    )  # fmt: skip


def _days(begins: str, ends: str) -> str:
    """Return from when until when a rule holds, or nothing where it always does."""
    said = [f"from {begins}"] if begins else []
    said += [f"until the day before {ends}"] if ends else []
    return f"In force {' '.join(said)}." if said else ""
