"""What each code of a font reads as: the ToUnicode map, as archives and readers want it.

The library that cuts the fonts writes a map of its own, which maps code 0 to no letter at all,
puts more than a hundred entries into one block, and has no way to say a letter beyond U+FFFF.
Source: ISO 32000-1:2008, 9.10.3; Adobe Technical Note 5014 (CMap and CIDFont Files), 1.4.1, for the
hundred; ISO 19005-2:2011, 6.2.11.7.2, for the values that may not stand there.
"""

from __future__ import annotations

import re

_ENTRY = re.compile(r"^<([0-9A-F]+)> <([0-9A-F]{4,})>$", re.MULTILINE)
_BEGIN, _END = "begincmap", "endcodespacerange"
_NO_LETTERS = frozenset({0x0000, 0xFEFF, 0xFFFE})
_MOST = 100


def is_to_unicode(content: str | bytes) -> bool:
    """Tell whether a stream of the library's is such a map."""
    return isinstance(content, str) and _BEGIN in content


def tidied(cmap: str) -> bytes:
    """Return the library's map with the same letters, as the standards want it."""
    head, _, tail = cmap.partition(_END)
    pairs = [(code, int(letter, 16)) for code, letter in _ENTRY.findall(tail)]
    said = [f"<{code}> <{_utf_16(letter)}>" for code, letter in pairs if letter not in _NO_LETTERS]
    blocks = [said[first : first + _MOST] for first in range(0, len(said), _MOST)]
    lines = [line for block in blocks
             for line in (f"{len(block)} beginbfchar", *block, "endbfchar")]  # fmt: skip
    end = tail.partition("endbfchar\n")[2]
    return "\n".join([head + _END, *lines, end]).encode("ascii")


def _utf_16(letter: int) -> str:
    return chr(letter).encode("utf-16-be").hex().upper()
