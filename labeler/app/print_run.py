"""Printing bag labels and cards: from a request to a finished, checked PDF on record.

The products that the request means are composed as pieces, put into the cells of sheets, written,
read back, checked, recorded where the folder has a ledger, and only then the file gets its name.
Reprints join at the pieces.
"""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Callable, Iterator, Mapping, Sequence, Set
from contextlib import nullcontext
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING, Any, BinaryIO

from labeler.app.layouts import goes_on
from labeler.app.preflight import (
    Preflight,
    each_once,
    lots_known,
    runs_of,
    worth_saying,
    write_checked,
)
from labeler.app.print_request import (
    DEFAULT_SHEETS,
    KINDS,
    Goods,
    Labels,
    LotsOpened,
    PrintRequest,
    goods_of,
    refuse_too_many,
    without_lot,
)
from labeler.app.workstation import LedgerLocation, ledger_location
from labeler.catalog.model import Catalog, Product
from labeler.catalog.read import readable
from labeler.checker.claims import ProductLine
from labeler.checker.report import Report
from labeler.checker.subject import Progress
from labeler.codes.links import link_of
from labeler.disclosures.needed import needed, panel_of
from labeler.disclosures.statements import Statement
from labeler.drawing.jig import EDITION
from labeler.files import refuse_to_bury
from labeler.findings import (
    Finding,
    LabelerError,
    Place,
    a_few,
    listed,
    note,
    refusal,
    stop,
)
from labeler.layout.alike import below_aim, left_out, set_alike
from labeler.layout.compose import Composed, Composer, Job, compose_each
from labeler.layout.index import THING, LayoutSpec, Size, Use, read_index, suiting
from labeler.memory import gc_paused
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
from labeler.press.runsheet import DRAWN, PREVIEW, TODAY, run_sheet
from labeler.press.sheets import Sheet, all_sheets, find_sheet, holding
from labeler.units import Length, dimensions

if TYPE_CHECKING:
    from labeler.app.record import RunInHand
    from labeler.ledger.runs import KeptLayout, OpenSheet
    from labeler.ledger.store import Ledger


_TITLES: Mapping[Use, str] = {"bags": "Bag labels", "cards": "Cards"}


@dataclass(frozen=True, slots=True)
class PrintResult:
    """What was printed: for the words on the screen and for the record.

    ``run`` is its number in the ledger; None where there is no ledger, and for a preview.
    ``report`` is the checker's on the finished file, or on the one that a preview shows. A
    ``trial`` is not counted.
    """

    out: Path
    pieces: int
    products: int
    sheets: int
    pages: int
    sheet: str
    layout: str
    next_free: Spot
    findings: tuple[Finding, ...]
    report: Report
    labels: tuple[tuple[str, str, int], ...] = ()
    """SKU, lot and count of each piece."""
    run: int | None = None
    start: int = 1
    trial: bool = False
    preview: bool = False
    page: Size = (0.0, 0.0)
    """Width and height of a page, in points."""

    @property
    def lot(self) -> str:
        """The lot, where all pieces are of one."""
        lots = {lot for _, lot, _ in self.labels}
        return lots.pop() if len(lots) == 1 else ""


Tell = Callable[[Sequence[Finding]], None]
"""Says what the maker should know before the file is made."""


def print_pieces(
    request: PrintRequest, progress: Progress | None = None, tell: Tell | None = None
) -> PrintResult:
    """Print what is asked for; the file appears whole or not at all.

    Where the folder has a ledger the run is put on record, and a lot's labels show its product as
    it was when the lot was opened.

    Args:
        request: what to print.
        progress: called for every page, drawn and then checked.
        tell: called before the file is made with what is worth saying by then, if anything is.

    Raises:
        LabelerError: with everything that stands in the way, before anything is written.
    """
    refuse_to_bury(request.out)
    catalog, findings = readable(request.folder, request.day)
    location = ledger_location(request.folder)
    resuming = request.start == "next" and not request.preview
    begun = location.begun or resuming or bool(request.why)
    with location.opened(begin=True) if begun else nullcontext() as ledger:
        goods = goods_of(request, catalog, ledger)
        goods = replace(goods, findings=(*findings, *goods.findings, *without_lot(goods, ledger)))
        if goods.findings and tell:
            tell(goods.findings)
        return print_goods(request, catalog, goods, location, ledger, progress)


def look_up_goods(request: PrintRequest) -> Goods:
    """Return what a request means, and make nothing of it.

    Raises:
        LabelerError: as `goods_of` does, and if the catalog or the ledger can't be read.
    """
    catalog, _ = readable(request.folder, request.day)
    with ledger_location(request.folder).opened_if_begun() as ledger:
        return goods_of(request, catalog, ledger)


def begun_sheets(folder: Path) -> dict[str, OpenSheet]:
    """Return the sheets that were begun at this bench and have free cells, the last one first.

    Raises:
        LabelerError: if the ledger can't be read. Where there is none no sheet was begun.
    """
    location = ledger_location(folder)
    with location.opened_if_begun() as ledger:
        if ledger is None:
            return {}
        from labeler.ledger.runs import begun_stocks, open_sheet  # only with a ledger

        bench = location.workstation
        sheets = [
            open_sheet(ledger, stock, workstation=bench) for stock in begun_stocks(ledger, bench)
        ]
        return {sheet.stock: sheet for sheet in sheets if sheet.used}


def print_goods(
    request: PrintRequest, catalog: Catalog, goods: Goods, location: LedgerLocation,
    ledger: Ledger | None, progress: Progress | None,
) -> PrintResult:  # fmt: skip
    """Print labels of these goods; the file appears whole or not at all.

    Args:
        request: where to, on what, by which layout.
        catalog: what the finished file is held against.
        goods: which labels, and how many of each.
        location: where the ledger is kept.
        ledger: open, or None where there is none.
        progress: called for every page, drawn and then checked.

    Raises:
        LabelerError: with everything that stands in the way, before anything is written.
    """
    refuse_too_many(goods.labels)
    printer = find_printer(request.printer, request.folder) if request.printer else Printer()
    sheet = find_sheet(request.sheet or DEFAULT_SHEETS[request.use], request.folder)
    composer = PieceComposer(request, sheet, printer)
    pieces = composer.pieces(goods.labels, progress)
    run = PlannedRun(
        request, sheet, printer, goods.maker, request.day.isoformat(), goods.catalog_digest,
        ProductLine.of(catalog), location, ledger,
        findings=(*goods.findings, *composer.findings), opening=goods.opening,
    )  # fmt: skip

    def layouts() -> list[KeptLayout]:
        from labeler.app.record import RunRecorder  # only where there is a ledger

        recorder = RunRecorder(composer.composer, request.use, run.day)
        return [recorder.keep(piece.job, piece.composed) for piece in pieces]

    return print_composed(run, pieces, [each.count for each in goods.labels], layouts, progress)


_MOST_FAULTS = 60

_TOO_FULL = frozenset({"layout-overflow", "layout-crowded"})
"""What is wrong where a piece is too small for what it must say."""

_TRIED = 24
"""How many of the products that don't fit are tried elsewhere: a maker waits for the answer."""

_NAMED = 3
"""How many ways out are named."""

_GROWN = Length.from_inches(0.5).pt
"""The step by which a card is made higher and wider."""

_GROWTHS = 4


@dataclass(frozen=True, slots=True)
class ComposedPiece:
    """A piece laid out, and what it was laid out from."""

    job: Job
    composed: Composed


class PieceComposer:
    """Composes every product of a run, each once, and gathers all faults before it gives up."""

    def __init__(self, request: PrintRequest, sheet: Sheet, printer: Printer) -> None:
        self.request, self.sheet, self.printer = request, sheet, printer
        ink = request.ink or sheet.usual_ink
        self.composer = Composer(request.folder, dpi=sheet.dpi or printer.dpi, ink=ink)
        self.layouts = read_index(request.folder)
        if request.use == "bags" and sheet.grid is not None and not request.layout:
            size = request.size or (sheet.grid.cell_width, sheet.grid.cell_height)
            try:
                suiting(self.layouts, "bags", size)  # else every product would say the same
            except LabelerError as error:
                raise _with_sheets(error, request, sheet) from error

    @property
    def findings(self) -> tuple[Finding, ...]:
        """What is worth saying of the pieces, each once."""
        return tuple(dict.fromkeys(self.composer.findings))

    @gc_paused()
    def pieces(self, labels: Sequence[Labels], progress: Progress | None) -> list[ComposedPiece]:
        """Return the pieces in the labels' order.

        Raises:
            LabelerError: with the faults of all of them.
        """
        pieces: list[ComposedPiece] = []
        refused: list[tuple[Product, tuple[Finding, ...]]] = []
        faults = 0
        jobs = [self._job_or_fault(each) for each in labels]
        made = compose_each(self.composer, [job for job in jobs if isinstance(job, Job)])
        for number, (each, job) in enumerate(zip(labels, jobs, strict=True), 1):
            piece = next(made) if isinstance(job, Job) else job
            if isinstance(job, Job) and isinstance(piece, Composed):
                pieces.append(ComposedPiece(job, piece))
            elif isinstance(piece, LabelerError):
                found = self._reasons(job, piece)
                refused.append((each.product, found))
                faults += sum(fault.rule != "gtin-missing" for fault in found)
                if faults > _MOST_FAULTS:
                    made.close()
                    break
            if progress:
                progress(number, len(labels))
        if refused:
            raise LabelerError(self._faults(refused))
        return self._alike(pieces)

    def _alike(self, pieces: Sequence[ComposedPiece]) -> list[ComposedPiece]:
        """Return the pieces, those of one layout set alike; gather what is worth saying of them."""
        jobs = [each.job for each in pieces]
        self.composer.findings.clear()
        made = set_alike(self.composer, jobs, [each.composed for each in pieces])
        told = [
            *self.composer.findings,
            *left_out(zip(jobs, made, strict=True)),
            *below_aim(zip(jobs, made, strict=True)),
        ]
        self.composer.findings = [each for piece in made for each in piece.findings] + told
        return [ComposedPiece(*each) for each in zip(jobs, made, strict=True)]

    def _faults(self, refused: Sequence[tuple[Product, Sequence[Finding]]]) -> Iterator[Finding]:
        """Yield what stands in the way of products, and what would help; missing GTINs once."""
        rules = [(product, {fault.rule for fault in found}) for product, found in refused]
        if numberless := [product for product, found in rules if "gtin-missing" in found]:
            yield self._ask_for_gtins(numberless)
        faults = [one for _, found in refused for one in found if one.rule != "gtin-missing"]
        yield from faults
        if len(faults) > _MOST_FAULTS:
            yield note("and-more", Place(), "and more like these")
        if too_full := [product for product, found in rules if found <= _TOO_FULL]:
            yield self._suggest_sheets(too_full)

    def _reasons(self, job: Job | LabelerError, error: LabelerError) -> tuple[Finding, ...]:
        """Return why there is no piece; one reason, where the layout is not made for its size."""
        spec = self.layouts.get(job.layout) if isinstance(job, Job) else None
        full = all(fault.rule in _TOO_FULL for fault in error.findings)
        if spec is None or not isinstance(job, Job) or spec.suits(job.size) or not full:
            return error.findings
        return (
            stop(
                "layout-overflow", Place(piece=job.product.sku),
                f"the {THING[self.request.use]} is {dimensions(*job.size)}, and the layout "
                f"{spec.name} is made for {dimensions(*spec.least)} to {dimensions(*spec.most)}",
            ),
        )  # fmt: skip

    def _job_or_fault(self, labels: Labels) -> Job | LabelerError:
        try:
            return self._job(labels)
        except LabelerError as error:
            return error

    def _job(self, labels: Labels) -> Job:
        spec, size = self._layout(labels.product)
        layout = self.request.layout or spec.name
        return job_of(self.request.use, labels, layout, size, self.request.day)

    def _layout(self, product: Product) -> tuple[LayoutSpec, Size]:
        """Return the layout and the size of the piece: the cell's, the one asked for, the bag's.

        A layout of the maker's own need not stand in the index: it is taken for any size.
        """
        request, grid = self.request, self.sheet.grid
        asked = self.layouts.get(request.layout)
        cell = (grid.cell_width, grid.cell_height) if grid is not None else None
        packs = bool(product.parts)
        if asked is not None and asked.packs != packs:
            kinds = ("one product", "assorted packs")
            raise refusal(
                "layout-not-for-packs", Place(piece=product.sku),
                f"the layout {asked.name} is for {kinds[asked.packs]}, and this is "
                f"{'an assorted pack' if packs else 'none'}",
                expected=" or ".join(one.name for one in self.layouts.values()
                                     if one.use == request.use and one.packs == packs),
                hint="Leave --layout out, or print packs in a run of their own.",
            )  # fmt: skip
        if request.use == "bags" and cell is not None:
            size = request.size or cell
            if asked is not None:
                return asked, size
            if request.layout:
                return LayoutSpec(request.layout, "", "bags", size, size), size
            return suiting(self.layouts, "bags", size, packs), size
        spec = asked or self.layouts["pack-card" if packs else "header-card"]
        card_size = request.size or spec.size_for(product.bag) or cell
        if card_size is None:
            raise refusal(
                "no-size",
                Place(piece=product.sku),
                f"a card needs a size, and the layout {request.layout or spec.name} has none",
                hint='Give one with --size, such as --size "3 x 4 in".',
            )
        return spec, card_size

    def _ask_for_gtins(self, products: Sequence[Product]) -> Finding:
        """Return that labels have retail bars, and products no number: once for all of them."""
        layouts = listed(list(dict.fromkeys(self._layout(one)[0].name for one in products)))
        piece = "card" if self.request.use == "cards" else "label"
        count = f"1 {piece}" if len(products) == 1 else f"{len(products)} {piece}s"
        return stop(
            "gtin-missing",
            Place(piece=products[0].sku if len(products) == 1 else ""),
            f"{count} of the layout {layouts} on {self.sheet.name} "
            f"{'has' if len(products) == 1 else 'have'} retail bars, which need a GTIN",
            found=f"no GTIN for {a_few([one.sku for one in products], 6)}",
            hint="Give the numbers you have in the spreadsheet's GTIN column; labeler check "
            "--give-gtins draws new ones from your own gs1_prefix. Or choose a layout without "
            "retail bars.",
        )

    def _suggest_sheets(self, products: Sequence[Product]) -> Finding:
        """Return which other layouts and sheets, or sizes of card, hold what does not fit here."""
        others = _other_labels if self.request.use == "bags" else _other_cards
        ways: list[str] = []
        for request, sheet, words in others(self.request, self.sheet):
            if len(ways) == _NAMED:
                break
            if words not in ways and self._fits(request, sheet, products[:_TRIED]):
                ways.append(words)
        count = len(products)
        them = "the product" if count == 1 else f"the {count} products"
        if ways:
            message = f"{them} that this does not hold would fit elsewhere"
            hint = f"Try {'; or '.join(ways)}."
        else:
            message = f"no other shipped layout on paper of this kind holds {them} either"
            hint = "Shorten the names and the recipe's words."
        return note("held-elsewhere", Place(), message, hint=hint)

    def _fits(self, request: PrintRequest, sheet: Sheet, products: Sequence[Product]) -> bool:
        try:
            other = PieceComposer(request, sheet, self.printer)
            for product in products:
                other.composer.compose(other._job(Labels(product, 1)))
        except LabelerError:
            return False
        return True


def _with_sheets(
    error: LabelerError, request: PrintRequest, sheet: Sheet,
    size: tuple[float, float, float] | None = None,
) -> LabelerError:  # fmt: skip
    """Return a refusal of a sheet, or of pieces too large for it, with the sheets that fit.

    Args:
        error: the refusal.
        request: what was asked for.
        sheet: the sheet that was.
        size: width, height and bleed of the largest piece; None where any label will do.
    """
    known = all_sheets(request.folder)
    if size is None:
        specs = [spec for spec in read_index(request.folder).values() if spec.use == "bags"]
        fit = [name for name, each in known.items() if any(goes_on(spec, each) for spec in specs)]
    else:
        stock = [name for name, each in known.items()
                 if each.kind == "card" and cut_grid(each, *size)]  # fmt: skip
        fit = stock if request.use == "cards" else holding(known, *size[:2])
    fit.sort(key=lambda name: not _same_paper(known[name], sheet))
    hint = f"Sheets that fit: {listed(fit, _SHEETS_NAMED)}." if fit else "No sheet here is larger."
    thing = f"the {THING[request.use]} is "
    return LabelerError(
        [
            replace(
                fault, hint=f"{hint} labeler sheets lists them all.",
                message=fault.message.replace("it is ", thing, 1),
            )
            if fault.rule in ("piece-too-large", "no-layout-for-size")
            else fault
            for fault in error.findings
        ],
        error.exit_status,
    )  # fmt: skip


_SHEETS_NAMED = 6

_Way = tuple[PrintRequest, Sheet, str]
"""Another request on another sheet, and the options that make it."""


def _other_labels(request: PrintRequest, sheet: Sheet) -> Iterator[_Way]:
    """Yield other layouts on the same sheet, then sheets of the same paper, the smallest first."""
    cells = [
        (other, (other.grid.cell_width, other.grid.cell_height))
        for other in all_sheets(request.folder).values()
        if other.grid is not None and _same_paper(other, sheet)
    ]
    specs = read_index(request.folder).values()
    for other, size in sorted(cells, key=lambda each: math.prod(each[1])):
        for spec in specs:
            if spec.use == "bags" and spec.suits(size):
                changed = replace(request, sheet=other.name, layout=spec.name, size=None)
                words = f"--sheet {other.name} --layout {spec.name} ({dimensions(*size)})"
                yield changed, other, words


def _same_paper(one: Sheet, other: Sheet) -> bool:
    """Tell whether two sheets go into the same printer: the same paper, or rolls of one head."""
    if one.kind != other.kind:
        return False
    same_size = (one.width, one.height) == (other.width, other.height)
    return one.dpi == other.dpi if one.kind == "roll" else same_size


def _other_cards(request: PrintRequest, sheet: Sheet) -> Iterator[_Way]:
    """Yield the cards at their usual size, then larger and larger ones, up to their largest."""
    cards = [spec for spec in read_index(request.folder).values() if spec.use == "cards"]
    for more in (step * _GROWN for step in range(_GROWTHS)):
        for spec in cards:
            width, height = request.size or spec.size or spec.least
            size = (
                min(spec.most[0], max(spec.least[0], width + more / 2)),
                min(spec.most[1], max(spec.least[1], height + more)),
            )
            other = replace(request, layout=spec.name, size=size)
            yield other, sheet, f"--layout {spec.name} --size '{dimensions(*size)}'"


def statements_of(use: Use, product: Product, size: Size, day: dt.date) -> tuple[Statement, ...]:
    """Return what a piece of ``size`` points must say of a product on a day where it is sold."""
    return needed(product, product.markets, day, panel=panel_of(use, product, size))


def job_of(use: Use, labels: Labels, layout: str, size: Size, day: dt.date) -> Job:
    """Return what a piece of ``size`` points is laid out from, by the rules of a day."""
    product, lot = labels.product, labels.lot
    says = statements_of(use, product, size, day)
    return Job(product, layout, size, says, lot, link_of(product, lot), labels.old_code)


@dataclass(frozen=True, slots=True)
class PlannedRun:
    """One run whose pieces are composed.

    Attributes:
        request: the file, the use, where to begin and what to leave out.
        sheet: the stock.
        printer: its profile.
        maker: whose goods they are.
        day: the day whose rules the pieces were made by.
        catalog_digest: the fingerprint of the catalog they were made from.
        line: what the finished file is held against.
        location: where the ledger is kept.
        ledger: open, or None where there is none.
        findings: what is worth saying so far.
        today: whether a lot's pieces are those of today's catalog, not of the day it was opened.
        first_edition: whether its pieces are drawn as they were before there was a second.
        opening: the lots that are opened with it, if any are.
    """

    request: PrintRequest
    sheet: Sheet
    printer: Printer
    maker: str
    day: str
    catalog_digest: str
    line: ProductLine
    location: LedgerLocation
    ledger: Ledger | None
    findings: tuple[Finding, ...] = ()
    today: bool = False
    opening: LotsOpened | None = None
    first_edition: bool = False


def print_composed(
    run: PlannedRun,
    pieces: Sequence[ComposedPiece],
    counts: Sequence[int],
    layouts: Callable[[], Sequence[KeptLayout]],
    progress: Progress | None,
) -> PrintResult:
    """Take the cells, write and check the file, record the run and name the file.

    The same run gives the same bytes. What fails gives its cells back; so does the next command
    for one that was killed.

    Args:
        run: the run.
        pieces: its pieces, each once.
        counts: how many of each.
        layouts: what each piece was made of, for the record.
        progress: called for every page, drawn and then checked.

    Raises:
        LabelerError: if anything stops the press, or the file can't be written.
    """
    request, ledger, opening = run.request, run.ledger, run.opening
    _refuse_over_print(run)
    laid = _LaidRun(run, pieces, counts, layouts, progress)
    known = None if ledger is None else lots_known(ledger, opening.known if opening else {})
    day = dt.date.fromisoformat(run.day)
    preview = laid.show if request.preview else None
    preflight = Preflight(
        request.folder, day, run.line, known, request.even_so, preview, request.seen
    )
    with laid.in_hand or nullcontext():
        report = write_checked(
            request.out, laid.write, preflight, laid.put_on_record, progress, laid.begin
        )
    if ledger is not None:
        ledger.settled.clear()  # told with the run; where it is refused, the command's end tells
    plan = laid.plan
    layout = ", ".join(dict.fromkeys(each.composed.piece.layout for each in pieces))
    labels = tuple((each.piece.sku, each.piece.lot, each.count) for each in plan.orders)
    return PrintResult(
        request.out, plan.piece_count, len({each.job.product.sku for each in pieces}),
        plan.sheet_count, plan.page_count, plan.sheet.name, layout, plan.next_free,
        (*laid.findings, *worth_saying(report), *laid.why), report, labels, laid.number,
        plan.start, not request.counts, request.preview,
        (plan.grid.page_width, plan.grid.page_height),
    )  # fmt: skip


class _LaidRun:
    """A run's pieces on their cells, which are laid again if another bench took some meanwhile."""

    first: FirstCell
    plan: Imposition
    number: int | None = None
    """Of the run in the ledger, once it is on record."""

    def __init__(
        self, run: PlannedRun, pieces: Sequence[ComposedPiece], counts: Sequence[int],
        layouts: Callable[[], Sequence[KeptLayout]], progress: Progress | None,
    ) -> None:  # fmt: skip
        self.run, self.pieces, self.layouts, self.progress = run, pieces, layouts, progress
        self.why = _reason(run.request)
        self.orders = [
            PieceOrder(each.composed.piece, count)
            for each, count in zip(pieces, counts, strict=True)
        ]
        self.settled = () if run.ledger is None else tuple(run.ledger.settled)
        self.in_hand, begun = _in_hand(run)
        self.lay(begun)

    @property
    def findings(self) -> tuple[Finding, ...]:
        return (*self.run.findings, *self.settled, *self.plan.notes, *self.first.findings)

    def lay(self, begun: OpenSheet | None) -> tuple[Imposition, Set[int] | None]:
        """Lay the pieces on a begun sheet; return the plan, and the cells that others took."""
        self.first = first_cell(self.run.request, self.run.sheet, self.pieces, begun)
        self.plan = _imposed(self.run, self.orders, self.first)
        return self.plan, self.first.taken if self.first.goes_on else None

    def begin(self, part: Path) -> None:
        if self.in_hand is not None:
            self.in_hand.reserve(self.run.sheet.name, self.run.request.out, part, self.lay)

    def write(self, file: BinaryIO, overridden: tuple[str, ...]) -> None:
        progress, pages = self.progress, self.plan.page_count
        drawn = (lambda page: progress(page, pages)) if progress else None
        ticket = ticket_of(self.run, self.plan, self.pieces)
        write_pdf(self.plan, file, replace(ticket, overridden=overridden), drawn)

    def show(self, file: BinaryIO) -> None:
        framed = self.plan.framed()
        write_pdf(framed, file, ticket_of(self.run, framed, self.pieces, preview=True))

    def put_on_record(self, pdf: str, report: Report) -> None:
        if self.in_hand is None:
            return
        from labeler.app.record import RunMetadata  # only with a ledger

        run = self.run
        about = RunMetadata(
            KINDS[run.request.use], pdf, run.printer.name, run.catalog_digest,
            run.location.workstation, (*self.findings, *each_once(report.findings), *self.why),
        )  # fmt: skip
        self.number = self.in_hand.record(self.plan, self.layouts(), about)


def _reason(request: PrintRequest) -> tuple[Finding, ...]:
    """Return why what stops the press was overruled, for the record.

    Raises:
        LabelerError: if it is no line of words.
    """
    if not request.why:
        return ()
    if not request.even_so:
        raise refusal("why-alone", Place(key="why"), "a reason goes with --even-so",
                      found=request.why[:60])  # fmt: skip
    from labeler.ledger.lots import a_line  # only where something is kept

    why = a_line(request.why, "why")
    return (note("overruled", Place(), "what stops the press was overruled", found=why),)


def _imposed(run: PlannedRun, orders: Sequence[PieceOrder], first: FirstCell) -> Imposition:
    """Return the pieces on the run's sheet; where it does not hold them, the sheets that do."""
    request, sheet = run.request, run.sheet
    try:
        return impose(
            orders, sheet, start=first.cell, spoiled=first.spoiled, fill=request.fill,
            flip=run.printer.duplex,
        )  # fmt: skip
    except LabelerError as error:
        size = largest(order.piece for order in orders)
        raise _with_sheets(error, request, sheet, size) from error


def _refuse_over_print(run: PlannedRun) -> None:
    """Refuse to let what is only to look at, or to try, take the place of labels that count.

    Raises:
        LabelerError: if the file that is there is on record.
    """
    out = run.request.out
    if run.ledger is None or run.request.counts or not out.is_file():
        return
    past = runs_of(run.ledger, out)
    if past and past[-1].state == "printed":
        raise refusal(
            "print-there", Place(file=str(out)),
            "a finished print has this name, which is on record", found=f"run {past[-1].run}",
            hint=f"Give this another name: --out {out.stem}-preview.pdf",
        )  # fmt: skip


def _in_hand(run: PlannedRun) -> tuple[RunInHand | None, OpenSheet | None]:
    """Return what takes a run's cells and records it; for a preview the begun sheet alone."""
    if run.ledger is None:
        return None, None
    from labeler.app.record import RunInHand  # only with a ledger
    from labeler.ledger.runs import open_sheet

    bench = run.location.workstation
    if run.request.preview:
        return None, open_sheet(run.ledger, run.sheet.name, workstation=bench)
    with_lots = run.opening.carry_out if run.opening else None
    return RunInHand(run.ledger, bench, not run.request.counts, with_lots), None


def ticket_of(
    run: PlannedRun, plan: Imposition, pieces: Sequence[ComposedPiece], preview: bool = False
) -> Ticket:
    """Return the ticket with which a run is printed, its run sheet attached.

    Args:
        run: the run.
        plan: what lies where.
        pieces: the pieces, each of a product that is sold in places that the run sheet names.
        preview: whether it is for pages to look at; nothing is corrected on a screen.
    """
    markets = {(each.job.product.sku, each.job.lot): each.job.product.markets for each in pieces}
    sheets = "1 sheet" if plan.sheet_count == 1 else f"{plan.sheet_count} sheets"
    printer = run.printer
    if preview:
        printer = Printer(printer.name, printer.dpi, duplex=printer.duplex)
    title = f"{_TITLES[run.request.use]}, {run.maker}"
    ticket = Ticket(
        title=f"Preview: {title}" if preview else title,
        author=run.maker,
        subject=f"{plan.piece_count} pieces on {sheets} {plan.sheet.name}",
        printer=printer,
        outline=run.request.outline or preview,
        maker_folder=run.request.folder,
        preview=preview,
    )
    facts: dict[str, Any] = {
        "use": run.request.use,
        "day": run.day,
        "catalog": run.catalog_digest,
        "printer": run.printer.name,
        "dpi": plan.sheet.dpi or run.printer.dpi,
        "sheet": plan.sheet.name,
        "ink": run.request.ink or plan.sheet.usual_ink,
        "outline": run.request.outline,
        "flip": run.printer.duplex,
        "feed": run.printer.feed,
    }
    facts |= {"products": TODAY} if run.today else {}
    facts |= {PREVIEW: True} if preview else {}
    facts |= {} if run.first_edition else {DRAWN: EDITION}  # as the files of before say nothing
    return replace(ticket, attached=(run_sheet(plan, ticket, facts, markets),))


@dataclass(frozen=True, slots=True)
class FirstCell:
    """The first cell of a run, the cells to leave out, and what to say of the begun sheet.

    ``goes_on`` tells whether the run goes on with that sheet; ``taken`` are cells of it that
    others took.
    """

    cell: int
    spoiled: frozenset[Spot]
    findings: tuple[Finding, ...] = ()
    goes_on: bool = False
    taken: frozenset[int] = frozenset()


def first_cell(
    request: PrintRequest, sheet: Sheet, pieces: Sequence[ComposedPiece], begun: OpenSheet | None
) -> FirstCell:
    """Return where a run begins: at the cell asked for, or the first free one of a begun sheet.

    Args:
        request: where to begin, and what to leave out.
        sheet: the stock.
        pieces: its pieces, after which card stock is cut.
        begun: the sheet that was begun; None where nothing is known of one.

    Raises:
        LabelerError: if the spoiled cells can't be read, or the cell asked for is used.
    """
    start = request.start
    spoiled = read_spoiled(request.spoiled)
    if begun is None:
        return FirstCell(1 if start == "next" else start, spoiled)
    grid = sheet.grid
    if grid is None and pieces:
        grid = cut_grid(sheet, *largest(each.composed.piece for each in pieces))
    fits = begun.cells == (grid.count if grid else 0)
    if start == "next" and fits:
        taken = frozenset(begun.used)
        left_out = spoiled | {Spot(1, cell) for cell in begun.spoiled}
        return FirstCell(begun.next_free, left_out, (), bool(taken), taken)
    if start == "next":
        other = note(
            "sheet-cut-otherwise",
            Place(key="start"),
            f"the begun sheet {sheet.name} was cut for other pieces, so a new one is taken",
            found=f"{begun.cells} cells",
        )
        return FirstCell(1, spoiled, (other,) if begun.used else ())
    offer = note(
        "sheet-begun",
        Place(key="start"),
        f"a sheet {sheet.name} was begun; its next free cell is {begun.next_free}",
        hint="--start next uses it up. This run took a new sheet.",
    )
    if start == 1 or not (fits and begun.used) or not request.counts:
        offered = fits and start == 1 and begun.next_free > 1
        return FirstCell(start, spoiled, (offer,) if offered else ())
    if start in begun.used:
        raise refusal(
            "cell-used",
            Place(key="start"),
            f"this cell of the sheet {sheet.name} that was begun is used",
            found=str(start),
            expected=f"next, which is {begun.next_free}, or another free one",
            hint="On a new sheet leave --start out. On another sheet whose first cells are gone, "
            f"say --spoiled 1-{start - 1} and leave --start out.",
        )
    skipped = note(
        "cells-skipped", Place(key="start"), "cells before this one were free, and count as used",
        found=str(start), expected=f"next, which is {begun.next_free}",
    )  # fmt: skip
    later = {Spot(1, cell) for cell in begun.used if cell > start}
    told = (skipped,) if start > begun.next_free else ()
    return FirstCell(start, spoiled | later, told, True, frozenset(begun.used))
