"""Judges a finished PDF: every piece on every cell, against the catalog and the markets' rules."""

from __future__ import annotations

import datetime as dt
from collections import Counter
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field, replace
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING

from pypdf.errors import LimitReachedError

from labeler.catalog.model import Product
from labeler.catalog.read import examine
from labeler.checker import claims, worker
from labeler.checker.claims import (
    PieceClaim,
    PlaceClaim,
    ProductLine,
    RunClaim,
    other_catalog,
    other_pages,
)
from labeler.checker.page.sides import StrangePageError
from labeler.checker.pdf.file import (
    CheckedPdf,
    PageEntry,
    TooMuchError,
    UnreadableError,
    in_words,
    read_bytes,
)
from labeler.checker.pieces import (
    PageSeen,
    PieceResult,
    failed,
    looking,
    run_sheet,
    tried,
)
from labeler.checker.process import GoneError
from labeler.checker.report import ALWAYS_OPEN, Report
from labeler.checker.rules import identity, placing, required, weights, words
from labeler.checker.rules.claims import judge_claims
from labeler.checker.subject import (
    CheckedProduct,
    CheckRequest,
    LawAsked,
    LotLookup,
    Progress,
    Shelf,
    Subjects,
)
from labeler.checker.worker import check_pdf
from labeler.disclosures import sale
from labeler.findings import Finding, Grade, LabelerError, Place

if TYPE_CHECKING:
    from labeler.checker.book import BookCheck

__all__ = [
    "CheckRequest", "LotLookup", "Progress", "check_bytes", "check_own", "check_pdf", "foretell",
]  # fmt: skip


def foretell(
    folder: Path, products: Iterable[Product], day: dt.date
) -> Iterator[tuple[str, Finding]]:
    """Yield what a print would say about the words in the maker's own layouts, by SKU.

    They are filled in for each product and read as a finished label is, by the same rules. What
    only shows on paper, such as a claim over several blocks, is left to the print.

    Args:
        folder: the catalog's folder.
        products: of its line.
        day: the day of the sale.
    """
    own = sorted((folder / "layouts").glob("*.xml.jinja"))
    law, shelf = LawAsked(), Shelf(folder)
    for product in products if own else ():
        markets = product.markets
        for file in own:
            claim = PieceClaim(0, product.sku, "", markets, *_A_CARD, 0.0, (), file.name)
            subject = CheckedProduct(product, claim, markets, day, "cards", law, shelf)
            for line, text in words.fill_in(file.name.removesuffix(".xml.jinja"), subject):
                place = Place(f"layouts/{file.name}", line)
                for rule in (judge_claims, weights.judge_layout_text, identity.judge_layout_text):
                    yield from ((product.sku, each) for each in rule(text, subject, place))


_A_CARD = (216.0, 288.0)
"""Points: 3 by 4 inches. A layout may say other words on another size; most don't."""


def check_own(
    request: CheckRequest, known_lot: LotLookup | None = None, progress: Progress | None = None
) -> Report:
    """Return what is wrong with a file that this process wrote a moment ago, read in it.

    Nothing limits the time that it takes, and nothing is said of whoever may have made it.
    """
    try:
        data = read_bytes(request.path)
        try:
            return check_bytes(data, request, known_lot, progress, trusted=True)
        except (StrangePageError, GoneError):  # then nobody's help and no short cut
            return check_bytes(data, request, known_lot, progress, trusted=False)
    except UnreadableError as error:
        said = error.finding
    except LabelerError:
        raise
    except Exception as error:  # the checker's own fault, since the file is ours
        said = failed(error, Place(file=request.name))
    return Report(request.name, (said,), day=request.day)


def check_bytes(
    data: bytes,
    request: CheckRequest,
    known_lot: LotLookup | None,
    progress: Progress | None,
    *,
    trusted: bool,
) -> Report:
    """Return what is wrong with a PDF whose bytes are at hand, in this process.

    Raises:
        GoneError: if it is trusted, and a process that reads some of its pages dies.
        StrangePageError: if it is trusted and holds what our press never writes.
    """
    line = request.line
    if line is None:
        catalog, said = examine(request.folder, request.day)
        if catalog is None:
            stops = tuple(each for each in said if each.grade is Grade.STOP)
            return Report(request.name, stops, day=request.day)
        line = ProductLine.of(catalog)
    request = replace(request, line=line)
    check: _Check | BookCheck = _Check(request, line, known_lot, progress)
    try:
        document = CheckedPdf(data, request.name)
        sheet = document.attached(claims.BOOK_SHEET_NAME)
        if sheet is not None and line.catalog is not None:
            from labeler.checker.book import BookCheck  # only for a book

            claim = claims.read_book_sheet(sheet, request.name)
            check = BookCheck(request, line, line.catalog, claim, progress)
        check.run(document, trusted)
    except UnreadableError as error:
        check.found.append(error.finding)
    except (TooMuchError, LimitReachedError) as error:
        check.found.append(worker.gone(request.name, data, in_words(error)))
    if check.pages and not check.open_points:  # it came to no end
        check.open_points += [f"anything after page {check.pages}", *ALWAYS_OPEN]
    return check.report()


@dataclass
class _Check:
    """One file being checked."""

    request: CheckRequest
    line: ProductLine
    known_lot: LotLookup | None
    progress: Progress | None
    found: list[Finding] = field(default_factory=list)
    pieces: int = 0
    pages: int = 0
    open_points: list[str] = field(default_factory=list)

    def __post_init__(self) -> None:
        self.file = self.request.name
        if self.known_lot is not None:
            self.known_lot = cache(self.known_lot)
        self.subjects: Subjects | None = None
        self.judged_skus: set[tuple[str, tuple[str, ...]]] = set()
        self.waiting: dict[tuple[int, int], PieceResult] = {}
        self.strange: set[str] = set()
        self.faultless: set[object] = set()
        self.sheets: dict[tuple[int, str], int] = {}
        """The number of the sheet that a page is a side of."""

    # ------------------------------------------------------------------------- the file

    def run(self, document: CheckedPdf, trusted: bool) -> None:
        """Check every page that the run sheet names; pages that draw the same are read once."""
        self.found += document.findings()
        pages = document.pages()
        run = run_sheet(document)
        if run.preview:
            self.found.append(placing.only_preview(document.place))
            return
        self.found += tried(document.place, self._about_the_run, run, pages)
        backed = {p.piece.number for page in run.pages.values() for p in page if p.side == "back"}
        self.subjects = Subjects(self.request, self.line, run, self.known_lot)
        self._count_sheets(run)
        alike = {page.number: _alike(page, claims)
                 for page in pages if (claims := run.pages.get(page.number))}  # fmt: skip
        first: dict[object, int] = {}
        for number, key in alike.items():
            first.setdefault(key, number)
        with looking(
            document, self.request, self.subjects, list(first.values()), trusted, self.known_lot
        ) as look:
            left, kept = Counter(alike.values()), dict[object, PageSeen]()
            for page in pages:
                if (drawn := alike.get(page.number)) is not None:
                    before = kept.pop(drawn, None)
                    seen = before.on_page(page.number) if before else look(page.number)
                    left[drawn] -= 1
                    if left[drawn]:  # a page that draws the same is still to come
                        kept[drawn] = seen
                    self._note(page.number, seen, run)
                    self._settle(backed)
                if self.progress:
                    self.progress(page.number, len(pages))
        for piece in self.waiting.values():
            self._close(piece)
        self.open_points += self._open_points(run)

    def _about_the_run(self, run: RunClaim, pages: Sequence[PageEntry]) -> Iterator[Finding]:
        def holds(number: int) -> str:
            return ", ".join(sorted({claim.piece.sku for claim in run.pages[number]}))

        there = {page.number for page in pages}
        yield from other_pages(self.file, run.pages, there, holds)
        yield from other_catalog(run.catalog_digest, self.line, Place(file=self.file))

    # ------------------------------------------------------------------------- the pages

    def _note(self, number: int, seen: PageSeen, run: RunClaim) -> None:
        """Note what a page says of each piece."""
        assert self.subjects is not None
        self.pages += 1
        self.found += seen.odd
        self.strange.update(seen.strange_fonts)
        results = {(result.claim.cell, result.claim.side): result for result in seen.sides}
        for claim in run.pages[number]:
            subject = self.subjects.of(claim.piece)
            result = results.get((claim.cell, claim.side))
            if subject is not None and result is not None:
                sheet = self.sheets[number, claim.side]
                piece = self.waiting.setdefault((sheet, claim.cell), PieceResult(subject))
                piece.sides.append(result)

    def _count_sheets(self, run: RunClaim) -> None:
        """Number the sheets.

        Fronts and backs come in the same order, whether they alternate or all fronts come first.
        """
        counted = {"front": 0, "back": 0}
        for number in sorted(run.pages):
            for side in {each.side for each in run.pages[number]}:
                counted[side] += 1
                self.sheets[number, side] = counted[side]

    # ------------------------------------------------------------------------- the pieces

    def _settle(self, backed: set[int]) -> None:
        """Judge every piece of which all sides were seen."""
        for key, piece in list(self.waiting.items()):
            whole = 2 if piece.subject.claim.number in backed else 1
            if len(piece.sides) >= whole:
                self._close(piece)
                del self.waiting[key]

    def _close(self, piece: PieceResult) -> None:
        self.pieces += 1
        if piece.looks not in self.faultless:
            found = list(piece.findings(self.known_lot))
            self.found += found
            if not found:
                self.faultless.add(piece.looks)
        subject, place = piece.subject, piece.sides[0].place
        key = (subject.product.sku, subject.markets)
        if key not in self.judged_skus:
            self.judged_skus.add(key)
            for check in (required.judge_sale, required.judge_gaps, identity.samples):
                self.found += tried(place, check, subject, place)

    # ------------------------------------------------------------------------- the report

    def _open_points(self, run: RunClaim) -> Iterator[str]:
        subjects = self.subjects.known if self.subjects else []
        if self.known_lot is None and any(subject.claim.lot for subject in subjects):
            yield "whether the lots are in the ledger"
        if not run.dpi:
            yield "whether modules are whole printer dots: the printer's resolution is not known"
        if strange := sorted(name for name in self.strange if name):
            yield f"whether the letters of {', '.join(strange)} are what the text layer says"
        if run.use == "bags" and any(subject.panel.bottom for subject in subjects):
            yield "where on the bag a label sticks, and whether the quantity so is at its foot"
        markets = {market for subject in subjects for market in subject.markets}
        if parts := sale.parts_not_asked(sorted(markets)):
            yield f"the rules of {', '.join(parts)}, which are not among the places of sale"
        yield from ALWAYS_OPEN

    def report(self) -> Report:
        """Return all that was found."""
        subjects = self.subjects.known if self.subjects else []
        unknown = self.subjects.found if self.subjects else []
        markets = dict.fromkeys(market for subject in subjects for market in subject.markets)
        return Report(
            file=self.file,
            findings=tuple(dict.fromkeys([*self.found, *unknown])),
            pieces=self.pieces,
            products=len({subject.product.sku for subject in subjects}),
            pages=self.pages,
            not_checked=tuple(self.open_points),
            day=self.request.day,
            markets=tuple(markets),
        )


def _alike(page: PageEntry, claims: Sequence[PlaceClaim]) -> tuple[object, ...]:
    """Return a key that is the same for pages that draw the same pieces at the same places."""
    spots = [(c.piece.number, c.side, c.cell, c.x, c.y, c.turned) for c in claims]
    return (page.identity, *spots)
