"""``labeler lot journal``."""

from __future__ import annotations

import datetime as dt
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from labeler.cli import words
from labeler.cli.tables import tell_table

if TYPE_CHECKING:
    from labeler.ledger.journal import Entry

_LAST = 40


@click.command()
@click.argument("code", metavar="[LOT]", required=False)
@click.option("--since", metavar="DATE", type=words.DayType(), help="From this day on.")
@click.option("--last", metavar="N", type=click.IntRange(min=1),
              help=f"The newest N; left out, {_LAST}, or all of a lot or since a day.")  # fmt: skip
@click.option("--json", "as_json", is_flag=True, help="Tell the journal as JSON.")
@click.pass_obj
def journal(
    folder: Path, /, code: str | None, since: dt.date | None, last: int | None, as_json: bool
) -> None:
    """Show every change to the ledger: when, by whom, what.

    Nothing in it is ever altered or deleted. Times are the bench's, and in UTC.

    \b
    Examples:
      labeler lot journal
      labeler lot journal 263290013
      labeler lot journal --since 2026-11-01
    """  # noqa: D301
    from labeler.bench.lots import journal_of

    most = last or (None if code or since else _LAST)
    found, books = journal_of(folder, code or "", since, most)
    if as_json:
        words.tell_json({"journal": [as_record(each) | {"lot": each.lot} for each in found]})
        return
    tell_table(
        ("when", "who", "what", "lot", ""),
        [(books.told(each.at), each.who, each.what, each.lot, detail(each)) for each in found],
    )
    if most and len(found) == most:
        click.echo(f"The newest {most}; --last or --since shows more.")


def as_record(entry: Entry) -> dict[str, Any]:
    """Return a change as plain values; times in UTC."""
    return {"at": entry.at.isoformat(), "who": entry.who, "what": entry.what,
            "detail": entry.detail}  # fmt: skip


def detail(entry: Entry) -> str:
    """Return what a change was in particular, in one line."""
    return ", ".join(f"{key} {_plain(value)}" for key, value in entry.detail.items() if value)


def _plain(value: Any) -> str:
    return " ".join(str(one) for one in value) if isinstance(value, list) else str(value)
