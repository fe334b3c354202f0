"""Picking products out of the line by SKU."""

from __future__ import annotations

import re
from collections.abc import Sequence
from fnmatch import fnmatchcase

from labeler.catalog.model import Catalog, Product
from labeler.findings import Finding, LabelerError, Place, a_few, as_written, did_you_mean, stop


def choose(catalog: Catalog, wanted: Sequence[str]) -> tuple[Product, ...]:
    """Return the products that are wanted, in the catalog's order, each once.

    Args:
        catalog: The line.
        wanted: SKUs, or shell patterns such as ``RV-*``, in any case. Nothing wanted means all.

    Raises:
        LabelerError: with a finding for every word that fits no product on sale.
    """
    if not wanted:
        return catalog.products
    skus = [product.sku for product in catalog.products]
    picked: set[str] = set()
    findings = []
    for word in dict.fromkeys(wanted):
        fitting = _fitting(word, skus)
        if not fitting:
            findings.append(_unknown(word, catalog, skus))
        picked.update(fitting)
    if findings:
        raise LabelerError(findings)
    return tuple(product for product in catalog.products if product.sku in picked)


def _fitting(word: str, skus: Sequence[str]) -> list[str]:
    plain = word.strip().upper()
    if plain in skus:
        return [plain]
    return [sku for sku in skus if fnmatchcase(sku, plain)] if re.search(r"[*?\[]", plain) else []


def _unknown(word: str, catalog: Catalog, skus: list[str]) -> Finding:
    place = Place(file="catalog")
    if retired := _fitting(word, catalog.retired):
        return stop(
            "sku-retired",
            place,
            "is retired and no longer sold" if len(retired) == 1 else "are all retired",
            found=a_few(retired),
            hint="Take the row's `retired` away to sell it again. A lot reprints what it was.",
        )
    return stop(
        "sku-unknown",
        place,
        "no product has this SKU",
        found=as_written(word),
        hint=did_you_mean(word.strip().upper(), skus),
    )
