"""What travels inside a file and says what stands where, held against the file and the line."""

from __future__ import annotations

import json
from collections.abc import Callable, Collection, Iterator
from typing import Any, TypeVar

from labeler.checker.file import UnreadableError
from labeler.checker.line import ProductLine
from labeler.checker.rulebook import asks, finding
from labeler.findings import Finding, Place, did_you_mean

Claim = TypeVar("Claim")

_SHOWN = 20


def understood(
    data: bytes, place: Place, form: int, unread: str, claim_of: Callable[[Any], Claim]
) -> Claim:
    """Return what a sheet claims.

    Args:
        data: the sheet, as JSON.
        place: the file that it travels in.
        form: the form's number that is understood.
        unread: the rule that is broken by a sheet that is not.
        claim_of: makes the claim of the sheet's record.

    Raises:
        UnreadableError: if it is no sheet that can be understood.
    """
    try:
        record = json.loads(data)
        if record["form"] != form:
            raise UnreadableError(finding(unread, place, found=f"form {record['form']}"))
        return claim_of(record)
    except (ValueError, KeyError, TypeError, IndexError, AttributeError, RecursionError) as error:
        found = f"{type(error).__name__}: {error}"[:120]
        raise UnreadableError(finding(unread, place, found=found)) from error


@asks("page-missing", "page-unclaimed")
def other_pages(
    file: str, claimed: Collection[int], there: Collection[int], holds: Callable[[int], str]
) -> Iterator[Finding]:
    """Yield the pages that are claimed and not there, and those that nothing is claimed of.

    Args:
        file: what the file is called.
        claimed: the pages that the sheet names.
        there: the pages of the file.
        holds: tells what a page that is missing would hold.
    """
    for number in sorted(set(claimed) - set(there))[:_SHOWN]:
        yield finding("page-missing", Place(file=file, page=number), found=holds(number))
    for number in sorted(set(there) - set(claimed))[:_SHOWN]:
        yield finding("page-unclaimed", Place(file=file, page=number))


@asks("catalog-changed")
def other_catalog(fingerprint: str, line: ProductLine, place: Place) -> Iterator[Finding]:
    """Yield that a file was made of another catalog than it is held against."""
    if fingerprint and fingerprint != line.fingerprint:
        yield finding("catalog-changed", place)


@asks("sku-unknown", "sku-retired")
def no_such_product(sku: str, known: Collection[str], line: ProductLine, place: Place) -> Finding:
    """Return that there is no such product, or none any more."""
    if sku in line.retired:
        return finding("sku-retired", place, found=sku)
    return finding("sku-unknown", place, found=sku, hint=did_you_mean(sku, list(known)))
