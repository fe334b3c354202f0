"""A maker's photos: copied into the catalog's folder, and told which jig they show.

Copies are upright and small, and hold nothing of camera and place. By its name, the pattern and
colour that it shows, a photo is found for the products.
"""

from __future__ import annotations

import re
import warnings
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path, PurePosixPath
from tempfile import TemporaryDirectory
from typing import TYPE_CHECKING, Literal

from labeler.app.workstation import ledger_location
from labeler.catalog.edit import VERSIONS
from labeler.catalog.photo_names import Photos, photo_stem, safe_name, words_of_photo
from labeler.catalog.read import examine
from labeler.catalog.spreadsheet.grid import SheetRow
from labeler.catalog.structure import CATALOG_NAME, PHOTOS
from labeler.files import delivered, looked_at, new_folder
from labeler.findings import Finding, LabelerError, Place, note, refusal

if TYPE_CHECKING:
    from labeler.checker.subject import Progress

LARGEST_PHOTO = 40_000_000
"""Bytes. A telephone's photograph has 2 to 12 million. Common practice, no published source."""

MOST_PIXELS = 60_000_000
"""Of a photo that is dropped; a telephone's largest has 50 million. Common practice, no published
source."""


def free_place(folder: Path, name: str) -> Path:
    """Return a place for a file of this name, with a number where the name is taken."""
    path, number = folder / name, 1
    while path.exists() or path.is_symlink():
        number += 1
        path = folder / f"{Path(name).stem} {number}{Path(name).suffix}"
    return path


def photos_to_copy(
    source: Path | None, folder: Path, left_out: list[Finding], progress: Progress | None = None
) -> Iterator[tuple[str, bytes]]:
    """Yield name and content of each photo to copy: upright, small, nothing of camera or place.

    One whose name is in the folder already stays as it is there; one that can't be printed is
    left out, and said.
    """
    if source is None:
        return
    from labeler.drawing.photos import prepare

    there = {path.stem.casefold() for path in (folder / PHOTOS).rglob("*") if path.is_file()}
    copied: dict[str, Path] = {}
    found = pictures_in(source)
    for number, path in enumerate(found):
        if progress:
            progress(number, len(found))
        if path.stem.casefold() in there:
            continue
        if first := copied.get(path.stem.casefold()):
            left_out.append(
                note("photo-left-out", Place(file=path.name), "another photo has this name",
                     found=str(first), hint="Give one of them another name.")
            )  # fmt: skip
            continue
        try:
            image, _ = prepare(path, _COPY_PT, _COPY_PT)
        except LabelerError as error:
            left_out += [
                note("photo-left-out", Place(file=path.name), each.message, found=each.found,
                     expected=each.expected, hint=each.hint)
                for each in error.findings
            ]  # fmt: skip
            continue
        copied[path.stem.casefold()] = path
        yield f"{path.stem}{'.png' if image.data.startswith(_PNG) else '.jpg'}", image.data


_PNG = b"\x89PNG"
_COPY_PT = 8 * 72.0
"""The sides of the box that a copy is made for, so 2,400 pixels at 300 dpi: as large as a card."""

_NO_PHOTO = frozenset({
    ".aae", ".avi", ".csv", ".db", ".doc", ".docx", ".htm", ".html", ".ini", ".json", ".lnk",
    ".log", ".m4v", ".md", ".mov", ".mp3", ".mp4", ".numbers", ".ods", ".odt", ".pages", ".pdf",
    ".rtf", ".toml", ".txt", ".url", ".wav", ".webloc", ".xls", ".xlsx", ".xml", ".xmp", ".zip",
})  # fmt: skip
"""Endings of what lies beside photos and is none."""


def pictures_in(source: Path) -> list[Path]:
    """Return the files in a folder of photos that may be some, in order of their names.

    Raises:
        LabelerError: if there is no such folder.
    """
    if not source.is_dir():
        raise refusal(
            "photos-missing", Place(file=str(source)), "there is no such folder of photos"
        )
    found = sorted(path for path in source.rglob("*") if path.is_file())
    return [
        path for path in found
        if not path.name.startswith(".") and path.suffix.casefold() not in _NO_PHOTO
    ]  # fmt: skip


def keep_photos(
    folder: Path, dropped: Sequence[tuple[str, bytes]]
) -> tuple[list[str], list[Finding]]:
    """Keep photos that were handed over, small and without camera and place; return their names.

    What is no photo, or bears the name of one that is there, is left out, and said.

    Args:
        folder: the catalog's.
        dropped: names and bytes.
    """
    left_out: list[Finding] = []
    unfit: list[Finding] = []
    there = {path.stem.casefold() for path in (folder / PHOTOS).rglob("*") if path.is_file()}
    with TemporaryDirectory() as aside:
        for name, raw in dropped:
            path = Path(aside) / safe_name(name)
            if path.stem.casefold() in there:
                left_out.append(
                    note("photo-left-out", Place(file=path.name), "a photo of this name is here "
                         "already, and stays", hint="Give the new one another name.")
                )  # fmt: skip
                continue
            there.add(path.stem.casefold())
            path.write_bytes(raw)
            left_out += _too_much(path, len(raw))
        made = list(photos_to_copy(Path(aside), folder, unfit))
        passed_over = {path.name for path in Path(aside).iterdir()}
    done = {Path(name).stem for name, _ in made}
    told = {finding.place.file for finding in unfit}
    left_out += unfit
    left_out += [
        note("photo-left-out", Place(file=name), "this is no photo",
             expected="a JPEG, PNG, WebP, TIFF or HEIC picture")
        for name in sorted(passed_over) if Path(name).stem not in done and name not in told
    ]  # fmt: skip
    if made:
        with new_folder(folder) as draft:
            (draft / PHOTOS).mkdir()
            for name, data in made:
                (draft / PHOTOS / name).write_bytes(data)
    return [name for name, _ in made], left_out


def _too_much(path: Path, size: int) -> Iterator[Finding]:
    """Yield why a photo is too large for the desk, and take it away."""
    from labeler.drawing.photos import opened

    pixels = (0, 0)
    try:
        with warnings.catch_warnings(action="ignore"), opened(path) as picture:
            pixels = picture.size
    except LabelerError:
        return  # what is wrong with it is told where it is read
    if size > LARGEST_PHOTO or pixels[0] * pixels[1] > MOST_PIXELS:
        path.unlink()
        yield note(
            "photo-left-out", Place(file=path.name),
            "this picture is too large to be a photograph of a jig",
            found=f"{pixels[0]:,} × {pixels[1]:,} pixels, {size / 1e6:.0f} MB",
            expected=f"at most {MOST_PIXELS // 1_000_000} megapixels and "
            f"{LARGEST_PHOTO // 1_000_000} MB",
            hint="Scale it down; 2,000 pixels on the longer side print well.",
        )  # fmt: skip


Look = tuple[str, str]
"""A pattern and a colour, as the spreadsheet has them."""


@dataclass(frozen=True, slots=True)
class Sighting:
    """A photo in the folder, and what it is thought to show."""

    name: str
    """In ``photos/``."""
    look: Look | None = None
    by: Literal["cell", "name", "second", "guess", ""] = ""
    """Whether a cell of the spreadsheet names it, its own name says so, or some words of that;
    "second" where its name says so and another photo of the same is printed."""


def match_photos(folder: Path, rows: Iterable[SheetRow]) -> tuple[list[Sighting], list[Look]]:
    """Return what each photo is thought to show, what is surest last; and what there is to show."""
    photos = Photos(folder)
    looks: dict[Look, None] = {}
    cells: dict[str, Look] = {}
    for row in rows:
        look = row.values["pattern"], row.values["colour"]
        looks[look] = None
        if "photo" in row.values:
            cells.setdefault(photos.meant(row.values["photo"]), look)
    named = {name: look for look, name in photos.of_looks(looks).items()}
    order = ("", "guess", "second", "name", "cell")
    found = [_sighting(name, cells, named, looks) for name in photos.names]
    return sorted(found, key=lambda one: order.index(one.by)), list(looks)


def _sighting(
    name: str, cells: Mapping[str, Look], named: Mapping[str, Look], looks: Iterable[Look]
) -> Sighting:
    if look := cells.get(name):
        return Sighting(name, look, "cell")
    if look := named.get(name):
        return Sighting(name, look, "name")
    words = set(words_of_photo(PurePosixPath(name).stem))
    for look in looks:
        if words == {*words_of_photo(look[0]), *words_of_photo(look[1])}:
            return Sighting(name, look, "second")
    alike = {look: len(words & {*words_of_photo(look[0]), *words_of_photo(look[1])})
             for look in looks}  # fmt: skip
    most = max(alike.values(), default=0)
    best = [look for look, count in alike.items() if count == most]
    return Sighting(name, best[0], "guess") if most and len(best) == 1 else Sighting(name)


def name_photos(folder: Path, chosen: Mapping[str, Look]) -> dict[str, Look]:
    """Call photos by the pattern and colour that they show, by which they are found.

    The first that is chosen for a look is the one that is printed of it: a file that has its name
    by chance gets a number. One that a lot's labels or the catalog name stays as it is called.
    Return, by its name now, each photo that was chosen first for a look.

    Args:
        folder: the catalog's.
        chosen: names in ``photos/``, and what each shows.

    Raises:
        LabelerError: if the ledger can't be read. Nothing has another name then.
    """
    root = folder / PHOTOS
    first: dict[Look, str] = {}
    named = _named_in(folder) if chosen else frozenset[str]()
    by_name = sorted(chosen.items(), key=lambda one: Path(one[0]).stem != photo_stem(*one[1]))
    for name, look in by_name:
        old, stem = root / name, photo_stem(*look)
        if not old.is_file():
            continue
        if look not in first:
            _make_room(root, old, stem, named | chosen.keys())
        if old.stem == stem or (
            look in first and re.fullmatch(rf"{re.escape(stem)} \d+", old.stem)
        ):
            first.setdefault(look, name)
            continue
        new = free_place(old.parent, f"{stem}{old.suffix.casefold()}")
        if name in named:
            with delivered(new) as copy:
                copy.write(old.read_bytes())
        else:
            old.rename(new)
        first.setdefault(look, new.relative_to(root).as_posix())
    return {name: look for look, name in first.items()}


def _make_room(root: Path, told: Path, stem: str, stays: frozenset[str]) -> None:
    """Give a number to each file beside a photo that is called as the photo is to be."""
    for other in sorted(told.parent.iterdir()):
        alike = other != told and other.stem.casefold() == stem.casefold() and other.is_file()
        if alike and other.relative_to(root).as_posix() not in stays:
            other.rename(free_place(other.parent, other.name))


def put_photo_away(folder: Path, name: str) -> str:
    """Move a photo to the earlier versions, from where it can be put back; return its name there.

    Args:
        folder: the catalog's.
        name: in ``photos/``.

    Raises:
        LabelerError: if there is no such photo, if a lot's labels or the catalog name it, or if it
            can't be moved.
    """
    if name not in Photos(folder).names:
        raise refusal("photo-missing", Place(file=name), f"there is no such file in {PHOTOS}/")
    needed = refusal(
        "photo-needed", Place(file=name), "a lot's labels or the catalog show this photo by its "
        "name, so its file stays", hint="If a jig was told to have it, take it from that jig "
        "first. What a lot's labels show is needed to print them again.",
    )  # fmt: skip
    if name in _named_in(folder):
        raise needed
    before = _stops(folder)
    kept = _move(folder / PHOTOS / name, folder / VERSIONS / PHOTOS, name)
    if _stops(folder) - before:
        (folder / VERSIONS / PHOTOS / kept).rename(folder / PHOTOS / name)
        raise needed
    return kept


def _stops(folder: Path) -> set[tuple[str, str]]:
    """Return what the catalog is refused for, as far as it has to do with photos."""
    if not (folder / CATALOG_NAME).exists():
        return set()
    return {(one.rule, one.found) for one in examine(folder)[1] if one.rule == "photo-missing"}


def photos_away(folder: Path) -> list[str]:
    """Return the names of photos that were put away and can be put back."""
    looked_at(folder / VERSIONS / PHOTOS, "*")
    try:
        found = sorted(path.name for path in (folder / VERSIONS / PHOTOS).iterdir())
    except OSError:
        return []
    return [name for name in found if not name.startswith(".")]


def put_photo_back(folder: Path, name: str) -> str:
    """Move a photo back that was put away; return its name, with a number if that is taken.

    Raises:
        LabelerError: if there is none of this name, or it can't be moved.
    """
    if name not in photos_away(folder):
        raise refusal("photo-missing", Place(file=name), "this photo is not among those put away")
    return _move(folder / VERSIONS / PHOTOS / name, folder / PHOTOS, name)


def _move(path: Path, into: Path, name: str) -> str:
    try:
        into.mkdir(parents=True, exist_ok=True)
        place = free_place(into, Path(name).name)
        path.rename(place)
    except OSError as error:
        raise refusal(
            "not-writable", Place(file=name), "this file can't be moved",
            found=(error.strerror or str(error)).lower(),
        ) from error  # fmt: skip
    return place.name


def _named_in(folder: Path) -> frozenset[str]:
    """Return the photos that lots' products name as they were, and the catalog says by name."""
    if not (folder / CATALOG_NAME).exists():
        return frozenset()
    catalog, _ = examine(folder)
    products = catalog.products if catalog else ()
    by_look = Photos(folder).of_looks((one.pattern.name, one.colour.name) for one in products)
    named = {one.photo for one in products} - set(by_look.values())
    with ledger_location(folder).opened_if_begun() as ledger:
        if ledger is not None:
            from labeler.ledger.lots import products_of  # only where there is a ledger

            named |= {one.photo for one in products_of(ledger)}
    return frozenset(filter(None, named))
