"""What a text may mean in the ledger: each meaning with the lots it leads to."""

from __future__ import annotations

import re
from calendar import monthrange
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date
from typing import Any

from sqlalchemy import Select, select

from labeler.codes.lotcode import tidy
from labeler.codes.product_link import read_product_link
from labeler.ledger.schema import lots, materials, moves, snapshots
from labeler.ledger.texts import fold

_A_DAY = r"(\d{4}(?:-\d{2}){0,2})?"
_DAYS = re.compile(rf"{_A_DAY}\s*(\.\.|\bto\b)?\s*{_A_DAY}")
_YEAR, _MONTH = len("2026"), len("2026-11")


@dataclass(frozen=True, slots=True)
class Clue:
    """One meaning of a text.

    Attributes:
        meaning: as a maker would say it.
        lots: selects the ledger's numbers of the lots.
        always: whether it holds even if it leads to no lot, as days do. Four figures alone may be
            a year, or anything.
    """

    meaning: str
    lots: Select[Any]
    always: bool = False


def clues(text: str) -> list[Clue]:
    """Return every meaning that ``text`` may have; most lead nowhere.

    A day may be a supplier's lot too: many suppliers number theirs by the day.
    """
    wanted = " ".join(text.split())
    if "://" in wanted:
        return list(_of_address(wanted))
    names = [_of_code(wanted), *_of_materials(wanted), _of_sku(wanted), _of_dealer(wanted)]
    days = _of_days(wanted)
    return [days, *names] if days else names


def _of_address(address: str) -> Iterator[Clue]:
    """A scanned address leads to its lot; without one, to all lots of its product."""
    scanned = read_product_link(address)
    if scanned is None:
        return
    if scanned.lot:
        yield _of_code(scanned.lot)
    elif scanned.sku:
        yield _of_sku(scanned.sku)
    else:
        products = select(snapshots.c.fingerprint).where(snapshots.c.gtin == scanned.gtin)
        found = select(lots.c.id).where(lots.c.snapshot.in_(products))
        yield Clue(f"GTIN {scanned.gtin}", found)


def _of_days(text: str) -> Clue | None:
    found = _DAYS.fullmatch(text)
    if not found or not (found[1] or found[3]) or (found[1] and found[3] and not found[2]):
        return None
    try:
        first = _first_day(found[1]) if found[1] else date.min
        ends = found[3] or ("" if found[2] else found[1])
        last = _last_day(ends) if ends else date.max
    except ValueError:
        return None
    made = select(lots.c.id).where(lots.c.made.between(first, last))
    return Clue(_say_days(first, last), made, always=len(text) > _YEAR)


def _first_day(text: str) -> date:
    return date.fromisoformat(text + "-01-01"[len(text) - _YEAR :])


def _last_day(text: str) -> date:
    last = date.fromisoformat(text + "-12-01"[len(text) - _YEAR :])
    whole_month = len(text) <= _MONTH
    return last.replace(day=monthrange(last.year, last.month)[1]) if whole_month else last


def _say_days(first: date, last: date) -> str:
    if first == last:
        return f"made on {first}"
    since = "" if first == date.min else f" since {first}"
    until = "" if last == date.max else f" until {last}"
    return f"made{since}{until}"


def _of_code(text: str) -> Clue:
    code = tidy(text)
    return Clue(f"lot {code}", select(lots.c.id).where(lots.c.code == code))


def _of_materials(text: str) -> Iterator[Clue]:
    kind, equals, lot = text.partition("=")
    whole = select(materials.c.lot_id).where(materials.c.folded == fold(text))
    yield Clue(f"supplier's lot {text}", whole)
    if equals and lot.strip():
        of_kind = select(materials.c.lot_id).where(
            materials.c.folded == fold(lot), materials.c.kind == kind.strip().casefold()
        )
        yield Clue(f"{kind.strip().casefold()} of supplier's lot {lot.strip()}", of_kind)


def _of_sku(text: str) -> Clue:
    sku = text.upper()
    if "*" not in sku:
        return Clue(f"SKU {sku}", select(lots.c.id).where(lots.c.sku == sku))
    like = re.sub(r"([\\%_])", r"\\\1", sku).replace("*", "%")
    known = select(snapshots.c.sku).where(snapshots.c.sku.like(like, escape="\\"))
    return Clue(f"SKUs {sku}", select(lots.c.id).where(lots.c.sku.in_(known)))


def _of_dealer(text: str) -> Clue:
    got = select(moves.c.lot_id).where(moves.c.dealer_folded == fold(text), moves.c.dealer != "")
    return Clue(f"dealer {text}", got)
