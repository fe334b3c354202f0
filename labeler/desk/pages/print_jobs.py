"""The work of the page Print: pages to look at, the print itself, the same once more."""

from __future__ import annotations

import datetime as dt
import hashlib
import json
from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any, Literal

from labeler.app.preflight import each_once, worth_saying
from labeler.app.print_request import PrintRequest
from labeler.app.print_run import PrintResult, print_pieces
from labeler.app.reprint import ReprintRequest, reprint
from labeler.app.workstation import ledger_location
from labeler.checker.proof import rings
from labeler.checker.report import Report, grouped
from labeler.checker.subject import Progress
from labeler.desk import spool
from labeler.desk.address import room_in
from labeler.desk.outcome import Asked, Outcome, is_count, plain
from labeler.files import delivered
from labeler.findings import Finding, Grade, LabelerError, Place, plural, refusal, stop
from labeler.layout.index import THING, Use
from labeler.marks import InkMode

_LOOKED_AT = 30
"""Files whose pages are kept to be looked at; of an older one the paper itself is there."""

_RINGED = 3_000
"""Rings that are kept, those of the first pages; the list tells of all."""


def seen_file(folder: Path, digest: str) -> Path:
    """Return where a finished file lies whose pages are looked at, by its SHA-256."""
    return room_in(folder) / "seen" / f"{digest}.pdf"


def request_of(folder: Path, out: Path, asked: Asked, **rest: Any) -> PrintRequest:
    """Return the request that a form makes, as the command's options would.

    Args:
        folder: the catalog's.
        out: the PDF.
        asked: what was filled in, as plain values.
        rest: what the form does not say.
    """
    given = _text(asked, "day")
    day: dict[str, Any] = {"day": _day(given)} if given else {}
    return PrintRequest(
        folder, out, use_of(asked), skus=tuple(asked.get("skus", ())),
        lots=tuple(asked.get("lots", ())), sheet=_text(asked, "sheet"),
        layout=_text(asked, "layout"), start=_start(asked), spoiled=_text(asked, "spoiled"),
        printer=_text(asked, "printer"), ink=ink_of(asked), spare=_whole(asked, "spare"),
        fill=bool(asked.get("fill")), outline=bool(asked.get("outline")), why=_text(asked, "why"),
        even_so=bool(_text(asked, "why")), **day, **rest,
    )  # fmt: skip


def _day(text: str) -> dt.date:
    try:
        return dt.date.fromisoformat(text)
    except ValueError as error:
        raise refusal("day-unread", Place(key="day"), "this is no day", found=repr(text[:40]),
                      expected="a day such as 2027-03-01") from error  # fmt: skip


def ink_of(asked: Asked) -> InkMode | None:
    """Return the ink that was asked for; None for the sheet's usual one."""
    inks: dict[object, InkMode] = {"colour": "colour", "black": "black", "grey": "grey"}
    return inks.get(asked.get("ink"))


def use_of(asked: Asked) -> Use:
    """Return whether bag labels or card-backs are asked for."""
    return "cards" if asked.get("use") == "cards" else "bags"


def _text(asked: Asked, name: str) -> str:
    return str(asked.get(name) or "").strip()


def _whole(asked: Asked, name: str) -> int:
    text = _text(asked, name)
    return int(text) if is_count(text) else 0


def _start(asked: Asked) -> int | Literal["next"]:
    return "next" if _text(asked, "start") == "next" else _whole(asked, "start") or 1


def look(folder: Path, out: Path, asked: Asked, progress: Progress) -> Outcome:
    """Make a print to look at: its pages are kept, and nothing is on record.

    Args:
        folder: the catalog's.
        out: where papers go; this leaves none.
        asked: ``use``, ``skus``, ``lots``, ``sheet``, ``layout`` and so on as the command has them;
            or ``again``, a lot code or SKU, with its ``count`` and ``run``.
        progress: is told of each page, drawn and then checked.
    """
    file = seen_file(folder, f"look-{_mark(asked)}")
    try:
        return _made(folder, file, asked, progress, preview=True)
    finally:
        file.unlink(missing_ok=True)


def make(folder: Path, out: Path, asked: Asked, progress: Progress) -> Outcome:
    """Print for good: the file is made, checked and on record, and its pages can be looked at.

    Args:
        folder: the catalog's.
        out: where the file goes.
        asked: as `look` takes it, and ``why``, the reason to do it in spite of what stops it, with
            ``stopping``, what was seen to stop it; anything else stops it all the same.
        progress: is told of each page, drawn and then checked.
    """
    ledger_location(folder).begin()  # what is printed is remembered, and the sheet with it
    what = next(iter((*asked.get("lots", ()), *asked.get("skus", ()), _text(asked, "again"))))
    thing = "cards" if use_of(asked) == "cards" else "labels"
    name = f"{thing}-{plain(str(what).partition('=')[0])}-{_mark(asked)[:6]}.pdf"
    return _made(folder, out / name, asked, progress, preview=False)


def send(folder: Path, out: Path, asked: Asked, progress: Progress) -> Outcome:
    """Send a finished PDF to one of the system's printers, as large as it is.

    Args:
        folder: the catalog's.
        out: where the PDF lies.
        asked: ``file``, its name there; ``to``, the printer; ``what``, the print's title; ``size``,
            of a page in points; ``sides``, as `spool.send` has them.
        progress: is not told.
    """
    page = float(asked["size"][0]), float(asked["size"][1])
    file, to = out / str(asked["file"]), str(asked["to"])
    said = spool.send(file, to, str(asked["what"]), page, str(asked["sides"]))
    queue = [f"Its queue says: {said}."] if said else []
    return Outcome((f"It went to the printer {to}, at 100 %.", *queue))


def _mark(asked: Asked) -> str:
    return hashlib.sha256(json.dumps(dict(asked), sort_keys=True).encode()).hexdigest()


def _made(folder: Path, file: Path, asked: Asked, progress: Progress, preview: bool) -> Outcome:
    seen = None if preview or not _text(asked, "why") else frozenset(asked.get("stopping", ()))
    looked = _Looked(folder, seen)
    seen_file(folder, "").parent.mkdir(mode=0o700, exist_ok=True)
    if asked.get("again"):
        return _again(folder, file, asked, progress, looked, preview)
    request = request_of(folder, file, asked, preview=preview, seen=looked.at)
    return looked.outcome(print_pieces(request, progress), request.use, ())


def _again(
    folder: Path, file: Path, asked: Asked, progress: Progress, looked: _Looked, preview: bool
) -> Outcome:
    done = reprint(
        ReprintRequest(
            folder, _text(asked, "again"), file, count=_whole(asked, "count"),
            today=bool(asked.get("today")), use=use_of(asked), sheet=_text(asked, "sheet"),
            start=_start(asked), spoiled=_text(asked, "spoiled"), printer=_text(asked, "printer"),
            run=_whole(asked, "run") or None, why=_text(asked, "why"),
            even_so=bool(_text(asked, "why")), preview=preview, seen=looked.at,
        ),
        progress,
    )  # fmt: skip
    said = [f"Mark for mark the same as in run {done.of_run}."] if done.same else []
    changed = "; ".join(map(str, done.changed))
    if changed:
        said.append(f"{'It was' if asked.get('today') else 'Today it would be'}: {changed}.")
    return looked.outcome(done.printed, use_of(asked), said)


@dataclass(slots=True)
class _Looked:
    """Keeps a finished file for its pages to be looked at, and where on them something is."""

    folder: Path
    overridden: frozenset[str] | None = None
    """What a reason was given for, as `_stopping` names it; None where nothing is overridden."""
    facts: dict[str, Any] = field(default_factory=dict)

    def at(self, file: Path, report: Report) -> None:
        """Look at a file that is being made.

        Raises:
            LabelerError: if something stops it that nobody had seen who gave a reason.
        """
        stopping = _stopping(report)
        if self.overridden is not None and (new := stopping.keys() - self.overridden):
            raise LabelerError([*each_once(stopping[each] for each in sorted(new)), _CHANGED])
        data = file.read_bytes()
        digest = hashlib.sha256(data).hexdigest()
        kept = seen_file(self.folder, digest)
        with delivered(kept) as copy:
            copy.write(data)
        known = sorted(kept.parent.glob("*.pdf"), key=lambda one: -one.stat().st_mtime_ns)
        for old in known[_LOOKED_AT:]:
            old.unlink(missing_ok=True)
        told = [each for each in report.findings if each.grade is not Grade.NOTE]
        by_page = rings(list(enumerate(grouped(told), 1)))
        self.facts |= {
            "seen": digest,
            "pages": report.pages,
            "stops": report.stops,
            "stopping": sorted(stopping),
            "notes": len(grouped(report.of(Grade.NOTE))),
            "open": list(report.not_checked),
            "rings": [
                [page, each.number, each.grade.value, [round(side, 2) for side in each.box]]
                for page, on_it in sorted(by_page.items())
                for each in on_it
            ][:_RINGED],
        }

    def outcome(self, printed: PrintResult, use: Use, said: Sequence[str]) -> Outcome:
        """Return what came of a print: what the checker found comes first, as it is numbered."""
        numbered = worth_saying(printed.report)
        rest = [each for each in printed.findings if each not in numbered]
        facts = self.facts | {
            "use": use, "run": printed.run, "trial": printed.trial, "preview": printed.preview,
            "sheet": printed.sheet, "next": printed.next_free.cell, "numbered": len(numbered),
            "labels": [list(each) for each in printed.labels], "size": list(printed.page),
            "backs": printed.pages > printed.sheets,
        }  # fmt: skip
        first = (f"{plural(printed.pieces, THING[use])} on {plural(printed.sheets, 'sheet')} "
                 f"{printed.sheet}, from cell {printed.start} on.")  # fmt: skip
        files = () if printed.preview else (
            (f"{'Bag labels' if use == 'bags' else 'Cards'}", printed.out),
        )  # fmt: skip
        # the one file that is looked at need not be named
        placed = (replace(one, place=replace(one.place, file="")) for one in numbered)
        return Outcome((first, *said), files, (*placed, *rest), facts=facts)


_CHANGED = stop(
    "changed-since-look", Place(), "this stops it now, and did not when you looked",
    hint="Look at it again; a reason is for what you have seen.",
)  # fmt: skip


def _stopping(report: Report) -> dict[str, Finding]:
    """Return what stops a file, each by a mark that is the same when it is made again."""
    return {
        _mark({"rule": one.rule, "piece": one.place.piece, "found": one.found})[:12]: one
        for one in report.of(Grade.STOP)
    }
