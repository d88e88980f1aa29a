"""Boxes of placements in which the ground under the pad is too steep at every pose: compiled, plain arrays.

The slope under a pad is the length of the mean of the ground's gradient over it, which is no less than the mean along
any one direction. Of that mean, what is common to all poses of the box is known; the rest of the pad lies somewhere
within what it sweeps over, and has at least the mean of as much of the least steep ground there.
"""
# ruff: noqa: PLR0917 -- a kernel takes its tables by position, in the order of its docstring

from __future__ import annotations

import math

import numpy as np

from spadework.earthwork._compile import compiled, compiled_inner, compiled_part
from spadework.earthwork.arrays import PadArrays
from spadework.placement.bound_core import COVERED, draw_in
from spadework.placement.bound_ground import buckets_under, near_triangles, room_for, within_hull
from spadework.placement.bound_orders import moved_by
from spadework.placement.mesh import Mesh
from spadework.placement.swept_kernel import area_of, clip
from spadework.readings import FloatArray

__all__ = ["least_slopes"]

ROUNDING = 1e-9
"""Slope that is taken off for rounding. [m/m]"""
HALVINGS = 40
"""Steps in which the slope is found up to which ground is taken: any slope gives a bound."""


@compiled
def least_slopes(mesh: Mesh, pad: PadArrays, boxes: FloatArray, result: FloatArray) -> None:
    """Write a lower bound of the slope of the ground under the pad over each box.

    Parameters
    ----------
    mesh : Mesh
        The ground, carried on.
    pad : PadArrays
        Convex parts of the pad.
    boxes : array, shape (k, 6)
        Local east and north [m] and bearing [rad] of the centre, half widths of the same.
    result : array, shape (k, 2)
        Written: bound, rise over run, nothing where it is not known; triangles looked at.
    """
    width = 8
    for p in range(pad.part.shape[0] - 1):
        width = max(width, 4 + pad.part[p + 1] - pad.part[p])
    room = np.empty((2, width, 3))
    near, ground = np.empty((128, 11)), np.empty((128, 4))
    pose, swept, motion, extent, sums = np.empty(4), np.empty(4), np.empty(7), np.empty(4), np.empty(4)
    buckets = np.zeros(4, dtype=np.int64)
    shrink = np.zeros(pad.sides.shape[0])
    for k in range(boxes.shape[0]):
        result[k, 0], result[k, 1] = 0.0, 0.0
        mean_u, mean_v, area = 0.0, 0.0, 0.0
        made, known = 0, True
        for p in range(pad.part.shape[0] - 1):
            _extent_of(pad, p, extent)
            moved_by(boxes, k, extent, pose, motion, swept)
            if not within_hull(mesh, pose, swept):
                known = False
                break
            draw_in(pad, motion, 1.0, 0, shrink)
            near = room_for(near, buckets_under(mesh, pose, swept, buckets))
            count = near_triangles(mesh, pose, swept, buckets, True, room, near, sums)
            ground = _roomier(ground, made + count)
            for t in range(count):
                here = _area_in(near, t, pad, p, shrink, 0.0, room)
                mean_u += here * near[t, 7]
                mean_v += here * near[t, 8]
                area += here
                ground[made + t, 0], ground[made + t, 1] = near[t, 7], near[t, 8]
                ground[made + t, 3] = _area_in(near, t, pad, p, shrink, 1.0, room)
                ground[made + t, 2] = max(near[t, 9] - ground[made + t, 3], 0.0)
            made += count
        result[k, 1] = 2.0 * made
        steep = math.sqrt(mean_u * mean_u + mean_v * mean_v)
        if not known or area < pad.area * (1.0 - COVERED) or steep == 0.0:
            continue
        result[k, 0] = max(_least_along(ground, made, mean_u / steep, mean_v / steep, pad.area) - ROUNDING, 0.0)


@compiled_part
def _roomier(table: FloatArray, count: int) -> FloatArray:
    """Return the table if it has that many rows, or a larger one with what it held."""
    if count <= table.shape[0]:
        return table
    larger = np.empty((2 * count, table.shape[1]))
    for i in range(table.shape[0]):
        for j in range(table.shape[1]):
            larger[i, j] = table[i, j]
    return larger


@compiled_inner
def _extent_of(pad: PadArrays, p: int, extent: FloatArray) -> None:
    """Write least and greatest u, least and greatest v of a convex part."""
    extent[0], extent[1], extent[2], extent[3] = np.inf, -np.inf, np.inf, -np.inf
    for j in range(pad.part[p], pad.part[p + 1]):
        extent[0], extent[1] = min(extent[0], pad.corners[j, 0]), max(extent[1], pad.corners[j, 0])
        extent[2], extent[3] = min(extent[2], pad.corners[j, 1]), max(extent[3], pad.corners[j, 1])


@compiled_inner
def _area_in(
    near: FloatArray, t: int, pad: PadArrays, p: int, shrink: FloatArray, share: float, room: FloatArray
) -> float:
    """Return the area of a triangle within a convex part of the pad, its sides drawn in by a share of ``shrink``."""
    for i in range(3):
        room[0, i, 0], room[0, i, 1] = near[t, 2 * i], near[t, 2 * i + 1]
    held, size = 0, 3
    for j in range(pad.part[p], pad.part[p + 1]):
        held, size = clip(room, held, size, pad.sides[j, 0], pad.sides[j, 1], pad.sides[j, 2] - share * shrink[j])
        if size < 3:
            return 0.0
    return area_of(room, held, size)


@compiled_inner
def _least_along(ground: FloatArray, made: int, u: float, v: float, area: float) -> float:
    """Return the least mean slope in a direction of a pad that has the core, and as much more ground as it wants.

    A row of ``ground``: slope along u and along v, area outside and inside the core. By the duality of linear
    programs any slope ``s`` gives a bound, ``rest s + Σ outside min(slope - s, 0)``: it is greatest where just enough
    ground is less steep.
    """
    inside, core = 0.0, 0.0
    low, high = np.inf, -np.inf
    for t in range(made):
        slope = ground[t, 0] * u + ground[t, 1] * v
        core += ground[t, 3]
        inside += ground[t, 3] * slope
        low, high = min(low, slope), max(high, slope)
    rest = max(area - core, 0.0)
    for _ in range(HALVINGS):
        middle = 0.5 * (low + high)
        held = 0.0
        for t in range(made):
            if ground[t, 0] * u + ground[t, 1] * v <= middle:
                held += ground[t, 2]
        if held < rest:
            low = middle
        else:
            high = middle
    total = inside + rest * high
    for t in range(made):
        total += ground[t, 2] * min(ground[t, 0] * u + ground[t, 1] * v - high, 0.0)
    return total / area
