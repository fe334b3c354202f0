"""How findings and reports are shown: in lines for people, as JSON for programs."""

from __future__ import annotations

import contextlib
import datetime as dt
import json
import shutil
import sys
import textwrap
import time
import unicodedata
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import replace
from decimal import Decimal
from pathlib import Path
from types import TracebackType
from typing import Any

import click

from labeler.findings import Finding, Grade, LabelerError, plural

_COLOURS = {Grade.STOP: "red", Grade.FIX: "yellow", Grade.NOTE: "cyan"}


def echo_refusal(error: LabelerError | click.ClickException | Finding, as_json: bool) -> None:
    """Say why the program can't go on: everything at once, nothing twice.

    A finding alone says what ended the work from outside: the maker's hand, or the system.
    """
    if isinstance(error, click.ClickException):
        if not as_json:
            error.show()
            return
        record = {"rule": "wrong-use", "grade": "stop", "message": error.format_message()}
        echo_json({"done": False, "findings": [record]})
        return
    findings = [error] if isinstance(error, Finding) else list(dict.fromkeys(error.findings))
    if as_json:
        echo_json({"done": False, "findings": findings})
        return
    echo_findings(findings)
    if isinstance(error, LabelerError):
        stops = sum(f.grade is Grade.STOP for f in findings)
        nothing = f"{plural(stops, 'thing')} to put right; nothing" if stops else "Nothing"
        click.echo(f"{nothing} was written.", err=True)


def echo_findings(findings: Iterable[Finding], err: bool = True) -> None:
    """Write findings one after the other, gravest first; what many pieces share is said once."""
    order = list(Grade)
    for finding in sorted(_shared(findings), key=lambda f: order.index(f.grade)):
        mark = click.style(f"{finding.grade.value:>4}", fg=_COLOURS[finding.grade], bold=True)
        click.echo(f"{mark}  {harmless(str(finding))}", err=err)


def agree(findings: Sequence[Finding]) -> None:
    """Say how something will be kept before it is; at a terminal, ask whether that is right."""
    echo_findings(findings)
    if findings:
        confirm()


def confirm() -> None:
    """At a terminal, ask whether that is right.

    Raises:
        click.Abort: if it is not.
    """
    if at_a_terminal():
        click.confirm("Keep it so?", default=True, abort=True, err=True)


def _shared(findings: Iterable[Finding]) -> Iterator[Finding]:
    """Yield findings, those that differ only in their piece as one that says how many share it."""
    alike: dict[Finding, list[str]] = {}
    for finding in findings:
        bare = replace(finding, place=replace(finding.place, piece=""))
        alike.setdefault(bare, []).append(finding.place.piece)
    for bare, named in alike.items():
        pieces = list(dict.fromkeys(named))
        others = pieces[1] if len(pieces) == _A_PAIR else f"{len(pieces) - 1:,} more"
        more = f" and {others}" if len(pieces) > 1 else ""
        yield replace(bare, place=replace(bare.place, piece=pieces[0] + more))


_A_PAIR = 2


def harmless(text: str) -> str:
    """Return ``text`` with every letter that has no shape spelled out, line feeds excepted.

    A name in a stranger's file would otherwise steer the terminal (ECMA-48, escape sequences).
    """
    return "".join(
        repr(letter)[1:-1] if unicodedata.category(letter)[0] == "C" and letter != "\n" else letter
        for letter in text
    )


def say(text: str, err: bool = False) -> None:
    """Write a text in which something stands that others wrote."""
    click.echo(harmless(text), err=err)


def width() -> int:
    """Return how many letters a line of the terminal holds."""
    return shutil.get_terminal_size((100, 24)).columns


def wrapped(line: str, most: int) -> list[str]:
    """Return a line in lines of at most so many letters, each with its indent."""
    indent = line[: len(line) - len(line.lstrip())]
    return textwrap.wrap(
        line, most, subsequent_indent=indent, break_long_words=False, break_on_hyphens=False
    )


def at_a_terminal() -> bool:
    """Tell whether somebody sits there who can be asked."""
    return sys.stdin.isatty() and sys.stderr.isatty()


def _plain(value: Any) -> Any:
    """Return as text or plain values what JSON has no form for: days, amounts, paths, findings."""
    if isinstance(value, Path | Decimal):
        return str(value)
    return value.isoformat() if isinstance(value, dt.date) else value.as_json()


def echo_json(record: Mapping[str, Any]) -> None:
    """Write one JSON object; what its values are besides plain ones, they tell themselves."""
    encoding: str | None = getattr(sys.stdout, "encoding", None)
    takes_all = (encoding or "").lower().replace("-", "") == "utf8"
    click.echo(json.dumps(record, default=_plain, ensure_ascii=not takes_all, indent=2))


class Bar:
    """A progress bar that shows itself on a terminal once a second has gone by."""

    def __init__(self, doing: str) -> None:
        self.doing = doing
        self._begun = time.monotonic()
        self._bar: Any = None
        self._at = 0

    def __enter__(self) -> Bar:
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        if self._bar is not None:
            with contextlib.suppress(OSError):  # a terminal that is gone must not stop the work
                self._bar.render_finish()

    def __call__(self, done: int, total: int) -> None:
        """Tell how far the work has come."""
        with contextlib.suppress(OSError):
            self._tell(done, total)

    def _tell(self, done: int, total: int) -> None:
        if self._bar is None:
            if not sys.stderr.isatty() or time.monotonic() - self._begun < 1.0:
                return
            self._bar = click.progressbar(length=total, label=self.doing, file=sys.stderr)
            self._bar.render_progress()
        if done < self._at or total != self._bar.length:
            self._bar.length, self._at = total, 0
            self._bar.pos = 0
        self._bar.update(done - self._at)
        self._at = done


def echo_table(heads: Sequence[str], rows: Sequence[Sequence[object]]) -> None:
    """Write a table; a column of nothing but numbers is set to the right."""
    cells = [[harmless(f"{cell:,}" if _is_number(cell) else str(cell)) for cell in row]
             for row in rows]  # fmt: skip
    columns = range(len(heads))
    right = [bool(rows) and all(_is_number(row[at]) for row in rows) for at in columns]
    widths = [max(len(line[at]) for line in [list(heads), *cells]) for at in columns]
    for line in [list(heads), *cells]:
        set_ = (
            cell.rjust(width) if to_right else cell.ljust(width)
            for cell, width, to_right in zip(line, widths, right, strict=True)
        )  # fmt: skip
        click.echo("  ".join(set_).rstrip())


def _is_number(cell: object) -> bool:
    return isinstance(cell, int) and not isinstance(cell, bool)
