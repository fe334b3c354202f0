"""Long work: each piece in a process of its own, on record under ``.desk/work`` in the folder.

The record is a file, and whoever asks reads it: the page that shows how far the work has come, a
desk that is begun after the first was killed. The process that works holds a second file to its
end, however it ends, so that work which was killed is known from work that is going on.
"""

from __future__ import annotations

import contextlib
import hashlib
import json
import os
import re
import secrets
import signal
import subprocess
import sys
import threading
import time
from collections.abc import Iterator, Mapping, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import asdict, dataclass, field, replace
from functools import cached_property
from pathlib import Path
from typing import Any, Literal

from labeler.desk.address import room_in
from labeler.files import held_alone, in_hand
from labeler.findings import Finding, Grade, Place, note

OUT = "out"
"""The folder in a catalog folder into which papers go that nobody gave a name."""

State = Literal["waiting", "at work", "done", "refused", "stopped", "failed"]

_ID = re.compile(r"[0-9a-f]{16}")
_KEPT = 200
"""Pieces of work that are kept on record; the papers themselves stay."""

_AT_ONCE = 2
_LONG = 3600.0
"""Seconds after which a file that nobody holds was left by a process that was killed."""
_PATIENCE = 10.0
"""Seconds in which work that is stopped tidies up after itself."""
_SOON = 0.02
"""Seconds between two looks for the process of work that begins."""

_UNSURE = note("stopped", Place(), "it was ended from outside; it may be on record by then",
               hint="See the journal before you do it again.")  # fmt: skip


@dataclass(frozen=True, slots=True)
class Work:
    """One piece of work.

    Attributes:
        id: names it.
        kind: what is done, as `labeler.desk.jobs` names it.
        title: what is done, as a maker says it.
        asked: with what, as plain values.
        back: the path of the page that asked.
        begun: when, in seconds since 1970.
        state: how it stands.
        done: how many pages of ``of`` are through; 0 of 0 before that is known.
        process: the number of the process that works.
        said: what came of it, in sentences.
        files: what was made: what it is, and its name in the folder ``out``.
        findings: what there is to say of it, or why it was refused.
        leads: where it leads on to: in words, and the path of a page.
        facts: what a page of its own shows of it, as plain values.
    """

    id: str
    kind: str
    title: str
    asked: Mapping[str, Any]
    back: str
    begun: float
    state: State = "waiting"
    done: int = 0
    of: int = 0
    process: int = 0
    said: tuple[str, ...] = ()
    files: tuple[tuple[str, str], ...] = ()
    findings: tuple[Finding, ...] = field(default=())
    leads: tuple[tuple[str, str], ...] = ()
    facts: Mapping[str, Any] = field(default_factory=dict)

    @property
    def over(self) -> bool:
        """Whether nothing more comes of it."""
        return self.state not in ("waiting", "at work")

    def as_json(self) -> str:
        """Return the record."""
        findings = [asdict(each) | {"grade": each.grade.value} for each in self.findings]
        return json.dumps(asdict(self) | {"findings": findings}, indent=1)

    @classmethod
    def from_json(cls, text: str) -> Work:
        """Return what a record says.

        Raises:
            ValueError: if it is none.
        """
        try:
            known = json.loads(text)
            known["said"] = tuple(known["said"])
            for name in ("files", "leads"):
                known[name] = tuple((str(what), str(where)) for what, where in known[name])
            known["findings"] = tuple(map(_finding, known["findings"]))
            return cls(**known)
        except (KeyError, TypeError, AttributeError) as error:
            raise ValueError("no record of work") from error


def _finding(known: dict[str, Any]) -> Finding:
    place = dict(known.pop("place"))
    place["box"] = tuple(place["box"]) if place["box"] else None
    return Finding(grade=Grade(known.pop("grade")), place=Place(**place), **known)


class Records:
    """The records of a folder's work, for those who ask and for those who work."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self._room = room_in(folder) / "work"
        self._room.mkdir(mode=0o700, exist_ok=True)

    def lock_of(self, number: str) -> Path:
        """Return the file that the process which works holds."""
        return self._room / f"{number}.lock"

    def read(self, number: str) -> Work | None:
        """Return a piece of work as it is on record."""
        if not _ID.fullmatch(number):
            return None
        with contextlib.suppress(OSError, ValueError):
            return Work.from_json((self._room / f"{number}.json").read_text("utf-8"))
        return None

    def write(self, work: Work, lasting: bool = True) -> Work:
        """Put a piece of work on record.

        Args:
            work: as it stands.
            lasting: whether it is to outlive a power cut.
        """
        part = self._room / f".{work.id}.{secrets.token_hex(6)}.part"
        try:
            with part.open("x", encoding="utf-8") as file:
                file.write(work.as_json())
                file.flush()
                if lasting:
                    os.fsync(file.fileno())
            part.replace(self._room / f"{work.id}.json")
        except BaseException:
            part.unlink(missing_ok=True)
            raise
        return work

    def newer(self, work: Work, name: str) -> bool:
        """Tell whether a file in the folder ``out`` was made again since work that made it."""
        with contextlib.suppress(OSError):
            made = (self.folder / OUT / name).stat().st_mtime_ns
            return made > (self._room / f"{work.id}.json").stat().st_mtime_ns
        return False

    def all(self) -> list[Work]:
        """Return all work, the newest first."""
        found = (self.read(file.stem) for file in self._room.glob("*.json"))
        return sorted(filter(None, found), key=lambda one: (-one.begun, one.id))

    def forget_old(self) -> None:
        """Take away the oldest records, and those of nothing."""
        for work in self.all()[_KEPT:]:
            if work.over:
                (self._room / f"{work.id}.json").unlink(missing_ok=True)
        for left in (*self._room.glob("*.lock"), *self._room.glob(".*.part")):
            with contextlib.suppress(OSError):
                if left.stat().st_mtime < time.time() - _LONG and not in_hand(left):
                    left.unlink()


# ------------------------------------------------------------------------------- who has it done


class DeskWorker:
    """A process that waits for work, and what it has been given."""

    def __init__(self) -> None:
        group: dict[str, Any] = {"start_new_session": True}  # Ctrl-C is the desk's to pass on
        if sys.platform == "win32":
            group = {"creationflags": subprocess.CREATE_NEW_PROCESS_GROUP}
        self.process = subprocess.Popen(
            [sys.executable, "-m", "labeler.desk.worker"],
            stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True, encoding="utf-8",
            env=os.environ | {"PYTHONPATH": os.pathsep.join(filter(None, sys.path))}, **group,
        )  # fmt: skip
        self._given = 0

    @property
    def fit(self) -> bool:
        """Whether it can be given more."""
        return self.process.poll() is None and self._given < _GIVEN

    def carry_out(self, folder: Path, number: str) -> None:
        """Give it a piece of work, and wait until it is through or the process is gone."""
        assert self.process.stdin
        assert self.process.stdout
        self._given += 1
        with contextlib.suppress(OSError):
            self.process.stdin.write(json.dumps([str(folder.absolute()), number]) + "\n")
            self.process.stdin.flush()
            self.process.stdout.readline()

    def dismiss(self) -> None:
        """End it once it has nothing to do."""
        for pipe in (self.process.stdin, self.process.stdout):
            with contextlib.suppress(OSError):
                if pipe:
                    pipe.close()
        with contextlib.suppress(subprocess.TimeoutExpired):
            self.process.wait(_PATIENCE)
        self.process.kill()
        self.process.wait()


_GIVEN = 25
"""Pieces of work that one process does before another takes its place."""


class Works:
    """The long work of one desk."""

    def __init__(self, folder: Path) -> None:
        self._folder = folder
        self._mine: set[str] = set()
        self._spare: list[DeskWorker] = []
        self._turn = threading.Lock()
        self._pool = ThreadPoolExecutor(_AT_ONCE, "work")
        self._told: set[str] = set()
        self._closed = False

    @cached_property
    def records(self) -> Records:
        """What is on record in the folder."""
        records = Records(self._folder)
        records.forget_old()
        return records

    def warm(self) -> None:
        """Have a process ready, which takes longer to begin than most work does."""
        self._pool.submit(self._keep, None)

    def begin(self, kind: str, title: str, asked: Mapping[str, Any], back: str, once: str) -> Work:
        """Begin a piece of work, unless it was begun before.

        Args:
            kind: what is done, as `labeler.desk.jobs` names it.
            title: as a maker says it.
            asked: with what, as plain values.
            back: the path of the page that asks.
            once: the number that the form was given: sent twice as it was, it is one piece of
                work; filled in otherwise, it is another.
        """
        if not once:
            once = secrets.token_hex(8)
        number = once if _ID.fullmatch(once) else _hashed(once)
        with self._turn:
            if _other(known := self.records.read(number), kind, asked):
                number = _hashed(json.dumps([once, kind, asked]))
                known = self.records.read(number)
            if known is not None:
                return known
            work = self.records.write(Work(number, kind, title, asked, back, time.time()))
            self._mine.add(number)
        self._pool.submit(self._see_to, number)
        return work

    def find(self, number: str) -> Work | None:
        """Return a piece of work as it stands; what was killed is put on record as that."""
        work = self.records.read(number)
        if work is None or work.over or number in self._mine:
            return work
        held = held_alone(self.records.lock_of(number))
        if held is None:  # a process that an earlier desk began is still at it
            return work
        with held:
            work = self.records.read(number)
            if work is None or work.over:
                return work
            unsure = () if work.state == "waiting" else (_UNSURE,)
            ended = replace(work, state="stopped", findings=unsure)
            with contextlib.suppress(OSError):  # on a full disk it is shown all the same
                self.records.write(ended)
            return ended

    def all(self) -> list[Work]:
        """Return all work, the newest first, as it stands."""
        return [work for each in self.records.all() if (work := self.find(each.id))]

    def stop(self, number: str) -> None:
        """Have a piece of work stopped; what it has not finished it undoes.

        Asked twice, it is ended whatever it does: even so nothing half-made is left.
        """
        end = time.monotonic() + _PATIENCE
        while (work := self.find(number)) is not None and not work.over:
            if work.process:
                with contextlib.suppress(OSError):
                    os.kill(work.process, _END if number in self._told else _STOP)
                self._told.add(number)
                return
            held = held_alone(self.records.lock_of(number))
            if held is not None:
                with held:  # so nobody begins it meanwhile
                    work = self.records.read(number)
                    if work is not None and work.state == "waiting":
                        self.records.write(replace(work, state="stopped"))
            elif time.monotonic() > end:
                return
            else:  # it is being begun: its process will stand on record at once
                time.sleep(_SOON)

    def close(self) -> None:
        """Stop all that this desk has begun, and wait for it to tidy up."""
        self._closed = True
        for number in list(self._mine):
            self.stop(number)
        late = threading.Timer(_PATIENCE, lambda: [*map(self.stop, list(self._mine))])
        late.start()
        self._pool.shutdown(cancel_futures=True)
        late.cancel()
        while self._spare:
            self._spare.pop().dismiss()

    def _see_to(self, number: str) -> None:
        """Have a piece of work done, in one of the pool's threads."""
        try:
            worker = self._lent()
            work = self.records.read(number)
            if work is not None and not work.over and not self._closed:
                worker.carry_out(self._folder, number)
            self._keep(worker)
        finally:
            self._mine.discard(number)
            self.find(number)

    def _lent(self) -> DeskWorker:
        with self._turn:
            while self._spare:
                if (worker := self._spare.pop()).fit:
                    return worker
                worker.dismiss()
        return DeskWorker()

    def _keep(self, worker: DeskWorker | None) -> None:
        """Keep a process for the next piece of work, a new one where this is used up."""
        if worker is not None and not worker.fit:
            worker.dismiss()
            worker = None
        with self._turn:
            room = not self._closed and not self._spare  # one that waits does; more hold memory
            if room:
                self._spare.append(worker or DeskWorker())
        if worker is not None and not room:
            worker.dismiss()


def _hashed(text: str) -> str:
    return hashlib.sha256(text.encode()).hexdigest()[:16]


def _other(known: Work | None, kind: str, asked: Mapping[str, Any]) -> bool:
    """Tell whether what is on record was asked otherwise than this; a record knows no tuples."""
    return known is not None and (known.kind, known.asked) != (kind, json.loads(json.dumps(asked)))


_STOP = signal.SIGTERM if sys.platform == "win32" else signal.SIGINT
_END = getattr(signal, "SIGKILL", signal.SIGTERM)


def names_in(folder: Path, files: Sequence[tuple[str, Path]]) -> Iterator[tuple[str, str]]:
    """Yield what each file is, and its name in the folder ``out``; no other file is named."""
    for what, file in files:
        if file.resolve().parent == (folder / OUT).resolve():
            yield what, file.name
