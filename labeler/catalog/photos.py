"""Whether a photo that is named lies in the catalog's ``photos/``, and nowhere else."""

from __future__ import annotations

from pathlib import Path, PurePosixPath

from labeler.catalog.wording import as_written
from labeler.findings import Finding, Place, did_you_mean, stop

PHOTOS = "photos"

MOST_PHOTOS = 20_000
"""Files looked at in photos/ for the nearest name; more is another folder."""


class Photos:
    """The files in a catalog's photos/, looked through once."""

    def __init__(self, folder: Path) -> None:
        self.root = folder / PHOTOS
        self.names = _listed(self.root)
        self._known = frozenset(self.names)

    def fault(self, place: Place, name: str) -> Finding | None:
        """Return what is wrong with a photo's name, in the very letters of its file; or None."""
        plain = name.replace("\\", "/").removeprefix(f"{PHOTOS}/")
        steps = PurePosixPath(plain)
        if steps.is_absolute() or ".." in steps.parts or ":" in plain.split("/")[0]:
            return self._outside(place, name)
        if name not in self._known:
            return stop(
                "photo-missing",
                place,
                f"there is no such file in {PHOTOS}/",
                found=as_written(name),
                hint=f"Did you mean {plain!r}?"
                if plain in self._known
                else did_you_mean(name, [one for one in self.names if one.isprintable()]),
            )
        return None if self._inside(name) else self._outside(place, name)

    def _outside(self, place: Place, name: str) -> Finding:
        return stop(
            "photo-outside",
            place,
            f"this leads out of {PHOTOS}/",
            found=as_written(name),
            expected=f"a file in {PHOTOS}/",
            hint="Copy the photo there and give its name alone.",
        )

    def _inside(self, name: str) -> bool:
        """Tell whether a link, if the file is one, stays within the folder."""
        try:
            return (self.root / name).resolve().is_relative_to(self.root.resolve())
        except (OSError, RuntimeError):
            return False


def _listed(root: Path) -> list[str]:
    names: list[str] = []
    try:
        for path in root.rglob("*"):
            if path.is_file():
                names.append(path.relative_to(root).as_posix())
            if len(names) >= MOST_PHOTOS:
                break
    except OSError:
        pass
    return sorted(names)
