"""What a layout is filled in with, beyond its markup: product, lot, printer's dots, statements."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, Literal

from labeler.catalog.model import Product
from labeler.disclosures.statements import Statement
from labeler.findings import Finding, Place
from labeler.layout.style import Styles

InkMode = Literal["colour", "black"]


@dataclass(slots=True)
class Setup:
    """All that blocks may ask for while one piece is laid out.

    ``dpi`` is the printer's resolution, None where it is not known. ``unsaid`` holds the
    statements that no disclosure block has printed yet, ``unasked`` those that nobody asks for
    but that may be said; ``findings`` what is not a fault.
    """

    product: Product
    styles: Styles
    facts: Mapping[str, Any]
    file: str
    own: Path | None = None
    dpi: int | None = None
    ink: InkMode = "colour"
    unsaid: list[Statement] = field(default_factory=list)
    unasked: list[Statement] = field(default_factory=list)
    findings: list[Finding] = field(default_factory=list)

    def place(self, line: int | None = None, block: str = "") -> Place:
        """Return the place in the layout that a finding names."""
        return Place(file=self.file, line=line, piece=self.product.sku, block=block)

    def inked(self, ink: str) -> str:
        """Return the ink to print text and lines with: in black mode, black or paper white."""
        if self.ink == "colour" or ink in ("#ffffff", "#000000"):
            return ink
        return "#000000"
