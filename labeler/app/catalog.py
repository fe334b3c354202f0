"""Making a starter folder."""

from __future__ import annotations

import shutil
import tempfile
import tomllib
from collections.abc import Iterator, Mapping
from functools import cache
from pathlib import Path
from typing import Any

from labeler import files
from labeler.catalog.model import Catalog
from labeler.findings import Finding, LabelerError, Place, fix, note, stop


def start_catalog(folder: Path) -> tuple[Path, ...]:
    """Make ``folder`` with a small catalog that reads without fault; return its files.

    Raises:
        LabelerError: if something is there already, or the folder can't be made.
    """
    place = Place(file=str(folder))
    if folder.exists() and (not folder.is_dir() or any(folder.iterdir())):
        raise LabelerError(
            stop(
                "folder-taken",
                place,
                "there is something here already, and nothing of it will be touched",
                hint="Name a folder that does not exist yet.",
            )
        )
    try:
        _copy(files.shipped("layouts") / "starter", folder)
    except OSError as error:
        raise LabelerError(
            stop("folder-unmade", place, f"this folder can't be made: {error.strerror or error}")
        ) from error
    return tuple(sorted(path for path in folder.rglob("*") if path.is_file()))


def _copy(source: Path, folder: Path) -> None:
    """Copy beside the target first, so that the folder appears whole or not at all."""
    folder.absolute().parent.mkdir(parents=True, exist_ok=True)
    with tempfile.TemporaryDirectory(dir=folder.absolute().parent, prefix=".new-") as room:
        whole = Path(room) / "starter"
        shutil.copytree(source, whole)
        if folder.is_dir():
            folder.rmdir()
        whole.replace(folder)


# ----------------------------------------------------------------------------
# What the starter folder says that still stands in a maker's own catalog, and would be printed.

_OF_THE_MAKER = ("name", "street", "city", "site", "links", "email", "phone")
_OF_A_PATTERN = ("name", "story")


def starter_placeholders(catalog: Catalog) -> tuple[Finding, ...]:
    """Return what a label would say in the starter's words.

    As long as the business has the starter's name it is a trial, and this is only good to know.
    """
    kept = tuple(_kept(catalog))
    trial = "maker.name" in kept
    if not kept:
        return ()
    tell = note if trial else fix
    return (
        tell(
            "starter-left-over",
            Place(file="catalog.toml"),
            "this is still the starter's and will be printed so",
            found=", ".join(kept),
            hint="Put your own there, or take the line out where it may be left out.",
        ),
    )


def _kept(catalog: Catalog) -> Iterator[str]:
    """Yield the keys that hold what the starter holds."""
    starter = _starter()
    for key in _OF_THE_MAKER:
        if getattr(catalog.file.maker, key) == starter["maker"][key]:
            yield f"maker.{key}"
    for theirs in starter["patterns"].values():
        for name, pattern in catalog.file.patterns.items():
            for key in _OF_A_PATTERN:
                if (getattr(pattern, key) or "").strip() == theirs[key].strip():
                    yield f"patterns.{name}.{key}"


@cache
def _starter() -> Mapping[str, Any]:
    file = files.shipped("layouts") / "starter" / "catalog.toml"
    return tomllib.loads(file.read_text("utf-8"))
