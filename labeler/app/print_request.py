"""What is asked to be printed: the request, and the products and lots that it means.

A request names products, or lots whose products are printed as they were when the lots were opened;
each with its count, or one count for all. What it leaves open is never guessed.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import asdict, dataclass, field
from fnmatch import fnmatchcase
from itertools import chain
from pathlib import Path
from typing import TYPE_CHECKING, Any, Literal

from labeler.app.preflight import Seen
from labeler.app.workstation import with_lots
from labeler.catalog.casting import packs_of
from labeler.catalog.model import Catalog, Product
from labeler.catalog.read import choose, named_count
from labeler.codes.links import identifier
from labeler.findings import (
    Finding,
    LabelerError,
    Place,
    fix,
    listed,
    note,
    read_each,
    refusal,
    stop,
)
from labeler.layout.facts import facts_of
from labeler.layout.index import Size, Use
from labeler.marks import InkMode
from labeler.units import FRACTION_SLASH, NO_BREAK_SPACE, THIN_SPACE

if TYPE_CHECKING:
    from labeler.app.record import CarryOut
    from labeler.checker.subject import KnownLot
    from labeler.ledger.lots import Lot
    from labeler.ledger.runs import Kind
    from labeler.ledger.store import Ledger


DEFAULT_SHEETS: Mapping[Use, str] = {"bags": "letter-3x10", "cards": "letter-card"}

KINDS: Mapping[Use, Kind] = {"bags": "bag", "cards": "card"}
"""What the ledger calls a piece of each use."""

MOST_PIECES = 200_000
"""More than a desk printer prints in a week: a slip of the finger, not an order."""

_LOT_SHOWN = 40


@dataclass(frozen=True, slots=True)
class PrintRequest:
    """What to print. Everything but the folder, the file and the use has a sensible default.

    ``skus`` are SKUs, patterns like ``RV-*`` or a product's words; none means the whole line, or
    the lots' products. ``lots`` are codes or patterns of them. Either may bring its own count,
    ``NAME=N``; ``count`` is of each without one; None means one, or as many as the lot fills packs;
    ``spare`` come on top. ``start`` may be "next": the first free cell of the sheet that was begun.
    ``size`` is a card's, in points. ``ink`` None means what the sheet is usually printed with.
    ``layout`` empty means the one that suits. ``even_so`` hands out a file that the checker would
    stop. A ``trial``, as one with the cells' ``outline`` is, uses
    up no cells and its pieces are not counted. A ``preview`` is to look at: it is not even kept as
    a run, and what would stop the print is only told.
    """

    folder: Path
    out: Path
    use: Use
    skus: tuple[str, ...] = ()
    count: int | None = None
    sheet: str = ""
    start: int | Literal["next"] = 1
    spoiled: str = ""
    printer: str = ""
    layout: str = ""
    lots: tuple[str, ...] = ()
    size: Size | None = None
    ink: InkMode | None = None
    fill: bool = False
    outline: bool = False
    spare: int = 0
    even_so: bool = False
    why: str = ""
    """The reason for ``even_so``, which the ledger keeps."""
    trial: bool = False
    preview: bool = False
    day: dt.date = field(default_factory=dt.date.today)
    seen: Seen | None = field(default=None, compare=False)
    """Looks at the finished file and the report on it, whatever becomes of the two."""

    @property
    def counts(self) -> bool:
        """Whether it uses up cells, and its pieces are labels that hang somewhere."""
        return not (self.trial or self.outline or self.preview)


@dataclass(frozen=True, slots=True)
class Labels:
    """So many labels of one product; of a lot, of the product as it was when it was opened."""

    product: Product
    count: int
    lot: str = ""
    old_code: str = ""


@dataclass(frozen=True, slots=True)
class LotsOpened:
    """Lots that are opened with a run, in one change of the ledger: the run is on record or none.

    ``known`` is what their labels are checked against; ``carry_out`` opens them and puts the run on
    record.
    """

    known: Mapping[str, KnownLot]
    carry_out: CarryOut


@dataclass(frozen=True, slots=True)
class Goods:
    """What a run prints labels for.

    Attributes:
        labels: in the catalog's order, or in that of the lots.
        maker: whose goods they are.
        catalog_digest: the fingerprint of the catalog they stand in.
        findings: what is worth saying of them.
        opening: their lots, if they are only opened with the run.
    """

    labels: tuple[Labels, ...]
    maker: str
    catalog_digest: str
    findings: tuple[Finding, ...] = ()
    opening: LotsOpened | None = None


def goods_of(request: PrintRequest, catalog: Catalog, ledger: Ledger | None) -> Goods:
    """Return what a request means: which products and lots, and how many labels of each.

    Raises:
        LabelerError: with every word that names nothing or several, every lot that is unknown,
            withdrawn or of another product, and what got two counts.
    """
    said: list[Finding] = []
    products = _counted(request, catalog, ledger, said)
    maker, fingerprint = catalog.file.maker.name, catalog.fingerprint
    if not request.lots:
        counts = _counts(request, ({product.sku: count} for product, count in products))
        labels = [
            Labels(product, (1 if count is None else count) + request.spare)
            for (product, _), count in zip(products, counts, strict=True)
        ]
    elif ledger is None:
        labels = _labels_unchecked(request, products, said)
    else:
        labels, digests = _labels_of_lots(request, catalog, products, ledger, said)
        makers = {each.product.maker.name for each in labels}
        maker = makers.pop() if len(makers) == 1 else maker
        fingerprint = digests.pop() if len(digests) == 1 else fingerprint
    return Goods(tuple(labels), maker, fingerprint, tuple(said))


_LOTS_LOOKED_FOR = 12
"""Products of which a print without a lot looks for lots; of more, the words alone must do."""


def without_lot(goods: Goods, ledger: Ledger | None) -> Iterator[Finding]:
    """Yield once that labels carry no lot, and what to do: the lots there are, or how to open one.

    Args:
        goods: what is printed.
        ledger: where lots are kept; None where there are none yet.
    """
    if not goods.labels or any(each.lot for each in goods.labels):
        return
    skus = [each.product.sku for each in goods.labels]
    known: list[str] = []
    if ledger is not None and len(skus) <= _LOTS_LOOKED_FOR:
        from labeler.ledger.lots import list_lots

        lots = chain.from_iterable(list_lots(ledger, sku=sku) for sku in skus)
        known = [f"--lot {lot.code}" for lot in lots if not (lot.void or lot.held)]
    opened = f"labeler lot assign {skus[0] if len(skus) == 1 else 'SKU'} --count N"
    yield note(
        "no-lot",
        Place(piece=skus[0] if len(skus) == 1 else ""),
        "these labels carry no lot, so nothing leads from a jig to what went into it",
        hint=f"With a lot there is: {listed(known[-3:])}. A new one: {opened}."
        if known
        else f"To open one: {opened}. Then --lot CODE prints its labels.",
    )


_Counted = Sequence[tuple[Product, int | None]]
"""Products with the count that each was given, if it was."""


def _counted(
    request: PrintRequest, catalog: Catalog, ledger: Ledger | None, said: list[Finding]
) -> _Counted:
    """Return the products asked for, in the catalog's order; none, where lots are asked for only.

    Raises:
        LabelerError: with every word that names no product, and all that got two counts.
    """
    if not request.skus:
        return [] if request.lots else [(product, None) for product in catalog.products]

    def meant(word: str) -> list[tuple[str, int | None]]:
        name, count = named_count(word)
        try:
            chosen = choose(catalog, [name], said)
        except LabelerError as error:
            raise with_lots(error, name, ledger) from None
        return [(product.sku, count) for product in chosen]

    found = read_each(meant, request.skus)
    loose = [bool(set("*?[") & set(word)) and "=" not in word for word in request.skus]
    alone = chain.from_iterable(each for each, any_count in zip(found, loose, strict=True)
                                if not any_count)  # fmt: skip
    counts = dict(chain.from_iterable(found)) | _each_counted(alone)
    return [(each, counts[each.sku]) for each in catalog.products if each.sku in counts]


def _each_counted(given: Iterable[tuple[str, int | None]]) -> dict[str, int | None]:
    """Return each name with the count that it was given, if it was.

    Raises:
        LabelerError: with every name that was given twice: one of the two would be dropped.
    """
    counts: dict[str, int | None] = {}
    twice: list[Finding] = []
    for name, count in given:
        if name in counts:
            twice.append(_two_counts(_as_given(name, counts[name]), _as_given(name, count)))
        counts[name] = count
    if twice:
        raise LabelerError(twice)
    return counts


def _two_counts(one: str, other: str) -> Finding:
    return stop(
        "count-twice", Place(key="count"), "this is given twice in one run, and counts once",
        found=f"{one} and {other}", expected="one of them",
    )  # fmt: skip


def _as_given(name: str, count: int | None) -> str:
    return name if count is None else f"{name}={count}"


def _counts(request: PrintRequest, given: Iterable[Mapping[str, int | None]]) -> list[int | None]:
    """Return how many of each: its own count, or --count; None if neither was given.

    Args:
        request: with its --count.
        given: of each what it is called, as a lot and as a product, with the counts given so.

    Raises:
        LabelerError: with all that got two counts, and a --count that counts for nothing.
    """
    own = [[(name, count) for name, count in each.items() if count is not None] for each in given]
    said = [[_as_given(*one) for one in each] for each in own]
    faults = [_two_counts(each[0], each[1]) for each in said if len(each) > 1]
    if request.count is not None and said and all(said):
        faults.append(_two_counts(listed([each[0] for each in said]), f"--count {request.count}"))
    if faults:
        raise LabelerError(faults)
    return [each[0][1] if each else request.count for each in own]


def _lots_asked(request: PrintRequest, ledger: Ledger | None = None) -> dict[str, int | None]:
    """Return the lots as typed, each with the count that it was given, if it was.

    A pattern means every lot that is not void; what is named beside it has its own count.

    Raises:
        LabelerError: with every lot that was given twice, and patterns that no lot fits.
    """
    given = [named_count(each) for each in request.lots]
    loose = [each for each in given if set("*?[") & set(each[0])]
    alone = _each_counted(each for each in given if each not in loose)
    if not loose or ledger is None:
        return dict(loose) | alone
    from labeler.ledger.lots import list_lots

    codes = [lot.code for lot in list_lots(ledger) if not lot.void]

    def fitting(word: tuple[str, int | None]) -> dict[str, int | None]:
        if found := [code for code in codes if fnmatchcase(code, word[0])]:
            return dict.fromkeys(found, word[1])
        raise refusal("unknown-lot", Place(key="lot"), "no lot fits this", found=word[0],
                      hint="labeler lot list shows all.")  # fmt: skip

    return {code: n for each in read_each(fitting, loose) for code, n in each.items()} | alone


def _labels_unchecked(
    request: PrintRequest, products: _Counted, said: list[Finding]
) -> list[Labels]:
    """Return labels with codes that no ledger knows: only the maker can say of which product.

    Raises:
        LabelerError: if that is left open.
    """
    asked = _lots_asked(request)
    read_each(_refuse_odd_lot, asked)
    if len(products) != 1:
        raise refusal(
            "lot-of-many",
            Place(key="lot"),
            "a lot is of one product, and there is no ledger here to tell of which",
            found=f"{listed(request.lots)} for "
            f"{f'{len(products)} products' if products else 'no product'}",
            hint="Name it with --sku. labeler lot assign opens a lot that knows its product.",
        )
    said.append(
        note(
            "lot-unchecked",
            Place(key="lot"),
            "there is no ledger in this folder, so the lot code is printed as it was typed",
            found=listed(request.lots),
            hint="labeler lot assign opens a lot, gives it a code and remembers it.",
        )
    )
    ((product, own),) = products
    counts = _counts(request, ({code: each, product.sku: own} for code, each in asked.items()))
    return [
        Labels(product, (1 if count is None else count) + request.spare, code)
        for code, count in zip(asked, counts, strict=True)
    ]


def _labels_of_lots(
    request: PrintRequest, catalog: Catalog, products: _Counted, ledger: Ledger,
    said: list[Finding],
) -> tuple[list[Labels], set[str]]:  # fmt: skip
    """Return the labels of lots, and the fingerprints of the catalogs that they were opened with.

    A SKU beside them says which product they are of, and perhaps how many labels.
    """
    from labeler.app.record import refuse_held, refuse_void  # only where there is a ledger
    from labeler.ledger.lots import find, letters_read, snapshot_of

    asked = _lots_asked(request, ledger)

    def open_lot(code: str) -> Lot:
        lot = find(ledger, code)
        refuse_void(lot)
        refuse_held(lot, request.even_so or request.preview)
        said.extend(letters_read(code, lot.code))
        return lot

    lots = dict(zip(asked, read_each(open_lot, asked), strict=True))
    counts = _each_counted((lot.code, asked[code]) for code, lot in lots.items())
    by_code = {lot.code: lot for lot in lots.values()}
    if products:
        said += _others(by_code.values(), products, request.skus)
    of_sku = {product.sku: count for product, count in products}
    labels = []
    given = ({code: counts[code], lot.sku: of_sku.get(lot.sku)} for code, lot in by_code.items())
    for lot, own in zip(by_code.values(), _counts(request, given), strict=True):
        product = snapshot_of(ledger, lot)
        packs = packs_of(product, lot.count)
        count = packs if own is None else own
        said += _changed_since(lot, product, catalog)
        if request.counts:
            said += beyond_packs(ledger, lot, packs, count, request.use)
        labels.append(Labels(product, count + request.spare, lot.code, lot.old_code))
    return labels, {lot.catalog_digest for lot in by_code.values()}


def _others(lots: Iterable[Lot], products: _Counted, words: Sequence[str]) -> Iterator[Finding]:
    """Refuse lots of other products than were named, and products that none of the lots is of.

    Of those that a pattern of SKUs means it is only said which are not printed.

    Raises:
        LabelerError: with each of them.
    """
    named = {product.sku for product, _ in products}
    of = {lot.sku for lot in lots}
    faults = [
        stop(
            "lot-of-another",
            Place(key="lot"),
            "this lot is of another product",
            found=f"{lot.code} of {lot.sku}",
            expected=", ".join(words),
            hint="Leave the SKU out: a lot's labels are of its own product.",
        )
        for lot in lots
        if lot.sku not in named
    ]
    if not faults and any("*" not in word for word in words):
        faults = [
            stop(
                "lot-of-another", Place(key="sku"), "none of these lots is of this product",
                found=sku, hint="Name its lot too, or print what has no lot in a run of its own.",
            )
            for sku in sorted(named - of)
        ]  # fmt: skip
    if faults:
        raise LabelerError(faults)
    if left_out := sorted(named - of):
        yield note(
            "lot-only", Place(key="sku"), "only lots are printed, and these have none here",
            found=listed(left_out),
            hint="Print what has no lot in a run of its own.",
        )  # fmt: skip


def beyond_packs(
    ledger: Ledger, lot: Lot, packs: int, count: int, use: Use, more: bool = False
) -> list[Finding]:
    """Say if there would be more labels of a lot than it fills packs, and what was printed before.

    Args:
        ledger: an open ledger.
        lot: the lot.
        packs: how many packs its jigs fill.
        count: how many labels are to be printed, without those to spare.
        use: of what kind.
        more: whether they are known to be printed again, in place of others.
    """
    from labeler.ledger.runs import past_runs

    runs = past_runs(ledger, lot=lot.code, kind=KINDS[use])
    before = [run for run in runs if run.state == "printed"]
    printed = sum(run.count for run in before)
    if count + printed <= packs:
        return []
    earlier = listed([f"run {run.run}: {run.count} on {run.at:%Y-%m-%d}" for run in before])
    return [
        (note if more or not before else fix)(
            "lot-more-labels",
            Place(key=f"lot {lot.code}"),
            "there would be more labels than the lot fills packs",
            found=f"{count} now" + (f" and {printed} before ({earlier})" if before else ""),
            expected=f"{packs} in all",
            hint="If a run before was never printed, take it back: labeler unprint "
            f"{before[-1].run} --why TEXT. --trial prints without counting."
            if before
            else "--spare adds some for those that go wrong.",
        )
    ]


def _changed_since(lot: Lot, product: Product, catalog: Catalog) -> list[Finding]:
    """Say how the catalog has changed since the lot was opened; the label does not follow."""
    today = next((each for each in catalog.products if each.sku == lot.sku), None)
    place = Place(key=f"lot {lot.code}")
    if today is None:
        return [note("lot-retired", place, f"{lot.sku} is no longer in the catalog")]
    changed = differences(product, today)
    if not changed:
        return []
    return [
        note(
            "lot-as-it-was",
            place,
            "the label shows the product as it was when the lot was opened; today's differs",
            found="; ".join(map(str, changed)),
            hint="labeler reprint --today prints it as it is today.",
        )
    ]


def _refuse_odd_lot(lot: str) -> None:
    """Refuse a lot that a code could not carry as it is printed.

    Source: GS1 General Specifications, 7.11, for the characters; RFC 3986, 5.2.4, for dots alone.
    """
    kind = identifier("10")
    fault = kind.fault(lot) if kind and lot else None
    if fault or lot in (".", ".."):
        raise refusal(
            "lot-code",
            Place(key="lot"),
            fault.sentence if fault else "a lot of dots alone drops out of a link",
            found=repr(lot[:_LOT_SHOWN]),
            expected="at most 20 letters, digits and signs, without a space",
        )


def refuse_too_many(labels: Sequence[Labels]) -> None:
    """Refuse a run of more labels than a week's work, or of none of something.

    Raises:
        LabelerError: if it is one.
    """
    counts = sorted({each.count for each in labels})
    total = sum(each.count for each in labels)
    if labels and (counts[0] < 1 or total > MOST_PIECES):
        each = listed([str(count) for count in counts])
        raise refusal(
            "count-out-of-range",
            Place(key="count"),
            "this many can't be printed in one run",
            found=f"{each} each of {len(labels)}",
            expected=f"at least 1 each and at most {MOST_PIECES:,} in all",
        )


_LONGEST = 60
"""Letters of a value that are shown."""

_SAID_BY_OTHERS = ("weight_number", "weight_unit", "gtin14", "name", "layers")
"""Facts that say what others say too."""

_PLAIN = str.maketrans({FRACTION_SLASH: "/", NO_BREAK_SPACE: " ", THIN_SPACE: " "})


@dataclass(frozen=True, slots=True)
class Difference:
    """One thing that a label would say otherwise."""

    what: str
    was: str
    now: str

    def as_json(self) -> dict[str, str]:
        """Return plain values."""
        return asdict(self)

    def __str__(self) -> str:
        """Return it as one says it."""
        return f"{self.what} {self.was or 'nothing'}, now {self.now or 'nothing'}"


def differences(was: Product, now: Product) -> tuple[Difference, ...]:
    """Return what the label of ``now`` would say otherwise than that of ``was``, and the recipe."""
    before, after = _facts(was), _facts(now)
    return tuple(
        Difference(what, _short(before[what]), _short(after[what]))
        for what in before
        if before[what] != after[what]
    )


def _facts(product: Product) -> dict[str, str]:
    facts = facts_of(product, lot="", link="", width=0, height=0, black=False)
    said = {
        key.replace("_", " "): _plain(value)
        for key, value in facts["product"].items()
        if key not in _SAID_BY_OTHERS
    }
    said |= {f"maker's {key}": _plain(value) for key, value in facts["maker"].items()}
    said["recipe"] = "; ".join(
        f"{layer.amount or layer.strands} {layer.shade} {layer.ink} {layer.seat}"
        for layer in product.colour.layers
    )
    said["markets"] = ", ".join(product.markets)
    said["links"] = product.maker.links or ""
    return said


def _plain(value: Any) -> str:
    return " ".join(str(value).translate(_PLAIN).split())


def _short(text: str) -> str:
    return text if len(text) <= _LONGEST else f"{text[: _LONGEST - 1]}…"
