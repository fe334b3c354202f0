"""Lays out the products of a run: which layout, what size, what each has to say."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any, Literal

from labeler.catalog.model import Product
from labeler.checker.report import Report
from labeler.codes.links import product_link
from labeler.disclosures.needed import needed
from labeler.disclosures.panel import Panel, of_card, of_label
from labeler.findings import Finding, LabelerError, Place, note, stop
from labeler.layout.compose import Composed, Composer, Job
from labeler.layout.facts import facts_of
from labeler.layout.index import LayoutSpec, Size, Use, read_index, suiting
from labeler.layout.parallel import compose_each
from labeler.marks import InkMode
from labeler.memory import gc_paused
from labeler.press.impose import Spot
from labeler.press.printers import Printer
from labeler.press.sheets import Sheet, all_sheets
from labeler.units import FRACTION_SLASH, NO_BREAK_SPACE, THIN_SPACE, Length

# ----------------------------------------------------------------------------
# What a maker may wish to have printed, and what is told of it afterwards.

Progress = Callable[[int, int], None]
"""Called with how many pieces are laid out or pages drawn, and how many there are in all."""


@dataclass(frozen=True, slots=True)
class PrintRequest:
    """What to print. Everything but the folder and the file has a sensible default.

    ``wanted`` are SKUs or patterns like ``RV-*``; none means the whole line, or the lot's product.
    ``count`` is of each; None means one, or as many as the lot fills packs; ``spare`` come on top.
    ``start`` may be "next": the first free cell of the sheet that was begun. ``size`` is a
    card's, in points. ``layout`` empty means the one that suits. ``even_so`` hands out a file that
    the checker would stop.
    """

    folder: Path
    out: Path
    use: Use
    wanted: tuple[str, ...] = ()
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


DEFAULT_SHEETS: dict[Use, str] = {"bags": "letter-3x10", "cards": "letter-card"}


# ----------------------------------------------------------------------------
# What does not fit on one label may fit on another: the layouts, sheets and sizes to hold it.

Try = Callable[[PrintRequest, Sheet], bool]
"""Lays all out for another wish on another sheet, and tells whether it fits."""

_NAMED = 3
"""How many ways out are named."""

_GROWN = Length.from_inches(0.5).pt
"""The step by which a card is made higher and wider."""

_GROWTHS = 4


def suggest_sheets(wish: PrintRequest, sheet: Sheet, fits: Try, count: int) -> Finding:
    """Return which other layouts and sheets, or sizes of card, hold what does not fit.

    Args:
        wish: what was asked for.
        sheet: the sheet on which it does not fit.
        fits: tries another wish.
        count: how many products do not fit.
    """
    ways = _other_labels(wish, sheet) if wish.use == "bags" else _other_cards(wish, sheet)
    found: list[str] = []
    for other, on, words in ways:
        if len(found) < _NAMED and fits(other, on):
            found.append(words)
    them = "the product" if count == 1 else f"the {count} products"
    return note(
        "held-elsewhere",
        Place(file="layouts/layouts.toml"),
        f"{them} that this does not hold would fit elsewhere"
        if found
        else f"no other shipped layout on paper of this kind holds {them} either",
        hint=f"Try {'; or '.join(found)}."
        if found
        else "Shorten the names and the recipe’s words.",
    )


def _other_labels(wish: PrintRequest, sheet: Sheet) -> Iterator[tuple[PrintRequest, Sheet, str]]:
    """Yield other layouts on the same sheet, then sheets of the same paper, the smallest first."""
    sheets = all_sheets(wish.folder)
    for on in sorted(sheets.values(), key=_cell_area):
        if on.grid is None or not _alike(on, sheet):
            continue
        size = on.grid.cell_width, on.grid.cell_height
        for dish in read_index(wish.folder).values():
            if dish.use == "bags" and dish.suits(size):
                other = replace(wish, sheet=on.name, layout=dish.name, size=None)
                yield other, on, f"--sheet {on.name} --layout {dish.name} ({_shown(size)})"


def _cell_area(sheet: Sheet) -> float:
    return sheet.grid.cell_width * sheet.grid.cell_height if sheet.grid else 0.0


def _alike(one: Sheet, other: Sheet) -> bool:
    """Tell whether two sheets go into the same printer: the same paper, or rolls of one head."""
    if one.kind != other.kind:
        return False
    same_paper = (one.width, one.height) == (other.width, other.height)
    return one.dpi == other.dpi if one.kind == "roll" else same_paper


def _other_cards(wish: PrintRequest, sheet: Sheet) -> Iterator[tuple[PrintRequest, Sheet, str]]:
    """Yield the cards at their usual size, then larger and larger ones, up to their largest."""
    cards = [dish for dish in read_index(wish.folder).values() if dish.use == "cards"]
    for step in range(_GROWTHS):
        for dish in cards:
            size = _grown(dish, wish, step * _GROWN)
            other = replace(wish, layout=dish.name, size=size)
            yield other, sheet, f"--layout {dish.name} --size '{_shown(size)}'"


def _grown(dish: LayoutSpec, wish: PrintRequest, more: float) -> tuple[float, float]:
    wide, high = wish.size or dish.size or dish.least
    return (
        min(dish.most[0], max(dish.least[0], wide + more / 2)),
        min(dish.most[1], max(dish.least[1], high + more)),
    )


def _shown(size: tuple[float, float]) -> str:
    return f"{Length(size[0])} x {Length(size[1])}"


@dataclass(frozen=True, slots=True)
class ComposedPiece:
    """A piece laid out, and what it was laid out from."""

    job: Job
    composed: Composed


class PieceComposer:
    """Lays out every product of a run, each once, and gathers all faults before it gives up."""

    def __init__(self, wish: PrintRequest, sheet: Sheet, printer: Printer) -> None:
        self.wish, self.sheet, self.printer = wish, sheet, printer
        dpi = sheet.dpi or printer.dpi
        self.composer = Composer(wish.folder, dpi=dpi, ink=wish.ink)
        self.menu = read_index(wish.folder)
        if wish.use == "bags" and sheet.grid is not None and not wish.layout:
            size = wish.size or (sheet.grid.cell_width, sheet.grid.cell_height)
            suiting(self.menu, "bags", size)  # else every product would say the same

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
            faults.append(self._elsewhere(too_full))
        if faults:
            raise LabelerError(faults)
        return pieces

    def _elsewhere(self, products: Sequence[Product]) -> Finding:
        """Return where the products fit that do not fit here."""

        def fits(wish: PrintRequest, sheet: Sheet) -> bool:
            try:
                other = PieceComposer(wish, sheet, self.printer)
                for product in products[:_TRIED]:
                    other.composer.compose(other._job(product))
            except LabelerError:
                return False
            return True

        return suggest_sheets(self.wish, self.sheet, fits, len(products))

    def _job_or_fault(self, product: Product) -> Job | LabelerError:
        try:
            return self._job(product)
        except LabelerError as error:
            return error

    def _job(self, product: Product) -> Job:
        dish, size = self._dish(product)
        layout = self.wish.layout or dish.name
        panel = panel_of(self.wish.use, product, size)
        said = needed(product, product.markets, self.wish.day, panel=panel)
        link = ""
        if product.maker.links:
            link = product_link(product.maker.links, product.gtin, product.sku, self.wish.lot)
        return Job(product, layout, size, said, self.wish.lot, link)

    def _dish(self, product: Product) -> tuple[LayoutSpec, Size]:
        """Return the layout and the size of the piece: the cell's, the one asked for, the bag's."""
        grid = self.sheet.grid
        asked = self.menu.get(self.wish.layout)
        if self.wish.use == "bags" and grid is not None:
            size = self.wish.size or (grid.cell_width, grid.cell_height)
            return asked or self._suiting("bags", size), size
        dish = asked or self.menu["header-card"]
        usual = dish.size_for(product.bag)
        cell = (grid.cell_width, grid.cell_height) if grid is not None else None
        size_or_none = self.wish.size or usual or cell
        if size_or_none is None:
            raise LabelerError(
                stop(
                    "no-size",
                    Place(piece=product.sku),
                    f"the layout {self.wish.layout or dish.name!r} has no size of its own",
                    hint='Give one with --size, such as --size "3 x 4 in".',
                )
            )
        return dish, size_or_none

    def _suiting(self, use: Use, size: Size) -> LayoutSpec:
        if self.wish.layout:
            return LayoutSpec(self.wish.layout, "", use, size, size)
        return suiting(self.menu, use, size)


def panel_of(use: Use, product: Product, size: Size) -> Panel:
    """Return the principal display panel that a piece of ``size`` points comes to."""
    width, height = Length(size[0]), Length(size[1])
    if use == "cards":
        return of_card(width, height)
    return of_label(width, height, product.bag)


_MOST_FAULTS = 60

_TOO_FULL = frozenset({"layout-overflow", "layout-crowded"})
"""What is wrong where a piece is too small for what it must say."""

_TRIED = 24
"""How many of the products that don't fit are tried elsewhere: a maker waits for the answer."""


# ----------------------------------------------------------------------------
# What differs between a product as it was and as it is: in the words of its label.

_SHOWN = 60
_TOLD_OTHERWISE = ("weight_number", "weight_unit", "gtin14", "name")
"""Facts that say what others say too."""


@dataclass(frozen=True, slots=True)
class Difference:
    """One thing that a label would say otherwise."""

    what: str
    was: str
    now: str

    def as_json(self) -> dict[str, str]:
        """Return plain values."""
        return {"what": self.what, "was": self.was, "now": self.now}


def differences(was: Product, now: Product) -> tuple[Difference, ...]:
    """Return what the label of ``now`` would say otherwise than that of ``was``, and the recipe."""
    return tuple(_differences(_facts(was), _facts(now)))


def in_a_line(each: Difference) -> str:
    """Return a difference as one says it."""
    return f"{each.what} {each.was or 'nothing'}, now {each.now or 'nothing'}"


def _differences(was: Mapping[str, str], now: Mapping[str, str]) -> Iterator[Difference]:
    for what in was:
        if was[what] != now[what]:
            yield Difference(what, _short(was[what]), _short(now[what]))


def _facts(product: Product) -> dict[str, str]:
    facts = facts_of(product, lot="", link="", width=0, height=0, black=False)
    told = {
        key.replace("_", " "): _plain(value)
        for key, value in facts["product"].items()
        if key not in _TOLD_OTHERWISE and key != "layers"
    }
    told |= {f"maker's {key}": _plain(value) for key, value in facts["maker"].items()}
    told["recipe"] = "; ".join(_layer(layer) for layer in product.colour.layers)
    told["markets"] = ", ".join(product.markets)
    told["links"] = product.maker.links or ""
    return told


def _layer(layer: Any) -> str:
    pulled = layer.amount or layer.strands
    return f"{pulled} {layer.shade} {layer.ink} {layer.seat}"


def _plain(value: Any) -> str:
    text = str(value)
    for odd, plain in ((FRACTION_SLASH, "/"), (NO_BREAK_SPACE, " "), (THIN_SPACE, " ")):
        text = text.replace(odd, plain)
    return " ".join(text.split())


def _short(text: str) -> str:
    return text if len(text) <= _SHOWN else f"{text[: _SHOWN - 1]}…"
