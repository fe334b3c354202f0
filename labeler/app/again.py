"""A finished PDF beside the same run made again: the press gives the same bytes for the same run.

What the run was stands in the sheet inside the PDF, in the ledger and in the catalog. The sheet is
anybody's word: it is validated, it names no path, and what the ledger kept goes before it. Nothing
that is found here takes anything back of what the checker found, nor the other way round.
"""

from __future__ import annotations

import datetime as dt
import filecmp
import re
import tempfile
from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from itertools import groupby
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any, Literal

from pydantic import BaseModel, ConfigDict, Field, ValidationError

from labeler.app.book import BookJob, BookRequest, edition_of
from labeler.app.preflight import Again, lots_known
from labeler.app.print_request import Labels, PrintRequest
from labeler.app.print_run import ComposedPiece, PlannedRun, job_of, ticket_of
from labeler.app.workstation import ledger_location
from labeler.book.edition import Audience, Paper
from labeler.catalog.model import Catalog, Product
from labeler.catalog.read import readable
from labeler.checker import worker
from labeler.checker.claims import ProductLine
from labeler.checker.process import GoneError
from labeler.checker.subject import KnownLot
from labeler.findings import Finding, Grade, LabelerError, Place, fix, stop
from labeler.geometry import Matrix
from labeler.layout.alike import set_alike
from labeler.layout.compose import Composer, Job
from labeler.layout.index import LayoutSpec, Size, Use, read_index
from labeler.marks import InkMode
from labeler.press.impose import Imposition, PieceOrder, Side, Spot, cut_grid, impose, largest
from labeler.press.pdf.run import write_pdf
from labeler.press.printers import Feed, Flip, Printer, read_printers
from labeler.press.runsheet import FORM, TODAY
from labeler.press.sheets import Sheet, find_sheet
from labeler.units import MM_PER_INCH, POINTS_PER_INCH

if TYPE_CHECKING:
    from labeler.ledger.runs import PastRun
    from labeler.ledger.store import Ledger


class NotAtHandError(Exception):
    """What the run was made of is not at hand any more; the text says what."""


def make_again(folder: Path, file: Path, ledger: Ledger | None) -> Again:
    """Make the run of a finished PDF again, and return how the two compare.

    Args:
        folder: the catalog's.
        file: the PDF, which the checker could read.
        ledger: open, or None where there is none; it does not hold these very bytes.
    """
    try:
        said = worker.origin(file)
        sheet, overridden = _sheet_in(said), _read_overridden(str(said["keywords"]))
        catalog, _ = readable(folder, sheet.day)
        with tempfile.TemporaryDirectory(prefix="labeler-") as room:
            target = Path(room) / file.name
            if isinstance(sheet, _RunSheet):
                made = _Remaking(folder, file, sheet, overridden, ledger, catalog).write(target)
            else:
                made = _write_book(folder, sheet, overridden, catalog, target)
            if filecmp.cmp(file, target, shallow=False):
                return Again(f"byte for byte what {made.of} gives", made.findings)
            found = worker.differences(file, target)
    except GoneError as error:
        gone = error.said or worker.gone_at(file, str(error))
        return Again(findings=(gone,), open_point=f"{_NOT}: {error}")
    except (LabelerError, NotAtHandError) as error:
        findings = error.findings if isinstance(error, LabelerError) else ()
        why = "; ".join(each.message for each in findings[:1]) or str(error)
        return Again(open_point=f"{_NOT}: {why}")
    if made.moved_on:
        found = tuple(_moved_on(each) for each in found)
    how = "every object, and every page dot by dot as PDFium shows it"
    return Again(f"{how}, beside {made.of}", (*made.findings, *found))


_NOT = "whether the run made again gives the same file"


def _moved_on(one: Finding) -> Finding:
    """Return a difference that a change of the catalog may explain, graded as that."""
    if one.rule in _NO_CATALOG_CHANGES:
        return one
    hint = "The catalog has changed since this file was made, which may be why. Make it again."
    return replace(one, grade=Grade.FIX, hint=hint) if one.grade is Grade.STOP else one


_NO_CATALOG_CHANGES = frozenset({
    "again-script", "again-viewer", "again-page-box", "again-layers", "again-printer",
})  # fmt: skip
"""Differences that no other words or products explain."""


@dataclass(frozen=True, slots=True)
class _Made:
    """A run made again: of what, whether the catalog has moved on, and what is to be said of it."""

    of: str
    moved_on: bool = False
    findings: tuple[Finding, ...] = ()


# ----------------------------------------------------------------------------
# What a run sheet says, as far as it can be believed at all.

_Word = Annotated[str, Field(max_length=200)]
_Lots = Annotated[str, Field(max_length=20)]
_Points = Annotated[float, Field(ge=-5_000, le=5_000, allow_inf_nan=False)]
_Count = Annotated[int, Field(ge=1, le=1_000_000)]
_Six = tuple[_Points, _Points, _Points, _Points, _Points, _Points]


class _Model(BaseModel):
    model_config = ConfigDict(frozen=True, extra="ignore")


class _Facts(_Model):
    use: Use
    day: dt.date
    sheet: _Word
    catalog: _Word = ""
    printer: _Word = ""
    dpi: Annotated[int, Field(ge=1, le=10_000)] | None = None
    ink: InkMode | None = None
    outline: bool = False
    flip: Flip | None = None
    feed: Feed | None = None
    products: _Word = ""
    drawn: int = 1


class _Piece(_Model):
    sku: _Word
    lot: _Lots
    layout: _Word
    size: tuple[_Points, _Points]


class _Pages(_Model):
    numbers: Annotated[list[tuple[_Count, _Count, _Count]], Field(max_length=10_000)]
    places: Annotated[
        list[tuple[Annotated[int, Field(ge=0)], _Points, _Points, Literal[0, 180], Side, _Count]],
        Field(max_length=10_000),
    ]


class _RunSheet(_Model):
    form: Literal[FORM]  # type: ignore[valid-type]
    run: _Facts
    correction: dict[Side, _Six] = {}
    pieces: Annotated[list[_Piece], Field(min_length=1, max_length=10_000)]
    pages: Annotated[list[_Pages], Field(max_length=10_000)]

    @property
    def day(self) -> dt.date:
        return self.run.day

    def cells(self) -> list[tuple[Spot, int]]:
        """Return each used cell in order, and the number of the piece in it.

        Raises:
            NotAtHandError: if there are more than any run has, or a piece that is not there.
        """
        backed = any(place[4] == "back" for group in self.pages for place in group.places)
        leaves = 2 if backed and self.run.feed != "hand" else 1
        found: dict[Spot, int] = {}
        for group in self.pages:
            fronts = [place for place in group.places if place[4] == "front"]
            for first, last, step in group.numbers:
                for page in range(first, last + 1, step) if fronts else ():
                    for piece, *_, cell in fronts:
                        found[Spot((page - 1) // leaves + 1, cell)] = piece
                    if len(found) > _MOST_CELLS:
                        raise NotAtHandError("its run sheet names more cells than any run has")
        if not found or max(found.values()) >= len(self.pieces):
            raise NotAtHandError("its run sheet does not hang together")
        return sorted(found.items())


_MOST_CELLS = 200_000


def _sheet_in(said: Mapping[str, Any]) -> _RunSheet | _BookSheet:
    """Return what a file says of its run or its book.

    Raises:
        NotAtHandError: if it says neither, or what can't be understood.
    """
    try:
        if said["run"] is not None:
            return _RunSheet.model_validate_json(said["run"])
        if said["book"] is not None:
            return _BookSheet.model_validate_json(said["book"])
        raise NotAtHandError("the file does not say which run it is of")
    except ValidationError as error:
        lacks = error.errors(include_url=False, include_input=False)[0]
        where = ".".join(map(str, lacks["loc"]))
        raise NotAtHandError(
            f"the sheet inside can't be understood: {where}: {lacks['msg']}"
        ) from error


# ----------------------------------------------------------------------------
# Labels and cards.


@dataclass(frozen=True, slots=True)
class _Corrected(Printer):
    """A printer whose correction is the one that a run sheet names."""

    moves: Mapping[Side, Matrix] | None = None

    def matrix(self, side: Side = "front", page: tuple[float, float] = (0.0, 0.0)) -> Matrix:
        """Return the correction that the run sheet names, whatever the page."""
        assert self.moves is not None
        return self.moves[side]


class _Remaking:
    """A run of labels or cards, made again."""

    def __init__(
        self, folder: Path, file: Path, sheet: _RunSheet, overridden: tuple[str, ...],
        ledger: Ledger | None, catalog: Catalog,
    ) -> None:  # fmt: skip
        self.folder, self.file, self.sheet, self.overridden = folder, file, sheet, overridden
        self.ledger, self.catalog = ledger, catalog
        self.cells = sheet.cells()
        self.findings: list[Finding] = []

    def write(self, target: Path) -> _Made:
        """Write the run to a file, by the functions that printed it.

        Raises:
            LabelerError: if it can't be made, with what stands in the way.
            NotAtHandError: if what it was made of is gone.
        """
        facts, kept = self.sheet.run, self._on_record()
        stock = find_sheet(facts.sheet, self.folder)
        if kept:
            pieces, ink, first = self._as_kept(kept)
            fingerprint, of = kept[0].catalog_digest, f"run {kept[0].run} as the ledger kept it"
            if fingerprint != self.catalog.fingerprint:
                of += " (the catalog has changed since)"
        else:
            (pieces, ink), first = self._by_catalog(stock), facts.drawn == 1
            fingerprint, of = facts.catalog, "the run made again from the catalog"
        moved_on = not kept and facts.catalog != self.catalog.fingerprint
        if moved_on:
            of += " (which has changed since)"
        plan = self._plan(stock, pieces)
        printer = self._printer(plan)
        request = PrintRequest(
            self.folder, target, facts.use, outline=facts.outline, ink=ink, day=facts.day
        )
        maker = pieces[0].job.product.maker.name
        run = PlannedRun(
            request, stock, printer, maker, facts.day.isoformat(), fingerprint,
            ProductLine.of(self.catalog), ledger_location(self.folder), self.ledger,
            today=facts.products == TODAY, first_edition=first,
        )  # fmt: skip
        overridden = self.overridden
        if kept and not set(overridden) <= set(kept[0].overrides):
            overridden = ()
        ticket = replace(ticket_of(run, plan, pieces), overridden=overridden)
        with target.open("wb") as opened:
            write_pdf(plan, opened, ticket)
        return _Made(of, moved_on, tuple(self.findings))

    def _on_record(self) -> list[PastRun]:
        """Return the pieces of the ledger's run of these pieces on these cells, the newest one."""
        if self.ledger is None:
            return []
        from labeler.ledger.runs import past_runs  # only where there is a ledger

        kind = "card" if self.sheet.run.use == "cards" else "bag"
        wanted = [
            (self.sheet.pieces[number].sku, self.sheet.pieces[number].lot, kind,
             tuple((spot.sheet, spot.cell) for spot, _ in group))
            for number, group in groupby(self.cells, lambda each: each[1])
        ]  # fmt: skip
        alike = past_runs(self.ledger, sku=wanted[0][0])
        stock, spots = self.sheet.run.sheet, wanted[0][3]
        numbers = {past.run for past in alike if (past.stock, past.spots) == (stock, spots)}
        for run in sorted(numbers, reverse=True):
            pieces = past_runs(self.ledger, run=run)
            there = [(each.sku, each.lot, each.kind, each.spots) for each in pieces]
            if there == wanted and pieces[0].printer == self.sheet.run.printer:
                return pieces
        self.findings.append(
            fix(
                "again-not-on-record",
                Place(file=self.file.name),
                "the ledger holds no run of these pieces on these cells",
                found=", ".join(dict.fromkeys(each[0] for each in wanted)),
                hint="It was printed before there was a ledger, or with another one; else the run "
                "sheet inside was changed. Print it from its catalog again.",
            )
        )
        return []

    def _as_kept(self, kept: Sequence[PastRun]) -> tuple[list[ComposedPiece], InkMode, bool]:
        """Return the pieces, their ink, and whether they are drawn in the first edition."""
        from labeler.app.record import product_on  # only where there is a ledger
        from labeler.app.reprint import Original, lay_out_again
        from labeler.ledger.lots import find, snapshot_of
        from labeler.ledger.runs import layout_of

        assert self.ledger is not None
        pieces: list[ComposedPiece] = []
        ink: InkMode = "colour"
        first = False
        for past in kept:
            layout = layout_of(self.ledger, past.layout_fingerprint)
            lot = find(self.ledger, past.lot) if past.lot else None
            if lot and self.sheet.run.products == TODAY:
                if past.catalog_digest != self.catalog.fingerprint:
                    raise NotAtHandError("it shows the products of a day that is past")
                product = self._products.get(past.sku)
            elif lot:
                product = snapshot_of(self.ledger, lot)
            else:
                product = product_on(layout) if layout else None
            original = Original(past.sku, lot, product, past, layout)
            piece, making, otherwise = lay_out_again(original, self.folder)
            if otherwise:
                raise NotAtHandError(
                    f"version {making.program} made it and this one draws otherwise"
                )
            pieces.append(piece)
            ink, first = making.ink, making.first_edition
        return pieces, ink, first

    @cached_property
    def _products(self) -> dict[str, Product]:
        return {product.sku: product for product in self.catalog.products}

    @cached_property
    def _layouts(self) -> Mapping[str, LayoutSpec]:
        return read_index(self.folder)

    def _by_catalog(self, stock: Sheet) -> tuple[list[ComposedPiece], InkMode]:
        """Return the pieces as today's catalog and layouts make them; a lot's as it was kept."""
        facts = self.sheet.run
        if facts.ink is None:
            raise NotAtHandError("an older version made it, which did not say in which ink")
        composer = Composer(self.folder, dpi=facts.dpi, ink=facts.ink)
        order = [number for number, _ in groupby(self.cells, lambda each: each[1])]
        jobs = {
            number: self._job(self.sheet.pieces[number], composer, stock)
            for number in dict.fromkeys(order)
        }
        alone = [composer.compose_with_pictures(job) for job in jobs.values()]
        made = set_alike(composer, list(jobs.values()), alone)
        composed = dict(zip(jobs, map(ComposedPiece, jobs.values(), made), strict=True))
        return [composed[number] for number in order], facts.ink

    def _job(self, piece: _Piece, composer: Composer, stock: Sheet) -> Job:
        facts, product = self.sheet.run, self._product(piece)
        if product is None or piece.layout not in composer.layouts.names():
            what = piece.sku if product is None else f"the layout {piece.layout!r}"
            raise NotAtHandError(f"{what} is not in the catalog any more")
        known = self._known(piece)
        labels = Labels(product, 1, piece.lot, known.old_code if known else "")
        size = self._size(piece, product, stock)
        return job_of(facts.use, labels, piece.layout, size, facts.day)

    def _known(self, piece: _Piece) -> KnownLot | None:
        return lots_known(self.ledger)(piece.lot) if piece.lot and self.ledger else None

    def _product(self, piece: _Piece) -> Product | None:
        known = None if self.sheet.run.products == TODAY else self._known(piece)
        if known and known.sku == piece.sku and known.product:
            return known.product
        return self._products.get(piece.sku)

    def _size(self, piece: _Piece, product: Product, stock: Sheet) -> Size:
        """Return a piece's size, of which the run sheet tells three digits, as it was given."""
        grid, spec = stock.grid, self._layouts.get(piece.layout)
        usual = [spec.size_for(product.bag)] if spec else []
        sizes = [*usual, (grid.cell_width, grid.cell_height) if grid else None]
        for size in filter(None, sizes):
            if all(abs(a - b) < _ROUNDED for a, b in zip(size, piece.size, strict=True)):
                return size
        return _unrounded(piece.size[0]), _unrounded(piece.size[1])

    def _plan(self, stock: Sheet, pieces: Sequence[ComposedPiece]) -> Imposition:
        """Return the pieces on their cells, by the sheet's own geometry."""
        orders = [
            PieceOrder(piece.composed.piece, len(list(group)))
            for piece, (_, group) in zip(
                pieces, groupby(self.cells, lambda each: each[1]), strict=True
            )
        ]
        grid = stock.grid or cut_grid(stock, *largest(each.piece for each in orders))
        used: defaultdict[int, set[int]] = defaultdict(set)
        for spot, _ in self.cells:
            used[spot.sheet].add(spot.cell)
        last = max(used)
        if grid and last * grid.count > _MOST_CELLS:
            raise NotAtHandError("its run sheet names more sheets than any run has")
        spoiled = frozenset(
            Spot(sheet, cell)
            for sheet in range(1, last + 1)
            for cell in range(1, (max(used[last]) if sheet == last else grid.count) + 1)
            if cell not in used[sheet]
        ) if grid else frozenset[Spot]()  # fmt: skip
        flip = self.sheet.run.flip or self._profile().duplex
        return impose(orders, stock, spoiled=spoiled, flip=flip)

    def _profile(self) -> Printer:
        name = self.sheet.run.printer
        return read_printers(self.folder).get(name, Printer(name)) if name else Printer()

    def _printer(self, plan: Imposition) -> Printer:
        """Return the printer as it was, and tell of what its profile says otherwise now."""
        facts, profile = self.sheet.run, self._profile()
        page = plan.grid.page_width, plan.grid.page_height
        sides: tuple[Side, Side] = ("front", "back")
        now = {side: profile.matrix(side, page) for side in sides}
        then = {side: self.sheet.correction.get(side, now[side]) for side in sides}
        moved = any(
            abs(a - b) > _SAME_MOVE
            for side in sides
            for a, b in zip(now[side], then[side], strict=True)
        )
        feed, flip = facts.feed or profile.feed, facts.flip or profile.duplex
        dpi = plan.sheet.dpi or facts.dpi
        if moved or (feed, flip, dpi) != (
            profile.feed, profile.duplex, plan.sheet.dpi or profile.dpi
        ):  # fmt: skip
            self.findings.append(self._other_printer(profile, then, now, (0.0, 0.0, *page)))
        if not moved:
            return replace(profile, feed=feed, duplex=flip, dpi=facts.dpi)
        return _Corrected(profile.name, facts.dpi, duplex=flip, feed=feed, moves=then)

    def _other_printer(
        self, profile: Printer, then: Mapping[Side, Matrix], now: Mapping[Side, Matrix],
        box: tuple[float, float, float, float],
    ) -> Finding:  # fmt: skip
        facts = self.sheet.run
        place = Place(file=self.file.name, page=1, box=box)
        was = f"{_moves(then['front'])}; {facts.dpi or 'no'} dpi"
        is_now = f"{_moves(now['front'])}; {profile.dpi or 'no'} dpi"
        if not profile.name:
            return stop(
                "again-other-printer", place, "the pages are moved, but no printer is named",
                found=was, expected=is_now, hint="Print it from its catalog again.",
            )  # fmt: skip
        return fix(
            "again-other-printer", place,
            f"the printer {profile.name!r} is gone, or its profile was measured again since",
            found=was, expected=is_now,
            hint="The labels would not land where they should. Print it from its catalog again.",
        )  # fmt: skip


_ROUNDED = 0.0006
_SAME_MOVE = 2e-6
"""The run sheet rounds a correction to six digits and a size to three."""


def _moves(matrix: Matrix) -> str:
    across, _, _, down, right, low = matrix
    return f"moved {right:.2f} pt right and {low:.2f} pt down, {across:.4f} by {down:.4f} as large"


def _unrounded(length: float) -> float:
    """Return a length in points as it was before it was rounded: in inches or millimetres."""
    for each in (POINTS_PER_INCH / 16, POINTS_PER_INCH / MM_PER_INCH / 10, POINTS_PER_INCH / 1000):
        whole = round(length / each)
        if abs(whole * each - length) < _ROUNDED:
            return whole * each
    return length


_OVERRIDDEN = re.compile(r"Made in spite of ([a-z0-9-]+(?:, [a-z0-9-]+)*)")


def _read_overridden(keywords: str) -> tuple[str, ...]:
    """Return the rules in spite of which a file says that it was made."""
    said = _OVERRIDDEN.fullmatch(keywords)
    return tuple(said[1].split(", ")) if said else ()


# ----------------------------------------------------------------------------
# Books, of which the ledger keeps nothing.


class _BookFacts(_Model):
    edition: Audience
    day: dt.date
    catalog: _Word = ""
    skus: Annotated[list[_Word], Field(max_length=10_000)] = []
    tiers: Annotated[list[_Word], Field(max_length=20)] = []
    dealer: _Word = ""
    paper: Paper | None = None
    bleed: bool = False
    archive: bool = False
    keystone: bool = False
    prices: bool = False
    ready: Annotated[list[_Word], Field(max_length=10_000)] | None = None


class _BookSheet(_Model):
    form: Literal[FORM]  # type: ignore[valid-type]
    book: _BookFacts
    binding: _Word

    @property
    def day(self) -> dt.date:
        return self.book.day


def _write_book(
    folder: Path, sheet: _BookSheet, overridden: tuple[str, ...], catalog: Catalog, target: Path
) -> _Made:
    """Make a book again from today's catalog.

    Raises:
        LabelerError: if it can't be made, with what stands in the way.
        NotAtHandError: if its sheet does not say enough.
    """
    facts = sheet.book
    if facts.paper is None:
        raise NotAtHandError("an older version made it, which did not say for which paper")
    if strange := set(facts.skus) - {product.sku for product in catalog.products}:
        raise NotAtHandError(f"{min(strange)} is not in the catalog any more")
    request = BookRequest(
        folder, target, facts.edition, tier=facts.tiers[0] if len(facts.tiers) == 1 else "",
        dealer=facts.dealer, only=tuple(facts.skus), paper=facts.paper,
        booklet=sheet.binding == "booklet", bleed=facts.bleed, archive=facts.archive, day=facts.day,
        keystone=facts.keystone, prices=facts.prices,
        ready=None if facts.ready is None else frozenset(facts.ready),
    )  # fmt: skip
    then = catalog.model_copy(update={"fingerprint": facts.catalog})
    job = BookJob(request, edition_of(request, then))
    with target.open("wb") as opened:
        job.write(opened, overridden)
    moved_on = facts.catalog != catalog.fingerprint
    changed = " (which has changed since)" if moved_on else ""
    return _Made(f"the book made again from the catalog{changed}", moved_on)
