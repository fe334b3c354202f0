"""A piece as it once was: found in the ledger by its lot or SKU, and laid out again."""

from __future__ import annotations

import shutil
import tempfile
from dataclasses import dataclass
from pathlib import Path

from labeler.bench.laying import Laid
from labeler.bench.recording import (
    Making,
    face_print,
    making_of,
    marks_print,
    pictures_on,
    product_on,
    said_on,
)
from labeler.catalog.model import Product
from labeler.findings import Finding, LabelerError, Place, did_you_mean, fix, stop
from labeler.layout.compose import Composer, Job
from labeler.ledger.kept_layouts import KeptLayout, layout_of
from labeler.ledger.lots import Lot, find, list_lots, newest, snapshot_of
from labeler.ledger.runs import Kind, PastRun, past_runs
from labeler.ledger.store import Ledger


@dataclass(frozen=True, slots=True)
class Original:
    """What was printed once.

    Attributes:
        sku: the product.
        lot: its lot; None if it was printed without one.
        product: as it was; None if only its run is known.
        past: the run that printed it; None if it never was.
        layout: what it was made of, if that was kept.
    """

    sku: str
    lot: Lot | None
    product: Product | None
    past: PastRun | None = None
    layout: KeptLayout | None = None


def find_original(ledger: Ledger, target: str, kind: Kind | None, run: int | None) -> Original:
    """Return what a lot code or a SKU means: of a SKU the newest lot, of a lot its last print.

    Args:
        ledger: an open ledger.
        target: a lot code or a SKU.
        kind: bag labels or card-backs; None takes bag labels where there are any.
        run: one run only, by its number.

    Raises:
        LabelerError: if the ledger knows nothing of this name, with the nearest that it knows, or
            the run did not print it.
    """
    lot = _lot_meant(ledger, target)
    sku = lot.sku if lot else target.strip().upper()
    past = _last_print(past_runs(ledger, lot=lot.code if lot else "", sku=sku), lot, kind, run)
    if run is not None and past is None:
        raise LabelerError(
            stop("reprint-run", Place(key="run"), f"run {run} printed nothing of {target.strip()}")
        )
    if lot is None and past is None:
        raise LabelerError(_unknown(ledger, target))
    layout = layout_of(ledger, past.layout_fingerprint) if past else None
    if lot is not None:
        return Original(sku, lot, snapshot_of(ledger, lot), past, layout)
    return Original(sku, None, product_on(layout) if layout else None, past, layout)


def _lot_meant(ledger: Ledger, target: str) -> Lot | None:
    of_sku = newest(ledger, target.strip().upper())
    if of_sku is not None:
        return of_sku
    try:
        return find(ledger, target)
    except LabelerError:
        if target.strip().isdigit():
            raise
        return None


def _last_print(
    runs: list[PastRun], lot: Lot | None, kind: Kind | None, number: int | None
) -> PastRun | None:
    found = [run for run in runs if run.kind != "batch card" and bool(run.lot) == (lot is not None)]
    found = [run for run in found if run.run == number] if number is not None else found
    for wanted in (kind,) if kind else ("bag", "card"):
        if of_kind := [run for run in found if run.kind == wanted]:
            return of_kind[-1]
    return None


def _unknown(ledger: Ledger, target: str) -> Finding:
    known = sorted({lot.sku for lot in list_lots(ledger)} | {lot.code for lot in list_lots(ledger)})
    return stop(
        "reprint-unknown",
        Place(key="reprint"),
        "the ledger knows no lot and no print of this name",
        found=repr(target),
        hint=did_you_mean(target.strip().upper(), known),
    )


def lay_out_again(original: Original, folder: Path) -> tuple[Laid, Making, tuple[Finding, ...]]:
    """Return the piece as it was, how it was made, and what is worth saying of it.

    Args:
        original: a piece that was printed.
        folder: the catalog folder, whose own typefaces it was set in.

    Raises:
        LabelerError: if its layout was not kept, or a typeface is gone or another; the hint
            offers today's.
    """
    layout, product = original.layout, original.product
    making = making_of(layout) if layout else None
    if layout is None or making is None or product is None:
        raise LabelerError(_gone(original, "its layout was not kept with the run"))
    if faults := _changed_faces(original, making, folder):
        raise LabelerError(faults)
    code = original.lot.code if original.lot else ""
    size = making.width, making.height
    job = Job(product, layout.name, size, said_on(layout), code, making.link)
    with tempfile.TemporaryDirectory(prefix="labeler-") as room:
        _put_back(layout, Path(room), folder)
        composer = Composer(Path(room), dpi=making.dpi, ink=making.ink)
        composed = composer.composed(job, pictures_on(layout, making))
    found = marks_print(composed.piece)
    said = () if found == making.marks else (_drawn_otherwise(original, making),)
    return Laid(job, composed), making, said


def _put_back(layout: KeptLayout, room: Path, folder: Path) -> None:
    """Lay the kept files out as a catalog folder has them, with the maker's own typefaces."""
    for name, data in layout.files.items():
        if name.startswith("layouts/"):
            file = room / name
            file.parent.mkdir(parents=True, exist_ok=True)
            file.write_bytes(data)
    if (folder / "fonts").is_dir():
        shutil.copytree(folder / "fonts", room / "fonts")


def _changed_faces(original: Original, making: Making, folder: Path) -> list[Finding]:
    found = []
    for name, was in making.faces.items():
        try:
            same = face_print(name, folder) == was
        except LabelerError:
            found.append(_gone(original, f"its typeface {name!r} is gone"))
            continue
        if not same:
            found.append(_gone(original, f"its typeface {name!r} is another file now"))
    return found


def _gone(original: Original, why: str) -> Finding:
    return stop(
        "reprint-gone",
        Place(piece=original.sku),
        f"the label can't be printed as it was: {why}",
        hint="Put it back, or print it as it is today with --today.",
    )


def _drawn_otherwise(original: Original, making: Making) -> Finding:
    return fix(
        "reprint-drawn-otherwise",
        Place(piece=original.sku),
        "the same words and layout, but this program draws them otherwise than the one then",
        found=f"printed then by version {making.program}",
        hint="Hold both side by side before you hang them on one peg.",
    )
