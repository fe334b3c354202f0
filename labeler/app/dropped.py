"""Spreadsheets that a maker hands over on the desk.

Each is kept under the name she gave, made safe, and never over another, once the readers by which
every command reads it have found jigs in it.
"""

from __future__ import annotations

import datetime as dt
import hashlib
import zipfile
from collections.abc import Mapping
from dataclasses import replace
from io import BytesIO
from pathlib import Path
from tempfile import TemporaryDirectory

from labeler.app.answers import Answers
from labeler.app.photos import Look, free_place, name_photos
from labeler.app.take_in import Own, TakenIn, foretell, stated_file, take_in
from labeler.catalog.photo_names import safe_name
from labeler.catalog.spreadsheet.grid import LARGEST_BYTES, read_sheets
from labeler.catalog.spreadsheet.propose import propose
from labeler.catalog.structure import read_source
from labeler.checker.subject import Progress
from labeler.files import delivered, looked_at
from labeler.findings import LabelerError, Place, as_written, refusal, stop

SHEET_ENDINGS = (".xlsx", ".xls", ".ods", ".csv", ".txt", ".tsv")


def spreadsheets_in(folder: Path) -> list[Path]:
    """Return what may be the maker's spreadsheet in a folder, the newest first."""
    looked_at(folder, "*")
    found = [
        path for path in folder.iterdir()
        if path.suffix.casefold() in SHEET_ENDINGS and path.is_file()
        and not path.name.startswith((".", "~$"))
    ]  # fmt: skip
    return sorted(found, key=lambda path: (-path.stat().st_mtime_ns, path.name))


def keep_sheet(into: Path, name: str, raw: bytes, over: bool = False) -> Path:
    """Keep a spreadsheet that was handed over in a folder, once it is known to be one of jigs.

    Args:
        into: the folder.
        name: as the maker calls it.
        raw: its bytes.
        over: whether it takes the place of one of its name; else it gets a number.

    Raises:
        LabelerError: if it is none, holds macros, is too large, or no table of jigs is found in it.
    """
    name = safe_name(name)
    name = f"my {name}" if name.casefold() in _READ_HERE else name
    refuse_no_sheet(name, raw)
    with TemporaryDirectory() as aside:
        trial = Path(aside) / name
        trial.write_bytes(raw)
        propose(trial)
    path = into / name if over else free_place(into, name)
    with delivered(path) as out:
        out.write(raw)
    return path


_READ_HERE = ("products.csv", "products.xlsx", "gtins.csv")
"""Names that a catalog's folder gives a meaning of its own."""


def refuse_no_sheet(name: str, raw: bytes) -> None:
    """Refuse what is no spreadsheet, or not the kind that its name says, or holds macros.

    Raises:
        LabelerError: in that case, or if it is too large or can't be read.
    """
    ending = Path(name).suffix.casefold()
    place = Place(file=name)
    wanted = "a spreadsheet that ends in .xlsx, .xls, .ods or .csv"
    if len(raw) > LARGEST_BYTES:
        raise refusal(
            "file-too-large", place, "is too large to be what it is called",
            found=f"{len(raw):,} bytes", expected=f"at most {LARGEST_BYTES:,} bytes",
        )  # fmt: skip
    if ending in (".xlsm", ".xlsb", ".xltm", ".xlam"):
        raise refusal("sheet-macros", place, _MACROS, expected=wanted, hint=_AS_XLSX)
    if ending not in SHEET_ENDINGS:
        raise refusal("sheet-kind", place, "this is no spreadsheet", expected=wanted,
                      hint="Open it in your spreadsheet program and save it as .xlsx.")  # fmt: skip
    zipped, old = raw.startswith(b"PK\x03\x04"), raw.startswith(b"\xd0\xcf\x11\xe0")
    kind = "zip" if zipped else "old" if old else "text"
    if b"\x00" in raw[:4096] and kind == "text" and not raw.startswith((b"\xff\xfe", b"\xfe\xff")):
        kind = ""
    if kind != {".xlsx": "zip", ".ods": "zip", ".xls": "old"}.get(ending, "text"):
        raise refusal("sheet-kind", place, f"this is called {ending} and is something else inside",
                      expected=wanted, hint=_AS_XLSX)  # fmt: skip
    read_sheets(name, raw)
    names = zipfile.ZipFile(BytesIO(raw)).namelist() if zipped else []
    if any("vbaproject" in each.casefold() or each.startswith("Basic/") for each in names) or (
        old and "_VBA_PROJECT".encode("utf-16-le") in raw
    ):
        raise refusal("sheet-macros", place, _MACROS, expected=wanted, hint=_AS_XLSX)


_MACROS = "this workbook holds macros, and none is kept here"
_AS_XLSX = "Open it in your spreadsheet program and save it as .xlsx, without macros."


def sheet_digest(path: Path) -> str:
    """Return the SHA-256 of a spreadsheet, by which it is known to be what was looked at."""
    return hashlib.sha256(path.read_bytes()).hexdigest()


def take_the_place(folder: Path, staged: Path, day: dt.date) -> Path:
    """Move a new version of the spreadsheet into the folder.

    The one that is read until now stays: if they have one name, a copy is called by the day.

    Args:
        folder: the catalog's.
        staged: where the new one lies.
        day: of today, at the bench.
    """
    path, now = folder / staged.name, folder / stated_file(read_source(folder))
    if path.exists() and now.exists() and path.samefile(now):
        before = free_place(folder, f"{path.stem} before {day.isoformat()}{path.suffix}")
        with delivered(before) as copy:  # so that its own place is never empty
            copy.write(path.read_bytes())
    else:
        path = free_place(folder, staged.name)
    staged.replace(path)
    return path


def bring_in(
    folder: Path, own: Own, answers: Answers, shows: Mapping[str, Look], day: dt.date,
    progress: Progress | None = None,
) -> TakenIn:  # fmt: skip
    """Take a line in as it was chosen: photos called by what they show, a new version in its place.

    Args:
        folder: the catalog's.
        own: what is taken in; with ``instead``, a spreadsheet that waits elsewhere.
        answers: to the questions.
        shows: photos in the folder, and what each shows.
        day: of today, at the bench.
        progress: is told how many of the photos are done.

    Raises:
        LabelerError: as `take_in` does; nothing is made, moved or changed then.
    """
    foretell(folder, own, answers)
    name_photos(folder, shows)
    if own.instead:
        own = replace(own, sheet=take_the_place(folder, own.sheet, day))
    return take_in(folder, own, answers, progress)


def refuse_twice(fields: Mapping[str, str]) -> None:
    """Refuse two columns that are said to be one thing.

    Args:
        fields: headings, and what each is said to be.

    Raises:
        LabelerError: with a finding for each second one.
    """
    first: dict[str, str] = {}
    faults = []
    for text, name in fields.items():
        if name and name not in ("ignored", "remark") and first.setdefault(name, text) != text:
            faults.append(
                stop("column-twice", Place(key=text), "another column is this already",
                     found=as_written(first[name]), hint="Choose what each of them is.")
            )  # fmt: skip
    if faults:
        raise LabelerError(faults)
