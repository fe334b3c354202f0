"""Texts as they are kept in the ledger, and as they are compared."""

from __future__ import annotations

import unicodedata

from labeler.findings import LabelerError, Place, stop

LONGEST = 200
"""Characters in a name, a supplier's lot or a key."""


def a_line(text: str, key: str, *, may_lack: bool = False, longest: int = LONGEST) -> str:
    """Return ``text`` in one line without blanks at its ends.

    Args:
        text: what the maker wrote.
        key: what the text is, for the finding.
        may_lack: whether it may be empty.
        longest: the most characters it may have.

    Raises:
        LabelerError: if it is empty, too long, or holds characters that no file can keep.
    """
    line = " ".join(text.split())
    if not (line or may_lack) or max(len(line), len(_plain(line))) > longest or _odd(line):
        raise LabelerError(
            stop(
                "ledger-text",
                Place(key=key),
                f"this cannot be kept as {key}",
                found=ascii(line[:60]),
                expected=f"{'' if may_lack else '1 to '}{longest} characters in one line",
            )
        )
    return line


def fold(text: str) -> str:
    """Return ``text`` for comparing: case, width of letters, blanks and punctuation left out.

    ``HK-2291``, ``hk 2291`` and ``HK2291`` are one supplier's lot.
    """
    plain = _plain(text)
    kept = "".join(letter for letter in plain if letter.isalnum())
    return kept or plain.strip()


def _plain(text: str) -> str:
    """Return ``text`` without case and width; a ligature or a sharp s makes it longer."""
    return unicodedata.normalize("NFKC", text).casefold()


def _odd(line: str) -> bool:
    """Tell whether a text holds a letter that steers instead of being shown."""
    shown = line.isprintable()
    return not shown and any(unicodedata.category(letter) in ("Cc", "Cs") for letter in line)
