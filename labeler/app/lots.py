"""Lots at the bench: listed, weighed, withdrawn, copied, and traced from anything in hand."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Mapping, Sequence
from contextlib import ExitStack
from dataclasses import dataclass
from fnmatch import fnmatchcase
from pathlib import Path
from typing import Any

from labeler.app.workstation import LedgerLocation, ledger_location, sku_meant
from labeler.catalog.model import Product
from labeler.files import delivered, refuse_one_name, refuse_to_bury
from labeler.findings import Finding, LabelerError, read_each
from labeler.ledger.assign import Request, hold, note_lost, release, together, void
from labeler.ledger.backup import backup
from labeler.ledger.lots import Lot, find, fold, list_lots, snapshot_of
from labeler.ledger.orders import is_number, lose_numbers
from labeler.ledger.promises import promised
from labeler.ledger.runs import PastRun, past_runs
from labeler.ledger.ship import is_slip, lose_slips, stock
from labeler.ledger.store import JournalEntry, Ledger, entries, utc_now
from labeler.ledger.trace import Story, Trace, refuse_pack, stories_of, trace, write_csv
from labeler.ledger.weigh import (
    Sample,
    WeighIn,
    read_weights,
    sample_size,
    weigh,
    weigh_ins,
)
from labeler.units import Weight, WeightUnit


@dataclass(frozen=True, slots=True)
class LotLine:
    """One lot and what became of it."""

    lot: Lot
    story: Story


def lots_of(
    folder: Path, *, sku: str = "", since: dt.date | None = None, until: dt.date | None = None,
    said: list[Finding] | None = None,
) -> tuple[tuple[LotLine, ...], LedgerLocation]:  # fmt: skip
    """Return the lots in the order of their days, void ones among them.

    Args:
        folder: the catalog.
        sku: one product's lots only, by its SKU or its words.
        since: the first day on which one was made.
        until: the last.
        said: gets a note of the product that was found by its words.

    Raises:
        LabelerError: if the ledger cannot be read. Where there is none yet there is no lot.
    """
    location = ledger_location(folder)
    with location.opened_if_begun() as ledger:
        if ledger is None:
            return (), location
        wanted = sku.strip().upper()
        found = list_lots(ledger, sku=wanted, since=since, until=until)
        if wanted and not found and not list_lots(ledger, sku=wanted):
            wanted = sku_meant(folder, ledger, sku, [] if said is None else said, strict=True)
            found = list_lots(ledger, sku=wanted, since=since, until=until)
        stories = stories_of(ledger, [lot.id for lot in found])
    return tuple(map(LotLine, found, stories)), location


def went_in_lately(folder: Path, most: int) -> dict[str, list[str]]:
    """Return the kinds of material that went into lots, each with its last suppliers' lots.

    Args:
        folder: the catalog.
        most: how many of each, the newest first.

    Raises:
        LabelerError: if the ledger cannot be read.
    """
    found: dict[str, dict[str, None]] = {}
    with ledger_location(folder).opened_if_begun() as ledger:
        for lot in reversed(list_lots(ledger)) if ledger else ():
            for each in lot.materials:
                found.setdefault(each.kind, {})[each.lot] = None
    return {kind: list(lots)[:most] for kind, lots in found.items()}


@dataclass(frozen=True, slots=True)
class LotHere:
    """One lot, and how many pieces of it are here."""

    lot: Lot
    here: int


@dataclass(frozen=True, slots=True)
class StockLine:
    """What is here of one product, in pieces; ``promised`` are still to go out for open orders."""

    sku: str
    name: str
    lots: tuple[LotHere, ...]
    promised: int

    @property
    def on_hand(self) -> int:
        """All that is here, held lots too."""
        return sum(each.here for each in self.lots)

    @property
    def held(self) -> int:
        """What is here of held lots."""
        return sum(each.here for each in self.lots if each.lot.held)

    @property
    def free(self) -> int:
        """What may be sold beside the open orders; below zero, so much is lacking for them."""
        return self.on_hand - self.held - self.promised


@dataclass(frozen=True, slots=True)
class StockAsked:
    """What is wanted of the stock.

    ``skus`` are SKUs, patterns such as ``RV-*`` or words of one product; none means all. ``csv`` is
    a file for the table, with a row for each lot if ``by_lot``, otherwise for each product.
    """

    folder: Path
    skus: tuple[str, ...] = ()
    by_lot: bool = False
    csv: Path | None = None


def stock_on_hand(asked: StockAsked, said: list[Finding]) -> tuple[StockLine, ...]:
    """Return what is here of every product: those on sale, and others that have lots.

    Args:
        asked: what is wanted.
        said: gets a note of each product that was found by its words.

    Raises:
        LabelerError: if the catalog has an error; with every word that means no product or
            several; or if the table can't be written.
    """
    from labeler.catalog.read import in_words, readable  # loads what reads spreadsheets

    location = ledger_location(asked.folder)
    catalog, _ = readable(asked.folder)
    products = {each.sku: each for each in catalog.products}
    with location.opened_if_begun() as ledger:
        lots: dict[str, Lot] = {}
        here: dict[str, list[tuple[str, int, str]]] = {}
        due: Mapping[str, int] = {}
        if ledger is not None:
            lots = {lot.code: lot for lot in list_lots(ledger)}
            here, due = ledger.read(lambda connection: (stock(connection), promised(connection)))
        names = {lot.sku: lot.name for lot in lots.values()}
        names |= {sku: in_words(product) for sku, product in products.items()}
        order = [*products, *sorted((here.keys() | due.keys()) - products.keys())]
        wanted = read_each(
            lambda word: _skus_meant(asked.folder, ledger, word, order, said), asked.skus
        )
    chosen = {sku for skus in wanted for sku in skus} if asked.skus else set(order)
    lines = tuple(
        StockLine(
            sku, names.get(sku, ""),
            tuple(
                LotHere(lots[code], pieces)
                for code, pieces, _ in here.get(sku, ())
                if not lots[code].void
            ),
            due.get(sku, 0),
        )
        for sku in order
        if sku in chosen
    )  # fmt: skip
    if asked.csv is not None:
        heads, rows = stock_table(lines, asked.by_lot)
        table = write_csv(heads, rows).encode("utf-8-sig")
        refuse_to_bury(asked.csv, alike=table[: table.index(b",")])
        with delivered(asked.csv) as file:
            file.write(table)
    return lines


def _skus_meant(
    folder: Path, ledger: Ledger | None, word: str, known: Sequence[str], said: list[Finding]
) -> list[str]:
    """Return the SKUs that a pattern fits, or the one that is meant by a SKU or by words."""
    if set("*?[") & set(word):
        if fitting := [sku for sku in known if fnmatchcase(sku, word.upper())]:
            return fitting
    elif ledger is not None:
        return [sku_meant(folder, ledger, word, said, strict=True)]
    from labeler.catalog.read import choose, readable  # loads what reads spreadsheets

    return [product.sku for product in choose(readable(folder)[0], [word], said)]


def stock_table(
    lines: Sequence[StockLine], by_lot: bool
) -> tuple[Sequence[str], list[tuple[str | int, ...]]]:
    """Return the heads and rows of a table of the stock: of each product, or each lot that is here.

    Args:
        lines: the products.
        by_lot: whether the rows are lots.
    """
    if by_lot:
        return ("SKU", "product", "lot", "made", "on hand", "held"), [
            (line.sku, line.name, each.lot.code, each.lot.made.isoformat(), each.here,
             each.lot.held.why if each.lot.held else "")
            for line in lines
            for each in line.lots
            if each.here
        ]  # fmt: skip
    return ("SKU", "product", "on hand", "held", "promised", "free"), [
        (line.sku, line.name, line.on_hand, line.held, line.promised, line.free) for line in lines
    ]


@dataclass(frozen=True, slots=True)
class LotStory:
    """Everything that the ledger knows of one lot."""

    lot: Lot
    product: Product
    story: Story
    weigh_ins: tuple[WeighIn, ...]
    runs: tuple[PastRun, ...]
    journal: tuple[JournalEntry, ...]
    location: LedgerLocation


def story_of(folder: Path, code: str) -> LotStory:
    """Return everything that the ledger knows of one lot.

    Raises:
        LabelerError: if there is no such lot; the hint names the nearest codes that exist.
    """
    location = ledger_location(folder)
    with location.opened() as ledger:
        lot = find(ledger, code)
        return LotStory(
            lot,
            snapshot_of(ledger, lot),
            stories_of(ledger, [lot.id])[0],
            tuple(weigh_ins(ledger, lot.code)),
            tuple(past_runs(ledger, lot=lot.code)),
            tuple(entries(ledger, lot=lot.code)),
            location,
        )


def journal_of(
    folder: Path, code: str = "", since: dt.date | None = None, last: int | None = None
) -> tuple[tuple[JournalEntry, ...], LedgerLocation]:
    """Return the changes to the ledger, oldest first.

    Args:
        folder: the catalog.
        code: one lot's changes only.
        since: the first day, at the bench.
        last: only so many of the newest.

    Raises:
        LabelerError: if there is no such lot, or no ledger.
    """
    location = ledger_location(folder)
    with location.opened() as ledger:
        lot = find(ledger, code).code if code else ""
        found = entries(
            ledger, lot=lot, since=location.begin_of(since) if since else None, last=last
        )
        return tuple(found), location


@dataclass(frozen=True, slots=True)
class Lost:
    """What is never given out again: lot codes, and numbers of orders, invoices and slips.

    ``numbers`` are each with what it is of, "order", "invoice" or "slip", before it, and after it
    the one that comes next.
    """

    codes: tuple[str, ...]
    numbers: tuple[tuple[str, str, str], ...]


def lose(folder: Path, given_out: Sequence[str]) -> Lost:
    """Have what is on bags and papers and not in the ledger never be given out again.

    Args:
        folder: the catalog.
        given_out: lot codes, and numbers of orders, invoices and slips.

    Raises:
        LabelerError: with every text that is none of them or not lost.
    """
    slips = [text for text in given_out if is_slip(text)]
    numbers = [text for text in given_out if is_number(text) and text not in slips]
    codes = [text for text in given_out if text not in (*numbers, *slips)]

    def note_all(ledger: Ledger) -> list[Any]:
        bar: list[Callable[[], Sequence[Any]]] = [
            lambda: note_lost(ledger, codes), lambda: lose_numbers(ledger, numbers),
            lambda: lose_slips(ledger, slips),
        ]  # fmt: skip
        noted, barred, more = read_each(lambda one: one(), bar)
        return [noted, [*barred, *more]]

    with ledger_location(folder).opened(begin=True) as ledger:
        noted, barred = together(ledger, Request.of("all lost", None), note_all, utc_now())
    return Lost(tuple(noted), tuple((kind, one, after) for kind, one, after in barred))


def void_lot(folder: Path, code: str, why: str) -> tuple[Lot, LedgerLocation]:
    """Withdraw a lot code for good; nothing is deleted.

    Raises:
        LabelerError: if there is no such lot, or pieces of it are with dealers.
    """
    location = ledger_location(folder)
    with location.opened() as ledger:
        return void(ledger, code, why), location


def hold_lot(folder: Path, code: str, why: str) -> tuple[Lot, LedgerLocation]:
    """Keep a lot from being labelled, sold or shipped until it is released.

    Raises:
        LabelerError: if there is no such lot, or no reason is given.
    """
    location = ledger_location(folder)
    with location.opened() as ledger:
        return hold(ledger, code, why), location


def release_lot(folder: Path, code: str, why: str) -> tuple[Lot, LedgerLocation]:
    """Let a held lot be labelled, sold and shipped again.

    Raises:
        LabelerError: if there is no such lot, or no reason is given.
    """
    location = ledger_location(folder)
    with location.opened() as ledger:
        return release(ledger, code, why), location


@dataclass(frozen=True, slots=True)
class SampleSize:
    """How many jigs of a lot to weigh."""

    lot: Lot
    label: Weight
    sample: int


def sample_of(folder: Path, code: str) -> SampleSize:
    """Return how many jigs of a lot to weigh, and what each should weigh.

    Raises:
        LabelerError: if there is no such lot, or it is one of assorted packs.
    """
    with ledger_location(folder).opened() as ledger:
        lot = find(ledger, code)
        refuse_pack(ledger, lot, "it isn't weighed")
        return SampleSize(lot, snapshot_of(ledger, lot).weight, sample_size(lot.count))


@dataclass(frozen=True, slots=True)
class WeighRequest:
    """Weights of a lot's sample: typed, in a file, or both.

    ``unit`` is that of a bare number; ``sure`` takes weights that look like a slip as they are;
    ``again`` says why the sample is begun again, ``close`` that it is complete.
    """

    folder: Path
    code: str
    texts: tuple[str, ...] = ()
    file: Path | None = None
    unit: WeightUnit = "g"
    sure: bool = False
    key: str | None = None
    again: str = ""
    close: bool = False


def weigh_lot(request: WeighRequest) -> tuple[WeighIn, Lot]:
    """Judge a lot by the weights of a sample, and keep the weigh-in with the lot.

    Raises:
        LabelerError: if there is no such lot or it is one of assorted packs, or a weight cannot be
            read or is questioned.
    """
    weights = list(read_weights(request.texts, request.unit))
    if request.file is not None:
        from labeler.app.open_lots import read_weight_list  # loads what reads spreadsheets

        found, unit = read_weight_list(request.file, request.unit)
        weights += read_weights([text for text, _ in found], unit, [place for _, place in found])
    with ledger_location(request.folder).opened() as ledger:
        refuse_pack(ledger, find(ledger, request.code), "it isn't weighed")
        sample = Sample(request.again, request.close)
        kept = weigh(
            ledger, request.code, weights, sure=request.sure, key=request.key, sample=sample
        )
        return kept, find(ledger, kept.lot)


def back_up(folder: Path, file: Path) -> Path:
    """Copy the ledger, whole, while others may write to it.

    Raises:
        LabelerError: if there is none, or the copy cannot be made.
    """
    with ledger_location(folder).opened() as ledger:
        return backup(ledger, file)


def trace_to_lots(
    folder: Path, text: str, csv: Path | None = None, sheet: Path | None = None, paper: str = "",
    why: str = "",
) -> tuple[Trace, tuple[Finding, ...]]:  # fmt: skip
    """Answer a question, and write the files that are asked for: they appear whole or not at all.

    A product's words stand for its SKU; which was taken is among the findings.

    Args:
        folder: the catalog.
        text: what is in hand: a supplier's lot, a lot code, a SKU, a product's words, a dealer, a
            day.
        csv: a file for the table of the answer.
        sheet: a PDF for the recall sheet.
        paper: the sheet's; empty takes the maker's country's.
        why: the reason that the sheet gives; empty takes those of lots held or void.

    Raises:
        LabelerError: if nothing in the ledger bears that name, or a file can't be written.
    """
    if sheet is not None:
        refuse_to_bury(sheet)
    refuse_one_name(*filter(None, (sheet, csv)))
    location = ledger_location(folder)
    with location.opened() as ledger:
        said: list[Finding] = []
        found = _traced(ledger, folder, text, said)
        with ExitStack() as both:  # the table has its name once the sheet is made
            if csv is not None:
                table = found.as_csv().encode("utf-8-sig")
                refuse_to_bury(csv, alike=table[: table.index(b",count")])
                both.enter_context(delivered(csv)).write(table)
            if sheet is not None:
                from labeler.app.recall import print_recall_sheet  # loads the layouts

                print_recall_sheet(folder, sheet, ledger, found, paper, why)
    return found, tuple(said)


def _traced(ledger: Ledger, folder: Path, text: str, said: list[Finding]) -> Trace:
    """Look for the text; if nothing bears that name, for what it means in the catalog."""
    try:
        found = trace(ledger, text)
        if not found.in_notes_only:
            return found
    except LabelerError:
        from labeler.catalog.read import examine  # only where the ledger does not know the name

        catalog, _ = examine(folder)
        known = catalog.file.dealers.items() if catalog else ()
        if meant := [dealer.name for heading, dealer in known if fold(heading) == fold(text)]:
            return trace(ledger, meant[0])
        sku = sku_meant(folder, ledger, text, said)
        if sku == text:
            raise
    else:  # what a note says may be a product's name: a recall wants both
        sku = sku_meant(folder, ledger, text, said)
    return trace(ledger, text, sku)
