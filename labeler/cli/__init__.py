"""Words in, one call of bench, words out: the command line, one file a command."""

from __future__ import annotations

import io
import signal
import sys
from types import FrameType


def main() -> None:
    """Run the command line and leave with its exit status.

    Ctrl-C and a polite order to end (SIGTERM) both let the work tidy up after itself.
    """
    signal.signal(signal.SIGTERM, _stop)
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
