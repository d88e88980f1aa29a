"""The compiled lower bound over boxes of placements: plain arrays, no checks.

A box holds all poses within half widths ``a`` east, ``b`` north and ``d`` of bearing about its centre. Let ``s`` be a
weight at each point of the pad, as the best level at the centre gives it: what a metre of ground there adds to the
value. No pose of the box has a lower value than ``G = ∫ s(q) z(pose(q)) dq`` (duality: the value is the greatest such
integral), and at the centre the two are equal. Where the edge counts, or a limit holds the level, ``s`` has weights at
single points too. ``G`` is then bounded over the box in three ways; the best one counts.

* second order: the exact gradient at the centre, and half the square of the shift times the bends under the box;
* first order: the mean plane taken out, and the shift times what is left of the slope under the box;
* core: what the part of the pad that is common to all poses costs by itself.

A flush finish goes with the edge, up and down: where the value falls as the level rises, the highest ground along the
edge is bounded from above, bit by bit of the edge. A box in which no pose has a level within the limits has no end of
a bound.
"""
# ruff: noqa: PLR0917 -- a kernel takes its tables by position, in the order of its docstring

from __future__ import annotations

import math

import numpy as np

from spadework.earthwork._compile import compiled, compiled_inner, compiled_part
from spadework.earthwork.arrays import PadArrays
from spadework.placement.bound_bends import STRETCHES
from spadework.placement.bound_core import COVERED, FIXED, FLUSH, FLUSH_LOW, core_of, level_let_loose
from spadework.placement.bound_dual import (
    CUT_DEPTH,
    EXPOSED,
    FILL_DEPTH,
    HIGHEST,
    KIND,
    LEVEL,
    LOWEST,
    RISE,
    WALL,
    dual_value,
)
from spadework.placement.bound_edge import least_of_bits
from spadework.placement.bound_ground import buckets_under, near_triangles, pad_pieces_near, room_for, within_hull
from spadework.placement.bound_mix import mixed_points
from spadework.placement.bound_orders import moved_by, orders, pad_extent
from spadework.placement.bound_points import edge_points, inner_points
from spadework.placement.mesh import Mesh
from spadework.readings import FloatArray

__all__ = ["bound_boxes"]

SAFE = 1e-9
"""A box has no level within the limits only if they cross by more. [m]"""
EDGE_HIGH, EDGE_LOW, PAD_HIGH, PAD_LOW = 0, 1, 2, 3


@compiled
def bound_boxes(
    mesh: Mesh, pad: PadArrays, boxes: FloatArray, rule: FloatArray, ways: int, enough: float, result: FloatArray
) -> None:
    """Write a lower bound of the value over each box, and the value at its centre.

    Parameters
    ----------
    boxes : array, shape (k, 6)
        Local east and north [m] and bearing [rad] of the centre, half widths of the same.
    rule : array, shape (20,)
        Weights of cut and of fill; compacted volume of one in the bank; least and greatest trade; compacted volume that
        may be bought; how the finish goes, 0 free, 1 fixed, 2 flush with the highest, 3 with the lowest ground along
        the edge; the fixed level of the formation, strip added; least trade that the goal itself gives; what a volume
        short, or over, counts more where the level is given and no more may be; compacted volume that is there besides
        the cut; weight of the height of the edge; finish less formation, less strip; lowest and highest formation,
        strip added; greatest depth of cut and of fill, and greatest finish above the lowest edge; greatest trade that
        the goal itself gives; compacted volume that may be carted away. The trade is what a compacted volume over adds
        to the value, whichever way it counts.
    ways : int
        Which bounds are used: 1 second order, 2 first order, 4 core, or sums of these.
    enough : float
        A bound that is as high need not be higher.
    result : array, shape (k, 3)
        Written: bound, minus infinity where there is none, infinity where no pose has a level; value at the centre, as
        far as the bound knows it, NaN where the pad is not covered or it was not wanted; triangles under the box.
    """
    # A triangle cut by a convex part has three corners more than the part has sides, at most.
    width, most_pieces = 8, 0
    for p in range(pad.part.shape[0] - 1):
        width = max(width, 4 + pad.part[p + 1] - pad.part[p])
        most_pieces += 1 + pad.part[p + 1] - pad.part[p]
    room = np.empty((2, width, 3))
    near, pieces, pieces_of_core = np.empty((128, 11)), np.empty((256, 12)), np.empty((256, 12))
    points, bits = np.empty((64, 7)), np.empty((64, 14))
    sums, weights = np.empty(4), np.empty(17)
    pose, swept, motion, levels, extent = np.empty(4), np.empty(4), np.empty(7), np.empty(8), np.empty(4)
    buckets = np.zeros(4, dtype=np.int64)
    shrink, whole = np.zeros(pad.sides.shape[0]), np.zeros(pad.sides.shape[0])
    stands, form = np.empty((STRETCHES, 4 + pad.sides.shape[0])), np.empty(7)
    pad_extent(pad, extent)
    loose, level_only = rule.copy(), rule.copy()
    level_only[WALL] = 0.0
    released = level_let_loose(rule, loose)
    on_edge = rule[WALL] > 0.0 or rule[KIND] > FIXED or rule[EXPOSED] < np.inf
    within = rule[CUT_DEPTH] < np.inf or rule[FILL_DEPTH] < np.inf
    plain = not (on_edge or within)
    for k in range(boxes.shape[0]):
        moved_by(boxes, k, extent, pose, motion, swept)
        result[k, 0], result[k, 1], result[k, 2] = -np.inf, np.nan, 0.0
        if not within_hull(mesh, pose, swept):
            continue
        near = room_for(near, buckets_under(mesh, pose, swept, buckets))
        count = near_triangles(mesh, pose, swept, buckets, ways & 2 != 0, room, near, sums)
        pieces = room_for(pieces, count * most_pieces)
        result[k, 2] = count
        far = (math.sqrt(motion[2] ** 2 + motion[3] ** 2) + pad.reach * motion[4]) * sums[3]
        if ways & 4 and plain:
            result[k, 0] = core_of(near, count, pad, motion, shrink, room, pieces, level_only, levels, far, weights)
            if result[k, 0] >= enough:
                continue
        made = pad_pieces_near(near, count, pad, whole, room, pieces)
        area = 0.0
        for i in range(made):
            area += pieces[i, 0]
        if area < pad.area * (1.0 - COVERED):
            continue
        edges, inner, marks = 0, 0, 0
        if on_edge or within:
            points = room_for(points, (2 * pad.sides.shape[0] + 3) * count)
            bits = room_for(bits, pad.sides.shape[0] * count)
            edges, marks = edge_points(mesh, near, count, pad, motion, points, bits)
            inner = edges
            if within:
                inner = inner_points(near, count, pad, motion, points, edges)
        _levels(pieces, made, points, edges, rule, levels)
        if levels[0] > levels[1] or on_edge or within:
            ends = np.array([edges, edges, inner, inner])
            if _crossing(near, count, motion, points, ends, rule, levels) > SAFE:
                result[k, 0] = np.inf
                continue
        if ways & 4 and not plain:
            pieces_of_core = room_for(pieces_of_core, count * most_pieces)
            result[k, 0] = core_of(
                near,
                count,
                pad,
                motion,
                shrink,
                room,
                pieces_of_core,
                level_only,
                levels,
                far,
                weights,
            )
            if result[k, 0] >= enough:
                continue
        if ways & 3:
            best = result[k, 0]
            _whole(
                mesh, near, count, extent, motion, pieces, made, points, edges, inner, bits, marks, rule, ways, levels,
                sums, pad, room, weights, result[k], stands, form,
            )  # fmt: skip
            result[k, 0] = max(best, result[k, 0])
            if result[k, 0] < enough and released:
                # With the level let loose the value is no higher, and near the level of balance no lower.
                held, centre = result[k, 0], result[k, 1]
                levels[0], levels[1] = -np.inf, np.inf
                _whole(
                    mesh, near, count, extent, motion, pieces, made, points, edges, inner, bits, marks, loose, ways,
                    levels, sums, pad, room, weights, result[k], stands, form,
                )  # fmt: skip
                result[k, 0], result[k, 1] = max(held, result[k, 0]), centre


@compiled_inner
def _levels(
    pieces: FloatArray, made: int, points: FloatArray, edges: int, rule: FloatArray, levels: FloatArray
) -> None:
    """Write the range of levels allowed at the centre and what holds its ends, and the range of the ground there.

    What holds an end is a class of points, or -1. The ground is that along the edge, highest and lowest, and that under
    the pad, lowest and highest.
    """
    edge_high, edge_low, low, high = -np.inf, np.inf, np.inf, -np.inf
    for i in range(edges):
        edge_high, edge_low = max(edge_high, points[i, 2]), min(edge_low, points[i, 2])
    for i in range(made):
        low, high = min(low, pieces[i, 9]), max(high, pieces[i, 3])
    levels[0], levels[1], levels[2], levels[3] = rule[LOWEST], rule[HIGHEST], -1.0, -1.0
    if high - rule[CUT_DEPTH] > levels[0]:
        levels[0], levels[2] = high - rule[CUT_DEPTH], float(PAD_HIGH)
    if low + rule[FILL_DEPTH] < levels[1]:
        levels[1], levels[3] = low + rule[FILL_DEPTH], float(PAD_LOW)
    if edges > 0 and edge_low + rule[EXPOSED] - rule[RISE] < levels[1]:
        levels[1], levels[3] = edge_low + rule[EXPOSED] - rule[RISE], float(EDGE_LOW)
    levels[4], levels[5], levels[6], levels[7] = edge_high, edge_low, low, high


@compiled_part
def _crossing(
    near: FloatArray,
    count: int,
    motion: FloatArray,
    points: FloatArray,
    ends: FloatArray,
    rule: FloatArray,
    levels: FloatArray,
) -> float:
    """Return by how much the limits on the level cross, or miss the level that is given, at every pose of the box."""
    mass, slopes = np.zeros(4), np.zeros(3)
    low, high, low_by, high_by = levels[0], levels[1], int(levels[2]), int(levels[3])
    if rule[KIND] == FIXED:
        if rule[LEVEL] > high:
            low, low_by = rule[LEVEL], -1
        elif rule[LEVEL] < low:
            high, high_by = rule[LEVEL], -1
    elif rule[KIND] == FLUSH:
        low, low_by = levels[4] - rule[RISE], EDGE_HIGH
    elif rule[KIND] == FLUSH_LOW:
        high, high_by = levels[5] - rule[RISE], EDGE_LOW
    if low <= high:
        return -1.0
    rest = low - high
    if low_by >= 0:
        mass[low_by] = 1.0
        rest -= levels[4] if low_by == EDGE_HIGH else levels[7]
    if high_by >= 0:
        mass[high_by] = -1.0
        rest += levels[5] if high_by == EDGE_LOW else levels[6]
    return float(rest + mixed_points(near, count, motion, points, ends, mass, slopes))


@compiled_part
def _whole(
    mesh: Mesh,
    near: FloatArray,
    count: int,
    extent: FloatArray,
    motion: FloatArray,
    pieces: FloatArray,
    made: int,
    points: FloatArray,
    edges: int,
    inner: int,
    bits: FloatArray,
    marks: int,
    rule: FloatArray,
    ways: int,
    levels: FloatArray,
    sums: FloatArray,
    pad: PadArrays,
    room: FloatArray,
    weights: FloatArray,
    result: FloatArray,
    stands: FloatArray,
    form: FloatArray,
) -> None:
    """Write the bounds of first and second order, and the value at the centre."""
    sine, cosine, a, b, d = motion[0], motion[1], motion[2], motion[3], motion[4]
    low, high, kind = levels[0], levels[1], rule[KIND]
    given = kind >= FIXED
    if kind == FIXED:
        low = high = rule[LEVEL]
    elif kind == FLUSH:
        low = high = levels[4] - rule[RISE]
    elif kind == FLUSH_LOW:
        low = high = levels[5] - rule[RISE]
    if low > high:
        # Where the limits cross, the one that the value leans on is kept: fewer limits have no higher value.
        value = dual_value(pieces, made, rule, low, np.inf, levels[4], levels[5], weights)
        if weights[10] <= 0.0:
            value = dual_value(pieces, made, rule, -np.inf, high, levels[4], levels[5], weights)
    else:
        value = dual_value(pieces, made, rule, low, high, levels[4], levels[5], weights)
    result[1] = value
    second, first, rounding = orders(mesh, near, count, extent, motion, sums, pad, value, weights, ways, stands, form)
    # What else goes with the pose: the edge, and the limit or the flush finish that holds the level.
    mass, slopes, wrong = np.zeros(4), np.empty(3), 0.0
    mass[EDGE_HIGH], mass[EDGE_LOW] = weights[11], weights[12]
    holds = -1
    if kind == FLUSH:
        holds = EDGE_HIGH
    elif kind == FLUSH_LOW:
        holds = EDGE_LOW
    elif not given and weights[10] != 0.0:
        holds = int(levels[2]) if weights[10] > 0.0 else int(levels[3])
    if holds >= 0 and weights[10] != 0.0:
        if (holds in (EDGE_HIGH, PAD_HIGH)) == (weights[10] > 0.0):
            mass[holds] += weights[10]
        else:
            wrong = weights[10]
    still = wrong == 0.0 and mass[0] == 0.0 and mass[1] == 0.0 and mass[2] == 0.0 and mass[3] == 0.0
    if ways & 1:
        slopes[0] = weights[3] * sine + weights[4] * cosine
        slopes[1] = weights[3] * cosine - weights[4] * sine
        slopes[2] = weights[5]
        if not still:
            ends = np.array([edges, edges, inner, inner])
            for c in range(4):
                top = levels[4] if c == EDGE_HIGH else levels[5] if c == EDGE_LOW else levels[7]
                second -= mass[c] * (levels[6] if c == PAD_LOW else top) if mass[c] != 0.0 else 0.0
        if still or wrong != 0.0:
            if wrong == 0.0:
                second -= abs(slopes[0]) * a + abs(slopes[1]) * b + abs(slopes[2]) * d
            else:
                # The mix of what has the right sign is found first, its slopes then go with each bit of the edge.
                second += mixed_points(near, count, motion, points, ends, mass, slopes)
                second += abs(slopes[0]) * a + abs(slopes[1]) * b + abs(slopes[2]) * d
                second -= wrong * (levels[4] if holds == EDGE_HIGH else levels[5])
                second += least_of_bits(near, count, motion, bits, marks, wrong, slopes, room)
        else:
            second += mixed_points(near, count, motion, points, ends, mass, slopes)
        result[0] = second - rounding
    if ways & 2 and still:
        result[0] = max(result[0], first - rounding)
