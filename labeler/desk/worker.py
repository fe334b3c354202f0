"""The process that does the desk's long work: it waits for numbers, and puts on record what came.

An order to stop (SIGINT) ends the piece of work that it is at, which then undoes what it has not
finished. When the desk is gone it ends what it is at, and itself.
"""

from __future__ import annotations

import contextlib
import json
import os
import signal
import sys
import time
import traceback
from dataclasses import replace
from pathlib import Path

from labeler import files
from labeler.desk.jobs import JOBS
from labeler.desk.work import OUT, Records, Work, names_in
from labeler.findings import Finding, LabelerError, Place, stop
from labeler.ledger.store import Ledger
from labeler.memory import gc_paused

_OFTEN = 0.1
"""Seconds between two records of how far the work has come."""


def carry_out(folder: Path, number: str) -> None:
    """Do a piece of work, if nobody else does, and put on record what comes of it.

    Args:
        folder: the catalog's.
        number: the work's.
    """
    records = Records(folder)
    held = files.held_alone(records.lock_of(number))
    if held is None:
        return
    with held:
        work = records.read(number)
        if work is None or work.over:
            return
        came = _outcome(records, replace(work, state="at work", process=os.getpid()))
        with contextlib.suppress(OSError):  # who asks then finds that it ended
            records.write(came)
    records.lock_of(number).unlink(missing_ok=True)


def _outcome(records: Records, work: Work) -> Work:
    recorded, named, shown_at = Ledger.recorded, len(files.in_place), 0.0

    def progress(done: int, of: int) -> None:
        nonlocal shown_at
        if (now := time.monotonic()) - shown_at > _OFTEN:
            shown_at = now
            with contextlib.suppress(OSError):  # the work itself says if the disk is full
                records.write(replace(work, done=done, of=of), lasting=False)

    out = records.folder / OUT
    try:
        signal.signal(signal.SIGINT, signal.default_int_handler)
        records.write(work, lasting=False)  # from here on it can be told to stop
        out.mkdir(exist_ok=True)
        with gc_paused():
            came = JOBS[work.kind](records.folder, out, work.asked, progress)
        signal.signal(signal.SIGINT, signal.SIG_IGN)  # it is done: an order comes too late
        made = tuple(names_in(records.folder, came.files))
        done = replace(work, state="done", said=came.said, files=made, findings=came.findings,
                       leads=came.leads, facts=dict(came.facts))  # fmt: skip
    except LabelerError as error:
        done = replace(work, state="refused", findings=error.findings)
    except OSError as error:
        done = replace(work, state="refused", findings=(files.system_refusal(error),))
    except KeyboardInterrupt:
        whole = [(file.name, file) for file in files.in_place[named:]]
        made = tuple(names_in(records.folder, whole))
        said = _stopped(Ledger.recorded > recorded)
        done = replace(work, state="stopped", files=made, findings=said)
    except Exception as error:  # a fault of our own: the window of the desk shows it
        traceback.print_exc(file=sys.stderr)
        said = (stop("desk-fault", Place(), "the desk met a fault of its own, so this was not "
                     "done", found=type(error).__name__),)  # fmt: skip
        done = replace(work, state="failed", findings=said)
    finally:
        signal.signal(signal.SIGINT, signal.SIG_IGN)
    settled, Ledger.settled[:] = tuple(Ledger.settled), ()
    return replace(done, findings=(*done.findings, *settled))


def _stopped(recorded: bool) -> tuple[Finding, ...]:
    if not recorded:
        return ()
    said = "stopped, but by then a change was on record, which stands"
    return (stop("stopped", Place(), said, hint="The lot's journal shows it."),)


def main() -> None:
    """Do what is asked for line by line, until nobody can ask any more."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    answers = os.dup(1)
    os.dup2(2, 1)  # what a library says is no answer
    readings = files.Readings()
    for line in sys.stdin:
        folder, number = json.loads(line)
        with readings.using():
            carry_out(Path(folder), number)
        try:
            os.write(answers, b"\n")
        except OSError:
            return  # the desk is gone, and what it asked for is done and on record


if __name__ == "__main__":
    main()
