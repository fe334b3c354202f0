"""The maker's memory: lots, what went into them, what was printed and where it was shipped."""

__all__ = (
    "assign", "backup", "file", "handbook133", "kept_pieces", "kept_products", "lots", "materials",
    "open", "runs", "ship", "store", "stored", "texts", "trace", "weigh",
)  # fmt: skip
