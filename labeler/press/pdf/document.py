"""A PDF as a whole: its pages, what it says about itself, tags, links, fields, and files inside.

What an archive asks beyond the pages is written after ISO 19005-3 (PDF/A-3), level B, as restated
by others: part 3 differs from part 2 in that files of any kind may travel inside. The tests hold
books against a validator; the maker's own file is not validated, and nothing here is a
certificate.

Tags, links, named places and the outline: ISO 32000-1:2008, 12.3, 12.5.6.5, 14.7 and 14.8. Elements
are numbered when they are first met and written at the end, once all that lies in them is known.
The form has no script (12.7): what is typed stands in a whole embedded face, not a subset, since
the letters of an order are not known when the form is printed.
"""

from __future__ import annotations

import io
import os
import time
from array import array
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from html import escape
from pathlib import Path
from typing import BinaryIO
from urllib.parse import quote

from labeler.findings import Place, refusal
from labeler.geometry import Box, grown
from labeler.marks import Element, Field, Glyphs, Heading, Mark, rectangle
from labeler.press.impose import FRAME, MARK_WIDTH, Attachment, Ticket
from labeler.press.pdf.content import Content, Shared
from labeler.press.pdf.fonts import whole_font
from labeler.press.pdf.objects import Entries, Name, PdfFile, Ref, Value, entries, hex_string
from labeler.type.faces import typeface

_PRODUCER = "labeler, with the ReportLab library"
_KIDS_A_NODE = 64


class PdfDocument:
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
        self.shared = Shared(self.file, ticket.maker_folder)
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


_MAT, _EDGE, _WORDS, _QUIET = "#e9e6df", "#b8b2a6", "#8c2f1b", "#5c564c"
_FRAME_FACE, _FRAME_SIZE = "sans-semibold", 14.0


def preview_frame(sheet: Box, says: str, maker_folder: Path | None) -> Iterator[Mark]:
    """Yield what lies around the paper of a preview: a mat, and words that say what it is.

    Args:
        sheet: the paper and the frame around it, in points, y down.
        says: which page it is.
        maker_folder: the catalog folder, whose own fonts go before ours.
    """
    left, top, right, bottom = sheet
    yield rectangle(sheet, fill=_MAT)
    yield rectangle(grown(sheet, -FRAME), fill="#ffffff", stroke=_EDGE, width=MARK_WIDTH)
    most = right - left - FRAME
    for text, ink, base in (
        ("Preview, not for use", _WORDS, top + FRAME * 0.64), (says, _QUIET, bottom - FRAME * 0.40)
    ):  # fmt: skip
        shaped = typeface(_FRAME_FACE, maker_folder).shape(text)
        size = min(_FRAME_SIZE, most / shaped.width * 1000)
        width = shaped.width * size / 1000
        x = (left + right - width) / 2
        yield Glyphs(x, base, _FRAME_FACE, size, ink, shaped.text, width, shaped.shifts)


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
    texts = {"Title": ticket.title, "Author": ticket.author, "Subject": ticket.subject}
    texts |= {"Keywords": ticket.keywords, "Creator": "labeler", "Producer": _PRODUCER}
    about: Entries = {key: text for key, text in texts.items() if text}
    epoch = os.environ.get("SOURCE_DATE_EPOCH", "").strip()
    if epoch:
        try:
            date = time.strftime("D:%Y%m%d%H%M%SZ", time.gmtime(int(epoch)))
        except (ValueError, OverflowError, OSError) as error:
            raise refusal(
                "bad-setting",
                Place(key="SOURCE_DATE_EPOCH"),
                "this setting of your system is no time",
                expected="a whole number of seconds since 1970, or nothing",
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


PRINTED = 4
"""The flag that an annotation is printed with its page, which archives insist on."""


@dataclass(slots=True)
class _Node:
    ref: Ref
    parent: Ref
    element: Element
    page: Ref | None = None
    kids: list[Value] = field(default_factory=list)


class Tags:
    """The structure tree of one PDF in the making, and its marks on the page that was opened last.

    A page's marks are numbered in the order in which they are drawn.
    """

    def __init__(self, file: PdfFile, title: str) -> None:
        self._file = file
        self._root = file.reserve()
        self._document = _Node(file.reserve(), self._root, Element("Document", "", says=title))
        self._nodes: dict[str, _Node] = {}
        self._parents: list[list[Ref] | Ref] = []
        """What each page's marks, or each annotation, belong to, by its number in the tree."""
        self._page, self._owners = self._root, list[Ref]()

    def open_page(self, page: Ref) -> int:
        """Begin a page, and return its number in the parent tree."""
        self._page, self._owners = page, []
        self._parents.append(self._owners)
        return len(self._parents) - 1

    def mark(self, path: Sequence[Element]) -> int:
        """Return the number of a new marked passage on this page, in the element at ``path``."""
        node = self._node(path)
        mark = len(self._owners)
        self._owners.append(node.ref)
        node.page = node.page or self._page
        same = node.page == self._page
        node.kids.append(mark if same else entries("MCR", Pg=self._page, MCID=mark))
        return mark

    def _node(self, path: Sequence[Element]) -> _Node:
        """Return the innermost element's node, with all around it."""
        node = self._document
        for element in path:
            known = self._nodes.get(element.key)
            if known is None:
                known = _Node(self._file.reserve(), node.ref, element)
                self._nodes[element.key] = known
                node.kids.append(known.ref)
            node = known
        return node

    def own(self, path: Sequence[Element], annotation: Ref) -> int:
        """Put an annotation on this page into an element; return its number in the parent tree."""
        node = self._node(path)
        node.kids.append(entries("OBJR", Pg=self._page, Obj=annotation))
        self._parents.append(node.ref)
        return len(self._parents) - 1

    def finish(self) -> Entries:
        """Write the tree, and return the catalog's entries for it."""
        for node in (self._document, *self._nodes.values()):
            self._file.write(node.ref, _about(node))
        pairs = [value for pair in enumerate(self._parents) for value in pair]
        tree = self._file.add({"Nums": pairs})
        root = entries("StructTreeRoot", K=[self._document.ref], ParentTree=tree)
        self._file.write(self._root, root | {"ParentTreeNextKey": len(self._parents)})
        return entries(StructTreeRoot=self._root, MarkInfo={"Marked": True})


def _about(node: _Node) -> Entries:
    element = node.element
    about = entries("StructElem", S=Name(element.tag), P=node.parent, K=node.kids)
    if node.page is not None:
        about["Pg"] = node.page
    if element.says and element.tag != "Document":
        about["Alt"] = element.says
    table = entries(Scope=Name(element.scope)) if element.scope else {}
    if element.span > 1:
        table["ColSpan"] = element.span
    if table:  # ISO 32000-1:2008, 14.8.5.7
        about["A"] = entries(O=Name("Table")) | table
    return about


def link(rectangle: Sequence[float], target: str, says: str) -> Entries:
    """Return the entries of a link annotation.

    Args:
        rectangle: four numbers of the page.
        target: an address, or ``#`` and the name of a place.
        says: where it leads, in words.
    """
    about = entries("Annot", "Link", Rect=rectangle, Border=[0, 0, 0], F=PRINTED, Contents=says)
    if target.startswith("#"):
        return about | {"Dest": target[1:].encode("ascii")}
    # A URI action wants ASCII (ISO 32000-1:2008, 12.6.4.7).
    address = quote(target, safe=":/?#[]@!$&'()*+,;=%-._~").encode("ascii")
    return about | {"A": entries(S=Name("URI"), URI=address)}


def named_places(places: Entries) -> Entries:
    """Return the tree of named places; they stand sorted in it."""
    names = sorted((name.encode("ascii"), place) for name, place in places.items())
    return {"Names": [value for pair in names for value in pair]}


def outline(file: PdfFile, headings: Sequence[Heading]) -> Entries:
    """Write the outline, and return the catalog's entries for it."""
    if not headings:
        return {}
    root = file.reserve()
    first, last = _level(file, headings, root)
    file.write(root, entries("Outlines", First=first, Last=last, Count=len(headings)))
    return entries(Outlines=root, PageMode=Name("UseOutlines"))


def _level(file: PdfFile, headings: Sequence[Heading], parent: Ref) -> tuple[Ref, Ref]:
    """Write headings that stand on one level, closed, and return the first and the last."""
    refs = [file.reserve() for _ in headings]
    for place, heading in enumerate(headings):
        about = entries(Title=heading.title, Parent=parent, Dest=heading.anchor.encode("ascii"))
        if place:
            about["Prev"] = refs[place - 1]
        if place + 1 < len(refs):
            about["Next"] = refs[place + 1]
        if heading.under:
            first, last = _level(file, heading.under, refs[place])
            about |= entries(First=first, Last=last, Count=-len(heading.under))
        file.write(refs[place], about)
    return refs[0], refs[-1]


_FACE = "sans-medium"
_SIZE = 9
_PAD = 2.0
_READ_ONLY = 1
_QUADDING = {"left": 0, "centre": 1, "right": 2}
_INK = f"/Hand {_SIZE} Tf 0 g"


class Form:
    """The fields of one PDF in the making."""

    def __init__(self, file: PdfFile, maker_folder: Path | None) -> None:
        self._file = file
        self._maker_folder = maker_folder
        self._fonts: Entries = {}
        self._fields: list[Ref] = []
        self._drawn: dict[tuple[float, float, str, str], Ref] = {}

    def add(self, field: Field, ref: Ref, rectangle: Sequence[float], where: Entries) -> Ref:
        """Write a field under its reserved number, and return its reference.

        Args:
            field: what to type where.
            ref: the reference reserved for it.
            rectangle: its place on the page, as four numbers.
            where: the entries that tie it to its page and structure element.
        """
        if not self._fonts:
            font = whole_font(self._file, typeface(_FACE, self._maker_folder).path)
            self._fonts = {"Font": {"Hand": font}}
        about = entries(
            "Annot", "Widget", FT=Name("Tx"), Rect=rectangle, F=PRINTED, DA=_INK, MK={},
            Ff=_READ_ONLY * field.fixed, Q=_QUADDING[field.align],
            T=field.name, TU=field.says, V=field.value, DV=field.value,
            AP={"N": self._look(field)},
        )  # fmt: skip
        if field.most:
            about["MaxLen"] = field.most
        self._fields.append(ref)
        return self._file.write(ref, about | where)

    def _look(self, field: Field) -> Ref:
        """Return how the field looks as it is; fields that look alike share it."""
        left, top, right, bottom = field.box
        width, height = round(right - left, 2), round(bottom - top, 2)
        key = (width, height, field.value, field.align)
        if key not in self._drawn:
            shown = self._shown(field, width, height)
            about = entries("XObject", "Form", BBox=[0, 0, width, height], Resources=self._fonts)
            content = f"/Tx BMC {shown}EMC".encode("ascii")
            self._drawn[key] = self._file.add_stream(content, about)
        return self._drawn[key]

    def _shown(self, field: Field, width: float, height: float) -> str:
        if not field.value:
            return ""
        face = typeface(_FACE, self._maker_folder)
        letters = hex_string(field.value.encode("cp1252", "replace"))
        advance = sum(face.advance_of(letter) for letter in field.value) * _SIZE / 1000
        share = _QUADDING[field.align] / 2
        x = _PAD + max(0.0, width - 2 * _PAD - advance) * share
        y = (height - face.cap_height * _SIZE / 1000) / 2
        return f"q BT {_INK} {x:.2f} {y:.2f} Td {letters} Tj ET Q "

    def finish(self) -> Entries:
        """Return the catalog's entry for the form, none if there is no field."""
        if not self._fields:
            return {}
        return {"AcroForm": entries(Fields=self._fields, DA=_INK, DR=self._fonts)}
