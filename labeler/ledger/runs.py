"""Runs: what was printed, on what, with which layout; enough to print the same again."""

from __future__ import annotations

import hashlib
import platform
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass, field
from datetime import datetime
from itertools import groupby
from operator import itemgetter
from pathlib import Path
from typing import Any, Literal

from sqlalchemy import ColumnElement, Connection, Select, func, or_, select

from labeler.files import in_hand
from labeler.findings import Finding, LabelerError, Place, note, refusal
from labeler.ledger.assign import Request, once
from labeler.ledger.lots import a_line, although_held, lot_id
from labeler.ledger.schema import (
    as_text,
    files,
    keep_once,
    layouts,
    lots,
    open_sheets,
    plans,
    printed,
    run_states,
    runs,
)
from labeler.ledger.store import Ledger, enter, put
from labeler.ledger.stored import read_findings, write_findings


@dataclass(frozen=True, slots=True)
class KeptLayout:
    """A layout by its name, and its files by their paths: template, styles, pictures."""

    name: str
    files: Mapping[str, bytes]

    @property
    def fingerprint(self) -> str:
        """SHA-256 of the name and of every file's path and content, in hexadecimal."""
        return hashlib.sha256(as_text([self.name, self._prints()]).encode()).hexdigest()

    def _prints(self) -> dict[str, str]:
        return {path: hashlib.sha256(data).hexdigest() for path, data in self.files.items()}


def keep_layout(connection: Connection, layout: KeptLayout) -> str:
    """Keep a layout with all its files, in the caller's transaction; return its fingerprint."""
    fingerprint = layout.fingerprint
    if connection.scalar(select(layouts.c.name).where(layouts.c.fingerprint == fingerprint)):
        return fingerprint
    prints = layout._prints()
    for path, data in sorted(layout.files.items()):
        keep_once(connection, files, {"fingerprint": prints[path], "data": data})
    kept = {"fingerprint": fingerprint, "name": layout.name, "files": prints}
    keep_once(connection, layouts, kept)
    return fingerprint


def layout_of(ledger: Ledger, fingerprint: str) -> KeptLayout | None:
    """Return the layout with this fingerprint as it was, or None if it was never kept."""

    def look(connection: Connection) -> KeptLayout | None:
        row = connection.execute(
            select(layouts.c.name, layouts.c.files).where(layouts.c.fingerprint == fingerprint)
        ).first()
        if row is None:
            return None
        query = select(files).where(files.c.fingerprint.in_(set(row.files.values())))
        kept = {each.fingerprint: each.data for each in connection.execute(query)}
        return KeptLayout(row.name, {path: kept[each] for path, each in row.files.items()})

    return ledger.read(look)


SheetCell = tuple[int, int]
"""A sheet of the run and a cell of the sheet, both counted from 1."""


def write_spots(spots: Iterable[SheetCell]) -> str:
    """Return the cells in order, neighbours drawn together, alike sheets drawn together."""
    written = {
        sheet: _ranges([cell for _, cell in cells])
        for sheet, cells in groupby(sorted(spots), itemgetter(0))
    }
    # Sheets that follow one another have numbers as far apart as their places in the row.
    alike = groupby(enumerate(written), lambda at: (written[at[1]], at[1] - at[0]))
    return " ".join(
        f"{_ranges([sheet for _, sheet in sheets])}:{cells}" for (cells, _), sheets in alike
    )


def _ranges(numbers: Sequence[int]) -> str:
    parts = []
    for _, group in groupby(enumerate(numbers), lambda pair: pair[1] - pair[0]):
        run = [number for _, number in group]
        parts.append(str(run[0]) if len(run) == 1 else f"{run[0]}-{run[-1]}")
    return ",".join(parts)


def read_spots(text: str) -> list[SheetCell]:
    """Return the cells that ``write_spots`` wrote, in order."""
    parts = (part.partition(":") for part in text.split())
    return [
        (sheet, cell)
        for sheets, _, cells in parts
        for sheet in _numbers(sheets)
        for cell in _numbers(cells)
    ]


def _numbers(text: str) -> Iterator[int]:
    for part in text.split(","):
        first, _, last = part.partition("-")
        yield from range(int(first), int(last or first) + 1)


@dataclass(frozen=True, slots=True)
class RunPaper:
    """What a run was printed on.

    Attributes:
        stock: the sheet's name.
        cells: cells on one sheet.
        start: the first cell used on the first sheet; those before it were used already.
        spoiled: sheets and cells left empty because they cannot be used.
        workstation: where the started sheets lie; two benches have two.
    """

    stock: str
    cells: int
    start: int = 1
    spoiled: Sequence[SheetCell] = ()
    workstation: str = ""


@dataclass(frozen=True, slots=True)
class OpenSheet:
    """The started sheet of a stock.

    Attributes:
        stock: the sheet's name.
        cells: cells on one sheet; 0 if none was printed yet.
        used: the cells that cannot be used any more.
        next_free: the first cell that can; 1 where a new sheet must be taken.
    """

    stock: str
    cells: int
    used: tuple[int, ...] = field(default=())

    @property
    def next_free(self) -> int:
        """The first cell that is free, on this sheet or on a new one."""
        free = (cell for cell in range(1, self.cells + 1) if cell not in set(self.used))
        return next(free, 1)

    @property
    def spoiled(self) -> tuple[int, ...]:
        """The used cells beyond the next free one, for the run to leave out."""
        return tuple(cell for cell in self.used if cell > self.next_free)


def open_sheet(ledger: Ledger, stock: str, *, workstation: str = "") -> OpenSheet:
    """Return the started sheet of a stock; one without used cells if there is none."""
    return ledger.read(lambda connection: _open_sheet(connection, stock, workstation)[0])


def _open_sheet(connection: Connection, stock: str, workstation: str) -> tuple[OpenSheet, int]:
    """Return the started sheet and the row with which it was begun: what all took together."""
    first = func.coalesce(open_sheets.c.first_id, open_sheets.c.id)
    taken = (
        select(open_sheets.c.cells, open_sheets.c.used, first.label("first"))
        .where(open_sheets.c.stock == stock, open_sheets.c.drawer == workstation)
        .where(_not_given_back(open_sheets.c.plan_id), _not_given_back(open_sheets.c.run_id))
        .order_by(open_sheets.c.id.desc())
    )
    newest = connection.execute(taken.limit(1)).first()
    if newest is None:
        return OpenSheet(stock, 0), 0
    rows = connection.execute(taken.where(first == newest.first))
    used = sorted({cell for row in rows for cell in row.used})
    if len(used) >= newest.cells:
        return OpenSheet(stock, newest.cells), 0
    return OpenSheet(stock, newest.cells, tuple(used)), newest.first


def begun_stocks(ledger: Ledger, workstation: str = "") -> list[str]:
    """Return the stocks of which sheets were taken at a bench, the last one first."""
    query = (
        select(open_sheets.c.stock)
        .where(open_sheets.c.drawer == workstation)
        .group_by(open_sheets.c.stock)
        .order_by(func.max(open_sheets.c.id).desc())
    )
    return ledger.read(lambda connection: list(connection.scalars(query)))


FREED = ("given back", "taken back")
"""States after which a plan's cells are free again and a run's labels don't count."""


def _not_given_back(column: ColumnElement[int]) -> ColumnElement[bool]:
    """Hold for rows whose plan, or run, was not given back."""
    own = run_states.c.plan_id if column.key == "plan_id" else run_states.c.run_id
    freed = select(own).where(own.isnot(None), run_states.c.state.in_(FREED))
    return or_(column.is_(None), column.not_in(freed))


def uncounted() -> Select[tuple[int]]:
    """Select the runs whose pieces are no labels of a lot: trials, and what was taken back."""
    return select(run_states.c.run_id).where(
        run_states.c.run_id.isnot(None), run_states.c.state.in_(("trial", *FREED))
    )


@dataclass(frozen=True, slots=True)
class PlannedFile:
    """A file in the making: its name to be, its name till then, and the computer it is made on."""

    file: str
    part: str
    bench: str


@dataclass(frozen=True, slots=True)
class TakenCells:
    """The cells that a run takes.

    Attributes:
        cells: cells on one sheet.
        begun: those of the sheet that was begun before, if the run goes on there.
        last: those of its last sheet, if that is another.
    """

    cells: int
    begun: Sequence[int] = ()
    last: Sequence[int] = ()


_SHEETS = 71_065
"""The advisory lock by which two benches on one PostgreSQL ledger take cells in turn."""


def reserve(
    ledger: Ledger, paper: RunPaper, file: PlannedFile, take: Callable[[OpenSheet], TakenCells]
) -> tuple[int, OpenSheet]:
    """Plan a run: take its cells, so that no other gets them.

    Args:
        ledger: an open ledger.
        paper: the stock and the workstation; where to begin is for ``take`` to say.
        file: what is to be made.
        take: called with the started sheet, perhaps several times; says which cells are wanted.

    Returns:
        The plan's number, and the started sheet on which the cells were taken.
    """

    def work(connection: Connection) -> list[Any]:
        if connection.dialect.name == "postgresql":
            connection.exec_driver_sql(f"SELECT pg_advisory_xact_lock({_SHEETS})")
        sheet, first = _open_sheet(connection, paper.stock, paper.workstation)
        taken = take(sheet)
        number = put(connection, ledger, plans, bench=file.bench, file=file.file, part=file.part)
        for used, begun_by in ((taken.begun, first or None), (taken.last, None)):
            if used:
                on = {"plan_id": number, "first_id": begun_by}
                _take(connection, ledger, paper, taken.cells, used, on)
        return [number, sheet.cells, list(sheet.used)]

    number, cells, used = once(ledger, Request.of("reserve", None), work)
    return int(number), OpenSheet(paper.stock, cells, tuple(used))


def _take(
    connection: Connection, ledger: Ledger, paper: RunPaper, cells: int, used: Iterable[int],
    on: Mapping[str, int | None],
) -> None:  # fmt: skip
    """Note cells of one sheet as used, in the caller's transaction.

    Raises:
        LabelerError: if a cell is not on the sheet.
    """
    taken = sorted(set(used))
    if odd := [cell for cell in taken if not 1 <= cell <= cells]:
        raise refusal(
            "cell-not-on-sheet",
            Place(key=paper.stock),
            "this sheet has no such cell",
            found=", ".join(map(str, odd)),
            expected=f"1 to {cells}",
        )
    drawer = a_line(paper.workstation, "workstation", may_lack=True, longest=100)
    stock = a_line(paper.stock, "stock", longest=100)
    put(connection, ledger, open_sheets, drawer=drawer, stock=stock, cells=cells, used=taken, **on)


@dataclass(frozen=True, slots=True)
class OpenPlan:
    """A plan of which nobody has seen the end; ``run`` is None where none is on record."""

    number: int
    file: str
    part: str
    at: datetime
    run: int | None


def open_plans(ledger: Ledger, bench: str) -> list[OpenPlan]:
    """Return the plans of a computer that have no end yet, oldest first."""
    ended = select(run_states.c.plan_id).where(
        run_states.c.plan_id.isnot(None), run_states.c.state.in_(("named", *FREED))
    )
    query = (
        select(plans.c.id, plans.c.file, plans.c.part, plans.c.at, run_states.c.run_id)
        .join_from(plans, run_states, run_states.c.plan_id == plans.c.id, isouter=True)
        .where(plans.c.bench == bench, plans.c.id.not_in(ended))
        .order_by(plans.c.id)
    )
    return ledger.read(lambda connection: [OpenPlan(*row) for row in connection.execute(query)])


def end_plan(ledger: Ledger, number: int, run: int | None = None, why: str = "") -> None:
    """Note what became of a plan: its file has its name; or, with a reason, its cells are free.

    Args:
        ledger: an open ledger.
        number: the plan's.
        run: the plan's run, if there is one on record.
        why: why it came to nothing; empty where it has its name.
    """
    state = "named" if not why else FREED[run is not None]

    def end(connection: Connection) -> int:
        known = connection.scalars(
            select(run_states.c.state).where(run_states.c.plan_id == number)
        ).all()
        if not {"named", *FREED} & set(known):
            _note_state(connection, ledger, state, why, plan_id=number, run_id=run)
        return number

    once(ledger, Request.of("end", None), end)


def _note_state(
    connection: Connection, ledger: Ledger, state: str, why: str, **of: int | None
) -> None:
    put(connection, ledger, run_states, state=state, why=why, **of)
    if state in FREED:
        run, touched = of.get("run_id"), select(printed.c.lot_id).distinct()
        found = connection.scalars(touched.where(printed.c.run_id == run)).all() if run else []
        for lot in found or [None]:
            enter(connection, ledger, state, lot, run=run, why=why)


def take_back(ledger: Ledger, run: int, why: str, *, key: str | None = None) -> str:
    """Take back a run that was not printed: its cells are free, its labels no longer counted.

    Args:
        ledger: an open ledger.
        run: its number.
        why: the reason, for the journal.
        key: names this request, so that making it twice takes back one run.

    Returns:
        What the run was until now: printed, trial or taken back. Then nothing is changed.

    Raises:
        LabelerError: if there is no such run.
    """
    reason = a_line(why, "reason")

    def work(connection: Connection) -> str:
        if connection.scalar(select(runs.c.id).where(runs.c.id == run)) is None:
            last = connection.scalar(select(func.max(runs.c.id)))
            raise refusal(
                "unknown-run",
                Place(key="run"),
                "the ledger has no run of this number",
                found=str(run),
                expected=f"1 to {last}" if last else "there is none yet",
                hint="labeler lot list LOT shows a lot's runs.",
            )
        known = connection.execute(
            select(run_states.c.plan_id, run_states.c.state).where(run_states.c.run_id == run)
        ).all()
        if state := {each.state for each in known} & {"trial", *FREED}:
            return "trial" if state == {"trial"} else "taken back"
        plan = next((each.plan_id for each in known), None)
        _note_state(connection, ledger, "taken back", reason, plan_id=plan, run_id=run)
        return "printed"

    return str(once(ledger, Request.of("unprint", key, run=run), work))


def set_sheet(ledger: Ledger, paper: RunPaper) -> OpenSheet:
    """Note how the started sheet of a stock really is: a new one, or one with spoiled cells.

    Raises:
        LabelerError: if a cell is not on the sheet.
    """
    ledger.write(lambda connection: remember_sheet(connection, ledger, paper, (), None))
    return open_sheet(ledger, paper.stock, workstation=paper.workstation)


def remember_sheet(
    connection: Connection,
    ledger: Ledger,
    paper: RunPaper,
    spots: Iterable[SheetCell],
    run: int | None,
) -> None:
    """Note which cells of the last sheet are used, in the caller's transaction.

    Raises:
        LabelerError: if a cell is not on the sheet.
    """
    filled = set(spots)
    last = max((sheet for sheet, _ in filled), default=1)
    before = {(1, cell) for cell in range(1, paper.start)}
    used = [cell for sheet, cell in filled | before | set(paper.spoiled) if sheet == last]
    _take(connection, ledger, paper, paper.cells, used, {"run_id": run})


Kind = Literal["bag", "card", "batch card"]


@dataclass(frozen=True, slots=True)
class PrintedPiece:
    """Copies of one piece in a run.

    Attributes:
        kind: bag label, card-back or batch card.
        sku: the product.
        lot: the lot's code, or empty.
        layout: the layout, with the files it was made of.
        spots: the sheet and cell of every copy.
    """

    kind: Kind
    sku: str
    lot: str
    layout: KeptLayout
    spots: Sequence[SheetCell]


@dataclass(frozen=True, slots=True)
class Run:
    """One act of printing.

    Attributes:
        paper: the stock, and how its first sheet was.
        printed: what was printed, in order.
        pdf: SHA-256 of the PDF file, in hexadecimal.
        printer: the printer's name.
        catalog_digest: the catalog's fingerprint.
        fonts: the fonts' fingerprint.
        findings: what the checker had to say, as plain values.
        overrides: the rules that the maker overruled.
    """

    paper: RunPaper
    printed: Sequence[PrintedPiece]
    pdf: str
    printer: str = ""
    catalog_digest: str = ""
    fonts: str = ""
    findings: Sequence[dict[str, Any]] = ()
    overrides: Sequence[str] = ()


@dataclass(frozen=True, slots=True)
class PastRun:
    """What the ledger tells of one piece of a run; ``at`` is in UTC."""

    run: int
    kind: Kind
    sku: str
    lot: str
    count: int
    spots: tuple[SheetCell, ...]
    layout: str
    layout_fingerprint: str
    stock: str
    printer: str
    catalog_digest: str
    fonts: str
    pdf: str
    findings: tuple[dict[str, Any], ...]
    overrides: tuple[str, ...]
    at: datetime
    who: str
    state: str = "printed"
    """Or trial, or taken back."""


def record_run(
    ledger: Ledger, run: Run, *, key: str | None = None, plan: int | None = None,
    trial: bool = False,
) -> int:  # fmt: skip
    """Record a run and which cells of its last sheet are used now; return the run's number.

    Args:
        ledger: an open ledger.
        run: what was printed.
        key: names this request, so that making it twice records one run.
        plan: the plan that took its cells, if one did.
        trial: whether it is only tried, so that its pieces are no labels of a lot.

    Raises:
        LabelerError: if a lot is unknown, or the ledger cannot be written.
    """
    last_sheet = max((sheet for each in run.printed for sheet, _ in each.spots), default=0)

    def record(connection: Connection) -> int:
        number = put(
            connection,
            ledger,
            runs,
            stock=a_line(run.paper.stock, "stock", longest=100),
            printer=a_line(run.printer, "printer", may_lack=True, longest=100),
            catalog=run.catalog_digest,
            fonts=run.fonts,
            pdf=run.pdf,
            sheets=last_sheet,
            findings=write_findings(run.findings),
            overrides=list(run.overrides),
        )
        for each in run.printed:
            _record_piece(connection, ledger, number, each, "trial" if trial else "print")
        if plan is None:
            spots = [spot for each in run.printed for spot in each.spots]
            remember_sheet(connection, ledger, run.paper, spots, number)
        else:
            state = "trial" if trial else "printed"
            _note_state(connection, ledger, state, "", plan_id=plan, run_id=number)
        return number

    request = Request.of("print", key, pdf=run.pdf, stock=run.paper.stock)
    return int(once(ledger, request, record))


def _record_piece(
    connection: Connection, ledger: Ledger, run: int, piece: PrintedPiece, what: str
) -> None:
    lot = lot_id(connection, piece.lot) if piece.lot else None
    connection.execute(
        printed.insert().values(
            run_id=run,
            kind=piece.kind,
            sku=piece.sku,
            lot_id=lot,
            layout=keep_layout(connection, piece.layout),
            count=len(piece.spots),
            cells=write_spots(piece.spots),
        )
    )
    enter(
        connection, ledger, what, lot, run=run, kind=piece.kind, sku=piece.sku,
        count=len(piece.spots), **although_held(connection, lot),
    )  # fmt: skip


def newest_runs(ledger: Ledger, most: int) -> list[int]:
    """Return the numbers of the last runs, the newest first; at most ``most``."""
    query = select(runs.c.id).order_by(runs.c.id.desc()).limit(most)
    return ledger.read(lambda connection: list(connection.scalars(query)))


def past_runs(
    ledger: Ledger, *, lot: str = "", sku: str = "", kind: Kind | None = None,
    run: int | None = None, pdf: str = "",
) -> list[PastRun]:  # fmt: skip
    """Return what was printed, oldest first.

    Args:
        ledger: an open ledger.
        lot: one lot's pieces only, by its code as it is stored.
        sku: one product's pieces only.
        kind: one kind of piece only.
        run: one run's pieces only, by its number.
        pdf: those of one file only, by its SHA-256 in hexadecimal.
    """
    columns = [column for column in runs.c if column.name not in ("id", "sheets")]
    states = select(run_states.c.state).where(run_states.c.run_id == runs.c.id)
    latest = states.where(run_states.c.state != "named").order_by(run_states.c.id.desc()).limit(1)
    query = (
        select(
            printed.c.run_id,
            printed.c.kind,
            printed.c.sku,
            func.coalesce(lots.c.code, "").label("lot"),
            printed.c.count,
            printed.c.cells,
            layouts.c.name.label("layout"),
            printed.c.layout.label("layout_fingerprint"),
            func.coalesce(latest.scalar_subquery(), "printed").label("state"),
            *columns,
        )
        .join_from(printed, runs)
        .join(layouts)
        .join(lots, lots.c.id == printed.c.lot_id, isouter=True)
        .order_by(printed.c.id)
    )
    query = query.where(lots.c.code == lot) if lot else query
    query = query.where(printed.c.sku == sku) if sku else query
    query = query.where(printed.c.kind == kind) if kind else query
    query = query.where(printed.c.run_id == run) if run is not None else query
    query = query.where(runs.c.pdf == pdf) if pdf else query
    return ledger.read(
        lambda connection: [
            _past(ledger, dict(row)) for row in connection.execute(query).mappings()
        ]
    )


def _past(ledger: Ledger, row: dict[str, Any]) -> PastRun:
    run = row.pop("run_id")
    return PastRun(
        run=run,
        catalog_digest=row.pop("catalog"),
        spots=tuple(read_spots(row.pop("cells"))),
        findings=read_findings(row.pop("findings"), Place(file=ledger.where, key=f"run {run}")),
        overrides=tuple(row.pop("overrides")),
        **row,
    )


def settle(ledger: Ledger) -> tuple[Finding, ...]:
    """See to the runs of this computer whose command was killed, and say what became of each.

    What never got its file's name was never printed: its cells are free again, and labels that
    were on record already are taken back.
    """
    if ledger.only_read:
        return ()
    told: list[Finding] = []
    for plan in open_plans(ledger, platform.node()[:100]):
        part, file = Path(plan.part), Place(file=plan.file)
        if in_hand(part):
            continue
        named = plan.run is not None and not part.exists() and _has_its_name(ledger, plan)
        try:
            end_plan(ledger, plan.number, plan.run, "" if named else _KILLED)
        except LabelerError:  # a full disk stops no look at the ledger
            return tuple(told)
        if named:
            continue
        what = f"run {plan.run}" if plan.run else "a run"
        told.append(
            note(
                "run-killed", file, f"{what} was stopped before this file got its name",
                found=f"begun on {plan.at:%Y-%m-%d at %H:%M} UTC",
                hint="Its cells are free again and none of its labels is counted. "
                "Give the command again if you still want the file.",
            )
        )  # fmt: skip
        with suppress(OSError):
            part.unlink()
    return tuple(told)


_KILLED = "its command was killed before the file was named"


def _has_its_name(ledger: Ledger, plan: OpenPlan) -> bool:
    """Tell whether a run's file is there: its hidden one may have been swept away by others."""
    named = Path(plan.file)
    if not named.is_file():  # a device would be waited for
        return False
    try:
        with named.open("rb") as file:
            found = hashlib.file_digest(file, "sha256").hexdigest()
    except OSError:
        return False
    return any(past.pdf == found for past in past_runs(ledger, run=plan.run))
