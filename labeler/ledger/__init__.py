"""The maker's memory: lots, what went into them, what was printed and where it was shipped."""

__all__ = (
    "assign", "backup", "documents", "file", "lots", "open", "orders", "promises", "runs", "ship",
    "store", "stored", "trace", "weigh",
)  # fmt: skip
