"""Where a ledger lies that is a file, to be asked without loading what opens it."""

FILE_NAME = "ledger.sqlite"
"""In the catalog folder."""
