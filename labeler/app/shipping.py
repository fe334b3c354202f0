"""Shipping: what goes to a dealer, what comes back, and the slip that goes with it."""

from __future__ import annotations

import datetime as dt
import difflib
import re
from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from labeler.app.workstation import LedgerLocation, ledger_location, sku_meant
from labeler.catalog.model import Dealer
from labeler.catalog.read import examine
from labeler.codes.lot_code import tidy
from labeler.disclosures.rules import country
from labeler.files import refuse_to_bury
from labeler.findings import (
    Finding,
    Grade,
    LabelerError,
    Place,
    listed,
    note,
    read_each,
    refusal,
    stop,
)
from labeler.ledger.lots import Lot, a_line, find, fold, letters_read, list_lots
from labeler.ledger.orders import list_orders
from labeler.ledger.promises import Promises
from labeler.ledger.ship import (
    Move,
    Moved,
    MoveKind,
    Parcel,
    SlipTakenError,
    Whom,
    due_slip,
    from_lots,
    is_taken_back,
    list_parcels,
    move,
    move_numbered,
    no_dealer,
    on_hand,
    refuse_sku,
    refuse_twice,
    slip,
    slip_number,
    take_back,
)
from labeler.ledger.store import Ledger

_NEAR_DEALER, _FAR_DEALER = 0.85, 0.45
"""How alike two names are, by `difflib`, that one is a slip for the other, or may be meant."""


@dataclass(frozen=True, slots=True)
class ShipRequest:
    """What comes or goes: lots with their counts, all together or not at all.

    Of what is shipped a SKU, or the words of a product, may stand for its lots. ``dealer`` is a
    name or the heading of one in the catalog, or as ``whom`` says a customer or a fair; ``on`` is
    today, at the bench, if None; ``slip`` the PDF to write; ``paper`` its size, the maker's
    country's if empty. ``again`` records what is just like another parcel, ``even_so`` what is
    held or of an odd day.
    """

    folder: Path
    kind: MoveKind
    parcels: tuple[tuple[str, int], ...]
    dealer: str = ""
    on: dt.date | None = None
    note: str = ""
    key: str | None = None
    slip: Path | None = None
    paper: str = ""
    whom: Whom = "dealer"
    again: bool = False
    even_so: bool = False


@dataclass(frozen=True, slots=True)
class Shipped:
    """What was recorded, and what is on hand of each lot now."""

    moves: tuple[Moved, ...]
    left: dict[str, int]
    again: bool
    slip: Path | None
    findings: tuple[Finding, ...]


@dataclass(frozen=True, slots=True)
class Recipient:
    """To or from whom: a dealer of the catalog with an address, or a name alone."""

    name: str
    address: tuple[str, ...] = ()
    findings: tuple[Finding, ...] = ()
    whom: Whom = "dealer"


def ship(request: ShipRequest) -> Shipped:
    """Record what comes or goes, and write its slip.

    The slip is on the disk before the move is recorded and has its name only after: no slip names
    a move that the ledger does not know. Asked again under the same key, nothing moves again and
    the same slip is written.

    Raises:
        LabelerError: with everything that stands in the way: unknown, void or held lots, more
            than is on hand, a dealer's name with a slip in it, an odd day, a parcel typed twice.
    """
    if request.slip is not None:
        refuse_to_bury(request.slip)
    location = ledger_location(request.folder)
    key = a_line(request.key, "key") if request.key is not None else ""
    with location.opened() as ledger:
        to = recipient(
            request.folder, ledger, request.dealer, request.whom, returning=request.kind == "return"
        )
        before = slip(ledger, key) if key else []
        if key and is_taken_back(ledger, key):
            raise refusal(
                "slip-taken-back", Place(key="key"),
                "what this key named was taken back as a mistake", found=repr(key),
                hint="Take a new key to record it after all.",
            )  # fmt: skip
        day = before[0].moved if before else request.on or location.today()
        said: list[Finding] = []
        try:
            parcels: Sequence[tuple[str, int]] = read_each(
                lambda each: (
                    _lot_or_sku(request.folder, location, ledger, each[0], said), each[1]
                ),
                request.parcels,
            )  # fmt: skip
        except LabelerError as error:
            raise _as_one(request, ledger, error) from None
        said += [
            note(
                "parcel-named-twice", Place(key=name),
                "this is named more than once, and all of it is taken together",
                found=f"{sum(count for each, count in parcels if each == name):,}",
                hint="If one was another, take the slip back with --mistake.",
            )
            for name, times in Counter(each for each, _ in parcels).items() if times > 1
        ]  # fmt: skip
        if not (request.key or request.again):
            refuse_twice(ledger, Move(request.kind, "", 0, day, to.name), parcels)
        if request.kind == "ship":
            parcels = from_lots(ledger, parcels, key)
        else:
            read_each(lambda each: refuse_sku(ledger, each[0], request.kind, to.name), parcels)
        lots = read_each(lambda each: find(ledger, each[0]), parcels)
        odd = list(odd_day(day, lots, location.today(), request.even_so or bool(before)))
        if any(each.grade is Grade.STOP for each in odd):
            raise LabelerError(odd)
        asked = [
            Move(request.kind, lot.code, count, day, to.name, request.note, to.whom)
            for lot, (_, count) in zip(lots, parcels, strict=True)
        ]
        promises = Promises(ledger, "this takes")
        done = _move(ledger, request, key, to, asked)
        left = {each.lot: on_hand(ledger, each.lot) for each in done}
        theirs = list(_open_orders(ledger, to, done)) if request.kind == "ship" else []
        told = {each.place for each in theirs}
        said += theirs + [
            replace(each, grade=Grade.NOTE)
            for each in ledger.read(promises.broken)
            if each.place not in told
        ]
    typed = zip(parcels, lots, strict=True)
    letters = [each for (text, _), lot in typed for each in letters_read(text, lot.code)]
    findings = (*said, *to.findings, *letters, *odd)
    return Shipped(tuple(done), left, bool(before), request.slip, findings)


TRIES = 5
"""Two benches that ship at the same instant are at odds once or twice, never five times."""


def _move(
    ledger: Ledger, request: ShipRequest, key: str, to: Recipient, asked: Sequence[Move]
) -> list[Moved]:
    """Record moves under a key that was given, or else the year's next number; write the slip."""
    for last in range(TRIES, 0, -1):
        number = key or due_slip(ledger, asked[0].moved)
        done: list[Moved] = []

        def carry_out(number: str = number, done: list[Moved] = done) -> None:
            if key:
                done.extend(move(ledger, asked, key=key, even_so=request.even_so))
            else:
                done.extend(move_numbered(ledger, asked, number, even_so=request.even_so))

        try:
            if request.slip is None:
                carry_out()
            else:
                from labeler.app.papers import (  # loads the layouts
                    PackingSlip,
                    deliver_papers,
                    lay_packing_slip,
                )

                slip_of = PackingSlip(
                    request.folder, request.slip, request.kind, number, to.name, to.address, asked,
                    request.note, request.paper,
                )  # fmt: skip
                deliver_papers([lay_packing_slip(slip_of, ledger)], carry_out)
            break
        except SlipTakenError:
            if last == 1:
                raise refusal(
                    "slip-busy", Place(key="slip"), "another bench is shipping at this moment",
                    hint="Give it once more.",
                ) from None  # fmt: skip
    return done


def _open_orders(ledger: Ledger, to: Recipient, done: Sequence[Moved]) -> Iterator[Finding]:
    """Yield the open orders of whom a parcel went to that it is not counted for."""
    for order in list_orders(ledger):
        if (fold(order.dealer), order.whom) != (fold(to.name), to.whom):
            continue
        due = {line.sku: order.left(line) for line in order.reading.lines}
        lots = [f"{each.lot}={each.count}" for each in done if due.get(each.sku)]
        of_it = [f"{due[sku]:,} of {sku}" for sku in {each.sku: 0 for each in done} if due.get(sku)]
        way = f"labeler ship --order {order.number} {' '.join(lots)}"
        yield note(
            "order-not-counted", Place(key=f"order {order.number}"),
            "this order of theirs is open, and what went now is not counted for it",
            found=listed(of_it) if lots else f"{order.open:,} packs of other products",
            hint=f"If it is for the order: labeler ship --mistake {slip_number(done[0].slip)}, "
            f"then {way}" if lots else f"labeler orders {order.number} shows it.",
        )  # fmt: skip


def _lot_or_sku(
    folder: Path, location: LedgerLocation, ledger: Ledger, text: str, said: list[Finding]
) -> str:
    """Return a lot code as it was typed, or the SKU that a SKU or words of one product mean.

    Raises:
        LabelerError: if it is neither, or no lot of the product was opened.
    """
    try:
        code = find(ledger, text).code
    except LabelerError as error:
        if any(each.rule == "lot-which" for each in error.findings):
            raise
        code, prefix = tidy(text), location.prefix
        may_be_code = code.startswith(prefix) if prefix else code.isdecimal()
        sku = sku_meant(folder, ledger, text, said, strict=not may_be_code)
        if list_lots(ledger, sku=sku):
            return sku
        if may_be_code:
            raise
        raise refusal(
            "lot-none", Place(key=sku), "no lot of this product was opened, so none can be moved",
            hint=f"labeler lot assign {sku} --count N opens one.",
        ) from None  # fmt: skip
    return text if tidy(text) == code else code


def _as_one(request: ShipRequest, ledger: Ledger, error: LabelerError) -> LabelerError:
    """Say what words mean together of which none means anything: their quotes were forgotten."""
    if len(error.findings) < max(2, len(request.parcels)):
        return error
    words = " ".join(text for text, _ in request.parcels)
    hint = f'The words of one product stand in quotes: "{words}"={request.parcels[-1][1]}'
    try:
        sku = sku_meant(request.folder, ledger, words, [], strict=True)
    except LabelerError as together:
        first = together.findings[0]
        return LabelerError(replace(first, hint="\n    ".join(filter(None, (first.hint, hint)))))
    return refusal("words-apart", Place(key=sku), "these words are one product", found=words,
                   hint=hint)  # fmt: skip


@dataclass(frozen=True, slots=True)
class ShipmentUndone:
    """The moves of a slip that were a mistake, and what is on hand of each lot now."""

    slip: str
    moves: tuple[Moved, ...]
    left: dict[str, int]


def ship_mistake(folder: Path, number: str, why: str = "") -> ShipmentUndone:
    """Take a slip back that should never have been recorded; nothing is deleted.

    Raises:
        LabelerError: if there is no such slip, or what was recorded since stands on it.
    """
    with ledger_location(folder).opened() as ledger:
        undone = take_back(ledger, number, why)
        left = {each.lot: on_hand(ledger, each.lot) for each in undone}
    return ShipmentUndone(number.strip(), tuple(undone), left)


def parcels_of(folder: Path, *, dealer: str = "", key: str = "", most: int = 0) -> list[Parcel]:
    """Return what came and went, the newest first; none where no ledger is.

    Args:
        folder: the catalog.
        dealer: only to and from this one; empty, everybody.
        key: only the slip of this key.
        most: how many; 0, all of them.

    Raises:
        LabelerError: if the ledger can't be read.
    """
    with ledger_location(folder).opened_if_begun() as ledger:
        return list_parcels(ledger, dealer=dealer, key=key, most=most) if ledger else []


def odd_day(day: dt.date, lots: Sequence[Lot], today: dt.date, even_so: bool) -> Iterator[Finding]:
    """Refuse a day on which nothing can have been moved, unless it is wanted even so."""
    early = [lot for lot in lots if day < lot.made]
    if day <= today and not early:
        return
    found = stop(
        "move-day",
        Place(key="on"),
        f"lot {early[0].code} was made after that day" if early else "the day lies in the future",
        found=day.isoformat(),
        expected=f"from {early[0].made} on" if early else f"a day up to {today.isoformat()}",
        hint="--even-so records it as it is.",
    )
    yield replace(found, grade=Grade.FIX, hint="") if even_so else found


def recipient(
    folder: Path, ledger: Ledger, text: str, whom: Whom, *, returning: bool = False
) -> Recipient:
    """Return the dealer, customer or fair that is meant.

    Raises:
        LabelerError: if a dealer's name is nearly that of a known one: it looks like a slip.
    """
    if not text:
        return Recipient("")
    name = a_line(text, whom)
    if whom != "dealer":
        return Recipient(name, whom=whom)
    if returning and (known_one := no_dealer(ledger, name)):
        return Recipient(known_one[0], whom=known_one[1])
    catalog, _ = examine(folder)
    if catalog is None:
        return dealer_named({}, name, "")
    return dealer_named(catalog.file.dealers, name, catalog.file.maker.country)


def dealer_named(known: Mapping[str, Dealer], name: str, own: str) -> Recipient:
    """Return the dealer of this key or name; one that is not in the catalog comes with a note.

    Args:
        known: the catalog's, by their headings.
        name: what was typed.
        own: the code of the maker's country.

    Raises:
        LabelerError: if the name is nearly that of a known one: it looks like a slip.
    """
    for heading, dealer in known.items():
        if fold(name) in (fold(heading), fold(dealer.name)):
            return Recipient(dealer.name, tuple(address_of(dealer, own)))
    plain = _plain(name)
    for each in (*(dealer.name for dealer in known.values()), *known):
        near = difflib.SequenceMatcher(None, _plain(each), plain).ratio() >= _NEAR_DEALER
        if near or sorted(_plain(each)) == sorted(plain):
            raise refusal(
                "dealer-slip",
                Place(key="dealer"),
                "this dealer's name looks like a slip",
                found=repr(name),
                hint=f"Did you mean {each!r}?",
            )
    if not known:
        return Recipient(name)
    place = Place(key="dealer")
    unlisted = note(
        "dealer-unlisted", place, "this dealer is not in the catalog", found=name,
        hint="What goes to a customer or to a fair: --customer NAME, --fair NAME.",
    )  # fmt: skip
    return Recipient(name, (), (unlisted,))


def _plain(name: str) -> str:
    """Return a name without what is often left out of it: case and an article before it."""
    return re.sub(r"^(the|an?)\s+", "", name.strip().casefold())


def nearest_dealers(known: Mapping[str, Dealer], name: str) -> str:
    """Return a sentence that names the dealers whose names are nearest, or all of them."""
    names = {_plain(dealer.name): dealer.name for dealer in known.values()}
    near = difflib.get_close_matches(_plain(name), names, n=3, cutoff=_FAR_DEALER)
    return f"{'Nearest' if near else 'Dealers'}: {listed([names[one] for one in near or names])}."


def address_of(dealer: Dealer, own: str) -> Sequence[str]:
    """Return a dealer's address, line by line, without the name; the country in words.

    Args:
        dealer: of the catalog.
        own: the code of the maker's country, which no letter within it names.
    """
    town = " ".join(part for part in (dealer.state, dealer.postcode) if part)
    abroad = "" if dealer.country == own else country(dealer.country)
    lines = (dealer.street, ", ".join(part for part in (dealer.city, town) if part), abroad)
    return [line for line in lines if line]
