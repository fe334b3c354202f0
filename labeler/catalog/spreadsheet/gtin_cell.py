"""Reading a GTIN from a cell: the number that spreadsheets spoil most.

A spreadsheet takes it for a quantity: noughts in front vanish, and a long one is shown, and
exported, as 9.52E+12, its last digits gone for good.
"""

from __future__ import annotations

import re

from labeler.catalog.gtin import LENGTHS, explain, prefix_kind
from labeler.catalog.spreadsheet.cells import CellError, Moment, Value
from labeler.catalog.spreadsheet.readers import plain_text

_AS_TEXT = 'Make the whole column "Text" in the spreadsheet, then type the digits again.'
_DIGITS = "8, 12, 13 or 14 digits"


def read_gtin(value: Value) -> str:
    """Return a valid GTIN; spaces and hyphens between its digits are forgiven.

    Raises:
        CellError: saying what the spreadsheet did to it, where that can be told.
    """
    if isinstance(value, bool | Moment):
        raise CellError("this is no GTIN", _DIGITS, _AS_TEXT)
    if isinstance(value, float) and not (value.is_integer() and abs(value) < 2**53):
        raise _spoiled()
    text = re.sub(r"[ -]", "", plain_text(value))
    if re.fullmatch(r"[0-9]+(?:[.,][0-9]*)?E\+?[0-9]+", text, re.IGNORECASE):
        raise _spoiled()
    if re.fullmatch(r"[0-9]+[.,]0*", text):
        raise CellError("a spreadsheet has turned this GTIN into a quantity", _DIGITS, _AS_TEXT)
    if fault := explain(text):
        raise CellError(f"this is no GTIN: {fault}", hint=_lost_noughts(text) or _rounded(text))
    if prefix_kind(text) == "reserved":
        raise CellError(
            "numbers that begin so name coupons, books or refunds, never goods", _DIGITS
        )
    return text


def _spoiled() -> CellError:
    return CellError(
        "a spreadsheet has rounded this GTIN, and its last digits are lost",
        _DIGITS,
        f"{_AS_TEXT} They are on your certificate.",
    )


def _lost_noughts(text: str) -> str:
    """Return the hint that noughts in front are gone, where putting them back makes a GTIN."""
    if not re.fullmatch("[0-9]{1,13}", text) or len(text) in LENGTHS:
        return ""
    length = next((one for one in (8, 12) if one > len(text)), 0)
    if length and length - len(text) <= _MOST_LOST and explain(text.zfill(length)) is None:
        lost = "a nought" if length - len(text) == 1 else "noughts"
        return f"It has lost {lost} in front: {text.zfill(length)} would be one. {_AS_TEXT}"
    return ""


def _rounded(text: str) -> str:
    """Return the hint that noughts at the end are what is left of lost digits."""
    if len(text) in LENGTHS and text.endswith("000"):
        return f"A spreadsheet may have rounded it. {_AS_TEXT} They are on your certificate."
    return ""


_MOST_LOST = 3
"""More noughts in front than this belong to no company's numbers."""
