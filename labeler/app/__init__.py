"""The maker's whole jobs as functions, one file a job: what the command line calls.

Every job is public, so these are more names than another room has; the rest only serves them.
"""

__all__ = (
    "again",
    "align",
    "answers",
    "book",
    "check",
    "dropped",
    "invoices",
    "layouts",
    "line",
    "lots",
    "markets",
    "open_lots",
    "opening",
    "order_papers",
    "orders",
    "papers",
    "photos",
    "preflight",
    "prices",
    "print_request",
    "print_run",
    "recall",
    "reference",
    "reprint",
    "shipping",
    "specimen",
    "take_in",
    "tied",
    "wall_sheet",
    "workstation",
)
