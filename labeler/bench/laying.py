"""Lays out the products of a run: which layout, what size, what each has to say."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from labeler.bench.elsewhere import held_elsewhere
from labeler.bench.wishes import Progress, Wish
from labeler.catalog.model import Product
from labeler.codes.product_link import product_link
from labeler.disclosures.needed import needed
from labeler.disclosures.panel import Panel, of_card, of_label
from labeler.findings import Finding, LabelerError, Place, note, stop
from labeler.layout.compose import Composed, Composer, Job
from labeler.layout.menu import Dish, Size, Use, read_menu, suiting
from labeler.press.printer import Printer
from labeler.press.sheet import Sheet
from labeler.press.sweeping import seldom_swept
from labeler.units import Length


@dataclass(frozen=True, slots=True)
class Laid:
    """A piece laid out, and what it was laid out from."""

    job: Job
    composed: Composed


class Setter:
    """Lays out every product of a run, each once, and gathers all faults before it gives up."""

    def __init__(self, wish: Wish, sheet: Sheet, printer: Printer) -> None:
        self.wish, self.sheet, self.printer = wish, sheet, printer
        dpi = sheet.dpi or printer.dpi
        self.composer = Composer(wish.folder, dpi=dpi, ink=wish.ink)
        self.menu = read_menu(wish.folder)
        if wish.use == "bags" and sheet.grid is not None and not wish.layout:
            size = wish.size or (sheet.grid.cell_width, sheet.grid.cell_height)
            suiting(self.menu, "bags", size)  # else every product would say the same

    @property
    def findings(self) -> tuple[Finding, ...]:
        """What is worth saying of the pieces, each once."""
        return tuple(dict.fromkeys(self.composer.findings))

    @seldom_swept()
    def pieces(self, products: Sequence[Product], progress: Progress | None) -> list[Laid]:
        """Return the pieces in the products' order.

        Raises:
            LabelerError: with the faults of all of them.
        """
        pieces: list[Laid] = []
        faults: list[Finding] = []
        too_full: list[Product] = []
        for number, product in enumerate(products, 1):
            try:
                job = self._job(product)
                pieces.append(Laid(job, self.composer.composed(job)))
            except LabelerError as error:
                faults += error.findings
                if all(fault.rule in _TOO_FULL for fault in error.findings):
                    too_full.append(product)
                if len(faults) > _MOST_FAULTS:
                    faults.append(note("and-more", Place(), "and more like these"))
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

        def fits(wish: Wish, sheet: Sheet) -> bool:
            try:
                other = Setter(wish, sheet, self.printer)
                for product in products[:_TRIED]:
                    other.composer.compose(other._job(product))
            except LabelerError:
                return False
            return True

        return held_elsewhere(self.wish, self.sheet, fits, len(products))

    def _job(self, product: Product) -> Job:
        dish, size = self._dish(product)
        layout = self.wish.layout or dish.name
        panel = panel_of(self.wish.use, product, size)
        said = needed(product, product.markets, self.wish.day, panel=panel)
        link = ""
        if product.maker.links:
            link = product_link(product.maker.links, product.gtin, product.sku, self.wish.lot)
        return Job(product, layout, size, said, self.wish.lot, link)

    def _dish(self, product: Product) -> tuple[Dish, Size]:
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

    def _suiting(self, use: Use, size: Size) -> Dish:
        if self.wish.layout:
            return Dish(self.wish.layout, "", use, size, size)
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
