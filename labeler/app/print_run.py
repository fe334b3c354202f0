"""Printing bag labels and cards: from a request to a finished, checked PDF on record.

The request names products, or a lot whose one product is printed as it was when the lot was opened.
They are composed as pieces, put into the cells of sheets, written, read back, checked, recorded
where the folder has a ledger, and only then the file gets its name. Reprints join at the pieces.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import asdict, dataclass, field, replace
from pathlib import Path
from typing import TYPE_CHECKING, Any, BinaryIO, Literal

from labeler.app.preflight import Preflight, each_once, lots_known, worth_saying, write_checked
from labeler.app.workstation import LedgerLocation, ledger_location
from labeler.catalog.casting import packs_of
from labeler.catalog.model import Catalog, Product
from labeler.catalog.read import choose, readable
from labeler.checker.claims import ProductLine
from labeler.checker.judge import Progress
from labeler.checker.report import Report
from labeler.codes.links import identifier, link_of
from labeler.disclosures.needed import Panel, card_panel, label_panel, needed
from labeler.files import refuse_to_bury
from labeler.findings import Finding, LabelerError, Place, note, refusal
from labeler.layout.compose import Composed, Composer, Job, compose_each
from labeler.layout.facts import facts_of
from labeler.layout.index import LayoutSpec, Size, Use, read_index, suiting
from labeler.marks import InkMode
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
from labeler.press.runsheet import TODAY, run_sheet
from labeler.press.sheets import Sheet, all_sheets, find_sheet
from labeler.units import FRACTION_SLASH, NO_BREAK_SPACE, THIN_SPACE, Length, dimensions

if TYPE_CHECKING:
    from labeler.ledger.lots import Lot
    from labeler.ledger.runs import KeptLayout, Kind
    from labeler.ledger.store import Ledger


DEFAULT_SHEETS: Mapping[Use, str] = {"bags": "letter-3x10", "cards": "letter-card"}

KINDS: Mapping[Use, Kind] = {"bags": "bag", "cards": "card"}
"""What the ledger calls a piece of each use."""

_TITLES: Mapping[Use, str] = {"bags": "Bag labels", "cards": "Cards"}

MOST_PIECES = 200_000
"""More than a desk printer prints in a week: a slip of the finger, not an order."""

_LOT_SHOWN = 40


@dataclass(frozen=True, slots=True)
class PrintRequest:
    """What to print. Everything but the folder, the file and the use has a sensible default.

    ``skus`` are SKUs or patterns like ``RV-*``; none means the whole line, or the lot's product.
    ``count`` is of each; None means one, or as many as the lot fills packs; ``spare`` come on top.
    ``start`` may be "next": the first free cell of the sheet that was begun. ``size`` is a
    card's, in points. ``layout`` empty means the one that suits. ``even_so`` hands out a file that
    the checker would stop.
    """

    folder: Path
    out: Path
    use: Use
    skus: tuple[str, ...] = ()
    count: int | None = None
    sheet: str = ""
    start: int | Literal["next"] = 1
    spoiled: str = ""
    printer: str = ""
    layout: str = ""
    lot: str = ""
    size: Size | None = None
    ink: InkMode = "colour"
    fill: bool = False
    outline: bool = False
    spare: int = 0
    even_so: bool = False
    day: dt.date = field(default_factory=dt.date.today)


@dataclass(frozen=True, slots=True)
class PrintResult:
    """What was printed: for the words on the screen and for the record.

    ``run`` is its number in the ledger; None where there is no ledger. ``report`` is the checker's
    on the finished file.
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
    lot: str = ""
    run: int | None = None
    start: int = 1


def print_pieces(request: PrintRequest, progress: Progress | None = None) -> PrintResult:
    """Print what is asked for; the file appears whole or not at all.

    Where the folder has a ledger the run is put on record, and a lot's labels show its product as
    it was when the lot was opened.

    Raises:
        LabelerError: with everything that stands in the way, before anything is written.
    """
    refuse_to_bury(request.out)
    _refuse_odd_lot(request.lot)
    catalog, findings = readable(request.folder)
    location = ledger_location(request.folder)
    resuming = request.start == "next"
    if not (location.begun or resuming):
        return _print(request, catalog, findings, location, None, progress)
    with location.opened(begin=resuming) as ledger:
        return _print(request, catalog, findings, location, ledger, progress)


def _print(
    request: PrintRequest, catalog: Catalog, findings: Sequence[Finding],
    location: LedgerLocation, ledger: Ledger | None, progress: Progress | None,
) -> PrintResult:  # fmt: skip
    goods = _goods(request, catalog, ledger)
    if goods.lot is not None:
        request = replace(request, lot=goods.lot.code)
    printer = find_printer(request.printer, request.folder) if request.printer else Printer()
    sheet = find_sheet(request.sheet or DEFAULT_SHEETS[request.use], request.folder)
    _refuse_too_many(goods.count, len(goods.products))
    composer = PieceComposer(request, sheet, printer)
    pieces = composer.pieces(goods.products, progress)
    run = PlannedRun(
        request, sheet, printer, goods.maker, request.day.isoformat(), goods.catalog,
        ProductLine.of(catalog), location, ledger,
        findings=(*findings, *goods.findings, *composer.findings),
    )  # fmt: skip

    def layouts() -> list[KeptLayout]:
        from labeler.app.record import RunRecorder  # only where there is a ledger

        recorder = RunRecorder(composer.composer, request.use, run.day)
        return [recorder.keep(piece.job, piece.composed) for piece in pieces]

    return print_composed(run, pieces, goods.count, layouts, progress)


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


def _goods(request: PrintRequest, catalog: Catalog, ledger: Ledger | None) -> Goods:
    if request.lot and ledger is not None:
        return _goods_of_lot(request, catalog, ledger)
    unchecked = note(
        "lot-unchecked",
        Place(key="lot"),
        "there is no ledger in this folder, so the lot code is printed as it was typed",
        found=request.lot,
        hint="labeler lot assign opens a lot, gives it a code and remembers it.",
    )
    return Goods(
        choose(catalog, request.skus),
        (1 if request.count is None else request.count) + request.spare,
        catalog.file.maker.name,
        catalog.fingerprint,
        findings=(unchecked,) if request.lot else (),
    )


def _goods_of_lot(request: PrintRequest, catalog: Catalog, ledger: Ledger) -> Goods:
    from labeler.app.record import refuse_void  # only where there is a ledger
    from labeler.ledger.lots import find, snapshot_of

    lot = find(ledger, request.lot)
    refuse_void(lot)
    if request.skus and lot.sku not in {p.sku for p in choose(catalog, request.skus)}:
        raise refusal(
            "lot-of-another",
            Place(key="lot"),
            "this lot is of another product",
            found=f"{lot.code} of {lot.sku}",
            expected=", ".join(request.skus),
            hint="Leave the SKU out: a lot's labels are of its own product.",
        )
    product = snapshot_of(ledger, lot)
    packs = packs_of(product, lot.count)
    count = packs if request.count is None else request.count
    findings = _changed_since(lot, product, catalog)
    if count > packs:
        findings.append(
            note(
                "lot-more-labels",
                Place(key=f"lot {lot.code}"),
                "more labels are asked for than the lot fills packs",
                found=str(count),
                expected=f"at most {packs}",
                hint="--spare adds some for those that go wrong.",
            )
        )
    return Goods(
        (product,), count + request.spare, product.maker.name, lot.catalog, lot, tuple(findings)
    )


def _changed_since(lot: Lot, product: Product, catalog: Catalog) -> list[Finding]:
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
            found="; ".join(map(str, changed)),
            hint="labeler reprint --today prints it as it is today.",
        )
    ]


def _refuse_odd_lot(lot: str) -> None:
    """Refuse a lot that a code could not carry as it is printed.

    Source: GS1 General Specifications, 7.11, for the characters; RFC 3986, 5.2.4, for dots alone.
    """
    kind = identifier("10")
    fault = kind.fault(lot) if kind and lot else None
    if fault or lot in (".", ".."):
        raise refusal(
            "lot-code",
            Place(key="lot"),
            fault.sentence if fault else "a lot of dots alone drops out of a link",
            found=repr(lot[:_LOT_SHOWN]),
            expected="at most 20 letters, digits and signs, without a space",
        )


def _refuse_too_many(count: int, products: int) -> None:
    if count < 1 or count * products > MOST_PIECES:
        raise refusal(
            "count-out-of-range",
            Place(key="count"),
            "this many can't be printed in one run",
            found=f"{count} each of {products}",
            expected=f"at least 1 each and at most {MOST_PIECES:,} in all",
        )


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
        self.composer = Composer(request.folder, dpi=sheet.dpi or printer.dpi, ink=request.ink)
        self.layouts = read_index(request.folder)
        if request.use == "bags" and sheet.grid is not None and not request.layout:
            size = request.size or (sheet.grid.cell_width, sheet.grid.cell_height)
            suiting(self.layouts, "bags", size)  # else every product would say the same

    @property
    def findings(self) -> tuple[Finding, ...]:
        """What is worth saying of the pieces, each once."""
        return tuple(dict.fromkeys(self.composer.findings))

    @gc_paused()
    def pieces(self, products: Sequence[Product], progress: Progress | None) -> list[ComposedPiece]:
        """Return the pieces in the products' order.

        Raises:
            LabelerError: with the faults of all of them.
        """
        pieces: list[ComposedPiece] = []
        faults: list[Finding] = []
        too_full: list[Product] = []
        jobs = [self._job_or_fault(product) for product in products]
        made = compose_each(self.composer, [job for job in jobs if isinstance(job, Job)])
        for number, (product, job) in enumerate(zip(products, jobs, strict=True), 1):
            piece = next(made) if isinstance(job, Job) else job
            if isinstance(job, Job) and isinstance(piece, Composed):
                pieces.append(ComposedPiece(job, piece))
            elif isinstance(piece, LabelerError):
                faults += piece.findings
                if all(fault.rule in _TOO_FULL for fault in piece.findings):
                    too_full.append(product)
                if len(faults) > _MOST_FAULTS:
                    faults.append(note("and-more", Place(), "and more like these"))
                    made.close()
                    break
            if progress:
                progress(number, len(products))
        if too_full:
            faults.append(self._suggest_sheets(too_full))
        if faults:
            raise LabelerError(faults)
        return pieces

    def _job_or_fault(self, product: Product) -> Job | LabelerError:
        try:
            return self._job(product)
        except LabelerError as error:
            return error

    def _job(self, product: Product) -> Job:
        request = self.request
        spec, size = self._layout(product)
        panel = panel_of(request.use, product, size)
        statements = needed(product, product.markets, request.day, panel=panel)
        link = link_of(product, request.lot)
        layout = request.layout or spec.name
        return Job(product, layout, size, statements, request.lot, link)

    def _layout(self, product: Product) -> tuple[LayoutSpec, Size]:
        """Return the layout and the size of the piece: the cell's, the one asked for, the bag's.

        A layout of the maker's own need not stand in the index: it is taken for any size.
        """
        request, grid = self.request, self.sheet.grid
        asked = self.layouts.get(request.layout)
        cell = (grid.cell_width, grid.cell_height) if grid is not None else None
        if request.use == "bags" and cell is not None:
            size = request.size or cell
            if asked is not None:
                return asked, size
            if request.layout:
                return LayoutSpec(request.layout, "", "bags", size, size), size
            return suiting(self.layouts, "bags", size), size
        spec = asked or self.layouts["header-card"]
        card_size = request.size or spec.size_for(product.bag) or cell
        if card_size is None:
            raise refusal(
                "no-size",
                Place(piece=product.sku),
                f"the layout {request.layout or spec.name!r} has no size of its own",
                hint='Give one with --size, such as --size "3 x 4 in".',
            )
        return spec, card_size

    def _suggest_sheets(self, products: Sequence[Product]) -> Finding:
        """Return which other layouts and sheets, or sizes of card, hold what does not fit here."""
        others = _other_labels if self.request.use == "bags" else _other_cards
        ways: list[str] = []
        for request, sheet, words in others(self.request, self.sheet):
            if len(ways) == _NAMED:
                break
            if self._fits(request, sheet, products[:_TRIED]):
                ways.append(words)
        count = len(products)
        them = "the product" if count == 1 else f"the {count} products"
        if ways:
            message = f"{them} that this does not hold would fit elsewhere"
            hint = f"Try {'; or '.join(ways)}."
        else:
            message = f"no other shipped layout on paper of this kind holds {them} either"
            hint = "Shorten the names and the recipe’s words."
        return note("held-elsewhere", Place(file="layouts/layouts.toml"), message, hint=hint)

    def _fits(self, request: PrintRequest, sheet: Sheet, products: Sequence[Product]) -> bool:
        try:
            other = PieceComposer(request, sheet, self.printer)
            for product in products:
                other.composer.compose(other._job(product))
        except LabelerError:
            return False
        return True


_Way = tuple[PrintRequest, Sheet, str]
"""Another request on another sheet, and the options that make it."""


def _other_labels(request: PrintRequest, sheet: Sheet) -> Iterator[_Way]:
    """Yield other layouts on the same sheet, then sheets of the same paper, the smallest first."""
    cells = [
        (other.grid.cell_width * other.grid.cell_height, other, other.grid)
        for other in all_sheets(request.folder).values()
        if other.grid is not None and _same_paper(other, sheet)
    ]
    for _, other, grid in sorted(cells, key=lambda each: each[0]):
        size = grid.cell_width, grid.cell_height
        for spec in read_index(request.folder).values():
            if spec.use == "bags" and spec.suits(size):
                changed = replace(request, sheet=other.name, layout=spec.name, size=None)
                yield (
                    changed,
                    other,
                    f"--sheet {other.name} --layout {spec.name} ({dimensions(*size)})",
                )


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


def panel_of(use: Use, product: Product, size: Size) -> Panel:
    """Return the principal display panel that a piece of ``size`` points comes to."""
    width, height = Length(size[0]), Length(size[1])
    if use == "cards":
        return card_panel(width, height)
    return label_panel(width, height, product.bag)


@dataclass(frozen=True, slots=True)
class PlannedRun:
    """One run whose pieces are composed.

    Attributes:
        request: the file, the use, where to begin and what to leave out.
        sheet: the stock.
        printer: its profile.
        maker: whose goods they are.
        day: the day whose rules the pieces were made by.
        catalog: the fingerprint of the catalog they were made from.
        line: what the finished file is held against.
        location: where the ledger is kept.
        ledger: open, or None where there is none.
        findings: what is worth saying so far.
        today: whether a lot's pieces are those of today's catalog, not of the day it was opened.
    """

    request: PrintRequest
    sheet: Sheet
    printer: Printer
    maker: str
    day: str
    catalog: str
    line: ProductLine
    location: LedgerLocation
    ledger: Ledger | None
    findings: tuple[Finding, ...] = ()
    today: bool = False


def print_composed(
    run: PlannedRun,
    pieces: Sequence[ComposedPiece],
    count: int,
    layouts: Callable[[], Sequence[KeptLayout]],
    progress: Progress | None,
) -> PrintResult:
    """Put pieces on sheets, write and check the file, record the run and name the file.

    The same run gives the same bytes.

    Args:
        run: the run.
        pieces: its pieces, each once.
        count: how many of each.
        layouts: what each piece was made of, for the record.
        progress: called for every page, drawn and then checked.

    Raises:
        LabelerError: if anything stops the press, or the file can't be written.
    """
    request, ledger = run.request, run.ledger
    start = first_cell(run, pieces)
    plan = impose(
        [PieceOrder(each.composed.piece, count) for each in pieces], run.sheet,
        start=start.cell, spoiled=start.spoiled, fill=request.fill, flip=run.printer.duplex,
    )  # fmt: skip
    findings = (*run.findings, *plan.notes, *start.findings)
    markets = {each.job.product.sku: each.job.product.markets for each in pieces}
    ticket = _ticket(run, plan, markets)
    drawn = (lambda page: progress(page, plan.page_count)) if progress else None
    number: int | None = None

    def write(file: BinaryIO, in_spite_of: tuple[str, ...]) -> None:
        write_pdf(plan, file, replace(ticket, in_spite_of=in_spite_of), drawn)

    def put_on_record(pdf: str, report: Report) -> None:
        nonlocal number
        if ledger is None:
            return
        from labeler.app.record import (
            RunMetadata,  # only where there is a ledger
            record,  # only where there is a ledger
        )

        about = RunMetadata(
            KINDS[request.use], pdf, run.printer.name, run.catalog, run.location.workstation,
            (*findings, *each_once(report.findings)),
        )  # fmt: skip
        number = record(ledger, plan, layouts(), about)

    preflight = Preflight(
        request.folder, dt.date.fromisoformat(run.day), run.line,
        None if ledger is None else lots_known(ledger), request.even_so,
    )  # fmt: skip
    report = write_checked(request.out, write, preflight, put_on_record, progress)
    layout = ", ".join(dict.fromkeys(each.composed.piece.layout for each in pieces))
    return PrintResult(
        request.out, plan.piece_count, len(pieces), plan.sheet_count, plan.page_count,
        plan.sheet.name, layout, plan.next_free, (*findings, *worth_saying(report)), report,
        request.lot, number, plan.start,
    )  # fmt: skip


def _ticket(run: PlannedRun, plan: Imposition, markets: Mapping[str, tuple[str, ...]]) -> Ticket:
    sheets = "1 sheet" if plan.sheet_count == 1 else f"{plan.sheet_count} sheets"
    ticket = Ticket(
        title=f"{_TITLES[run.request.use]}, {run.maker}",
        author=run.maker,
        subject=f"{plan.piece_count} pieces on {sheets} {plan.sheet.name}",
        printer=run.printer,
        outline=run.request.outline,
        own=run.request.folder,
    )
    facts = {
        "use": run.request.use,
        "day": run.day,
        "catalog": run.catalog,
        "printer": run.printer.name,
        "dpi": plan.sheet.dpi or run.printer.dpi,
        "sheet": plan.sheet.name,
    } | ({"products": TODAY} if run.today else {})
    return replace(ticket, attached=(run_sheet(plan, ticket, facts, markets),))


@dataclass(frozen=True, slots=True)
class FirstCell:
    """The first cell of a run, the cells to leave out, and what to say of the begun sheet."""

    cell: int
    spoiled: frozenset[Spot]
    findings: tuple[Finding, ...] = ()


def first_cell(run: PlannedRun, pieces: Sequence[ComposedPiece]) -> FirstCell:
    """Return where a run begins: at the cell asked for, or the first free one of a begun sheet.

    Raises:
        LabelerError: if the spoiled cells can't be read.
    """
    start, sheet = run.request.start, run.sheet
    spoiled = read_spoiled(run.request.spoiled)
    if run.ledger is None:
        return FirstCell(1 if start == "next" else start, spoiled)
    from labeler.ledger.runs import open_sheet  # only where there is a ledger

    begun = open_sheet(run.ledger, sheet.name, workstation=run.location.workstation)
    grid = sheet.grid
    if grid is None and pieces:
        grid = cut_grid(sheet, *largest(each.composed.piece for each in pieces))
    fits = begun.cells == (grid.count if grid else 0)
    if start == "next" and fits:
        return FirstCell(begun.next_free, spoiled | {Spot(1, cell) for cell in begun.spoiled})
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
    offered = fits and start == 1 and begun.next_free > 1
    return FirstCell(start, spoiled, (offer,) if offered else ())


_LONGEST = 60
"""Letters of a value that are shown."""

_SAID_BY_OTHERS = ("weight_number", "weight_unit", "gtin14", "name", "layers")
"""Facts that say what others say too."""

_PLAIN = str.maketrans({FRACTION_SLASH: "/", NO_BREAK_SPACE: " ", THIN_SPACE: " "})


@dataclass(frozen=True, slots=True)
class Difference:
    """One thing that a label would say otherwise."""

    what: str
    was: str
    now: str

    def as_json(self) -> dict[str, str]:
        """Return plain values."""
        return asdict(self)

    def __str__(self) -> str:
        """Return it as one says it."""
        return f"{self.what} {self.was or 'nothing'}, now {self.now or 'nothing'}"


def differences(was: Product, now: Product) -> tuple[Difference, ...]:
    """Return what the label of ``now`` would say otherwise than that of ``was``, and the recipe."""
    before, after = _facts(was), _facts(now)
    return tuple(
        Difference(what, _short(before[what]), _short(after[what]))
        for what in before
        if before[what] != after[what]
    )


def _facts(product: Product) -> dict[str, str]:
    facts = facts_of(product, lot="", link="", width=0, height=0, black=False)
    said = {
        key.replace("_", " "): _plain(value)
        for key, value in facts["product"].items()
        if key not in _SAID_BY_OTHERS
    }
    said |= {f"maker's {key}": _plain(value) for key, value in facts["maker"].items()}
    said["recipe"] = "; ".join(
        f"{layer.amount or layer.strands} {layer.shade} {layer.ink} {layer.seat}"
        for layer in product.colour.layers
    )
    said["markets"] = ", ".join(product.markets)
    said["links"] = product.maker.links or ""
    return said


def _plain(value: Any) -> str:
    return " ".join(str(value).translate(_PLAIN).split())


def _short(text: str) -> str:
    return text if len(text) <= _LONGEST else f"{text[: _LONGEST - 1]}…"
