"""What the ledger keeps as JSON: each kind of document by its number, whatever the program becomes.

Rows are never changed, so a document stays as it was written and is brought up to date each time it
is read. Every document says which form of its kind it has, and which version of the program first
read that form: ``{"schema": 2, "needs": "0.1.0", "ink": "colour", ...}``. One without a number has
the first form, the plain dump of a record.

A form's keys are written out here, in `documents` and in `weigh`, and nowhere else. When a field of
a living record takes another name, its key stays and a `RenamedField` gives the new name; when a
class does, only its import changes. To change a form itself: leave the upcasts that are there
alone; alter the shape, add an upcast from the last number with the version that brings it, add a
step to `open` so that an older program does not open the ledger, and keep a ledger of the old form
with the tests.

What was kept is not held against the catalog's rules of today, which may be stricter by then; only
that every key is there and holds a value of its kind.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Generic, NoReturn, TypeVar

from labeler.findings import Place, refusal

Document = dict[str, Any]
"""A document as JSON has it."""

Record = TypeVar("Record")


class UnsoundError(Exception):
    """A document is not what its number says: where in it, what stands there, what should."""

    def __init__(self, found: object, expected: str) -> None:
        super().__init__(expected)
        self.path: list[str] = []
        self.found, self.expected = repr(found), expected


@dataclass(frozen=True, slots=True)
class Codec:
    """Turns a value into JSON's and back; what reads raises `UnsoundError`."""

    write: Callable[[Any], Any]
    read: Callable[[Any], Any]


def _plain(expected: str, *kinds: type) -> Codec:
    """Return how a value is stored that JSON has itself."""

    def read(kept: Any) -> Any:
        if not isinstance(kept, kinds) or (isinstance(kept, bool) and bool not in kinds):
            raise UnsoundError(kept, expected)
        return kept

    return Codec(lambda value: value, read)


def in_words(expected: str, writer: Callable[[Any], str], reader: Callable[[str], Any]) -> Codec:
    """Return how a value is stored that is written as text."""

    def read(kept: Any) -> Any:
        try:
            return reader(TEXT.read(kept))
        except (ValueError, ArithmeticError, KeyError):
            raise UnsoundError(kept, expected) from None

    return Codec(writer, read)


def lacking(inner: Codec | Shape[Any]) -> Codec:
    """Return how a value is stored that may be missing."""
    return Codec(
        lambda value: None if value is None else inner.write(value),
        lambda kept: None if kept is None else inner.read(kept),
    )


def listed(inner: Codec | Shape[Any]) -> Codec:
    """Return how a tuple of values is stored: as a list."""

    def read(kept: Any) -> Any:
        if not isinstance(kept, list):
            raise UnsoundError(kept, "a list")
        return tuple(_at(str(at), inner, each) for at, each in enumerate(kept, 1))

    return Codec(lambda value: [inner.write(each) for each in value], read)


def mapped(inner: Codec | Shape[Any]) -> Codec:
    """Return how values by name are stored."""
    return Codec(
        lambda value: {name: inner.write(each) for name, each in value.items()},
        lambda kept: {name: _at(name, inner, each) for name, each in as_object(kept).items()},
    )


@dataclass(frozen=True, slots=True)
class RenamedField:
    """A value whose field in the living record has another name than its key."""

    attribute: str
    codec: Codec | Shape[Any]


class Shape(Generic[Record]):
    """How a record is stored: its keys, and of each the field that it is.

    Args:
        make: makes the record of its fields.
        keys: by key, how the value is stored; `RenamedField` where the field has another name.
    """

    def __init__(
        self, make: Callable[..., Record], **keys: Codec | Shape[Any] | RenamedField
    ) -> None:
        self.make = make
        self.keys: dict[str, RenamedField] = {
            key: codec if isinstance(codec, RenamedField) else RenamedField(key, codec)
            for key, codec in keys.items()
        }

    def write(self, value: Record) -> Document:
        """Return the record as JSON has it."""
        return {
            key: called.codec.write(getattr(value, called.attribute))
            for key, called in self.keys.items()
        }

    def read(self, kept: Any) -> Record:
        """Return the record that was stored."""
        found = as_object(kept)
        if odd := sorted(found.keys() ^ self.keys.keys()):
            raise UnsoundError(odd[0], "a key" if odd[0] in self.keys else "no such key")
        return self.make(
            **{
                called.attribute: _at(key, called.codec, found[key])
                for key, called in self.keys.items()
            }
        )


def as_object(kept: Any) -> Document:
    """Return an object of JSON as it is.

    Raises:
        UnsoundError: if it is none.
    """
    if not isinstance(kept, dict):
        raise UnsoundError(kept, "an object")
    return kept


def _at(key: str, codec: Codec | Shape[Any], kept: Any) -> Any:
    try:
        return codec.read(kept)
    except UnsoundError as error:
        error.path.insert(0, key)
        raise


TEXT = _plain("a text", str)
WHOLE = _plain("a whole number", int)
_EITHER = _plain("a number", int, float)
NUMBER = Codec(float, lambda kept: float(_EITHER.read(kept)))
YES_NO = _plain("true or false", bool)
OBJECT = _plain("an object", dict)
SOME_TEXT, SOME_WHOLE, SOME_NUMBER = lacking(TEXT), lacking(WHOLE), lacking(NUMBER)
TEXTS = listed(TEXT)


def _findings_2(first: Any) -> Document:
    """Put the list, which had no room for a number, under a name."""
    return {"findings": first}


Upcast = Callable[[Any], Document]


@dataclass(frozen=True, slots=True)
class StoredKind(Generic[Record]):
    """One kind of document.

    Attributes:
        name: what a maker would call it.
        shape: its form of today.
        upcasts: from the first number to the second, from the second to the third, and so on.
        needs: the version of the program that first read each number, from the second on.
    """

    name: str
    shape: Shape[Record]
    upcasts: tuple[Upcast, ...]
    needs: tuple[str, ...]

    @property
    def number(self) -> int:
        """The number of its form of today."""
        return len(self.upcasts) + 1

    def write(self, value: Record) -> Document:
        """Return the document that is stored, in today's form."""
        return {"schema": self.number, "needs": self.needs[-1]} | self.shape.write(value)

    def read(self, kept: Any, place: Place) -> Record:
        """Return what a document of any number says.

        Args:
            kept: the document as JSON has it.
            place: where it is kept, for the findings.

        Raises:
            LabelerError: if a newer program wrote it, with the version that reads it, or if it
                is not what its number says.
        """
        try:
            return self.shape.read(self._of_today(kept, place))
        except UnsoundError as error:
            raise refusal(
                "stored-unreadable",
                place,
                f"{self.name}, as the ledger keeps it, is damaged",
                found=f"{' > '.join(error.path)}: {error.found}" if error.path else error.found,
                expected=error.expected,
                hint="Put a backup of the ledger in its place: labeler lot backup --help",
            ) from error

    def write_file(self, value: Record) -> bytes:
        """Return the document as a file, always the same for the same value."""
        text = json.dumps(self.write(value), ensure_ascii=False, sort_keys=True)
        return text.encode()

    def read_file(self, data: bytes, place: Place) -> Record:
        """Return what a file of any number says.

        Raises:
            LabelerError: as `read` does.
        """
        try:
            kept = json.loads(data)
        except ValueError:  # neither JSON nor UTF-8
            kept = data[:40]
        return self.read(kept, place)

    def _of_today(self, kept: Any, place: Place) -> Document:
        numbered = isinstance(kept, dict) and "schema" in kept
        number = kept["schema"] if numbered else 1
        if not isinstance(number, int) or isinstance(number, bool) or number < 1:
            raise UnsoundError(number, f"a schema number from 1 to {self.number}")
        if number > self.number:
            found = f"{self.name}, schema {number}"
            refuse_newer(place, found, f"at most schema {self.number}", str(kept.get("needs", "")))
        body = {k: v for k, v in kept.items() if k not in ("schema", "needs")} if numbered else kept
        for upcast in self.upcasts[number - 1 :]:
            body = upcast(body)
        return as_object(body)


def refuse_newer(place: Place, found: str, expected: str, needs: str) -> NoReturn:
    """Refuse what a newer version of the program stored.

    Raises:
        LabelerError: always; it says which version is needed, where that is known.
    """
    version = f"version {needs} or a later one" if needs else "the newest version"
    raise refusal(
        "stored-newer",
        place,
        "this was stored by a newer version of the program",
        found=found,
        expected=expected,
        hint=f"Install {version} on this computer too; nothing was changed.",
    )


@dataclass(frozen=True, slots=True)
class _Findings:
    findings: tuple[dict[str, Any], ...]


FINDINGS = StoredKind(
    "a run's findings", Shape(_Findings, findings=listed(OBJECT)), (_findings_2,), ("0.1.0",)
)


def write_findings(findings: Sequence[Mapping[str, Any]]) -> Document:
    """Return the document that keeps a run's findings, each as `Finding.as_json` has it."""
    return FINDINGS.write(_Findings(tuple(dict(each) for each in findings)))


def read_findings(kept: Any, place: Place) -> tuple[dict[str, Any], ...]:
    """Return a run's findings as plain values.

    Raises:
        LabelerError: as `StoredKind.read` does.
    """
    return FINDINGS.read(kept, place).findings
