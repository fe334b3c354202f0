"""Finds layouts, sheets, styles and fonts: the maker's own first, then the shipped ones.

In a checkout ``layouts/`` and ``fonts/`` lie beside the package; in an installed wheel they
lie inside it, under ``shipped/``. An editable install has no ``shipped/``, so the checkout is
looked for first.
"""

from __future__ import annotations

import tomllib
from pathlib import Path
from typing import Any

from labeler.findings import LabelerError, Place, did_you_mean, stop

Stamps = tuple[tuple[str, int, int], ...]
"""Path, time of change and size of some files."""

_PACKAGE = Path(__file__).resolve().parent


def shipped(room: str) -> Path:
    """Return the folder ``room`` (``layouts``, ``fonts`` or ``starter``) that ships with us."""
    for folder in (_PACKAGE.parent / room, _PACKAGE / "shipped" / room):
        if folder.is_dir():
            return folder
    raise LabelerError(
        stop(
            "installation-incomplete",
            Place(file=str(_PACKAGE)),
            f"the program's own folder {room!r} is missing",
            hint="Install the program again.",
        )
    )


def shelves(room: str, own: Path | None) -> list[Path]:
    """Return the folders to look in, the maker's ``own`` folder's first."""
    mine = [own / room] if own is not None and (own / room).is_dir() else []
    return [*mine, shipped(room)]


def stamps(room: str, names: str, own: Path | None) -> Stamps:
    """Return what tells files on the shelves from others and from their older selves.

    What was read from the shelves may be kept under these: a maker's file that changes while
    the program runs is read anew, and two catalogs never see each other's.
    """
    found = []
    for folder in shelves(room, own):
        for file in sorted(folder.resolve().glob(names)):
            try:
                state = file.stat()
            except OSError:
                continue
            found.append((str(file), state.st_mtime_ns, state.st_size))
    return tuple(found)


def names(room: str, suffix: str, own: Path | None) -> list[str]:
    """Return the names, less ``suffix``, of every file of that kind on the shelves."""
    found = {
        path.name.removesuffix(suffix)
        for folder in shelves(room, own)
        for path in folder.glob(f"*{suffix}")
    }
    return sorted(found)


def find(room: str, name: str, suffix: str, own: Path | None) -> Path:
    """Return the file called ``name`` + ``suffix``, the maker's own if there is one.

    Raises:
        LabelerError: if there is none, with the nearest name; or if the name leads out of
            the folder.
    """
    known = names(room, suffix, own)
    if name in known:
        for folder in shelves(room, own):
            if (folder / (name + suffix)).is_file():
                return folder / (name + suffix)
    raise LabelerError(
        stop(
            f"unknown-{room.removesuffix('s')}",
            Place(file=room),
            f"there is no {room.removesuffix('s')} called {name!r}",
            hint=did_you_mean(name, known),
        )
    )


_LARGEST = 1_000_000
"""A file of styles or faces is a page or two of text; a megabyte is something else."""


def tables_in(file: Path) -> dict[str, Any]:
    """Return what a TOML file on the shelves says.

    Raises:
        LabelerError: if it can't be read, is no TOML, or is too large to be what it is called.
    """
    try:
        raw = file.read_bytes() if file.stat().st_size <= _LARGEST else None
        if raw is not None:
            return tomllib.loads(raw.decode("utf-8-sig").replace("\r\n", "\n"))
        why = f"it has more than {_LARGEST:,} bytes"
    except tomllib.TOMLDecodeError as error:
        why = f"this is not TOML: {error}"
    except UnicodeDecodeError:
        why = "this is not TOML: it is not UTF-8 text"
    except RecursionError:
        why = "it is nested too deep"
    except OSError as error:
        why = f"this can't be read: {(error.strerror or str(error)).lower()}"
    raise LabelerError(stop(f"{file.stem}-unreadable", Place(file=str(file)), why))
