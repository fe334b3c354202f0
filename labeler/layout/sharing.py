"""Room shared out in proportion, none less than its least; and the largest squeeze that fits."""

from __future__ import annotations

from collections.abc import Callable, Sequence

_STEPS = 7
"""Halvings when the squeeze is looked for: 1/128 of the range of sizes is finer than an eye."""


def shared_out(room: float, shares: Sequence[float], least: Sequence[float]) -> list[float]:
    """Share out ``room`` by ``shares``; who would get less than their least get that instead.

    >>> shared_out(100, [1, 3], [0, 0])
    [25.0, 75.0]
    >>> shared_out(100, [1, 3], [40, 0])
    [40, 60.0]
    """
    lengths = list(least)
    open_ones = [i for i, share in enumerate(shares) if share]
    while open_ones:
        parts = sum(shares[i] for i in open_ones)
        tight = [i for i in open_ones if room * shares[i] / parts < least[i]]
        if not tight:
            for i in open_ones:
                lengths[i] = room * shares[i] / parts
            break
        for i in tight:
            room -= least[i]
            open_ones.remove(i)
    return lengths


def largest_squeeze(fits: Callable[[float], bool]) -> float:
    """Return the largest squeeze under 1 that fits, or 0 if none is found to."""
    low, high = 0.0, 1.0
    for _ in range(_STEPS):
        middle = (low + high) / 2
        if fits(middle):
            low = middle
        else:
            high = middle
    return low
