"""From anything a maker may have in hand to the lots it touches, and to whom they went."""

from __future__ import annotations

import csv
import io
import re
from calendar import monthrange
from collections import Counter, defaultdict
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import asdict, dataclass
from datetime import date
from typing import Any

from sqlalchemy import (
    BindParameter,
    Connection,
    Select,
    Text,
    bindparam,
    case,
    cast,
    func,
    select,
    type_coerce,
    union,
    union_all,
)

from labeler.codes import lot_code
from labeler.codes.links import read_product_link
from labeler.findings import Place, refusal
from labeler.ledger.assign import GONE
from labeler.ledger.lots import (
    HELD,
    UNSTRUCK,
    Lot,
    SupplierLot,
    apart,
    fold,
    materials_of,
    near,
    nearest,
    other_names_of,
    snapshot_of,
)
from labeler.ledger.runs import uncounted
from labeler.ledger.schema import (
    contents,
    in_parts,
    lots,
    materials,
    moves,
    names,
    other_names,
    printed,
    requests,
    snapshots,
    voids,
)
from labeler.ledger.store import Ledger

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
        of_material: whether it is a supplier's lot of something that went in.
    """

    meaning: str
    lots: Select[Any]
    always: bool = False
    of_material: bool = False
    spreads: bool = True
    """Whether it leads on to the packs that hold jigs of its lots."""


def clues(text: str) -> list[Clue]:
    """Return every meaning that ``text`` may have; most lead nowhere.

    A day may be a supplier's lot too: many suppliers number theirs by the day.
    """
    wanted = " ".join(text.split())
    if "://" in wanted:
        return list(_of_address(wanted))
    names = [
        _of_code(wanted), _of_other_name(wanted), *_of_materials(wanted), _of_sku(wanted),
        _of_dealer(wanted),
    ]  # fmt: skip
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
    return Clue(_say_days(first, last), made, always=len(text) > _YEAR, spreads=False)


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
    code = lot_code.tidy(text)
    return Clue(f"lot {code}", select(lots.c.id).where(lots.c.code == code))


def _of_other_name(text: str) -> Clue:
    so_called = select(other_names.c.lot_id).where(other_names.c.folded == fold(text))
    return Clue(f"the lot called {text}", so_called)


def _of_materials(text: str) -> Iterator[Clue]:
    kind, equals, lot = text.partition("=")
    whole = select(materials.c.lot_id).where(materials.c.folded == fold(text), UNSTRUCK)
    yield Clue(f"supplier's lot {text}", whole, of_material=True)
    if equals and lot.strip():
        of_kind = select(materials.c.lot_id).where(
            materials.c.folded == fold(lot), materials.c.kind == kind.strip().casefold(), UNSTRUCK
        )
        meaning = f"{kind.strip().casefold()} of supplier's lot {lot.strip()}"
        yield Clue(meaning, of_kind, of_material=True)


def _of_sku(text: str) -> Clue:
    sku = text.upper()
    if "*" not in sku:
        return Clue(f"SKU {sku}", select(lots.c.id).where(lots.c.sku == sku))
    like = re.sub(r"([\\%_])", r"\\\1", sku).replace("*", "%")
    known = select(snapshots.c.sku).where(snapshots.c.sku.like(like, escape="\\"))
    return Clue(f"SKUs {sku}", select(lots.c.id).where(lots.c.sku.in_(known)))


def _of_dealer(text: str) -> Clue:
    got = select(moves.c.lot_id).where(moves.c.dealer_folded == fold(text), moves.c.dealer != "")
    return Clue(f"dealer {text}", got, spreads=False)


def _of_parts(text: str, names_of: Iterable[str]) -> Iterator[Clue]:
    """Yield the suppliers' lots that were kept as one with others, such as ``bag 74 + bag 75``."""
    kind, equals, lot = text.partition("=")
    wanted = fold(lot if equals else text)
    for name in names_of:
        if len(parts := apart(name)) > 1 and wanted in map(fold, parts):
            of_name = [materials.c.folded == fold(name), UNSTRUCK]
            of_name += [materials.c.kind == kind.strip().casefold()] if equals else []
            found = select(materials.c.lot_id).where(*of_name)
            yield Clue(f"supplier's lot {name}", found, of_material=True)


def _of_words(connection: Connection, text: str) -> Iterator[Clue]:
    """Yield the lots whose notes, or the names of whose requests, hold ``text`` as whole words."""
    wanted = fold(text)
    like = "%".join(("", *re.findall(r"[A-Za-z0-9]", wanted), ""))
    written = union_all(
        select(lots.c.id, lots.c.note).where(lots.c.note.ilike(like)),
        select(moves.c.lot_id, moves.c.note).where(moves.c.note.ilike(like)),
        select(lots.c.id, requests.c.key).join_from(
            requests, lots, type_coerce(requests.c.answer, Text) == cast(lots.c.id, Text)
        ).where(requests.c.kind == "assign", requests.c.key.ilike(like)),
    )  # fmt: skip
    found = sorted({id_ for id_, line in connection.execute(written) if _holds(line, wanted)})
    if found:
        some: BindParameter[list[int]] = bindparam(
            "found", found, expanding=True, literal_execute=True
        )
        yield Clue(f"{_NOTED}{text}", select(lots.c.id).where(lots.c.id.in_(some)))


_NOTED = "written in a note: "


def _holds(line: str, wanted: str) -> bool:
    """Tell whether words of a line that follow one another come to the text that is wanted."""
    said = [fold(word) for word in re.findall(r"\w+", line)]
    ends = [at + 1 for at in range(len(said))]
    return any(wanted == "".join(said[at:end]) for at in range(len(said)) for end in ends[at:])


def _containing(connection: Connection, text: str) -> list[str]:
    """Return the names that contain ``text`` and more, in order."""
    wanted = fold(text.partition("=")[2] or text)
    if "://" in text or "*" in text or not wanted:
        return []
    query = select(names.c.name).where(
        names.c.folded.contains(wanted, autoescape=True), names.c.folded != wanted
    )
    return list(connection.scalars(query.order_by(names.c.folded)))


def _asked_as(text: str, name: str) -> str:
    """Return a name as ``text`` asks for one: of a kind, where that says so."""
    kind, equals, _ = text.partition("=")
    return f"{kind}={name}" if equals else name


def _leads(connection: Connection, clue: Clue) -> bool:
    return clue.always or connection.execute(clue.lots.limit(1)).first() is not None


_FORMULA = ("=", "+", "-", "@", "＝", "＋", "－", "＠")
_CONTROL = ("\t", "\r", "\n")
"""Both make a spreadsheet compute a cell. Source: OWASP, "CSV Injection"."""


def safe_cell(value: object) -> str:
    """Return ``value`` as text that a spreadsheet shows and never computes.

    An apostrophe before it tells a spreadsheet that the rest is text.
    """
    text = "" if value is None else str(value)
    computes = text.lstrip().startswith(_FORMULA) or text.startswith(_CONTROL)
    return f"'{text}" if computes else text


def write_csv(heads: Sequence[str], rows: Iterable[Sequence[object]]) -> str:
    """Return the table as CSV with its heads. Lines end as RFC 4180, 2 has it."""
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\r\n")
    writer.writerow([safe_cell(head) for head in heads])
    writer.writerows([safe_cell(cell) for cell in row] for row in rows)
    return out.getvalue()


_HEADS = (
    "lot", "sku", "name", "made", "count", "labels", "cards", "on hand", "void", "held",
    "materials", "dealer", "with dealer",
)  # fmt: skip

_NEAR_SHOWN = 5


UNTRACED = "not traceable to materials"


@dataclass(frozen=True, slots=True)
class WithDealer:
    """Pieces of a lot that a dealer got and did not return."""

    dealer: str
    count: int


@dataclass(frozen=True, slots=True)
class Story:
    """What the ledger knows of one lot.

    Attributes:
        lot: the lot's code.
        sku: the product.
        name: the product's name as it was.
        made: the day it was made.
        count: pieces made.
        labels: bag labels printed.
        cards: card-backs printed.
        dealers: who has how many; nobody who has none any more.
        on_hand: pieces here.
        void: whether the code was withdrawn.
        materials: the suppliers' lots that went in.
        held: why none of it is to be labelled, sold or shipped; empty if that is not so.
        other_names: what else it is called.
        untraced: whether it is stock that was counted, and not traceable to materials.
        gone: pieces that went before there was a ledger, nobody knows to whom.
    """

    lot: str
    sku: str
    name: str
    made: date
    count: int
    labels: int
    cards: int
    dealers: tuple[WithDealer, ...]
    on_hand: int
    void: bool
    materials: tuple[SupplierLot, ...]
    held: str = ""
    other_names: tuple[str, ...] = ()
    untraced: bool = False
    gone: int = 0
    made_of: tuple[str, ...] = ()
    """The lots whose jigs are in these assorted packs; none of others."""
    in_packs: tuple[str, ...] = ()
    """The lots of assorted packs that hold jigs of it."""

    @property
    def packed(self) -> str:
        """What a lot of packs is made of, or in which packs its jigs are; else nothing."""
        if self.made_of:
            return f"packs of jigs of {', '.join(self.made_of)}"
        return f"some in packs {', '.join(self.in_packs)}" if self.in_packs else ""

    @property
    def went_in(self) -> tuple[str, ...]:
        """The suppliers' lots as one says them, or that nobody knows them."""
        return (UNTRACED,) if self.untraced else tuple(map(str, self.materials))

    @property
    def shipped(self) -> int:
        """Pieces that are with dealers."""
        return sum(each.count for each in self.dealers)

    def as_json(self) -> dict[str, Any]:
        """Return plain values."""
        return asdict(self) | {
            "made": self.made.isoformat(),
            "shipped": self.shipped,
            "dealers": [asdict(each) for each in self.dealers],
            "materials": [str(each) for each in self.materials],
            "other_names": list(self.other_names),
            "made_of": list(self.made_of),
            "in_packs": list(self.in_packs),
        }


@dataclass(frozen=True, slots=True)
class Trace:
    """The answer to one question.

    Attributes:
        asked: what was asked.
        meanings: what it was taken for, such as ``supplier's lot HK-2291``.
        stories: the lots, in the order of their days and numbers.
        also: other names in the ledger that contain what was asked.
        perhaps: where a supplier's lot was asked for, the lots of which nobody knows what went in.
    """

    asked: str
    meanings: tuple[str, ...]
    stories: tuple[Story, ...]
    also: tuple[str, ...] = ()
    perhaps: tuple[Story, ...] = ()

    @property
    def in_notes_only(self) -> bool:
        """Whether what was asked is no name but stands in notes."""
        return all(meaning.startswith(_NOTED) for meaning in self.meanings)

    @property
    def dealers(self) -> tuple[WithDealer, ...]:
        """Who has how many pieces of these lots in all, by name."""
        totals: defaultdict[str, int] = defaultdict(int)
        for story in self.stories:
            for each in story.dealers:
                totals[each.dealer] += each.count
        return tuple(WithDealer(dealer, totals[dealer]) for dealer in sorted(totals))

    def as_json(self) -> dict[str, Any]:
        """Return plain values."""
        return {
            "asked": self.asked,
            "meanings": list(self.meanings),
            "lots": [story.as_json() for story in self.stories],
            "dealers": [asdict(each) for each in self.dealers],
            "made": sum(story.count for story in self.stories),
            "on_hand": sum(story.on_hand for story in self.stories),
            "also": list(self.also),
            "perhaps": [story.as_json() for story in self.perhaps],
        }

    def as_csv(self) -> str:
        """Return one row for every lot and dealer, safe to open in a spreadsheet."""
        return write_csv(_HEADS, (row for story in self.stories for row in _rows(story)))


def _rows(story: Story) -> Iterator[tuple[object, ...]]:
    head = (
        story.lot, story.sku, story.name, story.made.isoformat(), story.count, story.labels,
        story.cards, story.on_hand, "void" if story.void else "",
        story.held, "; ".join(story.went_in),
    )  # fmt: skip
    for each in story.dealers or (None,):
        yield (*head, each.dealer if each else "", each.count if each else 0)


def stories_of(ledger: Ledger, numbers: Sequence[int]) -> list[Story]:
    """Return what the ledger knows of each of these lots, by the ledger's own numbers of them.

    They come in the order of their days and numbers within each day.
    """
    return ledger.read(
        lambda connection: [
            story
            for some in in_parts(numbers)
            for story in _stories(connection, select(lots.c.id).where(lots.c.id.in_(some)))
        ]
    )


def trace(ledger: Ledger, text: str, sku: str = "") -> Trace:
    """Find every lot that ``text`` touches.

    Where nothing has that name and only one contains it, that one is meant.

    Args:
        ledger: an open ledger.
        text: a supplier's lot (alone or as ``KIND=LOT``), a lot code, a SKU (with ``*`` for any
            letters), a dealer, a scanned address, a day, a month, a year, or days from ``..`` to;
            or words of a note.
        sku: the product that is meant by it too.

    Raises:
        LabelerError: if nothing in the ledger bears that name, with the nearest that does.
    """

    def look(connection: Connection) -> Trace:
        also = _containing(connection, text)
        parts = {clue.meaning: clue for clue in _of_parts(text, also) if _leads(connection, clue)}
        of_product = [_of_sku(sku)] if sku else []
        found = [clue for clue in (*of_product, *clues(text)) if _leads(connection, clue)]
        found += [*parts.values(), *_of_words(connection, text)]
        also = [
            name for name in also
            if f"supplier's lot {name}" not in parts
            and any(_leads(connection, clue) for clue in clues(_asked_as(text, name)))
        ]  # fmt: skip
        if not found and len(also) == 1:
            found = [
                clue for clue in clues(_asked_as(text, also.pop())) if _leads(connection, clue)
            ]
        if not found:
            close = near(connection, text)[:_NEAR_SHOWN] or nearest(connection, text, _NEAR_SHOWN)
            said = also or close
            which = "Names in the ledger that contain it" if also else "Nearest names in the ledger"
            raise refusal(
                "trace-nothing",
                Place(key="trace"),
                "the ledger has no supplier's lot, lot code, SKU, dealer or note of this name",
                found=repr(text),
                hint=f"{which}: {', '.join(said)}" if said else "",
            )
        spread = [select(contents.c.lot_id).where(contents.c.part_id.in_(clue.lots))
                  for clue in found if clue.spreads]  # fmt: skip
        wanted = union(*(clue.lots for clue in found), *spread).subquery()
        stories = tuple(_stories(connection, select(wanted.c[0])))
        perhaps: tuple[Story, ...] = ()
        if any(clue.of_material for clue in found):
            here = {story.lot for story in stories}
            unknown = select(lots.c.id).where(lots.c.untraced == 1)
            packs = select(contents.c.lot_id).where(contents.c.part_id.in_(unknown))
            both = union(unknown, packs).subquery()
            untraced = _stories(connection, select(both.c[0]))
            perhaps = tuple(each for each in untraced if each.lot not in here and not each.void)
        meanings = tuple(clue.meaning for clue in found)
        return Trace(text.strip(), meanings, stories, tuple(also), perhaps)

    return ledger.read(look)


def _stories(connection: Connection, wanted: Select[Any]) -> Iterator[Story]:
    called, parts = other_names_of(connection, wanted), _parts_of(connection, wanted)
    packs = _packs_of(connection, wanted)
    of_parts = materials_of(
        connection, select(contents.c.part_id).where(contents.c.lot_id.in_(wanted))
    )
    went_in = dict(materials_of(connection, wanted))
    for number, made_of in parts.items():
        every = {each for part in made_of for each in of_parts.get(part, ())}
        went_in[number] = tuple(sorted({*went_in.get(number, ()), *every}))
    pieces = _printed(connection, wanted)
    dealers, changes, gone = _moved(connection, wanted)
    query = (
        select(
            lots.c.id, lots.c.code.label("lot"), lots.c.sku, snapshots.c.name, lots.c.made,
            lots.c.count, voids.c.lot_id.isnot(None).label("void"),
            func.coalesce(HELD.c.why, "").label("held"), (lots.c.untraced != 0).label("untraced"),
        )
        .join_from(lots, snapshots)
        .join(voids, isouter=True)
        .join(HELD, HELD.c.lot_id == lots.c.id, isouter=True)
        .where(lots.c.id.in_(wanted))
        .order_by(lots.c.made, lots.c.number)
    )  # fmt: skip
    for row in connection.execute(query).mappings().all():
        number = row["id"]
        here = 0 if row["void"] else row["count"] + changes.get(number, 0)
        yield Story(
            **{column: row[column] for column in _AS_THEY_ARE},
            labels=pieces.get((number, "bag"), 0),
            cards=pieces.get((number, "card"), 0),
            dealers=tuple(sorted(dealers.get(number, ()), key=lambda each: each.dealer)),
            on_hand=here,
            materials=went_in.get(number, ()),
            other_names=called.get(number, ()),
            gone=gone.get(number, 0),
            made_of=tuple(parts.get(number, {}).values()),
            in_packs=tuple(packs.get(number, ())),
        )


_AS_THEY_ARE = ("lot", "sku", "name", "made", "count", "void", "held", "untraced")


def _parts_of(connection: Connection, wanted: Select[Any]) -> dict[int, dict[int, str]]:
    """Return of each lot of packs the lots whose jigs are in it, with their codes."""
    query = (
        select(contents.c.lot_id, contents.c.part_id, lots.c.code)
        .join(lots, lots.c.id == contents.c.part_id)
        .where(contents.c.lot_id.in_(wanted))
        .order_by(contents.c.id)
    )
    found: defaultdict[int, dict[int, str]] = defaultdict(dict)
    for number, part, code in connection.execute(query).all():
        found[number][part] = code
    return dict(found)


def _packs_of(connection: Connection, wanted: Select[Any]) -> dict[int, list[str]]:
    """Return of each lot the codes of the lots of packs that hold its jigs; void ones hold none."""
    query = (
        select(contents.c.part_id, lots.c.code)
        .join(lots, lots.c.id == contents.c.lot_id)
        .where(contents.c.part_id.in_(wanted), lots.c.id.not_in(select(voids.c.lot_id)))
        .order_by(contents.c.id)
    )
    found: defaultdict[int, list[str]] = defaultdict(list)
    for number, code in connection.execute(query).all():
        found[number].append(code)
    return dict(found)


def refuse_pack(ledger: Ledger, lot: Lot, why: str) -> None:
    """Raise for a lot of assorted packs, which is no batch of one jig; its jigs' lots are named.

    Args:
        ledger: an open ledger.
        lot: the lot.
        why: what does not hold of packs, such as "it has no batch card".

    Raises:
        LabelerError: if it is one.
    """
    if not snapshot_of(ledger, lot).parts:
        return

    def look(connection: Connection) -> list[str]:
        of = _parts_of(connection, select(lots.c.id).where(lots.c.code == lot.code))
        return [code for parts in of.values() for code in parts.values()]

    raise refusal(
        "pack-not-a-batch", Place(key=f"lot {lot.code}"),
        f"this is a lot of assorted packs, so {why}: its jigs are of other lots",
        found=lot.sku, expected=", ".join(ledger.read(look)) or "the lots of its jigs",
    )  # fmt: skip


def _printed(connection: Connection, wanted: Select[Any]) -> dict[tuple[int, str], int]:
    query = (
        select(printed.c.lot_id, printed.c.kind, func.sum(printed.c.count))
        .where(printed.c.lot_id.in_(wanted), printed.c.run_id.not_in(uncounted()))
        .group_by(printed.c.lot_id, printed.c.kind)
    )
    return {(number, kind): int(count) for number, kind, count in connection.execute(query).all()}


def _moved(
    connection: Connection, wanted: Select[Any]
) -> tuple[dict[int, list[WithDealer]], dict[int, int], dict[int, int]]:
    """Return who has how many of each lot, what all moves did to the number on hand, and gone."""
    out = case((moves.c.kind.in_(("ship", "return")), -moves.c.change), else_=0)
    query = (
        select(
            moves.c.lot_id,
            func.max(moves.c.dealer),
            func.sum(out),
            func.sum(moves.c.change),
            func.max(case((moves.c.whom != "dealer", moves.c.whom), else_="")),
            func.sum(case((moves.c.kind == GONE, -moves.c.change), else_=0)),
        )
        .where(moves.c.lot_id.in_(wanted))
        .group_by(moves.c.lot_id, moves.c.dealer_folded)
    )
    dealers: defaultdict[int, list[WithDealer]] = defaultdict(list)
    changes: defaultdict[int, int] = defaultdict(int)
    gone: Counter[int] = Counter()
    for number, dealer, count, change, whom, before in connection.execute(query).all():
        changes[number] += int(change)
        gone[number] += int(before)
        if count:
            name = f"{dealer} ({whom})" if whom else dealer
            dealers[number].append(WithDealer(name, int(count)))
    return dealers, changes, gone
