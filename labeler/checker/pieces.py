"""What is found on one side of a piece, and on the piece once all its sides were seen."""

from __future__ import annotations

import os
import traceback
from collections import Counter, defaultdict
from collections.abc import Callable, Hashable, Iterator, Sequence
from contextlib import closing, contextmanager
from dataclasses import dataclass, field, replace
from functools import cached_property
from itertools import count
from pathlib import Path
from typing import Any, NamedTuple

from pypdf.errors import LimitReachedError

from labeler.checker.claims import NAME, PlaceClaim, ProductLine, RunClaim, read_run_sheet
from labeler.checker.page.elements import unswept
from labeler.checker.page.sides import PageReader, ReadPage, SeenSide
from labeler.checker.pdf.file import CheckedPdf, TooMuchError, UnreadableError, read_bytes
from labeler.checker.rulebook import asks, finding
from labeler.checker.rules import codes, identity, inks, placing, required, weights, words
from labeler.checker.rules.required import SideText, Standing
from labeler.checker.subject import CheckedProduct, CheckRequest, KnownLot, LotLookup, Subjects
from labeler.checker.worker import side_by_side, workers_for
from labeler.disclosures.statements import folded
from labeler.findings import Finding, LabelerError, Place

# ----------------------------------------------------------------------------
# A rule that breaks is told as that, and takes nothing away from what the others find.

_PASSED_ON = (LabelerError, LimitReachedError, MemoryError, TooMuchError, UnreadableError)
"""What tells of the file or the machine, or of the ledger, and not of a fault of ours."""


def tried(place: Place, check: Callable[..., Any], *asked: Any) -> Iterator[Finding]:
    """Yield what a check finds, and where it breaks, that it did.

    Args:
        place: what is looked at.
        check: returns findings, or nothing.
        asked: its arguments.
    """
    try:
        yield from check(*asked) or ()
    except _PASSED_ON:
        raise
    except Exception as error:  # whatever a rule of ours raises is told, and the next one asked
        yield failed(error, place, getattr(check, "asked", ()))


@asks("checker-failed")
def failed(error: Exception, place: Place, rules: Sequence[str] = ()) -> Finding:
    """Return that the checker broke, at which rules and where in its own text."""
    frames = traceback.extract_tb(error.__traceback__)
    ours = [frame for frame in frames if _HOUSE in Path(frame.filename).parents] or frames
    at = "".join(f", {Path(each.filename).name} line {each.lineno}" for each in ours[-1:])
    found = f"{type(error).__name__}{at}: {error}"[:_TOLD]
    return finding("checker-failed", place, found=found, expected=", ".join(rules))


def while_reading(error: Exception) -> bool:
    """Tell whether an error came up where a file's own bytes are followed, which may be broken."""
    files = {Path(frame.filename) for frame in traceback.extract_tb(error.__traceback__)}
    return any(file.parent in _READERS for file in files)


_HOUSE = Path(__file__).parents[1]
_READERS = (_HOUSE / "checker/pdf", _HOUSE / "checker/page")
_TOLD = 300

SIDE_CHECKS: tuple[Callable[[SeenSide, CheckedProduct], Iterator[Finding]], ...] = (
    placing.empty,
    placing.edges,
    placing.holes,
    placing.letters,
    weights.weights,
    weights.sizes,
    required.other_counts,
    identity.lots,
    identity.article_numbers,
    identity.prices,
    required.judge_side_claims,
    words.wordless,
    inks.colour_in_black,
    inks.shades,
)
"""Every check that looks at one side by itself."""


@dataclass
class SideResult:
    """What one side of a piece says and what is wrong with it, without the page itself."""

    claim: PlaceClaim
    place: Place
    findings: list[Finding]
    standings: list[Standing]
    text: SideText
    says_lot: bool
    says_names: tuple[bool, ...]
    has_code: bool
    look: tuple[int, int]
    """The same for sides of which one was read for all: the process, and a count in it."""

    @cached_property
    def faultless(self) -> bool:
        """Whether there is nothing to say of it."""
        return not self.findings and not any(
            each.unseen or each.expired or any(wrong for _, wrong in each.found)
            for each in self.standings
        )

    def on_page(self, page: int) -> SideResult:
        """Return the same result for a page that draws the same."""
        return self.at(replace(self.claim, page=page))

    def at(self, claim: PlaceClaim) -> SideResult:
        """Return the same result for another side that is drawn alike."""
        by = claim.to_page[4] - self.claim.to_page[4], claim.to_page[5] - self.claim.to_page[5]

        def moved(findings: list[Finding]) -> list[Finding]:
            return [replace(each, place=_moved(each.place, claim, by)) for each in findings]

        findings, standings = self.findings, self.standings
        if not self.faultless:
            findings = moved(findings)
            standings = [
                Standing(
                    [(panel, moved(wrong)) for panel, wrong in each.found],
                    moved(each.unseen),
                    moved(each.expired),
                )
                for each in standings
            ]
        place = _moved(self.place, claim, by)
        return replace(self, claim=claim, place=place, findings=findings, standings=standings)


def _moved(place: Place, claim: PlaceClaim, by: tuple[float, float]) -> Place:
    box = place.box
    if box is not None and by != (0, 0):
        x, y = by
        box = box[0] + x, box[1] + y, box[2] + x, box[3] + y
    return replace(place, page=claim.page, cell=str(claim.cell), box=box)


class PageSeen(NamedTuple):
    """What stands on one page: its sides, what is odd about it, and the fonts from elsewhere."""

    sides: list[SideResult]
    odd: list[Finding]
    strange_fonts: list[str]

    def on_page(self, page: int) -> PageSeen:
        """Return the same for a page that draws the same."""
        odd = [replace(each, place=replace(each.place, page=page)) for each in self.odd]
        return PageSeen([side.on_page(page) for side in self.sides], odd, self.strange_fonts)


def look_at_side(
    side: SeenSide, subject: CheckedProduct, sold: ProductLine, dpi: float | None
) -> SideResult:
    """Return what is found on one side of a piece.

    Args:
        side: the side, measured.
        subject: what the piece has to be.
        sold: the products of the line, and what they are called.
        dpi: the printer's resolution, None where it is not known.
    """
    place = side.place()
    found = [each for check in SIDE_CHECKS for each in tried(place, check, side, subject)]
    found += tried(place, identity.others, side, subject, sold)
    found += tried(place, codes.codes, side, subject, dpi)
    found += tried(place, words.words, side, subject, sold, found)
    standings = []
    for said in subject.required:
        standing = Standing()
        found += tried(place, required.look_for, said, side, subject, standing)
        standings.append(standing)
    said_codes = tuple(code.text for code in side.all_codes if code.text)
    return SideResult(
        claim=side.claim,
        place=place,
        # each rule once for the same thing in the same place
        findings=list({(each.rule, each.found, each.place.box): each for each in found}.values()),
        standings=standings,
        text=SideText(tuple(passage.text for passage in side.passages), said_codes),
        says_lot=bool(subject.claim.lot) and identity.says_lot(side, subject.claim.lot),
        says_names=identity.says_names(side, subject),
        has_code=bool(side.all_codes),
        look=(os.getpid(), next(_LOOKS)),
    )


_LOOKS = count()


@dataclass
class PieceResult:
    """A whole piece, as far as its sides were seen."""

    subject: CheckedProduct
    sides: list[SideResult] = field(default_factory=list)

    @property
    def looks(self) -> tuple[object, ...]:
        """The same for pieces of which nothing else can be said, but where they are."""
        return id(self.subject), *(side.look for side in self.sides)

    def findings(self, known_lot: Callable[[str], KnownLot | None] | None) -> Iterator[Finding]:
        """Yield all that is wrong with the piece, once no more sides are to come."""
        place = self.sides[0].place
        texts = [side.text for side in self.sides]
        for side in self.sides:
            yield from side.findings
        missing: list[str] = []
        for number, said in enumerate(self.subject.required):
            together = Standing()
            for side in self.sides:
                standing = side.standings[number]
                together.found += standing.found
                together.unseen += standing.unseen
                together.expired += standing.expired
            yield from tried(place, required.judge_statements, said, together, texts, place)
            if not together.found:
                missing += [folded(form.plain) for form in said.satisfying]
        yield from tried(place, required.only_in_code, missing, texts, place)
        printed = any(side.says_lot for side in self.sides)
        yield from tried(place, identity.lot_of, self.subject, printed, known_lot, place)
        said_names = [any(each) for each in zip(*(s.says_names for s in self.sides), strict=True)]
        yield from tried(place, identity.nameless, said_names, self.subject, place)
        has_code = any(side.has_code for side in self.sides)
        yield from tried(place, codes.none, has_code, self.subject, place)


# ----------------------------------------------------------------------------
# Looks at the pages of a run: what stands on each side, and what is wrong with it by itself.

Look = Callable[[int], PageSeen]
"""Returns what stands on a page, by its number."""


@asks("run-sheet-missing")
def run_sheet(document: CheckedPdf) -> RunClaim:
    """Return what the run sheet inside a file says.

    Raises:
        UnreadableError: if there is none, or none that can be understood.
    """
    data = document.attached(NAME)
    if data is None:
        raise UnreadableError(finding("run-sheet-missing", document.place))
    return read_run_sheet(data, document.name)


class Looker:
    """Looks at one page after another.

    Args:
        document: the file.
        request: what is checked.
        subjects: what its pieces have to be.
        numbers: the pages that will be asked for.
        trusted: whether our press wrote the file and nobody changed it.
    """

    def __init__(
        self,
        document: CheckedPdf,
        request: CheckRequest,
        subjects: Subjects,
        numbers: Sequence[int],
        trusted: bool,
    ) -> None:
        self._name = document.name
        self._subjects = subjects
        self._pages = {page.number: page for page in document.pages()}
        self._reader = PageReader(document, request.folder, subjects.run.dpi, trusted)
        self._left = Counter(
            (claim.piece.number, claim.side)
            for page in numbers
            for claim in subjects.run.pages[page]
        )
        self._seen: dict[tuple[int, str], dict[Hashable, SideResult | None]] = defaultdict(dict)
        """What was found on sides of which more are to come that may be drawn alike."""
        self._alone: set[Hashable] = set()
        """Sides that were read together with what lies beside them, so that each is by itself."""

    def close(self) -> None:
        """Let the file go."""
        self._reader.close()

    @unswept()
    def look(self, number: int) -> PageSeen:
        """Return what stands on a page.

        Raises:
            TooMuchError: if the page asks for more than any page of labels.
            StrangePageError: if the file is trusted and the page holds what our press never writes.
        """
        claims = self._subjects.run.pages[number]
        alone = len(self._alone)
        page = self._reader.read(self._pages[number], claims, self._known, self._alone)
        results = self._results(claims, page)
        if len(self._alone) > alone:
            page = self._reader.read(self._pages[number], claims, self._known, self._alone)
            results = self._results(claims, page)
        self._forget(claims)
        stray = placing.strays(page.strays, Place(file=self._name, page=number))
        return PageSeen(
            [each for each in results if each],
            [*page.odd, *stray],
            sorted(self._reader.unfamiliar_fonts),
        )

    def _known(self, claim: PlaceClaim, key: Hashable) -> bool:
        return key in self._seen[claim.piece.number, claim.side]

    def _results(self, claims: Sequence[PlaceClaim], page: ReadPage) -> list[SideResult | None]:
        """Return what was found on each side of a page; nothing on one that no product is of."""
        run, line = self._subjects.run, self._subjects.line
        read = {id(side.claim): side for side in page.sides}
        results: list[SideResult | None] = []
        for claim, key in zip(claims, page.keys, strict=False):
            alike = self._seen[claim.piece.number, claim.side]
            subject = self._subjects.of(claim.piece)
            side = read.get(id(claim))
            if subject is None:
                alike[key] = None
            elif side is None:
                known = alike.get(key)
                results.append(known and known.at(claim))
            else:
                results.append(look_at_side(side, subject, line, run.dpi))
                if side.looks_beyond:
                    self._alone.add(key)
                elif key is not None:
                    alike[key] = results[-1]
        return results

    def _forget(self, claims: Sequence[PlaceClaim]) -> None:
        """Forget the sides of which no more are to come."""
        for claim in claims:
            which = claim.piece.number, claim.side
            self._left[which] -= 1
            if not self._left[which]:
                self._seen.pop(which, None)


@contextmanager
def looking(
    document: CheckedPdf,
    request: CheckRequest,
    subjects: Subjects,
    numbers: Sequence[int],
    trusted: bool,
    known_lot: LotLookup | None,
) -> Iterator[Look]:
    """Yield a function that reads a page by number; call it in the order of ``numbers``.

    Many pages of a file that our press wrote are looked at by several processes.
    """
    pages = subjects.run.pages
    sides = {(claim.piece.number, claim.side) for number in numbers for claim in pages[number]}
    count = workers_for(len(sides), len(numbers)) if trusted else 1
    if count > 1:
        lots = _lots(subjects.run, known_lot)
        with side_by_side(request, lots, numbers, count) as look:
            yield look
    else:
        with closing(Looker(document, request, subjects, numbers, trusted)) as looker:
            yield looker.look


def _lots(run: RunClaim, known_lot: LotLookup | None) -> dict[str, KnownLot | None] | None:
    """Return what the ledger knows of every lot in the run."""
    if known_lot is None:
        return None
    codes = {claim.piece.lot for page in run.pages.values() for claim in page}
    return {code: known_lot(code) for code in sorted(codes) if code}


def look_at_pages(
    request: CheckRequest, known_lot: LotLookup | None, numbers: Sequence[int]
) -> Iterator[PageSeen]:
    """Yield what stands on some pages of a file that our press wrote and nobody changed.

    Raises:
        UnreadableError: if the file can't be read any more.
    """
    document = CheckedPdf(read_bytes(request.path), request.name)
    assert request.line is not None
    subjects = Subjects(request, request.line, run_sheet(document), known_lot)
    with closing(Looker(document, request, subjects, numbers, trusted=True)) as looker:
        yield from map(looker.look, numbers)
