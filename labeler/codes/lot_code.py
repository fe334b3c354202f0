"""Lot codes: the day a batch was made, its number within that day, and a check character.

``263290013`` is the first lot of day 329 of 2026: the ordinal date of ISO 8601-1:2019, 5.2.3,
with the century left out, the number, and a check digit by ISO/IEC 7064:2003, MOD 11,10. A maker
who wants a prefix gets capitals and digits and MOD 37,36 instead.

Both systems catch every slip of one character. They catch all swaps of two neighbours but one pair
in 45 (digits) or in 630 (capitals and digits): the standard promises "all or nearly all".
"""

from __future__ import annotations

import unicodedata
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, timedelta
from functools import lru_cache
from itertools import count, islice

from labeler.findings import Place, refusal

DIGITS = "0123456789"

ALPHANUMERIC = DIGITS + "ABCDEFGHIJKLMNOPQRSTUVWXYZ"
"""Values 0 to 35. Source: ISO/IEC 7064:2003, 5.1 (section number from memory)."""

CONFUSABLE = "ILOU"
"""Letters that a hand or a telephone turns into 1, 1, 0 and V. Common practice, no published
source."""

CLEAR = "".join(letter for letter in ALPHANUMERIC if letter not in CONFUSABLE)
"""The 32 characters that are ever given out."""

MAX_LENGTH = 20
"""Source: GS1 General Specifications, AI (10): alphanumeric, up to 20 characters."""

FIRST_YEAR, LAST_YEAR = 2000, 2099
"""Two digits name one year only within one century."""

_LIKELY = str.maketrans({"I": "1", "L": "1", "O": "0"})
_PREFIX_LETTERS = "".join(letter for letter in CLEAR if letter.isalpha())
_PREFIX_LENGTH = 8
_LEAST_DIGITS = 3
_LEAST_LETTERS = 2


def check_character(payload: str, alphabet: str) -> str:
    """Return the check character of ``payload`` by the hybrid system MOD M+1,M.

    Args:
        payload: characters of ``alphabet`` only.
        alphabet: the M characters in order of value: `DIGITS` for MOD 11,10, `ALPHANUMERIC` for
            MOD 37,36.

    Raises:
        ValueError: if the payload holds another character.

    Source: ISO/IEC 7064:2003, hybrid systems, recursive method.
    """
    return alphabet[(1 - _carry(payload, alphabet, len(alphabet))) % len(alphabet)]


def _carry(payload: str, alphabet: str, start: int) -> int:
    size = len(alphabet)
    product = start
    for letter in payload:
        total = (product + alphabet.index(letter)) % size or size
        product = 2 * total % (size + 1)
    return product


def alphabet_of(code: str) -> str:
    """Return the alphabet that a tidy ``code`` is checked in: letters make it MOD 37,36."""
    return ALPHANUMERIC if code.strip(DIGITS) else DIGITS


def is_valid(code: str) -> bool:
    """Tell whether the last character of a tidy ``code`` is its check character."""
    alphabet = alphabet_of(code)
    if len(code) < 2 or any(letter not in alphabet for letter in code):
        return False
    return check_character(code[:-1], alphabet) == code[-1]


@lru_cache(maxsize=4_096)
def tidy(text: str) -> str:
    """Return ``text`` as a code is stored, whatever spaces, dashes and case it was typed with.

    I and L become 1, and O becomes 0, since no code given out holds those letters.
    """
    plain = unicodedata.normalize("NFKC", text)
    letters = (c for c in plain if not c.isspace() and unicodedata.category(c) not in ("Pd", "Cf"))
    return "".join(letters).upper().translate(_LIKELY)


@dataclass(frozen=True, slots=True)
class LotForm:
    """How a maker's lot codes are written.

    Attributes:
        prefix: up to 8 capitals before the date, none of them I, L, O or U. Without one the
            number is in digits, at least 3, checked by MOD 11,10; with one it is in capitals and
            digits, at least 2, checked by MOD 37,36.

    Raises:
        LabelerError: if a code so written could be misread or would be too long.
    """

    prefix: str = ""

    def __post_init__(self) -> None:
        if len(self.prefix) > _PREFIX_LENGTH or self.prefix.strip(_PREFIX_LETTERS):
            raise refusal(
                "lot-prefix", Place(key="prefix"),
                "a lot code with this prefix could be misread", found=repr(self.prefix),
                expected=f"at most {_PREFIX_LENGTH} capitals, "
                f"none of them {', '.join(CONFUSABLE)}",
            )  # fmt: skip

    def write(self, made: date, number: int) -> str:
        """Return the code of lot ``number``, from 1, among those made on ``made``.

        Raises:
            LabelerError: if the year is outside 2000 to 2099, or the code would pass 20
                characters.
        """
        if not FIRST_YEAR <= made.year <= LAST_YEAR:
            raise refusal(
                "lot-year", Place(key="made"),
                "a lot code holds two digits of the year, so the day must lie in this century",
                found=made.isoformat(), expected=f"a day from {FIRST_YEAR} to {LAST_YEAR}",
            )  # fmt: skip
        if number < 1:
            raise ValueError(f"lots of a day are counted from 1, not {number}")
        head = f"{self.prefix}{made:%y%j}"
        if self.prefix:
            code = next(islice(_clear_codes(head), number - 1, None))
        else:
            payload = f"{head}{number:0{_LEAST_DIGITS}d}"
            code = payload + check_character(payload, DIGITS)
        if len(code) > MAX_LENGTH:
            raise refusal(
                "lot-code-length", Place(key="prefix"),
                f"the lot code would pass {MAX_LENGTH} characters", found=code,
                hint="Choose a shorter prefix.", source="GS1 General Specifications, AI (10)",
            )  # fmt: skip
        return code


def _clear_codes(head: str) -> Iterator[str]:
    """Yield the codes whose check character is itself beyond doubt.

    About one serial in nine would be checked by I, L, O or U and is passed over. The number
    within the day still has no gap; only its spelling has.
    """
    carried = _carry(head, ALPHANUMERIC, len(ALPHANUMERIC))
    for serial in count(1):
        spelled = _spell(serial)
        check = ALPHANUMERIC[(1 - _carry(spelled, ALPHANUMERIC, carried)) % len(ALPHANUMERIC)]
        if check not in CONFUSABLE:
            yield head + spelled + check


def _spell(serial: int) -> str:
    letters = ""
    while serial:
        serial, value = divmod(serial, len(CLEAR))
        letters = CLEAR[value] + letters
    return letters.rjust(_LEAST_LETTERS, CLEAR[0])


@dataclass(frozen=True, slots=True)
class LotCode:
    """A code taken apart again."""

    text: str
    prefix: str
    made: date
    serial: str
    """The number within the day, as it is spelled."""


def read(text: str) -> LotCode:
    """Take a code apart, spaces, dashes and case forgiven.

    Raises:
        LabelerError: if it cannot be a lot code of ours; the finding says what is wrong with it.
    """
    code = tidy(text)
    prefix = code[: len(code) - len(code.lstrip(_PREFIX_LETTERS))]
    head, serial = code[len(prefix) : len(prefix) + 5], code[len(prefix) + 5 : -1]
    made = _day(head)
    if made is None or not serial or len(code) > MAX_LENGTH or code.strip(CLEAR):
        shape = "two digits of the year, three of the day, a number and a check character"
        raise refusal(
            "lot-code-shape", Place(key="lot"), "this is not a lot code", found=repr(text),
            expected=shape,
        )  # fmt: skip
    if not is_valid(code):
        due = check_character(code[:-1], alphabet_of(code))
        raise refusal(
            "lot-code-check", Place(key="lot"),
            "the last character does not fit the others: there is a slip in this lot code",
            found=repr(text), expected=f"{due!r} at the end if the rest is right",
            source="ISO/IEC 7064:2003",
        )  # fmt: skip
    return LotCode(code, prefix, made, serial)


def _day(head: str) -> date | None:
    if len(head) < len("YYDDD") or head.strip(DIGITS):
        return None
    year, ordinal = FIRST_YEAR + int(head[:2]), int(head[2:])
    made = date(year, 1, 1) + timedelta(days=ordinal - 1)
    return made if made.year == year else None


def slips(code: str) -> set[str]:
    """Return every text one slip away from a tidy ``code``.

    A slip is one character wrong, left out or typed twice or in excess, or two swapped that
    stand side by side or with one between them.
    """
    alphabet = CLEAR if code.strip(DIGITS) else DIGITS
    cuts = [(code[:at], code[at:]) for at in range(len(code) + 1)]
    wrong = {a + letter + b[1:] for a, b in cuts if b for letter in alphabet}
    lost = {a + letter + b for a, b in cuts for letter in alphabet}
    extra = {a + b[1:] for a, b in cuts if b}
    swapped = {a + b[1] + b[0] + b[2:] for a, b in cuts if len(b) > 1}
    jumped = {a + b[2] + b[1] + b[0] + b[3:] for a, b in cuts if len(b) > 2}
    return (wrong | lost | extra | swapped | jumped) - {code}
