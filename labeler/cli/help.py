"""``labeler help``: references, one topic each."""

from __future__ import annotations

import shutil
import textwrap
from collections.abc import Iterator
from pathlib import Path

import click

from labeler.app.reference import TOPICS
from labeler.cli import words


@click.command(name="help")
@click.argument("topic", required=False, metavar="[TOPIC]", type=click.Choice(list(TOPICS)))
@click.pass_obj
def help_(folder: Path, /, topic: str | None) -> None:
    """Show a reference: the catalog's keys, the sheets, layouts, rules, or findings.

    Left out, the topics. How a command is used says its own --help.

    \b
    Examples:
      labeler help
      labeler help findings
    """  # noqa: D301
    from labeler.app.reference import reference

    if topic is None:
        for name, about in TOPICS.items():
            click.echo(f"labeler help {name:<10}{about}")
        return
    width = max(40, shutil.get_terminal_size((100, 24)).columns)
    for entry in reference(topic, folder):
        for line in _wrapped(entry, width):
            click.echo(words.harmless(line))


def _wrapped(entry: str, width: int) -> Iterator[str]:
    """Yield the lines of an entry, long ones broken, each with its indent."""
    for line in entry.split("\n"):
        indent = line[: len(line) - len(line.lstrip())]
        yield from textwrap.wrap(
            line, width, subsequent_indent=indent, break_long_words=False, break_on_hyphens=False
        ) or [""]
