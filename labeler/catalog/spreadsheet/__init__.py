"""Lists of products as people keep them: CSV and XLSX, with all that spreadsheets do to them."""

__all__ = ("cells", "columns", "grid")
