"""The system's printers: where CUPS is, a finished PDF goes to one of them as large as it is.

Options of ``lp``: CUPS, "Command-Line Printing and Options". ``print-scaling`` is that of PWG
5100.13-2023, 6.2.22: with ``none`` a page is neither enlarged nor made to fit.
"""

from __future__ import annotations

import os
import shutil
import subprocess
from pathlib import Path

from labeler.findings import Place, refusal
from labeler.units import POINTS_PER_INCH

_PATIENCE = 30.0
"""Seconds in which a printer's queue answers."""
_SHOWN_IN = 2.0
"""Seconds that a page waits for the names of printers, which it can do without."""

_PAPERS = {"Letter": (612.0, 792.0), "A4": (595.276, 841.89)}
_NEAR = 1.0


def printers(patience: float = _SHOWN_IN) -> tuple[str, ...]:
    """Return the system's printers by name, the usual one first; none where there is no CUPS.

    Args:
        patience: seconds in which it has to answer.
    """
    if shutil.which("lp") is None or shutil.which("lpstat") is None:
        return ()
    try:
        names = _said("lpstat", "-e", patience=patience).split()
        usual = _said("lpstat", "-d", patience=patience).rpartition(": ")[2].strip()
    except (OSError, subprocess.SubprocessError):
        return ()
    return tuple(sorted(names, key=lambda name: (name != usual, name)))


def send(file: Path, printer: str, title: str, page: tuple[float, float], sides: str) -> str:
    """Send a PDF to a printer at 100 %; return what the queue said.

    Args:
        file: the PDF.
        printer: one of `printers`.
        title: what the queue shows.
        page: width and height of its pages, in points.
        sides: as ``lp`` calls it, such as ``two-sided-long-edge``.

    Raises:
        LabelerError: if there is no such printer, or it does not take the file.
    """
    if printer not in printers(_PATIENCE):
        raise refusal("printer-gone", Place(), "this computer has no such printer now",
                      found=printer[:60])  # fmt: skip
    options = ("print-scaling=none", f"media={media_of(page)}", f"sides={sides}")
    asked = ["lp", "-d", printer, "-t", title[:80]]
    for option in options:
        asked += ["-o", option]
    try:
        return _said(*asked, "--", str(file))
    except subprocess.CalledProcessError as error:
        why = str(error.stderr or error.stdout).strip().splitlines()
        raise refusal("printer-refused", Place(), "the printer's queue did not take it",
                      found=why[0][:200] if why else f"exit status {error.returncode}",
                      hint="Open the PDF and print it from there.") from error  # fmt: skip
    except (OSError, subprocess.TimeoutExpired) as error:
        raise refusal("printer-refused", Place(), "the printer's queue does not answer",
                      hint="Open the PDF and print it from there.") from error  # fmt: skip


def media_of(page: tuple[float, float]) -> str:
    """Return what ``lp`` calls paper of this size, which goes in upright; lengths in points."""
    sides = min(page), max(page)
    for name, paper in _PAPERS.items():
        if all(abs(one - other) < _NEAR for one, other in zip(sides, paper, strict=True)):
            return name
    across, down = page
    return f"Custom.{across / POINTS_PER_INCH:g}x{down / POINTS_PER_INCH:g}in"


def _said(*words: str, patience: float = _PATIENCE) -> str:
    done = subprocess.run(
        words, capture_output=True, text=True, encoding="utf-8", errors="replace", check=True,
        timeout=patience, stdin=subprocess.DEVNULL, env=os.environ | {"LC_ALL": "C"},
    )  # fmt: skip
    return done.stdout.strip()
