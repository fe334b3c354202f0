"""What a run leaves in the ledger, enough to make the same print again.

A run is recorded once its whole file is on the disk and before it takes its name: what lies under
a final name is always on record. A run killed between the two is on record without its file, so a
trace errs on the safe side; the command is given again and is a run of its own.
"""

from __future__ import annotations

import hashlib
import json
import platform
from collections import defaultdict
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence, Set
from contextlib import AbstractContextManager, suppress
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path
from typing import TypeVar

from labeler import __version__
from labeler.catalog.model import Product
from labeler.disclosures.statements import Statement
from labeler.findings import Finding, Grade, LabelerError, Place, refusal
from labeler.layout.block import FittedSizes, PrintedPicture
from labeler.layout.canonical import FORM, drawn_print
from labeler.layout.compose import Composed, Composer, Job
from labeler.ledger import documents, stored
from labeler.ledger.documents import (
    LANGUAGE,
    MAKING,
    KeptPicture,
    Making,
    read_statements,
    write_statements,
)
from labeler.ledger.lots import Lot
from labeler.ledger.runs import (
    KeptLayout,
    Kind,
    OpenSheet,
    PlannedFile,
    PrintedPiece,
    Run,
    RunPaper,
    SheetCell,
    TakenCells,
    end_plan,
    layout_of,
    past_runs,
    record_run,
    reserve,
)
from labeler.ledger.store import Ledger
from labeler.ledger.stored import StoredKind
from labeler.marks import Glyphs, Group, Image, Mark
from labeler.press.impose import Imposition
from labeler.type.faces import typeface
from labeler.type.styles import style_sheet

STYLES, PIECE, STATEMENTS, PRODUCT, SETTINGS = (
    "layouts/styles.toml", "piece.json", "said.json", "product.json", "settings.json",
)  # fmt: skip
"""Files kept with a layout beside the layout itself and its pictures."""
_PICTURES = "pictures/"


class RunRecorder:
    """Gathers of every piece of a run what it was made of; files they share are read once."""

    def __init__(self, composer: Composer, use: str, day: str) -> None:
        self.composer, self.use, self.day = composer, use, day
        self._files: dict[str, dict[str, bytes]] = {}

    def keep(self, job: Job, composed: Composed) -> KeptLayout:
        """Return everything of which the same piece can be made again."""
        if job.layout not in self._files:
            self._files[job.layout] = layout_files(self.composer, job.layout)
        files = dict(self._files[job.layout])
        files[STATEMENTS] = write_statements(job.statements)
        if not job.lot:
            files[PRODUCT] = documents.PRODUCT.write_file(job.product)
        if composed.settings is not None:
            files[SETTINGS] = _settings_file(composed.settings)
        pictures = {}
        for number, printed in sorted(composed.pictures.items()):
            image, name = printed.image, f"{_PICTURES}{number}"
            files[name] = image.data
            kept = KeptPicture(name, printed.proportion, image.width, image.height)
            pictures[str(number)] = kept
        drawn, composer = composed.piece, self.composer
        names = sorted({run.face for face in drawn.faces for run in _glyph_runs(face.marks)})
        faces = {name: face_print(name, composer.maker_folder) for name in names}
        making = Making(
            self.use, drawn.width, drawn.height, composer.ink, composer.dpi, self.day, job.link,
            faces, pictures, drawn_print(drawn), FORM, program=__version__,
        )  # fmt: skip
        files[PIECE] = MAKING.write_file(making)
        return KeptLayout(job.layout, files)


def layout_files(composer: Composer, layout: str) -> dict[str, bytes]:
    """Return a layout with all that it takes in, and the styles as they are, by their paths."""
    sources = composer.layouts.sources(layout)
    files = {f"layouts/{name}.xml.jinja": data for name, data in sources.items()}
    files[STYLES] = style_sheet(composer.maker_folder).encode()
    return files


Kept = TypeVar("Kept")


def _kept(layout: KeptLayout, file: str, kind: StoredKind[Kept]) -> Kept | None:
    data = layout.files.get(file)
    return None if data is None else kind.read_file(data, _place(layout, file))


def making_of(layout: KeptLayout) -> Making | None:
    """Return how a kept piece was made; None if that was not kept.

    Raises:
        LabelerError: if a newer program kept it, or it is damaged.
    """
    making = _kept(layout, PIECE, MAKING)
    if making is None:
        return None
    for what, number, known in (
        ("marks, form", making.marks_form, FORM),
        ("layout language", making.language, LANGUAGE),
    ):
        if number > known:
            place, expected = _place(layout, PIECE), f"at most {known}"
            stored.refuse_newer(place, f"{what} {number}", expected, making.program)
    return making


def statements_on(layout: KeptLayout) -> tuple[Statement, ...]:
    """Return what a kept piece had to say.

    Raises:
        LabelerError: if a newer program kept it, or it is damaged.
    """
    return read_statements(layout.files[STATEMENTS], _place(layout, STATEMENTS))


def product_on(layout: KeptLayout) -> Product | None:
    """Return the product of a kept piece that had no lot.

    Raises:
        LabelerError: if a newer program kept it, or it is damaged.
    """
    return _kept(layout, PRODUCT, documents.PRODUCT)


def settings_on(layout: KeptLayout) -> FittedSizes | None:
    """Return the settings that a kept piece shared with its run; None if it stood by itself.

    Raises:
        LabelerError: if a newer program kept them, or they are damaged.
    """
    kept = _kept(layout, SETTINGS, documents.SETTINGS)
    if kept is None:
        return None
    sizes_of = (
        {(4, len(box)) for box in kept.boxes.values()}
        | {(3, len(size)) for size in kept.sizes.values()}
        | {(2, len(form)) for form in kept.forms.values()}
    )
    if any(due != found for due, found in sizes_of):
        raise refusal(
            "stored-unreadable", _place(layout, SETTINGS),
            "how the run was set, as the ledger keeps it, is damaged",
            hint="Put a backup of the ledger in its place: labeler lot backup --help",
        )  # fmt: skip
    boxes = {key: (box[0], box[1], box[2], box[3]) for key, box in kept.boxes.items()}
    forms = {key: (form[0], form[1]) for key, form in kept.forms.items()}
    sizes = {key: (size[0], size[1], size[2]) for key, size in kept.sizes.items()}
    return FittedSizes(boxes, sizes, forms, kept.versions)


def _settings_file(settings: FittedSizes) -> bytes:
    kept = documents.KeptSettings(
        {key: tuple(box) for key, box in settings.boxes.items()},
        {key: tuple(size) for key, size in settings.sizes.items()},
        {key: tuple(form) for key, form in settings.forms.items()}, dict(settings.versions),
    )  # fmt: skip
    return documents.SETTINGS.write_file(kept)


def _place(layout: KeptLayout, file: str) -> Place:
    return Place(file=f"{file}, kept with layout {layout.name}")


def pictures_on(layout: KeptLayout, making: Making) -> Mapping[int, PrintedPicture]:
    """Return the pictures of a kept piece as they were printed, by their number."""
    found = {}
    for number, kept in making.pictures.items():
        data = layout.files[kept.file]
        image = Image(hashlib.sha256(data).hexdigest(), data, kept.width, kept.height)
        found[int(number)] = PrintedPicture(kept.proportion, image)
    return found


def pictures_of(ledger: Ledger, lot: str) -> tuple[bytes, ...]:
    """Return the files of all pictures that printed pieces of a lot bore."""
    prints = {past.layout_fingerprint for past in past_runs(ledger, lot=lot)}
    kept = filter(None, (layout_of(ledger, each) for each in sorted(prints)))
    files = (each for layout in kept for each in layout.files.items())
    return tuple(dict.fromkeys(data for name, data in files if name.startswith(_PICTURES)))


def _glyph_runs(marks: Iterable[Mark]) -> Iterator[Glyphs]:
    for mark in marks:
        if isinstance(mark, Glyphs):
            yield mark
        elif isinstance(mark, Group):
            yield from _glyph_runs(mark.marks)


def face_print(name: str, maker_folder: Path | None) -> str:
    """Return the SHA-256 of a typeface's file.

    Raises:
        LabelerError: if there is no such face any more.
    """
    path = typeface(name, maker_folder).path
    return _file_print(str(path), path.stat().st_mtime_ns)


@lru_cache(maxsize=64)
def _file_print(path: str, _changed: int) -> str:
    with Path(path).open("rb") as file:
        return hashlib.file_digest(file, "sha256").hexdigest()


def refuse_void(lot: Lot, why: str = "nothing is labeled with its code") -> None:
    """Refuse a lot that was withdrawn, and say why it was.

    Raises:
        LabelerError: if it was.
    """
    if lot.void is not None:
        raise refusal(
            "lot-void",
            Place(key="lot"),
            f"this lot was withdrawn, so {why}",
            found=lot.code,
            hint=f"Why: {lot.void.why}",
        )


def refuse_held(lot: Lot, even_so: bool) -> None:
    """Refuse a lot that is held, unless it is to be labelled even so.

    Raises:
        LabelerError: if it is.
    """
    if lot.held is not None and not even_so:
        raise refusal(
            "lot-held",
            Place(key="lot"),
            "this lot is held, so nothing is labeled with its code",
            found=f"{lot.code}: {lot.held.why}",
            hint=f"labeler lot release {lot.code} --why TEXT releases it. --even-so prints it as "
            "it is, and the file and the ledger remember that.",
        )


@dataclass(frozen=True, slots=True)
class RunMetadata:
    """What a run's record says beside its pieces and their cells."""

    kind: Kind
    pdf: str
    printer: str
    catalog_digest: str
    workstation: str = ""
    findings: Sequence[Finding] = ()


def record(
    ledger: Ledger, plan: Imposition, layouts: Sequence[KeptLayout], about: RunMetadata,
    number: int | None = None, trial: bool = False,
) -> int:  # fmt: skip
    """Record a run; return its number.

    Args:
        ledger: an open ledger.
        plan: what went to which cell.
        layouts: the layout of every order of the plan.
        about: the rest.
        number: of the ledger's plan that took its cells, if one did.
        trial: whether it is only tried.

    Raises:
        LabelerError: if the ledger cannot be written.
    """
    cells: defaultdict[int, list[SheetCell]] = defaultdict(list)
    for sheet, filled in enumerate(plan.filled(), 1):
        for cell, order in filled:
            cells[order].append((sheet, cell))
    printed = [
        PrintedPiece(about.kind, order.piece.sku, order.piece.lot, layout, cells[at])
        for at, (order, layout) in enumerate(zip(plan.orders, layouts, strict=True))
    ]
    faces: dict[str, str] = {}
    for layout in layouts:
        making = making_of(layout)
        faces |= making.faces if making else {}
    paper = RunPaper(
        plan.sheet.name, plan.grid.count, plan.start, sorted(plan.spoiled), about.workstation
    )
    overridden = {each.rule for each in about.findings if each.grade is not Grade.NOTE}
    run = Run(
        paper,
        printed,
        about.pdf,
        about.printer,
        about.catalog_digest,
        hashlib.sha256(json.dumps(faces, sort_keys=True).encode()).hexdigest(),
        [finding.as_json() for finding in about.findings],
        sorted(overridden),
    )
    return record_run(ledger, run, plan=number, trial=trial)


CarryOut = Callable[[Callable[[Ledger], int]], int]
"""Puts a run on record in one change of the ledger with more, and returns the run's number."""


class RunInHand(AbstractContextManager["RunInHand"]):
    """One run from the taking of its cells to the naming of its file; what fails is undone.

    Cells are taken before the file is made, in one step with the look at the begun sheet, so that
    two commands at one instant never get the same. Raising inside the block gives them back.
    """

    def __init__(
        self, ledger: Ledger, workstation: str, trial: bool, carry_out: CarryOut | None = None
    ) -> None:
        self.ledger, self.workstation, self.trial = ledger, workstation, trial
        self._carry_out = carry_out or (lambda put_on_record: put_on_record(ledger))
        self._plan: int | None = None
        self._run: int | None = None

    def reserve(
        self, stock: str, out: Path, part: Path,
        lay: Callable[[OpenSheet], tuple[Imposition, Set[int] | None]],
    ) -> None:  # fmt: skip
        """Take the cells that ``lay`` puts pieces into, of the sheet that it is given.

        Beside them it returns those of the begun sheet that others took, None on a new sheet. It is
        called at last with the sheet of which the cells were taken.
        """

        def take(begun: OpenSheet) -> TakenCells:
            plan, theirs = lay(begun)
            return TakenCells(plan.grid.count) if self.trial else _taken(plan, theirs)

        file = PlannedFile(str(out.absolute()), str(part.absolute()), platform.node()[:100])
        paper = RunPaper(stock, 0, workstation=self.workstation)
        self._plan, begun = reserve(self.ledger, paper, file, take)
        lay(begun)

    def record(self, plan: Imposition, layouts: Sequence[KeptLayout], about: RunMetadata) -> int:
        """Put the run on record, once all of its file is on the disk; return its number."""

        def put_on_record(ledger: Ledger) -> int:
            return record(ledger, plan, layouts, about, self._plan, self.trial)

        self._run = self._carry_out(put_on_record)
        return self._run

    def __exit__(self, kind: type[BaseException] | None, error: object, trace: object) -> None:
        if self._plan is not None:
            with suppress(LabelerError):  # the next command sees to it
                if kind is None:
                    end_plan(self.ledger, self._plan)
                else:
                    end_plan(self.ledger, self._plan, self._run, "the file could not be made")


def _taken(plan: Imposition, theirs: Set[int] | None) -> TakenCells:
    """Return the cells that a plan takes: of the begun sheet what it fills, of its last sheet all.

    What others took of the begun sheet is theirs, and free again when they give it back.
    """
    last = plan.sheet_count
    used: defaultdict[int, set[int]] = defaultdict(set)
    for sheet, filled in enumerate(plan.filled(), 1):
        if sheet in (1, last):
            used[sheet].update(cell for cell, _ in filled)
    for sheet, cell in plan.spoiled:
        if sheet in (1, last):
            used[sheet].add(cell)
    used[1].update(range(1, plan.start))
    begun = set() if theirs is None else used[1] - theirs
    return TakenCells(
        plan.grid.count, sorted(begun), sorted(used[last]) if last > 1 or not begun else ()
    )
