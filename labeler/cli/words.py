"""How findings and reports are shown: in lines for people, as JSON for programs."""

from __future__ import annotations

import contextlib
import datetime as dt
import json
import sys
import time
import unicodedata
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import replace
from types import TracebackType
from typing import Any

import click

from labeler.findings import Finding, Grade, LabelerError, plural
from labeler.units import day_readings


def day(text: str | dt.date, today: dt.date | None = None) -> dt.date:
    """Return a day, as ISO 8601 or as people write it; without a year the last up to ``today``.

    Raises:
        ValueError: if it is none, or may be two.
    """
    if isinstance(text, dt.date):
        return text
    try:
        found = sorted(set(day_readings(text, today).values()))
    except ValueError:
        raise ValueError(f"{text!r} is no day; expected one such as 2027-03-01") from None
    if len(found) > 1:
        either = " or ".join(each.isoformat() for each in found)
        raise ValueError(f"{text!r} may be {either}; write the one that is meant")
    return found[0]


def past_day(text: str | dt.date) -> dt.date:
    """Return a day that may be written without its year, as today's and those before it are.

    Raises:
        ValueError: if it is none, or may be two.
    """
    return day(text, dt.date.today())  # noqa: DTZ011  (the day at the maker's computer)


_COLOURS = {Grade.STOP: "red", Grade.FIX: "yellow", Grade.NOTE: "cyan"}


def echo_error(error: LabelerError, as_json: bool) -> None:
    """Say why the program can't go on: everything at once, nothing twice."""
    findings = list(dict.fromkeys(error.findings))
    if as_json:
        echo_json({"done": False, "findings": [f.as_json() for f in findings]})
        return
    echo_findings(findings)
    stops = sum(f.grade is Grade.STOP for f in findings)
    nothing = f"{plural(stops, 'thing')} to put right; nothing" if stops else "Nothing"
    click.echo(f"{nothing} was written.", err=True)


def echo_usage_error(error: click.ClickException) -> None:
    """Say in JSON how the command was used wrongly."""
    record = {"rule": "wrong-use", "grade": "stop", "message": error.format_message()}
    echo_json({"done": False, "findings": [record]})


def echo_halt(finding: Finding, as_json: bool) -> None:
    """Say what ended the work from outside: the maker's hand, or the system."""
    if as_json:
        echo_json({"done": False, "findings": [finding.as_json()]})
    else:
        echo_findings([finding])


def echo_findings(findings: Iterable[Finding], err: bool = True, sources: bool = False) -> None:
    """Write findings one after the other, gravest first; what many pieces share is said once.

    With ``sources``, each says on whose word.
    """
    order = list(Grade)
    for finding in sorted(_shared(findings), key=lambda f: order.index(f.grade)):
        mark = click.style(f"{finding.grade.value:>4}", fg=_COLOURS[finding.grade], bold=True)
        click.echo(f"{mark}  {harmless(str(finding))}", err=err)
        if sources and finding.source:
            click.echo(f"    Source: {harmless(finding.source)}", err=err)


def agree(findings: Sequence[Finding]) -> None:
    """Say how something will be kept before it is; at a terminal, ask whether that is right."""
    echo_findings(findings)
    if findings and sys.stdin.isatty() and sys.stderr.isatty():
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


def echo_json(record: Mapping[str, Any]) -> None:
    """Write one JSON object."""
    encoding: str | None = getattr(sys.stdout, "encoding", None)
    takes_all = (encoding or "").lower().replace("-", "") == "utf8"
    click.echo(json.dumps(record, ensure_ascii=not takes_all, indent=2))


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
