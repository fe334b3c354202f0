"""QR symbols: a text in, dark rectangles out.

The text's segments, the version and the data mask are the best that ISO/IEC 18004 allows; the
level is the caller's choice. The function patterns, the block table and the field arithmetic
are the ``qrcode`` package's. Its own encoder takes 13 to 18 times as long, cuts texts into
longer segments and scores masks before the format information is in, so that its symbols are
larger or masked otherwise (``tests/bench/bench_qr.py`` prints both).

A symbol is handled as one long integer, its *lines*, so that all of its modules are masked and
counted in a few steps: every row and then every column, four light modules before each. The
lowest bit is the first module; dark is 1. Four light modules are as far as any of the rules that
judge a symbol looks past a line's end.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import cache, lru_cache, reduce
from itertools import compress
from operator import itemgetter
from typing import Any, Literal

from labeler.codes.print_quality import Bar, Symbol

Level = Literal["L", "M", "Q", "H"]
"""How much damage is put right: about 7, 15, 25 and 30 % of the codewords.

Source: ISO/IEC 18004:2015, 7.5.1 (error correction capacity).
"""

_INDICATORS = {"L": 0b01, "M": 0b00, "Q": 0b11, "H": 0b10}
"""Source: ISO/IEC 18004:2015, table 12 (error correction level indicators)."""

QUIET = 4
"""Light modules to keep on every side. Source: ISO/IEC 18004:2015, 6.3.8 (quiet zone)."""

GAP = 4
"""Light modules before each line."""

NUMERIC, ALPHANUMERIC, BYTE = MODES = (0b0001, 0b0010, 0b0100)
"""Mode indicators. Source: ISO/IEC 18004:2015, table 2."""

ALPHANUMERICS = b"0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ $%*+-./:"
"""In the order of their values. Source: ISO/IEC 18004:2015, table 5."""

COUNT_BITS = {
    range(1, 10): (10, 9, 8), range(10, 27): (12, 11, 16), range(27, 41): (14, 13, 16)
}  # fmt: skip
"""Versions to the bits of the character count in each of `MODES`.

Source: ISO/IEC 18004:2015, table 3.
"""

_VALUES = {letter: value for value, letter in enumerate(ALPHANUMERICS)}
_GROUPS = {NUMERIC: (10, 3, (0, 4, 7, 10)), ALPHANUMERIC: (45, 2, (0, 6, 11))}
"""The base of each mode's numbers, the characters of a group, and its bits by how many it holds.

Source: ISO/IEC 18004:2015, 7.4.3 (numeric mode) and 7.4.4 (alphanumeric mode).
"""

_ECI_UTF_8, _ECI_BITS = 0b0111 << 8 | 26, 12
"""Says that the bytes that follow are UTF-8: the ECI mode and its assignment number.

Source: ISO/IEC 18004:2015, 7.4.2 (ECI mode); AIM ITS/04-023 (ECI part 3), 000026.
"""

_RUNS = re.compile(
    rb"([^0-9A-Z $%*+\-./:]+(?:[0-9A-Z $%*+\-./:]{1,5}[^0-9A-Z $%*+\-./:]+)*)"
    rb"|([A-Z $%*+\-./:]+)|([0-9]+)"
)
"""Runs of one leanest mode: bytes, alphanumerics or digits. Bytes go on across gaps so short that
leaving their mode costs more (two headers, 26 bits at least) than it saves (14/3 bits a digit)."""

_SIXTHS = ((BYTE, 48), (ALPHANUMERIC, 33), (NUMERIC, 20))
"""What a character costs in each mode, in sixths of a bit; the first holds any, the last digits."""

Segment = tuple[int, bytes]
"""A mode, and the bytes that are written in it."""

_Way = tuple[int, tuple[tuple[int, int], ...]]
"""What it cost so far, and the modes of the segments and where each begins."""


@lru_cache(maxsize=256)  # some 20 kB each; a run of labels seldom mixes more
def qr_symbol(payload: str, level: Level = "M", least: int = 1) -> Symbol:
    """Return the smallest QR symbol that says ``payload``, its quiet zone included.

    It is of no smaller version than ``least``, so that symbols beside it can be as large.

    A text beyond ASCII is marked as UTF-8, so that no reader has to guess.

    Raises:
        ValueError: with a sentence, if the text is empty, is no Unicode text, or is too long
            for any symbol at that level; or if there is no such level.
    """
    lines, blank = finished(payload, level, least=least)
    length = blank.size * (blank.size + GAP)
    rows = lines & (1 << length) - 1
    edges = f"{rows ^ rows << 1:0{length + 1}b}"[::-1].encode().translate(_AS_TRUTH)
    places = compress(range(length + 1), edges)  # where dark begins and where it has ended
    bars = tuple(map(_bars_of(blank.size).__getitem__, zip(places, places, strict=True)))
    side = blank.size + 2 * QUIET
    return Symbol("qr", payload, side, side, bars)


_AS_TRUTH = bytes.maketrans(b"01", b"\0\1")


class _Bars(dict[tuple[int, int], Bar]):
    """The bars of symbols of one size, by where they begin and end in the rows' lines.

    Symbols share most of theirs: each is made, kept and sent to another process once.
    """

    def __init__(self, size: int) -> None:
        self.stride = size + GAP

    def __missing__(self, ends: tuple[int, int]) -> Bar:
        row, column = divmod(ends[0], self.stride)
        bar = self[ends] = column - GAP + QUIET, row + QUIET, ends[1] - ends[0], 1
        return bar


_bars_of = cache(_Bars)


def qr_side(payload: str, level: Level = "M") -> int:
    """Return how many modules wide the symbol is, its quiet zone included, without drawing it.

    Raises:
        ValueError: as `qr_symbol`.
    """
    return 17 + 4 * fitted(payload, level)[0] + 2 * QUIET


def version_of(symbol: Symbol) -> int:
    """Return the version of a QR symbol, which its width tells."""
    return (symbol.columns - 2 * QUIET - 17) // 4


def finished(
    payload: str, level: Level = "M", mask: int | None = None, least: int = 1
) -> tuple[int, Template]:
    """Return the symbol's lines, and the template they were made with; None is the best mask.

    Raises:
        ValueError: as `qr_symbol`.
    """
    version, stream = fitted(payload, level, least)
    blank = template(version, level)
    codewords = with_correction(stream, blank)
    bits = f"{int.from_bytes(codewords, 'big'):0{8 * len(codewords)}b}0"
    lines = as_lines("".join(blank.pick(bits)), blank.size)
    if mask is None:
        totals = [sum(penalties(lines ^ masked, blank)) for masked in blank.masked]
        mask = totals.index(min(totals))  # the first of equals
    return lines ^ blank.masked[mask], blank


def fitted(payload: str, level: Level, least: int = 1) -> tuple[int, bytes]:
    """Return the smallest version from ``least`` on that holds ``payload``, and its codewords."""
    if level not in _INDICATORS:
        raise ValueError(f"a QR code's level is L, M, Q or H, not {level!r}")
    if not payload:
        raise ValueError("a QR code has to say something, and the text is empty")
    if half := re.search("[\ud800-\udfff]", payload):
        raise ValueError(
            f"{half[0]!r} (character {half.end()}) is half a letter, which no text can hold"
        )
    data = payload.encode()
    for versions, count_bits in COUNT_BITS.items():
        stream, length = packed(segments(data, count_bits), count_bits, not payload.isascii())
        for version in versions:
            if version >= least and length <= (room := capacity(version, level)):
                return version, _filled(stream, length, room)
    most = (capacity(40, level) - _ECI_BITS * (not payload.isascii()) - 4 - count_bits[2]) // 8
    raise ValueError(
        f"a text of {len(data)} bytes does not fit in a QR code: at level {level} the largest"
        f" holds {most} bytes"
    )


def segments(data: bytes, count_bits: Sequence[int]) -> list[Segment]:
    """Return ``data`` in the segments that need the fewest bits of all.

    Walks along the runs of like characters and keeps, for each mode, the least cost in sixths of
    a bit of being in that mode there, and where its segments began. A mode is never changed
    within a run: it would cost more bits than it saves.
    """
    entry = {mode: 6 * (4 + bits) for mode, bits in zip(MODES, count_bits, strict=True)}
    ways: dict[int, _Way] = {}
    best: _Way = (0, ())
    for run in _RUNS.finditer(data):
        start, end = run.span()
        was, ways = ways, {}
        for mode, sixths in _SIXTHS[: run.lastindex]:
            cost, before = was.get(mode, (1 << 40, ()))
            if best[0] + entry[mode] < cost:
                cost, before = best[0] + entry[mode], (*best[1], (mode, start))
            ways[mode] = cost + sixths * (end - start), before
        # A segment that ends is rounded up to whole bits; of equals the first mode is kept.
        cost, before = min(ways.values(), key=lambda way: -(-way[0] // 6))
        best = -(-cost // 6) * 6, before
    ends = [start for _, start in best[1][1:]] + [len(data)]
    return [(mode, data[start:end]) for (mode, start), end in zip(best[1], ends, strict=False)]


def packed(cut: Sequence[Segment], count_bits: Sequence[int], utf_8: bool) -> tuple[int, int]:
    """Return the bits of the segments, headers included, and how many they are."""
    stream, length = (_ECI_UTF_8, _ECI_BITS) if utf_8 else (0, 0)
    for mode, data in cut:
        counter = count_bits[MODES.index(mode)]
        stream = (stream << 4 | mode) << counter | len(data)
        length += 4 + counter
        if mode == BYTE:
            stream = stream << 8 * len(data) | int.from_bytes(data, "big")
            length += 8 * len(data)
            continue
        base, size, widths = _GROUPS[mode]
        values = [_VALUES[letter] for letter in data]
        for at in range(0, len(data), size):
            group = values[at : at + size]
            stream = stream << widths[len(group)] | reduce(lambda a, b: a * base + b, group)
            length += widths[len(group)]
    return stream, length


def _filled(stream: int, length: int, room: int) -> bytes:
    """Return the bits as codewords, closed and padded to ``room`` bits.

    Source: ISO/IEC 18004:2015, 7.4.9 (terminator) and 7.4.10 (conversion to codewords).
    """
    used = -(-(length + min(4, room - length)) // 8)
    padding = b"\xec\x11" * (room // 8)
    return (stream << 8 * used - length).to_bytes(used, "big") + padding[: room // 8 - used]


def with_correction(data: bytes, blank: Template) -> bytes:
    """Return ``data`` and after it the error correction codewords, block by block.

    Each block's are the remainder of its data divided by the generator polynomial.
    Source: ISO/IEC 18004:2015, 7.5 (error correction coding).
    """
    top = 8 * (blank.correction - 1)
    below = (1 << top) - 1
    corrections = [data]
    start = 0
    for length in blank.blocks:
        remainder = 0
        for codeword in data[start : start + length]:
            leading = remainder >> top ^ codeword
            remainder = (remainder & below) << 8 ^ blank.feedback[leading]
        corrections.append(remainder.to_bytes(blank.correction, "big"))
        start += length
    return b"".join(corrections)


def penalties(lines: int, blank: Template) -> tuple[int, int, int, int]:
    """Return what each of the four features of table 11 costs a finished symbol.

    "The area to be evaluated is the complete symbol": format and version information count.
    Table 11 leaves the third feature, the finder-like pattern, open to several readings. The
    standard's own example (annex I.2, the digits 01234567, mask pattern 010) comes out as
    printed with one of them, kept here: the quiet zone is a light area, light four modules wide
    does, a pattern counts once even with light on both sides, patterns that overlap count each.

    Source: ISO/IEC 18004:2015, 7.8.3 (evaluation of data masking results) and its table 11.
    """
    following = lines >> 1
    alike = blank.pairs & ~(lines ^ following)
    fives = alike & alike >> 1
    fives &= fives >> 2
    runs = 3 * fives.bit_count() - 2 * (fives & fives >> 1).bit_count()

    stride = blank.size + GAP
    alike &= alike >> stride & ~(lines ^ lines >> stride) & blank.squares
    blocks = 3 * alike.bit_count()

    dark_pair = lines & following
    three_dark = dark_pair & dark_pair >> 1
    one_three_one = lines & three_dark >> 2 & lines >> 6 & ~(following | lines >> 5)
    some_dark = lines | following
    some_dark |= some_dark >> 2
    finders = 40 * (one_three_one & ~(some_dark << 4 & some_dark >> 7)).bit_count()

    area, dark = blank.size**2, lines.bit_count() // 2
    return runs, blocks, finders, 10 * (abs(20 * dark - 10 * area) // area)


@dataclass(frozen=True, slots=True)
class Template:
    """A symbol of one version and level, before the data.

    Attributes:
        size: modules in a row.
        blocks: data codewords of each block, in order.
        correction: error correction codewords of every block.
        feedback: for each value of the leading byte, what it adds to the remainder of a
            division by the generator polynomial, as an integer of ``correction`` bytes.
        pick: takes the bits of data and correction, block by block, and a 0 for every other
            module, into the order of the rows, each after its gap.
        masked: for each data mask pattern, the lines of the symbol whose data are all 0:
            function patterns, format and version information, and the mask.
        pairs: lines of the modules that have a neighbour after them.
        squares: lines of those, in rows only, that have a lower one as well.
    """

    size: int
    blocks: tuple[int, ...]
    correction: int
    feedback: tuple[int, ...]
    pick: Callable[[str], tuple[str, ...]]
    masked: tuple[int, ...]
    pairs: int
    squares: int


@cache
def capacity(version: int, level: Level) -> int:
    """Return the bits of data that a symbol holds. Source: ISO/IEC 18004:2015, table 7."""
    return 8 * sum(data for data, _ in _blocks(version, level))


@lru_cache(maxsize=64)
def template(version: int, level: Level) -> Template:
    """Return the template of ``version``, 1 to 40, at ``level``."""
    blocks = _blocks(version, level)
    data, (correction, *_) = zip(*blocks, strict=True)
    grids = [_drawn(0x00, version, level, mask) for mask in range(8)]
    size, stride = 17 + 4 * version, 17 + 4 * version + GAP
    order = [8 * sum(map(sum, blocks))] * (size * stride)
    # A symbol takes the first codeword of every block, then the second, and so on (7.6).
    places = [(0, nth, block) for block, count in enumerate(data) for nth in range(count)]
    places += [(1, nth, block) for block in range(len(data)) for nth in range(correction)]
    stream = sorted(range(len(places)), key=places.__getitem__)
    for nth, (row, column) in enumerate(_path(grids[0], _drawn(0xFF, version, level, 0))):
        order[row * stride + GAP + column] = 8 * stream[nth // 8] + nth % 8
    with_next = "0" * GAP + "1" * (size - 1) + "0"
    return Template(
        size, data, correction, _feedback(correction), itemgetter(*order),
        tuple(as_lines("".join("0" * GAP + row for row in rows), size) for rows in grids),
        pairs=int((with_next * 2 * size)[::-1], 2),
        squares=int((with_next * (size - 1))[::-1], 2),
    )  # fmt: skip


def as_lines(rows: str, size: int) -> int:
    """Return rows of modules, each after its gap, and then their columns, as one integer."""
    columns = [rows[GAP + column :: size + GAP] for column in range(size)]
    return int(("0" * GAP).join([rows, *columns])[::-1], 2)


def _blocks(version: int, level: Level) -> list[tuple[int, int]]:
    """Return the data and the correction codewords of each block."""
    from qrcode import base

    blocks = base.rs_blocks(version, _INDICATORS[level])
    return [(one.data_count, one.total_count - one.data_count) for one in blocks]


def _drawn(codeword: int, version: int, level: Level, mask: int) -> list[str]:
    """Return the rows of a symbol whose codewords, of data and correction, are all the same."""
    from qrcode import QRCode

    code: Any = QRCode(version, _INDICATORS[level], border=0, mask_pattern=mask)
    code.data_cache = [codeword] * sum(map(sum, _blocks(version, level)))
    code.make(fit=False)
    return ["".join("01"[dark] for dark in row) for row in code.get_matrix()]


def _path(light: Sequence[str], dark: Sequence[str]) -> list[tuple[int, int]]:
    """Return row and column of every module for data, in the order in which they are filled.

    Two columns at a time from the right, up and down in turn, leaping over the timing pattern.
    Source: ISO/IEC 18004:2015, 7.7.3 (symbol character placement).
    """
    size = len(light)
    path = []
    rights = [right if right > 6 else right - 1 for right in range(size - 1, 0, -2)]
    for turn, right in enumerate(rights):
        for row in range(size) if turn % 2 else range(size - 1, -1, -1):
            path += [(row, at) for at in (right, right - 1) if light[row][at] != dark[row][at]]
    return path


def _feedback(correction: int) -> tuple[int, ...]:
    """Return the remainder of each byte, followed by zeros, divided by the generator polynomial.

    Source: ISO/IEC 18004:2015, annex A (error correction detection and correction generator
    polynomials).
    """
    from qrcode import base

    generator = base.Polynomial([1], 0)
    for power in range(correction):
        generator *= base.Polynomial([1, base.gexp(power)], 0)
    remainders = (base.Polynomial([byte], correction) % generator for byte in range(1, 256))
    return (0, *(int.from_bytes(bytes(remainder), "big") for remainder in remainders))
