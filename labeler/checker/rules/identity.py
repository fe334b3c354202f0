"""A piece names its own product: no other SKU, and no other pattern's or colour's name."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator, Sequence

from labeler.catalog.gtin import as_14
from labeler.checker.claims import ProductLine
from labeler.checker.page.sides import SeenSide
from labeler.checker.rulebook import asks, finding, rule
from labeler.checker.rules import stated
from labeler.checker.rules.stated import Stated
from labeler.checker.subject import CheckedProduct, KnownLot
from labeler.codes import lot_code
from labeler.disclosures.statements import folded
from labeler.findings import Finding, LabelerError, Place


@asks("piece-other-product")
def others(side: SeenSide, subject: CheckedProduct, sold: ProductLine) -> Iterator[Finding]:
    """Yield every line that is another product's name, and every other SKU."""
    own = {name.casefold() for name in subject.names}
    for part in subject.product.parts:
        names = part.product.pattern.name, part.product.colour.name, part.product.name
        own |= {folded(name).casefold() for name in names}
    for passage in side.passages:
        for line in passage.lines:
            text = folded(line.text)
            small = text.casefold()
            if small in sold.called and small not in own and not subject.says(text):
                yield finding(
                    "piece-other-product", side.place(line.box), found=text,
                    expected=" or ".join(subject.names),
                )  # fmt: skip
        for word in _WORD.finditer(passage.text):
            other = word[0] in sold.skus and word[0] != subject.product.sku
            if other and not subject.says(word[0]):
                yield finding(
                    "piece-other-product", side.place(passage.box_of(*word.span())), found=word[0],
                    expected=subject.product.sku,
                )  # fmt: skip


_WORD = re.compile(r"\w+(?:[^\w\s]+\w+)*")


def says_names(side: SeenSide, subject: CheckedProduct) -> tuple[bool, ...]:
    """Tell for the pattern's name and the colour's whether each stands on this side."""
    text = side.text.casefold()
    return tuple(name.casefold() in text for name in subject.names)


@asks("piece-nameless")
def nameless(said: Sequence[bool], subject: CheckedProduct, place: Place) -> Iterator[Finding]:
    """Yield the names that stand nowhere on a piece."""
    missing = [name for name, there in zip(subject.names, said, strict=True) if not there]
    if missing:
        yield finding("piece-nameless", place, expected=" and ".join(missing))


# ----------------------------------------------------------------------------
# Lot, article number and price on the piece are those that it is printed for.


@asks("lot-wrong")
def lots(side: SeenSide, subject: CheckedProduct) -> Iterator[Finding]:
    """Yield every lot on this side that is another than the piece is printed for."""
    due = subject.claim.lot
    for hit, place in stated.on(side, lambda text: stated.lots(text, due)):
        if lot_code.tidy(hit.unit) != lot_code.tidy(due):
            hint, expected = _slip(hit.unit), due or "no lot"
            yield finding("lot-wrong", place, found=hit.unit, expected=expected, hint=hint)


def _slip(code: str) -> str:
    try:
        lot_code.read(code)
    except LabelerError:
        return "Its check character does not fit either: this is a slip, not another lot."
    return ""


def says_lot(side: SeenSide, lot: str) -> bool:
    """Tell whether a lot stands on this side as text."""
    wanted = lot_code.tidy(lot)
    return any(wanted in lot_code.tidy(passage.text) for passage in side.passages)


@asks("lot-missing", "lot-invalid", "lot-unknown", "lot-void", "lot-held", "lot-of-another")
def lot_of(
    subject: CheckedProduct,
    printed: bool,
    known_lot: Callable[[str], KnownLot | None] | None,
    place: Place,
) -> Iterator[Finding]:
    """Yield what is wrong with the lot that a whole piece is printed for."""
    lot = subject.claim.lot
    if not lot:
        return
    if not printed:
        yield finding("lot-missing", place, expected=lot)
    try:
        lot_code.read(lot)
    except LabelerError as error:
        said = error.findings[0]
        numbers_of_their_own = known_lot is None and said.rule == "lot-code-shape"
        if not numbers_of_their_own:
            yield finding("lot-invalid", place, said.message, found=lot, expected=said.expected)
        return
    if known_lot is None:
        return
    known = known_lot(lot)
    if known is None:
        yield finding("lot-unknown", place, found=lot)
    elif known.void:
        yield finding("lot-void", place, found=lot)
    elif known.sku != subject.product.sku:
        yield finding("lot-of-another", place, found=f"{lot} is of {known.sku}")
    elif known.held:
        yield finding("lot-held", place, found=f"{lot}: {known.held}")


@asks("gtin-wrong")
def article_numbers(side: SeenSide, subject: CheckedProduct) -> Iterator[Finding]:
    """Yield every article number in figures that is not the product's."""
    due, lot = subject.product.gtin, subject.claim.lot
    for hit, place in stated.on(side, lambda text: stated.article_numbers(text, lot)):
        if (due is None or hit.unit.zfill(14) != as_14(due)) and not subject.says(hit.said):
            yield finding("gtin-wrong", place, found=hit.unit, expected=due or "no article number")


@asks("gtin-sample")
def samples(subject: CheckedProduct, place: Place) -> Iterator[Finding]:
    """Yield that the product's article number is one of GS1's examples."""
    gtin = subject.product.gtin
    if gtin and as_14(gtin)[1:].startswith(rule("gtin-sample").words):
        yield finding("gtin-sample", place, found=gtin)


@asks("price-wrong")
def prices(side: SeenSide, subject: CheckedProduct) -> Iterator[Finding]:
    """Yield every price that is not the catalog's."""
    currency = subject.product.currency
    for hit, place in stated.on(side, lambda text: stated.prices(text, currency)):
        yield from _judged(hit, place, subject)


def judge_layout_text(text: str, subject: CheckedProduct, place: Place) -> Iterator[Finding]:
    """Yield the prices in a text of a layout that are not the catalog's."""
    for hit in stated.prices(text, subject.product.currency):
        yield from _judged(hit, place, subject)


def _judged(hit: Stated, place: Place, subject: CheckedProduct) -> Iterator[Finding]:
    due = subject.product.price
    if not (hit.aside or subject.says(hit.said) or stated.is_price(hit, due)):
        expected = "no price" if due is None else str(due)
        yield finding("price-wrong", place, found=hit.said, expected=expected)
