"""Printing the alignment sheet, and keeping what was measured on it as a printer's profile."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from pathlib import Path

from labeler.files import delivered, locked, refuse_to_bury
from labeler.findings import LabelerError, Place, refusal, stop
from labeler.press.align import alignment_plan, crosses
from labeler.press.impose import Ticket
from labeler.press.pdf.run import write_pdf
from labeler.press.printers import (
    FILE,
    Measurements,
    Printer,
    correction,
    read_printers,
    save_printer,
)
from labeler.press.sheets import find_sheet


@dataclass(frozen=True, slots=True)
class Trial:
    """One printer and one paper. ``sheet`` names any sheet of that paper's size.

    ``dpi``, ``duplex`` and ``feed`` are None where the profile keeps what it has.
    """

    folder: Path
    printer: str
    sheet: str = "letter-3x10"
    dpi: int | None = None
    duplex: str | None = None
    feed: str | None = None


_LONGEST_NAME = 60
"""Letters in a printer's name, which stands in a heading and on a line of the screen."""


def align_printer(
    trial: Trial, measured: Mapping[str, float], out: Path | None, both_sides: bool = False
) -> Printer:
    """Keep what was measured, if anything was, and write the alignment sheet, if it has a name.

    Raises:
        LabelerError: with what stands in the way, before anything is kept or written.
    """
    _refuse_odd_name(trial.printer)
    if out is not None:
        refuse_to_bury(out)
    printer = keep_measurements(trial, measured) if measured else _profile(trial)
    return printer if out is None else print_alignment(trial, out, both_sides)


def _refuse_odd_name(name: str) -> None:
    if not name.strip() or not name.isprintable() or len(name) > _LONGEST_NAME:
        raise refusal(
            "printer-name",
            Place(key="printer"),
            "no printer can be called this",
            found=repr(name[:_LONGEST_NAME]),
            expected=f"a name on one line, of at most {_LONGEST_NAME} letters",
        )


def print_alignment(trial: Trial, out: Path, both_sides: bool) -> Printer:
    """Write the alignment sheet for a printer, with its profile as it stands; return that."""
    printer = _profile(trial)
    sheet = find_sheet(trial.sheet, trial.folder)
    plan = alignment_plan(
        sheet.width,
        sheet.height,
        both_sides=both_sides,
        flip=printer.duplex,
        maker_folder=trial.folder,
    )
    ticket = Ticket(
        title=f"Alignment sheet, {printer.name or 'new printer'}",
        printer=printer,
        maker_folder=trial.folder,
    )
    with delivered(out) as file:
        write_pdf(plan, file, ticket)
    return printer


def keep_measurements(trial: Trial, measured: Mapping[str, float]) -> Printer:
    """Work out the printer's profile from ruler readings, in points, keep and return it.

    Raises:
        LabelerError: if a reading is no printer's error, or the profile can't be written.
    """
    missing = [name for name in ("left", "top") if name not in measured]
    if missing:
        raise LabelerError(
            stop(
                "not-measured",
                Place(key=name),
                f"the distance {name!r} is needed",
                expected="at least left and top, as the alignment sheet says",
            )
            for name in missing
        )
    sheet = find_sheet(trial.sheet, trial.folder)
    refuse_to_bury(profiles_of(trial), alike=b"")
    with locked(trial.folder):  # from reading to writing, or two at one instant lose a profile
        before = _profile(trial)
        after = correction(crosses(sheet.width, sheet.height), Measurements(**measured), before)
        save_printer(after, trial.folder)
    return after


def profiles_of(trial: Trial) -> Path:
    """Return the file in which the printer's profile is kept."""
    return trial.folder / FILE


def _profile(trial: Trial) -> Printer:
    """Return the printer's profile, a fresh one if there is none, with what was asked changed."""
    known = read_printers(trial.folder).get(trial.printer) or Printer(name=trial.printer)
    asked = {"dpi": trial.dpi, "duplex": trial.duplex, "feed": trial.feed}
    return replace(known, **{key: value for key, value in asked.items() if value is not None})  # type: ignore[arg-type]
