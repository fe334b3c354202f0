"""Lots as the ledger knows them: finding one by its code, listing them, reading them back."""

from __future__ import annotations

import re
import unicodedata
from collections import defaultdict
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from difflib import get_close_matches
from typing import TYPE_CHECKING, Any, get_args

from sqlalchemy import (
    Column,
    ColumnElement,
    Connection,
    FromClause,
    RowMapping,
    Select,
    func,
    select,
    tuple_,
)

from labeler.codes import lot_code
from labeler.findings import Finding, LabelerError, Place, note, read_each, refusal, stop
from labeler.ledger.schema import (
    holds,
    in_parts,
    keep_once,
    lots,
    materials,
    names,
    other_names,
    snapshots,
    strikes,
    voids,
)
from labeler.ledger.store import Ledger

if TYPE_CHECKING:
    from labeler.catalog.model import Product


LONGEST = 200
"""Characters in a name, a supplier's lot or a key."""


def a_line(text: str, key: str, *, may_lack: bool = False, longest: int = LONGEST) -> str:
    """Return ``text`` in one line without blanks at its ends.

    Args:
        text: what the maker wrote.
        key: what the text is, for the finding.
        may_lack: whether it may be empty.
        longest: the most characters it may have.

    Raises:
        LabelerError: if it is empty, too long, or holds characters that no file can keep.
    """
    line = " ".join(text.split())
    if not (line or may_lack) or max(len(line), len(_plain(line))) > longest or _odd(line):
        raise refusal(
            "ledger-text",
            Place(key=key),
            f"this cannot be kept as {key}",
            found=ascii(line[:60]),
            expected=f"{'' if may_lack else '1 to '}{longest} characters in one line",
        )
    return line


def fold(text: str) -> str:
    """Return ``text`` for comparing: case, width of letters, blanks and punctuation left out.

    ``HK-2291``, ``hk 2291`` and ``HK2291`` are one supplier's lot.
    """
    plain = _plain(text)
    kept = "".join(letter for letter in plain if letter.isalnum())
    return kept or plain.strip()


def _plain(text: str) -> str:
    """Return ``text`` without case and width; a ligature or a sharp s makes it longer."""
    return unicodedata.normalize("NFKC", text).casefold()


def _odd(line: str) -> bool:
    """Tell whether a text holds a letter that steers instead of being shown."""
    shown = line.isprintable()
    return not shown and any(unicodedata.category(letter) in ("Cc", "Cs") for letter in line)


_NEAR_KIND = 0.8
"""How alike a kind of material must be to a known one to pass for a slip."""


def known_kinds() -> tuple[str, ...]:
    """Return what a supplier's lot may be a lot of; a maker may add to these."""
    from labeler.catalog.model import MaterialKind  # loads a library that few who ask need

    return ("hook", "guard", *get_args(MaterialKind))


@dataclass(frozen=True, slots=True, order=True)
class SupplierLot:
    """A supplier's lot of one kind of material, such as ``hook=HK-2291``.

    Raises:
        LabelerError: if either part is empty or cannot be kept.
    """

    kind: str
    lot: str

    def __post_init__(self) -> None:
        kind = a_line(self.kind, "kind of material", longest=100).casefold()
        object.__setattr__(self, "kind", kind)
        object.__setattr__(self, "lot", a_line(self.lot, "supplier's lot"))

    @classmethod
    def parse(cls, text: str) -> SupplierLot:
        """Read ``KIND=SUPPLIER-LOT``, the lot as one, whatever it holds.

        Raises:
            LabelerError: if either side is missing.
        """
        kind, _, lot = text.partition("=")
        if not kind.strip() or not lot.strip():
            raise refusal(
                "material-lot",
                Place(key="material"),
                "this does not say which supplier's lot went in",
                found=repr(text),
                expected="KIND=SUPPLIER-LOT, such as hook=HK-2291",
            )
        return cls(kind, lot)

    def __str__(self) -> str:
        return f"{self.kind}={self.lot}"


_STRONG = re.compile(r"\s*;\s*|\s+\+\s+")
_WEAK = re.compile(r"\s*[+,&]\s*|\s+and\s+", re.IGNORECASE)
_SLASH = re.compile(r"\s*/\s*")
_QUOTED = re.compile(r"""["'“”‘’](.+)["'“”‘’]""")
_WITH_WORD = re.compile(r"([^\W\d]+\s+)\d+")
"""A number after a word, such as ``bag 74``; a bare number after it is another of that word."""


def apart(text: str) -> list[str]:
    """Return the suppliers' lots that one text names; in quotes it is one.

    ``bag 74 + bag 75`` are two. A comma, ``&`` or ``and`` parts them only where a figure stands on
    each side, and a stroke where each side has letters and figures: ``S/7`` is one.
    """
    line = text.strip()
    if quoted := _QUOTED.fullmatch(line):
        return [quoted[1].strip()]
    parts = [line]
    for at, is_lot in ((_STRONG, bool), (_WEAK, _has_figure), (_SLASH, _has_both)):
        parts = [each for part in parts for each in _parted(at.split(part), part, is_lot)]
    word = _WITH_WORD.fullmatch(parts[0])
    return [f"{word[1]}{each}" if word and each.isdecimal() else each for each in parts]


def _parted(split: list[str], whole: str, is_lot: Callable[[str], object]) -> list[str]:
    return split if all(each.strip() and is_lot(each) for each in split) else [whole]


def _has_figure(text: str) -> bool:
    return any(letter.isdecimal() for letter in text)


def _has_both(text: str) -> bool:
    return _has_figure(text) and any(letter.isalpha() for letter in text)


def supplier_lots(texts: Sequence[str]) -> tuple[SupplierLot, ...]:
    """Read what went into a lot, each as ``KIND=SUPPLIER-LOT``; several in one are taken apart.

    Raises:
        LabelerError: with everything that does not say so.
    """
    return tuple(dict.fromkeys(lot for lots in read_each(_several, texts) for lot in lots))


def _several(text: str) -> list[SupplierLot]:
    first = SupplierLot.parse(text)
    found = []
    kind = first.kind
    for part in apart(first.lot):
        other, equals, lot = part.partition("=")
        kind, part = (other, lot) if equals and other.strip() and lot.strip() else (kind, part)
        found.append(SupplierLot(kind, part))
    return found


def said_back(text: str, place: Place) -> Iterator[Finding]:
    """Say how ``KIND=SUPPLIER-LOT`` is kept, where it may be meant as several or as one."""
    lots = _several(text)
    whole = SupplierLot.parse(text)
    if len(lots) > 1:
        yield note(
            "material-apart",
            place,
            f"kept as {len(lots)} suppliers' lots: {', '.join(map(str, lots))}",
            found=text,
            hint=f'If it is one, put it in quotes: {whole.kind}="{whole.lot}"',
        )
    elif lots[0].lot == whole.lot and any(at.search(whole.lot) for at in (_STRONG, _WEAK, _SLASH)):
        yield note(
            "material-whole",
            place,
            "kept as one supplier's lot",
            found=text,
            hint="If it is several, put a semicolon between them.",
        )


def odd_kinds(product: Product, went_in: Iterable[SupplierLot], place: Place) -> Iterable[Finding]:
    """Refuse a kind of material that is nearly a known one; others are the maker's own."""
    known = {*known_kinds(), *(name.casefold() for name in product.materials)}
    known |= {layer.shade.casefold() for layer in product.colour.layers}
    for each in went_in:
        near = get_close_matches(each.kind, known, n=1, cutoff=_NEAR_KIND)
        near += [kind for kind in known if sorted(kind) == sorted(each.kind)]
        if each.kind not in known and near:
            yield stop(
                "material-kind",
                place,
                "this kind of material looks like a slip",
                found=str(each),
                hint=f"Did you mean {near[0]}={each.lot}?",
            )


_ENTRY = strikes.c.lot_id, strikes.c.kind, strikes.c.supplier_lot
_STRUCK = select(*_ENTRY).where(
    strikes.c.id.in_(select(func.max(strikes.c.id)).group_by(*_ENTRY)), strikes.c.struck == 1
)
UNSTRUCK = tuple_(materials.c.lot_id, materials.c.kind, materials.c.supplier_lot).not_in(_STRUCK)
"""That a supplier's lot still counts as one that went in."""


def materials_of(
    connection: Connection, numbers: Select[Any]
) -> dict[int, tuple[SupplierLot, ...]]:
    """Return the suppliers' lots by the number of the lot they went into."""
    query = select(materials.c.lot_id, materials.c.kind, materials.c.supplier_lot).where(
        materials.c.lot_id.in_(numbers), UNSTRUCK
    )
    into: defaultdict[tuple[str, str], list[int]] = defaultdict(list)
    for number, kind, lot in connection.execute(query).all():
        into[kind, lot].append(number)
    went_in: defaultdict[int, list[SupplierLot]] = defaultdict(list)
    for named in sorted(into):
        supplied = SupplierLot(*named)
        for number in into[named]:
            went_in[number].append(supplied)
    return {number: tuple(found) for number, found in went_in.items()}


def other_names_of(connection: Connection, numbers: Select[Any]) -> dict[int, tuple[str, ...]]:
    """Return what else lots are called, by the ledger's numbers of them."""
    query = select(other_names.c.lot_id, other_names.c.name).where(
        other_names.c.lot_id.in_(numbers)
    )
    called: defaultdict[int, list[str]] = defaultdict(list)
    for number, name in connection.execute(query.order_by(other_names.c.name)):
        called[number].append(name)
    return {number: tuple(found) for number, found in called.items()}


_NEAR_SHOWN = 5
_AS_THEY_ARE = (
    "id", "code", "made", "number", "sku", "name", "count", "snapshot",
    "opened_at", "opened_by", "note",
)  # fmt: skip


_SHORT = 8
"""Letters of an old code that a label has room for beside the lot's."""


@dataclass(frozen=True, slots=True)
class Barred:
    """Why and when a lot was withdrawn or held; ``at`` is in UTC."""

    why: str
    at: datetime
    who: str


@dataclass(frozen=True, slots=True)
class Lot:
    """One batch of one product.

    Attributes:
        id: the ledger's own number; never printed.
        code: the lot code.
        made: the day it was made.
        number: the number within that day, from 1.
        sku: the product.
        name: the product's name when the lot was opened.
        count: how many pieces were made.
        materials: the suppliers' lots that went in.
        snapshot: the fingerprint of the product as it was.
        catalog_digest: the fingerprint of the catalog as it was.
        opened_at: when, in UTC.
        opened_by: by whom.
        note: what the maker wrote down.
        void: set if the code was withdrawn.
        held: set while none of it is to be labelled, sold or shipped.
        other_names: what else it is called, such as the code its maker gave it before the ledger.
        untraced: whether it is stock that was counted, and not traceable to materials.
    """

    id: int
    code: str
    made: date
    number: int
    sku: str
    name: str
    count: int
    materials: tuple[SupplierLot, ...]
    snapshot: str
    catalog_digest: str
    opened_at: datetime
    opened_by: str
    note: str
    void: Barred | None
    held: Barred | None
    other_names: tuple[str, ...] = ()
    untraced: bool = False

    @property
    def old_code(self) -> str:
        """What labels may bear beside the code: the first other name, if it is short enough."""
        return next((name for name in self.other_names if len(name) <= _SHORT), "")


def find(ledger: Ledger, code: str) -> Lot:
    """Return the lot with this code or other name, spaces, dashes and case forgiven.

    Raises:
        LabelerError: if there is none, and the hint names the nearest codes that exist; or if
            several lots have the name.
    """
    return ledger.read(lambda connection: load(connection, [lot_id(connection, code)])[0])


def newest(ledger: Ledger, sku: str) -> Lot | None:
    """Return the lot of ``sku`` made last that is not void, or None."""
    latest = (
        select(lots.c.id)
        .join(voids, isouter=True)
        .where(lots.c.sku == sku, voids.c.lot_id.is_(None))
        .order_by(lots.c.made.desc(), lots.c.number.desc())
        .limit(1)
    )
    found = ledger.read(lambda connection: load(connection, connection.scalars(latest)))
    return found[0] if found else None


def list_lots(
    ledger: Ledger, *, sku: str = "", since: date | None = None, until: date | None = None
) -> list[Lot]:
    """Return lots, void ones among them, in the order of their days and numbers.

    Args:
        ledger: an open ledger.
        sku: one product's lots only.
        since: the first day.
        until: the last day.
    """
    wanted = [lots.c.sku == sku] if sku else []
    wanted += [lots.c.made >= since] if since else []
    wanted += [lots.c.made <= until] if until else []
    return ledger.read(lambda connection: _records(connection, _query(*wanted)))


def snapshot_of(ledger: Ledger, lot: Lot) -> Product:
    """Return the product as it was when the lot was opened.

    Raises:
        LabelerError: if a newer program kept it, or it is damaged.
    """
    from labeler.ledger.documents import PRODUCT  # loads the catalog's model

    query = select(snapshots.c.product).where(snapshots.c.fingerprint == lot.snapshot)
    kept = ledger.read(lambda connection: connection.scalar(query))
    return PRODUCT.read(kept, Place(file=ledger.where, key=f"lot {lot.code}"))


def products_of(ledger: Ledger) -> list[Product]:
    """Return the product of every lot as it was when the lot was opened, each once.

    Raises:
        LabelerError: if a newer program kept one, or one is damaged.
    """
    return ledger.read(lambda connection: _kept_products(connection, ledger.where))


def _kept_products(connection: Connection, where: str = "") -> list[Product]:
    from labeler.ledger.documents import PRODUCT  # loads the catalog's model

    kept = connection.scalars(select(snapshots.c.product))
    return [PRODUCT.read(each, Place(file=where, key="lots")) for each in kept]


def is_void(connection: Connection, number: int) -> bool:
    """Tell whether the lot with this ledger number was withdrawn."""
    return connection.scalar(select(voids.c.lot_id).where(voids.c.lot_id == number)) is not None


_NEWEST = select(func.max(holds.c.id)).group_by(holds.c.lot_id)
HELD = select(holds).where(holds.c.id.in_(_NEWEST), holds.c.held == 1).subquery("held")
"""The lots that are held, one row each."""


def why_held(connection: Connection, number: int) -> str:
    """Return why the lot with this ledger number is held; empty if it is not."""
    return connection.scalar(select(HELD.c.why).where(HELD.c.lot_id == number)) or ""


def lot_id(connection: Connection, code: str, *, hold: bool = False) -> int:
    """Return the ledger's number of the lot with this code or other name.

    Args:
        connection: in a transaction.
        code: as typed.
        hold: keep others from changing what hangs on the lot until the transaction ends.

    Raises:
        LabelerError: if there is none, and the hint names the nearest codes that exist; or if
            several lots have the name.
    """
    wanted = lot_code.tidy(code)
    query = select(lots.c.id).with_for_update() if hold else select(lots.c.id)
    found = connection.scalar(query.where(lots.c.code == wanted))
    if found is None and (so_called := _by_other_name(connection, code)) is not None:
        found = connection.scalar(query.where(lots.c.id == so_called))
    if found is None:
        raise _unknown(connection, code, wanted)
    return int(found)


def _by_other_name(connection: Connection, text: str) -> int | None:
    """Return the number of the lot that has this other name, or None.

    Raises:
        LabelerError: if several have it.
    """
    of_name = select(other_names.c.lot_id).where(other_names.c.folded == fold(text))
    found = _records(connection, _query(lots.c.id.in_(of_name))) if text.strip() else []
    if len(found) > 1:
        these = ", ".join(f"{lot.code} ({lot.name}, made {lot.made})" for lot in found)
        raise refusal(
            "lot-which", Place(key="lot"), "several lots have this name", found=repr(text),
            expected=f"one of {these}",
        )  # fmt: skip
    return found[0].id if found else None


def although_held(connection: Connection, number: int | None) -> dict[str, str]:
    """Return what the journal says more of what is done with a held lot; nothing of any other."""
    why = "" if number is None else why_held(connection, number)
    return {"although held": why} if why else {}


def _unknown(connection: Connection, code: str, wanted: str) -> LabelerError:
    """Say what stands where a lot code should: a SKU, words, a letter for a figure, or a slip."""
    if skus := _skus_meant(connection, code):
        of_them = _records(connection, _query(lots.c.sku.in_(skus)))
        is_sku = code.strip().upper() in skus
        message = f"this is a {'SKU' if is_sku else 'product'} where a lot code is meant"
        hint = f"Its lots: {', '.join(f'{lot.code} (made {lot.made})' for lot in of_them)}"
    else:
        close = near(connection, wanted)[:_NEAR_SHOWN]
        slip = bool(wanted) and not lot_code.is_valid(wanted)
        message = "there is a slip in this lot code" if slip else "no lot has this code"
        read = f"Read as {wanted}: a lot code has no letter O, I or L." if _letters(code) else ""
        nearest_codes = f"Nearest codes that exist: {', '.join(close)}" if close else ""
        hint = " ".join(filter(None, (read, nearest_codes)))
    return refusal("unknown-lot", Place(key="lot"), message, found=repr(code), hint=hint)


def _skus_meant(connection: Connection, text: str) -> set[str]:
    """Return the SKU that ``text`` is, or those of the lots' products whose words it holds."""
    sku = text.strip().upper()
    if connection.scalar(select(snapshots.c.sku).where(snapshots.c.sku == sku).limit(1)):
        return {sku}
    if not re.search(r"[^\W\d_]{3}", text):
        return set()
    from labeler.catalog.read import by_words  # loads what reads spreadsheets

    return {product.sku for product in by_words(text, _kept_products(connection))}


def _letters(code: str) -> bool:
    """Tell whether a code of figures was typed with letters that look like them."""
    return lot_code.tidy(code).isdecimal() and bool(set(code.upper()) & set("OIL"))


def letters_read(typed: str, code: str) -> Iterable[Finding]:
    """Say that letters of a lot code were read as the figures they look like."""
    if _letters(typed):
        yield note(
            "lot-letters",
            Place(key="lot"),
            f"letters were read as figures, O as 0, I and L as 1, so this is lot {code}",
            found=typed,
        )


def near(connection: Connection, code: str) -> list[str]:
    """Return codes in the ledger that are one slip away from ``code``."""
    wanted = lot_code.tidy(code)
    if not 2 <= len(wanted) <= 24:
        return []
    found = connection.scalars(
        select(lots.c.code).where(lots.c.code.in_(lot_code.slips(wanted))).order_by(lots.c.code)
    )
    return list(found)


def load(connection: Connection, numbers: Iterable[int]) -> list[Lot]:
    """Return the lots with these ledger numbers, in that order; the same may come twice."""
    wanted = list(numbers)
    known = {
        lot.id: lot
        for some in in_parts(wanted)
        for lot in _records(connection, _query(lots.c.id.in_(some)))
    }
    return [known[number] for number in wanted]


def _query(*wanted: ColumnElement[bool]) -> Select[Any]:
    return (
        select(lots, snapshots.c.name, *_barred("void", voids), *_barred("held", HELD))
        .join_from(lots, snapshots)
        .join(voids, isouter=True)
        .join(HELD, HELD.c.lot_id == lots.c.id, isouter=True)
        .where(*wanted)
        .order_by(lots.c.made, lots.c.number)
    )


def _barred(as_: str, table: FromClause) -> Iterator[ColumnElement[Any]]:
    return (table.c[name].label(f"{as_}_{name}") for name in ("why", "at", "who"))


def _barred_of(row: RowMapping, as_: str) -> Barred | None:
    if row[f"{as_}_why"] is None:
        return None
    return Barred(*(row[f"{as_}_{name}"] for name in ("why", "at", "who")))


def _records(connection: Connection, query: Select[Any]) -> list[Lot]:
    rows = connection.execute(query).mappings().all()
    numbers = query.with_only_columns(lots.c.id).order_by(None)
    went_in, called = materials_of(connection, numbers), other_names_of(connection, numbers)
    return [
        Lot(
            **{column: row[column] for column in _AS_THEY_ARE},
            catalog_digest=row["catalog"],
            other_names=called.get(row["id"], ()),
            untraced=bool(row["untraced"]),
            materials=went_in.get(row["id"], ()),
            void=_barred_of(row, "void"),
            held=_barred_of(row, "held"),
        )
        for row in rows
    ]


_ALIKE = 0.7
"""How alike two names are, by `difflib`, that one may be the other mistyped."""

_BESIDE = 150
"""How many names on each side of one are compared with it, letter by letter."""


def remember_names(connection: Connection, used: Iterable[str]) -> None:
    """Have names found again, in the transaction that uses them; known ones stay as written first.

    They are written in order, so that two commands cannot wait for each other.
    """
    by_folded: dict[str, str] = {}
    for name in used:
        by_folded.setdefault(fold(name), name)
    known: set[str] = set()
    for some in in_parts(list(by_folded)):
        known.update(connection.scalars(select(names.c.folded).where(names.c.folded.in_(some))))
    rows = [
        {"folded": folded, "backwards": folded[::-1], "name": name}
        for folded, name in sorted(by_folded.items())
        if folded not in known
    ]
    if rows:
        keep_once(connection, names, rows)


def nearest(connection: Connection, text: str, most: int) -> list[str]:
    """Return the names that ``text`` may have meant, nearest first.

    However many names there are, only those are compared letter by letter that stand beside
    ``text`` in their order: one slip leaves most of a name's beginning, or most of its end. What
    has two letters swapped or one too many is looked for as it would be without the slip.
    """
    wanted = fold(text)
    swapped = {wanted[:at] + wanted[at : at + 2][::-1] + wanted[at + 2 :]
               for at in range(len(wanted) - 1)}  # fmt: skip
    extra = {wanted[:at] + wanted[at + 1 :] for at in range(len(wanted))}
    near = select(names.c.folded, names.c.name).where(names.c.folded.in_(swapped | extra))
    beside = (
        *_beside(names.c.folded, wanted),
        *_beside(names.c.backwards, wanted[::-1]),
    )
    found = {
        folded: name for query in (near, *beside) for folded, name in connection.execute(query)
    }
    return [found[each] for each in get_close_matches(wanted, found, n=most, cutoff=_ALIKE)]


def _beside(column: Column[str], wanted: str) -> Iterator[Select[tuple[str, str]]]:
    """Yield what asks for the names just before and just after ``wanted`` in their order."""
    named = select(names.c.folded, names.c.name).limit(_BESIDE)
    yield named.where(column < wanted).order_by(column.desc())
    yield named.where(column >= wanted).order_by(column)
