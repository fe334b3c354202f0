"""Links of a book lead where what stands there says, and do nothing else."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Mapping
from urllib.parse import urlsplit

from labeler.catalog.model import Catalog, Maker
from labeler.catalog.values import web_address
from labeler.checker.claims import BookClaim
from labeler.checker.page.book_page import SeenPage, SeenPlace, Touch
from labeler.checker.rulebook import asks, finding
from labeler.checker.rules.codes import link_of
from labeler.checker.rules.edition import said
from labeler.checker.subject import CheckedProduct
from labeler.codes.links import as_small_host
from labeler.disclosures.statements import folded
from labeler.findings import Finding, Place

_FIGURES = re.compile(r"(?:^|\s\s)(\d(?: ?\d){0,5})$")
"""The number of a page: by itself, or apart from a name, which may end in a figure too."""


@asks("link-acts", "link-elsewhere")
def judge_link(
    page: SeenPage, touch: Touch, subjects: dict[str, CheckedProduct], maker: Maker
) -> Iterator[Finding]:
    """Yield what is wrong with where one link of a page leads.

    Args:
        page: the page.
        touch: the link.
        subjects: the edition's products.
        maker: whose book it is, who can be reached by links too.
    """
    where = page.within(touch.box, "entry", "code") or page.leaves[0]
    about = _about(touch, where, subjects)
    place = where.place_of(about.product.sku, touch.box) if about else where.place(touch.box)
    if touch.acts:
        yield finding("link-acts", place, found=touch.acts)
    if touch.address:
        said = as_small_host(touch.address)
        due = [link_of(about)] if about else list(_ways(maker, touch.words))
        if said not in due:
            yield finding(
                "link-elsewhere", place, found=f"{said[:120]} behind “{touch.words[:60]}”",
                expected=" or ".join(filter(None, due)) or "no link",
            )  # fmt: skip


def _about(
    touch: Touch, where: SeenPlace, subjects: dict[str, CheckedProduct]
) -> CheckedProduct | None:
    """Return the product that a link is of: the one whose SKU stands where it is touched."""
    words = folded(touch.words).split()
    named = [subjects[word] for word in words if word in subjects]
    if named:
        return named[0]
    if where.about.kind == "code" and where.about.skus:
        return subjects.get(where.about.skus[0])
    return None


def _ways(maker: Maker, words: str) -> Iterator[str]:
    """Yield the links to the maker that fit the words: what is written there is what is reached."""
    plain = folded(words)
    if maker.email and maker.email in plain:
        yield f"mailto:{maker.email}"
    if maker.phone and maker.phone in plain:
        digits = "".join(letter for letter in maker.phone if letter.isdigit())
        yield f"tel:+{digits}" if maker.phone.strip().startswith("+") else f"tel:{digits}"
    if maker.site and (urlsplit(maker.site).netloc or maker.site) in plain:
        yield web_address(maker.site)


@asks("page-number-wrong")
def judge_page_number(page: SeenPage, touch: Touch, leaf_of: dict[int, int]) -> Iterator[Finding]:
    """Yield that a line of contents or index names another page than it leads to.

    Args:
        page: the page.
        touch: a link.
        leaf_of: the number that each page of the PDF is known by.
    """
    said = [hit[1] for line in touch.lines if (hit := _FIGURES.search(line))]
    due = str(leaf_of.get(touch.target, 0))
    read = {each for one in said for each in (one.replace(" ", ""), one.split()[-1])}
    if not touch.target or not said or due in read:
        return
    yield _misled(page, touch, f"page {due}")


def _misled(page: SeenPage, touch: Touch, due: str) -> Finding:
    where = page.within(touch.box, "page", "pattern") or page.leaves[0]
    found = f"“{touch.words[:60]}”"
    return finding("page-number-wrong", where.place(touch.box), found=found, expected=due)


def pages_of(
    claim: BookClaim, called: Mapping[str, str], catalog: Catalog
) -> dict[str, frozenset[int]]:
    """Return the pages on each pattern by its name; a color's or chapter's may lead to others."""
    found: dict[str, frozenset[int]] = {}
    for place in claim.places:
        name = folded(called.get(place.pattern, "")).casefold()
        if place.kind == "pattern" and name:
            found[name] = found.get(name, frozenset()) | {place.page}
    others = [*(each.name for each in catalog.file.colours.values()), *said()["sections"].values()]
    named = {folded(each).casefold() for each in others}
    return {name: pages for name, pages in found.items() if name not in named}


@asks("page-number-wrong")
def judge_pattern_link(page: SeenPage, touch: Touch, pages_of: Mapping[str, frozenset[int]]) -> (
    Iterator[Finding]
):  # fmt: skip
    """Yield that a link with a pattern's name leads to a page that is not on that pattern.

    Args:
        page: the page.
        touch: a link.
        pages_of: the pages on each pattern, by its name in small letters.
    """
    parts = (part for line in touch.lines for part in _APART.split(line.strip()))
    due = [pages_of[name] for part in parts if (name := folded(part).casefold()) in pages_of]
    if touch.target and due and all(touch.target not in each for each in due):
        yield _misled(page, touch, f"page {min(due[0])} of the PDF")


_APART = re.compile(r"\s{2,}")


@asks("link-missing")
def find_unlinked(addresses: Iterable[str], subjects: Iterable[CheckedProduct], place: Place) -> (
    Iterator[Finding]
):  # fmt: skip
    """Yield the products that no link of a book leads to, though the maker has an address."""
    known = set(addresses)
    for subject in subjects:
        due = link_of(subject)
        if due and due not in known:
            sku = subject.product.sku
            yield finding("link-missing", Place(file=place.file, piece=sku), expected=due)
