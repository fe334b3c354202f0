"""Words in, one call of app, words out: the command line, one file a command."""

from __future__ import annotations

import _thread
import gc
import io
import os
import signal
import sys
import threading
from types import FrameType

from labeler.memory import gc_paused


def main() -> None:
    """Run the command line and leave with its exit status.

    Ctrl-C and a polite order to end (SIGTERM) both let the work tidy up after itself.
    """
    global _stopping
    _stopping = False
    for stream in (sys.stdout, sys.stderr):
        if isinstance(stream, io.TextIOWrapper):
            stream.reconfigure(errors="backslashreplace")  # what a terminal lacks is spelled out
    sys.unraisablehook = _stop_again
    try:
        if signal.getsignal(signal.SIGINT) is signal.default_int_handler:  # else: in the background
            signal.signal(signal.SIGINT, _stop)
        signal.signal(signal.SIGTERM, _stop)
        from labeler.cli.group import run

        with gc_paused():
            status = run(sys.argv[1:], _work_is_over)
    except KeyboardInterrupt:
        status = 2
    # Python answers a signal at the next call or loop: none stands between the try and this line.
    _stopping = True
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    signal.signal(signal.SIGTERM, signal.SIG_IGN)
    gc.freeze()  # what is left goes with the process
    sys.exit(status)


def _work_is_over() -> None:
    """Take no order to end any more: what was asked is done and said."""
    global _stopping
    _stopping = True


def _stop(number: int, frame: FrameType | None) -> None:
    """End the work at the first order; those that follow must not break its tidying up."""
    global _stopping
    if not _stopping:
        _stopping = True
        raise KeyboardInterrupt


def _stop_again(lost: sys.UnraisableHookArgs) -> None:
    """Send the order again where it came in the midst of Python's own tidying, which drops it."""
    global _stopping
    if lost.exc_type is KeyboardInterrupt:
        _stopping = False
        threading.Timer(_SOON, _thread.interrupt_main).start()
    else:
        sys.__unraisablehook__(lost)


_stopping = False
"""Whether an order to end was taken, or the work is over."""

os.environ.setdefault("PYDANTIC_DISABLE_PLUGINS", "__all__")
"""No plugin of the models' library is ours, and to look for one reads what is installed."""

_SOON = 0.01
"""Seconds, after which Python is done with its tidying."""
