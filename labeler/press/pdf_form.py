"""Places to type in: an interactive form without any script.

Source: ISO 32000-1:2008, 12.7. What is typed stands in a whole embedded face, not a subset: the
letters of an order are not known when the form is printed.
"""

from __future__ import annotations

from pathlib import Path

from labeler.press.leaf import Field
from labeler.press.pdf_file import PdfFile, text_string
from labeler.type.faces import Typeface, typeface

_FACE = "sans-medium"
_SIZE = 9.0
_PAD = 2.0
_READ_ONLY, _MULTILINE = 1, 1 << 12
_QUADDING = {"left": 0, "centre": 1, "right": 2}


class Form:
    """The fields of one PDF in the making."""

    def __init__(self, file: PdfFile, own: Path | None) -> None:
        self._file = file
        self._own = own
        self._font = 0
        self._fields: list[int] = []
        self._drawn: dict[tuple[float, float, str, str], int] = {}

    def add(self, field: Field, number: int, rectangle: str, where: str) -> None:
        """Write a field under its reserved number.

        Args:
            field: what to type where.
            number: the number reserved for it.
            rectangle: its place on the page, as four numbers.
            where: the entries that tie it to its page and structure element.
        """
        if not self._font:
            self._font = _whole_font(self._file, typeface(_FACE, self._own))
        flags = _READ_ONLY * field.fixed | _MULTILINE * field.lines
        most = f"/MaxLen {field.most}" if field.most else ""
        entries = (
            f"/Type/Annot/Subtype/Widget/FT/Tx/Rect[{rectangle}]/F 4/Ff {flags}"
            f"/T{text_string(field.name)}/TU{text_string(field.says)}/V{text_string(field.value)}"
            f"/DV{text_string(field.value)}/DA(/Hand {_SIZE} Tf 0 g)/Q {_QUADDING[field.align]}"
            f"{most}/MK<<>>/AP<</N {self._look(field)} 0 R>>{where}"
        )
        self._file.write(number, f"<<{entries}>>".encode("ascii"))
        self._fields.append(number)

    def _look(self, field: Field) -> int:
        """Return how the field looks as it is; fields that look alike share it."""
        left, top, right, bottom = field.box
        width, height = round(right - left, 2), round(bottom - top, 2)
        key = (width, height, field.value, field.align)
        if key not in self._drawn:
            shown = self._shown(field, width, height)
            self._drawn[key] = self._file.add_stream(
                f"/Tx BMC {shown}EMC".encode("ascii"),
                f"/Type/XObject/Subtype/Form/BBox[0 0 {width:.2f} {height:.2f}]"
                f"/Resources<</Font<</Hand {self._font} 0 R>>>>",
            )
        return self._drawn[key]

    def _shown(self, field: Field, width: float, height: float) -> str:
        if not field.value:
            return ""
        face = typeface(_FACE, self._own)
        letters = field.value.encode("cp1252", "replace")
        advance = sum(face.advance_of(letter) for letter in field.value) * _SIZE / 1000
        share = _QUADDING[field.align] / 2
        x = _PAD + max(0.0, width - 2 * _PAD - advance) * share
        y = (height - face.cap_height * _SIZE / 1000) / 2
        return f"q BT /Hand {_SIZE} Tf 0 g {x:.2f} {y:.2f} Td <{letters.hex()}> Tj ET Q "

    def finish(self) -> str:
        """Return the catalog's entry for the form, empty if there is no field."""
        if not self._fields:
            return ""
        fields = "\n".join(f"{number} 0 R" for number in self._fields)
        return (
            f"/AcroForm<</Fields[{fields}]/DA(/Hand {_SIZE} Tf 0 g)"
            f"/DR<</Font<</Hand {self._font} 0 R>>>>>>"
        )


def _whole_font(file: PdfFile, face: Typeface) -> int:
    """Embed all of a face under the Windows Latin code page (ISO 32000-1:2008, annex D)."""
    data = face.path.read_bytes()
    program = file.add_stream(data, f"/Length1 {len(data)}")
    letters = [bytes([code]).decode("cp1252", "replace") for code in range(32, 256)]
    widths = " ".join(f"{face.advance_of(letter):.0f}" for letter in letters)
    name = face.path.stem
    high, low = face.ascent, -face.descent
    descriptor = file.add(
        f"/Type/FontDescriptor/FontName/{name}/Flags 32/FontBBox[-200 {low - 100:.0f} 1100 "
        f"{high + 250:.0f}]/ItalicAngle 0/Ascent {high:.0f}/Descent {low:.0f}"
        f"/CapHeight {face.cap_height:.0f}/StemV 80/FontFile2 {program} 0 R"
    )
    return file.add(
        f"/Type/Font/Subtype/TrueType/BaseFont/{name}/FirstChar 32/LastChar 255/Widths[{widths}]"
        f"/Encoding/WinAnsiEncoding/FontDescriptor {descriptor} 0 R"
    )
