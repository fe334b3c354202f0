"""One table of the maker's TOML: values read with their kind, errors collected with their line.

A bad value becomes a finding and a harmless stand-in, so that one reading finds everything.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Any

from labeler.findings import Finding, did_you_mean, stop
from labeler.press.written import Written
from labeler.units import Length

LONGEST = 200 * 72.0
"""ISO 32000-1:2008, annex C.2: a page may measure 14,400 units."""

DPI = range(72, 4801)
"""From the coarsest screen to the finest typesetter."""

_A_LENGTH = "a length with its unit, such as 2 5/8 in, 66.7 mm or 12 pt"


class Table:
    """The table that stands under ``keys``."""

    def __init__(self, written: Written, keys: tuple[str, ...], findings: list[Finding]) -> None:
        self.written = written
        self.keys = keys
        self.findings = findings
        self._before = len(findings)
        values: Any = written.values
        for key in keys:
            values = values[key]
        self.values: dict[str, Any] = values

    @property
    def sound(self) -> bool:
        """Whether nothing has been found in this table so far."""
        return len(self.findings) == self._before

    def complain(self, key: str, rule: str, message: str, **rest: str) -> None:
        """Add a finding about ``key``, or about the table if that is empty."""
        place = self.written.place(*self.keys, *([key] if key else []))
        self.findings.append(stop(rule, place, message, **rest))

    def wrong(self, key: str, value: object, expected: str, hint: str = "") -> None:
        """Add the finding that the value of ``key`` is none that was expected."""
        self.complain(
            key,
            "value-not-understood",
            f"{key} is not understood",
            found=repr(value),
            expected=expected,
            hint=hint,
        )

    def refuse_all_but(self, *allowed: str) -> None:
        """Add a finding for each key that is not allowed."""
        what = f"a {self.keys[0]}" if self.keys else "this file"
        for key in self.values:
            if key not in allowed:
                self.complain(
                    key,
                    "unknown-key",
                    f"{key!r} is no key of {what}",
                    hint=did_you_mean(key, allowed),
                )

    def length(self, key: str, default: float = 0.0) -> float:
        """Return a length in points."""
        return self._length(key, self.values[key], False) if key in self.values else default

    def lengths(self, key: str, signed: bool = False) -> tuple[float, float]:
        """Return two lengths in points, across and down; ``signed`` ones may be negative."""
        value = self.values.get(key)
        if not isinstance(value, list) or len(value) != 2:
            self.wrong(key, value, 'two lengths, across and down, such as ["2 5/8 in", "1 in"]')
            return 1.0, 1.0
        return self._length(key, value[0], signed), self._length(key, value[1], signed)

    def numbers(self, key: str, least: float, most: float) -> tuple[float, float]:
        """Return two plain numbers between ``least`` and ``most``."""
        value = self.values.get(key)
        if (
            isinstance(value, list)
            and len(value) == 2
            and all(isinstance(part, (int, float)) and least <= part <= most for part in value)
        ):
            return float(value[0]), float(value[1])
        self.wrong(key, value, f"two numbers from {least:g} to {most:g}, across and down")
        return least, least

    def whole(self, key: str, allowed: range) -> int:
        """Return a whole number."""
        value = self.values.get(key)
        if isinstance(value, int) and not isinstance(value, bool) and value in allowed:
            return value
        self.wrong(key, value, f"a whole number from {allowed[0]} to {allowed[-1]}")
        return allowed[0]

    def choice(self, key: str, allowed: Sequence[str], default: str) -> str:
        """Return one of the words allowed."""
        value = self.values.get(key, default)
        if isinstance(value, str) and value in allowed:
            return value
        hint = did_you_mean(value, allowed) if isinstance(value, str) else ""
        self.wrong(key, value, " or ".join(allowed), hint)
        return default

    def _length(self, key: str, value: object, signed: bool) -> float:
        if isinstance(value, str):
            text = value.strip().replace("\N{MINUS SIGN}", "-")
            minus = signed and text.startswith("-")
            try:
                length = Length.parse(text[1:].strip() if minus else text).pt
            except (ValueError, OverflowError):
                length = LONGEST + 1
            if length <= LONGEST:
                return -length if minus else length
        self.wrong(key, value, _A_LENGTH)
        return 1.0


def tables(written: Written, room: str, findings: list[Finding]) -> Iterator[tuple[str, Table]]:
    """Yield the tables under ``room`` by name; whatever is no table there is a finding."""
    values = written.values.get(room, {})
    if not isinstance(values, dict):
        place = written.place(room)
        findings.append(
            stop("value-not-understood", place, f"{room} must be a table, [{room}.NAME]")
        )
        return
    for name, table in values.items():
        if isinstance(table, dict):
            yield name, Table(written, (room, name), findings)
        else:
            place = written.place(room, name)
            findings.append(stop("value-not-understood", place, f"[{room}.{name}] must be a table"))
