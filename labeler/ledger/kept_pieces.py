"""How a printed piece was made and what it had to say, as the ledger keeps it beside its layout."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Any, Literal

from labeler.disclosures.rules import Confidence
from labeler.disclosures.statements import LeastSize, Statement, StatementForm, TextRun
from labeler.findings import Place
from labeler.ledger.stored import (
    NUMBER,
    SOME_WHOLE,
    TEXT,
    TEXTS,
    WHOLE,
    YES_NO,
    Document,
    Shape,
    StoredKind,
    as_object,
    in_words,
    lacking,
    listed,
    mapped,
)

LANGUAGE = 1
"""The number of the layout language that kept layouts are written in: its blocks and its fields."""


@dataclass(frozen=True, slots=True)
class KeptPicture:
    """A picture as it was printed: a file kept beside the layout, and its proportions."""

    file: str
    proportion: float
    width: int
    height: int


@dataclass(frozen=True, slots=True)
class Making:
    """How a piece was made, beside its layout, styles and statements.

    Attributes:
        use: bags or cards.
        width: in points.
        height: in points.
        ink: in colour or in black.
        dpi: the printer's dots an inch; None if they were not known.
        day: the day whose rules it was made by.
        link: what its code leads to.
        faces: SHA-256 of the file of every typeface on it, by name.
        pictures: those on it, by number.
        marks: SHA-256 of its marks.
        marks_form: the form of the text that it is the SHA-256 of.
        language: the number of the layout language that its layout is written in.
        program: the version that made it.
    """

    use: str
    width: float
    height: float
    ink: Literal["colour", "black"]
    dpi: int | None
    day: str
    link: str
    faces: dict[str, str]
    pictures: dict[str, KeptPicture] = field(default_factory=dict)
    marks: str = ""
    marks_form: int = 0
    language: int = LANGUAGE
    program: str = ""


_TRUST = {
    "read": Confidence.READ,
    "secondary": Confidence.SECONDARY,
    "from memory": Confidence.MEMORY,
}
TRUST = in_words(
    "read, secondary or from memory",
    {trust: word for word, trust in _TRUST.items()}.__getitem__,
    _TRUST.__getitem__,
)

# ------------------------------------------------------------------------ what a piece had to say

_RUN = Shape(TextRun, text=TEXT, bold=YES_NO)
_LEAST = Shape(LeastSize, measure=TEXT, points=NUMBER, firm=NUMBER)
_FORM = Shape(
    StatementForm,
    runs=listed(_RUN), least=listed(_LEAST), triangle=YES_NO, as_large_as_other=YES_NO,
    rule=TEXT, until=TEXT,
)  # fmt: skip
_STATEMENT = Shape(
    Statement,
    id=TEXT, kind=TEXT, full=_FORM, short=lacking(_FORM), accepted=listed(_FORM),
    expired=listed(_FORM), emphasis=TEXT, duty=TEXT, markets=TEXTS, rules=TEXTS,
    confidence=TRUST, placement=TEXTS,
)  # fmt: skip


def _statements_2(first: Any) -> Document:
    """Put the list, which had no room for a number, under a name."""
    return {"statements": first}


# --------------------------------------------------------------------------- how a piece was made

_KEPT_PICTURE = Shape(KeptPicture, file=TEXT, proportion=NUMBER, width=WHOLE, height=WHOLE)
_MAKING = Shape(
    Making,
    use=TEXT, width=NUMBER, height=NUMBER, ink=TEXT, dpi=SOME_WHOLE, day=TEXT, link=TEXT,
    faces=mapped(TEXT), pictures=mapped(_KEPT_PICTURE), marks=TEXT, marks_form=WHOLE,
    language=WHOLE, program=TEXT,
)  # fmt: skip


def _making_2(first: Any) -> Document:
    """Tell the marks by their first form, and the layout by its first language."""
    kept = {"pictures": {}, "marks": "", "program": ""} | as_object(first)
    return kept | {"marks_form": 0, "language": 1}


@dataclass(frozen=True, slots=True)
class _Statements:
    statements: tuple[Statement, ...]


MAKING = StoredKind("how a piece was made", _MAKING, (_making_2,), ("0.1.0",))
STATEMENTS = StoredKind(
    "what a piece had to say",
    Shape(_Statements, statements=listed(_STATEMENT)),
    (_statements_2,),
    ("0.1.0",),
)


def write_statements(said: Sequence[Statement]) -> bytes:
    """Return the file that keeps what a piece had to say."""
    return STATEMENTS.write_file(_Statements(tuple(said)))


def read_statements(data: bytes, place: Place) -> tuple[Statement, ...]:
    """Return what a piece had to say.

    Raises:
        LabelerError: as `StoredKind.read` does.
    """
    return STATEMENTS.read_file(data, place).statements
