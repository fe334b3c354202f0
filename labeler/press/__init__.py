"""Ink on sheets: pieces go to cells, cells to pages, pages to a PDF."""
