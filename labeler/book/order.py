"""An order: what its form asks for, how it is read back, and what it comes to.

What comes in is a stranger's file, a PDF filled in any viewer or a workbook: nothing in it is
believed, run or computed.
"""

from __future__ import annotations

import io
import logging
import re
import warnings
import zipfile
from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from decimal import Decimal
from fractions import Fraction
from pathlib import Path
from typing import Any

from labeler.book.edition import dealer_price, excise_on_top, excise_within, find_named
from labeler.catalog.model import Catalog, Dealer, Product, Tier
from labeler.catalog.spreadsheet.grid import refuse_swollen
from labeler.findings import Finding, LabelerError, Place, did_you_mean, fix, note, refusal, stop
from labeler.layout.facts import amount_text

HEADS = {
    "dealer": "Dealer",
    "tier": "Price tier",
    "address": "Ship to",
    "contact": "Telephone or e-mail",
    "order": "PO number",
    "day": "Date",
    "notes": "Notes",
}
"""The names of the form's first fields, each with its label."""

TO_MAKER = HEADS | {"order": "Their PO number"}
"""The same, as they are said to who takes the order."""
WHOLE = {"packs": "Packs in all", "total": "Total"}
"""The names of the form's last fields, each with its label: sums that a shop writes in for itself.
Nothing here is read back; what an order comes to is computed."""

_EARLIER = {"Your order number": "order"}
"""What labels of sheets that were made before were called."""

SKU_HEAD, PACKS_HEAD = "SKU", "Packs ordered"
"""The heads of the order sheet's columns that are read back."""

MOST_PACKS = 10_000
"""Packs of one SKU in one order: more than two people tie in a year."""

_QUANTITY = "qty "
"""What the name of a quantity's field begins with. The SKU follows, its full stops as
underscores: a full stop in a field's name parts it (ISO 32000-1:2008, 12.7.3.2), and no SKU has
an underscore."""

LARGEST = 60_000_000
"""Bytes: a dealer's book with pictures takes some millions."""

_MOST_ROWS, _MOST_COLUMNS, _MOST_CELLS = 20_000, 40, 100_000
_HEAD_WITHIN = 60


def field_name(sku: str) -> str:
    """Return the name of the field for a SKU's quantity."""
    return _QUANTITY + sku.replace(".", "_")


def sku_of_field(name: str) -> str:
    """Return the SKU whose quantity stands in the field called ``name``; empty if in none."""
    return name.removeprefix(_QUANTITY).replace("_", ".") if name.startswith(_QUANTITY) else ""


@dataclass(frozen=True, slots=True)
class TypedQuantity:
    """What somebody typed for a SKU, and where."""

    sku: str
    value: Any
    place: Place
    formula: bool = False


@dataclass(slots=True)
class Filled:
    """A form as it came back: who orders, and what stands in each field that is not empty."""

    heads: dict[str, str] = field(default_factory=dict)
    typed: list[TypedQuantity] = field(default_factory=list)


def read_order(path: Path) -> Filled:
    """Return what stands in a filled form.

    Args:
        path: a PDF or an XLSX file, known by its first bytes.

    Raises:
        LabelerError: if it can't be read, is neither, or is no order form.
    """
    place = Place(file=str(path))
    if path.exists() and not path.is_file():
        raise refusal("order-unreadable", place, "is a folder, a pipe or a device")
    try:
        size = path.stat().st_size
        if size > LARGEST:
            raise refusal(
                "file-too-large", place, "is too large to be an order",
                found=f"{size:,} bytes", expected=f"at most {LARGEST:,} bytes",
            )  # fmt: skip
        raw = path.read_bytes()
    except OSError as error:
        raise refusal(
            "order-unreadable", place, f"can't be read: {error.strerror or error}"
        ) from error
    return order_in(raw, place)


def order_in(raw: bytes, place: Place) -> Filled:
    """Return what stands in a filled form.

    Args:
        raw: a PDF or an XLSX file, known by its first bytes.
        place: what the file is called.

    Raises:
        LabelerError: if it can't be read, is neither, or is no order form.
    """
    if b"%PDF-" in raw[:1024]:
        return _read_pdf(raw, place)
    if raw.startswith(b"PK"):
        return _read_xlsx(raw, place)
    hint = "Save it as one of the two."
    raise refusal("order-unknown", place, "is neither a PDF nor an XLSX workbook", hint=hint)


def _read_pdf(raw: bytes, place: Place) -> Filled:
    try:
        fields = _fields(raw, place)
    except LabelerError:
        raise
    except Exception:  # a broken PDF makes the reader raise anything at all
        hint = "Open it in a viewer and save it again, or ask for the order once more."
        raise refusal("order-broken", place, "is damaged", hint=hint) from None
    filled = Filled()
    for name, value in fields.items():
        sku = sku_of_field(name)
        if name in HEADS:
            filled.heads[name] = value
        elif sku and value:
            filled.typed.append(
                TypedQuantity(sku, value, Place(file=place.file, key=f"field of {sku}"))
            )
    if not any(map(sku_of_field, fields)):
        raise _no_form(place, "it has no field for a quantity")
    return filled


def _fields(raw: bytes, place: Place) -> dict[str, str]:
    """Return every field's value by its name, empty where nothing was typed.

    Raises:
        LabelerError: if the file is locked with a password.
    """
    from pypdf import PdfReader  # only orders that came back are read with it

    quiet = logging.getLogger("pypdf")
    level = quiet.level
    quiet.setLevel(logging.CRITICAL)
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            fields = {}
            reader = PdfReader(io.BytesIO(raw))
            if reader.is_encrypted:
                hint = "Ask for it without a password, or open it and print it into a new PDF."
                raise refusal("order-locked", place, "is locked with a password", hint=hint)
            for name, one in (reader.get_fields() or {}).items():
                value = one.get("/V")
                value = value.get_object() if hasattr(value, "get_object") else value
                fields[str(name)] = "" if value is None else str(value).strip()
            return fields
    finally:
        quiet.setLevel(level)


def _read_xlsx(raw: bytes, place: Place) -> Filled:
    try:
        with zipfile.ZipFile(io.BytesIO(raw)) as archive:
            unpacked = sum(part.file_size for part in archive.infolist())
        if unpacked <= LARGEST:
            refuse_swollen(place, raw, _MOST_CELLS)
        rows = _cells(raw) if unpacked <= LARGEST else []
    except LabelerError:
        raise
    except Exception as error:  # a broken workbook makes the reader raise anything at all
        raise refusal(
            "order-broken", place, "is damaged, or no workbook", found=type(error).__name__,
            hint="Open it in the spreadsheet and save it again as XLSX.",
        ) from None  # fmt: skip
    if unpacked > LARGEST:
        raise refusal("file-too-large", place, "unpacks to too much to be an order")
    return _filled_rows(rows, place)


def _cells(raw: bytes) -> list[list[tuple[str, Any, bool]]]:
    """Return the first sheet's cells: where, what, and whether it is a formula."""
    import openpyxl  # only orders that came back are read with it

    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        book = openpyxl.load_workbook(io.BytesIO(raw), read_only=True, data_only=False)
        sheet: Any = book.worksheets[0]
        sheet.reset_dimensions()
        return [
            [(cell.coordinate, cell.value, cell.data_type == "f") for cell in row
             if cell.value is not None]
            for row in sheet.iter_rows(max_row=_MOST_ROWS, max_col=_MOST_COLUMNS)
        ]  # fmt: skip


def _filled_rows(rows: list[list[tuple[str, Any, bool]]], place: Place) -> Filled:
    filled = Filled()
    labels = _EARLIER | {label: name for name, label in HEADS.items()}
    columns: tuple[str, str] | None = None
    for number, row in enumerate(rows):
        by_column = {cell[0].rstrip("0123456789"): cell for cell in row}
        if columns is None:
            texts = {str(value).strip(): letter for letter, (_, value, _) in by_column.items()}
            if SKU_HEAD in texts and PACKS_HEAD in texts:
                columns = texts[SKU_HEAD], texts[PACKS_HEAD]
            elif len(row) > 1 and str(row[0][1]).strip() in labels:
                filled.heads[labels[str(row[0][1]).strip()]] = str(row[1][1]).strip()
            elif number > _HEAD_WITHIN:
                break
            continue
        sku, packs = by_column.get(columns[0]), by_column.get(columns[1])
        if packs is None or not str(packs[1]).strip():
            continue
        where, value, formula = packs
        spot = Place(file=place.file, cell=where)
        filled.typed.append(TypedQuantity(str(sku[1]).strip() if sku else "", value, spot, formula))
    if columns is None:
        raise _no_form(place, f"no row holds both “{SKU_HEAD}” and “{PACKS_HEAD}”")
    return filled


def _no_form(place: Place, why: str) -> LabelerError:
    hint = "Send the form that stands in the dealer catalog, filled in."
    return refusal(
        "order-not-a-form", place, "is no order form of this program", found=why, hint=hint
    )


@dataclass(frozen=True, slots=True)
class Stock:
    """Whole packs of a SKU: ready to be shipped today, held, and promised to earlier orders."""

    ready: int
    held: int = 0
    promised: int = 0


OnHand = Callable[[str], Stock]
"""Tells what lies here of a SKU."""


@dataclass(frozen=True, slots=True)
class OrderLine:
    """One SKU of an order; ``price`` is one pack's, None where it is on request."""

    product: Product
    packs: int
    price: Decimal | None
    stock: Stock

    @property
    def sum(self) -> Decimal | None:
        """What all the packs cost."""
        return None if self.price is None else self.price * self.packs

    @property
    def short(self) -> int:
        """How many of the packs that are ordered can't be shipped today."""
        return max(0, self.packs - self.stock.ready)


@dataclass(frozen=True, slots=True)
class Order:
    """An order without a fault. ``tax`` lies within ``total``, or has been added to it.

    ``heads`` is what else the dealer wrote, by the form's label: where to ship, a number, notes.
    """

    dealer: str
    tier: Tier
    lines: tuple[OrderLine, ...]
    goods: Decimal
    tax: Decimal
    total: Decimal
    tax_on_top: bool
    findings: tuple[Finding, ...]
    heads: Mapping[str, str]
    customer: bool = False

    @property
    def packs(self) -> int:
        """All packs together."""
        return sum(line.packs for line in self.lines)


def judge(
    filled: Filled, catalog: Catalog, on_hand: OnHand, *, tier: str = "", dealer: str = "",
    customer: str = "",
) -> Order:  # fmt: skip
    """Return the order that a filled form comes to.

    Args:
        filled: the form as it came back.
        catalog: today's catalog; its prices count, whatever stands in the form.
        on_hand: what lies ready.
        tier: the tier whose prices count, if not the dealer's own or the one on the form.
        dealer: who orders, if not the one on the form.
        customer: who orders where it is no dealer but a buyer, who pays retail prices.

    Raises:
        LabelerError: with a finding for every quantity that is none, every SKU that is not on
            sale, and if nothing is ordered.
    """
    quantities = _quantities(filled.typed, catalog)
    named = customer or dealer or filled.heads.get("dealer", "")
    who = None if customer else find_named(catalog.file.dealers, named)
    packs = sum(quantities.values())
    chosen, findings = _RETAIL, list[Finding]()
    if tier or not customer:
        chosen, findings = _tier(catalog, tier, who, filled.heads.get("tier", ""), packs)
    lines = []
    for product in catalog.products:
        if product.sku in quantities:
            price = None if product.price is None else dealer_price(product.price, chosen)
            lines.append(OrderLine(product, quantities[product.sku], price, on_hand(product.sku)))
    goods = sum((line.sum for line in lines if line.sum is not None), start=Decimal("0.00"))
    on_top = catalog.file.terms.excise == "not included"
    taxed = not customer and (who is None or who.country == "US")
    tax = (excise_on_top(goods) if on_top else excise_within(goods)) if taxed else Decimal("0.00")
    heads = {
        label: filled.heads[key]
        for key, label in HEADS.items()
        if key not in ("dealer", "tier") and filled.heads.get(key)
    }
    return Order(
        who.name if who else named,
        chosen,
        tuple(lines),
        goods,
        tax,
        goods + tax if on_top else goods,
        on_top and taxed,
        (*findings, *_remarks(catalog, lines, chosen, goods)),
        heads,
        bool(customer),
    )


_RETAIL = Tier(name="Retail", off=Fraction(0))
"""What a customer of one's own pays: the suggested retail price."""


def _quantities(typed: Iterable[TypedQuantity], catalog: Catalog) -> dict[str, int]:
    """Return the packs ordered of each SKU."""
    on_sale = [product.sku for product in catalog.products]
    known = set(on_sale)
    faults: list[Finding] = []
    quantities: dict[str, int] = {}
    for one in typed:
        count = _count(one)
        if isinstance(count, Finding):
            faults.append(count)
        elif one.sku in catalog.retired and one.sku not in known:
            faults.append(
                stop("sku-retired", one.place, f"{one.sku} is retired and no longer sold")
            )
        elif one.sku not in known:
            faults.append(
                stop(
                    "sku-unknown",
                    one.place,
                    "no product has this SKU",
                    found=one.sku[:40] or "nothing",
                    hint=did_you_mean(one.sku[:40], on_sale),
                )
            )
        elif one.sku in quantities and count:
            faults.append(stop("order-twice", one.place, f"{one.sku} is ordered twice"))
        elif count:
            quantities[one.sku] = count
    if not quantities and not faults:
        faults.append(stop("order-empty", Place(key="order"), "nothing is ordered"))
    if faults:
        raise LabelerError(faults)
    return quantities


def count_faults(one: TypedQuantity) -> Iterator[Finding]:
    """Yield what is wrong with a quantity, if anything is."""
    if isinstance(count := _count(one), Finding):
        yield count


def _count(one: TypedQuantity) -> int | Finding:
    """Return how many packs were typed, or what is wrong with it."""
    value = one.value
    if isinstance(value, float) and value.is_integer():
        value = int(value) if abs(value) < 1e12 else value
    if isinstance(value, int) and not isinstance(value, bool):
        value = str(value)
    count = 0
    if one.formula:
        why = "a formula is not computed here"
    elif not isinstance(value, str) or not re.fullmatch(r"-?[0-9]{1,15}", value.strip()):
        why = "this is no quantity"
    elif (count := int(value)) < 0:
        why = "a quantity below zero can't be ordered"
    elif count > MOST_PACKS:
        why = "this is more than can be ordered at once"
    else:
        return count
    shown = repr(one.value)
    return stop(
        "order-quantity",
        one.place,
        f"{one.sku or 'a row without a SKU'}: {why}",
        found=shown if len(shown) <= 40 else f"{shown[:39]}…",
        expected=f"a whole number of packs from 1 to {MOST_PACKS:,}",
    )


def _tier(
    catalog: Catalog, asked: str, dealer: Dealer | None, on_form: str, packs: int
) -> tuple[Tier, list[Finding]]:
    """Return the tier whose prices count: the one asked for, the dealer's, the form's, by packs."""
    tiers = catalog.file.tiers
    by_name = {key.casefold(): tier for key, tier in tiers.items()}
    by_name |= {tier.name.casefold(): tier for tier in tiers.values()}
    if asked:
        if asked.casefold() not in by_name:
            raise refusal(
                "unknown-tier",
                Place(key="tier"),
                "there is no such tier",
                found=repr(asked),
                hint=did_you_mean(asked, sorted(tiers)),
            )
        return by_name[asked.casefold()], []
    stated = by_name.get(on_form.strip().casefold())
    if dealer and dealer.tier:
        own = tiers[dealer.tier]
        if stated is None or stated == own:
            return own, []
        return own, [
            fix(
                "order-tier",
                Place(key="tier"),
                f"the form names another tier than the dealer's; {own.name} prices are taken",
                found=stated.name,
                expected=own.name,
            )
        ]
    if stated:
        return stated, []
    ordered = sorted(tiers.values(), key=lambda tier: tier.at_least)
    if not ordered:
        raise refusal(
            "no-tiers",
            Place(file="catalog.toml", key="tiers"),
            "the catalog has no price tier, so nothing says what a dealer pays",
        )
    reached = [tier for tier in ordered if tier.at_least <= packs]
    return reached[-1] if reached else ordered[0], []


def _remarks(
    catalog: Catalog, lines: Iterable[OrderLine], tier: Tier, goods: Decimal
) -> Iterator[Finding]:
    """Yield what the maker should look at before the order is packed."""
    place = Place(key="order")
    terms = catalog.file.terms
    currency = catalog.file.sale.currency
    packs = sum(line.packs for line in lines)
    if packs < tier.at_least:
        yield fix(
            "order-below-tier",
            place,
            f"too few packs for the tier {tier.name}",
            found=f"{packs:,}",
            expected=f"at least {tier.at_least:,}",
        )
    if terms.minimum is not None and goods < terms.minimum and tier is not _RETAIL:
        yield fix(
            "order-below-minimum",
            place,
            "the order is below the least order",
            found=amount_text(goods, currency),
            expected=amount_text(terms.minimum, currency),
        )
    for line in lines:
        spot = Place(piece=line.product.sku)
        case = line.product.pattern.case
        promised = f"{line.stock.promised:,} more" if line.stock.promised else ""
        if line.short:
            yield fix(
                "order-short",
                spot,
                "more is ordered than lies ready",
                found=f"{line.packs:,} ordered, {line.stock.ready:,} ready, {line.short:,} short"
                + (f"; {line.stock.held:,} more are held" if line.stock.held else "")
                + (f"; {promised} promised to orders that came first" if promised else ""),
            )
        if line.price is None:
            yield fix("order-no-price", spot, "has no price and is not in the total")
        if case and line.packs % case:
            yield note(
                "order-broken-case",
                spot,
                "is not ordered by the case",
                found=f"{line.packs:,} packs",
                expected=f"a multiple of {case:,}",
            )


def as_record(order: Order, currency: str) -> dict[str, Any]:
    """Return the order as plain JSON values; money as text, to the last digit."""
    return {
        "dealer": order.dealer,
        "tier": order.tier.name,
        "form": dict(order.heads),
        "currency": currency,
        "lines": [
            {
                "sku": line.product.sku, "name": line.product.name, "packs": line.packs,
                "price": None if line.price is None else str(line.price),
                "sum": None if line.sum is None else str(line.sum),
                "on_hand": line.stock.ready, "held": line.stock.held,
                "promised": line.stock.promised, "short": line.short,
            }
            for line in order.lines
        ],
        "packs": order.packs,
        "goods": str(order.goods),
        "excise": str(order.tax),
        "excise_on_top": order.tax_on_top,
        "total": str(order.total),
        "findings": [finding.as_json() for finding in order.findings],
    }  # fmt: skip
