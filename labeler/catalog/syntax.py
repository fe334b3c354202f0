"""What tomllib says of an unsound file, in a maker's words, with the line that it stands on."""

from __future__ import annotations

import re

from labeler.catalog.whereabouts import key_text, look_over
from labeler.catalog.wording import shown
from labeler.findings import Finding, Place, stop

_SPOT = re.compile(r"\(at (?:line (\d+), column (\d+)|end of document)\)$")

_DOUBLED = ("Cannot", "Duplicate")
_NEVER_CLOSED = ("Unterminated string", "Expected \"'")

_IN_PLAIN_WORDS = (
    ("Invalid value", "a value is expected here", 'Text stands in quotes: "River Vesper".'),
    (
        "Expected newline or end of document",
        "the line goes on after its value has ended",
        'One key a line; fractions and other text stand in quotes: "3/8 oz".',
    ),
    (
        "Expected '='",
        "a key is followed by = and a value",
        "A key with a space or an accent in it stands in quotes.",
    ),
    (
        "Invalid initial character for a key part",
        "a key is expected here",
        "A key is of letters, digits, - and _; any other stands in quotes.",
    ),
    ("Invalid statement", "a key, a [table] or a # comment is expected here", ""),
    ("Expected ']", "the heading of a table is not closed", "It is written [name] or [[name]]."),
    ("Unclosed array", "a list is not closed, or lacks a comma", "Look for its [ further up."),
    (
        "Unclosed inline table",
        "a table in braces is not closed, or lacks a comma",
        "It stands on one line: { name = 1, other = 2 }.",
    ),
    ("Illegal character '\\n'", "a text is not closed on its line", "It needs a second quote."),
    ("Illegal character", "a character that cannot be seen stands here", "Type the line again."),
    (
        "Found invalid character '\\n'",
        "a text is not closed on its line",
        "It needs a second quote.",
    ),
    ("Found invalid character", "a character that cannot be seen stands here", ""),
    ("Unterminated string", "a text is opened here and never closed", "It ends with three quotes."),
    ("Expected \"'''", "a text is opened here and never closed", "It ends with three quotes."),
    ("Expected \"'", "a text is opened here and never closed", "It needs a second quote."),
    (
        "Unescaped '\\'",
        "a backslash means something else in double quotes",
        "Write it twice, or put the text in single quotes.",
    ),
    ("Invalid hex value", "a \\u in double quotes is not followed by its digits", ""),
    ("Escaped character", "a \\u in double quotes names no character", ""),
    ("Invalid date", "this day or time does not exist", "Text stands in quotes."),
    ("Exceeds the limit", "a number in the file has too many digits", ""),
)
"""How tomllib begins what it says, what that means to a maker, and what to do about it."""


def syntax_finding(file: str, text: str, said: str) -> Finding:
    """Return the finding for ``said``, tomllib's own words on ``text``."""
    spot = _SPOT.search(said)
    lines = text.split("\n")
    line = int(spot[1]) if spot and spot[1] else len(lines) if spot else None
    if said.startswith(_DOUBLED):
        return _doubled(file, text, line or 1)
    if said.startswith(_NEVER_CLOSED):
        line = _last_opened(text)
    message, hint = "is no sound TOML", said
    for begin, plain, advice in _IN_PLAIN_WORDS:
        if said.startswith(begin):
            message, hint = plain, advice
            break
    found = shown(lines[line - 1].strip()) if line else ""
    return stop(
        "catalog-syntax",
        Place(file=file, line=line, key=f"column {spot[2]}" if spot and spot[2] else ""),
        message,
        found=found or ("the end of the file" if line else ""),
        hint=hint,
    )


def _last_opened(text: str) -> int:
    """Return the line of the last quotes: were they not the open ones, they would close."""
    at = max(text.rfind('"""'), text.rfind("'"), 0)
    return text.count("\n", 0, at) + 1


def _doubled(file: str, text: str, line: int) -> Finding:
    """Say which key stands twice, and where it stood first."""
    exact = [twice for twice in look_over(text).twice if twice.second == line]
    first = f"It stands on line {exact[0].first} already." if exact else "It stands further up."
    return stop(
        "catalog-duplicate-key",
        Place(file=file, line=line, key=key_text(exact[0].path) if exact else ""),
        "the same key stands here a second time",
        found=shown(text.split("\n")[line - 1].strip()),
        hint=first + " Keep one of the two.",
    )
