"""Slow and obvious twins of the cutting list: every way there is, and longest piece first."""

from __future__ import annotations

import math
from collections.abc import Sequence
from functools import cache

StockLengths = Sequence[tuple[int, float]]
"""Length and cost of each timber that can be bought."""


def cheapest(lengths: Sequence[int], stock: StockLengths, kerf: int) -> float:
    """Least cost over every way to share pieces out to timbers, by dynamic programming over sets of pieces."""
    count = len(lengths)

    def timber(chosen: int) -> float:
        """Cost of the cheapest timber that holds a set of pieces."""
        held = [lengths[i] for i in range(count) if chosen >> i & 1]
        need = sum(held) + kerf * (len(held) - 1)
        return min((cost for length, cost in stock if length >= need), default=math.inf)

    @cache
    def least(left: int) -> float:
        if not left:
            return 0.0
        first = left & -left
        rest = left ^ first
        best, more = math.inf, rest
        while True:  # every subset of the rest goes with the first piece
            best = min(best, timber(first | more) + least(rest ^ more))
            if not more:
                return best
            more = (more - 1) & rest

    return least((1 << count) - 1)


def first_fit(lengths: Sequence[int], stock: StockLengths, kerf: int) -> float:
    """Cost of longest piece first into the first timber with room, opening the longest timber, none exchanged."""
    length, cost = max(stock)
    timbers: list[list[int]] = []
    for piece in sorted(lengths, reverse=True):
        for held in timbers:
            if sum(held) + piece + kerf * len(held) <= length:
                held.append(piece)
                break
        else:
            timbers.append([piece])
    return len(timbers) * cost
