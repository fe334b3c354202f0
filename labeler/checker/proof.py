"""The proof: what was found on one page, then every page with a finding, ringed and numbered.

Where the findings in full are longer than a page, they stand behind the ringed pages.
"""

from __future__ import annotations

import contextlib
import io
import os
import secrets
from collections import defaultdict
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Any

from pypdf import PageObject, PdfReader, PdfWriter
from pypdf.errors import PyPdfError
from reportlab.lib.utils import simpleSplit
from reportlab.pdfbase import pdfmetrics
from reportlab.pdfbase.ttfonts import TTFont
from reportlab.pdfgen.canvas import Canvas

from labeler.checker.page.rendering import OpenPdf
from labeler.checker.report import Report, elsewhere, grouped
from labeler.disclosures.rules import NO_LEGAL_ADVICE
from labeler.findings import Finding, Grade, LabelerError, Place, stop
from labeler.geometry import Box
from labeler.type.faces import typeface
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
_WIDTH = _PAPER[0] - 2 * _MARGIN
_NUMBER, _PAGES = 26.0, 92.0
"""Points: for a finding's number, and for where it is, in the summary."""

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
    that could not be read is not opened again: its proof is what was found alone.

    Raises:
        LabelerError: if ``target`` can't be written.
    """
    writer = PdfWriter()
    numbered = list(enumerate(grouped(report.findings), 1))
    found = rings(numbered)
    first, rest = _told(report, numbered)
    writer.append(io.BytesIO(first))
    if found and not _unread(report):
        _add_pages(writer, pdf, found)
    if rest:
        writer.append(io.BytesIO(rest))
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
    at: defaultdict[Box, list[Ring]] = defaultdict(list)
    for ring in rings:
        left_, top_, right_, bottom_ = (round(side, 1) for side in ring.box)
        at[left_, top_, right_, bottom_].append(ring)
    gravest = {box: min((each.grade for each in of), key=_ORDER.index) for box, of in at.items()}
    for box in sorted(at, key=lambda one: -_ORDER.index(gravest[one])):
        numbers = sorted({each.number for each in at[box]})
        _draw(canvas, _ranges(numbers), gravest[box], box, top - bottom)
    canvas.showPage()
    canvas.save()
    return PdfReader(io.BytesIO(raw.getvalue())).pages[0]


def _ranges(numbers: Sequence[int]) -> str:
    """Return numbers in short: 1 to 5 and 8 are ``1–5, 8``."""
    runs: list[list[int]] = []
    for number in numbers:
        if runs and number == runs[-1][-1] + 1:
            runs[-1].append(number)
        else:
            runs.append([number])
    return ", ".join(
        f"{run[0]}–{run[-1]}" if len(run) > 2 else ", ".join(map(str, run)) for run in runs
    )


def _draw(canvas: Any, text: str, grade: Grade, box: Box, page_height: float) -> None:
    """Draw a ring, and the numbers of what was found there on its upper edge."""
    left, top, right, bottom = box
    pad = 2.0 if min(right - left, bottom - top) < _WHOLE else -0.8
    x, y = left - pad, page_height - bottom - pad
    wide, high = right - left + 2 * pad, bottom - top + 2 * pad
    canvas.setStrokeColorRGB(*_INKS[grade])
    canvas.setFillColorRGB(*_INKS[grade])
    canvas.setLineWidth(0.9)
    canvas.roundRect(x, y, wide, high, min(4.0, high / 2))
    face = _face("sans-semibold")
    canvas.setFont(face, 7.5)
    badge = canvas.stringWidth(text, face, 7.5) + 5
    at_x, at_y = max(1.0, x - 1), min(page_height - 10, y + high - 4)
    canvas.roundRect(at_x, at_y, badge, 9, 2, stroke=0, fill=1)
    canvas.setFillColorRGB(1, 1, 1)
    canvas.drawString(at_x + 2.5, at_y + 2, text)


_WHOLE = 60.0
"""Points: what is larger is a whole piece, whose neighbors may be ringed too."""

# ------------------------------------------------------------------------------------ in words

_ORDER = (Grade.STOP, Grade.FIX, Grade.NOTE)
_INK = (0.09, 0.08, 0.06)
_PLAIN, _STRONG, _NAME = "sans", "sans-semibold", "serif-semibold"


@cache
def _face(name: str) -> str:
    """Return what the PDF library calls one of the house's faces, made known to it."""
    known = f"labeler-{name}"
    pdfmetrics.registerFont(TTFont(known, str(typeface(name).path)))
    return known


@dataclass(frozen=True, slots=True)
class _Line:
    """One line of words: how far from the left margin, in which face, size and ink."""

    text: str
    indent: float = 0.0
    face: str = _PLAIN
    size: float = 9.0
    ink: tuple[float, float, float] = _INK
    beside: str = ""
    """What stands at the right edge of the same line."""
    lead: str = ""
    """What stands at the left margin before it, and in which ink."""
    lead_ink: tuple[float, float, float] = _INK
    space: float = 0.0
    """Points above it; a line with any begins a paragraph, which stays on one page."""
    rule: bool = False

    @property
    def height(self) -> float:
        return self.size * 1.3 + self.space


def _told(report: Report, numbered: Numbered) -> tuple[bytes, bytes]:
    """Return the page that comes first, and what goes behind the ringed pages, if anything."""
    head = list(_head(report, numbered))
    full = [*_found(numbered), *_not_checked(report)]
    room = _PAPER[1] - 2 * _MARGIN
    if sum(line.height for line in (*head, *full)) <= room:
        return _set([*head, *full]), b""
    room -= sum(line.height for line in head) + 24
    short = []
    for number, (one, others) in numbered:
        lines = list(_in_short(number, one, others))
        room -= sum(line.height for line in lines)
        if room < 0:
            short.append(_Line(f"and {len(numbered) - number + 1} more, told at the end",
                               _NUMBER, space=6))  # fmt: skip
            break
        short += lines
    return _set([*head, *short]), _set([_Line("All that was found", 0, _NAME, 17), *full])


def _head(report: Report, numbered: Numbered) -> Iterator[_Line]:
    yield _Line("PROOF", 0, _STRONG, 8)
    verdict = "Do not print" if report.stops else "Nothing stops the press"
    ink = _INKS[Grade.STOP] if report.stops else _INK
    yield _Line(verdict, 0, _NAME, 26, ink)
    for text in _wrapped(report.summary, _PLAIN, 9.5, _WIDTH):
        yield _Line(text, 0, _PLAIN, 9.5)
    kinds = {grade: sum(one.grade is grade for _, (one, _) in numbered) for grade in _ORDER}
    words = {Grade.STOP: "to stop for", Grade.FIX: "to fix", Grade.NOTE: "to know"}
    told = ", ".join(f"{kinds[grade]} {words[grade]}" for grade in _ORDER if kinds[grade])
    yield _Line(f"What was found: {told}" if told else "Nothing was found", 0, _STRONG, 11,
                space=12, rule=True)  # fmt: skip


def _in_short(number: int, one: Finding, others: Sequence[Finding]) -> Iterator[_Line]:
    """Yield a finding of the summary: its message, and on which pages it is ringed."""
    width = _WIDTH - _NUMBER - _PAGES
    pages = sorted({each.place.page for each in (one, *others) if each.place.page is not None})
    where = f"page {_ranges(pages)}" if pages else ""
    first, *more = _wrapped(one.message, _PLAIN, 9, width)
    yield _Line(first, _NUMBER, beside=where, lead=str(number), lead_ink=_INKS[one.grade], space=5)
    yield from (_Line(text, _NUMBER) for text in more)


def _found(numbered: Numbered) -> Iterator[_Line]:
    width = _WIDTH - _NUMBER
    for number, (one, others) in numbered:
        lead = f"{number}  {one.grade.value.upper()}  {one.place}"
        for at, text in enumerate(_wrapped(lead, _STRONG, 9.5, width)):
            yield _Line(text, 0, _STRONG, 9.5, _INKS[one.grade], space=0 if at else 9)
        details = [one.message, f"found: {one.found}" if one.found else "",
                   f"expected: {one.expected}" if one.expected else "",
                   f"also: {elsewhere(others)}" if others else "", one.hint,
                   f"[{one.rule}] {one.source}"]  # fmt: skip
        for detail in filter(None, details):
            yield from (_Line(text, _NUMBER) for text in _wrapped(detail, _PLAIN, 9, width))


def _not_checked(report: Report) -> Iterator[_Line]:
    width = _WIDTH - _NUMBER
    if report.not_checked:
        yield _Line("Not checked", 0, _STRONG, 11, space=14, rule=True)
        for each in report.not_checked:
            for at, text in enumerate(_wrapped(each, _PLAIN, 9, width)):
                yield _Line(text, _NUMBER, space=0 if at else 2)
    for at, text in enumerate(_wrapped(NO_LEGAL_ADVICE, _PLAIN, 9, _WIDTH)):
        yield _Line(text, 0, space=0 if at else 12)


def _wrapped(text: str, face: str, size: float, width: float) -> list[str]:
    """Return a text in lines; a letter that the face lacks is shown as a question mark."""
    known = typeface(face)
    plain = "".join(each if each.isspace() or known.glyph_of(each) else "?" for each in text)
    return list(simpleSplit(plain, _face(face), size, width))


def _set(lines: Sequence[_Line]) -> bytes:
    """Return lines on as many pages as they take, each paragraph on one."""
    raw = io.BytesIO()
    canvas = Canvas(raw, pagesize=_PAPER, invariant=1)
    y = _PAPER[1] - _MARGIN
    for number, line in enumerate(lines):
        paragraph = line.height
        for after in lines[number + 1 :]:
            if after.space:
                break
            paragraph += after.height
        if (
            line.space and y - min(paragraph, _PAPER[1] / 2) < _MARGIN
        ) or y - line.height < _MARGIN:
            canvas.showPage()
            y = _PAPER[1] - _MARGIN
        y -= line.height
        canvas.setFillColorRGB(*line.ink)
        canvas.setFont(_face(line.face), line.size)
        canvas.drawString(_MARGIN + line.indent, y + line.size * 0.3, line.text)
        if line.beside:
            canvas.drawRightString(_PAPER[0] - _MARGIN, y + line.size * 0.3, line.beside)
        if line.lead:
            canvas.setFillColorRGB(*line.lead_ink)
            canvas.setFont(_face(_STRONG), line.size)
            canvas.drawString(_MARGIN, y + line.size * 0.3, line.lead)
        if line.rule:
            canvas.setLineWidth(0.5)
            canvas.line(_MARGIN, y - 1.5, _PAPER[0] - _MARGIN, y - 1.5)
    canvas.showPage()
    canvas.save()
    return raw.getvalue()


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
