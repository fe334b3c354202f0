"""What a run leaves in the ledger, enough to make the same print again.

The record is made once the whole file is on the disk and before it takes its name: what lies under
a final name is always on record. A run killed between the two is on record without its file, so a
trace errs on the safe side; the command is given again and is a run of its own.
"""

from __future__ import annotations

import hashlib
import json
from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import asdict, dataclass, field
from functools import lru_cache
from pathlib import Path

from pydantic import TypeAdapter

from labeler import __version__
from labeler.bench.laying import Laid
from labeler.catalog.model import Product
from labeler.disclosures.statements import Statement
from labeler.findings import Finding, Grade
from labeler.layout.compose import Composer
from labeler.layout.marks import Glyphs, Group, Image, Mark, Piece
from labeler.layout.setup import InkMode
from labeler.layout.setup import Printed as PrintedPicture
from labeler.layout.style import style_sheet
from labeler.ledger.kept_layouts import KeptLayout
from labeler.ledger.open_sheets import Paper
from labeler.ledger.runs import Kind, Printed, Run, record_run
from labeler.ledger.spots import Spot
from labeler.ledger.store import Ledger
from labeler.press.impose import Plan
from labeler.typefaces import typeface

STYLES, PIECE, SAID, PRODUCT = "layouts/styles.toml", "piece.json", "said.json", "product.json"
"""Files kept with a layout beside the layout itself and its pictures."""

_STATEMENTS: TypeAdapter[tuple[Statement, ...]] = TypeAdapter(tuple[Statement, ...])


@dataclass(frozen=True, slots=True)
class KeptPicture:
    """A picture as it was printed: a file kept beside the layout, and its proportions."""

    file: str
    proportion: float
    width: int
    height: int


@dataclass(frozen=True, slots=True)
class Making:
    """How a piece was made, beside its layout, styles and statements.

    Attributes:
        use: bags or cards.
        width: in points.
        height: in points.
        ink: in colour or in black.
        dpi: the printer's dots an inch; None if they were not known.
        day: the day whose rules it was made by.
        link: what its code leads to.
        faces: SHA-256 of the file of every typeface on it, by name.
        pictures: those on it, by number.
        marks: SHA-256 of its marks.
        program: the version that made it.
    """

    use: str
    width: float
    height: float
    ink: InkMode
    dpi: int | None
    day: str
    link: str
    faces: dict[str, str]
    pictures: dict[str, KeptPicture] = field(default_factory=dict)
    marks: str = ""
    program: str = __version__


_MAKING: TypeAdapter[Making] = TypeAdapter(Making)


class Keeper:
    """Gathers of every piece of a run what it was made of; files they share are read once."""

    def __init__(self, composer: Composer, use: str, day: str) -> None:
        self.composer, self.use, self.day = composer, use, day
        self._files: dict[str, dict[str, bytes]] = {}

    def keep(self, laid: Laid) -> KeptLayout:
        """Return everything of which the same piece can be made again."""
        job, composed = laid.job, laid.composed
        files = dict(self._shared(job.layout))
        files[SAID] = _STATEMENTS.dump_json(job.said)
        if not job.lot:
            files[PRODUCT] = job.product.model_dump_json().encode()
        pictures = {}
        for number, printed in sorted(composed.pictures.items()):
            image, name = printed.image, f"pictures/{number}"
            files[name] = image.data
            kept = KeptPicture(name, printed.proportion, image.width, image.height)
            pictures[str(number)] = kept
        files[PIECE] = self._making(composed.piece, job.link, pictures)
        return KeptLayout(job.layout, files)

    def _shared(self, layout: str) -> dict[str, bytes]:
        if layout not in self._files:
            self._files[layout] = layout_files(self.composer, layout)
        return self._files[layout]

    def _making(self, piece: Piece, link: str, pictures: dict[str, KeptPicture]) -> bytes:
        made_by = self.composer
        making = Making(
            self.use, piece.width, piece.height, made_by.ink, made_by.dpi, self.day, link,
            faces_of(piece, made_by.own), pictures, marks_print(piece),
        )  # fmt: skip
        return json.dumps(asdict(making), sort_keys=True).encode()


def layout_files(composer: Composer, layout: str) -> dict[str, bytes]:
    """Return a layout with all that it takes in, and the styles as they are, by their paths."""
    sources = composer.layouts.sources(layout)
    files = {f"layouts/{name}.xml.jinja": data for name, data in sources.items()}
    files[STYLES] = style_sheet(composer.own).encode()
    return files


def making_of(layout: KeptLayout) -> Making | None:
    """Return how a kept piece was made; None if that was not kept."""
    data = layout.files.get(PIECE)
    return _MAKING.validate_json(data) if data is not None else None


def said_on(layout: KeptLayout) -> tuple[Statement, ...]:
    """Return what a kept piece had to say."""
    return _STATEMENTS.validate_json(layout.files[SAID])


def product_on(layout: KeptLayout) -> Product | None:
    """Return the product of a kept piece that had no lot."""
    data = layout.files.get(PRODUCT)
    return Product.model_validate_json(data) if data is not None else None


def pictures_on(layout: KeptLayout, making: Making) -> Mapping[int, PrintedPicture]:
    """Return the pictures of a kept piece as they were printed, by their number."""
    found = {}
    for number, kept in making.pictures.items():
        data = layout.files[kept.file]
        image = Image(hashlib.sha256(data).hexdigest(), data, kept.width, kept.height)
        found[int(number)] = PrintedPicture(kept.proportion, image)
    return found


def marks_print(piece: Piece) -> str:
    """Return the SHA-256 of everything that is drawn on a piece, mark for mark."""
    drawn = piece.width, piece.height, piece.bleed, piece.safe, piece.faces
    return hashlib.sha256(repr(drawn).encode()).hexdigest()


def faces_of(piece: Piece, own: Path | None) -> dict[str, str]:
    """Return the SHA-256 of the file of every typeface on a piece, by the face's name."""
    names = sorted({run.face for face in piece.faces for run in _runs(face.marks)})
    return {name: face_print(name, own) for name in names}


def _runs(marks: Iterable[Mark]) -> Iterator[Glyphs]:
    for mark in marks:
        if isinstance(mark, Glyphs):
            yield mark
        elif isinstance(mark, Group):
            yield from _runs(mark.marks)


def face_print(name: str, own: Path | None) -> str:
    """Return the SHA-256 of a typeface's file.

    Raises:
        LabelerError: if there is no such face any more.
    """
    path = typeface(name, own).path
    return _file_print(str(path), path.stat().st_mtime_ns)


@lru_cache(maxsize=64)
def _file_print(path: str, _changed: int) -> str:
    with Path(path).open("rb") as file:
        return hashlib.file_digest(file, "sha256").hexdigest()


@dataclass(frozen=True, slots=True)
class Stamp:
    """What a run's record says beside its pieces and their cells."""

    kind: Kind
    pdf: str
    printer: str
    catalog: str
    drawer: str = ""
    findings: Sequence[Finding] = ()


def record(ledger: Ledger, plan: Plan, kept: Sequence[KeptLayout], stamp: Stamp) -> int:
    """Record a run; return its number.

    Args:
        ledger: an open ledger.
        plan: what went to which cell.
        kept: the layout of every order of the plan.
        stamp: the rest.

    Raises:
        LabelerError: if the ledger cannot be written.
    """
    cells = _cells(plan)
    printed = [
        Printed(stamp.kind, order.piece.sku, order.piece.lot, layout, cells[at])
        for at, (order, layout) in enumerate(zip(plan.orders, kept, strict=True))
    ]
    faces: dict[str, str] = {}
    for layout in kept:
        making = making_of(layout)
        faces |= making.faces if making else {}
    paper = Paper(
        plan.sheet.name, plan.grid.count, plan.start, sorted(plan.spoiled), stamp.drawer
    )  # fmt: skip
    run = Run(
        paper,
        printed,
        stamp.pdf,
        stamp.printer,
        stamp.catalog,
        hashlib.sha256(json.dumps(faces, sort_keys=True).encode()).hexdigest(),
        [finding.as_json() for finding in stamp.findings],
        overruled(stamp.findings),
    )
    return record_run(ledger, run)


def overruled(findings: Iterable[Finding]) -> list[str]:
    """Return the rules that the maker printed in spite of."""
    return sorted({finding.rule for finding in findings if finding.grade is not Grade.NOTE})


def _cells(plan: Plan) -> Mapping[int, list[Spot]]:
    cells: defaultdict[int, list[Spot]] = defaultdict(list)
    for sheet, filled in enumerate(plan.filled(), 1):
        for cell, order in filled:
            cells[order].append((sheet, cell))
    return cells
