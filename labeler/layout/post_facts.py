"""What the layouts of a packing slip and a recall sheet may ask: plain words and numbers."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from labeler.catalog.batch import packs_of
from labeler.catalog.model import Maker, Product
from labeler.layout.facts import facts_of, maker_facts
from labeler.units import NO_BREAK_SPACE


@dataclass(frozen=True, slots=True)
class Parcel:
    """One line of a packing slip: jigs of a lot."""

    lot: str
    product: Product
    count: int
    made: str


@dataclass(frozen=True, slots=True)
class Slip:
    """A packing slip; a returned parcel's too.

    Attributes:
        maker: who sends.
        number: of the slip.
        day: when it went or came, as printed.
        dealer: to whom or from whom.
        address: the dealer's, line by line.
        back: whether it came back.
        parcels: the lines.
        note: the maker's own.
    """

    maker: Maker
    number: str
    day: str
    dealer: str
    address: Sequence[str]
    back: bool
    parcels: Sequence[Parcel]
    note: str = ""


def slip_facts(slip: Slip, parcels: Sequence[Parcel], page: tuple[int, int]) -> Mapping[str, Any]:
    """Return the facts for one page of a slip.

    Args:
        slip: the whole.
        parcels: those of its lines that stand on this page.
        page: the page's number, and how many there are.
    """
    return {
        "maker": maker_facts(slip.maker),
        "slip": {
            "number": slip.number,
            "day": slip.day,
            "dealer": slip.dealer,
            "address": list(slip.address),
            "back": slip.back,
            "note": slip.note,
            "jigs": f"{sum(each.count for each in slip.parcels):,}",
            "packs": f"{sum(packs_of(each.product, each.count) for each in slip.parcels):,}",
            "lots": len({each.lot for each in slip.parcels}),
            "page": page[0],
            "pages": page[1],
        },
        "rows": [_parcel(each) for each in parcels],
    }


def _parcel(each: Parcel) -> Mapping[str, Any]:
    known = facts_of(each.product, lot="", link="", width=0, height=0, black=False)["product"]
    pack = each.product.pattern.pack
    return {
        "lot": each.lot,
        "made": each.made,
        "count": f"{each.count:,}",
        "packs": f"{packs_of(each.product, each.count):,} bags of {pack}" if pack > 1 else "",
        **_named(known),
    }


def _named(known: Mapping[str, Any]) -> Mapping[str, Any]:
    """Return what a line tells of its product; the weight in the unit that its label states."""
    weight = f"{known['weight_number']}{NO_BREAK_SPACE}{known['weight_unit']}"
    return {"weight": weight, **{name: known[name] for name in _NAMED}}


_NAMED = ("sku", "name", "pattern", "colour", "weight_oz", "weight_g", "hook_size", "kind")


@dataclass(frozen=True, slots=True)
class Recalled:
    """One lot of a recall sheet, and who has it."""

    lot: str
    product: Product
    made: str
    count: int
    labels: int
    on_hand: int
    void: bool
    dealers: Sequence[tuple[str, int]]
    materials: Sequence[str]


@dataclass(frozen=True, slots=True)
class Recall:
    """A recall sheet.

    Attributes:
        maker: whose goods they are; None where the question led to no lot.
        asked: the question as it was typed.
        meanings: what it was taken for.
        told: when the ledger was last changed, on the bench's clock.
        lots: the lots, in order.
        dealers: who has how many of them in all.
        tight: whether the lots are to stand close together.
    """

    maker: Maker | None
    asked: str
    meanings: Sequence[str]
    told: str
    lots: Sequence[Recalled]
    dealers: Sequence[tuple[str, int]]
    tight: bool = False


def recall_facts(
    recall: Recall,
    dealers: Iterable[tuple[str, int]],
    lots: Iterable[Recalled],
    page: tuple[int, int],
) -> Mapping[str, Any]:
    """Return the facts for one page of a recall sheet, on which these dealers and lots stand."""
    return {
        "maker": maker_facts(recall.maker) if recall.maker else {"name": "", "phone": "",
                                                                 "email": ""},
        "recall": {
            "asked": recall.asked,
            "meanings": list(recall.meanings),
            "told": recall.told,
            "lots": f"{len(recall.lots):,}",
            "made": f"{sum(each.count for each in recall.lots):,}",
            "labels": f"{sum(each.labels for each in recall.lots):,}",
            "out": f"{sum(count for _, count in recall.dealers):,}",
            "on_hand": f"{sum(each.on_hand for each in recall.lots):,}",
            "dealers": [{"name": name, "count": f"{count:,}"} for name, count in dealers],
            "page": page[0],
            "pages": page[1],
            "tight": recall.tight,
        },
        "rows": list(_recalled(lots)),
    }  # fmt: skip


def _recalled(lots: Iterable[Recalled]) -> Iterator[Mapping[str, Any]]:
    for each in lots:
        known = facts_of(each.product, lot="", link="", width=0, height=0, black=False)["product"]
        yield {
            "lot": each.lot,
            "made": each.made,
            "count": f"{each.count:,}",
            "labels": f"{each.labels:,}",
            "on_hand": f"{each.on_hand:,}",
            "void": each.void,
            "out": [{"name": name, "count": f"{count:,}"} for name, count in each.dealers],
            "materials": list(each.materials),
            **_named(known),
        }
