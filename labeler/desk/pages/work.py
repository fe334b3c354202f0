"""What is at work and what came of it: how far it is, what it made, and how to stop it."""

from __future__ import annotations

import json
from collections.abc import AsyncIterator
from datetime import UTC, datetime

from anyio import sleep
from starlette.responses import FileResponse, Response, StreamingResponse

from labeler.app.workstation import ledger_location
from labeler.desk.outcome import is_count
from labeler.desk.page import Ask, DeskPage, PageRoute
from labeler.desk.work import OUT, Work
from labeler.findings import Place, refusal

_OFTEN = 0.05
"""Seconds between two looks at how far work has come."""

_WORDS = {
    "waiting": "About to begin.",
    "at work": "At work.",
    "done": "Done.",
    "refused": "Not done.",
    "stopped": "Stopped: nothing half-made is left.",
    "failed": "Not done.",
}


def _found(ask: Ask) -> Work:
    work = ask.desk.works.find(ask.part("number"))
    if work is None:
        raise refusal("work-unknown", Place(), "nothing of this is on record")
    return work


def words_of(work: Work) -> str:
    """Return how work stands, in a sentence."""
    if work.state == "at work" and work.of:
        return f"Page {work.done:,} of {work.of:,}."
    if work.state == "stopped" and any(each.rule == "stopped" for each in work.findings):
        return "Stopped: nothing half-made is left, but it may be on record."
    return _WORDS[work.state]


def _shown(ask: Ask) -> Response:
    work = _found(ask)
    if work.state == "done" and work.facts.get("seen"):  # which has a page of its own
        return ask.went_to(f"/print/seen/{work.id}")
    records = ask.desk.works.records
    newer = [name for _, name in work.files if records.newer(work, name)]
    return ask.shown("work.html.jinja", work=work, words=words_of(work), newer=newer)


def _all(ask: Ask) -> Response:
    location = ledger_location(ask.folder)
    lines = [
        (work, location.clock(datetime.fromtimestamp(work.begun, UTC)), words_of(work))
        for work in ask.desk.works.all()
    ]
    return ask.shown("works.html.jinja", lines=lines)


def _stop(ask: Ask) -> Response:
    work = _found(ask)
    ask.desk.works.stop(work.id)
    return ask.went_to(f"/work/{work.id}")


def _again(ask: Ask) -> Response:
    """Begin work that was broken off once more, asked as it was."""
    work = _found(ask)
    return ask.set_to_work(work.kind, work.title, work.back, **work.asked)


def _file(ask: Ask) -> Response:
    """Show a paper: which is said by its number in the work's record, never by a name."""
    work, place = _found(ask), ask.part("place")
    if is_count(place) and int(place) < len(work.files):
        what, name = work.files[int(place)]
        file = (ask.folder / OUT / name).resolve()
        if file.parent == (ask.folder / OUT).resolve() and file.is_file():
            return FileResponse(
                file, media_type=_TYPES.get(file.suffix, _TYPES[".pdf"]), filename=name,
                content_disposition_type="attachment" if ask.query("save") else "inline",
            )  # fmt: skip
        raise refusal("work-file-gone", Place(file=f"{OUT}/{name}"),
                      f"this was the {what.lower()}, and it is no longer here")  # fmt: skip
    raise refusal("work-unknown", Place(), "nothing of this is on record")


_TYPES = {
    ".pdf": "application/pdf",
    ".xlsx": "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet",
}


def _events(ask: Ask) -> Response:
    """Tell how far work has come, until it is over or the desk ends (HTML Standard, 9.2)."""
    work, desk = _found(ask), ask.desk

    async def told() -> AsyncIterator[str]:
        before: object = None
        while not desk.closing.is_set():
            now = desk.works.find(work.id)
            if now is None:
                return
            state = {"done": now.done, "of": now.of, "words": words_of(now), "over": now.over}
            if state != before:
                yield f"data: {json.dumps(state)}\n\n"
                before = state
            if now.over:
                return
            await sleep(_OFTEN)

    return StreamingResponse(told(), media_type="text/event-stream")


PAGE = DeskPage(
    "",
    (
        PageRoute("/work", _all),
        PageRoute("/work/{number}", _shown),
        PageRoute("/work/{number}/events", _events),
        PageRoute("/work/{number}/stop", _stop, post=True),
        PageRoute("/work/{number}/again", _again, post=True),
        PageRoute("/work/{number}/file/{place}", _file),
    ),
)
