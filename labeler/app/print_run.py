"""Printing bag labels and cards: from a catalog folder and a wish to a finished PDF on record."""

from __future__ import annotations

import hashlib
import json
from collections import defaultdict
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache
from pathlib import Path
from typing import BinaryIO

from labeler import __version__
from labeler.app.pieces import (
    DEFAULT_SHEETS,
    ComposedPiece,
    PieceComposer,
    PrintRequest,
    PrintResult,
    Progress,
    differences,
    in_a_line,
)
from labeler.app.preflight import (
    Preflight,
    Record,
    lots_known,
    on_record,
    pass_for_press,
    worth_saying,
)
from labeler.app.workstation import LedgerLocation, ledger_location
from labeler.catalog.casting import packs_of
from labeler.catalog.model import Catalog, Product
from labeler.catalog.read import choose, readable
from labeler.checker.claims import ProductLine
from labeler.checker.report import Report
from labeler.codes.application_identifiers import identifier
from labeler.disclosures.statements import Statement
from labeler.files import refuse_to_bury
from labeler.findings import Finding, Grade, LabelerError, Place, note, stop
from labeler.layout.compose import Composer
from labeler.layout.context import PrintedPicture
from labeler.layout.drawn import FORM, drawn_print
from labeler.layout.index import Use
from labeler.ledger import kept_products
from labeler.ledger.kept_pieces import (
    LANGUAGE,
    MAKING,
    KeptPicture,
    Making,
    read_statements,
    write_statements,
)
from labeler.ledger.lots import Lot, find, snapshot_of
from labeler.ledger.runs import (
    KeptLayout,
    Kind,
    OpenSheet,
    PrintedPiece,
    Run,
    RunPaper,
    SheetCell,
    open_sheet,
    record_run,
)
from labeler.ledger.store import Ledger
from labeler.ledger.stored import refuse_newer
from labeler.marks import Glyphs, Group, Image, Mark, Piece
from labeler.press.impose import (
    Imposition,
    PieceOrder,
    Spot,
    Ticket,
    cut_grid,
    impose,
    largest,
    read_spoiled,
)
from labeler.press.pdf.run import write_pdf
from labeler.press.printers import Printer, find_printer
from labeler.press.runsheet import TODAY, run_sheet
from labeler.press.sheets import Sheet, find_sheet
from labeler.type.faces import typeface
from labeler.type.styles import style_sheet

# ----------------------------------------------------------------------------
# From pieces in their cells to a file with its run sheet, on record before it has its name.

_TITLES: dict[Use, str] = {"bags": "Bag labels", "cards": "Cards"}


@dataclass(frozen=True, slots=True)
class Pressing:
    """One run on its way to the press.

    ``own`` is the catalog folder, ``maker`` whose goods they are, ``day`` the day whose rules they
    were made by, ``catalog`` its fingerprint, ``markets`` the places of sale by SKU. ``today``
    means that a lot's pieces are those of today's catalog, not those of the day it was opened.
    """

    use: Use
    plan: Imposition
    own: Path
    maker: str
    day: str
    catalog: str
    printer: Printer
    markets: Mapping[str, tuple[str, ...]]
    outline: bool = False
    today: bool = False


def press(
    pressing: Pressing,
    out: Path,
    passing: Preflight,
    record: Record | None = None,
    progress: Progress | None = None,
) -> Report:
    """Write a run's file and check it; the same run gives the same bytes.

    Args:
        pressing: the run.
        out: the file, which appears whole or not at all.
        passing: by what it is checked.
        record: called once all of it is on the disk and before it takes its name; if it raises,
            there is no file.
        progress: told of every page, drawn and then checked.

    Raises:
        LabelerError: if anything stops the press, or the file can't be written.
    """
    ticket, told = _ticket(pressing), _told(pressing.plan, progress)

    def write(file: BinaryIO, in_spite_of: tuple[str, ...]) -> None:
        write_pdf(pressing.plan, file, replace(ticket, in_spite_of=in_spite_of), told)

    return pass_for_press(out, write, passing, record, progress)


def _ticket(pressing: Pressing) -> Ticket:
    plan, printer = pressing.plan, pressing.printer
    ticket = Ticket(
        title=f"{_TITLES[pressing.use]}, {pressing.maker}",
        author=pressing.maker,
        subject=_subject(plan),
        printer=printer,
        outline=pressing.outline,
        own=pressing.own,
    )
    facts = {
        "use": pressing.use,
        "day": pressing.day,
        "catalog": pressing.catalog,
        "printer": printer.name,
        "dpi": plan.sheet.dpi or printer.dpi,
        "sheet": plan.sheet.name,
    } | ({"products": TODAY} if pressing.today else {})
    return replace(ticket, attached=(run_sheet(plan, ticket, facts, pressing.markets),))


def _subject(plan: Imposition) -> str:
    sheets = "1 sheet" if plan.sheet_count == 1 else f"{plan.sheet_count} sheets"
    return f"{plan.piece_count} pieces on {sheets} {plan.sheet.name}"


def _told(plan: Imposition, progress: Progress | None) -> Callable[[int], None] | None:
    if progress is None:
        return None
    return lambda page: progress(page, plan.page_count)


# ----------------------------------------------------------------------------
# What a run leaves in the ledger, enough to make the same print again.
#
# The record is made once the whole file is on the disk and before it takes its name: what lies
# under a final name is always on record. A run killed between the two is on record without its
# file, so a trace errs on the safe side; the command is given again and is a run of its own.

STYLES, PIECE, SAID, PRODUCT = "layouts/styles.toml", "piece.json", "said.json", "product.json"
"""Files kept with a layout beside the layout itself and its pictures."""


class RunRecorder:
    """Gathers of every piece of a run what it was made of; files they share are read once."""

    def __init__(self, composer: Composer, use: str, day: str) -> None:
        self.composer, self.use, self.day = composer, use, day
        self._files: dict[str, dict[str, bytes]] = {}

    def keep(self, laid: ComposedPiece) -> KeptLayout:
        """Return everything of which the same piece can be made again."""
        job, composed = laid.job, laid.composed
        files = dict(self._shared(job.layout))
        files[SAID] = write_statements(job.statements)
        if not job.lot:
            files[PRODUCT] = kept_products.PRODUCT.write_file(job.product)
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
            faces_of(piece, made_by.own), pictures, drawn_print(piece), FORM, program=__version__,
        )  # fmt: skip
        return MAKING.write_file(making)


def layout_files(composer: Composer, layout: str) -> dict[str, bytes]:
    """Return a layout with all that it takes in, and the styles as they are, by their paths."""
    sources = composer.layouts.sources(layout)
    files = {f"layouts/{name}.xml.jinja": data for name, data in sources.items()}
    files[STYLES] = style_sheet(composer.own).encode()
    return files


def making_of(layout: KeptLayout) -> Making | None:
    """Return how a kept piece was made; None if that was not kept.

    Raises:
        LabelerError: if a newer program kept it, or it is damaged.
    """
    data = layout.files.get(PIECE)
    if data is None:
        return None
    place = _kept(layout, PIECE)
    making = MAKING.read_file(data, place)
    for what, number, known in (
        ("marks, form", making.marks_form, FORM),
        ("layout language", making.language, LANGUAGE),
    ):
        if number > known:
            refuse_newer(place, f"{what} {number}", f"at most {known}", making.program)
    return making


def said_on(layout: KeptLayout) -> tuple[Statement, ...]:
    """Return what a kept piece had to say.

    Raises:
        LabelerError: if a newer program kept it, or it is damaged.
    """
    return read_statements(layout.files[SAID], _kept(layout, SAID))


def product_on(layout: KeptLayout) -> Product | None:
    """Return the product of a kept piece that had no lot.

    Raises:
        LabelerError: if a newer program kept it, or it is damaged.
    """
    data = layout.files.get(PRODUCT)
    return (
        kept_products.PRODUCT.read_file(data, _kept(layout, PRODUCT)) if data is not None else None
    )


def _kept(layout: KeptLayout, file: str) -> Place:
    return Place(file=f"{file}, kept with layout {layout.name}")


def pictures_on(layout: KeptLayout, making: Making) -> Mapping[int, PrintedPicture]:
    """Return the pictures of a kept piece as they were printed, by their number."""
    found = {}
    for number, kept in making.pictures.items():
        data = layout.files[kept.file]
        image = Image(hashlib.sha256(data).hexdigest(), data, kept.width, kept.height)
        found[int(number)] = PrintedPicture(kept.proportion, image)
    return found


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
class RunMetadata:
    """What a run's record says beside its pieces and their cells."""

    kind: Kind
    pdf: str
    printer: str
    catalog: str
    workstation: str = ""
    findings: Sequence[Finding] = ()


def record(ledger: Ledger, plan: Imposition, kept: Sequence[KeptLayout], stamp: RunMetadata) -> int:
    """Record a run; return its number.

    Args:
        ledger: an open ledger.
        plan: what went to which cell.
        kept: the layout of every order of the plan.
        stamp: the rest.

    Raises:
        LabelerError: if the ledger cannot be written.
    """
    cells = _cells_written(plan)
    printed = [
        PrintedPiece(stamp.kind, order.piece.sku, order.piece.lot, layout, cells[at])
        for at, (order, layout) in enumerate(zip(plan.orders, kept, strict=True))
    ]
    faces: dict[str, str] = {}
    for layout in kept:
        making = making_of(layout)
        faces |= making.faces if making else {}
    paper = RunPaper(
        plan.sheet.name, plan.grid.count, plan.start, sorted(plan.spoiled), stamp.workstation
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


def _cells_written(plan: Imposition) -> Mapping[int, list[SheetCell]]:
    cells: defaultdict[int, list[SheetCell]] = defaultdict(list)
    for sheet, filled in enumerate(plan.filled(), 1):
        for cell, order in filled:
            cells[order].append((sheet, cell))
    return cells


# ----------------------------------------------------------------------------
# Where a run begins: the cell asked for, or the first free one of the sheet that was begun.


@dataclass(frozen=True, slots=True)
class Begin:
    """The first cell of a run, the cells to leave out, and what to say of the begun sheet."""

    start: int
    spoiled: frozenset[Spot]
    findings: tuple[Finding, ...] = ()


def where_to_begin(
    wish: PrintRequest,
    sheet: Sheet,
    laid: Sequence[ComposedPiece],
    ledger: Ledger | None,
    workstation: str,
) -> Begin:
    """Return where a run begins.

    Args:
        wish: what is wished for.
        sheet: the stock.
        laid: the pieces, by which card stock is cut.
        ledger: where begun sheets are remembered; None if nowhere.
        workstation: where this bench's sheets lie.

    Raises:
        LabelerError: if the spoiled cells can't be read.
    """
    spoiled = read_spoiled(wish.spoiled)
    if ledger is None:
        return Begin(1 if wish.start == "next" else wish.start, spoiled)
    begun = open_sheet(ledger, sheet.name, workstation=workstation)
    fits = begun.cells == _cells(sheet, laid)
    if wish.start != "next":
        offered = fits and begun.next_free > 1 and wish.start == 1
        return Begin(wish.start, spoiled, (_offer(sheet, begun),) if offered else ())
    if not fits:
        return Begin(1, spoiled, (_cut_otherwise(sheet, begun),) if begun.used else ())
    used = {Spot(1, cell) for cell in begun.spoiled}
    return Begin(begun.next_free, spoiled | used)


def _cells(sheet: Sheet, laid: Sequence[ComposedPiece]) -> int:
    if not laid:
        return 0
    grid = sheet.grid or cut_grid(sheet, *largest(each.composed.piece for each in laid))
    return grid.count if grid else 0


def _offer(sheet: Sheet, begun: OpenSheet) -> Finding:
    return note(
        "sheet-begun",
        Place(key="start"),
        f"a sheet {sheet.name} was begun; its next free cell is {begun.next_free}",
        hint="--start next uses it up. This run took a new sheet.",
    )


def _cut_otherwise(sheet: Sheet, begun: OpenSheet) -> Finding:
    return note(
        "sheet-cut-otherwise",
        Place(key="start"),
        f"the begun sheet {sheet.name} was cut for other pieces, so a new one is taken",
        found=f"{begun.cells} cells",
    )


__all__ = ["PrintRequest", "PrintResult", "Progress", "print_pieces"]

MOST_PIECES = 200_000
"""More than a desk printer prints in a week: a slip of the finger, not an order."""


@dataclass(frozen=True, slots=True)
class Goods:
    """What a run prints labels for.

    Attributes:
        products: in the catalog's order; of a lot, the one product as it was when it was opened.
        count: how many of each.
        maker: whose goods they are.
        catalog: the fingerprint of the catalog they stand in.
        lot: the lot, where the ledger knows it.
        findings: what is worth saying of them.
    """

    products: tuple[Product, ...]
    count: int
    maker: str
    catalog: str
    lot: Lot | None = None
    findings: tuple[Finding, ...] = ()


def print_pieces(wish: PrintRequest, progress: Progress | None = None) -> PrintResult:
    """Lay out, impose and write what is wished for; the file appears whole or not at all.

    Where the folder has a ledger the run is put on record, and a lot's labels show its product as
    it was when the lot was opened.

    Raises:
        LabelerError: with everything that stands in the way, before anything is written.
    """
    refuse_to_bury(wish.out)
    _refuse_odd_lot(wish.lot)
    catalog, findings = readable(wish.folder)
    books = ledger_location(wish.folder)
    resuming = wish.start == "next"
    if not (books.begun or resuming):
        return _PrintJob(wish, catalog, findings, books, None).print(progress)
    with books.opened(begin=resuming) as ledger:
        return _PrintJob(wish, catalog, findings, books, ledger).print(progress)


class _PrintJob:
    """One run, from what is wished for to what is told of it."""

    def __init__(
        self,
        wish: PrintRequest,
        catalog: Catalog,
        findings: tuple[Finding, ...],
        books: LedgerLocation,
        ledger: Ledger | None,
    ) -> None:
        self.books, self.ledger = books, ledger
        self.line = ProductLine.of(catalog)
        self.goods = _goods(wish, catalog, ledger)
        lot = self.goods.lot.code if self.goods.lot else wish.lot
        self.wish = replace(wish, lot=lot)
        self.printer = find_printer(wish.printer, wish.folder) if wish.printer else Printer()
        self.sheet = find_sheet(wish.sheet or DEFAULT_SHEETS[wish.use], wish.folder)
        self.said = (*findings, *self.goods.findings)
        self.number: int | None = None

    def print(self, progress: Progress | None) -> PrintResult:
        """Print it."""
        _refuse_too_many(self.goods.count, len(self.goods.products))
        setter = PieceComposer(self.wish, self.sheet, self.printer)
        laid = setter.pieces(self.goods.products, progress)
        begin = where_to_begin(self.wish, self.sheet, laid, self.ledger, self.books.workstation)
        plan = self._plan(laid, begin)
        self.said = (*self.said, *setter.findings, *plan.notes, *begin.findings)
        keeper = RunRecorder(setter.composer, self.wish.use, self.wish.day.isoformat())
        report = press(
            self._pressing(plan),
            self.wish.out,
            self._passing(),
            lambda pdf, report: self._record(plan, keeper, laid, pdf, report),
            progress,
        )
        return self._told(plan, report)

    def _plan(self, laid: Sequence[ComposedPiece], begin: Begin) -> Imposition:
        return impose(
            [PieceOrder(each.composed.piece, self.goods.count) for each in laid],
            self.sheet,
            start=begin.start,
            spoiled=begin.spoiled,
            fill=self.wish.fill,
            flip=self.printer.duplex,
        )

    def _pressing(self, plan: Imposition) -> Pressing:
        return Pressing(
            self.wish.use,
            plan,
            self.wish.folder,
            self.goods.maker,
            self.wish.day.isoformat(),
            self.goods.catalog,
            self.printer,
            {product.sku: product.markets for product in self.goods.products},
            self.wish.outline,
        )

    def _passing(self) -> Preflight:
        known_lot = lots_known(self.ledger) if self.ledger is not None else None
        wish = self.wish
        return Preflight(wish.folder, wish.day, self.line, known_lot, wish.even_so)

    def _record(
        self,
        plan: Imposition,
        keeper: RunRecorder,
        laid: Sequence[ComposedPiece],
        pdf: str,
        report: Report,
    ) -> None:
        if self.ledger is None:
            return
        stamp = RunMetadata(
            "bag" if self.wish.use == "bags" else "card",
            pdf,
            self.printer.name,
            self.goods.catalog,
            self.books.workstation,
            (*self.said, *on_record(report)),
        )
        kept = [keeper.keep(each) for each in laid]
        self.number = record(self.ledger, plan, kept, stamp)

    def _told(self, plan: Imposition, report: Report) -> PrintResult:
        pieces = [order.piece for order in plan.orders]
        return PrintResult(
            self.wish.out,
            plan.piece_count,
            len(self.goods.products),
            plan.sheet_count,
            plan.page_count,
            plan.sheet.name,
            ", ".join(dict.fromkeys(piece.layout for piece in pieces)),
            plan.next_free,
            (*self.said, *worth_saying(report)),
            report,
            self.wish.lot,
            self.number,
            plan.start,
        )


def _goods(wish: PrintRequest, catalog: Catalog, ledger: Ledger | None) -> Goods:
    if wish.lot and ledger is not None:
        return _goods_of_lot(wish, catalog, ledger)
    said = (_no_ledger(wish),) if wish.lot else ()
    count = (1 if wish.count is None else wish.count) + wish.spare
    products = choose(catalog, wish.wanted)
    return Goods(products, count, catalog.file.maker.name, catalog.fingerprint, findings=said)


def _goods_of_lot(wish: PrintRequest, catalog: Catalog, ledger: Ledger) -> Goods:
    lot = find(ledger, wish.lot)
    if lot.void is not None:
        raise LabelerError(
            stop(
                "lot-void",
                Place(key="lot"),
                "this lot was withdrawn, so nothing is labeled with its code",
                found=lot.code,
                hint=f"Why: {lot.void.why}",
            )
        )
    if wish.wanted and lot.sku not in {p.sku for p in choose(catalog, wish.wanted)}:
        raise LabelerError(
            stop(
                "lot-of-another",
                Place(key="lot"),
                "this lot is of another product",
                found=f"{lot.code} of {lot.sku}",
                expected=", ".join(wish.wanted),
                hint="Leave the SKU out: a lot's labels are of its own product.",
            )
        )
    product = snapshot_of(ledger, lot)
    packs = packs_of(product, lot.count)
    count = packs if wish.count is None else wish.count
    return Goods(
        (product,), count + wish.spare, product.maker.name, lot.catalog, lot,
        (*_changed(lot, product, catalog), *_too_many(lot, packs, count)),
    )  # fmt: skip


def _too_many(lot: Lot, packs: int, count: int) -> Iterator[Finding]:
    if count > packs:
        yield note(
            "lot-more-labels",
            Place(key=f"lot {lot.code}"),
            "more labels are wished for than the lot fills packs",
            found=str(count),
            expected=f"at most {packs}",
            hint="--spare adds some for those that go wrong.",
        )


def _changed(lot: Lot, product: Product, catalog: Catalog) -> Sequence[Finding]:
    """Say how the catalog has changed since the lot was opened; the label does not follow."""
    today = next((each for each in catalog.products if each.sku == lot.sku), None)
    place = Place(key=f"lot {lot.code}")
    if today is None:
        return [note("lot-retired", place, f"{lot.sku} is no longer in the catalog")]
    changed = differences(product, today)
    if not changed:
        return []
    return [
        note(
            "lot-as-it-was",
            place,
            "the label shows the product as it was when the lot was opened; today's differs",
            found="; ".join(in_a_line(each) for each in changed),
            hint="labeler reprint --today prints it as it is today.",
        )
    ]


def _no_ledger(wish: PrintRequest) -> Finding:
    return note(
        "lot-unchecked",
        Place(key="lot"),
        "there is no ledger in this folder, so the lot code is printed as it was typed",
        found=wish.lot,
        hint="labeler lot assign opens a lot, gives it a code and remembers it.",
    )


def _refuse_odd_lot(lot: str) -> None:
    """Refuse a lot that a code could not carry as it is printed.

    Source: GS1 General Specifications, 7.11, for the characters; RFC 3986, 5.2.4, for dots alone.
    """
    kind = identifier("10")
    fault = kind.fault(lot) if kind and lot else None
    if fault or lot in (".", ".."):
        raise LabelerError(
            stop(
                "lot-code",
                Place(key="lot"),
                fault.sentence if fault else "a lot of dots alone drops out of a link",
                found=repr(lot[:_LOT_SHOWN]),
                expected="at most 20 letters, digits and signs, without a space",
            )
        )


_LOT_SHOWN = 40


def _refuse_too_many(count: int, products: int) -> None:
    if count < 1 or count * products > MOST_PIECES:
        raise LabelerError(
            stop(
                "count-out-of-range",
                Place(key="count"),
                "this many can't be printed in one run",
                found=f"{count} each of {products}",
                expected=f"at least 1 each and at most {MOST_PIECES:,} in all",
            )
        )
