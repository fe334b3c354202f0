"""What a PDF says about itself: title, language, page labels, how to print it."""

from __future__ import annotations

import os
import time

from labeler.press.impose import Attachment, Imposition, Ticket
from labeler.press.pdf_file import PdfFile, text_string

_PRODUCER = "labeler, with the ReportLab library"


def info_entries(ticket: Ticket) -> str:
    """Return the information dictionary's entries.

    There is a date only where ``SOURCE_DATE_EPOCH`` gives one: a clock would make the same
    labels into another file each second.
    """
    said = {"Title": ticket.title, "Author": ticket.author, "Subject": ticket.subject}
    said |= {"Keywords": ticket.keywords, "Creator": "labeler", "Producer": _PRODUCER}
    entries = "".join(f"/{key}{text_string(text)}" for key, text in said.items() if text)
    epoch = os.environ.get("SOURCE_DATE_EPOCH", "").strip()
    if epoch:
        date = time.strftime("D:%Y%m%d%H%M%SZ", time.gmtime(int(epoch)))
        entries += f"/CreationDate({date})/ModDate({date})"
    return entries + "/Trapped/False"


def catalog_entries(file: PdfFile, plan: Imposition, ticket: Ticket) -> str:
    """Return the catalog's entries beside the pages."""
    return (
        f"/Lang{text_string(ticket.language)}"
        f"/ViewerPreferences{viewer_preferences(plan, ticket)}"
        f"/PageLabels<</Nums[{page_labels(plan, ticket)}]>>"
        f"{attached(file, ticket.attached)}"
    )


def viewer_preferences(plan: Imposition, ticket: Ticket) -> str:
    """Ask the viewer to print at true size, on the right sides, one of each.

    Source: ISO 32000-1:2008, table 150; Enforce is ISO 32000-2:2020, table 147.
    """
    duplex = "Simplex"
    if plan.has_backs and ticket.printer.feed == "auto":
        duplex = "DuplexFlipLongEdge" if plan.flip == "long-edge" else "DuplexFlipShortEdge"
    return (
        "<</DisplayDocTitle true/PrintScaling/None/Enforce[/PrintScaling]"
        f"/Duplex/{duplex}/PickTrayByPDFSize true/NumCopies 1>>"
    )


def page_labels(plan: Imposition, ticket: Ticket) -> str:
    """Return the page labels: ``sheet 1``, or ``sheet 1 front`` and ``sheet 1 back``.

    Source: ISO 32000-1:2008, 12.4.2.
    """
    if not plan.has_backs:
        return f"0<</S/D/P{text_string('sheet ')}>>"
    if ticket.printer.feed == "hand":
        front, back = text_string("front of sheet "), text_string("back of sheet ")
        return f"0<</S/D/P{front}>>{plan.sheet_count}<</S/D/P{back}>>"
    return "\n".join(
        f"{2 * (sheet - 1) + page}<</P{text_string(f'sheet {sheet} {side}')}>>"
        for sheet in range(1, plan.sheet_count + 1)
        for page, side in enumerate(("front", "back"))
    )


def attached(file: PdfFile, files: tuple[Attachment, ...], named: str = "") -> str:
    """Write the files that travel inside, and return the catalog's entries for them.

    Source: ISO 32000-1:2008, 7.11.4; AFRelationship is ISO 32000-2:2020, table 43.

    Args:
        file: the PDF.
        files: what travels inside.
        named: further entries of the dictionary of names.
    """
    if not files:
        return f"/Names<<{named}>>" if named else ""
    names, numbers = [], []
    for one in sorted(files, key=lambda one: text_string(one.name)):
        kind = "".join(
            letter if letter.isalnum() else f"#{ord(letter):02X}" for letter in one.media_type
        )
        dated = f"/ModDate(D:{one.day.replace('-', '')}000000Z)" if one.day else ""
        data = file.add_stream(
            one.data, f"/Type/EmbeddedFile/Subtype/{kind}/Params<</Size {len(one.data)}{dated}>>"
        )
        name = text_string(one.name)
        says = f"/Desc{text_string(one.says)}" if one.says else ""
        number = file.add(
            f"/Type/Filespec/F{name}/UF{name}{says}/AFRelationship/Data"
            f"/EF<</F {data} 0 R/UF {data} 0 R>>"
        )
        names.append(f"{name} {number} 0 R")
        numbers.append(f"{number} 0 R")
    inside = f"/EmbeddedFiles<</Names[{' '.join(names)}]>>"
    return f"/Names<<{named}{inside}>>/AF[{' '.join(numbers)}]"
