"""Places to type in: an interactive form without any script.

Source: ISO 32000-1:2008, 12.7. What is typed stands in a whole embedded face, not a subset: the
letters of an order are not known when the form is printed.
"""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from labeler.press.leaf import Field
from labeler.press.pdf.fonts import whole_font
from labeler.press.pdf.objects import Entries, Name, PdfFile, Ref, entries, hex_string
from labeler.press.pdf.structure import PRINTED
from labeler.type.faces import typeface

_FACE = "sans-medium"
_SIZE = 9
_PAD = 2.0
_READ_ONLY, _MULTILINE = 1, 1 << 12
_QUADDING = {"left": 0, "centre": 1, "right": 2}
_INK = f"/Hand {_SIZE} Tf 0 g"


class Form:
    """The fields of one PDF in the making."""

    def __init__(self, file: PdfFile, own: Path | None) -> None:
        self._file = file
        self._own = own
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
            font = whole_font(self._file, typeface(_FACE, self._own).path)
            self._fonts = {"Font": {"Hand": font}}
        about = entries(
            "Annot", "Widget", FT=Name("Tx"), Rect=rectangle, F=PRINTED, DA=_INK, MK={},
            Ff=_READ_ONLY * field.fixed | _MULTILINE * field.lines, Q=_QUADDING[field.align],
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
        face = typeface(_FACE, self._own)
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
