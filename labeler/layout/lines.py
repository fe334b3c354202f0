"""Words into lines: the fewest that fit, evened out, and no word left alone if it can be helped.

Widths are in thousandths of the type size, so one break serves while a size is looked for.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

from labeler.layout.words import Word

Line = tuple[Word, ...]

_LONELY = 1.6
"""What a last line of one short word costs, in squares of the measure: more than raggedness."""

_PARTED = 0.25
"""What a line costs that ends inside a word of two parts, after its hyphen or slash."""

_SHORT = 0.4
"""Below this share of the measure a word alone on a line looks forgotten."""


_MOST_EVENED = 80
"""Lines; evening out more than a page of them would take longer than anybody waits."""


@dataclass(frozen=True, slots=True)
class Broken:
    """A text in lines, and the width of its widest."""

    lines: tuple[Line, ...]
    widest: float


def width_of(line: Line) -> float:
    """Return the width of a line, its last gap left off and its ink's overhang put on."""
    if not line:
        return 0.0
    return line[0].left + sum(w.width + w.gap for w in line) - line[-1].gap + line[-1].right


def starts(words: Sequence[Word], measure: float) -> list[int] | None:
    """Return where each line begins if lines are filled one by one: the fewest that there can be.

    None if one word alone is wider than ``measure``.
    """
    begins: list[int] = []
    used = 0.0
    fresh = True
    for place, word in enumerate(words):
        if fresh or used + word.width + word.right > measure:
            begins.append(place)
            used = word.left
            if used + word.width + word.right > measure:
                return None
        used += word.width + word.gap
        fresh = word.ends_line
    return begins


def fewest(words: tuple[Word, ...], measure: float) -> Broken | None:
    """Break into the fewest lines of at most ``measure``, each as full as can be."""
    begins = starts(words, measure)
    if begins is None:
        return None
    lines = tuple(words[begin:end] for begin, end in pairwise([*begins, len(words)]))
    return Broken(lines, max(map(width_of, lines), default=0.0))


def break_well(words: tuple[Word, ...], measure: float, balance: bool) -> Broken | None:
    """Break into the fewest lines that fit, chosen so that they are even.

    Args:
        words: the text.
        measure: the line's width.
        balance: whether the last line should be as long as the others (a name), or may be
            shorter (a story).
    """
    greedy = fewest(words, measure)
    if greedy is None or not 2 <= len(greedy.lines) <= _MOST_EVENED:
        return greedy
    if any(w.ends_line for w in words[:-1]):
        return greedy
    lines = _even(words, measure, len(greedy.lines), balance)
    if lines is None:
        return greedy
    return Broken(lines, max(map(width_of, lines)))


def _even(
    words: tuple[Word, ...], measure: float, count: int, balance: bool
) -> tuple[Line, ...] | None:
    """Return ``count`` lines with the least sum of squared slack, by dynamic programming."""
    total = len(words)
    sums = [0.0]
    for word in words:
        sums.append(sums[-1] + word.width + word.gap)
    best: list[dict[int, tuple[float, int]]] = [{0: (0.0, -1)}]
    for line in range(1, count + 1):
        row: dict[int, tuple[float, int]] = {}
        for start, (cost, _) in best[-1].items():
            for end in range(start + 1, total + 1):
                last_word = words[end - 1]
                width = (
                    words[start].left + sums[end] - sums[start] - last_word.gap + last_word.right
                )
                if width > measure:
                    break
                last = line == count
                if last and end != total:
                    continue
                worth = cost + _cost(width / measure, end - start, last, balance)
                worth += _PARTED if not (last or last_word.gap) else 0.0
                if end not in row or worth < row[end][0]:
                    row[end] = (worth, start)
        best.append(row)
    return _traced(best, words) if total in best[count] else None


def _cost(filled: float, count: int, last: bool, balance: bool) -> float:
    """Return what a line costs that fills this share of its measure with so many words."""
    if last and count == 1 and filled < _SHORT:
        return _LONELY
    return 0.0 if last and not balance else (1 - filled) ** 2


def _traced(best: list[dict[int, tuple[float, int]]], words: tuple[Word, ...]) -> tuple[Line, ...]:
    """Return the lines that the cheapest way to the end went through."""
    lines: list[Line] = []
    end = len(words)
    for row in reversed(best[1:]):
        start = row[end][1]
        lines.append(words[start:end])
        end = start
    return tuple(reversed(lines))
