"""Judges a finished PDF: every piece on every cell, against the catalog and the markets' rules."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field, replace
from functools import cache
from pathlib import Path

from pypdf.errors import LimitReachedError

from labeler.catalog.model import Product
from labeler.catalog.read import examine
from labeler.checker import apart, book_claims
from labeler.checker.book import BookCheck
from labeler.checker.file import Document, PageEntry, UnreadableError, read_bytes, untouched
from labeler.checker.limits import TooMuchError
from labeler.checker.line import Line
from labeler.checker.pages import Reader
from labeler.checker.pieces import PieceResult, SideResult, look_at_side
from labeler.checker.places import NAME, PieceClaim, PlaceClaim, RunClaim, read_run_sheet
from labeler.checker.report import ALWAYS_OPEN, Report
from labeler.checker.rulebook import asks, finding
from labeler.checker.rules import numbers, placing, selling
from labeler.checker.subject import KnownLot, LawAsked, Subject
from labeler.disclosures import sale
from labeler.findings import Finding, Grade, Place, did_you_mean

LotBook = Callable[[str], KnownLot | None]
"""What the ledger knows of a lot code; None for one that it does not have."""

Progress = Callable[[int, int], None]
"""Called with how many pages are checked, and how many there are."""


@dataclass(frozen=True, slots=True)
class Question:
    """What is to be checked: a file, against which catalog, for when and where."""

    path: Path
    folder: Path
    day: dt.date
    markets: tuple[str, ...] = ()
    """Places of sale to check for, in place of those that the pieces were made for."""
    line: Line | None = None
    """What it is held against; read from the folder, if it is not given."""

    @property
    def name(self) -> str:
        """What the file is called in the report."""
        return self.path.name


def check_pdf(
    path: Path,
    folder: Path,
    *,
    day: dt.date | None = None,
    known_lot: LotBook | None = None,
    markets: Sequence[str] | None = None,
    progress: Progress | None = None,
) -> Report:
    """Return what is wrong with a finished PDF of labels or cards.

    Args:
        path: the PDF.
        folder: the catalog's folder.
        day: the day of the run; today, if none is given.
        known_lot: tells what the ledger knows of a lot; without it lots are not looked up.
        markets: places of sale to check for; those that each piece was made for, if none are
            given.
        progress: called after each page.
    """
    today = dt.datetime.now().astimezone().date()
    return check(Question(path, folder, day or today, tuple(markets or ())), known_lot, progress)


def check(
    question: Question, known_lot: LotBook | None = None, progress: Progress | None = None
) -> Report:
    """Return what is wrong with the file in question.

    A file that our press wrote and nobody changed is read here; any other is read by a process
    of its own, whose time and memory are bounded.
    """
    try:
        data = read_bytes(question.path)
    except UnreadableError as error:
        return Report(question.name, (error.finding,), day=question.day)
    if untouched(data):
        try:
            return check_bytes(data, question, known_lot, progress, trusted=True)
        except Exception:
            pass
    return apart.check(question, known_lot, progress)


def check_bytes(
    data: bytes,
    question: Question,
    known_lot: LotBook | None,
    progress: Progress | None,
    *,
    trusted: bool,
) -> Report:
    """Return what is wrong with a PDF whose bytes are at hand, in this process.

    Raises:
        StrangePageError: if it is trusted and holds what our press never writes.
    """
    line = question.line
    if line is None:
        catalog, said = examine(question.folder)
        if catalog is None:
            stops = tuple(each for each in said if each.grade is Grade.STOP)
            return Report(question.name, stops, day=question.day)
        line = Line.of(catalog)
    check: _Check | BookCheck = _Check(question, line, known_lot, progress)
    try:
        document = Document(data, question.name)
        sheet = document.attached(book_claims.NAME)
        if sheet is not None and line.catalog is not None:
            claim = book_claims.read_book_sheet(sheet, question.name)
            check = BookCheck(question, line, line.catalog, claim, progress)
        check.run(document, trusted)
    except UnreadableError as error:
        check.found.append(error.finding)
    except (TooMuchError, LimitReachedError) as error:
        place = Place(file=question.name)
        check.found.append(finding("file-hostile", place, found=str(error)[:120]))
    return check.report()


@dataclass
class _Check:
    """One file being checked."""

    question: Question
    line: Line
    known_lot: LotBook | None
    progress: Progress | None
    found: list[Finding] = field(default_factory=list)
    pieces: int = 0
    pages: int = 0
    open_points: list[str] = field(default_factory=list)

    def __post_init__(self) -> None:
        self.file = self.question.name
        if self.known_lot is not None:
            self.known_lot = cache(self.known_lot)
        self.products = {product.sku: product for product in self.line.products}
        self.law = LawAsked()
        self.subjects: dict[int, Subject | None] = {}
        self.judged_skus: set[tuple[str, tuple[str, ...]]] = set()
        self.waiting: dict[tuple[int, int], PieceResult] = {}
        self.seen_before: dict[object, tuple[list[SideResult], list[Finding]]] = {}

    # ------------------------------------------------------------------------- the file

    def run(self, document: Document, trusted: bool) -> None:
        """Check every page that the run sheet names."""
        self.found += document.findings()
        pages = document.pages()
        run = self._run_sheet(document)
        self.dpi = run.dpi
        self.found += self._about_the_run(run, pages)
        backed = {p.piece.number for page in run.pages.values() for p in page if p.side == "back"}
        reader = Reader(document, self.question.folder, run.dpi, trusted)
        try:
            for page in pages:
                claims = run.pages.get(page.number, ())
                if claims:
                    self._look_at(page, claims, reader, run)
                    self._settle(page.number, run, backed)
                if self.progress:
                    self.progress(page.number, len(pages))
            for piece in self.waiting.values():
                self._close(piece)
            self.open_points += self._open_points(reader, run)
        finally:
            reader.close()

    @asks("run-sheet-missing")
    def _run_sheet(self, document: Document) -> RunClaim:
        data = document.attached(NAME)
        if data is None:
            raise UnreadableError(finding("run-sheet-missing", document.place))
        return read_run_sheet(data, self.file)

    @asks("page-missing", "page-unclaimed", "catalog-changed")
    def _about_the_run(self, run: RunClaim, pages: Sequence[PageEntry]) -> Iterator[Finding]:
        place = Place(file=self.file)
        there = {page.number for page in pages}
        for number in sorted(set(run.pages) - there)[:_SHOWN]:
            skus = sorted({claim.piece.sku for claim in run.pages[number]})
            yield finding("page-missing", Place(file=self.file, page=number), found=", ".join(skus))
        for number in sorted(there - set(run.pages))[:_SHOWN]:
            yield finding("page-unclaimed", Place(file=self.file, page=number))
        if run.catalog and run.catalog != self.line.fingerprint:
            yield finding("catalog-changed", place)

    # ------------------------------------------------------------------------- the pages

    def _look_at(
        self, page: PageEntry, claims: Sequence[PlaceClaim], reader: Reader, run: RunClaim
    ) -> None:
        """Look at a page and note what its sides say; pages that draw the same are read once."""
        self.pages += 1
        key = (page.identity, tuple(_alike(claim) for claim in claims))
        known = self.seen_before.get(key)
        if known is None:
            known = self._read(page, claims, reader, run)
            if len(self.seen_before) >= _PAGES_KEPT:
                self.seen_before.clear()
            self.seen_before[key] = known
            results, odd = known
        else:
            by_cell = {(claim.cell, claim.side): claim for claim in claims}
            results = [each.on_page(by_cell[each.claim.cell, each.claim.side]) for each in known[0]]
            odd = [_on_page(each, page.number) for each in known[1]]
        self.found += odd
        for result in results:
            subject = self._subject(result.claim.piece, run)
            if subject is not None:
                sheet = self._sheet_of(page.number, result.claim, run)
                piece = self.waiting.setdefault((sheet, result.claim.cell), PieceResult(subject))
                piece.sides.append(result)

    def _read(
        self, page: PageEntry, claims: Sequence[PlaceClaim], reader: Reader, run: RunClaim
    ) -> tuple[list[SideResult], list[Finding]]:
        sides, strays, odd = reader.read(page, claims)
        odd += placing.strays(strays, Place(file=self.file, page=page.number))
        results = []
        for side in sides:
            subject = self._subject(side.claim.piece, run)
            if subject is not None:
                results.append(look_at_side(side, subject, self.line, self.dpi))
        return results, odd

    def _sheet_of(self, page: int, claim: PlaceClaim, run: RunClaim) -> int:
        """Return the number of the sheet that a page is a side of.

        Fronts and backs come in the same order, whether they alternate or all fronts come first.
        """
        if not hasattr(self, "_sheets"):
            self._sheets: dict[tuple[int, str], int] = {}
            counted = {"front": 0, "back": 0}
            for number in sorted(run.pages):
                for side in {each.side for each in run.pages[number]}:
                    counted[side] += 1
                    self._sheets[number, side] = counted[side]
        return self._sheets[page, claim.side]

    # ------------------------------------------------------------------------- the pieces

    def _settle(self, page: int, run: RunClaim, backed: set[int]) -> None:
        """Judge every piece of which all sides were seen."""
        for key, piece in list(self.waiting.items()):
            whole = 2 if piece.subject.claim.number in backed else 1
            if len(piece.sides) >= whole:
                self._close(piece)
                del self.waiting[key]

    def _close(self, piece: PieceResult) -> None:
        self.pieces += 1
        self.found += piece.findings(self.known_lot)
        subject, place = piece.subject, piece.sides[0].place
        key = (subject.product.sku, subject.markets)
        if key not in self.judged_skus:
            self.judged_skus.add(key)
            whole = replace(place, box=None)
            self.found += selling.sold(subject, whole)
            self.found += numbers.samples(subject, whole)

    def _subject(self, claim: PieceClaim, run: RunClaim) -> Subject | None:
        """Return what a piece has to be, or None if the catalog does not know it."""
        if claim.number not in self.subjects:
            product = self._product(claim)
            self.subjects[claim.number] = None
            if product is None:
                self.found += self._unknown(claim, run)
            else:
                markets = self.question.markets or claim.markets or product.markets
                self.found += self._other_markets(claim, product, run)
                self.subjects[claim.number] = Subject(
                    product, claim, markets, self.question.day, run.use, self.law
                )
        return self.subjects[claim.number]

    def _product(self, claim: PieceClaim) -> Product | None:
        """Return the product as the ledger kept it with its lot, or else today's."""
        known = self.known_lot(claim.lot) if self.known_lot and claim.lot else None
        kept = getattr(known, "product", None)
        if isinstance(kept, Product) and kept.sku == claim.sku:
            return kept
        return self.products.get(claim.sku)

    @asks("sku-unknown", "sku-retired")
    def _unknown(self, claim: PieceClaim, run: RunClaim) -> Iterator[Finding]:
        place = self._first_place(claim, run)
        if claim.sku in self.line.retired:
            yield finding("sku-retired", place, found=claim.sku)
        else:
            hint = did_you_mean(claim.sku, list(self.products))
            yield finding("sku-unknown", place, found=claim.sku, hint=hint)

    @asks("markets-changed")
    def _other_markets(
        self, claim: PieceClaim, product: Product, run: RunClaim
    ) -> Iterator[Finding]:
        added = [market for market in product.markets if market not in claim.markets]
        if added and claim.markets and not self.question.markets:
            yield finding(
                "markets-changed", self._first_place(claim, run),
                found=", ".join(claim.markets), expected=", ".join(product.markets),
            )  # fmt: skip

    def _first_place(self, claim: PieceClaim, run: RunClaim) -> Place:
        for number in sorted(run.pages):
            for place in run.pages[number]:
                if place.piece is claim:
                    return Place(
                        file=self.file, cell=str(place.cell), page=number, piece=claim.sku,
                        box=place.box,
                    )  # fmt: skip
        return Place(file=self.file, piece=claim.sku)

    # ------------------------------------------------------------------------- the report

    def _open_points(self, reader: Reader, run: RunClaim) -> Iterator[str]:
        subjects = [subject for subject in self.subjects.values() if subject]
        if self.known_lot is None and any(subject.claim.lot for subject in subjects):
            yield "whether the lots are in the ledger"
        if not run.dpi:
            yield "whether modules are whole printer dots: the printer's resolution is not known"
        if strange := sorted(name for name in reader.unfamiliar_fonts if name):
            yield f"whether the letters of {', '.join(strange)} are what the text layer says"
        if run.use == "bags" and any(subject.panel.bottom for subject in subjects):
            yield "where on the bag a label sticks, and whether the quantity so is at its foot"
        markets = {market for subject in subjects for market in subject.markets}
        if parts := sale.parts_not_asked(sorted(markets)):
            yield f"the rules of {', '.join(parts)}, which are not among the places of sale"
        yield from ALWAYS_OPEN

    def report(self) -> Report:
        """Return all that was found."""
        subjects = [subject for subject in self.subjects.values() if subject]
        markets = dict.fromkeys(market for subject in subjects for market in subject.markets)
        return Report(
            file=self.file,
            findings=tuple(dict.fromkeys(self.found)),
            pieces=self.pieces,
            products=len({subject.product.sku for subject in subjects}),
            pages=self.pages,
            not_checked=tuple(self.open_points),
            day=self.question.day,
            markets=tuple(markets),
        )


_SHOWN = 20
_PAGES_KEPT = 8
"""Pages that draw the same follow one another, front and back."""


def _alike(claim: PlaceClaim) -> tuple[object, ...]:
    return claim.piece.number, claim.side, claim.cell, claim.x, claim.y, claim.turned


def _on_page(each: Finding, page: int) -> Finding:
    return replace(each, place=replace(each.place, page=page))
