"""What differs on Windows, as far as it can be tried on another system.

Every module is read anew by a program that calls itself Windows: without the modules and calls that
only POSIX has, and with a lock of Windows's kind. Paths, signals and terminals of a real Windows
are not tried by this.
"""

from __future__ import annotations

import subprocess
import sys

import pytest

PROGRAM = """
import importlib, os, pkgutil, signal, sys, tempfile, types
from pathlib import Path
import labeler

names = [each.name for each in pkgutil.walk_packages(labeler.__path__, "labeler.")
         if not each.name.endswith("__main__")]
for name in names:  # what others wrote is read as what this system is
    importlib.import_module(name)
for name in [name for name in sys.modules if name.split(".")[0] == "labeler"]:
    del sys.modules[name]

calls = []
locks = types.ModuleType("msvcrt")
locks.LK_LOCK, locks.LK_NBLCK, locks.LK_UNLCK = 1, 2, 0
locks.locking = lambda file, mode, count: calls.append((mode, count))
sys.modules["msvcrt"] = locks
sys.modules["fcntl"] = sys.modules["resource"] = None
for name in ("sched_getaffinity", "fork", "geteuid", "getuid", "O_DIRECTORY", "O_NOFOLLOW"):
    if hasattr(os, name):
        delattr(os, name)
for name in ("SIGXCPU", "SIGKILL", "SIGALRM", "SIGHUP"):
    delattr(signal, name)
sys.platform = "win32"

for name in names:
    importlib.import_module(name)

from labeler import files
from labeler.checker import process
from labeler.layout import compose

with tempfile.TemporaryDirectory() as folder:
    with files.delivered(Path(folder) / "x.txt") as file:
        file.write(b"whole")
    assert (Path(folder) / "x.txt").read_bytes() == b"whole"
    with (Path(folder) / "x.txt").open("rb") as file:
        assert files._lock(file.fileno())
assert calls[-1:] == [(locks.LK_NBLCK, 1)], "the lock is Windows's own"
assert process.TOO_LONG == signal.SIGTERM
assert compose._cores() == (os.cpu_count() or 1)
print(len(names))
"""


@pytest.mark.siege
def test_every_module_is_read_and_files_are_written_without_what_only_posix_has() -> None:
    done = subprocess.run(
        [sys.executable, "-c", PROGRAM], capture_output=True, text=True, check=False
    )
    assert done.returncode == 0, done.stderr
    assert int(done.stdout) > 150
