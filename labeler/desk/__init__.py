"""The desk: everything that the commands do, on a page of this computer's own browser.

It calls the same jobs as the command line and keeps nothing that they do not keep, but for the
record of long work, under ``.desk`` in the catalog folder.
"""

__all__ = ("address", "launcher", "serve")
