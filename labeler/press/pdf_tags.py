"""The structure of a tagged PDF: which marks are a heading, a cell, a figure, in reading order.

Source: ISO 32000-1:2008, 14.7 and 14.8. Elements are numbered when they are first met and
written at the end, once all that lies in them is known.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

from labeler.press.leaf import Element
from labeler.press.pdf_file import PdfFile, text_string


@dataclass(slots=True)
class _Node:
    number: int
    parent: int
    element: Element
    page: int = 0
    kids: list[str] = field(default_factory=list)


class Tags:
    """The structure tree of one PDF in the making."""

    def __init__(self, file: PdfFile, title: str) -> None:
        self._file = file
        self._root = file.reserve()
        self._document = _Node(file.reserve(), self._root, Element("Document", "", says=title))
        self._nodes: dict[str, _Node] = {}
        self._parents: list[str] = []
        """What each page's marks, or each annotation, belong to, by its number in the tree."""

    def open_page(self, page: int) -> TaggedPage:
        """Begin the page whose object number is ``page``."""
        self._parents.append("")
        return TaggedPage(self, page, len(self._parents) - 1)

    def close_page(self, page: TaggedPage) -> None:
        """Keep which element each of the page's marks belongs to."""
        self._parents[page.key] = f"[{' '.join(f'{number} 0 R' for number in page.owners)}]"

    def node(self, path: Sequence[Element]) -> _Node:
        """Return the innermost element's node, with all around it."""
        node = self._document
        for element in path:
            known = self._nodes.get(element.key)
            if known is None:
                known = _Node(self._file.reserve(), node.number, element)
                self._nodes[element.key] = known
                node.kids.append(f"{known.number} 0 R")
            node = known
        return node

    def own(self, path: Sequence[Element], page: int, annotation: int) -> int:
        """Put an annotation into an element, and return its number in the parent tree."""
        node = self.node(path)
        node.kids.append(f"<</Type/OBJR/Pg {page} 0 R/Obj {annotation} 0 R>>")
        self._parents.append(f"{node.number} 0 R")
        return len(self._parents) - 1

    def finish(self) -> str:
        """Write the tree, and return the catalog's entries for it."""
        for node in (self._document, *self._nodes.values()):
            self._write(node)
        pairs = "\n".join(f"{key} {what}" for key, what in enumerate(self._parents))
        parents = self._file.add(f"/Nums[{pairs}]")
        body = (
            f"<</Type/StructTreeRoot/K[{self._document.number} 0 R]"
            f"/ParentTree {parents} 0 R/ParentTreeNextKey {len(self._parents)}>>"
        )
        self._file.write(self._root, body.encode("ascii"))
        return f"/StructTreeRoot {self._root} 0 R/MarkInfo<</Marked true>>"

    def _write(self, node: _Node) -> None:
        element = node.element
        said = (
            f"/Alt{text_string(element.says)}" if element.says and element.tag != "Document" else ""
        )
        page = f"/Pg {node.page} 0 R" if node.page else ""
        body = (
            f"<</Type/StructElem/S/{element.tag}/P {node.parent} 0 R{page}{said}"
            f"{_attributes(element)}/K[{' '.join(node.kids)}]>>"
        )
        self._file.write(node.number, body.encode("ascii"))


def _attributes(element: Element) -> str:
    """Return the table attributes (ISO 32000-1:2008, 14.8.5.7)."""
    parts = f"/Scope/{element.scope}" if element.scope else ""
    parts += f"/ColSpan {element.span}" if element.span > 1 else ""
    return f"/A<</O/Table{parts}>>" if parts else ""


class TaggedPage:
    """One page's marks, numbered in the order in which they are drawn."""

    def __init__(self, tags: Tags, page: int, key: int) -> None:
        self._tags = tags
        self.page = page
        self.key = key
        self.owners: list[int] = []

    def begin(self, path: Sequence[Element]) -> str:
        """Return the operator that opens a marked passage in the element at ``path``."""
        node = self._tags.node(path)
        mark = len(self.owners)
        self.owners.append(node.number)
        node.page = node.page or self.page
        if node.page == self.page:
            node.kids.append(str(mark))
        else:
            node.kids.append(f"<</Type/MCR/Pg {self.page} 0 R/MCID {mark}>>")
        return f"/{path[-1].tag}<</MCID {mark}>>BDC"

    def own(self, path: Sequence[Element], annotation: int) -> int:
        """Put an annotation on this page into the element at ``path``."""
        return self._tags.own(path, self.page, annotation)
