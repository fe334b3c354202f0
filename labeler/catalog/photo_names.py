"""Which file in photos/ a cell, or the name of a pattern and colour, means."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterable
from pathlib import Path, PurePosixPath

from labeler.catalog.structure import PHOTOS
from labeler.files import looked_at
from labeler.findings import Finding, Place, as_written, did_you_mean, stop

MOST_PHOTOS = 20_000
"""Files looked at in photos/ for the nearest name; more is another folder."""


class Photos:
    """The files in a catalog's photos/, looked through once."""

    def __init__(self, folder: Path) -> None:
        self._root = folder / PHOTOS
        looked_at(self._root, "**")
        names: list[str] = []
        try:
            for path in self._root.rglob("*"):
                if path.is_file():
                    names.append(path.relative_to(self._root).as_posix())
                if len(names) >= MOST_PHOTOS:
                    break
        except OSError:
            pass  # what could be listed is enough to look names up; any other is missing
        self.names = sorted(names)
        self._known = frozenset(names)

    def meant(self, text: str) -> str:
        """Return the file that a cell means: in any case, without folder, address or ending.

        The text itself where there is none, or where several are meant alike.
        """
        if text in self._known:
            return text
        wanted = PurePosixPath(text.partition("?")[0].replace("\\", "/").casefold())
        files = [(name, PurePosixPath(name.casefold())) for name in self.names]
        for stems in ({wanted.name}, {wanted.stem}):
            found = [name for name, path in files if {path.name, path.stem} & stems]
            if len(found) == 1:
                return found[0]
        return text

    def of_looks(self, looks: Iterable[tuple[str, str]]) -> dict[tuple[str, str], str]:
        """Return the photos that are named after a pattern and its colour, by these names.

        A file's name must hold their words, or the words of the one that stands in no other pair,
        and nothing else but numbers and what cameras and people write beside them. One that is
        called by `photo_stem` was told by somebody who looked, and comes before all others.
        """
        looks = list(looks)
        wanted: dict[frozenset[str] | str, set[tuple[str, str]]] = {}
        for pair in dict.fromkeys(looks):
            pattern, colour = (words_of_photo(name) for name in pair)
            for words in (pattern + colour, colour + pattern, pattern, colour):
                for key in (frozenset(words), "".join(words)):
                    wanted.setdefault(key, set()).add(pair)
        found: dict[tuple[str, str], str] = {}
        told = {photo_stem(*pair): pair for pair in dict.fromkeys(looks)}
        for name in self.names:
            if look := told.get(PurePosixPath(name).stem):
                found.setdefault(look, name)
        for name in sorted(self.names, key=lambda one: (len(one), one)):
            words = words_of_photo(PurePosixPath(name).stem)
            meant = wanted.get(frozenset(words)) or wanted.get("".join(words)) or set()
            if words and len(meant) == 1:
                found.setdefault(next(iter(meant)), name)
        return found

    def fault(self, place: Place, name: str) -> Finding | None:
        """Return what is wrong with a photo's name, in the very letters of its file; or None."""
        plain = name.replace("\\", "/").removeprefix(f"{PHOTOS}/")
        path = PurePosixPath(plain)
        outside = path.is_absolute() or ".." in path.parts or ":" in plain.split("/")[0]
        if not outside and name not in self._known:
            return stop(
                "photo-missing",
                place,
                f"there is no such file in {PHOTOS}/",
                found=as_written(name),
                hint=f"Did you mean {plain!r}?"
                if plain in self._known
                else did_you_mean(name, [one for one in self.names if one.isprintable()]),
            )
        if not outside and self._stays_inside(name):
            return None
        return stop(
            "photo-outside",
            place,
            f"this leads out of {PHOTOS}/",
            found=as_written(name),
            expected=f"a file in {PHOTOS}/",
            hint="Copy the photo there and give its name alone.",
        )

    def _stays_inside(self, name: str) -> bool:
        """Tell whether a link, if the file is one, stays within the folder."""
        try:
            return (self._root / name).resolve().is_relative_to(self._root.resolve())
        except (OSError, RuntimeError):
            return False


_LONGEST_NAME = 80
_DEVICES = re.compile(r"(?:con|prn|aux|nul|com\d|lpt\d)(?:\..*)?", re.IGNORECASE)
"""Names that Windows takes for devices. Source: Microsoft, Naming Files, Paths, and Namespaces."""


def safe_name(name: str) -> str:
    """Return a file's name as every disk takes it: without folders, signs and a dot in front."""
    last = unicodedata.normalize("NFC", name).replace("\\", "/").rpartition("/")[2]
    bare = re.sub(r"[^\w .,&()'+#-]", " ", last)
    stem, dot, ending = " ".join(bare.split()).strip(". ").rpartition(".")
    stem, ending = (stem, dot + ending) if stem and len(ending) < 6 else (stem + dot + ending, "")
    stem = stem[: _LONGEST_NAME - len(ending)].strip(". ") or "file"
    return f"{'_' if _DEVICES.fullmatch(stem) else ''}{stem}{ending}"


def photo_stem(pattern: str, colour: str) -> str:
    """Return what a photo is called, without its ending, once it is told what it shows."""
    return safe_name(f"{pattern} {colour}".replace(".", " "))


_BESIDE = frozenset({
    "img", "image", "dsc", "dscn", "pxl", "photo", "photos", "pic", "picture", "foto", "edit",
    "edited", "copy", "final", "new", "front", "back", "side", "top", "close", "closeup", "up",
    "crop", "cropped", "small", "large", "web", "jig", "jigs", "lure", "of", "the", "and", "oz",
})  # fmt: skip
"""What stands in names of photos beside what they show. Common practice, no published source."""


def words_of_photo(text: str) -> tuple[str, ...]:
    """Return the words of a name that say what is shown: no number, no word of a camera's."""
    spaced = re.sub(r"(?<=[a-z])(?=[A-Z])", " ", text)
    words = re.findall(r"[^\W\d_]+", spaced.casefold())
    return tuple(word for word in words if word not in _BESIDE)
