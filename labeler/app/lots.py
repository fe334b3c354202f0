"""Lots at the bench: listed, weighed, withdrawn, copied, and traced from anything in hand."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from contextlib import ExitStack
from dataclasses import dataclass
from pathlib import Path

from labeler.app.workstation import LedgerLocation, ledger_location, sku_meant
from labeler.catalog.model import Product
from labeler.files import delivered, refuse_one_name, refuse_to_bury
from labeler.findings import Finding, LabelerError
from labeler.ledger.assign import hold, note_lost, release, void
from labeler.ledger.backup import backup
from labeler.ledger.lots import Lot, find, fold, list_lots, snapshot_of
from labeler.ledger.runs import PastRun, past_runs
from labeler.ledger.store import JournalEntry, Ledger, entries, last_change
from labeler.ledger.trace import Story, Trace, stories_of, trace
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
    if not location.begun:
        return (), location
    with location.opened() as ledger:
        wanted = sku.strip().upper()
        found = list_lots(ledger, sku=wanted, since=since, until=until)
        if wanted and not found and not list_lots(ledger, sku=wanted):
            wanted = sku_meant(folder, ledger, sku, [] if said is None else said, strict=True)
            found = list_lots(ledger, sku=wanted, since=since, until=until)
        stories = stories_of(ledger, [lot.id for lot in found])
    return tuple(map(LotLine, found, stories)), location


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


def lose_lots(folder: Path, codes: Sequence[str]) -> list[str]:
    """Have codes that are on bags and not in the ledger never be given out again.

    Raises:
        LabelerError: with every text that is no lot code or not lost.
    """
    with ledger_location(folder).opened(begin=True) as ledger:
        return note_lost(ledger, codes)


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
        LabelerError: if there is no such lot.
    """
    with ledger_location(folder).opened() as ledger:
        lot = find(ledger, code)
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
        LabelerError: if there is no such lot, a weight cannot be read or is questioned.
    """
    weights = list(read_weights(request.texts, request.unit))
    if request.file is not None:
        from labeler.app.open_lots import read_weight_list  # loads what reads spreadsheets

        found, unit = read_weight_list(request.file, request.unit)
        weights += read_weights([text for text, _ in found], unit, [place for _, place in found])
    with ledger_location(request.folder).opened() as ledger:
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
    folder: Path, text: str, csv: Path | None = None, sheet: Path | None = None, paper: str = ""
) -> tuple[Trace, tuple[Finding, ...]]:
    """Answer a question, and write the files that are asked for: they appear whole or not at all.

    A product's words stand for its SKU; which was taken is among the findings.

    Args:
        folder: the catalog.
        text: what is in hand: a supplier's lot, a lot code, a SKU, a product's words, a dealer, a
            day.
        csv: a file for the table of the answer.
        sheet: a PDF for the recall sheet.
        paper: the sheet's; empty takes the maker's country's.

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
                from labeler.app.papers import print_recall_sheet  # loads the layouts

                changed = last_change(ledger)
                as_of = location.clock(changed) if changed else ""
                print_recall_sheet(folder, sheet, ledger, found, as_of, paper)
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
