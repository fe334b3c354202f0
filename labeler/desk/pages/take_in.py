"""Take-in: a maker's own spreadsheet and photos, dropped in, become a line that prints."""

from __future__ import annotations

import datetime as dt
import hashlib
import os
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace
from pathlib import Path
from tempfile import TemporaryDirectory
from types import MappingProxyType
from typing import Any

from starlette.responses import Response

from labeler.app.answers import Answers, read_answers
from labeler.app.dropped import (
    SHEET_ENDINGS,
    bring_in,
    keep_sheet,
    refuse_twice,
    sheet_digest,
    spreadsheets_in,
)
from labeler.app.line import LineEdit, save_line
from labeler.app.photos import Look, keep_photos, match_photos, name_photos
from labeler.app.reference import start_catalog
from labeler.app.take_in import Own, TakenIn, foretell, open_old, settle, stated_file
from labeler.app.workstation import ledger_location
from labeler.catalog.photo_names import Photos, safe_name
from labeler.catalog.read import readable
from labeler.catalog.spreadsheet.grid import LARGEST_BYTES
from labeler.catalog.spreadsheet.own_cells import field_of, unit_of
from labeler.catalog.spreadsheet.propose import Proposal
from labeler.catalog.structure import (
    CATALOG_NAME,
    PHOTOS,
    open_paths,
    question_of,
    questions,
    read_source,
)
from labeler.desk.address import room_in
from labeler.desk.page import Ask, DeskPage, Faults, PageRoute, Upload, picture
from labeler.drawing.photos import prepare
from labeler.files import kept
from labeler.findings import Finding, LabelerError, Place, refusal, stop
from labeler.tomlfile import TomlFile

FIELDS = {
    "pattern": "the jig's name (pattern)", "colour": "the color", "weight": "the weight",
    "hook": "the hook's size", "price": "the price", "wholesale": "the dealers' price",
    "sku": "the item number (SKU)", "gtin": "the UPC or EAN", "on_hand": "the count on hand",
    "photo": "the photo's file", "note": "a note that may be printed",
    "remark": "a remark of your own, never printed", "status": "whether it is still sold",
    "retired": "a mark where it is no longer made", "pack": "how many are in a bag",
    "markets": "where it is sold", "head": "the head's metal", "hook_name": "the hook's name",
    "bag": "the bag", "ignored": "none of these: not read",
}  # fmt: skip
"""What a column can be, as the list offers it."""

UNITS = {"none": "as written", "oz": "ounces", "g": "grams"}
"""What weights without a unit are in, as the list offers it."""

_CELLS = {"price": "the price of", "mark": "a mark where there is", "on_hand": "the count of"}
"""What a column holds that stands for one weight or color."""

MOST_AT_ONCE = 40
_DROP = 160_000_000
_THUMB_PT = 60.0
"""The sides of the box that a photo is shown in: 250 pixels."""
_SHOWN = 60
"""Photos on the page; the others follow once these are told."""

_DONE = {
    "kept": "It is here. See below how it is read.",
    "pictures": "The photos are here, small and without camera and place.",
    "same": "This is the spreadsheet as it is read already: nothing in it is new.",
    "staged": "It is here, and nothing is changed yet. See what is new in it.",
    "made": "Your line is made. Nothing of your own spreadsheet was changed.",
    "taken": "What was new is taken in. Nothing of yours was changed.",
    "started": "A small line is here, with a maker, patterns and colors that are not yours: put "
    "your own in their place on the page Line.",
    "left": "The new version was left out; your line is read as before.",
    "settled": "It is written into your catalog, and read so from now on. Line keeps what it said "
    "before.",
    "opened": "The lots of what you have on hand are open.",
    "photos": "The photos are called by what they show, and stand on what is printed.",
}
"""What was just done, by the word that the address says it with."""


def number_of(name: str) -> str:
    """Return what the page calls a file or heading by."""
    return hashlib.sha256(name.encode()).hexdigest()[:12]


def named_by(names: Iterable[str], number: str) -> str:
    """Return the name that a page calls so; empty where there is none."""
    return next((name for name in names if number_of(name) == number), "")


def photo_named(names: Iterable[str], number: str) -> str:
    """Return the name of the photo that a page calls so.

    Raises:
        LabelerError: if there is none any more.
    """
    if name := named_by(names, number):
        return name
    raise refusal("work-file-gone", Place(), "there is no such photo in the folder any more")


def _standing(ask: Ask) -> TomlFile | None:
    """Return the catalog that was taken in; None where there is none yet, or it is of no sheet."""
    if not (ask.folder / CATALOG_NAME).exists():
        return None
    source = read_source(ask.folder)
    return source if isinstance(source.data.get("spreadsheet"), dict) else None


def _show(
    ask: Ask, wrong: Sequence[Finding] = (), typed: Mapping[str, str] = MappingProxyType({}),
    notes: Sequence[Finding] = (), at: str = "",
) -> Response:  # fmt: skip
    """Show how far the take-in is, and the next thing to do.

    Args:
        ask: what is asked.
        wrong: with what was sent.
        typed: what stood in the fields.
        notes: what there is to say of what was done.
        at: the field that all that is wrong belongs to, if it is one.
    """
    fields = {name: name for name in questions()} | {one.rule: at for one in wrong if at}
    fields |= {text: f"c-{number_of(text)}" for text in _columns(typed)}
    faults = Faults(wrong, fields)
    done = _DONE.get(ask.query("done"), "")
    facts: dict[str, Any] = {
        "typed": typed, "notes": notes, "done": done, "endings": ",".join(SHEET_ENDINGS),
        "most": MOST_AT_ONCE, "number": number_of,
    }  # fmt: skip
    if (ask.folder / CATALOG_NAME).exists():
        before = _standing(ask)
        if before is None:
            return ask.shown("take-in.html.jinja", faults, state="own", **facts)
        return ask.shown("taken-in.html.jinja", faults, **facts, **_facts_again(ask, before))
    sheets = spreadsheets_in(ask.folder)
    if not sheets:
        photos, _ = match_photos(ask.folder, ())
        return ask.shown("take-in.html.jinja", faults, state="empty", photos=photos, **facts)
    given = typed.get("file") or ask.query("file")
    sheet = next((one for one in sheets if number_of(one.name) == given), sheets[0])
    own = Own(sheet, at_home=True, columns=_columns(typed), sheet_name=typed.get("sheet", ""),
              unit=_unit(typed))  # fmt: skip
    try:
        taken, proposal = _foretold(ask, own, _heads(typed))
    except LabelerError as error:
        return ask.shown("take-in.html.jinja", Faults((*wrong, *error.findings)), state="unread",
                         sheets=sheets, sheet=sheet, **facts)  # fmt: skip
    photos, looks = match_photos(ask.folder, proposal.rows)
    facts["typed"] = _with_looks(typed, looks)
    return ask.shown(
        "take-in.html.jinja", faults, state="read", sheets=sheets, sheet=sheet, taken=taken,
        read=proposal, fields=FIELDS, cells=_CELLS, units=UNITS,
        unit=_unit_now(proposal), photos=photos[:_SHOWN], more=photos[_SHOWN:],
        looks=_by_pattern(looks), questions=questions(), asked=_to_say(taken.asked), **facts,
    )  # fmt: skip


def _with_looks(typed: Mapping[str, str], looks: Iterable[Look]) -> dict[str, str]:
    """Return what was sent, less photos told by a look that is not read any more: guesses again."""
    known = {"none", *(number_of("\n".join(look)) for look in looks)}
    return {name: text for name, text in typed.items()
            if not name.startswith("p-") or text in known}  # fmt: skip


def _foretold(ask: Ask, own: Own, answers: Answers) -> tuple[TakenIn, Proposal]:
    """Return what would come of it; known until a file or a choice changes."""
    key = own.sheet, tuple(own.columns.items()), own.sheet_name, own.unit, str(answers.heads)
    return kept(("take-in", ask.folder, *key), lambda: foretell(ask.folder, own, answers))


def _heads(typed: Mapping[str, str]) -> Answers:
    """Return the answer about heads, which may say the weights that a spreadsheet does not."""
    try:
        return read_answers({"heads": typed.get("heads", "")})
    except LabelerError:
        return Answers()


_WITH_FIELDS = ("not-answered", "perhaps-renamed")
"""What is asked in a place of its own on the page."""


_OF_COLUMNS = ("heading-gone", "unknown-column", "headings-missing", "sheet-missing")
"""What is settled by saying what columns are."""


def _to_say(findings: Iterable[Finding]) -> list[Finding]:
    return [one for one in findings if one.rule not in _WITH_FIELDS]


def _by_pattern(looks: Iterable[Look]) -> dict[str, list[str]]:
    found: dict[str, list[str]] = {}
    for pattern, colour in looks:
        found.setdefault(pattern, []).append(colour)
    return found


def _columns(typed: Mapping[str, str]) -> dict[str, str]:
    """Return what she says that columns are, by their headings."""
    return {name[2:]: field for name, field in typed.items()
            if name.startswith("c-") and field in FIELDS}  # fmt: skip


def _unit(typed: Mapping[str, str]) -> str:
    """Return what she says that weights without a unit are in; empty where she does not."""
    return unit if (unit := typed.get("unit", "")) in UNITS else ""


def _unit_now(read: Proposal) -> str | None:
    """Return the unit in which weights without one are read; None where the heading says it."""
    stated = any(one.field == "weight" and unit_of(one.key) for one in read.columns)
    return None if stated else read.spreadsheet.get("unit", "none")


# --------------------------------------------------------------------------------- dropping in


def _staging(ask: Ask) -> Path:
    """Return the folder in which a new version of the spreadsheet waits until she agrees."""
    return room_in(ask.folder) / "take-in"


def _staged(ask: Ask) -> Path | None:
    room = _staging(ask)
    return next(iter(spreadsheets_in(room)), None) if room.is_dir() else None


def _drop(ask: Ask) -> Response:
    """Keep what was dropped in."""
    sheets = [one for one in ask.uploads.get("sheet", ()) if one.name]
    photos = [one for one in ask.uploads.get("photos", ()) if one.name]
    faults = list[Finding]()
    if len(sheets) > 1:
        faults.append(stop("drop-many", Place(), "this is more than one spreadsheet",
                           hint="Drop the one that has your jigs."))  # fmt: skip
    if len(photos) > MOST_AT_ONCE:
        faults.append(stop("drop-many", Place(), "these are too many at once",
                           found=f"{len(photos)} photos", expected=f"at most {MOST_AT_ONCE}",
                           hint="Drop some of them now and the rest after."))  # fmt: skip
    if not sheets and not photos:
        faults.append(stop("drop-none", Place(), "nothing was chosen"))
    if faults:
        return _show(ask, faults, at="photos" if len(photos) > MOST_AT_ONCE else "sheet")
    word = file = ""
    try:
        if sheets and (ask.folder / CATALOG_NAME).exists():
            word = _stage(ask, sheets[0])
        elif sheets:
            file = keep_sheet(ask.folder, sheets[0].name, sheets[0].data).name
    except LabelerError as error:
        return _show(ask, error.findings, at="sheet")
    if photos:
        names, left_out = keep_photos(ask.folder, [(one.name, one.data) for one in photos])
        if left_out:
            return _show(ask, typed={"kept": str(len(names))}, notes=left_out)
    done = word or ("kept" if file else "pictures")
    return ask.went_to("/take-in", done=done, file=number_of(file) if file else "")


def _stage(ask: Ask, upload: Upload) -> str:
    """Keep a new version of the spreadsheet until she agrees; return what was done."""
    before = _standing(ask)
    if before is None:
        raise refusal("folder-taken", Place(), "this line stands in catalog.toml, and was taken in "
                      "from no spreadsheet", hint="A line from a spreadsheet has a folder of its "
                      "own. Prices, notes and GTINs go into products.csv.")  # fmt: skip
    now = _sheet_of(ask, before)
    if now.is_file() and now.read_bytes() == upload.data:
        return "same"
    room = _staging(ask)
    room.mkdir(mode=0o700, exist_ok=True)
    kept_as = keep_sheet(room, upload.name, upload.data, over=True)
    for path in spreadsheets_in(room):
        if path != kept_as:
            path.unlink()
    return "staged"


def _thumb(ask: Ask) -> Response:
    """Show a photo, small."""
    photos, _ = match_photos(ask.folder, ())
    name = photo_named((one.name for one in photos), ask.part("number"))
    image, _ = prepare(ask.folder / PHOTOS / name, _THUMB_PT, _THUMB_PT)
    return picture(image.data, "private, max-age=600")


# ------------------------------------------------------------------------------- the first time


def _typed(ask: Ask) -> dict[str, str]:
    return {name: ask.text(name) for name in ask.fields if name != "once"}


def _read(ask: Ask) -> Response:
    """Show how the spreadsheet is read with what was chosen; nothing is written."""
    typed = _typed(ask)
    return _show(ask, _twice(typed), typed)


def _twice(typed: Mapping[str, str]) -> Sequence[Finding]:
    try:
        refuse_twice(_columns(typed))
    except LabelerError as error:
        return error.findings
    return ()


def _answers(typed: Mapping[str, str]) -> tuple[Answers, list[Finding]]:
    """Return the answers of a form, and what is not understood of them."""
    try:
        return read_answers({name: typed.get(name, "") for name in questions()}), []
    except LabelerError as error:
        return Answers(), [
            replace(one, hint=f"Such as: {questions()[one.place.key].answer}")
            for one in error.findings
        ]


def _make(ask: Ask) -> Response:
    """Make the catalog of what was read, chosen and answered."""
    typed = _typed(ask)
    if (ask.folder / CATALOG_NAME).exists():
        return ask.went_to("/take-in")
    name = named_by((one.name for one in spreadsheets_in(ask.folder)), typed.get("file", ""))
    answers, faults = _answers(typed)
    faults += _twice(typed)
    if not name:
        hint = "See which is read now, and send it again."
        gone = "this spreadsheet is gone from the folder"
        faults.append(stop("work-file-gone", Place(key="file"), gone, hint=hint))
    if faults:
        return _show(ask, faults, typed)
    own = Own(ask.folder / name, at_home=True, columns=_columns(typed),
              sheet_name=typed.get("sheet", ""), unit=_unit(typed))  # fmt: skip
    return _brought_in(ask, own, answers, typed, "made")


_LONG = 500
"""Rows of a spreadsheet that is taken in as work of its own: it takes more than a second."""


def _brought_in(
    ask: Ask, own: Own, answers: Answers, typed: Mapping[str, str], done: str
) -> Response:  # fmt: skip
    """Take the line in, at once or as long work."""
    day = dt.date.today()  # noqa: DTZ011  (the maker's own day; there may be no catalog yet)
    try:
        _, read = _foretold(ask, own, Answers(heads=answers.heads))
        if not read.rows and done == "made":
            raise refusal("row-incomplete", Place(file=own.sheet.name), "no row says yet which jig "
                          "it is of: its name, color and weight")  # fmt: skip
        shows = _chosen_photos(ask, typed, read)
        if len(read.rows) > _LONG:
            return ask.set_to_work(
                "take-in", "Your line is taken in", "/take-in", shows=shows, instead=own.instead,
                sheet=os.path.relpath(own.sheet, ask.folder), sheet_name=own.sheet_name,
                columns=dict(own.columns), unit=own.unit, day=day.isoformat(),
                digest=sheet_digest(own.sheet),
                answers={name: typed.get(name, "") for name in questions()},
            )  # fmt: skip
        bring_in(ask.folder, own, answers, shows, day)
    except LabelerError as error:
        return _show(ask, error.findings, typed)
    return ask.went_to("/take-in", done=done)


def _chosen_photos(ask: Ask, typed: Mapping[str, str], read: Proposal) -> dict[str, Look]:
    """Return which look was chosen for each photo that neither a cell nor its name tells."""
    photos, looks = match_photos(ask.folder, read.rows)
    by_number = {number_of("\n".join(look)): look for look in looks}
    return {
        one.name: look for one in photos if one.by != "cell"
        if (look := by_number.get(typed.get(f"p-{number_of(one.name)}", "")))
        and (look != one.look or one.by in ("guess", "second"))
    }  # fmt: skip


# ----------------------------------------------------------------------------------- and again


def _sheet_of(ask: Ask, before: TomlFile) -> Path:
    return ask.folder / stated_file(before)


def _own(ask: Ask, before: TomlFile, staged: Path | None = None) -> Own:
    """Return what is read: the spreadsheet of the line, or a new version in its place."""
    return Own(staged or _sheet_of(ask, before), at_home=True, instead=staged is not None)


def _version(staged: Path | None) -> str:
    """Return by what a form says which new version was looked at; empty where none waits."""
    return hashlib.sha256(staged.name.encode() + staged.read_bytes()).hexdigest() if staged else ""


def _facts_again(ask: Ask, before: TomlFile) -> dict[str, Any]:
    staged = _staged(ask)
    own = _own(ask, before, staged)
    open_ = {question_of(path) for path in open_paths(before.data)}
    facts: dict[str, Any] = {
        "staged": own.sheet.name if own.instead else "", "version": _version(staged),
        "sheet": _sheet_of(ask, before).name,
        "questions": {name: one for name, one in questions().items() if name in open_},
        "fields": FIELDS, "cells": _CELLS, "units": UNITS, "unread": (), "taken": None,
    }  # fmt: skip
    try:
        taken, read = _foretold(ask, own, Answers())
    except LabelerError as error:
        return facts | {"unread": error.findings}
    photos, looks = match_photos(ask.folder, read.rows)
    held = {one.field for one in read.columns}
    likely = {
        one.key: name for one in read.columns
        if not one.field and not one.across and (name := field_of(one.key)[0]) and name not in held
    }  # fmt: skip
    proposed = [key for key, one in before.data.get("colours", {}).items()
                if isinstance(one, dict) and one.get("proposed")]  # fmt: skip
    return facts | {
        "taken": taken, "read": read, "unit": _unit_now(read),
        "photos": photos[:_SHOWN], "more": photos[_SHOWN:],
        "looks": _by_pattern(looks), "proposed": proposed, "likely": likely,
        "asked": taken.asked if own.instead else _to_say(taken.asked),
        "unsettled": any(one.rule in _OF_COLUMNS for one in taken.asked),
        "new": [one for one in taken.products if one.new],
        "prints": taken.products and taken.prints,
        "counted": any(one.field == "on_hand" or one.across == "on_hand" for one in read.columns),
        "begun": ledger_location(ask.folder).begun,
    }  # fmt: skip


def _again(ask: Ask) -> Response:
    """Take in what is new in the spreadsheet, or the new version that was looked at."""
    before, typed, staged = _standing(ask), _typed(ask), _staged(ask)
    if before is None:
        return ask.went_to("/take-in")
    answers, faults = _answers(typed)
    looked_at = typed.get("version")
    if looked_at and looked_at != _version(staged):
        gone = "the version that you looked at waits here no more"
        hint = "See what is new in what is here now."
        faults.append(stop("changed-since-look", Place(), gone, hint=hint))
    if faults:
        return _show(ask, faults, typed)
    own = _own(ask, before, staged if looked_at else None)
    return _brought_in(ask, own, answers, typed, "taken")


def _leave(ask: Ask) -> Response:
    """Take the new version away; she has it where she had it."""
    if staged := _staged(ask):
        staged.unlink()
    return ask.went_to("/take-in", done="left")


def _settle(ask: Ask) -> Response:
    """Write what columns are and which names are the same."""
    before, typed = _standing(ask), _typed(ask)
    if before is None:
        return ask.went_to("/take-in")
    if twice := _twice(typed):
        return _show(ask, twice, typed)
    try:
        _, read = _foretold(ask, _own(ask, before), Answers())
        columns = _columns(typed)
        codes = {
            (one.table, one.new): one.code if choice == "same" else one.own
            for one in read.renamed
            if (choice := typed.get(f"r-{number_of(one.new)}", ""))
        }
        sheet = next((one for one in read.sheets if one == typed.get("sheet")), "")
        settle(ask.folder, columns, codes, [one.key for one in read.columns], sheet,
               _unit(typed))  # fmt: skip
    except LabelerError as error:
        return _show(ask, error.findings, typed)
    return ask.went_to("/take-in", done="settled")


def _log(ask: Ask) -> Response:
    """Open lots of a log of old batches, and at first of what the spreadsheet counts."""
    logs = [one for one in ask.uploads.get("log", ()) if one.name]
    if not logs and ledger_location(ask.folder).begun:
        if ask.text("counted"):  # pressed twice: the first opened them
            return ask.went_to("/take-in", done="opened")
        return _show(ask, [stop("drop-none", Place(), "nothing was chosen")], at="log")
    try:
        with TemporaryDirectory() as aside:
            log = Path(aside) / safe_name(logs[0].name) if logs else None
            if log is not None:
                log.write_bytes(logs[0].data)
            opened = open_old(ask.folder, log)
    except LabelerError as error:
        return _show(ask, error.findings, at="log")
    new = len(opened.lots) - len(opened.again)
    return _show(ask, (), {"opened": str(new)}, opened.findings)


def _told(ask: Ask, shows: Mapping[str, Look]) -> None:
    """Write which photo is printed where one that keeps its name would come before it."""
    catalog, _ = readable(ask.folder)
    names = {one.sku: (one.pattern.name, one.colour.name) for one in catalog.products}
    by_name, told = Photos(ask.folder).of_looks(names.values()), {v: k for k, v in shows.items()}
    rows = {
        one.sku: {"photo": told[look]} for one in catalog.products
        if (look := names[one.sku]) in told and one.photo == by_name.get(look) != told[look]
    }  # fmt: skip
    if rows:
        save_line(LineEdit(ask.folder, {}, rows))


def _start(ask: Ask) -> Response:
    """Make a small line to be put right, for who keeps no spreadsheet."""
    try:
        start_catalog(ask.folder)
    except LabelerError as error:
        return _show(ask, error.findings)
    return ask.went_to("/take-in", done="started")


def _photos(ask: Ask) -> Response:
    """Call photos by what was chosen for them."""
    before, typed = _standing(ask), _typed(ask)
    if before is None:
        return ask.went_to("/take-in")
    _, read = _foretold(ask, _own(ask, before), Answers())
    try:
        _told(ask, name_photos(ask.folder, _chosen_photos(ask, typed, read)))
    except LabelerError as error:
        return _show(ask, error.findings, typed)
    return ask.went_to("/take-in", done="photos")


PAGE = DeskPage("Take-in", (
    PageRoute("/take-in", _show),
    PageRoute("/take-in/photo/{number}", _thumb),
    PageRoute("/take-in/drop", _drop, post=True, most=_DROP, files=200),
    PageRoute("/take-in/read", _read, post=True),
    PageRoute("/take-in/make", _make, post=True),
    PageRoute("/take-in/again", _again, post=True),
    PageRoute("/take-in/leave", _leave, post=True),
    PageRoute("/take-in/settle", _settle, post=True),
    PageRoute("/take-in/photos", _photos, post=True),
    PageRoute("/take-in/log", _log, post=True, most=LARGEST_BYTES, files=1),
    PageRoute("/take-in/start", _start, post=True),
))  # fmt: skip
