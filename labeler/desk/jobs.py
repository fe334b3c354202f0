"""The long work by name: plain values in, one of the program's jobs called, what came of it out.

Each is called in a process of its own with the catalog's folder, the folder for what it makes, what
was asked, and what to tell how far it has come.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from labeler.app.lots import trace_to_lots
from labeler.app.papers import print_batch_cards
from labeler.checker.subject import Progress
from labeler.findings import Finding

Asked = Mapping[str, Any]


@dataclass(frozen=True, slots=True)
class Outcome:
    """What came of a piece of work.

    Attributes:
        said: in sentences.
        files: what was made: what it is, and the file.
        findings: what there is to say of it.
    """

    said: tuple[str, ...]
    files: tuple[tuple[str, Path], ...] = ()
    findings: tuple[Finding, ...] = ()


def batch_cards(folder: Path, out: Path, asked: Asked, progress: Progress) -> Outcome:
    """Print the batch cards of lots.

    Args:
        folder: the catalog's.
        out: where the file goes.
        asked: ``lots``, their codes.
        progress: is not told: a card is a page.
    """
    codes = [str(code) for code in asked["lots"]]
    made = print_batch_cards(folder, codes, out / f"cards-{plain(codes[0])}.pdf")
    cards = "Batch card" if len(codes) == 1 else "Batch cards"
    lots = ", ".join(lot.code for lot in made.lots)
    return Outcome((f"{cards} of {lots}, on {made.paper} paper.",), ((cards, made.out),))


def recall_sheet(folder: Path, out: Path, asked: Asked, progress: Progress) -> Outcome:
    """Print whom to call and what to look for.

    Args:
        folder: the catalog's.
        out: where the file goes.
        asked: ``text``, what is in hand.
        progress: is not told: the sheet is a page or two.
    """
    file = out / f"recall-{plain(str(asked['text']))}.pdf"
    found, said = trace_to_lots(folder, str(asked["text"]), sheet=file)
    lots = f"{len(found.stories)} lot" + ("" if len(found.stories) == 1 else "s")
    return Outcome((f"{'; '.join(found.meanings)}: {lots}.",), (("Recall sheet", file),), said)


JOBS: dict[str, Callable[[Path, Path, Asked, Progress], Outcome]] = {
    "batch-cards": batch_cards,
    "recall-sheet": recall_sheet,
}


def plain(text: str) -> str:
    """Return a text as part of a file's name: letters and figures that every disk takes."""
    return re.sub(r"[^A-Za-z0-9.]+", "-", text).strip("-.")[:40] or "paper"
