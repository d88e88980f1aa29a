"""The compiled lower bound where neither the edge nor a limit at single points counts: what most boxes need.

It is `bound_kernel` without the points along the edge and under the pad. Where a goal has limits that are held at such
points, it bounds the value without them, which is no higher: fewer limits leave more placements. It compiles in half
the time. The kept machine code holds a copy of what it calls: empty ``__pycache__`` after a change there.
"""
# ruff: noqa: PLR0917 -- a kernel takes its tables by position, in the order of its docstring

from __future__ import annotations

import numpy as np

from spadework.earthwork._compile import compiled, compiled_inner
from spadework.earthwork.arrays import PadArrays
from spadework.placement.bound_bends import STRETCHES
from spadework.placement.bound_core import COVERED, FIXED, core_of, level_let_loose
from spadework.placement.bound_dual import HIGHEST, KIND, LEVEL, LOWEST, dual_value
from spadework.placement.bound_ground import buckets_under, near_triangles, pad_pieces_near, room_for, within_hull
from spadework.placement.bound_orders import moved_by, orders, pad_extent
from spadework.placement.mesh import Mesh
from spadework.readings import FloatArray

__all__ = ["bound_plain"]

SAFE = 1e-9
"""A box has no level within the limits only if they cross by more. [m]"""


@compiled
def bound_plain(
    mesh: Mesh, pad: PadArrays, boxes: FloatArray, rule: FloatArray, ways: int, enough: float, result: FloatArray
) -> None:
    """Do what `bound_boxes` does for a rule in which neither edge nor depth counts and the finish is free or fixed.

    Parameters
    ----------
    mesh, pad, boxes, rule, ways, enough, result
        As in `bound_boxes`.
    """
    # A triangle cut by a convex part has three corners more than the part has sides, at most.
    width, most_pieces = 8, 0
    for p in range(pad.part.shape[0] - 1):
        width = max(width, 4 + pad.part[p + 1] - pad.part[p])
        most_pieces += 1 + pad.part[p + 1] - pad.part[p]
    room = np.empty((2, width, 3))
    near, pieces = np.empty((128, 11)), np.empty((256, 12))
    sums, weights, levels = np.empty(4), np.empty(17), np.zeros(8)
    pose, swept, motion, extent = np.empty(4), np.empty(4), np.empty(7), np.empty(4)
    buckets = np.zeros(4, dtype=np.int64)
    shrink, whole = np.zeros(pad.sides.shape[0]), np.zeros(pad.sides.shape[0])
    stands, form = np.empty((STRETCHES, 4 + pad.sides.shape[0])), np.empty(7)
    pad_extent(pad, extent)
    loose = rule.copy()
    released = level_let_loose(rule, loose)
    low, high = rule[LOWEST], rule[HIGHEST]
    if rule[KIND] == FIXED:
        low, high = max(low, rule[LEVEL]), min(high, rule[LEVEL])
    crossed = low - high > SAFE
    if low > high:
        high = np.inf
    for k in range(boxes.shape[0]):
        moved_by(boxes, k, extent, pose, motion, swept)
        result[k, 0], result[k, 1], result[k, 2] = -np.inf, np.nan, 0.0
        if not within_hull(mesh, pose, swept):
            continue
        near = room_for(near, buckets_under(mesh, pose, swept, buckets))
        count = near_triangles(mesh, pose, swept, buckets, ways & 2 != 0, room, near, sums)
        pieces = room_for(pieces, count * most_pieces)
        result[k, 2] = count
        if ways & 4:
            result[k, 0] = core_of(near, count, pad, motion, shrink, room, pieces, rule, levels, 0.0, weights)
            if result[k, 0] >= enough:
                continue
        made = pad_pieces_near(near, count, pad, whole, room, pieces)
        area = 0.0
        for i in range(made):
            area += pieces[i, 0]
        if area < pad.area * (1.0 - COVERED):
            continue
        if crossed:
            result[k, 0] = np.inf
        elif ways & 3:
            given = rule[LEVEL] if rule[KIND] == FIXED else np.nan
            best, centre = _plain(
                mesh,
                near,
                count,
                extent,
                motion,
                pieces,
                made,
                rule,
                given,
                low,
                high,
                sums,
                pad,
                weights,
                ways,
                stands,
                form,
            )
            result[k, 0], result[k, 1] = max(result[k, 0], best), centre
            if result[k, 0] < enough and released:
                # With the level let loose the value is no higher, and near the level of balance no lower.
                best, centre = _plain(
                    mesh,
                    near,
                    count,
                    extent,
                    motion,
                    pieces,
                    made,
                    loose,
                    np.nan,
                    -np.inf,
                    np.inf,
                    sums,
                    pad,
                    weights,
                    ways,
                    stands,
                    form,
                )
                result[k, 0] = max(result[k, 0], best)


@compiled_inner
def _plain(
    mesh: Mesh,
    near: FloatArray,
    count: int,
    extent: FloatArray,
    motion: FloatArray,
    pieces: FloatArray,
    made: int,
    rule: FloatArray,
    given: float,
    low: float,
    high: float,
    sums: FloatArray,
    pad: PadArrays,
    weights: FloatArray,
    ways: int,
    stands: FloatArray,
    form: FloatArray,
) -> tuple[float, float]:
    """Return the better of the bounds of first and second order, and the value at the centre."""
    if given == given:  # noqa: PLR0124 -- is a number
        low = high = given
    value = dual_value(pieces, made, rule, low, high, 0.0, 0.0, weights)
    second, first, rounding = orders(mesh, near, count, extent, motion, sums, pad, value, weights, ways, stands, form)
    sine, cosine = motion[0], motion[1]
    best = -np.inf
    if ways & 1:
        east, north = weights[3] * sine + weights[4] * cosine, weights[3] * cosine - weights[4] * sine
        second -= abs(east) * motion[2] + abs(north) * motion[3] + abs(weights[5]) * motion[4]
        best = second - rounding
    if ways & 2:
        best = max(best, first - rounding)
    return best, value
