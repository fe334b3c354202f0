"""Carries out commands, each in a forked process of its own: run by the tests, never imported.

Reads lines of JSON and answers each with a line:

- ``{"words": [...], "out": FILE, "practice": true}``: carry the command out here, so that those
  after it need load nothing; the answer is 0.
- ``{"words": [...], "out": FILE}``: begin the command in a process that may be stopped or killed,
  and that writes what it says on both streams to FILE, or what it complains of to that of
  ``"err"``; the answer is the number of the process. A FILE ``|`` is a pipe that nobody reads any
  more. With ``"loaded": FILE`` it lists there, as it ends, every module that it has by then; with
  ``"largest": BYTES`` no file grows beyond that, as on a full disk (setrlimit, POSIX).
- ``{"wait": PROCESS}``: wait for its end; the answer is its exit status, below 0 for a signal.

A command is carried out in the ``"folder"`` and with the ``"environment"`` that come with it.

How a command answers signals never depends on how the tests were started: whatever was inherited,
both signals are as a shell sets them for a command in the foreground.
"""

from __future__ import annotations

import atexit
import contextlib
import gc
import json
import os
import resource
import signal
import subprocess
import sys
from collections.abc import Callable, Mapping, Sequence
from pathlib import Path
from typing import NoReturn

from labeler import cli
from labeler.cli import group

STOPS = (signal.SIGINT, signal.SIGTERM)


def speak_into(out: str, err: str) -> None:
    """Send each stream to a file, or to a pipe that nobody reads."""
    for stream, file in enumerate((out, err), start=1):
        if file == "|":
            reader, opened = os.pipe()
            os.close(reader)
        else:
            opened = os.open(file, os.O_WRONLY | os.O_CREAT | os.O_TRUNC | os.O_APPEND)
        os.dup2(opened, stream)
        os.close(opened)


def practise(words: Sequence[str], out: str) -> int:
    """Carry a command out in this process, and have the next fork copy little.

    A process that the program keeps for its next command is of no use after a fork: the thread that
    listens to it is left behind. So it is ended, and the next command begins one of its own.
    """
    streams = [os.dup(1), os.dup(2)]
    speak_into(out, out)
    group.run(words)
    for kept in [each for each in gc.get_objects() if isinstance(each, subprocess.Popen)]:
        kept.kill()
        kept.wait()
    sys.stdout.flush()
    for at, stream in enumerate(streams, start=1):
        os.dup2(stream, at)
        os.close(stream)
    gc.freeze()
    return 0


def begin(words: Sequence[str], out: str, err: str = "", loaded: str = "", largest: int = 0) -> int:
    """Fork; in the new process leave with the command's exit status.

    The signals are let through once the program has set how it answers them: what comes before is
    Python's start, and not ours to catch.
    """
    if process := os.fork():
        return process
    speak_into(out, err or out)
    # As Python makes them when it starts; those that are here know the server's files.
    sys.stdout = os.fdopen(1, "w", encoding="utf-8", closefd=False)
    sys.stderr = os.fdopen(2, "w", 1, "utf-8", "backslashreplace", closefd=False)
    if largest:
        resource.setrlimit(resource.RLIMIT_FSIZE, (largest, largest))
    if loaded:
        atexit.register(lambda: Path(loaded).write_text("\n".join(sys.modules), "utf-8"))
    run = group.run

    def run_and_listen(arguments: Sequence[str], over: Callable[[], None] = lambda: None) -> int:
        signal.pthread_sigmask(signal.SIG_UNBLOCK, STOPS)
        return run(arguments, over)

    group.run = run_and_listen
    sys.argv = ["labeler", *words]
    try:
        cli.main()
    except SystemExit as left:
        leave(int(left.code or 0))
    raise AssertionError("the program leaves with its exit status")


def leave(status: int) -> NoReturn:
    """End as Python does, all but taking down what it holds, which would copy what a fork shares.

    What cannot be written any more ends in Python's own status for that. How whole programs end
    is tested where they are called (test_streams.py).
    """
    atexit._run_exitfuncs()
    for stream in (sys.stdout, sys.stderr):
        try:
            stream.flush()
        except OSError:
            status = 120
    os._exit(status)


def stand(folder: str, environment: Mapping[str, str]) -> None:
    """Be where the test is, with its environment."""
    os.chdir(folder)
    os.environ.clear()
    os.environ.update(environment)


def main() -> None:
    signal.signal(signal.SIGINT, signal.default_int_handler)
    signal.signal(signal.SIGTERM, signal.SIG_DFL)
    signal.pthread_sigmask(signal.SIG_BLOCK, STOPS)
    for line in sys.stdin:
        asked = json.loads(line)
        if "wait" in asked:
            answer = os.waitstatus_to_exitcode(os.waitpid(asked["wait"], 0)[1])
        else:
            stand(asked.pop("folder"), asked.pop("environment"))
            answer = begin(**asked) if not asked.pop("practice", False) else practise(**asked)
        print(answer, flush=True)


if __name__ == "__main__":
    with contextlib.suppress(BrokenPipeError):  # the tests are done
        main()
