"""What is typed into a form and not sent yet, kept under ``.desk/drafts`` until it is.

A page's script hands it over while it is typed, and fills it in when the page is opened again.
"""

from __future__ import annotations

import contextlib
import hashlib
import json
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

from labeler.desk.address import ROOM, room_in
from labeler.files import delivered

_KEPT = 40
"""Drafts that are kept, the newest."""

_ABOUT = {
    "/line/color": ("of", "for"), "/line/entry": ("table", "of"), "/line/products": ("of",),
    "/shops/book": ("dealer",), "/shops/orders/keep": ("instead",),
}  # fmt: skip
"""Fields that tell apart what forms with one address are about."""

_SAID_ONCE = frozenset(("once", "sure", "again", "even_so", "ahead", "instead"))
"""Fields that answer what was asked at that moment: they are never filled in for her."""


@dataclass(frozen=True, slots=True)
class FormDraft:
    """What was typed into a form.

    Attributes:
        form: the path that the form is sent to.
        fields: names and what stood in them, in the form's order.
        off: names of boxes that were not ticked.
    """

    form: str
    fields: tuple[tuple[str, str], ...]
    off: tuple[str, ...] = ()


class Drafts:
    """The drafts of a catalog's folder."""

    def __init__(self, folder: Path) -> None:
        self._folder = folder

    def keep(self, form: str, typed: Mapping[str, Sequence[str]], off: Iterable[str]) -> None:
        """Keep what stands in a form, in the place of what stood there before.

        Args:
            form: the path that it is sent to.
            typed: its fields.
            off: names of its boxes that are not ticked.

        Raises:
            LabelerError: if nothing can be written into the folder.
        """
        room = room_in(self._folder) / "drafts"
        room.mkdir(mode=0o700, exist_ok=True)
        fields = [(name, text) for name, texts in typed.items() if name not in _SAID_ONCE
                  for text in texts]  # fmt: skip
        left_off = [name for name in off if name not in _SAID_ONCE]
        record = {"form": form, "fields": fields, "off": left_off}
        with delivered(self._file(form, typed)) as file:
            file.write(json.dumps(record).encode())
        for old in self._files()[_KEPT:]:
            old.unlink(missing_ok=True)

    def find(self, form: str, typed: Mapping[str, Sequence[str]]) -> FormDraft | None:
        """Return what was typed into a form, which is told by its path and its own fields."""
        return _read(self._file(form, typed))

    def drop(self, form: str, typed: Mapping[str, Sequence[str]]) -> None:
        """Forget what was typed into a form: it was sent, or she leaves it."""
        with contextlib.suppress(OSError):
            self._file(form, typed).unlink(missing_ok=True)

    def forms(self) -> list[str]:
        """Return the paths of all forms into which something was typed."""
        found = (_read(file) for file in self._files())
        return sorted({draft.form for draft in found if draft})

    def _files(self) -> list[Path]:
        """Return the files of drafts, the newest first."""
        found = []
        for file in (self._folder / ROOM / "drafts").glob("*.json"):
            with contextlib.suppress(OSError):
                found.append((-file.stat().st_mtime_ns, file))
        return [file for _, file in sorted(found)]

    def _file(self, form: str, typed: Mapping[str, Sequence[str]]) -> Path:
        about = [form, *([name, *typed.get(name, ())] for name in _ABOUT.get(form, ()))]
        name = hashlib.sha256(json.dumps(about).encode()).hexdigest()[:16]
        return self._folder / ROOM / "drafts" / f"{name}.json"


def _read(file: Path) -> FormDraft | None:
    with contextlib.suppress(OSError, ValueError, KeyError, TypeError):
        known = json.loads(file.read_text("utf-8"))
        fields = tuple((str(name), str(text)) for name, text in known["fields"])
        return FormDraft(str(known["form"]), fields, tuple(map(str, known["off"])))
    return None
