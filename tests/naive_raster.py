"""The scan of a raster as anybody would write it: every cell, every bearing, every level in turn. Slow and obvious."""

from __future__ import annotations

import math

import numpy as np
import shapely

from spadework.pad import Pad, Placement
from spadework.placement import Goal


def inside(outline: np.ndarray, u: float, v: float) -> bool:
    """Tell whether a point lies in an outline or within a nanometre of its edge: by crossings, and by distance."""
    odd = False
    for (u1, v1), (u2, v2) in zip(outline, np.roll(outline, -1, axis=0), strict=True):
        length = math.hypot(u2 - u1, v2 - v1)
        along = ((u - u1) * (u2 - u1) + (v - v1) * (v2 - v1)) / length
        off = abs((u - u1) * (v2 - v1) - (v - v1) * (u2 - u1)) / length
        if off <= 1e-9 and -1e-9 <= along <= length + 1e-9:
            return True
        if (v1 > v) != (v2 > v) and u < u1 + (v - v1) * (u2 - u1) / (v2 - v1):
            odd = not odd
    return odd


def cells_under(pad: Pad, transform: tuple[float, ...], bearing: float, reach: int) -> list[tuple[int, int]]:
    """Return row and column of the cells whose centre lies under the pad, from the cell under its origin."""
    a, b, _, d, e, _ = transform
    frame = Placement(0.0, 0.0, bearing, 0.0)
    found = []
    for row in range(-reach, reach + 1):
        for column in range(-reach, reach + 1):
            u, v = frame.to_pad(np.array([a * column + b * row, d * column + e * row])).tolist()
            if inside(pad.outline, u, v):
                found.append((row, column))
    return found


def value_at(levels: list[float], level: float, goal: Goal, keep: float) -> float:
    """Return the goal for one level, each cell counting one; infinite where soil is short that may not be bought."""
    cut = sum(max(z - level, 0.0) for z in levels)
    fill = sum(max(level - z, 0.0) for z in levels)
    over, short = max(cut - fill / keep, 0.0), max(fill - keep * cut, 0.0)
    if not goal.buys and short > 1e-9:
        return math.inf
    return goal.cut * cut + goal.fill * fill + goal.over * over + goal.short * short


def best_value(levels: list[float], goal: Goal, keep: float) -> float:
    """Return the least value over all levels: the best is a cell's own level or the balanced one (found by halving)."""
    low, high = min(levels), max(levels)
    for _ in range(200):
        middle = 0.5 * (low + high)
        cut = sum(max(z - middle, 0.0) for z in levels)
        fill = sum(max(middle - z, 0.0) for z in levels)
        low, high = (middle, high) if fill <= keep * cut else (low, middle)
    return min(value_at(levels, level, goal, keep) for level in [*set(levels), low])


def corners_needed(pad: Pad, transform: tuple[float, ...], bearing: float, reach: int) -> set[tuple[int, int]]:
    """Return the cells at the corners of each square between four centres of which the pad covers a part."""
    a, b, _, d, e, _ = transform
    polygon = shapely.Polygon(Placement(0.0, 0.0, bearing, 0.0).corners(pad))
    needed = set()
    for row in range(-reach, reach):
        for column in range(-reach, reach):
            around = [(row, column), (row, column + 1), (row + 1, column + 1), (row + 1, column)]
            square = shapely.Polygon([(a * c + b * r, d * c + e * r) for r, c in around])
            if square.intersection(polygon).area > 1e-7:
                needed.update(around)
    return needed


def scan_naively(
    levels: np.ndarray, transform: tuple[float, ...], pad: Pad, goal: Goal, keep: float, bearings: np.ndarray
) -> np.ndarray:
    """Return the least value at each position over all bearings, infinite where none is allowed. [m³]

    `levels` are metres, NaN where there is none.
    """
    rows, columns = levels.shape
    best = np.full(levels.shape, np.inf)
    reach = int(np.hypot(*pad.outline.T).max() / min(abs(transform[0]), abs(transform[4]))) + 3
    for bearing in bearings.tolist():
        under = cells_under(pad, transform, bearing, reach)
        needed = corners_needed(pad, transform, bearing, reach)
        for row in range(rows):
            for column in range(columns):
                around = [(row + r, column + c) for r, c in needed]
                if not all(0 <= r < rows and 0 <= c < columns and not np.isnan(levels[r, c]) for r, c in around):
                    continue
                here = [float(levels[row + r, column + c]) for r, c in under]
                value = best_value(here, goal, keep) * pad.area / len(here)
                best[row, column] = min(best[row, column], value)
    return best
