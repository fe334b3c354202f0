"""What a PDF is beside its looks: its tags in reading order, links, named places and outline.

Source: ISO 32000-1:2008, 12.3, 12.5.6.5, 14.7 and 14.8. Elements are numbered when they are first
met and written at the end, once all that lies in them is known.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from urllib.parse import quote

from labeler.press.leaf import Element, Heading
from labeler.press.pdf.objects import Entries, Name, PdfFile, Ref, Value, entries

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
    said = entries("StructElem", S=Name(element.tag), P=node.parent, K=node.kids)
    if node.page is not None:
        said["Pg"] = node.page
    if element.says and element.tag != "Document":
        said["Alt"] = element.says
    table = entries(Scope=Name(element.scope)) if element.scope else {}
    if element.span > 1:
        table["ColSpan"] = element.span
    if table:  # ISO 32000-1:2008, 14.8.5.7
        said["A"] = entries(O=Name("Table")) | table
    return said


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
