"""Print: what, by which layout, on which cells of which sheet; the finished pages; the paper."""

from __future__ import annotations

import threading
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any
from urllib.parse import urlencode

from starlette.responses import Response

from labeler.app.layouts import ShownSheet, shown_sheets
from labeler.app.lots import lots_of
from labeler.app.print_request import DEFAULT_SHEETS, Goods, Labels
from labeler.app.print_run import begun_sheets, look_up_goods
from labeler.app.reprint import past_prints, unprint
from labeler.app.specimen import ShownPiece, pieces_of
from labeler.catalog.casting import packs_of
from labeler.catalog.read import named_count, readable
from labeler.checker.proof import picture as draw_page
from labeler.desk import spool
from labeler.desk.outcome import is_count
from labeler.desk.page import Ask, DeskPage, Faults, PageRoute, picture
from labeler.desk.pages.figures import shown_jigs
from labeler.desk.pages.print_jobs import ink_of, request_of, seen_file, use_of
from labeler.desk.pages.tonight import counts_in, odd_count, opened_in, plates
from labeler.desk.work import Work
from labeler.files import kept, read_file
from labeler.findings import Finding, LabelerError, Place, plural, refusal, stop
from labeler.layout.index import THING, Use
from labeler.ledger.runs import OpenSheet, PastRun
from labeler.marks import InkMode
from labeler.press.impose import cut_grid, largest, read_spoiled
from labeler.press.printers import Printer, read_printers
from labeler.press.sheets import Sheet, SheetGrid
from labeler.units import dimensions

_LOTS = 40
"""Lots on hand that are shown, the newest first; another is named by its code."""

_PAGES = 6
"""Pages of a print that are shown at once."""

_DOTS = {"": 1000, "large": 2200, "small": 420}
"""How wide a page's picture is, by the word that the address says it with."""

_MOST_BYTES = 400_000_000

_PLAIN = (
    "use", "layout", "sheet", "ink", "begun", "start", "spoiled", "spare", "printer", "fill",
    "outline", "day",
)  # fmt: skip
"""Fields of the second form that hold one value."""

_pdfium = threading.Lock()
"""PDFium is asked by one thread at a time."""


# -------------------------------------------------------------------------------------- what


def _what(ask: Ask) -> Response:
    """Show the lots that are here and the line, to choose from."""
    typed = {"use": ask.query("use")}
    for word in ask.queries("sku"):
        name, count = named_count(word)
        typed[f"n-{name}"] = str(count or 1)
    for word in ask.queries("lot"):
        code, count = named_count(word)
        typed[f"l-{code}"] = str(count or _ALL)
    return _choosing(ask, Faults(), typed)


_ALL = "all"
"""What stands for as many as a lot fills packs, until the page says how many that is."""


def _choosing(ask: Ask, faults: Faults, typed: Mapping[str, str]) -> Response:
    catalog, _ = readable(ask.folder)
    line = plates(catalog.products, packs=True)
    counted = {name for name, value in typed.items() if name.startswith("n-") and value}
    known, _ = lots_of(ask.folder)
    wanted = [each for each in reversed(known) if f"l-{each.lot.code}" in typed]
    lots = [each for each in reversed(known) if not each.lot.void and each.story.on_hand > 0]
    lots = [*wanted, *(each for each in lots[:_LOTS] if each not in wanted)]
    products = {product.sku: product for product in catalog.products}
    fills = {
        each.lot.code: packs_of(products[each.lot.sku], each.lot.count)
        if each.lot.sku in products else each.lot.count
        for each in lots
    }  # fmt: skip
    typed = {
        name: str(fills.get(name[2:], "")) if value == _ALL and name.startswith("l-") else value
        for name, value in typed.items()
    }
    here = {f"n-{product.sku}" for product in catalog.products} | {f"l-{code}" for code in fills}
    elsewhere = [
        f"{name[2:]}={value}" for name, value in typed.items()
        if name[:2] in ("n-", "l-") and value and name not in here
    ]  # fmt: skip
    return ask.shown(
        "print.html.jinja", faults, line=line, opened=opened_in(line, counted),
        lots=lots, fills=fills, typed=typed,
        words="\n".join([*filter(None, [typed.get("words", "")]), *elsewhere]),
        begun=begun_sheets(ask.folder), products=products, **shown_jigs(catalog),
    )  # fmt: skip


def _choose(ask: Ask) -> Response:
    """Go on with what was chosen; what can't be read is told beside its field."""
    typed = {name: ask.text(name) for name in ask.fields}
    faults: list[Finding] = []
    fields: dict[str, str] = {}
    skus, lots = (
        [f"{name}={count}" for name, count in counts_in(typed, faults, fields, kind)]
        for kind in ("n-", "l-")
    )
    faults = [replace(one, place=Place(key=fields[one.place.key][2:])) for one in faults]
    fields = {name[2:]: name for name in fields.values()}
    for word in filter(None, map(str.strip, typed.get("words", "").splitlines())):
        (lots if word.partition("=")[0].strip().isdigit() else skus).append(word)
    if not skus and not lots and not faults:
        faults.append(stop("nothing-chosen", Place(), "nothing is chosen yet",
                           expected="a number at what is to be printed"))  # fmt: skip
    asked = {"use": typed.get("use", ""), "skus": skus, "lots": lots}
    if not faults:
        try:
            _goods(ask.folder, asked)
        except LabelerError as error:
            faults += error.findings
            fields |= {each.rule: "words" for each in error.findings if each.rule in _OF_WORDS}
    if faults:
        return _choosing(ask, Faults(faults, fields), typed)
    on = ask.went_to("/print/sheet", use=use_of(asked), sku=skus, lot=lots)
    if len(on.headers["location"]) <= _ADDRESS:
        return on
    much = stop(
        "chosen-too-much", Place(), "these are more counts than one print can be asked for",
        found=f"{len(skus) + len(lots):,}", expected="words that mean many, such as RM-* = 6",
    )  # fmt: skip
    return _choosing(ask, Faults([much]), typed)


_ADDRESS = 48_000
"""Letters of an address that the server surely takes; it takes 64 KiB with all that comes along."""

_OF_WORDS = ("sku-unknown", "sku-several", "sku-retired", "unknown-lot", "count-unread")


def _goods(folder: Path, asked: Mapping[str, Any]) -> Goods:
    return look_up_goods(request_of(folder, folder / "none.pdf", asked, preview=True))


# ------------------------------------------------------------------------------------- where


@dataclass(frozen=True, slots=True)
class ClickableSheet:
    """A sheet to be clicked on. Lengths in points, from the top left corner.

    Attributes:
        sheet: the stock.
        grid: its cells; of card stock as they are cut for the card.
        used: cells of the one that was begun that are gone.
        next: its next free cell; 1 where none was begun.
    """

    sheet: Sheet
    grid: SheetGrid
    used: frozenset[int] = frozenset()
    next: int = 1

    @property
    def rows(self) -> list[list[tuple[int, float, float]]]:
        """Each cell's number and its corner, row by row."""
        across = self.grid.columns
        numbers = range(1, self.grid.count + 1)
        cells = [(number, *self.grid.corner(number)) for number in numbers]
        return [cells[at : at + across] for at in range(0, len(cells), across)]

    @property
    def radius(self) -> float:
        """Of a cell's corners."""
        return self.sheet.radius


def _asked_in(ask: Ask) -> dict[str, Any]:
    """Return what an address or a form asks for, under the names that the work has for it."""
    posted = ask.request.method == "POST"
    one, many = (ask.text, ask.texts) if posted else (ask.query, ask.queries)
    asked: dict[str, Any] = {name: one(name) for name in _PLAIN}
    return asked | {"use": use_of(asked), "skus": many("sku"), "lots": many("lot")}


def _pieces(ask: Ask, asked: Mapping[str, Any], labels: Labels) -> tuple[ShownPiece, ...]:
    """Return the first of the products by every layout that holds it."""
    ink = _ink(ask.folder, asked)
    what = labels.lot or labels.product.sku
    key = ("pieces", ask.folder, what, asked["use"], ink, asked["sheet"])

    def make() -> tuple[ShownPiece, ...]:
        readable(ask.folder)  # which notes the files that all this is made of
        return pieces_of(ask.folder, labels, asked["use"], ink, asked["sheet"])[0]

    return kept(key, make)


def _ink(folder: Path, asked: Mapping[str, Any]) -> InkMode:
    """Return the ink that was asked for, or else the usual one of the sheet that was."""
    sheets = {each.sheet.name: each.sheet for each in shown_sheets(folder)}
    sheet = sheets.get(str(asked.get("sheet", "")))
    return ink_of(asked) or (sheet.usual_ink if sheet else "colour")


def _sheet(ask: Ask) -> Response:
    """Show every layout of the first product, the sheets that go with it, and the cells."""
    return _placing(ask, _asked_in(ask), Faults())


def _placing(ask: Ask, asked: dict[str, Any], faults: Faults) -> Response:
    catalog, _ = readable(ask.folder)
    labels = _goods(ask.folder, asked).labels
    begun, sheets = begun_sheets(ask.folder), shown_sheets(ask.folder)
    asked["sheet"] = asked["sheet"] or next(
        (name for name in begun if any(each.sheet.name == name and asked["use"] in each.layouts
                                       for each in sheets)),
        DEFAULT_SHEETS[asked["use"]],
    )  # fmt: skip
    pieces = _pieces(ask, asked, labels[0])
    chosen = _chosen(pieces, sheets, asked)
    if chosen is not None:
        asked |= {"layout": chosen.spec.name}
        mixed = len({bool(each.product.parts) for each in labels}) > 1  # packs have their own
        fit = [each for each in sheets if chosen.spec.name in each.layouts.get(asked["use"], ())]
        if asked["sheet"] not in [each.sheet.name for each in fit]:
            asked["sheet"] = chosen.sheet or fit[0].sheet.name
        fit.sort(key=lambda each: (each.sheet.name not in begun, each.sheet.name != asked["sheet"]))
    else:
        fit, mixed = [], False
    drawing = _drawing(chosen, next((one.sheet for one in fit if one.sheet.name == asked["sheet"]),
                                    None), begun)  # fmt: skip

    def here(**other: str) -> str:
        """Return this page's address with another choice."""
        now = {name: asked[name] for name in ("use", "layout", "sheet", "ink")} | other
        return ask.at("/print/sheet", sku=asked["skus"], lot=asked["lots"], **now)

    def shot(one: ShownPiece, side: int) -> str:
        """Return the address of the picture of a layout's side."""
        first = labels[0]
        what = {"lot": first.lot} if first.lot else {"sku": first.product.sku}
        what |= {"use": asked["use"], "ink": asked["ink"], "sheet": asked["sheet"]}
        version = catalog.fingerprint[:12]
        return ask.at("/print/piece", layout=one.spec.name, side=str(side), v=version, **what)

    return ask.shown(
        "print-sheet.html.jinja", faults, asked=asked, labels=labels, pieces=pieces, here=here,
        shot=shot, chosen=chosen, sheets=fit, drawing=drawing, begun=begun, dimensions=dimensions,
        by_layout="" if mixed else asked["layout"],
        thing=THING[asked["use"]], printers=sorted(read_printers(ask.folder)),
        total=sum(each.count for each in labels), version=catalog.fingerprint[:12],
        what=_what_of(labels, asked["use"]), ink=_ink(ask.folder, asked),
        change=ask.at("/print", use=asked["use"], sku=asked["skus"], lot=asked["lots"]),
    )  # fmt: skip


def _chosen(
    pieces: Sequence[ShownPiece], sheets: Sequence[ShownSheet], asked: Mapping[str, Any]
) -> ShownPiece | None:
    """Return the layout that was asked for, else the usual one of the sheet, else any."""
    by_name = {piece.spec.name: piece for piece in pieces}
    usual = next(
        (name for each in sheets if each.sheet.name == asked["sheet"]
         for name in each.layouts.get(asked["use"], ()) if name in by_name), "",
    )  # fmt: skip
    return by_name.get(asked["layout"]) or by_name.get(usual) or next(iter(pieces), None)


def _drawing(
    piece: ShownPiece | None, sheet: Sheet | None, begun: Mapping[str, OpenSheet]
) -> ClickableSheet | None:
    if piece is None or sheet is None:
        return None
    grid = sheet.grid or cut_grid(sheet, *largest([piece.piece]))
    return None if grid is None else _drawn_sheet(sheet, grid, begun)


def _drawn_sheet(sheet: Sheet, grid: SheetGrid, begun: Mapping[str, OpenSheet]) -> ClickableSheet:
    open_one = begun.get(sheet.name)
    if open_one is None or open_one.cells != grid.count:
        return ClickableSheet(sheet, grid)
    return ClickableSheet(sheet, grid, frozenset(open_one.used), open_one.next_free)


def _what_of(labels: Sequence[Labels], use: str) -> str:
    total = plural(sum(each.count for each in labels), THING["cards" if use == "cards" else "bags"])
    kinds = len({each.product.sku for each in labels})
    return f"{total} of {labels[0].product.name if kinds == 1 else plural(kinds, 'product')}"


def _piece(ask: Ask) -> Response:
    """Show a product's piece by one layout, as PDFium draws it."""
    asked = _asked_in(ask)
    (labels, *_) = _goods(ask.folder, asked).labels
    one = next((each for each in _pieces(ask, asked, labels) if each.spec.name == asked["layout"]),
               None)  # fmt: skip
    if one is None:
        raise refusal("piece-unknown", Place(), "this layout does not hold the product")
    return _drawn(lambda: one.pdf(ask.folder), 2 if ask.query("side") == "1" else 1, "small")


def _drawn(pdf: Callable[[], bytes], page: int, how: str) -> Response:
    try:
        with _pdfium:
            drawn = draw_page(pdf(), page, _DOTS.get(how, _DOTS[""]))
    except ValueError as error:
        raise refusal("page-unknown", Place(), "there is no such page") from error
    return picture(drawn)


def _look(ask: Ask) -> Response:
    """Have the finished pages made, to look at; what can't be read is told beside its field."""
    asked = _asked_in(ask)
    fields = {"day-unread": "day"}
    faults = list(_odd_cells(ask, asked, fields))
    if asked["spare"] and not is_count(asked["spare"]):
        faults.append(odd_count(asked["spare"], "spare", fields))
    try:
        title = _what_of(_goods(ask.folder, asked).labels, asked["use"])
    except LabelerError as error:
        faults += error.findings
    if faults:
        shown = {**asked, "day": ""} if any(one.rule == "day-unread" for one in faults) else asked
        return _placing(ask, shown, Faults(faults, fields))
    query = {name: asked[name] for name in _PLAIN if asked.get(name)}
    back = urlencode(query | {"sku": asked["skus"], "lot": asked["lots"]}, True)
    catalog, _ = readable(ask.folder)
    return ask.set_to_work("look", title, f"/print/sheet?{back}", catalog=catalog.fingerprint,
                           **_onto(asked))  # fmt: skip


def _odd_cells(
    ask: Ask, asked: Mapping[str, Any], fields: dict[str, str]
) -> Iterator[Finding]:  # fmt: skip
    """Yield what is wrong with the first cell and the spoiled ones; ``fields`` gets where."""
    fields |= {"spoiled-cells": "spoiled", "cell-used": "start"}
    try:
        read_spoiled(asked["spoiled"])
    except LabelerError as error:
        yield from error.findings
    if asked["start"] and not is_count(asked["start"]):
        yield odd_count(asked["start"], "start", fields)
    elif asked["begun"] == "on" and asked["start"] == "1":  # which would mean a new sheet
        sheet = begun_sheets(ask.folder).get(asked["sheet"])
        if sheet is not None and 1 in sheet.used:
            yield stop("cell-used", Place(), f"this cell of the sheet {sheet.stock} that was begun "
                       "is used", found="1", expected=str(sheet.next_free))  # fmt: skip


def _onto(asked: Mapping[str, Any]) -> dict[str, Any]:
    """Return the request: of another sheet than the one on record the cells before are gone too."""
    rest = {name: value for name, value in asked.items() if name != "begun"}
    if asked["begun"] == "new" and int(asked["start"] or 1) > 1:
        gone = f"1-{int(asked['start']) - 1},{asked['spoiled']}"
        rest |= {"spoiled": gone.strip(","), "start": "1"}
    return rest


# ------------------------------------------------------------------------------- once more


def _before(ask: Ask) -> Response:
    """Show what was printed, the newest run first, to be printed again."""
    pieces, location = past_prints(ask.folder, last=_RUNS + 1)
    runs: dict[int, list[PastRun]] = {}
    for each in pieces:
        runs.setdefault(each.run, []).append(each)
    catalog, _ = readable(ask.folder)

    def all_of(pieces: Sequence[PastRun]) -> str:
        """Return the address that prints all of a run as it is today; of lots, those lots."""
        lots = [f"{each.lot}={each.count}" for each in pieces if each.lot]
        skus = [f"{each.sku}={each.count}" for each in pieces if not each.lot]
        return ask.at("/print/sheet", use=_use(pieces[0]), sku=[] if lots else skus, lot=lots)

    return ask.shown(
        "print-again.html.jinja", runs=dict(list(runs.items())[:_RUNS]), more=len(runs) > _RUNS,
        clock=location.clock, all_of=all_of,
        names={one.sku: f"{one.name}, {one.weight}" for one in catalog.products},
    )  # fmt: skip


_RUNS = 30
"""Runs that are shown to be printed again."""


def _same(ask: Ask) -> Response:
    """Show one label or card that was printed, to be printed again."""
    run, what = ask.part("run"), ask.query("what")
    asked = {name: ask.query(name) for name in ("begun", "start", "spoiled", "count", "today")}
    return _same_shown(ask, asked | {"run": run, "again": what}, Faults())


def _same_shown(ask: Ask, asked: dict[str, Any], faults: Faults) -> Response:
    past = _past(ask, asked)
    begun, sheets = begun_sheets(ask.folder), shown_sheets(ask.folder)
    sheet = next((one.sheet for one in sheets if one.sheet.name == past.stock), None)
    asked |= {"use": _use(past), "sheet": past.stock}
    asked["count"] = asked["count"] or str(past.count)
    if past.stock in begun and not asked["start"]:
        asked["start"] = str(begun[past.stock].next_free)
    catalog, _ = readable(ask.folder)
    known = next((one for one in catalog.products if one.sku == past.sku), None)
    return ask.shown(
        "print-same.html.jinja", faults, past=past, asked=asked,
        name=f"{known.name}, {known.weight}" if known else past.sku,
        drawing=_drawn_sheet(sheet, sheet.grid, begun) if sheet and sheet.grid else None,
    )  # fmt: skip


def _use(past: PastRun) -> Use:
    return "cards" if past.kind == "card" else "bags"


def _past(ask: Ask, asked: Mapping[str, Any]) -> PastRun:
    run, what = str(asked["run"]), asked["again"]
    if is_count(run):
        for each in past_prints(ask.folder, run=int(run))[0]:
            if what and what in (each.lot, each.sku):
                return each
    raise refusal("work-unknown", Place(), "nothing of this is on record")


def _look_again(ask: Ask) -> Response:
    """Have the pages of a reprint made, to look at."""
    names = ("use", "sheet", "again", "begun", "start", "spoiled", "count", "today")
    asked: dict[str, Any] = {name: ask.text(name) for name in names} | {"run": ask.part("run")}
    past, fields = _past(ask, asked), dict[str, str]()
    faults = list(_odd_cells(ask, asked, fields))
    if not is_count(asked["count"]) or not int(asked["count"]):
        faults.append(odd_count(asked["count"], "count", fields))
    if faults:
        return _same_shown(ask, asked, Faults(faults, fields))
    use, what = _use(past), past.lot or past.sku
    title = f"Again: {plural(int(asked['count']), THING[use])} of {what}"
    back = urlencode({name: asked[name] for name in names if asked[name]} | {"what": what})
    rest = _onto(asked) | {"use": use, "sheet": past.stock, "was_on": past.printer}
    if asked["today"]:
        rest["catalog"] = readable(ask.folder)[0].fingerprint
    return ask.set_to_work("look", title, f"/print/again/{past.run}?{back}", **rest)


# -------------------------------------------------------------------------------- the pages


def _found(ask: Ask) -> Work:
    work = ask.desk.works.find(ask.part("number"))
    if work is None or not work.facts.get("seen"):
        raise refusal("work-unknown", Place(), "nothing of this is on record")
    return work


def _seen(ask: Ask, faults: Faults | None = None) -> Response:
    """Show the pages of a finished file, what is wrong ringed on them, and what to do."""
    work = _found(ask)
    facts = work.facts
    page, pages = ask.query("page"), int(facts["pages"])
    first = min(max(int(page), 1), pages) if is_count(page) else 1
    large = bool(ask.query("large"))
    file = seen_file(ask.folder, str(facts["seen"]))
    shown = range(first, pages + 1)[: 1 if large else _PAGES]
    rings = {at: _marked([ring[1:] for ring in facts["rings"] if ring[0] == at]) for at in shown}
    return ask.shown(
        "print-seen.html.jinja", faults, work=work, facts=facts, rings=rings, large=large,
        there=file.is_file(), taken_back=_taken_back(ask, work),
        shown=shown,
        first=first, pages=pages, step=1 if large else _PAGES,
        numbered=work.findings[: facts["numbered"]], others=work.findings[facts["numbered"] :],
        done=_DONE.get(ask.query("done"), ""),
        printers=spool.printers() if work.files else (),
    )  # fmt: skip


def _marked(rings: Iterable[Sequence[Any]]) -> list[tuple[int, str, list[float], float, float]]:
    """Return the rings of a page, each with where its number stands: none lies on another.

    What several findings are about is ringed once for each of them, at the same corner.
    """
    found, taken = [], list[tuple[float, float]]()
    for number, grade, box in rings:
        x, y = box[0] - 2, box[1] - 2
        while any(abs(x - a) < _MARK and abs(y - b) < _MARK for a, b in taken):
            x += _MARK
        taken.append((x, y))
        found.append((number, grade, box, round(x, 2), round(y, 2)))
    return found


_MARK = 15.0
"""From the middle of a number on a page to the next beside it, in points."""


def _taken_back(ask: Ask, work: Work) -> bool:
    """Tell whether a run was taken back since: its cells are free, or printed on by another."""
    run = work.facts.get("run")
    pieces, _ = past_prints(ask.folder, run=int(run)) if run else ((), None)
    return bool(pieces) and pieces[0].state not in ("printed", "trial")


_DONE = {
    "back": "It is taken back: its cells are free, and its labels count no more.",
    "before": "Nothing is changed: it was taken back before.",
}
"""What was just done, by the word that the address says it with."""


def _page(ask: Ask) -> Response:
    """Show a page of a finished file as PDFium draws it."""
    work, page = _found(ask), ask.part("page")
    file = seen_file(ask.folder, str(work.facts["seen"]))
    if not is_count(page) or not file.is_file():
        raise refusal("page-unknown", Place(), "there is no such page")
    return _drawn(lambda: read_file(file, _MOST_BYTES), int(page), ask.query("as"))


def _make(ask: Ask) -> Response:
    """Print what was looked at."""
    work, why = _found(ask), ask.text("why")
    if work.facts["stops"] and not why:
        gone = stop("why-missing", Place(), "what stops it is overruled only with a reason",
                    expected="a reason, which is kept with the print")  # fmt: skip
        return _seen(ask, Faults([gone], {"why-missing": "why"}))
    looked_at = work.asked.get("catalog")  # none where a label is to come out as it was
    if looked_at and looked_at != readable(ask.folder)[0].fingerprint:
        gone = stop("changed-since-look", Place(), "your catalog was changed since you looked",
                    hint="Go back to “Change something” and look at the pages again.")  # fmt: skip
        return _seen(ask, Faults([gone]))
    asked = {**work.asked, "why": why if work.facts["stops"] else "", "once": ask.text("once"),
             "stopping": work.facts.get("stopping", [])}  # fmt: skip
    return ask.set_to_work("print", work.title, f"/print/seen/{work.id}", **asked)


def _send(ask: Ask) -> Response:
    """Send a finished PDF to one of the system's printers."""
    work, to = _found(ask), ask.text("to")
    if _taken_back(ask, work):
        gone = stop("run-gone", Place(), "it was taken back: its cells are free for others",
                    hint="Print it again: it gets cells of its own.")  # fmt: skip
        return _seen(ask, Faults([gone]))
    facts, back = work.facts, f"/print/seen/{work.id}"
    name = work.asked.get("printer") or work.asked.get("was_on") or ""
    profile = read_printers(ask.folder).get(str(name), Printer())
    both = facts["backs"] and profile.feed == "auto"
    return ask.set_to_work(
        "send", f"{work.title}: to the printer {to}", back, to=to, what=work.title,
        file=work.files[0][1] if work.files else "", size=facts["size"],
        sides=f"two-sided-{profile.duplex}" if both else "one-sided",
    )  # fmt: skip


def _take_back(ask: Ask) -> Response:
    """Take a run back that was not printed."""
    work = _found(ask)
    try:
        done = unprint(ask.folder, int(work.facts["run"] or 0), ask.text("back"))
    except LabelerError as error:
        return _seen(ask, Faults(error.findings, {"reason": "back"}))
    word = "back" if done.was == "printed" else "before"
    return ask.went_to(f"/print/seen/{work.id}", done=word)


PAGE = DeskPage(
    "Print",
    (
        PageRoute("/print", _what),
        PageRoute("/print/choose", _choose, post=True),
        PageRoute("/print/sheet", _sheet),
        PageRoute("/print/piece", _piece),
        PageRoute("/print/look", _look, post=True),
        PageRoute("/print/again", _before),
        PageRoute("/print/again/{run}", _same),
        PageRoute("/print/again/{run}/look", _look_again, post=True),
        PageRoute("/print/seen/{number}", _seen),
        PageRoute("/print/seen/{number}/page/{page}", _page),
        PageRoute("/print/seen/{number}/make", _make, post=True),
        PageRoute("/print/seen/{number}/send", _send, post=True),
        PageRoute("/print/seen/{number}/back", _take_back, post=True),
    ),
)
