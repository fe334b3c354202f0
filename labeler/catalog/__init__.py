"""What the maker makes: the catalog file, its spreadsheets, and the products they come to."""

__all__ = (
    "casting",
    "gtin",
    "gtin_record",
    "model",
    "prices",
    "read",
    "spreadsheet",
    "structure",
    "values",
)
