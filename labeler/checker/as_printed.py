"""What in a file lets another page come out of the printer than the one that was looked at."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from typing import Any

from labeler.checker.objects import look, sequence, text_of
from labeler.checker.rulebook import asks, finding
from labeler.findings import Finding, Place


@asks("file-script")
def scripts(root: Any, place: Place) -> Iterator[Finding]:
    """Yield that something runs when the file is opened, printed or closed."""
    opened = text_of(look(look(root, "/OpenAction"), "/S"))
    named = look(look(root, "/Names"), "/JavaScript")
    if opened not in ("", "GoTo") or look(root, "/AA") is not None or named is not None:
        yield finding("file-script", place)


@asks("file-layers")
def layers(root: Any, place: Place) -> Iterator[Finding]:
    """Yield that layers are shown on paper otherwise than on the screen."""
    properties = look(root, "/OCProperties")
    groups = sequence(look(properties, "/OCGs"))
    uses = [look(look(groups, at), "/Usage") for at in range(min(len(groups), _MOST))]
    if any(look(use, "/Print") is not None for use in uses):
        yield finding("file-layers", place)


_MOST = 1_000


@asks("page-scaled")
def scaled(pages: Iterable[tuple[int, Any]], file: str) -> Iterator[Finding]:
    """Yield the pages whose units are not points, from their numbers and dictionaries."""
    for number, entry in pages:
        unit = look(entry, "/UserUnit")
        if unit is not None and unit != 1:
            yield finding("page-scaled", Place(file=file, page=number), found=f"{unit} points")
