"""A PDF as a whole: its pages, what it says about itself, files that travel inside, an archive's.

What an archive asks beyond the pages is written after ISO 19005-3 (PDF/A-3), level B, as restated
by others: part 3 differs from part 2 in that files of any kind may travel inside. The tests hold
books against a validator; the maker's own file is not validated, and nothing here is a
certificate.
"""

from __future__ import annotations

import io
import os
import time
from array import array
from collections.abc import Iterable, Mapping
from typing import BinaryIO
from xml.sax.saxutils import escape

from labeler.findings import LabelerError, Place, stop
from labeler.geometry import Box
from labeler.press.impose import Attachment, Ticket
from labeler.press.pdf.content import Content, Shared
from labeler.press.pdf.objects import Entries, Name, PdfFile, Ref, Value, entries

_PRODUCER = "labeler, with the ReportLab library"
_KIDS_A_NODE = 64


class Document:
    """A PDF in the making. Pages go to the file as they are whole, fonts and the rest at the end.

    Args:
        target: a file open for writing; needs no seeking.
        ticket: title, language and the like.

    Raises:
        LabelerError: if the system's setting of the date is none.
    """

    def __init__(self, target: BinaryIO, ticket: Ticket) -> None:
        self._info = _info(ticket)
        self.file = PdfFile(target)
        self.shared = Shared(self.file, ticket.own)
        self.page_count = 0
        self._ticket = ticket
        self._tree = self.file.reserve()
        self._nodes = array("L")
        self._node = self._tree
        self._kids = array("L")

    def page_entries(self, boxes: Entries, content: Content) -> Entries:
        """Write a page's content, and return the entries of a page that shows it."""
        stream = self.file.add_stream(content.data())
        return boxes | entries(Contents=stream, Resources=content.resources())

    def add_page(self, about: Entries, ref: Ref | None = None) -> None:
        """Write a page with these entries after the last one.

        Args:
            about: what the page's dictionary holds beside its type and parent.
            ref: the reference that was reserved for it, if something points to it.
        """
        if not self._kids:
            self._node = self.file.reserve()
        page = entries("Page", Parent=self._node) | about
        self._kids.append(self.file.write(ref or self.file.reserve(), page))
        self.page_count += 1
        if len(self._kids) == _KIDS_A_NODE:
            self._close_node()

    def _close_node(self) -> None:
        if self._kids:
            self._write_node(self._node, len(self._kids), self._kids, Parent=self._tree)
            self._nodes.append(self._node)
            self._kids = array("L")

    def _write_node(self, ref: Ref, count: int, kids: Iterable[int], **more: Value) -> None:
        listed = [Ref(kid) for kid in kids]
        self.file.write(ref, entries("Pages", Count=count, Kids=listed, **more))

    def finish(
        self,
        about: Entries,
        attached: Iterable[Attachment] = (),
        places: Entries | None = None,
        archive: bool = False,
    ) -> None:
        """Write fonts, page tree, catalog and all else. Nothing may follow.

        Args:
            about: further entries of the catalog.
            attached: the files that travel inside.
            places: the tree of the named places, if there are any.
            archive: whether the file is built after PDF/A-3b.

        Raises:
            LabelerError: if a font can't be embedded.
        """
        self._close_node()
        self._write_node(self._tree, self.page_count, self._nodes)
        self.shared.fonts.finish()
        catalog = entries("Catalog", Pages=self._tree, Lang=self._ticket.language) | about
        names = entries(Dests=self.file.add(places)) if places else {}
        if files := self._attach(attached):
            names["EmbeddedFiles"] = {"Names": [value for pair in files for value in pair]}
            catalog["AF"] = [ref for _, ref in files]
        if names:
            catalog["Names"] = names
        if archive:
            catalog |= self._archive()
        self.file.finish(self.file.add(catalog), self.file.add(self._info))

    def _attach(self, files: Iterable[Attachment]) -> list[tuple[str, Ref]]:
        """Write the files that travel inside, and return each one's name and specification.

        Source: ISO 32000-1:2008, 7.11.4; AFRelationship is ISO 32000-2:2020, table 43.
        """
        attached: list[tuple[str, Ref]] = []
        for one in sorted(files, key=lambda one: one.name):
            dated = {"ModDate": f"D:{one.day.replace('-', '')}000000Z"} if one.day else {}
            about = entries(Size=len(one.data)) | dated
            kind = entries("EmbeddedFile", Subtype=Name(one.media_type), Params=about)
            data = self.file.add_stream(one.data, kind)
            where = entries("Filespec", F=one.name, UF=one.name, EF=entries(F=data, UF=data))
            where["AFRelationship"] = Name("Data")
            says = {"Desc": one.says} if one.says else {}
            attached.append((one.name, self.file.add(where | says)))
        return attached

    def _archive(self) -> Entries:
        """Write description and colour profile, and return the catalog's entries for them."""
        # A description is never compressed, so that it is found by who knows nothing of PDF.
        kind = entries("Metadata", "XML")
        described = self.file.add_stream(_description(self._ticket), kind, packed=True)
        intent = entries(
            "OutputIntent", S=Name("GTS_PDFA1"), OutputConditionIdentifier="sRGB", Info="sRGB",
            DestOutputProfile=self.file.add_stream(_screen_profile(), {"N": 3}),
        )  # fmt: skip
        return entries(Metadata=described, OutputIntents=[intent])


def page_boxes(media: Box, bleed: Box, trim: Box) -> Entries:
    """Return a page's boxes, each inside the one before, as left, bottom, right, top."""
    boxes = {"MediaBox": media, "BleedBox": bleed, "TrimBox": trim}
    return {name: [round(edge, 4) for edge in box] for name, box in boxes.items()}


def page_labels(labels: Mapping[int, Entries]) -> Entries:
    """Return the catalog's entry for page labels (ISO 32000-1:2008, 12.4.2).

    Args:
        labels: for the pages from which on it changes, counted from 0: how they are labelled.
    """
    return {"PageLabels": {"Nums": [value for pair in labels.items() for value in pair]}}


def _info(ticket: Ticket) -> Entries:
    """Return the information dictionary.

    There is a date only where ``SOURCE_DATE_EPOCH`` gives one: a clock would make the same
    labels into another file each second.
    """
    said = {"Title": ticket.title, "Author": ticket.author, "Subject": ticket.subject}
    said |= {"Keywords": ticket.keywords, "Creator": "labeler", "Producer": _PRODUCER}
    about: Entries = {key: text for key, text in said.items() if text}
    epoch = os.environ.get("SOURCE_DATE_EPOCH", "").strip()
    if epoch:
        try:
            date = time.strftime("D:%Y%m%d%H%M%SZ", time.gmtime(int(epoch)))
        except (ValueError, OverflowError, OSError) as error:
            raise LabelerError(
                stop(
                    "bad-setting",
                    Place(key="SOURCE_DATE_EPOCH"),
                    "this setting of your system is no time",
                    expected="a whole number of seconds since 1970, or nothing",
                )
            ) from error
        about |= entries(CreationDate=date, ModDate=date)
    return about | {"Trapped": Name("False")}


def _screen_profile() -> bytes:
    """Return an ICC profile of sRGB (IEC 61966-2-1)."""
    from PIL import ImageCms

    stream = io.BytesIO(ImageCms.ImageCmsProfile(ImageCms.createProfile("sRGB")).tobytes())
    data = bytearray(stream.getvalue())
    data[24:36] = bytes([7, 209, 0, 1, 0, 1, 0, 0, 0, 0, 0, 0])  # its date: the same each time
    return bytes(data)


def _description(ticket: Ticket) -> bytes:
    title, author = escape(ticket.title), escape(ticket.author)
    language, subject = escape(ticket.language), escape(ticket.subject)
    keywords = f"<pdf:Keywords>{ticket.keywords}</pdf:Keywords>\n" if ticket.keywords else ""
    return f"""<?xpacket begin="\N{ZERO WIDTH NO-BREAK SPACE}" id="W5M0MpCehiHzreSzNTczkc9d"?>
<x:xmpmeta xmlns:x="adobe:ns:meta/">
<rdf:RDF xmlns:rdf="http://www.w3.org/1999/02/22-rdf-syntax-ns#">
<rdf:Description rdf:about="" xmlns:pdfaid="http://www.aiim.org/pdfa/ns/id/"
 xmlns:dc="http://purl.org/dc/elements/1.1/" xmlns:xmp="http://ns.adobe.com/xap/1.0/"
 xmlns:pdf="http://ns.adobe.com/pdf/1.3/">
<pdfaid:part>3</pdfaid:part><pdfaid:conformance>B</pdfaid:conformance>
<dc:title><rdf:Alt><rdf:li xml:lang="x-default">{title}</rdf:li></rdf:Alt></dc:title>
<dc:creator><rdf:Seq><rdf:li>{author}</rdf:li></rdf:Seq></dc:creator>
<dc:description><rdf:Alt><rdf:li xml:lang="x-default">{subject}</rdf:li></rdf:Alt></dc:description>
<dc:language><rdf:Bag><rdf:li>{language}</rdf:li></rdf:Bag></dc:language>
<xmp:CreatorTool>labeler</xmp:CreatorTool>
{keywords}<pdf:Producer>{_PRODUCER}</pdf:Producer>
</rdf:Description></rdf:RDF></x:xmpmeta>
<?xpacket end="w"?>""".encode()
