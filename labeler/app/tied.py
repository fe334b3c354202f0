"""What was tied tonight: lots opened, batch cards and bag labels printed, all of it or nothing.

The codes that the lots will get are known before they are opened: cards and labels are made with
them, checked as any label is, and lie on the disk when one change of the ledger opens the lots and
puts both files on record. Where another bench was faster it is all made once more with other codes.
"""

from __future__ import annotations

import datetime as dt
import re
from collections import Counter
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any, Literal

from labeler.app.open_lots import (
    ListedBatch,
    read_batches,
    refuse_a_clock_behind,
    refuse_odd,
)
from labeler.app.papers import lay_batch_cards, print_batch_cards
from labeler.app.print_request import (
    DEFAULT_SHEETS,
    Goods,
    Labels,
    LotsOpened,
    PrintRequest,
    goods_of,
    refuse_too_many,
)
from labeler.app.print_run import FirstCell, PrintResult, first_cell, print_goods
from labeler.app.workstation import LedgerLocation, ledger_location
from labeler.catalog.casting import packs_of
from labeler.catalog.model import Catalog, Product
from labeler.catalog.read import named_count, one_product, readable
from labeler.catalog.spreadsheet.cells import CellError
from labeler.catalog.spreadsheet.grid import LARGEST_BYTES
from labeler.catalog.spreadsheet.own_cells import exact_count
from labeler.checker.subject import KnownLot, Progress
from labeler.codes.lot_code import LotForm
from labeler.files import delivered, refuse_one_name, refuse_to_bury
from labeler.findings import Finding, LabelerError, Place, listed, read_each, refusal, shown, stop
from labeler.ledger.assign import (
    Batch,
    Request,
    answer_before,
    assign_many,
    codes_ahead,
    together,
)
from labeler.ledger.lots import Lot, find, said_back, supplier_lots
from labeler.ledger.runs import OpenSheet, open_sheet, past_runs
from labeler.ledger.store import Ledger, utc_now
from labeler.marks import InkMode
from labeler.press.impose import Spot, cells_for
from labeler.press.printers import find_printer
from labeler.press.sheets import find_sheet

_ENTRY = re.compile(
    r"[\s,;]*([^=\n;]+?)\s*=\s*(\d{1,3}(?:,\d{3})+(?!\d)|(?:\d{1,9}|an? )[ -]*[^\W\d_]*\.?)"
    r"\s*(?=[,;\n]|$)",
    re.IGNORECASE,
)
"""``NAME = N``, and what parts it from the next; a name may hold commas itself."""


@dataclass(frozen=True, slots=True)
class TiedRequest:
    """What was tied, and where its papers go.

    Attributes:
        folder: the catalog.
        texts: what was tied as one says it: ``NAME = N``, several with commas or lines between.
        file: what ``texts`` may also come from: its bytes and name; lines such as those, or a
            table as `open_lots` reads one.
        made: the day of all that has none of its own; None for today, at the bench.
        materials: what went into all of it, each as ``KIND=SUPPLIER-LOT``.
        note: a line of the maker's own.
        key: names this request; None takes what was tied and the day for its name.
        sure: open lots though some just like them are there, or of long ago.
        labels: the PDF of the bag labels; None takes a name with the first lot's code.
        cards: that of the batch cards, likewise.
        into: the folder of a file that is not named.
        paper: the cards', letter or a4; empty takes the maker's country's.
    """

    folder: Path
    texts: tuple[str, ...] = ()
    file: tuple[bytes, str] | None = None
    made: dt.date | None = None
    materials: tuple[str, ...] = ()
    note: str = ""
    key: str | None = None
    sure: bool = False
    labels: Path | None = None
    cards: Path | None = None
    into: Path = Path()
    paper: str = ""
    sheet: str = ""
    start: int | Literal["next"] = "next"
    spoiled: str = ""
    printer: str = ""
    layout: str = ""
    spare: int = 0
    ink: InkMode | None = None
    even_so: bool = False


@dataclass(frozen=True, slots=True)
class Understood:
    """One batch as it will be kept, and how many labels it gets."""

    batch: Batch
    labels: int


Tell = Callable[[Sequence[Understood], Sequence[Finding]], None]
"""Is told what was understood before anything is kept, and may raise."""


@dataclass(frozen=True, slots=True)
class Tied:
    """What was opened and printed, or had been before (``again``).

    Attributes:
        lots: in the order in which they were named; said again, without those void since.
        labels: the run of the bag labels; None where they had been printed before.
        run: the run that printed them.
        cards: the file of the batch cards.
        again: whether the same request was carried out before.
        void: the codes of its lots that were made void since.
        location: where the ledger is kept.
    """

    lots: tuple[Lot, ...]
    labels: PrintResult | None
    run: int | None
    cards: Path
    again: bool
    location: LedgerLocation
    void: tuple[str, ...] = ()


def read_tied(text: str, place: Place) -> list[ListedBatch]:
    """Return what ``NAME = N, NAME = N`` says was tied; lines part them as commas do.

    Raises:
        LabelerError: if something of it does not say how many.
    """
    found, at, rest = [], 0, text.rstrip(" \t\r\n,;")
    if "=" not in rest and (said := _without_equals(rest)):
        return [ListedBatch(place, name, count, None, (), "", "") for name, count in said]
    if not rest:
        raise refusal(
            "tied-unread", place, "this does not say what was tied", found=repr(shown(text)),
            expected=_AS_SAID,
        )  # fmt: skip
    while at < len(rest):
        entry = _ENTRY.match(rest, at)
        try:
            count = exact_count(entry[2]) if entry else None
        except CellError:
            count = None
        if entry is None or count is None:
            raise refusal(
                "tied-unread", place, "this does not say what was tied and how many",
                found=shown(rest[at:].strip(" ,;\n")),
                expected=_AS_SAID,
            )  # fmt: skip
        found.append(ListedBatch(place, entry[1].strip(), count, None, (), "", ""))
        at = entry.end()
    return found


def _without_equals(text: str) -> list[tuple[str, int]]:
    """Return what ``NAME x N, 6 pcs NAME`` says; nothing if something of it does not say how many.

    What a comma leaves without a count goes on behind it: a name may hold commas.
    """
    found, name = [], ""
    for part in re.split(r"[,;\n]", text):
        name = f"{name},{part}" if name else part.strip()
        if (said := named_count(name))[1] is not None:
            found.append((said[0], said[1]))
            name = ""
    return [] if name.strip() else found


_AS_SAID = "NAME = N or NAME x N, such as RV-38-40-MLN = 12 or = 2 doz; several with commas between"


def named_by(folder: Path) -> Callable[[str], list[tuple[Product, int]]]:
    """Return what tells which products a line names, and how many of each, to ask line by line.

    Raises:
        LabelerError: if the catalog has an error.
    """
    catalog, _ = readable(folder)

    def named(text: str) -> list[tuple[Product, int]]:
        rows = read_tied(text, Place(key="tied"))
        return read_each(lambda row: (one_product(catalog, row.sku, []), row.count), rows)

    return named


def tie(request: TiedRequest, progress: Progress | None = None, tell: Tell | None = None) -> Tied:
    """Open lots of what was tied, and print their batch cards and bag labels: all or nothing.

    The same said again opens and prints nothing twice; a file that a killed command did not come
    to is made then.

    Args:
        request: what was tied.
        progress: called for every page of labels, drawn and then checked.
        tell: told what was understood, before anything is kept.

    Raises:
        LabelerError: with everything that stands in the way.
    """
    refuse_one_name(*filter(None, (request.labels, request.cards)))
    said: list[Finding] = []
    catalog, location, rows, asked = _read(request, said)
    if location.begun:
        with location.opened() as ledger:
            if (answer := answer_before(ledger, asked)) is not None:
                return _again(request, catalog, location, ledger, answer, progress)
    refuse_odd(location, rows, request.sure, "If it is another batch, say --sure, or give --key.")
    if not request.sure:
        _refuse_twice(rows)
    if tell:
        tell(_understood(request, rows), said)
    with location.opened(begin=True) as ledger:
        now = utc_now()
        refuse_a_clock_behind(ledger, now, location, rows)
        act = _Evening(request, catalog, location, ledger, [batch for batch, _ in rows], asked)
        for _ in range(_TURNS):
            try:
                return act.carry_out(now, progress)
            except _OvertakenError:
                continue
    raise refusal(
        "lots-overtaken", Place(key="tied"), "other benches open lots all the time, so nothing "
        "was opened", hint="Give the command again.",
    )  # fmt: skip


@dataclass(frozen=True, slots=True)
class Foretold:
    """What `tie` would open and print.

    Attributes:
        batches: as they would be kept.
        findings: what there is to say of them.
        sheet: the sheet that the labels go on.
        used: how many of its cells are used, where they go on with a begun one.
        start: the first cell.
        sheets: how many sheets they fill.
        next_free: the first free cell after them.
        again: whether it was all said before, and neither opened nor printed twice.
    """

    batches: tuple[Understood, ...]
    findings: tuple[Finding, ...]
    sheet: str
    used: int
    start: int
    sheets: int
    next_free: Spot
    again: bool

    @property
    def labels(self) -> int:
        """How many labels there would be in all."""
        return sum(each.labels for each in self.batches)


def foretell(request: TiedRequest) -> Foretold:
    """Return what `tie` would open and print, and make nothing of it.

    Raises:
        LabelerError: with everything that stands in the way by then: the pages are not made.
    """
    said: list[Finding] = []
    _, location, rows, asked = _read(request, said)
    printing = _print_request(request, Path())
    sheet = find_sheet(printing.sheet or DEFAULT_SHEETS["bags"], request.folder)
    if request.printer:
        find_printer(request.printer, request.folder)
    begun, before = OpenSheet(sheet.name, 0), None
    if location.begun:
        with location.opened() as ledger:
            begun = open_sheet(ledger, sheet.name, workstation=location.workstation)
            before = answer_before(ledger, asked)

    def unlikely() -> None:
        refuse_odd(location, rows, request.sure)
        if not request.sure:
            _refuse_twice(rows)

    understood = _understood(request, rows)
    labels = [Labels(each.batch.product, each.labels) for each in understood]
    cells = sheet.grid.count if sheet.grid else 0

    def cell() -> tuple[FirstCell, int, Spot]:
        refuse_too_many(labels)
        first = first_cell(printing, sheet, (), begun)
        pieces = sum(each.count for each in labels)
        number, next_free, _ = cells_for(pieces, cells, first.cell, first.spoiled)
        return first, number, next_free

    if before is not None:  # its labels have their cells
        return Foretold(understood, tuple(said), sheet.name, 0, 0, 0, Spot(0, 0), again=True)
    checks: list[Callable[[], Any]] = [unlikely, cell]
    _, (first, number, next_free) = read_each(lambda check: check(), checks)
    return Foretold(
        understood, (*said, *first.findings), sheet.name, len(first.taken),
        first.cell, number, next_free, again=False,
    )  # fmt: skip


def _read(
    request: TiedRequest, said: list[Finding]
) -> tuple[Catalog, LedgerLocation, _Rows, Request]:
    """Return what is known when the request is read: nothing of it is kept.

    Raises:
        LabelerError: with everything that can't be read or names no product.
    """
    catalog, findings = readable(request.folder)
    said += findings
    location = ledger_location(request.folder)
    rows = _batches(request, catalog, location.today(), said)
    if not rows:
        raise refusal(
            "tied-unread", Place(file=request.file[1] if request.file else "", key="tied"),
            "this does not say what was tied", found="no line", expected=_AS_SAID,
        )  # fmt: skip
    return catalog, location, rows, _asked(request, rows, location.today())


def _understood(request: TiedRequest, rows: _Rows) -> tuple[Understood, ...]:
    return tuple(
        Understood(batch, packs_of(batch.product, batch.count) + request.spare)
        for batch, _ in rows
    )  # fmt: skip


_TURNS = 9
"""How often it is all made again because another bench opened a lot in between."""


class _OvertakenError(Exception):
    """Another bench opened a lot in between: the codes on the labels are not the lots'."""


_Rows = list[tuple[Batch, ListedBatch]]


def _batches(request: TiedRequest, catalog: Catalog, today: dt.date, said: list[Finding]) -> _Rows:
    """Return the batches that the request names, each with what was read of it.

    Raises:
        LabelerError: with everything that can't be read or names no product.
    """
    place = Place(key="material")
    said += [each for text in request.materials for each in said_back(text, place)]
    went_in = supplier_lots(request.materials)

    def batch(row: ListedBatch) -> tuple[Batch, ListedBatch]:
        if row.key:
            raise refusal(
                "tied-key", row.place, "what was tied is one request, and has one key",
                found=row.key, hint="Leave the column out, and give --key.",
            )  # fmt: skip
        product = one_product(catalog, row.sku, said, row.place if row.place.file else None)
        if product.parts:
            raise refusal(
                "pack-not-a-batch", row.place, "an assorted pack isn't tied: its jigs are",
                found=product.sku, expected=", ".join(each.product.sku for each in product.parts),
                hint=f"Once they are on hand: labeler lot assign {product.sku} --count JIGS",
            )  # fmt: skip
        materials = tuple(dict.fromkeys((*row.materials, *went_in)))
        made, note = row.made or request.made, row.note or request.note
        row = replace(row, sku=product.sku, made=made, key=request.key or "")
        if not row.place.file:
            row = replace(row, place=Place(key=f"lot of {product.sku}"))
        batch = Batch(
            product, row.count, made or today, materials, None, note, row.codes, left=row.left
        )
        return batch, row

    return read_each(batch, list(_listed(request, today, said)))


def _listed(request: TiedRequest, today: dt.date, said: list[Finding]) -> Iterator[ListedBatch]:
    found = read_each(lambda text: read_tied(text, Place(key="tied")), request.texts)
    yield from (row for rows in found for row in rows)
    if request.file is not None:
        raw, name = request.file
        text = raw[:LARGEST_BYTES].decode("utf-8-sig", "replace")
        lines = [(at, line) for at, line in enumerate(text.splitlines(), 1) if line.strip()]
        if lines and all("=" in line for _, line in lines):
            of = read_each(lambda one: read_tied(one[1], Place(file=name, line=one[0])), lines)
            yield from (row for rows in of for row in rows)
        else:
            batches, findings = read_batches(name, raw, today)
            if stops := [each for each in findings if each.grade.value == "stop"]:
                raise LabelerError(stops)
            said += findings
            yield from batches


def _asked(request: TiedRequest, rows: _Rows, today: dt.date) -> Request:
    """Return the request: without a key of its own it is what was tied, once a day."""
    tied = sorted(
        [batch.product.sku, batch.count, batch.made.isoformat(),
         sorted(map(str, batch.materials)), batch.note]
        for batch, _ in rows
    )  # fmt: skip
    if request.key is not None:  # after midnight it is still the same request
        return Request.of("tied", request.key, tied=[each[:2] for each in tied])
    asked = Request.of("tied", None, tied=tied)
    return asked if request.sure else replace(asked, key=f"{asked.ask[:32]} {today}")


def _refuse_twice(rows: _Rows) -> None:
    """Refuse two batches that nothing tells apart.

    Raises:
        LabelerError: with each of them.
    """
    alike = Counter((b.product.sku, b.made, b.materials, b.note) for b, _ in rows)
    if twice := [key for key, times in alike.items() if times > 1]:
        raise LabelerError(
            stop(
                "tied-twice", Place(key=f"lot of {sku}"),
                "this product is named twice, for one day and the same materials",
                hint="Add them up; or say --sure, and each is a lot of its own.",
            )
            for sku, *_ in twice
        )  # fmt: skip


@dataclass(frozen=True, slots=True)
class _Evening:
    """One request to be carried out in an open ledger."""

    request: TiedRequest
    catalog: Catalog
    location: LedgerLocation
    ledger: Ledger
    batches: Sequence[Batch]
    asked: Request

    def carry_out(self, now: dt.datetime, progress: Progress | None) -> Tied:
        """Make both files and open the lots.

        Raises:
            LabelerError: with everything that stands in the way.
            _OvertakenError: if the codes went to others meanwhile.
        """
        request, catalog, ledger = self.request, self.catalog, self.ledger
        form = LotForm(self.location.prefix)
        codes = codes_ahead(ledger, [batch.made for batch in self.batches], form)
        lots = [
            self._lot(batch, code, now) for batch, code in zip(self.batches, codes, strict=True)
        ]
        labels, cards = _files(request, codes[0])
        products = [batch.product for batch in self.batches]
        goods = Goods(
            tuple(
                Labels(
                    product, packs_of(product, lot.count) + request.spare, lot.code, lot.old_code
                )
                for product, lot in zip(products, lots, strict=True)
            ),
            catalog.file.maker.name, catalog.fingerprint,
        )  # fmt: skip
        papers = lay_batch_cards(
            request.folder, self.location, list(zip(lots, products, strict=True)), request.paper,
            request.ink or "colour",
        )  # fmt: skip
        with delivered(cards) as file:
            pdf = papers.write(file)

            def open_with(put_on_record: Callable[[Ledger], int]) -> int:
                def change(one: Ledger) -> list[Any]:
                    opened = assign_many(
                        one, self.batches, form=form, catalog_digest=catalog.fingerprint
                    )
                    if [lot.code for lot in opened] != codes:
                        raise _OvertakenError
                    papers.record(one, pdf)
                    return [codes, put_on_record(one)]

                return int(together(ledger, self.asked, change, now)[1])

            known = {
                lot.code: KnownLot(product.sku, product=product, old_code=lot.old_code)
                for lot, product in zip(lots, products, strict=True)
            }
            goods = replace(goods, opening=LotsOpened(known, open_with))
            asked = _print_request(request, labels)
            printed = print_goods(asked, catalog, goods, self.location, ledger, progress)
        opened = tuple(find(ledger, code) for code in codes)
        return Tied(opened, printed, printed.run, cards, False, self.location)

    def _lot(self, batch: Batch, code: str, now: dt.datetime) -> Lot:
        """Return the lot as it will be, for its card."""
        product = batch.product
        return Lot(
            0, code, batch.made, 0, product.sku, product.name, batch.count,
            tuple(sorted(set(batch.materials))), "", self.catalog.fingerprint, now,
            self.ledger.who, batch.note, None, None, batch.other_names,
        )  # fmt: skip


def _files(request: TiedRequest, first: str) -> tuple[Path, Path]:
    """Return where labels and cards go: by default to files that bear the first lot's code.

    Raises:
        LabelerError: if one would bury another kind of file, or the other.
    """
    files = (
        request.labels or request.into / f"labels-{first}.pdf",
        request.cards or request.into / f"cards-{first}.pdf",
    )  # fmt: skip
    refuse_one_name(*files)
    for each in files:
        refuse_to_bury(each)
    return files


def _print_request(request: TiedRequest, out: Path, lots: tuple[str, ...] = ()) -> PrintRequest:
    return PrintRequest(
        request.folder, out, "bags", sheet=request.sheet, start=request.start,
        spoiled=request.spoiled, printer=request.printer, layout=request.layout, lots=lots,
        ink=request.ink, spare=request.spare, even_so=request.even_so,
    )  # fmt: skip


def _again(
    request: TiedRequest, catalog: Catalog, location: LedgerLocation, ledger: Ledger,
    answer: list[Any], progress: Progress | None,
) -> Tied:  # fmt: skip
    """Return what the same request came to before; print what it did not come to then."""
    codes, run = answer
    lots = tuple(find(ledger, code) for code in codes)
    labels, cards = _files(request, codes[0])
    standing = [lot for lot in lots if not lot.void]
    if not standing:
        raise refusal(
            "tied-void", Place(key="tied"),
            "this was said before, and its lots were made void since", found=listed(codes),
            hint="If it was tied after all, or once more, --sure opens new lots for it.",
        )  # fmt: skip
    printed = None
    lacking = tuple(
        lot.code
        for lot in standing
        if not any(past.state == "printed" for past in past_runs(ledger, lot=lot.code, kind="bag"))
    )
    if lacking:
        asked = _print_request(request, labels, lacking)
        goods = goods_of(asked, catalog, ledger)
        printed = print_goods(asked, catalog, goods, location, ledger, progress)
        run = printed.run
    if not cards.exists():
        codes_of = [lot.code for lot in standing]
        print_batch_cards(request.folder, codes_of, cards, request.paper, request.ink or "colour")
    void = tuple(lot.code for lot in lots if lot.void)
    return Tied(tuple(standing), printed, run, cards, True, location, void)
