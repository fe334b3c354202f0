"""Ink on sheets: pieces go to cells, cells to pages, pages to a PDF."""

__all__ = ("align", "impose", "pdf", "printers", "runsheet", "sheets", "svg")
