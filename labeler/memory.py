"""Python's search for unreachable cycles of objects, made seldom while many marks are made.

Marks are plain data, all in use until they are written, and none is part of a cycle: looking
through all of them again and again takes a sixth of the time of a book.
"""

from __future__ import annotations

import gc
from collections.abc import Iterator
from contextlib import contextmanager
from threading import Lock

_SELDOM = (50_000, 50, 100)
"""How many more objects there must be before the young are looked through, and how many such
looks before the older are. Garbage of a run of any length is so still found."""

_GATE = Lock()
_inside = 0
_usual = (0, 0, 0)


@contextmanager
def gc_paused() -> Iterator[None]:
    """Run the garbage collector rarely, but not never, until the block is left. Thread-safe."""
    global _inside, _usual
    with _GATE:
        if _inside == 0:
            _usual = gc.get_threshold()
            if 0 < _usual[0] < _SELDOM[0]:
                gc.set_threshold(*_SELDOM)
        _inside += 1
    try:
        yield
    finally:
        with _GATE:
            _inside -= 1
            if _inside == 0:
                gc.set_threshold(*_usual)
