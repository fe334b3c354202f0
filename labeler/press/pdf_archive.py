"""What an archive asks of a PDF beyond its pages: a description in XMP and a colour profile.

Written after ISO 19005-3 (PDF/A-3), level B, as restated by others: part 3 differs from part 2 in
that files of any kind may travel inside. The tests hold books against a validator; the maker's own
file is not validated, and nothing here is a certificate.
"""

from __future__ import annotations

import io
from xml.sax.saxutils import escape

from labeler.press.impose import Ticket
from labeler.press.pdf_file import PdfFile

PRODUCER = "labeler, with the ReportLab library"


def archive_entries(file: PdfFile, ticket: Ticket) -> str:
    """Write description and colour profile, and return the catalog's entries for them."""
    # A description is never compressed, so that it is found by who knows nothing of PDF.
    data = _description(ticket).encode("utf-8")
    described = file.add_stream(data, "/Type/Metadata/Subtype/XML", packed=True)
    profile = file.add_stream(_screen_profile(), "/N 3")
    intent = (
        f"<</Type/OutputIntent/S/GTS_PDFA1/OutputConditionIdentifier(sRGB)/Info(sRGB)"
        f"/DestOutputProfile {profile} 0 R>>"
    )
    return f"/Metadata {described} 0 R/OutputIntents[{intent}]"


def _screen_profile() -> bytes:
    """Return an ICC profile of sRGB (IEC 61966-2-1)."""
    from PIL import ImageCms

    stream = io.BytesIO(ImageCms.ImageCmsProfile(ImageCms.createProfile("sRGB")).tobytes())
    data = bytearray(stream.getvalue())
    data[24:36] = bytes([7, 209, 0, 1, 0, 1, 0, 0, 0, 0, 0, 0])  # its date: the same each time
    return bytes(data)


def _description(ticket: Ticket) -> str:
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
{keywords}<pdf:Producer>{PRODUCER}</pdf:Producer>
</rdf:Description></rdf:RDF></x:xmpmeta>
<?xpacket end="w"?>"""
