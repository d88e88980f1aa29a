"""What is taped between stakes to prove the outline: its sides, and ties across it that let no corner move."""

from __future__ import annotations

import math
from collections.abc import Sequence
from itertools import combinations

import numpy as np

from spadework.readings import FloatArray
from spadework.stakeout.grid import on_outline
from spadework.stakeout.objects import Span, Stake

__all__ = ["MOST_WITH_ALL", "across", "round_spans", "spans"]

MOST_WITH_ALL = 5
"""Corners up to which every diagonal is taped."""
SAME_LINE = 1e-9
"""Sine of the angle below which a corner lies on a line."""


def spans(marked: Sequence[Stake]) -> tuple[tuple[Span, ...], tuple[Span, ...]]:
    """Return the sides of an outline, in order, and the ties across it.

    Parameters
    ----------
    marked : sequence of Stake
        The corners, clockwise.
    """
    count = len(marked)
    sides = tuple(_span(marked[i], marked[(i + 1) % count]) for i in range(count))
    ring = np.array([[stake.east, stake.north] for stake in marked])
    return sides, tuple(_span(marked[i], marked[j]) for i, j in across(ring))


def round_spans(marked: Sequence[Stake]) -> tuple[tuple[Span, ...], tuple[Span, ...]]:
    """Return the radii of a round pad, and the chords between its quarter points and the two diameters.

    Parameters
    ----------
    marked : sequence of Stake
        The middle, then the quarter points, clockwise.
    """
    middle, quarters = marked[0], marked[1:]
    return tuple(_span(middle, stake) for stake in quarters), tuple(
        _span(one, other) for one, other in combinations(quarters, 2)
    )


def across(ring: FloatArray) -> list[tuple[int, int]]:
    """Return the pairs of corners between which ties prove an outline whose sides have been taped.

    Of up to `MOST_WITH_ALL` corners every pair. Of more the ``n - 3`` inner diagonals that cut the outline into
    triangles with the least taping: three sides fix a triangle, so they fix every corner. The longest diagonal of all
    comes on top, to find a slip in one of the others. The least is found by dynamic programming over stretches of the
    outline, as for any triangulation of a polygon (G. Klincsek, "Minimal triangulations of polygonal domains", Annals
    of Discrete Mathematics 9 (1980) 121-123, from memory).

    Parameters
    ----------
    ring : array, shape (n, 2)
        Corners in order. [m]
    """
    count = len(ring)
    pairs = [(i, j) for i, j in combinations(range(count), 2) if 1 < j - i < count - 1]
    if count <= MOST_WITH_ALL:
        return pairs
    length = np.hypot(*(ring[:, None] - ring[None]).transpose(2, 0, 1))
    open_ways = {(i, i + 1) for i in range(count - 1)} | {(0, count - 1)} | _inner(ring, pairs)
    cost = np.full((count, count), math.inf)
    split = np.zeros((count, count), dtype=np.int64)
    for i in range(count - 1):
        cost[i, i + 1] = 0.0
    for gap in range(2, count):
        for i in range(count - gap):
            j = i + gap
            if (i, j) not in open_ways:
                continue
            ways = cost[i, i + 1 : j] + cost[i + 1 : j, j]
            best = int(np.argmin(ways))
            cost[i, j] = ways[best] + (length[i, j] if (i, j) != (0, count - 1) else 0.0)
            split[i, j] = i + 1 + best
    found = set(_ties(split, 0, count - 1)) - {(0, count - 1)}
    longest = max(pairs, key=lambda pair: (round(float(length[pair]), 9), -pair[0], -pair[1]))
    return sorted(found | {longest})


def _ties(split: np.ndarray, i: int, j: int) -> list[tuple[int, int]]:
    """Return the diagonals of a stretch of the outline, its own chord first."""
    if j - i < 2:
        return []
    k = int(split[i, j])
    return [(i, j), *_ties(split, i, k), *_ties(split, k, j)]


def _inner(ring: FloatArray, pairs: Sequence[tuple[int, int]]) -> set[tuple[int, int]]:
    """Return the pairs whose chord runs inside the outline and meets no other corner or side."""
    one, other = np.array(pairs).T
    inside = on_outline(ring, 0.5 * (ring[one] + ring[other]))
    following = np.roll(ring, -1, axis=0)
    found = []
    for i in range(len(ring)):
        rows = np.flatnonzero((one == i) & inside)
        start, ends = ring[i], ring[other[rows]][:, None, :]
        along, to = ends - start, ring - start
        off = np.abs(along[..., 0] * to[:, 1] - along[..., 1] * to[:, 0])
        ahead = along[..., 0] * to[:, 0] + along[..., 1] * to[:, 1]
        size = np.hypot(along[..., 0], along[..., 1])
        between = (ahead > 0) & (ahead < size**2) & (off <= SAME_LINE * size * np.hypot(*to.T))
        between[:, i] = between[np.arange(len(rows)), other[rows]] = False
        parted = _side(start, ends, ring) * _side(start, ends, following) < 0
        crossed = _side(ring, following, start) * _side(ring, following, ends) < 0
        found.append(rows[~between.any(axis=1) & ~(parted & crossed).any(axis=1)])
    return {pairs[row] for row in np.concatenate(found).tolist()}


def _side(start: FloatArray, end: FloatArray, point: FloatArray) -> FloatArray:
    """Return on which side of lines points lie: 1, -1, or 0 on them."""
    along, to = end - start, point - start
    turn = along[..., 0] * to[..., 1] - along[..., 1] * to[..., 0]
    size = np.hypot(along[..., 0], along[..., 1]) * np.hypot(to[..., 0], to[..., 1])
    side: FloatArray = np.where(np.abs(turn) <= SAME_LINE * size, 0.0, np.sign(turn))
    return side


def _span(one: Stake, other: Stake) -> Span:
    return Span(one.name, other.name, math.hypot(one.east - other.east, one.north - other.north))
