"""Words in, one call of app, words out: the command line, one file a command."""

from __future__ import annotations

import _thread
import io
import signal
import sys
import threading
from types import FrameType


def main() -> None:
    """Run the command line and leave with its exit status.

    Ctrl-C and a polite order to end (SIGTERM) both let the work tidy up after itself.
    """
    signal.signal(signal.SIGTERM, _stop)
    sys.unraisablehook = _stop_again
    for stream in (sys.stdout, sys.stderr):
        if isinstance(stream, io.TextIOWrapper):
            stream.reconfigure(errors="backslashreplace")  # what a terminal lacks is spelled out
    try:
        from labeler.cli.group import run

        status = run(sys.argv[1:])
    except KeyboardInterrupt:
        status = 2
    finally:
        signal.signal(signal.SIGINT, signal.SIG_IGN)
        signal.signal(signal.SIGTERM, signal.SIG_IGN)
    sys.exit(status)


def _stop(number: int, frame: FrameType | None) -> None:
    raise KeyboardInterrupt


def _stop_again(lost: sys.UnraisableHookArgs) -> None:
    """Send the order again where it came in the midst of Python's own tidying, which drops it."""
    if lost.exc_type is KeyboardInterrupt:
        threading.Timer(_SOON, _thread.interrupt_main).start()
    else:
        sys.__unraisablehook__(lost)


_SOON = 0.01
"""Seconds, after which Python is done with its tidying."""
