"""The proof: each page with a finding, the finding ringed and numbered, and the list of them."""

from __future__ import annotations

import contextlib
import io
import os
import secrets
import textwrap
from collections import defaultdict
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from pypdf import PageObject, PdfReader, PdfWriter
from pypdf.errors import PyPdfError
from reportlab.pdfgen.canvas import Canvas

from labeler.checker.page.rendering import OpenPdf
from labeler.checker.report import Report, elsewhere, grouped
from labeler.disclosures.rules import NO_LEGAL_ADVICE
from labeler.findings import Finding, Grade, LabelerError, Place, stop
from labeler.geometry import Box
from labeler.units import POINTS_PER_INCH

_INKS = {
    Grade.STOP: (0.78, 0.05, 0.05),
    Grade.FIX: (0.80, 0.42, 0.0),
    Grade.NOTE: (0.35, 0.35, 0.4),
}
_MOST_PAGES = 400
_NOTES_RINGED = 60
"""Where there are more notes than this, only what stops and what to fix is ringed."""

_PAPER = (612.0, 792.0)
_MARGIN = 54.0
_LEADING = 11.0
_SIZE = 8.5
_LETTERS_A_LINE = 108
_UNREAD = ("file-", "run-sheet-")


@dataclass(frozen=True, slots=True)
class Ring:
    """What is drawn around one finding on a page: ``box`` is in points from its top left corner."""

    number: int
    grade: Grade
    box: Box


def write_proof(pdf: Path, report: Report, target: Path) -> Path:
    """Write the proof of ``pdf`` to ``target``; it appears whole or not at all.

    The numbers are those of ``report.as_text()``. Pages without a finding are left out. A file
    that could not be read is not opened again: its proof is the list alone.

    Raises:
        LabelerError: if ``target`` can't be written.
    """
    writer = PdfWriter()
    numbered = list(enumerate(grouped(report.findings), 1))
    found = rings(numbered)
    if found and not _unread(report):
        _add_pages(writer, pdf, found)
    for page in PdfReader(io.BytesIO(_list(report, numbered))).pages:
        writer.add_page(page)
    writer.metadata = {"/Title": f"Proof of {report.file}"}
    _deliver(writer, target)
    return target


def _unread(report: Report) -> bool:
    return any(
        each.grade is Grade.STOP
        and (
            each.rule.startswith(_UNREAD) or (each.rule == "checker-failed" and not each.place.box)
        )
        for each in report.findings
    )


Numbered = Sequence[tuple[int, tuple[Finding, list[Finding]]]]


def rings(numbered: Numbered) -> dict[int, list[Ring]]:
    """Return what is ringed, by page: findings that have a place, each with its number."""
    notes = sum(1 for _, (one, _) in numbered if one.grade is Grade.NOTE)
    found: defaultdict[int, list[Ring]] = defaultdict(list)
    for number, (one, others) in numbered:
        if one.grade is Grade.NOTE and notes > _NOTES_RINGED:
            continue
        for each in (one, *others):
            if each.place.page is not None and each.place.box is not None:
                found[each.place.page].append(Ring(number, each.grade, each.place.box))
    return dict(found)


def picture(pdf: bytes, number: int, wide: int) -> bytes:
    """Return a page of a PDF as a picture (PNG), as PDFium draws it.

    Args:
        pdf: a file of our own; PDFium reads one at a time.
        number: the page's, from 1.
        wide: how many dots the picture has across.

    Raises:
        ValueError: if there is no such page, or PDFium can't read it.
    """
    opened = OpenPdf(pdf)
    try:
        across = opened.page(number, POINTS_PER_INCH).columns
        return opened.page(number, wide * POINTS_PER_INCH / across).png()
    finally:
        opened.close()


def _add_pages(writer: PdfWriter, pdf: Path, rings: dict[int, list[Ring]]) -> None:
    try:
        reader = PdfReader(pdf, strict=False)
        for number in sorted(rings)[:_MOST_PAGES]:
            if number <= len(reader.pages):
                page = writer.add_page(reader.pages[number - 1])
                page.merge_page(_overlay(page, rings[number]))
    except (PyPdfError, OSError, ValueError, KeyError, TypeError):
        return


def _overlay(page: PageObject, rings: Sequence[Ring]) -> Any:
    """Return a page with the rings alone, as large as ``page``."""
    left, bottom = float(page.cropbox.left), float(page.cropbox.bottom)
    right, top = float(page.cropbox.right), float(page.cropbox.top)
    raw = io.BytesIO()
    canvas = Canvas(raw, pagesize=(right, top), invariant=1)
    canvas.translate(left, bottom)
    for ring in sorted(rings, key=lambda each: each.grade is not Grade.NOTE):
        _draw(canvas, ring, top - bottom)
    canvas.showPage()
    canvas.save()
    return PdfReader(io.BytesIO(raw.getvalue())).pages[0]


def _draw(canvas: Any, ring: Ring, page_height: float) -> None:
    left, top, right, bottom = ring.box
    pad = 2.0
    x, y = left - pad, page_height - bottom - pad
    wide, high = right - left + 2 * pad, bottom - top + 2 * pad
    canvas.setStrokeColorRGB(*_INKS[ring.grade])
    canvas.setFillColorRGB(*_INKS[ring.grade])
    canvas.setLineWidth(0.9)
    canvas.roundRect(x, y, wide, high, min(4.0, high / 2))
    text = str(ring.number)
    canvas.setFont("Helvetica-Bold", 6.5)
    badge = canvas.stringWidth(text, "Helvetica-Bold", 6.5) + 4
    at_x, at_y = max(1.0, x - 1), min(page_height - 9, y + high - 3)
    canvas.roundRect(at_x, at_y, badge, 8, 2, stroke=0, fill=1)
    canvas.setFillColorRGB(1, 1, 1)
    canvas.drawString(at_x + 2, at_y + 2, text)


# ------------------------------------------------------------------------------------ the list


def _list(report: Report, numbered: Numbered) -> bytes:
    raw = io.BytesIO()
    canvas = Canvas(raw, pagesize=_PAPER, invariant=1)
    y = _PAPER[1] - _MARGIN
    for grade, text in _lines(report, numbered):
        if y < _MARGIN:
            canvas.showPage()
            y = _PAPER[1] - _MARGIN
        canvas.setFont("Helvetica-Bold" if grade else "Helvetica", _SIZE)
        canvas.setFillColorRGB(*(_INKS[grade] if grade else (0.1, 0.1, 0.1)))
        canvas.drawString(_MARGIN, y, _in_latin(text))
        y -= _LEADING
    canvas.showPage()
    canvas.save()
    return raw.getvalue()


def _in_latin(text: str) -> str:
    """Return a text in the letters that every PDF reader has a font for."""
    plain = text.replace("…", "...").replace("⁄", "/")
    return plain.encode("cp1252", "replace").decode("cp1252")


def _lines(report: Report, numbered: Numbered) -> Iterator[tuple[Grade | None, str]]:
    yield from ((None, line) for line in _folded(report.summary, ""))
    yield None, ""
    for number, (one, others) in numbered:
        yield one.grade, f"{number}  {one.grade.value.upper()}  {one.place}"
        details = [one.message, f"found: {one.found}" if one.found else "",
                   f"expected: {one.expected}" if one.expected else "",
                   f"also: {elsewhere(others)}" if others else "", one.hint,
                   f"[{one.rule}] {one.source}"]  # fmt: skip
        for detail in filter(None, details):
            yield from ((None, line) for line in _folded(detail, "     "))
        yield None, ""
    if report.not_checked:
        yield None, "Not checked:"
        for each in report.not_checked:
            yield from ((None, line) for line in _folded(f"- {each}", "  "))
        yield None, ""
    yield from ((None, line) for line in _folded(NO_LEGAL_ADVICE, ""))


def _folded(text: str, indent: str) -> list[str]:
    return textwrap.wrap(
        text, _LETTERS_A_LINE, initial_indent=indent, subsequent_indent=indent
    )  # fmt: skip


def _deliver(writer: PdfWriter, target: Path) -> None:
    part = target.with_name(f".{target.name[:40]}.{secrets.token_hex(6)}.part")
    try:
        if target.exists() and not target.is_file():
            raise LabelerError(_unwritable(target, "this is a folder or a device"))
        with part.open("xb") as file:
            writer.write(file)
            file.flush()
            os.fsync(file.fileno())
        part.replace(target)
    except OSError as error:
        raise LabelerError(_unwritable(target, error.strerror or str(error))) from error
    finally:
        with contextlib.suppress(OSError):
            part.unlink(missing_ok=True)


def _unwritable(target: Path, why: str) -> Finding:
    return stop("not-writable", Place(file=str(target)), f"the proof can't be written: {why}")
