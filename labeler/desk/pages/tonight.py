"""Tonight: what was tied, counted on plates of the line; lots, batch cards and labels from it."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Container, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import partial
from pathlib import Path
from typing import Any

from starlette.responses import Response

from labeler.app.layouts import ShownSheet, shown_sheets
from labeler.app.lots import went_in_lately
from labeler.app.print_request import DEFAULT_SHEETS
from labeler.app.print_run import begun_sheets
from labeler.app.tied import Foretold, foretell
from labeler.app.workstation import ledger_location
from labeler.catalog.model import Product
from labeler.catalog.read import named_count, readable
from labeler.desk.jobs import tied_request
from labeler.desk.outcome import is_count
from labeler.desk.page import Ask, DeskPage, Faults, PageRoute
from labeler.desk.pages.figures import shown_jigs
from labeler.desk.work import OUT
from labeler.files import kept, looked_at
from labeler.findings import Finding, LabelerError, Place, refusal, stop
from labeler.ledger.lots import SupplierLot, supplier_lots
from labeler.press.printers import read_printers

_OFFERED = 5
_USUAL = ("hook", "thread")
"""Kinds of material that every jig has, offered before any lot names others."""


@dataclass(slots=True)
class Plate:
    """One colour of a pattern: the jig, and its weights."""

    products: list[Product] = field(default_factory=list)

    @property
    def shown(self) -> Product:
        """The one that is drawn: of middle weight."""
        return self.products[len(self.products) // 2]


def plates(products: Sequence[Product], packs: bool = False) -> dict[str, dict[str, Plate]]:
    """Return products by pattern and colour, in the catalog's order.

    Args:
        products: the line.
        packs: whether assorted packs are among them, which are not tied.
    """
    found: dict[str, dict[str, Plate]] = {}
    for product in products:
        if packs or not product.parts:
            of = found.setdefault(product.pattern.name, {})
            of.setdefault(product.colour.name, Plate()).products.append(product)
    return found


def opened_in(
    line: Mapping[str, Mapping[str, Plate]], counted: Container[str], also: str = ""
) -> set[str]:
    """Return the patterns whose plates lie open: all of a short line, and those with a count.

    Args:
        line: by pattern and colour.
        counted: the names of fields that hold counts.
        also: a pattern that is to be open.
    """
    if len(line) <= _OPEN:
        return set(line)
    return {also} | {
        pattern
        for pattern, colours in line.items()
        if any(f"n-{one.sku}" in counted for of in colours.values() for one in of.products)
    }


_OPEN = 12
"""Patterns that all lie open; of a longer line each is opened by its name."""

_PLAIN = ("note", "made", "sheet", "start", "spoiled", "spare", "printer", "ink")
"""Fields beside the counts and the suppliers' lots."""

_SURE = ("lot-alike", "lot-day", "tied-twice")
"""What is asked once more: whether it is another batch."""


def _tonight(ask: Ask) -> Response:
    """Show the line to be counted, filled in as the address says or as it was before."""
    before = ask.desk.works.find(ask.query("again"))
    typed = _usual(ask)
    typed |= _as_typed(before.asked) if before and before.kind == "tied" else {}
    typed |= {name: ask.query(name) for name in ask.request.query_params if _is_field(name)}
    if not any(typed.get(name) for name in typed if name.startswith("n-")):
        return _shown(ask, typed)
    return _shown(ask, typed, *_understood(ask, typed))


def _usual(ask: Ask) -> dict[str, str]:
    """Return what is filled in beforehand: the sheet that was begun last, the only printer."""
    bags = {each.sheet.name for each in _sheets(ask.folder)}
    begun = next((name for name in begun_sheets(ask.folder) if name in bags), "")
    printers = list(read_printers(ask.folder))
    return {
        "sheet": begun or DEFAULT_SHEETS["bags"],
        "start": "next",
        "printer": printers[0] if len(printers) == 1 else "",
    }


def _sheets(folder: Path) -> list[ShownSheet]:
    """Return the sheets on which labels go, read again where a file of theirs has changed."""

    def read() -> list[ShownSheet]:
        looked_at(folder / "layouts", "**")
        return [each for each in shown_sheets(folder) if each.layouts.get("bags")]

    return kept(("label sheets", folder), read)


def _open(ask: Ask) -> Response:
    """Show one more pattern's plates, with all that is filled in."""
    return _shown(ask, _typed(ask))


def _as_typed(asked: Mapping[str, Any]) -> dict[str, str]:
    """Return what was filled in, of what was asked of the work."""
    typed = {f"n-{sku}": str(count) for sku, count in asked["counts"].items()}
    typed |= {name: str(asked[name]) for name in _PLAIN if asked.get(name)}
    went_in: dict[str, list[str]] = {}
    for each in supplier_lots(asked["materials"]):
        went_in.setdefault(f"m-{each.kind}", []).append(each.lot)
    return typed | {kind: " + ".join(lots) for kind, lots in went_in.items()}


def _shown(
    ask: Ask, typed: Mapping[str, str], foretold: Foretold | None = None,
    findings: Sequence[Finding] = (),
) -> Response:  # fmt: skip
    """Show the line, with what was filled in, and what it comes to or what is wrong with it."""
    catalog, _ = readable(ask.folder)
    line = plates(catalog.products)
    kinds = went_in_lately(ask.folder, _OFFERED)
    more = (name.removeprefix("m-") for name in typed if name.startswith("m-"))
    kinds |= {kind: [] for kind in (*_USUAL, *more) if kind not in kinds}
    here = {f"n-{product.sku}" for product in catalog.products} | {f"m-{kind}" for kind in kinds}
    return ask.shown(
        "tonight.html.jinja", Faults(findings, _fields(findings, {*here, *_PLAIN})), line=line,
        opened=opened_in(line, typed, ask.text("open") or ask.query("open")), kinds=kinds,
        typed=typed, **shown_jigs(catalog),
        again=asks_if_another(foretold, findings), foretold=foretold, findings=(),
        sheets=_sheets(ask.folder), begun=begun_sheets(ask.folder),
        printers=list(read_printers(ask.folder)),
        today=ledger_location(ask.folder).today().isoformat(),
    )  # fmt: skip


def asks_if_another(foretold: Foretold | None, findings: Sequence[Finding]) -> bool:
    """Tell whether it is to be said that this is another batch."""
    return bool(foretold and foretold.again) or any(
        each.rule in _SURE and each.hint for each in findings
    )


def _fields(findings: Sequence[Finding], here: set[str]) -> dict[str, str]:
    """Return the field of each finding that belongs to one, by its rule or the key of its place."""
    keys = {each.place.key for each in findings}
    named = {key: f"n-{key.removeprefix(_LOT_OF)}" for key in keys if key.startswith(_LOT_OF)}
    named |= {key: f"m-{key}" for key in keys if f"m-{key}" in here}
    named |= {name: name for name in _PLAIN}
    named |= {"unknown-printer": "printer", "unknown-sheet": "sheet", "lot-day": "made"}
    return {key: name for key, name in named.items() if name in here}


_LOT_OF = "lot of "


def _look(ask: Ask) -> Response:
    """Say what was understood of what is filled in, and what would be made of it."""
    typed = _typed(ask)
    foretold, findings = _understood(ask, typed)
    if ask.text("only"):
        return ask.shown("understood.html.jinja", foretold=foretold, findings=findings,
                         again=asks_if_another(foretold, findings))  # fmt: skip
    if foretold is None or asks_if_another(foretold, findings):
        return _shown(ask, typed, foretold, findings)
    return ask.shown("look.html.jinja", foretold=foretold, findings=(), again=False,
                     typed=typed)  # fmt: skip


def _tie(ask: Ask) -> Response:
    """Set to work what was filled in; what can't be read is told beside its field."""
    typed = _typed(ask)
    foretold, findings = _understood(ask, typed)
    if foretold is None:
        return _shown(ask, typed, None, findings)
    jigs = sum(each.batch.count for each in foretold.batches)
    title = f"{jigs:,} tied: lots, cards and labels"
    return ask.set_to_work("tied", title, "/tonight", **_asked(typed))


def _typed(ask: Ask) -> dict[str, str]:
    return {name: ask.text(name) for name in ask.fields if _is_field(name) or name == "sure"}


def _is_field(name: str) -> bool:
    return name.startswith(("n-", "m-")) or name in _PLAIN


def _understood(ask: Ask, typed: Mapping[str, str]) -> tuple[Foretold | None, tuple[Finding, ...]]:
    """Return what would be made of what is filled in, or all that is wrong with it."""
    try:
        return foretell(tied_request(ask.folder, ask.folder / OUT, _asked(typed))), ()
    except LabelerError as error:
        return None, error.findings


def _asked(typed: Mapping[str, str]) -> dict[str, Any]:
    """Return what is filled in as `tied_request` takes it.

    Raises:
        LabelerError: with everything that can't be read.
    """
    faults: list[Finding] = []

    def read(look: Callable[[str], Any], text: str, none: Any) -> Any:
        try:
            return look(text) if text else none
        except LabelerError as error:
            faults.extend(error.findings)
            return none

    counts = dict(counts_in(typed, faults, {}))
    materials = [
        _written(each)
        for name, lots in typed.items()
        if name.startswith("m-")
        for each in read(partial(_lots_of_kind, name[2:]), lots, ())
    ]
    asked: dict[str, Any] = {name: typed.get(name, "") for name in _PLAIN}
    asked["spare"] = read(_spare, asked["spare"], 0)
    asked["start"] = read(_start, asked["start"], "next")
    asked["made"] = read(_day, asked["made"], "")
    if not counts and not faults:
        faults.append(stop("tied-unread", Place(), "nothing is counted yet",
                           expected="a number at what was tied"))  # fmt: skip
    if faults:
        raise LabelerError(faults)
    return asked | {"counts": counts, "materials": materials, "sure": bool(typed.get("sure"))}


def counts_in(
    typed: Mapping[str, str], faults: list[Finding], fields: dict[str, str], kind: str = "n-"
) -> Iterator[tuple[str, int]]:
    """Yield what was counted, by what a field's name goes on with behind ``kind``.

    Args:
        typed: the form's fields.
        faults: gets what is no count.
        fields: gets the field of each, by the key of its place.
        kind: what the names of the fields begin with.
    """
    for name, text in typed.items():
        if not name.startswith(kind) or text in ("", "0"):
            continue
        of = name[len(kind) :]
        key = f"{_LOT_OF}{of}"
        try:
            meant, count = named_count(f"{of}={text}")
        except LabelerError:
            meant, count = "", None
        if of and meant == of and count is not None:
            yield of, count
        else:
            faults.append(_no_count(text, key))
            fields[key] = name


def _lots_of_kind(kind: str, lots: str) -> tuple[SupplierLot, ...]:
    try:
        return supplier_lots([f"{kind}={lots}"])
    except LabelerError as error:
        raise LabelerError(
            replace(each, place=Place(key=kind)) for each in error.findings
        ) from None


def _spare(text: str) -> int:
    if not is_count(text):
        raise LabelerError(_no_count(text, "spare"))
    return int(text)


def _start(text: str) -> str:
    if not is_count(text) and text.lower() != "next":
        raise refusal("start-unread", Place(key="start"), "this is no cell", found=repr(text[:40]),
                      expected="a number such as 7, or next")  # fmt: skip
    return text


def _day(text: str) -> str:
    try:
        return dt.date.fromisoformat(text).isoformat()
    except ValueError:
        raise LabelerError(no_day(text, "made")) from None


def no_day(text: str, key: str) -> Finding:
    """Return that a text is no day.

    Args:
        text: what stands there.
        key: the field's name.
    """
    return stop("day-unread", Place(key=key), "this is no day", found=repr(text[:40]),
                expected="a day such as 2026-11-27")  # fmt: skip


def _no_count(text: str, key: str) -> Finding:
    return stop("count-unread", Place(key=key), "this does not say how many",
                found=repr(text[:40]), expected="a number such as 12, or 2 doz")  # fmt: skip


def odd_count(text: str, name: str, fields: dict[str, str]) -> Finding:
    """Return that a field says no number.

    Args:
        text: what stands in it.
        name: the field's.
        fields: gets it.
    """
    fields[name] = name
    return _no_count(text, name)


def _written(lot: SupplierLot) -> str:
    return f'{lot.kind}="{lot.lot}"' if '"' not in lot.lot else f"{lot.kind}={lot.lot}"


PAGE = DeskPage(
    "Tonight",
    (
        PageRoute("/tonight", _tonight),
        PageRoute("/tonight/look", _look, post=True),
        PageRoute("/tonight/open", _open, post=True),
        PageRoute("/tonight/tie", _tie, post=True),
    ),
)
