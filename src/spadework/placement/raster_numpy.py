"""The scan of a tile without a compiler: every pose is worked out, and nothing is bounded. Slow; the same answer."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from spadework.placement.limits import BoolArray
from spadework.placement.raster_tables import MaskTables, ScanTables
from spadework.readings import FloatArray, IntArray

__all__ = ["scan_tile_plainly"]

AT_A_TIME = 2_000_000
"""Levels gathered at once."""


def scan_tile_plainly(  # noqa: PLR0917 -- a tile in its parts
    level: npt.NDArray[np.int32],
    lost: BoolArray | None,
    barred: BoolArray | None,
    tables: ScanTables,
    window: tuple[int, int],
    halo: int,
) -> tuple[FloatArray, FloatArray, IntArray]:
    """Return the best value at each position of a tile, its level and the number of its bearing.

    Parameters
    ----------
    level : array, shape (rows + 2 halo, columns + 2 halo)
        Levels above the lowest, in steps.
    lost, barred : array of bool, the same shape, or None
        Cells without a level, and cells that are kept out.
    tables : ScanTables
        Masks, goal and limits.
    window : (int, int)
        Rows and columns of positions.
    halo : int
        Cells about them.

    Returns
    -------
    value, at : array, shape (rows, columns)
        Infinite where no bearing is allowed [m³]; level in steps.
    bearing : array of int, shape (rows, columns)
        The first of equals.
    """
    rows, columns = window
    value, at = np.full(window, np.inf), np.zeros(window)
    bearing = np.zeros(window, dtype=np.int64)
    for number in range(len(tables.under.scale)):
        allowed = np.ones(window, dtype=np.bool_)
        for missing, masks in ((lost, tables.corners), (barred, tables.touched)):
            if missing is not None:
                for row, column in _cells(masks, number):
                    allowed &= ~missing[halo + row : halo + row + rows, halo + column : halo + column + columns]
        p, q = np.nonzero(allowed)
        cells = np.array(_cells(tables.under, number))
        step = max(1, AT_A_TIME // len(cells))
        for start in range(0, len(p), step):
            some = slice(start, start + step)
            under = level[halo + p[some] + cells[:, :1], halo + q[some] + cells[:, 1:]].astype(np.float64)
            found, height = _best_levels(under, tables, number)
            found *= tables.under.scale[number]
            better = found < value[p[some], q[some]]
            chosen = p[some][better], q[some][better]
            value[chosen], at[chosen], bearing[chosen] = found[better], height[better], number
    return value, at, bearing


def _cells(masks: MaskTables, number: int) -> list[tuple[int, int]]:
    some = slice(masks.cell_start[number], masks.cell_start[number + 1])
    return list(zip(masks.cell_row[some].tolist(), masks.cell_column[some].tolist(), strict=True))


def _best_levels(under: FloatArray, tables: ScanTables, number: int) -> tuple[FloatArray, FloatArray]:
    """Return least values and their levels for levels under many pads, shape (n, k) each to (k,). [steps]"""
    cost, limits = tables.cost, tables.limits
    masks = tables.under
    some = slice(masks.cell_start[number], masks.cell_start[number + 1])
    tilt = np.hypot(masks.slope_east[some] @ under, masks.slope_north[some] @ under)
    n = len(under)
    ordered = np.sort(under, axis=0)
    below = np.cumsum(ordered, axis=0) - ordered
    count = np.arange(n)[:, None]
    cut = (ordered.sum(axis=0) - below) - (n - count) * ordered
    fill = count * ordered - below
    one, two = cost[0] * cut + cost[1] * fill, cost[2] * cut + cost[3] * fill
    level, value = ordered, np.maximum(one, two)
    if n > 1:
        # Where the two sums cross between neighbours in order of level.
        slope_one = cost[1] * (count[1:]) - cost[0] * (n - count[1:])
        slope_two = cost[3] * (count[1:]) - cost[2] * (n - count[1:])
        with np.errstate(divide="ignore", invalid="ignore"):
            up = (two[:-1] - one[:-1]) / (slope_one - slope_two)
        between = (up > 0) & (up < np.diff(ordered, axis=0))
        up = np.where(between, up, 0.0)
        level = np.concatenate([level, ordered[:-1] + up])
        value = np.concatenate([value, np.where(between, one[:-1] + slope_one * up, np.inf)])
    row = np.argmin(value, axis=0)
    best, at = (np.take_along_axis(table, row[None], axis=0)[0] for table in (value, level))
    return _limited(under, best, at, cost, limits, tilt)


def _limited(  # noqa: PLR0917 -- what was found, and what it must keep
    under: FloatArray, best: FloatArray, at: FloatArray, cost: FloatArray, limits: FloatArray, tilt: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """Return values and levels moved into the range that the limits leave; infinite where they leave none."""
    low, high = under.min(axis=0), under.max(axis=0)
    least, most = high - limits[0], low + limits[1]
    held = np.where(at < least, least, np.where(at > most, most, at))
    moved = held != at
    gap = under - np.where(moved, held, 0.0)
    cut, fill = gap.clip(min=0.0).sum(axis=0), (-gap).clip(min=0.0).sum(axis=0)
    short, over = (fill - cost[8] * cut).clip(min=0.0), (cut - fill / cost[8]).clip(min=0.0)
    value = np.where(moved, cost[4] * cut + cost[5] * fill + cost[6] * over + cost[7] * short, best)
    wrong = (high - low > limits[2]) | (tilt > limits[3]) | (least > most)
    if cost[9] == 0.0:
        wrong |= moved & (short > 1e-6)
    return np.where(wrong, np.inf, value), held
