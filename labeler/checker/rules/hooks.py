"""The hook's size on a piece is the product's: a 4/0 in the bag is no 3/0 in the catalog."""

from __future__ import annotations

import re
from collections.abc import Iterator

from labeler.checker.rulebook import asks, finding
from labeler.checker.sides import SeenSide
from labeler.checker.subject import Subject
from labeler.findings import Finding

_SIZE = re.compile(r"(?<![\w/.,])\d{1,2}/0(?![\w/])")
"""The large sizes, which are written like nothing else. Common practice, no published source."""


@asks("hook-wrong")
def sizes(side: SeenSide, subject: Subject) -> Iterator[Finding]:
    """Yield every hook size that is neither the product's nor in the maker's own words."""
    due = subject.product.hook_size
    for passage in side.passages:
        for hit in _SIZE.finditer(passage.text):
            if hit[0] != due and hit[0] not in subject.own_words:
                yield finding(
                    "hook-wrong", side.place(passage.box_of(*hit.span())),
                    found=hit[0], expected=f"hook {due}",
                )  # fmt: skip
