"""A layout file and the facts of a product become markup text, in Jinja2's sandbox.

A layout from a stranger can put words and numbers together, and nothing else: no calls into
Python, no file outside the layouts' folders, no endless loop, no text that grows without bound.
A field that does not exist is an error, never a blank.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator, Mapping, Sequence
from pathlib import Path
from typing import Any

from jinja2 import BaseLoader, Template, TemplateError, TemplateNotFound, TemplateSyntaxError, meta
from jinja2.exceptions import SecurityError, UndefinedError

from labeler import shelf
from labeler.findings import Finding, LabelerError, Place, did_you_mean, stop
from labeler.layout.language import BLOCKS
from labeler.layout.sandbox import MOST_LETTERS, Sandbox

SUFFIX = ".xml.jinja"

_OPENING = re.compile(rf"<({'|'.join(BLOCKS)})(?=[\s/>]|$)")


class _Shelf(BaseLoader):
    """Looks layouts up by name on the shelves; writes into every tag where it stands.

    ``sources`` are the files read so far; a tag names its own by the place in this list.
    """

    def __init__(self, own: Path | None) -> None:
        self._own = own
        self._files: dict[str, Path] = {}
        self.sources: list[str] = []

    def file(self, name: str) -> Path:
        """Return the file of a layout, or raise with the nearest name."""
        if name not in self._files:
            self._files[name] = shelf.find("layouts", name, SUFFIX, self._own)
        return self._files[name]

    def get_source(self, environment: Any, template: str) -> tuple[str, str, Callable[[], bool]]:
        try:
            file = self.file(template)
        except LabelerError as error:
            raise TemplateNotFound(template, error.findings[0].hint) from error
        self.sources.append(str(file))
        return _stamped(_read(file), len(self.sources) - 1), str(file), lambda: True


def _read(file: Path) -> str:
    try:
        if file.stat().st_size > MOST_LETTERS:
            why = f"it has more than {MOST_LETTERS:,} bytes"
        else:
            return file.read_bytes().decode("utf-8-sig").replace("\r\n", "\n")
    except UnicodeDecodeError:
        why = "it is not UTF-8 text"
    except OSError as error:
        why = (error.strerror or str(error)).lower()
    raise LabelerError(
        stop("layout-unreadable", Place(file=str(file)), f"this can't be read as a layout: {why}")
    )


def _stamped(source: str, number: int) -> str:
    """Write into every tag the file's number and the line that it stands in, for messages."""
    return "\n".join(
        _OPENING.sub(lambda tag, n=at: f'<{tag[1]} line="{number}:{n}"', line)  # type: ignore[misc]
        for at, line in enumerate(source.split("\n"), start=1)
    )


class Layouts:
    """The layouts that can be reached from one catalog folder."""

    def __init__(self, own: Path | None = None) -> None:
        self.own = own
        self._shelf = _Shelf(own)
        self._sandbox = Sandbox(self._shelf)
        self._templates: dict[str, Template] = {}

    @property
    def files(self) -> Sequence[str]:
        """The layouts' files read so far, which rendered tags name by number."""
        return self._shelf.sources

    def names(self) -> list[str]:
        """Return the names of all layouts."""
        return shelf.names("layouts", SUFFIX, self.own)

    def file(self, name: str) -> Path:
        """Return the file of the layout called ``name``, or raise with the nearest name."""
        return self._shelf.file(name)

    def sources(self, name: str) -> dict[str, bytes]:
        """Return the file of layout ``name`` and of every layout that it takes in, by name.

        Where a layout takes in one whose name it makes up as it goes, all of them come along.

        Raises:
            LabelerError: if there is no such layout, or one of them can't be read.
        """
        found: dict[str, bytes] = {}
        open_ones = [name]
        while open_ones:
            one = open_ones.pop()
            if one in found or (one != name and one not in self.names()):
                continue
            file = self.file(one)
            try:
                tree = self._sandbox.parse(_read(file))
            except TemplateError as error:
                raise LabelerError(_fault(error, file, "")) from error
            found[one] = file.read_bytes()
            for other in meta.find_referenced_templates(tree):
                open_ones += self.names() if other is None else [other]
        return found

    def render(self, name: str, facts: Mapping[str, Any], sku: str = "") -> str:
        """Return the markup of layout ``name`` filled in with ``facts``.

        Every tag's ``line`` names its file by the place in `files`, and the line in it.

        Raises:
            LabelerError: with file, line and the nearest name, for any fault of the layout.
        """
        file = self.file(name)
        self._sandbox.budget.refill()
        try:
            if name not in self._templates:
                self._templates[name] = self._sandbox.get_template(name)
            return _bounded(self._templates[name].generate(facts))
        except UndefinedError as error:
            raise LabelerError(_unknown_field(error, file, facts, sku)) from error
        except (TemplateError, RecursionError, SyntaxError, *_MISTAKES) as error:
            raise LabelerError(_fault(error, file, sku)) from error


_MISTAKES = (TypeError, ValueError, ArithmeticError, LookupError, AttributeError)
"""What words and numbers can raise when they are put together wrongly."""


def _bounded(parts: Iterator[str]) -> str:
    kept: list[str] = []
    size = 0
    for part in parts:
        size += len(part)
        if size > MOST_LETTERS:
            raise SecurityError(f"it makes more than {MOST_LETTERS} letters of markup")
        kept.append(part)
    return "".join(kept)


def _spot(error: BaseException, file: Path) -> tuple[str, int | None]:
    """Return the layout's file and line that an error comes from.

    A fault of grammar knows them; else it is where the traceback ends, whose frames Jinja2 maps
    to the layouts' lines.
    """
    if isinstance(error, TemplateSyntaxError):
        return error.filename or str(file), error.lineno
    spot: tuple[str, int | None] = str(file), None
    trace = error.__traceback__
    while trace is not None:
        if trace.tb_frame.f_code.co_filename.endswith(SUFFIX):
            spot = trace.tb_frame.f_code.co_filename, trace.tb_lineno
        trace = trace.tb_next
    return spot


def _fault(error: BaseException, file: Path, sku: str) -> Finding:
    where, line = _spot(error, file)
    hint = ""
    if isinstance(error, TemplateNotFound):
        what, hint = f"it names a layout {error.name!r} that there is none of", error.message or ""
    elif isinstance(error, RecursionError | SyntaxError):
        what = "it nests too deep, or takes itself in without end"
    else:
        what = str(getattr(error, "message", None) or error)
    return stop(
        "layout-fault",
        Place(file=where, line=line, piece=sku),
        f"the layout can't be filled in: {what}",
        hint=hint,
    )


def _unknown_field(
    error: UndefinedError, file: Path, facts: Mapping[str, Any], sku: str
) -> Finding:
    words = re.findall(r"'([^']+)'", error.message or "")
    wanted = words[-1] if words else ""
    known = {name for value in facts.values() if isinstance(value, Mapping) for name in value}
    where, line = _spot(error, file)
    return stop(
        "layout-unknown-field",
        Place(file=where, line=line, piece=sku),
        f"the layout asks for a field that there is none of: {error.message}",
        hint=did_you_mean(wanted, sorted(known | set(facts))),
    )
