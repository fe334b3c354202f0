"""Writes what the runs of ``ledger-0002.sqlite`` drew, as text and as pages. Run once, never again.

The text names kinds of marks, never classes: it says the same of the same ink whatever the program
calls things. One line a mark; every number has six decimals; texts are JSON strings in ASCII.
"""

from __future__ import annotations

import hashlib
import json
import lzma
import shutil
import sys
import tempfile
from collections.abc import Iterator
from pathlib import Path

import pypdfium2

from labeler.app.reprint import find_original, lay_out_again
from labeler.app.workstation import ledger_location
from labeler.ledger.lots import newest
from labeler.ledger.runs import past_runs
from labeler.marks import Code, Glyphs, Group, Image, Mark, Picture, Piece
from labeler.marks import VectorPath as Outline

HERE = Path(__file__).parent


def numbers(*values: float) -> str:
    return " ".join(f"{value:.6f}".replace("-0.000000", "0.000000") for value in values)


def quoted(text: str) -> str:
    return json.dumps(text)


def ink(colour: str | None) -> str:
    return colour.lower() if colour else "none"


def told(piece: Piece) -> Iterator[str]:
    yield "marks 1"
    yield f"piece {numbers(piece.width, piece.height, piece.bleed, piece.safe)}"
    for face in piece.faces:
        yield f"face {face.name}"
        for mark in face.marks:
            yield from line(mark)
        for hole in face.holes:
            yield f"hole {path(hole)}"
        if face.folds:
            yield f"folds {numbers(*face.folds)}"
    yield "end"


def line(mark: Mark) -> Iterator[str]:
    if isinstance(mark, Glyphs):
        at = numbers(mark.x, mark.y, mark.size, mark.width)
        shifts = f" {numbers(*mark.shifts)}" if mark.shifts else ""
        words = f"{quoted(mark.text)} {quoted(mark.says)}"
        yield f"glyphs {at} {quoted(mark.face)} {ink(mark.ink)} {words}{shifts}"
    elif isinstance(mark, Outline):
        yield f"path {path(mark)}"
    elif isinstance(mark, Picture):
        at = numbers(mark.x, mark.y, mark.width, mark.height)
        yield f"picture {at} {picture(mark.image)} {quoted(mark.says)}"
    elif isinstance(mark, Code):
        at = numbers(mark.x, mark.y, mark.width, mark.height, mark.left, mark.top, mark.module)
        bars = numbers(*(side for bar in mark.bars for side in bar))
        yield f"code {mark.kind} {quoted(mark.payload)} {at} {ink(mark.ink)} {bars}"
    else:
        assert isinstance(mark, Group)
        yield f"group {numbers(*mark.matrix, *mark.box)} {quoted(mark.says)}"
        for each in mark.marks:
            yield from line(each)
        yield "end"


def path(mark: Outline) -> str:
    dash = f"[{numbers(*mark.dash)}]"
    ends = ("round" if mark.round_ends else "square", "even-odd" if mark.even_odd else "nonzero")
    steps = " ".join(f"{step[0]} {numbers(*step[1:])}".strip() for step in mark.steps)
    return (
        f"{ink(mark.fill)} {ink(mark.stroke)} {numbers(mark.width)} {dash} {' '.join(ends)} {steps}"
    )


def picture(image: Image) -> str:
    return f"{hashlib.sha256(image.data).hexdigest()} {image.width} {image.height}"


def main() -> None:
    with tempfile.TemporaryDirectory() as room:
        folder = Path(room) / "line"
        shutil.copytree(HERE / "line-0002", folder)
        shutil.copy(HERE / "ledger-0002.sqlite", folder / "ledger.sqlite")
        drawn = {}
        with ledger_location(folder).opened() as ledger:
            for past in past_runs(ledger):
                if past.kind == "batch card" or (not past.lot and newest(ledger, past.sku)):
                    continue  # a SKU that has a lot means the lot
                original = find_original(ledger, past.lot or past.sku, past.kind, past.run)
                laid, _, said = lay_out_again(original, folder)
                assert not said
                text = "\n".join(told(laid.composed.piece)) + "\n"
                drawn[f"{past.run} {past.kind} {past.sku} {past.lot}"] = text
                print(past.run, past.sku, len(text), hashlib.sha256(text.encode()).hexdigest())
    data = json.dumps(drawn).encode()
    (HERE / "drawn-0002.json.xz").write_bytes(lzma.compress(data, preset=9))


def pages(prints: Path) -> None:
    """Keep the first page of every run's file as it looks, at 72 dots an inch in 16 greys."""
    (HERE / "pages-0002").mkdir(exist_ok=True)
    for file in sorted(prints.glob("run-*.pdf")):
        with pypdfium2.PdfDocument(file) as document:
            seen = document[0].render(scale=1).to_pil().convert("L").quantize(16)
        seen.save(HERE / "pages-0002" / f"{file.stem}.png", optimize=True)


if __name__ == "__main__":
    main()
    pages(Path(sys.argv[1]))
