"""Gives commands of their own, each in a process that may be killed: run by the tests.

Reads lines of JSON, ``{"words": [...], "said": FILE, "practice": false}``, and for each one forks a
process that gives this command and writes what it says to FILE; prints the number of the process.
What is given for practice is carried out without one, so that those after it need load nothing and
are killed at their work.
"""

from __future__ import annotations

import gc
import json
import os
import signal
import sys

from labeler.cli.group import run


def give(words: list[str], said: str) -> None:
    """Give a command, and write what it says to a file."""
    out = os.open(said, os.O_WRONLY | os.O_CREAT | os.O_TRUNC)
    os.dup2(out, 1)
    os.close(out)
    run(words)
    sys.stdout.flush()


def main() -> None:
    os.dup2(os.open(os.devnull, os.O_WRONLY), 2)
    signal.signal(signal.SIGCHLD, signal.SIG_IGN)
    for line in sys.stdin:
        asked = json.loads(line)
        if asked.pop("practice"):
            answers = os.dup(1)
            give(**asked)
            os.dup2(answers, 1)
            os.close(answers)
            print(0, flush=True)
            gc.freeze()  # so that a fork copies little
            continue
        child = os.fork()
        if not child:
            give(**asked)
            os._exit(0)
        print(child, flush=True)


if __name__ == "__main__":
    main()
