"""Finished text: what a typist's keys can't write becomes what a printer would set.

Straight quotes and apostrophes become curly ones, or primes where they mean inches or feet; a
quantity is tied together; 3/8 before a unit is built as a fraction. Each letter takes the place of
one letter, so that a text in several styles is finished as one and parted where it was. No figure
is changed, nor anything in an address, a mail address or a command to type.

Our own words are spelled as in the maker's country; a maker's words stay as they are written.
"""

from __future__ import annotations

import html
import re
import tomllib
from collections.abc import Iterator, Mapping, Sequence
from functools import lru_cache
from pathlib import Path
from typing import Any

from labeler.units import FRACTION_SLASH, NO_BREAK_SPACE, THIN_SPACE

_SPACES = rf"[ {NO_BREAK_SPACE}{THIN_SPACE}]"
_FRACTION = r"\d{1,3}[/⁄]\d{1,3}"
_NUMBER = rf"(?:\d+(?:\.\d+)?{_SPACES}{_FRACTION}|{_FRACTION}|\d+(?:\.\d+)?)"
_JOINED = rf"{_SPACES}?(?:,{_SPACES}?(?:and|or)?|[x×&–-]|to|or|and|by){_SPACES}?"
_MEASURES = "oz|g|kg|mg|lb|in|ft|mm|cm|pt"
_BUILT = re.compile(
    r"(?<![\w/⁄.,])(?<![^\W\d]-)"
    rf"(?:(?P<whole>\d+)(?P<gap>[ {NO_BREAK_SPACE}{THIN_SPACE}-]))?(?P<upper>\d{{1,3}})"
    r"/(?P<lower>\d{1,3})"
    rf"(?=(?:{_JOINED}{_NUMBER})*(?:[ {NO_BREAK_SPACE}{THIN_SPACE}-]?"
    r"(?:ozs?|ounces?|(?P<inch>in)|inch(?:es)?|ft|feet|lbs?|turns?)\b|[\"″”]))"
)
"""A typed fraction that is an amount of something: 3/8 oz, 1 1/2 x 2 in. A hook of 3/0 is none."""

_TIES = re.compile(
    rf"(?<=\d) (?=(?:{_MEASURES})\b)"
    r"|(?<=\b[Hh]ead) (?=\d)|(?<=\(nominal\)) (?=\d)"
    rf"|(?<=[\d{NO_BREAK_SPACE} ](?:oz|kg|mg|lb|in|ft|mm|cm|pt)) (?=\(\d[^()]{{0,14}}\))"
    rf"|(?<=[\d{NO_BREAK_SPACE} ]g) (?=\(\d[^()]{{0,14}}\))"
    r"|(?<=[)zg]) (?=nom\.)"
)
"""Spaces within a quantity: before a unit, between "Head" and its weight, before the same weight in
the other system, before "nom."."""

_PROTECTED = re.compile(
    r"\S*(?:://|www\.|@)\S*"
    r"|[\w-]+(?:\.[\w-]+)+/\S*"
    r"|\blabeler [a-z]+[^.;]*"
    r"|(?<!\S)--[a-z][^.;]*"
)
"""Addresses, and what is typed on a command line."""

_OPENS = frozenset("([{<—–-/“‘")
_PRIMES = {"'": "′", '"': "″"}


@lru_cache(maxsize=8_192)
def finished(text: str) -> str:
    """Return ``text`` as it is printed: as many letters, and the same ones if it was finished."""
    if not _ANYTHING.search(text):
        return text
    letters = list(text)
    for at, letter in _quotes(text):
        letters[at] = letter
    for found in _BUILT.finditer(text):
        upper, lower = int(found["upper"]), int(found["lower"])
        dated = found["inch"] and lower & (lower - 1)  # no rule has tenths: "tied 3/14 in Ohio"
        if 0 < upper < lower and not dated and not _inside_protected(text, found):
            letters[found.end("upper")] = FRACTION_SLASH
            if found["whole"]:
                letters[found.end("whole")] = THIN_SPACE
    for found in _TIES.finditer(text):
        letters[found.start()] = NO_BREAK_SPACE
    return "".join(letters)


_ANYTHING = re.compile(r"['\"]|\d")


def _inside_protected(text: str, found: re.Match[str]) -> bool:
    return any(a <= found.start() < b for a, b in _protected(text))


def _protected(text: str) -> Sequence[tuple[int, int]]:
    return [found.span() for found in _PROTECTED.finditer(text)]


def _quotes(text: str) -> Iterator[tuple[int, str]]:
    """Yield the place of every straight quote, and what stands there in finished text."""
    if "'" not in text and '"' not in text:
        return
    protected = _protected(text)
    double = single = False
    for at, letter in enumerate(text):
        if letter in "“”":
            double = letter == "“"
        if letter not in _PRIMES or any(a <= at < b for a, b in protected):
            continue
        before, after = text[at - 1 : at] or " ", text[at + 1 : at + 2] or " "
        opens = before.isspace() or before in _OPENS or before == "\N{INVISIBLE SEPARATOR}"
        if letter == '"':
            if before.isdigit() and (not double or text.count('"', at + 1) % 2):
                yield at, "″"
            else:
                double = opens and not double
                yield at, "“" if double else "”"
        elif before.isdigit() and not after.isalpha() and not single:
            yield at, "′"
        elif opens and not single and _is_opened(text, at):
            single = True
            yield at, "‘"
        else:
            single = single and after.isalnum()
            yield at, "’"


def _is_opened(text: str, at: int) -> bool:
    """Tell whether the single quote ``at`` opens something that is closed again."""
    rest = text[at:]
    if rest[1:2].isdigit() and not re.match(r"'[^']*\d'(?!\w)", rest):  # the '90s
        return False
    if any(rest.lower().startswith(word) and not rest[len(word) : len(word) + 1].isalpha()
           for word in _words()["apostrophe"]["before"]):  # fmt: skip
        return False
    return bool(re.match(r"'[^'\s](?:[^']|'(?=\w))*'(?!\w)", rest))


# ------------------------------------------------------------------------------------ spelling


@lru_cache(maxsize=1)
def _words() -> Mapping[str, Any]:
    return tomllib.loads((Path(__file__).parent / "words.toml").read_text("utf-8"))


_COLUMNS = {"GB": 1, "IE": 1, "AU": 1, "NZ": 1, "CA": 2}
"""Which spelling a country has; all others take the first, as in the US."""


@lru_cache(maxsize=8)
def _spellings(column: int) -> tuple[re.Pattern[str], Mapping[str, str]]:
    rows = [row["words"] for row in _words()["spelling"]]
    wanted = {word: row[column] for row in rows for word in row if word != row[column]}
    return re.compile(rf"\b(?:{'|'.join(wanted)})\b", re.IGNORECASE), wanted


@lru_cache(maxsize=2_048)
def spelled(text: str, country: str) -> str:
    """Return our own words as they are spelled in a country, an ISO 3166 code."""
    pattern, wanted = _spellings(_COLUMNS.get(country[:2], 0))

    def other(found: re.Match[str]) -> str:
        word, new = found[0], wanted[found[0].lower()]
        if word.isupper():
            return new.upper()
        return new[:1].upper() + new[1:] if word[:1].isupper() else new

    return pattern.sub(other, text)


# ------------------------------------------------------------------------------------ web pages

_MARKUP = re.compile(
    r"(<(?:script|style|pre|code|kbd|samp|textarea|option)\b.*?</(?:script|style|pre|code|kbd|samp"
    r"|textarea|option)\s*>|<!--.*?-->|<[^>]*>)",
    re.IGNORECASE | re.DOTALL,
)
"""What stands in a page as it is: tags, programs, and what is to be typed or sent as it stands."""

_REFERENCES = {"&#39;": "'", "&#x27;": "'", "&apos;": "'", "&#34;": '"', "&quot;": '"'}
_REFERENCE = re.compile("|".join(_REFERENCES))


_TITLE = re.compile(r"<title\b", re.IGNORECASE)
"""Begins what is shown outside a page, or said of a picture: no element stands within."""

_FRACTIONS = re.compile(rf"(?:(\d+){THIN_SPACE})?(?<!\d)(\d{{1,3}}){FRACTION_SLASH}(\d{{1,3}})")


def finished_html(page: str, fractions: bool = False) -> str:
    """Return a page of the web with its words finished; tags and what is typed stay as they are.

    Args:
        page: its HTML.
        fractions: whether the page's style builds them: ``over`` and ``under`` are classes of their
            parts, in a ``span`` of class ``amount`` that no line breaks. Else they stay as typed.
    """
    parts = _MARKUP.split(page)
    for at in range(0, len(parts), 2):
        if words := parts[at]:
            plain = _REFERENCE.sub(lambda found: _REFERENCES[found[0]], words)
            before = html.unescape(parts[at - 2][-1:]) if at else ""
            done = finished(f"{before}{plain}")[len(before) :]
            if fractions and not (at and _TITLE.match(parts[at - 1])):
                parts[at] = _FRACTIONS.sub(_built, done)
            else:
                typed = FRACTION_SLASH not in plain or fractions
                parts[at] = done.replace(FRACTION_SLASH, "/") if typed else done
    return "".join(parts)


def _built(found: re.Match[str]) -> str:
    over, under = (f'<span class="{name}">{found[at]}</span>' for name, at in _PARTS)
    whole = f"{found[1]}{NO_BREAK_SPACE}" if found[1] else ""  # faces have no thin space
    return f'<span class="amount">{whole}{over}{FRACTION_SLASH}{under}</span>'


_PARTS = (("over", 2), ("under", 3))
