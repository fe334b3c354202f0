"""A piece names its own product: no other SKU, and no other pattern's or colour's name."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from labeler.checker.line import ProductLine
from labeler.checker.rulebook import asks, finding
from labeler.checker.sides import SeenSide
from labeler.checker.subject import Subject
from labeler.disclosures.statements import folded
from labeler.findings import Finding, Place


@asks("piece-other-product")
def others(side: SeenSide, subject: Subject, sold: ProductLine) -> Iterator[Finding]:
    """Yield every line that is another product's name, and every other SKU."""
    own = {name.casefold() for name in subject.names}
    for passage in side.passages:
        for line in passage.lines:
            text = folded(line.text)
            small = text.casefold()
            if (
                small in sold.called
                and small not in own
                and small not in subject.own_words.casefold()
            ):
                yield finding(
                    "piece-other-product", side.place(line.box), found=text,
                    expected=" or ".join(subject.names),
                )  # fmt: skip
            other = {word for word in text.split() if word in sold.skus} - {subject.product.sku}
            if other:
                yield finding(
                    "piece-other-product", side.place(line.box), found=", ".join(sorted(other)),
                    expected=subject.product.sku,
                )  # fmt: skip


def says_names(side: SeenSide, subject: Subject) -> tuple[bool, ...]:
    """Tell for the pattern's name and the colour's whether each stands on this side."""
    text = side.text.casefold()
    return tuple(name.casefold() in text for name in subject.names)


@asks("piece-nameless")
def nameless(said: Sequence[bool], subject: Subject, place: Place) -> Iterator[Finding]:
    """Yield the names that stand nowhere on a piece."""
    missing = [name for name, there in zip(subject.names, said, strict=True) if not there]
    if missing:
        yield finding("piece-nameless", place, expected=" and ".join(missing))
