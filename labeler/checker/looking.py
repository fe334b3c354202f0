"""Looks at the pages of a run: what stands on each side, and what is wrong with it by itself."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Callable, Hashable, Iterator, Sequence
from contextlib import closing, contextmanager

from labeler.checker.file import Document, UnreadableError, read_bytes
from labeler.checker.pages import Reader, ReadPage
from labeler.checker.pieces import PageSeen, SideResult, look_at_side
from labeler.checker.places import NAME, PlaceClaim, RunClaim, read_run_sheet
from labeler.checker.question import CheckRequest, LotBook
from labeler.checker.rulebook import asks, finding
from labeler.checker.rules import placing
from labeler.checker.subjects import Subjects
from labeler.checker.sweeping import unswept
from labeler.checker.worker import side_by_side, workers_for
from labeler.findings import Place

Look = Callable[[int], PageSeen]
"""Returns what stands on a page, by its number."""


@asks("run-sheet-missing")
def run_sheet(document: Document) -> RunClaim:
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
        question: what is checked.
        subjects: what its pieces have to be.
        numbers: the pages that will be asked for.
        trusted: whether our press wrote the file and nobody changed it.
    """

    def __init__(
        self,
        document: Document,
        question: CheckRequest,
        subjects: Subjects,
        numbers: Sequence[int],
        trusted: bool,
    ) -> None:
        self._name = document.name
        self._subjects = subjects
        self._pages = {page.number: page for page in document.pages()}
        self._reader = Reader(document, question.folder, subjects.run.dpi, trusted)
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
    document: Document,
    question: CheckRequest,
    subjects: Subjects,
    numbers: Sequence[int],
    trusted: bool,
    known_lot: LotBook | None,
) -> Iterator[Look]:
    """Lend what looks at pages, to be asked in the order of ``numbers``.

    Many pages of a file that our press wrote are looked at by several processes.
    """
    pages = subjects.run.pages
    sides = {(claim.piece.number, claim.side) for number in numbers for claim in pages[number]}
    count = workers_for(len(sides), len(numbers)) if trusted else 1
    if count > 1:
        lots = _lots(subjects.run, known_lot)
        with side_by_side(question, lots, numbers, count) as look:
            yield look
    else:
        with closing(Looker(document, question, subjects, numbers, trusted)) as looker:
            yield looker.look


def _lots(run: RunClaim, known_lot: LotBook | None) -> dict[str, object] | None:
    """Return what the ledger knows of every lot in the run."""
    if known_lot is None:
        return None
    codes = {claim.piece.lot for page in run.pages.values() for claim in page}
    return {code: known_lot(code) for code in sorted(codes) if code}


def look_at_pages(
    question: CheckRequest, known_lot: LotBook | None, numbers: Sequence[int]
) -> Iterator[PageSeen]:
    """Yield what stands on some pages of a file that our press wrote and nobody changed.

    Raises:
        UnreadableError: if the file can't be read any more.
    """
    document = Document(read_bytes(question.path), question.name)
    assert question.line is not None
    subjects = Subjects(question, question.line, run_sheet(document), known_lot)
    with closing(Looker(document, question, subjects, numbers, trusted=True)) as looker:
        yield from map(looker.look, numbers)
