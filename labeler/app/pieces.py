"""Composes the products of a run: which layout, what size, what each has to say.

What does not fit on one label may fit on another: then the layouts, sheets and sizes that hold it
are named.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Literal

from labeler.app.preflight import Progress
from labeler.catalog.model import Product
from labeler.codes.links import product_link
from labeler.disclosures.needed import Panel, card_panel, label_panel, needed
from labeler.findings import Finding, LabelerError, Place, note, stop
from labeler.layout.compose import Composed, Composer, Job, compose_each
from labeler.layout.index import LayoutSpec, Size, Use, read_index, suiting
from labeler.marks import InkMode
from labeler.memory import gc_paused
from labeler.press.printers import Printer
from labeler.press.sheets import Sheet, all_sheets
from labeler.units import Length

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
        link = ""
        if product.maker.links:
            link = product_link(product.maker.links, product.gtin, product.sku, request.lot)
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
            raise LabelerError(
                stop(
                    "no-size",
                    Place(piece=product.sku),
                    f"the layout {request.layout or spec.name!r} has no size of its own",
                    hint='Give one with --size, such as --size "3 x 4 in".',
                )
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
                yield changed, other, f"--sheet {other.name} --layout {spec.name} ({_text(size)})"


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
            yield other, sheet, f"--layout {spec.name} --size '{_text(size)}'"


def _text(size: Size) -> str:
    return f"{Length(size[0])} x {Length(size[1])}"


def panel_of(use: Use, product: Product, size: Size) -> Panel:
    """Return the principal display panel that a piece of ``size`` points comes to."""
    width, height = Length(size[0]), Length(size[1])
    if use == "cards":
        return card_panel(width, height)
    return label_panel(width, height, product.bag)
