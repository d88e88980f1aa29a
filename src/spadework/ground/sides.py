"""The sides of triangles: which way they turn, which two share one, and which diagonal of a cell is taken."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from spadework.ground.index import TriangleArray
from spadework.readings import FloatArray, IntArray

__all__ = ["counter_clockwise", "inner_sides", "is_kept", "level_diagonals"]

FLATTEST = 1e-9
"""A triangle whose height is less than this share of its longest side has no area worth the name."""

ON_ONE_CIRCLE = 1e-6
"""Relative tolerance within which the four corners of a cell lie on one circle, so that either diagonal would do."""


def counter_clockwise(east: FloatArray, north: FloatArray, triangles: TriangleArray) -> TriangleArray:
    """Return the triangles counter-clockwise from above, without those that are a line."""
    a, b, c = triangles.T
    double = (east[b] - east[a]) * (north[c] - north[a]) - (east[c] - east[a]) * (north[b] - north[a])
    turned = np.where((double < 0)[:, None], triangles[:, [0, 2, 1]], triangles)
    longest = np.max([np.hypot(east[i] - east[j], north[i] - north[j]) for i, j in ((a, b), (b, c), (c, a))], axis=0)
    kept: TriangleArray = turned[np.abs(double) > FLATTEST * longest**2]
    return kept


def level_diagonals(
    east: FloatArray,
    north: FloatArray,
    level: FloatArray,
    triangles: TriangleArray,
    kept: TriangleArray | None = None,
) -> TriangleArray:
    """Turn the diagonal of every four-cornered cell on one circle to the one whose ends differ less in level.

    Parameters
    ----------
    east, north, level : array, shape (n,)
        Corners. [m]
    triangles : array of int32, shape (t, 3)
        Counter-clockwise.
    kept : array of int32, shape (s, 2), optional
        Sides that stay as they are.

    Returns
    -------
    array of int32, shape (t, 3)
        The same ground with some diagonals turned.
    """
    side, opposite, owner = inner_sides(len(east), triangles)
    first, second = side.T
    left, right = opposite.T
    open_choice = _on_one_circle(east, north, side, opposite)
    if kept is not None and len(kept):
        open_choice &= ~is_kept(len(east), side, kept)
    gain = np.abs(level[first] - level[second]) - np.abs(level[left] - level[right])
    turned = triangles.copy()
    used = np.zeros(len(triangles), dtype=bool)
    for i in np.flatnonzero(open_choice & (gain > 0)):
        if not used[owner[i]].any():
            used[owner[i]] = True
            turned[owner[i]] = ((left[i], right[i], second[i]), (right[i], left[i], first[i]))
    return turned


def inner_sides(count: int, triangles: TriangleArray) -> tuple[TriangleArray, TriangleArray, IntArray]:
    """Return the sides that two triangles share, shape (s, 2).

    With them the corners opposite and the triangles: first that to the left of the side, then that to the right.
    """
    start, end, apex = (triangles[:, [i, (i + 1) % 3, (i + 2) % 3]].ravel() for i in range(3))
    key = np.minimum(start, end).astype(np.int64) * count + np.maximum(start, end)
    order = np.lexsort((start > end, key))
    same = np.flatnonzero(key[order][1:] == key[order][:-1])
    one, other = order[same], order[same + 1]
    owner = np.column_stack([one // 3, other // 3]).astype(np.int64)
    return np.column_stack([start[one], end[one]]), np.column_stack([apex[one], apex[other]]), owner


def is_kept(count: int, side: TriangleArray, kept: TriangleArray) -> npt.NDArray[np.bool_]:
    """Return which sides are among those that breaklines ask for, whichever way they run.

    Parameters
    ----------
    count : int
        Number of corners.
    side, kept : array of int32, shape (s, 2), (k, 2)
        Pairs of corners.
    """
    keys = [pair.min(axis=1).astype(np.int64) * count + pair.max(axis=1) for pair in (side, kept)]
    found: npt.NDArray[np.bool_] = np.isin(keys[0], keys[1])
    return found


def _on_one_circle(
    east: FloatArray, north: FloatArray, side: TriangleArray, opposite: TriangleArray
) -> npt.NDArray[np.bool_]:
    """Return whether opposite angles add up to half a turn: ``|sin(α + β)|`` below the tolerance."""
    sines, cosines = [], []
    for apex in opposite.T:
        ae, an = east[side[:, 0]] - east[apex], north[side[:, 0]] - north[apex]
        be, bn = east[side[:, 1]] - east[apex], north[side[:, 1]] - north[apex]
        size = np.hypot(ae, an) * np.hypot(be, bn)
        sines.append(np.abs(ae * bn - an * be) / size)
        cosines.append((ae * be + an * bn) / size)
    near: npt.NDArray[np.bool_] = np.abs(sines[0] * cosines[1] + cosines[0] * sines[1]) < ON_ONE_CIRCLE
    return near
