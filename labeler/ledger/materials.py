"""Suppliers' lots: what went into a lot of jigs, and of which kind of material it was."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from difflib import get_close_matches
from typing import TYPE_CHECKING, Any, get_args

from sqlalchemy import Connection, Select, select

from labeler.findings import Finding, LabelerError, Place, stop
from labeler.ledger.schema import materials
from labeler.ledger.texts import a_line

if TYPE_CHECKING:
    from labeler.catalog.model import Product

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
        """Read ``KIND=SUPPLIER-LOT``.

        Raises:
            LabelerError: if either side is missing.
        """
        kind, _, lot = text.partition("=")
        if not kind.strip() or not lot.strip():
            raise LabelerError(
                stop(
                    "material-lot",
                    Place(key="material"),
                    "this does not say which supplier's lot went in",
                    found=repr(text),
                    expected="KIND=SUPPLIER-LOT, such as hook=HK-2291",
                )
            )
        return cls(kind, lot)

    def __str__(self) -> str:
        return f"{self.kind}={self.lot}"


def supplier_lots(texts: Sequence[str]) -> tuple[SupplierLot, ...]:
    """Read what went into a lot, each as ``KIND=SUPPLIER-LOT``.

    Raises:
        LabelerError: with everything that does not say so.
    """
    found: list[SupplierLot] = []
    faults: list[Finding] = []
    for text in texts:
        try:
            found.append(SupplierLot.parse(text))
        except LabelerError as error:
            faults += error.findings
    if faults:
        raise LabelerError(faults)
    return tuple(found)


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


def materials_of(
    connection: Connection, numbers: Select[Any]
) -> dict[int, tuple[SupplierLot, ...]]:
    """Return the suppliers' lots by the number of the lot they went into."""
    query = select(materials.c.lot_id, materials.c.kind, materials.c.supplier_lot).where(
        materials.c.lot_id.in_(numbers)
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
