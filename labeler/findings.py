"""What there is to say about the maker's data or a finished page, and the one root error.

A finding is a value: readers and rules return them, nobody stops at the first. Only the
standard library is imported here, because every room speaks this.
"""

from __future__ import annotations

import difflib
import re
from collections.abc import Callable, Iterable, Sequence
from dataclasses import asdict, dataclass
from enum import Enum
from typing import Any, TypeVar

Item = TypeVar("Item")
Answer = TypeVar("Answer")


class Grade(Enum):
    """How much a finding weighs."""

    STOP = "stop"
    """Do not print."""
    FIX = "fix"
    """Print at your own judgement."""
    NOTE = "note"
    """Good to know."""


@dataclass(frozen=True, slots=True)
class Place:
    """Where a finding stands: in a file, or on a finished page.

    ``box`` is left, top, right, bottom in points from the page's top left corner.
    """

    file: str = ""
    line: int | None = None
    cell: str = ""
    key: str = ""
    page: int | None = None
    piece: str = ""
    block: str = ""
    box: tuple[float, float, float, float] | None = None

    def as_json(self) -> dict[str, Any]:
        """Return the place as plain JSON values, without the empty ones."""
        return {key: value for key, value in asdict(self).items() if value not in (None, "")}

    def __str__(self) -> str:
        spot = self.file
        if self.line is not None:
            spot += f":{self.line}"
        if self.cell:
            spot += f" cell {self.cell}"
        words = [spot] if spot else []
        words += [self.key] if self.key else []
        words += [f"page {self.page}"] if self.page is not None else []
        words += [self.piece] if self.piece else []
        words += [f"block {self.block}"] if self.block else []
        return ", ".join(words)


@dataclass(frozen=True, slots=True)
class Finding:
    """One thing to say, with what stands there and what was expected."""

    rule: str
    grade: Grade
    place: Place
    message: str
    found: str = ""
    expected: str = ""
    hint: str = ""
    source: str = ""

    def as_json(self) -> dict[str, Any]:
        """Return the finding as plain JSON values, without the empty ones."""
        record = asdict(self) | {"grade": self.grade.value, "place": self.place.as_json()}
        return {key: value for key, value in record.items() if value not in ("", {})}

    def __str__(self) -> str:
        where = f"{self.place}: " if str(self.place) else ""
        text = f"{where}{self.message}"
        if self.found:
            text += f"; found {self.found}"
        if self.expected:
            text += f"; expected {self.expected}"
        text += f" [{self.rule}]"
        if self.hint:
            text += f"\n    {self.hint}"
        return text


class LabelerError(Exception):
    """The program cannot go on; the findings say why and what to do about it.

    ``exit_status`` is 2 for wrong input or wrong use, 1 for findings that stop the press.
    """

    def __init__(self, findings: Finding | Iterable[Finding], exit_status: int = 2) -> None:
        self.findings: tuple[Finding, ...] = (
            (findings,) if isinstance(findings, Finding) else tuple(findings)
        )
        self.exit_status = exit_status
        super().__init__("\n".join(str(f) for f in self.findings))


def stop(rule: str, place: Place, message: str, **rest: str) -> Finding:
    """Return a finding that stops the press."""
    return Finding(rule, Grade.STOP, place, message, **rest)


def refusal(rule: str, place: Place, message: str, **rest: str) -> LabelerError:
    """Return the error to raise where one finding stops everything."""
    return LabelerError(stop(rule, place, message, **rest))


def fix(rule: str, place: Place, message: str, **rest: str) -> Finding:
    """Return a finding that the maker may overrule."""
    return Finding(rule, Grade.FIX, place, message, **rest)


def note(rule: str, place: Place, message: str, **rest: str) -> Finding:
    """Return a finding that is only good to know."""
    return Finding(rule, Grade.NOTE, place, message, **rest)


def read_each(read: Callable[[Item], Answer], items: Iterable[Item]) -> list[Answer]:
    """Return what ``read`` makes of each item.

    Raises:
        LabelerError: with the findings of every item that it refuses.
    """
    answers: list[Answer] = []
    findings: list[Finding] = []
    for item in items:
        try:
            answers.append(read(item))
        except LabelerError as error:
            findings += error.findings
    if findings:
        raise LabelerError(findings)
    return answers


def nearest(word: str, names: Iterable[str]) -> str:
    """Return the name nearest to ``word``, whatever its case, or ``""`` if none is near."""
    folded = {name.casefold(): name for name in names}
    close = difflib.get_close_matches(word.casefold(), list(folded), n=1, cutoff=0.5)
    return folded[close[0]] if close else ""


def did_you_mean(word: str, names: Sequence[str]) -> str:
    """Return the hint for an unknown ``word``: the nearest name, or all if they are few."""
    close = nearest(word, names)
    if close:
        return f"Did you mean {close!r}?"
    if not names:
        return ""
    fitting = [name for name in names if word and word.casefold() in name.casefold()]
    return f"Known: {listed(sorted(fitting or names))}"


_LETTERS_SHOWN = 480
"""Six lines of eighty: a list to be read, beside what else is on the screen."""


def listed(names: Sequence[str], most: int = 0) -> str:
    """Return names in one line: all that a screen has room for, or ``most``, and how many more.

    One more is named instead of counted.
    """
    if not most:
        letters = 0
        for name in names:
            letters += len(name) + 2
            most += letters <= _LETTERS_SHOWN
    more = len(names) - most
    if more <= 1:
        return ", ".join(names)
    return f"{', '.join(names[:most])} and {more} more"


LONGEST = 80
"""Letters of a text that a message shows."""


_WORD = re.compile(r"[^\s\"']+")
_ADDRESS = re.compile(r"((?<![\w+.-])[\w+.-]++:/++[^\s:/@]*+|(?<![^\s:/@])[^\s:/@]++):(?!//).*@")
_FIELD = re.compile(r"((?<!\w)(?=\w*?(?:pass|pwd|secret))\w++\s*+=\s*)[^&\s\"']+", re.IGNORECASE)
# Each is tried where a word begins, and goes over its letters once: a cell may hold thousands.


def masked(text: str) -> str:
    """Return ``text`` without the passwords of addresses in it, however they are mistyped."""
    if "@" in text:
        text = _WORD.sub(_without_password, text)
    return _FIELD.sub(r"\1***", text)


def _without_password(word: re.Match[str]) -> str:
    before, at, after = word[0].rpartition("@")
    return _ADDRESS.sub(r"\1:***@", before + at) + after


def shown(text: str) -> str:
    """Return ``text`` cut short, with what a terminal would obey or not show made visible.

    Passwords of addresses are left out: what is shown is copied into questions to others.
    """
    text = masked(text)
    visible = "".join(
        letter if letter.isprintable() else letter.encode("unicode_escape").decode()
        for letter in text[:LONGEST]
    )
    return visible + "…" if len(text) > LONGEST else visible


def as_written(value: Any) -> str:
    """Return a value much as TOML writes it."""
    if isinstance(value, str):
        return f'"{shown(value)}"'
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, dict):
        return "a table"
    if isinstance(value, list):
        if not value:
            return "an empty list"
        if len(value) <= _LIST_SHOWN and not any(isinstance(one, list | dict) for one in value):
            return "[" + ", ".join(as_written(one) for one in value) + "]"
        return f"a list of {len(value)}"
    return shown(str(value))


_LIST_SHOWN = 2


def plural(count: int, thing: str) -> str:
    """Return ``1 label`` or ``12 labels``."""
    return f"{count:,} {thing}" if count == 1 else f"{count:,} {thing}s"


def a_few(names: Sequence[str], most: int = 6) -> str:
    """Return the first ``most`` names with a count of the others."""
    return listed(names, most)
