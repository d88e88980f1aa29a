"""Sets of cells cut into square boxes, whose sums are worked out once for all poses.

The sum of the larger of a level and each cell's is never less than the same over sums of boxes (Jensen's inequality:
the larger of two is convex). A pad of n cells falls into about as many boxes as it has cells along its edge, so that a
bound from boxes takes a fraction of the time of one from cells, and loses only what the ground bends within the boxes
that lie across the level.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from itertools import product

import numpy as np

from spadework.placement.limits import BoolArray
from spadework.readings import IntArray

__all__ = ["SIZES", "box_sizes", "boxes_of"]

SIZES = (1, 2, 4, 8)
"""Sides of boxes, in cells: each twice the one before."""
BOXES_ACROSS = 5.0
"""Boxes that a pad must be wide, at least, to be cut into boxes of a size: larger ones blur the ground."""


def box_sizes(fewest: int) -> int:
    """Return how many of `SIZES` are worth using for sets of so many cells or more."""
    return 1 + sum(size * BOXES_ACROSS <= math.sqrt(fewest) for size in SIZES[1:])


def boxes_of(row: IntArray, column: IntArray, sizes: Sequence[int]) -> list[tuple[IntArray, IntArray]]:
    """Return boxes that hold every cell of a set once, for each size the rows and columns of their first cells.

    Parameters
    ----------
    row, column : array of int, shape (n,)
        The cells.
    sizes : sequence of int
        Sides, each twice the one before, beginning with 1. The grid of each size lies where it holds most boxes.
    """
    if not len(row):
        nothing = np.zeros(0, dtype=np.int64)
        return [(nothing, nothing) for _ in sizes]
    top, left = int(row.min()), int(column.min())
    largest = max(sizes)
    shape = [-(-(int(np.ptp(v)) + 1) // largest) * largest + largest for v in (row, column)]
    free = np.zeros(shape, dtype=np.bool_)
    free[row - top, column - left] = True
    found = []
    for size in sorted(sizes, reverse=True):
        best: tuple[IntArray, IntArray] = (np.zeros(0, dtype=np.int64), np.zeros(0, dtype=np.int64))
        for down, right in product(range(size), repeat=2):
            full = _full_boxes(free, size, down, right)
            if full.sum() > len(best[0]):
                a, b = np.nonzero(full)
                best = a * size + down, b * size + right
        for down, right in product(range(size), repeat=2):
            free[best[0] + down, best[1] + right] = False
        found.append((best[0] + top, best[1] + left))
    return found[::-1]


def _full_boxes(free: BoolArray, size: int, down: int, right: int) -> BoolArray:
    """Tell which boxes of a grid that begins so many cells down and to the right are wholly free."""
    rows, columns = (free.shape[0] - down) // size, (free.shape[1] - right) // size
    part = free[down : down + rows * size, right : right + columns * size]
    full: BoolArray = np.logical_and.reduce(part.reshape(rows, size, columns, size), axis=(1, 3))
    return full
