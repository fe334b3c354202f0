"""Papers of the bench and the post, laid out as labels are, one piece a page."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Sequence
from contextlib import ExitStack
from dataclasses import dataclass
from pathlib import Path
from typing import BinaryIO, cast

from labeler.app.record import RunMetadata, layout_files, record, refuse_void
from labeler.app.workstation import LedgerLocation, ledger_location
from labeler.catalog.casting import in_jigs
from labeler.catalog.model import Maker, Product
from labeler.catalog.read import one_product, readable
from labeler.catalog.structure import PHOTOS
from labeler.codes.links import link_of
from labeler.disclosures.rules import country, is_country
from labeler.files import Hashed, delivered, refuse_to_bury, settle
from labeler.findings import Finding, Place, did_you_mean, read_each, refusal
from labeler.layout.compose import BenchPaper, Composer
from labeler.layout.facts import (
    BatchFacts,
    Slip,
    SlipLine,
    batch_facts,
    slip_facts,
)
from labeler.layout.index import Size
from labeler.ledger.assign import MOST_PIECES
from labeler.ledger.lots import Lot, find, snapshot_of
from labeler.ledger.runs import KeptLayout
from labeler.ledger.ship import Move, MoveKind, slip_number
from labeler.ledger.store import Ledger
from labeler.ledger.trace import refuse_pack
from labeler.ledger.weigh import sample_size
from labeler.marks import InkMode
from labeler.press.impose import Imposition, PieceOrder, Ticket, impose
from labeler.press.pdf.run import write_pdf
from labeler.press.sheets import Sheet, whole_page
from labeler.units import Length

SIZES: dict[str, Size] = {
    "letter": (Length.from_inches(8.5).pt, Length.from_inches(11).pt),
    "a4": (Length.from_mm(210).pt, Length.from_mm(297).pt),
}
"""Sources: ANSI/ASME Y14.1 for Letter (A), ISO 216 for A4."""

_LETTER_COUNTRIES = ("US", "CA", "MX", "CL", "CO", "PH")
"""Where Letter is the usual paper. Common practice, no published source."""


def paper_for(country: str, asked: str = "") -> str:
    """Return the paper asked for, or the one usual in a country.

    Raises:
        LabelerError: if there is no paper of the name that is asked for.
    """
    if asked and asked not in SIZES:
        raise refusal(
            "unknown-paper",
            Place(key="paper"),
            "papers of the bench are not made for this size",
            found=repr(asked),
            hint=did_you_mean(asked, list(SIZES)),
        )
    return asked or ("letter" if country in _LETTER_COUNTRIES else "a4")


def _page(paper: str) -> Sheet:
    """Return a whole page as the sheet it is printed on."""
    return whole_page(f"{paper}-page", *SIZES[paper])


@dataclass(frozen=True, slots=True)
class LaidPaper:
    """A paper laid out on its pages, to be written under a name."""

    out: Path
    plan: Imposition
    ticket: Ticket


def lay_pages(
    out: Path, pages: Sequence[BenchPaper], paper: str, ticket: Ticket, ink: InkMode = "colour"
) -> LaidPaper:
    """Return a paper of which each page is laid out by itself.

    Args:
        out: the PDF to write.
        pages: in their order.
        paper: letter or a4.
        ticket: what the document is called, whose it is, and of which catalog.
        ink: in colour, or in pure black.

    Raises:
        LabelerError: if a layout is at fault or something does not fit.
    """
    composer = Composer(ticket.maker_folder, ink=ink)
    plan = impose([PieceOrder(composer.compose_paper(page), 1) for page in pages], _page(paper))
    return LaidPaper(out, plan, ticket)


def deliver_papers(papers: Sequence[LaidPaper], before: Callable[[], None] = lambda: None) -> None:
    """Write papers that belong together: each appears whole, and none where one can't be written.

    Args:
        papers: each with the file to write.
        before: called once all of them are on the disk, before the first takes its name; if it
            raises, there is none.

    Raises:
        LabelerError: if a file can't be written.
    """
    with ExitStack() as files:
        for paper in papers:
            _write(files.enter_context(delivered(paper.out)), paper.plan, paper.ticket)
        before()


def _write(file: BinaryIO, plan: Imposition, ticket: Ticket) -> str:
    hashed = Hashed(file)
    write_pdf(plan, cast("BinaryIO", hashed), ticket)
    settle(file)
    return hashed.hexdigest


_BATCH_CARD = "batch-card"


@dataclass(frozen=True, slots=True)
class CardsMade:
    """What was written, for the words on the screen."""

    out: Path
    lots: tuple[Lot, ...]
    paper: str
    run: int


def print_batch_cards(
    folder: Path, codes: Sequence[str], out: Path, paper: str = "", ink: InkMode = "colour"
) -> CardsMade:
    """Write lots' batch cards, the pages that go with them from pot to peg, and record that.

    Args:
        folder: the catalog.
        codes: the lots, each once.
        out: the PDF to write.
        paper: letter or a4; empty takes the maker's country's.
        ink: in colour, or in pure black.

    Raises:
        LabelerError: if there is no such lot or it is void, something does not fit, or the file
            can't be written.
    """
    refuse_to_bury(out)
    location = ledger_location(folder)
    with location.opened() as ledger:

        def card_of(code: str) -> tuple[Lot, Product]:
            lot = find(ledger, code)
            refuse_void(lot, "it has no card")
            refuse_pack(ledger, lot, "it has no batch card")
            return lot, snapshot_of(ledger, lot)

        lots = dict(read_each(card_of, codes))
        cards = lay_batch_cards(folder, location, list(lots.items()), paper, ink)
        with delivered(out) as file:  # on record before it has its name
            number = cards.record(ledger, cards.write(file))
    return CardsMade(out, tuple(lots), cards.paper, number)


@dataclass(frozen=True, slots=True)
class BatchCards:
    """Lots' batch cards on their pages, ready to be written and put on record."""

    plan: Imposition
    layouts: Sequence[KeptLayout]
    ticket: Ticket
    paper: str
    catalog_digest: str

    def record(self, ledger: Ledger, pdf: str) -> int:
        """Put the cards on record by the SHA-256 of their file; return the run's number."""
        return record(
            ledger, self.plan, self.layouts, RunMetadata("batch card", pdf, "", self.catalog_digest)
        )

    def write(self, file: BinaryIO) -> str:
        """Write them, all the way to the disk, and return the SHA-256."""
        return _write(file, self.plan, self.ticket)


def lay_batch_cards(
    folder: Path, location: LedgerLocation, lots: Sequence[tuple[Lot, Product]], paper: str = "",
    ink: InkMode = "colour",
) -> BatchCards:  # fmt: skip
    """Lay out lots' batch cards, one a page.

    Args:
        folder: the catalog.
        location: where the ledger is kept, for its clock.
        lots: each with its product as it was when the lot was opened.
        paper: letter or a4; empty takes the first maker's country's.
        ink: in colour, or in pure black.

    Raises:
        LabelerError: if there is no such paper, or something does not fit.
    """
    maker = lots[0][1].maker
    paper = paper_for(maker.country, paper)
    composer = Composer(folder, ink=ink)

    def lay(lot: Lot, product: Product) -> PieceOrder:
        batch = BatchFacts(
            product, lot.code, link_of(product, lot.code), lot.count, lot.made.isoformat(),
            location.clock(lot.opened_at), sample_size(lot.count),
            [(each.kind, each.lot) for each in lot.materials], lot.note,
        )  # fmt: skip
        page = BenchPaper(_BATCH_CARD, SIZES[paper], batch_facts(batch), product, lot.code)
        return PieceOrder(composer.compose_paper(page), 1)

    plan = impose(read_each(lambda each: lay(*each), lots), _page(paper))
    layout = KeptLayout(_BATCH_CARD, layout_files(composer, _BATCH_CARD))
    of = [f"lot {lot.code}, {product.name}" for lot, product in lots]
    title = f"Batch card, {of[0]}" if len(of) == 1 else f"Batch cards, {len(of)} lots"
    ticket = Ticket(title, author=maker.name, maker_folder=folder)
    digests = {lot.catalog_digest for lot, _ in lots}
    digest = digests.pop() if len(digests) == 1 else ""
    return BatchCards(plan, [layout] * len(of), ticket, paper, digest)


@dataclass(frozen=True, slots=True)
class BenchCards:
    """The cards of what is to be tied: each product with its jigs, in the file's order."""

    out: Path
    products: tuple[tuple[Product, int], ...]
    paper: str
    findings: tuple[Finding, ...]


def print_bench_cards(
    folder: Path, wanted: Sequence[tuple[str, int]], out: Path, paper: str = "",
    ink: InkMode = "colour",
) -> BenchCards:  # fmt: skip
    """Write the cards of what is to be tied, one for each product; no lot is opened.

    Such as what open orders lack. Lot, day and the suppliers' lots are left open to write in: a lot
    is opened once its jigs are tied, by `labeler.app.tied.tie`. Nothing is put on record.

    Args:
        folder: the catalog.
        wanted: SKUs, or words of one product, each with its jigs; what comes twice is one card, and
            an assorted pack is a card of each kind in it.
        out: the PDF to write.
        paper: letter or a4; empty takes the maker's country's.
        ink: in colour, or in pure black.

    Raises:
        LabelerError: with every name that means no product or several and every count that is
            none; if something does not fit, or the file can't be written.
    """
    refuse_to_bury(out)
    catalog, findings = readable(folder)
    said = list(findings)

    jigs: Counter[str] = Counter()
    products = {}

    def add(name: str, count: int) -> None:
        for each, some in in_jigs(one_product(catalog, name, said), count):
            products[each.sku] = each
            jigs[each.sku] += some
            if count < 1 or jigs[each.sku] > MOST_PIECES:
                raise refusal(
                    "lot-count", Place(key=name), "a lot cannot have this many jigs",
                    found=f"{jigs[each.sku] if count > 0 else count:,}",
                    expected=f"1 to {MOST_PIECES:,}",
                )  # fmt: skip

    read_each(lambda each: add(*each), wanted)
    paper = paper_for(catalog.file.maker.country, paper)

    def card(product: Product) -> BenchPaper:
        count = jigs[product.sku]
        batch = BatchFacts(product, "", "", count, "", "", sample_size(count))
        return BenchPaper(_BATCH_CARD, SIZES[paper], batch_facts(batch), product)

    cards = [card(each) for each in products.values()]
    author = catalog.file.maker.name
    ticket = Ticket("Cards of what is to be tied", author=author, maker_folder=folder)
    deliver_papers([lay_pages(out, cards, paper, ticket, ink)])
    of_each = tuple((each, jigs[each.sku]) for each in products.values())
    return BenchCards(out, of_each, paper, tuple(said))


_ROWS_A_PAGE = 12
_SLIP_TITLES: dict[MoveKind, str] = {"ship": "Packing slip", "return": "Returned goods"}


@dataclass(frozen=True, slots=True)
class PackingSlip:
    """The slip that goes with a parcel: what moves, under which key, to or from whom."""

    folder: Path
    out: Path
    kind: MoveKind
    key: str
    dealer: str
    address: tuple[str, ...]
    moves: Sequence[Move]
    note: str = ""
    paper: str = ""
    order: str = ""
    """The order that it is of, as it is named on the paper."""


def lay_packing_slip(slip: PackingSlip, ledger: Ledger) -> LaidPaper:
    """Return a packing slip on its pages.

    Raises:
        LabelerError: if something does not fit.
    """
    parcels = []
    for each in slip.moves:
        lot = find(ledger, each.lot)
        product = snapshot_of(ledger, lot)
        parcels.append(SlipLine(lot.code, product, each.count, lot.made.isoformat()))
    maker = parcels[0].product.maker
    maker = maker.model_copy(update={"logo": logo_in(slip.folder, maker) or None})
    number = slip_number(slip.key)
    facts = Slip(
        maker, number, slip.moves[0].moved.isoformat(), slip.dealer, slip.address,
        slip.kind == "return", parcels, slip.note, slip.order,
        country(maker.country) if is_country("".join(slip.address[-1:])) else "",
    )  # fmt: skip
    paper = paper_for(maker.country, slip.paper)
    pages = [parcels[at : at + _ROWS_A_PAGE] for at in range(0, len(parcels), _ROWS_A_PAGE)]
    papers = [
        BenchPaper(
            "packing-slip", SIZES[paper], slip_facts(facts, page, (at, len(pages))),
            others={each.product.sku: each.product for each in page},
        )
        for at, page in enumerate(pages, 1)
    ]  # fmt: skip
    title = f"{_SLIP_TITLES[slip.kind]} {number}, {slip.dealer}"
    ticket = Ticket(title, author=maker.name, maker_folder=slip.folder)
    return lay_pages(slip.out, papers, paper, ticket)


def logo_in(folder: Path, maker: Maker) -> str:
    """Return the maker's logo for a paper of the post; none where its file is gone.

    What is shipped today may have been tied before the logo got another name.
    """
    return maker.logo if maker.logo and (folder / PHOTOS / maker.logo).is_file() else ""
