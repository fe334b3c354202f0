"""Holds a finished PDF against what each piece must carry: reads the file, trusts nothing else.

What a page shows is read in two ways that share no code: the drawing operators are followed
here, glyph by glyph, and the page is rendered by PDFium as a printer would. A letter counts only
where both agree that it is there.

Neither `labeler.layout` nor `labeler.press` is imported, so that a mistake of theirs is not
repeated. From the run sheet inside the PDF comes only what a place claims to be; what it must
carry is computed afresh from the catalog.
"""

__all__ = (
    "claims", "compare", "judge", "process", "proof", "report", "rulebook", "subject", "worker",
)  # fmt: skip
