"""What the checker has to say: findings, what was looked at, and what was not."""

from __future__ import annotations

import datetime as dt
import textwrap
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field, replace
from typing import Any

from labeler.disclosures.rules import NO_LEGAL_ADVICE
from labeler.findings import Finding, Grade

_ORDER = (Grade.STOP, Grade.FIX, Grade.NOTE)
WIDTH = 100
"""Letters a line where no terminal tells how wide it is."""

_NARROWEST = 40
_PLACES_SHOWN = 6

ONE_PROGRAM = "how a program other than PDFium draws the pages"
ALWAYS_OPEN = (
    "which paper lies in the printer, and what its own settings say: scale, tray, both sides",
    ONE_PROGRAM,
    "how ink, paper and glue turn out; a code that reads here is sound artwork, not a graded print",
    "what pictures and figures show",
    "whether the maker has warned of every substance that a law names",
)
"""What no reading of a file can tell."""


@dataclass(frozen=True)
class Report:
    """The checker's report on one PDF."""

    file: str
    findings: tuple[Finding, ...]
    pieces: int = 0
    products: int = 0
    pages: int = 0
    not_checked: tuple[str, ...] = ()
    day: dt.date | None = None
    markets: tuple[str, ...] = field(default=())
    noun: str = "piece"
    """What was counted: pieces, or the rows of a book."""
    made_again: str = ""
    """With what the file was compared that was made again of the same run; empty if it was not."""

    def of(self, grade: Grade) -> tuple[Finding, ...]:
        """Return the findings of one grade."""
        return tuple(each for each in self.findings if each.grade is grade)

    def called(self, name: str) -> Report:
        """Return the report on a file that was checked before it took its own name."""
        findings = tuple(
            replace(each, place=replace(each.place, file=name))
            if each.place.file == self.file
            else each
            for each in self.findings
        )
        return replace(self, file=name, findings=findings)

    @property
    def unread(self) -> bool:
        """Whether not one page could be looked at."""
        return not self.pages

    @property
    def stops(self) -> bool:
        """Whether anything says: do not print."""
        return any(each.grade is Grade.STOP for each in self.findings)

    @property
    def stopped_by(self) -> tuple[str, ...]:
        """The rules that say so, each once, in the order of the alphabet."""
        return tuple(sorted({each.rule for each in self.of(Grade.STOP)}))

    @property
    def summary(self) -> str:
        """The report in one line."""
        counts = ", ".join(f"{len(self.of(grade))} {grade.value}" for grade in _ORDER)
        verdict = "do not print" if self.stops else "nothing stops the press"
        looked = f"{_counted(self.pieces, self.noun)} on {_counted(self.pages, 'page')}"
        return f"{self.file}: {verdict}; {looked} checked: {counts}"

    def as_json(self) -> dict[str, Any]:
        """Return the report as plain JSON values."""
        return {
            "file": self.file,
            "stops": self.stops,
            "summary": self.summary,
            "pieces": self.pieces,
            "products": self.products,
            "pages": self.pages,
            "day": self.day.isoformat() if self.day else None,
            "markets": list(self.markets),
            "findings": [each.as_json() for each in self.findings],
            "made_again": self.made_again,
            "not_checked": list(self.not_checked),
            "no_legal_advice": NO_LEGAL_ADVICE,
        }

    def as_text(self, width: int = WIDTH) -> str:
        """Return the report for people: the summary first, then what is gravest."""
        lines = [_wrapped(self.summary, 0, width), "", *listed(self.findings, width)]
        if self.made_again:
            lines += [_wrapped(f"Compared: {self.made_again}.", 0, width), ""]
        if self.not_checked:
            open_points = (_wrapped(f"- {each}", 2, width) for each in self.not_checked)
            lines += ["Not checked:", *open_points, ""]
        return "\n".join([*lines, _wrapped(NO_LEGAL_ADVICE, 0, width)])


def listed(findings: Iterable[Finding], width: int = WIDTH) -> Iterator[str]:
    """Yield findings as numbered paragraphs, the gravest first, in lines of at most ``width``."""
    for number, (one, others) in enumerate(grouped(findings), 1):
        yield from _told(number, one, others, width)
        yield ""


def grouped(findings: Iterable[Finding]) -> list[tuple[Finding, list[Finding]]]:
    """Return findings that say the same of several pieces as one, the gravest first."""
    alike: dict[tuple[object, ...], list[Finding]] = {}
    for each in findings:
        told = () if each.grade is Grade.NOTE else (each.found, each.expected)
        alike.setdefault((each.grade, each.rule, each.message, *told), []).append(each)
    groups = sorted(alike.values(), key=lambda group: _ORDER.index(group[0].grade))
    return [(group[0], group[1:]) for group in groups]


def _told(number: int, one: Finding, others: list[Finding], width: int) -> Iterator[str]:
    where = f"{one.place}: " if str(one.place) else ""
    yield _wrapped(f"{number:>3}  {one.grade.value.upper():<5} {where}{one.message}", 11, width)
    if one.found:
        yield _wrapped(f"{'found':>19}  {one.found}", 21, width)
    if one.expected:
        yield _wrapped(f"{'expected':>19}  {one.expected}", 21, width)
    if others:
        yield _wrapped(f"{'also':>19}  {elsewhere(others)}", 21, width)
    if one.hint:
        yield _wrapped(f"{'':11}{one.hint}", 11, width)
    yield _wrapped(f"{'':11}[{one.rule}] {one.source}".rstrip(), 11, width)


def elsewhere(others: Sequence[Finding]) -> str:
    """Return where else the same is true, the first few places by name."""
    names = list(dict.fromkeys(_short(each) for each in others))
    if len(names) > _PLACES_SHOWN + 1:
        names[_PLACES_SHOWN:] = [f"and {len(names) - _PLACES_SHOWN} more"]
    return "; ".join(names)


def _short(each: Finding) -> str:
    place = each.place
    words = [place.piece] if place.piece else []
    words += [f"page {place.page}"] if place.page else []
    words += [f"cell {place.cell}"] if place.cell else []
    return " ".join(words) or str(place)


def _wrapped(text: str, indent: int, width: int) -> str:
    return textwrap.fill(
        text, max(width, _NARROWEST), subsequent_indent=" " * indent, break_long_words=False,
        break_on_hyphens=False, drop_whitespace=True, replace_whitespace=False,
    )  # fmt: skip


def _counted(count: int, noun: str) -> str:
    return f"{count:,} {noun}" if count == 1 else f"{count:,} {noun}s"
