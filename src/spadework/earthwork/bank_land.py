"""What banks must not touch, as straight stretches on the ground: the rim of the measured ground, and given rings."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from spadework.ground.lines import rim_rings
from spadework.ground.surface import Ground
from spadework.readings import FloatArray, IntArray

__all__ = ["land_stretches"]

SAME = 1e-9
"""Ends of stretches nearer than this share of a side are one."""
AT_A_TIME = 400_000
"""Pairs of a side and a triangle looked at together."""


def land_stretches(ground: Ground, rings: Sequence[FloatArray]) -> FloatArray:
    """Return the sides of rings cut where the ground bends, and the rim of the ground.

    Parameters
    ----------
    ground : Ground
        The surface.
    rings : sequence of array, shape (n, 2)
        Site east and north of corners in order; what lies off the measured ground is left out. [m]

    Returns
    -------
    array, shape (r, 6)
        East, north and height of both ends of each stretch, local coordinates and above the datum. [m]
    """
    found = [_rim(ground)]
    for ring in rings:
        local = np.asarray(ring, dtype=np.float64) - ground.origin
        found.append(_cut_up(ground, local, np.roll(local, -1, axis=0)))
    return np.ascontiguousarray(np.vstack(found))


def _rim(ground: Ground) -> FloatArray:
    """Return the sides of triangles that are the rim of the ground, shape (r, 6)."""
    rings = rim_rings(ground.east, ground.north, ground.triangles, np.zeros(2))
    places = zip(ground.east.tolist(), ground.north.tolist(), strict=True)
    height = dict(zip(places, ground.height.tolist(), strict=True))
    found = []
    for ring in rings:
        corners = np.column_stack([ring, [height[place] for place in map(tuple, ring.tolist())]])
        found.append(np.hstack([corners, np.roll(corners, -1, axis=0)]))
    return np.vstack(found)


def _cut_up(ground: Ground, start: FloatArray, end: FloatArray) -> FloatArray:
    """Return the stretches of sides within triangles, shape (r, 6)."""
    side, triangle = _pairs(ground, start, end)
    found = [np.zeros((0, 6))]
    for first in range(0, len(side), AT_A_TIME):
        some = slice(first, first + AT_A_TIME)
        found.append(_within(ground, start[side[some]], end[side[some]], triangle[some]))
    return np.vstack(found)


def _pairs(ground: Ground, start: FloatArray, end: FloatArray) -> tuple[IntArray, IntArray]:
    """Return pairs of a side and a triangle whose buckets meet, each pair once."""
    index = ground.index
    low, high = np.minimum(start, end) - SAME, np.maximum(start, end) + SAME
    column_from, column_to = index.column(low[:, 0]), index.column(high[:, 0])
    row_from, row_to = index.row(low[:, 1]), index.row(high[:, 1])
    sides, triangles = [np.zeros(0, dtype=np.int64)], [np.zeros(0, dtype=np.int64)]
    for i in range(len(start)):
        rows = np.arange(row_from[i], row_to[i] + 1) * index.columns
        bucket = np.add.outer(rows, np.arange(column_from[i], column_to[i] + 1)).ravel()
        near = np.unique(index.listed(bucket)[0] // 4)
        sides.append(np.full(len(near), i))
        triangles.append(near)
    return np.concatenate(sides), np.concatenate(triangles)


def _within(ground: Ground, start: FloatArray, end: FloatArray, triangle: IntArray) -> FloatArray:
    """Return what each side shares with its triangle, where that is more than a point, shape (r, 6)."""
    corner = ground.triangles[triangle]
    east, north = ground.east[corner], ground.north[corner]
    weights = []
    for point in (start, end):
        de, dn = east - point[:, :1], north - point[:, 1:]
        weights.append(np.roll(de, -1, 1) * np.roll(dn, -2, 1) - np.roll(de, -2, 1) * np.roll(dn, -1, 1))
    whole = weights[0].sum(axis=1, keepdims=True)
    whole = np.where(whole == 0, np.nan, whole)
    first, last = (weight / whole for weight in weights)
    change = last - first
    with np.errstate(divide="ignore", invalid="ignore"):
        crossing = -first / change
    outside = (change == 0) & (first < -SAME)
    enter = np.where(change > 0, crossing, np.where(outside, np.inf, 0.0)).max(axis=1, initial=0.0)
    leave = np.where(change < 0, crossing, np.where(outside, -np.inf, 1.0)).min(axis=1, initial=1.0)
    row = np.flatnonzero(leave > enter)
    ends = []
    for share in (enter[row, None], leave[row, None]):
        weight = np.maximum(first[row] + share * change[row], 0.0)
        level = (weight * ground.height[corner[row]]).sum(axis=1) / weight.sum(axis=1)
        ends += [start[row] + share * (end[row] - start[row]), level[:, None]]
    return np.hstack(ends)
