"""Tonight: what was tied, counted on plates of the line; lots, batch cards and labels from it."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

from starlette.responses import Response

from labeler.app.layouts import shown_sheets
from labeler.app.lots import lots_of
from labeler.catalog.model import Product
from labeler.catalog.read import readable
from labeler.desk.page import Ask, Faults, Page, Place
from labeler.findings import Finding, LabelerError, stop
from labeler.findings import Place as Where
from labeler.ledger.lots import SupplierLot, supplier_lots

_OPEN = 12
"""Patterns whose plates lie open; of a longer line each is opened by its name."""

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


def plates(products: Sequence[Product]) -> dict[str, dict[str, Plate]]:
    """Return what can be tied by pattern and colour, in the catalog's order; packs are not tied."""
    found: dict[str, dict[str, Plate]] = {}
    for product in products:
        if not product.parts:
            of = found.setdefault(product.pattern.name, {})
            of.setdefault(product.colour.name, Plate()).products.append(product)
    return found


def _last_lots(ask: Ask) -> dict[str, list[str]]:
    """Return the kinds of material that went into lots, each with its last suppliers' lots."""
    found: dict[str, dict[str, None]] = {}
    lines, _ = lots_of(ask.folder)
    for line in reversed(lines):
        for each in line.lot.materials:
            found.setdefault(each.kind, {})[each.lot] = None
    kinds = dict.fromkeys((*found, *_USUAL))
    return {kind: list(found.get(kind, ()))[:_OFFERED] for kind in kinds}


def _tonight(ask: Ask) -> Response:
    """Show the line to be counted, filled in as it was where it could not be done."""
    before = ask.desk.works.find(ask.query("again"))
    asked = before.asked if before and before.kind == "tied" else {}
    counts = {f"n-{sku}": str(count) for sku, count in asked.get("counts", {}).items()}
    rest = {name: str(asked[name]) for name in _PLAIN if name in asked}
    went_in: dict[str, list[str]] = {}
    for each in supplier_lots(asked.get("materials", ())):
        went_in.setdefault(f"m-{each.kind}", []).append(each.lot)
    typed = counts | rest | {kind: " + ".join(lots) for kind, lots in went_in.items()}
    return _shown(ask, Faults(()), typed, again=bool(asked))


_PLAIN = ("note", "sheet", "start", "spoiled", "spare", "ink")


def _shown(
    ask: Ask, faults: Faults, typed: Mapping[str, str], again: bool = False
) -> Response:  # fmt: skip
    catalog, _ = readable(ask.folder)
    line = plates(catalog.products)
    counted = {name for name, value in typed.items() if name.startswith("n-") and value}
    opened = {
        pattern
        for pattern, colours in line.items()
        if len(line) <= _OPEN
        or any(f"n-{one.sku}" in counted for of in colours.values() for one in of.products)
    }
    kinds = _last_lots(ask)
    kinds |= {name[2:]: [] for name in typed if name.startswith("m-") and name[2:] not in kinds}
    return ask.shown(
        "tonight.html.jinja", faults, line=line, opened=opened, version=catalog.fingerprint[:12],
        kinds=kinds, typed=typed, again=again,
        sheets=[each for each in shown_sheets(ask.folder) if each.layouts.get("bags")],
    )  # fmt: skip


def _tie(ask: Ask) -> Response:
    """Set to work what was filled in; what can't be read is told beside its field."""
    typed = {name: ask.text(name) for name in ask.fields if name != "once"}
    faults: list[Finding] = []
    fields: dict[str, str] = {}
    counts = dict(_counts(typed, faults, fields))
    materials: list[str] = []
    for name, lots in typed.items():
        if name.startswith("m-") and lots:
            try:
                materials += [_written(each) for each in supplier_lots([f"{name[2:]}={lots}"])]
            except LabelerError as error:
                faults += [_at(each, name, fields) for each in error.findings]
    spare = typed.get("spare", "")
    if spare and not _is_count(spare):
        faults.append(_at(_no_count(spare), "spare", fields))
    if not counts and not faults:
        faults.append(stop("tied-unread", Where(), "nothing is counted yet",
                           expected="a number at what was tied"))  # fmt: skip
    if faults:
        return _shown(ask, Faults(faults, fields), typed)
    jigs = sum(counts.values())
    rest: dict[str, Any] = {name: typed.get(name, "") for name in _PLAIN}
    rest |= {"start": rest["start"] or "next", "spare": int(spare or 0)}
    return ask.set_to_work(
        "tied", f"{jigs:,} tied: lots, cards and labels", "/tonight", counts=counts,
        materials=materials, sure=bool(typed.get("sure")), **rest,
    )  # fmt: skip


def _counts(
    typed: Mapping[str, str], faults: list[Finding], fields: dict[str, str]
) -> Iterator[tuple[str, int]]:
    for name, text in typed.items():
        if name.startswith("n-") and text and text != "0":
            if _is_count(text):
                yield name[2:], int(text)
            else:
                faults.append(_at(_no_count(text), name, fields))


def _is_count(text: str) -> bool:
    return text.isascii() and text.isdecimal() and len(text) < 7


def _no_count(text: str) -> Finding:
    return stop("count-unread", Where(), "this does not say how many", found=repr(text[:40]),
                expected="a whole number, such as 12")  # fmt: skip


def _at(finding: Finding, name: str, fields: dict[str, str]) -> Finding:
    """Return a finding that belongs to a field."""
    fields[name] = name
    return Finding(finding.rule, finding.grade, Where(key=name), finding.message,
                   finding.found, finding.expected, finding.hint)  # fmt: skip


def _written(lot: SupplierLot) -> str:
    return f'{lot.kind}="{lot.lot}"' if '"' not in lot.lot else f"{lot.kind}={lot.lot}"


PAGE = Page("Tonight", (Place("/tonight", _tonight), Place("/tonight/tie", _tie, post=True)))
