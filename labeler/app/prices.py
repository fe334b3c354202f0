"""The prices of a line: all of them side by side, and changed: seen first, then written."""

from __future__ import annotations

import datetime as dt
import hashlib
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field, replace
from decimal import Decimal
from itertools import groupby
from pathlib import Path

from labeler.app.workstation import ledger_location
from labeler.catalog.edit import DONE, write_together
from labeler.catalog.model import Catalog, DatedPrices, Product, Tier
from labeler.catalog.prices import (
    PriceEdits,
    PriceMove,
    PriceRule,
    cell_list,
    moves,
    place_at_once,
    place_in_season,
    read_rule,
    remember,
    rewrite_prices,
    with_prices,
    written_of_late,
)
from labeler.catalog.read import choose, examine, readable
from labeler.catalog.spreadsheet.grid import LARGEST_BYTES
from labeler.catalog.structure import CATALOG_NAME, OURS, read_source, source_of
from labeler.catalog.structure import LARGEST_BYTES as LARGEST_CATALOG
from labeler.files import delivered, locked, read_file
from labeler.findings import Finding, LabelerError, Place, a_few, fix, note, refusal, stop
from labeler.tomlfile import TomlFile


@dataclass(frozen=True, slots=True)
class PriceLine:
    """Products of a pattern in a weight that cost the same."""

    products: tuple[Product, ...]
    retail: Decimal | None
    tiers: tuple[Decimal | None, ...]
    """What one pack costs at each price tier, in the catalog's order."""


@dataclass(frozen=True, slots=True)
class ShownPrices:
    """The prices of a day, and those that are written already for others.

    Attributes:
        day: on which they hold.
        currency: ISO 4217 code.
        tiers: names of the price tiers.
        lines: in the catalog's order.
        dated: entries of ``[[prices]]`` that hold or will, for any of the products asked for.
        findings: how the products asked for were understood.
    """

    day: dt.date
    currency: str
    tiers: tuple[str, ...]
    lines: tuple[PriceLine, ...]
    dated: tuple[DatedPrices, ...]
    findings: tuple[Finding, ...]


def list_prices(folder: Path, skus: Sequence[str] = (), day: dt.date | None = None) -> ShownPrices:
    """Return the prices of products on a day, or today; nothing asked for means the whole line.

    Raises:
        LabelerError: if the catalog is at fault, or a word names no product or several.
    """
    day = day or ledger_location(folder).today()
    catalog, found = readable(folder, day)
    said = [one for one in found if one.rule in (*_BROKEN_OFF, "dated-price-holds")]
    chosen = choose(catalog, skus, said)
    price_at = _tier_prices(catalog)
    lines = [
        PriceLine(tuple(products), price, price_at(price))
        for (_, _, price), products in groupby(
            sorted(chosen, key=_order(catalog)),
            key=lambda one: (one.pattern.name, one.weight, one.price),
        )
    ]
    dated = tuple(
        one for one in catalog.file.prices
        if (one.last_day is None or one.last_day >= day)
        and any(one.key_of(product.sku) for product in chosen)
    )  # fmt: skip
    tiers = tuple(tier.name for tier in catalog.file.tiers.values())
    return ShownPrices(day, catalog.file.sale.currency, tiers, tuple(lines), dated, tuple(said))


_BROKEN_OFF = ("price-change-half", "price-change-completed")


def _order(catalog: Catalog) -> Callable[[Product], tuple[int, Decimal]]:
    """Keep patterns in their order, and what costs the same in a weight together."""
    first = {(p.pattern.name, p.weight): at for at, p in reversed([*enumerate(catalog.products)])}
    return lambda one: (first[one.pattern.name, one.weight], one.price or Decimal(-1))


def _tier_prices(
    catalog: Catalog,
) -> Callable[[Decimal | None], tuple[Decimal | None, ...]]:
    from labeler.book.edition import dealer_price

    tiers: list[Tier] = list(catalog.file.tiers.values())
    return lambda price: tuple(
        None if price is None or tier.round_to <= 0 else dealer_price(price, tier) for tier in tiers
    )


@dataclass(frozen=True, slots=True)
class PriceRequest:
    """A change of prices, as the maker says it.

    Attributes:
        folder: the catalog's.
        change: ``+5 %``, ``-0.25``, ``= 5.49``.
        skus: which products; none means all.
        step: to what new prices are rounded, in words; empty for the cent.
        ending: how new prices end, in words, such as ``.49/.99``.
        first_day: from which they hold; None for at once.
        last_day: until which they hold; None for good.
    """

    folder: Path
    change: str
    skus: tuple[str, ...] = ()
    step: str = ""
    ending: str = ""
    first_day: dt.date | None = None
    last_day: dt.date | None = None


@dataclass(frozen=True, slots=True)
class PricePlan:
    """A change of prices that is not written yet.

    Attributes:
        request: what was asked.
        currency: ISO 4217 code.
        tiers: names of the price tiers.
        moves: what changes, in the catalog's order.
        tier_moves: for each of them old and new price at each tier.
        unchanged: products that were asked for and stay as they are, or have no price.
        by_hand: cells of the maker's own spreadsheet, which she changes herself.
        files: new contents of files, by name.
        findings: what is worth knowing before it is written.
        twice: that the very same change was written of late, and this would be one on top.
    """

    request: PriceRequest
    currency: str
    tiers: tuple[str, ...]
    moves: tuple[PriceMove, ...]
    tier_moves: tuple[tuple[tuple[Decimal | None, Decimal | None], ...], ...]
    unchanged: int
    by_hand: dict[Place, PriceMove]
    files: dict[str, bytes]
    findings: tuple[Finding, ...]
    rule: PriceRule
    today: dt.date
    twice: Finding | None = None
    _read: dict[str, bytes] = field(default_factory=dict)
    """Contents, as they were read, of the files that are to be written."""

    @property
    def code(self) -> str:
        """Letters that stand for these very changes, old prices and new."""
        said = "\n".join(f"{m.product.sku} {m.old} {m.new}" for m in self.moves)
        days = f"{self.request.first_day} {self.request.last_day}"
        return hashlib.sha256(f"{days}\n{said}".encode()).hexdigest()[:6].upper()


def plan_prices(request: PriceRequest) -> PricePlan:
    """Return what a change comes to; nothing is written.

    A change from a day on raises what holds on that day, leaving out what an entry of the very
    same days says: asked for once more, it comes to the same.

    Raises:
        LabelerError: with all that stands in the way.
    """
    rule = read_rule(request.change, request.step, request.ending)
    today = ledger_location(request.folder).today()
    first, last = request.first_day, request.last_day
    if last is not None and last < (first or today):
        raise refusal(
            "prices-never", Place(key="until"), "these prices end before they begin",
            found=last.isoformat(), expected=f"{(first or today).isoformat()} or later",
        )  # fmt: skip
    dated = first is not None or last is not None
    season = (first or today, last)
    catalog, found = readable(request.folder, season[0])
    source = read_source(request.folder)
    before = _without_season(catalog, source, season) if dated else catalog
    said = [one for one in found if one.rule in _BROKEN_OFF]
    chosen = choose(before, request.skus, said)
    changed = moves(rule, chosen)
    edits = (
        place_in_season(catalog, changed, season)
        if dated and changed
        else place_at_once(catalog, changed, today)
    )
    ours = {place: move for place, move in edits.cells.items() if _is_ours(catalog, place)}
    by_hand = {place: move for place, move in edits.cells.items() if place not in ours}
    files: dict[str, bytes] = {}
    read: dict[str, bytes] = {}
    if edits.keys or edits.season:
        read[CATALOG_NAME] = source.raw
        files[CATALOG_NAME] = rewrite_prices(source, edits)
    if ours:
        name = next(iter(ours)).file
        read[name] = read_file(request.folder / name, LARGEST_BYTES)
        files[name] = with_prices(name, read[name], ours)
    price_at = _tier_prices(catalog)
    plan = PricePlan(
        request, catalog.file.sale.currency,
        tuple(tier.name for tier in catalog.file.tiers.values()), tuple(changed),
        tuple(tuple(zip(price_at(m.old), price_at(m.new), strict=True)) for m in changed),
        len(chosen) - len(changed), by_hand,
        {name: new for name, new in files.items() if new != read[name]},
        (*said, *_worth_knowing(catalog, changed, season, today, edits)), rule, today,
        None if first else _twice(request.folder, rule, today, changed), read,
    )  # fmt: skip
    _prove(plan, catalog, season[0], {move.product.sku for move in edits.cells.values()})
    return plan


def _twice(
    folder: Path, rule: PriceRule, today: dt.date, changed: Sequence[PriceMove]
) -> Finding | None:
    """Return that some prices are just as the very same change left them."""
    late = written_of_late(folder, rule, today)
    on_top = [
        (late[move.product.sku][0], move.product.sku)
        for move in changed
        if move.product.sku in late and str(move.old) == late[move.product.sku][1]
    ]
    if not on_top:
        return None
    return stop(
        "price-change-twice", Place(key="change"),
        "the very same change was written of late, and these would change once more on top of it",
        found=f"written {max(on_top)[0]}: {a_few([sku for _, sku in on_top], 3)}",
        hint="If it is so, nothing is left to do. If they are to change once more, say --again.",
    )  # fmt: skip


def _is_ours(catalog: Catalog, place: Place) -> bool:
    own = catalog.file.spreadsheet
    hers = own is not None and Path(own.file).name == Path(place.file).name
    return place.file.casefold() == OURS and not hers


def _without_season(
    catalog: Catalog, source: TomlFile, season: tuple[dt.date, dt.date | None]
) -> Catalog:
    """Return the catalog as it were without the entry of ``[[prices]]`` of these very days."""
    there = [(one.first_day, one.last_day) for one in catalog.file.prices]
    if season not in there:
        return catalog
    data = dict(source.data)
    data["prices"] = [each for each, days in zip(data["prices"], there, strict=True)
                      if days != season]  # fmt: skip
    found, _ = examine(Path(catalog.folder), season[0], replace(source, data=data))
    assert found is not None, "it can be read with that entry"
    return found


def _prove(plan: PricePlan, catalog: Catalog, day: dt.date, in_cells: set[str]) -> None:
    """Read what is to be written, and hold every price of the line against what was shown.

    Raises:
        LabelerError: if any differs.
    """
    new = {move.product.sku: move.new for move in plan.moves if move.product.sku not in in_cells}
    due = {one.sku: new.get(one.sku, one.price) for one in catalog.products}
    raw = plan.files.get(CATALOG_NAME)
    source = None if raw is None else source_of(raw)
    then, faults = examine(plan.request.folder, day, source)
    found = {one.sku: one.price for one in then.products} if then else {}
    if odd := [sku for sku in due if found.get(sku, -1) != due[sku]]:
        raise LabelerError(faults if then is None else stop(
            "price-not-written", Place(file=CATALOG_NAME),
            "written so, these would not cost what is shown", found=a_few(odd),
            hint="Change these by hand; nothing was written.",
        ))  # fmt: skip


def _worth_knowing(
    catalog: Catalog, changed: Sequence[PriceMove], season: tuple[dt.date, dt.date | None],
    today: dt.date, edits: PriceEdits,
) -> Iterator[Finding]:  # fmt: skip
    first, last = season
    skus = [move.product.sku for move in changed]
    for number, each in enumerate(catalog.file.prices):
        starts_within = each.first_day > first and (last is None or each.first_day <= last)
        if starts_within and (other := [sku for sku in skus if each.key_of(sku)]):
            yield note(
                "price-overtaken", Place(file=CATALOG_NAME, key=f"prices[{number}]"),
                f"from {each.first_day.isoformat()} on these have another price already",
                found=a_few(other), hint="That one stays as it is written.",
            )  # fmt: skip
    terms = catalog.file.terms
    promised = terms.valid_until is not None and first <= terms.valid_until
    if skus and promised and (terms.listed is None or first > terms.listed):
        yield fix(
            "price-promised", Place(file=CATALOG_NAME, key="terms.valid_until"),
            "the dealers' price list says that it holds until then, and these begin before",
            found=f"{terms.valid_until}; new prices from {first.isoformat()}",
            expected="new prices after that day, or a new list",
            hint="Make the dealer catalog again, with terms.listed and valid_until of its own.",
        )  # fmt: skip
    if edits.cells and not all(_is_ours(catalog, place) for place in edits.cells):
        yield note(
            "price-by-hand", Place(file=next(iter(edits.cells)).file),
            "these prices stand in your own spreadsheet, which is not written to",
            found=f"{len(edits.cells)} cells", hint="Change the cells that are listed; --list "
            "FILE writes them down. Or keep the change in catalog.toml: --from DAY.",
        )  # fmt: skip
    own = catalog.file.spreadsheet
    trade = [text for text, name in own.headings.items() if name == "wholesale"] if own else []
    if own and trade and changed:
        yield note(
            "wholesale-stays", Place(file=Path(own.file).name),
            "the wholesale prices in your own spreadsheet stay as they are", found=a_few(trade),
            hint="What dealers pay is worked out from [tiers], not from that column. Change it "
            "yourself, or it says the old prices.",
        )  # fmt: skip


def write_prices(plan: PricePlan) -> tuple[Path, ...]:
    """Write a change of prices as it was shown; return the files written.

    All of it or nothing: what a kill breaks off the next command completes.

    Raises:
        LabelerError: if a file has changed since it was shown, or can't be written.
    """
    folder = plan.request.folder
    if not plan.files:
        return ()
    hers = {move.product.sku for move in plan.by_hand.values()}
    new = {m.product.sku: m.new for m in plan.moves if m.product.sku not in hers}
    with locked(folder):
        for name in plan.files:
            if read_file(folder / name, max(LARGEST_BYTES, LARGEST_CATALOG)) != plan._read[name]:
                raise refusal(
                    "price-file-changed", Place(file=name), "changed since the prices were shown",
                    hint="Ask again.",
                )  # fmt: skip
        done = (folder / DONE).read_bytes() if (folder / DONE).exists() else b""
        late = {DONE: remember(done, plan.rule, new, plan.today)}
        write_together(folder, plan.files | late, plan._read | {DONE: done})
    return tuple(folder / name for name in plan.files)


def write_cells(plan: PricePlan, out: Path) -> None:
    """Write the cells to change by hand as a CSV.

    Raises:
        LabelerError: if it can't be written.
    """
    with delivered(out) as file:
        file.write(cell_list(plan.by_hand))
