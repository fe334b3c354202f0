"""Writes down what a Python process runs and loads, for `tests.house.count` and the benchmarks.

Python imports a module of this name before anything else, if its folder is on ``PYTHONPATH``; so
the processes that a command starts are watched like the command itself. Every line is written at
once, since a process that is killed has no last word.

``LABELER_WATCH`` names the folder for the notes, one file a process. ``LABELER_WATCH_CALLS``, if
set, is the folder whose functions are written down too, which makes the process slow.
"""

from __future__ import annotations

import atexit
import os
import sys
import threading
from pathlib import Path
from types import CodeType, FrameType
from typing import Any

_OPTIMIZED = 0x0001
"""Set for the code of functions, not of modules and classes.
Source: Python's documentation, `inspect`, Code Objects Bit Flags, CO_OPTIMIZED."""


class Notes:
    """One process's notes; a forked child begins a file of its own."""

    def __init__(self, folder: str, package: str) -> None:
        self._folder, self._package = folder, package
        self._seen: dict[int, CodeType] = {}
        self._open()
        os.register_at_fork(after_in_child=self._open)

    def _open(self) -> None:
        self._file = os.open(
            Path(self._folder) / f"{os.getpid()}.txt", os.O_WRONLY | os.O_CREAT | os.O_APPEND
        )
        self._seen.clear()

    def write(self, *fields: object) -> None:
        """Write one line, its fields parted by tabs."""
        os.write(self._file, ("\t".join(map(str, fields)) + "\n").encode())

    def find_spec(self, name: str, path: Any = None, target: Any = None) -> None:
        """Note that a module is looked for, and leave the finding to others."""
        self.write("sought", name)

    def profile(self, frame: FrameType, event: str, argument: Any) -> None:
        """Note a function of the package when it is called for the first time."""
        code = frame.f_code
        if event != "call" or id(code) in self._seen:
            return
        self._seen[id(code)] = code  # kept, so that no other code gets its id
        if code.co_flags & _OPTIMIZED and code.co_filename.startswith(self._package):
            self.write("called", code.co_filename, code.co_firstlineno, code.co_qualname)

    def end(self) -> None:
        """Note what is loaded at the end."""
        for name in list(sys.modules):
            self.write("loaded", name)


def _watch() -> None:
    folder = os.environ.get("LABELER_WATCH")
    if not folder:
        return
    package = os.environ.get("LABELER_WATCH_CALLS", "")
    notes = Notes(folder, package)
    atexit.register(notes.end)
    sys.meta_path.insert(0, notes)
    if package:
        threading.setprofile(notes.profile)
        sys.setprofile(notes.profile)


_watch()
