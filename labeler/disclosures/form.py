"""The rules on how a declaration stands, read from ``form.toml``: numbers beside their sources."""

from __future__ import annotations

import tomllib
from collections.abc import Sequence
from functools import cache
from pathlib import Path

from pydantic import Field, ValidationError

from labeler.catalog.kinds import PaperLength
from labeler.disclosures.rules import Record, Sentence, Sourced
from labeler.findings import LabelerError, Place, stop


class HeightRow(Record):
    """One row of the table of type heights."""

    up_to: float | None = Field(None, alias="up-to")
    """The panel's area in square inches; none for the last row."""
    inches: PaperLength
    mm: PaperLength
    uniform_mm: PaperLength = Field(alias="uniform-mm")

    @property
    def firm(self) -> float:
        """The height in points that the text as read asks for."""
        return max(self.inches.pt, self.mm.pt)

    @property
    def points(self) -> float:
        """The height in points that satisfies every version of the table."""
        return max(self.firm, self.uniform_mm.pt)


class FormRule(Sourced):
    """One rule on the form of a declaration, with the figures that it names."""

    number: float | None = None
    numbers: tuple[int, ...] = ()
    size: PaperLength | None = None
    words: tuple[str, ...] = ()
    row: tuple[HeightRow, ...] = ()
    placement: Sentence | None = None
    """What else is to be known of the figures."""


class _FormFile(Record):
    rule: tuple[FormRule, ...]


@cache
def rules() -> dict[str, FormRule]:
    """Return every rule on form by its id.

    Raises:
        LabelerError: with every fault in the file.
    """
    path = Path(__file__).with_name("form.toml")
    try:
        file = _FormFile.model_validate(tomllib.loads(path.read_text(encoding="utf-8")))
    except ValidationError as error:
        raise LabelerError(
            stop("rule-value", Place(str(path), key=_key(item["loc"])), item["msg"])
            for item in error.errors()
        ) from None
    return {rule.id: rule for rule in file.rule}


def _key(where: Sequence[str | int]) -> str:
    return ".".join(str(part) for part in where)


def number(rule_id: str) -> float:
    """Return the number of the rule on form called ``rule_id``."""
    found = rules()[rule_id].number
    if found is None:
        raise KeyError(f"{rule_id} has no number")
    return found


def size_pt(rule_id: str) -> float:
    """Return the size, in points, of the rule on form called ``rule_id``."""
    found = rules()[rule_id].size
    if found is None:
        raise KeyError(f"{rule_id} has no size")
    return found.pt
