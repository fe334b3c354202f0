"""Python's search for unreachable cycles of objects, put off while a page is measured.

A page of labels makes tens of thousands of small objects, all in use and none in a cycle; to look
through them again and again takes a sixth of the time of a check.
"""

from __future__ import annotations

import gc
from collections.abc import Iterator
from contextlib import contextmanager


@contextmanager
def unswept() -> Iterator[None]:
    """Put the search off until the block is left, if it was on."""
    on = gc.isenabled()
    gc.disable()
    try:
        yield
    finally:
        if on:
            gc.enable()
