"""Printer profiles as they stand in ``printers.toml`` in the catalog folder."""

from __future__ import annotations

from pathlib import Path
from typing import cast

import tomlkit
from tomlkit.exceptions import TOMLKitError
from tomlkit.items import InlineTable
from tomlkit.items import Table as Written

from labeler.findings import Finding, LabelerError, Place, did_you_mean, stop
from labeler.press.deliver import delivered
from labeler.press.duplex import Flip
from labeler.press.printer import Feed, Lying, Printer
from labeler.press.table import DPI, Table, tables
from labeler.press.written import read_toml
from labeler.units import Length

FILE = "printers.toml"

_KEYS = ("dpi", "shift", "scale", "skew", "back", "duplex", "feed", "lying")
_FLIPS = ("long-edge", "short-edge")
_FEEDS = ("auto", "hand")
_LYING = ("left", "right")
_SCALES = 0.9, 1.1
_SKEWS = -0.05, 0.05
_FARTHEST = 72.0
"""A correction of more than an inch, a tenth or three degrees is a mistake and no printer's."""

_HEAD = (
    "Printer profiles: how each printer's ink is moved so that it lands where it should.",
    "shift and back: right and down. scale: across and down. skew: how far x moves for each",
    "unit down the page, and y for each unit across. duplex: the edge over which it turns.",
    'feed = "hand" if you turn the sheets over yourself. lying: where the top of a page that',
    "lies (landscape) goes when it is turned to fit the paper, left or right.",
)


def read_printers(catalog: Path) -> dict[str, Printer]:
    """Return the profiles of the catalog folder, by name; none if there is no file.

    Raises:
        LabelerError: with everything that is wrong in the file, each at its line.
    """
    path = catalog / FILE
    if not path.exists():
        return {}
    written = read_toml(path)
    findings: list[Finding] = []
    Table(written, (), findings).refuse_all_but("printer")
    found = {name: _printer(name, table) for name, table in tables(written, "printer", findings)}
    if findings:
        raise LabelerError(findings)
    return found


def find_printer(name: str, catalog: Path) -> Printer:
    """Return the profile called ``name``.

    Raises:
        LabelerError: if there is none, with the nearest name; or if the file has errors.
    """
    known = read_printers(catalog)
    if name not in known:
        raise LabelerError(
            stop(
                "unknown-printer",
                Place(file=str(catalog / FILE)),
                f"there is no printer called {name!r}",
                hint=did_you_mean(name, list(known))
                or "Make its profile first: labeler align --printer NAME --out align.pdf",
            )
        )
    return known[name]


def save_printer(printer: Printer, catalog: Path) -> None:
    """Write a profile, in place of one with the same name. Comments in the file stay.

    Raises:
        LabelerError: if the file there has errors, or can't be written.
    """
    read_printers(catalog)
    path = catalog / FILE
    if path.exists():
        document = _parse(path)
    else:
        document = tomlkit.document()
        for line in _HEAD:
            document.add(tomlkit.comment(line))
        document.add(tomlkit.nl())
    if "printer" not in document:
        document["printer"] = tomlkit.table(is_super_table=True)
    room = cast(Written, document["printer"])
    if printer.name not in room:
        inline = isinstance(room, InlineTable)
        room[printer.name] = tomlkit.inline_table() if inline else tomlkit.table()
    _note_down(cast(Written, room[printer.name]), printer)
    with delivered(path) as file:
        file.write(tomlkit.dumps(document).encode("utf-8"))


def _parse(path: Path) -> tomlkit.TOMLDocument:
    try:
        return tomlkit.parse(path.read_bytes().decode("utf-8-sig"))
    except TOMLKitError as error:
        raise LabelerError(
            stop("file-unreadable", Place(file=str(path)), f"this file can't be edited: {error}")
        ) from error


def _printer(name: str, table: Table) -> Printer:
    table.refuse_all_but(*_KEYS)
    has = table.values.keys()
    return Printer(
        name,
        dpi=table.whole("dpi", DPI) if "dpi" in has else None,
        shift=_near(table, "shift") if "shift" in has else (0.0, 0.0),
        scale=table.numbers("scale", *_SCALES) if "scale" in has else (1.0, 1.0),
        skew=table.numbers("skew", *_SKEWS) if "skew" in has else (0.0, 0.0),
        back=_near(table, "back") if "back" in has else (0.0, 0.0),
        duplex=cast(Flip, table.choice("duplex", _FLIPS, "long-edge")),
        feed=cast(Feed, table.choice("feed", _FEEDS, "auto")),
        lying=cast(Lying, table.choice("lying", _LYING, "left")),
    )


def _near(table: Table, key: str) -> tuple[float, float]:
    """Return two lengths that a printer may be out by."""
    across, down = table.lengths(key, signed=True)
    if max(abs(across), abs(down)) > _FARTHEST:
        table.wrong(key, table.values[key], "two lengths of at most 1 in")
    return across, down


def _note_down(table: Written, printer: Printer) -> None:
    if printer.dpi is not None:
        table["dpi"] = printer.dpi
    else:
        table.pop("dpi", None)
    table["shift"] = [_mm(length) for length in printer.shift]
    table["scale"] = [round(factor, 6) for factor in printer.scale]
    table["skew"] = [round(part, 6) for part in printer.skew]
    table["back"] = [_mm(length) for length in printer.back]
    table["duplex"] = printer.duplex
    table["feed"] = printer.feed
    table["lying"] = printer.lying


def _mm(length: float) -> str:
    return f"{round(Length(length).mm, 3) + 0.0:.3f} mm"
