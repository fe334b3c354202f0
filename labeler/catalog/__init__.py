"""What the maker makes: the catalog file, its spreadsheets, and the products they come to."""

__all__ = (
    "casting",
    "edit",
    "gtin",
    "gtin_record",
    "model",
    "photo_names",
    "prices",
    "read",
    "spreadsheet",
    "structure",
    "values",
)
